/* inspect_tally.c - what arrived, added up and printed. */
#include "inspect_tally.h"

#include <inttypes.h>
#include <math.h>
#include <string.h>

#include "needs.h"
#include "quarterturn/wrap.h"

/* ---- adding up ---------------------------------------------------------- */

void inspect_tally_init(struct inspect_tally *tally,
                        const struct intake_layout *layout,
                        const struct intake_allow *allow,
                        int64_t signal_timeout_ns)
{
    memset(tally, 0, sizeof *tally);
    intake_senders_init(&tally->senders, allow);
    inspect_warnings_init(&tally->warnings);
    intake_stream_init(&tally->stream, layout, signal_timeout_ns);
}

static void take_value(struct inspect_channel *channel, int64_t t_ns,
                       double value)
{
    if (channel->count == 0) {
        channel->first_ns = t_ns;
        channel->least = value;
        channel->greatest = value;
    } else if (t_ns - channel->last_ns > channel->gap_ns) {
        channel->gap_ns = t_ns - channel->last_ns;
    }
    channel->last_ns = t_ns;
    channel->now = value;
    channel->least = fmin(channel->least, value);
    channel->greatest = fmax(channel->greatest, value);
    channel->count++;
}

static void take_result(struct inspect_tally *tally,
                        const struct intake_result *result)
{
    bool broken = false;

    for (uint32_t i = 0; i < result->notice_count; i++) {
        tally->notices[result->notice[i].kind]++;
        broken = true;
    }
    if (!result->has_sample)
        return;
    inspect_warnings_take(&tally->warnings, &result->sample, broken);
    for (int i = 0; i < CHANNEL_COUNT; i++) {
        if ((result->sample.fresh & CHANNEL_BIT(i)) != 0)
            take_value(&tally->channel[i], result->sample.t_ns,
                       result->sample.value[i]);
    }
}

/* The stream tells only that something was out of range: decoded once more,
 * the datagram tells what. */
static void take_beyond(struct inspect_tally *tally,
                        const struct intake_datagram *datagram,
                        enum intake_reject reject)
{
    struct intake_sample sample;

    if (reject != INTAKE_TAKEN && reject != INTAKE_OUT_OF_RANGE)
        return;
    (void)intake_decode(tally->stream.layout, datagram->data, datagram->length,
                        &sample);
    inspect_warnings_take_beyond(&tally->warnings, &sample);
}

void inspect_tally_push(struct inspect_tally *tally,
                        const struct intake_datagram *datagram)
{
    struct intake_result result;

    if (tally->stream.counts.datagrams == 0)
        tally->first_arrival_ns = datagram->t_ns;
    tally->last_arrival_ns = tally->now_ns = datagram->t_ns;
    intake_stream_take(&tally->stream, &tally->senders, datagram, &result);
    take_beyond(tally, datagram, result.reject);
    take_result(tally, &result);
}

void inspect_tally_tick(struct inspect_tally *tally, int64_t now_ns)
{
    struct intake_result result;

    if (tally->stream.counts.datagrams > 0)
        tally->now_ns = now_ns;
    intake_stream_tick(&tally->stream, now_ns, &result);
    take_result(tally, &result);
}

/* ---- printing ----------------------------------------------------------- */

enum { LINE_WIDTH = 78 };

static const char *const name_of_notice[INSPECT_NOTICES] = {
    [INTAKE_SIGNAL_LOST] = "signal lost", [INTAKE_SIGNAL_BACK] = "signal back",
    [INTAKE_PAUSED] = "paused",           [INTAKE_RESUMED] = "resumed",
    [INTAKE_JUMPED] = "jumped",
};

const char *inspect_notice_name(int notice)
{
    return name_of_notice[notice];
}

/* A line of counts with a name before it, folded at LINE_WIDTH. */
struct count_line {
    FILE *out;
    const char *head;
    int used; /* columns; 0 before the first count */
};

static void put_count(struct count_line *line, uint64_t count, const char *name)
{
    char text[64];
    int length;

    if (count == 0)
        return;
    length = snprintf(text, sizeof text, "%" PRIu64 " %s", count, name);
    if (line->used == 0)
        line->used = fprintf(line->out, "%s: ", line->head);
    else if (line->used + length + 2 > LINE_WIDTH)
        line->used = fprintf(line->out, ",\n    ") - 2;
    else
        line->used += fprintf(line->out, ", ");
    line->used += fprintf(line->out, "%s", text);
}

static void end_counts(struct count_line *line)
{
    if (line->used > 0)
        (void)fprintf(line->out, "\n");
}

/* Angles of position need more places, large times fewer. */
static int decimals_of(int channel, double value)
{
    if (channel == CHANNEL_LATITUDE || channel == CHANNEL_LONGITUDE)
        return 6;
    return fabs(value) >= 1e6 ? 1 : 3;
}

static void print_channel(int index, const struct inspect_channel *channel,
                          int64_t now_ns, FILE *out)
{
    enum intake_channel name = (enum intake_channel)index;
    enum unit unit = intake_channel_display_unit(name);
    double value[3] = {channel->now, channel->least, channel->greatest};
    double span_s = (double)(channel->last_ns - channel->first_ns) * 1e-9;

    (void)fprintf(out, "%-15s", intake_channel_name(name));
    for (int i = 0; i < 3; i++) {
        double shown = units_from_internal(unit, value[i]);

        (void)fprintf(out, " %11.*f", decimals_of(index, shown), shown);
    }
    (void)fprintf(out, "  %-6s", units_name(unit));
    if (span_s > 0.0)
        (void)fprintf(out, " %5.1f %5.2f %5.1f",
                      (double)(channel->count - 1) / span_s,
                      (double)channel->gap_ns * 1e-9,
                      (double)(now_ns - channel->last_ns) * 1e-9);
    (void)fprintf(out, "\n");
}

/* A list with an empty line before it, if there is anything in it. */
struct missing {
    FILE *out;
    const char *before;
};

static void say_missing(void *context, const char *text, bool required)
{
    struct missing *missing = context;

    (void)required;
    (void)fprintf(missing->out, "%sno %s\n", missing->before, text);
    missing->before = "";
}

static void print_missing(const struct inspect_tally *tally, FILE *out)
{
    struct missing missing = {out, "\n"};
    uint32_t seen = 0;

    for (int i = 0; i < CHANNEL_COUNT; i++) {
        if (tally->channel[i].count > 0)
            seen |= CHANNEL_BIT(i);
    }
    (void)needs_tell_missing(seen, say_missing, &missing);
}

static void print_senders(const struct inspect_tally *tally, FILE *out)
{
    const struct intake_senders *senders = &tally->senders;

    for (uint32_t i = 0; i < senders->seen_count; i++) {
        const struct intake_seen *seen = &senders->seen[i];
        char text[INTAKE_ADDRESS_TEXT];

        intake_udp_sender_text(&seen->sender, text);
        (void)fprintf(out, "from %s: %" PRIu64 " datagram%s%s%s\n", text,
                      seen->datagrams, seen->datagrams == 1 ? "" : "s",
                      seen->verdict != INTAKE_TAKEN ? ", " : "",
                      seen->verdict != INTAKE_TAKEN
                          ? intake_reject_name(seen->verdict)
                          : "");
    }
    if (senders->unlisted > 0)
        (void)fprintf(out, "from others: %" PRIu64 " datagram%s\n",
                      senders->unlisted, senders->unlisted == 1 ? "" : "s");
}

static void print_warnings(const struct inspect_tally *tally,
                           const char *layout_file, FILE *out)
{
    struct inspect_warning warning[WARNINGS_MOST];
    uint32_t count =
        inspect_warnings_find(&tally->warnings, tally->stream.layout, warning);

    if (count > 0)
        (void)fprintf(out, "\n");
    for (uint32_t i = 0; i < count; i++) {
        int column = fprintf(
            out, "warning: %s:", intake_channel_name(warning[i].channel));

        (void)fputc(' ', out);
        wrap_print(out, column + 1, 4, warning[i].text);
        (void)fputc('\n', out);
        if (warning[i].line > 0)
            (void)fprintf(out, "    %s:%u: %s\n", layout_file, warning[i].line,
                          warning[i].fix[0] != '\0' ? warning[i].fix
                                                    : "this field");
        else if (warning[i].fix[0] != '\0')
            (void)fprintf(out, "    %s\n", warning[i].fix);
    }
}

void inspect_tally_print(const struct inspect_tally *tally,
                         const char *layout_file, FILE *out)
{
    const struct intake_counts *counts = &tally->stream.counts;
    struct count_line rejects = {out, "rejected", 0};
    struct count_line notices = {out, "stream", 0};

    (void)fprintf(out,
                  "%" PRIu64 " datagram%s in %.1f s, %" PRIu64
                  " byte%s, %" PRIu64 " taken\n",
                  counts->datagrams, counts->datagrams == 1 ? "" : "s",
                  (double)(tally->last_arrival_ns - tally->first_arrival_ns) *
                      1e-9,
                  counts->bytes, counts->bytes == 1 ? "" : "s", counts->taken);
    for (int i = INTAKE_TAKEN + 1; i < INTAKE_REJECT_COUNT; i++)
        put_count(&rejects, counts->rejected[i],
                  intake_reject_name((enum intake_reject)i));
    end_counts(&rejects);
    for (int i = 0; i < INSPECT_NOTICES; i++)
        put_count(&notices, tally->notices[i], name_of_notice[i]);
    end_counts(&notices);
    print_senders(tally, out);
    if (counts->taken == 0) {
        print_warnings(tally, layout_file, out);
        return;
    }
    (void)fprintf(out, "\n%-15s %11s %11s %11s  %-6s %5s %5s %5s\n", "channel",
                  "value", "least", "greatest", "unit", "per s", "gap s",
                  "age s");
    for (int i = 0; i < CHANNEL_COUNT; i++) {
        if (tally->channel[i].count > 0)
            print_channel(i, &tally->channel[i], tally->now_ns, out);
    }
    print_missing(tally, out);
    print_warnings(tally, layout_file, out);
}

void inspect_print_other(uint64_t other_ports,
                         const struct intake_skipped *skipped, FILE *out)
{
    struct count_line line = {out, "passed over", 0};

    put_count(&line, other_ports, "to other ports");
    put_count(&line, skipped->not_ip, "not IP");
    put_count(&line, skipped->not_udp, "not UDP");
    put_count(&line, skipped->fragment, "fragments");
    put_count(&line, skipped->cut_short, "cut short");
    put_count(&line, skipped->malformed, "malformed");
    end_counts(&line);
}
