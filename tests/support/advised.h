/* advised.h - rehearsed flights, and what advice their roll-out gets. */
#ifndef SUPPORT_ADVISED_H
#define SUPPORT_ADVISED_H

#include "quarterturn/maneuver.h"
#include "quarterturn/rehearse.h"

enum { ADVISED_MOST = 8, ADVISED_AIRPLANES = 2 };

/* The airplanes that come with the program. */
extern const char *const advised_airplane[ADVISED_AIRPLANES];

struct advised_flight {
    struct rehearse_plan plan;
    struct maneuver_standard standard;
    double rate_hz;
};

struct advised {
    bool flown; /* false: the airplane cannot fly this */
    double predicted_rad[ADVISED_MOST]; /* at 110, 120, ... degrees of turn */
    int predictions;
    double greatest_off_line_rad; /* bank, from 95 to 165 degrees */
    int side[ADVISED_MOST];       /* of each advice: +1 faster, -1 slower */
    double turn_rad[ADVISED_MOST];
    int count;
    double heading_error_rad; /* in truth */
};

/* A perfect flight, 30 samples a second, by the configured standard.
 * airplane: index into advised_airplane. */
void advised_plan(struct advised_flight *flight, int airplane, int direction);
/* Fly it. line: the ideal one, to hold the bank against; or NULL. Fails when an
 * advice is not what the hand of the last two seconds needs, by the closed form
 * of a roll-out. */
void advised_fly(const struct advised_flight *flight,
                 const struct performance_reference *line, struct advised *out);

#endif
