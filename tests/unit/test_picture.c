/* The day's draw as results come: brackets played to their end at random, and told stories.
 * Sources: everyone whom a finalist beat comes back, from the earliest loser up to the loser of the
 * semi-final, two groups, two bronzes: common practice, no source. Of two with equal victories in a
 * Nordic group their direct match: UWW, "Wrestling Announces Rules Modifications", 2 Feb 2021. Its
 * use with more than two (the last one found by the criteria until two are left), places from
 * seventh on and the points of a place: from memory. */
#include "draw/picture.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "draw/bracket.h"
#include "support.h"

/* ---- a draw, played at random ---- */

enum { BOUTS_MAX = 2100 };

struct played {
    struct arena arena;
    struct day day;
    struct bracket bracket;
    struct picture picture;
    struct picture_bout bouts[BOUTS_MAX];
    struct details details[BOUTS_MAX];
    size_t bout_count;
    char names[DRAW_ENTRIES_MAX][24];
    size_t count;
};

static void keep_slot(struct played *played, const struct drawn_slot *drawn, const char *rules)
{
    struct day *day = &played->day;
    struct slot *slot = arena_take(&day->arena, sizeof *slot);
    *slot = (struct slot){.slot = drawn->slot,
                          .stage = drawn->stage,
                          .style = "freestyle",
                          .rules = rules,
                          .sides = {drawn->sides[0], drawn->sides[1]},
                          .place = day->slot_count};
    day->slots = arena_grow(&day->arena, day->slots, day->slot_count, &day->slot_capacity,
                            sizeof *day->slots);
    day->slots[day->slot_count++] = slot;
    cr_assert(table_add(&day->known_slots, &day->arena, slot->slot, slot));
}

static void picture_anew(struct played *played)
{
    arena_reset(&played->arena);
    cr_assert(picture_make(&played->picture, &played->day, played->bouts, played->bout_count,
                           test_editions(), &played->arena));
}

static struct played *play_begin(const struct draw_rules *rules, const char *edition, size_t count,
                                 size_t seeded)
{
    struct played *played = calloc(1, sizeof *played);
    struct draw_entry entries[DRAW_ENTRIES_MAX];
    arena_init(&played->arena, malloc, free);
    day_init(&played->day, malloc, free);
    played->count = count;
    for (size_t i = 0; i < count; i++) {
        snprintf(played->names[i], sizeof played->names[i], "e%zu", i + 1);
        entries[i] = (struct draw_entry){played->names[i], i < seeded ? (int64_t)i + 1 : 0};
    }
    cr_assert(bracket_draw(&played->bracket, rules, "x", entries, count, &played->day.arena));
    for (size_t i = 0; i < played->bracket.count; i++)
        keep_slot(played, &played->bracket.slots[i], edition);
    picture_anew(played);
    return played;
}

static void play_end(struct played *played)
{
    arena_close(&played->arena);
    day_close(&played->day);
    free(played);
}

static struct result random_result(struct dice *dice)
{
    static const char *const hows[] = {"points", "superiority", "fall", "injury"};
    int how = dice_below(dice, 4);
    struct result result = {.how = hows[how], .code = "V"};
    result.winner = dice_chance(dice, 50) ? SIDE_RED : SIDE_BLUE;
    result.class_points[side_index(result.winner)] = how == 0 ? 3 : how == 1 ? 4 : 5;
    result.class_points[1 - side_index(result.winner)] = how < 2 ? dice_below(dice, 2) : 0;
    return result;
}

/* Calls the first slot whose two are known, and ends its bout. False: there is none. */
static bool play_next(struct played *played, struct dice *dice, struct result result)
{
    for (size_t i = 0; i < played->picture.slot_count; i++) {
        const struct picture_slot *slot = &played->picture.slots[i];
        if (slot->decided || slot->sides[0].comes != COMES_KNOWN ||
            slot->sides[1].comes != COMES_KNOWN)
            continue;
        struct details *details = &played->details[played->bout_count];
        *details = (struct details){.slot = slot->slot->slot};
        for (unsigned side = 0; side < 2; side++)
            details->sides[side] = (struct person){.name = slot->sides[side].who.athlete,
                                                   .athlete = slot->sides[side].who.athlete};
        played->bouts[played->bout_count] = (struct picture_bout){
            .details = details,
            .result = result,
            .points = {dice_below(dice, 12), dice_below(dice, 12)},
            .called_seq = played->bout_count + 1,
        };
        played->bout_count++;
        return true;
    }
    return false;
}

static void play_all(struct played *played, struct dice *dice)
{
    while (play_next(played, dice, random_result(dice)))
        picture_anew(played);
}

static const char *winner_of(const struct played *played, size_t bout)
{
    const struct picture_bout *of = &played->bouts[bout];
    return of->details->sides[side_index(of->result.winner)].athlete;
}

static const char *loser_of(const struct played *played, size_t bout)
{
    const struct picture_bout *of = &played->bouts[bout];
    return of->details->sides[1 - side_index(of->result.winner)].athlete;
}

static const char *stage_of(const struct played *played, size_t bout)
{
    return day_slot(&played->day, played->details[bout].slot)->stage;
}

static bool is_beside(const char *stage)
{
    return strcmp(stage, "repechage") == 0 || strcmp(stage, "for bronze") == 0;
}

static int place_of(const struct played *played, const char *athlete)
{
    const struct picture_weight *weight = &played->picture.weights[0];
    for (size_t i = 0; i < weight->rank_count; i++)
        if (strcmp(weight->ranks[i].who.athlete, athlete) == 0)
            return weight->ranks[i].place;
    return -1;
}

/* ---- repechage, for every number of entries ---- */

/* Read from the results alone: whom one finalist beat before the final, the earliest first. They
 * must wrestle so: the first two, the winner and the third, and so on; and no one else. Answers the
 * number of those bouts. */
static size_t expect_group(const struct played *played, const char *finalist)
{
    const char *beaten[16], *in = NULL;
    size_t count = 0, bouts = 0, next = 0;
    for (size_t i = 0; i < played->bout_count; i++)
        if (!is_beside(stage_of(played, i)) && strcmp(stage_of(played, i), "final") != 0 &&
            strcmp(winner_of(played, i), finalist) == 0)
            beaten[count++] = loser_of(played, i);
    cr_assert(count > 0);
    in = beaten[next++];
    for (size_t i = 0; i < played->bout_count; i++) {
        const struct person *sides = played->details[i].sides;
        bool of_group = is_beside(stage_of(played, i)) &&
                        (strcmp(sides[0].name, in) == 0 || strcmp(sides[1].name, in) == 0);
        if (!of_group)
            continue;
        cr_assert(next < count, "%s is in one bout more than the group has", in);
        const char *other = sides[strcmp(sides[0].name, in) == 0 ? 1 : 0].name;
        expect_text("who meets them", other, beaten[next++]);
        in = winner_of(played, i);
        bouts++;
    }
    cr_expect(eq(sz, next, count), "%zu entries: somebody is missing", played->count);
    cr_expect(eq(int, place_of(played, in), 3), "%zu entries: %s", played->count, in);
    return bouts;
}

static void expect_elimination(struct played *played)
{
    size_t count = played->count, places[DRAW_ENTRIES_MAX + 2] = {0}, final = 0;
    const struct picture *picture = &played->picture;
    for (size_t i = 0; i < picture->slot_count; i++)
        cr_expect(picture->slots[i].decided, "%zu: %s", count, picture->slots[i].slot->slot);
    for (size_t i = 0; i < played->bout_count; i++) {
        cr_expect(strcmp(winner_of(played, i), loser_of(played, i)) != 0, "%zu", count);
        if (strcmp(stage_of(played, i), "final") == 0)
            final = i;
    }
    cr_expect(eq(int, place_of(played, winner_of(played, final)), 1));
    cr_expect(eq(int, place_of(played, loser_of(played, final)), 2));
    size_t beside = expect_group(played, winner_of(played, final)) +
                    expect_group(played, loser_of(played, final));
    /* All but one lose on the way to the final, and each group of n has n − 1 bouts. */
    cr_expect(eq(sz, played->bout_count, count - 1 + beside), "%zu", count);
    const struct picture_weight *weight = &picture->weights[0];
    cr_expect(eq(sz, weight->rank_count, count));
    cr_expect(weight->decided);
    for (size_t i = 0; i < count; i++) {
        cr_expect(weight->ranks[i].bouts > 0, "%zu", count);
        places[weight->ranks[i].place]++;
    }
    cr_expect(places[0] == 0 && places[1] == 1 && places[2] == 1 && places[3] == 2);
    cr_expect(eq(sz, places[5], count < 8 ? places[5] : 2), "%zu", count);
}

Test(picture, repechage_for_8_to_64_entries)
{
    for (size_t count = 8; count <= DRAW_ENTRIES_MAX; count++)
        for (unsigned turn = 0; turn < 4; turn++) {
            const char *edition = turn % 2 == 0 ? "freestyle-2022" : "freestyle-2015";
            struct dice dice = dice_of(count * 8 + turn);
            struct played *played =
                play_begin(&test_edition(edition)->draw, edition, count, count % 5);
            play_all(played, &dice);
            expect_elimination(played);
            play_end(played);
        }
}

/* Below what the shipped editions draw so: two thirds still, some without a bout. */
Test(picture, elimination_with_4_to_7_entries)
{
    static const struct draw_rules elimination = {.given = true, .spread = true};
    for (size_t count = 4; count <= 7; count++)
        for (unsigned turn = 0; turn < 20; turn++) {
            struct dice dice = dice_of(count * 100 + turn);
            struct played *played = play_begin(&elimination, "freestyle-2022", count, turn % 5);
            play_all(played, &dice);
            expect_elimination(played);
            play_end(played);
        }
}

/* ---- everyone meets everyone ---- */

struct figures {
    const char *athlete;
    int victories, class_points, falls, superiorities, scored, given;
};

/* Counted from the bouts alone. */
static struct figures figures_of(const struct played *played, const char *athlete)
{
    struct figures figures = {.athlete = athlete};
    for (size_t i = 0; i < played->bout_count; i++)
        for (unsigned side = 0; side < 2; side++) {
            const struct picture_bout *bout = &played->bouts[i];
            if (strcmp(bout->details->sides[side].athlete, athlete) != 0)
                continue;
            bool won = strcmp(winner_of(played, i), athlete) == 0;
            figures.victories += won;
            figures.falls += won && strcmp(bout->result.how, "fall") == 0;
            figures.superiorities += won && strcmp(bout->result.how, "superiority") == 0;
            figures.class_points += bout->result.class_points[side];
            figures.scored += bout->points[side];
            figures.given += bout->points[1 - side];
        }
    return figures;
}

static int better(struct figures one, struct figures other)
{
    int differences[] = {one.class_points - other.class_points, one.falls - other.falls,
                         one.superiorities - other.superiorities, one.scored - other.scored,
                         other.given - one.given};
    for (size_t i = 0; i < sizeof differences / sizeof *differences; i++)
        if (differences[i] != 0)
            return differences[i];
    return 0;
}

static bool beat(const struct played *played, const char *one, const char *other)
{
    for (size_t i = 0; i < played->bout_count; i++)
        if (strcmp(winner_of(played, i), one) == 0 && strcmp(loser_of(played, i), other) == 0)
            return true;
    return false;
}

/* What the published order leaves no doubt of: more victories stand before fewer; of exactly two
 * with equal victories the winner of their bout; of more, the last is the one who is worst by the
 * criteria. */
static void expect_nordic(const struct played *played, bool direct_match)
{
    const struct picture_weight *weight = &played->picture.weights[0];
    for (size_t i = 0; i < weight->rank_count; i++)
        for (size_t j = i + 1; j < weight->rank_count; j++) {
            struct figures one = figures_of(played, weight->ranks[i].who.athlete);
            struct figures other = figures_of(played, weight->ranks[j].who.athlete);
            size_t equals = 0;
            for (size_t k = 0; k < weight->rank_count; k++)
                equals +=
                    figures_of(played, weight->ranks[k].who.athlete).victories == one.victories;
            cr_expect(one.victories >= other.victories);
            if (one.victories != other.victories)
                continue;
            if (!direct_match)
                cr_expect(better(one, other) >= 0, "%s before %s", one.athlete, other.athlete);
            else if (equals == 2)
                cr_expect(beat(played, one.athlete, other.athlete), "%s before %s", one.athlete,
                          other.athlete);
            else if (j + 1 == weight->rank_count ||
                     figures_of(played, weight->ranks[j + 1].who.athlete).victories <
                         other.victories)
                cr_expect(better(one, other) >= 0, "%s before %s, who is last", one.athlete,
                          other.athlete);
        }
}

Test(picture, nordic_ranking_for_2_to_9_entries)
{
    static const char *const editions[] = {"freestyle-2015", "freestyle-2022", "greco-2026"};
    for (size_t count = 2; count <= 9; count++)
        for (unsigned turn = 0; turn < 90; turn++) {
            const char *edition = editions[turn % 3];
            struct draw_rules rules = test_edition(edition)->draw;
            struct dice dice = dice_of(count * 1000 + turn);
            rules.nordic_up_to = 9;
            struct played *played = play_begin(&rules, edition, count, 0);
            cr_expect(eq(int, played->picture.weights[0].ranks[0].place, 0));
            play_all(played, &dice);
            cr_expect(eq(sz, played->bout_count, count * (count - 1) / 2));
            cr_expect(played->picture.weights[0].decided);
            cr_expect(eq(int, played->picture.weights[0].ranks[0].place, 1));
            expect_nordic(played, turn % 3 != 0);
            play_end(played);
        }
}

Test(picture, two_pools_for_6_and_7_entries)
{
    size_t level_count = 0;
    for (size_t count = 6; count <= 7; count++)
        for (unsigned turn = 0; turn < 60; turn++) {
            struct dice dice = dice_of(count * 500 + turn);
            struct played *played = play_begin(&test_edition("freestyle-2022")->draw,
                                               "freestyle-2022", count, turn % 5);
            play_all(played, &dice);
            size_t places[9] = {0};
            const struct picture_weight *weight = &played->picture.weights[0];
            bool level = !weight->decided; /* two in a pool that nothing parts: the officials say */
            for (size_t i = 0; i < weight->rank_count; i++)
                places[weight->ranks[i].place]++;
            level_count += level;
            if (!level) {
                cr_expect(places[1] == 1 && places[2] == 1 && places[3] == 1 && places[4] == 1);
                cr_expect(eq(sz, places[0], 0));
                cr_expect(eq(sz, played->bout_count, (count == 6 ? 6 : 9) + 4));
            }
            play_end(played);
        }
    cr_expect(lt(sz, level_count, 6), "%zu of 120", level_count);
}

/* ---- told ---- */

struct told {
    struct story story;
    struct day day;
    struct fold folds[16];
    struct picture_bout bouts[16];
    struct arena arena;
    struct picture picture;
};

static void tell(struct told *told, const char *text)
{
    size_t count = 0;
    story_init(&told->story);
    day_init(&told->day, malloc, free);
    arena_init(&told->arena, malloc, free);
    story_tell(&told->story, text);
    for (size_t i = 0; i < told->story.log.day_count; i++)
        cr_assert(day_read(&told->day, told->story.log.day[i]));
    for (size_t i = 0; i < told->story.log.bout_count; i++) {
        struct fold *fold = &told->folds[count];
        const struct bout *bout = told->story.log.bouts[i];
        fold_init(fold, bout, malloc, free);
        cr_assert(fold_read(fold, bout->count));
        struct state state = state_of(fold, story_now(&told->story));
        told->bouts[count++] = picture_bout_of(&state);
    }
    cr_assert(picture_make(&told->picture, &told->day, told->bouts, count, test_editions(),
                           &told->arena));
}

static void told_close(struct told *told)
{
    for (size_t i = 0; i < told->story.log.bout_count; i++)
        fold_close(&told->folds[i]);
    arena_close(&told->arena);
    day_close(&told->day);
    story_close(&told->story);
}

static const struct picture_slot *told_slot(const struct told *told, const char *name)
{
    const struct slot *slot = day_slot(&told->day, name);
    cr_assert(slot != NULL, "%s", name);
    return &told->picture.slots[slot->place];
}

/* "a1" where the athlete is known, "-" where nobody comes, "?" where it isn't known yet. */
static void expect_sides(const struct told *told, const char *slot, const char *red,
                         const char *blue)
{
    const char *wanted[] = {red, blue};
    for (unsigned side = 0; side < 2; side++) {
        const struct picture_side *got = &told_slot(told, slot)->sides[side];
        const char *text = got->comes == COMES_KNOWN    ? got->who.athlete
                           : got->comes == COMES_NOBODY ? "-"
                                                        : "?";
        expect_text(slot, text, wanted[side]);
    }
}

static void expect_place(const struct told *told, const char *athlete, int place)
{
    for (size_t i = 0; i < told->picture.weight_count; i++)
        for (size_t j = 0; j < told->picture.weights[i].rank_count; j++) {
            const struct picture_rank *rank = &told->picture.weights[i].ranks[j];
            if (rank->who.athlete != NULL && strcmp(rank->who.athlete, athlete) == 0) {
                cr_expect(eq(int, rank->place, place), "%s", athlete);
                return;
            }
        }
    cr_expect(place == -1, "%s is in no weight", athlete);
}

/* Four, with repechage drawn for a qualification that may come before. */
#define FOUR                                                                                       \
    "0 slot slot:s1 style:freestyle rules:freestyle-2022 red:{athlete:a1} blue:{athlete:a2}; "     \
    "0 slot slot:s2 style:freestyle rules:freestyle-2022 red:{athlete:a3} blue:{athlete:a4}; "     \
    "0 slot slot:f style:freestyle rules:freestyle-2022 red:{winner_of:s1} blue:{winner_of:s2}; "
#define CALL(id, slot, one, other)                                                                 \
    "1 bout bout:" #id " rules:freestyle-2022 slot:" #slot " red:{name:" #one ",athlete:" #one     \
    "} blue:{name:" #other ",athlete:" #other "}; "

Test(picture, sides_wait_and_are_filled_by_confirmed_results_alone)
{
    struct told told;
    tell(&told, FOUR);
    expect_sides(&told, "f", "?", "?");
    const struct picture_side *red = &told_slot(&told, "f")->sides[0];
    cr_expect(eq(int, red->from, WAITS_FOR_WINNER));
    cr_expect(eq(int, red->slot, (int)day_slot(&told.day, "s1")->place));
    cr_expect(told_slot(&told, "s1")->winner_to == 2 && told_slot(&told, "s1")->loser_to == -1);
    told_close(&told);

    tell(&told, FOUR CALL(b, s1, a1, a2) "2 close bout:b how:fall winner:blue unconfirmed:true");
    expect_sides(&told, "f", "?", "?");
    told_close(&told);

    tell(&told, FOUR CALL(b, s1, a1, a2) "2 close bout:b how:fall winner:blue unconfirmed:true; "
                                         "3 confirm bout:b");
    expect_sides(&told, "f", "a2", "?");
    expect_place(&told, "a1", 3); /* no bout for bronze is drawn */
    told_close(&told);
}

Test(picture, a_correction_of_a_result_takes_back_what_came_of_it)
{
    struct told told;
    tell(&told, FOUR CALL(b, s1, a1, a2) "2 close id:c bout:b how:fall winner:blue; "
                                         "3 void bout:b ref:c");
    expect_sides(&told, "f", "?", "?");
    told_close(&told);
    tell(&told, FOUR CALL(b, s1, a1, a2) "2 close bout:b how:fall winner:blue; "
                                         "3 close bout:b how:fall winner:red");
    expect_sides(&told, "f", "a1", "?");
    told_close(&told);
}

Test(picture, the_bout_says_who_wrestles)
{
    struct told told;
    tell(&told, FOUR CALL(b, s1, a9, a2) CALL(
                    c, s2, a4,
                    a3) "2 close bout:b how:fall winner:red; 2 close bout:c how:fall winner:red");
    expect_sides(&told, "s1", "a9", "a2");
    expect_sides(&told, "f", "a9", "a4");
    told_close(&told);
}

Test(picture, two_semi_final_losers_without_a_bout_are_third)
{
    struct told told;
    tell(&told,
         FOUR CALL(b, s1, a1, a2) CALL(c, s2, a3, a4)
             CALL(d, f, a1,
                  a4) "2 close bout:b how:fall winner:red; 2 close bout:c how:fall winner:blue; "
                      "3 close bout:d how:points winner:blue");
    expect_place(&told, "a4", 1);
    expect_place(&told, "a1", 2);
    expect_place(&told, "a2", 3);
    expect_place(&told, "a3", 3);
    told_close(&told);
}

Test(picture, one_bout_for_bronze_leaves_its_loser_fourth)
{
    struct told told;
    tell(&told,
         FOUR "0 slot slot:z style:freestyle red:{loser_of:s1} blue:{loser_of:s2}; " CALL(
             b, s1, a1, a2) CALL(c, s2, a3, a4)
             CALL(e, z, a2,
                  a3) "2 close bout:b how:fall winner:red; 2 close bout:c how:fall winner:blue; "
                      "3 close bout:e how:forfeit winner:blue");
    expect_sides(&told, "z", "a2", "a3");
    expect_place(&told, "a3", 3);
    expect_place(&told, "a2", 4);
    expect_place(&told, "a1", 0);
    cr_expect(eq(int, told_slot(&told, "s1")->loser_to, 3));
    told_close(&told);
}

Test(picture, a_bout_that_nobody_won_sends_nobody_on)
{
    struct told told;
    tell(&told, FOUR CALL(b, s1, a1, a2) CALL(
                    c, s2, a3,
                    a4) "2 close bout:b how:both_disqualified; 2 close bout:c how:fall winner:red");
    expect_sides(&told, "f", "-", "a3");
    cr_expect(told_slot(&told, "f")->decided && told_slot(&told, "f")->passed);
    expect_place(&told, "a3", 1);
    expect_place(&told, "a1", 0);
    expect_place(&told, "a4", 3);
    told_close(&told);
}

Test(picture, a_bout_taken_off_leaves_its_slot)
{
    struct told told;
    tell(&told,
         FOUR CALL(
             b, s1, a1,
             a2) "2 bout bout:b rules:freestyle-2022 slot:s1 red:{name:R} blue:{name:B} off:true");
    cr_expect(eq(int, told_slot(&told, "s1")->bout, PICTURE_NONE));
    expect_sides(&told, "s1", "a1", "a2");
    told_close(&told);
}

/* Keyed by hand over what would be filled in: an official's decision. */
Test(picture, what_is_keyed_stands_over_what_is_filled_in)
{
    struct told told;
    tell(&told, FOUR
         "0 slot slot:q style:freestyle red:{athlete:a5} blue:{athlete:a6}; "
         "0 slot slot:s1 red:{winner_of:q}; "
         "0 slot slot:z style:freestyle blue:{loser_of:s1}; " CALL(p, q, a5, a6)
             CALL(b, s1, a5,
                  a2) "2 close bout:p how:fall winner:red; 2 close bout:b how:fall winner:red");
    expect_sides(&told, "z", "a6", "a2");
    told_close(&told);
    tell(&told, FOUR
         "0 slot slot:q style:freestyle red:{athlete:a5} blue:{athlete:a6}; "
         "0 slot slot:s1 red:{winner_of:q}; "
         "0 slot slot:z style:freestyle red:{athlete:a7} blue:{loser_of:s1}; " CALL(p, q, a5, a6)
             CALL(b, s1, a5,
                  a2) "2 close bout:p how:fall winner:red; 2 close bout:b how:fall winner:red");
    expect_sides(&told, "z", "a7", "a2");
    told_close(&told);
}

Test(picture, slots_that_wait_for_each_other_wait_for_ever)
{
    struct told told;
    tell(&told, "0 slot slot:a red:{winner_of:b} blue:{athlete:x}; "
                "0 slot slot:b red:{winner_of:a} blue:{winner_of:b}; "
                "0 slot slot:c red:{winner_of:nowhere} blue:{loser_of:c}");
    expect_sides(&told, "a", "?", "x");
    expect_sides(&told, "b", "?", "?");
    expect_sides(&told, "c", "?", "?");
    told_close(&told);
}

/* Whatever is keyed, however little sense it makes: a picture comes of it, and says nothing that
 * can't be. */
static void random_slot(struct dice *dice, char *text, size_t size)
{
    static const char *const froms[] = {"athlete", "winner_of", "loser_of"};
    int used = snprintf(text, size, "0 slot slot:s%d rules:freestyle-2022", dice_below(dice, 9));
    if (dice_chance(dice, 30))
        used += snprintf(text + used, size - (size_t)used, " style:women");
    for (int side = 0; side < 2; side++)
        if (dice_chance(dice, 70)) {
            int from = dice_below(dice, 3);
            used += snprintf(text + used, size - (size_t)used, " %s:{%s:%c%d}",
                             side == 0 ? "red" : "blue", froms[from], from == 0 ? 'a' : 's',
                             dice_below(dice, 10));
        }
}

static void random_bout(struct dice *dice, int number, char *text, size_t size)
{
    static const char *const ends[] = {"how:fall winner:red", "how:points winner:blue",
                                       "how:both_injured", "how:fall winner:red unconfirmed:true"};
    char red[24] = "", off[16] = "";
    if (dice_chance(dice, 50))
        snprintf(red, sizeof red, ",athlete:a%d", dice_below(dice, 10));
    if (dice_chance(dice, 10))
        snprintf(off, sizeof off, " off:true");
    snprintf(text, size,
             "1 bout bout:b%d rules:freestyle-2022 slot:s%d red:{name:R%s} "
             "blue:{name:B,athlete:a%d}%s; 2 close bout:b%d %s",
             number, dice_below(dice, 10), red, dice_below(dice, 10), off, number,
             ends[dice_below(dice, 4)]);
}

static void expect_sense(const struct picture *picture, unsigned seed)
{
    for (size_t i = 0; i < picture->slot_count; i++) {
        const struct picture_slot *slot = &picture->slots[i];
        cr_expect(slot->decided || !slot->passed, "%u", seed);
        cr_expect(slot->decided || slot->winner_to < (int32_t)picture->slot_count, "%u", seed);
        if (slot->decided && !slot->passed)
            cr_expect(slot->bout != PICTURE_NONE, "%u", seed);
        for (unsigned side = 0; side < 2; side++)
            if (slot->sides[side].comes == COMES_KNOWN)
                cr_expect(slot->sides[side].who.athlete != NULL ||
                              slot->sides[side].who.bout != PICTURE_NONE,
                          "%u", seed);
    }
    for (size_t i = 0; i < picture->weight_count; i++)
        for (size_t j = 1; j < picture->weights[i].rank_count; j++) {
            int before = picture->weights[i].ranks[j - 1].place;
            int place = picture->weights[i].ranks[j].place;
            cr_expect(place == 0 || (before > 0 && before <= place), "%u", seed);
        }
}

Test(picture, of_anything_that_can_be_keyed)
{
    for (unsigned seed = 1; seed <= 1500; seed++) {
        char text[6000] = "", part[300];
        struct dice dice = dice_of(seed);
        struct told told;
        for (int i = 0; i < 12; i++) {
            random_slot(&dice, part, sizeof part);
            snprintf(text + strlen(text), sizeof text - strlen(text), "%s; ", part);
        }
        for (int i = 0; i < 8; i++) {
            random_bout(&dice, i, part, sizeof part);
            snprintf(text + strlen(text), sizeof text - strlen(text), "%s; ", part);
        }
        tell(&told, text);
        expect_sense(&told.picture, seed);
        told_close(&told);
    }
}

/* ---- teams ---- */

static void expect_team(const struct picture_team *team, const char *name, int place, int points)
{
    expect_text("team", team->team, name);
    cr_expect(eq(int, team->place, place), "%s", name);
    cr_expect(eq(int, team->points, points), "%s", name);
}

/* 25, 20, 15: from memory. */
Test(picture, teams_by_the_points_of_their_places)
{
    struct told told;
    tell(&told,
         "0 entry athlete:a1 team:Harbour; 0 entry athlete:a2 team:Mills; "
         "0 entry athlete:a3 team:Mills; 0 entry athlete:a4 team:Vale; "
         "0 entry athlete:b1 team:Vale; 0 entry athlete:b2 team:Harbour; " FOUR
         "0 slot slot:g style:greco_roman rules:greco-2026 red:{athlete:b1} "
         "blue:{athlete:b2}; " CALL(b, s1, a1, a2) CALL(c, s2, a3, a4)
             CALL(d, f, a1,
                  a4) "1 bout bout:e rules:greco-2026 slot:g red:{name:b1,athlete:b1} "
                      "blue:{name:b2,athlete:b2}; "
                      "2 close bout:b how:fall winner:red; 2 close bout:c how:fall winner:blue; "
                      "3 close bout:d how:points winner:blue; 3 close bout:e how:fall winner:red");
    const struct picture *picture = &told.picture;
    cr_assert(eq(sz, picture->team_count, 3));
    expect_team(&picture->teams[0], "Vale", 1, 50);
    expect_team(&picture->teams[1], "Harbour", 2, 40);
    expect_team(&picture->teams[2], "Mills", 3, 30);
    cr_expect(picture->teams[0].gold == 2 && picture->teams[0].won == 3);
    cr_expect(picture->teams[2].bronze == 2 && picture->teams[2].lost == 2);
    cr_assert(eq(sz, picture->style_team_count, 5));
    expect_text("style", picture->style_teams[0].style, "freestyle");
    expect_team(&picture->style_teams[0], "Mills", 1, 30);
    expect_team(&picture->style_teams[1], "Vale", 2, 25);
    expect_text("style", picture->style_teams[3].style, "greco_roman");
    expect_team(&picture->style_teams[3], "Vale", 1, 25);
    told_close(&told);
}

/* ---- without memory ---- */

Test(picture, without_memory_there_is_none)
{
    struct told told;
    tell(&told, FOUR CALL(b, s1, a1, a2) "2 close bout:b how:fall winner:blue");
    for (long left = 0;; left++) {
        struct picture picture;
        struct arena arena;
        arena_init(&arena, failing_allocate, failing_release);
        fail_after(left);
        bool done = picture_make(&picture, &told.day, told.bouts, 1, test_editions(), &arena);
        bool failed = has_failed();
        fail_never();
        cr_expect(eq(int, done, !failed));
        arena_close(&arena);
        if (done)
            break;
    }
    cr_expect(eq(long, allocations_left_over(), 0));
    told_close(&told);
}
