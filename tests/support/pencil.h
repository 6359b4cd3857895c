/* pencil.h - flights drawn by a few lines of kinematics. */
#ifndef SUPPORT_PENCIL_H
#define SUPPORT_PENCIL_H

#include "quarterturn/maneuver.h"

#define KT UNITS_MPS_PER_KT
#define DEG UNITS_RAD_PER_DEG

/* A pencilled airplane: what the pilot wants is what it does. */
struct pencil {
    struct maneuver maneuver;
    struct flight_state state;
    struct maneuver_event event[256];
    int count;
};

extern struct pencil pencil;
extern const struct maneuver_standard pencil_standard;
extern const struct flight_aircraft pencil_aircraft;

/* Level at 105 kt, heading 350. For cmocka. */
int pencil_begin(void **state);
/* Fly for a time, bank, pitch and speed moving evenly to what is given. */
void pencil_fly(double for_s, double bank_deg, double pitch_deg,
                double speed_kt);
int pencil_count(enum maneuver_event_kind kind);
/* The test fails when there is none. */
const struct maneuver_event *pencil_last(enum maneuver_event_kind kind);

#endif
