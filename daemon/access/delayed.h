/* What a delayed audience is shown of a bout: its log as they may know it, some time ago.
 *
 * An audience with a delay is shown each event when it falls due: when it was accepted, and the
 * delay later. Whoever keyed a slip and corrected it before that (`why` keying, which is the
 * default) has kept it from them: a voided event is as if it had never been keyed, an amended one
 * is shown as amended, once, and the correction itself says nothing when its own turn comes.
 * Corrections of the officials, and those that came too late, reach them at their own time.
 * Where the void or the amend that hid something is itself voided later, that too comes at its own
 * time, and then the bout stands as if nothing had been hidden.
 * An early amend that names an event which isn't due yet waits for its turn, as do all that come
 * after it: so whatever has come due leaves the same score, clock and leader as the log itself.
 * Source: the contract's words on delay (docs/wire.md, "Delay").
 *
 * As access/privacy.h does it: everything that is shown is made by the same fold and the same
 * sentences, but of a copy of the log, in which what is hidden is EVENT_HIDDEN.
 * Pure: no clock, no I/O; memory from the caller's allocate and release. */
#pragma once
#include "rules/log.h"

/* ---- when ---- */

enum { DELAY_MS_MAX = 120000 };

struct delay_change {
    int64_t since_ms, delay_ms; /* from that moment on it is so much */
};

/* An audience's delays, one after the other. There was none before the first. */
struct delays {
    const struct delay_change *changes;
    size_t count;
};

/* V: the moment that the audience has come to at `real_ms`. It never goes back: a lower delay
 * catches up at once, a higher one holds still until its time has come. */
int64_t delays_shown(const struct delays *delays, int64_t real_ms);
/* The first moment at which the audience has come to `at_ms`. */
int64_t delays_due(const struct delays *delays, int64_t at_ms);
/* When an event belongs to the course of things: when it was accepted; for a lost clock, when it
 * was last seen to run. */
int64_t event_comes_at(const struct event *event);
/* When the audience is shown it: it has come to that moment, and the event is there. */
int64_t event_due(const struct event *event, const struct delays *delays);

/* ---- what ---- */

struct delayed_place; /* what became of an event of the source */

struct delayed_bout {
    struct arena arena;
    struct bout bout; /* places, ids, seqs and moments are the source's */
    const struct bout *source;
    struct delayed_place *places;
    bool *stands;
    size_t place_capacity;
    size_t looked;   /* so many of the source's events have been looked at */
    bool anew;       /* the last event read has changed what was read before it: read all anew */
    bool has_hidden; /* something was hidden, or shown as amended, at some time */
};

/* Borrows the source for as long as it lives. */
void delayed_bout_init(struct delayed_bout *delayed, const struct bout *source,
                       void *(*allocate)(size_t), void (*release)(void *));
void delayed_bout_close(struct delayed_bout *delayed);
/* Reads the source's next event, which must be there and falls due at `due_ms`, never earlier than
 * the one before. `known_seq`: so many of the whole log's events are there for good. False without
 * memory: then nothing more can be read. */
bool delayed_bout_read(struct delayed_bout *delayed, int64_t due_ms, uint64_t known_seq);
