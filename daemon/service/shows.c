#include "service/shows.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "prompts/cards.h"
#include "rules/time_of_day.h"
#include "wire/prompts_json.h"
#include "wire/state_json.h"
#include "wire/view_json.h"

enum { MATS_ASKED_FOR_MAX = 64, TOPIC_SIZE = 512 };

static bool publish(struct service *service, const char *topic, json_t *state)
{
    bool done = state != NULL && relay_publish(service->relay, topic, state) == 0;
    json_decref(state);
    return done;
}

static json_t *whole(json_t *object, bool complete)
{
    if (complete)
        return object;
    json_decref(object);
    return NULL;
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
    return whole(lines, complete);
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

/* `mat` and `view` are NULL before the first bout. */
static bool publish_output(struct service *service, const struct mat *mat, json_t *view)
{
    json_t *object = json_pack("{s:s, s:{s:b}}", "output", "main", "on_air", "line", 1);
    bool complete = object != NULL &&
                    json_add_text(object, "mat", mat != NULL ? mat->name : NULL) &&
                    (view == NULL || json_add(object, "bout", json_incref(view)));
    return publish(service, "out/main", whole(object, complete));
}

/* What a mat's topics are made of, each part made once. */
struct parts {
    json_t *view, *events, *notes, *cards, *lines;
};

static bool parts_make(struct parts *parts, struct mat *mat, int64_t now_ms)
{
    struct state state = state_of(&mat->shown->fold, now_ms);
    *parts = (struct parts){
        .view = view_json(&state, &mat->shown->memory),
        .events = events_json(&state, &mat->shown->memory),
        .notes = notes_json(&state),
        .cards = cards_json(&state, &mat->cards_next_ms),
        .lines = lines_of(mat),
    };
    return parts->view != NULL && parts->events != NULL && parts->notes != NULL &&
           parts->cards != NULL && parts->lines != NULL;
}

static void parts_free(struct parts *parts)
{
    json_decref(parts->view);
    json_decref(parts->events);
    json_decref(parts->notes);
    json_decref(parts->cards);
    json_decref(parts->lines);
}

/* A part that isn't made is left out. */
static bool add_part(json_t *object, const char *name, json_t *part)
{
    return part == NULL || json_add(object, name, json_incref(part));
}

static bool publish_one(struct service *service, const struct mat *mat, const char *audience,
                        const struct parts *parts)
{
    char topic[TOPIC_SIZE];
    json_t *object = json_object();
    bool table = strcmp(audience, "table") == 0, booth = strcmp(audience, "booth") == 0;
    snprintf(topic, sizeof topic, "mat/%s/%s", mat->name, audience);
    bool complete = json_add_text(object, "mat", mat->name) &&
                    add_part(object, "bout", parts->view) &&
                    add_part(object, "events", table || booth ? parts->events : NULL) &&
                    add_part(object, "notes", booth ? parts->notes : NULL) &&
                    add_part(object, "cards", booth ? parts->cards : NULL) &&
                    add_part(object, "lines", table || booth ? NULL : parts->lines);
    return publish(service, topic, whole(object, complete));
}

/* The screen first: its message must not wait for the others. */
static bool publish_mat(struct service *service, struct mat *mat, int64_t now_ms)
{
    struct parts parts = {NULL, NULL, NULL, NULL, NULL};
    bool done = mat->shown == NULL || parts_make(&parts, mat, now_ms);
    if (mat == mat_on_air(&service->hall))
        done = publish_output(service, mat, parts.view) && done;
    done = done && publish_one(service, mat, "booth", &parts) &&
           publish_one(service, mat, "table", &parts) &&
           publish_one(service, mat, "follow", &parts);
    parts_free(&parts);
    return done;
}

static json_t *mats_of(const struct hall *hall, int64_t now_ms)
{
    json_t *mats = json_object();
    bool complete = mats != NULL;
    for (const struct mat *mat = hall->mats; mat != NULL && complete; mat = mat->next) {
        if (mat->shown == NULL)
            continue;
        struct state state = state_of(&mat->shown->fold, now_ms);
        complete = json_add(mats, mat->name, short_json(&state));
    }
    return whole(mats, complete);
}

static json_t *results_of(const struct hall *hall, int64_t now_ms)
{
    json_t *results = json_object();
    bool complete = results != NULL;
    for (const struct hall_bout *bout = hall->bouts; bout != NULL && complete; bout = bout->next) {
        char number[24];
        struct state state = state_of(&bout->fold, now_ms);
        if (state.result.how == NULL)
            continue;
        snprintf(number, sizeof number, "%llu",
                 (unsigned long long)bout->bout->events[bout->fold.close].seq);
        complete = json_add(results, number, result_line_json(&state));
    }
    return whole(results, complete);
}

static bool publish_day(struct service *service, int64_t now_ms)
{
    json_t *object = json_object();
    bool complete = json_add(object, "mats", mats_of(&service->hall, now_ms)) &&
                    json_add(object, "results", results_of(&service->hall, now_ms));
    bool done = complete && relay_publish(service->relay, "day/follow", object) == 0 &&
                relay_publish(service->relay, "day/booth", object) == 0;
    json_decref(object);
    return done;
}

bool shows_publish(struct service *service)
{
    struct hall *hall = &service->hall;
    int64_t now_ms = daytime_now(&service->daytime);
    bool done = true;
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

/* mat/MAT/table, mat/MAT/booth, mat/MAT/follow: the mat's name, which may hold slashes itself. */
static bool mat_of_topic(const char *topic, char *name, size_t size)
{
    static const char *const ends[] = {"/table", "/booth", "/follow"};
    size_t length = strlen(topic);
    if (strncmp(topic, "mat/", 4) != 0)
        return false;
    for (size_t i = 0; i < sizeof ends / sizeof *ends; i++) {
        size_t end = strlen(ends[i]);
        if (length <= 4 + end || length - 4 - end >= size ||
            strcmp(topic + length - end, ends[i]) != 0)
            continue;
        memcpy(name, topic + 4, length - 4 - end);
        name[length - 4 - end] = '\0';
        return true;
    }
    return false;
}

bool shows_ensure(struct service *service, const char *topic)
{
    char name[TOPIC_SIZE - 16];
    size_t asked_for = 0;
    if (relay_state(service->relay, topic) != NULL)
        return true;
    if (!mat_of_topic(topic, name, sizeof name))
        return false;
    for (const struct mat *mat = service->hall.mats; mat != NULL; mat = mat->next)
        asked_for += mat->first_seq == 0 ? 1 : 0;
    struct mat *mat = asked_for < MATS_ASKED_FOR_MAX ? hall_mat_add(&service->hall, name) : NULL;
    return mat != NULL && publish_mat(service, mat, daytime_now(&service->daytime));
}
