/* The log on disk: SQLite, WAL, synchronous=FULL, one row an event; and beside it a few small texts
 * that are kept, each in place of the one before.
 * Appending happens off the loop on libuv's thread pool, many waiting appends in one transaction
 * (group commit); the answer comes on the loop after the commit, in the order of the calls.
 * A commit that fails stops the journal for good: this and every later append is answered with the
 * failure, nothing is retried (a second fsync after a failed one may lie). What stands is still
 * readable. Source of the last point: the PostgreSQL project's note on fsync errors, Nov 2018.
 *
 * The file is held by one daemon at a time, while others may read it, and is looked through when it
 * is opened: its structure, a checksum of every event, and that none is missing. What is found
 * there and set right is told; what can't be is refused (store.h says which is which). An event
 * that was answered with a failure may or may not be there after the next start. */
#pragma once
#include <stddef.h>
#include <stdint.h>
#include <uv.h>
#include "wire/openmetrics.h"

struct journal;

enum { JOURNAL_REASON_SIZE = 600 }; /* enough for any sentence of this module */

struct journal_row {
    uint64_t seq;     /* 1, 2, 3 … without gaps */
    const char *text; /* the event as it is kept, one line of JSON with at, seq and by */
    size_t size;
};

struct kept {    /* a small text that is no event: what an output shows, say. No part of the log */
    uint64_t id; /* the later it was kept, the higher */
    const char *name, *text;
};

/* Opens or makes the store. 0, or a negative libuv code with one sentence in `reason`
 * (a file that is no store of ours, a newer one, one that another daemon holds, a gap).
 * A store that can be read but not written now (a full disk) is opened with its failure. */
int journal_open(struct journal **journal, uv_loop_t *loop, const char *path, char *reason,
                 size_t reason_size);
/* What the opening found, a sentence: what is lost, what was made anew. "": nothing. */
const char *journal_notice(const struct journal *journal);
/* Names this life of the store: what was made with the store, a dot, and what is made at every
 * opening; [0-9a-f.]. Topics count their versions anew in every run, so no two runs share it. */
const char *journal_epoch(const struct journal *journal);
/* What names the store itself, over all its runs. */
const char *journal_store(const struct journal *journal);
/* The rows in order, on the caller's thread, before the first append. A non-zero answer of `each`
 * ends it and is returned. */
int journal_read(struct journal *journal, int (*each)(void *context, const struct journal_row *row),
                 void *context);

/* Appends rows (at least one, copied), which go on from the last, all together or not at all.
 * `done` comes on the loop, with 0 or the failure; never before this call has returned.
 * 0, UV_ENOMEM, or the failure that stopped it; then `done` doesn't come. */
int journal_append(struct journal *journal, const struct journal_row *rows, size_t count,
                   void (*done)(void *context, int status), void *context);
/* Keeps one small text under a name, in place of the one that was kept under it; "" takes it away.
 * Order, answer and failure as with journal_append, and in the same commits; UV_ECANCELED once it
 * is being closed, from within the last answers. Borrows both. */
int journal_keep(struct journal *journal, const char *name, const char *text,
                 void (*done)(void *context, int status), void *context);
/* What is kept, in the order in which it was last kept; before the first append. A non-zero answer
 * of `each` ends it and is returned. */
int journal_read_kept(struct journal *journal, int (*each)(void *context, const struct kept *kept),
                      void *context);
int journal_failure(const struct journal *journal, const char **reason); /* 0 while it works */
size_t journal_waiting(const struct journal *journal); /* appends not yet answered */

/* How long the commits took that had events in them, and worked: until they were on the disk. */
const struct histogram *journal_commits(const struct journal *journal);
/* For how long the job under way has kept the pool; 0: none is. A disk that hangs looks like this.
 */
uint64_t journal_busy_ms(const struct journal *journal);

/* When a daemon dies its clock of life stops here: the last time it is known to have run.
 * Written at most once a second with the loop's tick, without waiting; a disk too full for it does
 * not stop the journal, the next append tells. */
void journal_note_alive(struct journal *journal, int64_t at_ms);
int64_t journal_last_alive(const struct journal *journal); /* of the life before this; 0: none */

/* Answers what waits, then closes; `closed` comes on the loop. NULL `closed` is allowed. The
 * journal is gone when `closed` comes; only journal_waiting, journal_failure and journal_keep may
 * be called until then. */
void journal_close(struct journal *journal, void (*closed)(void *context), void *context);
