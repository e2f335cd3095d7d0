/* A view is made the first time its audience is given a delay: it reads all that there is as the
 * live hall did, so that nothing is shown twice, and goes on from there at its own pace. Without a
 * delay it is done away with again, unless something was never seen in it: what was hidden from an
 * audience stays hidden from it to the end of the run.
 *
 * Two times: the real one, up to which time may be let pass in the live hall (service_real), and
 * V, which the view has come to. A correction hides a slip when it was accepted before the slip
 * fell due; that whatever was accepted before the real time is also known is what the real time
 * stands for. */
#include "service/views.h"
#include <assert.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "access/access.h"
#include "service/clients.h"
#include "service/service.h"
#include "wire/json.h"

enum { CHANGES_MAX = 256 }; /* of one audience's delay: above it the two oldest become one */

/* Set before anything was shown: it has always been so. */
static const int64_t always_ms = INT64_MIN / 2;

static struct view *view_of(const struct service *service, const char *topic)
{
    struct view *view = service->views.first;
    while (view != NULL && strcmp(view->topic, topic) != 0)
        view = view->next;
    return view;
}

static int64_t delay_of(const struct view *view)
{
    return view->delays.count > 0 ? view->changes[view->delays.count - 1].delay_ms : 0;
}

/* ---- beginning and ending ---- */

static void view_free(struct view *view)
{
    hall_close(&view->hall);
    free(view->changes);
    free(view->topic);
    free(view);
}

static struct view *view_new(struct service *service, const char *topic)
{
    struct audience audience;
    struct view *view = service->views.count < VIEWS_MAX ? calloc(1, sizeof *view) : NULL;
    if (view == NULL)
        return NULL;
    view->topic = strdup(topic);
    view->changes = calloc(CHANGES_MAX, sizeof *view->changes);
    view->delays = (struct delays){view->changes, 0};
    view->now_ms = INT64_MIN;
    hall_init_behind(&view->hall, &service->hall, &view->delays);
    if (audience_of(topic, &audience) && audience.mat[0] != '\0')
        view->mat = hall_mat_add(&view->hall, audience.mat);
    if (view->topic != NULL && view->changes != NULL && (view->mat != NULL || topic[0] == 'o'))
        return view;
    view_free(view);
    return NULL;
}

static void mats_change(struct hall *hall)
{
    for (struct mat *mat = hall->mats; mat != NULL; mat = mat->next)
        mat->changed = true;
    hall->day_changed = true;
}

/* Who reads the text of the mat goes on in the other hall, where they are. */
static void hand_over(struct service *service, const struct view *view, struct mat *from,
                      struct mat *to)
{
    size_t size = strlen(view->topic);
    if (from != NULL && to != NULL && strcmp(view->topic + size - 7, "/follow") == 0)
        clients_read_from(service, from, to);
}

static void view_enter(struct service *service, struct view *view)
{
    view->next = service->views.first;
    service->views.first = view;
    service->views.count++;
    if (view->mat != NULL)
        hand_over(service, view, hall_mat(&service->hall, view->mat->name), view->mat);
}

static bool view_leave(struct service *service, struct view *view)
{
    struct view **place = &service->views.first;
    struct mat *live = NULL;
    if (view->mat != NULL && (live = hall_mat_add(&service->hall, view->mat->name)) == NULL)
        return false;
    while (*place != view)
        place = &(*place)->next;
    *place = view->next;
    service->views.count--;
    hand_over(service, view, view->mat, live);
    mats_change(&service->hall);
    view_free(view);
    return true;
}

void views_free(struct service *service)
{
    while (service->views.first != NULL) {
        struct view *view = service->views.first;
        service->views.first = view->next;
        service->views.count--;
        view_free(view);
    }
}

/* ---- going on ---- */

/* When the next event is shown; INT64_MAX: there is none. */
static int64_t next_due(const struct service *service, const struct view *view)
{
    if (view->read_seq >= service->intake.committed_seq)
        return INT64_MAX;
    return event_due(log_event(&service->log, view->read_seq + 1), &view->delays);
}

/* What was told is no longer what may be told, or was told by halves for want of memory. */
static bool read_anew(struct service *service, struct view *view)
{
    return !view->hall.stale || (hall_retell(&view->hall, &service->log, view->read_seq) &&
                                 hall_pass(&view->hall, view->now_ms));
}

static bool read_due(struct service *service, struct view *view, int64_t real_ms)
{
    view->hall.known_seq = service->intake.committed_seq;
    while (next_due(service, view) <= real_ms) {
        struct bout *bout = service->log.admissions[view->read_seq].bout;
        view->hall.stale = bout != NULL && !hall_read(&view->hall, bout);
        if (view->hall.stale)
            return false;
        view->read_seq++;
    }
    return true;
}

static bool view_advance(struct service *service, struct view *view, int64_t real_ms)
{
    if (!read_anew(service, view) || !read_due(service, view, real_ms))
        return false;
    int64_t now_ms = delays_shown(&view->delays, real_ms);
    bool still = now_ms > real_ms - delay_of(view);
    if (still != view->still)
        mats_change(&view->hall);
    view->still = still;
    view->now_ms = now_ms > view->now_ms ? now_ms : view->now_ms;
    return hall_pass(&view->hall, view->now_ms);
}

static bool is_done(const struct service *service, const struct view *view)
{
    return delay_of(view) == 0 && !view->still && !view->hall.has_hidden &&
           view->read_seq == service->intake.committed_seq;
}

bool views_advance(struct service *service)
{
    int64_t real_ms = service_real(service);
    bool done = true;
    for (struct view *view = service->views.first, *next; view != NULL; view = next) {
        next = view->next;
        done = view_advance(service, view, real_ms) && done;
        if (is_done(service, view))
            done = view_leave(service, view) && done;
    }
    return done;
}

void views_retell(struct service *service)
{
    for (struct view *view = service->views.first; view != NULL; view = view->next)
        view->hall.stale = true;
}

static int64_t view_next(const struct service *service, const struct view *view)
{
    int64_t next_ms = next_due(service, view);
    int64_t passing_ms = hall_next(&view->hall);
    if (passing_ms != INT64_MAX)
        passing_ms = delays_due(&view->delays, passing_ms);
    if (view->still && view->now_ms + delay_of(view) < passing_ms)
        passing_ms = view->now_ms + delay_of(view);
    return passing_ms < next_ms ? passing_ms : next_ms;
}

int64_t views_next(const struct service *service)
{
    int64_t next_ms = INT64_MAX;
    for (const struct view *view = service->views.first; view != NULL; view = view->next) {
        int64_t its_ms = view_next(service, view);
        next_ms = its_ms < next_ms ? its_ms : next_ms;
    }
    return next_ms;
}

void views_change(struct service *service)
{
    for (struct view *view = service->views.first; view != NULL; view = view->next)
        mats_change(&view->hall);
}

void views_published(struct service *service)
{
    service->views.are_shown = true;
    for (struct view *view = service->views.first; view != NULL; view = view->next) {
        view->hall.day_changed = false;
        for (struct mat *mat = view->hall.mats; mat != NULL; mat = mat->next)
            mat->changed = false;
    }
}

/* ---- delays ---- */

static void add_change(struct view *view, int64_t since_ms, int64_t delay_ms)
{
    if (view->delays.count == CHANGES_MAX) {
        view->changes[1].since_ms = view->changes[0].since_ms;
        view->delays.count--;
        memmove(view->changes, view->changes + 1, view->delays.count * sizeof *view->changes);
    }
    view->changes[view->delays.count++] = (struct delay_change){since_ms, delay_ms};
}

/* Its audience has been shown all that there is, as it was; at the start, nothing. */
static struct view *view_begin(struct service *service, const char *topic, int64_t real_ms)
{
    struct view *view = view_new(service, topic);
    if (view != NULL && service->views.are_shown && !view_advance(service, view, real_ms)) {
        view_free(view);
        return NULL;
    }
    return view;
}

bool views_set_delay(struct service *service, const char *topic, int64_t delay_ms)
{
    struct view *view = view_of(service, topic);
    int64_t real_ms = service_real(service);
    assert(delay_ms >= 0);
    assert(delay_ms <= DELAY_MS_MAX);
    if (delay_ms == (view != NULL ? delay_of(view) : 0))
        return true;
    if (view == NULL) {
        view = view_begin(service, topic, real_ms);
        if (view == NULL)
            return false;
        view_enter(service, view);
    }
    bool first = !service->views.are_shown && view->delays.count == 0;
    add_change(view, first ? always_ms : real_ms, delay_ms);
    mats_change(&view->hall);
    return true;
}

int64_t views_delay(const struct service *service, const char *topic)
{
    const struct view *view = view_of(service, topic);
    return view != NULL ? delay_of(view) : 0;
}

/* ---- what is kept ---- */

static json_t *changes_json(const struct view *view)
{
    json_t *list = json_array();
    for (size_t i = 0; i < view->delays.count && list != NULL; i++)
        if (json_array_append_new(list, json_pack("[I, I]", (json_int_t)view->changes[i].since_ms,
                                                  (json_int_t)view->changes[i].delay_ms)) != 0) {
            json_decref(list);
            list = NULL;
        }
    return list;
}

char *views_write(const struct service *service)
{
    json_t *object = json_object();
    bool complete = object != NULL;
    for (const struct view *view = service->views.first; view != NULL && complete;
         view = view->next)
        complete = json_object_set_new(object, view->topic, changes_json(view)) == 0;
    char *text = complete ? json_line(object) : NULL;
    json_decref(object);
    return text;
}

static bool change_read(const json_t *json, struct view *view)
{
    json_int_t since_ms = 0, delay_ms = 0;
    if (json_unpack((json_t *)(uintptr_t)json, "[I, I!]", &since_ms, &delay_ms) != 0 ||
        delay_ms < 0 || delay_ms > DELAY_MS_MAX ||
        (view->delays.count > 0 && view->changes[view->delays.count - 1].since_ms > since_ms))
        return false;
    add_change(view, since_ms, delay_ms);
    return true;
}

/* The last change is no later than now, however the machine's clock was set meanwhile. */
static void come_to_last_change(struct service *service, const struct view *view)
{
    if (view->delays.count > 0)
        daytime_not_before(&service->daytime, view->changes[view->delays.count - 1].since_ms);
}

static bool view_restore(struct service *service, const char *topic, const json_t *changes)
{
    struct audience audience;
    if (!json_is_array(changes) || !audience_of(topic, &audience) || view_of(service, topic))
        return false;
    struct view *view = view_new(service, topic);
    bool done = view != NULL;
    for (size_t i = 0; i < json_array_size(changes) && done; i++)
        done = change_read(json_array_get(changes, i), view);
    if (done) {
        come_to_last_change(service, view);
        view_enter(service, view);
    } else if (view != NULL) {
        view_free(view);
    }
    return done;
}

bool views_restore(struct service *service, const char *text)
{
    json_t *object = json_loads(text, JSON_REJECT_DUPLICATES, NULL);
    const char *topic;
    json_t *changes;
    bool done = json_is_object(object);
    json_object_foreach(object, topic, changes)
    {
        done = done && view_restore(service, topic, changes);
    }
    json_decref(object);
    return done;
}

/* ---- who asks ---- */

struct hall *views_hall(struct service *service, const char *topic)
{
    struct view *view = view_of(service, topic);
    return view != NULL ? &view->hall : &service->hall;
}

/* Not beyond an event that is due and will be read in a moment. */
int64_t views_now(const struct service *service, const char *topic)
{
    const struct view *view = view_of(service, topic);
    if (view == NULL)
        return daytime_now(&service->daytime);
    int64_t real_ms = service_real(service);
    if (next_due(service, view) <= real_ms)
        return view->now_ms;
    int64_t now_ms = delays_shown(&view->delays, real_ms);
    return now_ms > view->now_ms ? now_ms : view->now_ms;
}

struct anchors views_anchors(const struct service *service, const char *topic)
{
    const struct view *view = view_of(service, topic);
    if (view == NULL)
        return (struct anchors){0, false};
    return (struct anchors){view->still ? 0 : delay_of(view), view->still};
}

bool views_stand_still(const struct service *service, const char *topic)
{
    return views_anchors(service, topic).still;
}

struct seen_bout views_bout(struct service *service, const struct hall_bout *live,
                            const char *audience)
{
    char topic[AUDIENCE_MAT_SIZE + 16] = "";
    if (live->mat != NULL && service->views.first != NULL)
        snprintf(topic, sizeof topic, "mat/%s/%s", live->mat->name, audience);
    struct hall *hall = views_hall(service, topic);
    return (struct seen_bout){
        .hall = hall,
        .bout = hall == &service->hall ? live : hall_bout(hall, live->bout->id),
        .now_ms = views_now(service, topic),
    };
}
