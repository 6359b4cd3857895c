/* turns_linux.c - what the calling thread has used. */
#define _GNU_SOURCE /* RUSAGE_THREAD */

#include <sys/resource.h>
#include <time.h>

#include "turns.h"

void turns_read_use(struct turns_use *out)
{
    struct timespec cpu = {0};
    struct rusage usage = {0};

    (void)clock_gettime(CLOCK_THREAD_CPUTIME_ID, &cpu);
    (void)getrusage(RUSAGE_THREAD, &usage);
    out->cpu_ns = (int64_t)cpu.tv_sec * INT64_C(1000000000) + cpu.tv_nsec;
    out->waits = usage.ru_nvcsw;
}
