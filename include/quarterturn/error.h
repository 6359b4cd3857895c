/* error.h - what a call that can fail returns.
 *
 * Every such call returns 0 (or a count) on success and one of these
 * negative values otherwise; results come back through the last pointer. */
#ifndef QUARTERTURN_ERROR_H
#define QUARTERTURN_ERROR_H

enum error {
    ERR_NO_MEMORY = -1, /* the system gave no memory */
    ERR_IO = -2,        /* reading, writing or opening failed */
    ERR_FORMAT = -3,    /* the content is not what its kind promises */
    ERR_RANGE = -4,     /* a number lies outside what is accepted */
    ERR_TIME = -5,      /* time went backwards */
    ERR_FULL = -6,      /* a bounded store has no place left */
    ERR_ABSENT = -7,    /* the named thing does not exist */
    ERR_USAGE = -8,     /* the caller's words or settings are wrong */
    ERR_BUSY = -9       /* in use by somebody else (a port, a device) */
};

/* A short English name for an error, for messages.
 * error: one of the above; any other value gives "unknown error".
 * Returns: a constant string.   Thread: any. */
const char *error_name(int error);

#endif
