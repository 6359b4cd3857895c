/* use.c - what a listening daemon takes, and what silence alone does. */
#include "use.h"

#include <stdio.h>

#include "report.h"

void use_look(int daemon, int silence, struct house_use out[USE_PROCESSES])
{
    if (!house_look(daemon, &out[0]) ||
        !house_look(house_child(daemon), &out[1]) ||
        !house_look(silence, &out[2]))
        report_fail("the daemon, its worker or silence has ended");
}

static void report_use(const char *server, const char *name,
                       const struct house_use *use, double cpu, bool loaded)
{
    (void)printf("%-14s %12.2f %9.1f %10.1f %9.1f %9.1f\n", name, cpu,
                 use->pss_kib / 1024.0, use->shm_kib / 1024.0,
                 use->rss_kib / 1024.0, use->most_kib / 1024.0);
    report_begin("process");
    report_word("server", server);
    report_word("process", name);
    report_number("loaded", loaded ? 1.0 : 0.0);
    report_number("core_percent", cpu);
    report_number("pss_kib", use->pss_kib);
    report_number("shm_kib", use->shm_kib);
    report_number("rss_kib", use->rss_kib);
    report_number("most_rss_kib", use->most_kib);
    report_end();
}

void use_print(const char *server, bool loaded, int daemon, int silence,
               const struct house_use from[USE_PROCESSES], double passed_s)
{
    static const char *const name[] = {"daemon", "sound worker", "silence"};
    struct house_use use[USE_PROCESSES];
    double cpu[USE_PROCESSES];

    use_look(daemon, silence, use);
    (void)printf("\n%s: while listening at 60 packets a second,\n%s;\n"
                 "\"silence\" is another program, which plays nothing else\n\n",
                 server,
                 loaded ? "beside two busy processes"
                        : "on a machine with nothing else to do");
    (void)printf("%-14s %12s %9s %10s %9s %9s\n", "", "% of a core", "PSS MiB",
                 "of it shm", "RSS MiB", "most MiB");
    for (int i = 0; i < USE_PROCESSES; i++) {
        cpu[i] = 100.0 * (use[i].cpu_s - from[i].cpu_s) / passed_s;
        report_use(server, name[i], &use[i], cpu[i], loaded);
    }
    (void)printf("%-14s %12.2f %9.1f %10.1f   worker: %.2f of silence\n",
                 "daemon, worker", cpu[0] + cpu[1],
                 (use[0].pss_kib + use[1].pss_kib) / 1024.0,
                 (use[0].shm_kib + use[1].shm_kib) / 1024.0, cpu[1] / cpu[2]);
}
