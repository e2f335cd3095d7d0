#include "service/panels.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "service/views.h"
#include "wire/output_json.h"
#include "wire/state_json.h"
#include "wire/view_json.h"

enum { CAME_MAX = 4, RESULTS_MAX = 4, ORDER_MAX = 4 };

/* ---- which mat, which bout ---- */

static struct mat *first_mat(const struct hall *hall)
{
    struct mat *first = NULL;
    for (struct mat *mat = hall->mats; mat != NULL; mat = mat->next)
        if (mat->first_seq > 0 && (first == NULL || mat->first_seq < first->first_seq))
            first = mat;
    return first;
}

void scene_look(struct scene *scene, struct service *service, const struct output *output)
{
    char topic[OUTPUT_NAME_SIZE + 8];
    snprintf(topic, sizeof topic, "out/%s", output->name);
    *scene = (struct scene){
        .service = service,
        .hall = views_hall(service, topic),
        .anchors = views_anchors(service, topic),
        .view_ms = views_now(service, topic),
    };
    scene->mat =
        output->mat[0] != '\0' ? hall_mat(scene->hall, output->mat) : first_mat(scene->hall);
    if (service->public_is_off || scene->mat == NULL || scene->mat->shown == NULL)
        return;
    scene->bout = scene->mat->shown;
    scene->fold = hall_public_fold(scene->bout);
    scene->state = state_of(scene->fold, scene->view_ms);
}

json_t *scene_view(const struct scene *scene, bool still)
{
    struct anchors anchors = scene->anchors;
    struct hall_bout *bout = scene->bout;
    anchors.still = anchors.still || still;
    return view_json(&scene->state, bout->privacy.covers ? &bout->public_memory : &bout->memory,
                     anchors);
}

/* ---- results of the day ---- */

static bool result_stands(const struct hall_bout *bout)
{
    const struct fold *fold = hall_public_fold(bout);
    return fold->close != EVENT_NONE && fold->events[fold->close].confirmed;
}

static uint64_t close_seq(const struct hall_bout *bout)
{
    return bout->bout->events[bout->fold.close].seq;
}

/* The latest that are `meant`, the earliest of them first. Answers how many. */
static size_t latest_results(const struct scene *scene,
                             bool (*meant)(const struct scene *scene, const struct hall_bout *bout,
                                           enum side side),
                             enum side side, const struct hall_bout *latest[], size_t most)
{
    size_t count = 0;
    for (const struct hall_bout *bout = scene->hall->bouts; bout != NULL; bout = bout->next) {
        if (!result_stands(bout) || !meant(scene, bout, side))
            continue;
        size_t place = count;
        while (place > 0 && close_seq(latest[place - 1]) > close_seq(bout))
            place--;
        if (count == most && place == 0)
            continue;
        if (count == most) {
            memmove(latest, latest + 1, (most - 1) * sizeof *latest);
            place--;
        } else
            memmove(latest + place + 1, latest + place, (count++ - place) * sizeof *latest);
        latest[place] = bout;
    }
    return count;
}

static bool is_any(const struct scene *scene, const struct hall_bout *bout, enum side side)
{
    (void)scene;
    (void)bout;
    (void)side;
    return true;
}

/* ---- who: how they got here ---- */

/* By the roster's key; without one by name and team, as they were called. */
static bool same_person(const struct person *one, const struct person *other)
{
    if (one->athlete != NULL || other->athlete != NULL)
        return same_text(one->athlete, other->athlete);
    return same_text(one->name, other->name) && same_text(one->team, other->team);
}

static enum side side_in(const struct hall_bout *bout, const struct person *person)
{
    for (enum side side = SIDE_RED; side <= SIDE_BLUE; side++)
        if (same_person(&bout->fold.details->sides[side_index(side)], person))
            return side;
    return SIDE_NONE;
}

static bool was_theirs(const struct scene *scene, const struct hall_bout *bout, enum side side)
{
    return bout != scene->bout &&
           side_in(bout, &scene->bout->fold.details->sides[side_index(side)]) != SIDE_NONE;
}

static json_t *came_json(const struct scene *scene, const struct hall_bout *bout,
                         const struct person *person)
{
    enum side own = side_in(bout, person);
    struct state state = state_of(hall_public_fold(bout), scene->view_ms);
    const struct details *details = state.fold->details;
    unsigned i = side_index(own), j = side_index(side_other(own));
    json_t *object = json_object();
    return json_whole(object, json_add_text(object, "against", details->sides[j].name) &&
                                  json_add_true(object, "won", state.result.winner == own) &&
                                  json_add_text(object, "stage", details->stage) &&
                                  json_add_text(object, "how", state.result.how) &&
                                  json_add_text(object, "code", state.result.code) &&
                                  json_add(object, "score",
                                           json_pack("{s:i, s:i}", "own", state.all.sides[i].points,
                                                     "other", state.all.sides[j].points)));
}

static json_t *way_json(const struct scene *scene, enum side side)
{
    const struct hall_bout *latest[CAME_MAX];
    const struct person *person = &scene->bout->fold.details->sides[side_index(side)];
    size_t count = latest_results(scene, was_theirs, side, latest, CAME_MAX);
    json_t *way = json_object();
    bool complete = way != NULL;
    for (size_t i = 0; i < count && complete; i++) {
        char number[24];
        snprintf(number, sizeof number, "%zu", i + 1);
        complete = json_add(way, number, came_json(scene, latest[i], person));
    }
    return json_whole(way, complete);
}

static json_t *person_json(const struct scene *scene, enum side side)
{
    const struct person *person = &scene->fold->details->sides[side_index(side)];
    json_t *object = json_object();
    return json_whole(object, json_add_text(object, "name", person->name) &&
                                  json_add_text(object, "family", person->family) &&
                                  json_add_text(object, "given", person->given) &&
                                  json_add_text(object, "team", person->team) &&
                                  json_add_text(object, "noc", person->noc) &&
                                  json_add(object, "way", way_json(scene, side)));
}

static json_t *who_json(const struct scene *scene, enum side wanted)
{
    json_t *object = json_object();
    bool complete = object != NULL;
    for (enum side side = SIDE_RED; side <= SIDE_BLUE && complete; side++)
        complete = (wanted != SIDE_NONE && wanted != side) ||
                   json_add(object, side_name(side), person_json(scene, side));
    return json_whole(object, complete);
}

/* ---- other mats, results ---- */

static bool is_other_mat(const struct scene *scene, const struct mat *mat)
{
    return mat->shown != NULL && mat != scene->mat;
}

/* Who leads there isn't said while it isn't sure. */
static json_t *other_json(const struct scene *scene, const struct hall_bout *bout)
{
    struct state state = state_of(hall_public_fold(bout), scene->view_ms);
    json_t *object = short_json(&state, scene->anchors);
    bool unsure = state.under_review || state.fold->unconfirmed[0] + state.fold->unconfirmed[1] > 0;
    if (object != NULL && unsure)
        json_object_del(object, "leader");
    if (object != NULL && state.result.unconfirmed)
        json_object_del(object, "result");
    return object;
}

static json_t *mats_json(const struct scene *scene)
{
    json_t *object = json_object(), *mats = json_object();
    bool complete = mats != NULL;
    for (const struct mat *mat = scene->hall->mats; mat != NULL && complete; mat = mat->next)
        if (is_other_mat(scene, mat))
            complete = json_add(mats, mat->name, other_json(scene, mat->shown));
    complete = json_add(object, "mats", mats) && complete;
    return json_whole(object, complete);
}

static json_t *results_json(const struct scene *scene)
{
    const struct hall_bout *latest[RESULTS_MAX];
    size_t count = latest_results(scene, is_any, SIDE_NONE, latest, RESULTS_MAX);
    json_t *object = json_object(), *results = json_object();
    bool complete = results != NULL;
    for (size_t i = 0; i < count && complete; i++) {
        struct state state = state_of(hall_public_fold(latest[i]), scene->view_ms);
        char number[24];
        snprintf(number, sizeof number, "%llu", (unsigned long long)close_seq(latest[i]));
        complete = json_add(results, number, result_line_json(&state));
    }
    complete = json_add(object, "results", results) && complete;
    return json_whole(object, complete);
}

/* ---- the order of bouts ---- */

/* The draw by what the output is shown of its bouts; the roster and the slots are the live day's.
 */
static json_t *draw_json(const struct scene *scene)
{
    struct draw_memory own = {.parts = NULL};
    size_t count = 0;
    for (const struct hall_bout *bout = scene->hall->bouts; bout != NULL; bout = bout->next)
        count++;
    const struct hall_bout **bouts = malloc((count + 1) * sizeof *bouts);
    json_t *object = bouts != NULL ? json_object() : NULL;
    count = 0;
    for (const struct hall_bout *bout = scene->hall->bouts; object != NULL && bout != NULL;
         bout = bout->next)
        bouts[count++] = bout;
    const struct draw_source source = {&scene->service->hall.day, bouts, count, scene->view_ms,
                                       true};
    bool complete =
        object != NULL && day_draw_add(object, &source, scene->draw != NULL ? scene->draw : &own);
    free(bouts);
    draw_memory_close(&own);
    return json_whole(object, complete);
}

static bool is_to_come(const struct scene *scene, const json_t *slot)
{
    const char *mat = json_string_value(json_object_get(slot, "mat"));
    const char *state = json_string_value(json_object_get(slot, "state"));
    return mat != NULL && state != NULL && scene->mat != NULL &&
           strcmp(mat, scene->mat->name) == 0 &&
           (strcmp(state, "waits") == 0 || strcmp(state, "ready") == 0);
}

/* Slots without an order come last, in the order in which they were keyed. */
static int64_t order_of(const json_t *slot)
{
    const json_t *order = json_object_get(slot, "order");
    return json_is_integer(order) ? json_integer_value(order) : INT64_MAX;
}

struct to_come {
    const char *key; /* of the slot, in the draw */
    json_t *slot;
};

/* The first `most` that come on this mat. Answers how many. */
static size_t slots_to_come(const struct scene *scene, json_t *slots, struct to_come *first,
                            size_t most)
{
    size_t count = 0;
    const char *key;
    json_t *slot;
    json_object_foreach(slots, key, slot)
    {
        size_t place = count;
        if (!is_to_come(scene, slot))
            continue;
        while (place > 0 && order_of(first[place - 1].slot) > order_of(slot))
            place--;
        if (place == most)
            continue;
        count += count < most ? 1 : 0;
        memmove(first + place + 1, first + place, (count - 1 - place) * sizeof *first);
        first[place] = (struct to_come){key, slot};
    }
    return count;
}

/* Whom it waits for is told by the bout's number, where it has one. */
static json_t *waiting_json(const json_t *side, const json_t *slots)
{
    json_t *object = json_copy((json_t *)(uintptr_t)side);
    const char *of = json_string_value(json_object_get(side, "slot"));
    const json_t *number =
        of != NULL ? json_object_get(json_object_get(slots, of), "number") : NULL;
    json_object_del(object, "slot");
    return json_whole(object,
                      number == NULL || json_add_text(object, "number", json_string_value(number)));
}

static json_t *coming_json(const struct to_come *come, const json_t *slots, const json_t *expected)
{
    static const char *const shown[] = {"number", "stage", "style", "age_group", "weight"};
    json_t *object = json_object(), *range = json_object_get(expected, come->key);
    bool complete = object != NULL;
    for (size_t i = 0; i < sizeof shown / sizeof *shown && complete; i++)
        complete = json_add_text(object, shown[i],
                                 json_string_value(json_object_get(come->slot, shown[i])));
    for (enum side side = SIDE_RED; side <= SIDE_BLUE && complete; side++)
        complete = json_add(object, side_name(side),
                            waiting_json(json_object_get(come->slot, side_name(side)), slots));
    return json_whole(
        object, complete && (range == NULL || json_add(object, "expected", json_incref(range))));
}

static json_t *order_json(const struct scene *scene)
{
    struct to_come first[ORDER_MAX];
    json_t *draw = draw_json(scene), *slots = json_object_get(draw, "slots");
    json_t *object = json_object(), *order = json_object();
    size_t count = slots_to_come(scene, slots, first, ORDER_MAX);
    bool complete = draw != NULL && order != NULL;
    for (size_t i = 0; i < count && complete; i++) {
        char number[24];
        snprintf(number, sizeof number, "%zu", i + 1);
        complete = json_add(order, number,
                            coming_json(&first[i], slots, json_object_get(draw, "expected")));
    }
    json_decref(draw);
    complete = json_add(object, "order", order) && complete;
    return json_whole(object, complete);
}

static bool has_order(const struct scene *scene)
{
    if (scene->service->hall.day.slot_count == 0 || scene->service->public_is_off)
        return false;
    json_t *data = order_json(scene);
    bool has = json_object_size(json_object_get(data, "order")) > 0;
    json_decref(data);
    return has;
}

/* ---- what somebody wrote ---- */

static bool add_written(json_t *object, const struct scene *scene, const struct choice *choice)
{
    char text[PANEL_TEXT_SIZE];
    snprintf(text, sizeof text, "%s", choice->text);
    hall_conceal(&scene->service->hall, text, sizeof text);
    return json_add_text(object, "text", text) &&
           (choice->panel != PANEL_BACK || json_add_time(object, "at", choice->at_ms));
}

static json_t *written_json(const struct scene *scene, const struct choice *choice)
{
    json_t *object = json_object();
    return json_whole(object, object != NULL && add_written(object, scene, choice));
}

/* ---- all panels ---- */

/* The order takes deriving the draw: it is only looked for where it is `wanted`. */
static struct surroundings around_of(const struct scene *scene, bool wanted)
{
    struct surroundings around = {.is_private = scene->service->public_is_off,
                                  .has_order = wanted && has_order(scene)};
    for (const struct mat *mat = scene->hall->mats; mat != NULL; mat = mat->next)
        around.has_mats = around.has_mats || is_other_mat(scene, mat);
    for (const struct hall_bout *bout = scene->hall->bouts; bout != NULL && !around.has_results;
         bout = bout->next)
        around.has_results = result_stands(bout);
    return around;
}

static const struct state *state_or_none(const struct scene *scene)
{
    return scene->bout != NULL ? &scene->state : NULL;
}

enum absence scene_absence(const struct scene *scene, const struct choice *choice)
{
    struct surroundings around = around_of(scene, choice->panel == PANEL_ORDER);
    return choice_absence(choice, panel_absence(choice->panel, state_or_none(scene), &around));
}

static json_t *data_json(const struct scene *scene, const struct choice *choice)
{
    switch (choice->panel) {
    case PANEL_WHO:
        return who_json(scene, choice->side);
    case PANEL_ATTACKS:
        return attacks_json_sure(&scene->state, choice->side);
    case PANEL_WHY:
        return why_json(&scene->state);
    case PANEL_NEEDS:
        return needs_json_sure(&scene->state, choice->side);
    case PANEL_RESULT:
        return result_panel_json(&scene->state);
    case PANEL_MATS:
        return mats_json(scene);
    case PANEL_ORDER:
        return order_json(scene);
    case PANEL_RESULTS:
        return results_json(scene);
    case PANEL_TEXT:
    case PANEL_BACK:
        return written_json(scene, choice);
    case PANEL_NONE:
    case PANEL_COUNT:
        break;
    }
    return json_object();
}

json_t *scene_panel(const struct scene *scene, const struct choice *choice)
{
    return scene_absence(scene, choice) == ABSENT_NOT ? data_json(scene, choice) : json_object();
}

static void count_words(const struct scene *scene, const struct situation *situation,
                        struct surroundings *around)
{
    for (unsigned i = PANEL_NONE + 1; i < PANEL_COUNT; i++) {
        const struct choice choice = {.panel = (enum panel)i};
        json_t *data = situation->absent[i] == ABSENT_NOT ? data_json(scene, &choice) : NULL;
        around->words[i] = words_of(data);
        json_decref(data);
    }
}

struct situation scene_situation(const struct scene *scene, bool words)
{
    struct surroundings around = around_of(scene, words);
    int64_t now_ms = daytime_now(&scene->service->daytime);
    struct situation situation = situation_of(state_or_none(scene), &around, now_ms);
    if (!words)
        return situation;
    count_words(scene, &situation, &around);
    return situation_of(state_or_none(scene), &around, now_ms);
}
