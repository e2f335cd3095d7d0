#include "rules/standing.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include <stdlib.h>
#include <string.h>
#include "support.h"

struct row {
    char name[72], story[400];
    char stands[24]; /* a digit an event: 1 where it stands */
};

#define BOUT "bout rules:freestyle-2022; "

/* docs/events.md, "What stands". */
ParameterizedTestParameters(standing, what_stands)
{
    static struct row rows[] = {
        {"the bout alone", BOUT, "1"},
        {"nothing is void", BOUT "clock do:start; score side:red points:1 action:step_out", "111"},
        {"a void takes its target out", BOUT "clock do:start; void ref:e2", "101"},
        {"a void of a void restores", BOUT "clock do:start; void ref:e2; void ref:e3", "1101"},
        {"a void of that one takes it out again",
         BOUT "clock do:start; void ref:e2; void ref:e3; void ref:e4", "10101"},
        {"two voids, one taken back", BOUT "clock do:start; void ref:e2; void ref:e2; void ref:e3",
         "10011"},
        {"two voids, both taken back",
         BOUT "clock do:start; void ref:e2; void ref:e2; void ref:e3; void ref:e4", "110011"},
        {"a void in the middle",
         BOUT "note text:a to:booth; note text:b to:booth; void ref:e2; "
              "note text:c to:booth",
         "10111"},
        {"a void of an amend", BOUT "note text:a to:booth; amend ref:e2 set:{text:b}; void ref:e3",
         "1101"},
        {"a void of a confirm", BOUT "confirm; void ref:e2", "101"},
        {"a restart takes out what came before, but the bout", BOUT "clock do:start; restart",
         "101"},
        {"and leaves what comes after", BOUT "clock do:start; restart; clock do:start", "1011"},
        {"the last restart counts",
         BOUT "clock do:start; restart; clock do:start; restart; clock do:stop", "100011"},
        {"a restart takes out an earlier restart", BOUT "restart; restart", "101"},
        {"notes survive it", BOUT "note text:a to:booth; clock do:start; restart", "1101"},
        {"amends of notes survive it",
         BOUT "note text:a to:booth; amend ref:e2 set:{text:b}; clock do:start; "
              "amend ref:e4 set:{do:stop}; restart",
         "111001"},
        {"later bout events survive it", BOUT "clock do:start; " BOUT "restart", "1011"},
        {"a restart taken back", BOUT "clock do:start; restart; void ref:e3", "1101"},
        {"the last one taken back, the one before counts",
         BOUT "clock do:start; restart; clock do:start; restart; void ref:e5", "101101"},
        {"its void taken back", BOUT "clock do:start; restart; void ref:e3; void ref:e4", "10101"},
        {"a void before a restart is taken out with the rest",
         BOUT "clock do:start; void ref:e2; restart", "1001"},
        {"but what it took out stays out", BOUT "note text:a to:booth; void ref:e2; restart",
         "1001"},
        {"a void after the restart of one before it",
         BOUT "note text:a to:booth; restart; void ref:e2", "1011"},
        {"an event before the restart, put back after it, is not back",
         BOUT "clock do:start; void ref:e2; restart; void ref:e3", "10011"},
        {"a restart voided twice, one void taken back",
         BOUT "clock do:start; restart; void ref:e3; void ref:e3; void ref:e4", "110011"},
    };
    return cr_make_param_array(struct row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct row *row, standing, what_stands)
{
    struct story story;
    bool stands[24];
    char text[24] = "";
    story_init(&story);
    story_tell(&story, row->story);
    const struct bout *bout = story.log.bouts[0];
    standing_of(bout->events, bout->count, stands);
    for (size_t i = 0; i < bout->count; i++)
        text[i] = stands[i] ? '1' : '0';
    expect_text(row->name, text, row->stands);
    story_close(&story);
}

/* The same in the plainest way: take voids in their turn from the last on, and ask of each event
 * whether a void that stands names it. */
static bool is_void(const struct event *events, size_t count, size_t place)
{
    for (size_t i = place + 1; i < count; i++)
        if (events[i].type == EVENT_VOID && (size_t)events[i].ref == place &&
            !is_void(events, count, i))
            return true;
    return false;
}

static bool stands_plainly(const struct event *events, size_t count, size_t place)
{
    if (is_void(events, count, place))
        return false;
    const struct event *event = &events[place];
    if (event->type == EVENT_BOUT || event->type == EVENT_NOTE ||
        (event->type == EVENT_AMEND && events[event->ref].type == EVENT_NOTE))
        return true;
    for (size_t i = place + 1; i < count; i++)
        if (events[i].type == EVENT_RESTART && !is_void(events, count, i))
            return false;
    return true;
}

Test(standing, same_as_the_plain_way)
{
    for (uint64_t seed = 1; seed <= 60; seed++) {
        struct dice dice = dice_of(seed);
        struct log log;
        bool stands[200];
        log_init(&log, test_editions(), malloc, free);
        random_log(&dice, &log, 150);
        for (size_t i = 0; i < log.bout_count; i++) {
            const struct bout *bout = log.bouts[i];
            standing_of(bout->events, bout->count, stands);
            for (size_t j = 0; j < bout->count; j++)
                cr_assert(eq(int, stands[j], stands_plainly(bout->events, bout->count, j)),
                          "seed %llu, bout %s, event %zu", (unsigned long long)seed, bout->id, j);
        }
        log_close(&log);
    }
}
