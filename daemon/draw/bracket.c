#include "draw/bracket.h"
#include <assert.h>
#include <stdio.h>
#include <string.h>

enum { NAME_SIZE = 160, PLACES_MAX = DRAW_ENTRIES_MAX, SLOTS_MAX = 4 * DRAW_ENTRIES_MAX };

struct drawing {
    struct bracket *bracket;
    const struct draw_rules *rules;
    const char *prefix;
    struct arena *arena;
    const char *athletes[DRAW_ENTRIES_MAX]; /* the seeded ones by their seeds, then the others */
    size_t count, seeded;
    bool no_memory;
};

static const char *copy(struct drawing *drawing, const char *text)
{
    const char *kept = arena_copy(drawing->arena, text);
    drawing->no_memory = drawing->no_memory || kept == NULL;
    return kept;
}

/* "PREFIX-WORD", and the number behind it where it isn't 0. */
static const char *slot_name(struct drawing *drawing, const char *word, size_t number)
{
    char name[NAME_SIZE], digits[24] = "";
    if (number > 0)
        snprintf(digits, sizeof digits, "%zu", number);
    snprintf(name, sizeof name, "%.90s-%s%s", drawing->prefix, word, digits);
    return copy(drawing, name);
}

static struct drawn_slot *slot_add(struct drawing *drawing, const char *name, const char *stage,
                                   unsigned rounds_after)
{
    struct drawn_slot *slot = &drawing->bracket->slots[drawing->bracket->count++];
    *slot = (struct drawn_slot){.slot = name, .stage = stage, .rounds_after = rounds_after};
    return slot;
}

static struct slot_side athlete_side(const char *athlete)
{
    return (struct slot_side){FROM_ATHLETE, athlete};
}

static struct slot_side winner_side(const char *slot)
{
    return (struct slot_side){FROM_WINNER, slot};
}

static struct slot_side loser_side(const char *slot)
{
    return (struct slot_side){FROM_LOSER, slot};
}

/* ---- the order of the entries ---- */

/* Seeds need not be 1, 2, 3 …: only their order counts, and of equal ones that of the lots. */
static void order_entries(struct drawing *drawing, const struct draw_entry *entries)
{
    bool taken[DRAW_ENTRIES_MAX] = {false};
    for (;;) {
        size_t best = drawing->count;
        for (size_t i = 0; i < drawing->count; i++)
            if (!taken[i] && entries[i].seed > 0 &&
                (best == drawing->count || entries[i].seed < entries[best].seed))
                best = i;
        if (best == drawing->count)
            break;
        taken[best] = true;
        drawing->athletes[drawing->seeded++] = entries[best].athlete;
    }
    size_t next = drawing->seeded;
    for (size_t i = 0; i < drawing->count; i++)
        if (!taken[i])
            drawing->athletes[next++] = entries[i].athlete;
}

/* ---- everyone meets everyone ---- */

/* One stays in place, the others go round: in each round everyone once. An odd number has a place
 * that is empty, and who would meet it pauses. Slots are named WORD1, WORD2 … */
static void meet_all(struct drawing *drawing, const char *const *athletes, size_t count,
                     const char *word, const char *stage_before, unsigned rounds_after)
{
    size_t places = count + count % 2, number = 0;
    unsigned rounds = (unsigned)places - 1;
    for (unsigned round = 0; round < rounds; round++)
        for (size_t i = 0; i < places / 2; i++) {
            size_t one = i == 0 ? 0 : 1 + (i - 1 + round) % rounds;
            size_t other = 1 + (places - 2 - i + round) % rounds;
            char stage[48];
            if (one >= count || other >= count)
                continue;
            snprintf(stage, sizeof stage, "%sround %u", stage_before, round + 1);
            struct drawn_slot *slot =
                slot_add(drawing, slot_name(drawing, word, ++number), copy(drawing, stage),
                         rounds_after + rounds - 1 - round);
            slot->sides[0] = athlete_side(athletes[one]);
            slot->sides[1] = athlete_side(athletes[other]);
        }
}

static void draw_nordic(struct drawing *drawing)
{
    if (drawing->count == 2) {
        struct drawn_slot *final =
            slot_add(drawing, slot_name(drawing, "final", 0), copy(drawing, "final"), 0);
        final->sides[0] = athlete_side(drawing->athletes[0]);
        final->sides[1] = athlete_side(drawing->athletes[1]);
    } else if (drawing->count > 2) {
        meet_all(drawing, drawing->athletes, drawing->count, "n", "", 0);
    }
}

/* ---- two pools ---- */

/* The first pool has one more where the number is odd. First, second, second, first: so the seeds
 * part as they do in a bracket. */
static size_t part_pools(const struct drawing *drawing, const char **first, const char **second)
{
    size_t first_size = drawing->count - drawing->count / 2, firsts = 0, seconds = 0;
    for (size_t i = 0; i < drawing->count; i++) {
        bool into_first = i % 4 == 0 || i % 4 == 3;
        if (into_first ? firsts == first_size : seconds == drawing->count / 2)
            into_first = !into_first;
        if (into_first)
            first[firsts++] = drawing->athletes[i];
        else
            second[seconds++] = drawing->athletes[i];
    }
    return firsts;
}

/* Both pools' rounds side by side. */
static void draw_pools(struct drawing *drawing)
{
    const char *first[DRAW_ENTRIES_MAX], *second[DRAW_ENTRIES_MAX];
    size_t size = part_pools(drawing, first, second);
    meet_all(drawing, first, size, "a", "pool A, ", 3);
    meet_all(drawing, second, drawing->count - size, "b", "pool B, ", 3);
    const char *semi_final = copy(drawing, "semi-final");
    struct drawn_slot *one = slot_add(drawing, slot_name(drawing, "sf", 1), semi_final, 2);
    struct drawn_slot *other = slot_add(drawing, slot_name(drawing, "sf", 2), semi_final, 2);
    struct drawn_slot *bronze =
        slot_add(drawing, slot_name(drawing, "bronze", 0), copy(drawing, "for bronze"), 1);
    bronze->sides[0] = loser_side(one->slot);
    bronze->sides[1] = loser_side(other->slot);
    struct drawn_slot *final =
        slot_add(drawing, slot_name(drawing, "final", 0), copy(drawing, "final"), 0);
    final->sides[0] = winner_side(one->slot);
    final->sides[1] = winner_side(other->slot);
}

/* ---- direct elimination ---- */

struct places {
    size_t count;               /* 2, 4, 8 … */
    size_t numbers[PLACES_MAX]; /* of each, from the top: 0 is the best seed's, then 1 … */
    bool qualification[PLACES_MAX];
    const char *athletes[PLACES_MAX][2];
    struct slot_side sides[PLACES_MAX]; /* who is there once qualification is over */
};

/* By halving: with each step every number gets, beside it, the one that makes the sum whole. So the
 * halves get 0, then 1 and 2, then 3: top, bottom, bottom, top; and so within each half. Where
 * qualification fills the bracket from below, the better one stands above; else the halves mirror
 * each other, and the second seed has the last line. */
static void number_places(struct places *places, bool mirrored)
{
    size_t numbers[PLACES_MAX] = {0}, size = 1;
    while (size < places->count) {
        size_t wider[PLACES_MAX];
        for (size_t i = 0; i < size; i++) {
            bool below = mirrored && i % 2 == 1;
            wider[2 * i + (below ? 1 : 0)] = numbers[i];
            wider[2 * i + (below ? 0 : 1)] = 2 * size - 1 - numbers[i];
        }
        size *= 2;
        memcpy(numbers, wider, size * sizeof *numbers);
    }
    memcpy(places->numbers, numbers, places->count * sizeof *numbers);
}

static void mark_qualification(struct places *places, size_t bouts, bool spread)
{
    for (size_t i = 0; i < places->count; i++)
        places->qualification[i] =
            spread ? places->numbers[i] >= places->count - bouts : i >= places->count - bouts;
}

/* Seeds go to their numbers, everyone else into what is free, from the top. */
static void fill_places(const struct drawing *drawing, struct places *places)
{
    size_t seeded = drawing->seeded < places->count ? drawing->seeded : places->count;
    for (size_t i = 0; i < places->count; i++)
        if (places->numbers[i] < seeded)
            places->athletes[i][0] = drawing->athletes[places->numbers[i]];
    size_t next = seeded;
    for (size_t i = 0; i < places->count; i++)
        for (size_t j = 0; j < (places->qualification[i] ? 2u : 1u); j++)
            if (places->athletes[i][j] == NULL)
                places->athletes[i][j] = drawing->athletes[next++];
    assert(next == drawing->count);
}

static void add_qualification(struct drawing *drawing, struct places *places, unsigned rounds_after)
{
    const char *stage = copy(drawing, "qualification");
    size_t number = 0;
    for (size_t i = 0; i < places->count; i++) {
        places->sides[i] = athlete_side(places->athletes[i][0]);
        if (!places->qualification[i])
            continue;
        struct drawn_slot *slot =
            slot_add(drawing, slot_name(drawing, "q", ++number), stage, rounds_after);
        slot->sides[0] = athlete_side(places->athletes[i][0]);
        slot->sides[1] = athlete_side(places->athletes[i][1]);
        places->sides[i] = winner_side(slot->slot);
    }
}

/* A round of so many bouts: what it is called, and how its slots are named. */
static void round_words(size_t bouts, char *stage, char *word, size_t size)
{
    if (bouts <= 4) {
        snprintf(stage, size, "%s",
                 bouts == 1   ? "final"
                 : bouts == 2 ? "semi-final"
                              : "quarter-final");
        snprintf(word, size, "%s", bouts == 1 ? "final" : bouts == 2 ? "sf" : "qf");
    } else {
        snprintf(stage, size, "1/%zu final", bouts);
        snprintf(word, size, "%zuf", bouts);
    }
}

/* One round: `sides` are those who are still in, and then their halves' winners. */
static void add_round(struct drawing *drawing, struct slot_side *sides, size_t bouts,
                      unsigned rounds_after)
{
    char stage[32], word[32];
    round_words(bouts, stage, word, sizeof stage);
    const char *kept = copy(drawing, stage);
    for (size_t i = 0; i < bouts; i++) {
        const char *name = slot_name(drawing, word, bouts > 1 ? i + 1 : 0);
        struct drawn_slot *slot = slot_add(drawing, name, kept, rounds_after);
        slot->sides[0] = sides[2 * i];
        slot->sides[1] = sides[2 * i + 1];
        sides[i] = winner_side(name);
    }
}

/* How many of one half a finalist can have beaten, the loser of the semi-final among them. */
static size_t group_size(const struct places *places, size_t half)
{
    size_t size = 0;
    for (size_t left = places->count; left > 2; left /= 2)
        size++;
    bool qualified = false;
    for (size_t i = 0; i < places->count / 2; i++)
        qualified = qualified || places->qualification[half * places->count / 2 + i];
    return size + (qualified ? 1 : 0);
}

/* The bouts of one group before the one for bronze: the first has no side yet, each other one the
 * winner before it. The last of them ends two rounds before the final. */
static struct slot_side add_repechage(struct drawing *drawing, size_t half, size_t bouts)
{
    const char *stage = bouts > 0 ? copy(drawing, "repechage") : NULL;
    struct slot_side last = {FROM_NOTHING, NULL};
    for (size_t i = 0; i < bouts; i++) {
        const char *name = slot_name(drawing, half == 0 ? "ra" : "rb", i + 1);
        struct drawn_slot *slot = slot_add(drawing, name, stage, (unsigned)(bouts - i) + 1);
        slot->sides[0] = last;
        last = winner_side(name);
    }
    return last;
}

/* A group of one is the loser of the semi-final alone: third, without a bout. */
static void add_bronzes(struct drawing *drawing, const size_t sizes[2])
{
    struct slot_side last[2] = {{FROM_NOTHING, NULL}, {FROM_NOTHING, NULL}};
    for (size_t half = 0; half < 2; half++)
        if (sizes[half] > 2)
            last[half] = add_repechage(drawing, half, sizes[half] - 2);
    const char *stage = copy(drawing, "for bronze");
    for (size_t half = 0; half < 2; half++) {
        if (sizes[half] < 2)
            continue;
        struct drawn_slot *slot =
            slot_add(drawing, slot_name(drawing, "bronze", half + 1), stage, 1);
        slot->sides[0] = last[half];
        slot->sides[1] = loser_side(slot_name(drawing, "sf", half + 1));
    }
}

static void draw_elimination(struct drawing *drawing)
{
    struct places places = {.count = 2};
    while (places.count * 2 <= drawing->count)
        places.count *= 2;
    number_places(&places, drawing->rules->spread);
    mark_qualification(&places, drawing->count - places.count, drawing->rules->spread);
    fill_places(drawing, &places);
    size_t sizes[2] = {group_size(&places, 0), group_size(&places, 1)};
    size_t most = sizes[0] > sizes[1] ? sizes[0] : sizes[1];
    bool repechage = places.count > 2;
    /* Behind the semi-finals: the repechage, the bronzes, the final. */
    unsigned behind = !repechage ? 0 : (unsigned)(most > 1 ? most : 1), rounds = 0;
    for (size_t bouts = places.count / 2; bouts > 2; bouts /= 2)
        rounds++;
    add_qualification(drawing, &places, behind + rounds + 1);
    for (size_t bouts = places.count / 2; bouts > 1; bouts /= 2)
        add_round(drawing, places.sides, bouts, behind + (bouts > 2 ? rounds-- : 0));
    if (repechage)
        add_bronzes(drawing, sizes);
    add_round(drawing, places.sides, 1, 0);
}

/* ---- all together ---- */

enum draw_form draw_form_of(const struct draw_rules *rules, size_t count)
{
    if (count <= (size_t)rules->nordic_up_to || count < 2)
        return DRAW_NORDIC;
    /* Two pools of fewer than two each would have nobody for a semi-final. */
    return count <= (size_t)rules->pools_up_to && count >= 4 ? DRAW_POOLS : DRAW_ELIMINATION;
}

/* Later rounds come later; within a round as drawn. Few enough for the simplest of sorts. */
static void order_slots(struct bracket *bracket)
{
    for (size_t i = 1; i < bracket->count; i++) {
        struct drawn_slot slot = bracket->slots[i];
        size_t place = i;
        while (place > 0 && bracket->slots[place - 1].rounds_after < slot.rounds_after) {
            bracket->slots[place] = bracket->slots[place - 1];
            place--;
        }
        bracket->slots[place] = slot;
    }
}

/* Everyone against everyone is the most that there can be. */
static size_t slots_most(size_t count)
{
    return count * count / 2 + SLOTS_MAX;
}

bool bracket_draw(struct bracket *bracket, const struct draw_rules *rules, const char *prefix,
                  const struct draw_entry *entries, size_t count, struct arena *arena)
{
    struct drawing drawing = {
        .bracket = bracket, .rules = rules, .prefix = prefix, .arena = arena, .count = count};
    assert(count >= 1);
    assert(count <= DRAW_ENTRIES_MAX);
    *bracket = (struct bracket){.form = draw_form_of(rules, count)};
    bracket->slots = arena_take(arena, slots_most(count) * sizeof *bracket->slots);
    if (bracket->slots == NULL)
        return false;
    order_entries(&drawing, entries);
    if (bracket->form == DRAW_NORDIC)
        draw_nordic(&drawing);
    else if (bracket->form == DRAW_POOLS)
        draw_pools(&drawing);
    else
        draw_elimination(&drawing);
    order_slots(bracket);
    return !drawing.no_memory;
}

const char *bracket_prefix(const char *style, const char *age_group, const char *weight,
                           struct arena *arena)
{
    static const char *const shorts[][2] = {
        {"freestyle", "fs"}, {"greco_roman", "gr"}, {"women", "w"}};
    const char *begin = style != NULL ? style : "";
    bool grown = age_group == NULL || strcmp(age_group, "seniors") == 0;
    char prefix[NAME_SIZE];
    for (size_t i = 0; i < sizeof shorts / sizeof *shorts; i++)
        if (strcmp(begin, shorts[i][0]) == 0)
            begin = shorts[i][1];
    snprintf(prefix, sizeof prefix, "%.40s%.40s%s%.40s", begin, weight != NULL ? weight : "",
             grown ? "" : "-", grown ? "" : age_group);
    return arena_copy(arena, prefix[0] != '\0' ? prefix : "draw");
}
