#include "wire/state_json.h"
#include <stdio.h>
#include "rules/time_of_day.h"

json_t *json_whole(json_t *object, bool complete)
{
    if (complete)
        return object;
    json_decref(object);
    return NULL;
}

bool json_add(json_t *object, const char *name, json_t *value)
{
    if (object == NULL || value == NULL) {
        json_decref(value);
        return false;
    }
    return json_object_set_new_nocheck(object, name, value) == 0;
}

bool json_add_text(json_t *object, const char *name, const char *text)
{
    return text == NULL || text[0] == '\0' || json_add(object, name, json_string_nocheck(text));
}

bool json_add_integer(json_t *object, const char *name, int64_t number)
{
    return json_add(object, name, json_integer(number));
}

bool json_add_true(json_t *object, const char *name, bool fact)
{
    return !fact || json_add(object, name, json_true());
}

bool json_add_time(json_t *object, const char *name, int64_t ms)
{
    char text[TIME_OF_DAY_SIZE];
    time_of_day_write(ms, text);
    return json_add_text(object, name, text);
}

/* {red: …, blue: …} of whatever `one` makes of a side. */
static json_t *both(json_t *(*one)(const struct state *state, enum side side),
                    const struct state *state)
{
    json_t *object = json_object();
    if (!json_add(object, "red", one(state, SIDE_RED)) ||
        !json_add(object, "blue", one(state, SIDE_BLUE))) {
        json_decref(object);
        return NULL;
    }
    return object;
}

static json_t *numbers(int64_t red, int64_t blue)
{
    return json_pack("{s:I, s:I}", "red", (json_int_t)red, "blue", (json_int_t)blue);
}

static json_t *leader_json(struct leader leader)
{
    return json_pack("{s:s, s:s}", "side", side_name(leader.side), "by", criterion_name(leader.by));
}

static json_t *clock_json(const struct state *state)
{
    const struct details *details = state->fold->details;
    json_t *clock = json_object();
    int64_t elapsed_ms =
        (int64_t)(state->clock.period - 1) * details->period_ms + state->clock.t_ms;
    return json_whole(
        clock, json_add_integer(clock, "period", state->clock.period) &&
                   json_add_integer(clock, "t_ms", state->clock.t_ms) &&
                   json_add_integer(clock, "left_ms", details->period_ms - state->clock.t_ms) &&
                   json_add_integer(clock, "elapsed_ms", elapsed_ms) &&
                   json_add(clock, "running", json_boolean(state->clock.running)) &&
                   json_add_true(clock, "unsure", state->fold->clock.unsure));
}

static json_t *holds_json(const struct state *state, enum side side)
{
    json_t *holds = json_object();
    bool complete = holds != NULL;
    for (int value = 1; value <= EDITION_VALUE_MAX && complete; value++) {
        char name[16];
        int count = state->all.sides[side_index(side)].holds[value];
        snprintf(name, sizeof name, "%d", value);
        complete = count == 0 || json_add_integer(holds, name, count);
    }
    return json_whole(holds, complete);
}

static json_t *passivity_json(const struct state *state, enum side side)
{
    json_t *passivity = json_object();
    bool complete = passivity != NULL;
    for (unsigned stage = PASSIVITY_WARNING; stage <= PASSIVITY_PENALTY && complete; stage++) {
        int count = state->fold->passivity[side_index(side)][stage];
        complete =
            count == 0 ||
            json_add_integer(passivity, event_word(EVENT_PASSIVITY, MEMBER_STAGE, stage), count);
    }
    return json_whole(passivity, complete);
}

static json_t *challenge_json(const struct state *state, enum side side)
{
    const struct challenge_state *challenge = &state->fold->challenge[side_index(side)];
    json_t *object = json_object();
    bool complete = json_add(object, "left", json_boolean(!challenge->lost));
    if (complete && challenge->open != EVENT_NONE)
        complete = json_add_text(object, "open", state->fold->bout->events[challenge->open].id);
    return json_whole(object, complete);
}

static json_t *attempts_json(const struct attempts *attempts)
{
    return json_pack("{s:i, s:i, s:i}", "tried", attempts->tried, "scored", attempts->scored,
                     "points", attempts->points);
}

static bool add_attempts(json_t *object, const char *name, const struct attempts *attempts)
{
    if (attempts->tried == 0 && attempts->scored == 0 && attempts->points == 0)
        return true;
    return json_add(object, name, attempts_json(attempts));
}

static json_t *rows_json(const struct state *state, enum side side)
{
    json_t *rows = json_object();
    bool complete = rows != NULL;
    for (size_t i = 0; i < state->fold->row_count && complete; i++)
        complete = add_attempts(rows, state->fold->rows[i].technique,
                                &state->fold->rows[i].sides[side_index(side)]);
    return json_whole(rows, complete);
}

static json_t *attacks_json(const struct state *state, enum side side)
{
    const struct attack_tally *tally = &state->fold->attacks[side_index(side)];
    json_t *attacks = json_object(), *legs = json_object();
    bool complete = legs != NULL && add_attempts(legs, "lead", &tally->legs[LEG_LEAD]) &&
                    add_attempts(legs, "trail", &tally->legs[LEG_TRAIL]);
    complete = json_add(attacks, "leg", legs) && complete;
    return json_whole(attacks, complete && json_add_integer(attacks, "tried", tally->tried) &&
                                   json_add_integer(attacks, "scored", tally->scored) &&
                                   json_add_integer(attacks, "stopped", tally->stopped) &&
                                   json_add_integer(attacks, "countered", tally->countered) &&
                                   json_add(attacks, "by", rows_json(state, side)));
}

static json_t *cell_json(const struct cell *cell)
{
    json_t *object = numbers(cell->points[0], cell->points[1]);
    bool complete = object != NULL;
    if (complete && cell->leader.side != SIDE_NONE)
        complete = json_add(object, "leader", leader_json(cell->leader));
    if (complete && cell->superiority)
        complete = json_add_text(object, "due", due_name(DUE_SUPERIORITY));
    return json_whole(object, complete);
}

static json_t *outlook_json(const struct state *state, enum side side)
{
    json_t *outlook = json_object();
    bool complete = outlook != NULL;
    for (int value = 1; value <= EDITION_VALUE_MAX && complete; value++) {
        char name[16];
        snprintf(name, sizeof name, "%d", value);
        complete = !state->fold->details->edition->values[value] ||
                   json_add(outlook, name, cell_json(&state->outlook[side_index(side)][value]));
    }
    return json_whole(outlook, complete);
}

static json_t *needs_json(const struct state *state, enum side side)
{
    const struct needs *needs = &state->needs[side_index(side)];
    json_t *object = json_object();
    return json_whole(
        object, object != NULL &&
                    (needs->to_lead == 0 || json_add_integer(object, "to_lead", needs->to_lead)) &&
                    (needs->to_superiority == 0 ||
                     json_add_integer(object, "to_superiority", needs->to_superiority)));
}

static json_t *confirmed_json(const struct state *state)
{
    json_t *object = numbers(state->confirmed.sides[0].points, state->confirmed.sides[1].points);
    bool complete = object != NULL;
    if (complete && state->confirmed_leader.side != SIDE_NONE)
        complete = json_add(object, "leader", leader_json(state->confirmed_leader));
    return json_whole(object, complete &&
                                  json_add_text(object, "due", due_name(state->confirmed_due)) &&
                                  json_add_true(object, "under_review", state->under_review));
}

static json_t *position_json(const struct state *state)
{
    const struct event *event = state->fold->events[state->fold->position].event;
    json_t *object = json_object();
    return json_whole(object,
                      json_add_text(object, "position",
                                    event_word(EVENT_POSITION, MEMBER_POSITION, event->position)) &&
                          json_add_text(object, "top", side_name((enum side)event->top)) &&
                          json_add_true(object, "ordered", event_gives(event, MEMBER_ORDERED)));
}

static json_t *result_json(const struct state *state)
{
    const struct result *result = &state->result;
    json_t *object = json_object();
    return json_whole(object,
                      json_add_text(object, "how", result->how) &&
                          json_add_text(object, "code", result->code) &&
                          json_add_text(object, "winner", side_name(result->winner)) &&
                          json_add(object, "class_points",
                                   numbers(result->class_points[0], result->class_points[1])) &&
                          json_add_integer(object, "period", result->period) &&
                          json_add_integer(object, "time_ms", result->time_ms) &&
                          json_add(object, "consistent", json_boolean(result->consistent)) &&
                          json_add_true(object, "unconfirmed", result->unconfirmed));
}

static bool add_due(json_t *object, const struct state *state)
{
    if (state->due == DUE_NOTHING)
        return true;
    if (!json_add_text(object, "due", due_name(state->due)))
        return false;
    if (state->due != DUE_CAUTIONS)
        return true;
    json_t *sides = json_array();
    bool complete = sides != NULL;
    for (enum side side = SIDE_RED; side <= SIDE_BLUE && complete; side++)
        if (state->due_against[side_index(side)])
            complete = json_array_append_new(sides, json_string_nocheck(side_name(side))) == 0;
    return json_add(object, "due_against", json_whole(sides, complete));
}

bool state_json_score(json_t *object, const struct state *state)
{
    const struct fold *fold = state->fold;
    const struct tally *red = &state->all.sides[0], *blue = &state->all.sides[1];
    return json_add_text(object, "bout", fold->bout->id) &&
           json_add_text(object, "phase", phase_name(state->phase)) &&
           json_add(object, "score", numbers(red->points, blue->points)) &&
           json_add(object, "unconfirmed", numbers(fold->unconfirmed[0], fold->unconfirmed[1])) &&
           json_add(object, "confirmed", confirmed_json(state)) &&
           json_add(object, "holds", both(holds_json, state)) &&
           json_add(object, "cautions", numbers(red->cautions, blue->cautions)) &&
           json_add(object, "passivity", both(passivity_json, state)) &&
           json_add(object, "challenge", both(challenge_json, state)) &&
           (fold->position == EVENT_NONE || json_add(object, "position", position_json(state))) &&
           (state->leader.side == SIDE_NONE ||
            json_add(object, "leader", leader_json(state->leader))) &&
           add_due(object, state) && json_add(object, "attacks", both(attacks_json, state)) &&
           json_add(object, "outlook", both(outlook_json, state)) &&
           json_add(object, "needs", both(needs_json, state)) &&
           (state->result.how == NULL || json_add(object, "result", result_json(state)));
}

static json_t *stoppage_json(const struct state *state)
{
    const struct event *event = state->fold->events[state->fold->stoppage].event;
    json_t *object = json_object();
    return json_whole(
        object,
        json_add_text(object, "kind", event_word(EVENT_STOPPAGE, MEMBER_KIND, event->kind)) &&
            json_add_text(object, "side", side_name((enum side)event->side)) &&
            json_add_integer(object, "for_ms", state->stoppage_ms));
}

static json_t *activity_json(const struct state *state)
{
    return json_pack("{s:s, s:i, s:b}", "side", side_name(state->activity.side), "left_ms",
                     (int)state->activity_left_ms, "running", (int)state->activity_running);
}

json_t *state_json(const struct state *state)
{
    json_t *object = json_object();
    bool complete =
        state_json_score(object, state) && json_add_integer(object, "seq", (int64_t)state->seq) &&
        json_add(object, "clock", clock_json(state)) &&
        (state->break_left_ms == EVENT_NONE ||
         json_add(object, "break", json_pack("{s:i}", "left_ms", (int)state->break_left_ms))) &&
        (state->fold->stoppage == EVENT_NONE ||
         json_add(object, "stoppage", stoppage_json(state))) &&
        (state->activity.side == SIDE_NONE || json_add(object, "activity", activity_json(state))) &&
        (state->forced_call_left_ms == EVENT_NONE ||
         json_add(object, "forced_call",
                  json_pack("{s:i}", "left_ms", (int)state->forced_call_left_ms)));
    return json_whole(object, complete);
}
