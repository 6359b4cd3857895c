/* sample.c - samples for tests: built from figures, or out of a recording. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "sample.h"

void sample_set(struct intake_sample *sample, enum intake_channel channel,
                enum unit unit, double value)
{
    if (isnan(value)) {
        return;
    }
    sample->value[channel] = units_to_internal(unit, value);
    sample->valid |= CHANNEL_BIT(channel);
    sample->fresh |= CHANNEL_BIT(channel);
}

void sample_build(const struct sample_figures *figures,
                  struct intake_sample *out)
{
    memset(out, 0, sizeof *out);
    out->t_ns = (int64_t)llround(figures->t_s * (double)UNITS_NS_PER_S);
    sample_set(out, CHANNEL_HEADING, UNIT_DEG, figures->heading_deg);
    sample_set(out, CHANNEL_PITCH, UNIT_DEG, figures->pitch_deg);
    sample_set(out, CHANNEL_BANK, UNIT_DEG, figures->bank_deg);
    sample_set(out, CHANNEL_AIRSPEED, UNIT_KT, figures->airspeed_kt);
    sample_set(out, CHANNEL_ALTITUDE, UNIT_FT, figures->altitude_ft);
}

static void *grow(void *store, size_t used, size_t more, size_t *room,
                  size_t each)
{
    if (used + more <= *room) {
        return store;
    }
    while (*room < used + more) {
        *room = *room * 2 + 1024;
    }
    void *larger = realloc(store, *room * each);
    assert_non_null(larger);
    return larger;
}

void sample_recording_load(const char *path, struct sample_recording *out)
{
    char why[512] = "";
    struct intake_recording *file = NULL;
    size_t datagram_room = 0;
    size_t byte_room = 0;
    struct intake_datagram read;
    int more = 0;

    memset(out, 0, sizeof *out);
    if (intake_recording_open(path, &file, why, sizeof why) != 0) {
        fail_msg("%s", why);
    }
    while ((more = intake_recording_next(file, &read, why, sizeof why)) == 1) {
        out->datagram = grow(out->datagram, out->count, 1, &datagram_room,
                             sizeof *out->datagram);
        out->bytes = grow(out->bytes, out->size, read.length, &byte_room, 1);
        memcpy(out->bytes + out->size, read.data, read.length);
        out->datagram[out->count] = (struct sample_datagram){
            .t_ns = read.t_ns, .at = out->size, .length = read.length};
        out->size += read.length;
        out->count++;
    }
    intake_recording_close(file);
    if (more != 0) {
        fail_msg("%s", why);
    }
    assert_true(out->count > 0);
}

void sample_recording_free(struct sample_recording *recording)
{
    free(recording->datagram);
    free(recording->bytes);
    memset(recording, 0, sizeof *recording);
}
