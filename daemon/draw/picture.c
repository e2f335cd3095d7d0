#include "draw/picture.h"
#include <string.h>
#include "draw/places.h"

enum {
    ROUNDS_MAX = 32, /* no draw is deeper; so slots that wait for each other in a circle end too */
    REPECHAGE_MAX = 16,
};

static const struct picture_side nobody = {
    .comes = COMES_NOBODY, .who = {.bout = PICTURE_NONE}, .slot = PICTURE_NONE};

struct picture_bout picture_bout_of(const struct state *state)
{
    return (struct picture_bout){
        .details = state->fold->details,
        .result = state->result,
        .points = {state->all.sides[0].points, state->all.sides[1].points},
        .called_seq = state->fold->called_seq,
    };
}

/* ---- the slots and what leads where ---- */

static int32_t slot_place(const struct making *making, const char *name)
{
    const struct slot *slot = name != NULL ? day_slot(making->day, name) : NULL;
    return slot != NULL ? (int32_t)slot->place : PICTURE_NONE;
}

/* The first slot that names it is where its winner, or loser, goes. */
static void lead(const struct making *making, int32_t to, unsigned side)
{
    struct picture_slot *slots = making->picture->slots;
    const struct slot_side *named = &slots[to].slot->sides[side];
    int32_t from = named->from == FROM_WINNER || named->from == FROM_LOSER
                       ? slot_place(making, named->name)
                       : PICTURE_NONE;
    if (from == PICTURE_NONE)
        return;
    if (named->from == FROM_WINNER && slots[from].winner_to == PICTURE_NONE) {
        slots[from].winner_to = to;
        slots[from].winner_to_side = (uint8_t)side;
    }
    if (named->from == FROM_LOSER && slots[from].loser_to == PICTURE_NONE) {
        slots[from].loser_to = to;
        slots[from].loser_to_side = (uint8_t)side;
    }
}

static int32_t weight_of(struct picture *picture, const struct slot *slot)
{
    for (size_t i = 0; i < picture->weight_count; i++) {
        const struct picture_weight *weight = &picture->weights[i];
        if (same_text(weight->style, slot->style) && same_text(weight->weight, slot->weight) &&
            same_text(weight->age_group, slot->age_group))
            return (int32_t)i;
    }
    picture->weights[picture->weight_count] = (struct picture_weight){
        .style = slot->style, .age_group = slot->age_group, .weight = slot->weight};
    return (int32_t)picture->weight_count++;
}

static bool lay_out(const struct making *making)
{
    struct picture *picture = making->picture;
    size_t count = making->day->slot_count;
    picture->slots = arena_take(making->arena, count * sizeof *picture->slots);
    picture->weights = arena_take(making->arena, count * sizeof *picture->weights);
    if (picture->slots == NULL || picture->weights == NULL)
        return false;
    picture->slot_count = count;
    for (size_t i = 0; i < count; i++) {
        const struct slot *slot = making->day->slots[i];
        picture->slots[i] = (struct picture_slot){
            .slot = slot,
            .bout = PICTURE_NONE,
            .winner_to = PICTURE_NONE,
            .loser_to = PICTURE_NONE,
            .weight = weight_of(picture, slot),
        };
        struct picture_weight *weight = &picture->weights[picture->slots[i].weight];
        if (weight->edition == NULL && slot->rules != NULL)
            weight->edition = editions_find(making->editions, slot->rules);
    }
    for (size_t i = 0; i < count; i++)
        for (unsigned side = 0; side < 2; side++)
            lead(making, (int32_t)i, side);
    return true;
}

static void place_bouts(const struct making *making)
{
    struct picture *picture = making->picture;
    for (size_t i = 0; i < making->bout_count; i++) {
        const struct picture_bout *bout = &making->bouts[i];
        int32_t place = bout->details->off ? PICTURE_NONE : slot_place(making, bout->details->slot);
        if (place == PICTURE_NONE)
            continue;
        struct picture_slot *slot = &picture->slots[place];
        struct picture_weight *weight = &picture->weights[slot->weight];
        if (slot->bout == PICTURE_NONE || making->bouts[slot->bout].called_seq < bout->called_seq)
            slot->bout = (int32_t)i;
        if (weight->edition == NULL)
            weight->edition = bout->details->edition;
    }
}

/* ---- one side of a slot ---- */

static struct picture_side known_side(const char *athlete)
{
    return (struct picture_side){.comes = COMES_KNOWN,
                                 .who = {.athlete = athlete, .bout = PICTURE_NONE},
                                 .slot = PICTURE_NONE};
}

static struct picture_side waiting_side(enum picture_from from, int32_t slot)
{
    return (struct picture_side){.from = from, .slot = slot, .who = {.bout = PICTURE_NONE}};
}

static struct picture_side side_by_draw(const struct making *making,
                                        const struct picture_slot *slot, unsigned side)
{
    const struct slot_side *drawn = &slot->slot->sides[side];
    int32_t place = slot_place(making, drawn->name);
    const struct picture_slot *from = place != PICTURE_NONE ? &making->picture->slots[place] : NULL;
    switch (drawn->from) {
    case FROM_ATHLETE:
        return known_side(drawn->name);
    case FROM_WINNER:
        return from != NULL && from->decided ? from->winner : waiting_side(WAITS_FOR_WINNER, place);
    case FROM_LOSER:
        return from != NULL && from->decided ? from->loser : waiting_side(WAITS_FOR_LOSER, place);
    case FROM_NOTHING:
        return slot->filled[side];
    }
    return nobody;
}

/* A bout says who wrestles, whatever was drawn; its key is the draw's where it gives none. */
static struct picture_side side_now(const struct making *making, const struct picture_slot *slot,
                                    unsigned side)
{
    struct picture_side drawn = side_by_draw(making, slot, side);
    if (slot->bout == PICTURE_NONE)
        return drawn;
    const char *key = making->bouts[slot->bout].details->sides[side].athlete;
    const char *by_draw = drawn.comes == COMES_KNOWN ? drawn.who.athlete : NULL;
    struct picture_side known = known_side(key != NULL ? key : by_draw);
    known.who.bout = slot->bout;
    known.who.side = (uint8_t)side;
    return known;
}

/* ---- who goes on ---- */

static void decide(const struct making *making, struct picture_slot *slot)
{
    const struct result *result =
        slot->bout != PICTURE_NONE ? &making->bouts[slot->bout].result : NULL;
    bool red_comes = slot->sides[0].comes == COMES_KNOWN;
    slot->decided = slot->passed = false;
    if (result != NULL && result->how != NULL && !result->unconfirmed) {
        slot->decided = true;
        slot->winner = slot->loser = nobody;
        if (result->winner != SIDE_NONE) {
            slot->winner = slot->sides[side_index(result->winner)];
            slot->loser = slot->sides[1 - side_index(result->winner)];
        }
    } else if (result == NULL && slot->sides[0].comes != COMES_LATER &&
               slot->sides[1].comes != COMES_LATER &&
               !(red_comes && slot->sides[1].comes == COMES_KNOWN)) {
        slot->decided = slot->passed = true;
        slot->winner = red_comes ? slot->sides[0] : slot->sides[1];
        slot->loser = nobody;
    }
}

/* ---- repechage ---- */

struct open_side { /* a side of a repechage, left out in the draw or not */
    struct picture_slot *slot;
    unsigned side;
};

static bool is_left_out(const struct picture_slot *slot, unsigned side)
{
    return slot->slot->sides[side].from == FROM_NOTHING;
}

/* The sides of a group from the last bout back to the first; 0: `slot` ends no such group. */
static size_t group_sides(const struct making *making, struct picture_slot *slot, unsigned before,
                          struct open_side sides[REPECHAGE_MAX])
{
    size_t count = 0;
    unsigned side = before;
    bool left_out = false;
    while (slot->slot->sides[side].from == FROM_WINNER && count + 2 < REPECHAGE_MAX) {
        int32_t place = slot_place(making, slot->slot->sides[side].name);
        if (place == PICTURE_NONE)
            return 0;
        slot = &making->picture->slots[place];
        side = slot->slot->sides[0].from == FROM_WINNER ? 0 : 1;
        if (slot->slot->sides[side].from != FROM_WINNER)
            break;
        sides[count++] = (struct open_side){slot, 1 - side};
        left_out = left_out || is_left_out(slot, 1 - side);
    }
    if (count == 0 && slot->slot->sides[before].from == FROM_NOTHING &&
        slot->slot->sides[1 - before].from == FROM_LOSER) {
        sides[count++] = (struct open_side){slot, before};
        return count;
    }
    if (slot->slot->sides[0].from == FROM_WINNER || slot->slot->sides[1].from == FROM_WINNER)
        return 0;
    sides[count++] = (struct open_side){slot, 1};
    sides[count++] = (struct open_side){slot, 0};
    left_out = left_out || is_left_out(slot, 0) || is_left_out(slot, 1);
    return left_out ? count : 0;
}

/* The slot that the winner of this one came from; PICTURE_NONE: none. By who it is, for in the bout
 * the colours may be other than in the draw. */
static int32_t way_of_winner(const struct making *making, const struct picture_slot *slot)
{
    for (unsigned side = 0; side < 2; side++) {
        const struct slot_side *drawn = &slot->slot->sides[side];
        int32_t place = drawn->from == FROM_WINNER ? slot_place(making, drawn->name) : PICTURE_NONE;
        if (place == PICTURE_NONE)
            continue;
        const struct picture_slot *from = &making->picture->slots[place];
        if (from->decided && from->winner.comes == COMES_KNOWN &&
            who_equal(making, from->winner.who, slot->winner.who))
            return place;
    }
    return PICTURE_NONE;
}

/* Whom the winner of `last` beat before it, the latest first. */
static size_t beaten_before(const struct making *making, const struct picture_slot *last,
                            struct picture_side beaten[REPECHAGE_MAX])
{
    size_t count = 0;
    const struct picture_slot *slot = last;
    for (size_t round = 0; round < REPECHAGE_MAX; round++) {
        int32_t place = way_of_winner(making, slot);
        if (place == PICTURE_NONE)
            break;
        slot = &making->picture->slots[place];
        if (slot->loser.comes == COMES_KNOWN)
            beaten[count++] = slot->loser;
    }
    return count;
}

/* `slot` has {loser_of: X} on one side: the group before its other side is X's. */
static void fill_group(const struct making *making, struct picture_slot *slot, unsigned before)
{
    struct open_side sides[REPECHAGE_MAX];
    struct picture_side beaten[REPECHAGE_MAX];
    int32_t place = slot_place(making, slot->slot->sides[1 - before].name);
    size_t count = place != PICTURE_NONE ? group_sides(making, slot, before, sides) : 0;
    if (count == 0)
        return;
    const struct picture_slot *semi_final = &making->picture->slots[place];
    bool known = semi_final->decided && semi_final->winner.comes == COMES_KNOWN;
    size_t beaten_count = known ? beaten_before(making, semi_final, beaten) : 0;
    for (size_t i = 0; i < count; i++) {
        if (!is_left_out(sides[i].slot, sides[i].side))
            continue;
        sides[i].slot->filled[sides[i].side] = !semi_final->decided
                                                   ? waiting_side(WAITS_FOR_BEATEN, place)
                                               : i < beaten_count ? beaten[i]
                                                                  : nobody;
    }
}

static void fill_repechage(const struct making *making)
{
    for (size_t i = 0; i < making->picture->slot_count; i++) {
        struct picture_slot *slot = &making->picture->slots[i];
        for (unsigned side = 0; side < 2; side++)
            if (slot->slot->sides[side].from == FROM_LOSER &&
                slot->slot->sides[1 - side].from != FROM_LOSER)
                fill_group(making, slot, 1 - side);
    }
}

/* ---- pools ---- */

static bool is_empty(const struct picture_slot *slot)
{
    return is_left_out(slot, 0) && is_left_out(slot, 1);
}

static void fill_from_pool(const struct making *making, struct picture_slot *slot, unsigned side,
                           unsigned pool, unsigned place)
{
    const struct picture_rank *rank = places_in_pool(making, slot->weight, pool, place);
    slot->filled[side] = waiting_side(WAITS_FOR_POOL, PICTURE_NONE);
    slot->filled[side].pool = (uint8_t)pool;
    slot->filled[side].place = (uint8_t)place;
    if (rank != NULL)
        slot->filled[side] =
            (struct picture_side){.comes = COMES_KNOWN, .who = rank->who, .slot = PICTURE_NONE};
}

/* Crosswise: the first of each pool meets the second of the other. */
static bool fill_semi_finals(const struct making *making)
{
    struct picture_slot *slots = making->picture->slots;
    bool filled = false;
    for (size_t i = 0; i < making->picture->slot_count; i++) {
        const struct slot *final = slots[i].slot;
        if (final->sides[0].from != FROM_WINNER || final->sides[1].from != FROM_WINNER)
            continue;
        int32_t one = slot_place(making, final->sides[0].name);
        int32_t other = slot_place(making, final->sides[1].name);
        if (one == PICTURE_NONE || other == PICTURE_NONE || one == other ||
            !is_empty(&slots[one]) || !is_empty(&slots[other]))
            continue;
        fill_from_pool(making, &slots[one], 0, 1, 1);
        fill_from_pool(making, &slots[one], 1, 2, 2);
        fill_from_pool(making, &slots[other], 0, 2, 1);
        fill_from_pool(making, &slots[other], 1, 1, 2);
        filled = true;
    }
    return filled;
}

/* ---- all together ---- */

static bool same_side(const struct picture_side *one, const struct picture_side *other)
{
    return one->comes == other->comes && one->from == other->from && one->slot == other->slot &&
           same_text(one->who.athlete, other->who.athlete) && one->who.bout == other->who.bout &&
           one->who.side == other->who.side;
}

/* One look at every slot; true while one of them changes. */
static bool look(const struct making *making)
{
    bool changed = false;
    for (size_t i = 0; i < making->picture->slot_count; i++) {
        struct picture_slot *slot = &making->picture->slots[i];
        struct picture_slot before = *slot;
        for (unsigned side = 0; side < 2; side++)
            slot->sides[side] = side_now(making, slot, side);
        decide(making, slot);
        changed = changed || before.decided != slot->decided ||
                  !same_side(&before.sides[0], &slot->sides[0]) ||
                  !same_side(&before.sides[1], &slot->sides[1]);
    }
    fill_repechage(making);
    return changed;
}

static void resolve(const struct making *making)
{
    for (int round = 0; round < ROUNDS_MAX && look(making); round++)
        ;
}

static bool gather(const struct making *making, enum gathering gathering)
{
    for (size_t i = 0; i < making->picture->weight_count; i++)
        if (!places_gather(making, (int32_t)i, gathering))
            return false;
    return true;
}

bool picture_make(struct picture *picture, const struct day *day, const struct picture_bout *bouts,
                  size_t bout_count, const struct editions *editions, struct arena *arena)
{
    struct making making = {picture, day, bouts, bout_count, editions, arena};
    *picture = (struct picture){.slot_count = 0};
    if (!lay_out(&making))
        return false;
    place_bouts(&making);
    for (size_t i = 0; i < picture->slot_count; i++)
        for (unsigned side = 0; side < 2; side++)
            picture->slots[i].filled[side] = waiting_side(WAITS_UNKNOWN, PICTURE_NONE);
    resolve(&making);
    if (!gather(&making, GATHER_POOLS))
        return false;
    if (fill_semi_finals(&making))
        resolve(&making);
    if (!gather(&making, GATHER_ALL))
        return false;
    for (size_t i = 0; i < picture->weight_count; i++)
        places_give(&making, (int32_t)i);
    return places_count_teams(&making);
}
