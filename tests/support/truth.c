/* truth.c - what was really flown. */
#include "truth.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "folder.h"

static char *truth_text;

int truth_load(void **state)
{
    size_t length;

    (void)state;
    truth_text = folder_read_file("tests/replay/truth.tsv", &length);
    return 0;
}

int truth_free(void **state)
{
    (void)state;
    free(truth_text);
    return 0;
}

double truth(const char *flight, const char *quantity)
{
    char key[128];
    const char *at;

    (void)snprintf(key, sizeof key, "\n%s\t%s\t", flight, quantity);
    at = strstr(truth_text, key);
    if (at == NULL)
        fail_msg("no truth of %s for %s", quantity, flight);
    else
        return strtod(at + strlen(key), NULL);
    return NAN;
}
