/* Cards beyond one action (stats/chase.h): what the side behind needs, whether its own rate is
 * enough for the time left, and what closes the bout. What one action alone makes of it is told by
 * score_rules.c. */
#include <stdio.h>
#include "prompts/rule.h"
#include "stats/chase.h"

enum {
    VALUES_SIZE = 5 * CHASE_ACTIONS_MAX,
    SAFE_WORTH = 2, /* a takedown or a turn: what would take a throw isn't worth saying */
};

static const struct entry *last_entry(const struct scan *scan)
{
    return scan->entry_count > 0 ? &scan->entries[scan->entry_count - 1] : NULL;
}

static void rests_on_last(struct card *card, const struct scan *scan)
{
    if (last_entry(scan) != NULL)
        card_rests_on(card, scan, last_entry(scan)->place);
}

static bool is_behind(const struct scan *scan, enum side side)
{
    return scan->state->leader.side == side_other(side);
}

/* "4 + 2" */
static const char *values_of(char text[VALUES_SIZE], const struct chase_way *way)
{
    size_t length = 0;
    text[0] = '\0';
    for (int i = 0; i < way->actions; i++)
        length += (size_t)snprintf(text + length, VALUES_SIZE - length, "%s%d", i > 0 ? " + " : "",
                                   way->values[i]);
    return text;
}

/* The bout once the way was gone. */
static struct tallies tallies_after(const struct state *state, enum side side,
                                    const struct chase_way *way)
{
    struct tallies tallies = state->all;
    for (int i = 0; i < way->actions; i++)
        tallies = tallies_with(&tallies, side, way->values[i]);
    return tallies;
}

static const char *score_after(char text[SCORE_SIZE], const struct tallies *tallies, enum side side)
{
    return score_of(text, (const int[2]){tallies->sides[0].points, tallies->sides[1].points}, side);
}

/* 37: behind, and no single action is enough. */
bool actions_needed(struct scan *scan, enum side side, struct card *card)
{
    char values[VALUES_SIZE], score[SCORE_SIZE];
    if (!is_behind(scan, side) || scan_left_at_most(scan, 5000))
        return false;
    struct chase_way way = chase_fewest(scan->state, side);
    if (way.actions < 2)
        return false;
    struct tallies tallies = tallies_after(scan->state, side, &way);
    struct leader leader = leader_of(scan->edition, &tallies);
    rests_on_last(card, scan);
    return card_say(
        card, scan, CARD_ACTIONS, leader.by == BY_POINTS ? CARD_ACTIONS_LINE : CARD_ACTIONS_ON,
        FILLS({"n", .number = way.actions}, {"values", .text = values_of(values, &way)},
              {"score", .text = score_after(score, &tallies, side)}, {"S", .side = side},
              {"by", .word = WORD_CRITERION, .text = criterion_name(leader.by)}));
}

/* The last of the moments at which the pace is told: so much is left then. 0: none has come. */
static int32_t mark_left_ms(struct scan *scan)
{
    static const int32_t marks_ms[] = {60000, 120000};
    for (size_t i = 0; i < sizeof marks_ms / sizeof *marks_ms; i++)
        if (scan_bout_length(scan) > 2 * marks_ms[i] && scan_left_at_most(scan, marks_ms[i]))
            return marks_ms[i];
    return 0;
}

/* 38: the points that lead, against its own in the time gone, with two minutes and with one left.
 */
bool pace(struct scan *scan, enum side side, struct card *card)
{
    char gone[TIME_SIZE], left[TIME_SIZE];
    int32_t left_ms = is_behind(scan, side) ? mark_left_ms(scan) : 0;
    if (left_ms == 0)
        return false;
    int32_t gone_ms = scan_bout_length(scan) - left_ms;
    int points = scan->state->all.sides[side_index(side)].points;
    struct chase_way least = chase_least(scan->state, side);
    if (least.points < 2) /* one point is told by others */
        return false;
    bool enough = chase_pace(points, least.points, gone_ms, left_ms) == PACE_ENOUGH;
    rests_on_last(card, scan);
    card_since(card, scan, gone_ms);
    return card_say(card, scan, CARD_PACE, enough ? CARD_PACE_ENOUGH : CARD_PACE_SHORT,
                    FILLS({"n", .number = least.points}, {"p", .number = points},
                          {"left", .text = text_left(left_ms, left)},
                          {"gone", .text = text_gone(gone_ms, gone)}));
}

/* Nothing that the other does in one action turns it; and what is left to do for either. */
static bool say_is_safe(struct scan *scan, enum side side, struct card *card)
{
    char score[SCORE_SIZE];
    int others = chase_fewest(scan->state, side_other(side)).actions;
    struct chase_way superior = chase_superior(scan->state, side);
    enum phrase line = others > 1 && superior.actions == 1 ? CARD_SAFE_BOTH
                       : others > 1                        ? CARD_SAFE_LINE
                                                           : CARD_SAFE_PLAIN;
    rests_on_last(card, scan);
    return card_say(card, scan, CARD_SAFE, line,
                    FILLS({"S", .side = side}, {"O", .side = side_other(side)},
                          {"score", .text = score_now(score, scan, side)}, {"n", .number = others},
                          {"v", .number = superior.values[0]}));
}

/* One more action makes it superiority, or, where that takes fewer points, safe. */
static bool say_one_closes(struct scan *scan, enum side side, struct card *card)
{
    char score[SCORE_SIZE];
    struct chase_way superior = chase_superior(scan->state, side);
    struct chase_way safe = chase_safe(scan->state, side);
    bool ends = superior.actions == 1 && superior.points <= safe.points;
    const struct chase_way *way = ends ? &superior : &safe;
    if (way->actions != 1 || (!ends && way->points > SAFE_WORTH))
        return false;
    struct tallies tallies = tallies_after(scan->state, side, way);
    rests_on_last(card, scan);
    return card_say(card, scan, ends ? CARD_ENDS_IT : CARD_SAFE_WITH,
                    ends ? CARD_ENDS_IT_LINE : CARD_SAFE_WITH_LINE,
                    FILLS({"v", .number = way->values[0]},
                          {"score", .text = score_after(score, &tallies, side)},
                          {"O", .side = side_other(side)}));
}

/* 39: ahead, and the lead is one that no single action turns, or one more action closes the bout.
 */
bool closes(struct scan *scan, enum side side, struct card *card)
{
    if (scan->state->leader.side != side || last_entry(scan) == NULL)
        return false;
    return chase_is_safe(scan->state, side) ? say_is_safe(scan, side, card)
                                            : say_one_closes(scan, side, card);
}
