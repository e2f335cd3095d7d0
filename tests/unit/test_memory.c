/* What happens without memory: the 1st, 2nd, 3rd … allocation fails, until the call succeeds. Each
 * time the answer is "no memory" and no refusal, nothing has changed, nothing is leaked (ASan
 * watches), and the same call succeeds afterwards. */
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "rules/edition.h"
#include "rules/log.h"
#include "stats/state.h"
#include "support.h"
#include "wire/json.h"
#include "wire/sheet.h"
#include "wire/state_json.h"

/* Every kind of event, lists and amendments among them. */
static const char *const events[] = {
    "{\"id\":\"m1\",\"type\":\"bout\",\"bout\":\"b\",\"at\":\"2027-05-08T10:00:00.000Z\","
    "\"rules\":\"freestyle-2022\",\"red\":{\"name\":\"Red\",\"say\":\"red\"},"
    "\"blue\":{\"name\":\"Blue\"},\"mat\":\"A\",\"length\":{\"periods\":2}}",
    "{\"id\":\"m2\",\"type\":\"clock\",\"bout\":\"b\",\"at\":\"2027-05-08T10:00:01.000Z\","
    "\"do\":\"start\"}",
    "{\"id\":\"m3\",\"type\":\"attack\",\"bout\":\"b\",\"at\":\"2027-05-08T10:00:05.000Z\","
    "\"side\":\"red\",\"techniques\":[\"new_one\",\"new_two\"],\"setup\":[\"inside_tie\"],"
    "\"outcome\":\"open\",\"leg\":\"lead\"}",
    "{\"id\":\"m4\",\"type\":\"score\",\"bout\":\"b\",\"at\":\"2027-05-08T10:00:06.000Z\","
    "\"side\":\"red\",\"points\":2,\"action\":\"takedown\",\"attack\":\"m3\","
    "\"technique\":\"new_three\",\"unconfirmed\":true}",
    "{\"id\":\"m5\",\"type\":\"amend\",\"bout\":\"b\",\"at\":\"2027-05-08T10:00:07.000Z\","
    "\"ref\":\"m3\",\"set\":{\"techniques\":[\"new_four\",\"new_five\"],\"setup\":[\"a\",\"b\"]},"
    "\"unset\":[\"leg\"]}",
    "{\"id\":\"m6\",\"type\":\"amend\",\"bout\":\"b\",\"at\":\"2027-05-08T10:00:08.000Z\","
    "\"ref\":\"m4\",\"set\":{\"technique\":\"new_six\",\"points\":4,\"action\":\"throw\"}}",
    "{\"id\":\"m7\",\"type\":\"passivity\",\"bout\":\"b\",\"at\":\"2027-05-08T10:00:09.000Z\","
    "\"side\":\"blue\",\"stage\":\"activity\"}",
    "{\"id\":\"m8\",\"type\":\"stoppage\",\"bout\":\"b\",\"at\":\"2027-05-08T10:00:09.000Z\","
    "\"kind\":\"blood\",\"side\":\"red\",\"do\":\"start\"}",
    "{\"id\":\"m9\",\"type\":\"position\",\"bout\":\"b\",\"at\":\"2027-05-08T10:00:09.000Z\","
    "\"position\":\"par_terre\",\"top\":\"red\",\"ordered\":true}",
    "{\"id\":\"m10\",\"type\":\"challenge\",\"bout\":\"b\",\"at\":\"2027-05-08T10:00:09.000Z\","
    "\"side\":\"red\",\"outcome\":\"asked\"}",
    "{\"id\":\"m11\",\"type\":\"caution\",\"bout\":\"b\",\"at\":\"2027-05-08T10:00:09.000Z\","
    "\"side\":\"blue\",\"reason\":\"fleeing_mat\",\"points\":1}",
    "{\"id\":\"m12\",\"type\":\"void\",\"bout\":\"b\",\"at\":\"2027-05-08T10:00:10.000Z\","
    "\"ref\":\"m11\"}",
    "{\"id\":\"m13\",\"type\":\"close\",\"bout\":\"b\",\"at\":\"2027-05-08T10:00:11.000Z\","
    "\"how\":\"fall\",\"winner\":\"red\",\"score\":{\"red\":4,\"blue\":0},\"code\":\"VFA\"}",
    "{\"id\":\"m14\",\"type\":\"entry\",\"at\":\"2027-05-08T10:00:12.000Z\",\"athlete\":\"a1\","
    "\"facts\":[\"one\",\"two\"]}",
    "{\"id\":\"m15\",\"type\":\"slot\",\"at\":\"2027-05-08T10:00:12.000Z\",\"slot\":\"s1\","
    "\"red\":{\"winner_of\":\"s0\"}}",
    "{\"id\":\"m16\",\"type\":\"bout\",\"bout\":\"c\",\"at\":\"2027-05-08T10:00:13.000Z\","
    "\"rules\":\"greco-2026\",\"red\":{\"name\":\"R\"},\"blue\":{\"name\":\"B\"}}",
};
enum { EVENT_COUNT = sizeof events / sizeof *events };

static const struct value *document_of(struct arena *arena, const char *text)
{
    struct complaint complaint;
    const struct value *document = json_read(arena, text, strlen(text), &complaint);
    cr_assert(document != NULL, "%s: %s", text, complaint.detail);
    return document;
}

static char *all_lines(const struct log *log)
{
    char *all = calloc(1, 1);
    for (size_t i = 0; i < log->bout_count; i++) {
        char *line = state_line(log->bouts[i], log->bouts[i]->count, INT64_MIN);
        all = realloc(all, strlen(all) + strlen(line) + 1);
        strcat(all, line);
        free(line);
    }
    return all;
}

/* Admits the event without memory for it, checks that nothing is there of it, and admits it again.
 */
static void admit_twice(struct log *log, const char *text, long *refused_count)
{
    struct arena arena;
    struct complaint complaint = {.why = REFUSED_NOT_JSON};
    arena_init(&arena, malloc, free);
    const struct value *document = document_of(&arena, text);
    const char *id = value_member(document, "id")->as.string;
    const struct value *bout_id = value_member(document, "bout");
    bool fresh = bout_id != NULL && log_bout(log, bout_id->as.string) == NULL;
    struct log before = *log;
    for (long after = 0;; after++) {
        fail_after(after);
        struct admittance admittance = log_admit(log, document, INTAKE_FILE, &complaint);
        bool failed = has_failed();
        fail_never();
        cr_assert(eq(int, admittance.admitted, failed ? NO_MEMORY : ADMITTED),
                  "%s, asked for the %ldth time: %s", id, after + 1, complaint.detail);
        if (!failed)
            break;
        (*refused_count)++;
        cr_assert(eq(int, complaint.why, ACCEPTED), "%s: want of memory is no refusal", id);
        cr_assert(eq(sz, log->count, before.count), "%s", id);
        cr_assert(eq(sz, log->bout_count, before.bout_count), "%s", id);
        cr_assert(eq(sz, log->day_count, before.day_count), "%s", id);
        cr_assert(eq(u64, log_seq_of(log, id), 0), "%s", id);
        if (fresh)
            cr_assert(log_bout(log, bout_id->as.string) == NULL, "%s", id);
    }
    cr_assert(eq(u64, log_seq_of(log, id), before.count + 1), "%s", id);
    arena_close(&arena);
}

/* The log's arena asks for memory a block at a time, so that an ordinary event asks for none. Here
 * it is begun with its first block nearly full, each time sixteen bytes less, so that the block
 * ends within each of the things that admitting takes. */
Test(memory, log_admit)
{
    enum { BLOCK = 64 * 1024, LAST = 24 * 1024, STEP = 16 };
    struct log plain;
    struct arena arena;
    long refused_count = 0;
    test_editions();
    arena_init(&arena, malloc, free);
    log_init(&plain, test_editions(), malloc, free);
    for (int i = 0; i < EVENT_COUNT; i++) {
        struct complaint complaint;
        log_admit(&plain, document_of(&arena, events[i]), INTAKE_FILE, &complaint);
        cr_assert(eq(sz, plain.count, (size_t)i + 1), "%s: %s", events[i], complaint.detail);
    }
    char *wanted = all_lines(&plain);
    for (size_t taken = BLOCK - LAST; taken <= BLOCK; taken += STEP) {
        struct log log;
        log_init(&log, test_editions(), failing_allocate, failing_release);
        cr_assert(arena_take(&log.arena, taken) != NULL);
        for (int i = 0; i < EVENT_COUNT; i++)
            admit_twice(&log, events[i], &refused_count);
        if (taken % 1024 == 0 || taken == BLOCK) {
            char *got = all_lines(&log);
            cr_assert(eq(str, got, wanted), "%zu bytes taken", taken);
            free(got);
        }
        log_close(&log);
        cr_assert(eq(long, allocations_left_over(), 0));
    }
    cr_expect(ge(long, refused_count, LAST / STEP), "%ld times", refused_count);
    free(wanted);
    log_close(&plain);
    arena_close(&arena);
}

/* A log so long that all its arrays and tables grow, several times over. */
Test(memory, log_admit_many)
{
    struct log log;
    long refused_count = 0;
    char text[300];
    log_init(&log, test_editions(), failing_allocate, failing_release);
    admit_twice(&log, events[0], &refused_count);
    for (int i = 0; i < 700; i++) {
        snprintf(
            text, sizeof text,
            "{\"id\":\"n%d\",\"type\":\"score\",\"bout\":\"b\",\"at\":\"2027-05-08T10:01:00.000Z\","
            "\"side\":\"red\",\"points\":1,\"action\":\"step_out\",\"technique\":\"t_%d\"}",
            i, i);
        admit_twice(&log, text, &refused_count);
    }
    struct bout *bout = log_bout(&log, "b");
    cr_expect(eq(sz, bout->count, 701));
    json_t *state = state_of_bout(bout, bout->count, INT64_MIN);
    json_t *red = json_object_get(json_object_get(state, "score"), "red");
    cr_expect(eq(i64, json_integer_value(red), 700));
    cr_expect(ge(long, refused_count, 10), "%ld times", refused_count);
    json_decref(state);
    log_close(&log);
    cr_expect(eq(long, allocations_left_over(), 0));
}

/* The form with the number in its three places. */
static void put_text(char *text, size_t size, const char *form, int number)
{
    size_t used = 0;
    for (; *form != '\0'; form++)
        if (*form == '%') {
            used +=
                (size_t)snprintf(text + used, size - used, form[1] == 'd' ? "%d" : "%03d", number);
            form += form[1] == 'd' ? 1 : 3;
        } else {
            text[used++] = *form;
        }
    text[used] = '\0';
}

/* The log's own arrays (its events, its bouts, the day's) grow at the 17th and the 33rd: there,
 * memory ends at each place in turn, and everything that was there must still be. */
Test(memory, log_arrays)
{
    enum { BLOCK = 64 * 1024, COUNT = 40, MOST = 16384, STEP = 96 };
    static const char *const forms[] = {
        "{\"id\":\"b%d\",\"type\":\"bout\",\"bout\":\"b%d\",\"rules\":\"greco-2026\",\"red\":{"
        "\"name\":"
        "\"R\"},\"blue\":{\"name\":\"B\"},\"at\":\"2027-05-08T10:00:00.%03dZ\"}",
        "{\"id\":\"d%d\",\"type\":\"entry\",\"athlete\":\"a%d\",\"at\":"
        "\"2027-05-08T10:00:01.%03dZ\"}",
    };
    for (unsigned form = 0; form < 2; form++) {
        struct log log;
        char texts[COUNT][240];
        log_init(&log, test_editions(), failing_allocate, failing_release);
        for (int i = 0; i < COUNT; i++) {
            struct arena arena;
            struct complaint complaint;
            struct admittance admittance = {.admitted = NO_MEMORY};
            arena_init(&arena, malloc, free);
            put_text(texts[i], sizeof texts[i], forms[form], i);
            const struct value *document = document_of(&arena, texts[i]);
            for (size_t left = 0; left <= MOST && admittance.admitted == NO_MEMORY; left += STEP) {
                if (i % 16 == 0 && i > 0)
                    cr_assert(arena_take(&log.arena, BLOCK - left) != NULL);
                fail_after(i % 16 == 0 && i > 0 ? 0 : -1);
                admittance = log_admit(&log, document, INTAKE_FILE, &complaint);
                fail_never();
            }
            cr_assert(eq(int, admittance.admitted, ADMITTED), "%s with memory enough", texts[i]);
            arena_close(&arena);
        }
        cr_assert(eq(sz, log.count, COUNT));
        for (int i = 0; i < COUNT; i++) {
            char id[16];
            snprintf(id, sizeof id, "%c%d", form == 0 ? 'b' : 'd', i);
            cr_assert(eq(u64, log_seq_of(&log, id), (uint64_t)i + 1), "%s", id);
            expect_text("the place", form == 0 ? log.bouts[i]->id : log.day[i]->id, id);
        }
        log_close(&log);
        cr_assert(eq(long, allocations_left_over(), 0));
    }
}

/* A bout long enough that one reading takes several blocks: many events, techniques, amendments. */
static void tell_long_bout(struct story *story)
{
    char text[200];
    story_tell(story, "0 bout rules:freestyle-2022; 1 clock do:start");
    for (int i = 0; i < 900; i++) {
        snprintf(text, sizeof text,
                 "%d score side:red points:1 action:step_out technique:t_%d unconfirmed:true",
                 2 + i / 9, i % 70);
        story_tell(story, text);
        if (i % 2 == 0) {
            snprintf(text, sizeof text, "amend ref:e%zu set:{side:blue}", story->told);
            story_tell(story, text);
        }
    }
}

Test(memory, fold_read)
{
    struct story story;
    story_init(&story);
    tell_long_bout(&story);
    const struct bout *bout = story.log.bouts[0];
    char *wanted = state_line(bout, bout->count, INT64_MIN);
    long failures = 0;
    for (long after = 0;; after++) {
        struct fold fold;
        fold_init(&fold, bout, failing_allocate, failing_release);
        fail_after(after);
        bool read = fold_read(&fold, bout->count), failed = has_failed();
        fail_never();
        cr_assert(eq(int, read, !failed), "after %ld", after);
        if (failed) {
            failures++;
            cr_assert(eq(sz, fold.count, 0), "as empty as at the start");
            cr_assert(fold_read(&fold, bout->count), "asked again");
        }
        char *line = fold_line(&fold, INT64_MIN);
        cr_assert(eq(str, line, wanted), "after %ld", after);
        free(line);
        fold_close(&fold);
        cr_assert(eq(long, allocations_left_over(), 0));
        if (!failed)
            break;
    }
    cr_expect(ge(long, failures, 4), "%ld", failures);
    free(wanted);
    story_close(&story);
}

/* One event after the other, as the running daemon reads: whichever it fails at, the whole is read
 * again when it is asked again. */
Test(memory, fold_read_one_by_one)
{
    struct story story;
    story_init(&story);
    tell_long_bout(&story);
    const struct bout *bout = story.log.bouts[0];
    char *wanted = state_line(bout, bout->count, INT64_MIN);
    long failures = 0;
    for (long after = 0;; after++) {
        struct fold fold;
        bool failed = false;
        fold_init(&fold, bout, failing_allocate, failing_release);
        fail_after(after);
        for (size_t count = 1; count <= bout->count && !failed; count++) {
            bool read = fold_read(&fold, count);
            failed = has_failed();
            cr_assert(eq(int, read, !failed), "after %ld, event %zu", after, count);
            if (failed)
                cr_assert(eq(sz, fold.count, 0), "as empty as at the start");
        }
        fail_never();
        failures += failed ? 1 : 0;
        cr_assert(fold_read(&fold, bout->count), "asked again");
        char *line = fold_line(&fold, INT64_MIN);
        cr_assert(eq(str, line, wanted), "after %ld", after);
        free(line);
        fold_close(&fold);
        cr_assert(eq(long, allocations_left_over(), 0));
        if (!failed)
            break;
        after += failures > 20 ? failures / 2 : 0; /* what fails later fails alike */
    }
    cr_expect(ge(long, failures, 4), "%ld", failures);
    free(wanted);
    story_close(&story);
}

/* ---- jansson ---- */

static void jansson_fails(void)
{
    json_set_alloc_funcs(failing_allocate, failing_release);
}

static void jansson_is_well(void)
{
    fail_never();
    json_set_alloc_funcs(malloc, free);
}

Test(memory, state_json)
{
    struct story story;
    struct fold fold;
    story_init(&story);
    /* a state that has every member there is */
    story_tell(&story, "0 bout rules:freestyle-2022; 0 clock do:lost; caution side:red reason:a "
                       "points:0; caution side:red reason:a points:0; caution side:red reason:a "
                       "points:0; caution side:blue reason:a points:1; caution side:blue reason:a "
                       "points:0; caution side:blue reason:a points:0; score side:red points:2 "
                       "action:takedown technique:single_leg leg:lead; score side:blue points:1 "
                       "action:step_out technique:push_out leg:trail unconfirmed:true; passivity "
                       "side:red stage:warning; passivity side:blue stage:activity; challenge "
                       "side:red outcome:asked; position position:par_terre top:red ordered:true; "
                       "stoppage kind:blood side:red do:start; close how:fall winner:red "
                       "unconfirmed:true");
    const struct bout *bout = story.log.bouts[0];
    fold_init(&fold, bout, malloc, free);
    cr_assert(fold_read(&fold, bout->count));
    struct state state = state_of(&fold, INT64_MIN);
    char *wanted = fold_line(&fold, INT64_MIN);
    long failures = 0;
    jansson_fails();
    for (long after = 0;; after++) {
        fail_after(after);
        json_t *json = state_json(&state);
        bool failed = has_failed();
        cr_assert(eq(int, json == NULL, failed), "after %ld", after);
        fail_never();
        char *line = json != NULL ? json_line(json) : NULL;
        if (!failed)
            cr_assert(eq(str, line, wanted));
        if (line != NULL)
            failing_release(line);
        json_decref(json);
        cr_assert(eq(long, allocations_left_over(), 0), "after %ld", after);
        failures += failed ? 1 : 0;
        if (!failed)
            break;
    }
    cr_expect(ge(long, failures, 200), "%ld", failures);
    jansson_is_well();
    free(wanted);
    fold_close(&fold);
    story_close(&story);
}

Test(memory, json_line)
{
    json_t *json = json_pack("{s:[i,s,b],s:{s:n}}", "b", 5, "text", 1, "a", "c");
    long failures = 0;
    jansson_fails();
    for (long after = 0;; after++) {
        fail_after(after);
        char *line = json_line(json);
        bool failed = has_failed();
        cr_assert(eq(int, line == NULL, failed), "after %ld", after);
        fail_never();
        if (line != NULL) {
            expect_text("the line", line, "{\"a\":{\"c\":null},\"b\":[5,\"text\",true]}");
            failing_release(line);
        }
        cr_assert(eq(long, allocations_left_over(), 0), "after %ld", after);
        failures += failed ? 1 : 0;
        if (!failed)
            break;
    }
    cr_expect(ge(long, failures, 2), "%ld", failures);
    jansson_is_well();
    json_decref(json);
}

static const char document_text[] =
    "{\"name\":\"x\",\"list\":[1,2.5,true,false,null,\"caf\\u00e9\",[],{}],\"deep\":{\"a\":{\"b\":"
    "[{\"c\":\"d\"}]}}}";

/* Both of the memories that it needs, the arena's and jansson's, fail in their turn. */
Test(memory, json_read)
{
    long failures = 0;
    jansson_fails();
    for (long after = 0;; after++) {
        struct arena arena;
        struct complaint complaint = {.why = REFUSED_TYPE};
        arena_init(&arena, failing_allocate, failing_release);
        fail_after(after);
        const struct value *value =
            json_read(&arena, document_text, strlen(document_text), &complaint);
        bool failed = has_failed();
        fail_never();
        cr_assert(eq(int, value == NULL, failed), "after %ld", after);
        cr_assert(eq(int, complaint.why, ACCEPTED), "after %ld: %s", after, complaint.detail);
        if (failed)
            cr_assert(json_read(&arena, document_text, strlen(document_text), &complaint) != NULL,
                      "asked again");
        arena_close(&arena);
        cr_assert(eq(long, allocations_left_over(), 0), "after %ld", after);
        failures += failed ? 1 : 0;
        if (!failed)
            break;
    }
    cr_expect(ge(long, failures, 20), "%ld", failures);
    jansson_is_well();
}

Test(memory, json_of)
{
    struct arena arena;
    long failures = 0;
    arena_init(&arena, malloc, free);
    const struct value *value = document_of(&arena, document_text);
    jansson_fails();
    for (long after = 0;; after++) {
        fail_after(after);
        json_t *json = json_of(value);
        bool failed = has_failed();
        fail_never();
        cr_assert(eq(int, json == NULL, failed), "after %ld", after);
        json_decref(json);
        cr_assert(eq(long, allocations_left_over(), 0), "after %ld", after);
        failures += failed ? 1 : 0;
        if (!failed)
            break;
    }
    cr_expect(ge(long, failures, 20), "%ld", failures);
    jansson_is_well();
    arena_close(&arena);
}

/* An edition's arena begins with its block nearly full, so that it ends within each of the things
 * that reading takes. */
Test(memory, edition_read)
{
    enum { BLOCK = 64 * 1024, STEP = 16, LAST = 32 * 1024 };
    struct arena arena;
    long failures = 0;
    arena_init(&arena, malloc, free);
    size_t size = 0;
    char *text = file_text("daemon/rules/editions/greco-2026.json", &size);
    struct complaint complaint;
    const struct value *document = json_read(&arena, text, size, &complaint);
    cr_assert(document != NULL);
    for (size_t taken = BLOCK - LAST; taken <= BLOCK; taken += STEP) {
        struct arena own;
        struct edition edition;
        arena_init(&own, failing_allocate, failing_release);
        cr_assert(arena_take(&own, taken) != NULL);
        complaint.why = REFUSED_TYPE;
        fail_after(0);
        bool read = edition_read(&edition, document, &own, &complaint), failed = has_failed();
        fail_never();
        cr_assert(eq(int, read, !failed), "%zu bytes taken", taken);
        if (failed) {
            failures++;
            cr_assert(eq(int, complaint.why, ACCEPTED), "%zu bytes taken: %s", taken,
                      complaint.detail);
            cr_assert(edition_read(&edition, document, &own, &complaint), "asked again");
        }
        cr_assert(edition_has_action(&edition, 2, "takedown"));
        cr_assert(eq(sz, edition.ending_count, 10));
        arena_close(&own);
        cr_assert(eq(long, allocations_left_over(), 0));
    }
    cr_expect(ge(long, failures, 500), "%ld", failures);
    free(text);
    arena_close(&arena);
}

/* A roster takes memory of jansson for the letters' sake: without it, it isn't the file that is
 * wrong. */
static bool sheet_count(const char *text, size_t *count, struct complaint *complaint)
{
    struct sheet sheet;
    bool good = sheet_read(&sheet, text, strlen(text), test_editions(), complaint);
    *count = sheet.count;
    sheet_close(&sheet);
    return good;
}

Test(memory, sheet_read)
{
    static const char text[] = "athlete,name,facts\r\na1,Ana,one|two\r\na2,\"B, C\",\r\n";
    long failures = 0;
    test_editions();
    jansson_fails();
    for (long after = 0;; after++) {
        struct complaint complaint = {.why = REFUSED_TYPE};
        size_t count = 0;
        fail_after(after);
        bool good = sheet_count(text, &count, &complaint);
        bool failed = has_failed();
        fail_never();
        cr_assert(eq(int, good, !failed), "after %ld", after);
        cr_assert(eq(int, complaint.why, ACCEPTED), "after %ld: %s", after, complaint.detail);
        cr_assert(sheet_count(text, &count, &complaint), "asked again");
        cr_assert(eq(sz, count, 2));
        cr_assert(eq(long, allocations_left_over(), 0), "after %ld", after);
        failures += failed ? 1 : 0;
        if (!failed)
            break;
    }
    cr_expect(ge(long, failures, 1), "%ld", failures);
    jansson_is_well();
}

/* ---- the arena itself ---- */

Test(memory, arena)
{
    struct arena arena;
    arena_init(&arena, failing_allocate, failing_release);
    unsigned char *one = arena_take(&arena, 1), *two = arena_take(&arena, 1);
    cr_expect(ne(ptr, one, two));
    cr_expect(eq(sz, (size_t)(two - one) % _Alignof(max_align_t), 0), "aligned for any type");
    cr_expect(eq(u8, *one, 0), "zeroed");
    memset(one, 0xff, 1);
    arena_reset(&arena);
    unsigned char *again = arena_take(&arena, 100);
    for (int i = 0; i < 100; i++)
        cr_assert(eq(u8, again[i], 0), "zeroed again after a reset");
    cr_expect(eq(long, allocations_left_over(), 1), "its memory is kept");
    unsigned char *large = arena_take(&arena, 1000000);
    cr_assert(large != NULL, "more than a block");
    memset(large, 1, 1000000);
    cr_expect(arena_take(&arena, SIZE_MAX) == NULL, "more than there can be");
    cr_expect(arena_take(&arena, SIZE_MAX / 2 + 1) == NULL);
    expect_text("a copy", arena_copy(&arena, "text"), "text");
    arena_close(&arena);
    arena_close(&arena);
    cr_expect(eq(long, allocations_left_over(), 0));
}

Test(memory, arena_grow)
{
    struct arena arena;
    int *items = NULL;
    size_t capacity = 0;
    arena_init(&arena, failing_allocate, failing_release);
    for (size_t count = 0; count < 100000; count++) {
        int *grown = arena_grow(&arena, items, count, &capacity, sizeof *items);
        cr_assert(grown != NULL);
        cr_assert(ge(sz, capacity, count + 1));
        items = grown;
        items[count] = (int)count;
    }
    for (size_t i = 0; i < 100000; i++)
        if (items[i] != (int)i)
            cr_fatal("item %zu is %d", i, items[i]);
    arena_fill(&arena);
    size_t was = capacity;
    fail_after(0);
    cr_expect(arena_grow(&arena, items, capacity, &capacity, sizeof *items) == NULL);
    fail_never();
    cr_expect(eq(sz, capacity, was), "without memory it is as it was");
    arena_close(&arena);
}
