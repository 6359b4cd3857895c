/* senders.c - who sends to a port, and which of them is the stream. */
#include <string.h>

#include "quarterturn/intake.h"

/* Ours, no source: longer than a network's worst hiccup, short enough that a
 * simulator that was started again is not missed. */
#define PATIENCE_NS INT64_C(3000000000)

enum { WANDERS = 4 }; /* new ports in a row, none of them seen before */

static size_t address_size(bool ipv6)
{
    return ipv6 ? 16 : 4;
}

static bool same_address(const struct intake_sender *a,
                         const struct intake_sender *b)
{
    return a->ipv6 == b->ipv6 &&
           memcmp(a->address, b->address, address_size(a->ipv6)) == 0;
}

static bool same_sender(const struct intake_sender *a,
                        const struct intake_sender *b)
{
    return a->port == b->port && same_address(a, b);
}

bool intake_prefix_holds(const struct intake_prefix *prefix,
                         const struct intake_sender *sender)
{
    uint32_t bytes = prefix->bits / 8;
    uint32_t rest = prefix->bits % 8;
    unsigned mask = 0xffU << (8 - rest) & 0xffU;

    if (prefix->ipv6 != sender->ipv6 ||
        memcmp(prefix->address, sender->address, bytes) != 0)
        return false;
    return rest == 0 ||
           ((prefix->address[bytes] ^ sender->address[bytes]) & mask) == 0;
}

static bool is_allowed(const struct intake_allow *allow,
                       const struct intake_sender *sender)
{
    for (uint32_t i = 0; i < allow->count; i++) {
        if (intake_prefix_holds(&allow->prefix[i], sender))
            return true;
    }
    return allow->count == 0;
}

void intake_senders_init(struct intake_senders *senders,
                         const struct intake_allow *allow)
{
    memset(senders, 0, sizeof *senders);
    if (allow != NULL)
        senders->allow = *allow;
}

static struct intake_seen *find_seen(struct intake_senders *senders,
                                     const struct intake_sender *sender)
{
    for (uint32_t i = 0; i < senders->seen_count; i++) {
        if (same_sender(&senders->seen[i].sender, sender))
            return &senders->seen[i];
    }
    return NULL;
}

/* One that sends from a new port each time would fill the list alone. */
static void note_seen(struct intake_senders *senders, int64_t arrival_ns,
                      const struct intake_sender *sender,
                      enum intake_reject verdict)
{
    struct intake_sender known = *sender;
    struct intake_seen *seen;

    if (senders->any_port && verdict == INTAKE_TAKEN)
        known = senders->pin;
    seen = find_seen(senders, &known);
    if (seen == NULL) {
        if (senders->seen_count == INTAKE_MAX_SEEN) {
            senders->unlisted++;
            return;
        }
        seen = &senders->seen[senders->seen_count++];
        seen->sender = known;
        seen->datagrams = 0;
    }
    seen->datagrams++;
    seen->last_ns = arrival_ns;
    seen->verdict = verdict;
}

/* A program may open a new socket for every datagram: its port then means
 * nothing. Two programs of one machine are told from that by their ports
 * coming back. */
static bool is_wandering(struct intake_senders *senders,
                         const struct intake_sender *sender)
{
    if (!same_address(&senders->pin, sender))
        return false;
    if (senders->any_port)
        return true;
    if (find_seen(senders, sender) != NULL)
        senders->wandered = 0;
    else
        senders->wandered++;
    senders->any_port = senders->wandered >= WANDERS;
    return senders->any_port;
}

enum intake_reject intake_senders_judge(struct intake_senders *senders,
                                        int64_t arrival_ns,
                                        const struct intake_sender *sender)
{
    enum intake_reject verdict = INTAKE_TAKEN;

    if (senders->pinned && arrival_ns - senders->pin_heard_ns >= PATIENCE_NS)
        senders->pinned = senders->any_port = false;
    if (!is_allowed(&senders->allow, sender)) {
        verdict = INTAKE_NOT_ALLOWED;
    } else if (senders->pinned && same_sender(&senders->pin, sender)) {
        senders->wandered = 0;
    } else if (senders->pinned && !is_wandering(senders, sender)) {
        verdict = INTAKE_OTHER_SENDER;
    }
    note_seen(senders, arrival_ns, sender, verdict);
    return verdict;
}

void intake_senders_pin(struct intake_senders *senders, int64_t arrival_ns,
                        const struct intake_sender *sender)
{
    if (!senders->pinned) {
        senders->pin = *sender;
        senders->wandered = 0;
    }
    senders->pinned = true;
    senders->pin_heard_ns = arrival_ns;
}
