/* Cards on time and the referee's book: activity, cautions, challenges, who attacks and who
 * doesn't. No card foretells a call. */
#include "prompts/rule.h"

enum {
    MINUTE_MS = 60000,
    CHASING_ATTACKS = 3,
    WAITING_LATE_MS = 90000, /* a leader who waits is news in the last minute and a half */
    WAITING_STEP_MS = 30000, /* the card's figure grows in these steps, not every second */
    AFTER_STOP_MS = 3000,
    ACTIVITY_GONE_MS = 10000, /* before that, "no attack yet" says nothing */
    CALL_NEAR_MS = 30000,
};

static int points(const struct scan *scan, enum side side)
{
    return scan->state->all.sides[side_index(side)].points;
}

/* The side's attempts with a known outcome in the last minute of bout time. */
static int tries_this_minute(struct scan *scan, enum side side, struct card *card)
{
    int count = 0;
    for (size_t i = 0; i < scan->try_count; i++) {
        const struct try *try = &scan->tries[i];
        if (try->side != side || !try_counts(try) ||
            scan_bout_time_reached(scan, try->bout_ms + MINUTE_MS + 1))
            continue;
        count++;
        card_rests_on_try(card, scan, try);
    }
    return count;
}

/* Since when the side hasn't attacked: its last attempt, open ones too, or the bout's start. */
static int32_t idle_since(const struct scan *scan, enum side side)
{
    const struct try *last = scan_last_try(scan, side, NULL);
    return last != NULL ? last->bout_ms : 0;
}

/* 22: behind, and in the last minute attacking at twice the rate of before. The whole minute counts
 * from its first second, so that the rate doesn't fall while time passes. */
bool chasing(struct scan *scan, enum side side, struct card *card)
{
    int32_t length_ms = scan_bout_length(scan), before_ms = length_ms - MINUTE_MS;
    if (scan->state->leader.side != side_other(side) || before_ms < MINUTE_MS ||
        !scan_left_at_most(scan, MINUTE_MS))
        return false;
    int before = scan_tries_between(scan, side, 0, before_ms);
    int now = scan_tries_between(scan, side, before_ms, length_ms + 1);
    if (now < CHASING_ATTACKS || (int64_t)now * before_ms < 2 * (int64_t)before * MINUTE_MS)
        return false;
    for (size_t i = 0; i < scan->try_count; i++)
        if (scan->tries[i].side == side && scan->tries[i].bout_ms >= before_ms &&
            try_counts(&scan->tries[i]))
            card_rests_on_try(card, scan, &scan->tries[i]);
    char time[TIME_SIZE];
    return card_say(card, scan, CARD_CHASING, before > 0 ? CARD_CHASING_LINE : CARD_CHASING_NONE,
                    FILLS({"n", .number = now}, {"m", .number = before},
                          {"t", .text = text_gone(before_ms, time)}));
}

/* The clock stopped less than three seconds of bout time ago. */
static bool just_stopped(struct scan *scan)
{
    int32_t stop_ms = -1;
    for (size_t i = 0; i < scan->run_count; i++)
        if (!scan->runs[i].going)
            stop_ms = scan->runs[i].to_bout_ms;
    return stop_ms >= 0 && !scan_bout_time_reached(scan, stop_ms + AFTER_STOP_MS);
}

/* 23: late in the bout the leader hasn't attacked for a minute, and the other side has. */
bool leader_waits(struct scan *scan, enum side side, struct card *card)
{
    int fleeing = scan_caution_points(scan, "fleeing_mat", 0);
    int32_t since_ms = idle_since(scan, side), idle_ms = MINUTE_MS;
    if (scan->state->leader.side != side || fleeing == 0 ||
        !scan_left_at_most(scan, WAITING_LATE_MS) ||
        !scan_bout_time_reached(scan, since_ms + MINUTE_MS) || scan_on_top(scan, side) ||
        just_stopped(scan) || tries_this_minute(scan, side_other(side), card) < 2)
        return false;
    while (scan_bout_time_reached(scan, since_ms + idle_ms + WAITING_STEP_MS))
        idle_ms += WAITING_STEP_MS;
    char time[TIME_SIZE];
    card_since(card, scan, since_ms + idle_ms);
    return card_say(card, scan, CARD_LEADER_WAITS, CARD_LEADER_WAITS_LINE,
                    FILLS({"t", .text = text_gone(idle_ms, time)}, {"p", .number = fleeing}));
}

/* 25: one caution more loses the bout, in an edition where that is the third. */
bool two_cautions(struct scan *scan, enum side side, struct card *card)
{
    if (scan->edition->cautions_out != 3 || scan->state->all.sides[side_index(side)].cautions != 2)
        return false;
    for (int32_t place = 0; place < (int32_t)scan->fold->count; place++) {
        const struct read_event *read = &scan->fold->events[place];
        if (read->stands && (enum side)read->event->side == side &&
            (read->event->type == EVENT_CAUTION ||
             (scan->edition->penalty_is_caution && read->event->type == EVENT_PASSIVITY &&
              read->event->stage == PASSIVITY_PENALTY)))
            card_rests_on(card, scan, place);
    }
    return card_say(card, scan, CARD_TWO_CAUTIONS, CARD_TWO_CAUTIONS_LINE, NULL);
}

/* The passivity that began the side's activity time; EVENT_NONE: it isn't on. */
static int32_t activity_of(const struct scan *scan, enum side side)
{
    int32_t began = EVENT_NONE;
    for (int32_t place = 0; place < (int32_t)scan->fold->count; place++) {
        const struct read_event *read = &scan->fold->events[place];
        if (read->stands && read->event->type == EVENT_PASSIVITY &&
            read->event->stage == PASSIVITY_ACTIVITY && (enum side)read->event->side == side)
            began = place;
    }
    return scan->state->activity.side == side ? began : EVENT_NONE;
}

static int32_t activity_from(const struct scan *scan)
{
    const struct activity *activity = &scan->state->activity;
    return (activity->period - 1) * scan->details->period_ms + activity->t_ms;
}

/* 26: named, with ten seconds of it gone, and no attack since. */
bool activity_no_attack(struct scan *scan, enum side side, struct card *card)
{
    int32_t began = activity_of(scan, side);
    if (began == EVENT_NONE)
        return false;
    int32_t whole_ms = scan->edition->activity_ms, from_ms = activity_from(scan);
    int32_t left_ms = scan->details->period_ms - scan->state->activity.t_ms - whole_ms;
    int point = scan_passivity_points(scan, 0);
    const struct try *last = scan_last_try(scan, side, NULL);
    if ((last != NULL && last->bout_ms >= from_ms) || left_ms <= 0 || point == 0 ||
        scan_bout_time_reached(scan, from_ms + whole_ms) ||
        !scan_bout_time_reached(scan, from_ms + ACTIVITY_GONE_MS))
        return false;
    char time[TIME_SIZE];
    card_rests_on(card, scan, began);
    card_since(card, scan, from_ms + ACTIVITY_GONE_MS);
    return card_say(card, scan, CARD_ACTIVITY,
                    scan->edition->activity_ended_by == ACTIVITY_ENDED_BY_EITHER
                        ? CARD_ACTIVITY_EITHER
                        : CARD_ACTIVITY_NAMED,
                    FILLS({"S", .side = side}, {"O", .side = side_other(side)},
                          {"p", .number = point}, {"t", .text = text_left(left_ms, time)}));
}

/* 27: the other side has scored, and the named side's activity time goes on all the same. */
bool activity_scored_on(struct scan *scan, enum side side, struct card *card)
{
    int32_t began = activity_of(scan, side);
    int point = scan_passivity_points(scan, 0);
    bool scored = false;
    if (began == EVENT_NONE || point == 0 ||
        scan->edition->activity_ended_by != ACTIVITY_ENDED_BY_NAMED)
        return false;
    card_rests_on(card, scan, began);
    for (size_t i = 0; i < scan->entry_count; i++) {
        const struct entry *entry = &scan->entries[i];
        if (entry->side != side_other(side) || entry->event->type != EVENT_SCORE ||
            entry->bout_ms < activity_from(scan))
            continue;
        scored = true;
        card_rests_on(card, scan, entry->place);
    }
    return scored && card_say(card, scan, CARD_ACTIVITY_SCORED, CARD_ACTIVITY_SCORED_LINE,
                              FILLS({"S", .side = side}, {"p", .number = point}));
}

/* 28: three attacks or more in the last minute, and none of the other side. */
bool one_sided(struct scan *scan, enum side side, struct card *card)
{
    enum side other = side_other(side);
    int count = tries_this_minute(scan, side, card);
    if (count < 3 || !scan_bout_time_reached(scan, idle_since(scan, other) + MINUTE_MS) ||
        scan_on_top(scan, other))
        return false;
    return card_say(card, scan, CARD_ONE_SIDED, CARD_ONE_SIDED_LINE,
                    FILLS({"n", .number = count}, {"S", .side = side}, {"O", .side = other}));
}

/* 29: half a minute before the officials must name a side. Of neither side: said once, for red. */
bool forced_call(struct scan *scan, enum side side, struct card *card)
{
    const struct state *state = scan->state;
    if (side != SIDE_RED || scan->greco || state->forced_call_left_ms == EVENT_NONE ||
        state->activity.side != SIDE_NONE)
        return false;
    int32_t call_ms = scan->details->age_group->forced_call_ms;
    if (!scan_bout_time_reached(scan, call_ms - CALL_NEAR_MS))
        return false;
    char time[TIME_SIZE];
    card_since(card, scan, call_ms - CALL_NEAR_MS);
    return card_say(card, scan, CARD_FORCED_CALL, CARD_FORCED_CALL_LINE,
                    FILLS({"t", .text = text_gone(call_ms, time)}));
}

/* 30: half as many attacks a minute as in period one, or fewer. Never a word on why. */
bool slowing(struct scan *scan, enum side side, struct card *card)
{
    int32_t period_ms = scan->details->period_ms;
    if (scan->state->clock.period != 2 || points(scan, side) - points(scan, side_other(side)) >= 6)
        return false;
    int first = scan_tries_between(scan, side, 0, period_ms);
    int second = scan_tries_between(scan, side, period_ms, 2 * period_ms + 1);
    if (first < 4)
        return false;
    int64_t half_rate_ms = (2 * (int64_t)second * period_ms + first - 1) / first;
    int32_t gone_ms = half_rate_ms > MINUTE_MS ? (int32_t)half_rate_ms : MINUTE_MS;
    if (gone_ms > period_ms || !scan_bout_time_reached(scan, period_ms + gone_ms))
        return false;
    for (size_t i = 0; i < scan->try_count; i++)
        if (scan->tries[i].side == side && try_counts(&scan->tries[i]))
            card_rests_on_try(card, scan, &scan->tries[i]);
    card_since(card, scan, period_ms + gone_ms);
    return card_say(card, scan, CARD_SLOWING, CARD_SLOWING_LINE,
                    FILLS({"S", .side = side}, {"n", .number = first}, {"m", .number = second}));
}

/* 36: the side has lost its challenge. */
bool no_challenge(struct scan *scan, enum side side, struct card *card)
{
    int32_t lost = EVENT_NONE;
    for (int32_t place = 0; place < (int32_t)scan->fold->count; place++) {
        const struct read_event *read = &scan->fold->events[place];
        if (read->stands && read->event->type == EVENT_CHALLENGE &&
            (enum side)read->event->side == side && read->event->outcome == CHALLENGE_REJECTED)
            lost = place;
    }
    if (lost == EVENT_NONE)
        return false;
    const struct read_event *read = &scan->fold->events[lost];
    int point = read->event->points;
    char time[TIME_SIZE];
    card_rests_on(card, scan, lost);
    return card_say(card, scan, CARD_NO_CHALLENGE,
                    point > 0 ? CARD_NO_CHALLENGE_LINE : CARD_NO_CHALLENGE_PLAIN,
                    FILLS({"S", .side = side}, {"O", .side = side_other(side)},
                          {"t", .text = text_left(scan->details->period_ms - read->t_ms, time)},
                          {"period", .number = read->period}, {"p", .number = point}));
}
