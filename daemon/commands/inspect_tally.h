/* inspect_tally.h - what arrived, added up and printed. */
#ifndef COMMANDS_INSPECT_TALLY_H
#define COMMANDS_INSPECT_TALLY_H

#include <stdio.h>

#include "inspect_warnings.h"
#include "quarterturn/intake.h"

enum { INSPECT_NOTICES = INTAKE_JUMPED + 1 };

/* One channel, internal units. */
struct inspect_channel {
    uint64_t count;
    double now;
    double least;
    double greatest;
    int64_t first_ns;
    int64_t last_ns;
    int64_t gap_ns; /* the longest between two values */
};

/* Embedded by its owner. */
struct inspect_tally {
    struct intake_stream stream;
    struct intake_senders senders;
    struct inspect_warnings warnings;
    int64_t now_ns; /* the latest arrival or tick */
    struct inspect_channel channel[CHANNEL_COUNT];
    uint64_t notices[INSPECT_NOTICES];
    int64_t first_arrival_ns;
    int64_t last_arrival_ns;
};

/* layout: borrowed. allow: copied; NULL: everybody. */
void inspect_tally_init(struct inspect_tally *tally,
                        const struct intake_layout *layout,
                        const struct intake_allow *allow,
                        int64_t signal_timeout_ns);
/* Take a datagram, as intake_stream_take does. */
void inspect_tally_push(struct inspect_tally *tally,
                        const struct intake_datagram *datagram);
/* Let time pass, as intake_stream_tick does. */
void inspect_tally_tick(struct inspect_tally *tally, int64_t now_ns);

/* Print the table, the rejects, the senders, the warnings and what is
 * missing: plain text, at most 80 columns but for the names of files.
 * layout_file: to be named in warnings. */
void inspect_tally_print(const struct inspect_tally *tally,
                         const char *layout_file, FILE *out);
/* "signal lost", "paused", ... */
const char *inspect_notice_name(int notice);
/* Print what a recording held beside the stream, when there was any. */
void inspect_print_other(uint64_t other_ports,
                         const struct intake_skipped *skipped, FILE *out);

#endif
