/* What an edition says of draws: how many entries wrestle in which form, where qualification bouts
 * and seeds go, how those are ranked whom no bout ranks, and what a place gives a team.
 * Sources: each edition's own; docs/rules.md, "Draws", says what each member means.
 * Pure: no allocation; keeps nothing that it is given. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include "rules/complaint.h"
#include "rules/value.h"

enum {
    RANK_CRITERIA_MAX = 7,
    TEAM_PLACES_MAX = 16,
    DRAW_ENTRIES_MAX = 64, /* in one weight */
};

#define RANK_CRITERIA(X)                                                                           \
    X(RANK_VICTORIES, "victories")                                                                 \
    X(RANK_DIRECT_MATCH, "direct_match")                                                           \
    X(RANK_CLASS_POINTS, "class_points")                                                           \
    X(RANK_FALLS, "falls")                                                                         \
    X(RANK_SUPERIORITIES, "superiorities")                                                         \
    X(RANK_POINTS_SCORED, "points_scored")                                                         \
    X(RANK_POINTS_GIVEN, "points_given") /* the fewer, the better */
enum rank_by {
    RANK_BY_NOTHING,
#define X(criterion, name) criterion,
    RANK_CRITERIA(X)
#undef X
};
const char *rank_by_name(enum rank_by by); /* "direct_match" */

struct draw_rules {
    bool given;       /* false: the edition says nothing of draws, and all below is 0 */
    int nordic_up_to; /* up to so many entries: everyone meets everyone */
    int pools_up_to;  /* beyond those, up to so many: two pools, then semi-finals crosswise */
    bool spread;      /* qualification bouts all over the bracket; else from the bottom up */
    enum rank_by nordic_ranking[RANK_CRITERIA_MAX + 1]; /* ended by RANK_BY_NOTHING */
    enum rank_by ranking[RANK_CRITERIA_MAX + 1]; /* of those whom no bout for a place ranks */
    int team_points[TEAM_PLACES_MAX];            /* [0]: of the first place */
};

/* Reads an edition's member `draw`; NULL: it has none. False: refused, `pointer` from "/draw" on.
 */
bool draw_rules_read(struct draw_rules *rules, const struct value *draw,
                     struct complaint *complaint);
