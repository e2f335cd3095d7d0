/* While a challenge is open: every ruling that can come of it, with its score, leader and ending.
 *
 * - It is lost: the challenged call stands, and the other side has the points that a lost challenge
 *   usually costs in the edition (one, where it doesn't say).
 * - Nothing changes: it isn't taken, or it is upheld and moves no points.
 * - It is upheld: the challenged points are taken out, worth another value of the edition, or the
 *   other side's; or they stay. And the challenger may be given points for what wasn't seen, just
 *   before the challenged call. A caution or a passivity can only stay or go.
 * What is challenged is the event that the challenge names; where it names none, the last points.
 * Points given anew are by technique; all else is counted as it was keyed, what waits for a
 * confirmation included, since that is what the officials look at.
 * Source: what can be keyed after a ruling (docs/events.md); what a challenge may be of and costs,
 * the edition's sources.
 * Pure: no clock, no I/O, no allocation. */
#pragma once
#include "stats/state.h"

enum {
    RULING_STAYS = -1, /* the challenged points, if any, as they are */
    RULINGS_MAX = 2 + (2 + 2 * EDITION_VALUE_MAX) * (1 + EDITION_VALUE_MAX),
};

enum ruling_kind { RULING_LOST, RULING_NOTHING, RULING_UPHELD };

struct ruling {
    enum ruling_kind kind;
    int value;      /* upheld: what the challenged points become; 0: out; or RULING_STAYS */
    enum side side; /* whose those are then */
    int given;      /* lost: to the other side; upheld: to the challenger, besides */
    int points[2];
    struct leader leader;
    enum due due;
};

struct challenged { /* the open challenge; the later one, where both sides have one */
    int32_t place;  /* of the event that asked; EVENT_NONE: none is open */
    int32_t target; /* of what is challenged; EVENT_NONE: nothing that can be told */
    enum side side; /* the challenger */
};
struct challenged challenged_of(const struct state *state);

/* Writes the rulings, the lost one first, then the one that changes nothing; no two are alike.
 * Answers how many: 0 where no challenge is open. */
size_t rulings_of(const struct state *state, struct ruling rulings[RULINGS_MAX]);
