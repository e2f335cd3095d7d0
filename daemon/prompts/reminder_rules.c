/* Reminders of score and time: after each confirmed score, at a restart, at 1:00 and 0:30 left of a
 * period, after a minute without a score, and in the break. The newest of these is the card. */
#include "prompts/rule.h"

enum { MINUTE_MS = 60000, HALF_MS = 30000, REMINDED_MS = 20000 };

enum occasion { AT_NOTHING, AT_SCORE, AT_BREAK, AT_MINUTE_LEFT, AT_HALF_LEFT, AT_IDLE, AT_RESTART };

struct reminding {
    enum occasion occasion;
    int64_t moment_ms;
    int32_t bout_ms;
    int minutes; /* of AT_IDLE */
};

static int period_of(const struct scan *scan, int32_t bout_ms)
{
    int period = bout_ms / scan->details->period_ms + 1;
    return period < scan->details->periods ? period : scan->details->periods;
}

/* A later occasion takes the place of an earlier one; at the same moment the first offered stays.
 */
static void offer(struct reminding *best, enum occasion occasion, int64_t moment_ms,
                  int32_t bout_ms, int minutes)
{
    if (best->occasion == AT_NOTHING || moment_ms > best->moment_ms)
        *best = (struct reminding){occasion, moment_ms, bout_ms, minutes};
}

static bool gave_points(const struct event *event)
{
    return event->points > 0 && (event->type == EVENT_SCORE || event->type == EVENT_CAUTION ||
                                 event->type == EVENT_PASSIVITY || event->type == EVENT_CHALLENGE);
}

/* When the score last changed: points known as they stand, or taken out. */
static void offer_score(struct reminding *best, const struct scan *scan)
{
    int64_t moment_ms = INT64_MIN;
    for (size_t i = 0; i < scan->entry_count; i++) {
        int64_t known_ms = scan_known_ms(scan, scan->entries[i].place);
        moment_ms = known_ms > moment_ms ? known_ms : moment_ms;
    }
    for (size_t i = 0; i < scan->fold->count; i++) {
        const struct read_event *read = &scan->fold->events[i];
        if (read->stands && read->event->type == EVENT_VOID &&
            gave_points(scan->fold->events[read->event->ref].event) &&
            scan->fold->bout->events[i].moment_ms > moment_ms)
            moment_ms = scan->fold->bout->events[i].moment_ms;
    }
    if (moment_ms != INT64_MIN)
        offer(best, AT_SCORE, moment_ms, scan_bout_time_at(scan, moment_ms), 0);
}

static void offer_break(struct reminding *best, const struct scan *scan)
{
    const struct state *state = scan->state;
    if (state->phase == PHASE_BREAK)
        offer(best, AT_BREAK, state->clock.used_up_ms, scan->now_bout_ms, 0);
}

static void offer_mark(struct reminding *best, struct scan *scan, enum occasion occasion,
                       int32_t left_ms)
{
    int32_t bout_ms = scan->state->clock.period * scan->details->period_ms - left_ms;
    if (scan->details->period_ms > left_ms && scan_bout_time_reached(scan, bout_ms))
        offer(best, occasion, scan_moment_at(scan, bout_ms), bout_ms, 0);
}

/* Every full minute of bout time since the last score, or since the bout began. */
static void offer_idle(struct reminding *best, struct scan *scan)
{
    int32_t from_ms = 0;
    int minutes = 0;
    for (size_t i = 0; i < scan->entry_count; i++)
        if (scan->entries[i].bout_ms > from_ms)
            from_ms = scan->entries[i].bout_ms;
    while (scan_bout_time_reached(scan, from_ms + (minutes + 1) * MINUTE_MS))
        minutes++;
    int32_t bout_ms = from_ms + minutes * MINUTE_MS;
    if (minutes > 0)
        offer(best, AT_IDLE, scan_moment_at(scan, bout_ms), bout_ms, minutes);
}

/* Any start of the clock but the bout's first. */
static void offer_restart(struct reminding *best, const struct scan *scan)
{
    for (size_t i = scan->run_count; i-- > 1;) {
        const struct run *run = &scan->runs[i];
        if (!run->started)
            continue;
        offer(best, AT_RESTART, run->from_ms, run->from_bout_ms, 0);
        return;
    }
}

/* Which of three phrases says who leads: by points, by a criterion, nobody. */
static enum phrase by_leader(const struct scan *scan, enum phrase by_points,
                             enum phrase by_criterion, enum phrase nobody)
{
    const struct leader *leader = &scan->state->leader;
    return leader->side == SIDE_NONE ? nobody : leader->by == BY_POINTS ? by_points : by_criterion;
}

static bool say(struct card *card, const struct scan *scan, const struct reminding *reminding)
{
    const struct leader *leader = &scan->state->leader;
    int period = period_of(scan, reminding->bout_ms);
    if (reminding->occasion == AT_BREAK || reminding->occasion == AT_MINUTE_LEFT ||
        reminding->occasion == AT_HALF_LEFT)
        period = scan->state->clock.period;
    int32_t left_ms = period * scan->details->period_ms - reminding->bout_ms;
    bool final = period == scan->details->periods;
    char score[SCORE_SIZE], time[TIME_SIZE];
    if (reminding->occasion == AT_BREAK)
        left_ms = scan_bout_length(scan) - scan->now_bout_ms;
    const struct fill fills[] = {
        {"S", .side = leader->side},
        {"score",
         .text = score_now(score, scan, leader->side != SIDE_NONE ? leader->side : SIDE_RED)},
        {"by", .word = WORD_CRITERION, .text = criterion_name(leader->by)},
        {"t", .text = text_left(left_ms, time)},
        {"period", .number = period},
        {"n", .number = reminding->minutes},
        {.key = NULL},
    };
    enum phrase leads = by_leader(scan, CARD_LEADS, CARD_LEADS_ON, CARD_NOBODY_LEADS);
    enum phrase mark = by_leader(scan, CARD_MARK_LEADS, CARD_MARK_LEADS_ON, CARD_MARK_NOBODY);
    enum phrase idle =
        by_leader(scan, CARD_NO_SCORE_LEADS, CARD_NO_SCORE_LEADS_ON, CARD_NO_SCORE_NOBODY);
    switch (reminding->occasion) {
    case AT_SCORE:
    case AT_RESTART:
        return card_say(card, scan, leads, CARD_TIME_LEFT, fills);
    case AT_BREAK:
        return card_say(card, scan, leads, CARD_AFTER_PERIOD, fills);
    case AT_MINUTE_LEFT:
        return card_say(card, scan, final ? CARD_MINUTE_LEFT : CARD_MINUTE_LEFT_OF, mark, fills);
    case AT_HALF_LEFT:
        return card_say(card, scan, final ? CARD_HALF_LEFT : CARD_HALF_LEFT_OF, mark, fills);
    case AT_IDLE:
        return card_say(card, scan,
                        reminding->minutes == 1 ? CARD_NO_SCORE_MINUTE : CARD_NO_SCORE_MINUTES,
                        idle, fills);
    case AT_NOTHING:
        break;
    }
    return false;
}

/* Of the bout, not of a side: said once, for red. */
bool reminder(struct scan *scan, enum side side, struct card *card)
{
    struct reminding best = {.occasion = AT_NOTHING};
    if (side != SIDE_RED || scan->run_count == 0)
        return false;
    offer_score(&best, scan);
    offer_break(&best, scan);
    offer_mark(&best, scan, AT_HALF_LEFT, HALF_MS);
    offer_mark(&best, scan, AT_MINUTE_LEFT, MINUTE_MS);
    offer_idle(&best, scan);
    offer_restart(&best, scan);
    if (best.occasion == AT_NOTHING ||
        (best.occasion != AT_BREAK && scan_moment_reached(scan, best.moment_ms + REMINDED_MS)))
        return false;
    if (scan->entry_count > 0)
        card_rests_on(card, scan, scan->entries[scan->entry_count - 1].place);
    card->since_ms = best.moment_ms;
    return say(card, scan, &best);
}
