/* Cards that rest on the archive: counts of earlier bouts, each with its base. Never a chance, and
 * nothing on fewer than five bouts where a share is told. */
#include "prompts/rule.h"
#include "stats/account.h"

enum { BOUTS_LEAST = 5, MEETINGS_TOLD = 1 };

static const struct past_side *past_of(const struct scan *scan, enum side side)
{
    return &scan->past->sides[side_index(side)];
}

static bool is_late_score(const struct scan *scan, const struct entry *entry)
{
    const struct read_event *read = &scan->fold->events[entry->place];
    return entry->event->type == EVENT_SCORE &&
           scan->details->period_ms - read->t_ms <= ACCOUNT_LATE_MS;
}

/* 32: scores in the last thirty seconds of periods, in two of today's bouts or more. */
bool late_scorer(struct scan *scan, enum side side, struct card *card)
{
    int own = 0;
    if (scan->past == NULL || past_of(scan, side)->late_bouts == 0)
        return false;
    for (size_t i = 0; i < scan->entry_count; i++) {
        if (scan->entries[i].side != side || !is_late_score(scan, &scan->entries[i]))
            continue;
        own++;
        card_rests_on(card, scan, scan->entries[i].place);
    }
    int scores = past_of(scan, side)->late_scores + own;
    int bouts = past_of(scan, side)->late_bouts + (own > 0 ? 1 : 0);
    card_figure(card, "scores", scores);
    card_figure(card, "bouts", bouts);
    return bouts > 1 && card_say(card, scan, CARD_LATE_SCORER, CARD_LATE_SCORER_LINE,
                                 FILLS({"n", .number = scores}, {"m", .number = bouts}));
}

/* 33: it has scored first; what came of that in the archive. */
bool first_score(struct scan *scan, enum side side, struct card *card)
{
    if (scan->past == NULL || scan->entry_count == 0 || scan->entries[0].side != side)
        return false;
    struct past_share share = past_of(scan, side)->scored_first;
    if (share.bouts < BOUTS_LEAST)
        return false;
    card_rests_on(card, scan, scan->entries[0].place);
    card_figure(card, "bouts", share.bouts);
    card_figure(card, "won", share.won);
    return card_say(
        card, scan, CARD_FIRST_SCORE, CARD_FIRST_SCORE_LINE,
        FILLS({"k", .number = share.won}, {"n", .number = share.bouts}, {"S", .side = side}));
}

/* The full minute that is nearest; 0: none yet. */
static int nearest_minute(struct scan *scan)
{
    int minutes = 0;
    while ((minutes + 1) * ACCOUNT_MINUTE_MS < scan_bout_length(scan) &&
           scan_bout_time_reached(scan, minutes * ACCOUNT_MINUTE_MS + ACCOUNT_MINUTE_MS / 2))
        minutes++;
    return minutes;
}

static const struct past_position *position_of(const struct past *past, int minutes, int behind)
{
    for (size_t i = 0; i < past->position_count; i++)
        if (past->positions[i].minutes == minutes && past->positions[i].behind == behind)
            return &past->positions[i];
    return NULL;
}

/* 40: behind, where others were before: how many of them won. */
bool came_back(struct scan *scan, enum side side, struct card *card)
{
    const struct tally *sides = scan->state->all.sides;
    int behind = sides[side_index(side_other(side))].points - sides[side_index(side)].points;
    if (scan->past == NULL || scan->state->leader.side != side_other(side))
        return false;
    int minutes = nearest_minute(scan);
    const struct past_position *position = position_of(scan->past, minutes, behind);
    if (position == NULL || position->share.bouts < BOUTS_LEAST)
        return false;
    if (scan->entry_count > 0)
        card_rests_on(card, scan, scan->entries[scan->entry_count - 1].place);
    card_since(card, scan, minutes * ACCOUNT_MINUTE_MS - ACCOUNT_MINUTE_MS / 2);
    card_figure(card, "bouts", position->share.bouts);
    card_figure(card, "won", position->share.won);
    return card_say(
        card, scan, CARD_CAME_BACK, behind == 0 ? CARD_CAME_BACK_LEVEL : CARD_CAME_BACK_LINE,
        FILLS({"k", .number = position->share.won}, {"n", .number = position->share.bouts},
              {"p", .number = behind}, {"m", .number = minutes}));
}

/* 41: who has won more of the bouts between the two, and how the last one ended. Told of red where
 * it is equal. */
bool met_before(struct scan *scan, enum side side, struct card *card)
{
    if (scan->past == NULL || scan->past->meetings.bouts < MEETINGS_TOLD)
        return false;
    const struct past_meetings *met = &scan->past->meetings;
    int own = met->won[side_index(side)], other = met->won[side_index(side_other(side))];
    if (own < other || (own == other && side == SIDE_BLUE))
        return false;
    char score[SCORE_SIZE];
    bool ended = met->last_winner != SIDE_NONE && met->last_how != NULL;
    enum side first = ended ? met->last_winner : side;
    card_figure(card, "bouts", met->bouts);
    card_figure(card, "won", own);
    return card_say(card, scan, CARD_MET_BEFORE,
                    ended ? CARD_MET_BEFORE_LINE : CARD_MET_BEFORE_PLAIN,
                    FILLS({"k", .number = own}, {"n", .number = met->bouts}, {"S", .side = first},
                          {"score", .text = score_of(score, met->last_points, first)},
                          {"how", .word = WORD_ENDING, .text = ended ? met->last_how : ""}));
}
