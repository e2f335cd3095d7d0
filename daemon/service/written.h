/* The values of every output as small text files, for programs that read nothing else:
 * FOLDER/OUTPUT/NAME.txt, a value a file, without a line feed. What isn't known is an empty file.
 * A file is written when its value has changed, beside its place and then put there (rename), so
 * that nobody ever reads half of one; off the loop, one round of writing at a time. A value that
 * can't be written is reported once, and tried again with the next change. */
#pragma once
#include <stdbool.h>
#include <uv.h>

struct service;
struct written_output;

struct written {
    const char *folder; /* NULL: none are written */
    struct written_output *first;
    struct written_output *round_first; /* of the round under way */
    uv_work_t work;
    uv_timer_t timer; /* when a clock's text changes */
    bool writes;      /* a round is under way */
    bool again;       /* something has changed since */
    bool failed;      /* it was reported */
};

/* Makes the folder. False: it can't be, and that was reported. */
bool written_open(struct service *service);
void written_start(struct service *service); /* its timer, before anything else of it */
/* Looks at every output, and writes what has changed. */
void written_publish(struct service *service);
void written_stop(struct service *service); /* after which the loop has to run dry */
void written_free(struct service *service);
