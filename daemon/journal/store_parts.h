/* What store.c has for the other parts of the journal, and for nobody else. */
#pragma once
#include <stdbool.h>
#include "journal/store.h"

struct sqlite3;

/* Makes a new store at `path`, which must not be there: with that name and time of life, or a new
 * name if `epoch` is NULL, those rows, and what is kept. All of it is in that one file, and on the
 * disk, when it answers 0; else a sentence is in `reason`. */
int store_make(const char *path, const char *epoch, int64_t alive_at_ms,
               const struct journal_row *rows, size_t count, const struct kept *kept,
               size_t kept_count, char *reason, size_t reason_size);
/* What stands beside the number in the row that says which event was the last. */
int64_t store_latest_checksum(uint64_t last_seq);
int64_t store_kept_checksum(uint64_t id, const char *name, size_t name_size, const char *text,
                            size_t text_size);
bool store_has_id(
    const char *path); /* the first page says that it is ours, whatever else it says */
struct sqlite3 *store_database(const struct store *store);
