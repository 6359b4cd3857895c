/* rejects.h - why datagrams were not taken, told to who listens. */
#ifndef COMMANDS_REJECTS_H
#define COMMANDS_REJECTS_H

#include <stdint.h>

#include "session.h"

/* Say each reason for not taking a datagram once. Late and doubled ones are
 * the network's way and no fault of the layout.
 * said: reasons said before, as bits; zero at first, kept by the caller.
 * sender: of the datagram that has just been pushed. */
void rejects_say(const struct session *session, const char *layout,
                 const struct intake_sender *sender, uint32_t *said);

/* Print how many datagrams were taken and why others were not, to standard
 * error. */
void rejects_print_counts(const struct intake_counts *counts);

#endif
