/* Reading an event goes two steps: the clock comes to the event's moment (which may end an activity
 * time), then the event is applied. Corrections are resolved first, over the whole bout, so that
 * every event is applied once, as it stands and as amended, in the order of the log. */
#include "stats/fold.h"
#include <string.h>
#include "rules/standing.h"

void fold_init(struct fold *fold, const struct bout *bout, void *(*allocate)(size_t),
               void (*release)(void *))
{
    *fold = (struct fold){.bout = bout};
    arena_init(&fold->arena, allocate, release);
}

void fold_close(struct fold *fold)
{
    arena_close(&fold->arena);
}

static void fold_clear(struct fold *fold)
{
    struct arena arena = fold->arena;
    arena_reset(&arena);
    *fold = (struct fold){
        .bout = fold->bout,
        .arena = arena,
        .clock = clock_new(),
        .latest_moment_ms = INT64_MIN,
        .first_entry = EVENT_NONE,
        .last_entry = EVENT_NONE,
        .challenge = {{.open = EVENT_NONE}, {.open = EVENT_NONE}},
        .position = EVENT_NONE,
        .stoppage = EVENT_NONE,
        .close = EVENT_NONE,
    };
}

/* ---- the order of points ---- */

static void entry_unlink(struct fold *fold, int32_t place)
{
    struct read_event *entry = &fold->events[place];
    if (entry->previous != EVENT_NONE)
        fold->events[entry->previous].next = entry->next;
    else
        fold->first_entry = entry->next;
    if (entry->next != EVENT_NONE)
        fold->events[entry->next].previous = entry->previous;
    else
        fold->last_entry = entry->previous;
}

static void entry_append(struct fold *fold, int32_t place)
{
    struct read_event *entry = &fold->events[place];
    entry->previous = fold->last_entry;
    entry->next = EVENT_NONE;
    if (fold->last_entry != EVENT_NONE)
        fold->events[fold->last_entry].next = place;
    else
        fold->first_entry = place;
    fold->last_entry = place;
}

/* `before` names an event that gives points: this one's entry moves to just before that one's. */
static void entry_move(struct fold *fold, int32_t place)
{
    struct read_event *entry = &fold->events[place];
    int32_t before = entry->event->before;
    if (!entry->gives_points || before == EVENT_NONE || !fold->events[before].gives_points)
        return;
    entry_unlink(fold, place);
    entry->next = before;
    entry->previous = fold->events[before].previous;
    fold->events[before].previous = place;
    if (entry->previous != EVENT_NONE)
        fold->events[entry->previous].next = place;
    else
        fold->first_entry = place;
}

/* ---- points, cautions, confirmation ---- */

static void tally_add(const struct fold *fold, struct tallies *tallies,
                      const struct read_event *read)
{
    int points = read->event->points;
    struct tally *tally = &tallies->sides[side_index(read->giver)];
    tally->points += points;
    tally->by_technique += read->by_technique ? 1 : 0;
    if (read->by_technique || fold->details->edition->penalty_points_are_holds)
        tally->holds[points]++;
}

static bool is_caution(const struct fold *fold, const struct event *event)
{
    return event->type == EVENT_CAUTION ||
           (event->type == EVENT_PASSIVITY && event->stage == PASSIVITY_PENALTY &&
            fold->details->edition->penalty_is_caution);
}

void fold_count(const struct fold *fold, struct tallies *tallies, const struct read_event *read)
{
    if (is_caution(fold, read->event))
        tallies->sides[side_index(read->event->side)].cautions++;
    if (!read->gives_points)
        return;
    tally_add(fold, tallies, read);
    if (tallies->first_point == SIDE_NONE)
        tallies->first_point = (enum side)read->giver;
    tallies->last_point = (enum side)read->giver;
}

static void count_points(struct fold *fold, int32_t place, enum side giver, bool by_technique)
{
    struct read_event *read = &fold->events[place];
    read->giver = (uint8_t)giver;
    read->by_technique = by_technique;
    read->gives_points = read->event->points > 0;
    fold_count(fold, &fold->all, read);
    if (read->gives_points)
        entry_append(fold, place);
    read->confirmed = !event_gives(read->event, MEMBER_UNCONFIRMED);
    if (read->confirmed)
        fold_count(fold, &fold->confirmed, read);
    else
        fold->unconfirmed[side_index(giver)] += read->event->points;
}

/* Only what gives to a side is in the tallies; a close is confirmed by its mark alone. */
static void confirm_one(struct fold *fold, struct read_event *read)
{
    if (!read->stands || read->confirmed)
        return;
    read->confirmed = true;
    if (read->giver == SIDE_NONE)
        return;
    fold->unconfirmed[side_index((enum side)read->giver)] -= read->event->points;
    fold_count(fold, &fold->confirmed, read);
}

static void confirm(struct fold *fold, const struct event *event, int32_t place)
{
    if (event_gives(event, MEMBER_REF)) {
        confirm_one(fold, &fold->events[event->ref]);
        return;
    }
    for (; fold->confirmed_below < place; fold->confirmed_below++)
        confirm_one(fold, &fold->events[fold->confirmed_below]);
}

/* ---- attacks ---- */

static enum attack_class class_of(const struct read_event *read)
{
    if (read->event->outcome == ATTACK_SCORED || read->named_by_own)
        return ATTACK_HAS_SCORED;
    if (read->event->outcome == ATTACK_COUNTERED || read->named_by_other)
        return ATTACK_WAS_COUNTERED;
    switch ((enum attack_outcome)read->event->outcome) {
    case ATTACK_STOPPED:
    case ATTACK_OUT:
    case ATTACK_STALEMATE:
        return ATTACK_WAS_STOPPED;
    case ATTACK_SLIPPED:
        return ATTACK_TRIED;
    case ATTACK_OPEN:
    case ATTACK_SCORED:
    case ATTACK_COUNTERED:
        break;
    }
    return ATTACK_UNCOUNTED;
}

static struct attempts *row_of(struct fold *fold, const char *technique, enum side side)
{
    for (size_t i = 0; i < fold->row_count; i++)
        if (fold->rows[i].technique == technique)
            return &fold->rows[i].sides[side_index(side)];
    struct technique_row *rows =
        arena_grow(&fold->arena, fold->rows, fold->row_count, &fold->row_capacity, sizeof *rows);
    if (rows == NULL)
        return NULL;
    fold->rows = rows;
    rows[fold->row_count] = (struct technique_row){.technique = technique};
    return &rows[fold->row_count++].sides[side_index(side)];
}

static void attempts_add(struct attempts *attempts, int tried, int scored, int points)
{
    attempts->tried += tried;
    attempts->scored += scored;
    attempts->points += points;
}

/* Counts the attack in (`sign` 1) or out (−1) of every tally, as it is classed now. */
static bool count_attack(struct fold *fold, const struct read_event *read, int sign)
{
    const struct event *event = read->event;
    struct attack_tally *tally = &fold->attacks[side_index(event->side)];
    struct attempts *row = row_of(fold, event->techniques->names[0], event->side);
    if (row == NULL)
        return false;
    int scored = read->attack_class == ATTACK_HAS_SCORED ? sign : 0;
    int tried = read->attack_class != ATTACK_UNCOUNTED ? sign : 0;
    tally->tried += tried;
    tally->scored += scored;
    tally->stopped += read->attack_class == ATTACK_WAS_STOPPED ? sign : 0;
    tally->countered += read->attack_class == ATTACK_WAS_COUNTERED ? sign : 0;
    attempts_add(row, tried, scored, sign * read->attack_points);
    attempts_add(&tally->legs[event->leg], tried, scored, sign * read->attack_points);
    return true;
}

/* An amended score may name an attack that was keyed after it: then the attack is counted already.
 */
static bool apply_attack(struct fold *fold, struct read_event *read)
{
    if (!count_attack(fold, read, -1))
        return false;
    read->attack_class = (uint8_t)class_of(read);
    return count_attack(fold, read, 1);
}

/* A score that names an attack: it finishes it, or counters it. */
static bool finish_attack(struct fold *fold, struct read_event *attack, const struct event *score)
{
    if (!count_attack(fold, attack, -1))
        return false;
    if (score->side == attack->event->side) {
        attack->named_by_own = true;
        attack->attack_points += score->points;
    } else {
        attack->named_by_other = true;
    }
    attack->attack_class = (uint8_t)class_of(attack);
    return count_attack(fold, attack, 1);
}

static bool count_score_as_attack(struct fold *fold, const struct event *score)
{
    if (event_gives(score, MEMBER_ATTACK) && fold->events[score->attack].stands)
        return finish_attack(fold, &fold->events[score->attack], score);
    if (!event_gives(score, MEMBER_TECHNIQUE))
        return true;
    struct attack_tally *tally = &fold->attacks[side_index(score->side)];
    struct attempts *row = row_of(fold, score->technique, score->side);
    if (row == NULL)
        return false;
    tally->tried++;
    tally->scored++;
    attempts_add(row, 1, 1, score->points);
    attempts_add(&tally->legs[score->leg], 1, 1, score->points);
    return true;
}

/* ---- activity time ---- */

static bool bout_time_before(int period, int32_t t_ms, int other_period, int32_t other_t_ms)
{
    return period < other_period || (period == other_period && t_ms < other_t_ms);
}

/* It ends for good when its period is used up, or isn't the clock's. */
static void activity_come_to(struct activity *activity, const struct clock_reading *now)
{
    if (activity->side != SIDE_NONE && (now->used_up || now->period != activity->period))
        activity->side = SIDE_NONE;
}

static void activity_scored(struct fold *fold, const struct read_event *read)
{
    struct activity *activity = &fold->activity;
    bool ends = fold->details->edition->activity_ended_by == ACTIVITY_ENDED_BY_EITHER ||
                read->event->side == activity->side;
    if (activity->side != SIDE_NONE && ends &&
        !bout_time_before(read->period, read->t_ms, activity->period, activity->t_ms))
        activity->side = SIDE_NONE;
}

/* An activity time that is keyed for a period that is used up at its own moment, or isn't the
 * clock's, has ended as it begins. */
static void apply_passivity(struct fold *fold, int32_t place, const struct clock_reading *now)
{
    struct read_event *read = &fold->events[place];
    const struct event *event = read->event;
    fold->passivity[side_index(event->side)][event->stage]++;
    count_points(fold, place, side_other(event->side), false);
    if (event->stage == PASSIVITY_PENALTY && fold->activity.side == (enum side)event->side)
        fold->activity.side = SIDE_NONE;
    if (event->stage == PASSIVITY_ACTIVITY && fold->details->edition->activity_ms != EDITION_NONE)
        fold->activity = (struct activity){event->side, read->period, read->t_ms};
    activity_come_to(&fold->activity, now);
}

/* ---- one event ---- */

static void apply_challenge(struct fold *fold, int32_t place)
{
    const struct event *event = fold->events[place].event;
    struct challenge_state *challenge = &fold->challenge[side_index(event->side)];
    challenge->open = event->outcome == CHALLENGE_ASKED ? place : EVENT_NONE;
    challenge->lost = challenge->lost || event->outcome == CHALLENGE_REJECTED;
    count_points(fold, place, side_other(event->side), false);
}

/* The event's own bout time where it has one; else the clock's. A clock event's own members are
 * its setting, not its time. */
static void take_bout_time(const struct fold *fold, struct read_event *read,
                           const struct clock_reading *now)
{
    const struct event *event = read->event;
    bool own = event->type != EVENT_CLOCK && event_gives(event, MEMBER_PERIOD) &&
               event_gives(event, MEMBER_T_MS);
    read->period = own ? event->period : now->period;
    read->t_ms = own ? event->t_ms : now->t_ms;
    if (read->t_ms > fold->details->period_ms)
        read->t_ms = fold->details->period_ms;
}

static bool apply(struct fold *fold, int32_t place)
{
    struct read_event *read = &fold->events[place];
    const struct event *event = read->event;
    int64_t moment_ms = fold->bout->events[place].moment_ms;
    struct clock_reading now = clock_at(&fold->clock, fold->details->period_ms, moment_ms);
    activity_come_to(&fold->activity, &now);
    take_bout_time(fold, read, &now);
    read->confirmed = true;
    switch (event->type) {
    case EVENT_CLOCK:
        if (clock_apply(&fold->clock, event, fold->details, moment_ms))
            fold->position = EVENT_NONE;
        return true;
    case EVENT_SCORE:
        count_points(fold, place, event->side, action_is_technique(event->action));
        activity_scored(fold, read);
        return count_score_as_attack(fold, event);
    case EVENT_ATTACK:
        return apply_attack(fold, read);
    case EVENT_CAUTION:
        count_points(fold, place, side_other(event->side), false);
        return true;
    case EVENT_PASSIVITY:
        apply_passivity(fold, place, &now);
        return true;
    case EVENT_CHALLENGE:
        apply_challenge(fold, place);
        return true;
    case EVENT_POSITION:
        fold->position = place;
        return true;
    case EVENT_STOPPAGE:
        fold->stoppage = event->what == STOPPAGE_START ? place : EVENT_NONE;
        return true;
    case EVENT_CONFIRM:
        confirm(fold, event, place);
        return true;
    case EVENT_CLOSE:
        read->confirmed = !event_gives(event, MEMBER_UNCONFIRMED);
        if (edition_ending(fold->details->edition, event->how) != NULL)
            fold->close = place;
        return true;
    case EVENT_BOUT:
    case EVENT_VOID:
    case EVENT_AMEND:
    case EVENT_RESTART:
    case EVENT_NOTE:
    case EVENT_ENTRY:
    case EVENT_SLOT:
    case EVENT_SESSION:
    case EVENT_TYPE_COUNT:
        return true;
    }
    return true;
}

/* ---- the whole bout, and one event more ---- */

/* The first `bout` event calls it to its mat; another one only with `call`, or to another mat. */
static void take_details(struct fold *fold, const struct event *event)
{
    const struct details *was = fold->details, *is = event->details;
    bool moved =
        was != NULL && is->mat != NULL && (was->mat == NULL || strcmp(was->mat, is->mat) != 0);
    if (was == NULL || is->call || moved)
        fold->called_seq = event->seq;
    fold->details = is;
}

static bool is_correction(const struct event *event, size_t place)
{
    return event->type == EVENT_VOID || event->type == EVENT_AMEND ||
           event->type == EVENT_RESTART || (event->type == EVENT_BOUT && place > 0);
}

static bool make_room(struct fold *fold, size_t count)
{
    if (count <= fold->capacity)
        return true;
    size_t capacity = count > 2 * fold->capacity ? count : 2 * fold->capacity;
    struct read_event *events = arena_take(&fold->arena, capacity * sizeof *events);
    if (events == NULL)
        return false;
    if (fold->count > 0)
        memcpy(events, fold->events, fold->count * sizeof *events);
    fold->events = events;
    fold->capacity = capacity;
    return true;
}

static void note_moment(struct fold *fold, size_t place)
{
    int64_t moment_ms = fold->bout->events[place].moment_ms;
    if (moment_ms > fold->latest_moment_ms)
        fold->latest_moment_ms = moment_ms;
}

static bool read_one(struct fold *fold)
{
    size_t place = fold->count;
    const struct event *event = &fold->bout->events[place];
    if (!make_room(fold, place + 1))
        return false;
    bool stands = event->type != EVENT_HIDDEN;
    fold->events[place] = (struct read_event){
        .event = event, .stands = stands, .next = EVENT_NONE, .previous = EVENT_NONE};
    if (event->type == EVENT_BOUT)
        take_details(fold, event);
    fold->count++;
    note_moment(fold, place);
    if (stands && !apply(fold, (int32_t)place))
        return false;
    entry_move(fold, (int32_t)place);
    return true;
}

/* The target is read from a copy of its own, amended. */
static bool amend(struct fold *fold, const struct event *amendment)
{
    struct read_event *read = &fold->events[amendment->ref];
    struct event *copy = arena_take(&fold->arena, sizeof *copy);
    if (copy == NULL)
        return false;
    *copy = *read->event;
    event_amend(copy, amendment->set, amendment->unset);
    if (copy->points != read->event->points)
        read->was_points = read->event->points;
    read->event = copy;
    read->amended = true;
    return true;
}

static bool resolve(struct fold *fold, size_t count)
{
    const struct event *events = fold->bout->events;
    bool *stands = arena_take(&fold->arena, count * sizeof *stands);
    if (stands == NULL || !make_room(fold, count))
        return false;
    standing_of(events, count, stands);
    for (size_t i = 0; i < count; i++) {
        fold->events[i] = (struct read_event){
            .event = &events[i], .stands = stands[i], .next = EVENT_NONE, .previous = EVENT_NONE};
        if (events[i].type == EVENT_BOUT)
            take_details(fold, &events[i]);
    }
    for (size_t i = 0; i < count; i++)
        if (stands[i] && events[i].type == EVENT_AMEND && !amend(fold, &events[i]))
            return false;
    return true;
}

static bool read_whole(struct fold *fold, size_t count)
{
    fold_clear(fold);
    if (!resolve(fold, count))
        return false;
    for (size_t i = 0; i < count; i++) {
        note_moment(fold, i);
        if (fold->events[i].stands && !apply(fold, (int32_t)i))
            return false;
    }
    for (size_t i = 0; i < count; i++)
        if (fold->events[i].stands)
            entry_move(fold, (int32_t)i);
    fold->count = count;
    return true;
}

bool fold_read(struct fold *fold, size_t count)
{
    bool corrected = fold->count == 0;
    for (size_t i = fold->count; i < count && !corrected; i++)
        corrected = is_correction(&fold->bout->events[i], i);
    bool done = true;
    if (corrected)
        done = read_whole(fold, count);
    else
        while (done && fold->count < count)
            done = read_one(fold);
    if (!done)
        fold_clear(fold);
    return done;
}
