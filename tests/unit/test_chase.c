#include "stats/chase.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include "support.h"

TestSuite(chase);

/* ---- every sequence, one after the other ---- */

enum goal_kind { GOAL_LEAD, GOAL_SAFE, GOAL_SUPERIOR, GOAL_COUNT };

struct tried {                         /* the best of all sequences up to CHASE_ACTIONS_MAX */
    int fewest_actions, fewest_points; /* INT_MAX: none */
    int least_points, least_actions;
};

static bool other_may_lead(const struct edition *edition, const struct tallies *tallies,
                           enum side side)
{
    for (int value = 1; value <= EDITION_VALUE_MAX; value++) {
        if (!edition->values[value])
            continue;
        struct tallies answer = tallies_with(tallies, side_other(side), value);
        if (leader_of(edition, &answer).side == side_other(side))
            return true;
    }
    return false;
}

static bool is_reached(enum goal_kind goal, const struct edition *edition,
                       const struct tallies *tallies, enum side side)
{
    int margin = tallies->sides[side_index(side)].points -
                 tallies->sides[side_index(side_other(side))].points;
    if (goal == GOAL_SUPERIOR)
        return margin >= edition->superiority;
    bool is_ahead = leader_of(edition, tallies).side == side;
    return is_ahead && (goal == GOAL_LEAD || margin >= edition->superiority ||
                        !other_may_lead(edition, tallies, side));
}

static void note(struct tried *tried, int actions, int points)
{
    if (actions < tried->fewest_actions ||
        (actions == tried->fewest_actions && points < tried->fewest_points)) {
        tried->fewest_actions = actions;
        tried->fewest_points = points;
    }
    if (points < tried->least_points ||
        (points == tried->least_points && actions < tried->least_actions)) {
        tried->least_points = points;
        tried->least_actions = actions;
    }
}

static void try_all(struct tried tried[GOAL_COUNT], const struct edition *edition,
                    const struct tallies *tallies, enum side side, int actions, int points)
{
    for (int goal = 0; goal < GOAL_COUNT && actions > 0; goal++)
        if (is_reached((enum goal_kind)goal, edition, tallies, side))
            note(&tried[goal], actions, points);
    for (int value = 1; value <= EDITION_VALUE_MAX && actions < CHASE_ACTIONS_MAX; value++) {
        if (!edition->values[value])
            continue;
        struct tallies with = tallies_with(tallies, side, value);
        try_all(tried, edition, &with, side, actions + 1, points + value);
    }
}

static void expect_way(const struct chase_way *way, int actions, int points, const char *what,
                       const char *edition, int seed)
{
    int sum = 0;
    for (int i = 0; i < CHASE_ACTIONS_MAX; i++)
        sum += way->values[i];
    cr_assert(eq(int, way->actions, actions), "%s actions, %s, seed %d", what, edition, seed);
    cr_assert(eq(int, way->points, points), "%s points, %s, seed %d", what, edition, seed);
    cr_assert(eq(int, sum, points), "%s values, %s, seed %d", what, edition, seed);
}

/* It is so already, or the best of what was tried. */
static void expect_goal(const struct chase_way *way, bool so_already, int actions, int points,
                        const char *what, const char *edition, int seed)
{
    bool none = so_already || actions == INT_MAX;
    expect_way(way, none ? 0 : actions, none ? 0 : points, what, edition, seed);
}

static void expect_side(const struct state *state, enum side side, const struct chase_side *got,
                        int seed)
{
    const struct edition *edition = state->fold->details->edition;
    struct tried tried[GOAL_COUNT];
    for (int goal = 0; goal < GOAL_COUNT; goal++)
        tried[goal] = (struct tried){INT_MAX, INT_MAX, INT_MAX, INT_MAX};
    try_all(tried, edition, &state->all, side, 0, 0);
    bool ahead = state->leader.side == side;
    bool safe = is_reached(GOAL_SAFE, edition, &state->all, side);
    const char *name = edition->name;
    cr_assert(eq(int, got->leads, ahead), "%s, seed %d", name, seed);
    cr_assert(eq(int, got->is_safe, safe), "%s, seed %d", name, seed);
    expect_goal(&got->fewest, ahead, tried[GOAL_LEAD].fewest_actions,
                tried[GOAL_LEAD].fewest_points, "fewest", name, seed);
    expect_goal(&got->least, ahead, tried[GOAL_LEAD].least_actions, tried[GOAL_LEAD].least_points,
                "least", name, seed);
    expect_goal(&got->safe, safe, tried[GOAL_SAFE].fewest_actions, tried[GOAL_SAFE].fewest_points,
                "safe", name, seed);
    expect_goal(&got->superior, is_reached(GOAL_SUPERIOR, edition, &state->all, side),
                tried[GOAL_SUPERIOR].fewest_actions, tried[GOAL_SUPERIOR].fewest_points, "superior",
                name, seed);
    if (got->fewest.actions == 1)
        cr_assert(eq(int, got->fewest.points, state->needs[side_index(side)].to_lead),
                  "as the state needs, %s, seed %d", name, seed);
}

/* ---- random folds ---- */

/* An action of the edition of that value; false: it has none. */
static bool score_text(char *text, size_t size, const struct edition *edition, int value,
                       const char *side, const char *more)
{
    if (edition->actions[value] == NULL || edition->actions[value][0] == NULL)
        return false;
    snprintf(text, size, "score side:%s points:%d action:%s%s", side, value,
             edition->actions[value][0], more);
    return true;
}

static int some_value(struct dice *dice, const struct edition *edition)
{
    for (;;) {
        int value = 1 + dice_below(dice, EDITION_VALUE_MAX);
        if (edition->values[value])
            return value;
    }
}

/* Scores and cautions in any order, some before others, some voided. */
static void tell_random(struct story *story, struct dice *dice, const struct edition *edition)
{
    char text[200];
    snprintf(text, sizeof text, "bout rules:%s", edition->name);
    story_tell(story, text);
    for (int i = dice_below(dice, 9); i > 0; i--) {
        const char *side = dice_chance(dice, 50) ? "red" : "blue";
        if (dice_chance(dice, 25)) {
            snprintf(text, sizeof text, "caution side:%s reason:fleeing_mat points:%d", side,
                     dice_below(dice, 3));
            story_tell(story, text);
        } else if (score_text(text, sizeof text, edition, some_value(dice, edition), side,
                              dice_chance(dice, 20) ? " unconfirmed:true" : "")) {
            story_tell(story, text);
        }
    }
    if (story->told > 3 && dice_chance(dice, 20)) {
        snprintf(text, sizeof text, "void ref:e%d", 2 + dice_below(dice, (int)story->told - 1));
        story_tell(story, text);
    }
}

static void expect_chase(const struct edition *edition, int seed)
{
    struct dice dice = dice_of((uint64_t)seed);
    struct story story;
    struct fold fold;
    story_init(&story);
    tell_random(&story, &dice, edition);
    fold_init(&fold, story.log.bouts[0], malloc, free);
    cr_assert(fold_read(&fold, fold.bout->count));
    struct state state = state_of(&fold, story_now(&story));
    struct chase chase = chase_of(&state);
    expect_side(&state, SIDE_RED, &chase.sides[0], seed);
    expect_side(&state, SIDE_BLUE, &chase.sides[1], seed);
    fold_close(&fold);
    story_close(&story);
}

Test(chase, against_every_sequence_in_every_edition)
{
    const struct editions *editions = test_editions();
    for (size_t i = 0; i < editions->count; i++)
        for (int seed = 1; seed <= 60; seed++)
            expect_chase(&editions->items[i], (int)i * 1000 + seed);
}

/* The way told is keyed for real, as the outlook imagines it: then that side leads by the fold. */
static void expect_keyed(const struct edition *edition, int seed)
{
    struct dice dice = dice_of((uint64_t)seed);
    struct story story;
    struct fold fold;
    char text[200];
    story_init(&story);
    tell_random(&story, &dice, edition);
    fold_init(&fold, story.log.bouts[0], malloc, free);
    cr_assert(fold_read(&fold, fold.bout->count));
    struct state before = state_of(&fold, story_now(&story));
    enum side side = before.leader.side == SIDE_RED ? SIDE_BLUE : SIDE_RED;
    struct chase_way way = chase_of(&before).sides[side_index(side)].least;
    bool keyed = way.actions > 0;
    for (int i = 0; i < way.actions; i++) {
        keyed = keyed && score_text(text, sizeof text, edition, way.values[i], side_name(side), "");
        if (keyed)
            story_tell(&story, text);
    }
    cr_assert(fold_read(&fold, fold.bout->count));
    struct state after = state_of(&fold, story_now(&story));
    if (keyed)
        cr_assert(eq(int, after.leader.side, side), "%s, seed %d", edition->name, seed);
    fold_close(&fold);
    story_close(&story);
}

Test(chase, the_way_keyed_for_real_leads)
{
    const struct editions *editions = test_editions();
    for (size_t i = 0; i < editions->count; i++)
        for (int seed = 1; seed <= 60; seed++)
            expect_keyed(&editions->items[i], (int)i * 1000 + seed);
}

/* ---- some by hand ---- */

static struct chase chase_in(const char *text, struct story *story, struct fold *fold)
{
    story_init(story);
    story_tell(story, text);
    fold_init(fold, story->log.bouts[0], malloc, free);
    cr_assert(fold_read(fold, fold->bout->count));
    struct state state = state_of(fold, story_now(story));
    return chase_of(&state);
}

/* 1-6: one 5 levels and leads by the highest hold; 6 points lead in any way, in the fewest actions
 * a
 * 5. Source: freestyle-2022, criteria of a level score. */
Test(chase, a_level_score_may_be_enough)
{
    struct story story;
    struct fold fold;
    struct chase chase = chase_in("bout rules:freestyle-2022;"
                                  "score side:red points:1 action:step_out;"
                                  "score side:blue points:4 action:throw;"
                                  "score side:blue points:2 action:takedown",
                                  &story, &fold);
    const struct chase_side *red = &chase.sides[0], *blue = &chase.sides[1];
    cr_expect(eq(int, red->fewest.actions, 1));
    cr_expect(eq(int, red->fewest.values[0], 5));
    cr_expect(eq(int, red->least.points, 5), "1-6 and five: level, the higher hold");
    cr_expect(eq(int, red->least.actions, 1));
    cr_expect(blue->leads);
    cr_expect(not(blue->is_safe));
    cr_expect(eq(int, blue->safe.points, 1), "7-1: a 5 makes it 7-6");
    cr_expect(eq(int, blue->superior.points, 5));
    cr_expect(eq(int, blue->superior.actions, 1));
    fold_close(&fold);
    story_close(&story);
}

Test(chase, pace)
{
    struct story story;
    struct fold fold;
    const char *begin = "bout rules:freestyle-2022; clock do:set period:2 t_ms:60000;"
                        "score side:red points:2 action:takedown period:1 t_ms:1000;"
                        "attack side:red techniques:[x] outcome:stopped;";
    char text[600];
    snprintf(text, sizeof text,
             "%s score side:blue points:2 action:takedown;"
             "score side:blue points:1 action:step_out",
             begin);
    struct chase chase = chase_in(text, &story, &fold);
    const struct chase_side *red = &chase.sides[0];
    cr_expect(eq(int, red->least.points, 1), "3-3 on the last point");
    cr_expect(eq(int, red->pace, PACE_ENOUGH), "two points in four minutes, one in two");
    cr_expect(eq(i64, red->gone_ms, 240000));
    cr_expect(eq(i64, red->left_ms, 120000));
    cr_expect(eq(int, red->tries, 1));
    cr_expect(eq(int, red->points, 2));
    cr_expect(eq(int, chase.sides[1].pace, PACE_UNKNOWN), "it leads");
    fold_close(&fold);
    story_close(&story);
    snprintf(text, sizeof text, "%s score side:blue points:4 action:throw", begin);
    chase = chase_in(text, &story, &fold);
    cr_expect(eq(int, chase.sides[0].pace, PACE_SHORT));
    fold_close(&fold);
    story_close(&story);
    chase = chase_in("bout rules:freestyle-2022; clock do:set period:1 t_ms:59999;"
                     "score side:blue points:4 action:throw",
                     &story, &fold);
    cr_expect(eq(int, chase.sides[0].pace, PACE_UNKNOWN), "too early");
    fold_close(&fold);
    story_close(&story);
}
