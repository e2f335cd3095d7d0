/* What one bout says of each side, for those who look at many bouts: attempts and conversions by
 * technique and leg, points by period and minute, who scored first and what came of it, how far
 * behind the side was that won, how it ended, and the score with each full minute gone.
 * Everything is taken from the fold, counted as docs/state.md counts it, the unconfirmed points
 * included, so that an archive made of accounts can't disagree with the states that were shown.
 * Pure: no clock, no I/O; memory from the caller's arena. Texts are the log's own. */
#pragma once
#include "rules/arena.h"
#include "stats/state.h"

enum { ACCOUNT_LATE_MS = 30000, ACCOUNT_MINUTE_MS = 60000 };

struct account_attempts { /* of one side, by the first technique and the leg; never all zeros */
    const char *technique;
    enum leg leg; /* LEG_NONE: none was keyed */
    int tried, scored, stopped, countered, points;
};

/* The points of one minute of the bout. A minute begins with every full minute of bout time; what
 * is scored as a period's time ends belongs to that period and its last minute. */
struct account_minute {
    int period; /* from 1 */
    int minute; /* of the whole bout, from 0: the first */
    int points[2];
};

struct account_course { /* as it stood when so many full minutes were gone */
    int minutes;        /* from 1; only where the bout went on after it */
    int points[2];
    enum side leader; /* with the criteria, as they were then */
};

struct account_side {
    int points;
    int behind_most;        /* the most points that it was behind, in the order of points */
    int32_t first_score_ms; /* bout time of its first points; EVENT_NONE: none */
    int late_scores;        /* scores of it in the last ACCOUNT_LATE_MS of a period */
    struct account_attempts *attempts;
    size_t attempt_count;
    const char **notes; /* to the booth, on this side, in the order of the log */
    size_t note_count;
};

struct account {
    bool begun;  /* a clock ran, or somebody has points; a forfeit may be closed without */
    bool closed; /* a result stands */
    const char *how, *code; /* NULL where it isn't closed */
    enum side winner;       /* SIDE_NONE: nobody has won */
    int64_t time_ms;        /* over the whole bout: at the close, else as far as it went */
    int64_t length_ms;      /* all periods */
    const char *style;      /* as called, or the edition's only one; NULL: it can't be told */
    enum side scored_first; /* first in the order of points */
    struct account_side sides[2];
    struct account_minute *minutes; /* in the order of time; without those without points */
    size_t minute_count;
    struct account_course *course;
    size_t course_count;
};

/* The style as called, or the edition's only one; NULL: it can't be told. */
const char *account_style(const struct details *details);
/* False without memory. */
bool account_of(struct account *account, const struct state *state, struct arena *arena);
