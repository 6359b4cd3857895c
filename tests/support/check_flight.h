/* check_flight.h - flights made for finding layouts out: any speed, rate and
 * weather, after the equations of motion of a coordinated turn. */
#ifndef SUPPORT_CHECK_FLIGHT_H
#define SUPPORT_CHECK_FLIGHT_H

#include <stdbool.h>
#include <stdint.h>

#include "flown.h"

/* What the pilot is doing. */
enum check_leg {
    CHECK_STRAIGHT,
    CHECK_LEFT,
    CHECK_RIGHT,
    CHECK_CLIMB,
    CHECK_CLIMB_LEFT,
    CHECK_LEGS
};

struct check_flight {
    double airspeed_mps; /* calibrated, at the beginning */
    double altitude_m;
    double bank_rad;    /* of the turns */
    double gust_mps;    /* standard deviation, up and along; 0 calm air */
    double wobble_rad;  /* of the bank, in the same air */
    double reading_rad; /* noise of the angles that are sent */
    uint32_t seed;
};

/* The airplane. Private. */
struct check_airplane {
    struct check_flight flight;
    double t_s;
    double tas_mps;
    double altitude_m;
    double track_rad; /* through the air */
    double climb_rad;
    double bank_rad;
    double power_mps2; /* what thrust leaves over drag */
    double gust_up_mps;
    double gust_along_mps;
    double wobble_rad;
    uint32_t random;
};

void check_airplane_init(struct check_airplane *airplane,
                         const struct check_flight *flight);
/* Fly on for a step, up to 0.1 s, towards what the leg asks for. */
void check_airplane_step(struct check_airplane *airplane, enum check_leg leg,
                         double step_s);
/* What a simulator would send: attitude, speeds, altitude, time. */
void check_airplane_tell(struct check_airplane *airplane,
                         struct intake_sample *out);

/* All legs of a flight one after the other, about 100 s.
 * Owns: stream_free. */
void check_flight_fly(const struct check_flight *flight, double rate_hz,
                      struct stream *out);

#endif
