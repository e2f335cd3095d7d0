#include "stats/account.h"

/* ---- time ---- */

static int64_t bout_ms_of(const struct fold *fold, const struct read_event *read)
{
    return (int64_t)(read->period - 1) * fold->details->period_ms + read->t_ms;
}

static int minute_of(const struct fold *fold, const struct read_event *read)
{
    int64_t bout_ms = bout_ms_of(fold, read);
    if (read->t_ms > 0 && read->t_ms >= fold->details->period_ms)
        bout_ms--;
    return (int)(bout_ms / ACCOUNT_MINUTE_MS);
}

static bool is_late(const struct fold *fold, const struct read_event *read)
{
    return fold->details->period_ms - read->t_ms <= ACCOUNT_LATE_MS;
}

/* ---- attempts ---- */

/* A score with a technique is an attempt of its own where it finishes none: docs/state.md. */
static bool score_is_attempt(const struct fold *fold, const struct event *score)
{
    bool finishes = event_gives(score, MEMBER_ATTACK) && fold->events[score->attack].stands;
    return !finishes && event_gives(score, MEMBER_TECHNIQUE);
}

static struct account_attempts *attempts_row(struct account_side *side, const char *technique,
                                             enum leg leg)
{
    for (size_t i = 0; i < side->attempt_count; i++)
        if (side->attempts[i].technique == technique && side->attempts[i].leg == leg)
            return &side->attempts[i];
    side->attempts[side->attempt_count] =
        (struct account_attempts){.technique = technique, .leg = leg};
    return &side->attempts[side->attempt_count++];
}

static void take_attack(struct account_side *side, const struct read_event *read)
{
    if (read->attack_class == ATTACK_UNCOUNTED)
        return;
    struct account_attempts *row =
        attempts_row(side, read->event->techniques->names[0], (enum leg)read->event->leg);
    row->tried++;
    row->scored += read->attack_class == ATTACK_HAS_SCORED ? 1 : 0;
    row->stopped += read->attack_class == ATTACK_WAS_STOPPED ? 1 : 0;
    row->countered += read->attack_class == ATTACK_WAS_COUNTERED ? 1 : 0;
    row->points += read->attack_points;
}

static void take_score(struct account_side *side, const struct fold *fold,
                       const struct read_event *read)
{
    side->late_scores += read->gives_points && is_late(fold, read) ? 1 : 0;
    if (!score_is_attempt(fold, read->event))
        return;
    struct account_attempts *row =
        attempts_row(side, read->event->technique, (enum leg)read->event->leg);
    row->tried++;
    row->scored++;
    row->points += read->event->points;
}

static void take_attempts(struct account *account, const struct fold *fold)
{
    for (size_t i = 0; i < fold->count; i++) {
        const struct read_event *read = &fold->events[i];
        if (!read->stands)
            continue;
        if (read->event->type == EVENT_ATTACK)
            take_attack(&account->sides[side_index((enum side)read->event->side)], read);
        else if (read->event->type == EVENT_SCORE)
            take_score(&account->sides[side_index((enum side)read->event->side)], fold, read);
    }
}

/* ---- points ---- */

static void take_minute(struct account *account, const struct fold *fold,
                        const struct read_event *read)
{
    int minute = minute_of(fold, read);
    size_t place = account->minute_count;
    while (place > 0 && (account->minutes[place - 1].period > read->period ||
                         (account->minutes[place - 1].period == read->period &&
                          account->minutes[place - 1].minute > minute)))
        place--;
    struct account_minute *before = place > 0 ? &account->minutes[place - 1] : NULL;
    if (before == NULL || before->period != read->period || before->minute != minute) {
        for (size_t i = account->minute_count++; i > place; i--)
            account->minutes[i] = account->minutes[i - 1];
        before = &account->minutes[place];
        *before = (struct account_minute){.period = read->period, .minute = minute};
    }
    before->points[side_index((enum side)read->giver)] += read->event->points;
}

static void take_points(struct account *account, const struct fold *fold)
{
    struct account_side *sides = account->sides;
    for (int32_t place = fold->first_entry; place != EVENT_NONE; place = fold->events[place].next) {
        const struct read_event *read = &fold->events[place];
        struct account_side *giver = &sides[side_index((enum side)read->giver)];
        if (giver->first_score_ms == EVENT_NONE)
            giver->first_score_ms = (int32_t)bout_ms_of(fold, read);
        giver->points += read->event->points;
        for (unsigned i = 0; i < 2; i++)
            if (sides[1 - i].points - sides[i].points > sides[i].behind_most)
                sides[i].behind_most = sides[1 - i].points - sides[i].points;
        take_minute(account, fold, read);
    }
}

/* ---- the course ---- */

/* All that stood with so much gone, in the order of points; then the cautions without points, which
 * aren't in it. */
static struct tallies tallies_until(const struct fold *fold, int64_t bout_ms)
{
    struct tallies tallies = {.first_point = SIDE_NONE};
    for (int32_t place = fold->first_entry; place != EVENT_NONE; place = fold->events[place].next)
        if (bout_ms_of(fold, &fold->events[place]) <= bout_ms)
            fold_count(fold, &tallies, &fold->events[place]);
    for (size_t i = 0; i < fold->count; i++)
        if (fold->events[i].stands && !fold->events[i].gives_points &&
            bout_ms_of(fold, &fold->events[i]) <= bout_ms)
            fold_count(fold, &tallies, &fold->events[i]);
    return tallies;
}

static void take_course(struct account *account, const struct fold *fold)
{
    for (int minutes = 1; (int64_t)minutes * ACCOUNT_MINUTE_MS < account->time_ms; minutes++) {
        struct tallies tallies = tallies_until(fold, (int64_t)minutes * ACCOUNT_MINUTE_MS);
        account->course[account->course_count++] = (struct account_course){
            .minutes = minutes,
            .points = {tallies.sides[0].points, tallies.sides[1].points},
            .leader = leader_of(fold->details->edition, &tallies).side,
        };
    }
}

/* ---- the whole ---- */

const char *account_style(const struct details *details)
{
    if (details->style != NULL)
        return details->style;
    return details->edition->style_count == 1 ? details->edition->styles[0] : NULL;
}

static void take_ending(struct account *account, const struct state *state)
{
    const struct details *details = state->fold->details;
    const struct result *result = &state->result;
    account->closed = result->how != NULL;
    account->how = result->how;
    account->code = result->code;
    account->winner = result->winner;
    account->time_ms = account->closed ? result->time_ms
                                       : (int64_t)(state->clock.period - 1) * details->period_ms +
                                             state->clock.t_ms;
    account->length_ms = (int64_t)details->periods * details->period_ms;
    account->style = account_style(details);
}

/* ---- notes ---- */

static bool is_booth_note(const struct fold *fold, size_t i)
{
    const struct event *event = fold->events[i].event;
    return fold->events[i].stands && event->type == EVENT_NOTE && event->to == NOTE_TO_BOOTH &&
           event->side != SIDE_NONE;
}

static bool take_notes(struct account *account, const struct fold *fold, struct arena *arena)
{
    size_t count = 0;
    for (size_t i = 0; i < fold->count; i++)
        count += is_booth_note(fold, i) ? 1 : 0;
    if (count == 0)
        return true;
    for (unsigned i = 0; i < 2; i++) {
        account->sides[i].notes = arena_take(arena, count * sizeof *account->sides[i].notes);
        if (account->sides[i].notes == NULL)
            return false;
    }
    for (size_t i = 0; i < fold->count; i++) {
        if (!is_booth_note(fold, i))
            continue;
        const struct event *event = fold->events[i].event;
        struct account_side *side = &account->sides[side_index((enum side)event->side)];
        side->notes[side->note_count++] = event->text;
    }
    return true;
}

static bool take_memory(struct account *account, const struct fold *fold, struct arena *arena)
{
    size_t minutes = (size_t)(account->time_ms / ACCOUNT_MINUTE_MS) + 1;
    account->minutes = arena_take(arena, (fold->count + 1) * sizeof *account->minutes);
    account->course = arena_take(arena, minutes * sizeof *account->course);
    bool enough = account->minutes != NULL && account->course != NULL;
    for (unsigned i = 0; i < 2 && enough; i++) {
        account->sides[i].attempts =
            arena_take(arena, (fold->count + 1) * sizeof *account->sides[i].attempts);
        enough = account->sides[i].attempts != NULL;
    }
    return enough;
}

bool account_of(struct account *account, const struct state *state, struct arena *arena)
{
    const struct fold *fold = state->fold;
    *account = (struct account){.scored_first = state->all.first_point};
    account->sides[0].first_score_ms = account->sides[1].first_score_ms = EVENT_NONE;
    take_ending(account, state);
    account->begun = fold->clock.keyed || fold->first_entry != EVENT_NONE;
    if (!take_memory(account, fold, arena))
        return false;
    take_attempts(account, fold);
    take_points(account, fold);
    take_course(account, fold);
    return take_notes(account, fold, arena);
}
