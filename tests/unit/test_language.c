/* The languages of cards and sentences: that each file is whole, that its phrases ask for nothing
 * that isn't given, how a phrase's form is read, and that whole days can be told in each.
 * Plural categories: Unicode CLDR, "Language Plural Rules" (as in ICU 72). */
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include <stdlib.h>
#include <string.h>
#include "prompts/cards.h"
#include "prompts/lines.h"
#include "prompts/text.h"
#include "support.h"
#include "wire/language_json.h"

/* ---- the files ---- */

/* Calls `each` for the key of every place in the phrase, those within plurals too. */
static void each_key(const char *phrase, void (*each)(void *context, const char *key),
                     void *context)
{
    for (const char *brace = strchr(phrase, '{'); brace != NULL; brace = strchr(brace + 1, '{')) {
        char key[24];
        size_t size = strcspn(brace + 1, ",{} #");
        bool is_place = size > 0 && size < sizeof key && strchr(",}", brace[1 + size]) != NULL;
        bool of_plural = brace > phrase && brace[-1] == ' ' && brace - 2 >= phrase &&
                         strchr("ers123456789onwfy", brace[-2]) != NULL;
        if (!is_place || brace[1] == '.' || (of_plural && brace[1 + size] == '}'))
            continue;
        memcpy(key, brace + 1, size);
        key[size] = '\0';
        each(context, key);
    }
}

struct wanting {
    const char *language, *name, *english;
};

static void expect_given(void *context, const char *key)
{
    const struct wanting *wanting = context;
    char plain[32], formed[32];
    snprintf(plain, sizeof plain, "{%s}", key);
    snprintf(formed, sizeof formed, "{%s,", key);
    cr_expect(strstr(wanting->english, plain) != NULL || strstr(wanting->english, formed) != NULL,
              "%s: %s asks for %s, which nobody gives", wanting->language, wanting->name, key);
}

Test(language, asks_for_nothing_that_english_does_not)
{
    const struct language *english = test_language("en"), *german = test_language("de");
    for (enum phrase phrase = SAY_NOTHING; phrase < PHRASE_COUNT; phrase++) {
        struct wanting wanting = {"de", phrase_name(phrase), english->phrases[phrase]};
        each_key(german->phrases[phrase], expect_given, &wanting);
    }
}

Test(language, has_a_word_for_every_hold_of_the_catalogue)
{
    static const char *const holds[] = {
        "single_leg",     "high_single",     "low_single",    "sweep_single",
        "double_leg",     "high_crotch",     "ankle_pick",    "knee_tap",
        "firemans_carry", "outside_trip",    "inside_trip",   "leg_hook",
        "foot_sweep",     "duck_under",      "go_behind",     "mat_return",
        "arm_spin",       "arm_throw",       "hip_toss",      "head_and_arm",
        "lateral_drop",   "body_lock_throw", "salto",         "suplex",
        "bear_hug",       "push_out",        "headlock_roll", "gut_wrench",
        "trap_arm_gut",   "leg_lace",        "crotch_lift",   "straight_lift",
        "reverse_lift",   "side_lift",       "half_nelson",   "three_quarter_nelson",
        "arm_bar",        "cradle",          "turk",          "inner_thigh_throw",
    };
    for (size_t i = 0; i < sizeof holds / sizeof *holds; i++) {
        struct found_word word =
            language_word(test_language("de"), WORD_TECHNIQUE, holds[i], "dat", 3);
        cr_expect(not(word.spaced), "%s has no German word", holds[i]);
        cr_expect(strchr(word.text, ' ') != NULL, "%s: no article in \"%s\"", holds[i], word.text);
    }
}

struct refused {
    const char *from, *to; /* in the English file */
    const char *reason;
};

Test(language, refuses_a_file_that_is_not_whole)
{
    static const struct refused rows[] = {
        {"\"line_throws\"", "\"line_throw\"", "no phrase: line_throws"},
        {"{S} throws {O}", "{S} throws {O", "a brace is left open: line_throws"},
        {"\"language\"", "\"tongue\"", "language: its name is wanted"},
        {"\"none\",", "", "numbers: an array of thirteen is wanted"},
        {"\"form\": \"a\"", "\"shape\": \"a\"", "articles: each has a form and an article"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct arena arena;
        struct language language;
        size_t size = 0;
        char reason[LANGUAGE_REASON_SIZE];
        char *text = file_text("daemon/prompts/languages/en.json", &size);
        char *changed = calloc(1, size + 64), *at = strstr(text, rows[i].from);
        cr_assert(ne(ptr, at, NULL), "%s isn't in the file", rows[i].from);
        snprintf(changed, size + 64, "%.*s%s%s", (int)(at - text), text, rows[i].to,
                 at + strlen(rows[i].from));
        arena_init(&arena, malloc, free);
        cr_expect(not(language_read(&language, &arena, changed, strlen(changed), reason)));
        expect_text(rows[i].from, reason, rows[i].reason);
        arena_close(&arena);
        free(changed);
        free(text);
    }
}

Test(language, names_those_that_there_are)
{
    struct arena arena;
    struct language language;
    char reason[LANGUAGE_REASON_SIZE];
    arena_init(&arena, malloc, free);
    cr_expect(not(language_shipped(&language, &arena, "xx", reason)));
    expect_text("an unknown language", reason, "no language xx; there are de en");
    arena_close(&arena);
}

/* ---- plurals ---- */

struct plural_row {
    char language[8];
    int number;
    enum plural want;
};

/* Each file is the English one under another name: the rules are ICU's. */
static struct language as_language(struct arena *arena, const char *name)
{
    struct language language;
    size_t size = 0;
    char reason[LANGUAGE_REASON_SIZE], named[64];
    char *text = file_text("daemon/prompts/languages/en.json", &size);
    char *at = strstr(text, "\"en\"");
    char *changed = calloc(1, size + 64);
    snprintf(named, sizeof named, "\"%s\"", name);
    snprintf(changed, size + 64, "%.*s%s%s", (int)(at - text), text, named, at + 4);
    cr_assert(language_read(&language, arena, changed, strlen(changed), reason), "%s", reason);
    free(changed);
    free(text);
    return language;
}

Test(language, has_the_plurals_of_cldr)
{
    static const struct plural_row rows[] = {
        {"en", 0, PLURAL_OTHER},   {"en", 1, PLURAL_ONE},    {"en", 2, PLURAL_OTHER},
        {"en", 101, PLURAL_OTHER}, {"de", 1, PLURAL_ONE},    {"de", 11, PLURAL_OTHER},
        {"fr", 0, PLURAL_ONE},     {"fr", 2, PLURAL_OTHER},  {"pl", 1, PLURAL_ONE},
        {"pl", 2, PLURAL_FEW},     {"pl", 5, PLURAL_MANY},   {"pl", 12, PLURAL_MANY},
        {"pl", 22, PLURAL_FEW},    {"pl", 1022, PLURAL_FEW}, {"ru", 21, PLURAL_ONE},
        {"ru", 11, PLURAL_MANY},   {"ru", 1021, PLURAL_ONE}, {"ar", 0, PLURAL_ZERO},
        {"ar", 2, PLURAL_TWO},     {"ar", 103, PLURAL_FEW},  {"ja", 1, PLURAL_OTHER},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct arena arena;
        arena_init(&arena, malloc, free);
        struct language language = as_language(&arena, rows[i].language);
        cr_expect(eq(int, language_plural(&language, rows[i].number), rows[i].want), "%s, %d",
                  rows[i].language, rows[i].number);
        arena_close(&arena);
    }
}

/* ---- the form of a phrase ---- */

struct form_row {
    char phrase[120];
    int32_t number;
    char want[80];
};

ParameterizedTestParameters(language, form)
{
    static struct form_row rows[] = {
        {"{n} in digits", 4, "4 in digits"},
        {"{n, words} as a word", 4, "four as a word"},
        {"{n, words}, beyond the words", 13, "13, beyond the words"},
        {"{n, plural, one {one point} other {# points}}", 1, "one point"},
        {"{n, plural, one {one point} other {# points}}", 3, "3 points"},
        {"{n, plural, =2 {twice} one {once} other {{n, words} times}}", 2, "twice"},
        {"{n, plural, =2 {twice} one {once} other {{n, words} times}}", 5, "five times"},
        {"{n, plural, other {all} =3 {three}}", 3, "three"},
        {"{n,plural,one{a}other{b}}", 7, "b"},
        {"# is itself", 1, "# is itself"},
        {"{hold}", 0, "ankle pick"},
        {"with {hold, a}", 0, "with an ankle pick"},
        {"{hold, capital}", 0, "Ankle pick"},
        {"{hold, unheard}", 0, "ankle pick"},
        {"{.}it is", 0, "It is"},
        {"{.}über", 0, "Über"},
        {"{.}÷", 0, "÷"},
        {"{.}{S} leads", 0, "von Red leads"},
    };
    return cr_make_param_array(struct form_row, rows, sizeof rows / sizeof *rows);
}

ParameterizedTest(struct form_row *row, language, form)
{
    struct language language = *test_language("en");
    char bytes[100];
    const struct naming naming = {{"von Red", "Blue"}};
    language.phrases[LINE_HOW] = row->phrase;
    struct text text = text_start(&language, bytes, sizeof bytes);
    text_add(&text, LINE_HOW, &naming,
             FILLS({"n", .number = row->number}, {"S", .side = SIDE_RED},
                   {"hold", .word = WORD_TECHNIQUE, .text = "ankle_pick"}));
    expect_text(row->phrase, bytes, row->want);
}

/* ---- German, read aloud ---- */

struct said_row {
    char name[48];
    char story[420];
    char want[200];
};

/* The last line of the story. */
static void last_said(const char *language, const char *story_text, char said[LINE_TEXT_SIZE])
{
    struct story story;
    struct fold fold;
    struct telling told;
    said[0] = '\0';
    story_init(&story);
    story_tell(&story, story_text);
    const struct bout *bout = log_bout(&story.log, "b");
    fold_init(&fold, bout, malloc, free);
    for (size_t place = 0; place < bout->count; place++) {
        struct line lines[LINES_MAX];
        cr_assert(fold_read(&fold, place + 1));
        struct state state = state_of(&fold, bout->events[place].at_ms);
        size_t count =
            lines_after(test_language(language), place > 0 ? &told : NULL, &state, place, lines);
        told = telling_of(&state);
        if (count > 0)
            memcpy(said, lines[count - 1].text, LINE_TEXT_SIZE);
    }
    fold_close(&fold);
    story_close(&story);
}

#define BOUT "0 bout rules:freestyle-2022 red:{name:Brandt} blue:{name:Haddad}; 0 clock do:start; "

ParameterizedTestParameters(language, german)
{
    static struct said_row rows[] = {
        {"a takedown with its hold",
         BOUT "20 score side:red points:2 action:takedown technique:low_single leg:lead",
         "Brandt bringt Haddad zu Boden mit einem tiefen Beinangriff am vorderen Bein: 2, und "
         "führt 2 zu 0."},
        {"a step-out", BOUT "20 score side:red points:1 action:step_out",
         "Haddad tritt aus der Matte, 1 an Brandt. Brandt führt 1 zu 0."},
        {"an attack that is stopped",
         BOUT "20 attack side:blue techniques:[double_leg] outcome:stopped stopped_by:sprawl",
         "Haddad versucht einen Doppelbeinangriff und wird abgewehrt durch einen Sprawl."},
        {"a slip taken out", BOUT "20 score side:red points:2 action:takedown; 25 void ref:e3",
         "Berichtigt: die 2 für Brandt ist gestrichen. Es steht 0 zu 0."},
        {"the officials correct",
         BOUT "20 score side:red points:4 action:throw; 25 amend ref:e3 "
              "set:{points:2,action:takedown} why:officials",
         "Das Kampfgericht berichtigt die 4 für Brandt auf 2. Brandt führt 2 zu 0."},
        {"level on the last point",
         BOUT "20 score side:red points:2 action:takedown; 30 score side:blue points:2 "
              "action:takedown",
         "Haddad bringt Brandt zu Boden: 2. Es steht 2 zu 2, und Haddad geht durch den letzten "
         "Punkt in Führung."},
        {"time left", BOUT "149 score side:red points:2 action:takedown",
         "Brandt bringt Haddad zu Boden: 2, 31 Sekunden vor Ende von Runde eins, und führt 2 zu "
         "0."},
        {"the activity time", BOUT "60 passivity side:blue stage:activity",
         "Haddad ist benannt: 30 Sekunden zum Punkten, sonst 1 an Brandt."},
        {"a second caution",
         BOUT "60 caution side:blue reason:fleeing_mat points:1; 70 caution side:blue "
              "reason:fleeing_hold points:1",
         "Zweite Verwarnung gegen Haddad: Flucht vor dem Griff, 1 an Brandt. Brandt führt 2 zu 0."},
        {"the result",
         BOUT "60 score side:red points:2 action:takedown; 70 close how:fall "
              "winner:red",
         "Brandt schlägt Haddad durch Schultersieg, 1:10 (VFA, Klassifizierungspunkte 5 zu 0)."},
    };
    return cr_make_param_array(struct said_row, rows, sizeof rows / sizeof *rows);
}

ParameterizedTest(struct said_row *row, language, german)
{
    char said[LINE_TEXT_SIZE];
    last_said("de", row->story, said);
    expect_text(row->name, said, row->want);
}

/* ---- whole days in every language ---- */

static void expect_line(const char *language, const struct line *line)
{
    cr_expect(ne(chr, line->text[0], '\0'), "%s: an empty line", language);
    if (line->kind == LINE_NOTE)
        return;
    cr_expect(strpbrk(line->text, "{}#_") == NULL, "%s: \"%s\"", language, line->text);
    cr_expect(strchr(".", line->text[strlen(line->text) - 1]) != NULL, "%s: \"%s\"", language,
              line->text);
    cr_expect(line->text[0] < 'a' || line->text[0] > 'z', "%s: \"%s\"", language, line->text);
}

/* Both languages have a line for the same events: neither has more to say. */
static void tell_bout(const struct bout *bout)
{
    struct fold fold;
    struct telling told;
    struct card cards[CARD_PLACES];
    int64_t next_ms;
    fold_init(&fold, bout, malloc, free);
    for (size_t place = 0; place < bout->count; place++) {
        struct line english[LINES_MAX], german[LINES_MAX];
        cr_assert(fold_read(&fold, place + 1));
        struct state state = state_of(&fold, bout->events[place].at_ms);
        const struct telling *before = place > 0 ? &told : NULL;
        size_t count = lines_after(test_language("en"), before, &state, place, english);
        cr_expect(eq(sz, lines_after(test_language("de"), before, &state, place, german), count));
        for (size_t i = 0; i < count; i++) {
            expect_line("en", &english[i]);
            expect_line("de", &german[i]);
        }
        cards_of(test_language("de"), &state, NULL, NULL, cards, &next_ms);
        told = telling_of(&state);
    }
    fold_close(&fold);
}

Test(language, tells_random_days)
{
    for (uint64_t seed = 1; seed <= 150; seed++) {
        struct dice dice = dice_of(seed);
        struct log log;
        log_init(&log, test_editions(), malloc, free);
        random_log(&dice, &log, 120);
        for (size_t i = 0; i < log.bout_count; i++)
            tell_bout(log.bouts[i]);
        log_close(&log);
    }
}
