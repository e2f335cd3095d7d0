/* The words of one language: whole phrases with places for names and numbers, and the words for
 * holds, reasons, endings and numbers. A language is data, a file in prompts/languages/ that is
 * part of the program (wire/language_json.h reads it); another language is another file, not other
 * code.
 *
 * A phrase has the form of an ICU message (unicode-org.github.io/icu, "Formatting Messages"), as
 * far as it is needed: {n}                                       what fills that place {n, words}
 * the number as a word: "four" {hold, capital}                           begins with a capital
 *   {hold, FORM}                              the word in that form, as the language's file names
 * it {n, plural, =1 {once} one {…} other {…}}  by the number; # is the number in digits
 *   {.}                                       what comes next begins with a capital, unless
 * somebody gave it: names stay as they are Which number is `one`, `few` or `other` is the
 * language's rule in the CLDR; here it is a table. Words of the trade: common practice, no source.
 * Nothing here judges or guesses: a side is stopped, cautioned, named; never lazy or lucky. Pure: a
 * language is only read here. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* clang-format off */
#define PHRASES(X) \
    X(SAY_RED) X(SAY_BLUE) /* cards: headlines have at most 6 words and 30 characters */ \
    X(CARD_LOW_NEAR) X(CARD_LOW_NEAR_LINE) X(CARD_FAR_HIGH) X(CARD_FAR_HIGH_LINE) \
    X(CARD_FAR_HIGH_ONE) X(CARD_LOW_FAR_STOPPED) X(CARD_LOW_FAR_COUNTERED) X(CARD_LOW_FAR_LINE) \
    X(CARD_CHANGED) X(CARD_CHANGED_HIGHER) X(CARD_CHANGED_SETUP) X(CARD_OTHER_LEG) \
    X(CARD_OTHER_LEG_LEAD) X(CARD_OTHER_LEG_TRAIL) X(CARD_SAME_LEG) X(CARD_SAME_LEG_SPARE) \
    X(CARD_SAME_LEG_LINE) X(CARD_SAME_LEG_TWICE) X(CARD_SAME_LEG_OFTEN) X(CARD_SECOND_EFFORT) \
    X(CARD_SECOND_EFFORT_LINE) X(CARD_SETUP_OPENS) X(CARD_SETUP_OPENS_SPARE) \
    X(CARD_SETUP_OPENS_LINE) X(CARD_SETUP_OPENS_ALL) X(CARD_STRAIGHT_IN) \
    X(CARD_STRAIGHT_IN_ATTACK) X(CARD_STRAIGHT_IN_COUNTER) X(CARD_RE_ATTACKS) \
    X(CARD_RE_ATTACKS_LINE) X(CARD_COUNTERS) X(CARD_COUNTERS_LINE) X(CARD_HELD) \
    X(CARD_HELD_LINE) X(CARD_WHISTLE) X(CARD_WHISTLE_LINE) X(CARD_DRIED_UP) \
    X(CARD_DRIED_UP_SPARE) X(CARD_DRIED_UP_LINE) X(CARD_DRIED_UP_FIRST) X(CARD_STEP_OUTS) \
    X(CARD_STEP_OUTS_LINE) X(CARD_STEP_OUTS_PLAIN) X(CARD_TAKEDOWN_TURN) X(CARD_SPELL_LINE) \
    X(CARD_TURNS) X(CARD_TURNS_LINE) X(CARD_ONE_TURN) X(CARD_ONE_TURN_LINE) X(CARD_NO_TURN) \
    X(CARD_NO_TURN_LINE) X(CARD_PAR_TERRE) X(CARD_PAR_TERRE_LINE) X(CARD_PAR_TERRE_ONE) \
    X(CARD_PAR_TERRE_ONE_LINE) X(CARD_ONE_ACTION) X(CARD_STEP_OUT_ENOUGH) X(CARD_MAKES_IT) \
    X(CARD_MAKES_IT_ON) X(CARD_LEVEL) X(CARD_LEVEL_LINE) X(CARD_CAUTION_TURNS) \
    X(CARD_CAUTION_TURNS_LINE) X(CARD_CAUTION_TURNS_ON) X(CARD_WITHOUT_REPLY) \
    X(CARD_WITHOUT_REPLY_LINE) X(CARD_CHASING) X(CARD_CHASING_LINE) X(CARD_CHASING_NONE) \
    X(CARD_LEADER_WAITS) X(CARD_LEADER_WAITS_LINE) X(CARD_TWO_CAUTIONS) \
    X(CARD_TWO_CAUTIONS_LINE) X(CARD_ACTIVITY) X(CARD_ACTIVITY_NAMED) X(CARD_ACTIVITY_EITHER) \
    X(CARD_ACTIVITY_SCORED) X(CARD_ACTIVITY_SCORED_LINE) X(CARD_ONE_SIDED) \
    X(CARD_ONE_SIDED_LINE) X(CARD_FORCED_CALL) X(CARD_FORCED_CALL_LINE) X(CARD_SLOWING) \
    X(CARD_SLOWING_LINE) X(CARD_NO_CHALLENGE) X(CARD_NO_CHALLENGE_LINE) \
    X(CARD_NO_CHALLENGE_PLAIN) X(CARD_LEADS) X(CARD_LEADS_ON) X(CARD_NOBODY_LEADS) \
    X(CARD_TIME_LEFT) X(CARD_AFTER_PERIOD) X(CARD_MINUTE_LEFT) X(CARD_MINUTE_LEFT_OF) \
    X(CARD_HALF_LEFT) X(CARD_HALF_LEFT_OF) X(CARD_MARK_LEADS) X(CARD_MARK_LEADS_ON) \
    X(CARD_MARK_NOBODY) X(CARD_NO_SCORE_MINUTE) X(CARD_NO_SCORE_MINUTES) X(CARD_NO_SCORE_LEADS) \
    X(CARD_NO_SCORE_LEADS_ON) X(CARD_NO_SCORE_NOBODY) \
    /* lines: whole sentences; {.} makes a capital of the first word that is ours */ \
    X(LINE_CALL_BOTH) X(LINE_CALL_MAT) X(LINE_CALL_NUMBER) X(LINE_CALL_PLAIN) X(LINE_CALL_AGAIN) \
    X(LINE_CALL_TEAM) X(LINE_CALL_NAME) X(LINE_CALL_RED) X(LINE_CALL_BLUE) X(LINE_CALL_STYLE) \
    X(LINE_CALL_WEIGHT) X(LINE_CALL_WEIGHT_PLAIN) X(LINE_CALL_STAGE) X(LINE_CALL_STAGE_ALONE) \
    X(LINE_OFF) X(LINE_STOP) X(LINE_SPACE) X(LINE_COMMA) X(LINE_TAKES_DOWN) X(LINE_GOES_BEHIND) \
    X(LINE_BRINGS_DOWN) X(LINE_TURNS) X(LINE_TURNS_AGAIN) X(LINE_COUNTERS) X(LINE_THROWS) \
    X(LINE_LIFTS) X(LINE_INTO_DANGER) X(LINE_REVERSES) X(LINE_DRIVES_OUT) X(LINE_STEPS_OUT) \
    X(LINE_INJURY_STOP) X(LINE_SCORES) X(LINE_FOR) X(LINE_WITH) X(LINE_WITH_CHANGED) \
    X(LINE_ON_LEAD) X(LINE_ON_TRAIL) X(LINE_TIME_LEFT) X(LINE_TIME_LEFT_OF) \
    X(LINE_NOT_CONFIRMED) X(LINE_ADDED) X(LINE_SUPERIORITY) X(LEAD_COLON) X(LEAD_SENTENCE) \
    X(LEAD_AND) X(LEAD_AND_TAKES) X(LEAD_POINTS) X(LEAD_POINTS_TAKES) X(LEAD_POINTS_STILL) \
    X(LEAD_LEVEL) X(LEAD_LEVEL_TAKES) X(LEAD_LEVEL_STILL) X(LEAD_NOBODY) X(LEAD_CLOSED) \
    X(LINE_SHOOTS) X(LINE_TRIES) X(LINE_CHANGES_TO) X(LINE_IS_STOPPED) X(LINE_IS_STOPPED_BY) \
    X(LINE_IS_COUNTERED) X(LINE_GOES_OUT) X(LINE_STALEMATE) X(LINE_SLIPS_OFF) X(LINE_ATTACK_LEG) \
    X(LINE_ATTACK_LEG_BY) X(LINE_ATTACK_BY) X(LINE_CAME_FROM) X(LINE_CAME_WITH) \
    X(LINE_CAME_CHANGED) X(LINE_CAUTIONED) X(LINE_CAUTIONED_AGAIN) X(LINE_CAUTIONS_LOSE) \
    X(LINE_WARNED) X(LINE_ACTIVITY) X(LINE_ACTIVITY_PLAIN) X(LINE_ACTIVITY_ENDS) X(LINE_PASSIVE) \
    X(LINE_POINTS_TO) X(LINE_PAR_TERRE) X(LINE_PAR_TERRE_CHOSEN) X(LINE_PAR_TERRE_GIVEN) \
    X(LINE_STANDING_CHOSEN) X(LINE_CHALLENGES) X(LINE_CHALLENGES_WHAT) \
    X(LINE_CHALLENGES_CAUTION) X(LINE_CHALLENGES_PASSIVITY) X(LINE_UPHELD) X(LINE_REJECTED) \
    X(LINE_TREATMENT) X(LINE_TREATMENT_OF) X(LINE_TREATMENT_OVER) X(LINE_REVIEW) \
    X(LINE_CONFERENCE) X(LINE_PERIOD_BEGINS) X(LINE_PERIOD_ENDS) X(LINE_TIME_UP) \
    X(LINE_RESULT_TO_COME) X(LINE_WAITING) X(LINE_REVIEWED) X(LINE_ATTACKS_ALL) \
    X(LINE_ATTACKS_BOTH) X(LINE_ATTACKS_ONE) X(LINE_ATTACKS_SOME) X(LINE_ATTACKS_SOME_TOO) \
    X(LINE_ATTACKS_NONE) X(LINE_ATTACKS_NONE_TOO) X(LINE_CLOCK_BACK) X(LINE_CONFIRMED_ONE) \
    X(LINE_CONFIRMED_OWN) X(LINE_CONFIRMED_POINTS) X(LINE_CONFIRMED_CALLS) \
    X(LINE_UNCONFIRMED_ONE) X(LINE_UNCONFIRMED_SOME) X(LINE_OUT) X(LINE_OUT_OFFICIALS) \
    X(LINE_OUT_CHALLENGE) X(LINE_OUT_ASKED) X(LINE_BACK) X(LINE_BACK_OFFICIALS) \
    X(LINE_BACK_CHALLENGE) X(LINE_POINTS) X(LINE_POINTS_OFFICIALS) X(LINE_POINTS_CHALLENGE) \
    X(LINE_SIDES) X(LINE_SIDES_OFFICIALS) X(LINE_SIDES_CHALLENGE) X(LINE_ANEW) \
    X(LINE_ANEW_OFFICIALS) X(LINE_ANEW_CHALLENGE) X(LINE_RESTART) X(LINE_RESTART_BACK) \
    X(LINE_RESULT_WAITS) X(LINE_RESULT_WAITS_PLAIN) X(LINE_BEATS) X(LINE_RESULT_SCORE) \
    X(LINE_RESULT_TIME) X(LINE_RESULT_CLASS) X(LINE_RESULT_CODE) X(LINE_NO_WINNER) \
    X(LINE_NO_WINNER_PLAIN) X(LINE_SHEET_DIFFERS) X(LINE_HOW) X(LINE_BY_CAUTIONS) \
    X(LINE_ON_CRITERION) X(NOUN_POINTS) X(NOUN_CAUTION) X(NOUN_WARNING) X(NOUN_ACTIVITY) \
    X(NOUN_PASSIVITY) X(NOUN_CHALLENGE) X(NOUN_DECISION) X(NOUN_ATTACK) X(NOUN_POSITION) \
    X(NOUN_STOPPAGE) X(NOUN_RESULT) X(NOUN_NOTE) X(SPAN_SECONDS) X(SPAN_MINUTES) X(SPAN_BOTH) \
    /* exports */ \
    X(CHAPTER_PERIOD) X(FEED_TITLE) X(FEED_CAUTION)
#define PHRASES_BEYOND(X) \
    /* cards of the archive, beyond one action, of an open challenge */ \
    X(CARD_LATE_SCORER) X(CARD_LATE_SCORER_LINE) X(CARD_FIRST_SCORE) X(CARD_FIRST_SCORE_LINE) \
    X(CARD_CAME_BACK) X(CARD_CAME_BACK_LINE) X(CARD_CAME_BACK_LEVEL) X(CARD_MET_BEFORE) \
    X(CARD_MET_BEFORE_LINE) X(CARD_MET_BEFORE_PLAIN) X(CARD_ACTIONS) X(CARD_ACTIONS_LINE) \
    X(CARD_ACTIONS_ON) X(CARD_PACE) X(CARD_PACE_ENOUGH) X(CARD_PACE_SHORT) X(CARD_ENDS_IT) \
    X(CARD_ENDS_IT_LINE) X(CARD_SAFE_WITH) X(CARD_SAFE_WITH_LINE) X(CARD_SAFE) X(CARD_SAFE_LINE) \
    X(CARD_SAFE_BOTH) X(CARD_SAFE_PLAIN) X(CARD_IF_LOST) X(CARD_IF_NOTHING) X(CARD_IF_OUT) \
    X(CARD_IF_OUT_GIVEN) X(CARD_IF_VALUE) X(CARD_IF_VALUE_GIVEN) X(CARD_IF_TURNED) \
    X(CARD_IF_TURNED_GIVEN) X(CARD_IF_GIVEN) X(CARD_THEN_LEADS) X(CARD_THEN_ON) \
    X(CARD_THEN_NOBODY) X(CARD_THEN_SUPERIORITY) X(CARD_THEN_CAUTIONS) X(CARD_THEN_TIME) \
    X(CARD_THEN_TIME_ON) X(CARD_THEN_TIME_NOBODY)
#define PHRASES_AROUND(X) \
    /* cards of what stands around the bout, and summaries */ \
    X(CARD_ABOUT) X(CARD_ABOUT_SPARE) X(CARD_ABOUT_SEED) X(CARD_ABOUT_SEED_SPARE) \
    X(CARD_ABOUT_FACT) X(CARD_ABOUT_NO_FACT) X(CARD_WAY) X(CARD_WAY_WON) X(CARD_WAY_LOST) \
    X(CARD_DECIDES) X(CARD_DECIDES_AGAINST) X(CARD_DECIDES_LOSER) X(CARD_DECIDES_OPEN) \
    X(CARD_NEXT_STAGE) X(CARD_NEXT) X(CARD_NEXT_SPARE) X(CARD_NEXT_AGAINST) \
    X(CARD_NEXT_AGAINST_IN) X(CARD_NEXT_IN) X(CARD_NEXT_OPEN) X(CARD_PLACE) X(CARD_GOLD) \
    X(CARD_SILVER) X(CARD_BRONZE) X(CARD_PLACE_LINE) X(CARD_TEAM_FIRST) X(CARD_TEAM) \
    X(CARD_TEAM_SPARE) X(CARD_TEAM_LINE) X(CARD_TEAM_PLAIN) X(CARD_MAT) X(CARD_MAT_LEADS) \
    X(CARD_MAT_LEVEL) X(CARD_MAT_WON) X(CARD_UPSET) X(CARD_UPSET_LINE) X(CARD_NEXT_HERE) \
    X(CARD_NEXT_HERE_LINE) X(CARD_NEXT_HERE_IN) X(CARD_SO_FAR) X(CARD_SO_FAR_LINE) \
    X(CARD_SO_FAR_MOST) X(CARD_SUMMARY) X(CARD_SUMMARY_LINE) X(CARD_SUMMARY_LATER) \
    X(CARD_SUMMARY_WINS) X(CARD_SUMMARY_SPARE) X(CARD_SUMMARY_HOW) X(CARD_SUMMARY_THEN) \
    X(CARD_SUMMARY_ON) X(CARD_SUMMARY_NO_BOUT)
/* clang-format on */
enum phrase {
    SAY_NOTHING,
#define X(phrase) phrase,
    PHRASES(X) PHRASES_BEYOND(X) PHRASES_AROUND(X)
#undef X
        PHRASE_COUNT
};
const char *phrase_name(enum phrase phrase); /* "LINE_THROWS"; in a language's file "line_throws" */

enum word_kind {
    WORD_NONE,      /* of ours, not to be looked up */
    WORD_TECHNIQUE, /* "low single" */
    WORD_DEFENCE,   /* what a side is stopped by; where the language has none, a technique's word */
    WORD_SETUP,     /* likewise */
    WORD_ACTION,    /* "step-out" */
    WORD_REASON,    /* "fleeing the mat" */
    WORD_ENDING,    /* "by fall"; "both disqualified" */
    WORD_STYLE,     /* "Greco-Roman" */
    WORD_CRITERION, /* "last point", after "on" or "by" */
    WORD_LEG,       /* "lead" */
    WORD_KIND_COUNT
};
const char *word_kind_name(enum word_kind kind); /* "technique" */

/* CLDR's plural categories. */
enum plural { PLURAL_OTHER, PLURAL_ZERO, PLURAL_ONE, PLURAL_TWO, PLURAL_FEW, PLURAL_MANY };
const char *plural_name(enum plural plural); /* "one" */

enum {
    NUMBER_WORDS = 13,   /* from nought to twelve */
    PLURAL_NUMBERS = 200 /* from there on the last two digits decide */
};

struct word_form {
    const char *form; /* "plain", and what else the language's phrases ask for */
    const char *text;
};

struct word {
    const char *name; /* as in events */
    const struct word_form *forms;
    size_t form_count;
};

struct word_list {
    const struct word *words;
    size_t count;
};

struct article { /* how a form is made of a plain word, where it isn't given */
    const char *form;
    const char *before; /* words that begin with one of these letters; "": all */
    const char *text;   /* "an" */
};

struct language {
    const char *name; /* BCP 47: "en" */
    const char *phrases[PHRASE_COUNT];
    struct word_list lists[WORD_KIND_COUNT];
    const char *numbers[NUMBER_WORDS];
    const struct article *articles; /* the first that fits */
    size_t article_count;
    unsigned char plurals[PLURAL_NUMBERS]; /* enum plural */
};

enum plural language_plural(const struct language *language, int32_t number);

/* A word in three pieces: article, space where there is one, and the word. What no list has is read
 * as it is, with spaces for underscores: then `spaced` says so. */
struct found_word {
    const char *article; /* "" where there is none */
    const char *text;
    bool spaced; /* underscores are to be read as spaces */
};
/* `form` "plain", or as the phrase asks. */
struct found_word language_word(const struct language *language, enum word_kind kind,
                                const char *name, const char *form, size_t form_size);
