/* plan.h - what is to be done to a logbook's bytes so that entries stand in
 * it. Pure. */
#ifndef LOGBOOK_PLAN_H
#define LOGBOOK_PLAN_H

#include "csv.h"
#include "quarterturn/logbook.h"

struct plan {
    /* The file becomes its first "keep" bytes and the text; with "whole" it
     * becomes the text alone, by way of another file. */
    size_t keep;
    bool whole;
    struct csv_text text;
    /* Bytes at the end that are no whole row: to be set aside before. */
    size_t torn_from;
    size_t torn_length;
    uint32_t torn_line;
    uint32_t added;
    uint32_t present;
};

/* Returns: 0; ERR_FORMAT when the bytes are no logbook; ERR_NO_MEMORY.
 * Owns: free text.text, in every case. */
int plan_make(const char *bytes, size_t size, const struct logbook_entry *entry,
              size_t count, struct plan *out);

#endif
