#include "access/privacy.h"
#include <string.h>

enum { ADULT_YEARS = 18 };

static const char *const side_words[] = {"Red", "Blue"};

/* ---- who is a minor ---- */

bool age_group_is_of_minors(const char *age_group)
{
    int years = 0;
    if (age_group == NULL || (age_group[0] != 'u' && age_group[0] != 'U') || age_group[1] == '\0')
        return false;
    for (const char *digit = age_group + 1; *digit != '\0'; digit++) {
        if (*digit < '0' || *digit > '9' || years >= ADULT_YEARS)
            return false;
        years = years * 10 + *digit - '0';
    }
    return years < ADULT_YEARS;
}

bool athlete_is_minor(const struct athlete *athlete)
{
    return athlete->minor_said ? athlete->minor : age_group_is_of_minors(athlete->age_group);
}

/* By the key in the roster; else, more carefully, every athlete entered under that name. */
struct standing {
    bool minor, consent;
};

static struct standing standing_in(const struct day *day, const struct person *person)
{
    struct standing standing = {false, false};
    const struct athlete *athlete =
        person->athlete != NULL ? day_athlete(day, person->athlete) : NULL;
    bool found = false;
    if (athlete != NULL)
        return (struct standing){athlete_is_minor(athlete), athlete->consent};
    for (size_t i = 0; i < day->count; i++) {
        athlete = day->athletes[i];
        if (athlete->name == NULL || strcmp(athlete->name, person->name) != 0)
            continue;
        standing.minor = standing.minor || athlete_is_minor(athlete);
        standing.consent = (standing.consent || !found) && athlete->consent;
        found = true;
    }
    return standing;
}

static bool has_minor(const struct day *day, const struct details *details)
{
    return standing_in(day, &details->sides[0]).minor || standing_in(day, &details->sides[1]).minor;
}

bool person_is_minor(const struct day *day, const struct person *person)
{
    return standing_in(day, person).minor;
}

bool name_is_withheld(const struct day *day, const struct person *person, bool group_of_minors)
{
    struct standing standing = standing_in(day, person);
    return (group_of_minors || standing.minor) && !standing.consent;
}

static const struct details *details_latest(const struct bout *bout, size_t count)
{
    while (count > 0 && bout->events[count - 1].type != EVENT_BOUT)
        count--;
    return count > 0 ? bout->events[count - 1].details : NULL;
}

struct privacy privacy_of(const struct day *day, const struct bout *bout, size_t count)
{
    const struct details *latest = details_latest(bout, count);
    struct privacy privacy = {.covers = false};
    if (latest == NULL)
        return privacy;
    privacy.group_of_minors = age_group_is_of_minors(latest->age_group_name);
    privacy.of_minors = privacy.group_of_minors || has_minor(day, latest);
    privacy.covers = privacy.of_minors;
    for (size_t i = 0; i < count && !privacy.covers; i++)
        if (bout->events[i].type == EVENT_BOUT)
            privacy.covers = has_minor(day, bout->events[i].details);
    return privacy;
}

/* ---- the copy ---- */

void public_bout_init(struct public_bout *public, const struct bout *source, const struct day *day,
                      struct privacy privacy, void *(*allocate)(size_t), void (*release)(void *))
{
    *public = (struct public_bout){
        .source = source, .day = day, .privacy = privacy, .bout = {.id = source->id}};
    arena_init(&public->arena, allocate, release);
}

void public_bout_close(struct public_bout *public)
{
    arena_close(&public->arena);
    public->bout = (struct bout){.id = public->source->id};
}

static bool cover_person(struct public_bout *public, struct person *person, const char *side)
{
    char initials[INITIALS_SIZE];
    const char *shown = side;
    if (initials_of(person->name, initials) &&
        (shown = arena_copy(&public->arena, initials)) == NULL)
        return false;
    *person = (struct person){.name = shown, .team = person->team};
    return true;
}

static const struct details *cover_details(struct public_bout *public,
                                           const struct details *details)
{
    struct details *covered = arena_take(&public->arena, sizeof *covered);
    bool group = public->privacy.group_of_minors;
    if (covered == NULL)
        return NULL;
    *covered = *details;
    if (public->privacy.of_minors || has_minor(public->day, details))
        covered->weight = NULL;
    covered->slot = NULL; /* places in the draw are named after weights */
    for (unsigned i = 0; i < 2; i++)
        if (name_is_withheld(public->day, &details->sides[i], group) &&
            !cover_person(public, &covered->sides[i], side_words[i]))
            return NULL;
    if (strcmp(covered->sides[0].name, covered->sides[1].name) == 0)
        for (unsigned i = 0; i < 2; i++)
            if (name_is_withheld(public->day, &details->sides[i], group))
                covered->sides[i].name = side_words[i];
    return covered;
}

/* What an event, or what an amend sets, may not tell. */
static void cover_members(const struct public_bout *public, struct event *event)
{
    event->document = NULL;
    event->by = NULL;
    if (event->type == EVENT_NOTE && event->to == NOTE_TO_BOOTH)
        event->text = "";
    if (!public->privacy.of_minors)
        return;
    if (event->type == EVENT_STOPPAGE) {
        bool treatment = event->kind == STOPPAGE_INJURY || event->kind == STOPPAGE_BLOOD;
        event->kind = treatment ? STOPPAGE_OTHER : event->kind;
        event->side = SIDE_NONE;
    }
    if (event->action != NULL && !action_is_technique(event->action))
        event->action = "bout_stop";
}

static bool cover_event(struct public_bout *public, struct event *event)
{
    cover_members(public, event);
    if (event->details != NULL && (event->details = cover_details(public, event->details)) == NULL)
        return false;
    if (event->set == NULL)
        return true;
    struct event *set = arena_take(&public->arena, sizeof *set);
    if (set == NULL)
        return false;
    *set = *event->set;
    cover_members(public, set);
    event->set = set;
    return true;
}

bool public_bout_read(struct public_bout *public, size_t count)
{
    struct bout *bout = &public->bout;
    while (bout->count < count) {
        struct event *events =
            arena_grow(&public->arena, bout->events, bout->count, &bout->capacity, sizeof *events);
        if (events == NULL)
            return false;
        bout->events = events;
        events[bout->count] = public->source->events[bout->count];
        if (!cover_event(public, &events[bout->count]))
            return false;
        if (events[bout->count].details != NULL)
            bout->details = events[bout->count].details;
        bout->count++;
    }
    return true;
}

/* ---- names in what somebody wrote ---- */

static bool give_name(const char *name, const char *family, const char *given, const char *side,
                      secret_name_taker *each, void *context)
{
    char initials[INITIALS_SIZE];
    const struct secret_name secret = {
        .words = {name, family, given},
        .shown = name != NULL && initials_of(name, initials) ? initials : side,
    };
    return each(context, &secret);
}

bool day_secret_names(const struct day *day, secret_name_taker *each, void *context)
{
    for (size_t i = 0; i < day->count; i++) {
        const struct athlete *athlete = day->athletes[i];
        if (athlete_is_minor(athlete) && !athlete->consent &&
            !give_name(athlete->name, athlete->family, athlete->given, "…", each, context))
            return false;
    }
    return true;
}

bool bout_secret_names(const struct day *day, const struct bout *bout, size_t count,
                       secret_name_taker *each, void *context)
{
    bool group = privacy_of(day, bout, count).group_of_minors;
    for (size_t i = 0; i < count; i++) {
        if (bout->events[i].type != EVENT_BOUT)
            continue;
        const struct person *sides = bout->events[i].details->sides;
        for (unsigned side = 0; side < 2; side++)
            if (name_is_withheld(day, &sides[side], group) &&
                !give_name(sides[side].name, sides[side].family, sides[side].given,
                           side_words[side], each, context))
                return false;
    }
    return true;
}
