/* inspect_suspects.h - private to inspect: from what was added up to what is
 * likely wrong. Pure. */
#ifndef COMMANDS_INSPECT_SUSPECTS_H
#define COMMANDS_INSPECT_SUSPECTS_H

#include "inspect_warnings.h"

struct suspects {
    const struct inspect_warnings *seen;
    const struct intake_layout *layout;
    struct inspect_warning *out; /* WARNINGS_MOST */
    uint32_t count;
    double speed_factor; /* true airspeed over the one sent */
};

void suspects_find(struct suspects *suspects);

/* ---- shared by the sources of this --------------------------------------- */

/* The field that fills a channel, or NULL. */
const struct intake_field *suspects_field(const struct intake_layout *layout,
                                          enum intake_channel channel);
/* Returns: the warning, its fix still empty; NULL when there is no room or
 * the channel has one. */
struct inspect_warning *suspects_add(struct suspects *suspects,
                                     enum intake_channel channel,
                                     const char *format, ...)
    __attribute__((format(printf, 3, 4)));
/* What to write: unit = "...". warning: may be NULL. */
void suspects_fix_unit(struct inspect_warning *warning, enum unit unit);

/* Values that are refused, every time or often (inspect_beyond.c). */
void suspects_find_beyond(struct suspects *suspects);

#endif
