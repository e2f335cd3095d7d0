/* Cards on the points: how they came, what one more would make of the bout. */
#include <string.h>
#include "prompts/rule.h"

enum {
    INTO_THE_TURN_MS = 15000, /* from a takedown to the turn */
    NO_TURN_MS = 10000,       /* so long after a takedown the turn is given time */
    PAR_TERRE_MS = 30000,     /* so long after a passivity points come from its par terre */
    WITHOUT_REPLY_POINTS = 6,
    TURNS_IN_SIGHT = 3, /* more turns than these to superiority aren't worth counting */
    MINUTE_MS = 60000,
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

static int points(const struct scan *scan, enum side side)
{
    return scan->state->all.sides[side_index(side)].points;
}

static const struct needs *needs(const struct scan *scan, enum side side)
{
    return &scan->state->needs[side_index(side)];
}

/* 13: the other side out of bounds, twice or more. */
bool step_outs(struct scan *scan, enum side side, struct card *card)
{
    int count = 0, each = 0;
    for (size_t i = 0; i < scan->entry_count; i++) {
        const struct entry *entry = &scan->entries[i];
        if (!entry_is(entry, side, "step_out"))
            continue;
        count++;
        each = entry->event->points;
        card_rests_on(card, scan, entry->place);
    }
    int fleeing = scan_caution_points(scan, "fleeing_mat", 0);
    return count >= 2 &&
           card_say(card, scan, CARD_STEP_OUTS,
                    fleeing > 0 ? CARD_STEP_OUTS_LINE : CARD_STEP_OUTS_PLAIN,
                    FILLS({"n", .number = count}, {"p", .number = each}, {"f", .number = fleeing}));
}

/* A takedown and then a turn within the time, in one spell. */
static bool has_takedown_turn(const struct scan *scan, const struct spell *spell, enum side side)
{
    const struct entry *entries = &scan->entries[spell->first];
    for (size_t i = 0; i < spell->count; i++)
        for (size_t j = i + 1; entry_is(&entries[i], side, "takedown") && j < spell->count; j++)
            if (entry_is(&entries[j], side, "exposure") &&
                entries[j].bout_ms - entries[i].bout_ms <= INTO_THE_TURN_MS)
                return true;
    return false;
}

static void rests_on_spell(struct card *card, const struct scan *scan, const struct spell *spell)
{
    for (size_t i = 0; i < spell->count; i++)
        card_rests_on(card, scan, scan->entries[spell->first + i].place);
}

/* 14: taken down and turned in one go. */
bool takedown_turn(struct scan *scan, enum side side, struct card *card)
{
    struct spell spell = scan_spell(scan, side);
    rests_on_spell(card, scan, &spell);
    return spell.count >= 2 && has_takedown_turn(scan, &spell, side) &&
           card_say(card, scan, CARD_TAKEDOWN_TURN, CARD_SPELL_LINE,
                    FILLS({"p", .number = spell.points}));
}

/* 15: two turns or more, and still on top. */
bool turn_after_turn(struct scan *scan, enum side side, struct card *card)
{
    struct spell spell = scan_spell(scan, side);
    if (spell.exposures < 2 || !scan_on_top(scan, side))
        return false;
    rests_on_spell(card, scan, &spell);
    int missing = needs(scan, side)->to_superiority, turns = (missing + 1) / 2;
    bool in_sight =
        missing > 0 && turns <= TURNS_IN_SIGHT && edition_has_action(scan->edition, 2, "exposure");
    if (!in_sight)
        return card_say(card, scan, CARD_TURNS, CARD_SPELL_LINE,
                        FILLS({"n", .number = spell.exposures}, {"p", .number = spell.points}));
    return card_say(card, scan, CARD_TURNS, CARD_TURNS_LINE,
                    FILLS({"n", .number = spell.exposures}, {"p", .number = missing},
                          {"turns", .number = turns}));
}

/* 16: two more make it superiority, and the side is on top. */
bool one_turn(struct scan *scan, enum side side, struct card *card)
{
    const struct cell *cell = &scan->state->outlook[side_index(side)][2];
    int missing = needs(scan, side)->to_superiority;
    if (missing < 1 || missing > 2 || !edition_has_action(scan->edition, 2, "exposure") ||
        !cell->superiority || !scan_on_top(scan, side))
        return false;
    char score[SCORE_SIZE];
    rests_on_last(card, scan);
    return card_say(card, scan, CARD_ONE_TURN, CARD_ONE_TURN_LINE,
                    FILLS({"score", .text = score_of(score, cell->points, side)}));
}

/* 17: taken down twice or more, and nothing added on the mat. */
bool no_turn(struct scan *scan, enum side side, struct card *card)
{
    int count = 0, added = scan_actions(scan, side, "exposure") +
                           scan_actions(scan, side, "counter_exposure") +
                           scan_actions(scan, side, "lift");
    int32_t last_bout_ms = 0;
    for (size_t i = 0; i < scan->entry_count; i++) {
        if (!entry_is(&scan->entries[i], side, "takedown"))
            continue;
        count++;
        last_bout_ms = scan->entries[i].bout_ms;
        card_rests_on(card, scan, scan->entries[i].place);
    }
    if (count < 2 || added > 0 || !scan_bout_time_reached(scan, last_bout_ms + NO_TURN_MS))
        return false;
    card_since(card, scan, last_bout_ms + NO_TURN_MS);
    return card_say(card, scan, CARD_NO_TURN, CARD_NO_TURN_LINE, FILLS({"n", .number = count}));
}

/* A passivity with its point, against that side. */
static bool is_passivity(const struct read_event *read, enum side against)
{
    return read->stands && read->event->type == EVENT_PASSIVITY &&
           read->event->stage == PASSIVITY_PENALTY && (enum side)read->event->side == against;
}

/* After that passivity the bout went on in par terre, with the side on top. */
static bool went_to_par_terre(const struct scan *scan, int32_t place, enum side top)
{
    for (size_t i = (size_t)place + 1; i < scan->fold->count; i++) {
        const struct read_event *read = &scan->fold->events[i];
        if (!read->stands)
            continue;
        if (read->event->type == EVENT_CLOCK && read->event->what == CLOCK_START)
            return false;
        if (read->event->type == EVENT_POSITION)
            return read->event->position == POSITION_PAR_TERRE &&
                   (enum side)read->event->top == top;
    }
    return false;
}

/* The turn or lift that came of it; NULL: none did. */
static const struct entry *from_par_terre(const struct scan *scan, int32_t place, int32_t bout_ms,
                                          enum side side)
{
    for (size_t i = 0; i < scan->entry_count; i++) {
        const struct entry *entry = &scan->entries[i];
        if (entry->place <= place || entry->bout_ms - bout_ms > PAR_TERRE_MS)
            continue;
        if (entry_is(entry, side, "exposure") || entry_is(entry, side, "lift"))
            return entry;
        if (entry_is(entry, SIDE_RED, "takedown") || entry_is(entry, SIDE_BLUE, "takedown"))
            return NULL;
    }
    return NULL;
}

/* 18: points from the par terre that the officials order after a passivity. One that is still
 * going on counts once it has given points. */
bool par_terre(struct scan *scan, enum side side, struct card *card)
{
    int ordered = 0, scored = 0;
    for (int32_t place = 0; place < (int32_t)scan->fold->count; place++) {
        const struct read_event *read = &scan->fold->events[place];
        if (!is_passivity(read, side_other(side)) || !went_to_par_terre(scan, place, side))
            continue;
        int32_t bout_ms = (read->period - 1) * scan->details->period_ms + read->t_ms;
        const struct entry *entry = from_par_terre(scan, place, bout_ms, side);
        if (entry == NULL && !scan_bout_time_reached(scan, bout_ms + PAR_TERRE_MS + 1))
            continue;
        ordered++;
        card_rests_on(card, scan, place);
        if (entry == NULL)
            continue;
        scored++;
        card_rests_on(card, scan, entry->place);
    }
    if (scored == 0 || !scan->greco)
        return false;
    return card_say(card, scan, ordered == 1 ? CARD_PAR_TERRE_ONE : CARD_PAR_TERRE,
                    ordered == 1 ? CARD_PAR_TERRE_ONE_LINE : CARD_PAR_TERRE_LINE,
                    FILLS({"k", .number = scored}, {"n", .number = ordered}, {"S", .side = side}));
}

/* "A 4 makes it 7-6, Brandt ahead." */
static bool say_makes_it(struct card *card, const struct scan *scan, enum phrase headline,
                         enum side side, int value)
{
    const struct cell *cell = &scan->state->outlook[side_index(side)][value];
    char score[SCORE_SIZE];
    bool by_points = cell->leader.by == BY_POINTS;
    rests_on_last(card, scan);
    return card_say(card, scan, headline, by_points ? CARD_MAKES_IT : CARD_MAKES_IT_ON,
                    FILLS({"v", .number = value}, {"S", .side = side},
                          {"score", .text = score_of(score, cell->points, side)},
                          {"by", .word = WORD_CRITERION, .text = criterion_name(cell->leader.by)}));
}

/* 19: behind, and neither 1 nor 2 would be enough, but one action can be. */
bool one_action(struct scan *scan, enum side side, struct card *card)
{
    int value = needs(scan, side)->to_lead;
    return scan->state->leader.side == side_other(side) && value > 2 &&
           points(scan, side) < points(scan, side_other(side)) && !scan_left_at_most(scan, 5000) &&
           say_makes_it(card, scan, CARD_ONE_ACTION, side, value);
}

/* 20: behind by one in the last minute, and one more would lead. */
bool step_out_enough(struct scan *scan, enum side side, struct card *card)
{
    if (points(scan, side_other(side)) - points(scan, side) != 1 ||
        needs(scan, side)->to_lead != 1 || !edition_has_action(scan->edition, 1, "step_out") ||
        !scan_left_at_most(scan, MINUTE_MS))
        return false;
    card_since(card, scan, scan_bout_length(scan) - MINUTE_MS);
    return say_makes_it(card, scan, CARD_STEP_OUT_ENOUGH, side, 1);
}

/* 21: level in the last minute; `side` leads by a criterion. */
bool level(struct scan *scan, enum side side, struct card *card)
{
    const struct leader *leader = &scan->state->leader;
    enum side other = side_other(side);
    if (leader->side != side || leader->by == BY_POINTS || needs(scan, other)->to_lead != 1 ||
        !scan_left_at_most(scan, MINUTE_MS))
        return false;
    rests_on_last(card, scan);
    card_since(card, scan, scan_bout_length(scan) - MINUTE_MS);
    return card_say(card, scan, CARD_LEVEL, CARD_LEVEL_LINE,
                    FILLS({"by", .word = WORD_CRITERION, .text = criterion_name(leader->by)},
                          {"S", .side = side}, {"O", .side = other}));
}

/* The bout with one caution more against the side, and its points. */
static struct tallies with_caution(const struct scan *scan, enum side against, int value)
{
    struct tallies with = scan->state->all;
    enum side giver = side_other(against);
    struct tally *tally = &with.sides[side_index(giver)];
    with.sides[side_index(against)].cautions++;
    if (value == 0)
        return with;
    tally->points += value;
    if (scan->edition->penalty_points_are_holds)
        tally->holds[value]++;
    with.last_point = giver;
    if (with.first_point == SIDE_NONE)
        with.first_point = giver;
    return with;
}

/* 24: a narrow lead in the last thirty seconds, which a caution for fleeing would turn. */
bool caution_turns(struct scan *scan, enum side side, struct card *card)
{
    const struct state *state = scan->state;
    enum side other = side_other(side);
    int margin = points(scan, side) - points(scan, other);
    int value = scan_caution_points(scan, "fleeing_mat", 0);
    if (state->leader.side != side || margin > 1 || value < 1 || value > EDITION_VALUE_MAX ||
        !scan_left_at_most(scan, 30000))
        return false;
    struct tallies with = with_caution(scan, side, value);
    struct leader leader = leader_of(scan->edition, &with);
    if (leader.side != other ||
        with.sides[side_index(side)].cautions >= scan->edition->cautions_out)
        return false;
    int made[2] = {with.sides[0].points, with.sides[1].points};
    char score[SCORE_SIZE];
    rests_on_last(card, scan);
    card_since(card, scan, scan_bout_length(scan) - 30000);
    return card_say(card, scan, CARD_CAUTION_TURNS,
                    leader.by == BY_POINTS ? CARD_CAUTION_TURNS_LINE : CARD_CAUTION_TURNS_ON,
                    FILLS({"p", .number = value}, {"score", .text = score_of(score, made, other)},
                          {"O", .side = other},
                          {"by", .word = WORD_CRITERION, .text = criterion_name(leader.by)}));
}

static bool has_open_attack(const struct scan *scan, enum side side)
{
    const struct try *last = scan_last_try(scan, side, NULL);
    return last != NULL && last->class == ATTACK_UNCOUNTED;
}

/* 35: six points or more in a row. */
bool without_reply(struct scan *scan, enum side side, struct card *card)
{
    int sum = 0;
    size_t first = scan->entry_count;
    while (first > 0 && scan->entries[first - 1].side == side) {
        first--;
        sum += scan->entries[first].event->points;
    }
    if (sum < WITHOUT_REPLY_POINTS || has_open_attack(scan, side_other(side)))
        return false;
    for (size_t i = first; i < scan->entry_count; i++)
        card_rests_on(card, scan, scan->entries[i].place);
    int before[2] = {points(scan, SIDE_RED), points(scan, SIDE_BLUE)};
    before[side_index(side)] -= sum;
    int32_t gone_ms = scan->entries[scan->entry_count - 1].bout_ms - scan->entries[first].bout_ms;
    char from[SCORE_SIZE], to[SCORE_SIZE], time[TIME_SIZE];
    return card_say(card, scan, CARD_WITHOUT_REPLY, CARD_WITHOUT_REPLY_LINE,
                    FILLS({"p", .number = sum}, {"S", .side = side},
                          {"from", .text = score_of(from, before, side)},
                          {"to", .text = score_now(to, scan, side)},
                          {"t", .text = text_gone(gone_ms > 1000 ? gone_ms : 1000, time)}));
}
