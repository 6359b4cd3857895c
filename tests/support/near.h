/* near.h - comparing floating-point numbers in tests. */
#ifndef SUPPORT_NEAR_H
#define SUPPORT_NEAR_H

/* Fail the running test unless |actual - expected| <= tolerance; prints all
 * three. A NaN on either side fails. */
#define assert_near(actual, expected, tolerance) \
    near_check((actual), (expected), (tolerance), #actual, __FILE__, __LINE__)

/* The same on a circle of 360 degrees: 359.9 is near 0.1. */
#define assert_near_deg(actual, expected, tolerance)                     \
    near_check_deg((actual), (expected), (tolerance), #actual, __FILE__, \
                   __LINE__)

void near_check(double actual, double expected, double tolerance,
                const char *what, const char *file, int line);
void near_check_deg(double actual, double expected, double tolerance,
                    const char *what, const char *file, int line);

#endif
