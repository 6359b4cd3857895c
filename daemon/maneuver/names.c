/* names.c - names of phases, events, reasons and manoeuvres. */
#include <stddef.h>
#include <string.h>

#include "machine.h"
#include "quarterturn/error.h"

static const struct maneuver_rules *const rules_of_kind[MANEUVER_KIND_COUNT] = {
    [MANEUVER_CHANDELLE] = &maneuver_chandelle};

const struct maneuver_rules *maneuver_rules_of(enum maneuver_kind kind)
{
    return rules_of_kind[kind];
}

const char *maneuver_kind_name(enum maneuver_kind kind)
{
    return rules_of_kind[kind]->name;
}

int maneuver_kind_find(const char *name, enum maneuver_kind *out)
{
    for (size_t i = 0; i < MANEUVER_KIND_COUNT; i++) {
        if (strcmp(rules_of_kind[i]->name, name) == 0) {
            *out = (enum maneuver_kind)i;
            return 0;
        }
    }
    return ERR_ABSENT;
}

const char *maneuver_phase_name(enum maneuver_phase phase)
{
    static const char *const name[] = {[PHASE_SETUP] = "setup",
                                       [PHASE_FIRST_HALF] = "first half",
                                       [PHASE_SECOND_HALF] = "second half",
                                       [PHASE_FINISH] = "finish",
                                       [PHASE_RECOVERY] = "recovery"};

    return name[phase];
}

const char *maneuver_event_name(enum maneuver_event_kind kind)
{
    static const char *const name[EVENT_KIND_COUNT] = {
        [EVENT_READY] = "ready",
        [EVENT_ENTRY] = "entry",
        [EVENT_BANK_SET] = "bank-set",
        [EVENT_MARK] = "mark",
        [EVENT_PITCH_LIMIT] = "pitch-limit",
        [EVENT_PITCH_SAG] = "pitch-sag",
        [EVENT_PITCH_RISE] = "pitch-rise",
        [EVENT_BANK_DRIFT] = "bank-drift",
        [EVENT_BALL] = "ball",
        [EVENT_ROLL_OUT_ADVICE] = "roll-out-advice",
        [EVENT_NEAR_STALL] = "near-stall",
        [EVENT_STALL] = "stall",
        [EVENT_WINGS_LEVEL] = "wings-level",
        [EVENT_HOLD_BROKEN] = "hold-broken",
        [EVENT_FINISHED] = "finished",
        [EVENT_ABANDONED] = "abandoned",
        [EVENT_NOT_BEGUN] = "not-begun",
        [EVENT_SIGNAL_LOST] = "signal-lost",
        [EVENT_SIGNAL_BACK] = "signal-back",
        [EVENT_PAUSED] = "paused",
        [EVENT_RESUMED] = "resumed",
        [EVENT_JUMPED] = "jumped"};

    return name[kind];
}

bool maneuver_event_is_flight(enum maneuver_event_kind kind)
{
    return kind < EVENT_SIGNAL_LOST;
}

const char *maneuver_reason_text(enum maneuver_reason reason)
{
    static const char *const text[REASON_COUNT] = {
        [REASON_NONE] = "",
        [REASON_LEVEL_EARLY] = "wings level long before 180",
        [REASON_STALLED] = "stalled",
        [REASON_TURNED_BACK] = "turned back",
        [REASON_DESCENDED] = "below the entry altitude",
        [REASON_TURNED_ON] = "turned on far beyond 180",
        [REASON_TOO_LONG] = "took too long",
        [REASON_SIGNAL_LOST] = "signal lost",
        [REASON_JUMPED] = "simulator jumped",
        [REASON_ON_GROUND] = "on the ground",
        [REASON_ASKED] = "as asked"};

    return text[reason];
}

const char *maneuver_lack_name(enum maneuver_lack_kind kind)
{
    static const char *const name[LACK_COUNT] = {
        [LACK_NONE] = "",
        [LACK_DATA] = "no flight data",
        [LACK_AIR] = "on the ground",
        [LACK_SPEED] = "entry speed",
        [LACK_LEVEL_WINGS] = "bank before",
        [LACK_STRAIGHT] = "turn before",
        [LACK_LEVEL_FLIGHT] = "climb before",
        [LACK_TIME] = "steady time",
        [LACK_BRISK_ROLL] = "slow roll-in",
        [LACK_MEDIUM_BANK] = "steep bank",
        [LACK_EARLY_CLIMB] = "late climb",
        [LACK_PROMPT_CLIMB] = "slow climb"};

    return name[kind];
}
