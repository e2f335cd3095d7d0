/* The fold: a bout's events read one after the other, into what there is to know of it.
 * An ordinary event is read once, when it comes. A correction (void, amend, restart, another
 * `bout`) reads the whole bout anew: nothing derived is patched by hand, and both ways always
 * agree. Sources: docs/events.md, sections 2 to 4.
 * Pure; memory from the caller's allocate and release. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "rules/log.h"
#include "stats/clock.h"
#include "stats/leader.h"

/* What became of one event of the bout. */
struct read_event {
    const struct event *event; /* as amended by what stands */
    bool stands;               /* all below is 0 where it doesn't */
    bool confirmed;            /* it is not unconfirmed, or the officials have confirmed it */
    bool amended;
    bool gives_points;                 /* an entry in the order of points … */
    bool by_technique;                 /* … by technique */
    uint8_t giver;                     /* enum side: whose points they are */
    uint8_t attack_class;              /* of an attack: enum attack_class */
    bool named_by_own, named_by_other; /* of an attack: a score names it */
    int32_t period, t_ms;              /* its bout time, within the length */
    int32_t next, previous;            /* in the order of points: places; EVENT_NONE at the ends */
    int32_t attack_points;             /* of an attack: of its side's scores that name it */
    int32_t was_points;                /* the points before the latest amendment of them; 0: none */
};

enum attack_class {
    ATTACK_UNCOUNTED,
    ATTACK_TRIED,
    ATTACK_WAS_STOPPED,
    ATTACK_WAS_COUNTERED,
    ATTACK_HAS_SCORED
};

struct attempts {
    int tried, scored, points;
};

struct technique_row {
    const char *technique;
    struct attempts sides[2];
};

struct attack_tally {
    int tried, scored, stopped, countered;
    struct attempts legs[3]; /* enum leg */
};

struct challenge_state {
    bool lost;
    int32_t open; /* place of the event that asked, or EVENT_NONE */
};

struct activity {
    enum side side; /* SIDE_NONE: none is on */
    int period;
    int32_t t_ms; /* the bout time at which it began */
};

struct fold {
    const struct bout *bout;
    struct arena arena; /* what one reading of the whole bout needs; anew with each correction */
    struct read_event *events;
    size_t count, capacity;        /* how many events have been read */
    const struct details *details; /* the latest */
    uint64_t called_seq;           /* of the `bout` event that last called it to its mat */
    struct clock clock;
    int64_t latest_moment_ms;        /* of all events, standing or not */
    struct tallies all, confirmed;   /* first and last point: as keyed; state_of has them moved */
    int32_t first_entry, last_entry; /* of the order of points: places, or EVENT_NONE */
    int unconfirmed[2];
    int32_t confirmed_below; /* every event before this place is confirmed */
    int passivity[2][4];     /* by enum passivity_stage */
    struct challenge_state challenge[2];
    int32_t position, stoppage, close; /* places of the events that hold, or EVENT_NONE */
    struct activity activity;
    struct attack_tally attacks[2];
    struct technique_row *rows;
    size_t row_count, row_capacity;
};

void fold_init(struct fold *fold, const struct bout *bout, void *(*allocate)(size_t),
               void (*release)(void *));
void fold_close(struct fold *fold);
/* Reads on to the bout's first `count` events. False without memory: then the fold is as empty as
 * at the start, and may be asked again. */
bool fold_read(struct fold *fold, size_t count);
/* Adds what a standing event brings (points, its hold, a caution) to tallies of the caller's, as
 * the newest of the order of points. Nothing, for an event that brings none. */
void fold_count(const struct fold *fold, struct tallies *tallies, const struct read_event *read);
