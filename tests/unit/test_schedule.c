/* When bouts will begin: what is said for whom, and how often it was right over the demo day. The
 * demo day is invented: it shows that the ranges hold together, not how long bouts take. */
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <stdlib.h>
#include <string.h>
#include "draw/schedule.h"
#include "support.h"
#include "wire/json.h"

enum { BOUTS_MAX = 64, SLOTS_MAX = 64 };

struct hour {
    struct day day;
    struct schedule_bout bouts[BOUTS_MAX];
    size_t bout_count;
    struct expected_start expected[SLOTS_MAX];
};

/* What was known at that moment. */
static void hour_take(struct hour *hour, const struct log *log, int64_t now_ms)
{
    hour->bout_count = 0;
    day_init(&hour->day, malloc, free);
    for (size_t i = 0; i < log->day_count && log->day[i]->at_ms <= now_ms; i++)
        cr_assert(day_read(&hour->day, log->day[i]));
    for (size_t i = 0; i < log->bout_count; i++) {
        const struct bout *bout = log->bouts[i];
        size_t count = 0;
        while (count < bout->count && bout->events[count].at_ms <= now_ms)
            count++;
        if (count == 0)
            continue;
        struct fold fold;
        fold_init(&fold, bout, malloc, free);
        cr_assert(fold_read(&fold, count));
        struct state state = state_of(&fold, now_ms);
        hour->bouts[hour->bout_count++] = schedule_bout_of(&state);
        fold_close(&fold);
    }
    schedule_make(hour->expected, &hour->day, test_editions(), hour->bouts, hour->bout_count,
                  now_ms);
}

static void hour_close(struct hour *hour)
{
    day_close(&hour->day);
}

static const struct expected_start *of(const struct hour *hour, const char *slot)
{
    const struct slot *found = day_slot(&hour->day, slot);
    cr_assert(ne(ptr, (void *)found, NULL), "%s", slot);
    return &hour->expected[found->place];
}

/* ---- told ---- */

#define SLOTS                                                                                      \
    "0 slot slot:s1 mat:A order:1 rules:freestyle-2022; 0 slot slot:s2 mat:A order:2 "             \
    "rules:freestyle-2022; 0 slot slot:s3 mat:A order:3 rules:freestyle-2022; 0 slot slot:t1 "     \
    "mat:B order:1 rules:freestyle-2022; 0 slot slot:u1 order:1; "

static void tell(struct story *story, struct hour *hour, const char *text)
{
    story_init(story);
    story_tell(story, text);
    hour_take(hour, &story->log, story_now(story));
}

static void close_all(struct story *story, struct hour *hour)
{
    hour_close(hour);
    story_close(story);
}

Test(schedule, before_anything_has_begun)
{
    struct story story;
    struct hour hour;
    tell(&story, &hour, SLOTS "60 now");
    const struct expected_start *first = of(&hour, "s1"), *second = of(&hour, "s2"),
                                *third = of(&hour, "s3");
    cr_expect(first->known && second->known && third->known && of(&hour, "t1")->known);
    cr_expect(not(of(&hour, "u1")->known), "nobody knows its mat");
    cr_expect(lt(i64, first->from_ms, second->from_ms));
    cr_expect(lt(i64, second->to_ms, third->to_ms));
    cr_expect(ge(i64, first->from_ms, story_begins_ms + 60000), "not in the past");
    cr_expect(lt(i64, second->to_ms - second->from_ms, third->to_ms - third->from_ms),
              "the further ahead, the less is known");
    close_all(&story, &hour);
}

Test(schedule, what_has_begun_is_not_expected)
{
    struct story story;
    struct hour hour;
    tell(&story, &hour,
         SLOTS "10 bout bout:b rules:freestyle-2022 mat:A slot:s1; 20 clock do:start; 60 now");
    cr_expect(not(of(&hour, "s1")->known));
    cr_expect(of(&hour, "s2")->known);
    close_all(&story, &hour);
}

/* The shorter the bout's clock, the sooner the next. */
Test(schedule, the_clock_of_the_bout_counts)
{
    struct story story;
    struct hour early, late;
    tell(&story, &early,
         SLOTS "10 bout bout:b rules:freestyle-2022 mat:A slot:s1; 20 clock do:start; 60 now");
    hour_take(&late, &story.log, story_begins_ms + 150000);
    int64_t early_ms = of(&early, "s2")->to_ms - (story_begins_ms + 60000);
    int64_t late_ms = of(&late, "s2")->to_ms - (story_begins_ms + 150000);
    cr_expect(lt(i64, late_ms, early_ms));
    hour_close(&early);
    hour_close(&late);
    story_close(&story);
}

/* Two falls in the first half minute: this day goes fast. */
Test(schedule, the_days_own_lengths_count)
{
    struct story story;
    struct hour slow, fast;
    tell(&story, &slow, SLOTS "0 slot slot:s4 mat:A order:4 rules:freestyle-2022; 60 now");
    hour_close(&slow);
    story_tell(&story, "60 bout bout:b1 rules:freestyle-2022 mat:A slot:s1; 60 clock bout:b1 "
                       "do:start; 80 close bout:b1 how:fall winner:red; 90 bout bout:b2 "
                       "rules:freestyle-2022 mat:A slot:s2; 100 clock bout:b2 do:start; 130 close "
                       "bout:b2 how:fall winner:blue");
    int64_t now_ms = story_begins_ms + 130000;
    hour_take(&fast, &story.log, now_ms);
    int64_t gap_ms = of(&fast, "s4")->to_ms - of(&fast, "s3")->to_ms;
    struct story other;
    tell(&other, &slow, SLOTS "0 slot slot:s4 mat:A order:4 rules:freestyle-2022; 130 now");
    int64_t usual_ms = of(&slow, "s4")->to_ms - of(&slow, "s3")->to_ms;
    cr_expect(lt(i64, gap_ms, usual_ms));
    hour_close(&fast);
    close_all(&other, &slow);
    story_close(&story);
}

Test(schedule, the_order_may_change)
{
    struct story story;
    struct hour hour;
    tell(&story, &hour, SLOTS "30 slot slot:s3 order:0; 60 now");
    cr_expect(lt(i64, of(&hour, "s3")->to_ms, of(&hour, "s1")->to_ms));
    close_all(&story, &hour);
}

/* ---- the demo day ---- */

static void admit_line(struct log *log, struct arena *arena, const char *text, size_t size)
{
    struct complaint complaint;
    arena_reset(arena);
    const struct value *document = json_read(arena, text, size, &complaint);
    cr_assert(ne(ptr, (void *)document, NULL));
    cr_assert(eq(int, log_admit(log, document, INTAKE_FILE, &complaint).admitted, ADMITTED));
}

static void read_demo(struct log *log)
{
    size_t size = 0;
    struct arena arena;
    char *text = file_text("fixtures/demo/day.ndjson", &size);
    log_init(log, test_editions(), malloc, free);
    arena_init(&arena, malloc, free);
    for (char *line = text, *end; *line != '\0'; line = end + 1) {
        end = strchr(line, '\n');
        admit_line(log, &arena, line, (size_t)(end - line));
    }
    arena_close(&arena);
    free(text);
}

struct tally_of_hits {
    int hits, count;
    int64_t width_ms;
};

static bool has_begun(const struct hour *hour, const char *slot)
{
    for (size_t i = 0; i < hour->bout_count; i++)
        if (strcmp(hour->bouts[i].slot, slot) == 0 && hour->bouts[i].began_ms != 0)
            return true;
    return false;
}

/* Every bout that begins within `ahead_ms` of a moment, at every full minute. */
static struct tally_of_hits count_hits(const struct log *log, int64_t least_ms, int64_t most_ms)
{
    struct tally_of_hits tally = {0, 0, 0};
    struct hour end;
    int64_t last_ms = log->bouts[log->bout_count - 1]->events[0].at_ms;
    hour_take(&end, log, INT64_C(4000000000000));
    for (int64_t now_ms = story_begins_ms + 60000; now_ms < last_ms; now_ms += 60000) {
        struct hour hour;
        hour_take(&hour, log, now_ms);
        for (size_t i = 0; i < end.bout_count; i++) {
            const struct schedule_bout *bout = &end.bouts[i];
            int64_t ahead_ms = bout->began_ms - now_ms;
            if (bout->began_ms == 0 || ahead_ms <= least_ms || ahead_ms > most_ms)
                continue;
            const struct expected_start *expected = of(&hour, bout->slot);
            if (!expected->known && has_begun(&hour, bout->slot))
                continue; /* it was begun anew later */
            cr_expect(expected->known, "%s", bout->slot);
            tally.count++;
            tally.width_ms += expected->to_ms - expected->from_ms;
            tally.hits +=
                bout->began_ms >= expected->from_ms && bout->began_ms <= expected->to_ms ? 1 : 0;
        }
        hour_close(&hour);
    }
    hour_close(&end);
    return tally;
}

Test(schedule, four_of_five_begin_within_their_range)
{
    struct log log;
    read_demo(&log);
    struct tally_of_hits soon = count_hits(&log, 0, 600000);
    struct tally_of_hits half_an_hour = count_hits(&log, 1500000, 2100000);
    cr_log_info("within ten minutes %d of %d, %lld s wide; half an hour ahead %d of %d, %lld s",
                soon.hits, soon.count, (long long)(soon.width_ms / soon.count / 1000),
                half_an_hour.hits, half_an_hour.count,
                (long long)(half_an_hour.width_ms / half_an_hour.count / 1000));
    cr_expect(ge(int, soon.hits * 5, soon.count * 4), "%d of %d", soon.hits, soon.count);
    cr_expect(ge(int, half_an_hour.hits * 5, half_an_hour.count * 4), "%d of %d", half_an_hour.hits,
              half_an_hour.count);
    cr_expect(lt(i64, half_an_hour.width_ms / half_an_hour.count, 1800000),
              "a range of half an hour says nothing");
    log_close(&log);
}
