#include "stats/clock.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include <stdlib.h>
#include <string.h>
#include "support.h"

/* Two periods of 3:00 with a break of 0:30: Ontario, amateur combative sport rules, wrestling;
 * avjc.de, "Regelwerk", 2018. What the clock does: docs/events.md, "clock". */
#define BOUT "0 bout rules:freestyle-2022; "

struct row {
    char name[72], story[300], wanted[160];
};

#define WANTED(period, t_ms, left_ms, elapsed_ms, running)                                         \
    "clock:{period:" #period ",t_ms:" #t_ms ",left_ms:" #left_ms ",elapsed_ms:" #elapsed_ms        \
    ",running:" #running "}"

ParameterizedTestParameters(clock, does)
{
    static struct row rows[] = {
        {"before anything", BOUT "100 now", WANTED(1, 0, 180000, 0, false)},
        {"start", BOUT "10 clock do:start; 10 now", WANTED(1, 0, 180000, 0, true)},
        {"runs", BOUT "10 clock do:start; 12.345 now", WANTED(1, 2345, 177655, 2345, true)},
        {"stop", BOUT "10 clock do:start; 15 clock do:stop; 99 now",
         WANTED(1, 5000, 175000, 5000, false)},
        {"start again", BOUT "10 clock do:start; 15 clock do:stop; 20 clock do:start; 21 now",
         WANTED(1, 6000, 174000, 6000, true)},
        {"a start while it runs changes nothing",
         BOUT "10 clock do:start; 15 clock do:start; 20 now",
         WANTED(1, 10000, 170000, 10000, true)},
        {"a stop while it stands changes nothing",
         BOUT "10 clock do:start; 15 clock do:stop; 18 clock do:stop; 20 now",
         WANTED(1, 5000, 175000, 5000, false)},
        {"a moment before the period is used up", BOUT "10 clock do:start; 189.999 now",
         WANTED(1, 179999, 1, 179999, true)},
        {"used up", BOUT "10 clock do:start; 190 now", WANTED(1, 180000, 0, 180000, false)},
        {"never beyond the length", BOUT "10 clock do:start; 999 now",
         WANTED(1, 180000, 0, 180000, false)},
        {"a stop after it ran out", BOUT "10 clock do:start; 200 clock do:stop; 300 now",
         WANTED(1, 180000, 0, 180000, false)},
        {"a stop keyed before it ran out, accepted after",
         BOUT "10 clock do:start; 200 clock do:stop keyed_at:@189; 300 now",
         WANTED(1, 179000, 1000, 179000, false)},
        {"the same, after others were read",
         BOUT "10 clock do:start; 195 note text:a to:booth; "
              "200 clock do:stop keyed_at:@189; 300 now",
         WANTED(1, 179000, 1000, 179000, false)},
        {"a start of a used-up period changes nothing",
         BOUT "10 clock do:start; 200 clock do:start; 300 now",
         WANTED(1, 180000, 0, 180000, false)},
        {"a start of the same period changes nothing there",
         BOUT "10 clock do:start; 200 clock do:start period:1; 300 now",
         WANTED(1, 180000, 0, 180000, false)},
        {"end", BOUT "10 clock do:start; 20 clock do:end; 30 now",
         WANTED(1, 180000, 0, 180000, false)},
        {"end while it stands", BOUT "10 clock do:end; 30 now",
         WANTED(1, 180000, 0, 180000, false)},
        {"a later period",
         BOUT "10 clock do:start; 20 clock do:end; 50 clock do:start period:2; "
              "51 now",
         WANTED(2, 1000, 179000, 181000, true)},
        {"a later period while it runs",
         BOUT "10 clock do:start; 20 clock do:start period:2; "
              "21 now",
         WANTED(2, 1000, 179000, 181000, true)},
        {"a later period while it stands",
         BOUT "10 clock do:start; 15 clock do:stop; "
              "20 clock do:start period:2; 21 now",
         WANTED(2, 1000, 179000, 181000, true)},
        {"at once the second", BOUT "10 clock do:start period:2; 11 now",
         WANTED(2, 1000, 179000, 181000, true)},
        {"the same period, standing: it runs",
         BOUT "10 clock do:start; 15 clock do:stop; "
              "20 clock do:start period:1; 21 now",
         WANTED(1, 6000, 174000, 6000, true)},
        {"the same period, running: nothing",
         BOUT "10 clock do:start; 15 clock do:start period:1; "
              "20 now",
         WANTED(1, 10000, 170000, 10000, true)},
        {"an earlier period, standing: it runs on",
         BOUT "10 clock do:set period:2 t_ms:5000; "
              "20 clock do:start period:1; 21 now",
         WANTED(2, 6000, 174000, 186000, true)},
        {"an earlier period, running: nothing",
         BOUT "10 clock do:start period:2; "
              "20 clock do:start period:1; 21 now",
         WANTED(2, 11000, 169000, 191000, true)},
        {"set while it stands", BOUT "10 clock do:set period:2 t_ms:46000; 20 now",
         WANTED(2, 46000, 134000, 226000, false)},
        {"set while it runs, runs on",
         BOUT "10 clock do:start; 20 clock do:set period:1 "
              "t_ms:60000; 25 now",
         WANTED(1, 65000, 115000, 65000, true)},
        {"set back to an earlier period",
         BOUT "10 clock do:start period:2; 20 clock do:set "
              "period:1 t_ms:170000; 25 now",
         WANTED(1, 175000, 5000, 175000, true)},
        {"set to the length",
         BOUT "10 clock do:start; 20 clock do:set period:1 t_ms:180000; "
              "25 now",
         WANTED(1, 180000, 0, 180000, false)},
        {"set back after it was used up: it stands",
         BOUT "10 clock do:start; 200 clock do:set "
              "period:1 t_ms:170000; 210 now",
         WANTED(1, 170000, 10000, 170000, false)},
        {"and can run again",
         BOUT "10 clock do:start; 200 clock do:set period:1 t_ms:170000; "
              "210 clock do:start; 212 now",
         WANTED(1, 172000, 8000, 172000, true)},
        {"set after an end: it stands",
         BOUT "10 clock do:start; 20 clock do:end; 21 clock do:set "
              "period:1 t_ms:170000; 25 now",
         WANTED(1, 170000, 10000, 170000, false)},
        {"set of a later period begins nothing",
         BOUT "10 clock do:start; 200 clock do:set "
              "period:2 t_ms:0; 210 now",
         WANTED(2, 0, 180000, 180000, false)},
        {"a start keyed while the line was down counts from the press",
         BOUT "20 clock do:start keyed_at:@10; 21 now", WANTED(1, 11000, 169000, 11000, true)},
        {"start and stop keyed while the line was down",
         BOUT "60 clock do:start keyed_at:@10; 60 clock do:stop keyed_at:@17.5; 99 now",
         WANTED(1, 7500, 172500, 7500, false)},
        {"a stop keyed before the start counts at the start",
         BOUT "10 clock do:start; 20 clock do:stop keyed_at:@5; 30 now",
         WANTED(1, 0, 180000, 0, false)},
        {"an at that goes back doesn't wind it back",
         BOUT "10 clock do:start; 20 clock do:stop; 15 clock do:start; 25 now",
         WANTED(1, 15000, 165000, 15000, true)},
        {"now before the latest moment counts as that",
         BOUT "10 clock do:start; 20 note text:a to:booth; 12 now",
         WANTED(1, 10000, 170000, 10000, true)},
        {"lost stops it and makes it unsure",
         BOUT "10 clock do:start; 40 clock do:lost keyed_at:@15; 50 now",
         "clock:{period:1,t_ms:5000,left_ms:175000,running:false,unsure:true}"},
        {"until the next clock event",
         BOUT "10 clock do:start; 40 clock do:lost keyed_at:@15; "
              "41 note text:a to:booth; 42 clock do:start; 43 now",
         "clock:{t_ms:6000,running:true,unsure:null}"},
        {"of any kind",
         BOUT "10 clock do:start; 40 clock do:lost keyed_at:@15; 42 clock do:set "
              "period:1 t_ms:20000; 43 now",
         "clock:{t_ms:20000,running:false,unsure:null}"},
        {"also one that changes nothing else",
         BOUT "10 clock do:start; 40 clock do:lost "
              "keyed_at:@15; 42 clock do:stop; 43 now",
         "clock:{t_ms:5000,running:false,unsure:null}"},
        {"lost while it stands",
         BOUT "10 clock do:start; 15 clock do:stop; 20 clock do:lost; "
              "30 now",
         "clock:{t_ms:5000,running:false,unsure:true}"},
        {"lost after it ran out",
         BOUT "10 clock do:start; 300 clock do:lost keyed_at:@250; 400 now",
         "clock:{t_ms:180000,running:false,unsure:true}"},
        {"a void of a stop", BOUT "10 clock do:start; 15 clock do:stop; 20 void ref:e3; 25 now",
         WANTED(1, 15000, 165000, 15000, true)},
        {"a void of the start", BOUT "10 clock do:start; 15 clock do:stop; 20 void ref:e2; 25 now",
         WANTED(1, 0, 180000, 0, false)},
        {"a stop amended to a start",
         BOUT "10 clock do:start; 15 clock do:stop; 20 amend ref:e3 "
              "set:{do:start}; 25 now",
         WANTED(1, 15000, 165000, 15000, true)},
        {"a set amended",
         BOUT "10 clock do:set period:1 t_ms:5000; 20 amend ref:e2 "
              "set:{t_ms:9000}; 25 now",
         WANTED(1, 9000, 171000, 9000, false)},
        {"a start's period taken away",
         BOUT "10 clock do:start period:2; 20 amend ref:e2 "
              "unset:[period]; 25 now",
         WANTED(1, 15000, 165000, 15000, true)},
        {"what was void is still a moment for those after it",
         BOUT "10 clock do:start; 20 clock do:stop; 30 clock do:stop keyed_at:@15; 40 void ref:e3; "
              "50 now",
         WANTED(1, 10000, 170000, 10000, false)},
        {"a restart begins anew", BOUT "10 clock do:start period:2; 20 restart; 30 now",
         WANTED(1, 0, 180000, 0, false)},
        {"and can be started",
         BOUT "10 clock do:start period:2; 20 restart; 30 clock do:start; "
              "31 now",
         WANTED(1, 1000, 179000, 1000, true)},
        {"an event's own bout time moves no clock",
         BOUT
         "10 clock do:start; 20 score side:red points:1 action:step_out period:2 t_ms:5; 21 now",
         WANTED(1, 11000, 169000, 11000, true)},
        {"a stoppage moves no clock",
         BOUT "10 clock do:start; 15 stoppage kind:blood do:start; "
              "20 now",
         WANTED(1, 10000, 170000, 10000, true)},
        {"a close moves no clock", BOUT "10 clock do:start; 15 close how:fall winner:red; 20 now",
         WANTED(1, 10000, 170000, 10000, true)},
    };
    return cr_make_param_array(struct row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct row *row, clock, does)
{
    expect_state(row->name, row->story, row->wanted);
}

/* Another `bout` event with another length or edition: its length holds for the whole bout. "A bout
 * time beyond the length counts as the length, a `start` with a period that the bout no longer has
 * is one without, a `set` with one sets the last period." docs/events.md, "bout". */
ParameterizedTestParameters(clock, another_length)
{
    static struct row rows[] = {
        {"shorter than what has run",
         BOUT "10 clock do:start; 70 clock do:stop; 80 bout "
              "rules:freestyle-2022 length:{period_ms:60000}; 90 now",
         WANTED(1, 60000, 0, 60000, false)},
        {"shorter than what it was set to",
         BOUT "10 clock do:set period:1 t_ms:90000; 80 bout "
              "rules:freestyle-2022 length:{period_ms:60000}; "
              "90 now",
         WANTED(1, 60000, 0, 60000, false)},
        {"longer: the period is not used up after all",
         BOUT "10 clock do:start; 200 bout rules:freestyle-2022 length:{period_ms:300000}; 210 now",
         WANTED(1, 200000, 100000, 200000, true)},
        {"an end uses up the longer one as well",
         BOUT "10 clock do:start; 20 clock do:end; 30 bout rules:freestyle-2022 "
              "length:{period_ms:300000}; 40 now",
         WANTED(1, 300000, 0, 300000, false)},
        {"a set to the old length is not the new one's",
         BOUT "10 clock do:set period:1 t_ms:180000; 30 bout rules:freestyle-2022 "
              "length:{period_ms:300000}; 40 now",
         WANTED(1, 180000, 120000, 180000, false)},
        {"a start of a period that there no longer is",
         BOUT "10 clock do:start period:2; 20 bout rules:freestyle-2022 length:{periods:1}; 25 now",
         WANTED(1, 15000, 165000, 15000, true)},
        {"the same while it runs",
         BOUT "10 clock do:start; 15 clock do:start period:2; 20 bout "
              "rules:freestyle-2022 length:{periods:1}; 25 now",
         WANTED(1, 15000, 165000, 15000, true)},
        {"a set of a period that there no longer is",
         BOUT "10 clock do:set period:2 t_ms:5000; 20 bout rules:freestyle-2022 "
              "length:{periods:1}; 25 now",
         WANTED(1, 5000, 175000, 5000, false)},
        {"earlier periods are counted whole, by the new length",
         BOUT "10 clock do:start period:2; 15 clock do:stop; 20 bout rules:freestyle-2022 "
              "length:{period_ms:120000}; 25 now",
         WANTED(2, 5000, 115000, 125000, false)},
        {"the age group's length",
         "0 bout rules:freestyle-2022 age_group:u17; 10 clock do:start; "
         "15 now",
         WANTED(1, 5000, 115000, 5000, true)},
        {"a period a millisecond long",
         "0 bout rules:freestyle-2022 length:{period_ms:1}; "
         "10 clock do:start; 10.001 now",
         WANTED(1, 1, 0, 1, false)},
        {"nine periods",
         "0 bout rules:freestyle-2022 length:{periods:9}; 10 clock do:start "
         "period:9; 15 now",
         WANTED(9, 5000, 175000, 1445000, true)},
    };
    return cr_make_param_array(struct row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct row *row, clock, another_length)
{
    expect_state(row->name, row->story, row->wanted);
}

/* Whatever is keyed, when, and however late: time never runs back while it runs, and never leaves
 * the period. */
Test(clock, never_leaves_the_period)
{
    const int32_t period_ms = 60000;
    struct details details = {.periods = 3, .period_ms = period_ms};
    for (uint64_t seed = 1; seed <= 200; seed++) {
        struct dice dice = dice_of(seed);
        struct clock clock = clock_new();
        int64_t moment_ms = 0;
        for (int step = 0; step < 100; step++) {
            struct event event = {.type = EVENT_CLOCK,
                                  .what = (uint8_t)(CLOCK_START + dice_below(&dice, 5)),
                                  .period = 1 + dice_below(&dice, 3),
                                  .t_ms = dice_below(&dice, period_ms + 1)};
            if (event.what == CLOCK_SET)
                event.given = UINT64_C(1) << MEMBER_PERIOD | UINT64_C(1) << MEMBER_T_MS;
            if (event.what == CLOCK_START && dice_chance(&dice, 40))
                event.given = UINT64_C(1) << MEMBER_PERIOD;
            int64_t before_ms = moment_ms;
            struct clock_reading was = clock_at(&clock, period_ms, before_ms);
            moment_ms += dice_below(&dice, 40000);
            struct clock_reading now = clock_at(&clock, period_ms, moment_ms);
            cr_assert(ge(i32, now.t_ms, was.t_ms), "seed %llu", (unsigned long long)seed);
            cr_assert(le(i32, now.t_ms, period_ms), "seed %llu", (unsigned long long)seed);
            cr_assert(eq(int, now.used_up, now.t_ms == period_ms), "seed %llu",
                      (unsigned long long)seed);
            cr_assert(not(now.used_up && now.running), "seed %llu", (unsigned long long)seed);
            if (was.running && !now.used_up)
                cr_assert(eq(i64, now.t_ms - was.t_ms, moment_ms - before_ms), "seed %llu",
                          (unsigned long long)seed);
            if (now.used_up)
                cr_assert(le(i64, now.used_up_ms, moment_ms), "seed %llu",
                          (unsigned long long)seed);
            bool began = clock_apply(&clock, &event, &details, moment_ms);
            struct clock_reading then = clock_at(&clock, period_ms, moment_ms);
            cr_assert(
                eq(int, began,
                   event.what == CLOCK_START && event.given != 0 && event.period > now.period),
                "seed %llu", (unsigned long long)seed);
            cr_assert(eq(int, clock.unsure, event.what == CLOCK_LOST), "seed %llu",
                      (unsigned long long)seed);
            if (event.what == CLOCK_SET)
                cr_assert(eq(i32, then.t_ms, event.t_ms), "seed %llu", (unsigned long long)seed);
            if (event.what == CLOCK_STOP || event.what == CLOCK_LOST) {
                cr_assert(not(then.running), "seed %llu", (unsigned long long)seed);
                cr_assert(eq(i32, then.t_ms, now.t_ms), "seed %llu", (unsigned long long)seed);
            }
            if (event.what == CLOCK_END)
                cr_assert(then.used_up, "seed %llu", (unsigned long long)seed);
        }
    }
}
