/* motion.c - the point mass in flight.
 *
 * Equations of motion over a flat earth that does not turn, lift in the plane
 * of symmetry, thrust along the fuselage; classical Runge-Kutta of the fourth
 * order with a fixed step. Altitude is taken for pressure altitude: on a day
 * that is not standard a metre of one is not quite a metre of the other. */
#include <math.h>

#include "model.h"
#include "quarterturn/error.h"
#include "quarterturn/flight.h"

/* Side force for each radian of sideslip, over dynamic pressure and wing area;
 * from memory, typical of a light single. */
static const double side_slope = -0.5;

/* Angle of attack of a nose that is pitched and banked over a path: without
 * sideslip sin(path) = cos a sin(pitch) - sin a cos(pitch) cos(bank). */
static double alpha_of(const struct performance_state *state)
{
    double up = sin(state->pitch_rad);
    double out = cos(state->pitch_rad) * cos(state->bank_rad);
    double length = hypot(up, out);
    double share = sin(state->path_rad) / length;

    return atan2(up, out) - asin(fmax(-1.0, fmin(1.0, share)));
}

/* What the air does to the airplane. */
struct forces {
    double alpha_rad;
    double airspeed_mps;
    double lift_n;
    double drag_n;
    double side_n; /* toward the right wing */
    double thrust_n;
    double roll_cos; /* of the bank about the path */
    double roll_sin;
};

static void act(const struct performance_model *model,
                const struct performance_state *state,
                const struct performance_controls *controls, struct forces *out)
{
    double density = performance_density_kgpm3(model, state->altitude_m);
    double pressure_n;
    double lift;

    out->airspeed_mps = state->tas_mps + controls->gust_along_mps;
    out->alpha_rad = alpha_of(state) + controls->gust_up_mps / state->tas_mps;
    pressure_n = 0.5 * density * out->airspeed_mps * out->airspeed_mps *
                 model->wing_area_m2;
    lift = model_lift(model, out->alpha_rad);
    out->lift_n = lift * pressure_n;
    out->drag_n = model_drag(model, lift, out->alpha_rad) * pressure_n;
    out->side_n = side_slope * controls->sideslip_rad * pressure_n;
    out->thrust_n =
        controls->power > 0.0
            ? performance_thrust_n(model, state->altitude_m, out->airspeed_mps,
                                   controls->power)
            : 0.0;
    /* sin(bank about the path) cos(path) = cos(pitch) sin(bank). */
    out->roll_sin =
        cos(state->pitch_rad) * sin(state->bank_rad) / cos(state->path_rad);
    out->roll_sin = fmax(-1.0, fmin(1.0, out->roll_sin));
    out->roll_cos = sqrt(1.0 - out->roll_sin * out->roll_sin);
}

enum { RATES = 8 };

static void rates_of(const struct performance_model *model,
                     const struct performance_state *state,
                     const struct performance_controls *controls,
                     double rate[RATES])
{
    struct forces f;
    double normal_n;
    double flat_mps = state->tas_mps * cos(state->path_rad);
    double momentum = model->mass_kg * state->tas_mps;

    act(model, state, controls, &f);
    normal_n = f.lift_n + f.thrust_n * sin(f.alpha_rad);
    rate[0] = (f.thrust_n * cos(f.alpha_rad) - f.drag_n) / model->mass_kg -
              UNITS_G0_MPS2 * sin(state->path_rad);
    rate[1] = (normal_n * f.roll_cos - f.side_n * f.roll_sin) / momentum -
              UNITS_G0_MPS2 * cos(state->path_rad) / state->tas_mps;
    rate[2] = (normal_n * f.roll_sin + f.side_n * f.roll_cos) /
              (momentum * cos(state->path_rad));
    rate[3] = state->tas_mps * sin(state->path_rad);
    rate[4] = flat_mps * cos(state->course_rad) + model->wind_north_mps;
    rate[5] = flat_mps * sin(state->course_rad) + model->wind_east_mps;
    rate[6] = controls->pitch_rate_radps;
    rate[7] = controls->bank_rate_radps;
}

static struct performance_state moved(const struct performance_state *state,
                                      const double rate[RATES], double dt_s)
{
    struct performance_state to = *state;

    to.t_s += dt_s;
    to.tas_mps += rate[0] * dt_s;
    to.path_rad += rate[1] * dt_s;
    to.course_rad += rate[2] * dt_s;
    to.altitude_m += rate[3] * dt_s;
    to.north_m += rate[4] * dt_s;
    to.east_m += rate[5] * dt_s;
    to.pitch_rad += rate[6] * dt_s;
    to.bank_rad += rate[7] * dt_s;
    return to;
}

void performance_step(const struct performance_model *model,
                      const struct performance_controls *controls, double dt_s,
                      struct performance_state *state)
{
    double k1[RATES];
    double k2[RATES];
    double k3[RATES];
    double k4[RATES];
    struct performance_state middle;

    rates_of(model, state, controls, k1);
    middle = moved(state, k1, dt_s / 2.0);
    rates_of(model, &middle, controls, k2);
    middle = moved(state, k2, dt_s / 2.0);
    rates_of(model, &middle, controls, k3);
    middle = moved(state, k3, dt_s);
    rates_of(model, &middle, controls, k4);
    for (int i = 0; i < RATES; i++)
        k1[i] = (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]) / 6.0;
    *state = moved(state, k1, dt_s);
}

double performance_sideslip_rad(const struct performance_model *model,
                                const struct performance_state *state,
                                double lateral_g)
{
    double pressure_n = 0.5 *
                        performance_density_kgpm3(model, state->altitude_m) *
                        state->tas_mps * state->tas_mps * model->wing_area_m2;

    return lateral_g * model->mass_kg * UNITS_G0_MPS2 /
           (side_slope * pressure_n);
}

void performance_look(const struct performance_model *model,
                      const struct performance_state *state,
                      const struct performance_controls *controls,
                      struct performance_view *out)
{
    struct forces f;
    double ratio =
        1.0 / sqrt(performance_density_kgpm3(model, state->altitude_m) /
                   flight_density_kgpm3(0.0));
    double sa;
    double ca;
    double rate[RATES];

    act(model, state, controls, &f);
    rates_of(model, state, controls, rate);
    sa = sin(f.alpha_rad);
    ca = cos(f.alpha_rad);
    /* The nose of a banked airplane stands inside its path by what the angle
     * of attack shows from above; sideslip adds to that. */
    out->heading_rad =
        state->course_rad +
        atan2(sin(state->bank_rad) * sa,
              ca * cos(state->pitch_rad) +
                  sa * sin(state->pitch_rad) * cos(state->bank_rad)) -
        controls->sideslip_rad * cos(state->bank_rad);
    out->tas_mps = f.airspeed_mps;
    out->cas_mps = f.airspeed_mps / ratio;
    out->alpha_rad = f.alpha_rad;
    out->load_factor =
        (f.lift_n * ca + f.drag_n * sa) / (model->mass_kg * UNITS_G0_MPS2);
    out->lateral_g = f.side_n / (model->mass_kg * UNITS_G0_MPS2);
    out->climb_mps = rate[3];
    out->speed_rate_mps2 = rate[0];
    out->turn_rate_radps = rate[2];
    out->ground_mps = hypot(rate[4], rate[5]);
    out->track_rad = angle_wrap_circle(atan2(rate[5], rate[4]));
    out->stalled = f.alpha_rad > model->stall_rad;
}

/* ---- steady level flight ------------------------------------------------ */

/* Pitch at which lift and the thrust's share of it carry the weight. */
static double level_pitch_rad(const struct performance_model *model,
                              struct performance_state *state, double power)
{
    struct performance_controls controls = {.power = power};
    double low = -0.2;
    double high = model->stall_rad;

    for (int i = 0; i < 50; i++) {
        double rate[RATES];

        state->pitch_rad = (low + high) / 2.0;
        rates_of(model, state, &controls, rate);
        if (rate[1] < 0.0)
            low = state->pitch_rad;
        else
            high = state->pitch_rad;
    }
    return state->pitch_rad;
}

int performance_trim(const struct performance_model *model, double altitude_m,
                     double tas_mps, double heading_rad,
                     struct performance_state *out, double *power)
{
    double low = 0.0;
    double high = 1.0;

    *out = (struct performance_state){.tas_mps = tas_mps,
                                      .course_rad = heading_rad,
                                      .altitude_m = altitude_m};
    for (int i = 0; i < 40; i++) {
        struct performance_controls controls = {.power = (low + high) / 2.0};
        double rate[RATES];

        (void)level_pitch_rad(model, out, controls.power);
        rates_of(model, out, &controls, rate);
        if (rate[0] < 0.0)
            low = controls.power;
        else
            high = controls.power;
    }
    *power = high;
    return low > 0.9999 ? ERR_RANGE : 0;
}
