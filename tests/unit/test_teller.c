/* Sentences in the order in which they go out: what waits for a score's hold, what goes into it,
 * and what sends it out. A story's lines are compared as "SECONDS text", parted by "; ", where
 * SECONDS is when the line went out. */
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include <stdlib.h>
#include <string.h>
#include "prompts/teller.h"
#include "support.h"

struct row {
    char name[56];
    char story[420];
    char want[420];
};

struct telling_all {
    struct fold fold;
    struct teller teller;
    int64_t next_ms;
    char said[2000];
};

static void put(struct telling_all *all, const struct line *lines, size_t count, int64_t at_ms)
{
    for (size_t i = 0; i < count; i++) {
        size_t size = strlen(all->said);
        snprintf(all->said + size, sizeof all->said - size, "%s%g %s", size > 0 ? "; " : "",
                 (double)(at_ms - story_begins_ms) / 1000, lines[i].text);
    }
}

static void keep(struct telling_all *all, const struct state *state)
{
    int64_t wait_ends_ms = teller_next(&all->teller);
    all->next_ms = state->next_ms < wait_ends_ms ? state->next_ms : wait_ends_ms;
}

static void let_pass(struct telling_all *all, int64_t until_ms)
{
    struct line lines[TELLER_LINES_MAX];
    while (all->next_ms <= until_ms) {
        int64_t at_ms = all->next_ms;
        struct state state = state_of(&all->fold, at_ms);
        put(all, lines, teller_pass(&all->teller, test_language("en"), &state, at_ms, lines),
            at_ms);
        keep(all, &state);
    }
}

static void tell_all(struct telling_all *all, const struct bout *bout, int64_t now_ms)
{
    struct line lines[TELLER_LINES_MAX];
    memset(all, 0, sizeof *all);
    all->next_ms = INT64_MAX;
    fold_init(&all->fold, bout, malloc, free);
    for (size_t place = 0; place < bout->count; place++) {
        int64_t at_ms = bout->events[place].at_ms;
        let_pass(all, at_ms);
        cr_assert(fold_read(&all->fold, place + 1));
        struct state state = state_of(&all->fold, at_ms);
        put(all, lines, teller_read(&all->teller, test_language("en"), &state, place, at_ms, lines),
            at_ms);
        keep(all, &state);
    }
    let_pass(all, now_ms);
    fold_close(&all->fold);
}

/* The call and the beginning are said in every row: 0 in the story, left out of what is wanted. */
#define BOUT "0 bout rules:freestyle-2022 red:{name:Brandt} blue:{name:Haddad}; 0 clock do:start; "
#define BEGUN "0 Called: Brandt in red, Haddad in blue.; 0 Period one begins."

ParameterizedTestParameters(teller, waits)
{
    static struct row rows[] = {
        {"a hold that is known is said at once",
         BOUT "20 score side:red points:2 action:takedown technique:single_leg; 21 now",
         "; 20 Brandt takes down Haddad with a single leg for 2, and leads 2 to 0."},
        {"one that isn't waits four seconds",
         BOUT "20 score side:red points:2 action:takedown; 40 now",
         "; 24 Brandt takes down Haddad for 2, and leads 2 to 0."},
        {"and nothing is said before", BOUT "20 score side:red points:2 action:takedown; 23.9 now",
         ""},
        {"the hold comes in time",
         BOUT "20 score side:red points:2 action:takedown; 22 amend ref:e3 "
              "set:{technique:single_leg}; 40 now",
         "; 22 Brandt takes down Haddad with a single leg for 2, and leads 2 to 0."},
        {"the hold comes too late",
         BOUT "20 score side:red points:2 action:takedown; 25 amend ref:e3 "
              "set:{technique:single_leg}; 40 now",
         "; 24 Brandt takes down Haddad for 2, and leads 2 to 0.; 25 The 2 for Brandt came from a "
         "single leg."},
        {"its confirmation goes into it",
         BOUT "20 score side:red points:2 action:takedown unconfirmed:true; 21 clock do:stop; 21 "
              "confirm; 22 amend ref:e3 set:{technique:single_leg}; 40 now",
         "; 22 Brandt takes down Haddad with a single leg for 2, and leads 2 to 0."},
        {"one of two confirmations doesn't",
         BOUT "10 score side:blue points:1 action:step_out unconfirmed:true; 20 score side:red "
              "points:2 action:takedown unconfirmed:true; 21 confirm; 40 now",
         "; 10 Brandt steps out, 1 to Haddad, not confirmed yet.; 21 Brandt takes down Haddad for "
         "2, not confirmed yet.; 21 The points are confirmed: Brandt leads 2 to 1."},
        {"a slip taken out in time is never said",
         BOUT "20 score side:red points:2 action:takedown; 22 void ref:e3; 40 now", ""},
        {"the officials' correction is",
         BOUT "20 score side:red points:2 action:takedown; 22 void ref:e3 why:officials; 40 now",
         "; 22 Brandt takes down Haddad for 2, and leads 2 to 0.; 22 The officials take back the 2 "
         "for Brandt. It is 0 to 0."},
        {"its attack is named in time",
         BOUT "20 attack side:red techniques:[attack] outcome:open; 20 score side:red points:2 "
              "action:takedown attack:e3; 22 amend ref:e3 set:{techniques:[high_crotch],leg:lead}; "
              "40 now",
         "; 22 Brandt takes down Haddad with a high crotch on the lead leg for 2, and leads 2 to "
         "0."},
        {"its attack is named too late",
         BOUT "20 attack side:red techniques:[attack] outcome:open; 20 score side:red points:2 "
              "action:takedown attack:e3; 29 amend ref:e3 set:{techniques:[high_crotch]}; 40 now",
         "; 24 Brandt takes down Haddad for 2, and leads 2 to 0.; 29 The 2 for Brandt came from a "
         "high crotch."},
        {"what comes next sends it out first",
         BOUT "20 score side:red points:2 action:takedown; 21 score side:red points:2 "
              "action:exposure technique:gut_wrench; 40 now",
         "; 21 Brandt takes down Haddad for 2, and leads 2 to 0.; 21 Brandt turns Haddad with a "
         "gut "
         "wrench for 2, and leads 4 to 0."},
        {"two wait one after the other",
         BOUT "20 score side:red points:2 action:takedown; 22 score side:red points:2 "
              "action:exposure; 40 now",
         "; 22 Brandt takes down Haddad for 2, and leads 2 to 0.; 26 Brandt turns Haddad for 2, "
         "and "
         "leads 4 to 0."},
        {"a step-out needs no hold", BOUT "20 score side:red points:1 action:step_out; 20.1 now",
         "; 20 Haddad steps out, 1 to Brandt. Brandt leads 1 to 0."},
        {"the end of the period sends it out",
         BOUT "179 score side:red points:2 action:takedown; 190 now",
         "; 180 Brandt takes down Haddad for 2 with 1 second left in period one, and leads 2 to "
         "0.; 180 End of period one: Brandt leads 2 to 0."},
        {"a public note sends it out, and is the newest",
         BOUT "20 score side:red points:2 action:takedown; 21 note text:'The hall rises.' "
              "to:public; 40 now",
         "; 21 Brandt takes down Haddad for 2, and leads 2 to 0.; 21 The hall rises."},
        {"a note to the booth doesn't",
         BOUT "20 score side:red points:2 action:takedown; 21 note text:'Watch the leg' to:booth; "
              "22 amend ref:e3 set:{technique:single_leg}; 40 now",
         "; 22 Brandt takes down Haddad with a single leg for 2, and leads 2 to 0."},
    };
    return cr_make_param_array(struct row, rows, sizeof rows / sizeof *rows);
}

ParameterizedTest(struct row *row, teller, waits)
{
    struct story story;
    struct telling_all all;
    char want[600];
    story_init(&story);
    story_tell(&story, row->story);
    tell_all(&all, log_bout(&story.log, "b"), story_now(&story));
    snprintf(want, sizeof want, "%s%s", BEGUN, row->want);
    expect_text(row->name, all.said, want);
    story_close(&story);
}

/* On random bouts: nothing waits longer than it may, and nothing is lost or said twice. */
Test(teller, loses_nothing)
{
    for (uint64_t seed = 1; seed <= 200; seed++) {
        struct dice dice = dice_of(seed);
        struct log log;
        log_init(&log, test_editions(), malloc, free);
        random_log(&dice, &log, 80);
        for (size_t i = 0; i < log.bout_count; i++) {
            struct telling_all all;
            const struct bout *bout = log.bouts[i];
            int64_t end_ms = bout->events[bout->count - 1].at_ms + TELLER_WAIT_MS;
            tell_all(&all, bout, end_ms);
            cr_expect(eq(i64, teller_next(&all.teller), INT64_MAX), "seed %llu",
                      (unsigned long long)seed);
        }
        log_close(&log);
    }
}
