/* Normal course: the day's bouts give two distributions, of lengths (as a share of the full time)
 * and of gaps, each begun with what is usual. Then, mat by mat, means and variances are summed
 * along the slots to come, and each start is its mean, more or less. */
#include "draw/schedule.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { QUEUE_MAX = 512 }; /* slots to come of one mat */

static const double usual_share = 0.9, usual_share_spread = 0.4;
static const double usual_gap_ms = 75000, usual_gap_spread_ms = 40000;
static const double usual_counts = 2; /* as many bouts of the day as that */
static const double spreads = 1.5;    /* to each side of the mean */
static const double least_left_ms = 20000;

/* ---- one bout ---- */

struct schedule_bout schedule_bout_of(const struct state *state)
{
    const struct fold *fold = state->fold;
    const struct details *details = fold->details;
    struct schedule_bout bout = {
        .slot = details->slot,
        .mat = details->off ? NULL : details->mat,
        .called_ms = fold->bout->events[0].at_ms,
        .full_ms = (int64_t)details->periods * details->period_ms +
                   (int64_t)(details->periods - 1) * details->break_ms,
    };
    for (size_t i = 0; i < fold->count && bout.began_ms == 0; i++)
        if (fold->events[i].stands && fold->events[i].event->type == EVENT_CLOCK)
            bout.began_ms = fold->events[i].event->moment_ms;
    if (state->result.how != NULL && fold->close != EVENT_NONE)
        bout.ended_ms = fold->events[fold->close].event->at_ms;
    int periods_left = details->periods - state->clock.period;
    bout.left_ms = (int64_t)periods_left * (details->period_ms + details->break_ms) +
                   details->period_ms - state->clock.t_ms;
    return bout;
}

/* ---- what bouts and gaps take ---- */

struct distribution {
    double count, sum, squares;
};

/* As though `usual_counts` of what is usual had been seen. */
static struct distribution distribution_of(double mean, double spread)
{
    return (struct distribution){usual_counts, usual_counts * mean,
                                 usual_counts * (mean * mean + spread * spread)};
}

static void add(struct distribution *distribution, double value)
{
    distribution->count++;
    distribution->sum += value;
    distribution->squares += value * value;
}

static double mean_of(const struct distribution *distribution)
{
    return distribution->sum / distribution->count;
}

static double variance_of(const struct distribution *distribution)
{
    double mean = mean_of(distribution);
    return distribution->squares / distribution->count - mean * mean;
}

struct paces {
    struct distribution share, gap_ms;
};

static bool same(const char *one, const char *other)
{
    return one != NULL && other != NULL && strcmp(one, other) == 0;
}

/* The start on the same mat that came next after the bout's result; 0: none has. */
static int64_t next_start(const struct schedule_bout *bouts, size_t count,
                          const struct schedule_bout *after)
{
    int64_t next_ms = 0;
    for (size_t i = 0; i < count; i++)
        if (same(bouts[i].mat, after->mat) && bouts[i].began_ms >= after->ended_ms &&
            (next_ms == 0 || bouts[i].began_ms < next_ms))
            next_ms = bouts[i].began_ms;
    return next_ms;
}

static struct paces paces_of(const struct schedule_bout *bouts, size_t count)
{
    struct paces paces = {distribution_of(usual_share, usual_share_spread),
                          distribution_of(usual_gap_ms, usual_gap_spread_ms)};
    for (size_t i = 0; i < count; i++) {
        const struct schedule_bout *bout = &bouts[i];
        if (bout->ended_ms == 0)
            continue;
        if (bout->began_ms != 0 && bout->full_ms > 0)
            add(&paces.share, (double)(bout->ended_ms - bout->began_ms) / (double)bout->full_ms);
        int64_t next_ms = next_start(bouts, count, bout);
        /* Longer than a quarter of an hour is no gap but a pause of the day. */
        if (next_ms != 0 && next_ms - bout->ended_ms < 900000)
            add(&paces.gap_ms, (double)(next_ms - bout->ended_ms));
    }
    return paces;
}

/* ---- what is left of the bout on a mat ---- */

/* Each bout and gap is more or less its mean by chance of its own; and all of them together, by how
 * little is known of the mean: so the two are summed apart. */
struct guess {
    const struct paces *paces;
    double mean_ms, variance;
    double share_ms, gaps; /* how much of it hangs on the one mean and on the other */
};

static void guess_add_bout(struct guess *guess, double full_ms, double part)
{
    const struct distribution *share = &guess->paces->share;
    guess->mean_ms += mean_of(share) * full_ms * part;
    guess->variance += variance_of(share) * full_ms * full_ms * part;
    guess->share_ms += full_ms * part;
}

static void guess_add_gap(struct guess *guess)
{
    guess->mean_ms += mean_of(&guess->paces->gap_ms);
    guess->variance += variance_of(&guess->paces->gap_ms);
    guess->gaps++;
}

static double guess_variance(const struct guess *guess)
{
    const struct distribution *share = &guess->paces->share, *gap_ms = &guess->paces->gap_ms;
    return guess->variance + guess->share_ms * guess->share_ms * variance_of(share) / share->count +
           guess->gaps * guess->gaps * variance_of(gap_ms) / gap_ms->count;
}

/* Of a bout that is wrestled: its share of what its clock has left, for it may end early; and the
 * time in which a result is given. */
static void guess_rest(struct guess *guess, const struct schedule_bout *bout)
{
    double full_ms = (double)(bout->full_ms > 0 ? bout->full_ms : 1);
    guess_add_bout(guess, full_ms, (double)bout->left_ms / full_ms);
    guess->mean_ms += least_left_ms;
    guess->variance += least_left_ms * least_left_ms;
}

/* Until the next start on a mat where nobody wrestles, when the last result was given so long ago.
 */
static void guess_gap(struct guess *guess, int64_t since_ms)
{
    guess_add_gap(guess);
    guess->mean_ms -= (double)since_ms;
    if (guess->mean_ms < least_left_ms)
        guess->mean_ms = least_left_ms;
}

static const struct schedule_bout *latest_on(const struct schedule_bout *bouts, size_t count,
                                             const char *mat)
{
    const struct schedule_bout *latest = NULL;
    for (size_t i = 0; i < count; i++)
        if (same(bouts[i].mat, mat) && bouts[i].began_ms != 0 &&
            (latest == NULL || bouts[i].began_ms > latest->began_ms))
            latest = &bouts[i];
    return latest;
}

/* Until the mat's next bout begins. */
static struct guess first_guess(const struct paces *paces, const struct schedule_bout *bouts,
                                size_t count, const char *mat, int64_t now_ms)
{
    struct guess guess = {.paces = paces};
    const struct schedule_bout *latest = latest_on(bouts, count, mat);
    if (latest != NULL && latest->ended_ms == 0) {
        guess_rest(&guess, latest);
        guess_add_gap(&guess);
    } else {
        guess_gap(&guess, latest != NULL ? now_ms - latest->ended_ms : 0);
    }
    return guess;
}

/* ---- the slots to come ---- */

static bool has_begun(const struct schedule_bout *bouts, size_t count, const struct slot *slot)
{
    for (size_t i = 0; i < count; i++)
        if (same(bouts[i].slot, slot->slot) && (bouts[i].began_ms != 0 || bouts[i].ended_ms != 0))
            return true;
    return false;
}

static long number_of(const struct slot *slot)
{
    return slot->number != NULL ? strtol(slot->number, NULL, 10) : 0;
}

static int by_order(const void *one, const void *other)
{
    const struct slot *a = *(const struct slot *const *)one;
    const struct slot *b = *(const struct slot *const *)other;
    if (a->order != b->order)
        return a->order < b->order ? -1 : 1;
    if (number_of(a) != number_of(b))
        return number_of(a) < number_of(b) ? -1 : 1;
    return a->place < b->place ? -1 : a->place > b->place ? 1 : 0;
}

static size_t queue_of(const struct slot *queue[QUEUE_MAX], const struct day *day,
                       const struct schedule_bout *bouts, size_t count, const char *mat)
{
    size_t length = 0;
    for (size_t i = 0; i < day->slot_count && length < QUEUE_MAX; i++)
        if (same(day->slots[i]->mat, mat) && !has_begun(bouts, count, day->slots[i]))
            queue[length++] = day->slots[i];
    qsort(queue, length, sizeof *queue, by_order);
    return length;
}

static double full_ms_of(const struct slot *slot, const struct editions *editions)
{
    static const struct age_group seniors = {.periods = 2, .period_ms = 180000, .break_ms = 30000};
    const struct edition *edition =
        slot->rules != NULL ? editions_find(editions, slot->rules) : NULL;
    const struct age_group *group =
        edition != NULL ? edition_age_group(edition, slot->age_group) : NULL;
    if (group == NULL)
        group = &seniors;
    return (double)group->periods * group->period_ms +
           (double)(group->periods - 1) * group->break_ms;
}

static struct expected_start expected_of(const struct guess *guess, int64_t now_ms)
{
    double margin_ms = spreads * sqrt(guess_variance(guess));
    double from_ms = guess->mean_ms - margin_ms;
    return (struct expected_start){
        .known = true,
        .from_ms = now_ms + (int64_t)(from_ms > 0 ? from_ms : 0),
        .to_ms = now_ms + (int64_t)(guess->mean_ms + margin_ms),
    };
}

static void expect_mat(struct expected_start *expected, const struct day *day,
                       const struct editions *editions, const struct paces *paces,
                       const struct schedule_bout *bouts, size_t count, const char *mat,
                       int64_t now_ms)
{
    const struct slot *queue[QUEUE_MAX];
    size_t length = queue_of(queue, day, bouts, count, mat);
    struct guess guess = first_guess(paces, bouts, count, mat, now_ms);
    for (size_t i = 0; i < length; i++) {
        expected[queue[i]->place] = expected_of(&guess, now_ms);
        guess_add_bout(&guess, full_ms_of(queue[i], editions), 1);
        guess_add_gap(&guess);
    }
}

void schedule_make(struct expected_start *expected, const struct day *day,
                   const struct editions *editions, const struct schedule_bout *bouts,
                   size_t bout_count, int64_t now_ms)
{
    struct paces paces = paces_of(bouts, bout_count);
    for (size_t i = 0; i < day->slot_count; i++)
        expected[i] = (struct expected_start){.known = false};
    for (size_t i = 0; i < day->slot_count; i++) {
        const struct slot *slot = day->slots[i];
        bool told = expected[slot->place].known || slot->mat == NULL;
        if (!told && !has_begun(bouts, bout_count, slot))
            expect_mat(expected, day, editions, &paces, bouts, bout_count, slot->mat, now_ms);
    }
}
