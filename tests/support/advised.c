/* advised.c - rehearsed flights, and what advice their roll-out gets. */
#include "advised.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "../../daemon/commands/session.h"

#define DEG UNITS_RAD_PER_DEG

const char *const advised_airplane[ADVISED_AIRPLANES] = {"club-trainer",
                                                         "two-seater"};

/* The bank of the last two seconds. */
enum { MOST_BACK = 2 * 60 + 1 };

struct hand {
    double bank_rad[MOST_BACK];
    int back;
};

void advised_plan(struct advised_flight *flight, int airplane, int direction)
{
    static struct settings settings[ADVISED_AIRPLANES];
    const struct settings_choice choice = {.aircraft =
                                               advised_airplane[airplane]};
    struct settings *mine = &settings[airplane];
    char why[600];

    if (mine->aircraft.name[0] == '\0' &&
        settings_load(&choice, ".", mine, why, sizeof why) != 0)
        fail_msg("%s", why);
    rehearse_plan_init(&flight->plan, &mine->aircraft);
    flight->plan.direction = direction;
    flight->plan.conditions.weight_kg = 0.95 * mine->aircraft.max_weight_kg;
    flight->standard = mine->standard;
    flight->rate_hz = 30.0;
}

static void note_advice(const struct advised_flight *flight,
                        const struct rehearse *rehearse, double before_rad,
                        int side, struct advised *out)
{
    double bank_rad = fabs(rehearse->state.bank_rad);
    double rate_radps = (before_rad - bank_rad) / 2.0;
    double needed_radps = flight_rollout_rate_radps(
        bank_rad, rehearse->view.tas_mps, UNITS_PI - rehearse->turn_rad);

    /* A hand that wobbles may roll otherwise for two seconds. */
    if (flight->plan.hand <= 0.0 && flight->plan.gusts_mps <= 0.0 &&
        !((needed_radps - rate_radps) * side > 0.0))
        fail_msg("%s at %.0f degrees of turn: rolls %.2f, needs %.2f deg/s",
                 side > 0 ? "faster" : "slower", units_deg(rehearse->turn_rad),
                 units_deg(rate_radps), units_deg(needed_radps));
    assert_true(out->count < ADVISED_MOST);
    out->side[out->count] = side;
    out->turn_rad[out->count++] = rehearse->turn_rad;
}

static void look(const struct maneuver *maneuver,
                 const struct performance_reference *line,
                 const struct flight_state *now, struct advised *out)
{
    double turn_rad = maneuver->attempt.turn_rad;
    struct performance_reference_point point;

    if (!maneuver->in_attempt || turn_rad < 95.0 * DEG ||
        turn_rad > 165.0 * DEG)
        return;
    if (line != NULL) {
        performance_reference_at(line, turn_rad, &point);
        out->greatest_off_line_rad =
            fmax(out->greatest_off_line_rad,
                 fabs(fabs(now->bank.value) - point.bank_rad));
    }
    if (out->predictions < 6 &&
        turn_rad >= (110.0 + 10.0 * out->predictions) * DEG)
        out->predicted_rad[out->predictions++] =
            maneuver->attempt.advice_error_rad;
}

void advised_fly(const struct advised_flight *flight,
                 const struct performance_reference *line, struct advised *out)
{
    static struct rehearse rehearse;
    static struct maneuver maneuver;
    struct flight_estimator estimator;
    struct hand hand = {.back = (int)lround(2.0 * flight->rate_hz)};
    char why[300];

    memset(out, 0, sizeof *out);
    if (rehearse_begin(&rehearse, &flight->plan, why, sizeof why) != 0)
        return;
    assert_in_range(hand.back, 1, MOST_BACK);
    maneuver_init(&maneuver, MANEUVER_CHANDELLE, &flight->standard,
                  &flight->plan.aircraft);
    flight_init(&estimator, &flight->plan.aircraft);
    for (int i = 0; rehearse.phase < REHEARSE_RECOVERY; i++) {
        double t_s = (double)i / flight->rate_hz;
        struct maneuver_event event[MANEUVER_MAX_EVENTS];
        struct intake_sample sample;
        struct flight_state state;
        int count;

        rehearse_fly(&rehearse, t_s);
        rehearse_sample(&rehearse, t_s, &sample);
        assert_int_equal(flight_update(&estimator, &sample, &state), 0);
        count = maneuver_step(&maneuver, &state, event);
        for (int k = 0; k < count; k++)
            if (event[k].kind == EVENT_ROLL_OUT_ADVICE)
                note_advice(flight, &rehearse, hand.bank_rad[i % hand.back],
                            event[k].side, out);
        hand.bank_rad[i % hand.back] = fabs(rehearse.state.bank_rad);
        look(&maneuver, line, &state, out);
    }
    out->heading_error_rad = rehearse.truth.heading_error_rad;
    out->flown = true;
}
