/* flight_time.c - the flight's own time. */
#include "flight_time.h"

#include <math.h>
#include <string.h>

void flight_time_init(struct flight_time *time)
{
    memset(time, 0, sizeof *time);
    time->stretch[0].pace = 1.0;
    time->count = 1;
}

double flight_time_pace(const struct flight_time *time)
{
    return time->stretch[time->count - 1].pace;
}

static void begin(struct flight_time *time,
                  const struct flight_time_stretch *next)
{
    if (time->count == FLIGHT_TIME_STRETCHES) {
        time->count--;
        memmove(&time->stretch[0], &time->stretch[1],
                time->count * sizeof time->stretch[0]);
    }
    time->stretch[time->count++] = *next;
}

void flight_time_set_pace(struct flight_time *time, int64_t stream_ns,
                          double pace)
{
    struct flight_time_stretch next = {
        stream_ns, flight_time_of_stream(time, stream_ns), pace};

    begin(time, &next);
}

void flight_time_stand(struct flight_time *time, int64_t from_ns, int64_t to_ns)
{
    struct flight_time_stretch next = {
        to_ns, flight_time_of_stream(time, from_ns), flight_time_pace(time)};

    begin(time, &next);
}

int64_t flight_time_of_stream(const struct flight_time *time, int64_t stream_ns)
{
    uint32_t i = time->count - 1;
    const struct flight_time_stretch *stretch;
    int64_t flight_ns;

    while (i > 0 && stream_ns < time->stretch[i].stream_from_ns)
        i--;
    stretch = &time->stretch[i];
    flight_ns = stream_ns - stretch->stream_from_ns;
    if (stretch->pace != 1.0)
        flight_ns = llround((double)flight_ns * stretch->pace);
    flight_ns += stretch->flight_from_ns;
    /* While it stands. */
    if (i + 1 < time->count && flight_ns > stretch[1].flight_from_ns)
        flight_ns = stretch[1].flight_from_ns;
    return flight_ns;
}

int64_t flight_time_to_stream(const struct flight_time *time, int64_t flight_ns)
{
    uint32_t i = time->count - 1;
    const struct flight_time_stretch *stretch;
    int64_t stream_ns;

    if (flight_ns == INT64_MAX || flight_ns == INT64_MIN)
        return flight_ns;
    while (i > 0 && flight_ns < time->stretch[i].flight_from_ns)
        i--;
    stretch = &time->stretch[i];
    stream_ns = flight_ns - stretch->flight_from_ns;
    if (stretch->pace != 1.0)
        stream_ns = llround((double)stream_ns / stretch->pace);
    return stretch->stream_from_ns + stream_ns;
}
