#include "service/day_draw.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "access/initials.h"
#include "access/privacy.h"
#include "draw/picture.h"
#include "draw/schedule.h"
#include "wire/state_json.h"

struct making {
    const struct draw_source *source;
    struct picture_bout *bouts; /* of each of the source's, in its order */
    struct picture picture;
    struct arena arena;
};

struct draw_item {
    uint64_t signature; /* 0: nothing is kept */
    json_t *json;
};

static void items_close(struct draw_items *items)
{
    for (size_t i = 0; i < items->count; i++)
        json_decref(items->items[i].json);
    free(items->items);
    *items = (struct draw_items){NULL, 0};
}

void draw_memory_close(struct draw_memory *memory)
{
    items_close(&memory->slots);
    items_close(&memory->weights);
    json_decref(memory->parts);
    *memory = (struct draw_memory){.parts = NULL};
}

/* ---- whether it must be made again ---- */

/* By what is said, never by where it stands: what is shown with a delay is copied anew. */
static uint64_t mix(uint64_t signature, uint64_t value)
{
    signature = (signature ^ value) * UINT64_C(0x9E3779B97F4A7C15);
    return signature ^ signature >> 32;
}

static uint64_t mix_text(uint64_t signature, const char *text)
{
    uint64_t hash = UINT64_C(14695981039346656037); /* FNV-1a */
    for (const char *at = text; at != NULL && *at != '\0'; at++)
        hash = (hash ^ (unsigned char)*at) * UINT64_C(1099511628211);
    return mix(signature, text != NULL ? hash : 0);
}

static uint64_t sign_person(uint64_t signature, const struct person *person)
{
    const char *texts[] = {person->name, person->family, person->say,
                           person->team, person->noc,    person->athlete};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
        signature = mix_text(signature, texts[i]);
    return signature;
}

static uint64_t sign_result(uint64_t signature, const struct picture_bout *picture)
{
    const struct result *result = &picture->result;
    signature = mix_text(mix_text(signature, result->how), result->code);
    if (result->how == NULL)
        return signature;
    signature = mix(signature, (uint64_t)result->winner << 1 | (uint64_t)result->unconfirmed);
    for (unsigned side = 0; side < 2; side++)
        signature = mix(mix(signature, (uint64_t)picture->points[side]),
                        (uint64_t)result->class_points[side]);
    return signature;
}

static uint64_t sign_bout(uint64_t signature, const struct hall_bout *bout,
                          const struct picture_bout *picture)
{
    const struct details *details = picture->details;
    signature = mix(signature, picture->called_seq << 3 | (uint64_t)details->off << 2 |
                                   (uint64_t)bout->privacy.of_minors << 1 |
                                   (uint64_t)bout->privacy.group_of_minors);
    signature = mix_text(mix_text(signature, bout->bout->id), details->slot);
    signature = mix_text(signature, details->edition->name);
    signature = sign_person(sign_person(signature, &details->sides[0]), &details->sides[1]);
    return sign_result(signature, picture);
}

static uint64_t sign(const struct making *making)
{
    uint64_t signature = mix(making->source->public, making->source->day->read_count);
    for (size_t i = 0; i < making->source->bout_count; i++)
        signature = sign_bout(signature, making->source->bouts[i], &making->bouts[i]);
    return signature != 0 ? signature : 1;
}

/* What is shown of somebody hangs on their own entry; of one without, on everybody's. */
static uint64_t sign_who(uint64_t signature, const struct making *making, struct picture_who who)
{
    const struct day *day = making->source->day;
    const struct athlete *athlete = who.athlete != NULL ? day_athlete(day, who.athlete) : NULL;
    signature = mix_text(mix(signature, who.side), who.athlete);
    if (who.bout != PICTURE_NONE)
        signature = sign_bout(signature, making->source->bouts[who.bout], &making->bouts[who.bout]);
    if (athlete == NULL)
        return mix(signature, day->read_count);
    const struct person person = {athlete->name, athlete->family, NULL, athlete->say,
                                  athlete->team, athlete->noc,    NULL};
    signature = mix(sign_person(signature, &person), (uint64_t)athlete->seed);
    return mix(signature, (uint64_t)athlete_is_minor(athlete) << 2 |
                              (uint64_t)athlete->consent << 1 | (uint64_t)athlete->out);
}

static uint64_t sign_side(uint64_t signature, const struct making *making,
                          const struct picture_side *side)
{
    signature = mix(signature, (uint64_t)side->comes << 8 | (uint64_t)side->from);
    signature = mix(signature, (uint64_t)(uint32_t)side->slot << 16 | (uint64_t)side->pool << 8 |
                                   (uint64_t)side->place);
    return side->comes == COMES_KNOWN ? sign_who(signature, making, side->who) : signature;
}

static uint64_t sign_slot(const struct making *making, const struct picture_slot *slot,
                          bool covered)
{
    const struct slot *drawn = slot->slot;
    const char *texts[] = {drawn->slot,  drawn->number,    drawn->mat,    drawn->stage,
                           drawn->style, drawn->age_group, drawn->weight, drawn->starts_at};
    uint64_t signature = mix(covered, drawn->order_said ? (uint64_t)drawn->order + 1 : 0);
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
        signature = mix_text(signature, texts[i]);
    signature = mix(signature, (uint64_t)slot->decided << 1 | (uint64_t)slot->passed);
    signature = mix(mix(signature, (uint64_t)(uint32_t)slot->winner_to), slot->winner_to_side);
    signature = mix(mix(signature, (uint64_t)(uint32_t)slot->loser_to), slot->loser_to_side);
    for (unsigned side = 0; side < 2; side++)
        signature = sign_side(signature, making, &slot->sides[side]);
    if (slot->bout != PICTURE_NONE)
        signature =
            sign_bout(signature, making->source->bouts[slot->bout], &making->bouts[slot->bout]);
    return signature != 0 ? signature : 1;
}

static uint64_t sign_weight(const struct making *making, const struct picture_weight *weight,
                            bool covered)
{
    uint64_t signature = mix(covered, weight->decided);
    signature =
        mix_text(mix_text(mix_text(signature, weight->style), weight->age_group), weight->weight);
    for (size_t i = 0; i < weight->rank_count; i++) {
        const struct picture_rank *rank = &weight->ranks[i];
        const int figures[] = {rank->place,        rank->pool,          rank->bouts,
                               rank->victories,    rank->class_points,  rank->points_scored,
                               rank->points_given, (int)rank->who.bout, rank->who.side};
        for (size_t j = 0; j < sizeof figures / sizeof *figures; j++)
            signature = mix(signature, (uint64_t)(int64_t)figures[j]);
        signature = sign_who(signature, making, rank->who);
    }
    return signature != 0 ? signature : 1;
}

/* Room for so many; what was kept stays. False without memory. */
static bool items_grow(struct draw_items *items, size_t count)
{
    if (count <= items->count)
        return true;
    struct draw_item *grown = realloc(items->items, count * sizeof *grown);
    if (grown == NULL)
        return false;
    memset(grown + items->count, 0, (count - items->count) * sizeof *grown);
    *items = (struct draw_items){grown, count};
    return true;
}

static json_t *item_kept(const struct draw_item *item, uint64_t signature)
{
    return item->signature == signature ? json_incref(item->json) : NULL;
}

/* Keeps what was made, NULL too; answers it. */
static json_t *item_keep(struct draw_item *item, uint64_t signature, json_t *json)
{
    json_decref(item->json);
    *item = (struct draw_item){json != NULL ? signature : 0, json_incref(json)};
    return json;
}

/* ---- who ---- */

static const struct hall_bout *bout_of(const struct making *making, int32_t bout)
{
    return bout != PICTURE_NONE ? making->source->bouts[bout] : NULL;
}

static void fill(const char **text, const char *other)
{
    *text = *text != NULL ? *text : other;
}

/* As a bout called them, like on every other page; else as the roster has them. Without either, the
 * key stands for the name. */
static struct person person_of(const struct making *making, struct picture_who who)
{
    const struct athlete *athlete =
        who.athlete != NULL ? day_athlete(making->source->day, who.athlete) : NULL;
    struct person person = {.name = NULL};
    if (who.bout != PICTURE_NONE)
        person = making->bouts[who.bout].details->sides[who.side];
    person.athlete = who.athlete;
    if (athlete != NULL) {
        fill(&person.name, athlete->name);
        fill(&person.family, athlete->family);
        fill(&person.say, athlete->say);
        fill(&person.team, athlete->team);
        fill(&person.noc, athlete->noc);
    }
    fill(&person.name, who.athlete != NULL ? who.athlete : "");
    return person;
}

static bool is_withheld(const struct making *making, const struct picture_weight *weight,
                        struct picture_who who, const struct person *person)
{
    const struct hall_bout *bout = bout_of(making, who.bout);
    bool group = age_group_is_of_minors(weight->age_group) ||
                 (bout != NULL && bout->privacy.group_of_minors);
    return making->source->public && name_is_withheld(making->source->day, person, group);
}

/* `fallback` stands for a name that may not be told and has no initials. */
static bool add_person(json_t *object, const struct making *making,
                       const struct picture_weight *weight, struct picture_who who,
                       const char *fallback)
{
    char initials[INITIALS_SIZE];
    struct person person = person_of(making, who);
    if (is_withheld(making, weight, who, &person))
        return json_add_text(object, "name",
                             initials_of(person.name, initials) ? initials : fallback) &&
               json_add_text(object, "team", person.team);
    return json_add_text(object, "athlete", person.athlete) &&
           json_add_text(object, "name", person.name) &&
           json_add_text(object, "family", person.family) &&
           json_add_text(object, "say", person.say) && json_add_text(object, "team", person.team) &&
           json_add_text(object, "noc", person.noc);
}

/* ---- weights that say who is a minor ---- */

static bool is_of_minors(const struct making *making, int32_t number)
{
    const struct picture_weight *weight = &making->picture.weights[number];
    bool minors = age_group_is_of_minors(weight->age_group);
    for (size_t i = 0; i < weight->rank_count && !minors; i++) {
        struct person person = person_of(making, weight->ranks[i].who);
        const struct hall_bout *bout = bout_of(making, weight->ranks[i].who.bout);
        minors = (bout != NULL && bout->privacy.of_minors) ||
                 person_is_minor(making->source->day, &person);
    }
    return minors;
}

bool day_draw_covers(const struct day *day)
{
    for (size_t i = 0; i < day->count; i++)
        if (athlete_is_minor(day->athletes[i]))
            return true;
    for (size_t i = 0; i < day->slot_count; i++)
        if (age_group_is_of_minors(day->slots[i]->age_group))
            return true;
    return false;
}

/* Weights of minors aren't told, and slots are named after them. */
static bool is_covered(const struct making *making, int32_t number)
{
    return making->source->public && is_of_minors(making, number);
}

static bool add_weight(json_t *object, const struct making *making, int32_t number)
{
    const struct picture_weight *weight = &making->picture.weights[number];
    bool covered = is_covered(making, number);
    return json_add_text(object, "style", weight->style) &&
           json_add_text(object, "age_group", weight->age_group) &&
           json_add_text(object, "weight", covered ? NULL : weight->weight);
}

/* ---- slots ---- */

static bool add_key(json_t *object, const char *name, int32_t slot)
{
    char key[16];
    snprintf(key, sizeof key, "%d", (int)slot + 1);
    return slot == PICTURE_NONE || json_add_text(object, name, key);
}

static bool add_waiting(json_t *object, const struct picture_side *side)
{
    static const char *const words[] = {[WAITS_UNKNOWN] = "draw",
                                        [WAITS_FOR_WINNER] = "winner",
                                        [WAITS_FOR_LOSER] = "loser",
                                        [WAITS_FOR_BEATEN] = "beaten",
                                        [WAITS_FOR_POOL] = "pool"};
    return json_add_text(object, "waits", words[side->from]) &&
           add_key(object, "slot", side->slot) &&
           (side->pool == 0 || (json_add_integer(object, "pool", side->pool) &&
                                json_add_integer(object, "place", side->place)));
}

static bool add_known(json_t *object, const struct making *making,
                      const struct picture_weight *weight, const struct picture_side *side,
                      const char *fallback)
{
    const struct athlete *athlete =
        side->who.athlete != NULL ? day_athlete(making->source->day, side->who.athlete) : NULL;
    if (!add_person(object, making, weight, side->who, fallback))
        return false;
    /* Of whom not even the name is told, nothing else of the roster is. */
    if (athlete == NULL || json_object_get(object, "athlete") == NULL)
        return true;
    return (athlete->seed <= 0 || json_add_integer(object, "seed", athlete->seed)) &&
           json_add_true(object, "out", athlete->out);
}

static json_t *side_json(const struct making *making, const struct picture_slot *slot,
                         unsigned number)
{
    static const char *const fallbacks[] = {"Red", "Blue"};
    const struct picture_side *side = &slot->sides[number];
    const struct picture_weight *weight = &making->picture.weights[slot->weight];
    json_t *object = json_object();
    bool complete = object != NULL;
    switch (side->comes) {
    case COMES_LATER:
        complete = complete && add_waiting(object, side);
        break;
    case COMES_KNOWN:
        complete = complete && add_known(object, making, weight, side, fallbacks[number]);
        break;
    case COMES_NOBODY:
        complete = complete && json_add_true(object, "nobody", true);
        break;
    }
    return json_whole(object, complete);
}

static json_t *to_json(int32_t slot, unsigned side)
{
    json_t *object = json_object();
    return json_whole(object, object != NULL && add_key(object, "slot", slot) &&
                                  json_add_text(object, "side", side == 0 ? "red" : "blue"));
}

static json_t *result_json(const struct picture_bout *bout)
{
    const struct result *result = &bout->result;
    json_t *object = json_object();
    bool complete =
        object != NULL && json_add_text(object, "how", result->how) &&
        json_add_text(object, "code", result->code) &&
        json_add(object, "score",
                 json_pack("{s:i, s:i}", "red", bout->points[0], "blue", bout->points[1])) &&
        json_add_true(object, "unconfirmed", result->unconfirmed);
    if (result->winner != SIDE_NONE)
        complete = complete && json_add_text(object, "winner", side_name(result->winner));
    return json_whole(object, complete);
}

static const char *slot_state(const struct making *making, const struct picture_slot *slot)
{
    if (slot->decided)
        return slot->passed ? "passed" : "decided";
    if (slot->bout != PICTURE_NONE)
        return making->bouts[slot->bout].result.how != NULL ? "unconfirmed" : "called";
    return slot->sides[0].comes == COMES_KNOWN && slot->sides[1].comes == COMES_KNOWN ? "ready"
                                                                                      : "waits";
}

static bool add_bout(json_t *object, const struct making *making, const struct picture_slot *slot)
{
    if (slot->bout == PICTURE_NONE)
        return true;
    const struct picture_bout *bout = &making->bouts[slot->bout];
    return json_add_text(object, "bout", bout_of(making, slot->bout)->bout->id) &&
           (bout->result.how == NULL || json_add(object, "result", result_json(bout)));
}

static bool add_ways(json_t *object, const struct picture_slot *slot)
{
    return (slot->winner_to == PICTURE_NONE ||
            json_add(object, "winner_to", to_json(slot->winner_to, slot->winner_to_side))) &&
           (slot->loser_to == PICTURE_NONE ||
            json_add(object, "loser_to", to_json(slot->loser_to, slot->loser_to_side)));
}

/* Two of whom nothing but the same initials may be told are told apart by their sides. */
static bool part_names(json_t *red, json_t *blue)
{
    json_t *one = json_object_get(red, "name"), *other = json_object_get(blue, "name");
    if (one == NULL || other == NULL || !json_equal(one, other))
        return true;
    return (json_object_get(red, "athlete") != NULL || json_add_text(red, "name", "Red")) &&
           (json_object_get(blue, "athlete") != NULL || json_add_text(blue, "name", "Blue"));
}

static json_t *slot_json(const struct making *making, const struct picture_slot *slot, bool covered)
{
    const struct slot *drawn = slot->slot;
    json_t *object = json_object();
    bool complete = object != NULL && json_add_text(object, "slot", covered ? NULL : drawn->slot) &&
                    json_add_text(object, "number", drawn->number) &&
                    json_add_text(object, "mat", drawn->mat) &&
                    json_add_text(object, "stage", drawn->stage) &&
                    json_add_text(object, "starts_at", drawn->starts_at) &&
                    (!drawn->order_said || json_add_integer(object, "order", drawn->order)) &&
                    add_weight(object, making, slot->weight) &&
                    json_add_text(object, "state", slot_state(making, slot)) &&
                    json_add(object, "red", side_json(making, slot, 0)) &&
                    json_add(object, "blue", side_json(making, slot, 1)) &&
                    part_names(json_object_get(object, "red"), json_object_get(object, "blue")) &&
                    add_bout(object, making, slot) && add_ways(object, slot);
    return json_whole(object, complete);
}

/* What grows is keyed by number. */
static bool add_numbered(json_t *list, size_t number, json_t *item)
{
    char key[24];
    snprintf(key, sizeof key, "%zu", number + 1);
    return json_add(list, key, item);
}

static json_t *slots_json(const struct making *making, struct draw_items *kept)
{
    json_t *list = json_object();
    bool complete = list != NULL && items_grow(kept, making->picture.slot_count);
    for (size_t i = 0; i < making->picture.slot_count && complete; i++) {
        const struct picture_slot *slot = &making->picture.slots[i];
        bool covered = is_covered(making, slot->weight);
        uint64_t signature = sign_slot(making, slot, covered);
        json_t *json = item_kept(&kept->items[i], signature);
        if (json == NULL)
            json = item_keep(&kept->items[i], signature, slot_json(making, slot, covered));
        complete = add_numbered(list, i, json);
    }
    return json_whole(list, complete);
}

/* ---- weights ---- */

static json_t *rank_json(const struct making *making, const struct picture_weight *weight,
                         const struct picture_rank *rank)
{
    json_t *object = json_object();
    return json_whole(object,
                      object != NULL && add_person(object, making, weight, rank->who, "…") &&
                          (rank->place == 0 || json_add_integer(object, "place", rank->place)) &&
                          (rank->pool == 0 || json_add_integer(object, "pool", rank->pool)) &&
                          json_add_integer(object, "bouts", rank->bouts) &&
                          json_add_integer(object, "victories", rank->victories) &&
                          json_add_integer(object, "class_points", rank->class_points) &&
                          json_add_integer(object, "points_scored", rank->points_scored) &&
                          json_add_integer(object, "points_given", rank->points_given));
}

static json_t *weight_json(const struct making *making, size_t number)
{
    const struct picture_weight *weight = &making->picture.weights[number];
    json_t *object = json_object(), *ranks = json_object();
    bool complete = object != NULL && ranks != NULL;
    for (size_t i = 0; i < weight->rank_count && complete; i++)
        complete = add_numbered(ranks, i, rank_json(making, weight, &weight->ranks[i]));
    complete = complete && add_weight(object, making, (int32_t)number) &&
               json_add_true(object, "decided", weight->decided);
    return json_whole(object, json_add(object, "ranks", ranks) && complete);
}

static json_t *weights_json(const struct making *making, struct draw_items *kept)
{
    json_t *list = json_object();
    bool complete = list != NULL && items_grow(kept, making->picture.weight_count);
    for (size_t i = 0; i < making->picture.weight_count && complete; i++) {
        bool covered = is_covered(making, (int32_t)i);
        uint64_t signature = sign_weight(making, &making->picture.weights[i], covered);
        json_t *json = item_kept(&kept->items[i], signature);
        if (json == NULL)
            json = item_keep(&kept->items[i], signature, weight_json(making, i));
        complete = add_numbered(list, i, json);
    }
    return json_whole(list, complete);
}

/* ---- teams and sessions ---- */

static json_t *team_json(const struct picture_team *team)
{
    return json_pack("{s:s, s:i, s:i, s:i, s:i, s:i, s:i, s:i}", "team", team->team, "place",
                     team->place, "points", team->points, "gold", team->gold, "silver",
                     team->silver, "bronze", team->bronze, "won", team->won, "lost", team->lost);
}

static bool add_style(json_t *styles, const struct picture_team *team)
{
    json_t *rows = json_object_get(styles, team->style);
    if (rows == NULL) {
        if (!json_add(styles, team->style, json_object()))
            return false;
        rows = json_object_get(styles, team->style);
    }
    return add_numbered(rows, json_object_size(rows), team_json(team));
}

static json_t *table_json(const struct picture *picture)
{
    json_t *object = json_object(), *day = json_object(), *styles = json_object();
    bool complete = object != NULL && day != NULL && styles != NULL;
    for (size_t i = 0; i < picture->team_count && complete; i++)
        complete = add_numbered(day, i, team_json(&picture->teams[i]));
    for (size_t i = 0; i < picture->style_team_count && complete; i++)
        complete = add_style(styles, &picture->style_teams[i]);
    bool added = json_add(object, "day", day);
    added = json_add(object, "styles", styles) && added;
    return json_whole(object, complete && added);
}

static json_t *sessions_json(const struct day *day)
{
    json_t *list = json_object();
    bool complete = list != NULL;
    for (size_t i = 0; i < day->session_count && complete; i++) {
        const struct session *session = day->sessions[i];
        json_t *object = json_object();
        complete = add_numbered(list, i, object) && json_add_text(object, "name", session->name) &&
                   json_add_text(object, "session", session->session) &&
                   json_add_text(object, "mat", session->mat) &&
                   json_add_true(object, "running", session->running);
    }
    return json_whole(list, complete);
}

/* ---- all together ---- */

static const struct editions *editions_of(const struct draw_source *source)
{
    static const struct editions none = {NULL, 0};
    return source->bout_count > 0 ? source->bouts[0]->bout->log->editions : &none;
}

static json_t *parts_json(struct making *making, struct draw_memory *memory)
{
    const struct draw_source *source = making->source;
    json_t *parts = NULL;
    arena_init(&making->arena, malloc, free);
    if (picture_make(&making->picture, source->day, making->bouts, source->bout_count,
                     editions_of(source), &making->arena)) {
        parts = json_object();
        parts = json_whole(parts,
                           json_add(parts, "slots", slots_json(making, &memory->slots)) &&
                               json_add(parts, "weights", weights_json(making, &memory->weights)) &&
                               json_add(parts, "table", table_json(&making->picture)) &&
                               json_add(parts, "sessions", sessions_json(source->day)));
    }
    arena_close(&making->arena);
    return parts;
}

static bool make(struct making *making, struct draw_memory *memory)
{
    for (size_t i = 0; i < making->source->bout_count; i++) {
        struct state state = state_of(&making->source->bouts[i]->fold, making->source->now_ms);
        making->bouts[i] = picture_bout_of(&state);
    }
    uint64_t signature = sign(making);
    if (memory->signature == signature)
        return true;
    json_t *parts = parts_json(making, memory);
    if (parts == NULL)
        return false;
    json_decref(memory->parts);
    memory->signature = signature;
    memory->parts = parts;
    return true;
}

/* ---- when ---- */

/* In whole minutes: what is between them isn't known, and would only be noise. */
static json_t *range_json(const struct expected_start *expected)
{
    enum { MINUTE_MS = 60000 };
    json_t *object = json_object();
    int64_t to_ms = expected->to_ms + MINUTE_MS - 1;
    return json_whole(
        object, json_add_time(object, "from", expected->from_ms - expected->from_ms % MINUTE_MS) &&
                    json_add_time(object, "to", to_ms - to_ms % MINUTE_MS));
}

static json_t *ranges_json(const struct draw_source *source, const struct expected_start *expected)
{
    json_t *list = json_object();
    bool complete = list != NULL;
    for (size_t i = 0; i < source->day->slot_count && complete; i++)
        complete = !expected[i].known || add_numbered(list, i, range_json(&expected[i]));
    return json_whole(list, complete);
}

static json_t *expected_json(const struct draw_source *source)
{
    struct expected_start *expected = calloc(source->day->slot_count + 1, sizeof *expected);
    struct schedule_bout *bouts = calloc(source->bout_count + 1, sizeof *bouts);
    json_t *list = NULL;
    for (size_t i = 0; i < source->bout_count && bouts != NULL; i++) {
        struct state state = state_of(&source->bouts[i]->fold, source->now_ms);
        bouts[i] = schedule_bout_of(&state);
    }
    if (expected != NULL && bouts != NULL) {
        schedule_make(expected, source->day, editions_of(source), bouts, source->bout_count,
                      source->now_ms);
        list = ranges_json(source, expected);
    }
    free(expected);
    free(bouts);
    return list;
}

bool day_draw_add(json_t *object, const struct draw_source *source, struct draw_memory *memory)
{
    struct making making = {.source = source};
    making.bouts = malloc((source->bout_count + 1) * sizeof *making.bouts);
    bool done = making.bouts != NULL && make(&making, memory) &&
                json_object_update(object, memory->parts) == 0 &&
                json_add(object, "expected", expected_json(source));
    free(making.bouts);
    return done;
}
