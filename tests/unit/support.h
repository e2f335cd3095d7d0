/* What the tests of the core share: bouts told in shorthand, states compared with what is wanted of
 * them, and memory that fails when it is told to.
 *
 * A story is a log in shorthand, so that a row of a table reads as a bout:
 *
 *     "0 bout rules:greco-2026; 10 clock do:start; 12.5 score side:red points:2 action:takedown"
 *
 * Events are parted by `;`. Each may begin with its `at`, in seconds from 10:00:00 (the one before
 * it where it has none); then its type; then its members, as `name:value`. A value is an integer,
 * `true`, `false`, `null`, an array or object of values ([single_leg,ankle_pick],
 * {points:4,action:throw}), `@12.5` (a time of day, as above), a text in single quotes, or a word.
 * Left out, `id` is e1, e2, e3 … by the event's place in the story, `bout` is `b` (not in a type of
 * the day), and a `bout` event's `red` and `blue` are called Red and Blue. `30 now` says at which
 * moment the state is wanted; else it is the `at` of the last event.
 *
 * What is wanted is written the same way: "score:{red:2,blue:0} phase:live due:null". Objects are
 * subsets of what is there; `null` says that there is no such member. */
#pragma once
#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "prompts/language.h"
#include "rules/log.h"
#include "stats/fold.h"

/* 2027-05-08T10:00:00.000Z, from which stories count. */
static const int64_t story_begins_ms = 1809770400000;

/* The shipped editions, those of fixtures/editions, and two that no file has: `no-penalty-holds`
 * and `few-endings`, freestyle-2022 with penalty_points_are_holds off, and with its first ending
 * alone (both_disqualified). Read once a process, kept to its end. */
const struct editions *test_editions(void);
/* A shipped language, "en" or "de"; read once a process, kept to its end. */
const struct language *test_language(const char *name);
const struct edition *test_edition(const char *name); /* fails the test where there is none */

struct story {
    struct log log;
    struct arena arena; /* of the documents being read */
    size_t told;        /* events so far, for their ids */
    int64_t at_ms;      /* of the last one */
    int64_t now_ms;     /* by `now`; INT64_MIN: none was said */
    enum intake_kind intake;
    struct admittance admittance; /* of the last one */
    struct complaint complaint;   /* of the last one */
};

void story_init(struct story *story);
void story_close(struct story *story);
/* Tells the log what stands there; every event must be admitted, or the test fails. */
void story_tell(struct story *story, const char *text);
/* The same, but stops at the first event that isn't admitted. */
enum admitted story_try(struct story *story, const char *text);
/* One event of a story as JSON (a new reference); a `now` is none: NULL. */
json_t *story_event(struct story *story, const char *text);
/* Admits one event given as JSON text. */
enum admitted story_admit(struct story *story, const char *json);
int64_t story_now(const struct story *story);

/* What shorthand makes of "name:value name:value …"; a new reference. */
json_t *shorthand(const char *text);

/* The state of a bout of that log, read anew from its first `count` events; a new reference. */
json_t *state_of_bout(const struct bout *bout, size_t count, int64_t now_ms);
/* The same as the line that `boutwire fold` prints; malloc'd. */
char *state_line(const struct bout *bout, size_t count, int64_t now_ms);
char *fold_line(const struct fold *fold, int64_t now_ms); /* of a fold that has been read */

/* Tells the story, and compares the state of its first bout with what is wanted. */
void expect_state(const char *name, const char *text, const char *wanted);
/* True when `got` has all that is wanted; else the message says where it differs. */
bool has_all(const json_t *got, const json_t *wanted, char *message, size_t size);

/* Two texts are the same; `what` says of what. Either may be NULL. */
void expect_text(const char *what, const char *got, const char *wanted);

/* Memory that fails: `fail_after(n)` lets n allocations more succeed, and none after them;
 * `fail_never()` ends it. Both functions of the pair are for arenas and for jansson. */
void fail_after(long count);
void fail_never(void);
bool has_failed(void); /* since the last fail_after */
void *failing_allocate(size_t size);
void failing_release(void *memory);
long allocations_left_over(void); /* allocated by it and not released */
/* Uses up what an arena of failing_allocate has left, so that whatever is taken next must allocate;
 * leaves memory failing never. */
void arena_fill(struct arena *arena);

/* The whole file, NUL-terminated, malloc'd; fails the test where it can't be read. */
char *file_text(const char *path, size_t *size);

/* Random numbers that are the same on every machine (xorshift64*). */
struct dice {
    uint64_t state;
};
struct dice dice_of(uint64_t seed);
uint64_t dice_roll(struct dice *dice);
int dice_below(struct dice *dice, int limit); /* 0 to limit − 1 */
bool dice_chance(struct dice *dice, int percent);

/* One random event of that bout, as JSON text, with the id `BOUT-NUMBER`: mostly valid, with
 * references to events that the bout has (`bout` is NULL before its first), now and then one that
 * is refused. Moves `at_ms` on, never back. */
void random_event(struct dice *dice, char *text, size_t size, const struct bout *bout,
                  const char *bout_id, int number, int64_t *at_ms);
/* A log of that many random events in up to three bouts (those that are refused are left out). The
 * same dice make the same log. */
void random_log(struct dice *dice, struct log *log, int count);
