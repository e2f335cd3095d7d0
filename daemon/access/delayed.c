/* One event is read at a time, in the order of the log. Corrections that are there before it falls
 * due are looked at ahead: whether they stand is found by walking back over them, as standing.c
 * does, but by corrections of slips alone; what the officials have changed is not known yet. */
#include "access/delayed.h"
#include <string.h>

/* ---- when ---- */

static int64_t later(int64_t one, int64_t other)
{
    return one > other ? one : other;
}

int64_t delays_shown(const struct delays *delays, int64_t real_ms)
{
    int64_t delay_ms = 0, held_ms = INT64_MIN;
    for (size_t i = 0; i < delays->count && delays->changes[i].since_ms <= real_ms; i++) {
        int64_t since_ms = delays->changes[i].since_ms;
        held_ms = later(held_ms, since_ms - delay_ms);
        delay_ms = delays->changes[i].delay_ms;
    }
    return later(held_ms, real_ms - delay_ms);
}

int64_t delays_due(const struct delays *delays, int64_t at_ms)
{
    int64_t delay_ms = 0, held_ms = INT64_MIN;
    for (size_t i = 0; i < delays->count; i++) {
        int64_t since_ms = delays->changes[i].since_ms;
        if (held_ms < at_ms && at_ms + delay_ms <= since_ms)
            return at_ms + delay_ms;
        held_ms = later(held_ms, since_ms - delay_ms);
        delay_ms = delays->changes[i].delay_ms;
        held_ms = later(held_ms, since_ms - delay_ms);
        if (held_ms >= at_ms)
            return since_ms;
    }
    return at_ms + delay_ms;
}

int64_t event_comes_at(const struct event *event)
{
    bool lost = event->type == EVENT_CLOCK && event->what == CLOCK_LOST;
    return lost ? event->moment_ms : event->at_ms;
}

int64_t event_due(const struct event *event, const struct delays *delays)
{
    return later(delays_due(delays, event_comes_at(event)), event->at_ms);
}

/* ---- what ---- */

enum fate {
    FATE_SHOWN,
    FATE_SLIP,    /* corrected before its turn: never seen */
    FATE_AMENDED, /* shown as its early amends have it */
    FATE_SPENT,   /* the correction that did one of these: says nothing */
    FATE_BESIDE,  /* another correction of what is never seen */
};

struct delayed_place {
    enum fate fate;
    bool corrected; /* a correction of it as a slip has been looked at */
};

void delayed_bout_init(struct delayed_bout *delayed, const struct bout *source,
                       void *(*allocate)(size_t), void (*release)(void *))
{
    *delayed = (struct delayed_bout){.source = source, .bout = {.id = source->id}};
    arena_init(&delayed->arena, allocate, release);
}

void delayed_bout_close(struct delayed_bout *delayed)
{
    arena_close(&delayed->arena);
    delayed->bout = (struct bout){.id = delayed->source->id};
}

static bool is_correction(const struct event *event)
{
    return event->type == EVENT_VOID || event->type == EVENT_AMEND;
}

static bool is_of_slip(const struct event *event)
{
    return is_correction(event) && (event->why == 0 || event->why == WHY_KEYING);
}

/* ---- looking ahead ---- */

static bool make_room(struct delayed_bout *delayed, size_t count)
{
    if (count <= delayed->place_capacity)
        return true;
    size_t capacity = count < 32 ? 64 : count * 2;
    struct delayed_place *places = arena_take(&delayed->arena, capacity * sizeof *places);
    bool *stands = arena_take(&delayed->arena, capacity * sizeof *stands);
    if (places == NULL || stands == NULL)
        return false;
    if (delayed->place_capacity > 0)
        memcpy(places, delayed->places, delayed->place_capacity * sizeof *places);
    delayed->places = places;
    delayed->stands = stands;
    delayed->place_capacity = capacity;
    return true;
}

static void look_at(struct delayed_bout *delayed, size_t place)
{
    const struct event *event = &delayed->source->events[place];
    if (is_of_slip(event))
        delayed->places[event->ref].corrected = true;
    delayed->looked = place + 1;
}

/* All that is there before `due_ms`, and the event at hand itself. */
static bool look_ahead(struct delayed_bout *delayed, int64_t due_ms, uint64_t known_seq)
{
    const struct event *events = delayed->source->events;
    size_t place = delayed->bout.count;
    size_t end = delayed->looked > place ? delayed->looked : place + 1;
    while (end < delayed->source->count && events[end].at_ms < due_ms &&
           events[end].seq <= known_seq)
        end++;
    if (!make_room(delayed, end))
        return false;
    while (delayed->looked < end)
        look_at(delayed, delayed->looked);
    return true;
}

/* Fills in `stands` from `place` on, as far as was looked. */
static void find_standing(struct delayed_bout *delayed, size_t place)
{
    const struct event *events = delayed->source->events;
    bool *stands = delayed->stands;
    for (size_t i = place; i < delayed->looked; i++)
        stands[i] = true;
    for (size_t i = delayed->looked; i-- > place;)
        if (stands[i] && events[i].type == EVENT_VOID && is_of_slip(&events[i]) &&
            (size_t)events[i].ref >= place)
            stands[events[i].ref] = false;
}

/* ---- a slip ---- */

static void hide(struct delayed_bout *delayed, size_t place, enum fate fate, struct event *event)
{
    const struct event *source = &delayed->source->events[place];
    delayed->places[place].fate = fate;
    delayed->has_hidden = true;
    *event = (struct event){
        .type = EVENT_HIDDEN,
        .id = source->id,
        .seq = source->seq,
        .at_ms = source->at_ms,
        .moment_ms = source->moment_ms,
        .ref = EVENT_NONE,
        .attack = EVENT_NONE,
        .after = EVENT_NONE,
        .of = EVENT_NONE,
        .before = EVENT_NONE,
    };
}

static void spend_voids(struct delayed_bout *delayed, size_t place)
{
    const struct event *events = delayed->source->events;
    for (size_t i = place + 1; i < delayed->looked; i++)
        if (delayed->stands[i] && events[i].type == EVENT_VOID && is_of_slip(&events[i]) &&
            (size_t)events[i].ref == place)
            delayed->places[i].fate = FATE_SPENT;
}

/* ---- shown as amended ---- */

static bool names_later(const struct event *set, size_t place)
{
    const int32_t last = (int32_t)place;
    return (event_gives(set, MEMBER_ATTACK) && set->attack > last) ||
           (event_gives(set, MEMBER_AFTER) && set->after > last) ||
           (event_gives(set, MEMBER_OF) && set->of > last) ||
           (event_gives(set, MEMBER_BEFORE) && set->before > last);
}

static bool is_unset(const struct value *unset, const char *name)
{
    for (size_t i = 0; unset != NULL && i < unset->count; i++)
        if (strcmp(unset->items[i].as.string, name) == 0)
            return true;
    return false;
}

/* The document as if it had been keyed so. NULL without memory. */
static const struct value *amended_document(struct arena *arena, const struct value *document,
                                            const struct value *amend)
{
    const struct value *set = value_member(amend, "set"), *unset = value_member(amend, "unset");
    size_t room = document->count + (set != NULL ? set->count : 0);
    struct value *amended = arena_take(arena, sizeof *amended);
    struct value *items = arena_take(arena, room * sizeof *items);
    if (amended == NULL || items == NULL)
        return NULL;
    *amended = *document;
    amended->items = items;
    amended->count = 0;
    for (size_t i = 0; i < document->count; i++) {
        const char *name = document->items[i].name;
        if (!is_unset(unset, name) && (set == NULL || value_member(set, name) == NULL))
            items[amended->count++] = document->items[i];
    }
    for (size_t i = 0; set != NULL && i < set->count; i++)
        items[amended->count++] = set->items[i];
    return amended;
}

static bool amend(struct delayed_bout *delayed, const struct event *amendment, struct event *event)
{
    event_amend(event, amendment->set, amendment->unset);
    event->document = amended_document(&delayed->arena, event->document, amendment->document);
    return event->document != NULL;
}

/* In their order, up to the first that can't come before its turn: so the last one still wins. */
static bool amend_early(struct delayed_bout *delayed, size_t place, struct event *event)
{
    const struct event *events = delayed->source->events;
    for (size_t i = place + 1; i < delayed->looked; i++) {
        if (!delayed->stands[i] || events[i].type != EVENT_AMEND || (size_t)events[i].ref != place)
            continue;
        if (!is_of_slip(&events[i]) || names_later(events[i].set, place))
            return true;
        if (!amend(delayed, &events[i], event))
            return false;
        delayed->places[place].fate = FATE_AMENDED;
        delayed->places[i].fate = FATE_SPENT;
        delayed->has_hidden = true;
    }
    return true;
}

/* ---- taken back ---- */

static bool is_out_of_sight(const struct delayed_place *place)
{
    return place->fate == FATE_SPENT || place->fate == FATE_BESIDE;
}

/* Early amends are told in their order: one that comes back among them takes them all back. */
static size_t root_of(const struct delayed_bout *delayed, size_t target)
{
    const struct event *event = &delayed->source->events[target];
    bool amends = event->type == EVENT_AMEND && delayed->places[event->ref].fate == FATE_AMENDED;
    return amends ? (size_t)event->ref : target;
}

/* What was hidden is shown, with every correction of it: they do now what they say. */
static void take_back(struct delayed_bout *delayed, size_t target)
{
    const struct event *events = delayed->source->events;
    bool *taken = delayed->stands; /* only scratch, here */
    size_t root = root_of(delayed, target);
    for (size_t i = root; i < delayed->looked; i++) {
        taken[i] = i == root || i == target ||
                   (is_out_of_sight(&delayed->places[i]) && (size_t)events[i].ref >= root &&
                    taken[events[i].ref]);
        if (!taken[i])
            continue;
        delayed->places[i].fate = FATE_SHOWN;
        if (i < delayed->bout.count)
            delayed->bout.events[i] = events[i];
    }
    delayed->anew = true;
}

/* ---- one event ---- */

/* What it is to the audience, whose turn it is now. */
static bool decide(struct delayed_bout *delayed, size_t place, struct event *event)
{
    struct delayed_place *places = delayed->places;
    if (places[place].fate == FATE_SPENT) {
        hide(delayed, place, FATE_SPENT, event);
        return true;
    }
    if (places[place].corrected)
        find_standing(delayed, place);
    if (places[place].corrected && !delayed->stands[place]) {
        spend_voids(delayed, place);
        hide(delayed, place, FATE_SLIP, event);
        return true;
    }
    if (is_correction(event)) {
        struct delayed_place *target = &places[event->ref];
        if (target->fate == FATE_SLIP || target->fate == FATE_BESIDE)
            hide(delayed, place, FATE_BESIDE, event);
        else if (target->fate == FATE_SPENT)
            take_back(delayed, (size_t)delayed->source->events[event->ref].ref);
        return true;
    }
    return !places[place].corrected || amend_early(delayed, place, event);
}

bool delayed_bout_read(struct delayed_bout *delayed, int64_t due_ms, uint64_t known_seq)
{
    struct bout *bout = &delayed->bout;
    size_t place = bout->count;
    delayed->anew = false;
    struct event *events =
        arena_grow(&delayed->arena, bout->events, place, &bout->capacity, sizeof *events);
    if (events == NULL || !look_ahead(delayed, due_ms, known_seq))
        return false;
    bout->events = events;
    struct event event = delayed->source->events[place];
    if (!decide(delayed, place, &event))
        return false;
    events[place] = event;
    bout->count++;
    if (event.details != NULL)
        bout->details = event.details;
    return true;
}
