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

#endif
