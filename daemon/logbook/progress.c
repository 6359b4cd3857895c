/* progress.c - what gets better, what does not, what to practise next.
 *
 * One rule, told in README.md, so that nobody has to trust it: of the items
 * that were missed among their last attempts, the one that was missed most
 * often; safety before all others. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "exercise.h"
#include "quarterturn/logbook.h"

/* An item has been judged when it has a figure and is not in the list of those
 * that were not; a miss is one in any case. */
static bool judged(const struct logbook *book, uint32_t row, uint32_t figure)
{
    const struct logbook_row *at = &book->row[row];
    uint32_t bit = UINT32_C(1) << figure;

    if ((at->missed & bit) != 0)
        return true;
    return (at->not_judged & bit) == 0 &&
           !isnan(book->value[(size_t)row * book->figure_count + figure]);
}

static bool missed(const struct logbook *book, uint32_t row, uint32_t figure)
{
    return (book->row[row].missed >> figure & 1) != 0;
}

static bool belongs(const struct logbook *book, uint32_t row,
                    const char *person)
{
    return person == NULL || strcmp(book->row[row].person, person) == 0;
}

static void count(struct logbook_tally *tally, uint32_t most, bool miss)
{
    if (tally->judged == most)
        return;
    tally->judged++;
    tally->missed += miss;
}

/* Go back from the last attempt. */
static void follow(const struct logbook *book, const char *person,
                   uint32_t figure, struct logbook_trend *trend)
{
    bool before_miss = true;

    trend->latest = (double)NAN;
    for (uint32_t i = book->count; i-- > 0;) {
        bool miss = missed(book, i, figure);

        if (!belongs(book, i, person) || !judged(book, i, figure))
            continue;
        if (trend->recent.judged == 0)
            trend->latest =
                book->value[(size_t)i * book->figure_count + figure];
        before_miss = before_miss && !miss;
        trend->since_miss += before_miss;
        if (trend->recent.judged < LOGBOOK_RECENT)
            count(&trend->recent, LOGBOOK_RECENT, miss);
        else
            count(&trend->before, LOGBOOK_RECENT, miss);
        if (book->row[i].direction < 0)
            count(&trend->left, LOGBOOK_A_SIDE, miss);
        else if (book->row[i].direction > 0)
            count(&trend->right, LOGBOOK_A_SIDE, miss);
        if (trend->before.judged == LOGBOOK_RECENT &&
            trend->left.judged == LOGBOOK_A_SIDE &&
            trend->right.judged == LOGBOOK_A_SIDE)
            break;
    }
}

/* ---- what to practise --------------------------------------------------- */

static bool is_safety(const char *figure)
{
    static const char *const safety[] = {"least height", "time stalled"};

    for (size_t i = 0; i < sizeof safety / sizeof safety[0]; i++)
        if (strcmp(figure, safety[i]) == 0)
            return true;
    return false;
}

/* Whether a item is to be practised before another one; of two alike the one
 * that comes first in the flight, as the columns do. */
static bool before(const struct logbook *book,
                   const struct logbook_progress *progress, uint32_t one,
                   uint32_t other)
{
    const struct logbook_trend *a = &progress->trend[one];
    const struct logbook_trend *b = &progress->trend[other];
    bool safety = is_safety(book->figure[one]);

    if (safety != is_safety(book->figure[other]))
        return safety;
    if (a->recent.missed != b->recent.missed)
        return a->recent.missed > b->recent.missed;
    return a->since_miss < b->since_miss;
}

/* One miss says nothing of a side: it takes two more, and a share that is
 * larger by a fifth, so that a side that is flown more does not count for
 * that. */
static bool is_weaker(const struct logbook_tally *one,
                      const struct logbook_tally *other)
{
    double share = (double)one->missed / fmax(one->judged, 1);
    double other_share = (double)other->missed / fmax(other->judged, 1);

    return one->judged >= 3 && other->judged >= 3 &&
           one->missed >= other->missed + 2 && share - other_share > 0.2;
}

static int weaker_side(const struct logbook_trend *trend)
{
    if (is_weaker(&trend->left, &trend->right))
        return -1;
    return is_weaker(&trend->right, &trend->left) ? 1 : 0;
}

static void choose(const struct logbook *book,
                   struct logbook_progress *progress)
{
    uint32_t lately = progress->flown_left + progress->flown_right;

    progress->practise = -1;
    for (uint32_t i = 0; i < book->figure_count; i++)
        if (progress->trend[i].recent.missed > 0 &&
            (progress->practise < 0 ||
             before(book, progress, i, (uint32_t)progress->practise)))
            progress->practise = (int)i;
    if (progress->practise >= 0)
        progress->side = weaker_side(&progress->trend[progress->practise]);
    if (lately == LOGBOOK_A_SIDE)
        progress->other_side = progress->flown_left == 0    ? -1
                               : progress->flown_right == 0 ? 1
                                                            : 0;
}

void logbook_progress_make(const struct logbook *book, const char *person,
                           struct logbook_progress *out)
{
    uint32_t skip;

    memset(out, 0, sizeof *out);
    out->person = person;
    for (uint32_t i = 0; i < book->count; i++) {
        if (!belongs(book, i, person))
            continue;
        out->attempts++;
        out->in_standard += book->row[i].verdict == VERDICT_IN_STANDARD;
    }
    skip =
        out->attempts > LOGBOOK_TO_PLOT ? out->attempts - LOGBOOK_TO_PLOT : 0;
    for (uint32_t i = 0, seen = 0; i < book->count; i++) {
        if (!belongs(book, i, person) || seen++ < skip)
            continue;
        out->last[out->last_count++] = i;
        if (seen + LOGBOOK_A_SIDE > out->attempts) {
            out->flown_left += book->row[i].direction < 0;
            out->flown_right += book->row[i].direction > 0;
        }
    }
    for (uint32_t i = 0; i < book->figure_count; i++)
        follow(book, person, i, &out->trend[i]);
    choose(book, out);
}

static const char *turns(int side)
{
    return side < 0 ? ", in left turns" : side > 0 ? ", in right turns" : "";
}

void logbook_progress_advice(const struct logbook *book,
                             const struct logbook_progress *progress, char *out,
                             size_t size)
{
    const char *other = progress->other_side < 0 ? "left" : "right";
    char exercise[96];

    if (progress->attempts == 0)
        (void)snprintf(out, size, "fly a first attempt");
    else if (progress->practise >= 0) {
        const struct logbook_tally *recent =
            &progress->trend[progress->practise].recent;

        const char *figure = book->figure[progress->practise];

        exercise_text(figure, exercise, sizeof exercise);
        (void)snprintf(out, size, "%s%s (\"%s\" missed in %u of the last %u)",
                       exercise, turns(progress->side), figure, recent->missed,
                       recent->judged);
    } else if (progress->other_side != 0)
        (void)snprintf(out, size,
                       "turns to the %s: none among the last %d attempts",
                       other, LOGBOOK_A_SIDE);
    else
        (void)snprintf(out, size,
                       "the same with less help, or by a stricter standard: "
                       "nothing was missed lately");
}
