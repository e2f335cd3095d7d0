#include "stats/state.h"
#include <string.h>

const char *phase_name(enum phase phase)
{
    static const char *const names[] = {
        [PHASE_OFF] = "off",         [PHASE_CLOSED] = "closed", [PHASE_OVER] = "over",
        [PHASE_LIVE] = "live",       [PHASE_BREAK] = "break",   [PHASE_CALLED] = "called",
        [PHASE_STOPPED] = "stopped",
    };
    return names[phase];
}

const char *due_name(enum due due)
{
    static const char *const names[] = {
        [DUE_NOTHING] = "",
        [DUE_SUPERIORITY] = "superiority",
        [DUE_CAUTIONS] = "cautions",
        [DUE_TIME] = "time",
    };
    return names[due];
}

static enum side giver_at(const struct fold *fold, int32_t place)
{
    return place == EVENT_NONE ? SIDE_NONE : (enum side)fold->events[place].giver;
}

/* The first and the last entry of all, and of those that are confirmed, in the one order of
 * points. Few are unconfirmed at any time, so that the walk from each end is short. */
static void take_tallies(struct state *state)
{
    const struct fold *fold = state->fold;
    int32_t first = fold->first_entry, last = fold->last_entry;
    state->all = fold->all;
    state->confirmed = fold->confirmed;
    state->all.first_point = giver_at(fold, first);
    state->all.last_point = giver_at(fold, last);
    while (first != EVENT_NONE && !fold->events[first].confirmed)
        first = fold->events[first].next;
    while (last != EVENT_NONE && !fold->events[last].confirmed)
        last = fold->events[last].previous;
    state->confirmed.first_point = giver_at(fold, first);
    state->confirmed.last_point = giver_at(fold, last);
}

static bool cautions_lose(const struct edition *edition, const struct tally *tally)
{
    return tally->cautions >= edition->cautions_out;
}

enum due state_due(const struct state *state, const struct tallies *tallies)
{
    const struct details *details = state->fold->details;
    if (tallies_superior(details->edition, tallies))
        return DUE_SUPERIORITY;
    if (cautions_lose(details->edition, &tallies->sides[0]) ||
        cautions_lose(details->edition, &tallies->sides[1]))
        return DUE_CAUTIONS;
    if (state->clock.period >= details->periods && state->clock.used_up)
        return DUE_TIME;
    return DUE_NOTHING;
}

static enum phase phase_of(const struct state *state)
{
    const struct fold *fold = state->fold;
    if (fold->details->off)
        return PHASE_OFF;
    if (fold->close != EVENT_NONE)
        return PHASE_CLOSED;
    if (state->due != DUE_NOTHING && !state->clock.running)
        return PHASE_OVER;
    if (state->clock.running)
        return PHASE_LIVE;
    if (state->clock.used_up && state->clock.period < fold->details->periods)
        return PHASE_BREAK;
    return fold->clock.keyed ? PHASE_STOPPED : PHASE_CALLED;
}

static void take_break(struct state *state)
{
    int32_t break_ms = state->fold->details->break_ms;
    state->break_left_ms = EVENT_NONE;
    if (state->phase != PHASE_BREAK)
        return;
    state->break_ends_ms = state->clock.used_up_ms + break_ms;
    int64_t left_ms = state->break_ends_ms - state->now_ms;
    state->break_left_ms = left_ms > 0 ? (int32_t)left_ms : 0;
}

static void take_outlook(struct state *state)
{
    const struct edition *edition = state->fold->details->edition;
    for (enum side side = SIDE_RED; side <= SIDE_BLUE; side++) {
        struct needs *needs = &state->needs[side_index(side)];
        int margin = state->all.sides[side_index(side)].points -
                     state->all.sides[side_index(side_other(side))].points;
        for (int value = 1; value <= EDITION_VALUE_MAX; value++) {
            if (!edition->values[value])
                continue;
            struct tallies with = tallies_with(&state->all, side, value);
            struct cell *cell = &state->outlook[side_index(side)][value];
            cell->points[0] = with.sides[0].points;
            cell->points[1] = with.sides[1].points;
            cell->leader = leader_of(edition, &with);
            cell->superiority = tallies_superior(edition, &with);
            if (needs->to_lead == 0 && cell->leader.side == side && state->leader.side != side)
                needs->to_lead = value;
        }
        if (margin < edition->superiority)
            needs->to_superiority = edition->superiority - margin;
    }
}

static void take_activity(struct state *state)
{
    const struct fold *fold = state->fold;
    state->activity = fold->activity;
    if (state->activity.side == SIDE_NONE || state->clock.used_up ||
        state->clock.period != state->activity.period) {
        state->activity.side = SIDE_NONE;
        return;
    }
    int32_t whole_ms = fold->details->edition->activity_ms;
    int64_t left_ms = (int64_t)whole_ms - (state->clock.t_ms - state->activity.t_ms);
    state->activity_left_ms = left_ms < 0 ? 0 : left_ms > whole_ms ? whole_ms : (int32_t)left_ms;
    state->activity_running = state->clock.running && state->activity_left_ms > 0;
}

/* The officials must name a side at a fixed time of the first period while it is 0-0. Source: the
 * 2013 text, still common practice (docs/rules.md). */
static void take_forced_call(struct state *state)
{
    const struct fold *fold = state->fold;
    int32_t call_ms = fold->details->age_group->forced_call_ms;
    int named = 0;
    for (unsigned i = 0; i < 2; i++)
        named += fold->passivity[i][PASSIVITY_ACTIVITY] + fold->passivity[i][PASSIVITY_PENALTY];
    bool comes = call_ms != EDITION_NONE && fold->details->period_ms > call_ms &&
                 state->clock.period == 1 && state->clock.t_ms < call_ms && named == 0 &&
                 state->all.sides[0].points == 0 && state->all.sides[1].points == 0;
    state->forced_call_left_ms = comes ? call_ms - state->clock.t_ms : EVENT_NONE;
}

static bool is_consistent(const struct state *state, const struct event *close, const char *code)
{
    const struct edition *edition = state->fold->details->edition;
    bool superior = tallies_superior(edition, &state->all);
    enum side winner = (enum side)close->winner;
    if (event_gives(close, MEMBER_SCORE) && (close->sheet[0] != state->all.sides[0].points ||
                                             close->sheet[1] != state->all.sides[1].points))
        return false;
    if (event_gives(close, MEMBER_CODE) && strcmp(close->code, code) != 0)
        return false;
    if (strcmp(close->how, "points") == 0)
        return state->leader.side == winner && !superior;
    if (strcmp(close->how, "superiority") == 0)
        return state->leader.side == winner && superior;
    if (strcmp(close->how, "cautions") == 0 && winner != SIDE_NONE)
        return cautions_lose(edition, &state->all.sides[side_index(side_other(winner))]);
    return true;
}

static void take_result(struct state *state)
{
    const struct fold *fold = state->fold;
    if (fold->close == EVENT_NONE)
        return;
    const struct read_event *read = &fold->events[fold->close];
    const struct event *close = read->event;
    const struct ending *ending = edition_ending(fold->details->edition, close->how);
    struct result *result = &state->result;
    enum side winner = (enum side)close->winner;
    unsigned scored = 0;
    if (winner != SIDE_NONE)
        scored = state->all.sides[side_index(side_other(winner))].points > 0 ? 1 : 0;
    result->how = close->how;
    result->code = ending->worth[scored].code;
    result->winner = winner;
    for (enum side side = SIDE_RED; side <= SIDE_BLUE; side++)
        result->class_points[side_index(side)] =
            side == winner ? ending->worth[scored].winner : ending->worth[scored].loser;
    result->period = read->period;
    result->time_ms = (int64_t)(read->period - 1) * fold->details->period_ms + read->t_ms;
    result->consistent = is_consistent(state, close, result->code);
    result->unconfirmed = !read->confirmed;
}

/* The clock running out, or the forced call's time coming, changes what is there without an event.
 */
static int64_t next_of(const struct state *state)
{
    const struct fold *fold = state->fold;
    if (!state->clock.running)
        return INT64_MAX;
    int64_t next_ms = state->now_ms + (fold->details->period_ms - state->clock.t_ms);
    if (state->forced_call_left_ms != EVENT_NONE &&
        state->now_ms + state->forced_call_left_ms < next_ms)
        next_ms = state->now_ms + state->forced_call_left_ms;
    return next_ms;
}

/* The bout's first event is never hidden. */
static uint64_t last_seq(const struct fold *fold)
{
    size_t last = fold->count - 1;
    while (last > 0 && fold->bout->events[last].type == EVENT_HIDDEN)
        last--;
    return fold->bout->events[last].seq;
}

struct state state_of(const struct fold *fold, int64_t now_ms)
{
    struct state state = {.fold = fold};
    const struct details *details = fold->details;
    state.now_ms = now_ms > fold->latest_moment_ms ? now_ms : fold->latest_moment_ms;
    state.seq = last_seq(fold);
    state.clock = clock_at(&fold->clock, details->period_ms, state.now_ms);
    take_tallies(&state);
    state.leader = leader_of(details->edition, &state.all);
    state.confirmed_leader = leader_of(details->edition, &state.confirmed);
    state.due = state_due(&state, &state.all);
    state.confirmed_due = state_due(&state, &state.confirmed);
    for (unsigned i = 0; i < 2 && state.due == DUE_CAUTIONS; i++)
        state.due_against[i] = cautions_lose(details->edition, &state.all.sides[i]);
    state.under_review =
        fold->challenge[0].open != EVENT_NONE || fold->challenge[1].open != EVENT_NONE;
    state.phase = phase_of(&state);
    take_break(&state);
    take_outlook(&state);
    take_activity(&state);
    take_forced_call(&state);
    if (fold->stoppage != EVENT_NONE) {
        int64_t since_ms = state.now_ms - fold->bout->events[fold->stoppage].moment_ms;
        state.stoppage_ms = since_ms > 0 ? since_ms : 0;
    }
    take_result(&state);
    state.next_ms = next_of(&state);
    return state;
}
