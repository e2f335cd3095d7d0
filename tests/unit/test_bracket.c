/* Brackets for 2 to 64 entries, by properties.
 * Sources: fewer than six Nordic, six and seven in two pools, repechage in two groups: common
 * practice, no source. Qualification bouts and seeds top, bottom, bottom, top: UWW, "UWW Changes
 * Rules to Promote Active Wrestling, Balance in Brackets", 27 Jan 2022. From the bottom up before
 * that: from memory. */
#include "draw/bracket.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "support.h"

struct drawn {
    struct arena arena;
    char names[DRAW_ENTRIES_MAX][24];
    struct draw_entry entries[DRAW_ENTRIES_MAX];
    struct bracket bracket;
};

static const struct draw_rules elimination = {.given = true, .spread = true};
static const struct draw_rules from_below = {.given = true, .spread = false};

/* Entries e1, e2 …; the first `seeded` of them are seeded 1, 2 … */
static void draw(struct drawn *drawn, const struct draw_rules *rules, size_t count, size_t seeded)
{
    arena_init(&drawn->arena, malloc, free);
    for (size_t i = 0; i < count; i++) {
        snprintf(drawn->names[i], sizeof drawn->names[i], "e%zu", i + 1);
        drawn->entries[i] = (struct draw_entry){drawn->names[i], i < seeded ? (int64_t)i + 1 : 0};
    }
    cr_assert(bracket_draw(&drawn->bracket, rules, "x", drawn->entries, count, &drawn->arena));
}

static const struct drawn_slot *slot_of(const struct bracket *bracket, const char *name)
{
    for (size_t i = 0; i < bracket->count; i++)
        if (strcmp(bracket->slots[i].slot, name) == 0)
            return &bracket->slots[i];
    return NULL;
}

static size_t named(const struct bracket *bracket, enum slot_from from, const char *name)
{
    size_t count = 0;
    for (size_t i = 0; i < bracket->count; i++)
        for (unsigned side = 0; side < 2; side++)
            count += bracket->slots[i].sides[side].from == from &&
                     strcmp(bracket->slots[i].sides[side].name, name) == 0;
    return count;
}

static size_t of_stage(const struct bracket *bracket, const char *stage)
{
    size_t count = 0;
    for (size_t i = 0; i < bracket->count; i++)
        count += strcmp(bracket->slots[i].stage, stage) == 0 ? 1 : 0;
    return count;
}

/* Names are unique; what a slot names comes before it, and nothing is named twice. */
static void expect_sound(const struct drawn *drawn, size_t count)
{
    const struct bracket *bracket = &drawn->bracket;
    for (size_t i = 0; i < bracket->count; i++) {
        const struct drawn_slot *slot = &bracket->slots[i];
        cr_expect(slot_of(bracket, slot->slot) == slot, "%zu: %s stands twice", count, slot->slot);
        cr_expect(named(bracket, FROM_WINNER, slot->slot) <= 1, "%zu: %s", count, slot->slot);
        cr_expect(named(bracket, FROM_LOSER, slot->slot) <= 1, "%zu: %s", count, slot->slot);
        cr_expect(i == 0 || bracket->slots[i - 1].rounds_after >= slot->rounds_after);
        for (unsigned side = 0; side < 2; side++) {
            const struct slot_side *from = &slot->sides[side];
            if (from->from != FROM_WINNER && from->from != FROM_LOSER)
                continue;
            const struct drawn_slot *before = slot_of(bracket, from->name);
            cr_expect(before != NULL && before < slot && before->rounds_after > slot->rounds_after,
                      "%zu: %s names %s", count, slot->slot, from->name);
        }
    }
    cr_expect(count < 2 || bracket->slots[bracket->count - 1].rounds_after == 0);
}

static size_t places_of(size_t count)
{
    size_t places = 2;
    while (places * 2 <= count)
        places *= 2;
    return places;
}

Test(bracket, elimination_has_everyone_once_and_all_but_one_lose)
{
    for (size_t count = 2; count <= DRAW_ENTRIES_MAX; count++)
        for (int spread = 0; spread < 2; spread++) {
            struct drawn drawn;
            draw(&drawn, spread ? &elimination : &from_below, count, count % 9);
            const struct bracket *bracket = &drawn.bracket;
            expect_sound(&drawn, count);
            for (size_t i = 0; i < count; i++)
                cr_expect(eq(sz, named(bracket, FROM_ATHLETE, drawn.names[i]), 1), "%zu: %s", count,
                          drawn.names[i]);
            size_t beside = of_stage(bracket, "repechage") + of_stage(bracket, "for bronze");
            cr_expect(eq(sz, bracket->count - beside, count - 1), "%zu", count);
            cr_expect(eq(sz, of_stage(bracket, "qualification"), count - places_of(count)));
            cr_expect(eq(sz, of_stage(bracket, "final"), 1));
            /* With fewer a group can be the loser of the semi-final alone. */
            if (count > (spread ? 5 : 7))
                cr_expect(eq(sz, of_stage(bracket, "for bronze"), 2), "%zu", count);
            arena_close(&drawn.arena);
        }
}

/* The number of bouts that the athlete can have before the final, and into which half they lead. */
static size_t bouts_to_final(const struct bracket *bracket, const char *athlete, unsigned *half)
{
    size_t bouts = 0;
    const char *name = athlete;
    enum slot_from from = FROM_ATHLETE;
    for (;;) {
        const struct drawn_slot *slot = NULL;
        unsigned side = 0;
        for (size_t i = 0; i < bracket->count && slot == NULL; i++)
            for (unsigned j = 0; j < 2; j++)
                if (bracket->slots[i].sides[j].from == from &&
                    strcmp(bracket->slots[i].sides[j].name, name) == 0) {
                    slot = &bracket->slots[i];
                    side = j;
                }
        cr_assert(slot != NULL);
        if (strcmp(slot->stage, "final") == 0) {
            *half = side;
            return bouts;
        }
        bouts++;
        name = slot->slot;
        from = FROM_WINNER;
    }
}

/* The tops of the halves, quarters …: seeds 1 to 4 go top, bottom, bottom, top, and so does the
 * qualification. */
Test(bracket, seeds_and_qualification_go_top_bottom_bottom_top)
{
    static const unsigned halves[] = {0, 1, 1, 0};
    for (size_t count = 8; count <= DRAW_ENTRIES_MAX; count++) {
        struct drawn drawn;
        draw(&drawn, &elimination, count, 4);
        size_t qualified[2] = {0, 0}, bouts = of_stage(&drawn.bracket, "qualification");
        for (size_t i = 0; i < count; i++) {
            unsigned half = 2;
            size_t way = bouts_to_final(&drawn.bracket, drawn.names[i], &half);
            bool qualifies = (size_t)1 << (way + 1) > places_of(count);
            qualified[half] += qualifies ? 1 : 0;
            if (i < 4)
                cr_expect(eq(uint, half, halves[i]), "%zu: seed %zu", count, i + 1);
            if (i < 4 && bouts <= places_of(count) - 4)
                cr_expect(not(qualifies), "%zu: seed %zu wrestles qualification", count, i + 1);
        }
        size_t top = bouts / 2 + (bouts % 4 == 1 ? 1 : 0), bottom = bouts - top;
        cr_expect(eq(sz, qualified[0], 2 * top), "%zu", count);
        cr_expect(eq(sz, qualified[1], 2 * bottom), "%zu", count);
        arena_close(&drawn.arena);
    }
}

Test(bracket, the_two_best_meet_in_the_final_alone_and_the_four_best_in_semi_finals)
{
    for (size_t count = 8; count <= DRAW_ENTRIES_MAX; count++)
        for (int spread = 0; spread < 2; spread++) {
            struct drawn drawn;
            draw(&drawn, spread ? &elimination : &from_below, count, 8);
            for (size_t one = 0; one < 4; one++)
                for (size_t other = one + 1; other < 4; other++) {
                    unsigned first = 2, second = 2;
                    bouts_to_final(&drawn.bracket, drawn.names[one], &first);
                    bouts_to_final(&drawn.bracket, drawn.names[other], &second);
                    bool same = one + other == 3; /* 1 and 4, 2 and 3 */
                    cr_expect(eq(int, first == second, same), "%zu: %zu, %zu", count, one, other);
                }
            arena_close(&drawn.arena);
        }
}

Test(bracket, before_2022_qualification_is_at_the_bottom)
{
    struct drawn drawn;
    draw(&drawn, &from_below, 11, 0);
    cr_expect(eq(sz, of_stage(&drawn.bracket, "qualification"), 3));
    for (size_t i = 0; i < 11; i++) {
        unsigned half = 2;
        size_t way = bouts_to_final(&drawn.bracket, drawn.names[i], &half);
        cr_expect(eq(sz, way, i < 5 ? 2 : 3), "%s", drawn.names[i]);
        cr_expect(eq(uint, half, i < 4 ? 0 : 1), "%s", drawn.names[i]);
    }
    arena_close(&drawn.arena);
}

/* Everyone meets everyone once, and nobody twice in a round. */
static void expect_all_meet(const struct drawn *drawn, const char *const *names, size_t count)
{
    const struct bracket *bracket = &drawn->bracket;
    for (size_t i = 0; i < count; i++)
        for (size_t j = i + 1; j < count; j++) {
            size_t met = 0;
            for (size_t k = 0; k < bracket->count; k++) {
                const struct slot_side *sides = bracket->slots[k].sides;
                if (sides[0].from != FROM_ATHLETE)
                    continue;
                met +=
                    (strcmp(sides[0].name, names[i]) == 0 &&
                     strcmp(sides[1].name, names[j]) == 0) ||
                    (strcmp(sides[0].name, names[j]) == 0 && strcmp(sides[1].name, names[i]) == 0);
            }
            cr_expect(eq(sz, met, 1), "%zu: %s and %s", count, names[i], names[j]);
        }
    for (size_t i = 0; i < bracket->count; i++)
        for (size_t j = i + 1; j < bracket->count; j++)
            for (unsigned side = 0; side < 4; side++) {
                const struct slot_side *one = &bracket->slots[i].sides[side / 2];
                const struct slot_side *other = &bracket->slots[j].sides[side % 2];
                if (bracket->slots[i].rounds_after == bracket->slots[j].rounds_after &&
                    one->from == FROM_ATHLETE && other->from == FROM_ATHLETE)
                    cr_expect(strcmp(one->name, other->name) != 0, "%s twice in a round",
                              one->name);
            }
}

Test(bracket, nordic_everyone_meets_everyone)
{
    for (size_t count = 2; count <= DRAW_ENTRIES_MAX; count++) {
        static const struct draw_rules nordic = {.given = true, .nordic_up_to = 64};
        struct drawn drawn;
        const char *names[DRAW_ENTRIES_MAX];
        draw(&drawn, &nordic, count, 2);
        for (size_t i = 0; i < count; i++)
            names[i] = drawn.names[i];
        expect_sound(&drawn, count);
        cr_expect(eq(sz, drawn.bracket.count, count * (count - 1) / 2));
        expect_all_meet(&drawn, names, count);
        unsigned rounds = drawn.bracket.slots[0].rounds_after + 1;
        cr_expect(eq(uint, rounds, count == 2 ? 1 : (unsigned)(count - 1 + count % 2)));
        arena_close(&drawn.arena);
    }
}

Test(bracket, two_pools_then_crosswise)
{
    const struct draw_rules *rules = &test_edition("freestyle-2022")->draw;
    for (size_t count = 6; count <= 7; count++) {
        struct drawn drawn;
        draw(&drawn, rules, count, 4);
        const struct bracket *bracket = &drawn.bracket;
        const char *first[] = {"e1", "e4", "e5", "e7"}, *second[] = {"e2", "e3", "e6"};
        cr_expect(eq(int, bracket->form, DRAW_POOLS));
        expect_sound(&drawn, count);
        expect_all_meet(&drawn, first, count - 3);
        expect_all_meet(&drawn, second, 3);
        cr_expect(eq(sz, bracket->count, (count == 6 ? 3 : 6) + 3 + 4));
        const struct drawn_slot *final = slot_of(bracket, "x-final"),
                                *bronze = slot_of(bracket, "x-bronze");
        expect_text("final", final->sides[0].name, "x-sf1");
        expect_text("final", final->sides[1].name, "x-sf2");
        cr_expect(bronze->sides[0].from == FROM_LOSER && bronze->sides[1].from == FROM_LOSER);
        arena_close(&drawn.arena);
    }
}

Test(bracket, the_form_by_the_number_of_entries)
{
    const struct draw_rules *rules = &test_edition("greco-2026")->draw;
    for (size_t count = 1; count <= DRAW_ENTRIES_MAX; count++)
        cr_expect(eq(int, draw_form_of(rules, count),
                     count < 6   ? DRAW_NORDIC
                     : count < 8 ? DRAW_POOLS
                                 : DRAW_ELIMINATION),
                  "%zu", count);
}

Test(bracket, seeds_count_by_their_order_and_lots_decide_equal_ones)
{
    static const struct draw_entry entries[] = {{"a", 0},  {"b", 7}, {"c", 3}, {"d", 3},
                                                {"e", -1}, {"f", 0}, {"g", 0}, {"h", 0}};
    struct bracket bracket;
    struct arena arena;
    arena_init(&arena, malloc, free);
    cr_assert(bracket_draw(&bracket, &elimination, "fs74", entries, 8, &arena));
    const struct drawn_slot *first = &bracket.slots[0], *last = &bracket.slots[3];
    expect_text("slot", first->slot, "fs74-qf1");
    expect_text("stage", first->stage, "quarter-final");
    expect_text("the best seed", first->sides[0].name, "c");
    expect_text("the first lot", first->sides[1].name, "a");
    expect_text("the second seed", last->sides[1].name, "d");
    expect_text("the third seed", bracket.slots[2].sides[0].name, "b");
    arena_close(&arena);
}

Test(bracket, one_alone_has_no_bout)
{
    struct drawn drawn;
    draw(&drawn, &elimination, 1, 1);
    cr_expect(eq(sz, drawn.bracket.count, 0));
    arena_close(&drawn.arena);
}

struct prefix_row {
    const char *style, *age_group, *weight, *prefix;
};
Test(bracket, slots_are_named_after_their_weight)
{
    static const struct prefix_row rows[] = {
        {"freestyle", "seniors", "74", "fs74"},
        {"greco_roman", NULL, "77", "gr77"},
        {"women", "u17", "53", "w53-u17"},
        {"beach", "u20", NULL, "beach-u20"},
        {NULL, NULL, "57", "57"},
        {NULL, NULL, NULL, "draw"},
    };
    struct arena arena;
    arena_init(&arena, malloc, free);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        expect_text("prefix",
                    bracket_prefix(rows[i].style, rows[i].age_group, rows[i].weight, &arena),
                    rows[i].prefix);
    arena_close(&arena);
}

Test(bracket, without_memory_there_is_none)
{
    struct draw_entry entries[11];
    for (size_t i = 0; i < 11; i++)
        entries[i] = (struct draw_entry){"same", 0};
    for (long left = 0;; left++) {
        struct bracket bracket;
        struct arena arena;
        arena_init(&arena, failing_allocate, failing_release);
        fail_after(left);
        bool done = bracket_draw(&bracket, &elimination, "x", entries, 11, &arena);
        bool failed = has_failed();
        fail_never();
        cr_expect(eq(int, done, !failed));
        arena_close(&arena);
        if (done)
            break;
    }
    cr_expect(eq(long, allocations_left_over(), 0));
}
