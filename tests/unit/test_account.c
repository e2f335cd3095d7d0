#include "stats/account.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <stdlib.h>
#include <string.h>
#include "support.h"

TestSuite(account);

#define BOUT "0 bout rules:freestyle-2022; "

struct told {
    struct story story;
    struct fold fold;
    struct state state;
    struct arena arena;
    struct account account;
};

static void tell(struct told *told, const char *text)
{
    story_init(&told->story);
    story_tell(&told->story, text);
    fold_init(&told->fold, told->story.log.bouts[0], malloc, free);
    cr_assert(fold_read(&told->fold, told->fold.bout->count));
    told->state = state_of(&told->fold, story_now(&told->story));
    arena_init(&told->arena, malloc, free);
    cr_assert(account_of(&told->account, &told->state, &told->arena));
}

static void end(struct told *told)
{
    arena_close(&told->arena);
    fold_close(&told->fold);
    story_close(&told->story);
}

/* ---- attempts ---- */

Test(account, attempts_by_technique_and_leg)
{
    struct told told;
    tell(&told,
         BOUT "1 attack side:red techniques:[single_leg,double_leg] leg:lead outcome:stopped;"
              "2 attack side:red techniques:[single_leg] leg:trail outcome:open;"
              "3 score side:red points:2 action:takedown attack:e3;"
              "4 score side:red points:2 action:exposure attack:e3;"
              "5 attack side:red techniques:[single_leg] leg:lead outcome:open;"
              "6 attack side:red techniques:[single_leg] leg:lead outcome:countered;"
              "7 score side:red points:4 action:throw technique:arm_throw;"
              "8 score side:red points:1 action:step_out");
    const struct account_side *red = &told.account.sides[0];
    cr_assert(eq(sz, red->attempt_count, 3));
    cr_expect(eq(sz, told.account.sides[1].attempt_count, 0));
    const struct account_attempts *lead = &red->attempts[0], *trail = &red->attempts[1];
    const struct account_attempts *throw = &red->attempts[2];
    cr_expect(eq(str, (char *)lead->technique, "single_leg"));
    cr_expect(eq(int, lead->leg, LEG_LEAD));
    cr_expect(eq(int, lead->tried, 2), "an open one isn't one yet");
    cr_expect(eq(int, lead->stopped, 1));
    cr_expect(eq(int, lead->countered, 1));
    cr_expect(eq(int, trail->leg, LEG_TRAIL));
    cr_expect(eq(int, trail->scored, 1), "two scores finish one");
    cr_expect(eq(int, trail->points, 4));
    cr_expect(eq(str, (char *) throw->technique, "arm_throw"));
    cr_expect(eq(int, throw->leg, LEG_NONE));
    cr_expect(eq(int, throw->points, 4));
    end(&told);
}

static struct attempts sum_of(const struct account_side *side, const char *technique, int leg)
{
    struct attempts sum = {0, 0, 0};
    for (size_t i = 0; i < side->attempt_count; i++) {
        const struct account_attempts *row = &side->attempts[i];
        if ((technique != NULL && row->technique != technique) ||
            (leg >= 0 && (int)row->leg != leg))
            continue;
        sum.tried += row->tried;
        sum.scored += row->scored;
        sum.points += row->points;
    }
    return sum;
}

static void expect_attempts(struct attempts got, struct attempts wanted, const char *what, int seed)
{
    cr_assert(eq(int, got.tried, wanted.tried), "%s, seed %d", what, seed);
    cr_assert(eq(int, got.scored, wanted.scored), "%s, seed %d", what, seed);
    cr_assert(eq(int, got.points, wanted.points), "%s, seed %d", what, seed);
}

static void expect_as_fold(const struct account *account, const struct fold *fold, int seed)
{
    for (unsigned side = 0; side < 2; side++) {
        const struct account_side *own = &account->sides[side];
        int stopped = 0, countered = 0;
        for (size_t i = 0; i < fold->row_count; i++)
            expect_attempts(sum_of(own, fold->rows[i].technique, -1), fold->rows[i].sides[side],
                            fold->rows[i].technique, seed);
        for (int leg = LEG_NONE; leg <= LEG_TRAIL; leg++)
            expect_attempts(sum_of(own, NULL, leg), fold->attacks[side].legs[leg], "leg", seed);
        for (size_t i = 0; i < own->attempt_count; i++) {
            stopped += own->attempts[i].stopped;
            countered += own->attempts[i].countered;
        }
        cr_assert(eq(int, stopped, fold->attacks[side].stopped), "seed %d", seed);
        cr_assert(eq(int, countered, fold->attacks[side].countered), "seed %d", seed);
        cr_assert(eq(int, own->points, fold->all.sides[side].points), "seed %d", seed);
        int points = 0;
        for (size_t i = 0; i < account->minute_count; i++)
            points += account->minutes[i].points[side];
        cr_assert(eq(int, points, own->points), "minutes, seed %d", seed);
    }
}

/* Whatever is keyed and corrected, the account adds up to what the fold shows. */
Test(account, adds_up_to_the_fold)
{
    for (int seed = 1; seed <= 150; seed++) {
        struct dice dice = dice_of((uint64_t)seed);
        struct log log;
        struct arena arena;
        log_init(&log, test_editions(), malloc, free);
        arena_init(&arena, malloc, free);
        random_log(&dice, &log, 150);
        for (size_t i = 0; i < log.bout_count; i++) {
            struct fold fold;
            struct account account;
            fold_init(&fold, log.bouts[i], malloc, free);
            cr_assert(fold_read(&fold, log.bouts[i]->count));
            struct state state = state_of(&fold, INT64_MIN);
            cr_assert(account_of(&account, &state, &arena));
            expect_as_fold(&account, &fold, seed);
            fold_close(&fold);
        }
        arena_close(&arena);
        log_close(&log);
    }
}

/* ---- points and time ---- */

Test(account, points_by_minute_and_period)
{
    struct told told;
    tell(&told, BOUT "1 score side:red points:2 action:takedown period:1 t_ms:59999;"
                     "2 score side:blue points:1 action:step_out period:1 t_ms:60000;"
                     "3 score side:red points:1 action:step_out period:1 t_ms:180000;"
                     "4 score side:red points:4 action:throw period:2 t_ms:0;"
                     "5 caution side:red reason:fleeing_mat points:1 period:1 t_ms:61000");
    const struct account_minute wanted[] = {
        {1, 0, {2, 0}}, {1, 1, {0, 2}}, {1, 2, {1, 0}}, {2, 3, {4, 0}}};
    cr_assert(eq(sz, told.account.minute_count, 4));
    for (size_t i = 0; i < 4; i++) {
        cr_expect(eq(int, told.account.minutes[i].period, wanted[i].period), "row %zu", i);
        cr_expect(eq(int, told.account.minutes[i].minute, wanted[i].minute), "row %zu", i);
        cr_expect(eq(int, told.account.minutes[i].points[0], wanted[i].points[0]), "row %zu", i);
        cr_expect(eq(int, told.account.minutes[i].points[1], wanted[i].points[1]), "row %zu", i);
    }
    end(&told);
}

Test(account, first_score_comeback_and_late_scores)
{
    struct told told;
    tell(&told, BOUT "1 score side:red points:2 action:takedown period:1 t_ms:20000;"
                     "2 score side:red points:2 action:exposure period:1 t_ms:25000;"
                     "3 score side:blue points:1 action:step_out period:1 t_ms:149999;"
                     "4 score side:blue points:4 action:throw period:1 t_ms:150000;"
                     "5 close how:points winner:blue period:2 t_ms:180000");
    const struct account *account = &told.account;
    cr_expect(eq(int, account->scored_first, SIDE_RED));
    cr_expect(eq(int, account->winner, SIDE_BLUE));
    cr_expect(eq(int, account->sides[1].behind_most, 4));
    cr_expect(eq(int, account->sides[0].behind_most, 1));
    cr_expect(eq(int, account->sides[0].first_score_ms, 20000));
    cr_expect(eq(int, account->sides[1].first_score_ms, 149999));
    cr_expect(eq(int, account->sides[1].late_scores, 1), "of the last 30 s alone");
    cr_expect(eq(i64, account->time_ms, 360000));
    cr_expect(eq(i64, account->length_ms, 360000));
    end(&told);
}

/* With each full minute gone, while the bout went on: criteria included. */
Test(account, course)
{
    struct told told;
    tell(&told, BOUT "1 score side:red points:1 action:step_out period:1 t_ms:1000;"
                     "2 score side:blue points:1 action:step_out period:1 t_ms:60000;"
                     "3 caution side:blue reason:fleeing_mat points:0 period:1 t_ms:90000;"
                     "4 score side:blue points:2 action:takedown period:2 t_ms:30000;"
                     "5 close how:fall winner:red period:2 t_ms:60000");
    const struct account_course wanted[] = {
        {1, {1, 1}, SIDE_BLUE}, {2, {1, 1}, SIDE_RED}, {3, {1, 1}, SIDE_RED}};
    cr_assert(eq(sz, told.account.course_count, 3), "not at the end itself");
    for (size_t i = 0; i < 3; i++) {
        const struct account_course *got = &told.account.course[i];
        cr_expect(eq(int, got->minutes, wanted[i].minutes));
        cr_expect(eq(int, got->points[0], wanted[i].points[0]), "minute %zu", i);
        cr_expect(eq(int, got->points[1], wanted[i].points[1]), "minute %zu", i);
        cr_expect(eq(int, got->leader, wanted[i].leader), "minute %zu", i);
    }
    end(&told);
}

Test(account, what_there_is_to_say)
{
    struct told told;
    tell(&told, BOUT);
    cr_expect(not(told.account.begun), "only called");
    cr_expect(not(told.account.closed));
    cr_expect(eq(ptr, (void *)(uintptr_t)told.account.style, NULL), "of two styles");
    end(&told);
    tell(&told, "0 bout rules:greco-2026; 1 close how:forfeit winner:red");
    cr_expect(not(told.account.begun));
    cr_expect(told.account.closed);
    cr_expect(eq(str, (char *)(uintptr_t)told.account.style, "greco_roman"), "the only one");
    end(&told);
    tell(&told, BOUT "1 clock do:start; 31 now");
    cr_expect(told.account.begun);
    cr_expect(eq(i64, told.account.time_ms, 30000));
    end(&told);
}

Test(account, without_memory)
{
    struct told told;
    tell(&told, BOUT "1 score side:red points:2 action:takedown technique:double_leg;"
                     "2 close how:points winner:red period:2 t_ms:180000");
    struct account account;
    for (long count = 0;; count++) {
        struct arena arena;
        arena_init(&arena, failing_allocate, failing_release);
        arena_take(&arena, 1);
        arena_fill(&arena);
        fail_after(count);
        bool done = account_of(&account, &told.state, &arena);
        bool failed = has_failed();
        fail_never();
        arena_close(&arena);
        cr_assert(eq(int, done, !failed), "after %ld allocations", count);
        if (done)
            break;
    }
    end(&told);
}

/* ---- notes ---- */

Test(account, notes_to_the_booth_on_a_side)
{
    struct told told;
    tell(&told, BOUT "1 note to:booth side:red text:first; 2 note to:public side:red text:public;"
                     "3 note to:booth text:bout; 4 note to:booth side:blue text:other;"
                     "5 note to:booth side:red text:gone; 6 void ref:e6;"
                     "7 note to:booth side:red text:last");
    const struct account_side *sides = told.account.sides;
    cr_assert(eq(sz, sides[0].note_count, 2));
    cr_expect(eq(str, (char *)sides[0].notes[0], "first"));
    cr_expect(eq(str, (char *)sides[0].notes[1], "last"));
    cr_assert(eq(sz, sides[1].note_count, 1));
    cr_expect(eq(str, (char *)sides[1].notes[0], "other"));
    end(&told);
}
