#include "service/shows.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "access/access.h"
#include "prompts/cards.h"
#include "rules/time_of_day.h"
#include "service/around.h"
#include "service/day_draw.h"
#include "service/earlier.h"
#include "service/gallery.h"
#include "wire/prompts_json.h"
#include "wire/state_json.h"
#include "wire/view_json.h"

enum { MATS_ASKED_FOR_MAX = 64, TOPIC_SIZE = AUDIENCE_MAT_SIZE + 16 };

static bool publish(struct service *service, const char *topic, json_t *state)
{
    bool done = state != NULL && relay_publish(service->relay, topic, state) == 0;
    json_decref(state);
    return done;
}

/* The lines told of the bout that the mat shows. */
static json_t *lines_of(const struct mat *mat)
{
    json_t *lines = json_object();
    bool complete = lines != NULL;
    for (size_t i = 0; i < mat->line_count && complete; i++) {
        const struct told_line *told = &mat->lines[i];
        char number[24];
        if (mat->shown == NULL || told->bout != mat->shown->bout)
            continue;
        snprintf(number, sizeof number, "%zu", i + 1);
        complete = json_add(lines, number,
                            told_line_json(&told->line, told->event, told->at_ms,
                                           mat->shown->fold.details->period_ms));
    }
    return json_whole(lines, complete);
}

/* A part that isn't made is left out. */
static bool add_part(json_t *object, const char *name, json_t *part)
{
    return part == NULL || json_add(object, name, json_incref(part));
}

/* Why a public topic holds nothing, where it doesn't. */
static bool add_withheld(const struct service *service, json_t *object)
{
    return json_add_text(object, "withheld", service->public_is_off ? "minors" : NULL);
}

/* ---- what an audience is shown ---- */

/* A hall and a moment: the live one, or an audience's own where it has a delay. */
struct source {
    struct hall *hall;
    int64_t now_ms;
    struct anchors anchors;
};

/* The day around its bouts, looked at when first a card may tell of it; one for each source. */
struct looked {
    struct arena arena;
    struct around_day *day;
};

static struct looked looked_begin(void)
{
    struct looked looked = {.day = NULL};
    arena_init(&looked.arena, malloc, free);
    return looked;
}

static struct source source_of(struct service *service, const char *topic)
{
    return (struct source){
        .hall = views_hall(service, topic),
        .now_ms = views_now(service, topic),
        .anchors = views_anchors(service, topic),
    };
}

static void mat_topic(char topic[TOPIC_SIZE], const char *mat, const char *audience)
{
    snprintf(topic, TOPIC_SIZE, "mat/%s/%s", mat, audience);
}

static struct source source_of_mat(struct service *service, const char *mat, const char *audience)
{
    char topic[TOPIC_SIZE] = "";
    if (service->views.first != NULL) /* else it is the live hall, whatever it is called */
        mat_topic(topic, mat, audience);
    return source_of(service, topic);
}

/* ---- a mat's topics ---- */

/* For whom its parts are made: those who are shown the same hall share them. */
struct audiences {
    bool table, booth, follow;
};

/* What a mat's topics are made of, each part made once. `shown` and `lines` are the public's. */
struct parts {
    json_t *view, *events, *notes, *earlier, *cards, *rulings, *shown, *lines;
};

static json_t *shown_json(struct hall_bout *bout, const struct source *source)
{
    bool covers = bout->privacy.covers;
    struct state state = state_of(hall_public_fold(bout), source->now_ms);
    return view_json(&state, covers ? &bout->public_memory : &bout->memory, source->anchors);
}

/* With the day around the bout while nothing is wrestled: only then do cards tell of it. */
static json_t *cards_of_mat(const struct service *service, struct mat *mat,
                            const struct state *state, const struct source *source,
                            struct looked *looked)
{
    const struct past *past = archiving_past(service, mat->shown->bout->id);
    const struct language *language = service->options.language;
    if (!around_is_wanted(state))
        return cards_json(language, state, past, NULL, &mat->cards_next_ms);
    if (looked->day == NULL)
        looked->day =
            around_look(source->hall, service->options.editions, source->now_ms, &looked->arena);
    if (looked->day == NULL)
        return NULL;
    const struct around around = around_make(looked->day, mat->shown, source->now_ms);
    return cards_json(language, state, past, &around, &mat->cards_next_ms);
}

static bool working_parts_make(struct parts *parts, const struct service *service, struct mat *mat,
                               const struct source *source, const struct audiences *audiences,
                               struct looked *looked)
{
    struct state state = state_of(&mat->shown->fold, source->now_ms);
    parts->view = view_json(&state, &mat->shown->memory, source->anchors);
    parts->events = events_json(&state, &mat->shown->memory);
    if (!audiences->booth)
        return parts->view != NULL && parts->events != NULL;
    parts->notes = notes_json(&state);
    parts->earlier =
        earlier_json(source->hall, mat->shown, archiving_past(service, mat->shown->bout->id));
    parts->cards = cards_of_mat(service, mat, &state, source, looked);
    if (state.under_review)
        parts->rulings = rulings_json(service->options.language, &state);
    return parts->view != NULL && parts->events != NULL && parts->notes != NULL &&
           parts->earlier != NULL && parts->cards != NULL &&
           (!state.under_review || parts->rulings != NULL);
}

static bool public_parts_make(struct parts *parts, struct mat *mat, const struct source *source)
{
    bool same = parts->view != NULL && !mat->shown->privacy.covers;
    parts->shown = same ? json_incref(parts->view) : shown_json(mat->shown, source);
    parts->lines = lines_of(mat);
    return parts->shown != NULL && parts->lines != NULL;
}

static bool parts_make(struct parts *parts, const struct service *service, struct mat *mat,
                       const struct source *source, const struct audiences *audiences,
                       struct looked *looked)
{
    bool working = audiences->table || audiences->booth;
    mat->cards_next_ms = INT64_MAX; /* nobody waits for cards that nobody is shown */
    return mat->shown == NULL ||
           ((!working || working_parts_make(parts, service, mat, source, audiences, looked)) &&
            (!audiences->follow || service->public_is_off ||
             public_parts_make(parts, mat, source)));
}

static void parts_free(struct parts *parts)
{
    json_decref(parts->view);
    json_decref(parts->shown);
    json_decref(parts->events);
    json_decref(parts->notes);
    json_decref(parts->earlier);
    json_decref(parts->cards);
    json_decref(parts->rulings);
    json_decref(parts->lines);
}

static bool publish_of_mat(struct service *service, const struct mat *mat, const char *audience,
                           json_t *object, bool complete)
{
    char topic[TOPIC_SIZE];
    mat_topic(topic, mat->name, audience);
    complete = complete && json_add_text(object, "mat", mat->name);
    return publish(service, topic, json_whole(object, complete));
}

static bool publish_booth(struct service *service, const struct mat *mat, const struct parts *parts)
{
    json_t *object = json_object();
    bool complete =
        object != NULL && add_part(object, "bout", parts->view) &&
        add_part(object, "events", parts->events) && add_part(object, "notes", parts->notes) &&
        add_part(object, "earlier", parts->earlier) && add_part(object, "cards", parts->cards) &&
        add_part(object, "rulings", parts->rulings) &&
        json_add(object, "talk", intercom_json(&service->intercom, mat->name));
    return publish_of_mat(service, mat, "booth", object, complete);
}

static bool publish_table(struct service *service, const struct mat *mat, const struct parts *parts)
{
    json_t *object = json_object();
    bool complete = object != NULL && add_part(object, "bout", parts->view) &&
                    add_part(object, "events", parts->events);
    return publish_of_mat(service, mat, "table", object, complete);
}

static bool publish_follow(struct service *service, const struct mat *mat,
                           const struct parts *parts)
{
    json_t *object = json_object();
    bool complete = object != NULL && add_part(object, "bout", parts->shown) &&
                    add_part(object, "lines", parts->lines) && add_withheld(service, object);
    return publish_of_mat(service, mat, "follow", object, complete);
}

static bool publish_to(struct service *service, struct mat *mat, const struct source *source,
                       const struct audiences *audiences, struct looked *looked)
{
    struct parts parts = {.view = NULL};
    bool done = parts_make(&parts, service, mat, source, audiences, looked);
    if (audiences->booth)
        done = done && publish_booth(service, mat, &parts);
    if (audiences->table)
        done = done && publish_table(service, mat, &parts);
    if (audiences->follow)
        done = done && publish_follow(service, mat, &parts);
    parts_free(&parts);
    return done;
}

/* To all who are shown the live hall: the table, and whoever has no delay. */
static bool publish_mat(struct service *service, struct mat *mat, struct looked *looked)
{
    const struct source live = {&service->hall, daytime_now(&service->daytime), {0, false}};
    const struct audiences audiences = {
        .table = true,
        .booth = source_of_mat(service, mat->name, "booth").hall == live.hall,
        .follow = source_of_mat(service, mat->name, "follow").hall == live.hall,
    };
    return publish_to(service, mat, &live, &audiences, looked);
}

static bool publish_view(struct service *service, const struct view *view)
{
    struct audience audience;
    struct source source = source_of(service, view->topic);
    bool follow = audience_of(view->topic, &audience) && audience.action == ACTION_READ_PUBLIC;
    const struct audiences audiences = {.booth = !follow, .follow = follow};
    struct looked looked = looked_begin();
    bool done = publish_to(service, view->mat, &source, &audiences, &looked);
    arena_close(&looked.arena);
    return done;
}

static bool hall_has_changed(const struct hall *hall);

/* The cards of a mat on which nothing is wrestled tell of the others, and of the day. */
static void change_those_who_wait(struct hall *hall, int64_t now_ms)
{
    if (!hall_has_changed(hall))
        return;
    for (struct mat *mat = hall->mats; mat != NULL; mat = mat->next) {
        if (mat->changed || mat->shown == NULL)
            continue;
        struct state state = state_of(&mat->shown->fold, now_ms);
        mat->changed = around_is_wanted(&state);
    }
}

/* Of one topic's audience or another, as it is now. */
static bool publish_mats(struct service *service)
{
    bool done = true;
    change_those_who_wait(&service->hall, daytime_now(&service->daytime));
    for (struct view *view = service->views.first; view != NULL; view = view->next)
        if (view->mat != NULL)
            change_those_who_wait(&view->hall, views_now(service, view->topic));
    struct looked looked = looked_begin();
    for (struct mat *mat = service->hall.mats; mat != NULL; mat = mat->next)
        if (mat->changed)
            done = publish_mat(service, mat, &looked) && done;
    arena_close(&looked.arena);
    for (struct view *view = service->views.first; view != NULL; view = view->next)
        if (view->mat != NULL && view->mat->changed)
            done = publish_view(service, view) && done;
    return done;
}

/* ---- the day ---- */

/* The day has no audience of its own: of each mat it shows what the mat's audience is shown, so
 * that it is never ahead of it. */
static const char *const day_audiences[] = {"booth", "follow"};

/* As the booth has it, or the public. */
static const struct fold *fold_of(const struct hall_bout *bout, bool public)
{
    return public ? hall_public_fold(bout) : &bout->fold;
}

static json_t *mat_short(struct service *service, const char *name, bool public, bool *shown)
{
    struct source source = source_of_mat(service, name, day_audiences[public ? 1 : 0]);
    const struct mat *mat = hall_mat(source.hall, name);
    *shown = mat != NULL && mat->shown != NULL;
    if (!*shown)
        return NULL;
    struct state state = state_of(fold_of(mat->shown, public), source.now_ms);
    return short_json(&state, source.anchors);
}

static json_t *mats_of(struct service *service, bool public)
{
    json_t *mats = json_object();
    bool complete = mats != NULL, shown = false;
    for (struct mat *mat = service->hall.mats; mat != NULL && complete; mat = mat->next) {
        json_t *object = mat_short(service, mat->name, public, &shown);
        complete = !shown || json_add(mats, mat->name, object);
    }
    return json_whole(mats, complete);
}

static bool add_result(json_t *results, const struct hall_bout *bout, bool public, int64_t now_ms)
{
    char number[24];
    struct state state = state_of(fold_of(bout, public), now_ms);
    if (state.result.how == NULL)
        return true;
    snprintf(number, sizeof number, "%llu",
             (unsigned long long)bout->bout->events[bout->fold.close].seq);
    return json_add(results, number, result_line_json(&state));
}

static json_t *results_of(struct service *service, bool public)
{
    json_t *results = json_object();
    bool complete = results != NULL;
    for (const struct hall_bout *live = service->hall.bouts; live != NULL && complete;
         live = live->next) {
        const struct seen_bout seen = views_bout(service, live, day_audiences[public ? 1 : 0]);
        complete = seen.bout == NULL || add_result(results, seen.bout, public, seen.now_ms);
    }
    return json_whole(results, complete);
}

/* The draw by what the audience is shown of its bouts. */
static bool add_draw(json_t *object, struct service *service, bool public)
{
    size_t count = 0;
    int64_t now_ms = daytime_now(&service->daytime);
    for (const struct hall_bout *live = service->hall.bouts; live != NULL; live = live->next)
        count++;
    const struct hall_bout **bouts = malloc((count + 1) * sizeof *bouts);
    if (bouts == NULL)
        return false;
    count = 0;
    for (const struct hall_bout *live = service->hall.bouts; live != NULL; live = live->next) {
        bouts[count] = views_bout(service, live, day_audiences[public ? 1 : 0]).bout;
        count += bouts[count] != NULL ? 1 : 0;
    }
    const struct draw_source source = {hall_day(&service->hall), bouts, count, now_ms, public};
    bool done = day_draw_add(object, &source, &service->draws[public ? 1 : 0]);
    free(bouts);
    return done;
}

static json_t *day_json(struct service *service, bool public)
{
    json_t *object = json_object();
    bool complete = object != NULL && json_add(object, "mats", mats_of(service, public)) &&
                    json_add(object, "results", results_of(service, public)) &&
                    add_draw(object, service, public);
    return json_whole(object, complete);
}

static bool covers_any(const struct hall *hall)
{
    for (const struct hall_bout *bout = hall->bouts; bout != NULL; bout = bout->next)
        if (bout->privacy.covers)
            return true;
    return day_draw_covers(&hall->day);
}

/* The booth's where that is the same. */
static json_t *public_day_json(struct service *service, json_t *booth)
{
    bool same = !covers_any(&service->hall) && service->views.first == NULL;
    if (!service->public_is_off)
        return same ? json_incref(booth) : day_json(service, true);
    json_t *object = json_pack("{s:{}}", "mats");
    return json_whole(object, object != NULL && add_withheld(service, object));
}

static bool publish_day(struct service *service)
{
    json_t *booth = day_json(service, false);
    json_t *follow = booth != NULL ? public_day_json(service, booth) : NULL;
    bool done = publish(service, "day/follow", follow);
    return publish(service, "day/booth", booth) && done;
}

static bool hall_has_changed(const struct hall *hall)
{
    const struct mat *mat = hall->mats;
    while (mat != NULL && !mat->changed)
        mat = mat->next;
    return hall->day_changed || mat != NULL;
}

static bool day_has_changed(const struct service *service)
{
    bool changed =
        hall_has_changed(&service->hall) || relay_state(service->relay, "day/follow") == NULL;
    for (const struct view *view = service->views.first; view != NULL && !changed;
         view = view->next)
        changed = view->mat != NULL && hall_has_changed(&view->hall);
    return changed;
}

bool shows_is_public(const char *topic)
{
    struct audience audience;
    return audience_of(topic, &audience) && audience.action == ACTION_READ_PUBLIC;
}

/* A day with minors is not public until somebody has said so. */
static void look_for_minors(struct service *service)
{
    bool off = service->hall.has_minors && !service->options.public_minors;
    if (off == service->public_is_off)
        return;
    service->public_is_off = off;
    report(&service->report, REPORT_WARNING,
           off ? "minors wrestle: the public feed is off until --public-minors is given"
               : "the public feed is on",
           "%s", "");
    relay_forget(service->relay, shows_is_public);
    outputs_thaw(service);
    for (struct mat *mat = service->hall.mats; mat != NULL; mat = mat->next)
        mat->changed = true;
    views_change(service);
}

static void forget_changes(struct service *service)
{
    for (struct mat *mat = service->hall.mats; mat != NULL; mat = mat->next)
        mat->changed = false;
    service->hall.day_changed = false;
    views_published(service);
}

bool shows_publish(struct service *service)
{
    look_for_minors(service);
    bool done = outputs_publish(service); /* first: the screen must not wait for the others */
    done = publish_mats(service) && done;
    if (day_has_changed(service))
        done = publish_day(service) && done;
    forget_changes(service);
    return done;
}

/* A mat's before its first bout. */
static bool publish_empty(struct service *service, const char *topic, const char *name)
{
    struct mat *mat = hall_mat_add(&service->hall, name);
    struct looked looked = looked_begin();
    bool done = mat != NULL && publish_mat(service, mat, &looked);
    arena_close(&looked.arena);
    if (!done)
        return false;
    for (struct view *view = service->views.first; view != NULL; view = view->next)
        if (strcmp(view->topic, topic) == 0)
            return publish_view(service, view);
    return true;
}

bool shows_ensure(struct service *service, const char *topic)
{
    struct audience audience;
    size_t asked_for = 0;
    if (relay_state(service->relay, topic) != NULL)
        return true;
    if (strcmp(topic, "gallery") == 0)
        return gallery_publish(service);
    if (!audience_of(topic, &audience) || audience.mat[0] == '\0')
        return false;
    for (const struct mat *mat = service->hall.mats; mat != NULL; mat = mat->next)
        asked_for += mat->first_seq == 0 ? 1 : 0;
    return asked_for < MATS_ASKED_FOR_MAX && publish_empty(service, topic, audience.mat);
}
