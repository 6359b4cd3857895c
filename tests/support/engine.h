/* engine.h - the noise of a piston engine, and how loud it is to an ear. */
#ifndef SUPPORT_ENGINE_H
#define SUPPORT_ENGINE_H

#include <stdint.h>

/* Made up, ours: a four-stroke engine of four cylinders and a propeller of two
 * blades, so that at 2,400 turns a minute the ignitions and the blades come 80
 * times a second, the turns 40 and the camshaft's 20. Harmonics of the camshaft
 * up to the hundredth fall by 6 dB an octave from the ignitions on; those of
 * the turns stand 6 dB and the rest 12 dB below those of the ignitions; the
 * speed wanders by half a percent. With them noise of the air, level up to 300
 * Hz and falling by 6 dB an octave above, in all 6 dB below the tones.
 * out: frames at AUDIO_RATE_HZ. Same arguments, same samples. */
void engine_noise(uint64_t seed, double turns_per_minute, float *out,
                  uint32_t frames);

/* Mean square with the frequency weighting A.
 * Source: IEC 61672-1:2013, annex E. */
double engine_weighted(const float *samples, uint32_t frames);

#endif
