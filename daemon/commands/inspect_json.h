/* inspect_json.h - what arrived, as one JSON object. */
#ifndef COMMANDS_INSPECT_JSON_H
#define COMMANDS_INSPECT_JSON_H

#include "inspect_tally.h"

/* Print everything that inspect_tally_print prints.
 * Returns: false when it could not be written. */
bool inspect_json_print(const struct inspect_tally *tally,
                        const char *layout_file, FILE *out);

#endif
