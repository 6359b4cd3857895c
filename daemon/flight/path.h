/* path.h - the flight path where no load factor is sent. Private to flight. */
#ifndef FLIGHT_PATH_H
#define FLIGHT_PATH_H

#include "quarterturn/flight.h"

/* What the path is fitted to: speed, and height told as one of the two. */
enum path_reading { PATH_CAS, PATH_ALTITUDE, PATH_CLIMB };

/* Begin; nothing is known of how coarse the readings are. */
void path_init(struct flight_path *path);
/* Begin the fits anew; what is known of the readings stays. */
void path_rest(struct flight_path *path);

/* Take a sample, after the airspeed in now has been filled. least_memory_s:
 * of the fits when the readings are fine. stall_mps: at 1 g. */
void path_follow(struct flight_path *path, const struct intake_sample *sample,
                 const struct flight_state *now, double stall_mps,
                 double least_memory_s);

/* The path as it is in now: angle, rate of turn upward and of speed. */
struct path_view {
    double path_rad;
    double sin_path;
    double cos_path;
    double path_rate_radps;
    double tas_rate_mps2;
};

/* Returns: false when height has not been told for a while. */
bool path_look(const struct flight_path *path, const struct flight_state *now,
               struct path_view *out);

/* Load factor along the airplane's up axis, as an accelerometer there would
 * show it. */
double path_load_factor(const struct path_view *view,
                        const struct flight_state *now);

#endif
