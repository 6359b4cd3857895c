/* long_flight.h - recordings of many hours, made out of one flight. */
#ifndef SUPPORT_LONG_FLIGHT_H
#define SUPPORT_LONG_FLIGHT_H

#include "sample.h"

/* Fly a recording of the layout plain-binary again and again for so long, the
 * simulator's time going on. The test fails when it cannot be written.
 * Returns: packets written. */
size_t long_flight_write(const struct sample_recording *flight,
                         int64_t duration_ns, const char *path);

#endif
