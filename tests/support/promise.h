/* promise.h - what a fuzzer's target holds whatever it is fed. */
#ifndef SUPPORT_PROMISE_H
#define SUPPORT_PROMISE_H

#include <stdbool.h>

/* Abort the program, naming what was broken. */
void promise(bool kept, const char *what);

#endif
