/* The rules that a producer arms by name: what goes on air, and off again, without a hand on the
 * key. Each has a moment at which it fires (a change from what was seen before to what is seen
 * now), a panel, and a moment at which its panel goes. They see what the output sees, so they fire
 * at the output's delayed moment. The table is in armed.c. Pure. */
#pragma once
#include <stdbool.h>
#include <stdint.h>
#include "producing/situation.h"

#define ARMED_RULES(X)                                                                             \
    X(RULE_NAMES_AT_CALL, "names_at_call")       /* who, from a call until the first start */      \
    X(RULE_WHY_IN_BREAK, "why_in_break")         /* why, in a break that is level */               \
    X(RULE_ATTACKS_IN_BREAK, "attacks_in_break") /* attacks, in a break */                         \
    X(RULE_RESULT_WHEN_SURE,                                                                       \
      "result_when_sure")                  /* the result, once it stands, until the next call */   \
    X(RULE_ROUND_BETWEEN, "round_between") /* back at, order of bouts, other mats, results, in     \
                                              turn, after a result until the next call */
enum armed_rule {
    RULE_NONE,
#define X(rule, name) rule,
    ARMED_RULES(X)
#undef X
        RULE_COUNT
};
const char *armed_rule_name(enum armed_rule rule); /* "names_at_call"; "" for RULE_NONE */
bool armed_rule_read(const char *name, enum armed_rule *rule);

/* Whether it fires between these two. */
bool armed_rule_fires(enum armed_rule rule, const struct situation *before,
                      const struct situation *now);
/* Whether what made it fire still holds; when it doesn't, its panel goes. */
bool armed_rule_holds(enum armed_rule rule, const struct situation *now);
/* The panel of its step, from 0: of one with several, in turn. */
enum panel armed_rule_panel(enum armed_rule rule, unsigned step);
unsigned armed_rule_steps(enum armed_rule rule);
