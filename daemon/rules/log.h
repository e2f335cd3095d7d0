/* The log: every event that was accepted, bout by bout, in the order in which they came.
 * Admitting is the check of an event against all that came before it; what is admitted stays as it
 * is for good, and corrections are events like any other. What stands is standing.h's business.
 * Sources: docs/events.md, sections 1 and 2.
 * Memory: one arena, from the caller's allocate and release. */
#pragma once
#include "rules/arena.h"
#include "rules/complaint.h"
#include "rules/edition.h"
#include "rules/event.h"
#include "rules/table.h"

struct bout { /* one bout's log; read only for everybody else */
    const char *id;
    struct event *events; /* may move when an event is admitted: keep places, not pointers */
    size_t count, capacity;
    const struct details *details; /* the latest */
    int64_t clock_moment_ms;       /* the moment of its last clock event, standing or not */
    struct log *log;
};

struct admission {     /* one event of the log; and what it takes to take it back */
    struct bout *bout; /* NULL: a type of the day */
    const char *id;
    const struct details *details;
    int64_t clock_moment_ms;
};

struct log {
    struct arena arena, scratch;
    const struct editions *editions;
    struct table known;      /* id to struct known_event */
    struct table bout_table; /* id to struct bout */
    struct table names;      /* technique names, each kept once */
    struct bout **bouts;     /* in the order of their first events */
    size_t bout_count, bout_capacity;
    const struct event **day; /* the day's events */
    size_t day_count, day_capacity;
    struct admission *admissions; /* one an event: seq − 1 */
    size_t count, admission_capacity;
};

/* `editions` is borrowed for as long as the log lives. Takes no memory yet. */
void log_init(struct log *log, const struct editions *editions, void *(*allocate)(size_t),
              void (*release)(void *));
void log_close(struct log *log);

enum admitted {
    ADMITTED,     /* taken: `seq` is its number */
    REPEATED,     /* the same event again: `seq` is the first one's, and nothing changed */
    NOT_ADMITTED, /* refused: see the complaint */
    NO_MEMORY,    /* nothing changed */
};

enum intake_kind {
    INTAKE_FILE, /* `at` is required, `clock` `lost` taken from anyone */
    INTAKE_LIVE, /* the caller has stamped `at`; `lost` is refused */
    INTAKE_OWN,  /* the daemon's own event */
};

/* Admits one event, at the end of the log. `document` is borrowed (it is copied). On ADMITTED,
 * `bout` is the one that it belongs to, NULL for a type of the day. */
struct admittance {
    enum admitted admitted;
    uint64_t seq;
    struct bout *bout;
};
struct admittance log_admit(struct log *log, const struct value *document, enum intake_kind intake,
                            struct complaint *complaint);
/* The event's id if the log has it already with the same content; 0: it hasn't. */
uint64_t log_seq_of(const struct log *log, const char *id);
/* The event of that number, which must be there; until the next one is admitted. */
const struct event *log_event(const struct log *log, uint64_t seq);
struct bout *log_bout(const struct log *log, const char *id); /* NULL: no such bout */
/* Takes back every event after the first `count`; for a batch that is refused half way. */
void log_rewind(struct log *log, size_t count);
