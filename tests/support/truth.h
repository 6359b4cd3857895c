/* truth.h - what was really flown, for replay tests: tests/replay/truth.tsv. */
#ifndef SUPPORT_TRUTH_H
#define SUPPORT_TRUTH_H

/* Set-up and tear-down of a test group that asks for it. */
int truth_load(void **state);
int truth_free(void **state);

/* A quantity of a flight, in the unit of the table. The test fails when it is
 * not there. */
double truth(const char *flight, const char *quantity);

#endif
