/* Reading what a producer sends: `{"ACTION": {…}}`, each action with its own members. One table
 * says which members an action has; a function a member says what it may be. */
#include <stdio.h>
#include <string.h>
#include "producing/output.h"
#include "rules/time_of_day.h"

static const char *const names[ACT_COUNT] = {
#define X(act, name) [act] = name,
    ACTS(X)
#undef X
};

const char *act_name(enum act_kind kind)
{
    return names[kind];
}

struct reading {
    struct act *act;
    struct complaint *complaint;
    char pointer[96]; /* of what is read */
};

static bool wrong_type(const struct reading *reading, const struct value *value, const char *wanted)
{
    return complain(reading->complaint, REFUSED_MEMBER_TYPE, reading->pointer, "must be %s, not %s",
                    wanted, value_kind_name(value->kind));
}

static bool wrong_value(const struct reading *reading, const char *wanted)
{
    return complain(reading->complaint, REFUSED_MEMBER_VALUE, reading->pointer, "must be %s",
                    wanted);
}

/* ---- plain values ---- */

static bool read_text(const struct reading *reading, const struct value *value, char *text,
                      size_t size, const char *wanted)
{
    if (value->kind != VALUE_STRING)
        return wrong_type(reading, value, "a string");
    size_t characters = 0;
    for (const char *byte = value->as.string; *byte != '\0'; byte++) {
        characters += ((unsigned char)*byte & 0xc0u) != 0x80u ? 1 : 0;
        if ((unsigned char)*byte < 0x20)
            return wrong_value(reading, "without control characters");
    }
    if (characters > (size - 1) / 4)
        return wrong_value(reading, wanted);
    snprintf(text, size, "%s", value->as.string);
    return true;
}

static bool read_flag(const struct reading *reading, const struct value *value, bool *flag)
{
    if (value->kind != VALUE_TRUE)
        return wrong_type(reading, value, "true, or left out");
    return *flag = true;
}

static bool read_integer(const struct reading *reading, const struct value *value, int64_t least,
                         int64_t most, int64_t *number)
{
    char wanted[80];
    if (value->kind != VALUE_INTEGER)
        return wrong_type(reading, value, "an integer");
    snprintf(wanted, sizeof wanted, "from %lld to %lld", (long long)least, (long long)most);
    if (value->as.integer < least || value->as.integer > most)
        return wrong_value(reading, wanted);
    *number = value->as.integer;
    return true;
}

static bool read_time(const struct reading *reading, const struct value *value, int64_t *at_ms)
{
    if (value->kind != VALUE_STRING)
        return wrong_type(reading, value, "a string");
    return time_of_day_read(value->as.string, at_ms) ||
           wrong_value(reading, "a time of day like 2027-05-08T10:00:00.000Z");
}

/* ---- members ---- */

static bool read_panel(struct reading *reading, const struct value *value)
{
    if (value->kind != VALUE_STRING)
        return wrong_type(reading, value, "a string");
    return panel_read(value->as.string, &reading->act->choice.panel) ||
           wrong_value(reading,
                       "who, attacks, why, needs, result, mats, order, results, text or back");
}

static bool read_side(struct reading *reading, const struct value *value)
{
    if (value->kind != VALUE_STRING)
        return wrong_type(reading, value, "a string");
    for (enum side side = SIDE_RED; side <= SIDE_BLUE; side++)
        if (strcmp(value->as.string, side_name(side)) == 0)
            return reading->act->choice.side = side, true;
    return wrong_value(reading, "red or blue");
}

static bool read_choice_text(struct reading *reading, const struct value *value)
{
    return read_text(reading, value, reading->act->choice.text, PANEL_TEXT_SIZE,
                     "140 characters at most");
}

static bool read_choice_at(struct reading *reading, const struct value *value)
{
    return read_time(reading, value, &reading->act->choice.at_ms);
}

static bool read_prepared(struct reading *reading, const struct value *value)
{
    int64_t version = 0;
    if (!read_integer(reading, value, 1, INT64_MAX, &version))
        return false;
    reading->act->prepared = (uint64_t)version;
    return true;
}

static bool read_line(struct reading *reading, const struct value *value)
{
    return read_flag(reading, value, &reading->act->line);
}

static bool read_panel_flag(struct reading *reading, const struct value *value)
{
    return read_flag(reading, value, &reading->act->panel);
}

static bool read_ms(struct reading *reading, const struct value *value)
{
    return read_integer(reading, value, 0, OUTPUT_DELAY_MS_MAX, &reading->act->delay.ms);
}

static bool read_frames(struct reading *reading, const struct value *value)
{
    int64_t frames = 0;
    if (!read_integer(reading, value, 0, OUTPUT_DELAY_MS_MAX / 1000 * 60, &frames))
        return false;
    reading->act->delay.frames = (int32_t)frames;
    return true;
}

static bool read_rate(struct reading *reading, const struct value *value)
{
    if (value->kind != VALUE_STRING)
        return wrong_type(reading, value, "a string");
    return frame_rate_read(value->as.string, &reading->act->delay.rate) ||
           wrong_value(reading, "23.976, 24, 25, 29.97, 30, 50, 59.94 or 60");
}

static bool read_of(struct reading *reading, const struct value *value)
{
    if (value->kind != VALUE_STRING)
        return wrong_type(reading, value, "a string");
    if (value->as.string[0] == '\0' || strlen(value->as.string) >= OUTPUT_TOPIC_SIZE)
        return wrong_value(reading, "a topic that can be delayed");
    snprintf(reading->act->of, sizeof reading->act->of, "%s", value->as.string);
    return true;
}

static bool read_rule(struct reading *reading, const struct value *value)
{
    if (value->kind != VALUE_STRING)
        return wrong_type(reading, value, "a string");
    return armed_rule_read(value->as.string, &reading->act->rule) ||
           wrong_value(reading,
                       "names_at_call, why_in_break, attacks_in_break, result_when_sure or "
                       "round_between");
}

static bool read_on(struct reading *reading, const struct value *value)
{
    if (value->kind != VALUE_TRUE && value->kind != VALUE_FALSE)
        return wrong_type(reading, value, "true or false");
    reading->act->on = value->kind == VALUE_TRUE;
    return true;
}

static bool read_back_at(struct reading *reading, const struct value *value)
{
    return read_time(reading, value, &reading->act->at_ms);
}

/* ---- which members an action has ---- */

enum { MEMBERS_MAX = 6 };

struct member_rule {
    const char *name;
    bool (*read)(struct reading *reading, const struct value *value);
    bool required;
};

static const struct member_rule members[ACT_COUNT][MEMBERS_MAX + 1] = {
    [ACT_PREPARE] = {{"panel", read_panel, false},
                     {"side", read_side, false},
                     {"text", read_choice_text, false},
                     {"at", read_choice_at, false}},
    [ACT_TAKE] = {{"panel", read_panel, false},
                  {"side", read_side, false},
                  {"text", read_choice_text, false},
                  {"at", read_choice_at, false},
                  {"line", read_line, false},
                  {"prepared", read_prepared, false}},
    [ACT_CLEAR] = {{"line", read_line, false}, {"panel", read_panel_flag, false}},
    [ACT_DELAY] = {{"ms", read_ms, false},
                   {"frames", read_frames, false},
                   {"rate", read_rate, false},
                   {"of", read_of, false}},
    [ACT_ARM] = {{"rule", read_rule, true}, {"on", read_on, true}, {"at", read_back_at, false}},
};

static void pointer_write(struct reading *reading, enum act_kind kind, const char *member)
{
    snprintf(reading->pointer, sizeof reading->pointer, "/%s%s%.60s", names[kind],
             member[0] != '\0' ? "/" : "", member);
}

static bool read_member(struct reading *reading, const struct value *value)
{
    enum act_kind kind = reading->act->kind;
    pointer_write(reading, kind, value->name);
    for (const struct member_rule *rule = members[kind]; rule->name != NULL; rule++)
        if (strcmp(rule->name, value->name) == 0)
            return rule->read(reading, value);
    return complain(reading->complaint, REFUSED_MEMBER_UNKNOWN, reading->pointer,
                    "%s: %s has no such member", value->name, names[kind]);
}

static bool read_members(struct reading *reading, const struct value *value)
{
    enum act_kind kind = reading->act->kind;
    if (value->kind != VALUE_OBJECT)
        return wrong_type(reading, value, "an object");
    for (size_t i = 0; i < value->count; i++)
        if (!read_member(reading, &value->items[i]))
            return false;
    for (const struct member_rule *rule = members[kind]; rule->name != NULL; rule++) {
        if (!rule->required || value_member(value, rule->name) != NULL)
            continue;
        pointer_write(reading, kind, rule->name);
        return complain(reading->complaint, REFUSED_MEMBER_MISSING, reading->pointer,
                        "%s: %s needs it", rule->name, names[kind]);
    }
    return true;
}

/* ---- the actions that are no object of members, and what goes together ---- */

static bool read_hold(struct reading *reading, const struct value *value)
{
    if (value->kind != VALUE_STRING)
        return wrong_type(reading, value, "a string");
    return hold_read(value->as.string, &reading->act->hold) ||
           wrong_value(reading, "freeze, hide or off");
}

static bool misplaced(struct reading *reading, const char *member, const char *why)
{
    pointer_write(reading, reading->act->kind, member);
    return complain(reading->complaint, REFUSED_MEMBER_VALUE, reading->pointer, "%s: %s", member,
                    why);
}

static bool check_choice(struct reading *reading, const struct value *value)
{
    const struct choice *choice = &reading->act->choice;
    bool said = value_member(value, "text") != NULL;
    if (choice->side != SIDE_NONE && !panel_takes_side(choice->panel))
        return misplaced(reading, "side", "goes with who, attacks and needs");
    if (said && choice->panel != PANEL_TEXT && choice->panel != PANEL_BACK)
        return misplaced(reading, "text", "goes with text and back");
    if (choice->at_ms != 0 && choice->panel != PANEL_BACK)
        return misplaced(reading, "at", "goes with back");
    if (reading->act->prepared != 0 && choice->panel != PANEL_NONE)
        return misplaced(reading, "prepared", "is for what was prepared, not with a panel");
    return true;
}

static bool check_delay(struct reading *reading, const struct value *value)
{
    struct output_delay *delay = &reading->act->delay;
    bool in_ms = value_member(value, "ms") != NULL;
    bool in_frames = value_member(value, "frames") != NULL;
    if (in_ms == in_frames)
        return misplaced(reading, "ms", "it, or frames and rate, is wanted");
    if (in_frames != (delay->rate != RATE_NONE))
        return misplaced(reading, "rate", "goes with frames");
    if (in_frames)
        delay->ms = frames_ms(delay->frames, delay->rate);
    return delay->ms <= OUTPUT_DELAY_MS_MAX || misplaced(reading, "frames", "more than 120 s");
}

static bool check_arm(struct reading *reading)
{
    const struct act *act = reading->act;
    return act->at_ms == 0 || (act->on && act->rule == RULE_ROUND_BETWEEN) ||
           misplaced(reading, "at", "goes with round_between, on");
}

static bool read_act(struct reading *reading, const struct value *value)
{
    struct act *act = reading->act;
    pointer_write(reading, act->kind, "");
    switch (act->kind) {
    case ACT_PREPARE:
    case ACT_TAKE:
        return read_members(reading, value) && check_choice(reading, value);
    case ACT_DELAY:
        return read_members(reading, value) && check_delay(reading, value);
    case ACT_ARM:
        return read_members(reading, value) && check_arm(reading);
    case ACT_HOLD:
        return read_hold(reading, value);
    case ACT_MAT:
        return read_text(reading, value, act->mat, sizeof act->mat, "100 characters at most");
    case ACT_LOOK:
        return look_read(&act->look, value, reading->pointer, reading->complaint);
    case ACT_CLEAR:
    case ACT_REMOVE:
    case ACT_COUNT:
        break;
    }
    return read_members(reading, value);
}

bool act_read(struct act *act, const struct value *value, struct complaint *complaint)
{
    struct reading reading = {.act = act, .complaint = complaint};
    *act = (struct act){.kind = ACT_PREPARE};
    if (value->kind != VALUE_OBJECT)
        return wrong_type(&reading, value, "an object");
    if (value->count != 1)
        return complain(complaint, REFUSED_MEMBER_VALUE, "", "one action is wanted, not %zu",
                        value->count);
    unsigned kind = 0;
    while (kind < ACT_COUNT && strcmp(names[kind], value->items[0].name) != 0)
        kind++;
    if (kind == ACT_COUNT)
        return complain(complaint, REFUSED_MEMBER_UNKNOWN, "",
                        "%.60s: prepare, take, clear, hold, mat, delay, look, arm or remove is "
                        "wanted",
                        value->items[0].name);
    act->kind = (enum act_kind)kind;
    return read_act(&reading, &value->items[0]);
}
