/* near.c - comparing floating-point numbers in tests. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"

/* Written so that a NaN fails: it compares false. */
static void judge(double difference, double actual, double expected,
                  double tolerance, const char *what, const char *file,
                  int line)
{
    if (fabs(difference) <= tolerance) {
        return;
    }
    print_error("%s is %.12g, expected %.12g within %.6g (off by %.6g)\n", what,
                actual, expected, tolerance, difference);
    _fail(file, line);
}

void near_check(double actual, double expected, double tolerance,
                const char *what, const char *file, int line)
{
    judge(actual - expected, actual, expected, tolerance, what, file, line);
}

void near_check_deg(double actual, double expected, double tolerance,
                    const char *what, const char *file, int line)
{
    judge(remainder(actual - expected, 360.0), actual, expected, tolerance,
          what, file, line);
}
