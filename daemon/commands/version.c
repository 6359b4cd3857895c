/* version.c - what this program is, and what it was built with. */
#include "commands.h"

#include <jansson.h>
#include <uv.h>

#if defined(__clang__)
#define COMPILER "clang " __clang_version__
#elif defined(__GNUC__)
#define COMPILER "gcc " __VERSION__
#else
#define COMPILER "an unknown compiler"
#endif

static const char *processor(void)
{
#if defined(__x86_64__)
    return "x86-64";
#elif defined(__aarch64__)
    return "arm64";
#elif defined(__i386__)
    return "x86";
#elif defined(__arm__)
    return "arm";
#elif defined(__riscv)
    return "risc-v";
#else
    return "another processor";
#endif
}

void version_print(FILE *file)
{
    (void)fprintf(file, "quarterturn %s\n", QUARTERTURN_VERSION);
    (void)fprintf(file, "revision %s, built by %s for %s\n",
                  QUARTERTURN_REVISION, COMPILER, processor());
    (void)fprintf(file, "libuv %s, jansson %s\n", uv_version_string(),
                  jansson_version_str());
    (void)fprintf(file, "data in %s when installed\n", QUARTERTURN_DATA);
}
