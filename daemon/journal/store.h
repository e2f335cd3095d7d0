/* The file below the journal: an SQLite database with a table of events and one row about its life.
 * Everything here blocks and is for one thread at a time; journal.c keeps it off the loop.
 * A row carries a checksum of its number and text, since SQLite finds a damaged page's structure
 * but not a flipped bit in a text. Source of the settings: SQLite's documents on WAL, PRAGMA
 * statements and the file format's application id; only synchronous=FULL outlives a power cut.
 *
 * Codes are 0 or negative libuv codes. UV_EBUSY: another process holds the file; UV_EFTYPE: no
 * store of ours, or a newer one; UV_EILSEQ: damaged; UV_EROFS, UV_ENOSPC, UV_EIO, UV_ENOMEM. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "journal/journal.h"

enum { STORE_EPOCH_SIZE = 17, STORE_REASON_SIZE = 300 };

struct store;

/* Opens or makes the file, takes it for this process alone, and looks through all of it. On
 * failure one sentence is in `reason`, and nothing but a new file was changed. */
int store_open(struct store **store, const char *path, char *reason, size_t reason_size);
/* `sound` false: something has failed. Then the write-ahead log is left as it is for the next start
 * to replay. NULL is allowed. */
void store_close(struct store *store, bool sound);

const char *store_epoch(const struct store *store);  /* 16 hexadecimal digits */
int64_t store_alive_at(const struct store *store);   /* as it was when it was opened; 0: never */
uint64_t store_last_seq(const struct store *store);  /* as it was when it was opened */
const char *store_reason(const struct store *store); /* of the last failure, a sentence */

/* The events in order. A non-zero answer of `each` ends it and is returned. */
int store_read(struct store *store, int (*each)(void *context, const struct journal_row *row),
               void *context);

/* A transaction: begin, add, commit. What fails has rolled it back. `durable`: the commit returns
 * when the disk has it; else it will be there with the next durable one. */
int store_begin(struct store *store, bool durable);
int store_add(struct store *store, const struct journal_row *row);
int store_set_alive(struct store *store, int64_t at_ms);
int store_commit(struct store *store);

/* The write-ahead log has become long; moving it into the database makes it short again. */
bool store_wants_checkpoint(const struct store *store);
int store_checkpoint(struct store *store);
