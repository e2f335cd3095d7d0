#include "rules/log.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "stats/fold.h"
#include "support.h"
#include "wire/json.h"

#define BOUT "0 bout rules:freestyle-2022; "

/* ---- ids, and the same event again: docs/events.md, "What every event has" ---- */

struct again_row {
    char name[56], again[160];
    enum admitted admitted;
};

/* The first: e2, a score of red's of 2 by a takedown, accepted at 10:00:05. */
ParameterizedTestParameters(log, the_same_id_again)
{
    static struct again_row rows[] = {
        {"the same", "5 score id:e2 side:red points:2 action:takedown", REPEATED},
        {"members in another order", "5 score action:takedown points:2 id:e2 side:red", REPEATED},
        {"another at", "9 score id:e2 side:red points:2 action:takedown", REPEATED},
        {"an at that is no time", "5 score id:e2 at:soon side:red points:2 action:takedown",
         REPEATED},
        {"with seq and by", "5 score id:e2 side:red points:2 action:takedown seq:7 by:mat-a",
         REPEATED},
        {"a member more", "5 score id:e2 side:red points:2 action:takedown unconfirmed:true",
         NOT_ADMITTED},
        {"a member less", "5 score id:e2 side:red points:2", NOT_ADMITTED},
        {"another value", "5 score id:e2 side:blue points:2 action:takedown", NOT_ADMITTED},
        {"another type", "5 note id:e2 text:a to:booth", NOT_ADMITTED},
        {"another bout", "5 score id:e2 bout:c side:red points:2 action:takedown", NOT_ADMITTED},
        {"a keyed_at more", "5 score id:e2 keyed_at:@5 side:red points:2 action:takedown",
         NOT_ADMITTED},
    };
    return cr_make_param_array(struct again_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct again_row *row, log, the_same_id_again)
{
    struct story story;
    story_init(&story);
    story_tell(&story, BOUT "5 score side:red points:2 action:takedown; 6 clock do:start");
    char *before = state_line(story.log.bouts[0], 3, story.at_ms);
    cr_expect(eq(int, story_try(&story, row->again), row->admitted), "%s", row->name);
    if (row->admitted == REPEATED)
        cr_expect(eq(u64, story.admittance.seq, 2), "%s: the first one's seq", row->name);
    else
        expect_text(row->name, story.complaint.detail,
                    "id: seq 2 has this id already, with other content");
    cr_expect(eq(sz, story.log.count, 3), "%s: nothing is added", row->name);
    char *after = state_line(story.log.bouts[0], story.log.bouts[0]->count, story_begins_ms + 6000);
    expect_text(row->name, after, before);
    free(before);
    free(after);
    story_close(&story);
}

/* "Compared as JSON values": a 2 written as 2.0 is the same event again, though it would be refused
 * as a new one. */
Test(log, the_same_number_written_otherwise)
{
    struct story story;
    story_init(&story);
    story_tell(&story, BOUT "5 score side:red points:2 action:takedown");
    cr_expect(eq(int,
                 story_admit(&story, "{\"id\":\"e2\",\"type\":\"score\",\"bout\":\"b\",\"at\":"
                                     "\"2027-05-08T10:00:05.000Z\",\"side\":\"red\",\"points\":2.0,"
                                     "\"action\":\"takedown\"}"),
                 REPEATED));
    story_close(&story);
}

Test(log, ids_are_of_the_whole_log)
{
    struct story story;
    story_init(&story);
    story_tell(&story, BOUT "0 bout id:c1 bout:c rules:greco-2026; clock id:x do:start");
    cr_expect(eq(int, story_try(&story, "clock id:x bout:c do:start"), NOT_ADMITTED));
    cr_expect(eq(int, story_try(&story, "session id:x session:a name:A do:start"), NOT_ADMITTED),
              "and of the day's types");
    story_tell(&story, "session id:y session:a name:A do:start");
    cr_expect(eq(int, story_try(&story, "clock id:y do:stop"), NOT_ADMITTED));
    cr_expect(eq(int, story_try(&story, "session id:y session:a name:A do:start"), REPEATED));
    cr_expect(eq(u64, story.admittance.seq, 4));
    story_close(&story);
}

Test(log, numbers_run_over_the_whole_log)
{
    struct story story;
    story_init(&story);
    story_tell(&story, BOUT "1 bout bout:c rules:greco-2026; 2 entry athlete:x; 3 clock do:start; "
                            "4 clock bout:c do:start");
    cr_expect(eq(sz, story.log.count, 5));
    cr_expect(eq(sz, story.log.bout_count, 2));
    cr_expect(eq(sz, story.log.day_count, 1));
    expect_text("the first bout", story.log.bouts[0]->id, "b");
    expect_text("the second", story.log.bouts[1]->id, "c");
    static const uint64_t seqs[] = {1, 4};
    for (size_t i = 0; i < 2; i++)
        cr_expect(eq(u64, story.log.bouts[0]->events[i].seq, seqs[i]));
    cr_expect(eq(u64, log_seq_of(&story.log, "e5"), 5));
    cr_expect(eq(u64, log_seq_of(&story.log, "e6"), 0));
    cr_expect(log_bout(&story.log, "c") == story.log.bouts[1]);
    cr_expect(log_bout(&story.log, "d") == NULL);
    story_close(&story);
}

/* ---- moments: docs/events.md, "An event's moment" ---- */

struct moment_row {
    char name[64], story[300];
    double seconds; /* the last event's moment, after ten o'clock */
};

ParameterizedTestParameters(log, moment)
{
    static struct moment_row rows[] = {
        {"at, where there is no keyed_at", BOUT "5 clock do:start", 5},
        {"keyed_at, where there is one", BOUT "5 clock do:start keyed_at:@3.2", 3.2},
        {"never later than at", BOUT "5 clock do:start keyed_at:@8", 5},
        {"a first clock event may come before the bout", BOUT "5 clock do:start keyed_at:@-60",
         -60},
        {"never earlier than the last clock event",
         BOUT "5 clock do:start; 9 score side:red points:1 action:step_out keyed_at:@3", 5},
        {"of its moment, not its at",
         BOUT "5 clock do:start keyed_at:@2; 9 score side:red points:1 action:step_out "
              "keyed_at:@3",
         3},
        {"earlier than an event that is no clock event: as keyed",
         BOUT "5 clock do:start; 8 note text:a to:booth; 9 score side:red points:1 "
              "action:step_out keyed_at:@6",
         6},
        {"never earlier than a clock event that is void",
         BOUT "5 clock do:start; 7 clock do:stop; 8 void ref:e3; 9 score side:red points:1 "
              "action:step_out keyed_at:@6",
         7},
        {"of another bout: nothing",
         BOUT "1 bout bout:c rules:greco-2026; 5 clock bout:c do:start; 6 clock do:start "
              "keyed_at:@2",
         2},
        {"an at that goes back, without a clock event",
         BOUT "10 note text:a to:booth; 5 note "
              "text:b to:booth",
         5},
        {"an at that goes back behind a clock event",
         BOUT "10 clock do:start; 5 note text:b "
              "to:booth",
         10},
        {"the clock of two events of one moment", BOUT "5 clock do:start; 5 clock do:stop", 5},
        {"a stop keyed while the line was down",
         BOUT "5 clock do:start; 20 clock do:stop keyed_at:@12.345", 12.345},
    };
    return cr_make_param_array(struct moment_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct moment_row *row, log, moment)
{
    struct story story;
    story_init(&story);
    story_tell(&story, row->story);
    const struct bout *bout = story.admittance.bout;
    int64_t wanted = story_begins_ms + (int64_t)(row->seconds * 1000);
    cr_expect(eq(i64, bout->events[bout->count - 1].moment_ms, wanted), "%s", row->name);
    story_close(&story);
}

/* ---- who may say what ---- */

struct intake_row {
    char name[40];
    enum intake_kind intake;
    char story[80];
    enum admitted admitted;
    char detail[64];
};

/* `lost` is the daemon's own word; a file is believed: docs/events.md, `clock`. */
ParameterizedTestParameters(log, intake)
{
    static struct intake_row rows[] = {
        {"lost from a file", INTAKE_FILE, "clock do:lost", ADMITTED, ""},
        {"lost from a sender", INTAKE_LIVE, "clock do:lost", NOT_ADMITTED,
         "do: lost is the daemon's own word, not a key"},
        {"lost from the daemon", INTAKE_OWN, "clock do:lost", ADMITTED, ""},
        {"a start from a sender", INTAKE_LIVE, "clock do:start", ADMITTED, ""},
    };
    return cr_make_param_array(struct intake_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct intake_row *row, log, intake)
{
    struct story story;
    story_init(&story);
    story_tell(&story, BOUT);
    story.intake = row->intake;
    cr_expect(eq(int, story_try(&story, row->story), row->admitted), "%s", row->name);
    expect_text(row->name, row->admitted == ADMITTED ? "" : story.complaint.detail, row->detail);
    story_close(&story);
}

/* Setting a clock event of another kind to `lost` would be the same word by a back door. */
Test(log, lost_by_an_amend_from_a_sender)
{
    struct story story;
    story_init(&story);
    story_tell(&story, BOUT "1 clock do:start; 5 clock do:stop");
    story.intake = INTAKE_LIVE;
    cr_expect(eq(int, story_try(&story, "amend ref:e3 set:{do:lost}"), NOT_ADMITTED));
    expect_text("the kind", refusal_name(story.complaint.why), "lost");
    expect_text("the place", story.complaint.pointer, "/set/do");
    cr_expect(eq(int, story_try(&story, "clock do:lost"), NOT_ADMITTED));
    expect_text("the place", story.complaint.pointer, "/do");
    story_close(&story);
}

/* ---- bounds ---- */

/* 10,000 events in one bout; other bouts and the day go on, and so does a restart of the program:
 * docs/events.md, "What is refused". */
Test(log, ten_thousand_events)
{
    struct story story;
    story_init(&story);
    story_tell(&story, BOUT);
    for (int i = 1; i < EVENTS_IN_BOUT_MAX; i++)
        cr_assert(eq(int, story_try(&story, "note text:a to:booth"), ADMITTED), "event %d", i + 1);
    cr_expect(eq(sz, story.log.bouts[0]->count, 10000));
    cr_expect(eq(int, story_try(&story, "note text:a to:booth"), NOT_ADMITTED));
    cr_expect(eq(int, story.complaint.why, REFUSED_TOO_MANY));
    expect_text("the complaint", story.complaint.detail, "the bout has its 10000 events");
    cr_expect(eq(int, story_try(&story, "void ref:e5"), NOT_ADMITTED), "of whatever type");
    cr_expect(eq(int, story_try(&story, "note id:e5 text:a to:booth"), REPEATED),
              "the same again is none more");
    cr_expect(eq(int, story_try(&story, "bout bout:c rules:greco-2026"), ADMITTED));
    cr_expect(eq(int, story_try(&story, "entry athlete:x"), ADMITTED));
    char *line = state_line(story.log.bouts[0], 10000, story.at_ms);
    cr_expect(line != NULL);
    free(line);
    story_close(&story);
}

/* ---- what is refused changes nothing ---- */

/* Every log of random events, cut anywhere, with a refused event after each. */
Test(log, refused_changes_nothing)
{
    static const char *const refused[] = {
        "{\"id\":\"n\",\"type\":\"score\",\"bout\":\"x\"}",
        "{\"id\":\"n\",\"type\":\"score\",\"bout\":\"new\"}",
        "{\"id\":\"n\",\"type\":\"bout\",\"bout\":\"new\",\"rules\":\"none\"}",
        "{\"id\":\"n\",\"type\":\"entry\"}",
        "{\"id\":\"n\",\"type\":\"clock\",\"bout\":\"x\",\"at\":\"2027-05-08T10:00:00.000Z\","
        "\"do\":\"stop\",\"period\":1}",
    };
    struct dice dice = dice_of(3);
    struct story story;
    story_init(&story);
    random_log(&dice, &story.log, 120);
    size_t count = story.log.count, bouts = story.log.bout_count, days = story.log.day_count;
    char *before[3];
    for (size_t i = 0; i < bouts; i++)
        before[i] = state_line(story.log.bouts[i], story.log.bouts[i]->count, INT64_MIN);
    for (size_t i = 0; i < sizeof refused / sizeof *refused; i++)
        cr_assert(eq(int, story_admit(&story, refused[i]), NOT_ADMITTED), "%s", refused[i]);
    cr_expect(eq(sz, story.log.count, count));
    cr_expect(eq(sz, story.log.bout_count, bouts));
    cr_expect(eq(sz, story.log.day_count, days));
    cr_expect(eq(u64, log_seq_of(&story.log, "n"), 0), "its id is free");
    cr_expect(log_bout(&story.log, "new") == NULL, "its bout isn't there");
    for (size_t i = 0; i < bouts; i++) {
        char *after = state_line(story.log.bouts[i], story.log.bouts[i]->count, INT64_MIN);
        expect_text(story.log.bouts[i]->id, after, before[i]);
        free(after);
        free(before[i]);
    }
    story_close(&story);
}

/* ---- taking back ---- */

static void admit_text(struct log *log, struct arena *arena, const char *text)
{
    struct complaint complaint;
    arena_reset(arena);
    const struct value *document = json_read(arena, text, strlen(text), &complaint);
    cr_assert(document != NULL);
    log_admit(log, document, INTAKE_FILE, &complaint);
}

enum { REWIND_EVENTS = 90 };

/* The texts of a random log, each with what the log made of it. */
static void random_texts(uint64_t seed, char texts[REWIND_EVENTS][1200], struct log *log)
{
    static const char *const ids[] = {"x", "y", "z"};
    struct dice dice = dice_of(seed);
    struct arena arena;
    int64_t at_ms = story_begins_ms;
    arena_init(&arena, malloc, free);
    for (int i = 0; i < REWIND_EVENTS; i++) {
        const char *id = ids[dice_below(&dice, 3)];
        if (dice_chance(&dice, 10))
            snprintf(texts[i], 1200,
                     "{\"id\":\"d%d\",\"type\":\"entry\",\"at\":\"2027-05-08T10:00:00.000Z\","
                     "\"athlete\":\"a\"}",
                     i);
        else
            random_event(&dice, texts[i], 1200, log_bout(log, id), id, i, &at_ms);
        admit_text(log, &arena, texts[i]);
    }
    arena_close(&arena);
}

static void expect_same_log(const struct log *log, const struct log *other, uint64_t seed)
{
    cr_assert(eq(sz, log->count, other->count), "seed %llu", (unsigned long long)seed);
    cr_assert(eq(sz, log->bout_count, other->bout_count), "seed %llu", (unsigned long long)seed);
    cr_assert(eq(sz, log->day_count, other->day_count), "seed %llu", (unsigned long long)seed);
    for (size_t i = 0; i < log->bout_count; i++) {
        const struct bout *bout = log->bouts[i], *twin = other->bouts[i];
        char *line = state_line(bout, bout->count, INT64_MIN);
        char *wanted = state_line(twin, twin->count, INT64_MIN);
        cr_assert(eq(str, line, wanted), "seed %llu, bout %s", (unsigned long long)seed, bout->id);
        cr_assert(log_bout(log, bout->id) == bout, "seed %llu", (unsigned long long)seed);
        for (size_t j = 0; j < bout->count; j++)
            cr_assert(eq(u64, log_seq_of(log, bout->events[j].id), bout->events[j].seq),
                      "seed %llu", (unsigned long long)seed);
        free(line);
        free(wanted);
    }
}

/* A log taken back to any place and told again is as if it had never been taken back. */
Test(log, rewound_and_told_again)
{
    static char texts[REWIND_EVENTS][1200];
    for (uint64_t seed = 1; seed <= 40; seed++) {
        struct log log, shorter, longer;
        struct arena arena;
        struct dice dice = dice_of(seed + 1000);
        arena_init(&arena, malloc, free);
        log_init(&log, test_editions(), malloc, free);
        log_init(&shorter, test_editions(), malloc, free);
        log_init(&longer, test_editions(), malloc, free);
        random_texts(seed, texts, &log);
        size_t whole = log.count;
        size_t keep = (size_t)dice_below(&dice, (int)whole + 1);
        int kept = 0; /* texts, of which `keep` were admitted */
        for (; shorter.count < keep; kept++)
            admit_text(&shorter, &arena, texts[kept]);
        for (int i = 0; i < REWIND_EVENTS; i++)
            admit_text(&longer, &arena, texts[i]);
        log_rewind(&log, keep);
        expect_same_log(&log, &shorter, seed);
        for (int i = kept; i < REWIND_EVENTS; i++)
            admit_text(&log, &arena, texts[i]);
        expect_same_log(&log, &longer, seed);
        log_rewind(&log, 0);
        cr_assert(eq(sz, log.count, 0));
        cr_assert(eq(sz, log.bout_count, 0));
        cr_assert(log_bout(&log, "x") == NULL);
        log_close(&log);
        log_close(&shorter);
        log_close(&longer);
        arena_close(&arena);
    }
}

/* Taking back to where the log is, or beyond, does nothing. */
Test(log, rewound_to_its_end)
{
    struct story story;
    story_init(&story);
    story_tell(&story, BOUT "1 clock do:start");
    log_rewind(&story.log, 2);
    log_rewind(&story.log, 5);
    cr_expect(eq(sz, story.log.count, 2));
    story_close(&story);
}

/* ---- bad input of every kind ---- */

/* Bytes of a good log changed, left out and doubled: whatever comes of it, nothing crashes, and
 * what is refused changes nothing. */
Test(log, bytes_changed)
{
    static char texts[REWIND_EVENTS][1200];
    struct story story;
    struct dice dice = dice_of(11);
    size_t refused_count = 0;
    story_init(&story);
    random_texts(5, texts, &story.log);
    for (int i = 0; i < 12000; i++) {
        char text[1300];
        snprintf(text, sizeof text, "%s", texts[dice_below(&dice, REWIND_EVENTS)]);
        for (int changes = 1 + dice_below(&dice, 3); changes > 0; changes--) {
            size_t size = strlen(text), at = (size_t)dice_below(&dice, (int)size);
            if (dice_chance(&dice, 40))
                text[at] = (char)(1 + dice_below(&dice, 255));
            else if (dice_chance(&dice, 50))
                memmove(text + at, text + at + 1, size - at);
            else
                memmove(text + at + 1, text + at, size - at + 1);
        }
        size_t count = story.log.count;
        enum admitted admitted = story_admit(&story, text);
        cr_assert(eq(sz, story.log.count, count + (admitted == ADMITTED ? 1 : 0)), "%s", text);
        if (admitted == NOT_ADMITTED) {
            refused_count++;
            cr_assert(ne(int, story.complaint.why, ACCEPTED), "%s", text);
            cr_assert(ne(chr, story.complaint.detail[0], '\0'), "%s", text);
            json_t *detail = json_string(story.complaint.detail);
            json_t *pointer = json_string(story.complaint.pointer);
            cr_assert(detail != NULL && pointer != NULL, "the complaint is UTF-8: %s", text);
            json_decref(detail);
            json_decref(pointer);
        }
    }
    cr_expect(ge(sz, refused_count, 8000), "%zu", refused_count);
    story_close(&story);
}
