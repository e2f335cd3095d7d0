#include "wire/view_json.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "rules/value.h"
#include "stats/led.h"
#include "wire/json.h"
#include "wire/state_json.h"

static bool add_by_seq(json_t *object, uint64_t seq, json_t *value)
{
    char name[24];
    snprintf(name, sizeof name, "%llu", (unsigned long long)seq);
    return json_add(object, name, value);
}

static json_t *person_json(const struct person *person)
{
    json_t *object = json_object();
    return json_whole(object, json_add_text(object, "name", person->name) &&
                                  json_add_text(object, "family", person->family) &&
                                  json_add_text(object, "given", person->given) &&
                                  json_add_text(object, "say", person->say) &&
                                  json_add_text(object, "team", person->team) &&
                                  json_add_text(object, "noc", person->noc) &&
                                  json_add_text(object, "athlete", person->athlete));
}

static json_t *values_json(const struct edition *edition)
{
    json_t *object = json_object();
    bool complete = object != NULL;
    for (unsigned value = 1; value <= EDITION_VALUE_MAX && complete; value++)
        complete = !edition->values[value] || add_by_seq(object, value, json_true());
    return json_whole(object, complete);
}

static bool add_unless_none(json_t *object, const char *name, int32_t number)
{
    return number == EDITION_NONE || json_add_integer(object, name, number);
}

static json_t *details_json(const struct details *details)
{
    const struct edition *edition = details->edition;
    json_t *object = json_object();
    return json_whole(
        object, json_add_text(object, "rules", edition->name) &&
                    json_add(object, "red", person_json(&details->sides[0])) &&
                    json_add(object, "blue", person_json(&details->sides[1])) &&
                    json_add_text(object, "mat", details->mat) &&
                    json_add_text(object, "number", details->number) &&
                    json_add_text(object, "style", details->style) &&
                    json_add_text(object, "age_group", details->age_group_name) &&
                    json_add_text(object, "weight", details->weight) &&
                    json_add_text(object, "stage", details->stage) &&
                    json_add_integer(object, "periods", details->periods) &&
                    json_add_integer(object, "period_ms", details->period_ms) &&
                    json_add_integer(object, "break_ms", details->break_ms) &&
                    json_add(object, "values", values_json(edition)) &&
                    json_add_integer(object, "superiority", edition->superiority) &&
                    json_add_integer(object, "cautions_out", edition->cautions_out) &&
                    add_unless_none(object, "activity_ms", edition->activity_ms) &&
                    add_unless_none(object, "forced_call_ms", details->age_group->forced_call_ms));
}

/* The clock as its events left it; once it has run out, as it stands then; while time stands, as it
 * is then. */
static json_t *anchor_json(const struct state *state, struct anchors anchors)
{
    const struct clock *clock = &state->fold->clock;
    const struct clock_reading *reading = &state->clock;
    json_t *object = json_object();
    bool runs = reading->running && !anchors.still;
    int64_t at_ms = reading->used_up            ? reading->used_up_ms
                    : reading->running && !runs ? state->now_ms
                                                : clock->anchor_ms;
    return json_whole(
        object, json_add_integer(object, "period", reading->period) &&
                    json_add_integer(object, "t_ms", runs ? clock->t_ms : reading->t_ms) &&
                    (!clock->keyed || json_add_time(object, "at", at_ms + anchors.behind_ms)) &&
                    json_add(object, "running", json_boolean(runs)) &&
                    json_add_true(object, "unsure", clock->unsure));
}

static json_t *break_json(const struct state *state, struct anchors anchors)
{
    json_t *object = json_object();
    return json_whole(object,
                      json_add_time(object, "ends_at", state->break_ends_ms + anchors.behind_ms));
}

static json_t *stoppage_json(const struct state *state, struct anchors anchors)
{
    const struct fold *fold = state->fold;
    const struct event *event = fold->events[fold->stoppage].event;
    json_t *object = json_object();
    return json_whole(
        object,
        json_add_text(object, "kind", event_word(EVENT_STOPPAGE, MEMBER_KIND, event->kind)) &&
            json_add_text(object, "side", side_name((enum side)event->side)) &&
            json_add_time(object, "since",
                          fold->bout->events[fold->stoppage].moment_ms + anchors.behind_ms));
}

static json_t *activity_json(const struct state *state)
{
    json_t *object = json_object();
    return json_whole(object, json_add_text(object, "side", side_name(state->activity.side)) &&
                                  json_add_integer(object, "period", state->activity.period) &&
                                  json_add_integer(object, "t_ms", state->activity.t_ms) &&
                                  json_add_integer(object, "length_ms",
                                                   state->fold->details->edition->activity_ms));
}

/* ---- what is kept from one view to the next ---- */

/* All that a mark is made of. */
struct mark_key {
    const char *kind, *technique, *action;
    uint64_t before_seq; /* of the mark that it stands before; 0: none */
    int32_t points, was_points, period, t_ms;
    enum side side, leader; /* leader: once this point stood */
    bool confirmed;
    uint8_t leg, outcome;
};

/* What a listed event is made of besides its document, which never changes. */
struct listed_key {
    int32_t period, t_ms;
    bool stands, confirmed;
};

struct view_item {
    json_t *mark, *listed; /* NULL: none is kept */
    struct mark_key mark_key;
    struct listed_key listed_key;
};

void view_memory_close(struct view_memory *memory)
{
    for (size_t i = 0; i < memory->count; i++) {
        json_decref(memory->items[i].mark);
        json_decref(memory->items[i].listed);
    }
    free(memory->items);
    *memory = (struct view_memory){NULL, 0};
}

static bool view_memory_grow(struct view_memory *memory, size_t count)
{
    if (count <= memory->count)
        return true;
    struct view_item *items = realloc(memory->items, count * sizeof *items);
    if (items == NULL)
        return false;
    memset(items + memory->count, 0, (count - memory->count) * sizeof *items);
    memory->items = items;
    memory->count = count;
    return true;
}

/* ---- the bout line ---- */

static const char *mark_kind(const struct read_event *read)
{
    const struct event *event = read->event;
    if (read->gives_points)
        return event->type == EVENT_SCORE ? "score" : "given";
    if (event->type == EVENT_ATTACK && read->attack_class != ATTACK_UNCOUNTED &&
        read->attack_class != ATTACK_HAS_SCORED)
        return "attack";
    if (event->type == EVENT_PASSIVITY && event->stage == PASSIVITY_ACTIVITY)
        return "activity";
    return NULL;
}

static const char *technique_of(const struct event *event)
{
    if (event->type == EVENT_SCORE)
        return event->technique;
    return event->techniques != NULL ? event->techniques->names[0] : NULL;
}

static uint64_t before_of(const struct fold *fold, const struct read_event *read)
{
    int32_t before = read->event->before;
    if (!read->gives_points || before == EVENT_NONE || !fold->events[before].gives_points)
        return 0;
    return fold->bout->events[before].seq;
}

static struct mark_key mark_key_of(const struct fold *fold, const struct read_event *read,
                                   const char *kind, enum side leader)
{
    const struct event *event = read->event;
    return (struct mark_key){
        .kind = kind,
        .technique = technique_of(event),
        .action = event->action,
        .before_seq = before_of(fold, read),
        .points = read->gives_points ? event->points : 0,
        .was_points = read->was_points,
        .period = read->period,
        .t_ms = read->t_ms,
        .side = (enum side)(read->gives_points ? read->giver : event->side),
        .leader = read->gives_points && read->confirmed ? leader : SIDE_NONE,
        .confirmed = read->confirmed,
        .leg = event->leg,
        .outcome = event->type == EVENT_ATTACK ? event->outcome : 0,
    };
}

static bool mark_key_equal(const struct mark_key *one, const struct mark_key *other)
{
    return one->kind == other->kind && one->technique == other->technique &&
           one->action == other->action && one->before_seq == other->before_seq &&
           one->points == other->points && one->was_points == other->was_points &&
           one->period == other->period && one->t_ms == other->t_ms && one->side == other->side &&
           one->leader == other->leader && one->confirmed == other->confirmed &&
           one->leg == other->leg && one->outcome == other->outcome;
}

static bool add_unless_zero(json_t *object, const char *name, int64_t number)
{
    return number == 0 || json_add_integer(object, name, number);
}

static json_t *side_json(enum side side)
{
    return json_pack("{s:s}", "side", side_name(side));
}

static json_t *mark_json(const struct mark_key *key)
{
    json_t *mark = json_object();
    return json_whole(
        mark, json_add_text(mark, "kind", key->kind) &&
                  json_add_text(mark, "side", side_name(key->side)) &&
                  json_add_integer(mark, "period", key->period) &&
                  json_add_integer(mark, "t_ms", key->t_ms) &&
                  json_add_true(mark, "unconfirmed", !key->confirmed) &&
                  json_add_text(mark, "technique", key->technique) &&
                  json_add_text(mark, "leg", event_word(EVENT_ATTACK, MEMBER_LEG, key->leg)) &&
                  json_add_text(mark, "action", key->action) &&
                  json_add_text(mark, "outcome",
                                event_word(EVENT_ATTACK, MEMBER_OUTCOME, key->outcome)) &&
                  add_unless_zero(mark, "points", key->points) &&
                  add_unless_zero(mark, "was", key->was_points) &&
                  add_unless_zero(mark, "before", (int64_t)key->before_seq) &&
                  (key->leader == SIDE_NONE || json_add(mark, "leader", side_json(key->leader))));
}

/* The mark as it was, where it is made of the same. */
static json_t *mark_kept(struct view_item *item, const struct mark_key *key)
{
    if (item->mark == NULL || !mark_key_equal(&item->mark_key, key)) {
        json_decref(item->mark);
        item->mark = mark_json(key);
        item->mark_key = *key;
    }
    return json_incref(item->mark);
}

static json_t *line_json(const struct state *state, struct view_memory *memory)
{
    const struct fold *fold = state->fold;
    json_t *line = json_object();
    struct led led = {.tallies = {.first_point = SIDE_NONE}};
    bool complete = line != NULL && view_memory_grow(memory, fold->count);
    for (size_t i = 0; i < fold->count && complete; i++) {
        const struct read_event *read = &fold->events[i];
        const char *kind = read->stands ? mark_kind(read) : NULL;
        enum side leader = led_after(&led, fold, i);
        if (kind == NULL)
            continue;
        struct mark_key key = mark_key_of(fold, read, kind, leader);
        complete = add_by_seq(line, fold->bout->events[i].seq, mark_kept(&memory->items[i], &key));
    }
    return json_whole(line, complete);
}

/* Time stands: what is counted is counted up to then. */
static bool add_still(json_t *object, const struct state *state, struct anchors anchors)
{
    return !anchors.still || json_add_time(object, "still_at", state->now_ms + anchors.behind_ms);
}

json_t *view_json(const struct state *state, struct view_memory *memory, struct anchors anchors)
{
    const struct fold *fold = state->fold;
    json_t *view = json_object();
    return json_whole(
        view,
        state_json_score(view, state) && json_add_integer(view, "seq", (int64_t)state->seq) &&
            json_add(view, "details", details_json(fold->details)) &&
            json_add(view, "clock", anchor_json(state, anchors)) &&
            add_still(view, state, anchors) &&
            (state->break_left_ms == EVENT_NONE ||
             json_add(view, "break", break_json(state, anchors))) &&
            (fold->stoppage == EVENT_NONE ||
             json_add(view, "stoppage", stoppage_json(state, anchors))) &&
            (state->activity.side == SIDE_NONE ||
             json_add(view, "activity", activity_json(state))) &&
            (state->forced_call_left_ms == EVENT_NONE ||
             json_add(view, "forced_call",
                      json_pack("{s:i}", "t_ms", (int)fold->details->age_group->forced_call_ms))) &&
            json_add(view, "line", line_json(state, memory)));
}

/* ---- the list of what was keyed ---- */

/* The event's own members, without those that the list doesn't need. */
static json_t *own_members(const struct event *event)
{
    json_t *object = json_of(event->document);
    static const char *const apart[] = {"bout", "seq", "period", "t_ms"};
    for (size_t i = 0; i < sizeof apart / sizeof *apart && object != NULL; i++)
        json_object_del(object, apart[i]);
    return object;
}

static bool amend_members(json_t *object, const struct event *amend)
{
    const struct value *set = value_member(amend->document, "set");
    const struct value *unset = value_member(amend->document, "unset");
    for (size_t i = 0; set != NULL && i < set->count; i++)
        if (!json_add(object, set->items[i].name, json_of(&set->items[i])))
            return false;
    for (size_t i = 0; unset != NULL && i < unset->count; i++)
        json_object_del(object, unset->items[i].as.string);
    return true;
}

/* Its bout time; of a `set`, or a `start` of a period, what it sets the clock to. */
static bool add_bout_time(json_t *object, const struct read_event *read)
{
    const struct event *event = read->event;
    bool sets = event->type == EVENT_CLOCK && event_gives(event, MEMBER_PERIOD);
    return json_add_integer(object, "period", sets ? event->period : read->period) &&
           json_add_integer(object, "t_ms", sets ? event->t_ms : read->t_ms);
}

static bool add_reading(json_t *object, const struct read_event *read)
{
    if (!read->stands)
        return json_add_true(object, "out", true);
    return add_bout_time(object, read) && json_add_true(object, "amended", read->amended) &&
           json_add_true(object, "confirmed",
                         read->confirmed && event_gives(read->event, MEMBER_UNCONFIRMED)) &&
           add_unless_zero(object, "was", read->was_points);
}

static json_t *listed_json(const struct state *state, size_t place)
{
    const struct fold *fold = state->fold;
    const struct read_event *read = &fold->events[place];
    json_t *object = own_members(&fold->bout->events[place]);
    bool complete = object != NULL;
    for (size_t i = place + 1; i < fold->count && read->amended && complete; i++) {
        const struct event *amend = &fold->bout->events[i];
        if (fold->events[i].stands && amend->type == EVENT_AMEND && (size_t)amend->ref == place)
            complete = amend_members(object, amend);
    }
    return json_whole(object, complete && add_reading(object, read));
}

/* An amended event is made anew each time: its key would have to hold its amendments. */
static json_t *listed_kept(const struct state *state, size_t place, struct view_item *item)
{
    const struct read_event *read = &state->fold->events[place];
    struct listed_key key = {read->period, read->t_ms, read->stands, read->confirmed};
    bool same = item->listed != NULL && !read->amended && item->listed_key.period == key.period &&
                item->listed_key.t_ms == key.t_ms && item->listed_key.stands == key.stands &&
                item->listed_key.confirmed == key.confirmed;
    if (same)
        return json_incref(item->listed);
    json_decref(item->listed);
    json_t *listed = listed_json(state, place);
    item->listed = read->amended ? NULL : json_incref(listed);
    item->listed_key = key;
    return listed;
}

json_t *events_json(const struct state *state, struct view_memory *memory)
{
    const struct fold *fold = state->fold;
    json_t *list = json_object();
    bool complete = list != NULL && view_memory_grow(memory, fold->count);
    for (size_t i = 0; i < fold->count && complete; i++)
        if (fold->bout->events[i].type != EVENT_BOUT && fold->bout->events[i].type != EVENT_HIDDEN)
            complete = add_by_seq(list, fold->bout->events[i].seq,
                                  listed_kept(state, i, &memory->items[i]));
    return json_whole(list, complete);
}

json_t *notes_json(const struct state *state)
{
    const struct fold *fold = state->fold;
    json_t *notes = json_object();
    bool complete = notes != NULL;
    for (size_t i = 0; i < fold->count && complete; i++) {
        const struct event *event = fold->events[i].event;
        if (!fold->events[i].stands || event->type != EVENT_NOTE || event->to != NOTE_TO_BOOTH)
            continue;
        json_t *note = json_object();
        complete = add_by_seq(notes, fold->bout->events[i].seq, note) &&
                   json_add_text(note, "text", event->text) &&
                   json_add_text(note, "side", side_name((enum side)event->side));
    }
    return json_whole(notes, complete);
}

/* ---- other mats ---- */

static json_t *name_json(const struct person *person)
{
    json_t *object = json_object();
    return json_whole(object, json_add_text(object, "name", person->name) &&
                                  json_add_text(object, "family", person->family) &&
                                  json_add_text(object, "team", person->team));
}

json_t *short_json(const struct state *state, struct anchors anchors)
{
    static const char *const shared[] = {"score", "unconfirmed", "phase", "leader", "result"};
    const struct details *details = state->fold->details;
    json_t *all = json_object(), *object = json_object();
    bool complete = state_json_score(all, state);
    for (size_t i = 0; i < sizeof shared / sizeof *shared && complete; i++) {
        json_t *part = json_object_get(all, shared[i]);
        complete = part == NULL || json_add(object, shared[i], json_incref(part));
    }
    json_decref(all);
    return json_whole(object, complete && json_add_text(object, "bout", state->fold->bout->id) &&
                                  json_add_text(object, "number", details->number) &&
                                  json_add_text(object, "style", details->style) &&
                                  json_add_text(object, "weight", details->weight) &&
                                  json_add_text(object, "stage", details->stage) &&
                                  json_add(object, "red", name_json(&details->sides[0])) &&
                                  json_add(object, "blue", name_json(&details->sides[1])) &&
                                  json_add(object, "clock", anchor_json(state, anchors)) &&
                                  add_still(object, state, anchors) &&
                                  json_add_integer(object, "period_ms", details->period_ms) &&
                                  json_add_integer(object, "periods", details->periods));
}

json_t *result_line_json(const struct state *state)
{
    const struct details *details = state->fold->details;
    const struct result *result = &state->result;
    json_t *object = json_object();
    return json_whole(object,
                      json_add_text(object, "bout", state->fold->bout->id) &&
                          json_add_text(object, "mat", details->mat) &&
                          json_add_text(object, "number", details->number) &&
                          json_add_text(object, "red", details->sides[0].name) &&
                          json_add_text(object, "blue", details->sides[1].name) &&
                          json_add(object, "score",
                                   json_pack("{s:i, s:i}", "red", state->all.sides[0].points,
                                             "blue", state->all.sides[1].points)) &&
                          json_add_text(object, "how", result->how) &&
                          json_add_text(object, "code", result->code) &&
                          json_add_text(object, "winner", side_name(result->winner)) &&
                          json_add_integer(object, "time_ms", result->time_ms) &&
                          json_add_true(object, "unconfirmed", result->unconfirmed));
}
