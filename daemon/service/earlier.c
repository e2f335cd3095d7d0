#include "service/earlier.h"
#include <stdio.h>
#include <string.h>
#include "wire/state_json.h"

struct found {
    const char *text, *bout, *against;
    int64_t at_ms; /* when that bout was called */
};

struct finding {
    struct found notes[EARLIER_MOST]; /* the latest bout first */
    size_t count;
};

static bool is_full(const struct finding *finding)
{
    return finding->count == EARLIER_MOST;
}

static void add(struct finding *finding, const struct found *found)
{
    if (!is_full(finding))
        finding->notes[finding->count++] = *found;
}

static int64_t called_at(const struct hall_bout *bout)
{
    return bout->bout->events[0].at_ms;
}

/* On which side they were then; SIDE_NONE: they weren't. */
static enum side side_of(const struct hall_bout *bout, const char *athlete)
{
    for (enum side side = SIDE_RED; side <= SIDE_BLUE; side++) {
        const char *other = bout->fold.details->sides[side_index(side)].athlete;
        if (other != NULL && strcmp(other, athlete) == 0)
            return side;
    }
    return SIDE_NONE;
}

static void take_bout(struct finding *finding, const struct hall_bout *bout, enum side side)
{
    const struct fold *fold = &bout->fold;
    const char *against = fold->details->sides[side_index(side_other(side))].name;
    for (size_t i = fold->count; i-- > 0;) {
        const struct event *event = fold->events[i].event;
        if (fold->events[i].stands && event->type == EVENT_NOTE && event->to == NOTE_TO_BOOTH &&
            event->side == (int)side)
            add(finding, &(struct found){event->text, bout->bout->id, against, called_at(bout)});
    }
}

static bool is_of_today(const struct hall *hall, const struct past_note *note)
{
    const struct hall_bout *bout = hall_bout(hall, note->bout);
    return bout != NULL && bout->fold.count > 0 && called_at(bout) == note->called_at_ms;
}

static void find(struct finding *finding, const struct hall *hall, const struct hall_bout *now,
                 const char *athlete, const struct past_side *past)
{
    for (const struct hall_bout *bout = hall->bouts; bout != NULL; bout = bout->next) {
        bool earlier = bout != now && bout->fold.count > 0 &&
                       bout->bout->events[0].seq < now->bout->events[0].seq;
        enum side side = earlier ? side_of(bout, athlete) : SIDE_NONE;
        if (side != SIDE_NONE)
            take_bout(finding, bout, side);
    }
    for (size_t i = 0; past != NULL && i < past->note_count; i++) {
        const struct past_note *note = &past->notes[i];
        if (!is_of_today(hall, note)) /* which the hall knows as it is now */
            add(finding,
                &(struct found){note->text, note->bout, note->against, note->called_at_ms});
    }
}

static json_t *found_json(const struct found *found, enum side side)
{
    json_t *object = json_object();
    bool complete = object != NULL && json_add_text(object, "side", side_name(side)) &&
                    json_add_text(object, "text", found->text) &&
                    json_add_text(object, "bout", found->bout) &&
                    json_add_text(object, "against", found->against) &&
                    json_add_time(object, "at", found->at_ms);
    return json_whole(object, complete);
}

json_t *earlier_json(const struct hall *hall, const struct hall_bout *bout, const struct past *past)
{
    json_t *list = json_object();
    bool complete = list != NULL;
    size_t number = 0;
    for (enum side side = SIDE_RED; side <= SIDE_BLUE && complete; side++) {
        const char *athlete = bout->fold.details->sides[side_index(side)].athlete;
        struct finding finding = {.count = 0};
        if (athlete != NULL)
            find(&finding, hall, bout, athlete,
                 past != NULL ? &past->sides[side_index(side)] : NULL);
        for (size_t i = 0; i < finding.count && complete; i++) {
            char name[24];
            snprintf(name, sizeof name, "%zu", ++number);
            complete = json_add(list, name, found_json(&finding.notes[i], side));
        }
    }
    return json_whole(list, complete);
}
