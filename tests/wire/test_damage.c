/* test_damage.c - a packet of every form: cut at every length, with every
 * byte replaced by every other, and shown to the other forms.
 *
 * Each datagram lies in memory of exactly its length, so that a sanitizer
 * sees a read beyond it. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "quarterturn/settings.h"
#include "sample.h"

static const char *const layout_name[] = {
    "plain-text", "plain-binary", "keyed-records", "name-value", "json-object"};

enum { LAYOUTS = sizeof layout_name / sizeof layout_name[0] };

/* A layout, and a packet of its recording. */
struct specimen {
    struct settings settings;
    uint8_t bytes[1024];
    size_t length;
};

static void take_specimen(int which, struct specimen *out)
{
    struct settings_choice choice = {.layout = layout_name[which]};
    struct sample_recording recording;
    char text[512] = "";

    if (settings_load(&choice, ".", &out->settings, text, sizeof text) != 0)
        fail_msg("%s", text);
    (void)snprintf(text, sizeof text, "tests/wire/%s.pcap", choice.layout);
    sample_recording_load(text, &recording);
    /* In the middle of the climb, where no value is nought. */
    const struct sample_datagram *datagram = &recording.datagram[400];

    assert_true(datagram->length <= sizeof out->bytes);
    out->length = datagram->length;
    memcpy(out->bytes, recording.bytes + datagram->at, datagram->length);
    sample_recording_free(&recording);
}

static enum intake_reject decode_copy(const struct intake_layout *layout,
                                      const uint8_t *bytes, size_t length,
                                      struct intake_sample *out)
{
    uint8_t *copy = malloc(length > 0 ? length : 1);
    enum intake_reject reject;

    assert_non_null(copy);
    memcpy(copy, bytes, length);
    reject = intake_decode(layout, copy, length, out);
    free(copy);
    return reject;
}

/* Either refused, and not for a reason of the stream's, or finite values. */
static void expect_sound(enum intake_reject reject,
                         const struct intake_sample *sample)
{
    assert_in_range(reject, INTAKE_TAKEN, INTAKE_NOTHING_KNOWN);
    assert_int_not_equal(reject, INTAKE_LATE);
    assert_int_not_equal(reject, INTAKE_DUPLICATE);
    if (reject != INTAKE_TAKEN)
        return;
    assert_int_not_equal(sample->valid, 0);
    assert_int_equal(sample->fresh, sample->valid);
    for (int i = 0; i < CHANNEL_COUNT; i++) {
        if ((sample->valid & CHANNEL_BIT(i)) != 0)
            assert_true(isfinite(sample->value[i]));
    }
}

static void every_packet_is_whole(void **state)
{
    struct specimen specimen;
    struct intake_sample sample;

    (void)state;
    for (int i = 0; i < LAYOUTS; i++) {
        take_specimen(i, &specimen);
        assert_int_equal(decode_copy(&specimen.settings.layout, specimen.bytes,
                                     specimen.length, &sample),
                         INTAKE_TAKEN);
        assert_int_equal(sample.valid,
                         intake_layout_channels(&specimen.settings.layout));
    }
}

/* What a cut packet is, in those forms whose structure tells. */
static void cut_packets_are_refused_or_make_sense(void **state)
{
    struct specimen specimen;
    struct intake_sample sample;

    (void)state;
    for (int i = 0; i < LAYOUTS; i++) {
        take_specimen(i, &specimen);
        const struct intake_layout *layout = &specimen.settings.layout;
        size_t record = layout->packet[0].record_size;

        for (size_t length = 0; length < specimen.length; length++) {
            enum intake_reject reject =
                decode_copy(layout, specimen.bytes, length, &sample);

            expect_sound(reject, &sample);
            if (layout->form == INTAKE_FORM_BINARY)
                assert_int_not_equal(reject, INTAKE_TAKEN);
            /* All but the end of the line behind it. */
            if (layout->form == INTAKE_FORM_JSON &&
                length < specimen.length - 1)
                assert_int_equal(reject, length == 0 ? INTAKE_EMPTY
                                                     : INTAKE_BAD_STRUCTURE);
            if (layout->form == INTAKE_FORM_RECORDS && length > 4)
                assert_int_equal(reject, (length - 4) % record == 0
                                             ? INTAKE_TAKEN
                                             : INTAKE_BAD_STRUCTURE);
        }
    }
}

static void any_byte_may_be_any_other(void **state)
{
    struct specimen specimen;
    struct intake_sample sample;

    (void)state;
    for (int i = 0; i < LAYOUTS; i++) {
        size_t taken = 0;

        take_specimen(i, &specimen);
        for (size_t at = 0; at < specimen.length; at++) {
            uint8_t kept = specimen.bytes[at];

            for (int value = 0; value < 256; value++) {
                enum intake_reject reject;

                specimen.bytes[at] = (uint8_t)value;
                reject = decode_copy(&specimen.settings.layout, specimen.bytes,
                                     specimen.length, &sample);
                expect_sound(reject, &sample);
                taken += reject == INTAKE_TAKEN;
            }
            specimen.bytes[at] = kept;
        }
        /* Each byte as it was, at the least; never all. */
        assert_in_range(taken, specimen.length, 255 * specimen.length);
    }
}

static void no_other_layout_claims_a_packet(void **state)
{
    struct specimen specimen;
    struct specimen other;
    struct intake_sample sample;

    (void)state;
    for (int i = 0; i < LAYOUTS; i++) {
        take_specimen(i, &specimen);
        for (int k = 0; k < LAYOUTS; k++) {
            if (k == i)
                continue;
            take_specimen(k, &other);
            assert_int_not_equal(decode_copy(&other.settings.layout,
                                             specimen.bytes, specimen.length,
                                             &sample),
                                 INTAKE_TAKEN);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_packet_is_whole),
        cmocka_unit_test(cut_packets_are_refused_or_make_sense),
        cmocka_unit_test(any_byte_may_be_any_other),
        cmocka_unit_test(no_other_layout_claims_a_packet),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
