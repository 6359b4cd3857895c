/* source.c - the one stream of datagrams in a recording.
 *
 * A capture holds whatever passed by. The stream is what went to one
 * destination port; without being told which, the port of the first datagram
 * that the layout can decode. */
#include <stdlib.h>

#include "quarterturn/error.h"
#include "quarterturn/intake.h"

struct intake_source {
    struct intake_recording *recording;
    uint16_t port;
    uint64_t other;
};

/* Look through the recording for the port.
 * Returns: 0, also when nothing decodes: then *port is that of the first
 *    datagram, so that the reasons of its rejection can be told; 0 when there
 *    is no datagram at all. A damaged end counts as the end here: whoever
 *    reads on will meet it. */
static int find_port(const char *path, const struct intake_layout *layout,
                     uint16_t *port, char *why, size_t why_size)
{
    struct intake_recording *recording;
    struct intake_datagram datagram;
    struct intake_sample sample;
    bool any = false;
    int status = intake_recording_open(path, &recording, why, why_size);

    if (status != 0)
        return status;
    while (intake_recording_next(recording, &datagram, why, why_size) == 1) {
        bool fits = intake_decode(layout, datagram.data, datagram.length,
                                  &sample) == INTAKE_TAKEN;

        if (fits || !any)
            *port = datagram.destination_port;
        any = true;
        if (fits)
            break;
    }
    intake_recording_close(recording);
    return 0;
}

int intake_source_open(const char *path, const struct intake_layout *layout,
                       uint16_t port, struct intake_source **out, char *why,
                       size_t why_size)
{
    struct intake_source *source;
    int status = 0;

    if (port == 0)
        status = find_port(path, layout, &port, why, why_size);
    if (status != 0)
        return status;
    source = calloc(1, sizeof *source);
    if (source == NULL)
        return ERR_NO_MEMORY;
    source->port = port;
    status = intake_recording_open(path, &source->recording, why, why_size);
    if (status != 0) {
        free(source);
        return status;
    }
    *out = source;
    return 0;
}

int intake_source_next(struct intake_source *source,
                       struct intake_datagram *out, char *why, size_t why_size)
{
    for (;;) {
        int got = intake_recording_next(source->recording, out, why, why_size);

        if (got != 1 || out->destination_port == source->port)
            return got;
        source->other++;
    }
}

uint16_t intake_source_port(const struct intake_source *source)
{
    return source->port;
}

uint64_t intake_source_other(const struct intake_source *source)
{
    return source->other;
}

const struct intake_skipped *
intake_source_skipped(const struct intake_source *source)
{
    return intake_recording_skipped(source->recording);
}

void intake_source_close(struct intake_source *source)
{
    intake_recording_close(source->recording);
    free(source);
}
