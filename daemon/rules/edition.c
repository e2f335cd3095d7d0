#include "rules/edition.h"
#include <stdio.h>
#include <string.h>

static const char *const criterion_names[] = {
    [BY_NOTHING] = "",
    [BY_POINTS] = "points",
    [BY_HOLDS] = "holds",
    [BY_CAUTIONS] = "cautions",
    [BY_LAST_POINT] = "last_point",
    [BY_FIRST_POINT] = "first_point",
    [BY_TECHNIQUE] = "technique",
};

const char *criterion_name(enum criterion by)
{
    return criterion_names[by];
}

/* What is being read, and where to put it. `place` is the RFC 6901 pointer of the object in hand.
 */
struct reader {
    struct edition *edition;
    struct arena *arena;
    struct complaint *complaint;
    char place[64];
};

static bool refuse(struct reader *reader, const char *member, const char *text)
{
    char pointer[96];
    snprintf(pointer, sizeof pointer, "%s%s%s", reader->place, *member != '\0' ? "/" : "", member);
    return complain(reader->complaint, REFUSED_RULES, pointer, "%s%s%s", member,
                    *member != '\0' ? ": " : "", text);
}

static bool out_of_memory(struct reader *reader)
{
    reader->complaint->why = ACCEPTED;
    return false;
}

static bool read_integer(struct reader *reader, const struct value *object, const char *member,
                         int64_t least, int64_t most, bool required, int32_t *number)
{
    const struct value *found = value_member(object, member);
    if (found == NULL && !required) {
        *number = EDITION_NONE;
        return true;
    }
    if (found == NULL)
        return refuse(reader, member, "is missing");
    if (found->kind != VALUE_INTEGER || found->as.integer < least || found->as.integer > most) {
        char text[80];
        snprintf(text, sizeof text, "must be an integer from %lld to %lld", (long long)least,
                 (long long)most);
        return refuse(reader, member, text);
    }
    *number = (int32_t)found->as.integer;
    return true;
}

static bool read_switch(struct reader *reader, const char *member, bool usual, bool *on)
{
    const struct value *found = value_member(reader->edition->document, member);
    *on = usual;
    if (found == NULL)
        return true;
    if (found->kind != VALUE_TRUE && found->kind != VALUE_FALSE)
        return refuse(reader, member, "must be true or false");
    *on = found->kind == VALUE_TRUE;
    return true;
}

static bool is_slug(const char *text)
{
    size_t size = strspn(text, "abcdefghijklmnopqrstuvwxyz0123456789_-");
    return size > 0 && size <= 40 && text[size] == '\0';
}

static bool read_slug(struct reader *reader, const struct value *found, const char *member,
                      const char **slug)
{
    if (found == NULL || found->kind != VALUE_STRING || !is_slug(found->as.string))
        return refuse(reader, member, "must be a name of 1 to 40 of a-z 0-9 _ -");
    *slug = found->as.string;
    return true;
}

/* An array of names, ended by NULL. */
static bool read_slugs(struct reader *reader, const struct value *found, const char *member,
                       const char ***slugs, size_t *count)
{
    if (found == NULL || found->kind != VALUE_ARRAY || found->count == 0)
        return refuse(reader, member, "must be an array of names, not empty");
    *slugs = arena_take(reader->arena, (found->count + 1) * sizeof **slugs);
    if (*slugs == NULL)
        return out_of_memory(reader);
    *count = found->count;
    for (size_t i = 0; i < found->count; i++)
        if (!read_slug(reader, &found->items[i], member, &(*slugs)[i]))
            return false;
    return true;
}

static bool read_age_groups(struct reader *reader)
{
    struct edition *edition = reader->edition;
    const struct value *groups = value_member(edition->document, "age_groups");
    if (groups == NULL || groups->kind != VALUE_OBJECT || groups->count == 0)
        return refuse(reader, "age_groups", "must be an object, one member an age group");
    edition->age_groups = arena_take(reader->arena, groups->count * sizeof *edition->age_groups);
    if (edition->age_groups == NULL)
        return out_of_memory(reader);
    edition->age_group_count = groups->count;
    for (size_t i = 0; i < groups->count; i++) {
        const struct value *group = &groups->items[i];
        struct age_group *read = &edition->age_groups[i];
        int32_t periods = 0;
        read->name = group->name;
        snprintf(reader->place, sizeof reader->place, "/age_groups/%.40s", group->name);
        if (!read_integer(reader, group, "periods", 1, 9, true, &periods) ||
            !read_integer(reader, group, "period_ms", 1, 3600000, true, &read->period_ms) ||
            !read_integer(reader, group, "break_ms", 0, 3600000, true, &read->break_ms) ||
            !read_integer(reader, group, "forced_call_ms", 1, 3600000, false,
                          &read->forced_call_ms))
            return false;
        read->periods = periods;
    }
    reader->place[0] = '\0';
    if (edition_age_group(edition, NULL) == NULL)
        return refuse(reader, "age_groups", "must have seniors, which holds without an age group");
    return true;
}

static bool read_values(struct reader *reader)
{
    const struct value *values = value_member(reader->edition->document, "values");
    if (values == NULL || values->kind != VALUE_ARRAY || values->count == 0)
        return refuse(reader, "values", "must be an array of integers, not empty");
    for (size_t i = 0; i < values->count; i++) {
        const struct value *item = &values->items[i];
        if (item->kind != VALUE_INTEGER || item->as.integer < 1 ||
            item->as.integer > EDITION_VALUE_MAX)
            return refuse(reader, "values", "must be integers from 1 to 15");
        reader->edition->values[item->as.integer] = true;
    }
    return true;
}

static bool read_actions(struct reader *reader)
{
    struct edition *edition = reader->edition;
    const struct value *actions = value_member(edition->document, "actions");
    for (int value = 1; value <= EDITION_VALUE_MAX; value++) {
        char name[16];
        size_t count = 0;
        snprintf(name, sizeof name, "%d", value);
        if (!edition->values[value])
            continue;
        snprintf(reader->place, sizeof reader->place, "/actions");
        if (!read_slugs(reader, value_member(actions, name), name, &edition->actions[value],
                        &count))
            return false;
    }
    reader->place[0] = '\0';
    return true;
}

static bool read_order(struct reader *reader, const struct value *clause, struct tie_clause *read)
{
    const struct value *order = value_member(clause, "order");
    if (order == NULL || order->kind != VALUE_ARRAY || order->count == 0 ||
        order->count > EDITION_CRITERIA_MAX)
        return refuse(reader, "order", "must be an array of 1 to 6 criteria");
    for (size_t i = 0; i < order->count; i++) {
        for (enum criterion by = BY_HOLDS; by <= BY_TECHNIQUE; by++)
            if (order->items[i].kind == VALUE_STRING &&
                strcmp(order->items[i].as.string, criterion_names[by]) == 0)
                read->order[i] = by;
        if (read->order[i] == BY_NOTHING)
            return refuse(reader, "order",
                          "knows holds, cautions, last_point, first_point and technique");
    }
    return true;
}

static bool read_cautions_given(struct reader *reader, const struct value *clause,
                                struct tie_clause *read)
{
    const struct value *given = value_member(clause, "cautions_given");
    read->cautions_least = EDITION_NONE;
    if (given == NULL)
        return true;
    bool pair = given->kind == VALUE_ARRAY && given->count == 2;
    for (size_t i = 0; pair && i < 2; i++)
        pair = given->items[i].kind == VALUE_INTEGER && given->items[i].as.integer >= 0 &&
               given->items[i].as.integer <= 1000000;
    if (!pair)
        return refuse(reader, "cautions_given", "must be [least, most]");
    read->cautions_least = (int)given->items[0].as.integer;
    read->cautions_most = (int)given->items[1].as.integer;
    return true;
}

static bool read_ties(struct reader *reader)
{
    struct edition *edition = reader->edition;
    const struct value *ties = value_member(edition->document, "ties");
    if (ties == NULL || ties->kind != VALUE_ARRAY)
        return refuse(reader, "ties", "must be an array of tie-break clauses");
    edition->ties = arena_take(reader->arena, (ties->count + 1) * sizeof *edition->ties);
    if (edition->ties == NULL)
        return out_of_memory(reader);
    edition->tie_count = ties->count;
    for (size_t i = 0; i < ties->count; i++) {
        struct tie_clause *read = &edition->ties[i];
        snprintf(reader->place, sizeof reader->place, "/ties/%zu", i);
        if (!read_integer(reader, &ties->items[i], "score", 0, 1000, false, &read->score) ||
            !read_integer(reader, &ties->items[i], "by_technique", 0, 2, false,
                          &read->by_technique) ||
            !read_cautions_given(reader, &ties->items[i], read) ||
            !read_order(reader, &ties->items[i], read))
            return false;
    }
    reader->place[0] = '\0';
    return true;
}

static bool read_worth(struct reader *reader, const struct value *object, struct ending *read,
                       unsigned which)
{
    const struct value *code = value_member(object, "code");
    int32_t winner = 0, loser = 0;
    if (code == NULL || code->kind != VALUE_STRING || code->as.string[0] == '\0')
        return refuse(reader, "code", "must be a string");
    if (!read_integer(reader, object, "winner", 0, 100, true, &winner) ||
        !read_integer(reader, object, "loser", 0, 100, true, &loser))
        return false;
    read->worth[which].code = code->as.string;
    read->worth[which].winner = winner;
    read->worth[which].loser = loser;
    return true;
}

static bool read_ending(struct reader *reader, const struct value *ending, struct ending *read)
{
    const struct value *has_winner = value_member(ending, "has_winner");
    const struct value *shutout = value_member(ending, "shutout");
    const struct value *scored = value_member(ending, "scored");
    read->name = ending->name;
    if (!is_slug(ending->name))
        return refuse(reader, "", "an ending's name has 1 to 40 of a-z 0-9 _ -");
    if (has_winner == NULL || (has_winner->kind != VALUE_TRUE && has_winner->kind != VALUE_FALSE))
        return refuse(reader, "has_winner", "must be true or false");
    read->has_winner = has_winner->kind == VALUE_TRUE;
    read->by_points = shutout != NULL || scored != NULL;
    if (!read->by_points)
        return read_worth(reader, ending, read, 0) && read_worth(reader, ending, read, 1);
    return read_worth(reader, shutout, read, 0) && read_worth(reader, scored, read, 1);
}

static bool read_endings(struct reader *reader)
{
    struct edition *edition = reader->edition;
    const struct value *endings = value_member(edition->document, "endings");
    if (endings == NULL || endings->kind != VALUE_OBJECT || endings->count == 0)
        return refuse(reader, "endings", "must be an object, one member an ending");
    edition->endings = arena_take(reader->arena, endings->count * sizeof *edition->endings);
    if (edition->endings == NULL)
        return out_of_memory(reader);
    edition->ending_count = endings->count;
    for (size_t i = 0; i < endings->count; i++) {
        snprintf(reader->place, sizeof reader->place, "/endings/%.40s", endings->items[i].name);
        if (!read_ending(reader, &endings->items[i], &edition->endings[i]))
            return false;
    }
    reader->place[0] = '\0';
    return true;
}

static bool read_activity(struct reader *reader)
{
    struct edition *edition = reader->edition;
    const struct value *ended_by = value_member(edition->document, "activity_ended_by");
    if (!read_integer(reader, edition->document, "activity_ms", 1, 3600000, false,
                      &edition->activity_ms))
        return false;
    if (edition->activity_ms == EDITION_NONE && ended_by == NULL)
        return true;
    if (edition->activity_ms == EDITION_NONE || ended_by == NULL || ended_by->kind != VALUE_STRING)
        return refuse(reader, "activity_ended_by", "goes with activity_ms: named or either");
    if (strcmp(ended_by->as.string, "either") == 0)
        edition->activity_ended_by = ACTIVITY_ENDED_BY_EITHER;
    else if (strcmp(ended_by->as.string, "named") != 0)
        return refuse(reader, "activity_ended_by", "must be named or either");
    return true;
}

static bool read_source(struct reader *reader)
{
    const struct value *source = value_member(reader->edition->document, "source");
    bool texts = source != NULL && source->kind == VALUE_ARRAY && source->count > 0;
    for (size_t i = 0; texts && i < source->count; i++)
        texts = source->items[i].kind == VALUE_STRING;
    return texts || refuse(reader, "source", "must be an array of strings: documents, articles");
}

bool edition_read(struct edition *edition, const struct value *document, struct arena *arena,
                  struct complaint *complaint)
{
    struct reader reader = {.edition = edition, .arena = arena, .complaint = complaint};
    int32_t superiority = 0, cautions_out = 0;
    *edition = (struct edition){.activity_ended_by = ACTIVITY_ENDED_BY_NAMED};
    if (document->kind != VALUE_OBJECT)
        return refuse(&reader, "", "an edition is a JSON object");
    edition->document = value_copy(arena, document);
    if (edition->document == NULL)
        return out_of_memory(&reader);
    if (!read_slug(&reader, value_member(edition->document, "name"), "name", &edition->name) ||
        !read_source(&reader) ||
        !read_slugs(&reader, value_member(edition->document, "styles"), "styles", &edition->styles,
                    &edition->style_count) ||
        !read_age_groups(&reader) || !read_values(&reader) || !read_actions(&reader) ||
        !read_ties(&reader) || !read_endings(&reader) || !read_activity(&reader) ||
        !read_integer(&reader, edition->document, "superiority", 1, 1000, true, &superiority) ||
        !read_integer(&reader, edition->document, "cautions_out", 1, 1000, true, &cautions_out) ||
        !read_switch(&reader, "penalty_points_are_holds", true,
                     &edition->penalty_points_are_holds) ||
        !read_switch(&reader, "penalty_is_caution", false, &edition->penalty_is_caution) ||
        !draw_rules_read(&edition->draw, value_member(edition->document, "draw"), complaint))
        return false;
    edition->superiority = superiority;
    edition->cautions_out = cautions_out;
    return true;
}

bool edition_has_style(const struct edition *edition, const char *style)
{
    for (size_t i = 0; i < edition->style_count; i++)
        if (strcmp(edition->styles[i], style) == 0)
            return true;
    return false;
}

const struct age_group *edition_age_group(const struct edition *edition, const char *name)
{
    const char *wanted = name != NULL ? name : "seniors";
    for (size_t i = 0; i < edition->age_group_count; i++)
        if (strcmp(edition->age_groups[i].name, wanted) == 0)
            return &edition->age_groups[i];
    return NULL;
}

bool edition_has_action(const struct edition *edition, int value, const char *action)
{
    if (value < 1 || value > EDITION_VALUE_MAX || edition->actions[value] == NULL)
        return false;
    for (const char **name = edition->actions[value]; *name != NULL; name++)
        if (strcmp(*name, action) == 0)
            return true;
    return false;
}

bool action_is_technique(const char *action)
{
    return strcmp(action, "injury_stop") != 0 && strcmp(action, "bout_stop") != 0;
}

const struct ending *edition_ending(const struct edition *edition, const char *name)
{
    for (size_t i = 0; i < edition->ending_count; i++)
        if (strcmp(edition->endings[i].name, name) == 0)
            return &edition->endings[i];
    return NULL;
}

const struct edition *editions_find(const struct editions *editions, const char *name)
{
    for (size_t i = 0; i < editions->count; i++)
        if (strcmp(editions->items[i].name, name) == 0)
            return &editions->items[i];
    return NULL;
}
