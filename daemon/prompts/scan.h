/* What the rules for cards look at: a bout's attempts, points and runs of the clock, taken from the
 * fold once and put in order, and questions about time that remember when their answer changes.
 * "Bout time" here is over the whole bout: earlier periods count whole.
 * Pure; no allocation: a scan is some 50 kB, for the stack. A bout with more than the lists hold
 * isn't `complete`, and nothing is said of it: half a list would give wrong figures. */
#pragma once
#include "prompts/text.h"
#include "stats/state.h"

enum {
    TRIES_MAX = 256,
    ENTRIES_MAX = 256,
    RUNS_MAX = 256,
    SPELL_MS = 30000, /* after so long without points nobody is taken to be on top */
};

/* An attempt: an attack, or a score with a technique that names none (docs/events.md counts it as
 * one). In the order of bout time. */
struct
try {
    const struct event *event;
    int32_t place, bout_ms;
    int64_t moment_ms;
    enum side side;
    int period;
    const char *first, *last; /* techniques: the entry, and what it was changed to */
    enum leg leg;
    enum attack_class class; /* ATTACK_UNCOUNTED: still open */
    int32_t against;         /* points that the other side's scores took from it */
    int32_t finish_place;    /* of the last score that names it; EVENT_NONE: none does */
    bool settled;            /* every score that it rests on is confirmed */
};

struct entry { /* in the order of points */
    const struct event *event;
    int32_t place, bout_ms;
    int64_t moment_ms;
    enum side side; /* who has the points */
};

struct run { /* the clock ran from … to; in the order in which it did */
    int period;
    int32_t from_bout_ms, to_bout_ms;
    int64_t from_ms, to_ms; /* moments */
    int32_t end_place; /* of the event that ended it; EVENT_NONE: the time ran out, or it goes on */
    bool started;      /* by a `start`, not by setting the time */
    bool going;
};

struct scan {
    const struct language *language;
    const struct state *state;
    const struct past *past;     /* of the archive; NULL: nothing is known */
    const struct around *around; /* of the day; NULL: nothing is known */
    const struct fold *fold;
    const struct details *details;
    const struct edition *edition;
    struct naming names; /* family names where given */
    struct try tries[TRIES_MAX];
    struct entry entries[ENTRIES_MAX];
    struct run runs[RUNS_MAX];
    size_t try_count, entry_count, run_count;
    int32_t now_bout_ms;
    bool complete;
    bool greco;      /* no leg attack is one there */
    bool settled;    /* no point, caution or passivity waits to be confirmed */
    bool reviewed;   /* a challenge or a look at the recording is going on */
    int64_t next_ms; /* the earliest moment at which an answer given so far changes by time alone */
};

void scan_take(struct scan *scan, const struct language *language, const struct state *state);

/* ---- time: each remembers in next_ms when its answer changes ---- */

bool scan_bout_time_reached(struct scan *scan, int32_t bout_ms);
bool scan_moment_reached(struct scan *scan, int64_t moment_ms);
/* So much or less is left of the bout, all periods. */
bool scan_left_at_most(struct scan *scan, int32_t left_ms);

int32_t scan_bout_length(const struct scan *scan);
/* The bout time at that moment: where the clock stood, or had come to. */
int32_t scan_bout_time_at(const struct scan *scan, int64_t moment_ms);
/* When the clock last came to that bout time; the bout's start where it never was there. */
int64_t scan_moment_at(const struct scan *scan, int32_t bout_ms);
/* When an event came to be known as it stands: keyed, amended for the last time, confirmed. */
int64_t scan_known_ms(const struct scan *scan, int32_t place);

/* ---- attempts and points ---- */

bool try_counts(const struct try *try); /* its outcome is known */
bool try_has_setup(const struct try *try, const char *setup);
/* The side's last attempt, or the last before `before`; NULL: none. Open ones are among them. */
const struct try *scan_last_try(const struct scan *scan, enum side side, const struct try *before);
/* The first attempt of a side after another in the same period, not later than `within_ms`. */
const struct try *scan_answer(const struct scan *scan, enum side side, const struct try *to,
                              int32_t within_ms);
/* Attempts of a side with a known outcome in the bout time from … up to, with `from` and without
 * `to`. */
int scan_tries_between(const struct scan *scan, enum side side, int32_t from_bout_ms,
                       int32_t to_bout_ms);
bool entry_is(const struct entry *entry, enum side side, const char *action);
int scan_actions(const struct scan *scan, enum side side, const char *action);

/* Points of one side in one go: nobody else scored, the clock didn't stop, no gap of SPELL_MS. */
struct spell {
    size_t first, count; /* in entries */
    int points, exposures;
};
/* The last points of the bout, if they are this side's and by an action that brings it on top.
 * count 0: no such spell. */
struct spell scan_spell(const struct scan *scan, enum side side);
bool scan_on_top(struct scan *scan, enum side side); /* as far as is known */
bool scan_stopped_since(const struct scan *scan, int64_t moment_ms, int32_t place);

/* What the edition usually gives the other side; `none` where it doesn't say. */
int scan_caution_points(const struct scan *scan, const char *reason, int none);
int scan_passivity_points(const struct scan *scan, int none);
