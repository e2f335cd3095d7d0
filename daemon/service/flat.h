/* An output's values one by one, each under a name of its own: for graphics gear and scripts that
 * want no nested state. What the output is shown, at its delayed moment, as the public may know it;
 * what derives from points that aren't sure is not there, and nobody is the winner before the
 * result stands. The names are one table (flat.c) and the same whatever is known; docs/wire.md. */
#pragma once
#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "producing/output.h"

struct service;

enum flat_name {
    FLAT_OUTPUT,
    FLAT_MAT,
    FLAT_LINE,
    FLAT_PANEL,
    FLAT_TEXT,
    FLAT_HOLD,
    FLAT_BOUT,
    FLAT_NUMBER,
    FLAT_STAGE,
    FLAT_STYLE,
    FLAT_AGE_GROUP,
    FLAT_WEIGHT,
    FLAT_PHASE,
    FLAT_PERIOD,
    FLAT_PERIODS,
    FLAT_CLOCK,
    FLAT_CLOCK_ELAPSED,
    FLAT_CLOCK_LEFT_MS,
    FLAT_CLOCK_RUNS,
    FLAT_CLOCK_UNSURE,
    FLAT_RED_NAME,
    FLAT_RED_FAMILY,
    FLAT_RED_TEAM,
    FLAT_RED_NOC,
    FLAT_RED_SCORE,
    FLAT_RED_UNCONFIRMED,
    FLAT_RED_CAUTIONS,
    FLAT_BLUE_NAME,
    FLAT_BLUE_FAMILY,
    FLAT_BLUE_TEAM,
    FLAT_BLUE_NOC,
    FLAT_BLUE_SCORE,
    FLAT_BLUE_UNCONFIRMED,
    FLAT_BLUE_CAUTIONS,
    FLAT_LEADER,
    FLAT_LEADER_BY,
    FLAT_ACTIVITY,
    FLAT_ACTIVITY_LEFT,
    FLAT_UNDER_REVIEW,
    FLAT_RESULT_HOW,
    FLAT_RESULT_CODE,
    FLAT_RESULT_TIME,
    FLAT_WINNER,
    FLAT_WINNER_NAME,
    FLAT_COUNT
};

enum { FLAT_TEXT_SIZE = 601 };

struct flat {
    char texts[FLAT_COUNT][FLAT_TEXT_SIZE]; /* "": not known */
    int64_t next_ms; /* so long until a clock's text changes by time alone; INT64_MAX: it doesn't */
};

const char *flat_name(enum flat_name name); /* "red_score" */
bool flat_moves(enum flat_name name);       /* with every millisecond: for who asks alone */
void flat_read(struct flat *flat, struct service *service, const struct output *output);
json_t *flat_json(const struct flat *flat); /* what isn't known is left out; NULL: no memory */
/* RFC 4180: the names, then the values. A cell that a spreadsheet would take for a formula begins
 * with an apostrophe. malloc'd; NULL without memory. */
char *flat_csv(const struct flat *flat);
