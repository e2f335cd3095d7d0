/* The state of a bout at one moment: all that there is to know of it, as plain values.
 * Members and meanings: docs/state.md, after section 4 of docs/events.md's contract. A function of
 * the fold and of `now` alone, so that live, replayed and restarted give the same.
 * Pure: no clock, no I/O, no allocation; borrows the fold. */
#pragma once
#include "stats/fold.h"

enum phase {
    PHASE_OFF,
    PHASE_CLOSED,
    PHASE_OVER,
    PHASE_LIVE,
    PHASE_BREAK,
    PHASE_CALLED,
    PHASE_STOPPED,
};
const char *phase_name(enum phase phase);

enum due { DUE_NOTHING, DUE_SUPERIORITY, DUE_CAUTIONS, DUE_TIME };
const char *due_name(enum due due); /* "" for DUE_NOTHING */

struct cell { /* what the bout would be if that side scored that value next */
    int points[2];
    struct leader leader;
    bool superiority;
};

struct needs { /* 0 where it isn't there */
    int to_lead, to_superiority;
};

struct result {
    const char *how, *code; /* NULL `how`: none stands */
    enum side winner;
    int class_points[2];
    int period;
    int64_t time_ms; /* elapsed over the whole bout */
    bool consistent, unconfirmed;
};

struct state {
    const struct fold *fold;
    int64_t now_ms; /* never earlier than the bout's latest moment */
    uint64_t seq;   /* the bout's last event that isn't hidden */
    enum phase phase;
    struct clock_reading clock;
    int32_t break_left_ms;         /* EVENT_NONE but in phase break */
    int64_t break_ends_ms;         /* the moment; only in phase break */
    struct tallies all, confirmed; /* with their order of points */
    struct leader leader, confirmed_leader;
    enum due due, confirmed_due;
    bool due_against[2];
    bool under_review;
    struct cell outlook[2][EDITION_VALUE_MAX + 1]; /* only the edition's values */
    struct needs needs[2];
    struct activity activity; /* as it is now */
    int32_t activity_left_ms;
    bool activity_running;
    int32_t forced_call_left_ms; /* EVENT_NONE: none is coming */
    int64_t stoppage_ms;         /* how long; only while the fold has a stoppage */
    struct result result;
    int64_t next_ms; /* when the state changes by itself (time used up); INT64_MAX: it doesn't */
};

/* The fold has read at least the bout's first event. */
struct state state_of(const struct fold *fold, int64_t now_ms);
/* Why the bout should end at this moment if its points and cautions were these. */
enum due state_due(const struct state *state, const struct tallies *tallies);
