/* An event is read twice: first into scratch memory, so that what is refused costs nothing that
 * lasts; then, when every check has passed, from a copy of its document that lives as long as the
 * log. The second reading can only fail for want of memory. */
#include "rules/log.h"
#include <assert.h>
#include <string.h>
#include "rules/standing.h"

void log_init(struct log *log, const struct editions *editions, void *(*allocate)(size_t),
              void (*release)(void *))
{
    *log = (struct log){.editions = editions};
    arena_init(&log->arena, allocate, release);
    arena_init(&log->scratch, allocate, release);
}

void log_close(struct log *log)
{
    arena_close(&log->arena);
    arena_close(&log->scratch);
}

struct bout *log_bout(const struct log *log, const char *id)
{
    return table_find(&log->bout_table, id);
}

uint64_t log_seq_of(const struct log *log, const char *id)
{
    const struct known_event *known = table_find(&log->known, id);
    return known != NULL ? known->seq : 0;
}

const struct event *log_event(const struct log *log, uint64_t seq)
{
    const struct known_event *known = table_find(&log->known, log->admissions[seq - 1].id);
    return known->bout != NULL ? &known->bout->events[known->place] : log->day[known->day_place];
}

/* Section 1: all members but `at`, `seq` and `by` count. */
static bool same_content(const struct value *one, const struct value *other)
{
    static const char *const apart[] = {"at", "seq", "by"};
    size_t left[2] = {one->count, other->count};
    for (size_t i = 0; i < sizeof apart / sizeof *apart; i++) {
        left[0] -= value_member(one, apart[i]) != NULL ? 1 : 0;
        left[1] -= value_member(other, apart[i]) != NULL ? 1 : 0;
    }
    if (left[0] != left[1])
        return false;
    for (size_t i = 0; i < one->count; i++) {
        const struct value *item = &one->items[i];
        bool counts = true;
        for (size_t j = 0; j < sizeof apart / sizeof *apart; j++)
            counts = counts && strcmp(item->name, apart[j]) != 0;
        const struct value *match = value_member(other, item->name);
        if (counts && (match == NULL || !value_equal(item, match)))
            return false;
    }
    return true;
}

/* `keyed_at` where given, else `at`; never later than `at`, and never earlier than the moment of
 * the last clock event of its bout before it. */
static int64_t moment_of(const struct event *event, const struct bout *bout)
{
    int64_t moment = event->at_ms;
    if (event_gives(event, MEMBER_KEYED_AT) && event->keyed_at_ms < moment)
        moment = event->keyed_at_ms;
    if (bout != NULL && bout->count > 0 && moment < bout->clock_moment_ms)
        moment = bout->clock_moment_ms;
    return moment;
}

/* An amend: its target as amended by the amends that stand now, and by this one, must be valid. */
static bool check_amend(struct event *amend, const struct event_scope *scope,
                        struct complaint *complaint)
{
    const struct bout *bout = scope->bout;
    assert(bout != NULL); /* its ref has been found there */
    struct event target = bout->events[amend->ref];
    if (!event_read_amendment(amend, &target, scope, complaint))
        return false;
    bool *stands = arena_take(scope->arena, bout->count * sizeof *stands);
    if (stands == NULL) {
        complaint->why = ACCEPTED;
        return false;
    }
    standing_of(bout->events, bout->count, stands);
    for (size_t i = 0; i < bout->count; i++)
        if (stands[i] && bout->events[i].type == EVENT_AMEND && bout->events[i].ref == amend->ref)
            event_amend(&target, bout->events[i].set, bout->events[i].unset);
    event_amend(&target, amend->set, amend->unset);
    struct complaint found = {.why = ACCEPTED};
    return event_check(&target, bout->details, &found) ||
           complain(complaint, found.why, event_gives(amend, MEMBER_SET) ? "/set" : "/unset",
                    "as amended, %.200s", found.detail);
}

/* Everything that can be wrong with a well-formed event in its bout. */
static bool check_in_bout(struct event *event, const struct event_scope *scope,
                          struct complaint *complaint)
{
    const struct bout *bout = scope->bout;
    assert(bout != NULL || event->details != NULL); /* a bout's first event is a `bout` */
    const struct details *details = event->details != NULL ? event->details : bout->details;
    if (bout != NULL && bout->count >= EVENTS_IN_BOUT_MAX)
        return complain(complaint, REFUSED_TOO_MANY, "", "the bout has its %d events",
                        EVENTS_IN_BOUT_MAX);
    if (event->type == EVENT_VOID && bout != NULL && bout->events[event->ref].type == EVENT_BOUT)
        return complain(complaint, REFUSED_REF_TYPE, "/ref",
                        "ref: names a bout event, which can't be voided: send another");
    if (event->type == EVENT_AMEND && !check_amend(event, scope, complaint))
        return false;
    return event_check(event, details, complaint);
}

/* A clock is lost by the event itself, or by an amend that makes it so. */
static bool says_lost(const struct event *event)
{
    const struct event *said = event->type == EVENT_AMEND ? event->set : event;
    return said->type == EVENT_CLOCK && said->what == CLOCK_LOST;
}

static bool read_and_check(struct event *event, const struct value *document,
                           const struct event_scope *scope, enum intake_kind intake,
                           struct complaint *complaint)
{
    if (!event_read(event, document, scope, complaint))
        return false;
    if (event_is_of_day(event->type))
        return true;
    if (!check_in_bout(event, scope, complaint))
        return false;
    return intake != INTAKE_LIVE || !says_lost(event) ||
           complain(complaint, REFUSED_LOST, event->type == EVENT_CLOCK ? "/do" : "/set/do",
                    "do: lost is the daemon's own word, not a key");
}

/* The one copy of a technique's name, so that names can be compared by their address. */
static const char *name_kept(struct log *log, const char *name)
{
    if (name == NULL)
        return NULL;
    const char *kept = table_find(&log->names, name);
    if (kept != NULL)
        return kept;
    char *copy = arena_copy(&log->arena, name);
    return copy != NULL && table_add(&log->names, &log->arena, copy, copy) ? copy : NULL;
}

static bool keep_names(struct log *log, struct event *event)
{
    struct name_list *list = NULL;
    if (event->technique != NULL && (event->technique = name_kept(log, event->technique)) == NULL)
        return false;
    if (event->techniques == NULL)
        return true;
    list = arena_take(&log->arena, sizeof *list);
    if (list == NULL)
        return false;
    for (unsigned i = 0; i < event->techniques->count; i++)
        if ((list->names[i] = name_kept(log, event->techniques->names[i])) == NULL)
            return false;
    list->count = event->techniques->count;
    event->techniques = list;
    return true;
}

/* Reads the event again into memory that lasts. NULL without memory. */
static bool event_keep(struct log *log, struct event *event, const struct value *document,
                       const struct bout *bout)
{
    struct complaint none = {.why = ACCEPTED};
    const struct value *kept = value_copy(&log->arena, document);
    struct event_scope scope = {log->editions, &log->known, bout, &log->arena, false};
    if (kept == NULL || !event_read(event, kept, &scope, &none))
        return false;
    if (event->type == EVENT_AMEND) {
        assert(bout != NULL);
        if (!event_read_amendment(event, &bout->events[event->ref], &scope, &none))
            return false;
        struct event *set = arena_take(&log->arena, sizeof *set);
        if (set == NULL)
            return false;
        *set = *event->set;
        event->set = set;
        return keep_names(log, set);
    }
    return keep_names(log, event);
}

static struct bout *bout_new(struct log *log, const char *id)
{
    struct bout **bouts =
        arena_grow(&log->arena, log->bouts, log->bout_count, &log->bout_capacity, sizeof *bouts);
    if (bouts == NULL)
        return NULL;
    log->bouts = bouts;
    struct bout *bout = arena_take(&log->arena, sizeof *bout);
    const char *kept = arena_copy(&log->arena, id);
    if (bout == NULL || kept == NULL)
        return NULL;
    bout->id = kept;
    bout->log = log;
    return bout;
}

/* Nothing here can fail: the room was made before. */
static void bout_append(struct bout *bout, struct event *event)
{
    event->moment_ms = moment_of(event, bout);
    if (bout->count == 0 || event->type == EVENT_CLOCK)
        bout->clock_moment_ms = event->type == EVENT_CLOCK ? event->moment_ms : INT64_MIN;
    if (event->type == EVENT_BOUT)
        bout->details = event->details;
    bout->events[bout->count++] = *event;
}

/* All that admitting needs in memory, taken before anything changes. */
struct room {
    struct known_event *known;
    struct bout *bout; /* new or found; NULL for a type of the day */
    struct event *day_event;
    bool fresh;
};

static bool room_take(struct log *log, struct event *event, const char *bout_id, struct room *room)
{
    struct admission *admissions = arena_grow(&log->arena, log->admissions, log->count,
                                              &log->admission_capacity, sizeof *admissions);
    if (admissions == NULL)
        return false;
    log->admissions = admissions;
    room->known = arena_take(&log->arena, sizeof *room->known);
    if (room->known == NULL)
        return false;
    if (event_is_of_day(event->type)) {
        const struct event **day =
            arena_grow(&log->arena, log->day, log->day_count, &log->day_capacity, sizeof *day);
        if (day == NULL)
            return false;
        log->day = day;
        room->day_event = arena_take(&log->arena, sizeof *room->day_event);
        return room->day_event != NULL;
    }
    room->fresh = room->bout == NULL;
    if (room->fresh && (room->bout = bout_new(log, bout_id)) == NULL)
        return false;
    struct event *events = arena_grow(&log->arena, room->bout->events, room->bout->count,
                                      &room->bout->capacity, sizeof *events);
    if (events == NULL)
        return false;
    room->bout->events = events;
    return !room->fresh || table_add(&log->bout_table, &log->arena, room->bout->id, room->bout);
}

static struct admittance admit(struct log *log, const struct value *document, struct bout *bout,
                               const char *bout_id)
{
    struct admittance no_memory = {.admitted = NO_MEMORY};
    struct event event;
    struct room room = {.bout = bout};
    if (!event_keep(log, &event, document, bout) || !room_take(log, &event, bout_id, &room))
        return no_memory;
    event.seq = log->count + 1;
    *room.known = (struct known_event){
        .bout = room.bout,
        .place = room.bout != NULL ? (int32_t)room.bout->count : EVENT_NONE,
        .day_place = log->day_count,
        .type = event.type,
        .seq = event.seq,
        .document = event.document,
    };
    if (!table_add(&log->known, &log->arena, event.id, room.known)) {
        if (room.fresh && room.bout != NULL)
            table_remove(&log->bout_table, room.bout->id);
        return no_memory;
    }
    struct admission *admission = &log->admissions[log->count++];
    *admission = (struct admission){.bout = room.bout, .id = event.id};
    if (room.bout == NULL) {
        event.moment_ms = moment_of(&event, NULL);
        *room.day_event = event;
        log->day[log->day_count++] = room.day_event;
    } else {
        admission->details = room.bout->details;
        admission->clock_moment_ms = room.bout->clock_moment_ms;
        if (room.fresh)
            log->bouts[log->bout_count++] = room.bout;
        bout_append(room.bout, &event);
    }
    return (struct admittance){ADMITTED, event.seq, room.bout};
}

struct admittance log_admit(struct log *log, const struct value *document, enum intake_kind intake,
                            struct complaint *complaint)
{
    const struct admittance refused = {.admitted = NOT_ADMITTED};
    enum event_type type = EVENT_BOUT;
    complaint->why = ACCEPTED;
    arena_reset(&log->scratch);
    if (!event_type_of(document, &type, complaint))
        return refused;
    const struct known_event *known =
        table_find(&log->known, value_member(document, "id")->as.string);
    if (known != NULL && same_content(known->document, document))
        return (struct admittance){.admitted = REPEATED, .seq = known->seq};
    if (known != NULL) {
        complain(complaint, REFUSED_ID_REUSED, "/id",
                 "id: seq %llu has this id already, with other content",
                 (unsigned long long)known->seq);
        return refused;
    }
    const struct value *bout_id = value_member(document, "bout");
    struct bout *bout = bout_id != NULL ? log_bout(log, bout_id->as.string) : NULL;
    if (bout_id != NULL && bout == NULL && type != EVENT_BOUT) {
        complain(complaint, REFUSED_BOUT, "/bout", "bout: no bout %.64s has been called",
                 bout_id->as.string);
        return refused;
    }
    struct event event;
    struct event_scope scope = {log->editions, &log->known, bout, &log->scratch,
                                intake == INTAKE_FILE};
    if (!read_and_check(&event, document, &scope, intake, complaint))
        return complaint->why == ACCEPTED ? (struct admittance){.admitted = NO_MEMORY} : refused;
    return admit(log, document, bout, bout_id != NULL ? bout_id->as.string : NULL);
}

void log_rewind(struct log *log, size_t count)
{
    while (log->count > count) {
        const struct admission *last = &log->admissions[--log->count];
        table_remove(&log->known, last->id);
        if (last->bout == NULL) {
            log->day_count--;
            continue;
        }
        struct bout *bout = last->bout;
        bout->count--;
        bout->details = last->details;
        bout->clock_moment_ms = last->clock_moment_ms;
        if (bout->count == 0) {
            table_remove(&log->bout_table, bout->id);
            log->bout_count--;
        }
    }
}
