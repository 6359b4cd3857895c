/* callout.h - from events to the few words that are worth saying.
 *
 * Pure. Chooses cues, ranks them, gives each its instant, and hands over a
 * call shortly before its first sample must sound. Time is a value. */
#ifndef QUARTERTURN_CALLOUT_H
#define QUARTERTURN_CALLOUT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "quarterturn/maneuver.h"

/* A warning outranks a caution, a caution a phase call, that an advice. */
enum callout_rank { RANK_ADVICE, RANK_PHASE, RANK_CAUTION, RANK_WARNING };

const char *callout_rank_name(enum callout_rank rank);

enum callout_cue {
    CUE_STALL,
    CUE_PITCH_LIMIT,
    CUE_MORE_BANK,
    CUE_LESS_BANK,
    CUE_LEFT_RUDDER,
    CUE_RIGHT_RUDDER,
    CUE_HOLD_ALTITUDE,
    CUE_NINETY,
    CUE_TEN_TO_GO,
    CUE_WINGS_LEVEL,
    CUE_HOLD_PITCH,
    CUE_ROLL_FASTER,
    CUE_ROLL_SLOWER,
    CUE_READY,
    CUE_RESULT,
    CUE_VERDICT,
    CUE_COUNT
};

/* The pieces of sound that calls are made of. Each is one file of a voice. */
enum callout_clip {
    CLIP_STALL,
    CLIP_PITCH_LIMIT,
    CLIP_MORE_BANK,
    CLIP_LESS_BANK,
    CLIP_LEFT_RUDDER,
    CLIP_RIGHT_RUDDER,
    CLIP_HOLD_ALTITUDE,
    CLIP_NINETY,
    CLIP_TEN_TO_GO,
    CLIP_WINGS_LEVEL,
    CLIP_HOLD_PITCH,
    CLIP_ROLL_FASTER,
    CLIP_ROLL_SLOWER,
    CLIP_READY,
    CLIP_HEADING,
    CLIP_PLUS,
    CLIP_MINUS,
    CLIP_GAINED,
    CLIP_LOST,
    CLIP_FEET,
    CLIP_ABOVE_THE_STALL,
    CLIP_IN_STANDARD,
    CLIP_NOT_IN_STANDARD,
    CLIP_NEXT_TIME,
    CLIP_FLY_STRAIGHT, /* what discover asks for */
    CLIP_TURN_LEFT,
    CLIP_TURN_RIGHT,
    CLIP_CLIMB_NOW,
    CLIP_0,
    CLIP_1,
    CLIP_2,
    CLIP_3,
    CLIP_4,
    CLIP_5,
    CLIP_6,
    CLIP_7,
    CLIP_8,
    CLIP_9,
    CLIP_10,
    CLIP_11,
    CLIP_12,
    CLIP_13,
    CLIP_14,
    CLIP_15,
    CLIP_16,
    CLIP_17,
    CLIP_18,
    CLIP_19,
    CLIP_20,
    CLIP_30,
    CLIP_40,
    CLIP_50,
    CLIP_60,
    CLIP_70,
    CLIP_80,
    CLIP_90,
    CLIP_HUNDRED,
    CLIP_THOUSAND,
    CLIP_NEAR_STALL, /* one pulse of the near-stall tone */
    CLIP_COUNT
};

/* "pitch-limit", "ten-to-go", "n7", "near-stall": also the file's stem. */
const char *callout_clip_name(enum callout_clip clip);
/* Returns: 0, or ERR_ABSENT (out unchanged). */
int callout_clip_find(const char *name, enum callout_clip *out);

/* One row of the cue table. */
struct callout_cue_info {
    const char *name; /* "ninety" */
    const char *text; /* the caption, "" where it is composed */
    const char *meaning;
    enum callout_rank rank;
    double expiry_s; /* later than this after its moment it is not said */
};

const struct callout_cue_info *callout_cue_info(enum callout_cue cue);

enum { CALLOUT_MAX_CLIPS = 16, CALLOUT_TEXT_SIZE = 128 };

/* A call handed over for sound and captions. */
struct callout_call {
    uint32_t number; /* from 1 in the stream */
    enum callout_cue cue;
    enum callout_rank rank;
    int64_t moment_ns; /* the instant it is about */
    int64_t onset_ns;  /* first audible sample */
    int64_t expiry_ns; /* not to be started after this */
    bool cuts_in;      /* fade out what is being said at onset */
    bool again;        /* asked for once more by the user */
    uint32_t attempt;
    uint32_t clip_count;
    enum callout_clip clip[CALLOUT_MAX_CLIPS]; /* one after the other */
    int64_t clip_onset_ns[CALLOUT_MAX_CLIPS];
    char text[CALLOUT_TEXT_SIZE];
};

/* The near-stall tone from t_ns on: band 0 is silence. */
struct callout_tone {
    int64_t t_ns;
    int band;
};

/* ---- amount of help ------------------------------------------------------ */

/* Full: every call. Sparse: no advice, and of the points of the turn only the
 * one that asks for the hands. Warnings: the stall, its tone, the limit of the
 * airplane. Fading: full, less what is flown in standard again and again.
 * Summary: silent in flight; the result. */
enum callout_help {
    HELP_FULL,
    HELP_SPARSE,
    HELP_WARNINGS,
    HELP_FADING,
    HELP_SUMMARY,
    HELP_COUNT
};

/* "full", "sparse", "warnings", "fading", "summary". */
const char *callout_help_name(enum callout_help help);
/* Returns: 0, or ERR_ABSENT (out unchanged). */
int callout_help_find(const char *name, enum callout_help *out);

/* What a cue helps with, and what an attempt is judged in: help fades by
 * topic. NONE: never fades. */
enum callout_topic {
    TOPIC_NONE,
    TOPIC_BANK,
    TOPIC_PITCH,
    TOPIC_TURN,
    TOPIC_ALTITUDE,
    TOPIC_BALL,
    TOPIC_COUNT
};

const char *callout_topic_name(enum callout_topic topic);
enum callout_topic callout_cue_topic(enum callout_cue cue);

/* Whether a level ever says a cue, and whether it sounds the near-stall
 * tone. */
bool callout_help_says(enum callout_help help, enum callout_cue cue);
bool callout_help_sounds_tone(enum callout_help help);
/* Whether the calls of a topic are silent in an attempt flown after so many in
 * standard in a row: the third one, then every second, from the seventh on
 * all. */
bool callout_help_faded(uint32_t in_row);

/* ---- settings ------------------------------------------------------------ */

/* How whole numbers are spoken: "one three" or "thirteen". Round hundreds
 * are "eight hundred" in both. */
enum callout_numbers { NUMBERS_DIGITS, NUMBERS_GROUPED };

struct callout_settings {
    int64_t commit_lead_ns; /* a call is handed over this long before onset */
    int64_t spacing_ns;     /* between two calls */
    int64_t repeat_ns;      /* before the same call again */
    int64_t clip_gap_ns;    /* between the clips of one call */
    bool say_ready;
    enum callout_help help;
    enum callout_numbers numbers;
    double clip_s[CLIP_COUNT]; /* duration of each clip, 0 if not there */
};

/* Defaults: 120 ms, 0.5 s, 3 s, 40 ms, false, full, digits; durations 0.5 s
 * each. */
void callout_defaults(struct callout_settings *settings);

enum { CALLOUT_MAX_PENDING = 16, CALLOUT_MAX_CALLS = 8 };

/* Embedded by its owner; fields are private to callout. */
struct callout {
    struct callout_settings settings;
    struct callout_call pending[CALLOUT_MAX_PENDING];
    bool planned[CALLOUT_MAX_PENDING]; /* revised by each outlook */
    uint32_t pending_count;
    int64_t said_ns[CUE_COUNT];       /* last onset */
    uint32_t said_attempt[CUE_COUNT]; /* attempt of a once-only cue */
    int64_t busy_until_ns;
    enum callout_rank busy_rank;
    int64_t now_ns;
    struct callout_call last; /* handed over; none while calls is 0 */
    uint32_t calls;
    uint64_t dropped; /* too late or no room */
    struct callout_tone tone;
    bool tone_changed;
    int band;                     /* of the flight, sounded or not */
    bool lost;                    /* nothing is seen of the flight */
    bool paused;                  /* it stands still, seen or not */
    uint32_t in_row[TOPIC_COUNT]; /* attempts in standard, up to now */
};

void callout_init(struct callout *callout,
                  const struct callout_settings *settings);

/* Offer an event. event->t_ns may lie in the past; now_ns is the present. */
void callout_offer(struct callout *callout, int64_t now_ns,
                   const struct maneuver_event *event);

/* Revise the planned cues, and say what stays wrong: a stall every 5 s, bank
 * and ball every 10 s. */
void callout_plan(struct callout *callout,
                  const struct maneuver_outlook *outlook);

/* Hand over every call whose time has come.
 * now_ns: must not decrease. out: at most CALLOUT_MAX_CALLS.
 * Returns: number of calls. Call again while it equals CALLOUT_MAX_CALLS. */
uint32_t callout_advance(struct callout *callout, int64_t now_ns,
                         struct callout_call out[CALLOUT_MAX_CALLS]);

/* Take the change of tone since the last call of this function.
 * Returns: true with *out set when there was one. */
bool callout_take_tone(struct callout *callout, struct callout_tone *out);

/* Change the amount of help, from now_ns on: what waits and is no longer
 * allowed is taken back, the tone falls silent or comes. */
void callout_set_help(struct callout *callout, int64_t now_ns,
                      enum callout_help help);
/* Take new settings, from now_ns on; what was said and judged is kept. */
void callout_change(struct callout *callout, int64_t now_ns,
                    const struct callout_settings *settings);
/* Say the last call once more, as soon as the voice is free, whatever the
 * amount of help.
 * Returns: 0; ERR_ABSENT when nothing has been said; ERR_FULL. */
int callout_repeat(struct callout *callout, int64_t now_ns);
/* Tell how an attempt that is over was judged in a topic. Help fades by this
 * alone; it is not told of what was not judged. */
void callout_judge(struct callout *callout, enum callout_topic topic,
                   bool in_standard);
/* Say how an attempt that is over was judged: "in standard"; "not in standard;
 * next time hold pitch".
 * finished: the event that ended it.
 * next: the cue whose words tell what to work on, or CUE_COUNT. */
void callout_verdict(struct callout *callout, int64_t now_ns,
                     const struct maneuver_event *finished, bool in_standard,
                     enum callout_cue next);
/* Topics whose calls are faded out at present, as bits; 0 at every level but
 * HELP_FADING. */
uint32_t callout_silent_topics(const struct callout *callout);

/* When callout_advance has something to do, or INT64_MAX. */
int64_t callout_deadline_ns(const struct callout *callout);

/* Compose a whole number, 0..9999: "eight hundred" in either style; "one two
 * five zero" in digits, "one thousand two hundred fifty" grouped. Appends
 * clips from *count on, up to size.
 * Returns: 0, ERR_RANGE or ERR_FULL (nothing appended). */
int callout_say_number(long number, enum callout_numbers style,
                       enum callout_clip *clips, uint32_t *count,
                       uint32_t size);

/* Text of a run of clips as spoken ("heading plus six"). */
void callout_clips_text(const enum callout_clip *clips, uint32_t count,
                        char *out, size_t size);

#endif
