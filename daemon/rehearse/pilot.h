/* pilot.h - private to the rehearse room: who holds the controls. */
#ifndef REHEARSE_PILOT_H
#define REHEARSE_PILOT_H

#include "quarterturn/rehearse.h"

/* Set the airplane at the beginning of the lead-in; keeps plan, model,
 * highest_rad and roll_radps. */
void pilot_start(struct rehearse *rehearse);
/* Decide, and fly one step of dt_s. */
void pilot_step(struct rehearse *rehearse, double dt_s);

/* Note what has become true by this step (truth.c). */
void truth_begin(struct rehearse *rehearse);
void truth_note(struct rehearse *rehearse, double dt_s);
/* CAS above the stall. */
double truth_margin_mps(const struct rehearse *rehearse);

#endif
