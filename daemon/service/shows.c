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

static json_t *mat_json(const struct mat *mat)
{
    json_t *object = json_object();
    if (json_add_text(object, "mat", mat->name))
        return object;
    json_decref(object);
    return NULL;
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

static json_t *table_of(const struct mat *mat, const struct state *state)
{
    json_t *object = mat_json(mat);
    return whole(object, object != NULL && (state == NULL ||
                                            (json_add(object, "bout", view_json(state)) &&
                                             json_add(object, "events", events_json(state)))));
}

static json_t *booth_of(const struct mat *mat, const struct state *state, json_t *cards)
{
    json_t *object = table_of(mat, state);
    return whole(object, object != NULL &&
                             (state == NULL || (json_add(object, "cards", json_incref(cards)) &&
                                                json_add(object, "notes", notes_json(state)))));
}

static json_t *follow_of(const struct mat *mat, const struct state *state)
{
    json_t *object = mat_json(mat);
    return whole(object, object != NULL && (state == NULL ||
                                            (json_add(object, "bout", view_json(state)) &&
                                             json_add(object, "lines", lines_of(mat)))));
}

static bool publish_mat(struct service *service, struct mat *mat, int64_t now_ms)
{
    struct state state;
    const struct state *shown = NULL;
    json_t *cards = NULL;
    char topic[TOPIC_SIZE];
    bool done = true;
    if (mat->shown != NULL) {
        int64_t next_ms = INT64_MAX;
        state = state_of(&mat->shown->fold, now_ms);
        shown = &state;
        cards = cards_json(shown, &next_ms);
        mat->cards_next_ms = next_ms;
        done = cards != NULL;
    }
    snprintf(topic, sizeof topic, "mat/%s/table", mat->name);
    done = done && publish(service, topic, table_of(mat, shown));
    snprintf(topic, sizeof topic, "mat/%s/booth", mat->name);
    done = done && publish(service, topic, booth_of(mat, shown, cards));
    snprintf(topic, sizeof topic, "mat/%s/follow", mat->name);
    done = done && publish(service, topic, follow_of(mat, shown));
    json_decref(cards);
    return done;
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

static bool publish_output(struct service *service, int64_t now_ms)
{
    const struct mat *mat = mat_on_air(&service->hall);
    json_t *object = json_pack("{s:s, s:{s:b}}", "output", "main", "on_air", "line", 1);
    bool complete = object != NULL;
    if (complete && mat != NULL) {
        complete = json_add_text(object, "mat", mat->name);
        if (complete && mat->shown != NULL) {
            struct state state = state_of(&mat->shown->fold, now_ms);
            complete = json_add(object, "bout", view_json(&state));
        }
    }
    return publish(service, "out/main", whole(object, complete));
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
    const struct mat *on_air = mat_on_air(hall);
    bool done = true, output_changed = relay_state(service->relay, "out/main") == NULL;
    for (struct mat *mat = hall->mats; mat != NULL; mat = mat->next) {
        if (!mat->changed)
            continue;
        output_changed = output_changed || mat == on_air;
        hall->day_changed = true;
        done = publish_mat(service, mat, now_ms) && done;
        mat->changed = false;
    }
    if (output_changed)
        done = publish_output(service, now_ms) && done;
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
