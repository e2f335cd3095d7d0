/* A log rehearsed is a log again: each line is admitted as a daemon would, at the time when it is
 * sent, and the states of both are compared. */
#include "commands/rehearsal.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "rules/time_of_day.h"
#include "support.h"
#include "wire/json.h"

static const int64_t DELAY_MS = 7; /* from the pressing to the daemon */

struct played {
    struct rehearsal rehearsal;
    struct log log;
    struct arena arena;
    int64_t start_ms, end_ms;
};

static void admit_line(struct played *played, struct rehearsal_line *line)
{
    char *text = rehearsal_message(line, played->start_ms);
    json_t *message = json_loads(text, JSON_REJECT_DUPLICATES, NULL);
    json_t *event = json_object_get(message, "event");
    cr_assert(ne(ptr, event, NULL), "%s", text);
    char at[TIME_OF_DAY_SIZE];
    played->end_ms = played->start_ms + line->due_ms + DELAY_MS;
    time_of_day_write(played->end_ms, at);
    json_object_set_new(event, "at", json_string(at));
    char *event_text = json_line(event);
    struct complaint complaint = {.why = ACCEPTED};
    const struct value *document =
        json_read(&played->arena, event_text, strlen(event_text), &complaint);
    struct admittance got = log_admit(&played->log, document, INTAKE_LIVE, &complaint);
    cr_assert(eq(int, got.admitted, ADMITTED), "%s: %s", event_text, complaint.detail);
    free(event_text);
    json_decref(message);
    free(text);
}

/* Plays the log to a daemon that has nothing, from `start_ms` on its clock. */
static void play(struct played *played, const struct log *log, enum rehearsal_pace pace,
                 double speed, int64_t start_ms)
{
    *played = (struct played){.start_ms = start_ms, .end_ms = start_ms};
    log_init(&played->log, test_editions(), malloc, free);
    arena_init(&played->arena, malloc, free);
    cr_assert(rehearsal_make(&played->rehearsal, log, pace, speed));
    for (size_t i = 0; i < played->rehearsal.count; i++) {
        if (i > 0)
            cr_assert(
                le(i64, played->rehearsal.lines[i - 1].due_ms, played->rehearsal.lines[i].due_ms));
        admit_line(played, &played->rehearsal.lines[i]);
    }
}

static void played_close(struct played *played)
{
    rehearsal_free(&played->rehearsal);
    log_close(&played->log);
    arena_close(&played->arena);
}

static int64_t last_at(const struct log *log)
{
    int64_t last_ms = INT64_MIN;
    for (size_t i = 0; i < log->bout_count; i++)
        for (size_t j = 0; j < log->bouts[i]->count; j++)
            if (log->bouts[i]->events[j].at_ms > last_ms)
                last_ms = log->bouts[i]->events[j].at_ms;
    return last_ms;
}

/* Takes both; compares member by member, so that what differs can be read. */
static void expect_equal(const char *name, json_t *got, json_t *want)
{
    json_t *names = json_object();
    json_object_update(names, want);
    json_object_update(names, got);
    const char *member;
    json_t *value;
    json_object_foreach(names, member, value)
    {
        json_t *got_value = json_object_get(got, member), *wanted = json_object_get(want, member);
        char *got_text = got_value == NULL ? NULL : json_dumps(got_value, JSON_ENCODE_ANY);
        char *text = wanted == NULL ? NULL : json_dumps(wanted, JSON_ENCODE_ANY);
        cr_expect(got_value != NULL && wanted != NULL && json_equal(got_value, wanted),
                  "%s: %s is %s, not %s", name, member, got_text, text);
        free(got_text);
        free(text);
    }
    json_decref(names);
    json_decref(got);
    json_decref(want);
}

/* ---- in time: every state of the log, shifted ---- */

static void expect_shifted(const struct log *log, const struct log *again, int64_t shift_ms,
                           const char *name)
{
    cr_assert(eq(sz, again->bout_count, log->bout_count), "%s", name);
    for (size_t i = 0; i < log->bout_count; i++) {
        const struct bout *bout = log->bouts[i], *bout_again = again->bouts[i];
        cr_assert(eq(sz, bout_again->count, bout->count), "%s: %s", name, bout->id);
        int64_t now_ms = last_at(log) + 1000;
        json_t *got = state_of_bout(bout_again, bout->count, now_ms + shift_ms);
        json_t *want = state_of_bout(bout, bout->count, now_ms);
        json_object_del(json_object_get(want, "clock"), "unsure"); /* `lost` became `stop` */
        expect_equal(name, got, want);
    }
}

static const char day[] =
    "0 bout rules:freestyle-2022 mat:A; 10 clock do:start; 42.123 score side:red points:2 "
    "action:takedown; 60 clock do:stop keyed_at:@58.5; 70 bout bout:c rules:freestyle-2022 mat:B; "
    "71 clock bout:c do:start; 80 passivity bout:c side:blue stage:activity keyed_at:@79.25; "
    "95.5 clock do:start; 99 attack side:blue techniques:[single_leg] outcome:stopped; "
    "120 entry athlete:x name:X keyed_at:@110; 121 entry athlete:y name:Y; "
    "130 void ref:e4; 140 stoppage kind:injury do:start side:red; 180 note text:'so far' to:booth";

Test(rehearsal, at_speed_1_every_moment_is_as_far_from_the_others)
{
    struct story story;
    struct played played;
    story_init(&story);
    story_tell(&story, day);
    play(&played, &story.log, REHEARSAL_IN_RHYTHM, 1, story_begins_ms + 123456789);
    expect_shifted(&story.log, &played.log, 123456789, "speed 1");
    cr_expect(eq(i64, played.rehearsal.length_ms, 180000));
    cr_expect(eq(i64, played.rehearsal.lines[3].due_ms, 60000));
    cr_expect(eq(i64, played.rehearsal.lines[3].keyed_ms, 58500), "its distance to `at` is kept");
    played_close(&played);
    story_close(&story);
}

Test(rehearsal, exactly_is_at_once_and_ends_now)
{
    struct story story;
    struct played played;
    story_init(&story);
    story_tell(&story, day);
    play(&played, &story.log, REHEARSAL_EXACT, 1, story_begins_ms + 987654321);
    expect_shifted(&story.log, &played.log, 987654321 - 180000, "exact");
    cr_expect(eq(i64, played.rehearsal.length_ms, 0));
    for (size_t i = 0; i < played.rehearsal.count; i++)
        cr_expect(le(i64, played.rehearsal.lines[i].keyed_ms, 0), "nothing is keyed in the future");
    played_close(&played);
    story_close(&story);
}

Test(rehearsal, random_logs_in_time)
{
    for (uint64_t seed = 1; seed <= 60; seed++) {
        struct dice dice = dice_of(seed);
        struct log log;
        struct played played;
        char name[40];
        log_init(&log, test_editions(), malloc, free);
        random_log(&dice, &log, 80);
        play(&played, &log, seed % 2 ? REHEARSAL_EXACT : REHEARSAL_IN_RHYTHM, 1,
             story_begins_ms + 1000000000);
        int64_t shift_ms = seed % 2 ? played.start_ms - last_at(&log)
                                    : played.start_ms - log.bouts[0]->events[0].at_ms;
        snprintf(name, sizeof name, "seed %lu", (unsigned long)seed);
        expect_shifted(&log, &played.log, shift_ms, name);
        played_close(&played);
        log_close(&log);
    }
}

/* ---- what is sent ---- */

static void expect_sent(const struct played *played, size_t index, const char *wanted)
{
    json_t *want = shorthand(wanted);
    char message[400] = "";
    cr_assert(lt(sz, index, played->rehearsal.count));
    bool fine = has_all(played->rehearsal.lines[index].event, want, message, sizeof message);
    cr_expect(fine, "line %zu: %s", index, message);
    json_decref(want);
}

Test(rehearsal, what_the_daemon_sets_is_left_out_and_lost_becomes_stop)
{
    struct story story;
    struct played played;
    story_init(&story);
    story_tell(&story, "0 bout rules:freestyle-2022 by:table seq:1; 5 clock do:start; "
                       "9 clock do:lost keyed_at:@7 by:daemon");
    play(&played, &story.log, REHEARSAL_IN_RHYTHM, 1, story_begins_ms);
    cr_assert(eq(sz, played.rehearsal.count, 3));
    expect_sent(&played, 0, "id:e1 type:bout at:null seq:null by:null");
    expect_sent(&played, 2, "id:e3 do:stop by:null keyed_at:@7");
    played_close(&played);
    story_close(&story);
}

Test(rehearsal, faster_than_life_the_bout_times_are_said)
{
    struct story story;
    struct played played;
    story_init(&story);
    story_tell(&story, "0 bout rules:freestyle-2022; 10 clock do:start; 30 score side:red points:2 "
                       "action:takedown; 31 score side:red points:2 action:exposure period:1 "
                       "t_ms:20500; 70 clock do:stop; 80 void ref:e5; "
                       "300 clock do:start period:2; 310 note text:'late' to:booth");
    play(&played, &story.log, REHEARSAL_IN_RHYTHM, 10, story_begins_ms);
    static const char *const wanted[] = {
        "id:e1 type:bout period:null",
        "id:e2 do:start period:null",
        "id:e2.set do:set period:1 t_ms:0",
        "id:e3 type:score period:1 t_ms:20000",
        "id:e4 type:score period:1 t_ms:20500",
        "id:e5 do:stop",
        "id:e5.set do:set period:1 t_ms:60000",
        "id:e6 type:void period:1 t_ms:70000",
        "id:e6.set do:set period:1 t_ms:70000",
        "id:e7.out do:set period:1 t_ms:180000",
        "id:e7 do:start period:2",
        "id:e7.set do:set period:2 t_ms:0",
        "id:e8 type:note period:2 t_ms:10000",
    };
    cr_assert(eq(sz, played.rehearsal.count, sizeof wanted / sizeof *wanted));
    for (size_t i = 0; i < played.rehearsal.count; i++)
        expect_sent(&played, i, wanted[i]);
    cr_expect(eq(i64, played.rehearsal.lines[9].due_ms, 19000), "when it ran out, at 190 s");
    cr_expect(eq(i64, played.rehearsal.length_ms, 31000));
    played_close(&played);
    story_close(&story);
}

Test(rehearsal, a_clock_that_was_never_meant_to_start)
{
    struct story story;
    struct played played;
    story_init(&story);
    story_tell(&story, "0 bout rules:freestyle-2022; 10 clock do:start; 20 void ref:e2");
    play(&played, &story.log, REHEARSAL_IN_RHYTHM, 10, story_begins_ms);
    cr_assert(eq(sz, played.rehearsal.count, 5));
    expect_sent(&played, 2, "id:e2.set do:set");
    expect_sent(&played, 3, "id:e3 type:void ref:e2");
    expect_sent(&played, 4, "id:e3.void1 type:void ref:e2.set");
    played_close(&played);
    story_close(&story);
}

Test(rehearsal, a_clock_that_runs_out_at_the_end)
{
    struct story story;
    struct played played;
    story_init(&story);
    story_tell(&story, "0 bout rules:freestyle-2022; 10 clock do:start; "
                       "400 bout bout:other rules:freestyle-2022");
    play(&played, &story.log, REHEARSAL_IN_RHYTHM, 4, story_begins_ms);
    expect_sent(&played, 3, "id:e2.end bout:b do:set period:1 t_ms:180000");
    cr_expect(eq(i64, played.rehearsal.lines[3].due_ms, 47500));
    played_close(&played);
    story_close(&story);
}

Test(rehearsal, ids_of_its_own_are_not_the_logs)
{
    struct story story;
    struct played played;
    char text[300];
    story_init(&story);
    snprintf(text, sizeof text,
             "0 bout rules:freestyle-2022; 1 clock do:start id:e5.set; "
             "2 clock do:stop id:%.62s; 3 clock do:start; 4 clock do:stop",
             "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa");
    story_tell(&story, text);
    play(&played, &story.log, REHEARSAL_IN_RHYTHM, 2, story_begins_ms);
    expect_sent(&played, 4, "id:rehearsal.3.1.set do:set");
    expect_sent(&played, 8, "id:rehearsal.5.1.set do:set");
    played_close(&played);
    story_close(&story);
}

/* ---- out of time: the same bout at the end ---- */

/* What is left of a state when the clock that is still running is left out, with all that hangs on
 * how far it has come. */
static json_t *state_compared(const struct bout *bout, int64_t now_ms, bool runs)
{
    json_t *state = state_of_bout(bout, bout->count, now_ms);
    static const char *const members[] = {"seq",         "break", "stoppage",
                                          "clock",       "phase", "activity",
                                          "forced_call", "due",   "due_against"};
    json_t *clock = json_object_get(state, "clock");
    json_object_del(clock, "unsure");
    for (size_t i = 0; i < (runs ? 9 : 3); i++)
        json_object_del(state, members[i]);
    if (runs)
        json_object_del(json_object_get(state, "confirmed"), "due");
    return state;
}

static bool length_changes(const struct bout *bout)
{
    const struct details *first = bout->events[0].details;
    for (size_t i = 1; i < bout->count; i++) {
        const struct details *details = bout->events[i].details;
        if (details != NULL &&
            (details->periods != first->periods || details->period_ms != first->period_ms))
            return true;
    }
    return false;
}

static bool has_corrections(const struct bout *bout)
{
    for (size_t i = 0; i < bout->count; i++)
        if (bout->events[i].type == EVENT_VOID || bout->events[i].type == EVENT_AMEND ||
            bout->events[i].type == EVENT_RESTART)
            return true;
    return false;
}

static void leave_out(json_t *one, json_t *other, const char *member)
{
    json_object_del(one, member);
    json_object_del(other, member);
}

/* The number of bouts that were compared. */
static size_t expect_same_bouts(const struct log *log, const struct played *played, double speed,
                                const char *name)
{
    int64_t now_ms = last_at(log);
    size_t compared = 0;
    for (size_t i = 0; i < log->bout_count; i++) {
        const struct bout *bout = log->bouts[i];
        const struct bout *again = log_bout(&played->log, bout->id);
        if (length_changes(bout))
            continue;
        json_t *state = state_of_bout(bout, bout->count, now_ms);
        bool runs = json_is_true(json_object_get(json_object_get(state, "clock"), "running"));
        json_decref(state);
        json_t *got = state_compared(again, played->end_ms, runs);
        json_t *want = state_compared(bout, now_ms, runs);
        if (speed < 1 || has_corrections(bout))
            leave_out(got, want, "activity");
        if (has_corrections(bout))
            leave_out(got, want, "position");
        expect_equal(name, got, want);
        compared++;
    }
    return compared;
}

struct speed_row {
    double speed;
};

ParameterizedTestParameters(rehearsal, random_logs_out_of_time)
{
    static struct speed_row rows[] = {{2}, {10}, {60}, {1.5}, {0.25}};
    return cr_make_param_array(struct speed_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct speed_row *row, rehearsal, random_logs_out_of_time)
{
    size_t compared = 0;
    for (uint64_t seed = 1; seed <= 100; seed++) {
        struct dice dice = dice_of(seed);
        struct log log;
        struct played played;
        char name[60];
        log_init(&log, test_editions(), malloc, free);
        random_log(&dice, &log, 80);
        play(&played, &log, REHEARSAL_IN_RHYTHM, row->speed, story_begins_ms + 1000000000);
        snprintf(name, sizeof name, "speed %g, seed %lu", row->speed, (unsigned long)seed);
        compared += expect_same_bouts(&log, &played, row->speed, name);
        played_close(&played);
        log_close(&log);
    }
    cr_expect(lt(sz, 100, compared), "%zu bouts", compared);
}
