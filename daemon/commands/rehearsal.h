/* A log as something to be played again: what is sent to a daemon, and when.
 *
 * At speed 1 every event is keyed as long after the start as it was in the log: its `keyed_at` says
 * so, and with it every bout time is as in the log, to the millisecond.
 * At another speed N the rhythm is N times as fast, but a running clock is not: events carry the
 * bout time that the log ends with for them, and after whatever starts, stops or changes a clock a
 * `set` follows with the log's time (its id is the event's with ".set"). A clock that ran out in
 * the log is set to its end then. So scores, order, endings and results come out as in the log,
 * while a clock on a page goes on in jumps. What may differ at the end: times beyond the length of
 * a bout whose length is changed under way; the position and an activity time after a correction of
 * the clock itself; slower than life, an activity time that the page's clock has ended too early.
 * Exactly: all at once, every event keyed when it was in the log, the whole shifted so that the
 * last one was just keyed. Every state is as in the log, shifted; a clock that runs when the log
 * ends has run for as long as there.
 *
 * `at`, `seq` and `by` are the daemon's to set and are left out. `clock` `lost` is the daemon's own
 * word: a `stop` stands for it. The log is read only; nothing here asks for the time. */
#pragma once
#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "rules/log.h"

enum rehearsal_pace { REHEARSAL_IN_RHYTHM, REHEARSAL_EXACT };

struct rehearsal_line {
    int64_t due_ms;   /* after the start */
    int64_t keyed_ms; /* when it is keyed, after the start; negative: before it */
    bool keyed;       /* it says when; events of the day do only where they did in the log */
    size_t order;     /* among lines that are due together */
    uint64_t seq;     /* the event's number in the log that it is, or stands behind */
    json_t *event;    /* keyed_at comes with the message */
    const char *id;   /* the event's */
};

struct rehearsal {
    struct rehearsal_line *lines; /* in the order in which they are sent */
    size_t count, capacity;
    int64_t length_ms; /* from the first to the last */
};

/* `speed` is of a rehearsal in rhythm. False: no memory; then there is nothing to free. */
bool rehearsal_make(struct rehearsal *rehearsal, const struct log *log, enum rehearsal_pace pace,
                    double speed);
void rehearsal_free(struct rehearsal *rehearsal);
/* The message that sends it, when the rehearsal began at `start_ms` on the daemon's clock. Gives
 * malloc'd text; NULL without memory. */
char *rehearsal_message(struct rehearsal_line *line, int64_t start_ms);
