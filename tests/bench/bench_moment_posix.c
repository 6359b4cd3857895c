/* bench_moment_posix.c - how near to its moment a call is heard.
 *
 * Several daemons at once fly recorded flights in real time, each with an
 * output of its own at a private sound server, and an ear at each output
 * finds the calls in what was played. tests/bench/run prepares the server. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "ear.h"
#include "house.h"
#include "match.h"
#include "post.h"
#include "report.h"
#include "round.h"
#include "silence.h"
#include "tally.h"
#include "use.h"

enum { LOADS = 2, PATIENCE_S = 15, WARNED_TURNS = 4 };

_Static_assert((int)LANES <= (int)EAR_LANES, "an ear for each lane");

static const double heard_likeness = 0.8;

struct bench {
    const char *program;
    const char *rig; /* folder of the server's files */
    bool jack;
    struct ear ear;
    struct audio_bank bank;
    int daemon[DAEMONS];
    int silence; /* a program that plays it */
    uint16_t port[LANES][2];
    char control[DAEMONS][300];
    char events[DAEMONS][300];
    int64_t origin_ns[DAEMONS]; /* of the event lines: the first packet */
    struct tally tally;
    struct tally_latency latency[2]; /* idle, loaded */
};

static void pause_ms(long ms)
{
    struct timespec wait = {.tv_sec = ms / 1000,
                            .tv_nsec = ms % 1000 * 1000000};

    (void)nanosleep(&wait, NULL);
}

/* ---- the daemons --------------------------------------------------------- */

/* latency_ms: receives that of the output when it is told; or NULL. */
static bool is_playing(const struct bench *bench, int lane, double *latency_ms)
{
    char answer[4096];
    const char *latency;

    if (!house_ask(bench->program, bench->control[lane], answer,
                   sizeof answer) ||
        strstr(answer, "\"playing\"") == NULL)
        return false;
    latency = strstr(answer, "\"latency_ms\":");
    if (latency != NULL && latency_ms != NULL)
        *latency_ms = strtod(strchr(latency, ':') + 1, NULL);
    return true;
}

static void await_playing(struct bench *bench, int lane)
{
    for (int i = 0; i < PATIENCE_S * 10; i++) {
        if (is_playing(bench, lane, NULL))
            return;
        pause_ms(100);
    }
    report_fail("daemon %d does not play; see %s/said.%d", lane, bench->rig,
                lane);
}

/* An ear at JACK stands behind the player, who has to wake it each time: it
 * comes when what the player takes has been measured. */
static void begin_hearing(struct bench *bench, int lane)
{
    for (int i = 0; bench->jack && !ear_jack_adopt(&bench->ear, lane); i++) {
        if (i == PATIENCE_S * 10)
            report_fail("daemon %d cannot be heard", lane);
        pause_ms(100);
    }
}

static void start_daemon(struct bench *bench, int lane)
{
    char port[16];
    char said[300];
    char alsa[300];
    const char *words[] = {bench->program,
                           "listen",
                           "--port",
                           port,
                           "--control",
                           bench->control[lane],
                           "--layout",
                           lane == WARNED ? "tests/bench/warned.conf"
                                          : "plain-binary",
                           "--events",
                           bench->events[lane],
                           bench->jack ? "--config" : NULL,
                           "tests/bench/jack.conf",
                           NULL};

    bench->port[lane][0] = house_free_port();
    (void)snprintf(port, sizeof port, "%u", (unsigned)bench->port[lane][0]);
    (void)snprintf(bench->control[lane], sizeof bench->control[lane],
                   "%s/control.%d", bench->rig, lane);
    (void)snprintf(bench->events[lane], sizeof bench->events[lane],
                   "%s/events.%d", bench->rig, lane);
    (void)snprintf(said, sizeof said, "%s/said.%d", bench->rig, lane);
    (void)snprintf(alsa, sizeof alsa, "%s/asound.%d", bench->rig, lane);
    bench->daemon[lane] = house_start(words, said, alsa);
    await_playing(bench, lane);
}

/* ---- one round ----------------------------------------------------------- */

static void start_scripts(struct bench *bench, struct round *round)
{
    for (int i = 0; i < SCRIPTS; i++) {
        char place[48];
        const char *pulse[] = {"paplay", place, "sounds/voice/ninety.flac",
                               NULL};
        const char *jack[] = {"sndfile-jackplay", place,
                              "sounds/voice/ninety.flac", NULL};
        char name[32];

        if (bench->jack)
            (void)snprintf(place, sizeof place, "-a=%s",
                           ear_jack_port(DAEMONS + i, name, sizeof name));
        else
            (void)snprintf(place, sizeof place, "--device=cap%d", DAEMONS + i);
        bench->port[i][1] = house_free_port();
        round->script[i] =
            naive_start(bench->port[i][1], bench->jack ? jack : pulse);
    }
}

/* Look for a clip in a lane between two instants.
 * Returns: when its first audible sample was heard; likeness: 0 to 1. */
static int64_t hear(const struct bench *bench, int lane, enum callout_clip clip,
                    const int64_t between_ns[2], double *likeness)
{
    const struct audio_clip *wave = &bench->bank.clip[clip];
    const struct ear_lane *heard = &bench->ear.lane[lane];
    int64_t found = 0;

    *likeness = match_find(wave, heard->sound, heard->frames,
                           ear_frame(&bench->ear, lane, between_ns[0]),
                           ear_frame(&bench->ear, lane, between_ns[1]), &found);
    return ear_time_ns(&bench->ear, lane, found + match_audible(wave));
}

struct wanted {
    const char *what;
    const char *quantity; /* of the truth */
    enum callout_clip clip;
    double before_s; /* it is looked for from so long before its moment */
    double after_s;
};

/* Returns: when the daemon meant the first sample of its last "ninety" to
 * sound; 0: not known. */
static int64_t planned_ns(const struct bench *bench, int lane)
{
    FILE *file = lane < DAEMONS ? fopen(bench->events[lane], "r") : NULL;
    char line[4096];
    double onset_s = 0.0;

    if (file == NULL)
        return 0;
    while (fgets(line, sizeof line, file) != NULL) {
        const char *onset = strstr(line, "\"onset_t\":");

        if (onset != NULL && strstr(line, "\"cue\":\"ninety\"") != NULL)
            onset_s = strtod(strchr(onset, ':') + 1, NULL);
    }
    (void)fclose(file);
    return onset_s > 0.0 ? bench->origin_ns[lane] + llround(onset_s * 1e9) : 0;
}

static void note_origins(struct bench *bench, const struct round *round)
{
    for (size_t i = 0; i < round->post.count; i++) {
        const struct post_packet *packet = &round->post.packet[i];

        if (packet->lane < DAEMONS && bench->port[packet->lane][0] != 0 &&
            bench->origin_ns[packet->lane] == 0)
            bench->origin_ns[packet->lane] = packet->sent_ns;
    }
}

static void judge_call(struct bench *bench, const struct round *round, int lane,
                       int from_lane, const struct wanted *wanted)
{
    const struct post_flight *flight = &round->flight[from_lane];
    double truth_s = round_truth_s(flight->name, wanted->quantity);
    int64_t moment_ns = round->start_ns[from_lane] + llround(truth_s * 1e9);
    int64_t between_ns[2] = {moment_ns - llround(wanted->before_s * 1e9),
                             moment_ns + llround(wanted->after_s * 1e9)};
    struct tally_trial trial = {.what = wanted->what,
                                .player = lane == from_lane ? "quarterturn"
                                                            : "script",
                                .flight = flight->name,
                                .mirrored = flight->mirrored,
                                .loaded = round->loaded,
                                .rate_hz = round->rate_hz,
                                .planned_ms = (double)NAN};
    int64_t heard_ns;

    if (lane == from_lane && wanted->clip == CLIP_NINETY &&
        planned_ns(bench, lane) != 0)
        trial.planned_ms = (double)(planned_ns(bench, lane) - moment_ns) / 1e6;
    if (isnan(truth_s))
        return;
    heard_ns = hear(bench, lane, wanted->clip, between_ns, &trial.likeness);
    trial.heard = trial.likeness > heard_likeness;
    trial.error_ms = (double)(heard_ns - moment_ns) / 1e6;
    tally_add(&bench->tally, &trial);
}

/* The warning is a tone whose pulses come 0.8 s apart; a new one begins with
 * a pulse. */
static void judge_warnings(struct bench *bench, const struct round *round)
{
    const int64_t pulses_ns = INT64_C(600000000);

    for (size_t i = 0; i < round->post.count; i++) {
        const struct post_packet *packet = &round->post.packet[i];
        struct tally_trial trial = {.what = "stall warning",
                                    .player = "quarterturn",
                                    .flight = round->flight[WARNED].name,
                                    .loaded = round->loaded,
                                    .rate_hz = round->rate_hz,
                                    .planned_ms = (double)NAN};
        int64_t between_ns[2] = {packet->sent_ns - 50000000,
                                 packet->sent_ns + pulses_ns};
        int64_t heard_ns;

        if (!round_listens(round, packet))
            continue;
        heard_ns =
            hear(bench, WARNED, CLIP_NEAR_STALL, between_ns, &trial.likeness);
        trial.heard = trial.likeness > heard_likeness;
        trial.error_ms = (double)(heard_ns - packet->sent_ns) / 1e6;
        tally_add(&bench->tally, &trial);
    }
}

static void judge_round(struct bench *bench, const struct round *round)
{
    static const struct wanted ninety = {"ninety", "mark_90", CLIP_NINETY, 1.0,
                                         1.5};
    static const struct wanted others[] = {
        {"ten to go", "mark_170", CLIP_TEN_TO_GO, 1.0, 3.0},
        {"stall", "stall", CLIP_STALL, 1.0, 3.0},
        {"wings level", "wings_level", CLIP_WINGS_LEVEL, 2.0, 3.0}};

    if (round->alone) {
        judge_warnings(bench, round);
        return;
    }
    for (int i = 0; i < FLYING; i++) {
        judge_call(bench, round, i, i, &ninety);
        for (size_t k = 0; k < sizeof others / sizeof others[0]; k++)
            if (round->whole)
                judge_call(bench, round, i, i, &others[k]);
    }
    for (int i = 0; i < SCRIPTS; i++)
        judge_call(bench, round, DAEMONS + i, i, &ninety);
}

/* ---- what else may run --------------------------------------------------- */

static void begin_load(int load[LOADS])
{
    for (int i = 0; i < LOADS; i++)
        load[i] = house_load();
}

static void end_load(const int load[LOADS])
{
    for (int i = 0; i < LOADS; i++)
        house_end(load[i]);
}

/* ---- what the processes take --------------------------------------------- */

/* The first daemon, before there are others. */
static void measure_use(struct bench *bench, bool loaded)
{
    struct round round = {.rate_hz = 60.0};
    struct house_use from[USE_PROCESSES];
    int64_t from_ns;

    round_plan(&round);
    use_look(bench->daemon[0], bench->silence, from);
    from_ns = ear_now_ns();
    post_send(&round.post, (const uint16_t(*)[2])bench->port);
    use_print(bench->tally.server, loaded, bench->daemon[0], bench->silence,
              from, (double)(ear_now_ns() - from_ns) / 1e9);
    note_origins(bench, &round);
    post_free(&round.post);
}

/* ---- all of it ----------------------------------------------------------- */

/* wanted: of which only the rate, turn, loaded and whole count. */
static void fly_round(struct bench *bench, const struct round *wanted)
{
    struct round copy = *wanted;
    struct round *round = &copy;

    if (!round->alone)
        start_scripts(bench, round);
    ear_reset(&bench->ear);
    round_plan(round);
    post_send(&round->post, (const uint16_t(*)[2])bench->port);
    /* What was heard last may still be on its way, on a busy machine long. */
    pause_ms(2000);
    for (int i = 0; i < SCRIPTS && !round->alone; i++)
        house_end(round->script[i]);
    (void)pthread_mutex_lock(&bench->ear.mutex);
    note_origins(bench, round);
    judge_round(bench, round);
    (void)pthread_mutex_unlock(&bench->ear.mutex);
    post_free(&round->post);
}

static void fly_rates(struct bench *bench, bool loaded)
{
    static const double rates_hz[] = {60.0, 30.0, 20.0, 5.0};
    static const double slowest_hz = 5.0;

    for (size_t i = 0; i < sizeof rates_hz / sizeof rates_hz[0]; i++) {
        struct round round = {.rate_hz = rates_hz[i],
                              .loaded = loaded,
                              .whole = !loaded && i == 0};

        do
            fly_round(bench, &round);
        while (rates_hz[i] == slowest_hz && ++round.turn < TURNS);
    }
}

/* A daemon as a user has it: none beside it flies, and hardly any is there. */
static void fly_warned(struct bench *bench, bool loaded)
{
    struct round round = {.rate_hz = 60.0, .alone = true, .loaded = loaded};

    do {
        struct tally_latency *latency = &bench->latency[loaded ? 1 : 0];
        double latency_ms = 0.0;

        fly_round(bench, &round);
        if (is_playing(bench, WARNED, &latency_ms)) {
            latency->sum_ms += latency_ms;
            latency->count++;
        }
    } while (!report_is_quick() && ++round.turn < WARNED_TURNS);
}

static void measure_uses(struct bench *bench)
{
    const char *const words[] = {"/proc/self/exe", "silence",
                                 bench->jack ? "jack" : "pulse", NULL};
    char said[300];
    char alsa[300];
    int load[LOADS];

    (void)snprintf(said, sizeof said, "%s/said.silence", bench->rig);
    (void)snprintf(alsa, sizeof alsa, "%s/asound.%d", bench->rig, WARNED);
    bench->silence = house_start(words, said, alsa);
    pause_ms(2000); /* until it plays */
    measure_use(bench, false);
    if (!report_is_quick()) {
        begin_load(load);
        measure_use(bench, true);
        end_load(load);
    }
    house_end(bench->silence);
}

static void fly_alone(struct bench *bench)
{
    int load[LOADS];

    start_daemon(bench, 0);
    measure_uses(bench);
    begin_hearing(bench, 0);
    start_daemon(bench, WARNED);
    begin_hearing(bench, WARNED);
    fly_warned(bench, false);
    if (report_is_quick())
        return;
    begin_load(load);
    fly_warned(bench, true);
    end_load(load);
}

static void fly_all(struct bench *bench)
{
    const struct round quick = {.rate_hz = 30.0};
    int load[LOADS];

    if (report_is_quick()) {
        fly_round(bench, &quick);
        return;
    }
    fly_rates(bench, false);
    begin_load(load);
    fly_rates(bench, true);
    end_load(load);
}

int main(int argc, char **argv)
{
    static struct bench bench;
    char why[512] = "";

    if (argc == 3 && strcmp(argv[1], "silence") == 0)
        silence_play(strcmp(argv[2], "jack") == 0);
    if (argc != 3)
        report_fail("usage: bench_moment_posix pulse|jack PROGRAM");
    bench.jack = strcmp(argv[1], "jack") == 0;
    bench.program = argv[2];
    bench.rig = getenv("RIG");
    if (bench.rig == NULL)
        report_fail("started by tests/bench/run only");
    report_open();
    if (audio_bank_load("sounds/voice", &bench.bank, why, sizeof why) != 0)
        report_fail("%s", why);
    bench.tally.server = bench.jack ? "JACK" : "PulseAudio";
    if (bench.jack)
        ear_jack_open(&bench.ear, LANES);
    else
        ear_pulse_open(&bench.ear, LANES);
    fly_alone(&bench);
    for (int i = 1; i < FLYING; i++) {
        start_daemon(&bench, i);
        begin_hearing(&bench, i);
    }
    fly_all(&bench);
    tally_print(&bench.tally, bench.latency);
    for (int i = 0; i < DAEMONS; i++)
        house_end(bench.daemon[i]);
    if (bench.jack)
        ear_jack_close(&bench.ear);
    else
        ear_pulse_close(&bench.ear);
    audio_bank_free(&bench.bank);
    report_close();
    return 0;
}
