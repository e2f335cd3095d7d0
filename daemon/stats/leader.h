/* Who leads, and by which criterion: who wins if the bout ends now.
 * More points lead; at a level score the edition's tie-break clauses are tried in their order, and
 * the first whose conditions hold decides by its criteria. Source: the edition's `source`
 * (document and articles), and docs/events.md, section 5.
 * Pure: no clock, no I/O, no allocation; keeps nothing that it is given. */
#pragma once
#include <stdint.h>
#include "rules/edition.h"
#include "rules/side.h"

struct tally { /* what one side has, of all that stands or of what is confirmed */
    int points;
    int holds[EDITION_VALUE_MAX + 1]; /* holds[2]: entries of value 2 */
    int by_technique;                 /* entries that are points by technique */
    int cautions;                     /* given against this side */
};

struct tallies {
    struct tally sides[2];             /* side_index() */
    enum side first_point, last_point; /* in the order of points; SIDE_NONE: none yet */
};

struct leader {
    enum side side;    /* SIDE_NONE: nothing separates them */
    enum criterion by; /* BY_NOTHING exactly when side is SIDE_NONE */
};

struct leader leader_of(const struct edition *edition, const struct tallies *tallies);
/* The clause that decides at a level score; NULL: none does. */
const struct tie_clause *tie_clause_of(const struct edition *edition,
                                       const struct tallies *tallies);
/* Whom one criterion alone is for. */
enum side separated_by(enum criterion by, const struct tallies *tallies);
/* The tallies with one point by technique of that value more, the last one. */
struct tallies tallies_with(const struct tallies *tallies, enum side side, int value);
/* The margin of superiority is reached, by either side. */
bool tallies_superior(const struct edition *edition, const struct tallies *tallies);
