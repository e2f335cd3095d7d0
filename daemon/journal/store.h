/* The file below the journal: an SQLite database with a table of events, one row about its life,
 * one that says which event was the last, and a table of the texts that are kept. Everything here
 * blocks and is for one thread at a time; journal.c keeps it off the loop.
 *
 * A row carries a checksum of its number and text, since SQLite finds a damaged page's structure
 * but not a flipped bit in a text. Source of the settings: SQLite's documents on WAL, PRAGMA
 * statements and the file format's application id; only synchronous=FULL outlives a power cut.
 *
 * One daemon at a time: it holds a lock of its own on the file (flock), which SQLite's locks don't
 * touch; beside it others may read, and what they read is one moment of the store.
 *
 * What was damaged while nobody held it is found at the opening:
 *   - ended too early (a torn write, a cut file): what is whole up to there is kept, the rest is
 *     told as lost, and the daemon goes on; the damaged files stay, under another name;
 *   - the log beside it broken in its middle, with every event still there: the same, nothing lost;
 *   - anything else: it is refused, with what is lost, and nothing is changed.
 *
 * Codes are 0 or negative libuv codes. UV_EBUSY: another process holds the file; UV_EFTYPE: no
 * store of ours, or a newer one; UV_EILSEQ: damaged; UV_EROFS, UV_ENOSPC, UV_EIO, UV_ENOMEM. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "journal/journal.h"

enum { STORE_EPOCH_SIZE = 17, STORE_REASON_SIZE = JOURNAL_REASON_SIZE };

struct store;

/* Opens or makes the file, takes it for this process alone, and looks through all of it. On
 * failure one sentence is in `reason`, and nothing but a new file was changed. */
int store_open(struct store **store, const char *path, char *reason, size_t reason_size);
/* To read one moment of it, whether a daemon holds it or not; nothing is changed. Damage is met
 * when it is read. */
int store_open_reading(struct store **store, const char *path, char *reason, size_t reason_size);
/* To look through all of it while no daemon holds it; nothing is changed, nothing is set right.
 * Also refused (UV_EILSEQ) where store_open would go on with less than there was. */
int store_open_checking(struct store **store, const char *path, char *reason, size_t reason_size);
/* `sound` false: something has failed. Then the write-ahead log is left as it is for the next start
 * to replay. NULL is allowed. */
void store_close(struct store *store, bool sound);

const char *store_epoch(const struct store *store);  /* 16 hexadecimal digits */
int64_t store_alive_at(const struct store *store);   /* as it was when it was opened; 0: never */
uint64_t store_last_seq(const struct store *store);  /* as it was when it was opened */
const char *store_reason(const struct store *store); /* of the last failure, a sentence */
const char *store_notice(const struct store *store); /* what the opening found; "": nothing */
/* Not 0: what was in the write-ahead log could not be made safe at the opening (a full disk). What
 * stands can be read; nothing may be written, for it might be lost with what it goes on from. */
int store_unsafe(const struct store *store);

/* The events in order. A non-zero answer of `each` ends it and is returned. */
int store_read(struct store *store, int (*each)(void *context, const struct journal_row *row),
               void *context);

/* The texts that are kept, in the order in which they were last kept. Likewise. */
int store_read_kept(struct store *store, int (*each)(void *context, const struct kept *kept),
                    void *context);

/* A transaction: begin, add, commit. What fails has rolled it back. `durable`: the commit returns
 * when the disk has it; else it will be there with the next durable one. */
int store_begin(struct store *store, bool durable);
int store_add(struct store *store, const struct journal_row *row);
int store_keep(struct store *store, const char *name, const char *text); /* "": takes it away */
int store_set_alive(struct store *store, int64_t at_ms);
int store_commit(struct store *store);

/* The write-ahead log has become long; moving it into the database makes it short again. */
bool store_wants_checkpoint(const struct store *store);
int store_checkpoint(struct store *store);

/* A copy of one moment of the store at `from`, while it runs or not, with every event that was
 * acknowledged before. `to` must not be there yet, and is there whole and looked through or not at
 * all. `*count`: its events. On failure one sentence is in `reason`. */
int store_backup(const char *from, const char *to, uint64_t *count, char *reason,
                 size_t reason_size);

/* The file is a store or another program's SQLite database, perhaps damaged: store_open_checking
 * tells which. */
bool store_is_one(const char *path);
