/* report.c - figures as JSON lines. */
#include "report.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static FILE *lines;

void report_open(void)
{
    const char *path = getenv("BENCH_RESULTS");

    if (path == NULL)
        return;
    lines = fopen(path, "a");
    if (lines == NULL)
        report_fail("%s: cannot be written", path);
}

void report_close(void)
{
    if (lines != NULL && fclose(lines) != 0)
        report_fail("the results could not be written");
    lines = NULL;
}

void report_begin(const char *what)
{
    if (lines != NULL)
        (void)fprintf(lines, "{\"figure\":\"%s\"", what);
}

void report_word(const char *name, const char *value)
{
    if (lines != NULL)
        (void)fprintf(lines, ",\"%s\":\"%s\"", name, value);
}

void report_number(const char *name, double value)
{
    if (lines == NULL)
        return;
    if (isfinite(value))
        (void)fprintf(lines, ",\"%s\":%.6g", name, value);
    else
        (void)fprintf(lines, ",\"%s\":null", name);
}

void report_end(void)
{
    if (lines == NULL)
        return;
    (void)fputs("}\n", lines);
    (void)fflush(lines);
}

bool report_is_quick(void)
{
    const char *quick = getenv("BENCH_QUICK");

    return quick != NULL && quick[0] != '\0' && strcmp(quick, "0") != 0;
}

void report_fail(const char *format, ...)
{
    va_list arguments;

    va_start(arguments, format);
    (void)fputs("bench: ", stderr);
    (void)vfprintf(stderr, format, arguments);
    (void)fputc('\n', stderr);
    va_end(arguments);
    exit(1);
}

static int compare(const void *left, const void *right)
{
    double a = *(const double *)left;
    double b = *(const double *)right;

    return (a > b) - (a < b);
}

void figures_sort(double *values, size_t count)
{
    if (count > 0)
        qsort(values, count, sizeof *values, compare);
}

double figures_at(const double *sorted, size_t count, double part)
{
    double rank = ceil(part * (double)count);

    if (count == 0)
        return (double)NAN;
    return sorted[rank < 1.0 ? 0 : (size_t)rank - 1];
}
