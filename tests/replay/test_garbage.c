/* test_garbage.c - ten thousand streams of what is no flight: not one call.
 *
 * Values leave the simulator as double precision, so that everything a double
 * can hold is sent. Half of the streams keep near the speed at which the
 * program waits for a maneuver, many are steady for a while: what follows
 * is the more likely to be taken for one. */
#include <float.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "../../daemon/commands/session.h"
#include "flown.h"

enum { STREAMS = 10000, PACKETS = 400, SENT = 8 };

/* What is sent, at 8 bytes each from byte 0 on. */
static const enum intake_channel sent_channel[SENT] = {
    CHANNEL_SIM_TIME, CHANNEL_HEADING,  CHANNEL_PITCH,     CHANNEL_BANK,
    CHANNEL_AIRSPEED, CHANNEL_ALTITUDE, CHANNEL_LATERAL_G, CHANNEL_LOAD_FACTOR};

/* A step of each channel that looks lively, and bounds that are accepted. */
static const double step_of[SENT] = {0.05, 0.02, 0.01, 0.03,
                                     0.5,  2.0,  0.02, .1};
static const double most_of[SENT] = {4e9,  12.0,   1.6, 3.2,
                                     700., 60000., 50., 50.};

static const double wild[] = {NAN,     INFINITY, -INFINITY, -0.0,    5e-324,
                              -5e-324, DBL_MIN,  1e300,     -1e300,  DBL_MAX,
                              4e9,     -4e9,     1e18,      -1e-300, 1e-3};

enum kind {
    BYTES,      /* chance bytes */
    ANYWHERE,   /* values anywhere in the bounds */
    WALK,       /* each on a random walk of its own */
    STUCK,      /* the same again and again */
    LEAPING,    /* stuck, but for leaps */
    SPOILED,    /* steady, but for wild values */
    CLOCK_WILD, /* steady, under a clock that goes anywhere */
    CLOCK_BACK, /* a walk before the year one, and backwards */
    WALK_WILD,  /* a walk, with wild values */
    NOISE,      /* noise about a steady flight */
    KINDS
};

struct garbage {
    struct session *session;
    struct settings settings;
    uint32_t random;
    double value[SENT];
    double scale; /* of steps */
    size_t ready;
    size_t entries;
    size_t calls;
    size_t tones;
};

static void on_event(void *context, const struct maneuver_event *event,
                     const struct debrief_grade *grade)
{
    struct garbage *garbage = context;

    (void)grade;
    garbage->ready += event->kind == EVENT_READY;
    garbage->entries += event->kind == EVENT_ENTRY;
}

static void on_call(void *context, const struct callout_call *call)
{
    struct garbage *garbage = context;

    garbage->calls++;
    print_message("call: %s\n", call->text);
}

static void on_tone(void *context, const struct callout_tone *tone)
{
    struct garbage *garbage = context;

    garbage->tones += tone->band > 0;
}

/* ---- chance -------------------------------------------------------------- */

/* Xorshift (G. Marsaglia, Xorshift RNGs, Journal of Statistical Software 8
 * (14), 2003; shifts 13, 17, 5). */
static uint32_t draw(struct garbage *garbage)
{
    garbage->random ^= garbage->random << 13;
    garbage->random ^= garbage->random >> 17;
    garbage->random ^= garbage->random << 5;
    return garbage->random;
}

/* 0 up to 1. */
static double draw_part(struct garbage *garbage)
{
    return draw(garbage) / 4294967296.0;
}

/* -1 to 1. */
static double draw_way(struct garbage *garbage)
{
    return 2.0 * draw_part(garbage) - 1.0;
}

/* ---- a stream ------------------------------------------------------------ */

static void walk(struct garbage *garbage)
{
    for (int i = 1; i < SENT; i++)
        garbage->value[i] += garbage->scale * step_of[i] * draw_way(garbage);
}

static double draw_wild(struct garbage *garbage)
{
    return wild[draw(garbage) % (sizeof wild / sizeof wild[0])];
}

/* The next packet of a kind. now: what stands in it; the airplane's own values
 * go on from garbage->value. */
static void compose(struct garbage *garbage, enum kind kind, double now[SENT])
{
    double *value = garbage->value;

    if (kind == WALK || kind == WALK_WILD || kind == CLOCK_BACK)
        walk(garbage);
    if (kind == LEAPING && draw(garbage) % 16 == 0)
        for (int i = 1; i < SENT; i++)
            value[i] += 40.0 * step_of[i] * draw_way(garbage);
    memcpy(now, value, SENT * sizeof now[0]);
    for (int i = 0; i < SENT; i++) {
        if (kind == ANYWHERE && i > 0)
            now[i] = most_of[i] * draw_way(garbage);
        if (kind == NOISE && i > 0)
            now[i] += garbage->scale * step_of[i] * draw_way(garbage);
        if ((kind == SPOILED || kind == WALK_WILD) && draw(garbage) % 32 == 0)
            now[i] = draw_wild(garbage);
    }
    if (kind == CLOCK_WILD)
        now[0] = draw(garbage) % 4 == 0 ? draw_wild(garbage)
                                        : value[0] + 5.0 * draw_way(garbage);
    if (kind == CLOCK_BACK)
        now[0] = -value[0];
}

static void begin_values(struct garbage *garbage, bool armed)
{
    static const double steady[SENT] = {
        100.0, 1.0, 0.03, 0.0, 105.0 * UNITS_MPS_PER_KT, 1000.0, 0.0, 1.0};

    memcpy(garbage->value, steady, sizeof steady);
    garbage->value[1] = 6.0 * draw_part(garbage);
    if (!armed)
        for (int i = 1; i < SENT; i++)
            garbage->value[i] = 0.5 * most_of[i] * draw_way(garbage);
    /* From much less than a flight's to much more. */
    garbage->scale = pow(10.0, 1.5 * draw_way(garbage) - 0.5);
}

static void fly_garbage(struct garbage *garbage, uint32_t number)
{
    enum kind kind = (enum kind)(number % KINDS);
    double interval_s = 0.01 + 0.1 * draw_part(garbage);
    int64_t t_ns = 0;

    begin_values(garbage, draw(garbage) % 2 == 0);
    for (int i = 0; i < PACKETS; i++) {
        double now[SENT];
        uint8_t bytes[sizeof now];

        t_ns += (int64_t)(interval_s * 1e9);
        garbage->value[0] += interval_s;
        compose(garbage, kind, now);
        memcpy(bytes, now, sizeof now);
        if (kind == BYTES)
            for (size_t k = 0; k < sizeof bytes; k++)
                bytes[k] = (uint8_t)(draw(garbage) >> 8);
        session_push(garbage->session,
                     &(struct intake_datagram){
                         .t_ns = t_ns, .data = bytes, .length = sizeof bytes});
    }
    session_advance(garbage->session, t_ns + 5 * UNITS_NS_PER_S);
    session_end(garbage->session);
}

/* ---- looking ------------------------------------------------------------- */

static void lay_out(struct settings *settings)
{
    struct intake_layout *layout = &settings->layout;
    const uint16_t one = 1;
    const bool big = *(const uint8_t *)&one == 0;

    memset(layout, 0, sizeof *layout);
    layout->form = INTAKE_FORM_BINARY;
    layout->packet_count = 1;
    for (uint32_t i = 0; i < SENT; i++)
        layout->packet[0].field[i] =
            (struct intake_field){.channel = sent_channel[i],
                                  .type = INTAKE_F64,
                                  .big_endian = big,
                                  .at = i * (uint32_t)sizeof(double),
                                  .scale = 1.0};
    layout->packet[0].field_count = SENT;
}

static struct session_sink begin_looking(struct garbage *garbage)
{
    struct settings_choice choice = {0};
    char why[512] = "";

    memset(garbage, 0, sizeof *garbage);
    garbage->random = 2463534242u;
    garbage->session = malloc(sizeof *garbage->session);
    assert_non_null(garbage->session);
    if (settings_load(&choice, ".", &garbage->settings, why, sizeof why) != 0)
        fail_msg("%s", why);
    lay_out(&garbage->settings);
    return (struct session_sink){.context = garbage,
                                 .event = on_event,
                                 .call = on_call,
                                 .tone = on_tone};
}

static void ten_thousand_streams_of_garbage_make_no_call(void **state)
{
    struct garbage garbage;
    struct session_sink sink = begin_looking(&garbage);
    size_t ready_of[KINDS] = {0};

    (void)state;
    for (uint32_t i = 0; i < STREAMS; i++) {
        size_t ready = garbage.ready;

        session_init(garbage.session, &garbage.settings, &sink);
        fly_garbage(&garbage, i);
        ready_of[i % KINDS] += garbage.ready > ready;
        if (garbage.calls + garbage.tones > 0)
            fail_msg("stream %u of kind %u: %zu attempts, %zu calls", i,
                     i % KINDS, garbage.entries, garbage.calls);
    }
    free(garbage.session);
    for (int i = 0; i < KINDS; i++)
        print_message("kind %d: %zu of %d armed\n", i, ready_of[i],
                      STREAMS / KINDS);
    /* The program was awake: what is steady at the right speed arms it. */
    assert_in_range(ready_of[STUCK], 300, 600);
    assert_in_range(ready_of[SPOILED], 100, 600);
    assert_in_range(garbage.ready, 1000, STREAMS);
}

/* The look above can see a call. */
static void a_flight_looked_at_in_the_same_way_makes_calls(void **state)
{
    struct garbage garbage;
    struct session_sink sink = begin_looking(&garbage);
    struct stream stream;

    (void)state;
    stream_load(&stream, "good_left", "plain-binary");
    session_init(garbage.session, &garbage.settings, &sink);
    for (size_t i = 0; i < stream.count; i++) {
        double now[SENT];

        for (int k = 0; k < SENT; k++)
            now[k] = stream.packet[i].sample.value[sent_channel[k]];
        session_push(garbage.session, &(struct intake_datagram){
                                          .t_ns = stream.packet[i].arrival_ns,
                                          .data = (const uint8_t *)now,
                                          .length = sizeof now});
    }
    session_end(garbage.session);
    assert_int_equal(garbage.entries, 1);
    assert_int_equal(garbage.calls, 5);
    stream_free(&stream);
    free(garbage.session);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ten_thousand_streams_of_garbage_make_no_call),
        cmocka_unit_test(a_flight_looked_at_in_the_same_way_makes_calls),
    };

    return cmocka_run_group_tests_name("replay: garbage", tests, NULL, NULL) !=
           0;
}
