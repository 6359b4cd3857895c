/* rehearse_truth.h - the truth about a rehearsal, for a file and for people. */
#ifndef COMMANDS_REHEARSE_TRUTH_H
#define COMMANDS_REHEARSE_TRUTH_H

#include "quarterturn/rehearse.h"

/* Write the truth as one JSON object; t counts from the first packet.
 * path: "-" is standard output.
 * Returns: 0, or ERR_IO with the reason in errno. */
int rehearse_truth_write(const char *path, const struct rehearse *rehearse);
/* Print how it ended, one line. */
void rehearse_truth_print(const struct rehearse *rehearse);

#endif
