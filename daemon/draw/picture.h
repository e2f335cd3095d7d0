/* The day's draw as it stands: who wrestles in each slot by the results so far, who waits for what,
 * where winner and loser go, the places of each weight, and the team table.
 *
 * A slot's sides, the first that holds:
 * 1. a bout that names the slot says who wrestles;
 * 2. the slot's own {athlete}, or the winner or loser of another slot once that is decided;
 * 3. left out in the draw, and filled in by what is known of it:
 *    - repechage: a slot with a side {loser_of: X} and, before its other side (itself or the slots
 *      that lead to it by winner_of), sides left out: these take everyone whom the winner of X beat
 *      on the way to X, the latest in the last slot. Where there are fewer than sides, the earliest
 *      side has nobody;
 *    - pools: two slots without any side that lead to one slot by winner_of, in a weight with two
 *      groups in which everyone meets everyone: first of the first against second of the second,
 *      and the other way round.
 * A slot is decided by a confirmed result; and without a bout, where nobody comes for one side, by
 * the other side's going on. An ending without a winner sends nobody on, from either side.
 *
 * Sources of places, ranking and points: the weight's edition (docs/rules.md, "Draws").
 * Pure: no clock, no I/O; all of it lives in the caller's arena and borrows day, bouts and
 * editions. */
#pragma once
#include "rules/day.h"
#include "stats/state.h"

struct picture_bout { /* a bout that names a slot */
    const struct details *details;
    struct result result;
    int points[2];       /* technical points */
    uint64_t called_seq; /* the later called of two in one slot is the slot's */
};
struct picture_bout picture_bout_of(const struct state *state);

enum { PICTURE_NONE = -1 };

/* Somebody: by the key in the roster, or, where a bout gave none, as that bout's side. */
struct picture_who {
    const char *athlete; /* NULL: without a key */
    int32_t bout;        /* place in `bouts`, or PICTURE_NONE: no bout has called them here yet */
    uint8_t side;        /* side_index() in that bout */
};

enum picture_comes {
    COMES_LATER,  /* for what `from` and `slot` (or pool and place) say */
    COMES_KNOWN,  /* `who` */
    COMES_NOBODY, /* nobody comes */
};

enum picture_from {
    WAITS_UNKNOWN,
    WAITS_FOR_WINNER, /* of `slot` */
    WAITS_FOR_LOSER,
    WAITS_FOR_BEATEN, /* by the winner of `slot`, a semi-final: repechage */
    WAITS_FOR_POOL,   /* `place` 1 or 2 of `pool` 1 or 2 */
};

struct picture_side {
    enum picture_comes comes;
    struct picture_who who;
    enum picture_from from;
    int32_t slot; /* a place in `slots`, or PICTURE_NONE */
    uint8_t pool, place;
};

struct picture_slot {
    const struct slot *slot;
    int32_t bout; /* or PICTURE_NONE */
    struct picture_side sides[2];
    struct picture_side filled[2];     /* what a side that was left out is filled in with */
    bool decided, passed;              /* passed: decided without a bout */
    struct picture_side winner, loser; /* once decided: COMES_KNOWN or COMES_NOBODY */
    int32_t winner_to, loser_to;       /* slots, or PICTURE_NONE */
    uint8_t winner_to_side, loser_to_side;
    int32_t weight; /* place in `weights` */
};

struct picture_rank { /* one athlete of a weight */
    struct picture_who who;
    int place; /* 0: not decided */
    int bouts, victories, falls, superiorities, class_points, points_scored, points_given;
    bool nobody_won; /* wrestled a bout that nobody won */
    uint8_t pool;    /* 1, 2; 0: none */
};

struct picture_weight {
    const char *style, *age_group, *weight; /* as its slots have them */
    const struct edition *edition;          /* NULL: none is named */
    struct picture_rank *ranks;             /* by place, the undecided behind */
    size_t rank_count;
    bool decided; /* every slot is */
};

struct picture_team {
    const char *team, *style;
    int place, points, gold, silver, bronze, won, lost;
};

struct picture {
    struct picture_slot *slots; /* by slot.place */
    size_t slot_count;
    struct picture_weight *weights; /* in the order of their first slots */
    size_t weight_count;
    struct picture_team *teams; /* over the whole day, by place; `style` NULL */
    size_t team_count;
    struct picture_team *style_teams; /* by style, in the order of the first slots, and place */
    size_t style_team_count;
};

/* False without memory. */
bool picture_make(struct picture *picture, const struct day *day, const struct picture_bout *bouts,
                  size_t bout_count, const struct editions *editions, struct arena *arena);
