/* bench_cost_posix.c - what a packet costs, and what a long recording costs.
 *
 * Times are processor time, so that a machine that does something else beside
 * disturbs them little. Each loop runs several times; the least counts, since
 * all that chance can do is add. */
/* pcap.h speaks of u_char and u_int, which strict POSIX headers hide. */
#define _DEFAULT_SOURCE 1 /* NOLINT: the name is the C library's */

#include <math.h>
#include <pcap.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "../../daemon/commands/session.h"
#include "long_flight.h"
#include "report.h"

enum { ROUNDS = 7, QUICK_ROUNDS = 3 };

/* One layout and a flight in it. */
struct form {
    const char *layout;
    const char *recording;
    double target_us; /* of a whole sample; 0: none set */
};

static const struct form forms[] = {
    {"plain-binary", "tests/replay/good_left.pcap", 1.0},
    {"plain-text", "tests/replay/good_left_text.pcap", 2.0},
    {"keyed-records", "tests/wire/keyed-records.pcap", 1.0},
    {"name-value", "tests/wire/name-value.pcap", 2.0},
    {"json-object", "tests/wire/json-object.pcap", 0.0},
    {"nmea", "tests/wire/nmea.pcap", 2.0},
    {"dis", "tests/wire/dis.pcap", 1.0},
    {"mavlink", "tests/wire/mavlink.pcap", 1.0},
};

static double cpu_s(void)
{
    struct timespec now;

    (void)clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static double wall_s(void)
{
    struct timespec now;

    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static int rounds(void)
{
    return report_is_quick() ? QUICK_ROUNDS : ROUNDS;
}

/* ---- a packet ------------------------------------------------------------ */

struct costs {
    double pcap_ns; /* to read it out of the file, plainly */
    double decode_ns;
    double sample_ns; /* to decode, estimate, follow and plan */
    double grade_ns;  /* the packet that ends the attempt beside that; or NaN */
    size_t packets;
};

static volatile unsigned plain_sum;

/* Returns: processor time to read a capture with the library alone. */
static double read_plainly_s(const char *path, size_t *packets)
{
    char why[PCAP_ERRBUF_SIZE] = "";
    const u_char *bytes;
    struct pcap_pkthdr *header;
    double from_s = cpu_s();
    unsigned sum = 0;
    pcap_t *file = pcap_open_offline(path, why);

    if (file == NULL)
        report_fail("%s", why);
    *packets = 0;
    while (pcap_next_ex(file, &header, &bytes) == 1) {
        sum += bytes[header->caplen - 1];
        ++*packets;
    }
    pcap_close(file);
    /* What is not used need not be read. */
    plain_sum = sum;
    return cpu_s() - from_s;
}

static double decode_all_s(const struct intake_layout *layout,
                           const struct sample_recording *flight)
{
    struct intake_sample sample;
    double from_s = cpu_s();
    size_t taken = 0;

    for (size_t i = 0; i < flight->count; i++)
        if (intake_decode(layout, flight->bytes + flight->datagram[i].at,
                          flight->datagram[i].length, &sample) == INTAKE_TAKEN)
            taken++;
    if (taken == 0)
        report_fail("layout %s: no packet can be decoded", layout->name);
    return cpu_s() - from_s;
}

static void note_grade(void *context, const struct maneuver_event *event,
                       const struct debrief_grade *grade)
{
    bool *graded = context;

    (void)event;
    if (grade != NULL)
        *graded = true;
}

static void push(struct session *session, const struct sample_recording *flight,
                 size_t i)
{
    const struct intake_datagram datagram = {
        .t_ns = flight->datagram[i].t_ns,
        .data = flight->bytes + flight->datagram[i].at,
        .length = flight->datagram[i].length};

    session_push(session, &datagram);
}

/* An attempt is graded once, in one go, and its ideal line is flown for it:
 * that is no cost of a sample.
 * Returns: the packet with which that happens; the count when none does. */
static size_t find_grade(const struct settings *settings,
                         const struct sample_recording *flight,
                         struct session *session)
{
    bool graded = false;
    const struct session_sink sink = {.context = &graded, .event = note_grade};
    size_t i = 0;

    session_init(session, settings, &sink);
    for (; i < flight->count && !graded; i++)
        push(session, flight, i);
    return graded ? i - 1 : i;
}

/* grade_s: of the packet with the grade.
 * Returns: of all the others. */
static double fly_all_s(const struct settings *settings,
                        const struct sample_recording *flight,
                        struct session *session, size_t grade_at,
                        double *grade_s)
{
    const struct session_sink nobody = {.context = NULL};
    double from_s;
    double since_s;

    session_init(session, settings, &nobody);
    from_s = cpu_s();
    for (size_t i = 0; i < grade_at; i++)
        push(session, flight, i);
    since_s = cpu_s();
    if (grade_at < flight->count)
        push(session, flight, grade_at);
    *grade_s = cpu_s() - since_s;
    for (size_t i = grade_at + 1; i < flight->count; i++)
        push(session, flight, i);
    return cpu_s() - from_s - *grade_s;
}

static void measure(const struct form *form, struct settings *settings,
                    struct session *session, struct costs *out)
{
    struct settings_choice choice = {.layout = form->layout};
    struct sample_recording flight;
    char why[512] = "";
    size_t grade_at;

    if (settings_load(&choice, ".", settings, why, sizeof why) != 0)
        report_fail("%s", why);
    sample_recording_load(form->recording, &flight);
    *out = (struct costs){INFINITY, INFINITY, INFINITY, INFINITY, flight.count};
    grade_at = find_grade(settings, &flight, session);
    for (int i = 0; i < 10 * rounds(); i++) {
        size_t packets = 0;
        double pcap_s = read_plainly_s(form->recording, &packets);
        double per_ns = 1e9 / (double)flight.count;
        double grade_s = 0.0;

        out->pcap_ns = fmin(out->pcap_ns, pcap_s * 1e9 / (double)packets);
        out->decode_ns = fmin(
            out->decode_ns, decode_all_s(&settings->layout, &flight) * per_ns);
        out->sample_ns = fmin(
            out->sample_ns,
            fly_all_s(settings, &flight, session, grade_at, &grade_s) * per_ns);
        out->grade_ns = fmin(out->grade_ns, 1e9 * grade_s);
    }
    if (grade_at == flight.count)
        out->grade_ns = (double)NAN;
    sample_recording_free(&flight);
}

static void bench_packets(void)
{
    struct settings *settings = calloc(1, sizeof *settings);
    struct session *session = calloc(1, sizeof *session);

    if (settings == NULL || session == NULL)
        report_fail("out of memory");
    (void)printf("\nWhat a packet costs (processor time)\n\n");
    (void)printf("%-14s %9s %9s %11s %9s %12s %8s\n", "layout", "libpcap",
                 "decode", "decode", "sample", "sample", "a grade");
    (void)printf("%-14s %9s %9s %11s %9s %12s %8s\n", "", "ns/packet",
                 "ns/packet", "packets/s", "us", "target us", "ms");
    for (size_t i = 0; i < sizeof forms / sizeof forms[0]; i++) {
        const struct form *form = &forms[i];
        struct costs costs;

        measure(form, settings, session, &costs);
        (void)printf("%-14s %9.0f %9.0f %11.0f %9.2f", form->layout,
                     costs.pcap_ns, costs.decode_ns, 1e9 / costs.decode_ns,
                     costs.sample_ns / 1e3);
        if (form->target_us > 0.0)
            (void)printf(" %6s %5.0f",
                         costs.sample_ns < form->target_us * 1e3 ? "below"
                                                                 : "ABOVE",
                         form->target_us);
        else
            (void)printf(" %12s", "-");
        if (isnan(costs.grade_ns))
            (void)printf(" %8s\n", "-");
        else
            (void)printf(" %8.1f\n", costs.grade_ns / 1e6);
        report_begin("packet-cost");
        report_word("layout", form->layout);
        report_number("packets", (double)costs.packets);
        report_number("libpcap_ns", costs.pcap_ns);
        report_number("decode_ns", costs.decode_ns);
        report_number("sample_ns", costs.sample_ns);
        report_number("grade_ns", costs.grade_ns);
        report_number("target_ns", form->target_us > 0.0 ? form->target_us * 1e3
                                                         : (double)NAN);
        report_end();
    }
    (void)printf("\nlibpcap: reading the packet out of its capture and nothing "
                 "else. sample:\ndecode, estimate, follow the maneuver, plan "
                 "the calls. a grade: once for an\nattempt, with the line "
                 "that it is held against.\n");
    free(session);
    free(settings);
}

/* ---- a long recording ---------------------------------------------------- */

struct run {
    double cpu_s;
    double wall_s;
    double most_kib;
};

static void replay(const char *program, const char *recording,
                   const char *events, struct run *out)
{
    char *const words[] = {(char *)(uintptr_t)program,
                           "replay",
                           (char *)(uintptr_t)recording,
                           "--layout",
                           "plain-binary",
                           "--speed",
                           "max",
                           "--quiet",
                           "--events",
                           (char *)(uintptr_t)events,
                           NULL};
    double from_s = wall_s();
    struct rusage before, after;
    pid_t child;
    int status = 0;

    (void)getrusage(RUSAGE_CHILDREN, &before);
    /* What waits in a buffer would be written by both. */
    (void)fflush(NULL);
    child = fork();
    if (child < 0)
        report_fail("a process cannot be started");
    if (child == 0) {
        if (freopen("/dev/null", "w", stdout) == NULL ||
            freopen("/dev/null", "w", stderr) == NULL)
            _exit(127);
        (void)execv(program, words);
        _exit(127);
    }
    if (waitpid(child, &status, 0) != child || status != 0)
        report_fail("%s replay %s failed", program, recording);
    (void)getrusage(RUSAGE_CHILDREN, &after);
    out->wall_s = wall_s() - from_s;
    out->cpu_s =
        (double)(after.ru_utime.tv_sec - before.ru_utime.tv_sec) +
        (double)(after.ru_stime.tv_sec - before.ru_stime.tv_sec) +
        1e-6 * (double)(after.ru_utime.tv_usec - before.ru_utime.tv_usec) +
        1e-6 * (double)(after.ru_stime.tv_usec - before.ru_stime.tv_usec);
    /* The greatest of all children yet: recordings come shortest first. */
    out->most_kib = (double)after.ru_maxrss;
}

static void bench_length(const char *program, const char *folder, double hours,
                         double *first_s_per_h)
{
    struct sample_recording flight;
    char recording[512];
    char events[512];
    struct run best = {.wall_s = INFINITY};
    double pcap_s = INFINITY;
    size_t packets;

    (void)snprintf(recording, sizeof recording, "%s/long.pcap", folder);
    (void)snprintf(events, sizeof events, "%s/long.events", folder);
    sample_recording_load("tests/replay/good_left.pcap", &flight);
    packets = long_flight_write(&flight, llround(hours * 3600e9), recording);
    sample_recording_free(&flight);
    for (int i = 0; i < 3; i++) {
        struct run run;
        size_t read = 0;

        pcap_s = fmin(pcap_s, read_plainly_s(recording, &read));
        replay(program, recording, events, &run);
        if (run.wall_s < best.wall_s)
            best = run;
    }
    (void)remove(recording);
    (void)remove(events);
    if (isnan(*first_s_per_h))
        *first_s_per_h = best.cpu_s / hours;
    (void)printf("%5.0f %9zu %8.2f %8.2f %9.2f %10.0f %7.2f %9.1f\n", hours,
                 packets, best.wall_s, best.cpu_s, pcap_s,
                 (double)packets / best.wall_s,
                 best.cpu_s / hours / *first_s_per_h, best.most_kib / 1024.0);
    report_begin("replay-length");
    report_number("hours", hours);
    report_number("packets", (double)packets);
    report_number("wall_s", best.wall_s);
    report_number("cpu_s", best.cpu_s);
    report_number("libpcap_s", pcap_s);
    report_number("per_hour_ratio", best.cpu_s / hours / *first_s_per_h);
    report_number("most_rss_kib", best.most_kib);
    report_end();
}

static void bench_lengths(const char *program, const char *folder)
{
    static const double all_h[] = {1.0, 2.0, 5.0, 10.0};
    double first_s_per_h = (double)NAN;

    (void)printf("\nA long recording: replay --speed max, 60 packets a "
                 "second\n\n");
    (void)printf("%5s %9s %8s %8s %9s %10s %7s %9s\n", "hours", "packets",
                 "wall s", "cpu s", "libpcap s", "packets/s", "cpu per",
                 "most MiB");
    (void)printf("%5s %9s %8s %8s %9s %10s %7s %9s\n", "", "", "", "", "", "",
                 "h, x", "resident");
    for (size_t i = 0; i < (report_is_quick() ? 2 : 4); i++)
        bench_length(program, folder, all_h[i], &first_s_per_h);
    (void)printf("\nTargets: 10 hours below 5 s and 20 MB. libpcap: reading "
                 "the same file and\nnothing else. cpu per h: against the "
                 "first row; 1 is linear.\n");
}

int main(int argc, char **argv)
{
    if (argc != 3)
        report_fail("usage: bench_cost_posix PROGRAM FOLDER");
    report_open();
    bench_packets();
    bench_lengths(argv[1], argv[2]);
    report_close();
    return 0;
}
