/* While a challenge is open: the rulings that most often come of it, each with its score, leader
 * and ending. Nothing else is said meanwhile. All of them, the rarer ones too, are rulings_told. */
#include <string.h>
#include "prompts/rule.h"
#include "stats/rulings.h"

/* What the ruling is. */
static enum phrase headline_of(const struct ruling *ruling)
{
    bool given = ruling->given > 0;
    if (ruling->kind == RULING_LOST)
        return CARD_IF_LOST;
    if (ruling->kind == RULING_NOTHING)
        return CARD_IF_NOTHING;
    if (ruling->value == RULING_STAYS)
        return CARD_IF_GIVEN;
    return ruling->value == 0 ? (given ? CARD_IF_OUT_GIVEN : CARD_IF_OUT)
                              : (given ? CARD_IF_VALUE_GIVEN : CARD_IF_VALUE);
}

/* The same, where the points change sides. */
static enum phrase turned_headline(const struct ruling *ruling)
{
    return ruling->given > 0 ? CARD_IF_TURNED_GIVEN : CARD_IF_TURNED;
}

/* What the bout is then. */
static enum phrase line_of(const struct ruling *ruling)
{
    bool on = ruling->leader.side != SIDE_NONE && ruling->leader.by != BY_POINTS;
    switch (ruling->due) {
    case DUE_SUPERIORITY:
        return CARD_THEN_SUPERIORITY;
    case DUE_CAUTIONS:
        return CARD_THEN_CAUTIONS;
    case DUE_TIME:
        return ruling->leader.side == SIDE_NONE ? CARD_THEN_TIME_NOBODY
               : on                             ? CARD_THEN_TIME_ON
                                                : CARD_THEN_TIME;
    case DUE_NOTHING:
        break;
    }
    return ruling->leader.side == SIDE_NONE ? CARD_THEN_NOBODY
           : on                             ? CARD_THEN_ON
                                            : CARD_THEN_LEADS;
}

/* Whose points they were. */
static enum side giver_of(const struct scan *scan, const struct challenged *challenged)
{
    return challenged->target == EVENT_NONE
               ? SIDE_NONE
               : (enum side)scan->fold->events[challenged->target].giver;
}

static bool say(struct card *card, const struct scan *scan, const struct challenged *challenged,
                const struct ruling *ruling)
{
    char score[SCORE_SIZE];
    enum side leader = ruling->leader.side != SIDE_NONE ? ruling->leader.side : SIDE_RED;
    bool turned = ruling->value > 0 && ruling->side != giver_of(scan, challenged);
    card_rests_on(card, scan, challenged->place);
    if (challenged->target != EVENT_NONE)
        card_rests_on(card, scan, challenged->target);
    return card_say(
        card, scan, turned ? turned_headline(ruling) : headline_of(ruling), line_of(ruling),
        FILLS({"score", .text = score_of(score, ruling->points, leader)},
              {"v", .number = ruling->value}, {"g", .number = ruling->given}, {"S", .side = leader},
              {"C", .side = challenged->side}, {"O", .side = side_other(challenged->side)},
              {"by", .word = WORD_CRITERION, .text = criterion_name(ruling->leader.by)}));
}

static const struct ruling *find(const struct ruling *rulings, size_t count, int value,
                                 enum side side, int given)
{
    for (size_t i = 0; i < count; i++)
        if (rulings[i].kind == RULING_UPHELD && rulings[i].value == value &&
            rulings[i].side == side && rulings[i].given == given)
            return &rulings[i];
    return NULL;
}

/* The next value of the edition, down or up; 0: there is none. */
static int value_beside(const struct edition *edition, int value, int step)
{
    do
        value += step;
    while (value > 0 && value <= EDITION_VALUE_MAX && !edition->values[value]);
    return value > 0 && value <= EDITION_VALUE_MAX ? value : 0;
}

/* What the challenger most often gets, first and second: points of the other side taken out, or of
 * less value; own points of more; and where none were given, some. NULL: there is no such ruling.
 */
static const struct ruling *likely(const struct scan *scan, const struct challenged *challenged,
                                   const struct ruling *rulings, size_t count, int number)
{
    enum side giver = giver_of(scan, challenged);
    bool scored = giver != SIDE_NONE && scan->fold->events[challenged->target].gives_points;
    int points = scored ? scan->fold->events[challenged->target].event->points : 0;
    if (scored && giver == challenged->side) {
        int more = value_beside(scan->edition, points, 1);
        return find(rulings, count,
                    number == 1 || more == 0 ? more : value_beside(scan->edition, more, 1), giver,
                    0);
    }
    if (giver != SIDE_NONE && (number == 1 || !scored))
        return number == 1 ? find(rulings, count, 0, SIDE_NONE, 0) : NULL;
    if (scored) {
        int less = value_beside(scan->edition, points, -1);
        return less > 0 ? find(rulings, count, less, giver, 0)
                        : find(rulings, count, points, challenged->side, 0);
    }
    return find(rulings, count, RULING_STAYS, SIDE_NONE, number == 1 ? 2 : 1);
}

static bool show(struct scan *scan, enum side side, struct card *card, int number)
{
    struct ruling rulings[RULINGS_MAX];
    struct challenged challenged = challenged_of(scan->state);
    size_t count = rulings_of(scan->state, rulings);
    const struct ruling *ruling = NULL;
    if (count == 0)
        return false;
    if (number == 0)
        ruling = side == challenged.side ? &rulings[0] : NULL;
    else if (side == (number == 1 ? challenged.side : side_other(challenged.side)))
        ruling = likely(scan, &challenged, rulings, count, number);
    return ruling != NULL && say(card, scan, &challenged, ruling);
}

/* 42: the challenge is lost; told of the bout. */
bool ruling_lost(struct scan *scan, enum side side, struct card *card)
{
    return show(scan, side, card, 0);
}

/* 43: upheld, as it most often is; in the challenger's place. */
bool ruling_upheld(struct scan *scan, enum side side, struct card *card)
{
    return show(scan, side, card, 1);
}

/* 44: upheld in the next likely way; in the other's place. */
bool ruling_or(struct scan *scan, enum side side, struct card *card)
{
    return show(scan, side, card, 2);
}

size_t rulings_told(const struct language *language, const struct state *state,
                    struct told_ruling told[RULINGS_MAX])
{
    struct scan scan;
    struct ruling rulings[RULINGS_MAX];
    struct challenged challenged = challenged_of(state);
    size_t count = rulings_of(state, rulings);
    if (count == 0)
        return 0;
    scan_take(&scan, language, state);
    for (size_t i = 0; i < count; i++) {
        told[i] = (struct told_ruling){.ruling = rulings[i]};
        struct card card = {.since_ms = INT64_MIN};
        say(&card, &scan, &challenged, &rulings[i]);
        memcpy(told[i].headline, card.headline, sizeof card.headline);
        memcpy(told[i].line, card.line, sizeof card.line);
    }
    return count;
}
