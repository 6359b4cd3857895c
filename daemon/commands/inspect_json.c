/* inspect_json.c - what arrived, as one JSON object. */
#include "inspect_json.h"

#include <jansson.h>
#include <math.h>

#include "needs.h"

/* jansson takes over what is set, and NULL (out of memory) is refused there:
 * the dump at the end then fails. */
static void set_count(json_t *object, const char *name, uint64_t count)
{
    (void)json_object_set_new(object, name, json_integer((json_int_t)count));
}

static void set_text(json_t *object, const char *name, const char *text)
{
    (void)json_object_set_new(object, name, json_string(text));
}

static void set_real(json_t *object, const char *name, double value)
{
    (void)json_object_set_new(object, name,
                              isfinite(value) ? json_real(value) : json_null());
}

static double seconds(int64_t ns)
{
    return (double)ns * 1e-9;
}

static json_t *channels_of(const struct inspect_tally *tally)
{
    json_t *channels = json_array();

    for (int i = 0; i < CHANNEL_COUNT; i++) {
        const struct inspect_channel *channel = &tally->channel[i];
        enum intake_channel name = (enum intake_channel)i;
        enum unit unit = intake_channel_display_unit(name);
        double span_s = seconds(channel->last_ns - channel->first_ns);
        json_t *object;

        if (channel->count == 0)
            continue;
        object = json_object();
        set_text(object, "channel", intake_channel_name(name));
        set_text(object, "unit", units_name(unit));
        set_real(object, "value", units_from_internal(unit, channel->now));
        set_real(object, "least", units_from_internal(unit, channel->least));
        set_real(object, "greatest",
                 units_from_internal(unit, channel->greatest));
        set_count(object, "count", channel->count);
        set_real(object, "rate_hz",
                 span_s > 0.0 ? (double)(channel->count - 1) / span_s : NAN);
        set_real(object, "gap_s", seconds(channel->gap_ns));
        set_real(object, "age_s", seconds(tally->now_ns - channel->last_ns));
        (void)json_array_append_new(channels, object);
    }
    return channels;
}

static json_t *senders_of(const struct intake_senders *senders)
{
    json_t *list = json_array();

    for (uint32_t i = 0; i < senders->seen_count; i++) {
        char text[INTAKE_ADDRESS_TEXT];
        json_t *object = json_object();

        intake_udp_sender_text(&senders->seen[i].sender, text);
        set_text(object, "sender", text);
        set_count(object, "datagrams", senders->seen[i].datagrams);
        set_text(object, "verdict",
                 intake_reject_name(senders->seen[i].verdict));
        (void)json_array_append_new(list, object);
    }
    return list;
}

static json_t *warnings_of(const struct inspect_tally *tally,
                           const char *layout_file)
{
    struct inspect_warning warning[WARNINGS_MOST];
    uint32_t count =
        inspect_warnings_find(&tally->warnings, tally->stream.layout, warning);
    json_t *list = json_array();

    for (uint32_t i = 0; i < count; i++) {
        json_t *object = json_object();

        set_text(object, "channel", intake_channel_name(warning[i].channel));
        set_text(object, "text", warning[i].text);
        set_text(object, "file", layout_file);
        set_count(object, "line", warning[i].line);
        set_text(object, "fix", warning[i].fix);
        (void)json_array_append_new(list, object);
    }
    return list;
}

static void say_missing(void *context, const char *text, bool required)
{
    (void)required;
    (void)json_array_append_new(context, json_string(text));
}

static json_t *missing_of(const struct inspect_tally *tally)
{
    json_t *list = json_array();
    uint32_t seen = 0;

    for (int i = 0; i < CHANNEL_COUNT; i++) {
        if (tally->channel[i].count > 0)
            seen |= CHANNEL_BIT(i);
    }
    (void)needs_tell_missing(seen, say_missing, list);
    return list;
}

static json_t *rejects_of(const struct intake_counts *counts)
{
    json_t *object = json_object();

    for (int i = INTAKE_TAKEN + 1; i < INTAKE_REJECT_COUNT; i++) {
        if (counts->rejected[i] > 0)
            set_count(object, intake_reject_name((enum intake_reject)i),
                      counts->rejected[i]);
    }
    return object;
}

static json_t *notices_of(const struct inspect_tally *tally)
{
    json_t *object = json_object();

    for (int i = 0; i < INSPECT_NOTICES; i++) {
        if (tally->notices[i] > 0)
            set_count(object, inspect_notice_name(i), tally->notices[i]);
    }
    return object;
}

bool inspect_json_print(const struct inspect_tally *tally,
                        const char *layout_file, FILE *out)
{
    const struct intake_counts *counts = &tally->stream.counts;
    json_t *all = json_object();
    bool written;

    set_text(all, "layout", tally->stream.layout->name);
    set_text(all, "layout_file", layout_file);
    set_real(all, "seconds",
             seconds(tally->last_arrival_ns - tally->first_arrival_ns));
    set_count(all, "datagrams", counts->datagrams);
    set_count(all, "bytes", counts->bytes);
    set_count(all, "taken", counts->taken);
    (void)json_object_set_new(all, "rejected", rejects_of(counts));
    (void)json_object_set_new(all, "stream", notices_of(tally));
    (void)json_object_set_new(all, "senders", senders_of(&tally->senders));
    (void)json_object_set_new(all, "channels", channels_of(tally));
    (void)json_object_set_new(all, "missing", missing_of(tally));
    (void)json_object_set_new(all, "warnings", warnings_of(tally, layout_file));
    written =
        json_dumpf(all, out, JSON_INDENT(2) | JSON_REAL_PRECISION(10)) == 0 &&
        fputc('\n', out) != EOF;
    json_decref(all);
    return written;
}
