#include "rules/draw_rules.h"
#include <stdio.h>
#include <string.h>

static const char *const criterion_names[] = {[RANK_BY_NOTHING] = "",
#define X(criterion, name) [criterion] = name,
                                              RANK_CRITERIA(X)
#undef X
};
enum { CRITERION_COUNT = sizeof criterion_names / sizeof *criterion_names };

const char *rank_by_name(enum rank_by by)
{
    return criterion_names[by];
}

static bool refuse(struct complaint *complaint, const char *member, const char *text)
{
    char pointer[64];
    snprintf(pointer, sizeof pointer, "/draw%s%s", *member != '\0' ? "/" : "", member);
    return complain(complaint, REFUSED_RULES, pointer, "%s: %s", *member != '\0' ? member : "draw",
                    text);
}

static bool read_count(const struct value *draw, const char *member, int *count,
                       struct complaint *complaint)
{
    const struct value *found = value_member(draw, member);
    if (found == NULL || found->kind != VALUE_INTEGER || found->as.integer < 0 ||
        found->as.integer > DRAW_ENTRIES_MAX)
        return refuse(complaint, member, "must be an integer from 0 to 64");
    *count = (int)found->as.integer;
    return true;
}

static bool read_qualification(const struct value *draw, bool *spread, struct complaint *complaint)
{
    const struct value *found = value_member(draw, "qualification");
    const char *word = found != NULL && found->kind == VALUE_STRING ? found->as.string : "";
    *spread = strcmp(word, "spread") == 0;
    return *spread || strcmp(word, "bottom") == 0 ||
           refuse(complaint, "qualification", "must be spread or bottom");
}

static enum rank_by criterion_of(const struct value *value)
{
    for (int i = RANK_BY_NOTHING + 1; value->kind == VALUE_STRING && i < CRITERION_COUNT; i++)
        if (strcmp(value->as.string, criterion_names[i]) == 0)
            return (enum rank_by)i;
    return RANK_BY_NOTHING;
}

static bool read_criteria(const struct value *draw, const char *member, enum rank_by *order,
                          struct complaint *complaint)
{
    const struct value *found = value_member(draw, member);
    if (found == NULL || found->kind != VALUE_ARRAY || found->count == 0 ||
        found->count > RANK_CRITERIA_MAX)
        return refuse(complaint, member, "must be an array of 1 to 7 criteria");
    for (size_t i = 0; i < found->count; i++) {
        order[i] = criterion_of(&found->items[i]);
        if (order[i] == RANK_BY_NOTHING)
            return refuse(complaint, member,
                          "knows victories, direct_match, class_points, falls, superiorities, "
                          "points_scored and points_given");
    }
    return true;
}

static bool read_team_points(const struct value *draw, int *points, struct complaint *complaint)
{
    const struct value *found = value_member(draw, "team_points");
    bool good = found != NULL && found->kind == VALUE_ARRAY && found->count <= TEAM_PLACES_MAX;
    for (size_t i = 0; good && i < found->count; i++) {
        good = found->items[i].kind == VALUE_INTEGER && found->items[i].as.integer >= 0 &&
               found->items[i].as.integer <= 1000;
        points[i] = good ? (int)found->items[i].as.integer : 0;
    }
    return good || refuse(complaint, "team_points",
                          "must be an array of up to 16 integers from 0 to 1000, by place");
}

bool draw_rules_read(struct draw_rules *rules, const struct value *draw,
                     struct complaint *complaint)
{
    *rules = (struct draw_rules){.given = draw != NULL};
    if (draw == NULL)
        return true;
    if (draw->kind != VALUE_OBJECT)
        return refuse(complaint, "", "must be an object");
    return read_count(draw, "nordic_up_to", &rules->nordic_up_to, complaint) &&
           read_count(draw, "pools_up_to", &rules->pools_up_to, complaint) &&
           read_qualification(draw, &rules->spread, complaint) &&
           read_criteria(draw, "nordic_ranking", rules->nordic_ranking, complaint) &&
           read_criteria(draw, "ranking", rules->ranking, complaint) &&
           read_team_points(draw, rules->team_points, complaint);
}
