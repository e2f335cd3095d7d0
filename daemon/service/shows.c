#include "service/shows.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "access/access.h"
#include "prompts/cards.h"
#include "rules/time_of_day.h"
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

/* The output `main` shows the first mat that had a bout. */
static struct mat *mat_on_air(const struct hall *hall)
{
    struct mat *first = NULL;
    for (struct mat *mat = hall->mats; mat != NULL; mat = mat->next)
        if (mat->first_seq > 0 && (first == NULL || mat->first_seq < first->first_seq))
            first = mat;
    return first;
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

/* `mat` and `view` are NULL before the first bout. */
static bool publish_output(struct service *service, const struct mat *mat, json_t *view)
{
    json_t *object = json_pack("{s:s, s:{s:b}}", "output", "main", "on_air", "line", 1);
    bool complete = object != NULL &&
                    json_add_text(object, "mat", mat != NULL ? mat->name : NULL) &&
                    add_part(object, "bout", view) && add_withheld(service, object);
    return publish(service, "out/main", json_whole(object, complete));
}

/* What a mat's topics are made of, each part made once. `shown` and `lines` are the public's. */
struct parts {
    json_t *view, *events, *notes, *cards, *shown, *lines;
};

static json_t *shown_json(struct hall_bout *bout, const struct parts *parts, int64_t now_ms)
{
    const struct anchors anchors = {0, false};
    if (!bout->privacy.covers)
        return json_incref(parts->view);
    struct state state = state_of(&bout->public_fold, now_ms);
    return view_json(&state, &bout->public_memory, anchors);
}

static bool parts_make(struct parts *parts, const struct service *service, struct mat *mat,
                       int64_t now_ms, bool public)
{
    const struct anchors anchors = {0, false};
    struct state state = state_of(&mat->shown->fold, now_ms);
    *parts = (struct parts){
        .view = view_json(&state, &mat->shown->memory, anchors),
        .events = events_json(&state, &mat->shown->memory),
        .notes = notes_json(&state),
        .cards = cards_json(service->options.language, &state, &mat->cards_next_ms),
    };
    if (public) {
        parts->shown = shown_json(mat->shown, parts, now_ms);
        parts->lines = lines_of(mat);
    }
    return parts->view != NULL && parts->events != NULL && parts->notes != NULL &&
           parts->cards != NULL && (!public || (parts->shown != NULL && parts->lines != NULL));
}

static void parts_free(struct parts *parts)
{
    json_decref(parts->view);
    json_decref(parts->shown);
    json_decref(parts->events);
    json_decref(parts->notes);
    json_decref(parts->cards);
    json_decref(parts->lines);
}

static bool publish_of_mat(struct service *service, const struct mat *mat, const char *audience,
                           json_t *object, bool complete)
{
    char topic[TOPIC_SIZE];
    snprintf(topic, sizeof topic, "mat/%s/%s", mat->name, audience);
    complete = complete && json_add_text(object, "mat", mat->name);
    return publish(service, topic, json_whole(object, complete));
}

static bool publish_booth(struct service *service, const struct mat *mat, const struct parts *parts)
{
    json_t *object = json_object();
    bool complete = object != NULL && add_part(object, "bout", parts->view) &&
                    add_part(object, "events", parts->events) &&
                    add_part(object, "notes", parts->notes) &&
                    add_part(object, "cards", parts->cards);
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

/* The screen first: its message must not wait for the others. */
static bool publish_mat(struct service *service, struct mat *mat, int64_t now_ms)
{
    struct parts parts = {NULL, NULL, NULL, NULL, NULL, NULL};
    bool done =
        mat->shown == NULL || parts_make(&parts, service, mat, now_ms, !service->public_is_off);
    if (mat == mat_on_air(&service->hall))
        done = done && publish_output(service, mat, parts.shown);
    done = done && publish_booth(service, mat, &parts) && publish_table(service, mat, &parts) &&
           publish_follow(service, mat, &parts);
    parts_free(&parts);
    return done;
}

/* ---- the day ---- */

/* As the booth has it, or the public. */
static const struct fold *fold_of(const struct hall_bout *bout, bool public)
{
    return public ? hall_public_fold(bout) : &bout->fold;
}

static json_t *mats_of(const struct hall *hall, int64_t now_ms, bool public)
{
    json_t *mats = json_object();
    bool complete = mats != NULL;
    for (const struct mat *mat = hall->mats; mat != NULL && complete; mat = mat->next) {
        if (mat->shown == NULL)
            continue;
        struct state state = state_of(fold_of(mat->shown, public), now_ms);
        complete = json_add(mats, mat->name, short_json(&state, (struct anchors){0, false}));
    }
    return json_whole(mats, complete);
}

static json_t *results_of(const struct hall *hall, int64_t now_ms, bool public)
{
    json_t *results = json_object();
    bool complete = results != NULL;
    for (const struct hall_bout *bout = hall->bouts; bout != NULL && complete; bout = bout->next) {
        char number[24];
        struct state state = state_of(fold_of(bout, public), now_ms);
        if (state.result.how == NULL)
            continue;
        snprintf(number, sizeof number, "%llu",
                 (unsigned long long)bout->bout->events[bout->fold.close].seq);
        complete = json_add(results, number, result_line_json(&state));
    }
    return json_whole(results, complete);
}

static json_t *day_json(const struct hall *hall, int64_t now_ms, bool public)
{
    json_t *object = json_object();
    bool complete = json_add(object, "mats", mats_of(hall, now_ms, public)) &&
                    json_add(object, "results", results_of(hall, now_ms, public));
    return json_whole(object, complete);
}

static bool covers_any(const struct hall *hall)
{
    for (const struct hall_bout *bout = hall->bouts; bout != NULL; bout = bout->next)
        if (bout->privacy.covers)
            return true;
    return false;
}

static json_t *public_day_json(const struct service *service, json_t *booth, int64_t now_ms)
{
    if (!service->public_is_off)
        return covers_any(&service->hall) ? day_json(&service->hall, now_ms, true)
                                          : json_incref(booth);
    json_t *object = json_pack("{s:{}}", "mats");
    return json_whole(object, object != NULL && add_withheld(service, object));
}

static bool publish_day(struct service *service, int64_t now_ms)
{
    json_t *booth = day_json(&service->hall, now_ms, false);
    json_t *follow = booth != NULL ? public_day_json(service, booth, now_ms) : NULL;
    bool done = publish(service, "day/follow", follow);
    return publish(service, "day/booth", booth) && done;
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
               : "no minors wrestle: the public feed is on",
           "%s", "");
    relay_forget(service->relay, shows_is_public);
    for (struct mat *mat = service->hall.mats; mat != NULL; mat = mat->next)
        mat->changed = true;
}

bool shows_publish(struct service *service)
{
    struct hall *hall = &service->hall;
    int64_t now_ms = daytime_now(&service->daytime);
    bool done = true;
    look_for_minors(service);
    for (struct mat *mat = hall->mats; mat != NULL; mat = mat->next) {
        if (!mat->changed)
            continue;
        hall->day_changed = true;
        done = publish_mat(service, mat, now_ms) && done;
        mat->changed = false;
    }
    if (relay_state(service->relay, "out/main") == NULL)
        done = publish_output(service, NULL, NULL) && done;
    if (hall->day_changed || relay_state(service->relay, "day/follow") == NULL)
        done = publish_day(service, now_ms) && done;
    hall->day_changed = false;
    return done;
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
    struct mat *mat =
        asked_for < MATS_ASKED_FOR_MAX ? hall_mat_add(&service->hall, audience.mat) : NULL;
    return mat != NULL && publish_mat(service, mat, daytime_now(&service->daytime));
}
