/* What each audience is shown: the hall at the moment V = now − its delay.
 *
 * An audience is what one topic shows: out/NAME, mat/MAT/follow (with the text of that mat, and the
 * public's bouts of it) or mat/MAT/booth. The table is never delayed. With no delay, as at the
 * start, an audience is shown the live hall, and nothing is kept for it.
 * V never goes back: a lower delay catches up at once; a higher one holds still until its time has
 * come. A slip that was corrected before the audience came to it is never seen by it
 * (access/delayed.h). What is withheld of minors is never delayed.
 *
 * Who makes a topic asks, for that topic, always these three together:
 *     struct hall *hall = views_hall(service, topic);
 *     struct state state = state_of(fold of a bout in that hall, views_now(service, topic));
 *     view_json(&state, &memory of that bout, views_anchors(service, topic))
 * A hall's mats have `changed` set when a topic that shows them is to be made anew; shows_publish
 * makes them all and resets the marks of every hall at its end. Halls come and go with delays: keep
 * no pointer into one over a turn of the loop. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "access/delayed.h" /* DELAY_MS_MAX */
#include "service/hall.h"
#include "wire/view_json.h"

struct service;

struct view { /* one audience's own hall: views.c's, read only for everybody else */
    struct view *next;
    char *topic;
    struct hall hall;
    struct mat *mat; /* of that hall, whose topic it is; NULL: an output's, which may show any */
    struct delay_change *changes;
    struct delays delays;
    uint64_t read_seq; /* so many events have fallen due and are read */
    int64_t now_ms;    /* V, as far as the hall has passed */
    bool still;
};

enum { VIEWS_MAX = 256 }; /* each folds everything once more; above it a delay is not taken */

struct views {
    struct view *first;
    size_t count;
    bool are_shown; /* something has been published in this run */
};

/* Sets an audience's delay, 0 to DELAY_MS_MAX. The topic is one of those above. What changes at
 * once is published with the next service_publish, which the caller sees to. False without memory,
 * or with too many views: then nothing has changed. */
bool views_set_delay(struct service *service, const char *topic, int64_t delay_ms);
int64_t views_delay(const struct service *service, const char *topic);

/* Every delay with its history, as one short text to be kept in the store (malloc'd; NULL without
 * memory): so that after a restart no audience is shown anything earlier than it was before. To be
 * kept anew after views_set_delay, and given to views_restore once at the start, after the log has
 * been read and before anything is published. False: not such a text, or no memory. */
char *views_write(const struct service *service);
bool views_restore(struct service *service, const char *text);

struct hall *views_hall(struct service *service, const char *topic); /* the live one: no delay */
int64_t views_now(const struct service *service, const char *topic); /* V, for state_of */
/* How anchors leave: moved by the delay while time flows, standing while it doesn't. */
struct anchors views_anchors(const struct service *service, const char *topic);
/* A raised delay's time hasn't come yet: V stands, and clocks are shown not running. */
bool views_stand_still(const struct service *service, const char *topic);

/* A bout as the audience of its mat is shown it. */
struct seen_bout {
    struct hall *hall;
    const struct hall_bout *bout; /* of that hall; NULL: they haven't heard of it yet */
    int64_t now_ms;               /* V, for state_of */
};
/* `live` is the live hall's, `audience` "follow" or "booth". What is on no mat has no audience, and
 * is shown as it is. */
struct seen_bout views_bout(struct service *service, const struct hall_bout *live,
                            const char *audience);

/* ---- for the service and its topics ---- */

/* Every view comes to where it is due. False without memory. */
bool views_advance(struct service *service);
/* When a view changes by itself, as real time; INT64_MAX: none does. */
int64_t views_next(const struct service *service);
/* The live hall has been told anew: so is every view, up to where it is, with the next advance. */
void views_retell(struct service *service);
void views_change(struct service *service);    /* every view's topics are to be made anew */
void views_published(struct service *service); /* resets the marks of what has changed */
void views_free(struct service *service);
