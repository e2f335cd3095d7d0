#include "prompts/english.h"
#include <stdio.h>
#include <string.h>

const char *english(enum phrase phrase)
{
    static const char *const phrases[] = {
#define X(phrase, text) [phrase] = text,
        PHRASES(X)
#undef X
    };
    return phrases[phrase];
}

/* ---- numbers and times ---- */

const char *english_number(int32_t number)
{
    static const char *const words[] = {"none",  "one",   "two",  "three", "four",   "five",  "six",
                                        "seven", "eight", "nine", "ten",   "eleven", "twelve"};
    return number >= 0 && number <= 12 ? words[number] : NULL;
}

const char *english_times(int32_t number, char room[WORDS_SIZE])
{
    const char *word = english_number(number);
    if (number == 1 || number == 2)
        return number == 1 ? "once" : "twice";
    if (word != NULL)
        snprintf(room, WORDS_SIZE, "%s times", word);
    else
        snprintf(room, WORDS_SIZE, "%ld times", (long)number);
    return room;
}

static const char *minutes(int64_t seconds, char room[TIME_SIZE])
{
    snprintf(room, TIME_SIZE, "%d:%02d", (int)(seconds / 60), (int)(seconds % 60));
    return room;
}

const char *english_left(int64_t left_ms, char room[TIME_SIZE])
{
    return minutes((left_ms + 999) / 1000, room);
}

const char *english_gone(int64_t gone_ms, char room[TIME_SIZE])
{
    return minutes(gone_ms / 1000, room);
}

const char *english_span(int64_t span_ms, char room[TIME_SIZE])
{
    int seconds = (int)((span_ms + 999) / 1000), minutes_whole = seconds / 60;
    seconds %= 60;
    if (minutes_whole == 0)
        snprintf(room, TIME_SIZE, "%d %s", seconds, seconds == 1 ? "second" : "seconds");
    else if (seconds == 0)
        snprintf(room, TIME_SIZE, "%d %s", minutes_whole,
                 minutes_whole == 1 ? "minute" : "minutes");
    else
        snprintf(room, TIME_SIZE, "%d %s %d %s", minutes_whole,
                 minutes_whole == 1 ? "minute" : "minutes", seconds,
                 seconds == 1 ? "second" : "seconds");
    return room;
}

const char *english_nth(int32_t number, char room[WORDS_SIZE])
{
    static const char *const words[] = {"", "first", "second", "third", "fourth", "fifth"};
    if (number >= 1 && number <= 5)
        return words[number];
    snprintf(room, WORDS_SIZE, "number %ld", (long)number);
    return room;
}

const char *english_article(const char *words)
{
    return strchr("aeiou", words[0]) != NULL ? "an" : "a";
}

const char *english_criterion(enum criterion by)
{
    static const char *const words[] = {
        [BY_NOTHING] = "nothing",       [BY_POINTS] = "points",
        [BY_HOLDS] = "higher holds",    [BY_CAUTIONS] = "fewer cautions",
        [BY_LAST_POINT] = "last point", [BY_FIRST_POINT] = "first point",
        [BY_TECHNIQUE] = "technique",
    };
    return words[by];
}

/* ---- names in events ---- */

struct wording {
    const char *name, *words;
};

static const char *worded(const struct wording *wordings, size_t count, const char *name)
{
    for (size_t i = 0; i < count; i++)
        if (strcmp(wordings[i].name, name) == 0)
            return wordings[i].words;
    return NULL;
}
#define WORDED(wordings, name) worded(wordings, sizeof wordings / sizeof *wordings, name)

static const char *spaced(const char *name, char room[WORDS_SIZE])
{
    size_t i = 0;
    for (; name[i] != '\0' && i < WORDS_SIZE - 1; i++)
        room[i] = name[i] == '_' ? ' ' : name[i];
    room[i] = '\0';
    return room;
}

/* Only those that aren't simply their name with spaces. */
const char *english_technique(const char *name, char room[WORDS_SIZE])
{
    static const struct wording wordings[] = {
        {"firemans_carry", "fireman's carry"},
        {"snap_down", "snap-down"},
        {"go_behind", "go-behind"},
        {"slide_by", "slide-by"},
        {"push_out", "push-out"},
        {"push_pull", "push and pull"},
        {"two_on_one", "two-on-one"},
        {"over_under", "over-under"},
        {"trap_arm_gut", "trap-arm gut wrench"},
        {"three_quarter_nelson", "three-quarter nelson"},
        {"stand_up", "stand-up"},
        {"sit_out", "sit-out"},
        {"re_attack", "re-attack"},
    };
    const char *words = WORDED(wordings, name);
    return words != NULL ? words : spaced(name, room);
}

static const char *with_article(const char *name, char room[WORDS_SIZE])
{
    char words_room[WORDS_SIZE];
    const char *words = english_technique(name, words_room);
    snprintf(room, WORDS_SIZE, "%s %.44s", english_article(words), words);
    return room;
}

const char *english_defence(const char *name, char room[WORDS_SIZE])
{
    static const struct wording wordings[] = {
        {"hip_in", "the hips"},
        {"hips_down", "hips to the mat"},
        {"flatten_out", "flattening out"},
        {"circle_out", "circling out"},
        {"throw_block", "a block"},
    };
    const char *words = WORDED(wordings, name);
    return words != NULL ? words : with_article(name, room);
}

const char *english_setup(const char *name, char room[WORDS_SIZE])
{
    static const struct wording wordings[] = {{"circle", "circling"}, {"pummel", "pummelling"}};
    const char *words = WORDED(wordings, name);
    return words != NULL ? words : english_technique(name, room);
}

const char *english_after_setup(const char *name, char room[WORDS_SIZE])
{
    static const struct wording wordings[] = {
        {"circle", "circling"},
        {"pummel", "pummelling"},
        {"wrist_control", "wrist control"},
    };
    const char *words = WORDED(wordings, name);
    return words != NULL ? words : with_article(name, room);
}

const char *english_leg(enum leg leg)
{
    static const char *const words[] = {
        [LEG_NONE] = "", [LEG_LEAD] = "lead", [LEG_TRAIL] = "trail"};
    return words[leg];
}

const char *english_action(const char *name, char room[WORDS_SIZE])
{
    static const struct wording wordings[] = {{"step_out", "step-out"}};
    const char *words = WORDED(wordings, name);
    return words != NULL ? words : spaced(name, room);
}

/* Reasons as in UWW, 27 Jan 2022, and Deutscher Ringer-Bund, early 2022. */
const char *english_reason(const char *name, char room[WORDS_SIZE])
{
    static const struct wording wordings[] = {
        {"fleeing_hold", "fleeing the hold"},
        {"fleeing_mat", "fleeing the mat"},
        {"fleeing_in_danger", "fleeing the mat in danger"},
        {"illegal_hold", "an illegal hold"},
    };
    const char *words = WORDED(wordings, name);
    return words != NULL ? words : spaced(name, room);
}

const char *english_ending(const char *name, char room[WORDS_SIZE])
{
    static const struct wording wordings[] = {
        {"fall", "by fall"},
        {"superiority", "by superiority"},
        {"points", "on points"},
        {"injury", "by injury"},
        {"cautions", "by cautions"},
        {"forfeit", "by forfeit"},
        {"disqualification", "by disqualification"},
        {"both_disqualified", "both disqualified"},
        {"both_injured", "both stopped by injury"},
        {"both_forfeit", "both out by forfeit"},
    };
    const char *words = WORDED(wordings, name);
    return words != NULL ? words : spaced(name, room);
}

const char *english_style(const char *name, char room[WORDS_SIZE])
{
    static const struct wording wordings[] = {
        {"greco_roman", "Greco-Roman"}, {"freestyle", "freestyle"}, {"women", "women"}};
    const char *words = WORDED(wordings, name);
    return words != NULL ? words : spaced(name, room);
}
