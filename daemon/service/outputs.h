/* The outputs of this daemon: what each shows, what producers do to them, and the topic of each.
 *
 * An action takes these steps, in this order and in one place (outputs.c):
 *   read → check → apply → publish → keep → answer
 * Other than an event, it is seen at once and answered when it is on disk: a graphic that must go,
 * goes, also while the disk is slow, and when it has failed (the answer says then that it is not
 * kept). What was answered is there again after a restart, with what was on air.
 *
 * At most OUTPUTS_MAX; `main` is always there, another is made by the first action to its name. */
#pragma once
#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <uv.h>
#include "producing/output.h"
#include "wire/problem_json.h"

enum { OUTPUTS_MAX = 16 };

struct service;
struct output_slot;
struct outputs_waiting;

struct outputs {
    struct output_slot *first; /* by name, `main` before all */
    size_t count;
    struct outputs_waiting *waiting; /* those that wait for the disk */
    char *kept_delays;               /* as they were read, until the delays begin */
    uv_timer_t timer;                /* what a rule wants by time alone */
    uv_timer_t gallery;              /* the gallery hears of changes a moment later, together */
};

struct outputs_answer {
    json_t *done; /* what was done, borrowed; NULL: refused */
    struct problem problem;
    const char *detail, *pointer; /* "" where there is none */
    const char *id;               /* the sender's own, or NULL; in `done` it stands too */
};

struct outputs_source {
    const char *by; /* who produces: the key's name, or "" */
    const char *id; /* the sender's own, to know the answer by, or NULL */
    /* Called once, at once or later, on the loop. */
    void (*answer)(void *who, const struct outputs_answer *answer);
    void *who;
};

/* One action, `{"ACTION": …}`, as text. */
void outputs_take(struct service *service, const struct outputs_source *source, const char *name,
                  const char *text, size_t size);
/* `who` has gone: what waits for it is answered to nobody. */
void outputs_forget(struct service *service, const void *who);

/* Reads what was kept; before anything is written. False: reported. */
bool outputs_load(struct service *service);
/* Has their delays begin where they were, and makes `main` where there is none; after the log has
 * been read, before anything is published. False: no memory. */
bool outputs_open(struct service *service);
void outputs_start(struct service *service); /* its timers, before anything else of it */
void outputs_stop(struct service *service);  /* after which the loop has to run dry */
void outputs_free(struct service *service);
/* Publishes the topic of every output that may have changed. False without memory. */
bool outputs_publish(struct service *service);
/* Nothing that was frozen may be shown any more. */
void outputs_thaw(struct service *service);
/* Names that were told may be told no more: what producers wrote is shown anew, without them. */
void outputs_conceal(struct service *service);
const struct output *outputs_find(const struct service *service, const char *name);
/* The one after that; after NULL the first. NULL: that was the last. */
const struct output *outputs_next(const struct service *service, const struct output *after);
/* For the gallery: every output with all of its state, by name. NULL without memory. */
json_t *outputs_json(struct service *service);
json_t *outputs_delays_json(struct service *service); /* of the other audiences, by topic */
