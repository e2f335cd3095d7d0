/* The write-ahead log beside the store, read without SQLite: what of it counts, and whether all of
 * it is there.
 *
 * SQLite takes what stands before the first frame that isn't as it was written, and says nothing of
 * the rest. After a kill that is right: the rest was never finished. After a changed byte it would
 * drop commits that were acknowledged, without a word. So each frame is looked at by itself: its
 * checksum goes on from the one that the frame before it carries, and a frame of this life of the
 * log that is whole again after one that isn't tells that the damage is in the middle.
 * Source: SQLite's "Database File Format", section 4 (the write-ahead log). */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum wal_state {
    WAL_EMPTY,      /* there is nothing in it */
    WAL_WHOLE,      /* its last commit is whole, and nothing was begun after it */
    WAL_UNFINISHED, /* it ends within a commit */
    WAL_BROKEN,     /* whole commits follow something that isn't as it was written */
};

struct wal_frame {
    uint32_t page;              /* from 1 */
    uint32_t pages;             /* how many the database has after this frame's commit; else 0 */
    bool counts;                /* it belongs to a whole commit */
    bool of_this_life;          /* it was written into this log, whatever became of it */
    const unsigned char *bytes; /* the page; only page_size of them */
};

struct wal {
    enum wal_state state;
    size_t page_size;
    size_t told_page_size;    /* by a good header; 0: there is none */
    struct wal_frame *frames; /* those that may belong to this life of the log, in its order */
    size_t frame_count;
    size_t broken_at;       /* the byte where the first bad frame begins */
    size_t unfinished_size; /* how many bytes stand after the last whole commit */
    uint32_t pages;         /* of the database after the last whole commit; 0: there is none */
    unsigned char *bytes;
    size_t size;
};

/* Reads the log of the store at `path`. `page_size` is the database's, for a log whose own header
 * can't be read. 0 or a negative libuv code; wal_close is wanted after either. */
int wal_read(struct wal *wal, const char *path, size_t page_size);
void wal_close(struct wal *wal);
/* The page as the whole commits leave it; NULL: it isn't in the log. */
const unsigned char *wal_page(const struct wal *wal, uint32_t page);
