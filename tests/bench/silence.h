/* silence.h - what sound costs before a program does anything. */
#ifndef BENCH_SILENCE_H
#define BENCH_SILENCE_H

#include <stdbool.h>

/* Do nothing but play silence through PortAudio, with the sound worker's
 * device, buffer and latency, until ended: what is below that, no program can
 * reach. In a process of its own; a sound library that was used before a fork
 * is of no use behind it. */
_Noreturn void silence_play(bool jack);

#endif
