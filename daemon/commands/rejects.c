/* rejects.c - why datagrams were not taken, told to who listens. */
#include "rejects.h"

#include <inttypes.h>

#include "quarterturn/log.h"

/* Somebody else sends, and who is listened to. */
static bool say_sender(const struct session *session, int reject,
                       const struct intake_sender *sender)
{
    char from[INTAKE_ADDRESS_TEXT];
    char pinned[INTAKE_ADDRESS_TEXT];

    intake_udp_sender_text(sender, from);
    intake_udp_sender_text(&session->senders.pin, pinned);
    if (reject == INTAKE_OTHER_SENDER)
        log_line(LOG_LEVEL_WARNING,
                 "%s sends here too; only %s is listened to until it falls "
                 "silent",
                 from, pinned);
    else if (reject == INTAKE_NOT_ALLOWED)
        log_line(LOG_LEVEL_WARNING,
                 "%s sends here, but is not in the list network { allow }",
                 from);
    else
        return false;
    return true;
}

void rejects_say(const struct session *session, const char *layout,
                 const struct intake_sender *sender, uint32_t *said)
{
    const struct intake_counts *counts = &session->stream.counts;

    for (int i = INTAKE_TAKEN + 1; i < INTAKE_REJECT_COUNT; i++) {
        if (counts->rejected[i] == 0 || (*said >> i & 1) != 0 ||
            i == INTAKE_LATE || i == INTAKE_DUPLICATE)
            continue;
        *said |= UINT32_C(1) << i;
        if (say_sender(session, i, sender))
            continue;
        log_line(LOG_LEVEL_WARNING,
                 "a datagram does not fit layout \"%s\" (%s); quarterturn "
                 "inspect shows more, quarterturn discover works out another "
                 "layout",
                 layout, intake_reject_name((enum intake_reject)i));
    }
}

void rejects_print_counts(const struct intake_counts *counts)
{
    uint64_t rejected = counts->datagrams - counts->taken;

    log_line(LOG_LEVEL_NOTE, "%" PRIu64 " datagram%s, %" PRIu64 " taken",
             counts->datagrams, counts->datagrams == 1 ? "" : "s",
             counts->taken);
    if (rejected == 0)
        return;
    for (int i = INTAKE_TAKEN + 1; i < INTAKE_REJECT_COUNT; i++)
        if (counts->rejected[i] > 0)
            log_line(LOG_LEVEL_NOTE, "  %" PRIu64 " not taken: %s",
                     counts->rejected[i],
                     intake_reject_name((enum intake_reject)i));
}
