/* flight_time.h - the flight's own time: it stands still while the simulator
 * is paused, and runs at its pace in slow motion and time lapse. */
#ifndef COMMANDS_FLIGHT_TIME_H
#define COMMANDS_FLIGHT_TIME_H

#include <stdint.h>

/* From so far back, events are still dated: the stretches of the last few
 * seconds are kept. */
enum { FLIGHT_TIME_STRETCHES = 16 };

struct flight_time_stretch {
    int64_t stream_from_ns; /* flight_from_ns is at this stream time */
    int64_t flight_from_ns;
    double pace; /* seconds of flight in one of stream time, > 0 */
};

/* Embedded by its owner. At a pace of 1 both times differ by a constant,
 * exactly. */
struct flight_time {
    struct flight_time_stretch stretch[FLIGHT_TIME_STRETCHES];
    uint32_t count; /* oldest first */
};

/* Both times are the same, at a pace of 1. */
void flight_time_init(struct flight_time *time);
double flight_time_pace(const struct flight_time *time);
/* From this stream time on the flight goes at another pace. */
void flight_time_set_pace(struct flight_time *time, int64_t stream_ns,
                          double pace);
/* Nothing was flown from one stream time to the other. */
void flight_time_stand(struct flight_time *time, int64_t from_ns,
                       int64_t to_ns);
int64_t flight_time_of_stream(const struct flight_time *time,
                              int64_t stream_ns);
/* INT64_MIN and INT64_MAX stay what they are. */
int64_t flight_time_to_stream(const struct flight_time *time,
                              int64_t flight_ns);

#endif
