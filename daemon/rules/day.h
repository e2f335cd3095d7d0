/* The day as the latest `entry`, `slot` and `session` events leave it: the roster, the places in
 * the draw, the day's parts. A later event for the same athlete, slot or session replaces the
 * members that it names and keeps the others (docs/events.md, "The types of the day"). Who wrestles
 * in a slot hangs on results too: that is draw/picture.h's business. Pure: no clock, no I/O; memory
 * from the caller's allocate and release. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include "rules/arena.h"
#include "rules/event.h"
#include "rules/table.h"

struct athlete {         /* texts are the log's own; NULL where none was given */
    const char *athlete; /* the key in the roster */
    const char *name, *family, *given, *team, *age_group;
    const char *say, *noc, *style, *weight;
    const struct value *facts; /* an array of texts; NULL: none */
    int64_t seed;              /* 0: none was said */
    bool minor, minor_said;    /* minor_said: an entry has said whether */
    bool consent, out;
};

/* Where one side of a slot comes from. */
enum slot_from {
    FROM_NOTHING, /* left out: it isn't known, or hangs on who reaches the final */
    FROM_ATHLETE,
    FROM_WINNER, /* of the slot `name` */
    FROM_LOSER,
};
struct slot_side {
    enum slot_from from;
    const char *name; /* an athlete's key or a slot */
};

struct slot { /* texts as in struct athlete */
    const char *slot;
    const char *number, *mat, *stage, *style, *age_group, *weight, *rules, *starts_at;
    int64_t order;
    bool order_said;
    struct slot_side sides[2]; /* side_index() */
    size_t place;              /* in the order in which they were first keyed, from 0 */
};

struct session {
    const char *session, *name, *mat;
    bool running;
};

struct day {
    struct arena arena;
    struct table known;        /* key to struct athlete */
    struct athlete **athletes; /* in the order in which they were entered */
    size_t count, capacity;
    struct table known_slots; /* name to struct slot */
    struct slot **slots;      /* in the order in which they were first keyed */
    size_t slot_count, slot_capacity;
    struct session **sessions; /* as above; few, so there is no table of them */
    size_t session_count, session_capacity;
    uint64_t read_count; /* events so far: while it is the same, nothing here has changed */
};

void day_init(struct day *day, void *(*allocate)(size_t), void (*release)(void *));
void day_close(struct day *day);
/* Reads one event of the day; one of a bout changes nothing. False without memory. */
bool day_read(struct day *day, const struct event *event);
const struct athlete *day_athlete(const struct day *day, const char *athlete); /* NULL: unknown */
const struct slot *day_slot(const struct day *day, const char *slot);          /* NULL: unknown */
