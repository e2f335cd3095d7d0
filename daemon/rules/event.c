/* Reading an event goes three steps: every member that is there must be one that the type has and
 * of the right shape (read_members, by the tables below); every required one must be there; and the
 * whole must hold together in its bout (event_check). An amend's `set` goes through the same
 * tables, so that nothing can be amended into what could not have been keyed. */
#include "rules/event.h"
#include "rules/time_of_day.h"
#include <assert.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

enum need { OPTIONAL, REQUIRED };

enum shape {
    SHAPE_WORD,    /* one of `words`, kept as its place from 1 */
    SHAPE_INTEGER, /* from `least` to `most` */
    SHAPE_ANY_INTEGER,
    SHAPE_FLAG, /* true, or left out */
    SHAPE_BOOLEAN,
    SHAPE_NAME,  /* [a-z0-9_]{1,40} */
    SHAPE_NAMES, /* 1 (or 0: `least`) to `most` of them */
    SHAPE_TEXT,  /* 1 to `most` code points */
    SHAPE_TEXTS, /* an array of up to `most` texts */
    SHAPE_ID,
    SHAPE_REF,    /* an earlier event of the bout */
    SHAPE_ATTACK, /* an earlier attack of the bout */
    SHAPE_TIME,
    SHAPE_EDITION,
    SHAPE_PERSON,
    SHAPE_PLACE, /* of a slot: {athlete}, {winner_of} or {loser_of} */
    SHAPE_LENGTH,
    SHAPE_SHEET,     /* {red, blue}, the score on the officials' sheet */
    SHAPE_AMENDMENT, /* `set` and `unset`: event_read_amendment */
};

struct member_rule {
    enum event_member member;
    enum need need;
    enum shape shape;
    size_t offset; /* in struct event; 0: only the bit is kept, or the shape knows */
    int32_t least, most;
    const char *const *words; /* ended by NULL */
};

#define WORDS(...) ((const char *const[]){__VA_ARGS__, NULL})
#define AT(field) offsetof(struct event, field)
#define WORD(member, need, field, ...)                                                             \
    {                                                                                              \
        MEMBER_##member, need, SHAPE_WORD, AT(field), 0, 0, WORDS(__VA_ARGS__)                     \
    }
#define SIDE_WORD(member, need, field) WORD(member, need, field, "red", "blue")
#define INTEGER(member, need, field, least, most)                                                  \
    {                                                                                              \
        MEMBER_##member, need, SHAPE_INTEGER, AT(field), least, most, NULL                         \
    }
#define NAME(member, need, field)                                                                  \
    {                                                                                              \
        MEMBER_##member, need, SHAPE_NAME, AT(field), 0, 0, NULL                                   \
    }
#define TEXT(member, need, field, most)                                                            \
    {                                                                                              \
        MEMBER_##member, need, SHAPE_TEXT, AT(field), 1, most, NULL                                \
    }
#define REF(member, need, shape, field)                                                            \
    {                                                                                              \
        MEMBER_##member, need, shape, AT(field), 0, 0, NULL                                        \
    }
#define PLAIN(member, need, shape)                                                                 \
    {                                                                                              \
        MEMBER_##member, need, shape, 0, 0, 100, NULL                                              \
    }

enum { TEXT_MAX = 100, NOTE_MAX = 280, FACTS_MAX = 20 };

static const struct member_rule common_rules[] = {
    {MEMBER_ID, REQUIRED, SHAPE_ID, AT(id), 0, 0, NULL},
    PLAIN(TYPE, REQUIRED, SHAPE_TEXT),
    {MEMBER_AT, OPTIONAL, SHAPE_TIME, AT(at_ms), 0, 0, NULL},
    {MEMBER_KEYED_AT, OPTIONAL, SHAPE_TIME, AT(keyed_at_ms), 0, 0, NULL},
    PLAIN(SEQ, OPTIONAL, SHAPE_ANY_INTEGER),
    TEXT(BY, OPTIONAL, by, TEXT_MAX),
};
/* Of every type that belongs to a bout. A clock's period and t_ms mean its own setting. */
static const struct member_rule bout_common_rules[] = {
    PLAIN(BOUT, REQUIRED, SHAPE_ID),
    INTEGER(PERIOD, OPTIONAL, period, 1, INT32_MAX),
    INTEGER(T_MS, OPTIONAL, t_ms, 0, INT32_MAX),
};
static const struct member_rule bout_rules[] = {
    PLAIN(RULES, REQUIRED, SHAPE_EDITION),  PLAIN(RED, REQUIRED, SHAPE_PERSON),
    PLAIN(BLUE, REQUIRED, SHAPE_PERSON),    PLAIN(MAT, OPTIONAL, SHAPE_TEXT),
    PLAIN(NUMBER, OPTIONAL, SHAPE_TEXT),    PLAIN(STYLE, OPTIONAL, SHAPE_TEXT),
    PLAIN(AGE_GROUP, OPTIONAL, SHAPE_TEXT), PLAIN(WEIGHT, OPTIONAL, SHAPE_TEXT),
    PLAIN(STAGE, OPTIONAL, SHAPE_TEXT),     PLAIN(SLOT, OPTIONAL, SHAPE_TEXT),
    PLAIN(LENGTH, OPTIONAL, SHAPE_LENGTH),  PLAIN(CALL, OPTIONAL, SHAPE_FLAG),
    PLAIN(OFF, OPTIONAL, SHAPE_FLAG),
};
static const struct member_rule clock_rules[] = {
    WORD(DO, REQUIRED, what, "start", "stop", "end", "set", "lost"),
};
static const struct member_rule score_rules[] = {
    SIDE_WORD(SIDE, REQUIRED, side),
    INTEGER(POINTS, REQUIRED, points, INT32_MIN, INT32_MAX),
    TEXT(ACTION, REQUIRED, action, TEXT_MAX),
    NAME(TECHNIQUE, OPTIONAL, technique),
    WORD(LEG, OPTIONAL, leg, "lead", "trail"),
    REF(ATTACK, OPTIONAL, SHAPE_ATTACK, attack),
    PLAIN(UNCONFIRMED, OPTIONAL, SHAPE_FLAG),
    REF(BEFORE, OPTIONAL, SHAPE_REF, before),
};
static const struct member_rule attack_rules[] = {
    SIDE_WORD(SIDE, REQUIRED, side),
    {MEMBER_TECHNIQUES, REQUIRED, SHAPE_NAMES, AT(techniques), 1, TECHNIQUES_MAX, NULL},
    WORD(LEG, OPTIONAL, leg, "lead", "trail"),
    {MEMBER_SETUP, OPTIONAL, SHAPE_NAMES, AT(setup), 0, SETUPS_MAX, NULL},
    WORD(OUTCOME, REQUIRED, outcome, "open", "scored", "stopped", "countered", "out", "stalemate",
         "slipped"),
    REF(AFTER, OPTIONAL, SHAPE_ATTACK, after),
    NAME(STOPPED_BY, OPTIONAL, stopped_by),
};
static const struct member_rule caution_rules[] = {
    SIDE_WORD(SIDE, REQUIRED, side),          NAME(REASON, REQUIRED, reason),
    INTEGER(POINTS, REQUIRED, points, 0, 2),  PLAIN(UNCONFIRMED, OPTIONAL, SHAPE_FLAG),
    REF(BEFORE, OPTIONAL, SHAPE_REF, before),
};
static const struct member_rule passivity_rules[] = {
    SIDE_WORD(SIDE, REQUIRED, side),
    WORD(STAGE, REQUIRED, stage, "warning", "activity", "penalty"),
    INTEGER(POINTS, OPTIONAL, points, 0, 1),
    PLAIN(UNCONFIRMED, OPTIONAL, SHAPE_FLAG),
    REF(BEFORE, OPTIONAL, SHAPE_REF, before),
};
static const struct member_rule position_rules[] = {
    WORD(POSITION, REQUIRED, position, "standing", "par_terre"),
    SIDE_WORD(TOP, OPTIONAL, top),
    PLAIN(ORDERED, OPTIONAL, SHAPE_FLAG),
    SIDE_WORD(CHOSEN_BY, OPTIONAL, chosen_by),
};
static const struct member_rule challenge_rules[] = {
    SIDE_WORD(SIDE, REQUIRED, side),
    WORD(OUTCOME, REQUIRED, outcome, "asked", "upheld", "rejected"),
    REF(OF, OPTIONAL, SHAPE_REF, of),
    INTEGER(POINTS, OPTIONAL, points, 0, 1),
    REF(BEFORE, OPTIONAL, SHAPE_REF, before),
};
static const struct member_rule stoppage_rules[] = {
    WORD(KIND, REQUIRED, kind, "injury", "blood", "review", "conference", "other"),
    SIDE_WORD(SIDE, OPTIONAL, side),
    WORD(DO, REQUIRED, what, "start", "stop"),
};
static const struct member_rule confirm_rules[] = {
    REF(REF, OPTIONAL, SHAPE_REF, ref),
};
static const struct member_rule void_rules[] = {
    REF(REF, REQUIRED, SHAPE_REF, ref),
    WORD(WHY, OPTIONAL, why, "keying", "officials", "challenge"),
};
static const struct member_rule amend_rules[] = {
    REF(REF, REQUIRED, SHAPE_REF, ref),
    PLAIN(SET, OPTIONAL, SHAPE_AMENDMENT),
    PLAIN(UNSET, OPTIONAL, SHAPE_AMENDMENT),
    WORD(WHY, OPTIONAL, why, "keying", "officials", "challenge"),
};
static const struct member_rule restart_rules[] = {
    NAME(REASON, OPTIONAL, reason),
};
static const struct member_rule close_rules[] = {
    TEXT(HOW, REQUIRED, how, TEXT_MAX),
    SIDE_WORD(WINNER, OPTIONAL, winner),
    {MEMBER_SCORE, OPTIONAL, SHAPE_SHEET, AT(sheet), 0, 0, NULL},
    TEXT(CODE, OPTIONAL, code, TEXT_MAX),
    PLAIN(UNCONFIRMED, OPTIONAL, SHAPE_FLAG),
};
static const struct member_rule note_rules[] = {
    TEXT(TEXT, REQUIRED, text, NOTE_MAX),
    WORD(TO, REQUIRED, to, "booth", "public"),
    SIDE_WORD(SIDE, OPTIONAL, side),
};
static const struct member_rule entry_rules[] = {
    PLAIN(ATHLETE, REQUIRED, SHAPE_TEXT),
    PLAIN(NAME, OPTIONAL, SHAPE_TEXT),
    PLAIN(FAMILY, OPTIONAL, SHAPE_TEXT),
    PLAIN(GIVEN, OPTIONAL, SHAPE_TEXT),
    PLAIN(SAY, OPTIONAL, SHAPE_TEXT),
    PLAIN(IPA, OPTIONAL, SHAPE_TEXT),
    PLAIN(CHECKED_BY, OPTIONAL, SHAPE_TEXT),
    PLAIN(TEAM, OPTIONAL, SHAPE_TEXT),
    PLAIN(NOC, OPTIONAL, SHAPE_TEXT),
    PLAIN(STYLE, OPTIONAL, SHAPE_TEXT),
    PLAIN(AGE_GROUP, OPTIONAL, SHAPE_TEXT),
    PLAIN(WEIGHT, OPTIONAL, SHAPE_TEXT),
    PLAIN(SEED, OPTIONAL, SHAPE_ANY_INTEGER),
    {MEMBER_FACTS, OPTIONAL, SHAPE_TEXTS, 0, 0, FACTS_MAX, NULL},
    PLAIN(MINOR, OPTIONAL, SHAPE_BOOLEAN),
    PLAIN(CONSENT, OPTIONAL, SHAPE_BOOLEAN),
    PLAIN(OUT, OPTIONAL, SHAPE_BOOLEAN),
};
static const struct member_rule slot_rules[] = {
    PLAIN(SLOT, REQUIRED, SHAPE_TEXT),      PLAIN(NUMBER, OPTIONAL, SHAPE_TEXT),
    PLAIN(MAT, OPTIONAL, SHAPE_TEXT),       PLAIN(ORDER, OPTIONAL, SHAPE_ANY_INTEGER),
    PLAIN(STAGE, OPTIONAL, SHAPE_TEXT),     PLAIN(STYLE, OPTIONAL, SHAPE_TEXT),
    PLAIN(AGE_GROUP, OPTIONAL, SHAPE_TEXT), PLAIN(WEIGHT, OPTIONAL, SHAPE_TEXT),
    PLAIN(RULES, OPTIONAL, SHAPE_EDITION),  PLAIN(STARTS_AT, OPTIONAL, SHAPE_TEXT),
    PLAIN(RED, OPTIONAL, SHAPE_PLACE),      PLAIN(BLUE, OPTIONAL, SHAPE_PLACE),
};
static const struct member_rule session_rules[] = {
    PLAIN(SESSION, REQUIRED, SHAPE_TEXT),
    PLAIN(NAME, REQUIRED, SHAPE_TEXT),
    PLAIN(MAT, OPTIONAL, SHAPE_TEXT),
    WORD(DO, REQUIRED, what, "start", "stop"),
};

struct rule_list {
    const struct member_rule *rules;
    size_t count;
};
#define LIST(rules)                                                                                \
    {                                                                                              \
        rules, sizeof(rules) / sizeof *(rules)                                                     \
    }
static const struct rule_list common_list = LIST(common_rules);
static const struct rule_list bout_common_list = LIST(bout_common_rules);
static const struct rule_list type_lists[EVENT_TYPE_COUNT] = {
    [EVENT_BOUT] = LIST(bout_rules),         [EVENT_CLOCK] = LIST(clock_rules),
    [EVENT_SCORE] = LIST(score_rules),       [EVENT_ATTACK] = LIST(attack_rules),
    [EVENT_CAUTION] = LIST(caution_rules),   [EVENT_PASSIVITY] = LIST(passivity_rules),
    [EVENT_POSITION] = LIST(position_rules), [EVENT_CHALLENGE] = LIST(challenge_rules),
    [EVENT_STOPPAGE] = LIST(stoppage_rules), [EVENT_CONFIRM] = LIST(confirm_rules),
    [EVENT_VOID] = LIST(void_rules),         [EVENT_AMEND] = LIST(amend_rules),
    [EVENT_RESTART] = LIST(restart_rules),   [EVENT_CLOSE] = LIST(close_rules),
    [EVENT_NOTE] = LIST(note_rules),         [EVENT_ENTRY] = LIST(entry_rules),
    [EVENT_SLOT] = LIST(slot_rules),         [EVENT_SESSION] = LIST(session_rules),
};

static const char *const type_names[EVENT_TYPE_COUNT] = {
#define X(type, name) [type] = name,
    EVENT_TYPES(X)
#undef X
};
static const char *const member_names[MEMBER_COUNT] = {
#define X(member, name) [MEMBER_##member] = name,
    EVENT_MEMBERS(X)
#undef X
};

const char *leg_name(enum leg leg)
{
    static const char *const names[] = {
        [LEG_NONE] = "", [LEG_LEAD] = "lead", [LEG_TRAIL] = "trail"};
    return names[leg];
}

const char *event_type_name(enum event_type type)
{
    return type_names[type];
}

/* "an attack", "a score". */
static const char *article(enum event_type type)
{
    return strchr("aeiou", type_names[type][0]) != NULL ? "an" : "a";
}

const char *event_member_name(enum event_member member)
{
    return member_names[member];
}

/* What is being read: an event's own members, or those that an amend sets. */
struct reading {
    struct event *event;
    const struct event_scope *scope;
    struct complaint *complaint;
    const char *place; /* "" or "/set" */
    int32_t never;     /* the event that a reference must not name: itself */
};

static bool refuse(const struct reading *reading, enum refusal why, const char *member,
                   const char *text)
{
    char pointer[96];
    snprintf(pointer, sizeof pointer, "%s/%s", reading->place, member);
    return complain(reading->complaint, why, pointer, "%.60s: %.160s", member, text);
}

/* A member that we don't know: its name is the sender's, and may hold what a pointer escapes. */
static bool refuse_unknown(const struct reading *reading, const char *member, const char *text)
{
    char escaped[96];
    size_t used = 0;
    for (const char *at = member; *at != '\0' && used + 2 < sizeof escaped; at++) {
        if (*at == '~' || *at == '/')
            escaped[used++] = '~';
        escaped[used++] = *at == '~' ? '0' : *at == '/' ? '1' : *at;
    }
    escaped[used] = '\0';
    char pointer[160];
    snprintf(pointer, sizeof pointer, "%s/%s", reading->place, escaped);
    return complain(reading->complaint, REFUSED_MEMBER_UNKNOWN, pointer, "%.60s: %.160s", member,
                    text);
}

static bool refuse_kind(const struct reading *reading, const char *member, const char *wanted,
                        const struct value *found)
{
    char text[120];
    snprintf(text, sizeof text, "must be %s, not %s", wanted, value_kind_name(found->kind));
    return refuse(reading, REFUSED_MEMBER_TYPE, member, text);
}

static bool out_of_memory(const struct reading *reading)
{
    reading->complaint->why = ACCEPTED;
    return false;
}

static size_t code_points(const char *text)
{
    size_t count = 0;
    for (; *text != '\0'; text++)
        if (((unsigned char)*text & 0xC0u) != 0x80u)
            count++;
    return count;
}

static bool is_id(const char *text)
{
    size_t size = strspn(text, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789"
                               "._~:-");
    return size >= 1 && size <= 64 && text[size] == '\0';
}

static bool is_name(const char *text)
{
    size_t size = strspn(text, "abcdefghijklmnopqrstuvwxyz0123456789_");
    return size >= 1 && size <= 40 && text[size] == '\0';
}

static bool check_text(const struct reading *reading, const char *member, const struct value *value,
                       int32_t most)
{
    if (value->kind != VALUE_STRING)
        return refuse_kind(reading, member, "a string", value);
    size_t size = code_points(value->as.string);
    if (size >= 1 && size <= (size_t)most)
        return true;
    char text[80];
    snprintf(text, sizeof text, "must have 1 to %d characters, not %zu", most, size);
    return refuse(reading, REFUSED_MEMBER_VALUE, member, text);
}

static bool check_integer(const struct reading *reading, const char *member,
                          const struct value *value, int64_t least, int64_t most)
{
    if (value->kind != VALUE_INTEGER)
        return refuse_kind(reading, member, "an integer", value);
    if (value->as.integer >= least && value->as.integer <= most)
        return true;
    char text[120];
    if (most >= INT32_MAX && value->as.integer < least)
        snprintf(text, sizeof text, "must be %lld or more, not %lld", (long long)least,
                 (long long)value->as.integer);
    else
        snprintf(text, sizeof text, "must be from %lld to %lld, not %lld", (long long)least,
                 (long long)most, (long long)value->as.integer);
    return refuse(reading, REFUSED_MEMBER_VALUE, member, text);
}

static bool check_name(const struct reading *reading, const char *member, const struct value *value)
{
    if (value->kind != VALUE_STRING)
        return refuse_kind(reading, member, "a string", value);
    return is_name(value->as.string) ||
           refuse(reading, REFUSED_MEMBER_VALUE, member, "must be 1 to 40 of a-z 0-9 _");
}

static void words_write(const char *const *words, char *text, size_t size)
{
    size_t used = 0;
    for (size_t i = 0; words[i] != NULL && used < size; i++)
        used += (size_t)snprintf(text + used, size - used, "%s%s", i > 0 ? ", " : "", words[i]);
}

static bool read_word(const struct reading *reading, const struct member_rule *rule,
                      const struct value *value)
{
    const char *member = member_names[rule->member];
    if (value->kind != VALUE_STRING)
        return refuse_kind(reading, member, "a string", value);
    for (size_t i = 0; rule->words[i] != NULL; i++)
        if (strcmp(rule->words[i], value->as.string) == 0) {
            *((uint8_t *)reading->event + rule->offset) = (uint8_t)(i + 1);
            return true;
        }
    char words[100], text[140];
    words_write(rule->words, words, sizeof words);
    snprintf(text, sizeof text, "must be one of %s", words);
    return refuse(reading, REFUSED_MEMBER_VALUE, member, text);
}

static bool read_names(const struct reading *reading, const struct member_rule *rule,
                       const struct value *value, const struct name_list **list)
{
    const char *member = member_names[rule->member];
    if (value->kind != VALUE_ARRAY)
        return refuse_kind(reading, member, "an array of names", value);
    if (value->count < (size_t)rule->least || value->count > (size_t)rule->most) {
        char text[80];
        snprintf(text, sizeof text, "must hold %d to %d names, not %zu", rule->least, rule->most,
                 value->count);
        return refuse(reading, REFUSED_MEMBER_VALUE, member, text);
    }
    struct name_list *names = arena_take(reading->scope->arena, sizeof *names);
    if (names == NULL)
        return out_of_memory(reading);
    for (size_t i = 0; i < value->count; i++) {
        if (!check_name(reading, member, &value->items[i]))
            return false;
        names->names[names->count++] = value->items[i].as.string;
    }
    *list = names;
    return true;
}

static bool check_texts(const struct reading *reading, const struct member_rule *rule,
                        const struct value *value)
{
    const char *member = member_names[rule->member];
    if (value->kind != VALUE_ARRAY)
        return refuse_kind(reading, member, "an array of strings", value);
    if (value->count > (size_t)rule->most)
        return refuse(reading, REFUSED_MEMBER_VALUE, member, "must hold 20 strings at most");
    for (size_t i = 0; i < value->count; i++)
        if (!check_text(reading, member, &value->items[i], TEXT_MAX))
            return false;
    return true;
}

static bool check_id(const struct reading *reading, const char *member, const struct value *value)
{
    if (value->kind != VALUE_STRING)
        return refuse_kind(reading, member, "a string", value);
    return is_id(value->as.string) || refuse(reading, REFUSED_MEMBER_VALUE, member,
                                             "must be 1 to 64 of A-Z a-z 0-9 . _ ~ : -");
}

static bool read_ref(const struct reading *reading, const struct member_rule *rule,
                     const struct value *value)
{
    const char *member = member_names[rule->member];
    if (!check_id(reading, member, value))
        return false;
    const struct known_event *known = table_find(reading->scope->known, value->as.string);
    if (known == NULL || known->bout == NULL || known->bout != reading->scope->bout)
        return refuse(reading, REFUSED_REF, member, "names no earlier event of this bout");
    if (known->place == reading->never)
        return refuse(reading, REFUSED_REF, member, "must not name the event itself");
    if (rule->shape == SHAPE_ATTACK && known->type != EVENT_ATTACK)
        return refuse(reading, REFUSED_REF_TYPE, member, "must name an attack");
    memcpy((char *)reading->event + rule->offset, &known->place, sizeof known->place);
    return true;
}

static bool read_time(const struct reading *reading, const struct member_rule *rule,
                      const struct value *value)
{
    const char *member = member_names[rule->member];
    int64_t ms = 0;
    if (value->kind != VALUE_STRING)
        return refuse_kind(reading, member, "a string", value);
    if (!time_of_day_read(value->as.string, &ms))
        return refuse(reading, REFUSED_MEMBER_VALUE, member,
                      "must be a time like 2027-05-08T10:00:00.000Z");
    memcpy((char *)reading->event + rule->offset, &ms, sizeof ms);
    return true;
}

static bool check_edition(const struct reading *reading, const char *member,
                          const struct value *value)
{
    if (value->kind != VALUE_STRING)
        return refuse_kind(reading, member, "a string", value);
    return editions_find(reading->scope->editions, value->as.string) != NULL ||
           refuse(reading, REFUSED_EDITION, member, "no edition of that name is known");
}

/* Only the members named may be there, each a text; `required` may be NULL. */
static bool check_object(const struct reading *reading, const char *member,
                         const struct value *value, const char *const *names, const char *required)
{
    if (value->kind != VALUE_OBJECT)
        return refuse_kind(reading, member, "an object", value);
    for (size_t i = 0; i < value->count; i++) {
        const struct value *item = &value->items[i];
        char place[80];
        size_t known = 0;
        while (names[known] != NULL && strcmp(names[known], item->name) != 0)
            known++;
        snprintf(place, sizeof place, "%s/%.50s", member, item->name);
        if (names[known] == NULL)
            return refuse(reading, REFUSED_MEMBER_UNKNOWN, place, "isn't known here");
        if (!check_text(reading, place, item, TEXT_MAX))
            return false;
    }
    if (required != NULL && value_member(value, required) == NULL) {
        char place[80];
        snprintf(place, sizeof place, "%s/%.50s", member, required);
        return refuse(reading, REFUSED_MEMBER_MISSING, place, "is missing");
    }
    return true;
}

static bool check_person(const struct reading *reading, const char *member,
                         const struct value *value)
{
    return check_object(reading, member, value,
                        WORDS("name", "family", "given", "say", "team", "noc", "athlete"), "name");
}

static bool check_place(const struct reading *reading, const char *member,
                        const struct value *value)
{
    if (!check_object(reading, member, value, WORDS("athlete", "winner_of", "loser_of"), NULL))
        return false;
    return value->count == 1 || refuse(reading, REFUSED_MEMBER_VALUE, member,
                                       "must have one of athlete, winner_of, loser_of");
}

static bool check_length(const struct reading *reading, const struct value *value)
{
    static const struct {
        const char *name, *place;
        int32_t least, most;
    } parts[] = {
        {"periods", "length/periods", 1, 9},
        {"period_ms", "length/period_ms", 1, 3600000},
        {"break_ms", "length/break_ms", 0, 3600000},
    };
    size_t found = 0;
    if (value->kind != VALUE_OBJECT)
        return refuse_kind(reading, "length", "an object", value);
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        const struct value *part = value_member(value, parts[i].name);
        found += part != NULL ? 1 : 0;
        if (part != NULL &&
            !check_integer(reading, parts[i].place, part, parts[i].least, parts[i].most))
            return false;
    }
    return found == value->count || refuse(reading, REFUSED_MEMBER_UNKNOWN, "length",
                                           "knows periods, period_ms and break_ms");
}

static bool read_sheet(const struct reading *reading, const struct value *value)
{
    const struct value *sides[2] = {value_member(value, "red"), value_member(value, "blue")};
    if (value->kind != VALUE_OBJECT)
        return refuse_kind(reading, "score", "an object", value);
    if (sides[0] == NULL || sides[1] == NULL)
        return refuse(reading, REFUSED_MEMBER_MISSING,
                      sides[0] == NULL ? "score/red" : "score/blue", "is missing");
    if (value->count != 2)
        return refuse(reading, REFUSED_MEMBER_UNKNOWN, "score", "knows red and blue");
    if (!check_integer(reading, "score/red", sides[0], 0, INT64_MAX) ||
        !check_integer(reading, "score/blue", sides[1], 0, INT64_MAX))
        return false;
    reading->event->sheet[0] = sides[0]->as.integer;
    reading->event->sheet[1] = sides[1]->as.integer;
    return true;
}

static bool read_member(const struct reading *reading, const struct member_rule *rule,
                        const struct value *value)
{
    const char *member = member_names[rule->member];
    char *field = (char *)reading->event + rule->offset;
    switch (rule->shape) {
    case SHAPE_WORD:
        return read_word(reading, rule, value);
    case SHAPE_INTEGER:
        if (!check_integer(reading, member, value, rule->least, rule->most))
            return false;
        memcpy(field, &(int32_t){(int32_t)value->as.integer}, sizeof(int32_t));
        return true;
    case SHAPE_ANY_INTEGER:
        return check_integer(reading, member, value, INT64_MIN, INT64_MAX);
    case SHAPE_FLAG:
        return value->kind == VALUE_TRUE || refuse_kind(reading, member, "true or left out", value);
    case SHAPE_BOOLEAN:
        return value->kind == VALUE_TRUE || value->kind == VALUE_FALSE ||
               refuse_kind(reading, member, "true or false", value);
    case SHAPE_NAME:
        if (!check_name(reading, member, value))
            return false;
        memcpy(field, &value->as.string, sizeof value->as.string);
        return true;
    case SHAPE_NAMES: {
        const struct name_list *list = NULL;
        if (!read_names(reading, rule, value, &list))
            return false;
        memcpy(field, &list, sizeof list);
        return true;
    }
    case SHAPE_TEXT:
        if (!check_text(reading, member, value, rule->most))
            return false;
        if (rule->offset != 0)
            memcpy(field, &value->as.string, sizeof value->as.string);
        return true;
    case SHAPE_TEXTS:
        return check_texts(reading, rule, value);
    case SHAPE_ID:
        if (!check_id(reading, member, value))
            return false;
        if (rule->offset != 0)
            memcpy(field, &value->as.string, sizeof value->as.string);
        return true;
    case SHAPE_REF:
    case SHAPE_ATTACK:
        return read_ref(reading, rule, value);
    case SHAPE_TIME:
        return read_time(reading, rule, value);
    case SHAPE_EDITION:
        return check_edition(reading, member, value);
    case SHAPE_PERSON:
        return check_person(reading, member, value);
    case SHAPE_PLACE:
        return check_place(reading, member, value);
    case SHAPE_LENGTH:
        return check_length(reading, value);
    case SHAPE_SHEET:
        return read_sheet(reading, value);
    case SHAPE_AMENDMENT:
        return true;
    }
    return true;
}

static const struct member_rule *rule_in(const struct rule_list *list, const char *name)
{
    for (size_t i = 0; i < list->count; i++)
        if (strcmp(member_names[list->rules[i].member], name) == 0)
            return &list->rules[i];
    return NULL;
}

/* What an amend may set: all that the type has but id, type, bout, at, keyed_at, seq and by. */
static const struct member_rule *settable_rule(enum event_type type, const char *name)
{
    const struct member_rule *rule = rule_in(&type_lists[type], name);
    if (rule != NULL)
        return rule;
    rule = rule_in(&bout_common_list, name);
    return rule != NULL && rule->member != MEMBER_BOUT ? rule : NULL;
}

static const struct member_rule *rule_of(enum event_type type, const char *name)
{
    const struct member_rule *rule = rule_in(&common_list, name);
    if (rule == NULL && !event_is_of_day(type))
        rule = rule_in(&bout_common_list, name);
    return rule != NULL ? rule : rule_in(&type_lists[type], name);
}

const char *event_word(enum event_type type, enum event_member member, unsigned word)
{
    const struct rule_list *list = &type_lists[type];
    for (size_t i = 0; word > 0 && i < list->count; i++)
        if (list->rules[i].member == member && list->rules[i].words != NULL)
            return list->rules[i].words[word - 1];
    return "";
}

static bool read_members(const struct reading *reading, const struct value *object, bool as_set)
{
    enum event_type type = reading->event->type;
    for (size_t i = 0; i < object->count; i++) {
        const struct value *item = &object->items[i];
        const struct member_rule *rule =
            as_set ? settable_rule(type, item->name) : rule_of(type, item->name);
        if (rule == NULL) {
            char text[80];
            if (as_set)
                snprintf(text, sizeof text, "can't be set in %s %s", article(type),
                         type_names[type]);
            else
                snprintf(text, sizeof text, "isn't a member of %s", type_names[type]);
            return refuse_unknown(reading, item->name, text);
        }
        if (!read_member(reading, rule, item))
            return false;
        if (rule->member < 64)
            reading->event->given |= UINT64_C(1) << rule->member;
    }
    return true;
}

static bool check_required(const struct reading *reading, const struct rule_list *list,
                           const struct value *object)
{
    for (size_t i = 0; i < list->count; i++)
        if (list->rules[i].need == REQUIRED &&
            value_member(object, member_names[list->rules[i].member]) == NULL)
            return refuse(reading, REFUSED_MEMBER_MISSING, member_names[list->rules[i].member],
                          "is missing");
    return true;
}

static const char *text_member(const struct value *object, const char *name)
{
    const struct value *found = value_member(object, name);
    return found != NULL ? found->as.string : NULL;
}

static struct person person_of(const struct value *object)
{
    return (struct person){
        .name = text_member(object, "name"),
        .family = text_member(object, "family"),
        .given = text_member(object, "given"),
        .say = text_member(object, "say"),
        .team = text_member(object, "team"),
        .noc = text_member(object, "noc"),
        .athlete = text_member(object, "athlete"),
    };
}

static int32_t length_part(const struct value *length, const char *name, int32_t usual)
{
    const struct value *part = value_member(length, name);
    return part != NULL ? (int32_t)part->as.integer : usual;
}

/* The members are well formed by now; what they say must be in the edition. */
static bool read_details(const struct reading *reading, const struct value *document)
{
    struct details *details = arena_take(reading->scope->arena, sizeof *details);
    if (details == NULL)
        return out_of_memory(reading);
    const struct value *length = value_member(document, "length");
    details->edition = editions_find(reading->scope->editions, text_member(document, "rules"));
    details->style = text_member(document, "style");
    details->age_group_name = text_member(document, "age_group");
    details->age_group = edition_age_group(details->edition, details->age_group_name);
    if (details->style != NULL && !edition_has_style(details->edition, details->style))
        return refuse(reading, REFUSED_MEMBER_VALUE, "style", "isn't a style of the edition");
    if (details->age_group == NULL)
        return refuse(reading, REFUSED_MEMBER_VALUE, "age_group",
                      "isn't an age group of the edition");
    details->sides[0] = person_of(value_member(document, "red"));
    details->sides[1] = person_of(value_member(document, "blue"));
    details->mat = text_member(document, "mat");
    details->number = text_member(document, "number");
    details->weight = text_member(document, "weight");
    details->stage = text_member(document, "stage");
    details->slot = text_member(document, "slot");
    details->periods = length_part(length, "periods", details->age_group->periods);
    details->period_ms = length_part(length, "period_ms", details->age_group->period_ms);
    details->break_ms = length_part(length, "break_ms", details->age_group->break_ms);
    details->call = event_gives(reading->event, MEMBER_CALL);
    details->off = event_gives(reading->event, MEMBER_OFF);
    reading->event->details = details;
    return true;
}

static void event_clear(struct event *event, enum event_type type)
{
    *event = (struct event){
        .type = type,
        .ref = EVENT_NONE,
        .attack = EVENT_NONE,
        .after = EVENT_NONE,
        .of = EVENT_NONE,
        .before = EVENT_NONE,
    };
}

bool event_type_of(const struct value *document, enum event_type *type, struct complaint *complaint)
{
    struct reading reading = {.complaint = complaint, .place = ""};
    if (document->kind != VALUE_OBJECT)
        return complain(complaint, REFUSED_NOT_JSON, "", "an event is a JSON object, not %s",
                        value_kind_name(document->kind));
    const struct value *id = value_member(document, "id");
    const struct value *named = value_member(document, "type");
    if (id == NULL)
        return refuse(&reading, REFUSED_MEMBER_MISSING, "id", "is missing");
    if (!check_id(&reading, "id", id))
        return false;
    if (named == NULL)
        return refuse(&reading, REFUSED_MEMBER_MISSING, "type", "is missing");
    if (named->kind != VALUE_STRING)
        return refuse_kind(&reading, "type", "a string", named);
    for (*type = 0; *type < EVENT_TYPE_COUNT; (*type)++)
        if (strcmp(type_names[*type], named->as.string) == 0)
            break;
    if (*type == EVENT_TYPE_COUNT)
        return complain(complaint, REFUSED_TYPE, "/type", "type: no event is called %.60s",
                        named->as.string);
    const struct value *bout = value_member(document, "bout");
    if (event_is_of_day(*type))
        return bout == NULL || refuse(&reading, REFUSED_MEMBER_UNKNOWN, "bout",
                                      "isn't a member of the day's types");
    if (bout == NULL)
        return refuse(&reading, REFUSED_MEMBER_MISSING, "bout", "is missing");
    return check_id(&reading, "bout", bout);
}

bool event_read(struct event *event, const struct value *document, const struct event_scope *scope,
                struct complaint *complaint)
{
    struct reading reading = {event, scope, complaint, "", EVENT_NONE};
    enum event_type type = EVENT_BOUT;
    if (!event_type_of(document, &type, complaint))
        return false;
    event_clear(event, type);
    event->document = document;
    if (!read_members(&reading, document, false))
        return false;
    if (!check_required(&reading, &common_list, document) ||
        !check_required(&reading, &type_lists[type], document))
        return false;
    if (scope->in_log && !event_gives(event, MEMBER_AT))
        return refuse(&reading, REFUSED_MEMBER_MISSING, "at", "is missing");
    return type != EVENT_BOUT || read_details(&reading, document);
}

static bool is_amendable(enum event_type type)
{
    switch (type) {
    case EVENT_CLOCK:
    case EVENT_SCORE:
    case EVENT_ATTACK:
    case EVENT_CAUTION:
    case EVENT_PASSIVITY:
    case EVENT_POSITION:
    case EVENT_CHALLENGE:
    case EVENT_STOPPAGE:
    case EVENT_CLOSE:
    case EVENT_NOTE:
        return true;
    case EVENT_BOUT:
    case EVENT_CONFIRM:
    case EVENT_VOID:
    case EVENT_AMEND:
    case EVENT_RESTART:
    case EVENT_ENTRY:
    case EVENT_SLOT:
    case EVENT_SESSION:
    case EVENT_TYPE_COUNT:
        return false;
    }
    return false;
}

static bool read_unset(const struct reading *reading, const struct value *unset, uint64_t *bits)
{
    if (unset->kind != VALUE_ARRAY)
        return refuse_kind(reading, "unset", "an array of member names", unset);
    if (unset->count == 0)
        return refuse(reading, REFUSED_MEMBER_VALUE, "unset", "must not be empty");
    for (size_t i = 0; i < unset->count; i++) {
        const struct value *item = &unset->items[i];
        if (item->kind != VALUE_STRING)
            return refuse_kind(reading, "unset", "an array of member names", item);
        const struct member_rule *rule = settable_rule(reading->event->type, item->as.string);
        if (rule == NULL || rule->need == REQUIRED)
            return refuse(reading, REFUSED_MEMBER_VALUE, "unset",
                          "must name optional members of the event");
        *bits |= UINT64_C(1) << rule->member;
    }
    return true;
}

bool event_read_amendment(struct event *amend, const struct event *target,
                          const struct event_scope *scope, struct complaint *complaint)
{
    const struct value *set = value_member(amend->document, "set");
    const struct value *unset = value_member(amend->document, "unset");
    struct event *members = arena_take(scope->arena, sizeof *members);
    struct reading whole = {members, scope, complaint, "", amend->ref};
    struct reading inside = {members, scope, complaint, "/set", amend->ref};
    if (members == NULL)
        return out_of_memory(&whole);
    assert(target->type < EVENT_TYPE_COUNT);
    event_clear(members, target->type);
    if (!is_amendable(target->type)) {
        char text[80];
        snprintf(text, sizeof text, "names %s %s, which can't be amended", article(target->type),
                 type_names[target->type]);
        return refuse(&whole, REFUSED_REF_TYPE, "ref", text);
    }
    if (set == NULL && unset == NULL)
        return complain(complaint, REFUSED_MEMBER_MISSING, "/set", "set or unset is required");
    if (set != NULL && set->kind != VALUE_OBJECT)
        return refuse_kind(&whole, "set", "an object", set);
    if (set != NULL && set->count == 0)
        return refuse(&whole, REFUSED_MEMBER_VALUE, "set", "must not be empty");
    if (set != NULL && !read_members(&inside, set, true))
        return false;
    if (unset != NULL && !read_unset(&whole, unset, &amend->unset))
        return false;
    if ((members->given & amend->unset) != 0)
        return refuse(&whole, REFUSED_MEMBER_VALUE, "unset", "names a member that set has too");
    amend->set = members;
    return true;
}

static size_t shape_size(enum shape shape)
{
    switch (shape) {
    case SHAPE_WORD:
        return sizeof(uint8_t);
    case SHAPE_INTEGER:
    case SHAPE_REF:
    case SHAPE_ATTACK:
        return sizeof(int32_t);
    case SHAPE_NAME:
    case SHAPE_TEXT:
    case SHAPE_ID:
    case SHAPE_NAMES:
        return sizeof(void *);
    case SHAPE_TIME:
        return sizeof(int64_t);
    case SHAPE_SHEET:
        return sizeof((struct event *)NULL)->sheet;
    case SHAPE_ANY_INTEGER:
    case SHAPE_FLAG:
    case SHAPE_BOOLEAN:
    case SHAPE_TEXTS:
    case SHAPE_EDITION:
    case SHAPE_PERSON:
    case SHAPE_PLACE:
    case SHAPE_LENGTH:
    case SHAPE_AMENDMENT:
        return 0;
    }
    return 0;
}

static void amend_by(struct event *event, const struct event *set, uint64_t unset,
                     const struct rule_list *list)
{
    struct event blank;
    event_clear(&blank, event->type);
    for (size_t i = 0; i < list->count; i++) {
        const struct member_rule *rule = &list->rules[i];
        uint64_t bit = UINT64_C(1) << rule->member;
        bool sets = (set->given & bit) != 0, unsets = (unset & bit) != 0;
        if (!sets && !unsets)
            continue;
        if (rule->offset != 0)
            memcpy((char *)event + rule->offset, (const char *)(sets ? set : &blank) + rule->offset,
                   shape_size(rule->shape));
        event->given = sets ? event->given | bit : event->given & ~bit;
    }
}

void event_amend(struct event *event, const struct event *set, uint64_t unset)
{
    amend_by(event, set, unset, &type_lists[event->type]);
    amend_by(event, set, unset, &bout_common_list);
}

/* A whole event against its bout. `member` is where the complaint points. */
static bool whole(struct complaint *complaint, enum refusal why, const char *member,
                  const char *text)
{
    char pointer[48];
    snprintf(pointer, sizeof pointer, "/%s", member);
    return complain(complaint, why, pointer, "%s: %s", member, text);
}

static bool check_bout_time(const struct event *event, const struct details *details,
                            struct complaint *complaint)
{
    bool period = event_gives(event, MEMBER_PERIOD), t_ms = event_gives(event, MEMBER_T_MS);
    if (event->type == EVENT_CLOCK) {
        if (event->what == CLOCK_SET && (!period || !t_ms))
            return whole(complaint, REFUSED_MEMBER_MISSING, period ? "t_ms" : "period",
                         "is required with set");
        if (event->what == CLOCK_START && t_ms)
            return whole(complaint, REFUSED_MEMBER_UNKNOWN, "t_ms", "doesn't go with start");
        if (event->what != CLOCK_SET && event->what != CLOCK_START && (period || t_ms))
            return whole(complaint, REFUSED_MEMBER_UNKNOWN, period ? "period" : "t_ms",
                         "goes with set, and period with start");
    } else if (period != t_ms) {
        return whole(complaint, REFUSED_MEMBER_MISSING, period ? "t_ms" : "period",
                     "period and t_ms go together");
    }
    if (period && event->period > details->periods)
        return complain(complaint, REFUSED_TIME, "/period",
                        "period: the bout has %d period%s, not %d", details->periods,
                        details->periods > 1 ? "s" : "", event->period);
    if (t_ms && event->t_ms > details->period_ms)
        return complain(complaint, REFUSED_TIME, "/t_ms", "t_ms: a period has %d ms, not %d",
                        details->period_ms, event->t_ms);
    return true;
}

static bool check_score(const struct event *event, const struct edition *edition,
                        struct complaint *complaint)
{
    if (event->points < 1 || event->points > EDITION_VALUE_MAX || !edition->values[event->points])
        return complain(complaint, REFUSED_POINTS, "/points", "points: %d isn't a value of %.40s",
                        event->points, edition->name);
    if (!edition_has_action(edition, event->points, event->action))
        return complain(complaint, REFUSED_POINTS, "/action",
                        "action: %.60s isn't an action of %d in %.40s", event->action,
                        event->points, edition->name);
    return true;
}

static bool check_passivity(const struct event *event, const struct edition *edition,
                            struct complaint *complaint)
{
    bool points = event_gives(event, MEMBER_POINTS);
    if (event->stage == PASSIVITY_PENALTY && !points)
        return whole(complaint, REFUSED_MEMBER_MISSING, "points", "is required with penalty");
    if (event->stage != PASSIVITY_PENALTY && points)
        return whole(complaint, REFUSED_MEMBER_UNKNOWN, "points", "goes with penalty alone");
    if (event->stage == PASSIVITY_ACTIVITY && edition->activity_ms == EDITION_NONE)
        return complain(complaint, REFUSED_MEMBER_VALUE, "/stage",
                        "stage: %.40s has no activity time", edition->name);
    return true;
}

static bool check_challenge(const struct event *event, struct complaint *complaint)
{
    bool points = event_gives(event, MEMBER_POINTS);
    if (event->outcome == CHALLENGE_REJECTED && !points)
        return whole(complaint, REFUSED_MEMBER_MISSING, "points", "is required with rejected");
    if (event->outcome != CHALLENGE_REJECTED && points)
        return whole(complaint, REFUSED_MEMBER_UNKNOWN, "points", "goes with rejected alone");
    return true;
}

static bool check_close(const struct event *event, const struct edition *edition,
                        struct complaint *complaint)
{
    const struct ending *ending = edition_ending(edition, event->how);
    if (ending == NULL)
        return complain(complaint, REFUSED_MEMBER_VALUE, "/how", "how: %.40s has no ending %.60s",
                        edition->name, event->how);
    if (ending->has_winner && event->winner == SIDE_NONE)
        return complain(complaint, REFUSED_WINNER, "/winner", "winner: %s has one", ending->name);
    if (!ending->has_winner && event->winner != SIDE_NONE)
        return complain(complaint, REFUSED_WINNER, "/winner", "winner: %s has none", ending->name);
    return true;
}

bool event_check(const struct event *event, const struct details *details,
                 struct complaint *complaint)
{
    if (!check_bout_time(event, details, complaint))
        return false;
    switch (event->type) {
    case EVENT_SCORE:
        return check_score(event, details->edition, complaint);
    case EVENT_PASSIVITY:
        return check_passivity(event, details->edition, complaint);
    case EVENT_POSITION:
        return event->position != POSITION_PAR_TERRE || event->top != SIDE_NONE ||
               whole(complaint, REFUSED_MEMBER_MISSING, "top", "is required with par_terre");
    case EVENT_CHALLENGE:
        return check_challenge(event, complaint);
    case EVENT_CLOSE:
        return check_close(event, details->edition, complaint);
    case EVENT_BOUT:
    case EVENT_CLOCK:
    case EVENT_ATTACK:
    case EVENT_CAUTION:
    case EVENT_STOPPAGE:
    case EVENT_CONFIRM:
    case EVENT_VOID:
    case EVENT_AMEND:
    case EVENT_RESTART:
    case EVENT_NOTE:
    case EVENT_ENTRY:
    case EVENT_SLOT:
    case EVENT_SESSION:
    case EVENT_TYPE_COUNT:
        return true;
    }
    return true;
}
