/* model.h - private to the flight room: parts of the performance model. */
#ifndef FLIGHT_MODEL_H
#define FLIGHT_MODEL_H

#include "quarterturn/performance.h"

/* Thrust, N, of a propeller disc that takes in power_w at tas_mps.
 * disc_rho: its area times the density of the air. */
double model_disc_thrust_n(double power_w, double tas_mps, double disc_rho);
/* Lift coefficient at an angle of attack; drag coefficient with it. */
double model_lift(const struct performance_model *model, double alpha_rad);
double model_drag(const struct performance_model *model, double lift,
                  double alpha_rad);

#endif
