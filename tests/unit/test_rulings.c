/* Rulings: each is keyed for real, and the fold of that must show the score, leader and ending that
 * were told; and on the demo day, what the officials decided was among them. */
#include "stats/rulings.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "rules/time_of_day.h"
#include "support.h"
#include "wire/json.h"

TestSuite(rulings);

struct told {
    struct story story;
    struct fold fold;
    struct state state;
    struct ruling rulings[RULINGS_MAX];
    size_t count;
};

static void tell(struct told *told, const char *text)
{
    story_init(&told->story);
    story_tell(&told->story, text);
    fold_init(&told->fold, told->story.log.bouts[0], malloc, free);
    cr_assert(fold_read(&told->fold, told->fold.bout->count));
    told->state = state_of(&told->fold, story_now(&told->story));
    told->count = rulings_of(&told->state, told->rulings);
}

static void end(struct told *told)
{
    fold_close(&told->fold);
    story_close(&told->story);
}

static const struct ruling *ruling_in(const struct told *told, enum ruling_kind kind, int value,
                                      enum side side, int given)
{
    for (size_t i = 0; i < told->count; i++) {
        const struct ruling *ruling = &told->rulings[i];
        if (ruling->kind == kind && ruling->value == value && ruling->side == side &&
            ruling->given == given)
            return ruling;
    }
    return NULL;
}

static void expect_points(const struct ruling *ruling, int red, int blue, enum side leader,
                          const char *what)
{
    cr_assert(ne(ptr, (void *)(uintptr_t)ruling, NULL), "%s is among them", what);
    cr_expect(eq(int, ruling->points[0], red), "%s", what);
    cr_expect(eq(int, ruling->points[1], blue), "%s", what);
    cr_expect(eq(int, ruling->leader.side, leader), "%s", what);
}

#define BOUT "0 bout rules:freestyle-2022; "

/* As on the demo day: a throw for 4 is a 2, after a step-out that nobody saw. */
Test(rulings, of_a_score)
{
    struct told told;
    tell(&told, BOUT "10 score side:red points:4 action:throw;"
                     "20 score side:blue points:1 action:step_out;"
                     "30 score side:blue points:4 action:throw unconfirmed:true;"
                     "32 challenge side:red outcome:asked of:e4");
    expect_points(ruling_in(&told, RULING_LOST, 0, SIDE_NONE, 1), 4, 6, SIDE_BLUE,
                  "lost, at the cost of one");
    expect_points(ruling_in(&told, RULING_NOTHING, RULING_STAYS, SIDE_NONE, 0), 4, 5, SIDE_BLUE,
                  "nothing changes");
    expect_points(ruling_in(&told, RULING_UPHELD, 0, SIDE_NONE, 0), 4, 1, SIDE_RED, "out");
    expect_points(ruling_in(&told, RULING_UPHELD, 2, SIDE_BLUE, 0), 4, 3, SIDE_RED, "a 2");
    expect_points(ruling_in(&told, RULING_UPHELD, 2, SIDE_BLUE, 1), 5, 3, SIDE_RED,
                  "a 2, and 1 before it");
    expect_points(ruling_in(&told, RULING_UPHELD, 2, SIDE_RED, 0), 6, 1, SIDE_RED,
                  "the other side's");
    expect_points(ruling_in(&told, RULING_UPHELD, RULING_STAYS, SIDE_NONE, 1), 5, 5, SIDE_BLUE,
                  "1 besides: level, last point blue");
    end(&told);
}

Test(rulings, ending)
{
    struct told told;
    tell(&told, BOUT "10 score side:red points:5 action:throw;"
                     "20 score side:red points:4 action:throw;"
                     "30 caution side:blue reason:fleeing_mat points:1;"
                     "32 challenge side:blue outcome:asked of:e4");
    cr_expect(eq(int, told.state.due, DUE_SUPERIORITY));
    cr_expect(eq(int, ruling_in(&told, RULING_UPHELD, 0, SIDE_NONE, 0)->due, DUE_NOTHING));
    cr_expect(eq(int, ruling_in(&told, RULING_LOST, 0, SIDE_NONE, 1)->due, DUE_SUPERIORITY));
    cr_expect(eq(ptr, (void *)(uintptr_t)ruling_in(&told, RULING_UPHELD, 2, SIDE_RED, 0), NULL),
              "a caution can only stay or go");
    end(&told);
}

Test(rulings, of_what_gave_nothing_and_of_nothing_named)
{
    struct told told;
    tell(&told, "0 bout rules:greco-2026; 10 attack side:red techniques:[arm_throw] outcome:out;"
                "20 score side:blue points:2 action:takedown;"
                "32 challenge side:red outcome:asked of:e2");
    expect_points(ruling_in(&told, RULING_UPHELD, RULING_STAYS, SIDE_NONE, 4), 4, 2, SIDE_RED,
                  "4 that nobody gave, before blue's 2");
    cr_expect(eq(ptr, (void *)(uintptr_t)ruling_in(&told, RULING_UPHELD, 0, SIDE_NONE, 0), NULL),
              "there is nothing to take out");
    end(&told);
    tell(&told, BOUT "20 score side:blue points:2 action:takedown;"
                     "32 challenge side:red outcome:asked");
    expect_points(ruling_in(&told, RULING_UPHELD, 0, SIDE_NONE, 0), 0, 0, SIDE_NONE,
                  "the last points");
    end(&told);
    tell(&told, BOUT "20 score side:blue points:2 action:takedown;"
                     "32 challenge side:red outcome:asked; 40 challenge side:red outcome:upheld");
    cr_expect(eq(sz, told.count, 0), "none is open");
    end(&told);
}

/* ---- keyed for real ---- */

struct keying {
    struct log *log;
    const struct bout *bout;
    struct arena arena;
    int64_t at_ms;
    int number;
    bool good; /* everything keyed was admitted */
};

static void key(struct keying *keying, const char *members)
{
    char text[600], at[TIME_OF_DAY_SIZE];
    struct complaint complaint;
    time_of_day_write(keying->at_ms, at);
    snprintf(text, sizeof text, "{\"id\":\"r%d\",\"bout\":\"%s\",\"at\":\"%s\",%s}",
             ++keying->number, keying->bout->id, at, members);
    arena_reset(&keying->arena);
    const struct value *document = json_read(&keying->arena, text, strlen(text), &complaint);
    cr_assert(document != NULL, "%s", text);
    keying->good = keying->good &&
                   log_admit(keying->log, document, INTAKE_FILE, &complaint).admitted == ADMITTED;
}

static const char *action_of(const struct edition *edition, int value)
{
    return edition->actions[value] != NULL ? edition->actions[value][0] : "none";
}

static void key_given(struct keying *keying, const struct edition *edition,
                      const struct challenged *challenged, int32_t before, int given)
{
    char members[300], place[100] = "";
    if (given == 0)
        return;
    if (before != EVENT_NONE)
        snprintf(place, sizeof place, ",\"before\":\"%s\"", keying->bout->events[before].id);
    snprintf(members, sizeof members,
             "\"type\":\"score\",\"side\":\"%s\",\"points\":%d,\"action\":\"%s\"%s",
             side_name(challenged->side), given, action_of(edition, given), place);
    key(keying, members);
}

static void key_target(struct keying *keying, const struct edition *edition,
                       const struct challenged *challenged, const struct ruling *ruling)
{
    char members[300];
    const char *target =
        challenged->target != EVENT_NONE ? keying->bout->events[challenged->target].id : "";
    if (ruling->value == 0) {
        snprintf(members, sizeof members, "\"type\":\"void\",\"ref\":\"%s\"", target);
        key(keying, members);
    } else if (ruling->value != RULING_STAYS) {
        snprintf(members, sizeof members,
                 "\"type\":\"amend\",\"ref\":\"%s\",\"set\":{\"points\":%d,\"action\":\"%s\","
                 "\"side\":\"%s\"}",
                 target, ruling->value, action_of(edition, ruling->value), side_name(ruling->side));
        key(keying, members);
    }
}

static void key_ruling(struct keying *keying, const struct edition *edition,
                       const struct challenged *challenged, int32_t before,
                       const struct ruling *ruling)
{
    char members[300], points[20] = "";
    if (ruling->kind == RULING_NOTHING)
        return;
    if (ruling->kind == RULING_LOST)
        snprintf(points, sizeof points, ",\"points\":%d", ruling->given);
    snprintf(members, sizeof members, "\"type\":\"challenge\",\"side\":\"%s\",\"outcome\":\"%s\"%s",
             side_name(challenged->side), ruling->kind == RULING_LOST ? "rejected" : "upheld",
             points);
    key(keying, members);
    if (ruling->kind == RULING_LOST)
        return;
    key_given(keying, edition, challenged, before, ruling->given);
    key_target(keying, edition, challenged, ruling);
}

/* Where an event names the challenged one as what it comes before, the order without that is the
 * log's: another question. And a change of the side would count the attack that it finishes anew.
 */
static bool is_anchor(const struct fold *fold, int32_t place)
{
    for (size_t i = 0; i < fold->count; i++)
        if (fold->events[i].stands && fold->events[i].event->before == place)
            return true;
    return false;
}

/* The points are in their own places: nothing was moved. */
static bool is_in_log_order(const struct fold *fold)
{
    for (int32_t place = fold->first_entry; place != EVENT_NONE; place = fold->events[place].next)
        if (fold->events[place].next != EVENT_NONE && fold->events[place].next < place)
            return false;
    return true;
}

static int32_t entry_from(const struct fold *fold, int32_t target)
{
    for (int32_t place = target; target != EVENT_NONE && place < (int32_t)fold->count; place++)
        if (fold->events[place].stands && fold->events[place].gives_points)
            return place;
    return EVENT_NONE;
}

static void expect_keyed(struct log *log, const struct bout *bout, const struct state *state,
                         const struct ruling *ruling, int seed)
{
    const struct edition *edition = state->fold->details->edition;
    struct challenged challenged = challenged_of(state);
    int32_t before = entry_from(state->fold, challenged.target);
    size_t count = log->count;
    struct fold fold;
    struct keying keying = {
        .log = log, .bout = bout, .at_ms = state->now_ms, .number = (int)count * 10, .good = true};
    /* What is taken out is no place any more: what is given comes before the next one. */
    if (ruling->kind == RULING_UPHELD && ruling->value == 0 && before == challenged.target)
        before = state->fold->events[before].next;
    arena_init(&keying.arena, malloc, free);
    key_ruling(&keying, edition, &challenged, before, ruling);
    fold_init(&fold, bout, malloc, free);
    cr_assert(fold_read(&fold, bout->count));
    struct state then = state_of(&fold, state->now_ms);
    if (keying.good) {
        cr_assert(eq(int, ruling->points[0], then.all.sides[0].points), "red, seed %d", seed);
        cr_assert(eq(int, ruling->points[1], then.all.sides[1].points), "blue, seed %d", seed);
        cr_assert(eq(int, ruling->leader.side, then.leader.side),
                  "leader, seed %d, kind %d, value %d, given %d", seed, ruling->kind, ruling->value,
                  ruling->given);
        cr_assert(eq(int, ruling->leader.by, then.leader.by), "criterion, seed %d", seed);
        cr_assert(eq(int, ruling->due, then.due), "due, seed %d", seed);
    }
    fold_close(&fold);
    arena_close(&keying.arena);
    log_rewind(log, count);
}

/* Answers how many rulings were keyed. */
static size_t expect_all_keyed(struct log *log, const struct bout *bout, int seed)
{
    struct fold fold;
    struct ruling rulings[RULINGS_MAX];
    fold_init(&fold, bout, malloc, free);
    cr_assert(fold_read(&fold, bout->count));
    struct state state = state_of(&fold, INT64_MIN);
    size_t count = rulings_of(&state, rulings);
    struct challenged challenged = challenged_of(&state);
    if (count > 0 && (is_anchor(&fold, challenged.target) || !is_in_log_order(&fold)))
        count = 0;
    for (size_t i = 0; i < count; i++)
        expect_keyed(log, bout, &state, &rulings[i], seed);
    fold_close(&fold);
    return count;
}

Test(rulings, as_keyed_for_real, .timeout = 120)
{
    size_t keyed = 0;
    for (int seed = 1; seed <= 150; seed++) {
        struct dice dice = dice_of((uint64_t)seed);
        struct log log;
        char text[1200];
        int64_t at_ms = story_begins_ms;
        struct arena arena;
        struct complaint complaint;
        log_init(&log, test_editions(), malloc, free);
        arena_init(&arena, malloc, free);
        for (int number = 0; number < 60; number++) {
            random_event(&dice, text, sizeof text, log_bout(&log, "x"), "x", number, &at_ms);
            arena_reset(&arena);
            const struct value *document = json_read(&arena, text, strlen(text), &complaint);
            if (log_admit(&log, document, INTAKE_FILE, &complaint).admitted == ADMITTED &&
                number % 4 == 0)
                keyed += expect_all_keyed(&log, log_bout(&log, "x"), seed);
        }
        arena_close(&arena);
        log_close(&log);
    }
    cr_expect(gt(sz, keyed, 4000), "enough were open: %zu", keyed);
}

/* ---- the demo day ---- */

static bool is_among(const struct told *told, const struct state *then)
{
    for (size_t i = 0; i < told->count; i++) {
        const struct ruling *ruling = &told->rulings[i];
        if (ruling->points[0] == then->all.sides[0].points &&
            ruling->points[1] == then->all.sides[1].points &&
            ruling->leader.side == then->leader.side && ruling->leader.by == then->leader.by &&
            ruling->due == then->due)
            return true;
    }
    return false;
}

/* The place of the event after which the bout went on: the next start of the clock, or its end. */
static size_t gone_on(const struct bout *bout, size_t from)
{
    size_t place = from;
    while (place < bout->count &&
           !(bout->events[place].type == EVENT_CLOCK && bout->events[place].what == CLOCK_START))
        place++;
    return place;
}

static void expect_ruled(const struct bout *bout, size_t place)
{
    struct told told;
    fold_init(&told.fold, bout, malloc, free);
    cr_assert(fold_read(&told.fold, place + 1));
    told.state = state_of(&told.fold, bout->events[place].moment_ms);
    told.count = rulings_of(&told.state, told.rulings);
    cr_expect(gt(sz, told.count, 2), "%s: rulings", bout->events[place].id);
    size_t after = gone_on(bout, place);
    cr_assert(fold_read(&told.fold, after));
    struct state then = state_of(&told.fold, bout->events[after - 1].moment_ms);
    cr_expect(eq(int, told.fold.challenge[0].open, EVENT_NONE), "%s is decided", bout->id);
    cr_expect(is_among(&told, &then), "%s: %d-%d is among the rulings", bout->events[place].id,
              then.all.sides[0].points, then.all.sides[1].points);
    fold_close(&told.fold);
}

Test(rulings, demo_day)
{
    struct story story;
    size_t size, count = 0;
    char *text = file_text("fixtures/demo/day.ndjson", &size);
    story_init(&story);
    for (char *rest = text, *line; (line = strsep(&rest, "\n")) != NULL;)
        if (line[0] != '\0')
            cr_assert(eq(int, story_admit(&story, line), ADMITTED), "%s", story.complaint.detail);
    for (size_t i = 0; i < story.log.bout_count; i++)
        for (size_t place = 0; place < story.log.bouts[i]->count; place++) {
            const struct event *event = &story.log.bouts[i]->events[place];
            if (event->type != EVENT_CHALLENGE || event->outcome != CHALLENGE_ASKED)
                continue;
            expect_ruled(story.log.bouts[i], place);
            count++;
        }
    cr_expect(eq(sz, count, 3));
    story_close(&story);
    free(text);
}
