/* round.c - who flies what in a round of the bench. */
#include "round.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ear.h"
#include "report.h"

/* Three seconds of steady flight come before the roll-in at 8 s. */
static const double from_s = 4.2;
static const double behind_ninety_s = 2.0;
static const double whole_to_s = 52.0;
/* Warnings are listened for between these: before, it is not certain that an
 * attempt has begun; "ninety" stands above them, and at last the flight itself
 * comes near the stall. */
static const double warned_s[][2] = {{16.5, 23.0}, {25.0, 35.5}};
static const double warned_to_s = 36.5;
static const char *const flights[] = {"good_left", "overshoot", "no_rudder",
                                      "stall"};

double round_truth_s(const char *flight, const char *quantity)
{
    FILE *file = fopen("tests/replay/truth.tsv", "r");
    char line[256];
    char name[64];
    char what[64];
    int at = 0;
    double found = (double)NAN;

    if (file == NULL) {
        report_fail("tests/replay/truth.tsv cannot be read");
        return found;
    }
    while (fgets(line, sizeof line, file) != NULL)
        if (sscanf(line, "%63s %63s %n", name, what, &at) == 2 &&
            strcmp(name, flight) == 0 && strcmp(what, quantity) == 0)
            found = strtod(line + at, NULL);
    (void)fclose(file);
    return found;
}

/* Lanes begin apart, and not on the edges of buffers. */
static void plan_flight(struct round *round, int lane, int64_t start_ns)
{
    struct post_flight *flight = &round->flight[lane];

    *flight = (struct post_flight){
        .name = flights[lane % 4],
        .mirrored = lane >= 4,
        .rate_hz = round->rate_hz,
        .phase =
            (double)(round->turn + TURNS * (lane % FLYING)) / (TURNS * FLYING),
        .from_s = from_s,
        .jitter_s = 0.02,
        .loss = 0.02,
        .seed = (unsigned)(1 + lane + 100 * (int)round->rate_hz +
                           (round->loaded ? 50 : 0) + 10000 * round->turn)};
    flight->to_s =
        round->whole ? whole_to_s
                     : round_truth_s(flight->name, "mark_90") + behind_ninety_s;
    round->start_ns[lane] = start_ns;
    post_add(&round->post, flight, lane, start_ns);
}

static void plan_warned(struct round *round, int64_t start_ns)
{
    struct post_flight *flight = &round->flight[WARNED];

    *flight = (struct post_flight){.name = flights[0],
                                   .warned = true,
                                   .rate_hz = round->rate_hz,
                                   .from_s = from_s,
                                   .to_s = warned_to_s};
    round->start_ns[WARNED] = start_ns;
    post_add(&round->post, flight, WARNED, start_ns);
}

void round_plan(struct round *round)
{
    int64_t start_ns =
        ear_now_ns() + INT64_C(1000000000) - llround(from_s * 1e9);

    if (round->alone) {
        plan_warned(round, start_ns);
        return;
    }
    for (int i = 0; i < FLYING; i++)
        plan_flight(round, i, start_ns + i * INT64_C(113300017));
}

bool round_listens(const struct round *round, const struct post_packet *packet)
{
    double t_s = (double)(packet->sent_ns - round->start_ns[WARNED]) / 1e9;

    return packet->lane == WARNED && packet->warning &&
           ((t_s > warned_s[0][0] && t_s < warned_s[0][1]) ||
            (t_s > warned_s[1][0] && t_s < warned_s[1][1]));
}
