/* Beyond one action: what it takes to lead, and what closes the bout.
 *
 * For each side: the fewest actions of its own that make it the leader, criteria included, and the
 * fewest points that do; what makes its lead one that no single action of the other turns; and what
 * brings superiority. Imagined points are those of `outlook` (docs/state.md): by technique,
 * confirmed, and the last; the other side scores nothing meanwhile and no caution is given. Then
 * their order doesn't matter: every criterion counts them or asks for the last.
 * And how fast the side has been so far, against the time left: counts with their base, for words,
 * never a chance.
 * Source: the bout's edition, by its own sources; that a pace is told at all, common practice.
 * Pure: no clock, no I/O, no allocation. */
#pragma once
#include "stats/state.h"

enum {
    CHASE_ACTIONS_MAX = 5,
    CHASE_PACE_LEAST_MS = 60000, /* of bout time; before, a pace says nothing */
};

struct chase_way {
    int actions; /* 0: it is so already, or not within CHASE_ACTIONS_MAX */
    int points;
    int values[CHASE_ACTIONS_MAX]; /* the highest first */
};

enum chase_pace {
    PACE_UNKNOWN, /* nothing is missing, or too little was wrestled */
    PACE_ENOUGH,  /* as many points in the time left as until now lead */
    PACE_SHORT,
};

struct chase_side {
    bool leads;
    bool is_safe;              /* it leads, and no single action of the other changes that */
    struct chase_way fewest;   /* to lead, in the fewest actions; of these the fewest points; and
                                  of these the lower values */
    struct chase_way least;    /* to lead, with the fewest points; of these the fewest actions */
    struct chase_way safe;     /* to lead safely, in the fewest actions, as `fewest` */
    struct chase_way superior; /* to superiority, likewise */
    int tries, scored, points; /* attempts counted as the state does, and all its points */
    int64_t gone_ms, left_ms;  /* bout time, all periods */
    enum chase_pace pace;
};

struct chase {
    struct chase_side sides[2];
};

struct chase chase_of(const struct state *state);

/* Its parts, for who wants only one. */
struct chase_way chase_fewest(const struct state *state, enum side side);
struct chase_way chase_least(const struct state *state, enum side side);
struct chase_way chase_safe(const struct state *state, enum side side);
struct chase_way chase_superior(const struct state *state, enum side side);
bool chase_is_safe(const struct state *state, enum side side);
/* `missing` points lead; `points` were made in the time gone. */
enum chase_pace chase_pace(int points, int missing, int64_t gone_ms, int64_t left_ms);
