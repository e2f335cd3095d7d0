/* The archive beside the running daemon: a bout that is closed is written into it, and again when
 * it is corrected afterwards; and of a bout that is shown on a mat it is asked what it knows of the
 * two sides, for the cards. Off the loop, on the thread pool, one job at a time.
 * The archive is made of the log and can be made again, so nothing waits for it: where it can't be
 * opened, or fails, that is reported once and the daemon runs on without. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <uv.h>
#include "archive/past.h"

struct service;

struct known_past { /* of one bout: what the archive has answered */
    struct known_past *next;
    const char *bout; /* its id */
    int64_t called_at_ms;
    const struct details *details; /* as when it was asked: who wrestles */
    struct arena arena;
    struct past past;
    bool known;
};

/* Something else that is asked of the archive. Whoever asks makes it, and frees it in `answer`. */
struct archive_question {
    struct archive_question *next;
    int (*ask)(struct archive *archive, struct archive_question *question); /* on the pool */
    /* On the loop, once. Not known: there is no archive, or it has failed. */
    void (*answer)(struct archive_question *question, bool known);
    void *who; /* NULL: has gone, and wants no answer */
};

struct archiving {
    struct archive *archive; /* NULL: not open yet, or no more */
    bool is_off;             /* there is none, or it has failed */
    bool works;              /* a job is under way */
    uv_work_t work;
    struct arena arena; /* of what a job writes */
    struct archive_entry *entries;
    size_t entry_count, entry_capacity;
    struct known_past *pasts, *asked;   /* asked: the one that a job asks of */
    struct archive_question *questions; /* in their order; the first may be under way */
    int code;                           /* of the job */
    char reason[ARCHIVE_REASON_SIZE];
};

/* Opens the archive that the options name, in the background. */
void archiving_start(struct service *service);
/* Looks for bouts to write, and to ask of. Wanted after events have been folded. */
void archiving_look(struct service *service);
/* What is known of a bout's sides; NULL: nothing yet. */
const struct past *archiving_past(const struct service *service, const char *bout);
/* Asks in the background, after what is written; answers at once where there is no archive. */
void archiving_ask(struct service *service, struct archive_question *question);
void archiving_forget(struct service *service, const void *who);
/* The loop has ended, and with it every job. */
void archiving_close(struct service *service);
