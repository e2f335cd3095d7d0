#include "support.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <ctype.h>
#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "commands/edition_files.h"
#include "rules/time_of_day.h"
#include "stats/state.h"
#include "wire/json.h"
#include "wire/language_json.h"
#include "wire/state_json.h"

/* ---- editions ---- */

const struct editions *test_editions(void)
{
    static struct edition_files files;
    static struct edition items[16];
    static struct editions editions;
    static const char *const more[] = {"fixtures/editions/june-2013.json",
                                       "fixtures/editions/league.json"};
    if (editions.count > 0)
        return &editions;
    cr_assert(eq(int, edition_files_read(&files, more, 2), 0),
              "the editions are read (run the tests in the repository's root)");
    cr_assert(le(sz, files.editions.count, 14));
    for (; editions.count < files.editions.count; editions.count++)
        items[editions.count] = files.editions.items[editions.count];
    items[editions.count] = *editions_find(&files.editions, "freestyle-2022");
    items[editions.count].name = "no-penalty-holds";
    items[editions.count++].penalty_points_are_holds = false;
    items[editions.count] = *editions_find(&files.editions, "freestyle-2022");
    items[editions.count].name = "few-endings";
    items[editions.count++].ending_count = 1;
    editions.items = items;
    return &editions;
}

const struct language *test_language(const char *name)
{
    static struct arena arena;
    static struct language languages[2];
    static size_t count;
    char reason[LANGUAGE_REASON_SIZE];
    for (size_t i = 0; i < count; i++)
        if (strcmp(languages[i].name, name) == 0)
            return &languages[i];
    if (count == 0)
        arena_init(&arena, malloc, free);
    cr_assert(lt(sz, count, sizeof languages / sizeof *languages));
    cr_assert(language_shipped(&languages[count], &arena, name, reason), "%s: %s", name, reason);
    return &languages[count++];
}

const struct edition *test_edition(const char *name)
{
    const struct edition *edition = editions_find(test_editions(), name);
    cr_assert(ne(ptr, (void *)(uintptr_t)edition, NULL), "there is an edition %s", name);
    return edition;
}

/* ---- shorthand ---- */

static void skip_spaces(const char **at)
{
    while (**at == ' ' || **at == '\n')
        (*at)++;
}

static json_t *value_at(const char **at);

/* A word, or a text in single quotes; `ends` are the characters that end a word. */
static void word_at(const char **at, const char *ends, char *word, size_t size)
{
    size_t length;
    if (**at == '\'') {
        length = strcspn(*at + 1, "'");
        cr_assert(length < size && (*at)[length + 1] == '\'', "a quote is closed: %s", *at);
        memcpy(word, *at + 1, length);
        *at += length + 2;
    } else {
        length = strcspn(*at, ends);
        cr_assert(length < size && length > 0, "a word is wanted: %s", *at);
        memcpy(word, *at, length);
        *at += length;
    }
    word[length] = '\0';
}

static json_t *items_at(const char **at, char end)
{
    json_t *items = end == ']' ? json_array() : json_object();
    for ((*at)++; **at != end;) {
        char name[80] = "";
        if (end == '}') {
            word_at(at, ":", name, sizeof name);
            (*at)++;
        }
        json_t *value = value_at(at);
        if (end == '}')
            json_object_set_new(items, name, value);
        else
            json_array_append_new(items, value);
        bool parted = **at == ',' || **at == end;
        cr_assert(parted, "a comma or %c is wanted: %s", end, *at);
        if (**at == ',')
            (*at)++;
        skip_spaces(at);
    }
    (*at)++;
    return items;
}

/* "12.5": that many seconds after ten, on the wire's clock. */
static int64_t seconds_read(const char *text)
{
    char *end = NULL;
    double seconds = strtod(text, &end);
    cr_assert(end != text && *end == '\0', "seconds are wanted: %s", text);
    return story_begins_ms + (int64_t)(seconds * 1000 + (seconds < 0 ? -0.5 : 0.5));
}

static json_t *time_json(int64_t ms)
{
    char text[TIME_OF_DAY_SIZE];
    time_of_day_write(ms, text);
    return json_string(text);
}

static json_t *value_at(const char **at)
{
    char word[1200];
    bool quoted = **at == '\'';
    if (**at == '{')
        return items_at(at, '}');
    if (**at == '[')
        return items_at(at, ']');
    word_at(at, " \n,;]}", word, sizeof word);
    const char *digits = word[0] == '-' ? word + 1 : word;
    if (quoted)
        return json_string(word);
    if (*digits != '\0' && digits[strspn(digits, "0123456789")] == '\0')
        return json_integer(strtoll(word, NULL, 10));
    if (word[0] == '@')
        return time_json(seconds_read(word + 1));
    if (strcmp(word, "true") == 0)
        return json_true();
    if (strcmp(word, "false") == 0)
        return json_false();
    return strcmp(word, "null") == 0 ? json_null() : json_string(word);
}

static void members_at(const char **at, json_t *object)
{
    for (skip_spaces(at); **at != '\0' && **at != ';'; skip_spaces(at)) {
        char name[80];
        word_at(at, ":", name, sizeof name);
        (*at)++;
        json_object_set_new(object, name, value_at(at));
    }
}

json_t *shorthand(const char *text)
{
    json_t *object = json_object();
    members_at(&text, object);
    cr_assert(eq(chr, *text, '\0'), "nothing is left: %s", text);
    return object;
}

/* ---- stories ---- */

void story_init(struct story *story)
{
    *story = (struct story){.at_ms = story_begins_ms, .now_ms = INT64_MIN, .intake = INTAKE_FILE};
    log_init(&story->log, test_editions(), malloc, free);
    arena_init(&story->arena, malloc, free);
}

void story_close(struct story *story)
{
    log_close(&story->log);
    arena_close(&story->arena);
}

static void set_missing(json_t *event, const char *name, json_t *value)
{
    if (json_object_get(event, name) == NULL)
        json_object_set(event, name, value);
    json_decref(value);
}

static bool is_of_day(const char *type)
{
    return strcmp(type, "entry") == 0 || strcmp(type, "slot") == 0 || strcmp(type, "session") == 0;
}

static json_t *event_at(struct story *story, const char **at)
{
    char word[80], id[24];
    skip_spaces(at);
    word_at(at, " ;\n", word, sizeof word);
    if (isdigit((unsigned char)word[0]) || word[0] == '-') {
        story->at_ms = seconds_read(word);
        skip_spaces(at);
        word_at(at, " ;\n", word, sizeof word);
    }
    if (strcmp(word, "now") == 0) {
        story->now_ms = story->at_ms;
        return NULL;
    }
    json_t *event = json_object();
    snprintf(id, sizeof id, "e%zu", ++story->told);
    json_object_set_new(event, "type", json_string(word));
    members_at(at, event);
    set_missing(event, "id", json_string(id));
    set_missing(event, "at", time_json(story->at_ms));
    if (!is_of_day(word))
        set_missing(event, "bout", json_string("b"));
    if (strcmp(word, "bout") == 0) {
        set_missing(event, "red", json_pack("{s:s}", "name", "Red"));
        set_missing(event, "blue", json_pack("{s:s}", "name", "Blue"));
    }
    return event;
}

json_t *story_event(struct story *story, const char *text)
{
    return event_at(story, &text);
}

enum admitted story_admit(struct story *story, const char *json)
{
    arena_reset(&story->arena);
    const struct value *document = json_read(&story->arena, json, strlen(json), &story->complaint);
    story->admittance = (struct admittance){.admitted = NOT_ADMITTED};
    if (document != NULL)
        story->admittance = log_admit(&story->log, document, story->intake, &story->complaint);
    return story->admittance.admitted;
}

enum admitted story_try(struct story *story, const char *text)
{
    enum admitted admitted = ADMITTED;
    while (*text != '\0' && (admitted == ADMITTED || admitted == REPEATED)) {
        json_t *event = event_at(story, &text);
        skip_spaces(&text);
        if (*text == ';')
            text++;
        skip_spaces(&text);
        if (event == NULL)
            continue;
        char *line = json_dumps(event, JSON_COMPACT);
        admitted = story_admit(story, line);
        free(line);
        json_decref(event);
    }
    return admitted;
}

void story_tell(struct story *story, const char *text)
{
    enum admitted admitted = story_try(story, text);
    cr_assert(admitted == ADMITTED || admitted == REPEATED, "event %zu of \"%s\": %s", story->told,
              text, story->complaint.detail);
}

int64_t story_now(const struct story *story)
{
    return story->now_ms != INT64_MIN ? story->now_ms : story->at_ms;
}

/* ---- states ---- */

json_t *state_of_bout(const struct bout *bout, size_t count, int64_t now_ms)
{
    struct fold fold;
    fold_init(&fold, bout, malloc, free);
    cr_assert(fold_read(&fold, count), "the fold has memory");
    struct state state = state_of(&fold, now_ms);
    json_t *json = state_json(&state);
    fold_close(&fold);
    return json;
}

char *state_line(const struct bout *bout, size_t count, int64_t now_ms)
{
    json_t *json = state_of_bout(bout, count, now_ms);
    char *line = json_line(json);
    json_decref(json);
    return line;
}

char *fold_line(const struct fold *fold, int64_t now_ms)
{
    struct state state = state_of(fold, now_ms);
    json_t *json = state_json(&state);
    char *line = json_line(json);
    json_decref(json);
    return line;
}

static bool differs(const char *place, const json_t *got, const json_t *wanted, char *message,
                    size_t size)
{
    char *is =
        got != NULL ? json_dumps(got, JSON_COMPACT | JSON_ENCODE_ANY | JSON_SORT_KEYS) : NULL;
    char *should = json_dumps(wanted, JSON_COMPACT | JSON_ENCODE_ANY | JSON_SORT_KEYS);
    snprintf(message, size, "%s is %.400s, should be %.200s", place, is != NULL ? is : "absent",
             json_is_null(wanted) ? "absent" : should);
    free(is);
    free(should);
    return false;
}

static bool has_all_at(const char *place, const json_t *got, const json_t *wanted, char *message,
                       size_t size)
{
    const char *name;
    json_t *member;
    if (json_is_null(wanted))
        return got == NULL || differs(place, got, wanted, message, size);
    if (!json_is_object(wanted) || !json_is_object(got))
        return json_equal(got, wanted) || differs(place, got, wanted, message, size);
    json_object_foreach((json_t *)(uintptr_t)wanted, name, member)
    {
        char deeper[200];
        snprintf(deeper, sizeof deeper, "%.100s/%.80s", place, name);
        if (!has_all_at(deeper, json_object_get(got, name), member, message, size))
            return false;
    }
    return true;
}

bool has_all(const json_t *got, const json_t *wanted, char *message, size_t size)
{
    return has_all_at("", got, wanted, message, size);
}

void expect_state(const char *name, const char *text, const char *wanted)
{
    struct story story;
    char message[800] = "";
    story_init(&story);
    story_tell(&story, text);
    const struct bout *bout = story.log.bouts[0];
    json_t *want = shorthand(wanted), *got = state_of_bout(bout, bout->count, story_now(&story));
    cr_expect(has_all(got, want, message, sizeof message), "%s: %s", name, message);
    json_decref(got);
    json_decref(want);
    story_close(&story);
}

void expect_text(const char *what, const char *got, const char *wanted)
{
    bool same = got != NULL && wanted != NULL ? strcmp(got, wanted) == 0 : got == wanted;
    cr_expect(same, "%s is \"%s\", should be \"%s\"", what, got != NULL ? got : "(none)",
              wanted != NULL ? wanted : "(none)");
}

/* ---- memory that fails ---- */

static long successes_left = -1; /* −1: it never fails */
static bool failed;
static long allocated;

void fail_after(long count)
{
    successes_left = count;
    failed = false;
}

void fail_never(void)
{
    successes_left = -1;
}

bool has_failed(void)
{
    return failed;
}

void *failing_allocate(size_t size)
{
    if (successes_left == 0) {
        failed = true;
        return NULL;
    }
    if (successes_left > 0)
        successes_left--;
    allocated++;
    return malloc(size);
}

void failing_release(void *memory)
{
    if (memory != NULL)
        allocated--;
    free(memory);
}

long allocations_left_over(void)
{
    return allocated;
}

void arena_fill(struct arena *arena)
{
    fail_after(0);
    while (arena_take(arena, 1) != NULL)
        continue;
    fail_never();
}

/* ---- files ---- */

char *file_text(const char *path, size_t *size)
{
    FILE *file = fopen(path, "rb");
    cr_assert(file != NULL, "%s can be read (run the tests in the repository's root)", path);
    fseek(file, 0, SEEK_END);
    *size = (size_t)ftell(file);
    rewind(file);
    char *text = malloc(*size + 1);
    cr_assert(fread(text, 1, *size, file) == *size, "%s is read", path);
    text[*size] = '\0';
    fclose(file);
    return text;
}

/* ---- dice ---- */

struct dice dice_of(uint64_t seed)
{
    return (struct dice){seed * 0x9E3779B97F4A7C15u + 1};
}

uint64_t dice_roll(struct dice *dice)
{
    dice->state ^= dice->state >> 12;
    dice->state ^= dice->state << 25;
    dice->state ^= dice->state >> 27;
    return dice->state * 0x2545F4914F6CDD1Du;
}

int dice_below(struct dice *dice, int limit)
{
    return (int)((dice_roll(dice) >> 33) % (uint64_t)limit);
}

bool dice_chance(struct dice *dice, int percent)
{
    return dice_below(dice, 100) < percent;
}

/* ---- random logs ---- */

struct writing {
    struct dice *dice;
    char *text;
    size_t size, used;
    const struct bout *bout;
};

static void put(struct writing *writing, const char *form, ...)
    __attribute__((format(printf, 2, 3)));
static void put(struct writing *writing, const char *form, ...)
{
    va_list arguments;
    va_start(arguments, form);
    int count =
        vsnprintf(writing->text + writing->used, writing->size - writing->used, form, arguments);
    va_end(arguments);
    writing->used += (size_t)count;
    cr_assert(writing->used < writing->size, "a random event has room");
}

static const char *one_of(struct dice *dice, const char *const *words, int count)
{
    return words[dice_below(dice, count)];
}
#define ONE_OF(dice, ...)                                                                          \
    one_of(dice, (const char *const[]){__VA_ARGS__},                                               \
           sizeof((const char *const[]){__VA_ARGS__}) / sizeof(const char *))

static const char *side_of(struct dice *dice)
{
    return ONE_OF(dice, "red", "blue");
}

static const struct event *any_event(struct writing *writing)
{
    if (writing->bout == NULL || writing->bout->count == 0)
        return NULL;
    return &writing->bout->events[dice_below(writing->dice, (int)writing->bout->count)];
}

/* An event of that type if a few tries find one; else any. */
static const struct event *event_of(struct writing *writing, enum event_type type)
{
    const struct event *found = any_event(writing);
    for (int tries = 0; tries < 12 && found != NULL && found->type != type; tries++)
        found = any_event(writing);
    return found;
}

static void put_ref(struct writing *writing, const char *member, const struct event *event)
{
    if (event != NULL)
        put(writing, ",\"%s\":\"%s\"", member, event->id);
}

static void put_maybe(struct writing *writing, int percent, const char *member, const char *json)
{
    if (dice_chance(writing->dice, percent))
        put(writing, ",\"%s\":%s", member, json);
}

/* Points and an action that go together in every shipped edition. */
static void put_action(struct writing *writing)
{
    static const char *const actions[] = {
        "1,\"action\":\"step_out\"",
        "1,\"action\":\"reversal\"",
        "1,\"action\":\"injury_stop\"",
        "2,\"action\":\"takedown\"",
        "2,\"action\":\"exposure\"",
        "2,\"action\":\"takedown\"",
        "2,\"action\":\"counter_exposure\"",
        "4,\"action\":\"throw\"",
        "5,\"action\":\"throw\"",
        "4,\"action\":\"takedown\"",
        "3,\"action\":\"throw\"",
    };
    put(writing, ",\"points\":%s",
        one_of(writing->dice, actions, sizeof actions / sizeof *actions));
}

static const char *technique_of(struct dice *dice)
{
    return ONE_OF(dice, "single_leg", "double_leg", "ankle_pick", "gut_wrench");
}

static void put_bout_time(struct writing *writing, int percent)
{
    if (dice_chance(writing->dice, percent))
        put(writing, ",\"period\":%d,\"t_ms\":%d", 1 + dice_below(writing->dice, 2),
            dice_below(writing->dice, 181) * 1000);
}

/* What an amend of that event might set; the commas at the ends are dealt with by the caller. */
static void put_set(struct writing *writing, const struct event *target)
{
    struct dice *dice = writing->dice;
    size_t from = writing->used;
    put_bout_time(writing, target->type == EVENT_CLOCK ? 20 : 35);
    switch (target->type) {
    case EVENT_SCORE:
        if (dice_chance(dice, 50))
            put_action(writing);
        if (dice_chance(dice, 30))
            put(writing, ",\"side\":\"%s\"", side_of(dice));
        put_maybe(writing, 20, "unconfirmed", "true");
        put_maybe(writing, 20, "technique", "\"fireman_carry\"");
        if (dice_chance(dice, 30))
            put_ref(writing, "before", event_of(writing, EVENT_SCORE));
        if (dice_chance(dice, 30))
            put_ref(writing, "attack", event_of(writing, EVENT_ATTACK));
        break;
    case EVENT_ATTACK:
        put(writing, ",\"outcome\":\"%s\"",
            ONE_OF(dice, "open", "scored", "stopped", "countered", "out", "stalemate", "slipped"));
        put_maybe(writing, 30, "techniques", "[\"duck_under\",\"high_crotch\"]");
        put_maybe(writing, 30, "leg", "\"lead\"");
        break;
    case EVENT_CAUTION:
        put(writing, ",\"points\":%d", dice_below(dice, 3));
        put_maybe(writing, 20, "unconfirmed", "true");
        break;
    case EVENT_PASSIVITY:
        put(writing, ",\"side\":\"%s\"", side_of(dice));
        put_maybe(writing, 60, "stage", dice_chance(dice, 50) ? "\"warning\"" : "\"activity\"");
        break;
    case EVENT_CHALLENGE:
        put(writing, ",\"side\":\"%s\"", side_of(dice));
        break;
    case EVENT_CLOCK:
        put(writing, ",\"do\":\"%s\"", ONE_OF(dice, "start", "stop", "end"));
        break;
    case EVENT_CLOSE:
        put(writing, ",\"winner\":\"%s\"", side_of(dice));
        put_maybe(writing, 30, "unconfirmed", "true");
        break;
    default:
        put_maybe(writing, 60, "side", "\"red\"");
        break;
    }
    if (writing->used == from)
        put(writing, ",\"side\":\"blue\"");
    writing->text[from] = '{'; /* in place of the first comma */
    put(writing, "}");
}

static void put_amend(struct writing *writing)
{
    const struct event *target = event_of(
        writing, (enum event_type)(EVENT_CLOCK + dice_below(writing->dice, EVENT_CHALLENGE)));
    if (target == NULL)
        return;
    put_ref(writing, "ref", target);
    if (dice_chance(writing->dice, 25)) {
        put(writing, ",\"unset\":[\"%s\"]",
            ONE_OF(writing->dice, "unconfirmed", "before", "technique", "leg", "attack", "side"));
        return;
    }
    put(writing, ",\"set\":");
    put_set(writing, target);
}

static void put_close(struct writing *writing)
{
    struct dice *dice = writing->dice;
    put(writing, ",\"how\":\"%s\"",
        ONE_OF(dice, "fall", "points", "superiority", "cautions", "both_disqualified"));
    if (dice_chance(dice, 80))
        put(writing, ",\"winner\":\"%s\"", side_of(dice));
    put_maybe(writing, 30, "score", "{\"red\":2,\"blue\":1}");
    put_maybe(writing, 20, "code", "\"VPO1\"");
    put_maybe(writing, 30, "unconfirmed", "true");
}

static void put_clock(struct writing *writing)
{
    struct dice *dice = writing->dice;
    const char *what = ONE_OF(dice, "start", "start", "stop", "stop", "end", "set", "lost");
    put(writing, ",\"do\":\"%s\"", what);
    if (strcmp(what, "set") == 0)
        put(writing, ",\"period\":%d,\"t_ms\":%d", 1 + dice_below(dice, 2),
            dice_below(dice, 19) * 10000);
    if (strcmp(what, "start") == 0)
        put_maybe(writing, 40, "period", "2");
}

static void put_passivity(struct writing *writing)
{
    struct dice *dice = writing->dice;
    const char *stage = ONE_OF(dice, "warning", "activity", "activity", "penalty");
    put(writing, ",\"side\":\"%s\",\"stage\":\"%s\"", side_of(dice), stage);
    if (strcmp(stage, "penalty") == 0)
        put(writing, ",\"points\":%d", dice_below(dice, 2));
    put_maybe(writing, 30, "unconfirmed", "true");
}

static void put_challenge(struct writing *writing)
{
    struct dice *dice = writing->dice;
    const char *outcome = ONE_OF(dice, "asked", "asked", "upheld", "rejected");
    put(writing, ",\"side\":\"%s\",\"outcome\":\"%s\"", side_of(dice), outcome);
    if (strcmp(outcome, "rejected") == 0)
        put(writing, ",\"points\":%d", dice_below(dice, 2));
    if (dice_chance(dice, 40))
        put_ref(writing, "of", any_event(writing));
}

static void put_score(struct writing *writing)
{
    struct dice *dice = writing->dice;
    put(writing, ",\"side\":\"%s\"", side_of(dice));
    put_action(writing);
    if (dice_chance(dice, 30))
        put(writing, ",\"technique\":\"%s\"", technique_of(dice));
    put_maybe(writing, 20, "leg", "\"trail\"");
    if (dice_chance(dice, 50))
        put_ref(writing, "attack", event_of(writing, EVENT_ATTACK));
    put_maybe(writing, 50, "unconfirmed", "true");
    if (dice_chance(dice, 25))
        put_ref(writing, "before", event_of(writing, EVENT_SCORE));
    put_bout_time(writing, 15);
}

static void put_attack(struct writing *writing)
{
    struct dice *dice = writing->dice;
    put(writing, ",\"side\":\"%s\",\"techniques\":[\"%s\"],\"outcome\":\"%s\"", side_of(dice),
        technique_of(dice),
        ONE_OF(dice, "open", "open", "open", "scored", "stopped", "countered", "out", "stalemate",
               "slipped"));
    put_maybe(writing, 40, "leg", "\"lead\"");
    if (dice_chance(dice, 20))
        put_ref(writing, "after", event_of(writing, EVENT_ATTACK));
}

static void put_members(struct writing *writing, enum event_type type)
{
    struct dice *dice = writing->dice;
    switch (type) {
    case EVENT_CLOCK:
        put_clock(writing);
        return;
    case EVENT_SCORE:
        put_score(writing);
        return;
    case EVENT_ATTACK:
        put_attack(writing);
        return;
    case EVENT_CAUTION:
        put(writing, ",\"side\":\"%s\",\"reason\":\"fleeing_mat\",\"points\":%d", side_of(dice),
            dice_below(dice, 3));
        put_maybe(writing, 50, "unconfirmed", "true");
        return;
    case EVENT_PASSIVITY:
        put_passivity(writing);
        return;
    case EVENT_POSITION:
        put(writing, ",\"position\":\"%s\"", ONE_OF(dice, "standing", "par_terre"));
        put_maybe(writing, 80, "top", "\"red\"");
        put_maybe(writing, 40, "ordered", "true");
        return;
    case EVENT_CHALLENGE:
        put_challenge(writing);
        return;
    case EVENT_STOPPAGE:
        put(writing, ",\"kind\":\"blood\",\"do\":\"%s\"", ONE_OF(dice, "start", "stop"));
        return;
    case EVENT_CONFIRM:
        if (dice_chance(dice, 60))
            put_ref(writing, "ref", event_of(writing, EVENT_SCORE));
        return;
    case EVENT_VOID:
        put_ref(writing, "ref",
                dice_chance(dice, 40) ? event_of(writing, EVENT_VOID) : any_event(writing));
        return;
    case EVENT_AMEND:
        put_amend(writing);
        return;
    case EVENT_CLOSE:
        put_close(writing);
        return;
    case EVENT_NOTE:
        put(writing, ",\"text\":\"A line.\",\"to\":\"booth\"");
        return;
    case EVENT_BOUT:
        put(writing, ",\"rules\":\"%s\",\"red\":{\"name\":\"R\"},\"blue\":{\"name\":\"B\"}",
            ONE_OF(dice, "freestyle-2022", "freestyle-2015", "greco-2026"));
        put_maybe(writing, 40, "length",
                  dice_chance(dice, 50) ? "{\"period_ms\":60000}" : "{\"periods\":1}");
        put_maybe(writing, 15, "off", "true");
        put_maybe(writing, 50, "mat", dice_chance(dice, 50) ? "\"A\"" : "\"B\"");
        return;
    case EVENT_RESTART:
    case EVENT_ENTRY:
    case EVENT_SLOT:
    case EVENT_SESSION:
    case EVENT_TYPE_COUNT:
        return;
    }
}

static enum event_type type_of(struct dice *dice)
{
    static const struct {
        enum event_type type;
        int weight;
    } weights[] = {
        {EVENT_CLOCK, 14},    {EVENT_SCORE, 22},   {EVENT_ATTACK, 12},   {EVENT_CAUTION, 5},
        {EVENT_PASSIVITY, 7}, {EVENT_POSITION, 3}, {EVENT_CHALLENGE, 4}, {EVENT_STOPPAGE, 3},
        {EVENT_CONFIRM, 6},   {EVENT_VOID, 9},     {EVENT_AMEND, 10},    {EVENT_RESTART, 1},
        {EVENT_CLOSE, 2},     {EVENT_NOTE, 1},     {EVENT_BOUT, 1},
    };
    int roll = dice_below(dice, 100);
    for (size_t i = 0; i < sizeof weights / sizeof *weights; i++)
        if ((roll -= weights[i].weight) < 0)
            return weights[i].type;
    return EVENT_NOTE;
}

void random_event(struct dice *dice, char *text, size_t size, const struct bout *bout,
                  const char *bout_id, int number, int64_t *at_ms)
{
    struct writing writing = {dice, text, size, 0, bout};
    enum event_type type = bout == NULL || bout->count == 0 ? EVENT_BOUT : type_of(dice);
    char time[TIME_OF_DAY_SIZE];
    *at_ms += dice_chance(dice, 10) ? 0 : dice_below(dice, 30000);
    time_of_day_write(*at_ms, time);
    put(&writing, "{\"id\":\"%s-%d\",\"type\":\"%s\",\"bout\":\"%s\",\"at\":\"%s\"", bout_id,
        number, event_type_name(type), bout_id, time);
    time_of_day_write(*at_ms - dice_below(dice, 40000), time);
    if (dice_chance(dice, 25))
        put(&writing, ",\"keyed_at\":\"%s\"", time);
    put_members(&writing, type);
    put(&writing, "}");
}

void random_log(struct dice *dice, struct log *log, int count)
{
    static const char *const ids[] = {"x", "y", "z"};
    struct arena arena;
    struct complaint complaint;
    char text[1200];
    int64_t at_ms = story_begins_ms;
    arena_init(&arena, malloc, free);
    for (int number = 0; number < count; number++) {
        const char *id = one_of(dice, ids, 3);
        random_event(dice, text, sizeof text, log_bout(log, id), id, number, &at_ms);
        arena_reset(&arena);
        const struct value *document = json_read(&arena, text, strlen(text), &complaint);
        cr_assert(document != NULL, "a random event is JSON: %s", text);
        log_admit(log, document, INTAKE_FILE, &complaint);
    }
    arena_close(&arena);
}
