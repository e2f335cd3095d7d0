#include "rules/day.h"

void day_init(struct day *day, void *(*allocate)(size_t), void (*release)(void *))
{
    *day = (struct day){.count = 0};
    arena_init(&day->arena, allocate, release);
}

void day_close(struct day *day)
{
    arena_close(&day->arena);
    *day = (struct day){.arena = day->arena};
}

const struct athlete *day_athlete(const struct day *day, const char *athlete)
{
    return table_find(&day->known, athlete);
}

static struct athlete *athlete_add(struct day *day, const char *key)
{
    struct athlete **athletes =
        arena_grow(&day->arena, day->athletes, day->count, &day->capacity, sizeof *athletes);
    struct athlete *athlete = arena_take(&day->arena, sizeof *athlete);
    if (athletes == NULL || athlete == NULL)
        return NULL;
    day->athletes = athletes;
    athlete->athlete = key;
    if (!table_add(&day->known, &day->arena, key, athlete))
        return NULL;
    day->athletes[day->count++] = athlete;
    return athlete;
}

static void take_text(const struct value *document, const char *member, const char **text)
{
    const struct value *value = value_member(document, member);
    if (value != NULL)
        *text = value->as.string;
}

static bool take_fact(const struct value *document, const char *member, bool *fact)
{
    const struct value *value = value_member(document, member);
    if (value != NULL)
        *fact = value->kind == VALUE_TRUE;
    return value != NULL;
}

bool day_read(struct day *day, const struct event *event)
{
    const struct value *document = event->document;
    if (event->type != EVENT_ENTRY)
        return true;
    const char *key = value_member(document, "athlete")->as.string;
    struct athlete *athlete = table_find(&day->known, key);
    if (athlete == NULL && (athlete = athlete_add(day, key)) == NULL)
        return false;
    take_text(document, "name", &athlete->name);
    take_text(document, "family", &athlete->family);
    take_text(document, "given", &athlete->given);
    take_text(document, "team", &athlete->team);
    take_text(document, "age_group", &athlete->age_group);
    if (take_fact(document, "minor", &athlete->minor))
        athlete->minor_said = true;
    take_fact(document, "consent", &athlete->consent);
    take_fact(document, "out", &athlete->out);
    return true;
}
