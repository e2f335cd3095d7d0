#include "rules/day.h"
#include <string.h>

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

const struct slot *day_slot(const struct day *day, const char *slot)
{
    return table_find(&day->known_slots, slot);
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

static bool take_integer(const struct value *document, const char *member, int64_t *number)
{
    const struct value *value = value_member(document, member);
    if (value != NULL)
        *number = value->as.integer;
    return value != NULL;
}

/* ---- athletes ---- */

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

static bool read_entry(struct day *day, const struct value *document)
{
    const char *key = value_member(document, "athlete")->as.string;
    struct athlete *athlete = table_find(&day->known, key);
    if (athlete == NULL && (athlete = athlete_add(day, key)) == NULL)
        return false;
    take_text(document, "name", &athlete->name);
    take_text(document, "family", &athlete->family);
    take_text(document, "given", &athlete->given);
    take_text(document, "say", &athlete->say);
    take_text(document, "team", &athlete->team);
    take_text(document, "noc", &athlete->noc);
    take_text(document, "style", &athlete->style);
    take_text(document, "age_group", &athlete->age_group);
    take_text(document, "weight", &athlete->weight);
    take_integer(document, "seed", &athlete->seed);
    if (value_member(document, "facts") != NULL)
        athlete->facts = value_member(document, "facts");
    if (take_fact(document, "minor", &athlete->minor))
        athlete->minor_said = true;
    take_fact(document, "consent", &athlete->consent);
    take_fact(document, "out", &athlete->out);
    return true;
}

/* ---- slots ---- */

static struct slot *slot_add(struct day *day, const char *name)
{
    struct slot **slots =
        arena_grow(&day->arena, day->slots, day->slot_count, &day->slot_capacity, sizeof *slots);
    struct slot *slot = arena_take(&day->arena, sizeof *slot);
    if (slots == NULL || slot == NULL)
        return NULL;
    day->slots = slots;
    slot->slot = name;
    slot->place = day->slot_count;
    if (!table_add(&day->known_slots, &day->arena, name, slot))
        return NULL;
    day->slots[day->slot_count++] = slot;
    return slot;
}

static void take_side(const struct value *document, const char *member, struct slot_side *side)
{
    static const struct {
        const char *name;
        enum slot_from from;
    } kinds[] = {{"athlete", FROM_ATHLETE}, {"winner_of", FROM_WINNER}, {"loser_of", FROM_LOSER}};
    const struct value *value = value_member(document, member);
    for (size_t i = 0; value != NULL && i < sizeof kinds / sizeof *kinds; i++) {
        const struct value *named = value_member(value, kinds[i].name);
        if (named != NULL)
            *side = (struct slot_side){kinds[i].from, named->as.string};
    }
}

static bool read_slot(struct day *day, const struct value *document)
{
    const char *name = value_member(document, "slot")->as.string;
    struct slot *slot = table_find(&day->known_slots, name);
    if (slot == NULL && (slot = slot_add(day, name)) == NULL)
        return false;
    take_text(document, "number", &slot->number);
    take_text(document, "mat", &slot->mat);
    take_text(document, "stage", &slot->stage);
    take_text(document, "style", &slot->style);
    take_text(document, "age_group", &slot->age_group);
    take_text(document, "weight", &slot->weight);
    take_text(document, "rules", &slot->rules);
    take_text(document, "starts_at", &slot->starts_at);
    if (take_integer(document, "order", &slot->order))
        slot->order_said = true;
    take_side(document, "red", &slot->sides[0]);
    take_side(document, "blue", &slot->sides[1]);
    return true;
}

/* ---- sessions ---- */

static struct session *session_of(struct day *day, const char *name)
{
    for (size_t i = 0; i < day->session_count; i++)
        if (strcmp(day->sessions[i]->session, name) == 0)
            return day->sessions[i];
    struct session **sessions = arena_grow(&day->arena, day->sessions, day->session_count,
                                           &day->session_capacity, sizeof *sessions);
    struct session *session = arena_take(&day->arena, sizeof *session);
    if (sessions == NULL || session == NULL)
        return NULL;
    session->session = name;
    day->sessions = sessions;
    day->sessions[day->session_count++] = session;
    return session;
}

static bool read_session(struct day *day, const struct value *document)
{
    struct session *session = session_of(day, value_member(document, "session")->as.string);
    if (session == NULL)
        return false;
    take_text(document, "name", &session->name);
    take_text(document, "mat", &session->mat);
    session->running = strcmp(value_member(document, "do")->as.string, "start") == 0;
    return true;
}

bool day_read(struct day *day, const struct event *event)
{
    day->read_count++;
    if (event->type == EVENT_ENTRY)
        return read_entry(day, event->document);
    if (event->type == EVENT_SLOT)
        return read_slot(day, event->document);
    if (event->type == EVENT_SESSION)
        return read_session(day, event->document);
    return true;
}
