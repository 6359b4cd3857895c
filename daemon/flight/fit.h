/* fit.h - a fading-memory quadratic fit of one quantity. Private to flight. */
#ifndef FLIGHT_FIT_H
#define FLIGHT_FIT_H

#include "quarterturn/flight.h"

/* Forget everything. */
void fit_reset(struct flight_fit *fit);

/* Take a value dt_s after the last one.
 * dt_s: >= 0. fade: what remains of the weight of all earlier values, 0..1.
 * value: finite. */
void fit_add(struct flight_fit *fit, double dt_s, double fade, double value);

/* The fitted value and its rates at the time of the last value.
 * memory_s: e-folding time of the weights; only tells how little spread in
 *    time is too little for a slope or a curve.
 * out: unspecified before the first fit_add. */
void fit_trend(const struct flight_fit *fit, double memory_s,
               struct flight_trend *out);

#endif
