/* measure.h - what a grade needs to know of an attempt. Private. */
#ifndef DEBRIEF_MEASURE_H
#define DEBRIEF_MEASURE_H

#include "quarterturn/debrief.h"

/* A figure of an attempt and when it was so; NaN: not known, no instant. */
struct measure {
    double value;
    double t_s;
    double turn_rad;
};

/* Angles in the direction of the turn, magnitudes of the bank. */

/* Bank at which it was set, less the standard's; value is the bank. */
struct measure measure_bank_set(const struct debrief_attempt *attempt);
/* Seconds from the entry to the bank set. */
struct measure measure_bank_time(const struct debrief_attempt *attempt);
/* Between bank set and 90: the bank that was furthest outside of two, and the
 * one of these that it was outside of. */
struct bank_kept {
    struct measure worst;
    double wanted_rad;
};
struct bank_kept measure_bank_kept(const struct debrief_attempt *attempt,
                                   double least_rad, double most_rad);
struct measure measure_pitch_highest(const struct debrief_attempt *attempt);
/* Degrees of turn at which the pitch was first within 1.5 degrees of its
 * highest. */
struct measure measure_pitch_peak(const struct debrief_attempt *attempt);
/* The furthest that the pitch was from an even rise between the entry and 90
 * degrees; positive: ahead of it. */
struct measure measure_pitch_rise(const struct debrief_attempt *attempt);
/* The furthest that the held pitch was left from 90 on; positive: above. */
struct measure measure_pitch_kept(const struct debrief_attempt *attempt);
/* Where the roll-out began, and the furthest that the bank was from coming
 * off evenly; positive: too much bank left. */
struct measure measure_roll_out_begin(const struct debrief_attempt *attempt);
struct measure measure_roll_out_even(const struct debrief_attempt *attempt);
/* Altitude furthest from that at level, over the time to hold it. */
struct measure measure_hold(const struct debrief_attempt *attempt);
struct measure measure_height_least(const struct debrief_attempt *attempt);
struct measure measure_margin_least(const struct debrief_attempt *attempt);
/* Seconds stalled, with the instant of the first stall. */
struct measure measure_stalled(const struct debrief_attempt *attempt);
/* Seconds with the ball out, with the instant of the first ball event. */
struct measure measure_ball(const struct debrief_attempt *attempt);

#endif
