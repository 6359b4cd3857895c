/* sample.h - samples for tests: built from figures, or out of a recording. */
#ifndef SUPPORT_SAMPLE_H
#define SUPPORT_SAMPLE_H

#include <stddef.h>
#include <stdint.h>

#include "quarterturn/intake.h"

/* The figures of one moment, in the units pilots use. */
struct sample_figures {
    double t_s;
    double heading_deg;
    double pitch_deg;
    double bank_deg;
    double airspeed_kt;
    double altitude_ft;
};

/* Turn figures into a sample with these five channels. NaN leaves a channel
 * out. */
void sample_build(const struct sample_figures *figures,
                  struct intake_sample *out);
/* Add one channel, given in the unit. */
void sample_set(struct intake_sample *sample, enum intake_channel channel,
                enum unit unit, double value);

/* Every datagram of a recording with its time; the test fails if it cannot
 * be read. Owns: sample_recording_free. */
struct sample_datagram {
    int64_t t_ns;
    size_t at; /* in bytes */
    size_t length;
};
struct sample_recording {
    struct sample_datagram *datagram;
    size_t count;
    uint8_t *bytes;
    size_t size;
};
void sample_recording_load(const char *path, struct sample_recording *out);
void sample_recording_free(struct sample_recording *recording);

#endif
