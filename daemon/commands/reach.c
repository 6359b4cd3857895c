/* reach.c - from where a daemon can be reached. */
#include "reach.h"

#include <string.h>

#include "quarterturn/log.h"

void reach_say(const struct settings *settings, uint16_t port)
{
    const char *address = settings->address;

    log_line(LOG_LEVEL_NOTE, "listening on %s port %u", address, port);
    /* 127.0.0.0/8 (RFC 1122, 3.2.1.3) and ::1 (RFC 4291, 2.5.3). */
    if (strncmp(address, "127.", 4) == 0 || strcmp(address, "::1") == 0)
        return;
    log_line(LOG_LEVEL_WARNING, "%s can be reached from outside this machine",
             address);
    log_line(LOG_LEVEL_WARNING, "%s",
             settings->allow.count > 0
                 ? "only those of network { allow } are listened to"
                 : "anybody there may send; network { allow } says who");
}
