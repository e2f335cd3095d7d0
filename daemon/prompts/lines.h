/* Sentences for those without pictures: what an event, or the clock by itself, has just made of the
 * bout. A sentence, once out, never changes, so each says only what is settled: an unconfirmed
 * score is told as not confirmed yet, without who leads; while a challenge is open nobody is said
 * to lead; nobody has won before the result stands. Corrections and details that come later are
 * sentences of their own. Public notes are told as they are written, those to the booth never.
 * The officials' sheet decides, not these lines.
 * Source of the words: common practice of the trade (language.h).
 * Pure: no clock, no I/O, no allocation. */
#pragma once
#include "prompts/language.h"
#include "stats/state.h"

enum {
    LINES_MAX = 4,
    LINE_BYTES_MAX = 300,         /* of our own sentences */
    LINE_TEXT_SIZE = 4 * 280 + 1, /* a note has up to 280 characters */
};

enum line_kind {
    LINE_CALL,
    LINE_CLOCK,
    LINE_SCORE,
    LINE_ATTACK,
    LINE_REFEREE,
    LINE_CORRECTION,
    LINE_RESULT,
    LINE_NOTE,
};
const char *line_kind_name(enum line_kind kind); /* "score" */

struct line {
    char text[LINE_TEXT_SIZE];
    enum line_kind kind;
    enum side side; /* whom it is about; SIDE_NONE: both, or neither */
    int period;     /* 0: the clock hasn't begun, there is no bout time */
    int32_t t_ms;
    int32_t place; /* of the event; EVENT_NONE: time alone made it */
};

/* What the lines told so far rest on: a state in small, kept between two events. */
struct telling {
    enum phase phase;
    bool keyed; /* the clock has begun */
    int period;
    bool used_up;         /* and that has been told */
    struct leader leader; /* by what is confirmed */
    enum due due;         /* likewise */
    enum side activity;
};
struct telling telling_of(const struct state *state);

/* The lines for the event at `place`, the last that `after` has read. `before` is the telling of
 * the state just before it (time that has run out since then is told by lines_at_time first); NULL
 * for a bout's first event. Answers how many. */
size_t lines_after(const struct language *language, const struct telling *before,
                   const struct state *after, size_t place, struct line lines[LINES_MAX]);
/* The lines for what time alone has done: a period's end. */
size_t lines_at_time(const struct language *language, const struct telling *before,
                     const struct state *after, struct line lines[LINES_MAX]);
