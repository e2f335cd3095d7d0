#include "producing/output.h"
#include <stdio.h>
#include <string.h>

enum {
    STEP_LEAST_MS = 8000
}; /* of a rule with several panels in turn: common practice, no source */

const char *hold_name(enum hold hold)
{
    static const char *const names[] = {"off", "freeze", "hide"};
    return names[hold];
}

bool hold_read(const char *name, enum hold *hold)
{
    for (unsigned i = HOLD_OFF; i <= HOLD_HIDE; i++)
        if (strcmp(hold_name((enum hold)i), name) == 0)
            return *hold = (enum hold)i, true;
    return false;
}

bool output_name_is_good(const char *name)
{
    size_t length = strlen(name);
    return length > 0 && length < OUTPUT_NAME_SIZE &&
           name[strspn(name, "abcdefghijklmnopqrstuvwxyz0123456789-")] == '\0';
}

struct output output_new(const char *name)
{
    struct output output = {.version = 1, .look = look_plain(), .on_air = {.line = true}};
    snprintf(output.name, sizeof output.name, "%s", name);
    return output;
}

static void by_write(char by[OUTPUT_BY_SIZE], const char *name)
{
    snprintf(by, OUTPUT_BY_SIZE, "%s", name);
}

/* ---- on air ---- */

static void panel_off(struct output *output)
{
    struct on_air *on_air = &output->on_air;
    *on_air = (struct on_air){.line = on_air->line};
}

static bool panel_is_up(const struct output *output)
{
    return output->on_air.choice.panel != PANEL_NONE;
}

static int64_t least_until_ms(const struct output *output)
{
    return output->on_air.since_ms + output->on_air.least_ms;
}

static void panel_on(struct output *output, const struct choice *choice,
                     const struct situation *now, const char *by)
{
    struct on_air *on_air = &output->on_air;
    panel_off(output);
    on_air->choice = *choice;
    if (panel_is_of_bout(choice->panel))
        memcpy(on_air->bout, now->seen.bout, sizeof on_air->bout);
    on_air->since_ms = now->now_ms;
    on_air->least_ms = panel_least_ms(choice, now->words[choice->panel]);
    by_write(on_air->by, by);
}

static void prepare(struct output *output, const struct choice *choice, const struct situation *now,
                    const char *by)
{
    output->prepared = (struct prepared){.choice = {.panel = PANEL_NONE}};
    if (choice->panel == PANEL_NONE)
        return;
    output->prepared.choice = *choice;
    output->prepared.seen = now->seen;
    output->prepared.version = output->version + 1;
    output->prepared.at_ms = now->now_ms;
    by_write(output->prepared.by, by);
}

/* ---- the actions ---- */

static enum act_answer refuse(char *detail, size_t size, enum act_answer answer, const char *what,
                              const char *why)
{
    snprintf(detail, size, "%s%s", what, why);
    return answer;
}

static void note_cut_short(const struct output *output, const struct situation *now,
                           struct act_outcome *outcome)
{
    int64_t left_ms = least_until_ms(output) - now->now_ms;
    if (!panel_is_up(output) || left_ms <= 0)
        return;
    outcome->cut_short = output->on_air.choice.panel;
    outcome->cut_short_ms = left_ms;
}

static enum act_answer take(struct output *output, const struct act *act,
                            const struct situation *now, const char *by,
                            struct act_outcome *outcome, char *detail, size_t size)
{
    const struct prepared *prepared = &output->prepared;
    bool named = act->choice.panel != PANEL_NONE;
    const struct choice choice = named ? act->choice : prepared->choice;
    bool panel = choice.panel != PANEL_NONE;
    if (!named && act->prepared != 0 && (!panel || act->prepared != prepared->version))
        return refuse(detail, size, ACT_NOT_PREPARED, panel ? panel_name(choice.panel) : "nothing",
                      " is prepared now");
    if (!panel && !act->line)
        return refuse(detail, size, ACT_NOT_PREPARED, "nothing is prepared, and no panel named",
                      "");
    enum absence absence = panel ? choice_absence(&choice, now->absent[choice.panel]) : ABSENT_NOT;
    if (absence != ABSENT_NOT)
        return refuse(detail, size, ACT_ABSENT,
                      "nothing of it can be shown: ", absence_words(absence));
    if (panel && !named) {
        outcome->was = prepared->seen;
        outcome->is = now->seen;
        outcome->has_changes = seen_changes(&outcome->was, &outcome->is, outcome->changes);
    }
    if (panel) {
        note_cut_short(output, now, outcome);
        panel_on(output, &choice, now, by);
    }
    if (panel && !named)
        prepare(output, &(struct choice){.panel = PANEL_NONE}, now, by);
    output->on_air.line = output->on_air.line || act->line;
    return ACT_DONE;
}

/* Whatever a rule still wants to bring is cleared too. */
static void clear(struct output *output, const struct act *act)
{
    bool all = !act->line && !act->panel;
    if (all || act->panel) {
        panel_off(output);
        memset(output->waiting, 0, sizeof output->waiting);
    }
    if (all || act->line)
        output->on_air.line = false;
    if (all)
        output->hold = HOLD_OFF;
}

static void hold(struct output *output, enum hold how, int64_t now_ms)
{
    if (how != output->hold)
        output->hold_since_ms = how != HOLD_OFF ? now_ms : 0;
    output->hold = how;
}

/* What was prepared, taken or seen of the other mat's bout doesn't go on here. */
static void change_mat(struct output *output, const char *mat)
{
    if (strcmp(output->mat, mat) == 0)
        return;
    snprintf(output->mat, sizeof output->mat, "%s", mat);
    if (panel_is_of_bout(output->on_air.choice.panel) || output->on_air.rule != RULE_NONE)
        panel_off(output);
    if (panel_is_of_bout(output->prepared.choice.panel))
        output->prepared = (struct prepared){.choice = {.panel = PANEL_NONE}};
    output->has_before = false;
    memset(output->waiting, 0, sizeof output->waiting);
}

static void arm(struct output *output, const struct act *act, int64_t now_ms, const char *by)
{
    struct armed *armed = &output->armed[act->rule];
    output->waiting[act->rule] = false;
    *armed = (struct armed){.on = act->on};
    if (act->rule == RULE_ROUND_BETWEEN)
        output->back_at_ms = act->at_ms;
    if (act->on) {
        armed->at_ms = now_ms;
        by_write(armed->by, by);
    } else if (output->on_air.rule == act->rule)
        panel_off(output);
}

enum act_answer output_act(struct output *output, const struct act *act,
                           const struct situation *now, const char *by, struct act_outcome *outcome,
                           char *detail, size_t detail_size)
{
    enum act_answer answer = ACT_DONE;
    *outcome = (struct act_outcome){.changed = true};
    switch (act->kind) {
    case ACT_PREPARE:
        prepare(output, &act->choice, now, by);
        break;
    case ACT_TAKE:
        answer = take(output, act, now, by, outcome, detail, detail_size);
        break;
    case ACT_CLEAR:
        clear(output, act);
        break;
    case ACT_HOLD:
        hold(output, act->hold, now->now_ms);
        break;
    case ACT_MAT:
        change_mat(output, act->mat);
        break;
    case ACT_DELAY:
        if (act->of[0] == '\0')
            output->delay = act->delay;
        break;
    case ACT_LOOK:
        output->look = act->look;
        break;
    case ACT_ARM:
        arm(output, act, now->now_ms, by);
        break;
    case ACT_REMOVE:
    case ACT_COUNT:
        break;
    }
    outcome->changed = answer == ACT_DONE && act->of[0] == '\0';
    output->version += outcome->changed ? 1 : 0;
    return answer;
}

/* ---- by itself ---- */

static bool least_is_over(const struct output *output, const struct situation *now)
{
    return !panel_is_up(output) || now->now_ms >= least_until_ms(output);
}

/* A panel of a bout goes with it; a rule's when what it was for is over. */
static bool panel_ends(struct output *output, const struct situation *now)
{
    const struct on_air *on_air = &output->on_air;
    if (!panel_is_up(output))
        return false;
    bool other_bout = on_air->bout[0] != '\0' && strcmp(on_air->bout, now->seen.bout) != 0;
    bool rule_ends = on_air->rule != RULE_NONE && !armed_rule_holds(on_air->rule, now) &&
                     least_is_over(output, now);
    if (!other_bout && !rule_ends)
        return false;
    panel_off(output);
    return true;
}

static void rules_fire(struct output *output, const struct situation *now)
{
    for (unsigned rule = RULE_NONE + 1; rule < RULE_COUNT; rule++) {
        if (!armed_rule_holds((enum armed_rule)rule, now))
            output->waiting[rule] = false;
        else if (output->armed[rule].on && output->has_before &&
                 armed_rule_fires((enum armed_rule)rule, &output->before, now))
            output->waiting[rule] = true;
    }
}

/* The first panel of the rule, from that step on, that has something to show. */
static bool rule_step(struct output *output, enum armed_rule rule, unsigned from,
                      const struct situation *now)
{
    unsigned steps = armed_rule_steps(rule);
    for (unsigned i = 0; i < steps; i++) {
        struct choice choice = {.panel = armed_rule_panel(rule, from + i)};
        choice.at_ms = choice.panel == PANEL_BACK ? output->back_at_ms : 0;
        if (choice_absence(&choice, now->absent[choice.panel]) != ABSENT_NOT)
            continue;
        panel_on(output, &choice, now, output->armed[rule].by);
        output->on_air.rule = rule;
        output->on_air.step = (from + i) % steps;
        return true;
    }
    return false;
}

static bool rules_take(struct output *output, const struct situation *now)
{
    if (!least_is_over(output, now))
        return false;
    for (unsigned rule = RULE_NONE + 1; rule < RULE_COUNT; rule++)
        if (output->waiting[rule] && rule_step(output, (enum armed_rule)rule, 0, now)) {
            output->waiting[rule] = false;
            return true;
        }
    return false;
}

/* When a rule with several panels goes on to its next one; INT64_MAX: it has no other. */
static int64_t step_until_ms(const struct output *output)
{
    const struct on_air *on_air = &output->on_air;
    if (on_air->rule == RULE_NONE || armed_rule_steps(on_air->rule) < 2)
        return INT64_MAX;
    return on_air->since_ms + (on_air->least_ms > STEP_LEAST_MS ? on_air->least_ms : STEP_LEAST_MS);
}

static bool round_goes_on(struct output *output, const struct situation *now)
{
    enum armed_rule rule = output->on_air.rule;
    enum panel panel = output->on_air.choice.panel;
    if (now->now_ms < step_until_ms(output))
        return false;
    return rule_step(output, rule, output->on_air.step + 1, now) &&
           output->on_air.choice.panel != panel;
}

static bool any_waits(const struct output *output)
{
    for (unsigned rule = RULE_NONE + 1; rule < RULE_COUNT; rule++)
        if (output->waiting[rule])
            return true;
    return false;
}

bool output_look(struct output *output, const struct situation *now, int64_t *next_ms)
{
    bool changed = panel_ends(output, now);
    rules_fire(output, now);
    changed = rules_take(output, now) || round_goes_on(output, now) || changed;
    output->before = *now;
    output->has_before = true;
    output->version += changed ? 1 : 0;
    *next_ms = INT64_MAX;
    bool wants = output->on_air.rule != RULE_NONE || any_waits(output);
    if (!panel_is_up(output) || !wants)
        return changed;
    if (least_until_ms(output) > now->now_ms)
        *next_ms = least_until_ms(output);
    else if (step_until_ms(output) > now->now_ms)
        *next_ms = step_until_ms(output);
    return changed;
}
