/* When the bouts to come will begin: for each slot that has a mat, a range of times.
 * It rests on this day's own bouts: how long they took against their full time, and how long from a
 * result to the next start on the same mat. Before there are any, on what such bouts usually take;
 * each bout of the day then counts as much as half of that. Common practice, no source: a bout
 * takes 0.9 of its full time (periods and breaks) on the clock on the wall, stoppages in, early
 * endings out, more or less by 0.4; and the next begins 75 seconds after a result, more or less
 * by 40. The ranges are made so that four of five bouts, half an hour ahead, begin within theirs.
 * Slots of a mat are wrestled by their `order`, then their number, then as they were keyed.
 * Pure: no clock, no I/O, no allocation. */
#pragma once
#include "rules/day.h"
#include "stats/state.h"

struct schedule_bout { /* a bout of the day as far as it has come; times of day, 0: not yet */
    const char *slot;  /* NULL: of none */
    const char *mat;
    int64_t called_ms, began_ms, ended_ms; /* ended: a result stands */
    int64_t full_ms;                       /* periods and the breaks between them */
    int64_t left_ms;                       /* of that, as its clock has it now */
};
struct schedule_bout schedule_bout_of(const struct state *state);

struct expected_start {
    bool known; /* false: it has begun, or nothing can be said */
    int64_t from_ms, to_ms;
};

/* `expected` has room for every slot of the day, by slot->place. */
void schedule_make(struct expected_start *expected, const struct day *day,
                   const struct editions *editions, const struct schedule_bout *bouts,
                   size_t bout_count, int64_t now_ms);
