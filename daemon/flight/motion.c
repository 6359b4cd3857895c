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

/* Sines and cosines of a state's angles: each is wanted several times. */
struct turned {
    double pitch_sin, pitch_cos;
    double bank_sin, bank_cos;
    double path_sin, path_cos;
};

static struct turned turn(const struct performance_state *state)
{
    return (struct turned){sin(state->pitch_rad), cos(state->pitch_rad),
                           sin(state->bank_rad),  cos(state->bank_rad),
                           sin(state->path_rad),  cos(state->path_rad)};
}

/* Angle of attack of a nose that is pitched and banked over a path: without
 * sideslip sin(path) = cos a sin(pitch) - sin a cos(pitch) cos(bank). */
static double alpha_of(const struct turned *t)
{
    double up = t->pitch_sin;
    double out = t->pitch_cos * t->bank_cos;
    double share = t->path_sin / sqrt(up * up + out * out);

    return atan2(up, out) - asin(fmax(-1.0, fmin(1.0, share)));
}

/* What the air does to the airplane. */
struct forces {
    struct turned turned;
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
    double sigma = model_sigma(model, state->altitude_m);
    double pressure_n;
    double lift;

    out->turned = turn(state);
    out->airspeed_mps = state->tas_mps + controls->gust_along_mps;
    out->alpha_rad =
        alpha_of(&out->turned) + controls->gust_up_mps / state->tas_mps;
    pressure_n = 0.5 * sigma * model->sea_level_kgpm3 * out->airspeed_mps *
                 out->airspeed_mps * model->wing_area_m2;
    lift = model_lift(model, out->alpha_rad);
    out->lift_n = lift * pressure_n;
    out->drag_n = model_drag(model, lift, out->alpha_rad) * pressure_n;
    out->side_n = side_slope * controls->sideslip_rad * pressure_n;
    out->thrust_n =
        controls->power > 0.0
            ? model_thrust_n(model, sigma, out->airspeed_mps, controls->power)
            : 0.0;
    /* sin(bank about the path) cos(path) = cos(pitch) sin(bank). */
    out->roll_sin =
        out->turned.pitch_cos * out->turned.bank_sin / out->turned.path_cos;
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
    double flat_mps;
    double path_sin;
    double path_cos;
    double momentum = model->mass_kg * state->tas_mps;

    act(model, state, controls, &f);
    path_sin = f.turned.path_sin;
    path_cos = f.turned.path_cos;
    flat_mps = state->tas_mps * path_cos;
    normal_n = f.lift_n + f.thrust_n * sin(f.alpha_rad);
    rate[0] = (f.thrust_n * cos(f.alpha_rad) - f.drag_n) / model->mass_kg -
              UNITS_G0_MPS2 * path_sin;
    rate[1] = (normal_n * f.roll_cos - f.side_n * f.roll_sin) / momentum -
              UNITS_G0_MPS2 * path_cos / state->tas_mps;
    rate[2] =
        (normal_n * f.roll_sin + f.side_n * f.roll_cos) / (momentum * path_cos);
    rate[3] = state->tas_mps * path_sin;
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

/* The nose of a banked airplane stands inside its path by what the angle of
 * attack shows from above. */
static double nose_rad(const struct performance_state *state,
                       const struct turned *t, double alpha_rad)
{
    double sa = sin(alpha_rad);
    double ca = cos(alpha_rad);

    return state->course_rad +
           atan2(t->bank_sin * sa,
                 ca * t->pitch_cos + sa * t->pitch_sin * t->bank_cos);
}

void model_look_briefly(const struct performance_model *model,
                        const struct performance_state *state,
                        struct model_glance *out)
{
    struct turned turned = turn(state);

    out->alpha_rad = alpha_of(&turned);
    out->heading_rad = nose_rad(state, &turned, out->alpha_rad);
    out->cas_mps = state->tas_mps * sqrt(model_sigma(model, state->altitude_m));
    out->stalled = out->alpha_rad > model->stall_rad;
}

void performance_look(const struct performance_model *model,
                      const struct performance_state *state,
                      const struct performance_controls *controls,
                      struct performance_view *out)
{
    struct forces f;
    double rate[RATES];

    act(model, state, controls, &f);
    rates_of(model, state, controls, rate);
    out->heading_rad = nose_rad(state, &f.turned, f.alpha_rad) -
                       controls->sideslip_rad * f.turned.bank_cos;
    out->tas_mps = f.airspeed_mps;
    out->cas_mps = f.airspeed_mps * sqrt(model_sigma(model, state->altitude_m));
    out->alpha_rad = f.alpha_rad;
    out->load_factor =
        (f.lift_n * cos(f.alpha_rad) + f.drag_n * sin(f.alpha_rad)) /
        (model->mass_kg * UNITS_G0_MPS2);
    out->lateral_g = f.side_n / (model->mass_kg * UNITS_G0_MPS2);
    out->climb_mps = rate[3];
    out->speed_rate_mps2 = rate[0];
    out->turn_rate_radps = rate[2];
    out->ground_mps = hypot(rate[4], rate[5]);
    out->track_rad = angle_wrap_circle(atan2(rate[5], rate[4]));
    out->stalled = f.alpha_rad > model->stall_rad;
}

/* ---- steady level flight ------------------------------------------------ */

/* The flight that is being trimmed. */
struct trimming {
    const struct performance_model *model;
    struct performance_state *state;
    double power;
};

/* Where a rising function is nought, between a place where it is negative and
 * one where it is positive: false position, with the end that stays halved
 * (the Illinois rule), to the last bits. */
static double root_between(double (*rises)(struct trimming *, double),
                           struct trimming *trimming, double low, double high)
{
    double f_low = rises(trimming, low);
    double f_high = rises(trimming, high);

    for (int i = 0; i < 60 && high - low > 1e-13; i++) {
        double middle = (low * f_high - high * f_low) / (f_high - f_low);
        double f = rises(trimming, middle);

        if (f == 0.0)
            return middle;
        if (f < 0.0) {
            low = middle;
            f_low = f;
            f_high /= 2.0;
        } else {
            high = middle;
            f_high = f;
            f_low /= 2.0;
        }
        if (fabs(f) < 1e-13)
            return middle;
    }
    return (low + high) / 2.0;
}

/* What carries the airplane beyond its weight, at a pitch. */
static double lift_to_spare(struct trimming *trimming, double pitch_rad)
{
    struct performance_controls controls = {.power = trimming->power};
    double rate[RATES];

    trimming->state->pitch_rad = pitch_rad;
    rates_of(trimming->model, trimming->state, &controls, rate);
    return rate[1];
}

/* How the speed grows with a power, at the pitch that then flies level. */
static double speed_to_spare(struct trimming *trimming, double power)
{
    struct performance_controls controls = {.power = power};
    double rate[RATES];

    trimming->power = power;
    trimming->state->pitch_rad =
        root_between(lift_to_spare, trimming, -0.2, trimming->model->stall_rad);
    rates_of(trimming->model, trimming->state, &controls, rate);
    return rate[0];
}

int performance_trim(const struct performance_model *model, double altitude_m,
                     double tas_mps, double heading_rad,
                     struct performance_state *out, double *power)
{
    struct trimming trimming = {.model = model, .state = out};

    *out = (struct performance_state){.tas_mps = tas_mps,
                                      .course_rad = heading_rad,
                                      .altitude_m = altitude_m};
    if (lift_to_spare(&trimming, model->stall_rad) < 0.0 ||
        speed_to_spare(&trimming, 1.0) < 0.0)
        return ERR_RANGE;
    *power = root_between(speed_to_spare, &trimming, 0.0, 1.0);
    (void)speed_to_spare(&trimming, *power);
    return 0;
}
