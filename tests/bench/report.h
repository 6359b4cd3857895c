/* report.h - figures as JSON lines, beside the table that is printed. */
#ifndef BENCH_REPORT_H
#define BENCH_REPORT_H

#include <stdbool.h>
#include <stddef.h>

/* Append to the file that $BENCH_RESULTS names; without it, to nothing. The
 * program ends when the file cannot be opened. */
void report_open(void);
void report_close(void);

/* One line: an object in braces, then words and numbers. A number that is
 * not finite becomes null. */
void report_begin(const char *what);
void report_word(const char *name, const char *value);
void report_number(const char *name, double value);
void report_end(void);

/* Whether $BENCH_QUICK asks for the short form. */
bool report_is_quick(void);

/* End the program with a line on standard error. */
__attribute__((noreturn)) void report_fail(const char *format, ...);

/* ---- figures out of many ------------------------------------------------- */

/* Put values in order, least first. */
void figures_sort(double *values, size_t count);
/* The value that a part (0 to 1) of them lies at or below, of ordered ones;
 * NaN when there are none. */
double figures_at(const double *sorted, size_t count, double part);

#endif
