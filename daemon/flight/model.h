/* model.h - private to the flight room: parts of the performance model. */
#ifndef FLIGHT_MODEL_H
#define FLIGHT_MODEL_H

#include "quarterturn/performance.h"

/* Thrust, N, of a propeller disc that takes in power_w at tas_mps.
 * disc_rho: its area times the density of the air. */
double model_disc_thrust_n(double power_w, double tas_mps, double disc_rho);
/* Density of the model's air over that of the standard atmosphere at sea
 * level. */
double model_sigma(const struct performance_model *model, double altitude_m);
/* performance_thrust_n where the density is known already. */
double model_thrust_n(const struct performance_model *model, double sigma,
                      double tas_mps, double power);

/* What the line needs of each of its moments, and no more. */
struct model_glance {
    double heading_rad; /* of the nose, unwrapped; without sideslip */
    double alpha_rad;
    double cas_mps; /* in calm air */
    bool stalled;
};

void model_look_briefly(const struct performance_model *model,
                        const struct performance_state *state,
                        struct model_glance *out);
/* Lift coefficient at an angle of attack; drag coefficient with it. */
double model_lift(const struct performance_model *model, double alpha_rad);
double model_drag(const struct performance_model *model, double lift,
                  double alpha_rad);

#endif
