/* loudness.c - how loud a clip is. */
#include <math.h>

#include "table.h"

/* One second-order section; state in transposed direct form II. */
struct section {
    double b0, b1, b2, a1, a2;
    double s1, s2;
};

static double run_section(struct section *f, double in)
{
    double out = f->b0 * in + f->s1;

    f->s1 = f->b1 * in - f->a1 * out + f->s2;
    f->s2 = f->b2 * in - f->a2 * out;
    return out;
}

double audio_loudness_lufs(const float *samples, uint32_t frames)
{
    /* Source: Recommendation ITU-R BS.1770-4, Annex 1, tables 1 and 2, for
     * 48 kHz. */
    struct section head = {1.53512485958697,
                           -2.69169618940638,
                           1.19839281085285,
                           -1.69065929318241,
                           0.73248077421585,
                           0.0,
                           0.0};
    struct section low = {1.0, -2.0, 1.0, -1.99004745483398, 0.99007225036621,
                          0.0, 0.0};
    double sum = 0.0;

    /* The first time round fills the filters. */
    for (int round = 0; round < 2; round++) {
        sum = 0.0;
        for (uint32_t i = 0; i < frames; i++) {
            double x = run_section(&low, run_section(&head, samples[i]));

            sum += x * x;
        }
    }
    return -0.691 + 10.0 * log10(sum / frames);
}
