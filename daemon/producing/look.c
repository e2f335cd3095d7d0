#include "producing/look.h"
#include <stdio.h>
#include <string.h>

enum { SCALE_PERCENT_MIN = 50, SCALE_PERCENT_MAX = 100, WORDS_MAX = 7 };

/* `words`: all that it may be, the plain one first; else `letters` are what it may be made of. */
static const struct {
    const char *name;
    const char *words[WORDS_MAX + 1];
    const char *letters;
} rows[LOOK_COUNT] = {
    [LOOK_POSITION] = {"position",
                       {"lower-left", "lower-right", "upper-left", "upper-right", "lifted",
                        "upright", "square"},
                       NULL},
    [LOOK_THEME] = {"theme", {"dark", "light"}, NULL},
    [LOOK_CLOCK] = {"clock", {"left", "elapsed"}, NULL},
    [LOOK_MOTION] = {"motion", {"on", "off"}, NULL},
    [LOOK_SCORE] = {"score", {"all", "confirmed"}, NULL},
    [LOOK_UNHEARD] = {"unheard", {"clock", "all"}, NULL},
    [LOOK_LANG] = {"lang", {""}, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-"},
    [LOOK_BACKGROUND] = {"background",
                         {""},
                         "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789#"},
};

struct look look_plain(void)
{
    struct look look = {.scale_percent = SCALE_PERCENT_MAX};
    for (unsigned i = 0; i < LOOK_COUNT; i++)
        snprintf(look.words[i], sizeof look.words[i], "%s", rows[i].words[0]);
    return look;
}

const char *look_member_name(enum look_member member)
{
    return rows[member].name;
}

bool look_is_plain(const struct look *look, enum look_member member)
{
    return strcmp(look->words[member], rows[member].words[0]) == 0;
}

static bool word_fits(enum look_member member, const char *word)
{
    if (rows[member].letters != NULL)
        return strlen(word) < LOOK_TEXT_SIZE && word[strspn(word, rows[member].letters)] == '\0';
    for (const char *const *known = rows[member].words; *known != NULL; known++)
        if (strcmp(*known, word) == 0)
            return true;
    return false;
}

static bool refuse_word(enum look_member member, const char *pointer, struct complaint *complaint)
{
    char list[160] = "";
    for (const char *const *known = rows[member].words; *known != NULL; known++)
        snprintf(list + strlen(list), sizeof list - strlen(list), "%s%s",
                 list[0] != '\0' ? ", " : "", *known);
    if (rows[member].letters != NULL)
        return complain(complaint, REFUSED_MEMBER_VALUE, pointer,
                        "%s: must be letters, digits and what goes with them, less than %d",
                        rows[member].name, LOOK_TEXT_SIZE);
    return complain(complaint, REFUSED_MEMBER_VALUE, pointer, "%s: must be one of %s",
                    rows[member].name, list);
}

static bool scale_read(struct look *look, const struct value *value, const char *pointer,
                       struct complaint *complaint)
{
    if (value->kind != VALUE_INTEGER)
        return complain(complaint, REFUSED_MEMBER_TYPE, pointer,
                        "scale_percent: must be an integer, not %s", value_kind_name(value->kind));
    if (value->as.integer < SCALE_PERCENT_MIN || value->as.integer > SCALE_PERCENT_MAX)
        return complain(complaint, REFUSED_MEMBER_VALUE, pointer, "scale_percent: must be %d to %d",
                        SCALE_PERCENT_MIN, SCALE_PERCENT_MAX);
    look->scale_percent = (int)value->as.integer;
    return true;
}

static bool member_read(struct look *look, const struct value *value, const char *pointer,
                        struct complaint *complaint)
{
    if (strcmp(value->name, "scale_percent") == 0)
        return scale_read(look, value, pointer, complaint);
    unsigned member = 0;
    while (member < LOOK_COUNT && strcmp(rows[member].name, value->name) != 0)
        member++;
    if (member == LOOK_COUNT)
        return complain(complaint, REFUSED_MEMBER_UNKNOWN, pointer, "%s: a look has no such member",
                        value->name);
    if (value->kind != VALUE_STRING)
        return complain(complaint, REFUSED_MEMBER_TYPE, pointer, "%s: must be a string, not %s",
                        value->name, value_kind_name(value->kind));
    if (!word_fits((enum look_member)member, value->as.string))
        return refuse_word((enum look_member)member, pointer, complaint);
    snprintf(look->words[member], LOOK_TEXT_SIZE, "%s", value->as.string);
    return true;
}

bool look_read(struct look *look, const struct value *value, const char *pointer,
               struct complaint *complaint)
{
    char place[96];
    *look = look_plain();
    if (value->kind != VALUE_OBJECT)
        return complain(complaint, REFUSED_MEMBER_TYPE, pointer, "must be an object, not %s",
                        value_kind_name(value->kind));
    for (size_t i = 0; i < value->count; i++) {
        snprintf(place, sizeof place, "%s/%.60s", pointer, value->items[i].name);
        if (!member_read(look, &value->items[i], place, complaint))
            return false;
    }
    return true;
}
