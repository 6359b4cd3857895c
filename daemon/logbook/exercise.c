/* exercise.c - an item of a grade as something to practise. */
#include "exercise.h"

#include <stdio.h>
#include <string.h>

static const struct {
    const char *item;
    const char *exercise;
} rows[] = {
    {"entry speed", "to roll in at the entry speed"},
    {"maneuvering speed", "to enter at or below maneuvering speed"},
    {"least height", "to stay above the least height"},
    {"bank set", "to stop the roll at the planned bank"},
    {"time to set bank", "to set the bank in two or three seconds"},
    {"bank to 90", "to keep the bank up to 90"},
    {"pitch rise to 90", "to raise the nose evenly up to 90"},
    {"highest pitch reached at", "to have the highest pitch at 90"},
    {"highest pitch", "to stop the nose at the pitch limit"},
    {"pitch kept from 90", "to keep the pitch from 90 on"},
    {"roll-out begun at", "to begin the roll-out at 90"},
    {"roll-out evenness", "to take the bank off evenly"},
    {"heading error at level", "to be level at 180"},
    {"speed above stall", "to finish just above the stall"},
    {"altitude after level", "to hold the altitude after the finish"},
    {"time stalled", "not to stall"},
    {"ball out", "to keep the ball in the middle"},
    {"altitude gained", "to climb more in the turn"},
};

void exercise_text(const char *item, char *out, size_t size)
{
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (strcmp(rows[i].item, item) == 0) {
            (void)snprintf(out, size, "%s", rows[i].exercise);
            return;
        }
    (void)snprintf(out, size, "to keep \"%s\" in standard", item);
}
