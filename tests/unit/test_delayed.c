/* access/delayed.h: what a delayed audience is shown. The words on delay are the contract's
 * (docs/wire.md, "Delay"); that a slip corrected in time is never seen is checked against a log in
 * which its correction comes right behind it. */
#include "access/delayed.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "support.h"
#include "wire/json.h"
#include "wire/state_json.h"
#include "wire/view_json.h"

static const int64_t ever_ms = INT64_C(-1000000000000);

/* ---- when ---- */

struct shown_row {
    char name[60];
    struct delay_change changes[3];
    size_t count;
    int64_t real_ms, shown_ms;
};

ParameterizedTestParameters(delayed, shown)
{
    static struct shown_row rows[] = {
        {"no delay", {{0, 0}}, 0, 500, 500},
        {"before it is set", {{1000, 100}}, 1, 999, 999},
        {"raised: holds still", {{1000, 100}}, 1, 1000, 1000},
        {"raised: still", {{1000, 100}}, 1, 1099, 1000},
        {"raised: its time has come", {{1000, 100}}, 1, 1101, 1001},
        {"raised twice", {{1000, 100}, {1050, 300}}, 2, 1299, 1000},
        {"raised twice: flows", {{1000, 100}, {1050, 300}}, 2, 1301, 1001},
        {"raised while it flows", {{1000, 100}, {2000, 300}}, 2, 2200, 1900},
        {"lowered: catches up at once", {{1000, 100}, {2000, 40}}, 2, 2000, 1960},
        {"lowered to none", {{1000, 100}, {2000, 0}}, 2, 2000, 2000},
        {"lowered while it holds still", {{1000, 100}, {1010, 50}}, 2, 1020, 1000},
        {"raised and lowered at one moment", {{1000, 100}, {1000, 0}}, 2, 1000, 1000},
        {"three", {{1000, 100}, {2000, 0}, {3000, 500}}, 3, 3600, 3100},
    };
    return cr_make_param_array(struct shown_row, rows, sizeof rows / sizeof *rows);
}

ParameterizedTest(struct shown_row *row, delayed, shown)
{
    const struct delays delays = {row->changes, row->count};
    cr_expect(eq(i64, delays_shown(&delays, row->real_ms), row->shown_ms), "%s", row->name);
}

/* It never goes back, is never ahead, and a moment falls due when it is first reached. */
Test(delayed, due_is_when_it_is_first_shown)
{
    for (uint64_t seed = 1; seed <= 200; seed++) {
        struct dice dice = dice_of(seed);
        struct delay_change changes[5];
        const struct delays delays = {changes, (size_t)dice_below(&dice, 6)};
        int64_t since_ms = 0, shown_ms = INT64_MIN, reached_ms = -100;
        for (size_t i = 0; i < delays.count; i++) {
            since_ms += dice_below(&dice, 60);
            changes[i] = (struct delay_change){since_ms, dice_below(&dice, 3) * 25};
        }
        for (int64_t real_ms = -100; real_ms < 500; real_ms++) {
            int64_t now_ms = delays_shown(&delays, real_ms);
            cr_assert(now_ms >= shown_ms && now_ms <= real_ms, "seed %d", (int)seed);
            for (; reached_ms <= now_ms; reached_ms++)
                cr_assert(eq(i64, delays_due(&delays, reached_ms), real_ms), "seed %d: %d",
                          (int)seed, (int)reached_ms);
            shown_ms = now_ms;
        }
    }
}

/* ---- stories ---- */

struct audience {
    struct delay_change change;
    struct delays delays;
    struct delayed_bout delayed;
    struct fold fold;
    bool anew; /* at any event */
};

static void audience_begin(struct audience *audience, const struct bout *bout, int64_t delay_ms)
{
    *audience = (struct audience){.change = {ever_ms, delay_ms}};
    audience->delays = (struct delays){&audience->change, 1};
    delayed_bout_init(&audience->delayed, bout, malloc, free);
    fold_init(&audience->fold, &audience->delayed.bout, malloc, free);
}

static void audience_end(struct audience *audience)
{
    fold_close(&audience->fold);
    delayed_bout_close(&audience->delayed);
}

/* All that falls due up to that moment, one by one. */
static void audience_read(struct audience *audience, int64_t real_ms)
{
    const struct bout *source = audience->delayed.source;
    for (size_t i = audience->fold.count; i < source->count; i++) {
        int64_t due_ms = event_due(&source->events[i], &audience->delays);
        if (due_ms > real_ms)
            return;
        cr_assert(delayed_bout_read(&audience->delayed, due_ms, UINT64_MAX));
        cr_assert(fold_read(&audience->fold, i + 1));
        audience->anew = audience->anew || audience->delayed.anew;
    }
}

struct story_row {
    char name[80], story[400];
    double delay_s, real_s; /* real_s: from the story's beginning */
    char wanted[200];
};

#define FREE "0 bout rules:freestyle-2022; "
#define RED2 "score side:red points:2 action:takedown "
#define BLUE1 "score side:blue points:1 action:step_out "

ParameterizedTestParameters(delayed, stories)
{
    static struct story_row rows[] = {
        {"not due yet", FREE "5 " RED2, 10, 14.9, "score:{red:0}"},
        {"due", FREE "5 " RED2, 10, 15, "score:{red:2} seq:2"},
        {"a slip taken out in time is never seen", FREE "5 " RED2 "; 14 void ref:e2", 10, 15,
         "score:{red:0} seq:1"},
        {"nor when its correction comes due", FREE "5 " RED2 "; 14 void ref:e2", 10, 24,
         "score:{red:0} seq:1"},
        {"what comes after it is", FREE "5 " RED2 "; 14 void ref:e2; 16 " BLUE1, 10, 26,
         "score:{red:0,blue:1} seq:4"},
        {"taken out too late: seen", FREE "5 " RED2 "; 15 void ref:e2", 10, 24.9, "score:{red:2}"},
        {"and out at the correction's own time", FREE "5 " RED2 "; 15 void ref:e2", 10, 25,
         "score:{red:0} seq:3"},
        {"the officials': seen", FREE "5 " RED2 "; 6 void ref:e2 why:officials", 10, 15.9,
         "score:{red:2}"},
        {"the officials': out at its own time", FREE "5 " RED2 "; 6 void ref:e2 why:officials", 10,
         16, "score:{red:0}"},
        {"a challenge's: seen", FREE "5 " RED2 "; 6 void ref:e2 why:challenge", 10, 15.9,
         "score:{red:2}"},
        {"said to be keying", FREE "5 " RED2 "; 6 void ref:e2 why:keying", 10, 15, "score:{red:0}"},
        {"amended in time: shown as amended",
         FREE "5 " RED2 "; 6 amend ref:e2 set:{points:4,action:throw}", 10, 15, "score:{red:4}"},
        {"and no more at its turn", FREE "5 " RED2 "; 6 amend ref:e2 set:{points:4,action:throw}",
         10, 16, "score:{red:4} seq:2"},
        {"amended by the officials: first as it was",
         FREE "5 " RED2 "; 6 amend ref:e2 set:{points:4,action:throw} why:officials", 10, 15.9,
         "score:{red:2}"},
        {"then as amended",
         FREE "5 " RED2 "; 6 amend ref:e2 set:{points:4,action:throw} why:officials", 10, 16,
         "score:{red:4} seq:3"},
        {"a slip's amend behind the officials' waits for its turn",
         FREE "5 " RED2 "; 6 amend ref:e2 set:{points:4,action:throw} why:officials; 7 amend "
              "ref:e2 set:{points:1,action:step_out}",
         10, 16, "score:{red:4}"},
        {"and wins then",
         FREE "5 " RED2 "; 6 amend ref:e2 set:{points:4,action:throw} why:officials; 7 amend "
              "ref:e2 set:{points:1,action:step_out}",
         10, 17, "score:{red:1}"},
        {"a void of a slip's void: never out", FREE "5 " RED2 "; 6 void ref:e2; 7 void ref:e3", 10,
         15, "score:{red:2} seq:2"},
        {"nor later", FREE "5 " RED2 "; 6 void ref:e2; 7 void ref:e3", 10, 17,
         "score:{red:2} seq:2"},
        {"a hidden slip comes back at the time of the void that says so",
         FREE "5 " RED2 "; 6 void ref:e2; 15.5 void ref:e3", 10, 25.4, "score:{red:0} seq:1"},
        {"exactly", FREE "5 " RED2 "; 6 void ref:e2; 15.5 void ref:e3", 10, 25.5,
         "score:{red:2} seq:4"},
        {"the officials bring it back",
         FREE "5 " RED2 "; 6 void ref:e2; 7 void ref:e3 "
              "why:officials",
         10, 17, "score:{red:2}"},
        {"not before", FREE "5 " RED2 "; 6 void ref:e2; 7 void ref:e3 why:officials", 10, 16.9,
         "score:{red:0}"},
        {"an early amend is taken back",
         FREE "5 " RED2 "; 6 amend ref:e2 set:{points:4,action:throw}; 15.5 void ref:e3", 10, 25.5,
         "score:{red:2}"},
        {"an amend that comes back among early ones doesn't win over later ones",
         FREE "5 " RED2 "; 6 amend ref:e2 set:{points:4,action:throw}; 7 void ref:e3; 8 amend "
              "ref:e2 set:{points:1,action:step_out}; 18 void ref:e4",
         10, 28, "score:{red:1}"},
        {"an amend that names what comes later waits for its turn",
         FREE "5 " RED2 "; 6 attack side:red techniques:[single_leg] outcome:open; 7 amend ref:e2 "
              "set:{attack:e3}",
         10, 15, "score:{red:2} attacks:{red:{tried:0}}"},
        {"and is exact then",
         FREE "5 " RED2 "; 6 attack side:red techniques:[single_leg] outcome:open; 7 amend ref:e2 "
              "set:{attack:e3}",
         10, 17, "score:{red:2} attacks:{red:{tried:1,scored:1}}"},
        {"a score that names an attack that was a slip",
         FREE "5 attack side:red techniques:[single_leg] outcome:open; 6 " RED2 "attack:e2; 7 void "
              "ref:e2",
         10, 16, "score:{red:2} attacks:{red:{tried:0}}"},
        {"a clock started by mistake never ran", FREE "5 clock do:start; 8 void ref:e2", 10, 20,
         "phase:called clock:{t_ms:0,running:false}"},
        {"a restart keyed by mistake", FREE "2 " RED2 "; 5 restart; 8 void ref:e3", 10, 20,
         "score:{red:2} seq:2"},
        {"a result keyed by mistake", FREE "5 close how:fall winner:red; 8 void ref:e2", 10, 15,
         "phase:called result:null"},
        {"another void of what is hidden says nothing",
         FREE "5 " RED2 "; 6 void ref:e2; 17 void ref:e2", 10, 27, "score:{red:0} seq:1"},
        {"one void of two taken back: the other holds",
         FREE "5 " RED2 "; 6 void ref:e2; 17 void ref:e2; 18 void ref:e3", 10, 28, "score:{red:0}"},
        {"no delay: as it is", FREE "5 " RED2 "; 5 void ref:e2", 0, 5, "score:{red:0} seq:3"},
        {"a lost clock is known when it was last seen",
         FREE "5 clock do:start; 60 clock do:lost keyed_at:@20", 50, 70,
         "clock:{running:false,t_ms:15000}"},
        {"and not before it was keyed", FREE "5 clock do:start; 60 clock do:lost keyed_at:@20", 10,
         59.9, "clock:{running:true}"},
    };
    return cr_make_param_array(struct story_row, rows, sizeof rows / sizeof *rows);
}

ParameterizedTest(struct story_row *row, delayed, stories)
{
    struct story story;
    struct audience audience;
    char message[400] = "";
    int64_t real_ms = story_begins_ms + (int64_t)(row->real_s * 1000 + 0.5);
    story_init(&story);
    story_tell(&story, row->story);
    audience_begin(&audience, story.log.bouts[0], (int64_t)(row->delay_s * 1000));
    audience_read(&audience, real_ms);
    struct state state = state_of(&audience.fold, delays_shown(&audience.delays, real_ms));
    json_t *got = state_json(&state), *wanted = shorthand(row->wanted);
    cr_expect(has_all(got, wanted, message, sizeof message), "%s: %s", row->name, message);
    json_decref(got);
    json_decref(wanted);
    audience_end(&audience);
    story_close(&story);
}

/* ---- in no list, and listed as amended ---- */

Test(delayed, lists)
{
    struct story story;
    struct audience audience;
    struct view_memory memory = {NULL, 0};
    story_init(&story);
    story_tell(&story, FREE "1 " RED2 "; 2 void ref:e2; 3 " RED2 "leg:lead technique:ankle_pick; 4 "
                            "amend ref:e4 set:{points:4,action:throw} unset:[leg]; 5 note "
                            "text:'A slip' to:booth; 6 void ref:e6; 7 " BLUE1);
    audience_begin(&audience, story.log.bouts[0], 10000);
    audience_read(&audience, story_begins_ms + 20000);
    struct state state = state_of(&audience.fold, story_begins_ms + 10000);
    json_t *events = events_json(&state, &memory), *notes = notes_json(&state);
    json_t *view = view_json(&state, &memory, (struct anchors){0, false});
    cr_expect(eq(sz, json_object_size(events), 2), "what is hidden is in no list");
    json_t *amended = json_object_get(events, "4");
    expect_text("action", json_string_value(json_object_get(amended, "action")), "throw");
    cr_expect(eq(i64, json_integer_value(json_object_get(amended, "points")), 4));
    cr_expect(json_object_get(amended, "leg") == NULL);
    expect_text("technique", json_string_value(json_object_get(amended, "technique")),
                "ankle_pick");
    cr_expect(json_object_get(amended, "amended") == NULL, "as if it had been keyed so");
    cr_expect(eq(sz, json_object_size(notes), 0));
    json_t *mark = json_object_get(json_object_get(view, "line"), "4");
    cr_expect(eq(i64, json_integer_value(json_object_get(mark, "points")), 4));
    cr_expect(json_object_get(mark, "was") == NULL, "nobody saw it otherwise");
    cr_expect(audience.delayed.has_hidden);
    json_decref(events);
    json_decref(notes);
    json_decref(view);
    view_memory_close(&memory);
    audience_end(&audience);
    story_close(&story);
}

/* ---- random logs ---- */

/* A bout's log in which whatever corrects a slip in time comes right behind it. */
struct reordered {
    struct bout bout;
    struct event *events;
    int32_t *place_of; /* in `events`, by the source's places; EVENT_NONE: not there */
};

static bool corrects_slip(const struct event *event)
{
    return (event->type == EVENT_VOID || event->type == EVENT_AMEND) &&
           (event->why == 0 || event->why == WHY_KEYING);
}

/* By the corrections of slips that are there before that moment, and nothing else. */
static bool is_void_before(const struct bout *source, size_t place, int64_t due_ms)
{
    for (size_t i = place + 1; i < source->count && source->events[i].at_ms < due_ms; i++)
        if (source->events[i].type == EVENT_VOID && corrects_slip(&source->events[i]) &&
            (size_t)source->events[i].ref == place && !is_void_before(source, i, due_ms))
            return true;
    return false;
}

/* Where it comes early it brings no time with it. */
static void put_event(struct reordered *reordered, const struct bout *source, size_t place,
                      int64_t moment_ms)
{
    struct event *event = &reordered->events[reordered->bout.count];
    reordered->place_of[place] = (int32_t)reordered->bout.count++;
    *event = source->events[place];
    event->moment_ms = moment_ms;
}

static bool is_there(const struct reordered *reordered, bool given, int32_t place)
{
    return !given || reordered->place_of[place] != EVENT_NONE;
}

static bool names_what_is_there(const struct reordered *reordered, const struct event *set)
{
    return is_there(reordered, event_gives(set, MEMBER_ATTACK), set->attack) &&
           is_there(reordered, event_gives(set, MEMBER_AFTER), set->after) &&
           is_there(reordered, event_gives(set, MEMBER_OF), set->of) &&
           is_there(reordered, event_gives(set, MEMBER_BEFORE), set->before);
}

static void put_corrections(struct reordered *reordered, const struct bout *source, size_t place,
                            int64_t due_ms)
{
    bool voided = is_void_before(source, place, due_ms), amends = !voided;
    for (size_t i = place + 1; i < source->count && source->events[i].at_ms < due_ms; i++) {
        const struct event *event = &source->events[i];
        bool of_it = event->type == EVENT_AMEND || event->type == EVENT_VOID;
        if (!of_it || (size_t)event->ref != place || is_void_before(source, i, due_ms))
            continue;
        if (event->type == EVENT_VOID && corrects_slip(event))
            put_event(reordered, source, i, source->events[place].moment_ms);
        if (event->type != EVENT_AMEND || !amends)
            continue;
        amends = corrects_slip(event) && names_what_is_there(reordered, event->set);
        if (amends)
            put_event(reordered, source, i, source->events[place].moment_ms);
    }
}

static void remap(const struct reordered *reordered, int32_t *place)
{
    if (*place != EVENT_NONE)
        *place = reordered->place_of[*place];
}

static void remap_event(const struct reordered *reordered, struct event *event)
{
    remap(reordered, &event->ref);
    remap(reordered, &event->attack);
    remap(reordered, &event->after);
    remap(reordered, &event->of);
    remap(reordered, &event->before);
}

static void reorder(struct reordered *reordered, const struct bout *source, struct arena *arena,
                    const struct delays *delays, int64_t real_ms)
{
    *reordered = (struct reordered){.bout = {.id = source->id}};
    reordered->events = arena_take(arena, source->count * sizeof *reordered->events);
    reordered->place_of = arena_take(arena, source->count * sizeof *reordered->place_of);
    reordered->bout.events = reordered->events;
    for (size_t i = 0; i < source->count; i++)
        reordered->place_of[i] = EVENT_NONE;
    for (size_t i = 0; i < source->count; i++) {
        int64_t due_ms = event_due(&source->events[i], delays);
        if (due_ms > real_ms)
            break;
        if (reordered->place_of[i] != EVENT_NONE)
            continue;
        put_event(reordered, source, i, source->events[i].moment_ms);
        put_corrections(reordered, source, i, due_ms);
    }
    for (size_t i = 0; i < reordered->bout.count; i++) {
        struct event *event = &reordered->events[i];
        remap_event(reordered, event);
        if (event->set == NULL)
            continue;
        struct event *set = arena_take(arena, sizeof *set);
        *set = *event->set;
        remap_event(reordered, set);
        event->set = set;
    }
}

/* Everything but the number of the last event, which a correction that comes early has. */
static char *line_without_seq(const struct fold *fold, int64_t now_ms)
{
    struct state state = state_of(fold, now_ms);
    json_t *json = state_json(&state);
    json_object_del(json, "seq");
    char *line = json_line(json);
    json_decref(json);
    return line;
}

static void expect_same(const char *what, const struct fold *got, const struct bout *wanted,
                        size_t count, int64_t now_ms)
{
    struct fold fold;
    fold_init(&fold, wanted, malloc, free);
    cr_assert(fold_read(&fold, count));
    char *one = line_without_seq(got, now_ms), *other = line_without_seq(&fold, now_ms);
    size_t same = 0;
    while (one[same] != '\0' && one[same] == other[same])
        same++;
    size_t from = same > 40 ? same - 40 : 0;
    cr_assert(strcmp(one, other) == 0, "%s: is …%.200s, not …%.200s", what, one + from,
              other + from);
    free(one);
    free(other);
    fold_close(&fold);
}

/* Some corrections are the officials' and the challenges'. */
static void random_whys(struct dice *dice, struct bout *bout)
{
    static const uint8_t whys[] = {0, 0, WHY_KEYING, WHY_OFFICIALS, WHY_CHALLENGE};
    for (size_t i = 0; i < bout->count; i++)
        if (bout->events[i].type == EVENT_VOID || bout->events[i].type == EVENT_AMEND)
            bout->events[i].why = whys[dice_below(dice, 5)];
}

struct found { /* so that none of it is checked in vain */
    size_t hidden, anew;
};

static void check_random(uint64_t seed, bool slips, struct found *found)
{
    struct dice dice = dice_of(seed);
    struct arena arena;
    struct log log;
    log_init(&log, test_editions(), malloc, free);
    random_log(&dice, &log, 200);
    for (size_t b = 0; b < log.bout_count; b++) {
        struct bout *bout = log.bouts[b];
        struct audience audience;
        char what[60];
        random_whys(&dice, bout);
        for (size_t i = 0; i < bout->count && !slips; i++)
            bout->events[i].why = WHY_OFFICIALS;
        audience_begin(&audience, bout, (int64_t)1000 * dice_below(&dice, 2000));
        arena_init(&arena, malloc, free);
        int64_t real_ms = INT64_MIN;
        for (size_t i = 0; i < bout->count; i++) {
            int64_t due_ms = event_due(&bout->events[i], &audience.delays);
            real_ms = due_ms > real_ms ? due_ms : real_ms; /* a lost clock's may be before */
            int64_t now_ms = delays_shown(&audience.delays, real_ms);
            struct reordered reordered;
            audience_read(&audience, real_ms);
            snprintf(what, sizeof what, "seed %d, bout %s, place %d", (int)seed, bout->id, (int)i);
            reorder(&reordered, bout, &arena, &audience.delays, real_ms);
            expect_same(what, &audience.fold, &reordered.bout, reordered.bout.count, now_ms);
            if (!slips)
                expect_same(what, &audience.fold, bout, audience.fold.count, now_ms);
            arena_reset(&arena);
        }
        expect_same("all that has come due", &audience.fold, bout, bout->count, INT64_MAX / 2);
        for (size_t i = 0; i < bout->count; i++)
            found->hidden += audience.delayed.bout.events[i].type == EVENT_HIDDEN ? 1 : 0;
        found->anew += audience.anew ? 1 : 0;
        cr_expect(slips || !audience.delayed.has_hidden);
        audience_end(&audience);
        arena_close(&arena);
    }
    log_close(&log);
}

/* The state at any moment is that of the log with every correction of a slip that came in time
 * right behind it; and once all has come due, that of the log itself. */
Test(delayed, random_slips, .timeout = 120)
{
    struct found found = {0, 0};
    for (uint64_t seed = 1; seed <= 40; seed++)
        check_random(seed, true, &found);
    cr_expect(found.hidden > 300, "%zu events were hidden", found.hidden);
    cr_expect(found.anew > 20, "%zu bouts had something taken back", found.anew);
}

/* Without slips a delayed bout is the bout as it was. */
Test(delayed, random_without_slips, .timeout = 120)
{
    struct found found = {0, 0};
    for (uint64_t seed = 1; seed <= 20; seed++)
        check_random(seed, false, &found);
    cr_expect(eq(sz, found.hidden, 0));
}

/* ---- without memory ---- */

Test(delayed, without_memory)
{
    struct story story;
    story_init(&story);
    story_tell(&story, FREE "1 " RED2 "; 2 amend ref:e2 set:{points:4,action:throw}; 3 " BLUE1
                            "; 4 void ref:e4");
    const struct bout *bout = story.log.bouts[0];
    for (long left = 0;; left++) {
        struct delayed_bout delayed;
        bool done = true;
        delayed_bout_init(&delayed, bout, failing_allocate, failing_release);
        fail_after(left);
        for (size_t i = 0; i < bout->count && done; i++)
            done = delayed_bout_read(&delayed, story_begins_ms + 60000, UINT64_MAX);
        bool failed = has_failed();
        fail_never();
        delayed_bout_close(&delayed);
        cr_assert(eq(i64, allocations_left_over(), 0));
        cr_assert(ne(int, done, failed), "it says so exactly when memory fails");
        if (done)
            break;
    }
    story_close(&story);
}

/* ---- many at one moment ---- */

/* A batch of thousands, each corrected: every slip is looked at once. */
Test(delayed, thousands_in_one_moment, .timeout = 120)
{
    struct story story;
    struct audience audience;
    char text[80];
    story_init(&story);
    story_tell(&story, FREE);
    for (int i = 0; i < 4000; i++) {
        snprintf(text, sizeof text, "5 " RED2 "; void ref:e%d", 2 * i + 2);
        story_tell(&story, text);
    }
    audience_begin(&audience, story.log.bouts[0], 10000);
    audience_read(&audience, story_begins_ms + 60000);
    cr_expect(eq(sz, audience.fold.count, 8001));
    cr_expect(eq(int, audience.fold.all.sides[0].points, 0));
    audience_end(&audience);
    story_close(&story);
}
