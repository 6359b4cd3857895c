/* gusts.c - air that moves at random, and always in the same way. */
#include <math.h>

#include "quarterturn/performance.h"

/* Scale of turbulence at medium altitude: 1,750 ft (MIL-F-8785C, section
 * 3.7.2, from memory). */
static const double scale_m = 1750.0 * UNITS_M_PER_FT;

double performance_random(uint64_t *state)
{
    uint64_t z;

    /* SplitMix64 (Steele, Lea and Flood, OOPSLA 2014): every seed is good. */
    *state += UINT64_C(0x9e3779b97f4a7c15);
    z = *state;
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    z ^= z >> 31;
    return (double)(z >> 11) * 0x1p-53;
}

double performance_random_normal(uint64_t *state)
{
    /* Box and Muller; 1 - u is never 0. */
    double u = 1.0 - performance_random(state);
    double v = performance_random(state);

    return sqrt(-2.0 * log(u)) * cos(2.0 * UNITS_PI * v);
}

void performance_gusts_init(struct performance_gusts *gusts,
                            double strength_mps, uint64_t seed)
{
    *gusts = (struct performance_gusts){.strength_mps = strength_mps,
                                        .random = seed};
}

void performance_gusts_step(struct performance_gusts *gusts, double tas_mps,
                            double dt_s)
{
    double keep = exp(-tas_mps * dt_s / scale_m);
    double fresh_mps = gusts->strength_mps * sqrt(1.0 - keep * keep);

    gusts->along_mps = keep * gusts->along_mps +
                       fresh_mps * performance_random_normal(&gusts->random);
    gusts->side_mps = keep * gusts->side_mps +
                      fresh_mps * performance_random_normal(&gusts->random);
    gusts->up_mps = keep * gusts->up_mps +
                    fresh_mps * performance_random_normal(&gusts->random);
}
