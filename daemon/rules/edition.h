/* A rule edition: the rules of one style and one span of years, as data.
 * Which values an action can have, how long a bout lasts, what ends it early, who leads at a level
 * score, what an ending is worth. Nothing about rules is decided anywhere else.
 * Sources: each edition names its own documents and articles (member `source`); the members are
 * described in docs/rules.md. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "rules/complaint.h"
#include "rules/draw_rules.h"
#include "rules/side.h"
#include "rules/value.h"

enum {
    EDITION_VALUE_MAX = 15,   /* the largest value that one action can have */
    EDITION_CRITERIA_MAX = 6, /* criteria in one clause */
    EDITION_NONE = -1,        /* an absent number below */
};

enum criterion {
    BY_NOTHING,
    BY_POINTS,
    BY_HOLDS,
    BY_CAUTIONS,
    BY_LAST_POINT,
    BY_FIRST_POINT,
    BY_TECHNIQUE,
};
const char *criterion_name(enum criterion by); /* "last_point" */

enum activity_end { ACTIVITY_ENDED_BY_NAMED, ACTIVITY_ENDED_BY_EITHER };

struct age_group {
    const char *name; /* "seniors" */
    int periods;      /* 1–9 */
    int32_t period_ms, break_ms;
    int32_t forced_call_ms; /* EDITION_NONE: no call is forced */
};

/* One tie-break clause: it decides when every condition that it names holds. */
struct tie_clause {
    int score;                         /* the exact level score, or EDITION_NONE */
    int cautions_least, cautions_most; /* to both sides together; least EDITION_NONE: any */
    int by_technique;                  /* sides with a point by technique, or EDITION_NONE */
    enum criterion order[EDITION_CRITERIA_MAX + 1]; /* ends with BY_NOTHING */
};

struct ending {
    const char *name; /* "superiority" */
    bool has_winner;
    bool by_points; /* code and points hang on whether the loser has points */
    /* [0]: the loser is without points, or it doesn't matter; [1]: the loser has some */
    struct {
        const char *code;
        int winner, loser; /* classification points */
    } worth[2];
};

struct edition {
    const char *name;
    const struct value *document; /* the whole file as it was read */
    const char **styles;
    size_t style_count;
    struct age_group *age_groups;
    size_t age_group_count;
    bool values[EDITION_VALUE_MAX + 1];          /* values[2]: an action can be worth 2 */
    const char **actions[EDITION_VALUE_MAX + 1]; /* their names, ended by NULL; NULL: none */
    int superiority;                             /* the margin */
    struct tie_clause *ties;
    size_t tie_count;
    int cautions_out;    /* so many cautions lose the bout */
    int32_t activity_ms; /* EDITION_NONE: no activity time */
    enum activity_end activity_ended_by;
    bool penalty_points_are_holds, penalty_is_caution;
    struct ending *endings;
    size_t ending_count;
    struct draw_rules draw;
};

/* Reads an edition's document; everything in `edition` lives in `arena`, the document too (it is
 * copied). False: refused, with the place and the reason; or, with `why` ACCEPTED, no memory. */
bool edition_read(struct edition *edition, const struct value *document, struct arena *arena,
                  struct complaint *complaint);

bool edition_has_style(const struct edition *edition, const char *style);
/* NULL `name` asks for `seniors`, which every edition has; NULL: it has none of that name. */
const struct age_group *edition_age_group(const struct edition *edition, const char *name);
bool edition_has_action(const struct edition *edition, int value, const char *action);
/* Points by technique: all actions but `injury_stop` (the referee's guide of the DRB: a stop for an
 * injury that is not visible gives the other side a point) and `bout_stop`, which is what the
 * public is told of that where it may hear nothing of injuries (access/privacy.h). */
bool action_is_technique(const char *action);
const struct ending *edition_ending(const struct edition *edition, const char *name); /* or NULL */

/* The editions that a log may name. The array is the owner's; names are unique. */
struct editions {
    struct edition *items;
    size_t count;
};
const struct edition *editions_find(const struct editions *editions, const char *name);
