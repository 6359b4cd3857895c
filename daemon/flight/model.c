/* model.c - an airplane as a point mass, from what its handbook tells.
 *
 * Drag is a parabola over lift; the propeller is a disc in momentum theory
 * with a constant share of the shaft power lost on the blades. That share and
 * the drag at no lift are found from the handbook's cruise and best climb.
 *
 * What a point mass cannot show: it has no yaw and no controls of its own.
 * Pitch and bank are what the pilot holds; sideslip is given, not flown; spin,
 * wing drop, propeller slipstream over the tail and flexible limits of the
 * elevator do not exist. */
#include "model.h"

#include <math.h>
#include <string.h>

#include "quarterturn/error.h"
#include "quarterturn/flight.h"

/* From memory, as in any text on light airplanes: span efficiency near 0.8;
 * aspect ratio 7 and a disc of 2 m when nothing is told. */
static const double span_efficiency = 0.8;
static const double usual_aspect = 7.0;
static const double usual_diameter_m = 2.0;
/* Lift follows the angle of attack in a straight line to this share of its
 * most, then bends over to it; beyond, it falls to the other share. Ours. */
static const double straight_share = 0.85;
static const double stalled_share = 0.7;
/* Drag of the flow that leaves the wing, for each radian beyond the straight
 * part. Ours. */
static const double leaving_drag = 1.5;
/* Full power of a fixed propeller at a standstill over that at cruising speed:
 * it turns slower. From memory, common practice. */
static const double fixed_standstill = 0.85;
/* The altitude drop-off of unsupercharged engines after Gagg and Farrar (SAE
 * Journal, 1934), from memory: P / P0 = sigma - (1 - sigma) / 7.55. */
static const double gagg_farrar = 7.55;
/* Of the shaft power, what may reach the stream behind the propeller. */
static const double least_share = 0.3;
static const double greatest_share = 1.0;

double model_sigma(const struct performance_model *model, double altitude_m)
{
    double standard_k = flight_temperature_k(altitude_m);

    return flight_density_kgpm3(altitude_m) / model->sea_level_kgpm3 *
           standard_k / (standard_k + model->warmer_k);
}

double performance_density_kgpm3(const struct performance_model *model,
                                 double altitude_m)
{
    return model_sigma(model, altitude_m) * model->sea_level_kgpm3;
}

/* ---- power and thrust --------------------------------------------------- */

double performance_power_share(double sigma)
{
    return fmax(sigma - (1.0 - sigma) / gagg_farrar, 0.0);
}

/* Thrust of a disc that takes in a power: momentum theory, P = T (V + w), T =
 * 2 rho A w (V + w). Newton's method from above, where the cubic is convex. */
double model_disc_thrust_n(double power_w, double tas_mps, double disc_rho)
{
    double v_mps = fmax(tas_mps, 0.0);
    double need = power_w / (2.0 * disc_rho);
    double w_mps;

    if (!(need > 0.0))
        return 0.0;
    w_mps = v_mps > 1.0 ? need / (v_mps * v_mps) : HUGE_VAL;
    if (w_mps > v_mps)
        w_mps = fmin(w_mps, cbrt(need));
    for (int i = 0; i < 8; i++) {
        double through = v_mps + w_mps;
        double change = (w_mps * through * through - need) /
                        (through * (through + 2.0 * w_mps));

        w_mps -= change;
        if (fabs(change) < 1e-12 * w_mps)
            break;
    }
    return 2.0 * disc_rho * w_mps * (v_mps + w_mps);
}

/* Shaft power with everything forward. */
static double full_power_w(const struct performance_model *model, double sigma,
                           double tas_mps)
{
    double power_w = model->rated_power_w * performance_power_share(sigma);

    if (model->fixed_propeller)
        power_w *=
            fixed_standstill + (1.0 - fixed_standstill) *
                                   fmin(tas_mps / model->cruise_tas_mps, 1.0);
    return power_w;
}

double model_thrust_n(const struct performance_model *model, double sigma,
                      double tas_mps, double power)
{
    return model_disc_thrust_n(
        power * model->propeller_share * full_power_w(model, sigma, tas_mps),
        tas_mps, model->disc_m2 * sigma * model->sea_level_kgpm3);
}

double performance_thrust_n(const struct performance_model *model,
                            double altitude_m, double tas_mps, double power)
{
    return model_thrust_n(model, model_sigma(model, altitude_m), tas_mps,
                          power);
}

/* ---- lift and drag ------------------------------------------------------ */

double model_lift(const struct performance_model *model, double alpha_rad)
{
    double most = model->lift_most;
    double lift = model->lift_slope * (alpha_rad - model->zero_lift_rad);
    double over = lift - straight_share * most;
    double room = (1.0 - straight_share) * most;

    if (over <= 0.0)
        return lift;
    /* A parabola that begins with the same slope and peaks at the most. */
    lift = straight_share * most + over - over * over / (4.0 * room);
    if (over > 2.0 * room)
        lift = fmax(lift, stalled_share * most);
    return lift;
}

/* Where the straight part ends. */
static double straight_end_rad(const struct performance_model *model)
{
    return model->zero_lift_rad +
           straight_share * model->lift_most / model->lift_slope;
}

double model_drag(const struct performance_model *model, double lift,
                  double alpha_rad)
{
    return model->drag_least + model->drag_of_lift * lift * lift +
           leaving_drag * fmax(alpha_rad - straight_end_rad(model), 0.0);
}

/* ---- from the handbook -------------------------------------------------- */

struct point {
    double weight_n;
    double density;
    double tas_mps;
    double climb_rad;
    double power_w;
};

/* Thrust less what holds the airplane back, for one point of the handbook. */
static double spare_n(const struct performance_model *model,
                      const struct point *point)
{
    double pressure_n = 0.5 * point->density * point->tas_mps * point->tas_mps *
                        model->wing_area_m2;
    double lift = point->weight_n * cos(point->climb_rad) / pressure_n;
    double drag = model->drag_least + model->drag_of_lift * lift * lift;

    return model_disc_thrust_n(model->propeller_share * point->power_w,
                               point->tas_mps,
                               model->disc_m2 * point->density) -
           drag * pressure_n - point->weight_n * sin(point->climb_rad);
}

/* With this share of the power in the stream, the drag that makes the cruise
 * come out; then what is spare in the climb. */
static double climb_spare_n(struct performance_model *model, double share,
                            const struct point *cruise,
                            const struct point *climb)
{
    double pressure_n = 0.5 * cruise->density * cruise->tas_mps *
                        cruise->tas_mps * model->wing_area_m2;

    model->propeller_share = share;
    model->drag_least = 0.0;
    model->drag_least = spare_n(model, cruise) / pressure_n;
    return spare_n(model, climb);
}

static int fit(struct performance_model *model, const struct point *cruise,
               const struct point *climb)
{
    double low = least_share;
    double high = greatest_share;

    if (climb_spare_n(model, low, cruise, climb) > 0.0 ||
        climb_spare_n(model, high, cruise, climb) < 0.0)
        return ERR_RANGE;
    for (int i = 0; i < 60; i++) {
        double middle = (low + high) / 2.0;

        if (climb_spare_n(model, middle, cruise, climb) < 0.0)
            low = middle;
        else
            high = middle;
    }
    return model->drag_least > 0.0 ? 0 : ERR_RANGE;
}

static void set_wing(struct performance_model *model,
                     const struct flight_aircraft *aircraft,
                     const struct point *cruise)
{
    const struct performance_figures *figures = &aircraft->performance;
    double sea_level = flight_density_kgpm3(0.0);
    double stall_mps = aircraft->stall_speed_mps;
    double aspect = figures->wing_span_m > 0.0
                        ? figures->wing_span_m * figures->wing_span_m /
                              figures->wing_area_m2
                        : usual_aspect;
    double bent = 2.0 - straight_share; /* lift that a straight line would
                                           have at the stall, over the most */

    model->wing_area_m2 = figures->wing_area_m2;
    model->drag_of_lift = 1.0 / (UNITS_PI * span_efficiency * aspect);
    /* Lifting line, an elliptic wing: 2 pi A / (A + 2); any aerodynamics
     * text, from memory. */
    model->lift_slope = 2.0 * UNITS_PI * aspect / (aspect + 2.0);
    model->lift_most =
        2.0 * aircraft->stall_weight_kg * UNITS_G0_MPS2 /
        (sea_level * stall_mps * stall_mps * model->wing_area_m2);
    /* The handbook does not tell how the wing sits on the fuselage: level in
     * cruise is what it is built for (from memory), unless the angle of
     * attack at the stall is known. */
    if (aircraft->stall_angle_of_attack_rad > 0.0)
        model->zero_lift_rad = aircraft->stall_angle_of_attack_rad -
                               bent * model->lift_most / model->lift_slope;
    else
        model->zero_lift_rad =
            -2.0 * cruise->weight_n /
            (cruise->density * cruise->tas_mps * cruise->tas_mps *
             model->wing_area_m2 * model->lift_slope);
    model->stall_rad =
        model->zero_lift_rad + bent * model->lift_most / model->lift_slope;
}

int performance_model_make(const struct flight_aircraft *aircraft,
                           const struct performance_conditions *conditions,
                           struct performance_model *out)
{
    const struct performance_figures *figures = &aircraft->performance;
    double diameter_m = figures->propeller_diameter_m > 0.0
                            ? figures->propeller_diameter_m
                            : usual_diameter_m;
    double weight_kg = isnan(conditions->weight_kg) ? aircraft->weight_kg
                                                    : conditions->weight_kg;
    struct point cruise;
    struct point climb;

    memset(out, 0, sizeof *out);
    if (!performance_is_known(figures))
        return ERR_ABSENT;
    if (!(weight_kg > 0.0))
        return ERR_RANGE;
    out->mass_kg = weight_kg;
    out->sea_level_kgpm3 = flight_density_kgpm3(0.0);
    out->rated_power_w = figures->engine_power_w;
    out->fixed_propeller = figures->propeller == PROPELLER_FIXED;
    out->cruise_tas_mps = figures->cruise_speed_mps;
    out->disc_m2 = UNITS_PI * diameter_m * diameter_m / 4.0;
    cruise = (struct point){
        .weight_n = aircraft->max_weight_kg * UNITS_G0_MPS2,
        .density = flight_density_kgpm3(figures->cruise_altitude_m),
        .tas_mps = figures->cruise_speed_mps,
        .power_w = figures->cruise_power * figures->engine_power_w};
    climb = (struct point){
        .weight_n = cruise.weight_n,
        .density = flight_density_kgpm3(0.0),
        .tas_mps = figures->climb_speed_mps,
        .climb_rad =
            asin(fmin(figures->climb_rate_mps / figures->climb_speed_mps, 0.9)),
        .power_w = full_power_w(out, 1.0, figures->climb_speed_mps)};
    set_wing(out, aircraft, &cruise);
    if (!isnan(conditions->temperature_k))
        out->warmer_k = conditions->temperature_k -
                        flight_temperature_k(conditions->altitude_m);
    out->wind_north_mps =
        -conditions->wind_mps * cos(conditions->wind_from_rad);
    out->wind_east_mps = -conditions->wind_mps * sin(conditions->wind_from_rad);
    return fit(out, &cruise, &climb);
}
