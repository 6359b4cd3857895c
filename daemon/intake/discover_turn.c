/* discover_turn.c - the search: which numbers turn and climb like an airplane.
 *
 * An airplane that flies without slipping turns at
 *     rate = tan(m) (g / V + dc/dt / cos c)
 * with V its true airspeed, c the climb angle and m the bank about the path,
 * sin m = cos(pitch) sin(bank) / cos c; and its nose stands above the path by
 * the angle of attack, which grows with load factor over speed squared:
 *     pitch = c + (a + k n / V^2) cos(bank),  k > 0.
 * Whether the turn agrees is judged in discover_check.c. */
#include <math.h>
#include <string.h>

#include "discover.h"

/* A search beyond this takes too long; what it found so far may lack rivals
 * and counts for nothing. */
enum { MOST_GOOD = 12, MOST_JUDGED = 6000, MOST_PATHS = 3000 };

static const double most_bank = 85.0 * UNITS_RAD_PER_DEG;
/* International Standard Atmosphere (ISO 2533:1975), troposphere: density
 * ratio (1 - 6.5 K/km h / 288.15 K)^4.25588. */
static const double lapse_per_m = 0.0065 / 288.15;
static const double density_power = 4.25588;

uint32_t discover_hop(const struct intake_discovery *d)
{
    return 1 + d->grid_count / DISCOVER_POINTS;
}

/* ---- heading and bank --------------------------------------------------- */

static void keep_pair(struct intake_discovery *d,
                      const struct discover_pair *pair)
{
    uint32_t at = d->pair_count;

    while (at > 0 && d->pair[at - 1].match < pair->match)
        at--;
    if (at == DISCOVER_PAIRS)
        return;
    if (d->pair_count < DISCOVER_PAIRS)
        d->pair_count++;
    memmove(&d->pair[at + 1], &d->pair[at],
            (d->pair_count - 1 - at) * sizeof *pair);
    d->pair[at] = *pair;
}

/* How the turn rate follows the tangent of the bank: correlation with its
 * sign, and the slope, which is g / V. */
static double correlate(const struct intake_discovery *d, const double *rate,
                        const double *tangent, double *slope)
{
    double xx = 0.0;
    double xy = 0.0;
    double yy = 0.0;

    for (uint32_t i = 0; i < d->grid_count; i += discover_hop(d)) {
        if (!isfinite(rate[i]) || !isfinite(tangent[i]))
            continue;
        xx += tangent[i] * tangent[i];
        xy += tangent[i] * rate[i];
        yy += rate[i] * rate[i];
    }
    *slope = xx > 0.0 ? xy / xx : 0.0;
    return xx > 0.0 && yy > 0.0 ? xy / sqrt(xx * yy) : 0.0;
}

static void find_pairs(struct intake_discovery *d)
{
    struct discover_readings headings;
    struct discover_readings banks;

    d->pair_count = 0;
    discover_readings_of(d, CHANNEL_HEADING, &headings);
    discover_readings_of(d, CHANNEL_BANK, &banks);
    for (uint32_t b = 0; b < banks.count; b++) {
        discover_values(d, &banks.reading[b], false, d->bank);
        for (uint32_t i = 0; i < d->grid_count; i++)
            d->scratch[i] =
                tan(discover_bound(d->bank[i], -most_bank, most_bank));
        discover_smooth(d, d->scratch, d->bank);
        for (uint32_t h = 0; h < headings.count; h++) {
            struct discover_pair pair = {headings.reading[h], banks.reading[b],
                                         0.0};
            double slope;

            if (discover_overlap(d, &pair.heading, &pair.bank))
                continue;
            discover_values(d, &pair.heading, true, d->scratch);
            discover_derive(d, d->scratch, d->heading_rate);
            pair.match = correlate(d, d->heading_rate, d->bank, &slope);
            if (pair.match < 0.0) {
                pair.bank.scale = -pair.bank.scale;
                pair.bank.factor = -pair.bank.factor;
            }
            pair.match = fabs(pair.match);
            slope = fabs(slope);
            if (pair.match > 0.8 && slope > UNITS_G0_MPS2 / 300.0 &&
                slope < UNITS_G0_MPS2 / 18.0)
                keep_pair(d, &pair);
        }
    }
}

/* ---- the motion --------------------------------------------------------- */

static void find_climb(struct intake_discovery *d,
                       const struct discover_choice *choice)
{
    discover_values(d, &choice->speed, false, d->speed);
    if (d->climb_source == CLIMB_ALTITUDE) {
        discover_values(d, &choice->climb, false, d->sorted);
        for (uint32_t i = 0; i < d->grid_count && !choice->speed_is_true; i++)
            d->speed[i] /= sqrt(pow(1.0 - lapse_per_m * fmax(d->sorted[i], 0.0),
                                    density_power));
        discover_derive(d, d->sorted, d->climb);
    } else if (d->climb_source == CLIMB_VERTICAL_SPEED) {
        discover_values(d, &choice->climb, false, d->sorted);
        discover_smooth(d, d->sorted, d->climb);
    } else {
        /* At constant power the climb is paid for with speed; what the engine
         * adds goes into the constant of the fit. */
        discover_derive(d, d->speed, d->climb);
        for (uint32_t i = 0; i < d->grid_count; i++)
            d->climb[i] *= -d->speed[i] / UNITS_G0_MPS2;
    }
}

/* Speed, climb angle and its rate, load factor; bank[] must be there. */
static void find_path(struct intake_discovery *d,
                      const struct discover_choice *choice)
{
    find_climb(d, choice);
    for (uint32_t i = 0; i < d->grid_count; i++)
        d->slope[i] = asin(discover_bound_sine(d->climb[i] / d->speed[i]));
    discover_derive(d, d->slope, d->slope_rate);
    for (uint32_t i = 0; i < d->grid_count; i++) {
        double load = (d->speed[i] * d->slope_rate[i] / UNITS_G0_MPS2 +
                       cos(d->slope[i])) /
                      cos(discover_bound(d->bank[i], -most_bank, most_bank));

        d->load[i] = discover_bound(load, 0.2, 3.0);
    }
}

static void find_attitude(struct intake_discovery *d,
                          const struct discover_choice *choice)
{
    discover_values(d, &choice->bank, false, d->bank);
    discover_values(d, &choice->pitch, false, d->pitch);
    discover_values(d, &choice->heading, true, d->scratch);
    discover_derive(d, d->scratch, d->heading_rate);
}

void discover_motion(struct intake_discovery *d,
                     const struct discover_choice *choice)
{
    find_attitude(d, choice);
    find_path(d, choice);
}

/* ---- pitch and climb ---------------------------------------------------- */

/* Fit the pitch in d->scratch.
 * Returns: whether it can be one. */
static bool fit_pitch(struct intake_discovery *d,
                      struct discover_choice *choice)
{
    struct discover_fit fit;
    double weight[FIT_COLUMNS];
    double error;
    double spread;

    discover_fit_begin(&fit, 3);
    for (uint32_t i = 0; i < d->grid_count; i += discover_hop(d)) {
        /* Banked, the angle of attack lies over on its side. */
        double upright = cos(discover_bound(d->bank[i], -most_bank, most_bank));
        double x[3] = {d->slope[i], upright,
                       upright * discover_lift(d->load[i], d->speed[i])};

        if (isfinite(x[0]) && isfinite(x[2]) && isfinite(d->scratch[i]))
            discover_fit_add(&fit, x, d->scratch[i]);
    }
    if (!discover_fit_end(&fit, weight, &error, &spread) || spread <= 0.0)
        return false;
    choice->pitch_slope = weight[0];
    choice->pitch_error = error / spread;
    choice->attack[0] = weight[1];
    choice->attack[1] = weight[2];
    /* Turned over, nose and path both point the other way: the angle of
     * attack tells. */
    if (weight[0] < 0.0) {
        choice->pitch_slope = -weight[0];
        choice->pitch.scale = -choice->pitch.scale;
        choice->pitch.factor = -choice->pitch.factor;
        choice->attack[0] = -weight[1];
        choice->attack[1] = weight[2] = -weight[2];
    }
    return weight[2] > 0.01 && choice->pitch_error < 0.4 &&
           choice->pitch_slope > 0.7 && choice->pitch_slope < 1.4;
}

/* ---- all together ------------------------------------------------------- */

static void keep_choice(struct intake_discovery *d,
                        const struct discover_choice *choice)
{
    uint32_t at = d->choice_count;

    while (at > 0 && d->choice[at - 1].cost > choice->cost)
        at--;
    if (at == DISCOVER_CHOICES)
        return;
    if (d->choice_count < DISCOVER_CHOICES)
        d->choice_count++;
    memmove(&d->choice[at + 1], &d->choice[at],
            (d->choice_count - 1 - at) * sizeof *choice);
    d->choice[at] = *choice;
}

/* Try every pitch, the path being there.
 * Returns: how many of them can be one. */
static uint32_t try_pitches(struct intake_discovery *d,
                            const struct discover_choice *start,
                            const struct discover_readings *pitches,
                            struct discover_choice good[MOST_GOOD])
{
    uint32_t count = 0;

    for (uint32_t p = 0; p < pitches->count && count < MOST_GOOD; p++) {
        good[count] = *start;
        good[count].pitch = pitches->reading[p];
        if (discover_overlap(d, &good[count].pitch, &start->speed) ||
            discover_overlap(d, &good[count].pitch, &start->climb))
            continue;
        discover_values(d, &good[count].pitch, false, d->scratch);
        if (fit_pitch(d, &good[count]))
            count++;
    }
    return count;
}

static bool shares_bytes(const struct intake_discovery *d,
                         const struct discover_reading *reading,
                         const struct discover_choice *choice)
{
    return discover_overlap(d, reading, &choice->speed) ||
           discover_overlap(d, reading, &choice->pitch) ||
           discover_overlap(d, reading, &choice->climb);
}

/* A sender tells pitch and bank in one unit. */
static bool same_unit(const struct discover_reading *a,
                      const struct discover_reading *b)
{
    return a->unit == b->unit && fabs(a->scale) == fabs(b->scale);
}

/* Try every pitch and, with those that fit, every pair. */
static void try_motion(struct intake_discovery *d,
                       const struct discover_choice *start,
                       const struct discover_readings *pitches)
{
    struct discover_choice good[MOST_GOOD];
    uint32_t count;

    if (d->paths == MOST_PATHS)
        return;
    d->paths++;
    discover_values(d, &start->bank, false, d->bank);
    find_path(d, start);
    count = try_pitches(d, start, pitches, good);
    for (uint32_t g = 0; g < count; g++) {
        for (uint32_t n = 0; n < d->pair_count; n++) {
            struct discover_choice choice = good[g];

            choice.heading = d->pair[n].heading;
            choice.bank = d->pair[n].bank;
            if (shares_bytes(d, &choice.heading, &choice) ||
                shares_bytes(d, &choice.bank, &choice) ||
                !same_unit(&choice.bank, &choice.pitch))
                continue;
            if (d->judged == MOST_JUDGED)
                return;
            d->judged++;
            find_attitude(d, &choice);
            if (discover_check_turn(d, &choice))
                keep_choice(d, &choice);
        }
    }
}

/* Whether a speed suits the turns of a pair, roughly. */
static bool suits_turn(struct intake_discovery *d,
                       const struct discover_pair *pair)
{
    uint32_t count = 0;
    double ratio;

    discover_values(d, &pair->bank, false, d->bank);
    discover_values(d, &pair->heading, true, d->scratch);
    discover_derive(d, d->scratch, d->heading_rate);
    for (uint32_t i = 0; i < d->grid_count; i += discover_hop(d)) {
        if (fabs(d->bank[i]) > discover_least_bank &&
            fabs(d->heading_rate[i]) > discover_least_rate &&
            isfinite(d->speed[i]))
            d->sorted[count++] = d->heading_rate[i] * d->speed[i] /
                                 (UNITS_G0_MPS2 * tan(d->bank[i]));
    }
    ratio = discover_median(d->sorted, count);
    return count >= 20 && ratio > 0.65 && ratio < 1.4;
}

static const struct discover_pair *
find_suited(struct intake_discovery *d, const struct discover_reading *speed)
{
    discover_values(d, speed, false, d->speed);
    for (uint32_t n = 0; n < d->pair_count; n++) {
        if (suits_turn(d, &d->pair[n]))
            return &d->pair[n];
    }
    return NULL;
}

static void search_with(struct intake_discovery *d,
                        const struct discover_readings *climbs)
{
    struct discover_readings speeds;
    struct discover_readings pitches;
    uint32_t suited = 0;

    discover_readings_of(d, CHANNEL_AIRSPEED, &speeds);
    discover_readings_of(d, CHANNEL_PITCH, &pitches);
    for (uint32_t v = 0; v < speeds.count && suited < DISCOVER_SPEEDS; v++) {
        struct discover_choice start = {.speed = speeds.reading[v]};
        const struct discover_pair *pair = find_suited(d, &start.speed);

        if (pair == NULL)
            continue;
        suited++;
        start.heading = pair->heading;
        start.bank = pair->bank;
        for (uint32_t c = 0; c < climbs->count; c++) {
            start.climb = climbs->reading[c];
            start.speed_is_true = true;
            if (discover_overlap(d, &start.climb, &start.speed))
                continue;
            try_motion(d, &start, &pitches);
            start.speed_is_true = false;
            if (d->climb_source == CLIMB_ALTITUDE)
                try_motion(d, &start, &pitches);
        }
    }
}

/* Whether numbers that count had no place any more; floats come first. */
static bool misses_numbers(const struct intake_discovery *d)
{
    enum intake_type last = d->series[DISCOVER_SERIES - 1].place.type;

    return d->series_full && (d->whole_too || d->kind_count > 1 ||
                              d->form.form != INTAKE_FORM_BINARY ||
                              last == INTAKE_F32 || last == INTAKE_F64);
}

void discover_search(struct intake_discovery *d)
{
    static const enum intake_channel channel[] = {
        [CLIMB_ALTITUDE] = CHANNEL_ALTITUDE,
        [CLIMB_VERTICAL_SPEED] = CHANNEL_VERTICAL_SPEED};
    struct discover_readings climbs;

    d->choice_count = 0;
    d->judged = 0;
    d->paths = 0;
    find_pairs(d);
    for (int source = CLIMB_ALTITUDE; source <= CLIMB_ENERGY; source++) {
        if (d->pair_count == 0 || d->choice_count > 0)
            break;
        d->climb_source = (enum discover_climb)source;
        climbs.count = 1;
        climbs.reading[0] = (struct discover_reading){.series = UINT32_MAX};
        if (source != CLIMB_ENERGY)
            discover_readings_of(d, channel[source], &climbs);
        search_with(d, &climbs);
    }
    d->exhausted =
        d->judged == MOST_JUDGED || d->paths == MOST_PATHS || misses_numbers(d);
}
