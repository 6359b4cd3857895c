/* discover.h - private to the intake room: what finding out an unknown layout
 * is made of. Pure: all memory is the caller's. */
#ifndef INTAKE_DISCOVER_H
#define INTAKE_DISCOVER_H

#include "quarterturn/intake.h"

enum {
    DISCOVER_BYTES = 8 << 20,   /* of payload kept */
    DISCOVER_DATAGRAMS = 20000, /* kept; a longer stream is thinned */
    DISCOVER_GRID = 6000,       /* moments of the common time base */
    DISCOVER_SERIES = 320,      /* columns, offsets or names that vary */
    DISCOVER_KINDS = 4,         /* of datagram, by size or beginning */
    DISCOVER_READINGS = 96,     /* ways to read one channel */
    DISCOVER_POINTS = 1200      /* moments a fit looks at */
};

/* The place of a number in a datagram. */
struct discover_place {
    uint32_t kind;
    enum intake_type type;
    bool big_endian;
    uint32_t at;
    uint32_t column;
    int64_t key;
    char name[INTAKE_FIELD_NAME];
};

/* One number of the datagram over time, on the common time base. */
struct discover_series {
    struct discover_place place;
    double base; /* value = base + grid; kept small so that float will do */
    double least;
    double greatest;
    bool whole; /* only whole numbers */
    bool smooth;
    /* while it is filled */
    double last;
    double last_s;
    double reach; /* least..greatest of a first look */
    uint32_t filled;
    bool begun;
};

/* One kind of datagram. */
struct discover_kind {
    uint32_t count;
    uint32_t size;     /* 0: varies */
    uint32_t size_min; /* least length seen */
    uint8_t head[INTAKE_MAX_PREFIX];
    uint32_t head_length; /* bytes that never change, from the first */
};

struct discover_datagram {
    int64_t t_ns;
    uint32_t at;
    uint32_t length;
    uint16_t port;
    uint16_t kind;
};

/* A series read as a channel: internal = series * factor (+ what wraps). */
struct discover_reading {
    uint32_t series;
    enum unit unit;
    double scale;  /* as written in the layout */
    double factor; /* scale times the unit's */
};

struct discover_form {
    enum intake_form form;
    char separator;
    char assign;
    bool decimal_comma;
    uint32_t records_at;
    uint32_t record_size;
    enum intake_type key_type;
    bool key_big_endian;
};

enum discover_climb {
    CLIMB_NONE,
    CLIMB_ALTITUDE,
    CLIMB_VERTICAL_SPEED,
    CLIMB_ENERGY /* from the speed lost alone */
};

struct discover_readings {
    struct discover_reading reading[DISCOVER_READINGS];
    uint32_t count;
};

/* One way to tell the four required channels by the physics. */
struct discover_choice {
    struct discover_reading heading;
    struct discover_reading bank;
    struct discover_reading speed;
    bool speed_is_true; /* true airspeed, else calibrated */
    struct discover_reading pitch;
    struct discover_reading climb;
    double turn_error;  /* rms of the turn rate left, against its rms */
    double turn_ratio;  /* turn rate over the formula, median */
    double pitch_error; /* rms of the pitch left, against its spread */
    double pitch_slope;
    double attack[2]; /* angle of attack: this + that * discover_lift */
    double cost;
};

enum { DISCOVER_PAIRS = 24, DISCOVER_SPEEDS = 16, DISCOVER_CHOICES = 512 };

struct discover_pair {
    struct discover_reading heading;
    struct discover_reading bank;
    double match; /* correlation */
};

struct intake_discovery {
    /* what came */
    uint8_t bytes[DISCOVER_BYTES];
    struct discover_datagram datagram[DISCOVER_DATAGRAMS];
    uint32_t datagram_count;
    uint32_t byte_count;
    uint32_t stride; /* one of so many is kept */
    uint64_t seen;
    /* what it is */
    uint16_t port;
    struct discover_form form;
    struct discover_kind kind[DISCOVER_KINDS];
    uint32_t kind_count;
    struct discover_series series[DISCOVER_SERIES];
    uint32_t series_count;
    bool series_full; /* more of them than fit */
    float grid[DISCOVER_SERIES][DISCOVER_GRID];
    uint32_t grid_count;
    double step_s;
    int64_t origin_ns;
    /* work space of the physics: internal units, DISCOVER_GRID each */
    double heading_rate[DISCOVER_GRID];
    double bank[DISCOVER_GRID];
    double speed[DISCOVER_GRID];
    double climb[DISCOVER_GRID];
    double slope[DISCOVER_GRID]; /* flight path angle */
    double slope_rate[DISCOVER_GRID];
    double pitch[DISCOVER_GRID];
    double scratch[DISCOVER_GRID];
    double load[DISCOVER_GRID];
    double lead[DISCOVER_GRID];
    double sorted[DISCOVER_GRID];
    /* the search */
    uint32_t judged; /* choices tried */
    uint32_t paths;  /* speeds with climbs tried */
    bool exhausted;  /* not everything could be tried */
    bool whole_too;  /* whole numbers in bytes may be channels */
    enum discover_climb climb_source;
    struct discover_pair pair[DISCOVER_PAIRS];
    uint32_t pair_count;
    struct discover_choice choice[DISCOVER_CHOICES];
    uint32_t choice_count;
};

/* ---- discover_form.c, discover_scan.c, discover_fill.c ------------------ */

/* Take one number out of a line or an object. */
typedef void (*discover_visit)(void *context, const char *name,
                               size_t name_length, uint32_t column,
                               double value);

/* Choose the port, the form and the kinds.
 * Returns: 0; ERR_ABSENT when there is nothing; ERR_FORMAT when no form
 *    fits. */
int discover_recognise(struct intake_discovery *d, uint16_t port);
/* Is it a stream of one of the built-in standards? */
bool discover_standard(const struct intake_discovery *d, enum intake_form *out);
/* Visit every number of a text, pairs or JSON datagram.
 * Returns: how many, or below 0 when it is no such datagram. */
int discover_scan(const struct discover_form *form, const uint8_t *data,
                  size_t length, discover_visit visit, void *context);
/* Find the series and put them on the grid. */
void discover_fill(struct intake_discovery *d);
/* The raw number at a place. Returns: false when it is not there. */
bool discover_read(const struct discover_form *form,
                   const struct discover_place *place, const uint8_t *data,
                   size_t length, double *out);

/* ---- discover_series.c -------------------------------------------------- */

/* A reading on the grid, in internal units; angles unwrapped when circle. */
void discover_values(const struct intake_discovery *d,
                     const struct discover_reading *reading, bool circle,
                     double *out);
/* Slope over two seconds round each moment, and the mean over them. */
void discover_derive(const struct intake_discovery *d, const double *values,
                     double *out);
void discover_smooth(const struct intake_discovery *d, const double *values,
                     double *out);
double discover_median(double *values, uint32_t count);
/* Every way to read the series as a channel that its bounds allow. */
void discover_readings_of(const struct intake_discovery *d,
                          enum intake_channel channel,
                          struct discover_readings *out);
/* Whether two readings cannot both be right, for they share bytes. */
bool discover_overlap(const struct intake_discovery *d,
                      const struct discover_reading *a,
                      const struct discover_reading *b);
/* Greatest difference between two readings, without a constant one when
 * shifted; 95 of 100 moments lie below it. */
double discover_difference(struct intake_discovery *d,
                           const struct discover_reading *a,
                           const struct discover_reading *b, bool circle,
                           bool shifted);

/* Least squares of y on up to four columns.
 * Returns: false when the columns do not differ. */
enum { FIT_COLUMNS = 4 };
struct discover_fit {
    double sum[FIT_COLUMNS][FIT_COLUMNS + 1];
    double yy;
    double y;
    uint32_t columns;
    uint32_t count;
};
void discover_fit_begin(struct discover_fit *fit, uint32_t columns);
void discover_fit_add(struct discover_fit *fit, const double *x, double y);
/* error: rms of what is left; spread: rms of y about its mean. */
bool discover_fit_end(struct discover_fit *fit, double *weight, double *error,
                      double *spread);

/* ---- discover_turn.c, discover_judge.c, discover_more.c ----------------- */

/* Moments a fit looks at lie so many grid steps apart. */
uint32_t discover_hop(const struct intake_discovery *d);
/* Fill pair[] by the turn, then choice[] by turn and climb; best first. */
void discover_search(struct intake_discovery *d);
/* Fill speed[] (true), climb[], slope[], slope_rate[] and pitch[] of a
 * choice. */
void discover_motion(struct intake_discovery *d,
                     const struct discover_choice *choice);
/* Say what is certain among the choices. */
void discover_judge(struct intake_discovery *d, struct intake_discovered *out);
/* Put a channel into the layout. */
void discover_settle(const struct intake_discovery *d,
                     enum intake_channel channel,
                     const struct discover_reading *reading,
                     struct intake_discovered *out);
/* The channels that hang on those: vertical speed, load factor, time. */
void discover_more(struct intake_discovery *d,
                   const struct discover_choice *best,
                   struct intake_discovered *out);

/* ---- discover_check.c ---------------------------------------------------- */

/* A turn with less of either tells nothing; rad, rad/s. */
extern const double discover_least_bank;
extern const double discover_least_rate;

/* Keep within bounds; what is not known stays so (fmin would make a number of
 * it). */
double discover_bound(double value, double least, double most);
/* A sine of a moderate angle. */
double discover_bound_sine(double value);
/* What the angle of attack grows with: load factor over speed squared. */
double discover_lift(double load, double speed);
/* Compare the turn rate with the formula; discover_motion's work must be
 * there but for load[], which is overwritten.
 * choice: its pitch has been fitted; turn_error, turn_ratio and cost are set.
 * Returns: whether it can be the flight. */
bool discover_check_turn(struct intake_discovery *d,
                         struct discover_choice *choice);

#endif
