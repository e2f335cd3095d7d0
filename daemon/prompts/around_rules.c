/* Cards of what stands around the bout: who the two are, what the result means, the other mats; and
 * summaries. They are for the time in which nothing is wrestled: between the call and the start, in
 * the break, in a long stoppage, and after the result. */
#include <string.h>
#include "prompts/rule.h"

enum {
    LONG_MS = 20000, /* a stoppage in which there is time for more than the call */
    UPSET_MS = 600000,
    STEP_MS = 5 * 60000, /* starts are told so exactly */
    STEPS_MAX = 12,
};

/* Since when nothing has been wrestled; INT64_MIN: there is no such time now. */
static int64_t waits_since(struct scan *scan)
{
    const struct run *last = scan->run_count > 0 ? &scan->runs[scan->run_count - 1] : NULL;
    switch (scan->state->phase) {
    case PHASE_CALLED:
        return scan_known_ms(scan, 0);
    case PHASE_CLOSED:
        return scan_known_ms(scan, scan->fold->close);
    case PHASE_BREAK:
        return last != NULL ? last->to_ms : INT64_MIN;
    case PHASE_STOPPED:
        if (last == NULL || last->going || !scan_moment_reached(scan, last->to_ms + LONG_MS))
            return INT64_MIN;
        return last->to_ms + LONG_MS;
    case PHASE_OFF:
    case PHASE_OVER:
    case PHASE_LIVE:
        break;
    }
    return INT64_MIN;
}

/* The card is for this time: it rests on the call, or on the result. False: it isn't. */
static bool begins(struct scan *scan, struct card *card)
{
    int64_t since_ms = waits_since(scan);
    if (since_ms == INT64_MIN)
        return false;
    card_rests_on(card, scan, scan->state->phase == PHASE_CLOSED ? scan->fold->close : 0);
    card->since_ms = since_ms;
    return true;
}

static const struct around_side *around_of(const struct scan *scan, enum side side)
{
    return scan->around != NULL ? &scan->around->sides[side_index(side)] : NULL;
}

/* ---- who they are ---- */

/* 45: a fact that the commentator wrote, and the seed. The second fact in a pause, where there is
 * one: the first has been said. */
bool who(struct scan *scan, enum side side, struct card *card)
{
    const struct around_side *own = around_of(scan, side);
    if (own == NULL || (own->fact_count == 0 && own->seed == 0) || !begins(scan, card))
        return false;
    size_t place = scan->state->phase != PHASE_CALLED && own->fact_count > 1 ? 1 : 0;
    bool fact = own->fact_count > 0;
    const struct fill fills[] = {{"S", .side = side},
                                 {"n", .number = own->seed},
                                 {"fact", .given = fact ? own->facts[place] : ""},
                                 {.key = NULL}};
    enum phrase line = fact ? CARD_ABOUT_FACT : CARD_ABOUT_NO_FACT;
    if (own->seed > 0)
        return card_say_or(card, scan, CARD_ABOUT_SEED, CARD_ABOUT_SEED_SPARE, line, fills);
    return card_say_or(card, scan, CARD_ABOUT, CARD_ABOUT_SPARE, line, fills) &&
           card->line[0] != '\0';
}

/* 46: their bouts of the day before this one. */
bool way_here(struct scan *scan, enum side side, struct card *card)
{
    const struct around_side *own = around_of(scan, side);
    char score[SCORE_SIZE];
    if (own == NULL || own->won + own->lost == 0 || own->last.how == NULL || !begins(scan, card))
        return false;
    card_figure(card, "won", own->won);
    card_figure(card, "lost", own->lost);
    return card_say(card, scan, CARD_WAY, own->last.won ? CARD_WAY_WON : CARD_WAY_LOST,
                    FILLS({"k", .number = own->won}, {"m", .number = own->lost},
                          {"against", .given = own->last.against},
                          {"score", .text = score_of(score, own->last.points, SIDE_RED)},
                          {"how", .word = WORD_ENDING, .text = own->last.how}));
}

/* ---- what the result means ---- */

/* 47: where the draw sends the winner, and the loser. */
bool decides(struct scan *scan, enum side side, struct card *card)
{
    const struct around *around = scan->around;
    if (around == NULL || side != SIDE_RED || !around->winner_to.known ||
        around->winner_to.stage == NULL || !begins(scan, card))
        return false;
    const struct around_next *winner = &around->winner_to, *loser = &around->loser_to;
    enum phrase line = winner->against != NULL                ? CARD_DECIDES_AGAINST
                       : loser->known && loser->stage != NULL ? CARD_DECIDES_LOSER
                                                              : CARD_DECIDES_OPEN;
    return card_say(card, scan, CARD_DECIDES, line,
                    FILLS({"stage", .given = winner->stage},
                          {"against", .given = winner->against != NULL ? winner->against : ""},
                          {"loser", .given = loser->stage != NULL ? loser->stage : ""}));
}

/* In how many minutes at most, in fives; 0: it may begin now. */
static int minutes_until(struct scan *scan, int64_t at_ms)
{
    int steps = 0;
    while (steps < STEPS_MAX && !scan_moment_reached(scan, at_ms - steps * (int64_t)STEP_MS))
        steps++;
    return steps * (STEP_MS / 60000);
}

static bool say_next(struct card *card, struct scan *scan, enum side side,
                     const struct around_next *next)
{
    int minutes = next->from_ms != 0 ? minutes_until(scan, next->from_ms) : 0;
    enum phrase line = next->against == NULL ? minutes > 0 ? CARD_NEXT_IN : CARD_NEXT_OPEN
                       : minutes > 0         ? CARD_NEXT_AGAINST_IN
                                             : CARD_NEXT_AGAINST;
    return card_say_or(
        card, scan, next->stage != NULL ? CARD_NEXT_STAGE : CARD_NEXT, CARD_NEXT_SPARE, line,
        FILLS({"S", .side = side}, {"stage", .given = next->stage != NULL ? next->stage : ""},
              {"against", .given = next->against != NULL ? next->against : ""},
              {"n", .number = minutes}));
}

static bool say_place(struct card *card, const struct scan *scan, enum side side, int place)
{
    static const enum phrase medals[] = {CARD_PLACE, CARD_GOLD, CARD_SILVER, CARD_BRONZE};
    return card_say(card, scan, medals[place < 4 ? place : 0], CARD_PLACE_LINE,
                    FILLS({"S", .side = side}, {"n", .number = place}));
}

/* 48: the next bout of each, or the place that is decided. */
bool comes_next(struct scan *scan, enum side side, struct card *card)
{
    const struct around_side *own = around_of(scan, side);
    if (own == NULL || (!own->next.known && own->place == 0) || !begins(scan, card))
        return false;
    return own->next.known ? say_next(card, scan, side, &own->next)
                           : say_place(card, scan, side, own->place);
}

/* 49: the day of the winner's team, this result counted. */
bool team_day(struct scan *scan, enum side side, struct card *card)
{
    const struct around_side *own = around_of(scan, side);
    if (own == NULL || own->team.name == NULL || side != scan->state->result.winner ||
        own->team.won == 0 || !begins(scan, card))
        return false;
    bool first = own->team.won == 1;
    card_figure(card, "won", own->team.won);
    card_figure(card, "lost", own->team.lost);
    return card_say_or(card, scan, first ? CARD_TEAM_FIRST : CARD_TEAM, CARD_TEAM_SPARE,
                       own->team.place > 0 ? CARD_TEAM_LINE : CARD_TEAM_PLAIN,
                       FILLS({"team", .given = own->team.name}, {"k", .number = own->team.won},
                             {"m", .number = own->team.lost}, {"n", .number = own->team.place},
                             {"p", .number = own->team.points}));
}

/* ---- elsewhere ---- */

/* The one that is of most interest: a bout that goes on, the closer the better. */
static const struct around_mat *mat_of_interest(const struct around *around)
{
    const struct around_mat *best = NULL;
    int least = 0;
    for (size_t i = 0; i < around->mat_count; i++) {
        const struct around_mat *mat = &around->mats[i];
        int margin = mat->points[0] - mat->points[1];
        int cost = (margin < 0 ? -margin : margin) + (mat->how != NULL ? 100 : 0);
        if (best != NULL && cost >= least)
            continue;
        best = mat;
        least = cost;
    }
    return best;
}

/* 50: the score of another mat. */
bool other_mat(struct scan *scan, enum side side, struct card *card)
{
    const struct around_mat *mat = scan->around != NULL ? mat_of_interest(scan->around) : NULL;
    char score[SCORE_SIZE];
    if (mat == NULL || side != SIDE_RED || !begins(scan, card))
        return false;
    enum side first = mat->leader != SIDE_NONE ? mat->leader : SIDE_RED;
    enum phrase line = mat->leader == SIDE_NONE ? CARD_MAT_LEVEL
                       : mat->how != NULL       ? CARD_MAT_WON
                                                : CARD_MAT_LEADS;
    card->bout = mat->bout;
    return card_say(card, scan, CARD_MAT, line,
                    FILLS({"mat", .given = mat->mat},
                          {"score", .text = score_of(score, mat->points, first)},
                          {"one", .given = mat->names[side_index(first)]},
                          {"other", .given = mat->names[side_index(side_other(first))]},
                          {"how", .word = WORD_ENDING, .text = mat->how != NULL ? mat->how : ""}));
}

/* 51: somebody seeded has lost to somebody seeded behind them, or not at all. */
bool upset(struct scan *scan, enum side side, struct card *card)
{
    const struct around_upset *found = scan->around != NULL ? &scan->around->upset : NULL;
    char score[SCORE_SIZE];
    if (found == NULL || found->bout == NULL || side != SIDE_RED ||
        scan_moment_reached(scan, found->at_ms + UPSET_MS) || !begins(scan, card))
        return false;
    card->bout = found->bout;
    card_figure(card, "seed", found->loser_seed);
    return card_say(card, scan, CARD_UPSET, CARD_UPSET_LINE,
                    FILLS({"n", .number = found->loser_seed}, {"winner", .given = found->winner},
                          {"loser", .given = found->loser},
                          {"score", .text = score_of(score, found->points, SIDE_RED)},
                          {"how", .word = WORD_ENDING, .text = found->how}));
}

/* 52: the next bout of this mat, and when. */
bool next_here(struct scan *scan, enum side side, struct card *card)
{
    const struct around *around = scan->around;
    if (around == NULL || side != SIDE_RED || around->next_here.names[0] == NULL ||
        !begins(scan, card))
        return false;
    int minutes =
        around->next_here.from_ms != 0 ? minutes_until(scan, around->next_here.from_ms) : 0;
    return card_say(
        card, scan, CARD_NEXT_HERE, minutes > 0 ? CARD_NEXT_HERE_IN : CARD_NEXT_HERE_LINE,
        FILLS({"one", .given = around->next_here.names[0]},
              {"other", .given = around->next_here.names[1]}, {"n", .number = minutes}));
}

/* ---- summaries ---- */

struct count {
    const char *technique;
    int tried, scored;
};

static struct count count_of(const struct scan *scan, enum side side, const char *technique)
{
    struct count count = {technique, 0, 0};
    for (size_t i = 0; i < scan->try_count; i++) {
        const struct try *try = &scan->tries[i];
        if (try->side != side || !try_counts(try) || (technique != NULL && try->first != technique))
            continue;
        count.tried++;
        count.scored += try->class == ATTACK_HAS_SCORED ? 1 : 0;
    }
    return count;
}

static struct count most_tried(const struct scan *scan, enum side side)
{
    struct count most = {NULL, 0, 0};
    for (size_t i = 0; i < scan->try_count; i++) {
        if (scan->tries[i].side != side || scan->tries[i].first == NULL)
            continue;
        struct count count = count_of(scan, side, scan->tries[i].first);
        if (count.tried > most.tried)
            most = count;
    }
    return most;
}

/* 53: the side's attempts of the bout so far; with the one tried most, where it was tried twice. */
bool so_far(struct scan *scan, enum side side, struct card *card)
{
    struct count all = count_of(scan, side, NULL), most = most_tried(scan, side);
    if (all.tried < 2 || waits_since(scan) == INT64_MIN)
        return false;
    for (size_t i = 0; i < scan->try_count; i++)
        if (scan->tries[i].side == side && try_counts(&scan->tries[i]))
            card_rests_on_try(card, scan, &scan->tries[i]);
    card->since_ms = waits_since(scan);
    bool told = most.tried > 1 && most.tried < all.tried && !scan->greco;
    return card_say(card, scan, CARD_SO_FAR, told ? CARD_SO_FAR_MOST : CARD_SO_FAR_LINE,
                    FILLS({"S", .side = side}, {"k", .number = all.scored},
                          {"n", .number = all.tried}, {"i", .number = most.scored},
                          {"j", .number = most.tried},
                          {"technique", .word = WORD_TECHNIQUE,
                           .text = most.technique != NULL ? most.technique : ""}));
}

static void points_of_period(const struct scan *scan, int period, int points[2])
{
    points[0] = points[1] = 0;
    for (size_t i = 0; i < scan->entry_count; i++) {
        const struct entry *entry = &scan->entries[i];
        if (scan->fold->events[entry->place].period == period)
            points[side_index(entry->side)] += entry->event->points;
    }
}

/* Whether the score says how it was won. */
static bool is_by_score(const char *how)
{
    return strcmp(how, "points") == 0 || strcmp(how, "superiority") == 0;
}

static enum phrase summary_line(const struct scan *scan)
{
    const struct tally *sides = scan->state->all.sides;
    if (!is_by_score(scan->state->result.how))
        return scan->run_count == 0 ? CARD_SUMMARY_NO_BOUT : CARD_SUMMARY_THEN;
    if (sides[0].points == sides[1].points && scan->state->leader.side != SIDE_NONE)
        return CARD_SUMMARY_ON;
    return scan->state->result.period > 1 ? CARD_SUMMARY_LATER : CARD_SUMMARY_LINE;
}

/* 54: the result, how, and when. Where the headline has no room for how, the line says it. */
bool summary(struct scan *scan, enum side side, struct card *card)
{
    const struct result *result = &scan->state->result;
    char score[SCORE_SIZE], first[SCORE_SIZE], time[TIME_SIZE];
    int points[2];
    if (side != result->winner || result->how == NULL || !begins(scan, card))
        return false;
    points_of_period(scan, 1, points);
    const struct fill fills[] = {
        {"S", .side = side},
        {"score", .text = score_now(score, scan, side)},
        {"how", .word = WORD_ENDING, .text = result->how},
        {"by", .word = WORD_CRITERION, .text = criterion_name(scan->state->leader.by)},
        {"t", .text = text_gone(result->time_ms, time)},
        {"first", .text = score_of(first, points, side)},
        {.key = NULL},
    };
    enum phrase headline = is_by_score(result->how) ? CARD_SUMMARY : CARD_SUMMARY_WINS;
    return card_say(card, scan, headline, summary_line(scan), fills) ||
           card_say(card, scan, CARD_SUMMARY_SPARE, CARD_SUMMARY_HOW, fills);
}
