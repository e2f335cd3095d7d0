#include "wire/output_json.h"
#include <stdio.h>
#include <string.h>
#include "rules/time_of_day.h"
#include "rules/value.h"
#include "wire/json.h"
#include "wire/state_json.h"

static bool add_number(json_t *object, size_t number, json_t *value)
{
    char name[24];
    snprintf(name, sizeof name, "%zu", number);
    return json_add(object, name, value);
}

static bool shows(enum side wanted, enum side side)
{
    return wanted == SIDE_NONE || wanted == side;
}

/* ---- attacks ---- */

/* A side that hasn't tried is left out: blank, not 0. */
static bool add_tries(json_t *object, enum side wanted, const int tried[2], const int scored[2])
{
    for (enum side side = SIDE_RED; side <= SIDE_BLUE; side++) {
        unsigned i = side_index(side);
        if (tried[i] > 0 && shows(wanted, side) &&
            !json_add(object, side_name(side),
                      json_pack("{s:i, s:i}", "tried", tried[i], "scored", scored[i])))
            return false;
    }
    return true;
}

static json_t *kind_json(const struct attack_kind *kind, enum side side)
{
    json_t *object = json_object();
    return json_whole(object, json_add_text(object, "technique", kind->technique) &&
                                  json_add_true(object, "others", kind->technique == NULL) &&
                                  add_tries(object, side, kind->tried, kind->scored));
}

static json_t *kinds_json(const struct sure_attacks *attacks, enum side side)
{
    json_t *kinds = json_object();
    bool complete = kinds != NULL;
    for (size_t i = 0; i < attacks->kind_count && complete; i++)
        complete = add_number(kinds, i + 1, kind_json(&attacks->kinds[i], side));
    return json_whole(kinds, complete);
}

static json_t *legs_json(const struct sure_attacks *attacks, enum side side)
{
    json_t *legs = json_object();
    bool complete = legs != NULL;
    for (unsigned leg = LEG_LEAD; leg <= LEG_TRAIL && complete; leg++) {
        const int *tried = attacks->leg_tried[leg], *scored = attacks->leg_scored[leg];
        json_t *object = json_object();
        complete = object != NULL && add_tries(object, side, tried, scored) &&
                   (tried[0] + tried[1] == 0 ||
                    json_add(legs, event_word(EVENT_ATTACK, MEMBER_LEG, leg), json_incref(object)));
        json_decref(object);
    }
    return json_whole(legs, complete);
}

json_t *attacks_json_sure(const struct state *state, enum side side)
{
    struct sure_attacks attacks = sure_attacks_of(state->fold);
    json_t *object = json_object();
    return json_whole(object, object != NULL &&
                                  add_tries(object, side, attacks.tried, attacks.scored) &&
                                  json_add(object, "kinds", kinds_json(&attacks, side)) &&
                                  json_add(object, "legs", legs_json(&attacks, side)));
}

/* ---- why ---- */

static json_t *holds_json(const struct tally *tally)
{
    json_t *holds = json_object();
    bool complete = holds != NULL;
    for (size_t value = 1; value <= EDITION_VALUE_MAX && complete; value++)
        complete =
            tally->holds[value] == 0 || add_number(holds, value, json_integer(tally->holds[value]));
    return json_whole(holds, complete);
}

static bool add_figures(json_t *object, const struct state *state, const struct why_step *step)
{
    const struct tally *sides = state->confirmed.sides;
    switch (step->by) {
    case BY_HOLDS:
        return json_add(object, "red", holds_json(&sides[0])) &&
               json_add(object, "blue", holds_json(&sides[1]));
    case BY_POINTS:
    case BY_CAUTIONS:
    case BY_TECHNIQUE:
        return json_add_integer(object, "red", step->red) &&
               json_add_integer(object, "blue", step->blue);
    case BY_LAST_POINT:
    case BY_FIRST_POINT:
    case BY_NOTHING:
        break;
    }
    return true;
}

static json_t *step_json(const struct state *state, const struct why_step *step)
{
    json_t *object = json_object();
    return json_whole(object, json_add_text(object, "by", criterion_name(step->by)) &&
                                  add_figures(object, state, step) &&
                                  json_add_text(object, "side", side_name(step->side)));
}

/* Where the order of criteria stands, for whoever asks. */
static const char *source_of(const struct edition *edition)
{
    const struct value *source = value_member(edition->document, "ties_source");
    return source != NULL && source->kind == VALUE_STRING ? source->as.string : NULL;
}

json_t *why_json(const struct state *state)
{
    struct reasons why = reasons_of(state);
    const struct edition *edition = state->fold->details->edition;
    json_t *object = json_object(), *steps = json_object();
    bool complete = steps != NULL;
    for (size_t i = 0; i < why.step_count && complete; i++)
        complete = add_number(steps, i + 1, step_json(state, &why.steps[i]));
    complete = json_add(object, "steps", steps) && complete;
    return json_whole(object, complete &&
                                  json_add(object, "leader",
                                           json_pack("{s:s, s:s}", "side",
                                                     side_name(state->confirmed_leader.side), "by",
                                                     criterion_name(state->confirmed_leader.by))) &&
                                  json_add_text(object, "rules", edition->name) &&
                                  json_add_text(object, "source", source_of(edition)));
}

/* ---- needs, result ---- */

static json_t *need_json(const struct state *state, enum side side)
{
    const struct needs *needs = &state->needs[side_index(side)];
    json_t *object = json_object();
    bool complete = json_add_true(object, "leads", state->leader.side == side) &&
                    (needs->to_superiority == 0 ||
                     json_add_integer(object, "to_superiority", needs->to_superiority));
    if (complete && needs->to_lead != 0) {
        const struct cell *cell = &state->outlook[side_index(side)][needs->to_lead];
        complete = json_add_integer(object, "to_lead", needs->to_lead) &&
                   json_add_text(object, "to_lead_by", criterion_name(cell->leader.by));
    }
    return json_whole(object, complete);
}

json_t *needs_json_sure(const struct state *state, enum side wanted)
{
    json_t *object = json_object();
    bool complete = object != NULL;
    for (enum side side = SIDE_RED; side <= SIDE_BLUE && complete; side++)
        complete =
            !shows(wanted, side) || json_add(object, side_name(side), need_json(state, side));
    return json_whole(object, complete);
}

json_t *result_panel_json(const struct state *state)
{
    const struct result *result = &state->result;
    const struct tally *red = &state->all.sides[0], *blue = &state->all.sides[1];
    json_t *object = json_object();
    enum side loser = result->winner == SIDE_NONE ? SIDE_NONE : side_other(result->winner);
    bool scored = loser != SIDE_NONE && state->all.sides[side_index(loser)].points > 0;
    return json_whole(
        object, json_add_text(object, "how", result->how) &&
                    json_add_text(object, "code", result->code) &&
                    json_add_text(object, "winner", side_name(result->winner)) &&
                    json_add_true(object, "loser_scored", scored) &&
                    json_add(object, "score",
                             json_pack("{s:i, s:i}", "red", red->points, "blue", blue->points)) &&
                    json_add(object, "class_points",
                             json_pack("{s:i, s:i}", "red", result->class_points[0], "blue",
                                       result->class_points[1])) &&
                    json_add_integer(object, "period", result->period) &&
                    json_add_integer(object, "time_ms", result->time_ms));
}

unsigned words_of(const json_t *data)
{
    unsigned count = 0;
    const char *name;
    json_t *part;
    if (json_is_string(data))
        return words_in(json_string_value(data));
    if (json_is_integer(data))
        return 1;
    json_object_foreach((json_t *)(uintptr_t)data, name, part) count +=
        strcmp(name, "source") == 0 ? 0 : words_of(part);
    return count;
}

/* ---- an output's parts ---- */

bool choice_add(json_t *object, const struct choice *choice)
{
    return json_add_text(object, "panel", panel_name(choice->panel)) &&
           json_add_text(object, "side", side_name(choice->side)) &&
           json_add_text(object, "text", choice->text) &&
           (choice->at_ms == 0 || json_add_time(object, "at", choice->at_ms));
}

json_t *look_json(const struct look *look)
{
    json_t *object = json_object();
    bool complete = object != NULL;
    for (unsigned i = 0; i < LOOK_COUNT && complete; i++)
        complete = look_is_plain(look, (enum look_member)i) ||
                   json_add_text(object, look_member_name((enum look_member)i), look->words[i]);
    return json_whole(object,
                      complete && (look->scale_percent == look_plain().scale_percent ||
                                   json_add_integer(object, "scale_percent", look->scale_percent)));
}

json_t *hold_json(const struct output *output)
{
    json_t *object = json_object();
    return json_whole(object, json_add_text(object, "how", hold_name(output->hold)) &&
                                  json_add_time(object, "since", output->hold_since_ms));
}

static json_t *seen_json(const struct seen *seen)
{
    json_t *object = json_object();
    json_t *score = json_pack("{s:i, s:i}", "red", seen->points[0], "blue", seen->points[1]);
    json_t *open =
        json_pack("{s:i, s:i}", "red", seen->unconfirmed[0], "blue", seen->unconfirmed[1]);
    bool complete = json_add(object, "score", score);
    complete = json_add(object, "unconfirmed", open) && complete;
    if (complete && seen->leader.side != SIDE_NONE)
        complete = json_add(object, "leader",
                            json_pack("{s:s, s:s}", "side", side_name(seen->leader.side), "by",
                                      criterion_name(seen->leader.by)));
    return json_whole(object, complete && json_add_text(object, "bout", seen->bout) &&
                                  json_add_integer(object, "seq", (int64_t)seen->seq) &&
                                  json_add_text(object, "phase", phase_name(seen->phase)) &&
                                  json_add_true(object, "under_review", seen->under_review) &&
                                  json_add_true(object, "result", seen->result));
}

/* Of no bout nothing was seen. */
static json_t *seen_or_nothing(const struct seen *seen)
{
    return seen->bout[0] != '\0' ? seen_json(seen) : json_object();
}

json_t *changes_json(const char *words, const struct seen *was, const struct seen *is)
{
    json_t *object = json_object();
    return json_whole(object, json_add_text(object, "words", words) &&
                                  json_add(object, "was", seen_or_nothing(was)) &&
                                  json_add(object, "is", seen_or_nothing(is)));
}

json_t *prepared_json(const struct output *output, const struct seen *now)
{
    const struct prepared *prepared = &output->prepared;
    char words[CHANGE_WORDS_SIZE];
    bool changed = seen_changes(&prepared->seen, now, words);
    json_t *object = json_object();
    return json_whole(
        object,
        object != NULL && choice_add(object, &prepared->choice) &&
            json_add_integer(object, "version", (int64_t)prepared->version) &&
            json_add_time(object, "since", prepared->at_ms) &&
            json_add_text(object, "by", prepared->by) &&
            (!changed || json_add(object, "changed", changes_json(words, &prepared->seen, now))));
}

static json_t *panel_on_air_json(const struct on_air *on_air)
{
    json_t *panel = json_object();
    return json_whole(panel, panel != NULL && choice_add(panel, &on_air->choice) &&
                                 json_add_text(panel, "bout", on_air->bout) &&
                                 json_add_time(panel, "since", on_air->since_ms) &&
                                 json_add_integer(panel, "least_ms", on_air->least_ms) &&
                                 json_add_text(panel, "rule", armed_rule_name(on_air->rule)) &&
                                 json_add_text(panel, "by", on_air->by));
}

json_t *on_air_json(const struct output *output)
{
    const struct on_air *on_air = &output->on_air;
    json_t *object = json_object();
    return json_whole(object, json_add(object, "line", json_boolean(on_air->line)) &&
                                  (on_air->choice.panel == PANEL_NONE ||
                                   json_add(object, "panel", panel_on_air_json(on_air))));
}

static json_t *rule_json(const struct output *output, enum armed_rule rule)
{
    const struct armed *armed = &output->armed[rule];
    json_t *object = json_object();
    return json_whole(object, json_add(object, "armed", json_boolean(armed->on)) &&
                                  (!armed->on || json_add_time(object, "since", armed->at_ms)) &&
                                  json_add_text(object, "by", armed->by) &&
                                  json_add_true(object, "waits", output->waiting[rule]) &&
                                  (rule != RULE_ROUND_BETWEEN || output->back_at_ms == 0 ||
                                   json_add_time(object, "at", output->back_at_ms)));
}

json_t *rules_json(const struct output *output)
{
    json_t *object = json_object();
    bool complete = object != NULL;
    for (unsigned rule = RULE_NONE + 1; rule < RULE_COUNT && complete; rule++)
        complete = json_add(object, armed_rule_name((enum armed_rule)rule),
                            rule_json(output, (enum armed_rule)rule));
    return json_whole(object, complete);
}

json_t *delay_json(const struct output_delay *delay)
{
    json_t *object = json_object();
    return json_whole(object, json_add_integer(object, "ms", delay->ms) &&
                                  (delay->rate == RATE_NONE ||
                                   (json_add_integer(object, "frames", delay->frames) &&
                                    json_add_text(object, "rate", frame_rate_name(delay->rate)))));
}

/* ---- kept in the store ---- */

enum { KEPT_FORMAT = 1 };

json_t *output_kept_json(const struct output *output)
{
    const struct prepared *prepared = &output->prepared;
    json_t *object = json_object();
    bool is_prepared = prepared->choice.panel != PANEL_NONE;
    json_t *ready = is_prepared ? prepared_json(output, &prepared->seen) : NULL;
    bool complete = !is_prepared || json_add(object, "prepared", ready);
    complete = complete && (!is_prepared || json_add(ready, "seen", seen_json(&prepared->seen)));
    return json_whole(
        object, complete && json_add_integer(object, "format", KEPT_FORMAT) &&
                    json_add_text(object, "output", output->name) &&
                    json_add_text(object, "mat", output->mat) &&
                    json_add_integer(object, "version", (int64_t)output->version) &&
                    json_add(object, "delay", delay_json(&output->delay)) &&
                    json_add(object, "look", look_json(&output->look)) &&
                    json_add(object, "on_air", on_air_json(output)) &&
                    json_add(object, "rules", rules_json(output)) &&
                    (output->hold == HOLD_OFF || json_add(object, "hold", hold_json(output))));
}

static void read_text(char *text, size_t size, const json_t *object, const char *name)
{
    const char *value = json_string_value(json_object_get(object, name));
    snprintf(text, size, "%s", value != NULL ? value : "");
}

static int64_t read_integer(const json_t *object, const char *name)
{
    return json_integer_value(json_object_get(object, name));
}

static int64_t read_time(const json_t *object, const char *name)
{
    const char *value = json_string_value(json_object_get(object, name));
    int64_t at_ms = 0;
    return value != NULL && time_of_day_read(value, &at_ms) ? at_ms : 0;
}

static enum side read_side(const json_t *object, const char *name)
{
    const char *value = json_string_value(json_object_get(object, name));
    return value == NULL                ? SIDE_NONE
           : strcmp(value, "red") == 0  ? SIDE_RED
           : strcmp(value, "blue") == 0 ? SIDE_BLUE
                                        : SIDE_NONE;
}

static struct choice choice_read(const json_t *object)
{
    struct choice choice = {.side = read_side(object, "side"), .at_ms = read_time(object, "at")};
    const char *panel = json_string_value(json_object_get(object, "panel"));
    if (panel == NULL || !panel_read(panel, &choice.panel))
        choice.panel = PANEL_NONE;
    read_text(choice.text, sizeof choice.text, object, "text");
    return choice;
}

static struct leader leader_read(const json_t *object)
{
    struct leader leader = {.side = read_side(object, "side")};
    const char *by = json_string_value(json_object_get(object, "by"));
    for (unsigned i = BY_NOTHING; by != NULL && i <= BY_TECHNIQUE; i++)
        if (strcmp(criterion_name((enum criterion)i), by) == 0)
            leader.by = (enum criterion)i;
    return leader;
}

static struct seen seen_read(const json_t *object)
{
    const json_t *score = json_object_get(object, "score");
    const json_t *open = json_object_get(object, "unconfirmed");
    const char *phase = json_string_value(json_object_get(object, "phase"));
    struct seen seen = {
        .seq = (uint64_t)read_integer(object, "seq"),
        .points = {(int)read_integer(score, "red"), (int)read_integer(score, "blue")},
        .unconfirmed = {(int)read_integer(open, "red"), (int)read_integer(open, "blue")},
        .leader = leader_read(json_object_get(object, "leader")),
        .under_review = json_is_true(json_object_get(object, "under_review")),
        .result = json_is_true(json_object_get(object, "result")),
    };
    for (unsigned i = PHASE_OFF; phase != NULL && i <= PHASE_STOPPED; i++)
        if (strcmp(phase_name((enum phase)i), phase) == 0)
            seen.phase = (enum phase)i;
    read_text(seen.bout, sizeof seen.bout, object, "bout");
    return seen;
}

static void prepared_read(struct prepared *prepared, const json_t *object)
{
    prepared->choice = choice_read(object);
    prepared->seen = seen_read(json_object_get(object, "seen"));
    prepared->version = (uint64_t)read_integer(object, "version");
    prepared->at_ms = read_time(object, "since");
    read_text(prepared->by, sizeof prepared->by, object, "by");
}

static void on_air_read(struct on_air *on_air, const json_t *object)
{
    const json_t *panel = json_object_get(object, "panel");
    const char *rule = json_string_value(json_object_get(panel, "rule"));
    on_air->line = json_is_true(json_object_get(object, "line"));
    on_air->choice = choice_read(panel);
    on_air->since_ms = read_time(panel, "since");
    on_air->least_ms = read_integer(panel, "least_ms");
    if (rule == NULL || !armed_rule_read(rule, &on_air->rule))
        on_air->rule = RULE_NONE;
    for (unsigned i = 0; on_air->rule != RULE_NONE && i < armed_rule_steps(on_air->rule); i++)
        if (armed_rule_panel(on_air->rule, i) == on_air->choice.panel)
            on_air->step = i;
    read_text(on_air->bout, sizeof on_air->bout, panel, "bout");
    read_text(on_air->by, sizeof on_air->by, panel, "by");
}

static void rules_read(struct output *output, const json_t *object)
{
    for (unsigned i = RULE_NONE + 1; i < RULE_COUNT; i++) {
        const json_t *rule = json_object_get(object, armed_rule_name((enum armed_rule)i));
        output->armed[i].on = json_is_true(json_object_get(rule, "armed"));
        output->armed[i].at_ms = read_time(rule, "since");
        read_text(output->armed[i].by, sizeof output->armed[i].by, rule, "by");
        if (i == RULE_ROUND_BETWEEN)
            output->back_at_ms = read_time(rule, "at");
    }
}

static void delay_read(struct output_delay *delay, const json_t *object)
{
    const char *rate = json_string_value(json_object_get(object, "rate"));
    delay->ms = read_integer(object, "ms");
    delay->frames = (int32_t)read_integer(object, "frames");
    if (rate == NULL || !frame_rate_read(rate, &delay->rate))
        *delay = (struct output_delay){.ms = delay->ms};
}

static void look_kept_read(struct look *look, const json_t *object)
{
    const json_t *scale = json_object_get(object, "scale_percent");
    for (unsigned i = 0; i < LOOK_COUNT; i++) {
        const char *name = look_member_name((enum look_member)i);
        if (json_is_string(json_object_get(object, name)))
            read_text(look->words[i], sizeof look->words[i], object, name);
    }
    if (json_is_integer(scale))
        look->scale_percent = (int)json_integer_value(scale);
}

bool output_kept_read(struct output *output, const json_t *kept)
{
    const char *name = json_string_value(json_object_get(kept, "output"));
    const json_t *hold = json_object_get(kept, "hold");
    const char *how = json_string_value(json_object_get(hold, "how"));
    if (name == NULL || !output_name_is_good(name) || read_integer(kept, "format") != KEPT_FORMAT)
        return false;
    *output = output_new(name);
    read_text(output->mat, sizeof output->mat, kept, "mat");
    output->version = (uint64_t)read_integer(kept, "version");
    delay_read(&output->delay, json_object_get(kept, "delay"));
    look_kept_read(&output->look, json_object_get(kept, "look"));
    if (json_object_get(kept, "prepared") != NULL)
        prepared_read(&output->prepared, json_object_get(kept, "prepared"));
    on_air_read(&output->on_air, json_object_get(kept, "on_air"));
    rules_read(output, json_object_get(kept, "rules"));
    if (how != NULL && hold_read(how, &output->hold))
        output->hold_since_ms = read_time(hold, "since");
    return true;
}
