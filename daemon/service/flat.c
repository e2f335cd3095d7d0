#include "service/flat.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "service/panels.h"
#include "wire/state_json.h"

enum kind { TEXT, NUMBER, FLAG, MOVING };

static const struct {
    const char *name;
    enum kind kind;
} rows[FLAT_COUNT] = {
    [FLAT_OUTPUT] = {"output", TEXT},
    [FLAT_MAT] = {"mat", TEXT},
    [FLAT_LINE] = {"line", FLAG},
    [FLAT_PANEL] = {"panel", TEXT},
    [FLAT_TEXT] = {"text", TEXT},
    [FLAT_HOLD] = {"hold", TEXT},
    [FLAT_BOUT] = {"bout", TEXT},
    [FLAT_NUMBER] = {"number", TEXT},
    [FLAT_STAGE] = {"stage", TEXT},
    [FLAT_STYLE] = {"style", TEXT},
    [FLAT_AGE_GROUP] = {"age_group", TEXT},
    [FLAT_WEIGHT] = {"weight", TEXT},
    [FLAT_PHASE] = {"phase", TEXT},
    [FLAT_PERIOD] = {"period", NUMBER},
    [FLAT_PERIODS] = {"periods", NUMBER},
    [FLAT_CLOCK] = {"clock", TEXT},
    [FLAT_CLOCK_ELAPSED] = {"clock_elapsed", TEXT},
    [FLAT_CLOCK_LEFT_MS] = {"clock_left_ms", MOVING},
    [FLAT_CLOCK_RUNS] = {"clock_running", FLAG},
    [FLAT_CLOCK_UNSURE] = {"clock_unsure", FLAG},
    [FLAT_RED_NAME] = {"red_name", TEXT},
    [FLAT_RED_FAMILY] = {"red_family", TEXT},
    [FLAT_RED_TEAM] = {"red_team", TEXT},
    [FLAT_RED_NOC] = {"red_noc", TEXT},
    [FLAT_RED_SCORE] = {"red_score", NUMBER},
    [FLAT_RED_UNCONFIRMED] = {"red_unconfirmed", NUMBER},
    [FLAT_RED_CAUTIONS] = {"red_cautions", NUMBER},
    [FLAT_BLUE_NAME] = {"blue_name", TEXT},
    [FLAT_BLUE_FAMILY] = {"blue_family", TEXT},
    [FLAT_BLUE_TEAM] = {"blue_team", TEXT},
    [FLAT_BLUE_NOC] = {"blue_noc", TEXT},
    [FLAT_BLUE_SCORE] = {"blue_score", NUMBER},
    [FLAT_BLUE_UNCONFIRMED] = {"blue_unconfirmed", NUMBER},
    [FLAT_BLUE_CAUTIONS] = {"blue_cautions", NUMBER},
    [FLAT_LEADER] = {"leader", TEXT},
    [FLAT_LEADER_BY] = {"leader_by", TEXT},
    [FLAT_ACTIVITY] = {"activity", TEXT},
    [FLAT_ACTIVITY_LEFT] = {"activity_left", TEXT},
    [FLAT_UNDER_REVIEW] = {"under_review", FLAG},
    [FLAT_RESULT_HOW] = {"result_how", TEXT},
    [FLAT_RESULT_CODE] = {"result_code", TEXT},
    [FLAT_RESULT_TIME] = {"result_time", TEXT},
    [FLAT_WINNER] = {"winner", TEXT},
    [FLAT_WINNER_NAME] = {"winner_name", TEXT},
};

const char *flat_name(enum flat_name name)
{
    return rows[name].name;
}

bool flat_moves(enum flat_name name)
{
    return rows[name].kind == MOVING;
}

/* ---- the values ---- */

static void put(struct flat *flat, enum flat_name name, const char *text)
{
    snprintf(flat->texts[name], FLAT_TEXT_SIZE, "%s", text != NULL ? text : "");
}

static void put_number(struct flat *flat, enum flat_name name, int64_t number)
{
    snprintf(flat->texts[name], FLAT_TEXT_SIZE, "%lld", (long long)number);
}

static void put_flag(struct flat *flat, enum flat_name name, bool fact)
{
    put(flat, name, fact ? "yes" : "");
}

/* Whole seconds of time left are rounded up, so that "0:00" is the end; of time gone, down. */
static void put_time(struct flat *flat, enum flat_name name, int64_t ms, bool left)
{
    int64_t seconds = (ms + (left ? 999 : 0)) / 1000;
    snprintf(flat->texts[name], FLAT_TEXT_SIZE, "%lld:%02lld", (long long)(seconds / 60),
             (long long)(seconds % 60));
}

/* What shows so much time left changes when the next whole second is reached. */
static void counts_down(struct flat *flat, int64_t left_ms)
{
    int64_t until_ms = left_ms % 1000 != 0 ? left_ms % 1000 : 1000;
    if (left_ms > 0 && until_ms < flat->next_ms)
        flat->next_ms = until_ms;
}

static void put_clock(struct flat *flat, const struct scene *scene)
{
    const struct state *state = &scene->state;
    const struct details *details = state->fold->details;
    bool runs = state->clock.running && !scene->anchors.still;
    bool breaks = state->break_left_ms != EVENT_NONE;
    int64_t left_ms = details->period_ms - state->clock.t_ms;
    put_number(flat, FLAT_PERIOD, state->clock.period);
    put_number(flat, FLAT_PERIODS, details->periods);
    put_time(flat, FLAT_CLOCK, breaks ? state->break_left_ms : left_ms, true);
    put_time(flat, FLAT_CLOCK_ELAPSED, state->clock.t_ms, false);
    put_number(flat, FLAT_CLOCK_LEFT_MS, left_ms);
    put_flag(flat, FLAT_CLOCK_RUNS, runs);
    put_flag(flat, FLAT_CLOCK_UNSURE, state->fold->clock.unsure);
    if (runs) {
        counts_down(flat, left_ms);
        counts_down(flat, 1000 - state->clock.t_ms % 1000); /* what has elapsed is another second */
    } else if (breaks && !scene->anchors.still) {
        counts_down(flat, state->break_left_ms);
    }
}

static void put_side(struct flat *flat, const struct scene *scene, const struct output *output,
                     enum side side, enum flat_name first)
{
    const struct state *state = &scene->state;
    const struct person *person = &state->fold->details->sides[side_index(side)];
    const struct tally *all = &state->all.sides[side_index(side)];
    const struct tally *sure = &state->confirmed.sides[side_index(side)];
    bool sure_alone = !look_is_plain(&output->look, LOOK_SCORE);
    int unconfirmed = state->fold->unconfirmed[side_index(side)];
    put(flat, first, person->name);
    put(flat, first + (FLAT_RED_FAMILY - FLAT_RED_NAME), person->family);
    put(flat, first + (FLAT_RED_TEAM - FLAT_RED_NAME), person->team);
    put(flat, first + (FLAT_RED_NOC - FLAT_RED_NAME), person->noc);
    put_number(flat, first + (FLAT_RED_SCORE - FLAT_RED_NAME),
               sure_alone ? sure->points : all->points);
    if (unconfirmed > 0 && !sure_alone)
        put_number(flat, first + (FLAT_RED_UNCONFIRMED - FLAT_RED_NAME), unconfirmed);
    put_number(flat, first + (FLAT_RED_CAUTIONS - FLAT_RED_NAME), sure->cautions);
}

static void put_leader(struct flat *flat, const struct state *state)
{
    bool waits = state->fold->unconfirmed[0] + state->fold->unconfirmed[1] > 0;
    put_flag(flat, FLAT_UNDER_REVIEW, state->under_review);
    if (waits || state->under_review || state->confirmed_leader.side == SIDE_NONE)
        return;
    put(flat, FLAT_LEADER, side_name(state->confirmed_leader.side));
    put(flat, FLAT_LEADER_BY, criterion_name(state->confirmed_leader.by));
}

static void put_activity(struct flat *flat, const struct scene *scene)
{
    const struct state *state = &scene->state;
    if (state->activity.side == SIDE_NONE)
        return;
    put(flat, FLAT_ACTIVITY, side_name(state->activity.side));
    put_time(flat, FLAT_ACTIVITY_LEFT, state->activity_left_ms, true);
    if (state->activity_running && !scene->anchors.still)
        counts_down(flat, state->activity_left_ms);
}

static void put_result(struct flat *flat, const struct state *state)
{
    const struct result *result = &state->result;
    if (result->how == NULL || result->unconfirmed)
        return;
    put(flat, FLAT_RESULT_HOW, result->how);
    put(flat, FLAT_RESULT_CODE, result->code);
    put_time(flat, FLAT_RESULT_TIME, result->time_ms, false);
    put(flat, FLAT_WINNER, side_name(result->winner));
    if (result->winner != SIDE_NONE)
        put(flat, FLAT_WINNER_NAME, state->fold->details->sides[side_index(result->winner)].name);
}

/* That the bout should end is said by what is confirmed alone. */
static enum phase phase_shown(const struct state *state)
{
    bool unsure = state->phase == PHASE_OVER && state->confirmed_due == DUE_NOTHING;
    return unsure ? PHASE_STOPPED : state->phase;
}

static void put_bout(struct flat *flat, const struct scene *scene, const struct output *output)
{
    const struct state *state = &scene->state;
    const struct details *details = state->fold->details;
    put(flat, FLAT_BOUT, state->fold->bout->id);
    put(flat, FLAT_NUMBER, details->number);
    put(flat, FLAT_STAGE, details->stage);
    put(flat, FLAT_STYLE, details->style);
    put(flat, FLAT_AGE_GROUP, details->age_group_name);
    put(flat, FLAT_WEIGHT, details->weight);
    put(flat, FLAT_PHASE, phase_name(phase_shown(state)));
    put_clock(flat, scene);
    put_side(flat, scene, output, SIDE_RED, FLAT_RED_NAME);
    put_side(flat, scene, output, SIDE_BLUE, FLAT_BLUE_NAME);
    put_leader(flat, state);
    put_activity(flat, scene);
    put_result(flat, state);
}

/* A free line as it may be told: scene_panel sees to that. */
static void put_text(struct flat *flat, const struct scene *scene, const struct choice *choice)
{
    json_t *data = choice->panel == PANEL_TEXT ? scene_panel(scene, choice) : NULL;
    put(flat, FLAT_TEXT, json_string_value(json_object_get(data, "text")));
    json_decref(data);
}

void flat_read(struct flat *flat, struct service *service, const struct output *output)
{
    struct scene scene;
    const struct on_air *on_air = &output->on_air;
    scene_look(&scene, service, output);
    memset(flat, 0, sizeof *flat);
    flat->next_ms = INT64_MAX;
    put(flat, FLAT_OUTPUT, output->name);
    put(flat, FLAT_MAT, scene.mat != NULL ? scene.mat->name : output->mat);
    put_flag(flat, FLAT_LINE, on_air->line && output->hold != HOLD_HIDE);
    if (output->hold != HOLD_HIDE)
        put(flat, FLAT_PANEL, panel_name(on_air->choice.panel));
    put(flat, FLAT_HOLD, output->hold != HOLD_OFF ? hold_name(output->hold) : "");
    if (output->hold != HOLD_HIDE)
        put_text(flat, &scene, &on_air->choice);
    if (scene.bout != NULL)
        put_bout(flat, &scene, output);
}

/* ---- JSON and CSV ---- */

static json_t *value_json(const struct flat *flat, enum flat_name name)
{
    switch (rows[name].kind) {
    case NUMBER:
    case MOVING:
        return json_integer(strtoll(flat->texts[name], NULL, 10));
    case FLAG:
        return json_true();
    case TEXT:
        break;
    }
    return json_string_nocheck(flat->texts[name]);
}

json_t *flat_json(const struct flat *flat)
{
    json_t *object = json_object();
    bool complete = object != NULL;
    for (unsigned name = 0; name < FLAT_COUNT && complete; name++)
        complete = flat->texts[name][0] == '\0' ||
                   json_add(object, rows[name].name, value_json(flat, (enum flat_name)name));
    return json_whole(object, complete);
}

/* OWASP, "CSV Injection": = + - @, a tab and a return begin a formula. */
static char *cell_write(char *to, const char *text)
{
    bool formula = text[0] != '\0' && strchr("=+-@\t\r", text[0]) != NULL;
    bool quoted = formula || strpbrk(text, ",\"\r\n") != NULL;
    if (quoted)
        *to++ = '"';
    if (formula)
        *to++ = '\'';
    for (; *text != '\0'; text++) {
        if (*text == '"')
            *to++ = '"';
        *to++ = *text;
    }
    if (quoted)
        *to++ = '"';
    return to;
}

char *flat_csv(const struct flat *flat)
{
    size_t room = 1;
    for (unsigned i = 0; i < FLAT_COUNT; i++)
        room += strlen(rows[i].name) + 2 * strlen(flat->texts[i]) + 8;
    char *text = malloc(room), *to = text;
    for (unsigned line = 0; line < 2 && text != NULL; line++) {
        for (unsigned i = 0; i < FLAT_COUNT; i++) {
            to = cell_write(to, line == 0 ? rows[i].name : flat->texts[i]);
            *to++ = ',';
        }
        memcpy(to - 1, "\r\n", 2); /* in the last comma's place */
        to++;
    }
    if (text != NULL)
        *to = '\0';
    return text;
}
