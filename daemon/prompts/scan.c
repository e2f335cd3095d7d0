#include "prompts/scan.h"
#include <string.h>

static int32_t bout_time(const struct scan *scan, int period, int32_t t_ms)
{
    return (period - 1) * scan->details->period_ms + t_ms;
}

int32_t scan_bout_length(const struct scan *scan)
{
    return scan->details->periods * scan->details->period_ms;
}

/* ---- the runs of the clock ---- */

static struct run *run_open(struct scan *scan, const struct clock_reading *from, int64_t moment_ms,
                            bool started)
{
    if (scan->run_count == RUNS_MAX) {
        scan->complete = false;
        return NULL;
    }
    struct run *run = &scan->runs[scan->run_count++];
    *run = (struct run){
        .period = from->period,
        .from_bout_ms = bout_time(scan, from->period, from->t_ms),
        .from_ms = moment_ms,
        .end_place = EVENT_NONE,
        .started = started,
        .going = true,
    };
    return run;
}

static void run_close(struct scan *scan, struct run *run, const struct clock_reading *to,
                      int64_t moment_ms, int32_t place)
{
    run->going = false;
    run->to_bout_ms = bout_time(scan, to->period, to->t_ms);
    run->to_ms = to->used_up ? to->used_up_ms : moment_ms;
    run->end_place = to->used_up ? EVENT_NONE : place;
}

/* The clock's events again, by the clock's own rules: each may end a run and begin one. */
static void take_runs(struct scan *scan)
{
    const struct fold *fold = scan->fold;
    int32_t period_ms = scan->details->period_ms;
    struct clock clock = clock_new();
    struct run *run = NULL;
    for (size_t i = 0; i < fold->count && scan->complete; i++) {
        const struct read_event *read = &fold->events[i];
        if (!read->stands || read->event->type != EVENT_CLOCK)
            continue;
        int64_t moment_ms = fold->bout->events[i].moment_ms;
        struct clock_reading before = clock_at(&clock, period_ms, moment_ms);
        clock_apply(&clock, read->event, scan->details, moment_ms);
        struct clock_reading after = clock_at(&clock, period_ms, moment_ms);
        bool goes_on = before.running && after.running && before.period == after.period &&
                       before.t_ms == after.t_ms;
        if (run != NULL && !goes_on) {
            run_close(scan, run, &before, moment_ms, (int32_t)i);
            run = NULL;
        }
        if (run == NULL && after.running)
            run = run_open(scan, &after, moment_ms, read->event->what == CLOCK_START);
    }
    if (run == NULL)
        return;
    run_close(scan, run, &scan->state->clock, scan->state->now_ms, EVENT_NONE);
    run->going = scan->state->clock.running;
}

int64_t scan_moment_at(const struct scan *scan, int32_t bout_ms)
{
    for (size_t i = scan->run_count; i-- > 0;) {
        const struct run *run = &scan->runs[i];
        if (run->from_bout_ms <= bout_ms && bout_ms <= run->to_bout_ms)
            return run->from_ms + (bout_ms - run->from_bout_ms);
    }
    return scan->run_count > 0 ? scan->runs[0].from_ms : scan->state->now_ms;
}

int32_t scan_bout_time_at(const struct scan *scan, int64_t moment_ms)
{
    int32_t bout_ms = 0;
    for (size_t i = 0; i < scan->run_count && scan->runs[i].from_ms <= moment_ms; i++) {
        const struct run *run = &scan->runs[i];
        int64_t gone_ms = moment_ms - run->from_ms, whole_ms = run->to_bout_ms - run->from_bout_ms;
        bout_ms = run->from_bout_ms + (int32_t)(gone_ms < whole_ms ? gone_ms : whole_ms);
    }
    return bout_ms;
}

/* ---- attempts and points ---- */

/* Of an event with a bout time of its own, the moment is that time's, not that of its keying. */
static int64_t moment_of(const struct scan *scan, int32_t place, int32_t bout_ms)
{
    const struct read_event *read = &scan->fold->events[place];
    if (event_gives(read->event, MEMBER_PERIOD) && event_gives(read->event, MEMBER_T_MS))
        return scan_moment_at(scan, bout_ms);
    return scan->fold->bout->events[place].moment_ms;
}

/* Keeps the order of bout time: an attempt keyed late goes to where it belongs. */
static void add_try(struct scan *scan, struct try try)
{
    if (scan->try_count == TRIES_MAX) {
        scan->complete = false;
        return;
    }
    size_t i = scan->try_count++;
    for (; i > 0 && scan->tries[i - 1].bout_ms > try.bout_ms; i--)
        scan->tries[i] = scan->tries[i - 1];
    scan->tries[i] = try;
}

static void take_try(struct scan *scan, int32_t place)
{
    const struct read_event *read = &scan->fold->events[place];
    const struct event *event = read->event;
    bool attack = event->type == EVENT_ATTACK;
    bool score = event->type == EVENT_SCORE && event->technique != NULL &&
                 !(event_gives(event, MEMBER_ATTACK) && scan->fold->events[event->attack].stands);
    if (!attack && !score)
        return;
    struct try try = {
        .event = event,
        .place = place,
        .bout_ms = bout_time(scan, read->period, read->t_ms),
        .side = (enum side)event->side,
        .period = read->period,
        .first = attack ? event->techniques->names[0] : event->technique,
        .last = attack ? event->techniques->names[event->techniques->count - 1] : event->technique,
        .leg = (enum leg)event->leg,
        .class = attack ? (enum attack_class)read->attack_class : ATTACK_HAS_SCORED,
        .finish_place = EVENT_NONE,
        .settled = attack || read->confirmed,
    };
    try.moment_ms = moment_of(scan, place, try.bout_ms);
    add_try(scan, try);
}

/* A score that names an attack: what it took, and whether that is settled. */
static void take_finish(struct scan *scan, int32_t place)
{
    const struct read_event *read = &scan->fold->events[place];
    if (read->event->type != EVENT_SCORE || !event_gives(read->event, MEMBER_ATTACK))
        return;
    for (size_t i = 0; i < scan->try_count; i++) {
        struct try *try = &scan->tries[i];
        if (try->place != read->event->attack)
            continue;
        if (try->side != (enum side)read->event->side)
            try->against += read->event->points;
        try->finish_place = place;
        try->settled = try->settled && read->confirmed;
        return;
    }
}

static bool waits(const struct read_event *read)
{
    switch (read->event->type) {
    case EVENT_SCORE:
    case EVENT_CAUTION:
    case EVENT_PASSIVITY:
        return !read->confirmed;
    case EVENT_BOUT:
    case EVENT_CLOCK:
    case EVENT_ATTACK:
    case EVENT_POSITION:
    case EVENT_CHALLENGE:
    case EVENT_STOPPAGE:
    case EVENT_CONFIRM:
    case EVENT_VOID:
    case EVENT_AMEND:
    case EVENT_RESTART:
    case EVENT_CLOSE:
    case EVENT_NOTE:
    case EVENT_ENTRY:
    case EVENT_SLOT:
    case EVENT_SESSION:
    case EVENT_TYPE_COUNT:
        break;
    }
    return false;
}

static void take_events(struct scan *scan)
{
    const struct fold *fold = scan->fold;
    for (int32_t place = 0; place < (int32_t)fold->count; place++) {
        if (!fold->events[place].stands)
            continue;
        scan->settled = scan->settled && !waits(&fold->events[place]);
        take_try(scan, place);
    }
    for (int32_t place = 0; place < (int32_t)fold->count; place++)
        if (fold->events[place].stands)
            take_finish(scan, place);
}

static void take_entries(struct scan *scan)
{
    const struct fold *fold = scan->fold;
    for (int32_t place = fold->first_entry; place != EVENT_NONE; place = fold->events[place].next) {
        const struct read_event *read = &fold->events[place];
        if (scan->entry_count == ENTRIES_MAX) {
            scan->complete = false;
            return;
        }
        struct entry *entry = &scan->entries[scan->entry_count++];
        *entry = (struct entry){
            .event = read->event,
            .place = place,
            .bout_ms = bout_time(scan, read->period, read->t_ms),
            .side = (enum side)read->giver,
        };
        entry->moment_ms = moment_of(scan, place, entry->bout_ms);
    }
}

static bool is_greco(const struct details *details)
{
    const struct edition *edition = details->edition;
    if (details->style != NULL)
        return strcmp(details->style, "greco_roman") == 0;
    return edition->style_count == 1 && edition_has_style(edition, "greco_roman");
}

static bool is_reviewed(const struct state *state)
{
    int32_t place = state->fold->stoppage;
    if (state->under_review)
        return true;
    if (place == EVENT_NONE)
        return false;
    unsigned kind = state->fold->events[place].event->kind;
    return kind == STOPPAGE_REVIEW || kind == STOPPAGE_CONFERENCE;
}

void scan_take(struct scan *scan, const struct language *language, const struct state *state)
{
    const struct details *details = state->fold->details;
    scan->language = language;
    scan->state = state;
    scan->past = NULL;
    scan->fold = state->fold;
    scan->details = details;
    scan->edition = details->edition;
    for (unsigned i = 0; i < 2; i++) {
        const struct person *person = &details->sides[i];
        scan->names.sides[i] = person->family != NULL ? person->family : person->name;
    }
    scan->try_count = scan->entry_count = scan->run_count = 0;
    scan->now_bout_ms = bout_time(scan, state->clock.period, state->clock.t_ms);
    scan->complete = true;
    scan->greco = is_greco(details);
    scan->settled = true;
    scan->reviewed = is_reviewed(state);
    scan->next_ms = INT64_MAX;
    take_runs(scan);
    take_events(scan);
    take_entries(scan);
}

/* ---- time ---- */

static void changes_at(struct scan *scan, int64_t moment_ms)
{
    if (moment_ms < scan->next_ms)
        scan->next_ms = moment_ms;
}

bool scan_bout_time_reached(struct scan *scan, int32_t bout_ms)
{
    const struct state *state = scan->state;
    if (scan->now_bout_ms >= bout_ms)
        return true;
    if (state->clock.running && bout_ms <= state->clock.period * scan->details->period_ms)
        changes_at(scan, state->now_ms + (bout_ms - scan->now_bout_ms));
    return false;
}

bool scan_moment_reached(struct scan *scan, int64_t moment_ms)
{
    if (scan->state->now_ms >= moment_ms)
        return true;
    changes_at(scan, moment_ms);
    return false;
}

bool scan_left_at_most(struct scan *scan, int32_t left_ms)
{
    return scan_bout_time_reached(scan, scan_bout_length(scan) - left_ms);
}

static bool confirms(const struct event *event, int32_t place)
{
    return event->type == EVENT_CONFIRM && (!event_gives(event, MEMBER_REF) || event->ref == place);
}

int64_t scan_known_ms(const struct scan *scan, int32_t place)
{
    const struct fold *fold = scan->fold;
    bool waiting = event_gives(fold->events[place].event, MEMBER_UNCONFIRMED);
    int64_t known_ms = fold->bout->events[place].moment_ms;
    for (size_t i = (size_t)place + 1; i < fold->count; i++) {
        const struct event *event = fold->events[i].event;
        if (!fold->events[i].stands)
            continue;
        bool confirmed = waiting && confirms(event, place);
        bool amended = event->type == EVENT_AMEND && event->ref == place;
        waiting = waiting && !confirmed;
        if ((confirmed || amended) && fold->bout->events[i].moment_ms > known_ms)
            known_ms = fold->bout->events[i].moment_ms;
    }
    return known_ms;
}

/* ---- questions about attempts ---- */

bool try_counts(const struct try *try)
{
    return try->class != ATTACK_UNCOUNTED;
}

bool try_has_setup(const struct try *try, const char *setup)
{
    const struct name_list *list = try->event->setup;
    for (unsigned i = 0; list != NULL && i < list->count; i++)
        if (strcmp(list->names[i], setup) == 0)
            return true;
    return false;
}

const struct try *scan_last_try(const struct scan *scan, enum side side, const struct try *before)
{
    size_t i = before != NULL ? (size_t)(before - scan->tries) : scan->try_count;
    while (i-- > 0)
        if (scan->tries[i].side == side)
            return &scan->tries[i];
    return NULL;
}

const struct try *scan_answer(const struct scan *scan, enum side side, const struct try *to,
                              int32_t within_ms)
{
    for (const struct try *try = to + 1; try < scan->tries + scan->try_count; try++) {
        if (try->period != to->period || try->bout_ms - to->bout_ms > within_ms)
            return NULL;
        if (try->side == side)
            return try;
    }
    return NULL;
}

int scan_tries_between(const struct scan *scan, enum side side, int32_t from_bout_ms,
                       int32_t to_bout_ms)
{
    int count = 0;
    for (size_t i = 0; i < scan->try_count; i++) {
        const struct try *try = &scan->tries[i];
        count += try->side == side && try_counts(try) && try->bout_ms >= from_bout_ms &&
                 try->bout_ms < to_bout_ms;
    }
    return count;
}

/* ---- questions about points ---- */

bool entry_is(const struct entry *entry, enum side side, const char *action)
{
    return entry->side == side && entry->event->type == EVENT_SCORE &&
           strcmp(entry->event->action, action) == 0;
}

int scan_actions(const struct scan *scan, enum side side, const char *action)
{
    int count = 0;
    for (size_t i = 0; i < scan->entry_count; i++)
        count += entry_is(&scan->entries[i], side, action);
    return count;
}

/* After these the one who scored is on top: all actions but a step-out and a stop for an injury. */
static bool brings_on_top(const struct entry *entry, enum side side)
{
    return entry->side == side && entry->event->type == EVENT_SCORE &&
           action_is_technique(entry->event->action) &&
           strcmp(entry->event->action, "step_out") != 0;
}

static bool run_ends_after(const struct run *run, int64_t moment_ms, int32_t place)
{
    return !run->going &&
           (run->to_ms > moment_ms || (run->to_ms == moment_ms && run->end_place > place));
}

bool scan_stopped_since(const struct scan *scan, int64_t moment_ms, int32_t place)
{
    for (size_t i = 0; i < scan->run_count; i++)
        if (run_ends_after(&scan->runs[i], moment_ms, place))
            return true;
    return false;
}

static bool stopped_between(const struct scan *scan, const struct entry *from,
                            const struct entry *to)
{
    for (size_t i = 0; i < scan->run_count; i++) {
        const struct run *run = &scan->runs[i];
        if (run_ends_after(run, from->moment_ms, from->place) &&
            !run_ends_after(run, to->moment_ms, to->place))
            return true;
    }
    return false;
}

struct spell scan_spell(const struct scan *scan, enum side side)
{
    struct spell spell = {.first = scan->entry_count};
    while (spell.first > 0) {
        const struct entry *entry = &scan->entries[spell.first - 1];
        if (!brings_on_top(entry, side))
            break;
        if (spell.count > 0 && (entry[1].bout_ms - entry->bout_ms > SPELL_MS ||
                                stopped_between(scan, entry, entry + 1)))
            break;
        spell.first--;
        spell.count++;
        spell.points += entry->event->points;
        spell.exposures += entry_is(entry, side, "exposure");
    }
    return spell;
}

/* On top since that place and time, unless something has ended it. */
static bool still_on_top(struct scan *scan, int32_t place, int32_t bout_ms, int64_t moment_ms)
{
    return !scan_bout_time_reached(scan, bout_ms + SPELL_MS) &&
           !scan_stopped_since(scan, moment_ms, place);
}

bool scan_on_top(struct scan *scan, enum side side)
{
    const struct fold *fold = scan->fold;
    const struct entry *last = scan->entry_count > 0 ? &scan->entries[scan->entry_count - 1] : NULL;
    int32_t position = fold->position;
    if (position != EVENT_NONE && (last == NULL || position > last->place)) {
        const struct read_event *read = &fold->events[position];
        int32_t bout_ms = bout_time(scan, read->period, read->t_ms);
        return read->event->position == POSITION_PAR_TERRE && (enum side)read->event->top == side &&
               still_on_top(scan, position, bout_ms, fold->bout->events[position].moment_ms);
    }
    return last != NULL && brings_on_top(last, side) &&
           still_on_top(scan, last->place, last->bout_ms, last->moment_ms);
}

/* ---- what the edition usually gives ---- */

static const struct value *usual_points(const struct scan *scan, const char *what)
{
    return value_member(value_member(scan->edition->document, "usual_points"), what);
}

int scan_caution_points(const struct scan *scan, const char *reason, int none)
{
    const struct value *cautions = usual_points(scan, "caution");
    const struct value *points = cautions != NULL ? value_member(cautions, reason) : NULL;
    return points != NULL && points->kind == VALUE_INTEGER ? (int)points->as.integer : none;
}

int scan_passivity_points(const struct scan *scan, int none)
{
    const struct value *points = usual_points(scan, "passivity");
    if (points == NULL || points->kind != VALUE_ARRAY || points->count == 0 ||
        points->items[0].kind != VALUE_INTEGER)
        return none;
    return (int)points->items[0].as.integer;
}
