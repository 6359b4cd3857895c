/* engine.c - the noise of a piston engine, and how loud it is to an ear. */
#include "engine.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "quarterturn/audio.h"
#include "quarterturn/units.h"

enum {
    HARMONICS = 100,    /* of the camshaft */
    TURN_FRAMES = 9600, /* steps of the stored turn of the camshaft */
    BLOCKS = 12         /* uniform numbers that make one nearly normal */
};

/* Steele's splitmix64: the same numbers everywhere. */
static double chance(uint64_t *state)
{
    uint64_t z = *state += UINT64_C(0x9E3779B97F4A7C15);

    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    return (double)((z ^ (z >> 31)) >> 11) * 0x1.0p-53;
}

static double mean_square(const float *samples, uint32_t frames)
{
    double sum = 0.0;

    for (uint32_t i = 0; i < frames; i++)
        sum += (double)samples[i] * (double)samples[i];
    return sum / frames;
}

static void make_air(uint64_t *state, float *out, uint32_t frames)
{
    const double keep = exp(-2 * UNITS_PI * 300.0 / AUDIO_RATE_HZ);
    double level = 0.0;

    for (uint32_t i = 0; i < frames; i++) {
        double sum = -BLOCKS / 2.0;

        for (int k = 0; k < BLOCKS; k++)
            sum += chance(state);
        level = keep * level + (1.0 - keep) * sum;
        out[i] = (float)level;
    }
}

static double amplitude_of(int order)
{
    double kind = order % 4 == 0 ? 1.0 : order % 2 == 0 ? 0.5 : 0.25;

    return kind * fmin(1.0, 4.0 / order);
}

/* One turn of the camshaft, and one step more. */
static void make_turn(uint64_t *state, double turn[TURN_FRAMES + 1])
{
    memset(turn, 0, (TURN_FRAMES + 1) * sizeof *turn);
    for (int order = 1; order <= HARMONICS; order++) {
        double amplitude = amplitude_of(order);
        double phase = chance(state);

        for (int i = 0; i <= TURN_FRAMES; i++)
            turn[i] +=
                amplitude *
                sin(2 * UNITS_PI * ((double)order * i / TURN_FRAMES + phase));
    }
}

static void add_turns(uint64_t *state, double camshaft_hz, float *out,
                      uint32_t frames)
{
    static double turn[TURN_FRAMES + 1];
    double turned = 0.0;
    double wander = chance(state);

    make_turn(state, turn);
    for (uint32_t i = 0; i < frames; i++) {
        double t = (double)i / AUDIO_RATE_HZ;
        double at = turned * TURN_FRAMES;
        int below = (int)at;

        out[i] += (float)(turn[below] +
                          (at - below) * (turn[below + 1] - turn[below]));
        turned += camshaft_hz / AUDIO_RATE_HZ *
                  (1.0 + 0.005 * sin(2 * UNITS_PI * (0.5 * t + wander)));
        turned -= floor(turned);
    }
}

void engine_noise(uint64_t seed, double turns_per_minute, float *out,
                  uint32_t frames)
{
    uint64_t state = seed;
    double tones = 0.0; /* mean square of the sines */
    double air;

    for (int order = 1; order <= HARMONICS; order++)
        tones += amplitude_of(order) * amplitude_of(order) / 2.0;
    make_air(&state, out, frames);
    air = sqrt(tones / 4.0 / mean_square(out, frames));
    for (uint32_t i = 0; i < frames; i++)
        out[i] = (float)(out[i] * air);
    add_turns(&state, turns_per_minute / 120.0, out, frames);
}

/* One pole of the analogue filter by the bilinear transform. */
static double run_pole(double in, double hz, bool high, double state[2])
{
    double k = tan(UNITS_PI * hz / AUDIO_RATE_HZ);
    double b0 = high ? 1.0 / (1.0 + k) : k / (1.0 + k);
    double b1 = high ? -b0 : b0;
    double out = b0 * in + b1 * state[0] - (k - 1.0) / (k + 1.0) * state[1];

    state[0] = in;
    state[1] = out;
    return out;
}

double engine_weighted(const float *samples, uint32_t frames)
{
    static const double low_hz[] = {20.598997, 20.598997, 107.65265, 737.86223};
    double state[6][2] = {{0.0}};
    double sum = 0.0;

    for (uint32_t i = 0; i < frames; i++) {
        double x = samples[i];

        for (int k = 0; k < 4; k++)
            x = run_pole(x, low_hz[k], true, state[k]);
        x = run_pole(x, 12194.217, false, state[4]);
        x = run_pole(x, 12194.217, false, state[5]);
        sum += x * x;
    }
    return sum / frames;
}
