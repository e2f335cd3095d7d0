#include "producing/armed.h"
#include <string.h>

enum { STEPS_MAX = 4 };

/* What the hall must be like, for a rule's panel to be up. */
static bool waits_for_start(const struct situation *now)
{
    return now->seen.bout[0] != '\0' && now->seen.phase == PHASE_CALLED;
}

static bool in_break(const struct situation *now)
{
    return now->seen.phase == PHASE_BREAK;
}

static bool in_level_break(const struct situation *now)
{
    return in_break(now) && now->level && now->absent[PANEL_WHY] == ABSENT_NOT;
}

static bool is_decided(const struct situation *now)
{
    return now->seen.bout[0] != '\0' && now->seen.phase == PHASE_CLOSED && now->seen.result;
}

/* `again_by_call`: it fires at each call, also when it held before it. */
static const struct {
    const char *name;
    bool (*holds)(const struct situation *now);
    bool again_by_call;
    enum panel steps[STEPS_MAX + 1];
} rules[RULE_COUNT] = {
    [RULE_NONE] = {.name = ""},
    [RULE_NAMES_AT_CALL] = {"names_at_call", waits_for_start, true, {PANEL_WHO}},
    [RULE_WHY_IN_BREAK] = {"why_in_break", in_level_break, false, {PANEL_WHY}},
    [RULE_ATTACKS_IN_BREAK] = {"attacks_in_break", in_break, false, {PANEL_ATTACKS}},
    [RULE_RESULT_WHEN_SURE] = {"result_when_sure", is_decided, false, {PANEL_RESULT}},
    [RULE_ROUND_BETWEEN] = {"round_between",
                            is_decided,
                            false,
                            {PANEL_BACK, PANEL_ORDER, PANEL_MATS, PANEL_RESULTS}},
};

const char *armed_rule_name(enum armed_rule rule)
{
    return rules[rule].name;
}

bool armed_rule_read(const char *name, enum armed_rule *rule)
{
    for (unsigned i = RULE_NONE + 1; i < RULE_COUNT; i++)
        if (strcmp(rules[i].name, name) == 0)
            return *rule = (enum armed_rule)i, true;
    return false;
}

bool armed_rule_holds(enum armed_rule rule, const struct situation *now)
{
    return rule != RULE_NONE && rules[rule].holds(now);
}

bool armed_rule_fires(enum armed_rule rule, const struct situation *before,
                      const struct situation *now)
{
    if (!armed_rule_holds(rule, now))
        return false;
    bool other_bout = strcmp(before->seen.bout, now->seen.bout) != 0;
    bool called = other_bout || before->called_seq != now->called_seq;
    return !armed_rule_holds(rule, before) || other_bout || (rules[rule].again_by_call && called);
}

enum panel armed_rule_panel(enum armed_rule rule, unsigned step)
{
    return rules[rule].steps[step % armed_rule_steps(rule)];
}

unsigned armed_rule_steps(enum armed_rule rule)
{
    unsigned count = 1;
    while (count < STEPS_MAX && rules[rule].steps[count] != PANEL_NONE)
        count++;
    return count;
}
