/* Taking events in: the one path from bytes to everybody's screens.
 * Batches are taken whole or not at all; they are answered in the order in which they came, after
 * their commit. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "access/access.h"
#include "rules/complaint.h"
#include "wire/openmetrics.h"

enum {
    INTAKE_BATCH_MAX = 10000,  /* events in one */
    INTAKE_WAITING_MAX = 1024, /* batches not yet on disk; above it, new ones are told to wait */
};

struct service;
struct intake_batch;

enum intake_outcome {
    INTAKE_TAKEN,     /* on disk; `items` tells the numbers */
    INTAKE_REFUSED,   /* see the complaint; nothing changed */
    INTAKE_FORBIDDEN, /* its sender may not key that: likewise */
    INTAKE_STOPPED,   /* the disk has failed: see `reason` */
    INTAKE_BUSY,      /* too much waits */
    INTAKE_TOO_FAST,  /* its source: again after `wait_ms` */
    INTAKE_NO_MEMORY,
};
enum { INTAKE_OUTCOME_COUNT = INTAKE_NO_MEMORY + 1 };

struct intake_item {
    const char *id; /* the log's own copy */
    uint64_t seq;
};

struct intake_answer {
    enum intake_outcome outcome;
    const struct intake_item *items;
    size_t count;
    const struct complaint *complaint;
    const char *reason;
    int64_t wait_ms;
    const char *id; /* of the event complained of, where it could be read; else NULL */
};

/* Of this run. An input is one event, or one batch. */
struct intake_counts {
    uint64_t inputs[INTAKE_OUTCOME_COUNT];
    uint64_t events, repeated;       /* of what was taken: new ones; and those known before */
    struct histogram folds, answers; /* of an event; of an input that is taken, until its answer */
};

struct intake {
    struct intake_counts counts;
    struct intake_batch *first, *last; /* those that wait for the disk */
    size_t waiting_count;
    uint64_t committed_seq; /* all up to here is on disk, folded and shown */
    bool failure_told;      /* it was reported that the store can't be written */
};

#define INTAKE_ANYONE "table" /* who keyed it, where nobody has a key */

struct intake_source {
    const char *by;     /* who keyed it */
    struct grant grant; /* what they may key; borrowed during intake_take */
    /* Whose speed it is: a key's name, or an address; borrowed. NULL: nobody's, it has no limit. */
    const char *source;
    bool own; /* the daemon itself: may key anything */
    /* Called once, at once or later, on the loop. NULL: nobody wants to know. */
    void (*answer)(void *who, const struct intake_answer *answer);
    void *who;
};

/* One event, or with `lines` NDJSON; the text is borrowed. */
void intake_take(struct service *service, const struct intake_source *source, const char *text,
                 size_t size, bool lines);
/* `who` has gone: whatever waits for it is answered to nobody. */
void intake_forget(struct service *service, const void *who);
/* Reports, once, that the store can't be written, if that is so. */
void intake_tell_failure(struct service *service);
/* Reads the store into the log and the hall, at the start. False: reported. */
bool intake_load(struct service *service);
