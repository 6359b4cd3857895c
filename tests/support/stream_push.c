/* stream_push.c - a stream for tests that takes moments instead of bytes. */
#include "stream_push.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#define STEP_NS INT64_C(100000000)

static void add_field(struct intake_packet *packet, enum intake_channel channel,
                      uint32_t at)
{
    struct intake_field *field = &packet->field[packet->field_count++];

    field->channel = channel;
    field->unit = intake_channel_display_unit(channel);
    field->type = INTAKE_F64;
    field->scale = 1.0;
    field->at = at;
}

void push_begin(struct pushed *pushed, enum push_kind kind,
                int64_t signal_timeout_ns)
{
    struct intake_packet *first = &pushed->layout.packet[0];
    struct intake_packet *second = &pushed->layout.packet[1];
    bool cruising = kind == PUSH_CRUISING || kind == PUSH_PLACED;

    memset(pushed, 0, sizeof *pushed);
    pushed->layout.form = INTAKE_FORM_BINARY;
    pushed->layout.packet_count = kind == PUSH_SPLIT ? 2 : 1;
    if (kind != PUSH_UNCLOCKED && !cruising)
        add_field(first, CHANNEL_SIM_TIME, 0);
    add_field(first, CHANNEL_HEADING, 8);
    add_field(first, CHANNEL_BANK, 16);
    if (kind == PUSH_SPLIT) {
        first->size = 24;
        second->size = 16;
        add_field(second, CHANNEL_SIM_TIME, 0);
        add_field(second, CHANNEL_ALTITUDE, 8);
    } else {
        add_field(first, CHANNEL_ALTITUDE, 24);
    }
    if (kind == PUSH_SAYING)
        add_field(first, CHANNEL_PAUSED, 32);
    if (cruising) {
        add_field(first, CHANNEL_PITCH, 32);
        add_field(first, CHANNEL_VERTICAL_SPEED, 40);
    }
    if (kind == PUSH_PLACED)
        add_field(first, CHANNEL_LATITUDE, 48);
    intake_stream_init(&pushed->stream, &pushed->layout, signal_timeout_ns);
}

void push_kind(struct pushed *pushed, int64_t arrival_ns,
               const struct moment *moment, uint32_t packet)
{
    struct intake_sample sample = {.valid = ~UINT32_C(0)};
    uint8_t bytes[64];
    int length;

    sample.value[CHANNEL_SIM_TIME] = moment->sim_time_s;
    sample.value[CHANNEL_HEADING] = units_rad(moment->heading_deg);
    sample.value[CHANNEL_BANK] = units_rad(moment->bank_deg);
    sample.value[CHANNEL_ALTITUDE] =
        units_to_internal(UNIT_FT, moment->altitude_ft);
    sample.value[CHANNEL_PITCH] = units_rad(moment->pitch_deg);
    sample.value[CHANNEL_VERTICAL_SPEED] =
        units_to_internal(UNIT_FT_PER_MIN, moment->climb_fpm);
    sample.value[CHANNEL_PAUSED] = moment->paused ? 1.0 : 0.0;
    length =
        intake_encode(&pushed->layout, packet, &sample, bytes, sizeof bytes);
    assert_true(length > 0);
    intake_stream_push(&pushed->stream, arrival_ns, bytes, (size_t)length,
                       &pushed->result);
}

void push(struct pushed *pushed, int64_t arrival_ns,
          const struct moment *moment)
{
    push_kind(pushed, arrival_ns, moment, 0);
}

void push_expect_taken(struct pushed *pushed, int64_t arrival_ns,
                       const struct moment *moment)
{
    push(pushed, arrival_ns, moment);
    assert_int_equal(pushed->result.reject, INTAKE_TAKEN);
    assert_true(pushed->result.has_sample);
    assert_int_equal(pushed->result.notice_count, 0);
}

void push_expect_rejected(struct pushed *pushed, int64_t arrival_ns,
                          const struct moment *moment,
                          enum intake_reject reject)
{
    push(pushed, arrival_ns, moment);
    assert_int_equal(pushed->result.reject, reject);
    assert_false(pushed->result.has_sample);
    assert_int_equal(pushed->result.notice_count, 0);
}

void push_expect_notice(const struct pushed *pushed, uint32_t index,
                        enum intake_notice_kind kind, int64_t t_ns)
{
    assert_true(index < pushed->result.notice_count);
    assert_int_equal(pushed->result.notice[index].kind, kind);
    assert_int_equal(pushed->result.notice[index].t_ns, t_ns);
}

struct moment push_moment_at(double sim_time_s)
{
    return (struct moment){.sim_time_s = sim_time_s,
                           .heading_deg = 90.0 + sim_time_s,
                           .bank_deg = 1.0,
                           .altitude_ft = 3000.0};
}

void push_flight(struct pushed *pushed, int64_t from_ns, int64_t to_ns)
{
    for (int64_t t_ns = from_ns; t_ns < to_ns; t_ns += STEP_NS) {
        struct moment moment = push_moment_at((double)t_ns * 1e-9);

        push_expect_taken(pushed, t_ns, &moment);
    }
}
