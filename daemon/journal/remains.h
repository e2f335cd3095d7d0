/* What can be said and read of a store's files without SQLite.
 *
 * The survey, which every opening asks for: do the files end where they should, and is the log
 * beside the store whole.
 *
 * The remains, asked for when something is wrong: every event whose checksum is right, wherever it
 * stands (a page that leads to others may be gone, the events on those are not), the row about the
 * store's life, and the one that says which event was the last. Of the log beside the store only
 * whole commits are taken: a batch that nobody was answered for must not come back in part. What an
 * unreadable commit held is told as lost.
 *
 * Nothing is written. Source: SQLite's "Database File Format", sections 1.3, 1.6 and 2.1. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "journal/journal.h"
#include "journal/wal.h"

enum { REMAINS_LOSS_SIZE = 200 };

struct survey {
    struct wal log;
    size_t page_size; /* 0: the first page doesn't tell */
    bool is_short;    /* the database ends before its last page does */
};

/* 0, UV_ENOMEM, or what reading a file answered; survey_close is wanted after either. */
int survey_take(struct survey *survey, const char *path);
void survey_close(struct survey *survey);
/* The store can be opened as it is (what SQLite then finds is another matter). */
bool survey_is_sound(const struct survey *survey);

struct remains {
    struct journal_row *rows; /* in the order of their numbers, each once; their texts are ours */
    size_t count;
    struct kept *kept; /* the newest of each name, those taken away too; their texts are ours */
    size_t kept_count;
    uint64_t last;  /* the highest number known to have been given; 0: none */
    bool last_told; /* `last` is what the store itself says */
    bool has_life;
    char epoch[17];
    int64_t alive_at_ms;
    struct survey survey;
    bool goes_on; /* after what is broken in the log stand events that came later */
};

/* With `scraps`, also what is there of a page that was cut through. Codes as above;
 * remains_close is wanted after any. */
int remains_read(struct remains *remains, const char *path, bool scraps);
void remains_close(struct remains *remains);
/* Events 1 to this one are there; 0: the first isn't. */
uint64_t remains_prefix(const struct remains *remains);
/* "events 41 and 57 to 60 are lost, 116 can be read", or that none is. */
void remains_loss(const struct remains *remains, char loss[REMAINS_LOSS_SIZE]);
