/* entry.c - what is kept of an attempt. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "quarterturn/debrief.h"
#include "quarterturn/logbook.h"

/* ---- when --------------------------------------------------------------- */

/* Proleptic Gregorian date of a day counted from 1970-01-01. The years are
 * counted from March, so that the leap day is the last one of its year. */
static void date_of_day(int64_t day, int *year, int *month, int *of_month)
{
    int64_t from = day + 719468; /* from 0000-03-01 */
    int64_t era = (from >= 0 ? from : from - 146096) / 146097;
    int64_t in_era = from - era * 146097;
    int64_t of_era =
        (in_era - in_era / 1460 + in_era / 36524 - in_era / 146096) / 365;
    int64_t of_year = in_era - (365 * of_era + of_era / 4 - of_era / 100);
    int64_t march = (5 * of_year + 2) / 153;

    *of_month = (int)(of_year - (153 * march + 2) / 5 + 1);
    *month = (int)(march < 10 ? march + 3 : march - 9);
    *year = (int)(of_era + era * 400 + (*month <= 2));
}

/* ISO 8601, UTC, whole seconds: what every spreadsheet sorts rightly. */
static void time_text(int64_t unix_ns, char out[LOGBOOK_TIME_SIZE])
{
    int64_t seconds = unix_ns / UNITS_NS_PER_S - (unix_ns % UNITS_NS_PER_S < 0);
    int64_t day = seconds / 86400 - (seconds % 86400 < 0);
    unsigned of_day = (unsigned)(seconds - day * 86400);
    int year;
    int month;
    int of_month;

    date_of_day(day, &year, &month, &of_month);
    (void)snprintf(out, LOGBOOK_TIME_SIZE, "%04d-%02d-%02dT%02u:%02u:%02uZ",
                   year % 10000, month % 100, of_month % 100,
                   of_day / 3600 % 24, of_day / 60 % 60, of_day % 60);
}

/* ---- which -------------------------------------------------------------- */

/* FNV-1a of 64 bits. Source: The FNV Non-Cryptographic Hash Algorithm,
 * draft-eastlake-fnv, section 5: offset basis and prime. */
static uint64_t hash_text(const char *text)
{
    uint64_t hash = UINT64_C(0xcbf29ce484222325);

    for (; *text != '\0'; text++)
        hash = (hash ^ (unsigned char)*text) * UINT64_C(0x100000001b3);
    return hash;
}

/* A figure as it enters the id: coarse enough that the last bits of a library
 * and the microseconds of a capture file do not matter. */
static long coarse(double value)
{
    return isfinite(value) && fabs(value) < 1e6 ? lround(value * 100.0) : 0;
}

/* Nothing that depends on the standard, on the person or on where the
 * recording was begun. */
static void make_id(const struct debrief_attempt *attempt,
                    char out[LOGBOOK_ID_SIZE])
{
    const struct maneuver_summary *summary = &attempt->summary;
    char text[192];
    uint64_t hash;

    (void)snprintf(text, sizeof text, "%s %d %lld %ld %ld %ld %ld",
                   maneuver_kind_name(attempt->maneuver), attempt->direction,
                   (long long)(attempt->begun_unix_ns / 10000000),
                   coarse(units_deg(summary->entry_heading_rad)),
                   coarse(units_kt(summary->entry_speed_mps)),
                   coarse(units_ft(summary->entry_altitude_m) / 10.0),
                   coarse(units_deg(summary->pitch_highest_rad)));
    hash = hash_text(text);
    out[0] = 'q';
    for (int i = 1; i < LOGBOOK_ID_SIZE - 1; i++) {
        out[i] = (char)('a' + (int)(hash >> 60));
        hash <<= 4;
    }
    out[LOGBOOK_ID_SIZE - 1] = '\0';
}

void logbook_entry_make(const struct debrief_attempt *attempt, const char *help,
                        struct logbook_entry *out)
{
    memset(out, 0, sizeof *out);
    make_id(attempt, out->id);
    time_text(attempt->begun_unix_ns, out->begun);
    debrief_copy_text(attempt->person, out->person, sizeof out->person);
    debrief_copy_text(attempt->aircraft.name, out->aircraft,
                      sizeof out->aircraft);
    out->maneuver = maneuver_kind_name(attempt->maneuver);
    out->direction = attempt->direction > 0 ? "right" : "left";
    out->help = help != NULL ? help : "";
    out->ending = debrief_ending_name(attempt->ending);
    out->reason = attempt->ending == ENDING_ABANDONED
                      ? maneuver_reason_text(attempt->reason)
                      : "";
    out->grade = attempt->grade;
}
