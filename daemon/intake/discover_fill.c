/* discover_fill.c - which numbers of the datagrams vary like a flight, and
 * their course on a common time base. */
#include <math.h>
#include <string.h>

#include "discover.h"

enum {
    FIRST_LOOK = 64,   /* triples of datagrams a place is judged by */
    MOST_OFFSET = 2048 /* bytes of a datagram that are searched */
};

/* Beyond this between two datagrams nothing is known. */
static const double gap_s = 2.0;
/* Mean second difference against the range: noise gives about 0.5. */
static const double least_rough = 0.08;
static const double greatest_value = 1e19;

/* ---- first look --------------------------------------------------------- */

/* Bytes read wrongly make numbers of any size; so does a bank in the air of a
 * simulator, where level is level to the last bits, but it turns too. */
static const double most_tiny = 0.6;

struct look {
    double least;
    double greatest;
    double rough;
    uint32_t tiny; /* values that are not 0 and as good as 0 */
    uint32_t triples;
    bool whole;
};

static void look_at(struct look *look, const double triple[3])
{
    for (int i = 0; i < 3; i++) {
        double size = fabs(triple[i]);

        look->least = fmin(look->least, triple[i]);
        look->greatest = fmax(look->greatest, triple[i]);
        if (size > 0.0 && size < 1e-12)
            look->tiny++;
        look->whole = look->whole && triple[i] == floor(triple[i]);
    }
    look->rough += fabs(triple[0] - 2.0 * triple[1] + triple[2]);
    look->triples++;
}

static bool looks_good(const struct look *look)
{
    double range = look->greatest - look->least;

    return look->triples >= 4 && range > 0.0 &&
           fmax(fabs(look->least), fabs(look->greatest)) < greatest_value &&
           look->tiny <= most_tiny * 3.0 * look->triples &&
           range > 1e-9 * fmax(fabs(look->least), fabs(look->greatest)) &&
           look->rough / look->triples < least_rough * range;
}

/* The next triple of one kind from a datagram on.
 * Returns: the first's index, or datagram_count. */
static uint32_t find_triple(const struct intake_discovery *d, uint32_t from,
                            uint32_t kind, uint32_t triple[3])
{
    uint32_t found = 0;

    for (uint32_t i = from; i < d->datagram_count; i++) {
        if (d->datagram[i].kind != kind)
            continue;
        triple[found++] = i;
        if (found == 3)
            return triple[0];
    }
    return d->datagram_count;
}

static bool look_at_place(const struct intake_discovery *d,
                          const struct discover_place *place, struct look *look)
{
    uint32_t missed = 0;

    *look =
        (struct look){.least = INFINITY, .greatest = -INFINITY, .whole = true};
    for (uint32_t n = 0; n < FIRST_LOOK; n++) {
        uint32_t from =
            (uint32_t)((uint64_t)d->datagram_count * n / FIRST_LOOK);
        uint32_t triple[3];
        double value[3];
        bool all = true;

        if (find_triple(d, from, place->kind, triple) == d->datagram_count)
            break;
        for (int i = 0; i < 3; i++)
            all =
                all && discover_read(&d->form, place,
                                     d->bytes + d->datagram[triple[i]].at,
                                     d->datagram[triple[i]].length, &value[i]);
        if (all)
            look_at(look, value);
        else if (++missed > FIRST_LOOK / 4)
            return false;
    }
    return looks_good(look);
}

/* ---- the places --------------------------------------------------------- */

static struct discover_series *add_series(struct intake_discovery *d,
                                          const struct discover_place *place)
{
    struct discover_series *series;

    if (d->series_count == DISCOVER_SERIES) {
        d->series_full = true;
        return NULL;
    }
    series = &d->series[d->series_count++];
    memset(series, 0, sizeof *series);
    series->place = *place;
    return series;
}

static void add_if_good(struct intake_discovery *d,
                        const struct discover_place *place)
{
    struct look look;
    struct discover_series *series;

    if (!look_at_place(d, place, &look))
        return;
    series = add_series(d, place);
    if (series != NULL) {
        series->whole = look.whole;
        series->reach = look.greatest - look.least;
    }
}

/* Whole numbers last: a float's upper half looks like one too. */
static void find_bytes(struct intake_discovery *d, uint32_t kind, int64_t key,
                       uint32_t from, uint32_t to)
{
    static const enum intake_type types[] = {
        INTAKE_F64, INTAKE_F32, INTAKE_I32, INTAKE_U32, INTAKE_I16, INTAKE_U16};
    struct discover_place place = {.kind = kind, .key = key};

    for (size_t t = 0; t < sizeof types / sizeof types[0]; t++) {
        place.type = types[t];
        for (uint32_t at = from; at + intake_type_size(types[t]) <= to; at++) {
            place.at = at;
            place.big_endian = false;
            add_if_good(d, &place);
            place.big_endian = true;
            add_if_good(d, &place);
        }
    }
}

static void find_in_records(struct intake_discovery *d)
{
    int64_t known[64];
    uint32_t count = 0;
    uint32_t key_size = intake_type_size(d->form.key_type);

    for (uint32_t i = 0; i < d->datagram_count; i += 1 + d->datagram_count / 64)
        for (uint32_t at = d->form.records_at;
             at + d->form.record_size <= d->datagram[i].length;
             at += d->form.record_size) {
            struct discover_form one = d->form;
            struct discover_place place = {.type = one.key_type,
                                           .big_endian = one.key_big_endian};
            double key = 0.0;
            uint32_t k = 0;

            one.form = INTAKE_FORM_BINARY;
            (void)discover_read(&one, &place, d->bytes + d->datagram[i].at + at,
                                key_size, &key);
            while (k < count && known[k] != (int64_t)key)
                k++;
            if (k == count && count < 64)
                known[count++] = (int64_t)key;
        }
    for (uint32_t k = 0; k < count; k++)
        find_bytes(d, 0, known[k], key_size, d->form.record_size);
}

/* ---- the course of a number --------------------------------------------- */

/* Put a value at its time, and a straight line to it from the last one. What
 * leaps by half its range has wrapped, and stays until the leap. */
static void put_value(struct intake_discovery *d, uint32_t index, double t_s,
                      double value)
{
    struct discover_series *series = &d->series[index];
    float *grid = d->grid[index];
    double from_s = series->last_s;
    double from = series->last;

    if (!series->begun) {
        series->begun = true;
        series->base = value;
        series->least = series->greatest = value;
        from_s = t_s;
        from = value;
    }
    series->least = fmin(series->least, value);
    series->greatest = fmax(series->greatest, value);
    while (series->filled < d->grid_count &&
           (double)series->filled * d->step_s <= t_s) {
        double at_s = (double)series->filled * d->step_s;
        double part = t_s > from_s ? (at_s - from_s) / (t_s - from_s) : 1.0;
        double here = from + (value - from) * part;

        if (fabs(value - from) >
            0.5 * fmax(series->reach, series->greatest - series->least))
            here = part < 0.5 ? from : value;
        grid[series->filled++] = t_s - from_s > gap_s || at_s < from_s
                                     ? NAN
                                     : (float)(here - series->base);
    }
    series->last = value;
    series->last_s = t_s;
}

struct fill {
    struct intake_discovery *d;
    double t_s;
    uint32_t kind;
};

static void on_number(void *context, const char *name, size_t name_length,
                      uint32_t column, double value)
{
    struct fill *fill = context;
    struct intake_discovery *d = fill->d;
    struct discover_place place = {
        .kind = fill->kind, .column = column, .type = INTAKE_F64};
    uint32_t i = 0;

    if (name_length >= sizeof place.name)
        return;
    if (name_length > 0)
        memcpy(place.name, name, name_length);
    while (i < d->series_count &&
           (d->series[i].place.kind != place.kind ||
            d->series[i].place.column != column ||
            strcmp(d->series[i].place.name, place.name) != 0))
        i++;
    if (i == d->series_count && add_series(d, &place) == NULL)
        return;
    if (d->step_s > 0.0)
        put_value(d, i, fill->t_s, value);
}

static void fill_words(struct intake_discovery *d)
{
    struct fill fill = {.d = d};

    for (uint32_t i = 0; i < d->datagram_count; i++) {
        const struct discover_datagram *datagram = &d->datagram[i];

        fill.t_s = (double)(datagram->t_ns - d->origin_ns) * 1e-9;
        fill.kind = datagram->kind;
        if (datagram->kind < d->kind_count)
            (void)discover_scan(&d->form, d->bytes + datagram->at,
                                datagram->length, on_number, &fill);
    }
}

static void fill_bytes(struct intake_discovery *d)
{
    for (uint32_t i = 0; i < d->datagram_count; i++) {
        const struct discover_datagram *datagram = &d->datagram[i];
        double t_s = (double)(datagram->t_ns - d->origin_ns) * 1e-9;
        double value;

        for (uint32_t s = 0; s < d->series_count; s++) {
            if (d->series[s].place.kind == datagram->kind &&
                discover_read(&d->form, &d->series[s].place,
                              d->bytes + datagram->at, datagram->length,
                              &value) &&
                fabs(value) < greatest_value)
                put_value(d, s, t_s, value);
        }
    }
}

/* Roughness of a filled series, leaps of a wrap left out. */
static bool is_smooth(const struct intake_discovery *d, uint32_t index)
{
    const float *grid = d->grid[index];
    double range = d->series[index].greatest - d->series[index].least;
    double rough = 0.0;
    uint32_t count = 0;

    for (uint32_t i = 2; i < d->grid_count; i++) {
        double second =
            (double)grid[i] - 2.0 * (double)grid[i - 1] + (double)grid[i - 2];

        if (isfinite(second) && fabs(second) < 0.5 * range) {
            rough += fabs(second);
            count++;
        }
    }
    return range > 0.0 && count > d->grid_count / 4 &&
           rough / count < least_rough * range;
}

void discover_fill(struct intake_discovery *d)
{
    int64_t last_ns = d->datagram[d->datagram_count - 1].t_ns;
    double seconds;
    bool words = d->form.form != INTAKE_FORM_BINARY &&
                 d->form.form != INTAKE_FORM_RECORDS;

    d->series_count = 0;
    d->origin_ns = d->datagram[0].t_ns;
    seconds = (double)(last_ns - d->origin_ns) * 1e-9;
    d->step_s = fmax(0.1, seconds / (DISCOVER_GRID - 1));
    d->step_s = fmin(d->step_s, 0.25);
    d->grid_count =
        (uint32_t)fmin(DISCOVER_GRID, floor(seconds / d->step_s) + 1.0);
    if (!words) {
        for (uint32_t k = 0; k < d->kind_count; k++) {
            if (d->form.form == INTAKE_FORM_BINARY)
                find_bytes(d, k, 0, 0,
                           d->kind[k].size < MOST_OFFSET ? d->kind[k].size
                                                         : MOST_OFFSET);
        }
        if (d->form.form == INTAKE_FORM_RECORDS)
            find_in_records(d);
        fill_bytes(d);
    } else {
        fill_words(d);
    }
    for (uint32_t s = 0; s < d->series_count; s++) {
        while (d->series[s].filled < d->grid_count)
            d->grid[s][d->series[s].filled++] = NAN;
        d->series[s].smooth = is_smooth(d, s);
        if (words)
            d->series[s].whole =
                d->series[s].least == floor(d->series[s].least) &&
                d->series[s].greatest == floor(d->series[s].greatest);
    }
}
