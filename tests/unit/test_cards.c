/* Prompt cards: each rule where it shows, and each case in which it must not. The numbers are those
 * of the table in daemon/prompts/cards.c, where the sources stand too. */
#include "prompts/cards.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "prompts/text.h"
#include "support.h"

/* The clock starts at 0 of the story, so that a story's seconds are bout time until it stops. */
#define BOUT(rules)                                                                                \
    "0 bout rules:" rules " red:{name:'Ada Brandt',family:Brandt} "                                \
    "blue:{name:'Noor Haddad',family:Haddad}; 0 clock do:start; "
#define FREESTYLE BOUT("freestyle-2022")
#define GRECO BOUT("greco-2022")
/* Period two begins at 210: its seconds are 210 and more. */
#define SECOND "180 clock do:end; 210 clock do:start period:2; "
struct row {
    char name[56];
    int rule;
    enum side side;
    char story[1100];
    char want[150]; /* "headline | line"; "": silent */
};

/* What an archive may know: enough of everything for each card that rests on it. */
static const struct past_position past_positions[] = {
    {1, 2, {12, 3}}, {2, 2, {4, 1}}, {5, 0, {30, 11}}, {1, 4, {5, 0}}, {2, 4, {25, 4}},
};
static const struct past some_past = {
    .sides = {{{6, 4}, 1, 1}, {{4, 4}, 3, 2}},
    .meetings = {3, {2, 1}, {4, 6}, SIDE_BLUE, "points"},
    .positions = past_positions,
    .position_count = sizeof past_positions / sizeof *past_positions,
};

/* What a day may know around the bout: enough for each card that tells of it. */
static const struct around some_day = {
    .sides = {{.facts = {"Won the club's cup as a cadet.", "Trains with her sister."},
               .fact_count = 2,
               .seed = 2,
               .won = 2,
               .lost = 0,
               .last = {"Sow", "fall", {6, 2}, true},
               .next = {true, "final", "Aydin", 0},
               .team = {"Harbour", 2, 31, 1, 3}},
              {.won = 1,
               .lost = 1,
               .last = {"Lindqvist", "points", {3, 5}, false},
               .place = 3,
               .team = {NULL, 0, 0, 0, 0}}},
    .winner_to = {true, "final", "Aydin", 0},
    .loser_to = {true, "bronze", NULL, 0},
    .mats = {{"B", "b7", {"Okoye", "Falk"}, {2, 8}, SIDE_BLUE, NULL},
             {"C", "c2", {"Ito", "Marsh"}, {1, 1}, SIDE_RED, NULL},
             {"D", "d2", {"Rey", "Olsen"}, {4, 4}, SIDE_RED, "points"}},
    .mat_count = 3,
    .upset = {"c1", "Ito", "Petrov", "superiority", 1, {10, 0}, 0},
    .next_here = {{"Banda", "Kovac"}, 0},
};

struct shown {
    const struct past *past;
    const struct around *around;
    struct around day; /* some_day, with its times */
    struct story story;
    struct fold fold;
    struct state state;
    struct card card;
    bool shows;
    char text[600];
};

static void shown_init(struct shown *shown, const char *name, const char *text)
{
    story_init(&shown->story);
    story_tell(&shown->story, text);
    const struct bout *bout = shown->story.log.bouts[0];
    fold_init(&shown->fold, bout, malloc, free);
    cr_assert(fold_read(&shown->fold, bout->count), "%s: read", name);
    shown->state = state_of(&shown->fold, story_now(&shown->story));
}

static void shown_close(struct shown *shown)
{
    fold_close(&shown->fold);
    story_close(&shown->story);
}

/* What the rule says at the end of the story, as "headline | line". */
static void show(struct shown *shown, const char *name, const char *text, int rule, enum side side)
{
    shown_init(shown, name, text);
    shown->past = &some_past;
    shown->around = &shown->day;
    shown->day = some_day;
    shown->day.upset.at_ms = story_begins_ms;
    shown->day.next_here.from_ms = story_begins_ms + 12 * 60000;
    shown->shows = card_by_rule(test_language("en"), &shown->state, shown->past, shown->around,
                                rule, side, &shown->card);
    shown->text[0] = '\0';
    if (shown->shows)
        snprintf(shown->text, sizeof shown->text, "%s | %s", shown->card.headline,
                 shown->card.line);
}

static void expect_row(const struct row *row)
{
    struct shown shown;
    show(&shown, row->name, row->story, row->rule, row->side);
    cr_expect(strcmp(shown.text, row->want) == 0, "rule %d, %s: \"%s\"", row->rule, row->name,
              shown.text);
    struct card german;
    cr_expect(eq(int,
                 card_by_rule(test_language("de"), &shown.state, shown.past, shown.around,
                              row->rule, row->side, &german),
                 shown.shows),
              "rule %d, %s: in German", row->rule, row->name);
    shown_close(&shown);
}

/* ---- attempts ---- */

static struct row attack_rows[] = {
    {"1: low, lead leg, one scored", 1, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[low_single] leg:lead outcome:stopped; "
               "40 attack side:red techniques:[ankle_pick] leg:lead outcome:scored",
     "Low on the near leg | 1 of 2 low attacks on the lead leg scored."},
    {"1: only one", 1, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[low_single] leg:lead outcome:scored", ""},
    {"1: none scored", 1, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[low_single] leg:lead outcome:stopped; "
               "40 attack side:red techniques:[low_single] leg:lead outcome:stopped",
     ""},
    {"1: the other side's", 1, SIDE_BLUE,
     FREESTYLE "10 attack side:red techniques:[low_single] leg:lead outcome:stopped; "
               "40 attack side:red techniques:[ankle_pick] leg:lead outcome:scored",
     ""},
    {"1: no leg keyed", 1, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[low_single] outcome:stopped; "
               "40 attack side:red techniques:[ankle_pick] leg:lead outcome:scored",
     ""},
    {"1: not low", 1, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[double_leg] leg:lead outcome:stopped; "
               "40 attack side:red techniques:[ankle_pick] leg:lead outcome:scored",
     ""},
    {"1: a leg attack in Greco-Roman is a slip", 1, SIDE_RED,
     GRECO "10 attack side:red techniques:[low_single] leg:lead outcome:stopped; "
           "40 attack side:red techniques:[ankle_pick] leg:lead outcome:scored",
     ""},
    {"1: the score waits", 1, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[low_single] leg:lead outcome:stopped; "
               "40 attack side:red techniques:[ankle_pick] leg:lead outcome:open; "
               "42 score side:red points:2 action:takedown attack:e4 unconfirmed:true",
     ""},
    {"1: and is confirmed", 1, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[low_single] leg:lead outcome:stopped; "
               "40 attack side:red techniques:[ankle_pick] leg:lead outcome:open; "
               "42 score side:red points:2 action:takedown attack:e4 unconfirmed:true; 44 confirm",
     "Low on the near leg | 1 of 2 low attacks on the lead leg scored."},
    {"1: the other side's score waits", 1, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[low_single] leg:lead outcome:stopped; "
               "40 attack side:red techniques:[ankle_pick] leg:lead outcome:scored; "
               "50 attack side:blue techniques:[single_leg] outcome:open; "
               "52 score side:blue points:2 action:takedown attack:e5 unconfirmed:true",
     "Low on the near leg | 1 of 2 low attacks on the lead leg scored."},
    {"1: one is void", 1, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[low_single] leg:lead outcome:stopped; "
               "40 attack side:red techniques:[ankle_pick] leg:lead outcome:scored; 44 void ref:e3",
     ""},
    {"1: while the challenge is open", 1, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[low_single] leg:lead outcome:stopped; "
               "40 attack side:red techniques:[ankle_pick] leg:lead outcome:scored; "
               "44 challenge side:blue outcome:asked",
     ""},
    {"1: when it is over", 1, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[low_single] leg:lead outcome:stopped; "
               "40 attack side:red techniques:[ankle_pick] leg:lead outcome:scored; "
               "44 challenge side:blue outcome:asked; 60 challenge side:blue outcome:upheld",
     "Low on the near leg | 1 of 2 low attacks on the lead leg scored."},
    {"1: has grown old", 1, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[low_single] leg:lead outcome:stopped; "
               "40 attack side:red techniques:[ankle_pick] leg:lead outcome:scored; 85 now",
     ""},
    {"1: but not a moment before", 1, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[low_single] leg:lead outcome:stopped; "
               "40 attack side:red techniques:[ankle_pick] leg:lead outcome:scored; 84.9 now",
     "Low on the near leg | 1 of 2 low attacks on the lead leg scored."},
    {"1: the break brings it back", 1, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[low_single] leg:lead outcome:stopped; "
               "40 attack side:red techniques:[ankle_pick] leg:lead outcome:scored; 190 now",
     "Low on the near leg | 1 of 2 low attacks on the lead leg scored."},
    {"1: open ones count for nothing", 1, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[low_single] leg:lead outcome:open; "
               "40 attack side:red techniques:[ankle_pick] leg:lead outcome:scored",
     ""},

    {"2: the only one", 2, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[high_crotch] leg:trail outcome:scored",
     "Far leg, taken high | One try on the trail leg, above the knee, and it scored."},
    {"2: one of two", 2, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] leg:trail outcome:stopped; "
               "30 attack side:red techniques:[firemans_carry] leg:trail outcome:scored",
     "Far leg, taken high | 1 of 2 on the trail leg scored, taken above the knee."},
    {"2: a score that names no attack is an attempt too", 2, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] leg:trail outcome:stopped; "
               "30 score side:red points:2 action:takedown technique:high_crotch leg:trail",
     "Far leg, taken high | 1 of 2 on the trail leg scored, taken above the knee."},
    {"2: such a score waits", 2, SIDE_RED,
     FREESTYLE "30 score side:red points:2 action:takedown technique:high_crotch leg:trail "
               "unconfirmed:true",
     ""},
    {"2: a low one scored too", 2, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[high_crotch] leg:trail outcome:scored; "
               "30 attack side:red techniques:[low_single] leg:trail outcome:scored",
     ""},
    {"2: one at the knee scored too", 2, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[high_crotch] leg:trail outcome:scored; "
               "30 attack side:red techniques:[single_leg] leg:trail outcome:scored",
     ""},
    {"2: on the lead leg", 2, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[high_crotch] leg:lead outcome:scored", ""},

    {"3: stopped", 3, SIDE_BLUE,
     FREESTYLE "10 attack side:blue techniques:[low_single] leg:trail outcome:stopped",
     "Low shot, far leg: stopped | The far foot is out of reach until the feet move."},
    {"3: countered", 3, SIDE_BLUE,
     FREESTYLE "10 attack side:blue techniques:[sweep_single] leg:trail outcome:countered",
     "Low shot, far leg: countered | The far foot is out of reach until the feet move."},
    {"3: attacked again since", 3, SIDE_BLUE,
     FREESTYLE "10 attack side:blue techniques:[low_single] leg:trail outcome:stopped; "
               "20 attack side:blue techniques:[single_leg] outcome:open",
     ""},
    {"3: a minute old", 3, SIDE_BLUE,
     FREESTYLE "10 attack side:blue techniques:[low_single] leg:trail outcome:stopped; 70 now",
     "Low shot, far leg: stopped | The far foot is out of reach until the feet move."},
    {"3: over a minute old", 3, SIDE_BLUE,
     FREESTYLE "10 attack side:blue techniques:[low_single] leg:trail outcome:stopped; 70.1 now",
     ""},
    {"3: out of bounds isn't stopped", 3, SIDE_BLUE,
     FREESTYLE "10 attack side:blue techniques:[low_single] leg:trail outcome:out", ""},
    {"3: the clock is unsure", 3, SIDE_BLUE,
     FREESTYLE
     "10 attack side:blue techniques:[low_single] leg:trail outcome:stopped; 20 clock do:lost",
     ""},

    {"4: taken higher", 4, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[low_single] leg:trail outcome:stopped; "
               "40 attack side:red techniques:[high_crotch] leg:trail outcome:scored",
     "Changed it after the stop | Low before; this time higher."},
    {"4: opened otherwise", 4, SIDE_RED,
     FREESTYLE
     "10 attack side:red techniques:[low_single] leg:trail outcome:stopped; "
     "40 attack side:red techniques:[low_single] setup:[head_pull] leg:lead outcome:stopped",
     "Changed it after the stop | Low before; this time after a head pull."},
    {"4: the same again", 4, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[low_single] leg:trail outcome:stopped; "
               "40 attack side:red techniques:[low_single] leg:trail outcome:stopped",
     ""},
    {"4: more than ninety seconds later", 4, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[low_single] leg:trail outcome:stopped; "
               "101 attack side:red techniques:[high_crotch] leg:trail outcome:scored",
     ""},
    {"4: the first wasn't stopped", 4, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[low_single] leg:trail outcome:scored; "
               "40 attack side:red techniques:[high_crotch] leg:trail outcome:scored",
     ""},

    {"5: two on the lead leg, now the trail", 5, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] leg:lead outcome:stopped; "
               "20 attack side:red techniques:[low_single] leg:lead outcome:stopped; "
               "30 attack side:red techniques:[high_crotch] leg:trail outcome:stopped",
     "Now the other leg | 2 stopped on the lead leg before this."},
    {"5: only one before", 5, SIDE_RED,
     FREESTYLE "20 attack side:red techniques:[low_single] leg:lead outcome:stopped; "
               "30 attack side:red techniques:[high_crotch] leg:trail outcome:stopped",
     ""},
    {"5: one without a leg between", 5, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] leg:lead outcome:stopped; "
               "15 attack side:red techniques:[single_leg] outcome:stopped; "
               "20 attack side:red techniques:[low_single] leg:lead outcome:stopped; "
               "30 attack side:red techniques:[high_crotch] leg:trail outcome:stopped",
     ""},
    {"5: keyed late, but in its place", 5, SIDE_RED,
     FREESTYLE
     "10 attack side:red techniques:[single_leg] leg:lead outcome:stopped; "
     "30 attack side:red techniques:[high_crotch] leg:trail outcome:stopped; "
     "40 attack side:red techniques:[low_single] leg:lead outcome:stopped period:1 t_ms:20000",
     "Now the other leg | 2 stopped on the lead leg before this."},

    {"6: three alike, stopped twice by the same", 6, SIDE_RED,
     FREESTYLE
     "10 attack side:red techniques:[high_crotch] leg:trail outcome:scored; "
     "20 attack side:red techniques:[high_crotch] leg:trail outcome:stopped stopped_by:whizzer; "
     "30 attack side:red techniques:[high_crotch] leg:trail outcome:stopped stopped_by:whizzer",
     "High crotch, same leg: 3 | 1 of 3 scored; twice stopped by a whizzer."},
    {"6: what stopped it isn't known", 6, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] leg:lead outcome:stopped; "
               "20 attack side:red techniques:[single_leg] leg:lead outcome:stopped; "
               "30 attack side:red techniques:[single_leg] leg:lead outcome:stopped",
     "Single leg, same leg: 3 | 0 of 3 scored."},
    {"6: a name with no room in the headline", 6, SIDE_RED,
     FREESTYLE
     "10 attack side:red techniques:[inner_thigh_throw_to_the_side] leg:lead outcome:stopped; "
     "20 attack side:red techniques:[inner_thigh_throw_to_the_side] leg:lead outcome:stopped; "
     "30 attack side:red techniques:[inner_thigh_throw_to_the_side] leg:lead outcome:stopped",
     "Same attack, same leg: 3 | 0 of 3 scored."},
    {"6: the last one scored", 6, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] leg:lead outcome:stopped; "
               "20 attack side:red techniques:[single_leg] leg:lead outcome:stopped; "
               "30 attack side:red techniques:[single_leg] leg:lead outcome:scored",
     ""},
    {"6: one of them on the other leg", 6, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] leg:trail outcome:stopped; "
               "20 attack side:red techniques:[single_leg] leg:lead outcome:stopped; "
               "30 attack side:red techniques:[single_leg] leg:lead outcome:stopped",
     ""},
    {"6: another entry between", 6, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] leg:lead outcome:stopped; "
               "20 attack side:red techniques:[single_leg] leg:lead outcome:stopped; "
               "25 attack side:red techniques:[double_leg] leg:lead outcome:scored; "
               "30 attack side:red techniques:[single_leg] leg:lead outcome:stopped",
     "Single leg, same leg: 3 | 0 of 3 scored."},
    {"6: only two", 6, SIDE_RED,
     FREESTYLE "20 attack side:red techniques:[single_leg] leg:lead outcome:stopped; "
               "30 attack side:red techniques:[single_leg] leg:lead outcome:stopped",
     ""},
    {"6: not stopped twice in a row", 6, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] leg:lead outcome:stopped; "
               "20 attack side:red techniques:[single_leg] leg:lead outcome:scored; "
               "30 attack side:red techniques:[single_leg] leg:lead outcome:stopped",
     ""},

    {"7: changed, and scored", 7, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[ankle_pick,double_leg] leg:lead outcome:scored",
     "Second effort scored | From an ankle pick, changed to a double leg."},
    {"7: it came to the same hold", 7, SIDE_RED,
     FREESTYLE
     "10 attack side:red techniques:[single_leg,double_leg,single_leg] leg:lead outcome:scored",
     ""},
    {"7: stopped", 7, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg,double_leg] leg:lead outcome:stopped",
     ""},
    {"7: not the last attempt", 7, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg,double_leg] leg:lead outcome:scored; "
               "20 attack side:red techniques:[single_leg] outcome:stopped",
     ""},
    {"7: upper body, in Greco-Roman", 7, SIDE_RED,
     GRECO "10 attack side:red techniques:[duck_under,suplex] outcome:scored",
     "Second effort scored | From a duck under, changed to a suplex."},

    {"8: both scores after the same set-up", 8, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] setup:[circle] outcome:scored; "
               "20 attack side:red techniques:[single_leg] setup:[fake,circle] outcome:scored; "
               "30 attack side:red techniques:[single_leg] setup:[circle] outcome:stopped; "
               "40 attack side:red techniques:[single_leg] outcome:stopped; "
               "50 attack side:red techniques:[double_leg] setup:[] outcome:stopped",
     "Circling opens it | 2 of 3 scored after it, none of 2 without."},
    {"8: fewer than five", 8, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] setup:[circle] outcome:scored; "
               "20 attack side:red techniques:[single_leg] setup:[circle] outcome:scored; "
               "30 attack side:red techniques:[single_leg] setup:[circle] outcome:stopped; "
               "40 attack side:red techniques:[single_leg] outcome:stopped",
     ""},
    {"8: one scored without it", 8, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] setup:[circle] outcome:scored; "
               "20 attack side:red techniques:[single_leg] setup:[circle] outcome:scored; "
               "30 attack side:red techniques:[single_leg] outcome:scored; "
               "40 attack side:red techniques:[single_leg] outcome:stopped; "
               "50 attack side:red techniques:[single_leg] outcome:stopped",
     ""},
    {"8: no set-ups keyed", 8, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] outcome:scored; "
               "20 attack side:red techniques:[single_leg] outcome:scored; "
               "30 attack side:red techniques:[single_leg] outcome:stopped; "
               "40 attack side:red techniques:[single_leg] outcome:stopped; "
               "50 attack side:red techniques:[single_leg] outcome:stopped",
     ""},

    {"9: answered", 9, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] setup:[] outcome:stopped; "
               "13 attack side:blue techniques:[double_leg] outcome:stopped",
     "Straight in, answered | No set-up keyed; Haddad attacked 3 seconds later."},
    {"9: countered", 9, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] setup:[open] outcome:countered",
     "Straight in, answered | No set-up keyed; Haddad countered."},
    {"9: set-ups not keyed", 9, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] outcome:stopped; "
               "13 attack side:blue techniques:[double_leg] outcome:stopped",
     ""},
    {"9: another set-up", 9, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] setup:[club] outcome:countered", ""},
    {"9: a level change", 9, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] setup:[level_change] outcome:countered",
     ""},
    {"9: six seconds later", 9, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] setup:[] outcome:stopped; "
               "16 attack side:blue techniques:[double_leg] outcome:stopped",
     ""},

    {"10: after two of three stops", 10, SIDE_BLUE,
     FREESTYLE "10 attack side:red techniques:[single_leg] outcome:stopped; "
               "13 attack side:blue techniques:[go_behind] outcome:stopped; "
               "30 attack side:red techniques:[single_leg] outcome:stopped; "
               "50 attack side:red techniques:[single_leg] outcome:stopped; "
               "55 attack side:blue techniques:[go_behind] outcome:stopped",
     "Re-attacks: 2 of 3 | After 2 of 3 stops, Haddad attacked at once."},
    {"10: only one", 10, SIDE_BLUE,
     FREESTYLE "10 attack side:red techniques:[single_leg] outcome:stopped; "
               "13 attack side:blue techniques:[go_behind] outcome:stopped; "
               "50 attack side:red techniques:[single_leg] outcome:stopped; "
               "56 attack side:blue techniques:[go_behind] outcome:stopped",
     ""},
    {"10: the whistle stopped them", 10, SIDE_BLUE,
     FREESTYLE "10 attack side:red techniques:[single_leg] outcome:out; "
               "13 attack side:blue techniques:[go_behind] outcome:stopped; "
               "50 attack side:red techniques:[single_leg] outcome:stalemate; "
               "55 attack side:blue techniques:[go_behind] outcome:stopped",
     ""},

    {"11: two counters, four points", 11, SIDE_BLUE,
     FREESTYLE "10 attack side:red techniques:[single_leg] outcome:open; "
               "12 score side:blue points:2 action:counter_exposure attack:e3; "
               "30 attack side:red techniques:[double_leg] outcome:open; "
               "32 score side:blue points:2 action:takedown attack:e5; "
               "40 attack side:red techniques:[double_leg] outcome:stopped",
     "Counters: 4 points | 2 of 3 attacks of Brandt ended in points against."},
    {"11: three points", 11, SIDE_BLUE,
     FREESTYLE "10 attack side:red techniques:[single_leg] outcome:open; "
               "12 score side:blue points:2 action:counter_exposure attack:e3; "
               "30 attack side:red techniques:[double_leg] outcome:open; "
               "32 score side:blue points:1 action:step_out attack:e5",
     ""},
    {"11: one counter", 11, SIDE_BLUE,
     FREESTYLE "10 attack side:red techniques:[single_leg] outcome:open; "
               "12 score side:blue points:4 action:throw attack:e3",
     ""},
    {"11: one of them waits", 11, SIDE_BLUE,
     FREESTYLE "10 attack side:red techniques:[single_leg] outcome:open; "
               "12 score side:blue points:2 action:counter_exposure attack:e3; "
               "30 attack side:red techniques:[double_leg] outcome:open; "
               "32 score side:blue points:2 action:takedown attack:e5 unconfirmed:true",
     ""},

    {"12: twice", 12, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] outcome:stalemate; "
               "30 attack side:red techniques:[double_leg] outcome:stalemate",
     "Held, no progress: whistled | 2 holds stopped by the whistle."},
    {"12: once", 12, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] outcome:stalemate; "
               "30 attack side:red techniques:[double_leg] outcome:out",
     ""},

    {"31: two off the whistle", 31, SIDE_RED,
     FREESTYLE "6 attack side:red techniques:[single_leg] outcome:stopped; 30 clock do:stop; "
               "40 clock do:start; 50 attack side:red techniques:[double_leg] outcome:stopped; "
               "60 attack side:red techniques:[double_leg] outcome:stopped",
     "Attacks off the whistle | 2 of 3 attacks within ten seconds of a start."},
    {"31: one", 31, SIDE_RED,
     FREESTYLE "6 attack side:red techniques:[single_leg] outcome:stopped; 30 clock do:stop; "
               "40 clock do:start; 50.5 attack side:red techniques:[double_leg] outcome:stopped",
     ""},
    {"31: turns from ordered par terre are none", 31, SIDE_RED,
     GRECO "6 attack side:red techniques:[gut_wrench] outcome:stopped; 30 clock do:stop; "
           "40 clock do:start; 45 attack side:red techniques:[gut_wrench] outcome:stopped",
     ""},

    {"34: scored at first", 34, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] outcome:scored; "
               "20 attack side:red techniques:[single_leg] outcome:stopped; "
               "30 attack side:red techniques:[single_leg] outcome:slipped; "
               "40 attack side:red techniques:[single_leg] outcome:out",
     "Single leg: 0 of 3 | None of the last 3 scored; the first one did."},
    {"34: more than one before", 34, SIDE_RED,
     FREESTYLE "5 attack side:red techniques:[single_leg] outcome:stopped; "
               "10 attack side:red techniques:[single_leg] outcome:scored; "
               "20 attack side:red techniques:[single_leg] outcome:stopped; "
               "30 attack side:red techniques:[single_leg] outcome:slipped; "
               "40 attack side:red techniques:[single_leg] outcome:countered",
     "Single leg: 0 of 3 | None of the last 3 scored; 1 of the first 2 did."},
    {"34: only two since", 34, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] outcome:scored; "
               "20 attack side:red techniques:[single_leg] outcome:stopped; "
               "30 attack side:red techniques:[single_leg] outcome:stopped",
     ""},
    {"34: never scored", 34, SIDE_RED,
     FREESTYLE "20 attack side:red techniques:[single_leg] outcome:stopped; "
               "30 attack side:red techniques:[single_leg] outcome:stopped; "
               "40 attack side:red techniques:[single_leg] outcome:stopped",
     ""},
    {"6: what the table keys before the hold is known", 6, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[attack] leg:lead outcome:stopped; "
               "20 attack side:red techniques:[attack] leg:lead outcome:stopped; "
               "30 attack side:red techniques:[attack] leg:lead outcome:stopped",
     ""},
    {"7: changed from what isn't known", 7, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[attack,double_leg] outcome:scored", ""},
    {"34: of what isn't known", 34, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[attack] outcome:scored; "
               "20 attack side:red techniques:[attack] outcome:stopped; "
               "30 attack side:red techniques:[attack] outcome:stopped; "
               "40 attack side:red techniques:[attack] outcome:stopped",
     ""},
    {"34: only whistles and the edge", 34, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] outcome:scored; "
               "20 attack side:red techniques:[single_leg] outcome:stalemate; "
               "30 attack side:red techniques:[single_leg] outcome:out; "
               "40 attack side:red techniques:[single_leg] outcome:out",
     ""},
};

ParameterizedTestParameters(cards, attempts)
{
    return cr_make_param_array(struct row, attack_rows, sizeof attack_rows / sizeof *attack_rows);
}
ParameterizedTest(struct row *row, cards, attempts)
{
    expect_row(row);
}

/* ---- points ---- */

static struct row score_rows[] = {
    {"13: two step-outs", 13, SIDE_RED,
     FREESTYLE
     "10 score side:red points:1 action:step_out; 40 score side:red points:1 action:step_out",
     "Step-outs: 2 | 1 each; fleeing the mat adds a caution and 1."},
    {"13: one", 13, SIDE_RED, FREESTYLE "10 score side:red points:1 action:step_out", ""},
    {"13: the second waits", 13, SIDE_RED,
     FREESTYLE "10 score side:red points:1 action:step_out; "
               "40 score side:red points:1 action:step_out unconfirmed:true",
     ""},

    {"14: taken down and turned", 14, SIDE_RED,
     FREESTYLE
     "10 score side:red points:2 action:takedown; 20 score side:red points:2 action:exposure",
     "Takedown into the turn | 4 points in one spell on the mat."},
    {"14: sixteen seconds later", 14, SIDE_RED,
     FREESTYLE
     "10 score side:red points:2 action:takedown; 26 score side:red points:2 action:exposure",
     ""},
    {"14: the clock stopped between", 14, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; 12 clock do:stop; 14 clock do:start; "
               "18 score side:red points:2 action:exposure",
     ""},
    {"14: the other side scored between", 14, SIDE_RED,
     FREESTYLE
     "10 score side:red points:2 action:takedown; 12 score side:blue points:1 action:reversal; "
     "16 score side:red points:2 action:exposure",
     ""},
    {"14: the clock stopped after it", 14, SIDE_RED,
     FREESTYLE
     "10 score side:red points:2 action:takedown; 20 score side:red points:2 action:exposure; "
     "22 clock do:stop",
     "Takedown into the turn | 4 points in one spell on the mat."},

    {"15: two turns, two more to the end", 15, SIDE_RED,
     FREESTYLE
     "10 score side:red points:2 action:takedown; 20 score side:red points:2 action:exposure; "
     "24 score side:red points:2 action:exposure",
     "Turn after turn: 2 | 4 more points end it: 2 turns."},
    {"15: far from the end", 15, SIDE_RED,
     FREESTYLE
     "5 score side:blue points:4 action:throw; 10 score side:red points:2 action:takedown; "
     "20 score side:red points:2 action:exposure; 24 score side:red points:2 action:exposure",
     "Turn after turn: 2 | 6 points in one spell on the mat."},
    {"15: one point to the end", 15, SIDE_RED,
     FREESTYLE
     "2 score side:red points:1 action:step_out; 4 score side:red points:2 action:takedown; "
     "10 score side:red points:2 action:exposure; 20 score side:red points:2 action:exposure; "
     "24 score side:red points:2 action:exposure",
     "Turn after turn: 3 | 1 more point ends it: 1 turn."},
    {"15: the clock has stopped", 15, SIDE_RED,
     FREESTYLE
     "10 score side:red points:2 action:takedown; 20 score side:red points:2 action:exposure; "
     "24 score side:red points:2 action:exposure; 26 clock do:stop",
     ""},
    {"15: thirty seconds gone", 15, SIDE_RED,
     FREESTYLE
     "10 score side:red points:2 action:takedown; 20 score side:red points:2 action:exposure; "
     "24 score side:red points:2 action:exposure; 54 now",
     ""},
    {"15: they stand again", 15, SIDE_RED,
     FREESTYLE
     "10 score side:red points:2 action:takedown; 20 score side:red points:2 action:exposure; "
     "24 score side:red points:2 action:exposure; 26 position position:standing",
     ""},

    {"16: two to superiority, on top", 16, SIDE_RED,
     FREESTYLE
     "5 score side:red points:4 action:throw; 40 score side:red points:4 action:feet_to_danger",
     "One turn from the end | A 2 makes it 10-0: superiority."},
    {"16: in Greco-Roman at six", 16, SIDE_BLUE,
     GRECO "5 score side:blue points:4 action:throw; 40 score side:blue points:2 action:exposure",
     "One turn from the end | A 2 makes it 8-0: superiority."},
    {"16: three away", 16, SIDE_RED,
     FREESTYLE
     "2 score side:blue points:1 action:step_out; 5 score side:red points:4 action:throw; "
     "40 score side:red points:4 action:feet_to_danger",
     ""},
    {"16: not on top", 16, SIDE_RED,
     FREESTYLE "5 score side:red points:4 action:throw; 40 score side:red points:4 action:throw; "
               "42 position position:standing",
     ""},
    {"16: the other side on top", 16, SIDE_RED,
     FREESTYLE "5 score side:red points:4 action:throw; 40 score side:red points:4 action:throw; "
               "42 position position:par_terre top:blue",
     ""},
    {"16: the last point waits", 16, SIDE_RED,
     FREESTYLE "5 score side:red points:4 action:throw; "
               "40 score side:red points:4 action:feet_to_danger unconfirmed:true",
     ""},
    {"16: ordered par terre is on top", 16, SIDE_RED,
     GRECO
     "5 score side:red points:4 action:throw; 20 score side:red points:2 action:takedown; "
     "60 clock do:stop; 70 position position:par_terre top:red ordered:true; 80 clock do:start",
     "One turn from the end | A 2 makes it 8-0: superiority."},

    {"17: two takedowns, no turn", 17, SIDE_RED,
     FREESTYLE
     "10 score side:red points:2 action:takedown; 40 score side:red points:2 action:takedown; "
     "50 now",
     "Takedowns, no turn yet | 2 takedowns, nothing added on the mat."},
    {"17: the turn has its ten seconds", 17, SIDE_RED,
     FREESTYLE
     "10 score side:red points:2 action:takedown; 40 score side:red points:2 action:takedown; "
     "49.9 now",
     ""},
    {"17: turned once", 17, SIDE_RED,
     FREESTYLE
     "10 score side:red points:2 action:takedown; 15 score side:red points:2 action:exposure; "
     "40 score side:red points:2 action:takedown; 52 now",
     ""},
    {"17: one takedown", 17, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; 52 now", ""},

    {"18: the first one", 18, SIDE_RED,
     GRECO "60 clock do:stop; 60 passivity side:blue stage:penalty points:1; "
           "62 position position:par_terre top:red ordered:true; 70 clock do:start; "
           "80 score side:red points:2 action:exposure",
     "Scored from par terre | In the first ordered par terre for Brandt."},
    {"18: one of two", 18, SIDE_RED,
     GRECO "60 clock do:stop; 60 passivity side:blue stage:penalty points:1; "
           "62 position position:par_terre top:red ordered:true; 70 clock do:start; "
           "130 clock do:stop; 130 passivity side:blue stage:penalty points:0; "
           "132 position position:par_terre top:red ordered:true; 140 clock do:start; "
           "150 score side:red points:4 action:lift",
     "Par terre: 1 of 2 | Brandt scored in 1 of 2 spells of ordered par terre."},
    {"18: the second still goes on", 18, SIDE_RED,
     GRECO "60 clock do:stop; 60 passivity side:blue stage:penalty points:1; "
           "62 position position:par_terre top:red ordered:true; 70 clock do:start; "
           "80 score side:red points:2 action:exposure; 90 clock do:stop; "
           "90 passivity side:blue stage:penalty points:0; "
           "92 position position:par_terre top:red ordered:true; 95 clock do:start; 100 now",
     "Scored from par terre | In the first ordered par terre for Brandt."},
    {"18: a takedown between", 18, SIDE_RED,
     GRECO "60 clock do:stop; 60 passivity side:blue stage:penalty points:1; "
           "62 position position:par_terre top:red ordered:true; 70 clock do:start; "
           "74 score side:red points:2 action:takedown; 80 score side:red points:2 action:exposure",
     ""},
    {"18: brought to the mat later", 18, SIDE_RED,
     GRECO "60 clock do:stop; 60 passivity side:blue stage:penalty points:1; 70 clock do:start; "
           "74 position position:par_terre top:red; 80 score side:red points:2 action:exposure",
     ""},
    {"18: standing was chosen", 18, SIDE_RED,
     GRECO "60 clock do:stop; 60 passivity side:blue stage:penalty points:1; "
           "62 position position:standing chosen_by:red; 70 clock do:start; "
           "80 score side:red points:2 action:exposure",
     ""},
    {"18: more than thirty seconds later", 18, SIDE_RED,
     GRECO "60 clock do:stop; 60 passivity side:blue stage:penalty points:1; "
           "62 position position:par_terre top:red ordered:true; 70 clock do:start; "
           "101 score side:red points:2 action:exposure",
     ""},

    {"19: three behind", 19, SIDE_BLUE,
     FREESTYLE
     "10 score side:red points:2 action:takedown; 30 score side:red points:1 action:step_out",
     "One action: it takes a 4 | A 4 makes it 4-3, Haddad ahead."},
    {"19: four behind, ahead by a criterion", 19, SIDE_BLUE,
     FREESTYLE
     "10 score side:red points:2 action:takedown; 30 score side:red points:2 action:takedown",
     "One action: it takes a 4 | A 4 makes it 4-4, Haddad ahead on higher holds."},
    {"19: a 2 is enough", 19, SIDE_BLUE, FREESTYLE "10 score side:red points:2 action:takedown",
     ""},
    {"19: too far behind", 19, SIDE_BLUE,
     FREESTYLE "10 score side:red points:4 action:throw; 30 score side:red points:4 action:throw",
     ""},
    {"19: said long enough", 19, SIDE_BLUE,
     FREESTYLE
     "10 score side:red points:2 action:takedown; 30 score side:red points:1 action:step_out; "
     "75 now",
     ""},
    {"19: the last minute brings it back", 19, SIDE_BLUE,
     FREESTYLE "10 score side:red points:2 action:takedown; 30 score side:red points:1 "
               "action:step_out; " SECOND "330 now",
     "One action: it takes a 4 | A 4 makes it 4-3, Haddad ahead."},
    {"19: under five seconds left", 19, SIDE_BLUE,
     FREESTYLE "10 score side:red points:2 action:takedown; 30 score side:red points:1 "
               "action:step_out; " SECOND "385 now",
     ""},

    {"20: one behind, a minute left", 20, SIDE_BLUE,
     FREESTYLE "10 score side:red points:1 action:step_out; " SECOND "330 now",
     "A step-out is enough | A 1 makes it 1-1, Haddad ahead on last point."},
    {"20: more than a minute left", 20, SIDE_BLUE,
     FREESTYLE "10 score side:red points:1 action:step_out; " SECOND "329.9 now", ""},
    {"20: a 1 wouldn't lead", 20, SIDE_BLUE,
     FREESTYLE "10 score side:red points:2 action:takedown; 20 score side:blue points:1 "
               "action:step_out; " SECOND "340 now",
     ""},
    {"20: while points wait", 20, SIDE_BLUE,
     FREESTYLE "10 score side:red points:1 action:step_out; " SECOND
               "340 score side:red points:1 action:step_out unconfirmed:true",
     ""},

    {"21: level in the last minute", 21, SIDE_BLUE,
     FREESTYLE "10 score side:red points:2 action:takedown; 20 score side:blue points:2 "
               "action:takedown; " SECOND "330 now",
     "Level, decided by last point | Haddad leads; Brandt needs a single point, of any kind."},
    {"21: of the side behind, nothing", 21, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; 20 score side:blue points:2 "
               "action:takedown; " SECOND "330 now",
     ""},
    {"21: not level", 21, SIDE_RED,
     FREESTYLE "10 score side:red points:1 action:step_out; " SECOND "330 now", ""},
    {"21: before the last minute", 21, SIDE_BLUE,
     FREESTYLE "10 score side:red points:2 action:takedown; 20 score side:blue points:2 "
               "action:takedown; " SECOND "300 now",
     ""},

    {"24: ahead by one", 24, SIDE_RED,
     FREESTYLE "10 score side:red points:1 action:step_out; " SECOND "360 now",
     "A caution would turn it | Caution and 1: 1-1, Haddad ahead on fewer cautions."},
    {"24: level", 24, SIDE_BLUE,
     FREESTYLE "10 score side:red points:2 action:takedown; 20 score side:blue points:2 "
               "action:takedown; " SECOND "365 now",
     "A caution would turn it | Caution and 1: 3-2, Brandt ahead."},
    {"24: it wouldn't", 24, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; 20 score side:blue points:1 "
               "action:step_out; " SECOND "365 now",
     ""},
    {"24: more than thirty seconds left", 24, SIDE_RED,
     FREESTYLE "10 score side:red points:1 action:step_out; " SECOND "359 now", ""},
    {"24: two ahead", 24, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; " SECOND "365 now", ""},
    {"24: the third caution would end it instead", 24, SIDE_RED,
     FREESTYLE "10 score side:red points:4 action:throw; "
               "20 caution side:red reason:fleeing_mat points:1; "
               "30 caution side:red reason:fleeing_mat points:2; " SECOND "365 now",
     ""},

    {"35: six in a row", 35, SIDE_RED,
     FREESTYLE
     "10 score side:blue points:2 action:takedown; 30 score side:red points:4 action:throw; "
     "62 score side:red points:2 action:exposure",
     "6 without reply | Brandt from 0-2 to 6-2 in 0:32."},
    {"35: five", 35, SIDE_RED,
     FREESTYLE
     "30 score side:red points:4 action:throw; 62 score side:red points:1 action:step_out",
     ""},
    {"35: answered", 35, SIDE_RED,
     FREESTYLE
     "30 score side:red points:4 action:throw; 62 score side:red points:2 action:exposure; "
     "65 score side:blue points:1 action:reversal",
     ""},
    {"35: the other side is in an attack", 35, SIDE_RED,
     FREESTYLE
     "30 score side:red points:4 action:throw; 62 score side:red points:2 action:exposure; "
     "70 attack side:blue techniques:[single_leg] outcome:open",
     ""},
    {"35: the order of points, not of the log", 35, SIDE_RED,
     FREESTYLE
     "30 score side:red points:4 action:throw; 62 score side:red points:2 action:exposure; "
     "70 score side:blue points:1 action:reversal before:e3",
     "6 without reply | Brandt from 0-1 to 6-1 in 0:32."},
};

ParameterizedTestParameters(cards, points)
{
    return cr_make_param_array(struct row, score_rows, sizeof score_rows / sizeof *score_rows);
}
ParameterizedTest(struct row *row, cards, points)
{
    expect_row(row);
}

/* ---- time and the referee's book ---- */

static struct row referee_rows[] = {
    {"22: three in the last minute, two before", 22, SIDE_BLUE,
     FREESTYLE "10 score side:red points:2 action:takedown; "
               "50 attack side:blue techniques:[single_leg] outcome:stopped; "
               "90 attack side:blue techniques:[single_leg] outcome:stopped; " SECOND
               "340 attack side:blue techniques:[single_leg] outcome:stopped; "
               "350 attack side:blue techniques:[double_leg] outcome:stopped; "
               "360 attack side:blue techniques:[double_leg] outcome:out",
     "Chasing: 3 this minute | 3 attacks in the last minute, 2 in the 5:00 before."},
    {"22: none before", 22, SIDE_BLUE,
     FREESTYLE "10 score side:red points:2 action:takedown; " SECOND
               "340 attack side:blue techniques:[single_leg] outcome:stopped; "
               "350 attack side:blue techniques:[double_leg] outcome:stopped; "
               "360 attack side:blue techniques:[double_leg] outcome:out",
     "Chasing: 3 this minute | 3 attacks in the last minute, none in the 5:00 before."},
    {"22: only two", 22, SIDE_BLUE,
     FREESTYLE "10 score side:red points:2 action:takedown; " SECOND
               "340 attack side:blue techniques:[single_leg] outcome:stopped; "
               "350 attack side:blue techniques:[double_leg] outcome:stopped",
     ""},
    {"22: at the same rate as before", 22, SIDE_BLUE,
     FREESTYLE "10 score side:red points:2 action:takedown; "
               "20 attack side:blue techniques:[single_leg] outcome:stopped; "
               "30 attack side:blue techniques:[single_leg] outcome:stopped; "
               "40 attack side:blue techniques:[single_leg] outcome:stopped; "
               "50 attack side:blue techniques:[single_leg] outcome:stopped; "
               "60 attack side:blue techniques:[single_leg] outcome:stopped; "
               "70 attack side:blue techniques:[single_leg] outcome:stopped; "
               "80 attack side:blue techniques:[single_leg] outcome:stopped; "
               "90 attack side:blue techniques:[single_leg] outcome:stopped; " SECOND
               "340 attack side:blue techniques:[single_leg] outcome:stopped; "
               "350 attack side:blue techniques:[double_leg] outcome:stopped; "
               "360 attack side:blue techniques:[double_leg] outcome:out",
     ""},
    {"22: the leader chases nobody", 22, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; " SECOND
               "340 attack side:red techniques:[single_leg] outcome:stopped; "
               "350 attack side:red techniques:[double_leg] outcome:stopped; "
               "360 attack side:red techniques:[double_leg] outcome:out",
     ""},

    {"23: a minute without an attack", 23, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; " SECOND
               "280 attack side:red techniques:[single_leg] outcome:stopped; "
               "310 attack side:blue techniques:[single_leg] outcome:stopped; "
               "330 attack side:blue techniques:[single_leg] outcome:stopped; 345 now",
     "Leader: no attack for 1:00 | Fleeing the hold or the mat: a caution and 1."},
    {"23: the figure grows in steps", 23, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; " SECOND
               "280 attack side:red techniques:[single_leg] outcome:stopped; "
               "340 attack side:blue techniques:[single_leg] outcome:stopped; "
               "350 attack side:blue techniques:[single_leg] outcome:stopped; 375 now",
     "Leader: no attack for 1:30 | Fleeing the hold or the mat: a caution and 1."},
    {"23: attacked since", 23, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; " SECOND
               "290 attack side:red techniques:[single_leg] outcome:open; "
               "310 attack side:blue techniques:[single_leg] outcome:stopped; "
               "330 attack side:blue techniques:[single_leg] outcome:stopped; 345 now",
     ""},
    {"23: on top", 23, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; " SECOND
               "310 attack side:blue techniques:[single_leg] outcome:stopped; "
               "330 attack side:blue techniques:[single_leg] outcome:stopped; "
               "340 score side:red points:2 action:takedown; 345 now",
     ""},
    {"23: right after a stop", 23, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; " SECOND
               "310 attack side:blue techniques:[single_leg] outcome:stopped; "
               "330 attack side:blue techniques:[single_leg] outcome:stopped; 340 clock do:stop; "
               "350 clock do:start; 352 now",
     ""},
    {"23: the other side once", 23, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; " SECOND
               "330 attack side:blue techniques:[single_leg] outcome:stopped; 345 now",
     ""},
    {"23: more than a minute and a half left", 23, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; " SECOND
               "270 attack side:blue techniques:[single_leg] outcome:stopped; "
               "280 attack side:blue techniques:[single_leg] outcome:stopped; 299 now",
     ""},
    {"23: the side behind", 23, SIDE_BLUE,
     FREESTYLE "10 score side:red points:2 action:takedown; " SECOND
               "310 attack side:red techniques:[single_leg] outcome:stopped; "
               "330 attack side:red techniques:[single_leg] outcome:stopped; 345 now",
     ""},

    {"25: two cautions", 25, SIDE_RED,
     FREESTYLE "20 caution side:red reason:fleeing_mat points:1; "
               "30 caution side:red reason:fleeing_mat points:1",
     "Two cautions: a third loses | A third caution ends the bout, whatever the score."},
    {"25: one", 25, SIDE_RED, FREESTYLE "20 caution side:red reason:fleeing_mat points:1", ""},
    {"25: one of them waits", 25, SIDE_RED,
     FREESTYLE "20 caution side:red reason:fleeing_mat points:1; "
               "30 caution side:red reason:fleeing_mat points:0 unconfirmed:true",
     ""},
    {"25: a passivity penalty is one, June 2013", 25, SIDE_RED,
     BOUT("june-2013") "20 caution side:red reason:fleeing_mat points:1; "
                       "30 passivity side:red stage:penalty points:1",
     "Two cautions: a third loses | A third caution ends the bout, whatever the score."},
    {"25: and none in 2022", 25, SIDE_RED,
     FREESTYLE "20 caution side:red reason:fleeing_mat points:1; "
               "30 passivity side:red stage:penalty points:1",
     ""},

    {"26: ten seconds of it gone", 26, SIDE_BLUE,
     FREESTYLE "40 passivity side:blue stage:activity; 50 now",
     "Activity: no attack yet | Without a score of Haddad by 1:50 left, 1 to Brandt."},
    {"26: it has only begun", 26, SIDE_BLUE,
     FREESTYLE "40 passivity side:blue stage:activity; 49 now", ""},
    {"26: attacked since", 26, SIDE_BLUE,
     FREESTYLE "40 passivity side:blue stage:activity; "
               "45 attack side:blue techniques:[single_leg] outcome:open; 50 now",
     ""},
    {"26: ended by a score", 26, SIDE_BLUE,
     FREESTYLE
     "40 passivity side:blue stage:activity; 45 score side:blue points:1 action:step_out; "
     "50 now",
     ""},
    {"26: its time is used up", 26, SIDE_BLUE,
     FREESTYLE "40 passivity side:blue stage:activity; 70 now", ""},
    {"26: waits to be confirmed", 26, SIDE_BLUE,
     FREESTYLE "40 passivity side:blue stage:activity unconfirmed:true; 50 now", ""},
    {"26: by the rule until 2022", 26, SIDE_BLUE,
     BOUT("freestyle-2015") "40 passivity side:blue stage:activity; 50 now",
     "Activity: no attack yet | Without a score by 1:50 left, 1 to Brandt."},

    {"27: the other side scored", 27, SIDE_BLUE,
     FREESTYLE "40 passivity side:blue stage:activity; 45 score side:red points:2 action:takedown",
     "Scored, and a 1 may follow | Only a score of Haddad ends the activity time."},
    {"27: nobody scored", 27, SIDE_BLUE, FREESTYLE "40 passivity side:blue stage:activity; 45 now",
     ""},
    {"27: scored before it", 27, SIDE_BLUE,
     FREESTYLE "30 score side:red points:2 action:takedown; 40 passivity side:blue stage:activity; "
               "45 now",
     ""},
    {"27: until 2022 either ended it", 27, SIDE_BLUE,
     BOUT("freestyle-2015") "40 passivity side:blue stage:activity; 45 score side:red points:2 "
                            "action:takedown",
     ""},
    {"27: the penalty has come", 27, SIDE_BLUE,
     FREESTYLE "40 passivity side:blue stage:activity; 45 score side:red points:2 action:takedown; "
               "70 passivity side:blue stage:penalty points:1",
     ""},

    {"28: three to none", 28, SIDE_RED,
     FREESTYLE "20 attack side:red techniques:[single_leg] outcome:stopped; "
               "40 attack side:red techniques:[single_leg] outcome:out; "
               "55 attack side:red techniques:[single_leg] outcome:stopped; 62 now",
     "One side attacking | Attacks in the last minute: Brandt 3, Haddad none."},
    {"28: the first of them is past", 28, SIDE_RED,
     FREESTYLE "20 attack side:red techniques:[single_leg] outcome:stopped; "
               "40 attack side:red techniques:[single_leg] outcome:out; "
               "55 attack side:red techniques:[single_leg] outcome:stopped; 80.1 now",
     ""},
    {"28: the bout is under a minute old", 28, SIDE_RED,
     FREESTYLE "20 attack side:red techniques:[single_leg] outcome:stopped; "
               "40 attack side:red techniques:[single_leg] outcome:out; "
               "55 attack side:red techniques:[single_leg] outcome:stopped; 59 now",
     ""},
    {"28: the other side attacks too", 28, SIDE_RED,
     FREESTYLE "10 attack side:blue techniques:[single_leg] outcome:open; "
               "20 attack side:red techniques:[single_leg] outcome:stopped; "
               "40 attack side:red techniques:[single_leg] outcome:out; "
               "55 attack side:red techniques:[single_leg] outcome:stopped; 62 now",
     ""},
    {"28: the other side is on top", 28, SIDE_RED,
     FREESTYLE "20 attack side:red techniques:[single_leg] outcome:stopped; "
               "40 attack side:red techniques:[single_leg] outcome:out; "
               "50 attack side:red techniques:[single_leg] outcome:stopped; "
               "55 score side:blue points:2 action:takedown; 62 now",
     ""},

    {"29: half a minute before", 29, SIDE_RED, FREESTYLE "90 now",
     "0-0: someone named at 2:00 | The officials must name a side if it is still 0-0."},
    {"29: not yet near", 29, SIDE_RED, FREESTYLE "89 now", ""},
    {"29: the time is reached", 29, SIDE_RED, FREESTYLE "120 now", ""},
    {"29: a point", 29, SIDE_RED, FREESTYLE "50 score side:red points:1 action:step_out; 90 now",
     ""},
    {"29: somebody is named", 29, SIDE_RED,
     FREESTYLE "80 passivity side:blue stage:activity; 90 now", ""},
    {"29: not in Greco-Roman", 29, SIDE_RED, GRECO "100 now", ""},
    {"29: not in two minutes", 29, SIDE_RED,
     "0 bout rules:freestyle-2022 age_group:u17; 0 clock do:start; 100 now", ""},

    {"30: half as many", 30, SIDE_RED,
     FREESTYLE "20 attack side:red techniques:[single_leg] outcome:stopped; "
               "40 attack side:red techniques:[single_leg] outcome:out; "
               "55 attack side:red techniques:[single_leg] outcome:stopped; "
               "95 attack side:red techniques:[single_leg] outcome:stopped; " SECOND "270 now",
     "Attacks: 4 then 0 | Brandt: 4 in period one, 0 in period two so far."},
    {"30: a minute isn't gone", 30, SIDE_RED,
     FREESTYLE "20 attack side:red techniques:[single_leg] outcome:stopped; "
               "40 attack side:red techniques:[single_leg] outcome:out; "
               "55 attack side:red techniques:[single_leg] outcome:stopped; "
               "95 attack side:red techniques:[single_leg] outcome:stopped; " SECOND "269 now",
     ""},
    {"30: one, at a minute and a half", 30, SIDE_RED,
     FREESTYLE "20 attack side:red techniques:[single_leg] outcome:stopped; "
               "40 attack side:red techniques:[single_leg] outcome:out; "
               "55 attack side:red techniques:[single_leg] outcome:stopped; "
               "95 attack side:red techniques:[single_leg] outcome:stopped; " SECOND
               "215 attack side:red techniques:[single_leg] outcome:stopped; 300 now",
     "Attacks: 4 then 1 | Brandt: 4 in period one, 1 in period two so far."},
    {"30: one, a moment before", 30, SIDE_RED,
     FREESTYLE "20 attack side:red techniques:[single_leg] outcome:stopped; "
               "40 attack side:red techniques:[single_leg] outcome:out; "
               "55 attack side:red techniques:[single_leg] outcome:stopped; "
               "95 attack side:red techniques:[single_leg] outcome:stopped; " SECOND
               "215 attack side:red techniques:[single_leg] outcome:stopped; 299.9 now",
     ""},
    {"30: three in period one", 30, SIDE_RED,
     FREESTYLE "20 attack side:red techniques:[single_leg] outcome:stopped; "
               "40 attack side:red techniques:[single_leg] outcome:out; "
               "55 attack side:red techniques:[single_leg] outcome:stopped; " SECOND "300 now",
     ""},
    {"30: six ahead", 30, SIDE_RED,
     FREESTYLE "20 attack side:red techniques:[single_leg] outcome:stopped; "
               "40 attack side:red techniques:[single_leg] outcome:out; "
               "55 attack side:red techniques:[single_leg] outcome:stopped; "
               "95 attack side:red techniques:[single_leg] outcome:stopped; "
               "100 score side:red points:4 action:throw; 110 score side:red points:2 "
               "action:exposure; " SECOND "300 now",
     ""},

    {"36: lost", 36, SIDE_BLUE,
     FREESTYLE "50 clock do:stop; 52 challenge side:blue outcome:asked; "
               "80 challenge side:blue outcome:rejected points:1",
     "No challenge left | Haddad lost it with 2:10 left in period one; 1 to Brandt."},
    {"36: without a point", 36, SIDE_BLUE,
     FREESTYLE "50 clock do:stop; 52 challenge side:blue outcome:asked; "
               "80 challenge side:blue outcome:rejected points:0",
     "No challenge left | Haddad lost it with 2:10 left in period one."},
    {"36: upheld", 36, SIDE_BLUE,
     FREESTYLE "50 clock do:stop; 52 challenge side:blue outcome:asked; "
               "80 challenge side:blue outcome:upheld",
     ""},

    {"reminder: a score", 0, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; 12 now",
     "Brandt leads 2-0 | With 2:50 left in period one."},
    {"reminder: twenty seconds later", 0, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; 30 now", ""},
    {"reminder: a score that waits", 0, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown unconfirmed:true; 12 now", ""},
    {"reminder: it is confirmed", 0, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown unconfirmed:true; 14 confirm; 15 now",
     "Brandt leads 2-0 | With 2:46 left in period one."},
    {"reminder: level", 0, SIDE_RED,
     FREESTYLE
     "10 score side:red points:2 action:takedown; 20 score side:blue points:2 action:takedown",
     "2-2, Haddad on last point | With 2:40 left in period one."},
    {"reminder: a score taken out", 0, SIDE_RED,
     FREESTYLE
     "10 score side:red points:2 action:takedown; 20 score side:red points:2 action:exposure; "
     "50 void ref:e4; 51 now",
     "Brandt leads 2-0 | With 2:10 left in period one."},
    {"reminder: a penalty taken out", 0, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; "
               "40 passivity side:blue stage:penalty points:1; 80 void ref:e4; 81 now",
     "Brandt leads 2-0 | With 1:40 left in period one."},
    {"reminder: a restart", 0, SIDE_RED,
     FREESTYLE
     "10 score side:red points:2 action:takedown; 50 clock do:stop; 60 clock do:start; 62 now",
     "Brandt leads 2-0 | With 2:10 left in period one."},
    {"reminder: not at the bout's start", 0, SIDE_RED, FREESTYLE "5 now", ""},
    {"reminder: 1:00 of period one", 0, SIDE_RED,
     FREESTYLE "70 score side:red points:2 action:takedown; 121 now",
     "One minute left in period one | Brandt leads 2-0."},
    {"reminder: 0:30 of the bout", 0, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; 20 score side:blue points:2 "
               "action:takedown; " SECOND "361 now",
     "Thirty seconds left | 2-2, Haddad ahead on last point."},
    {"reminder: a minute without a score", 0, SIDE_RED, FREESTYLE "61 now",
     "No score for a minute | Still 0-0 with 2:00 left in period one."},
    {"reminder: two minutes", 0, SIDE_RED,
     FREESTYLE "20 score side:red points:2 action:takedown; 141 now",
     "No score for two minutes | Brandt leads 2-0 with 0:40 left in period one."},
    {"reminder: the break", 0, SIDE_RED,
     FREESTYLE "20 score side:red points:2 action:takedown; 205 now",
     "Brandt leads 2-0 | After period one, 3:00 to come."},
    {"reminder: a name with no room", 0, SIDE_RED,
     "0 bout rules:freestyle-2022 red:{name:'Tahina Rakotoandrianavosoambola'} blue:{name:Haddad}; "
     "0 clock do:start; 10 score side:red points:2 action:takedown; 12 now",
     "Red leads 2-0 | With 2:50 left in period one."},
    {"reminder: the clock is unsure", 0, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; 12 clock do:lost", ""},
};

ParameterizedTestParameters(cards, book)
{
    return cr_make_param_array(struct row, referee_rows,
                               sizeof referee_rows / sizeof *referee_rows);
}
ParameterizedTest(struct row *row, cards, book)
{
    expect_row(row);
}

/* ---- beyond one action, and of the archive (`some_past` above) ---- */

static struct row beyond_rows[] = {
    {"32: late before today, and now", 32, SIDE_RED,
     FREESTYLE "150 score side:red points:2 action:takedown; 152 now",
     "Late scorer: 2 today | Points in the last 30 s of a period, in 2 bouts."},
    {"32: not late enough", 32, SIDE_RED,
     FREESTYLE "149.9 score side:red points:2 action:takedown; 152 now", ""},
    {"32: in two bouts before this one", 32, SIDE_BLUE, FREESTYLE "5 now",
     "Late scorer: 3 today | Points in the last 30 s of a period, in 2 bouts."},
    {"32: and grown old", 32, SIDE_BLUE, FREESTYLE "46 now", ""},
    {"32: but again in the last minute", 32, SIDE_BLUE, FREESTYLE SECOND "331 now",
     "Late scorer: 3 today | Points in the last 30 s of a period, in 2 bouts."},
    {"33: scored first", 33, SIDE_RED, FREESTYLE "10 score side:red points:2 action:takedown",
     "First score: won 4 of 6 | Brandt, when scoring first, in this archive."},
    {"33: fewer than five bouts", 33, SIDE_BLUE,
     FREESTYLE "10 score side:blue points:2 action:takedown", ""},
    {"33: the other scored first", 33, SIDE_RED,
     FREESTYLE "10 score side:blue points:2 action:takedown; "
               "20 score side:red points:2 action:takedown",
     ""},
    {"37: two actions", 37, SIDE_BLUE,
     FREESTYLE "10 score side:red points:4 action:throw; 20 score side:red points:4 action:throw",
     "It takes two actions | 4 + 4 makes it 8-8, Haddad ahead on last point."},
    {"37: on the criteria", 37, SIDE_BLUE,
     FREESTYLE "10 score side:red points:2 action:takedown; "
               "20 score side:red points:2 action:exposure; "
               "30 score side:red points:2 action:exposure",
     "It takes two actions | 4 + 2 makes it 6-6, Haddad ahead on higher holds."},
    {"37: one is enough", 37, SIDE_BLUE, FREESTYLE "10 score side:red points:4 action:throw", ""},
    {"37: it leads", 37, SIDE_RED,
     FREESTYLE "10 score side:red points:4 action:throw; 20 score side:red points:4 action:throw",
     ""},
    {"38: with two minutes left, too slow", 38, SIDE_BLUE,
     FREESTYLE "10 score side:red points:4 action:throw; 20 score side:blue points:1 "
               "action:step_out; " SECOND "272 now",
     "Needs 4 in 2:00 | 1 point in 4:00 so far: that rate falls short."},
    {"38: fast enough", 38, SIDE_BLUE,
     FREESTYLE "10 score side:red points:5 action:throw; 20 score side:blue points:4 action:throw; "
               "30 score side:red points:5 action:throw; 40 score side:blue points:4 "
               "action:throw; " SECOND "272 now",
     "Needs 3 in 2:00 | 8 points in 4:00 so far: that rate is enough."},
    {"38: with one left, no more", 38, SIDE_BLUE,
     FREESTYLE "10 score side:red points:5 action:throw; 20 score side:blue points:4 action:throw; "
               "30 score side:red points:5 action:throw; 40 score side:blue points:4 "
               "action:throw; " SECOND "332 now",
     "Needs 3 in 1:00 | 8 points in 5:00 so far: that rate falls short."},
    {"38: one point is told by others", 38, SIDE_BLUE,
     FREESTYLE "10 score side:blue points:1 action:step_out; "
               "50 score side:red points:1 action:step_out; " SECOND "272 now",
     ""},
    {"38: nothing yet", 38, SIDE_BLUE,
     FREESTYLE "10 score side:red points:2 action:takedown; " SECOND "272 now",
     "Needs 2 in 2:00 | No points in 4:00 so far: that rate falls short."},
    {"38: before that", 38, SIDE_BLUE,
     FREESTYLE "10 score side:red points:2 action:takedown; " SECOND "268 now", ""},
    {"39: it is safe, and one action ends it", 39, SIDE_RED,
     FREESTYLE "10 score side:red points:4 action:throw; 20 score side:red points:4 action:throw",
     "No single action turns it | Haddad needs two actions; a 2 by Brandt ends it."},
    {"39: one action makes it safe", 39, SIDE_RED,
     FREESTYLE "10 score side:red points:4 action:throw",
     "A 2: beyond any one action | At 6-0 no single action of Haddad turns it."},
    {"39: a narrow lead", 39, SIDE_RED, FREESTYLE "10 score side:red points:1 action:step_out", ""},
    {"39: behind", 39, SIDE_BLUE, FREESTYLE "10 score side:red points:4 action:throw", ""},
    {"40: others came back", 40, SIDE_BLUE,
     FREESTYLE "10 score side:red points:2 action:takedown; 31 now",
     "Came back: 3 of 12 | Sides 2 points behind after a minute, in this archive."},
    {"40: at the nearest minute, not before", 40, SIDE_BLUE,
     FREESTYLE "10 score side:red points:2 action:takedown; 29 now", ""},
    {"40: fewer than five", 40, SIDE_BLUE,
     FREESTYLE "10 score side:red points:2 action:takedown; 91 now", ""},
    {"40: by the criteria", 40, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; "
               "20 score side:blue points:2 action:takedown; " SECOND "301 now",
     "Came back: 11 of 30 | Sides level and behind by the criteria after 5 minutes, in this "
     "archive."},
    {"40: it leads", 40, SIDE_RED, FREESTYLE "10 score side:red points:2 action:takedown; 31 now",
     ""},
    {"41: met before", 41, SIDE_RED, FREESTYLE "5 now",
     "Won 2 of 3 meetings | The last time 6-4, Haddad won on points."},
    {"41: of the one who won more", 41, SIDE_BLUE, FREESTYLE "5 now", ""},
};

ParameterizedTestParameters(cards, beyond)
{
    return cr_make_param_array(struct row, beyond_rows, sizeof beyond_rows / sizeof *beyond_rows);
}
ParameterizedTest(struct row *row, cards, beyond)
{
    expect_row(row);
}

/* ---- around the bout (`some_day` above), and summaries ---- */

#define CALLED                                                                                     \
    "0 bout rules:freestyle-2022 red:{name:'Ada Brandt',family:Brandt} "                           \
    "blue:{name:'Noor Haddad',family:Haddad}; "
#define TWO_TRIES                                                                                  \
    "10 attack side:red techniques:[single_leg] leg:lead outcome:stopped; "                        \
    "40 attack side:red techniques:[single_leg] leg:lead outcome:scored; "                         \
    "50 attack side:red techniques:[double_leg] outcome:stopped; "
#define WON                                                                                        \
    "60 score side:red points:2 action:takedown; 70 clock do:stop; 80 close how:fall winner:red"

static struct row around_rows[] = {
    {"45: called", 45, SIDE_RED, CALLED "5 now", "Brandt: seed 2 | Won the club's cup as a cadet."},
    {"45: nothing in the roster", 45, SIDE_BLUE, CALLED "5 now", ""},
    {"45: has been said", 45, SIDE_RED, CALLED "30 now", ""},
    {"45: not while they wrestle", 45, SIDE_RED, FREESTYLE "5 now", ""},
    {"45: in the break the second", 45, SIDE_RED, FREESTYLE "190 now",
     "Brandt: seed 2 | Trains with her sister."},
    {"45: in a short stoppage", 45, SIDE_RED, FREESTYLE "30 clock do:stop; 49 now", ""},
    {"45: in a long one", 45, SIDE_RED, FREESTYLE "30 clock do:stop; 50 now",
     "Brandt: seed 2 | Trains with her sister."},
    {"45: until it goes on", 45, SIDE_RED, FREESTYLE "30 clock do:stop; 55 clock do:start; 56 now",
     ""},
    {"46: won", 46, SIDE_RED, CALLED "5 now", "Today: 2 won, 0 lost | Last beat Sow 6-2, by fall."},
    {"46: lost", 46, SIDE_BLUE, CALLED "5 now",
     "Today: 1 won, 1 lost | Last lost to Lindqvist, 3-5, on points."},
    {"47: where it leads", 47, SIDE_RED, CALLED "5 now",
     "Winner goes on: final | There against Aydin."},
    {"47: said once", 47, SIDE_BLUE, CALLED "5 now", ""},
    {"48: not before the result", 48, SIDE_RED, CALLED "5 now", ""},
    {"48: the next bout", 48, SIDE_RED, FREESTYLE WON, "Brandt next: final | Against Aydin."},
    {"48: a place", 48, SIDE_BLUE, FREESTYLE WON,
     "Bronze for Haddad | Haddad has no further bout today."},
    {"48: the result waits", 48, SIDE_RED, FREESTYLE WON " unconfirmed:true", ""},
    {"48: and is taken out", 48, SIDE_RED, FREESTYLE WON "; 85 void ref:e5", ""},
    {"49: the first win", 49, SIDE_RED, FREESTYLE WON,
     "First win for Harbour | Harbour: 1 won, 3 lost; place 2 in the table with 31 points."},
    {"49: of the loser nothing", 49, SIDE_BLUE, FREESTYLE WON, ""},
    {"50: the closest that goes on", 50, SIDE_RED, CALLED "5 now", "Mat C: 1-1 | Ito leads Marsh."},
    {"50: not while they wrestle", 50, SIDE_RED, FREESTYLE "5 now", ""},
    {"51: an upset", 51, SIDE_RED, CALLED "5 now",
     "Upset: seed 1 beaten | Ito beat Petrov 10-0, by superiority."},
    {"52: the next here", 52, SIDE_RED, FREESTYLE WON,
     "Next on this mat | Banda against Kovac, in about 15 minutes."},
    {"52: has been said", 52, SIDE_RED, FREESTYLE WON "; 200 now", ""},
    {"52: nearer", 52, SIDE_RED, FREESTYLE WON "; 125 now",
     "Next on this mat | Banda against Kovac, in about 10 minutes."},
    {"53: in the break", 53, SIDE_RED, FREESTYLE TWO_TRIES "190 now",
     "Attacks: 1 of 3 scored | Most often a single leg: 1 of 2."},
    {"53: one is no summary", 53, SIDE_RED,
     FREESTYLE "10 attack side:red techniques:[single_leg] outcome:stopped; 190 now", ""},
    {"53: not while they wrestle", 53, SIDE_RED, FREESTYLE TWO_TRIES "60 now", ""},
    {"53: after it", 53, SIDE_RED, FREESTYLE TWO_TRIES WON,
     "Attacks: 1 of 3 scored | Most often a single leg: 1 of 2."},
    {"54: the result", 54, SIDE_RED, FREESTYLE WON,
     "Brandt wins by fall | After 1:10; it was 2-0."},
    {"54: by the criteria", 54, SIDE_BLUE,
     FREESTYLE "10 score side:red points:1 action:step_out; "
               "20 score side:blue points:1 action:step_out; " SECOND
               "390 now; 400 close how:points winner:blue",
     "Haddad wins 1-1 | On points, ahead on last point; 1-1 after period one."},
    {"54: by forfeit", 54, SIDE_RED, CALLED "9 close how:forfeit winner:red",
     "Brandt wins by forfeit | No bout was wrestled."},
    {"54: nobody has won", 54, SIDE_RED, FREESTYLE "9 close how:both_injured", ""},
    {"54: has been said", 54, SIDE_RED, FREESTYLE WON "; 110 now", ""},
    {"54: of the winner alone", 54, SIDE_BLUE, FREESTYLE WON, ""},
    {"54: in period two", 54, SIDE_BLUE,
     FREESTYLE "10 score side:red points:1 action:step_out; " SECOND
               "220 score side:blue points:4 action:throw; 230 clock do:stop; "
               "240 close how:points winner:blue",
     "Haddad wins 4-1 | On points, after 3:20; 0-1 after period one."},
};

ParameterizedTestParameters(cards, around)
{
    return cr_make_param_array(struct row, around_rows, sizeof around_rows / sizeof *around_rows);
}
ParameterizedTest(struct row *row, cards, around)
{
    expect_row(row);
}

/* Without a day only the summaries are left. */
Test(cards, no_day_around)
{
    for (size_t i = 0; i < sizeof around_rows / sizeof *around_rows; i++) {
        const struct row *row = &around_rows[i];
        struct shown shown;
        shown_init(&shown, row->name, row->story);
        bool shows = card_by_rule(test_language("en"), &shown.state, NULL, NULL, row->rule,
                                  row->side, &shown.card);
        cr_expect(eq(int, shows, row->want[0] != '\0' && row->rule >= 53), "%s", row->name);
        shown_close(&shown);
    }
}

/* Without an archive nothing is said of it. */
Test(cards, no_archive)
{
    for (size_t i = 0; i < sizeof beyond_rows / sizeof *beyond_rows; i++) {
        const struct row *row = &beyond_rows[i];
        struct shown shown;
        shown_init(&shown, row->name, row->story);
        bool shows = card_by_rule(test_language("en"), &shown.state, NULL, NULL, row->rule,
                                  row->side, &shown.card);
        bool of_archive = row->rule < 37 || row->rule > 39;
        cr_expect(eq(int, shows, row->want[0] != '\0' && !of_archive), "%s", row->name);
        shown_close(&shown);
    }
}

/* ---- while a challenge is open ---- */

#define CHALLENGED(of) "challenge side:red outcome:asked of:" of
static struct row ruling_rows[] = {
    {"42: lost", 42, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; "
               "20 score side:blue points:4 action:throw unconfirmed:true; 22 " CHALLENGED("e4"),
     "If lost: 5-2 | Haddad ahead."},
    {"42: told once", 42, SIDE_BLUE,
     FREESTYLE "20 score side:blue points:4 action:throw unconfirmed:true; 22 " CHALLENGED("e3"),
     ""},
    {"43: taken out", 43, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; "
               "20 score side:blue points:4 action:throw unconfirmed:true; 22 " CHALLENGED("e4"),
     "If taken out: 2-0 | Brandt ahead."},
    {"44: of less value", 44, SIDE_BLUE,
     FREESTYLE "10 score side:red points:2 action:takedown; "
               "20 score side:blue points:4 action:throw unconfirmed:true; 22 " CHALLENGED("e4"),
     "If a 2: 2-2 | Haddad ahead on last point."},
    {"44: the other way, where it can't be less", 44, SIDE_BLUE,
     FREESTYLE "20 score side:blue points:1 action:step_out; 22 " CHALLENGED("e3"),
     "If 1 the other way: 1-0 | Brandt ahead."},
    {"43: own points, of more", 43, SIDE_RED,
     FREESTYLE "20 score side:red points:2 action:takedown; 22 " CHALLENGED("e3"),
     "If a 4: 4-0 | Brandt ahead."},
    {"44: of still more", 44, SIDE_BLUE,
     FREESTYLE "20 score side:red points:2 action:takedown; 22 " CHALLENGED("e3"),
     "If a 5: 5-0 | Brandt ahead."},
    {"43: an attack that gave nothing", 43, SIDE_RED,
     FREESTYLE "10 score side:blue points:4 action:throw; "
               "20 attack side:red techniques:[single_leg] outcome:out; 22 " CHALLENGED("e4"),
     "If 2 to Brandt: 4-2 | Haddad ahead."},
    {"43: a caution goes", 43, SIDE_RED,
     FREESTYLE "20 caution side:red reason:fleeing_mat points:1; 22 " CHALLENGED("e3"),
     "If taken out: 0-0 | Nobody ahead."},
    {"44: a caution can only stay or go", 44, SIDE_BLUE,
     FREESTYLE "20 caution side:red reason:fleeing_mat points:0; 22 " CHALLENGED("e3"), ""},
    {"43: it would end the bout", 43, SIDE_RED,
     FREESTYLE "10 score side:red points:5 action:throw; 20 score side:red points:4 action:throw; "
               "25 attack side:red techniques:[gut_wrench] outcome:out; 30 " CHALLENGED("e5"),
     "If 2 to Brandt: 11-0 | Brandt ahead: superiority."},
    {"42: the time is up", 42, SIDE_RED,
     FREESTYLE "10 score side:red points:2 action:takedown; "
               "12 score side:blue points:1 action:step_out; " SECOND
               "400 score side:blue points:1 action:step_out; 401 " CHALLENGED("e7"),
     "If lost: 3-2 | Haddad ahead, and the time is up."},
    {"43: and on the criteria", 43, SIDE_RED,
     FREESTYLE "10 score side:red points:1 action:step_out; "
               "12 score side:blue points:1 action:step_out; " SECOND
               "400 score side:blue points:1 action:step_out; 401 " CHALLENGED("e7"),
     "If taken out: 1-1 | Haddad ahead on last point, and the time is up."},
    {"42: none is open", 42, SIDE_RED, FREESTYLE "20 score side:blue points:4 action:throw", ""},
    {"43: it is decided", 43, SIDE_RED,
     FREESTYLE "20 score side:blue points:4 action:throw; 22 " CHALLENGED(
         "e3") "; "
               "30 challenge side:red outcome:upheld",
     ""},
    {"43: a review without a challenge", 43, SIDE_RED,
     FREESTYLE "20 score side:blue points:4 action:throw; 22 stoppage kind:review do:start", ""},
};

ParameterizedTestParameters(cards, rulings)
{
    return cr_make_param_array(struct row, ruling_rows, sizeof ruling_rows / sizeof *ruling_rows);
}
ParameterizedTest(struct row *row, cards, rulings)
{
    expect_row(row);
}

/* All of them have their words, in every language, and no two say the same. */
Test(cards, every_ruling_in_words)
{
    static const char *const names[] = {"en", "de"};
    static struct told_ruling told[RULINGS_MAX];
    for (size_t i = 0; i < sizeof ruling_rows / sizeof *ruling_rows; i++)
        for (size_t j = 0; j < 2; j++) {
            struct shown shown;
            shown_init(&shown, ruling_rows[i].name, ruling_rows[i].story);
            size_t count = rulings_told(test_language(names[j]), &shown.state, told);
            if (ruling_rows[i].want[0] != '\0')
                cr_expect(gt(sz, count, 5), "%s", ruling_rows[i].name);
            for (size_t k = 0; k < count; k++) {
                cr_expect(ne(chr, told[k].headline[0], '\0'), "%s: %zu", ruling_rows[i].name, k);
                cr_expect(ne(chr, told[k].line[0], '\0'), "%s: %zu", ruling_rows[i].name, k);
                for (size_t other = 0; other < k; other++)
                    cr_expect(strcmp(told[k].headline, told[other].headline) != 0, "%s: %s",
                              ruling_rows[i].name, told[k].headline);
            }
            shown_close(&shown);
        }
}

/* ---- never, for all ---- */

struct table_of_rows {
    const struct row *rows;
    size_t count;
};

static const struct table_of_rows tables[] = {
    {attack_rows, sizeof attack_rows / sizeof *attack_rows},
    {score_rows, sizeof score_rows / sizeof *score_rows},
    {referee_rows, sizeof referee_rows / sizeof *referee_rows},
    {beyond_rows, sizeof beyond_rows / sizeof *beyond_rows},
};

/* Each row that shows, with this told at its very moment, says nothing. */
static int silenced_by(const char *end, bool (*concerns)(int rule))
{
    int count = 0;
    for (size_t i = 0; i < sizeof tables / sizeof *tables; i++)
        for (size_t j = 0; j < tables[i].count; j++) {
            const struct row *row = &tables[i].rows[j];
            if (row->want[0] == '\0' || !concerns(row->rule))
                continue;
            struct shown shown;
            show(&shown, row->name, row->story, row->rule, row->side);
            cr_assert(shown.shows, "%s shows", row->name);
            shown_close(&shown);
            char text[1600];
            double now = 0;
            const char *at = strstr(row->story, " now");
            if (at != NULL) {
                while (at > row->story && at[-1] != ';' && at[-1] != ' ')
                    at--;
                now = strtod(at, NULL);
                snprintf(text, sizeof text, "%.*s %.1f %s", (int)(at - row->story), row->story, now,
                         end);
            } else {
                snprintf(text, sizeof text, "%s; %s", row->story, end);
                for (char *twice; (twice = strstr(text, "; ;")) != NULL;)
                    twice[0] = ' ';
            }
            show(&shown, row->name, text, row->rule, row->side);
            cr_expect(not(shown.shows), "%s, then %s: %s", row->name, end, shown.text);
            shown_close(&shown);
            count++;
        }
    return count;
}

static bool every_rule(int rule)
{
    return rule >= 0;
}

/* Those that count points or cautions, or rest on who leads. */
static bool rests_on_points(int rule)
{
    return rule == 0 || (rule >= 13 && rule <= 27) || rule == 29 || rule == 32 || rule == 33 ||
           (rule >= 35 && rule <= 40);
}

Test(cards, nothing_under_review)
{
    cr_expect(gt(int, silenced_by("challenge side:red outcome:asked", every_rule), 60));
    cr_expect(gt(int, silenced_by("stoppage kind:review do:start", every_rule), 60));
}

Test(cards, nothing_when_it_is_over)
{
    cr_expect(gt(int, silenced_by("close how:fall winner:red", every_rule), 60));
    cr_expect(gt(int,
                 silenced_by("score side:red points:5 action:throw;"
                             "score side:red points:5 action:throw;"
                             "score side:red points:5 action:throw;"
                             "score side:red points:5 action:throw",
                             rests_on_points),
                 30));
}

Test(cards, nothing_on_points_that_wait)
{
    cr_expect(gt(int,
                 silenced_by("caution side:red reason:fleeing_mat points:0 unconfirmed:true",
                             rests_on_points),
                 30));
}

Test(cards, nothing_before_and_off_the_mat)
{
    struct shown shown;
    struct card cards[CARD_PLACES];
    int64_t next_ms;
    shown_init(&shown, "called", "0 bout rules:freestyle-2022");
    cr_expect(eq(sz, cards_of(test_language("en"), &shown.state, NULL, NULL, cards, &next_ms), 0));
    cr_expect(eq(i64, next_ms, INT64_MAX));
    shown_close(&shown);
    shown_init(&shown, "off",
               FREESTYLE "10 score side:red points:2 action:takedown; "
                         "12 bout rules:freestyle-2022 off:true");
    cr_expect(eq(sz, cards_of(test_language("en"), &shown.state, NULL, NULL, cards, &next_ms), 0));
    shown_close(&shown);
}

/* ---- which card takes the place ---- */

struct place_row {
    char name[56];
    char story[900];
    int rules[CARD_PLACES]; /* −1: empty */
    bool knows;             /* an archive is there */
};
ParameterizedTestParameters(cards, places)
{
    static struct place_row rows[] = {
        {"nothing has happened", FREESTYLE "5 now", {-1, -1, -1}, false},
        {"a score: the reminder, and what it takes",
         FREESTYLE "10 score side:red points:4 action:throw",
         {39, 19, 0},
         false},
        {"one turn from the end beats the pattern",
         FREESTYLE
         "5 score side:red points:4 action:throw; 40 score side:red points:2 action:takedown; "
         "45 score side:red points:2 action:exposure",
         {16, 37, 0},
         false},
        {"the minute's reminder, then who leads and why",
         FREESTYLE "10 score side:red points:2 action:takedown; "
                   "20 score side:blue points:2 action:takedown; " SECOND "352 now",
         {-1, -1, 21},
         false},
        {"while a challenge is open, its rulings",
         FREESTYLE "10 score side:blue points:4 action:throw unconfirmed:true; "
                   "12 challenge side:red outcome:asked of:e3",
         {43, 44, 42},
         false},
        {"at the start, those who have met", FREESTYLE "5 now", {41, 32, -1}, true},
        {"in the break, what was old",
         FREESTYLE "10 attack side:red techniques:[low_single] leg:lead outcome:stopped; "
                   "40 attack side:red techniques:[ankle_pick] leg:lead outcome:scored; 190 now",
         {1, -1, 0},
         false},
    };
    return cr_make_param_array(struct place_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct place_row *row, cards, places)
{
    struct shown shown;
    struct card cards[CARD_PLACES];
    int64_t next_ms;
    shown_init(&shown, row->name, row->story);
    cards_of(test_language("en"), &shown.state, row->knows ? &some_past : NULL, NULL, cards,
             &next_ms);
    for (int i = 0; i < CARD_PLACES; i++)
        cr_expect(eq(int, cards[i].id[0] != '\0' ? cards[i].rule : -1, row->rules[i]),
                  "%s: place %d: %s", row->name, i + 1, cards[i].headline);
    shown_close(&shown);
}

/* ---- what a card rests on ---- */

struct evidence_row {
    char name[56];
    int rule;
    enum side side;
    char story[700];
    char places[60]; /* of the events, from 0 */
    int since;       /* in seconds of the story */
};
ParameterizedTestParameters(cards, evidence)
{
    static struct evidence_row rows[] = {
        {"attempts, since the last was known", 1, SIDE_RED,
         FREESTYLE "10 attack side:red techniques:[low_single] leg:lead outcome:stopped; "
                   "20 attack side:blue techniques:[low_single] leg:lead outcome:stopped; "
                   "40 attack side:red techniques:[ankle_pick] outcome:scored; "
                   "44 amend ref:e5 set:{leg:lead}; 50 now",
         "2 4", 44},
        {"an attempt's score, since it is confirmed", 7, SIDE_RED,
         FREESTYLE "10 attack side:red techniques:[single_leg,double_leg] outcome:open; "
                   "12 score side:red points:2 action:takedown attack:e3 unconfirmed:true; "
                   "15 confirm; 20 now",
         "2 3", 15},
        {"attempts of the last minute alone", 22, SIDE_BLUE,
         FREESTYLE "10 score side:red points:2 action:takedown; "
                   "50 attack side:blue techniques:[single_leg] outcome:stopped; " SECOND
                   "340 attack side:blue techniques:[single_leg] outcome:stopped; "
                   "345 attack side:red techniques:[single_leg] outcome:stopped; "
                   "350 attack side:blue techniques:[double_leg] outcome:stopped; "
                   "360 attack side:blue techniques:[double_leg] outcome:out; 362 now",
         "6 8 9", 360},
        {"time made it so", 17, SIDE_RED,
         FREESTYLE "10 score side:red points:2 action:takedown; "
                   "40 score side:red points:2 action:takedown; 55 now",
         "2 3", 50},
        {"time, with the clock stopped meanwhile", 17, SIDE_RED,
         FREESTYLE "10 score side:red points:2 action:takedown; "
                   "40 score side:red points:2 action:takedown; 44 clock do:stop; "
                   "60 clock do:start; 70 now",
         "2 3", 66},
    };
    return cr_make_param_array(struct evidence_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct evidence_row *row, cards, evidence)
{
    struct shown shown;
    char places[100] = "";
    show(&shown, row->name, row->story, row->rule, row->side);
    cr_assert(shown.shows, "%s shows", row->name);
    for (size_t i = 0; i < shown.card.evidence_count; i++)
        snprintf(places + strlen(places), sizeof places - strlen(places), "%s%d", i > 0 ? " " : "",
                 (int)shown.card.evidence[i]);
    cr_expect(strcmp(places, row->places) == 0, "%s: %s", row->name, places);
    cr_expect(eq(i64, shown.card.since_ms - story_begins_ms, row->since * INT64_C(1000)), "%s",
              row->name);
    shown_close(&shown);
}

/* ---- what always holds ---- */

enum { CARDS_SEEN_MAX = 4096 };

struct seen { /* ids, and what they said */
    struct card cards[CARDS_SEEN_MAX];
    size_t count;
};

static void expect_same_words(struct seen *seen, const char *name, const struct card *card)
{
    for (size_t i = 0; i < seen->count; i++)
        if (strcmp(seen->cards[i].id, card->id) == 0) {
            cr_expect(strcmp(seen->cards[i].headline, card->headline) == 0 &&
                          strcmp(seen->cards[i].line, card->line) == 0,
                      "%s: %s says %s", name, card->id, card->headline);
            return;
        }
    cr_assert(lt(sz, seen->count, CARDS_SEEN_MAX));
    seen->cards[seen->count++] = *card;
}

static void expect_evidence(const char *name, const struct state *state, const struct card *card)
{
    for (size_t i = 0; i < card->evidence_count; i++) {
        const struct read_event *read = &state->fold->events[card->evidence[i]];
        cr_expect(read->stands, "%s: evidence of \"%s\" stands", name, card->headline);
        cr_expect(read->confirmed || card->kind == CARD_RULING,
                  "%s: evidence of \"%s\" is confirmed", name, card->headline);
    }
}

/* "… leads 4-2": then that side leads, and by that score. */
static void expect_true_lead(const char *name, const struct state *state, const struct card *card)
{
    int one = 0, other = 0;
    const char *leads = strstr(card->headline, " leads ");
    if (leads == NULL)
        return;
    cr_assert(eq(int, sscanf(leads, " leads %d-%d", &one, &other), 2));
    enum side side = state->confirmed_leader.side;
    cr_assert(ne(int, side, SIDE_NONE), "%s: somebody leads: %s", name, card->headline);
    cr_expect(eq(int, one, state->confirmed.sides[side_index(side)].points), "%s", name);
    cr_expect(eq(int, other, state->confirmed.sides[side_index(side_other(side))].points), "%s",
              name);
}

static void expect_card(const char *name, const struct state *state, const struct card *card,
                        int place)
{
    cr_expect(le(sz, text_characters(card->headline), 30), "%s: %s", name, card->headline);
    cr_expect(le(sz, text_words(card->headline), 6), "%s: %s", name, card->headline);
    cr_expect(gt(sz, text_characters(card->headline), 4), "%s", name);
    cr_expect(le(sz, text_characters(card->line), 100), "%s: %s", name, card->line);
    cr_expect(eq(ptr, strchr(card->line, '%'), NULL), "%s: no percentages: %s", name, card->line);
    cr_expect(le(i64, card->since_ms, state->now_ms), "%s: %s came to be", name, card->headline);
    bool of_a_side = card->kind == CARD_PATTERN || card->kind == CARD_NEEDS ||
                     card->kind == CARD_PAST || card->rule == 43 || card->rule == 44 ||
                     card->kind == CARD_WHO || card->rule == 48 || card->rule == 53;
    cr_expect(eq(int, of_a_side, place < 2), "%s: %s has its place", name, card->headline);
    if (place < 2)
        cr_expect(eq(int, card->side, place == 0 ? SIDE_RED : SIDE_BLUE), "%s", name);
    if (card->kind == CARD_PAST)
        cr_expect(gt(sz, card->figure_count, 0), "%s: %s has its base", name, card->headline);
    if (card->kind == CARD_NEEDS || card->kind == CARD_LEADER || card->kind == CARD_TIME)
        for (int i = 0; i < 2; i++)
            cr_expect(eq(int, state->fold->unconfirmed[i], 0), "%s: %s", name, card->headline);
    cr_expect(eq(int, state->under_review, card->kind == CARD_RULING), "%s: %s", name,
              card->headline);
    expect_evidence(name, state, card);
    expect_true_lead(name, state, card);
}

static bool same_cards(const struct card one[CARD_PLACES], const struct card other[CARD_PLACES])
{
    for (int i = 0; i < CARD_PLACES; i++)
        if (strcmp(one[i].id, other[i].id) != 0)
            return false;
    return true;
}

/* From now to the moment named as the next, nothing changes; then on, up to `until_ms`. */
static void expect_until(const char *name, struct seen *seen, const struct fold *fold,
                         int64_t now_ms, int64_t until_ms)
{
    for (int steps = 0; now_ms <= until_ms; steps++) {
        struct card cards[CARD_PLACES], later[CARD_PLACES];
        int64_t next_ms, later_next_ms;
        struct state state = state_of(fold, now_ms);
        size_t count =
            cards_of(test_language("en"), &state, &some_past, &some_day, cards, &next_ms);
        for (int i = 0; i < CARD_PLACES; i++) {
            if (cards[i].id[0] == '\0')
                continue;
            count--;
            expect_card(name, &state, &cards[i], i);
            expect_same_words(seen, name, &cards[i]);
        }
        cr_expect(eq(sz, count, 0), "%s: as many as it says", name);
        cr_assert(gt(i64, next_ms, state.now_ms), "%s: time goes on", name);
        cr_assert(lt(int, steps, 2000), "%s: and is not cut in slices", name);
        int64_t last_ms = next_ms - 1 < until_ms ? next_ms - 1 : until_ms;
        struct state then = state_of(fold, last_ms);
        cards_of(test_language("en"), &then, &some_past, &some_day, later, &later_next_ms);
        cr_expect(same_cards(cards, later), "%s: cards changed before %lld", name,
                  (long long)(next_ms - story_begins_ms));
        if (next_ms > until_ms)
            return;
        now_ms = next_ms;
    }
}

/* Every bout of the log, after each of its events, and on to the next one. */
static void expect_bouts(const char *name, const struct log *log, struct seen *seen)
{
    for (size_t i = 0; i < log->bout_count; i++) {
        const struct bout *bout = log->bouts[i];
        struct fold fold;
        fold_init(&fold, bout, malloc, free);
        seen->count = 0;
        for (size_t count = 1; count <= bout->count; count++) {
            cr_assert(fold_read(&fold, count));
            int64_t now_ms = bout->events[count - 1].at_ms;
            int64_t until_ms =
                count < bout->count ? bout->events[count].at_ms : now_ms + 10 * 60000;
            expect_until(name, seen, &fold, now_ms, until_ms);
        }
        fold_close(&fold);
    }
}

Test(cards, demo_day, .timeout = 120)
{
    struct story story;
    static struct seen seen;
    size_t size;
    char *text = file_text("fixtures/demo/day.ndjson", &size);
    story_init(&story);
    for (char *rest = text, *line; (line = strsep(&rest, "\n")) != NULL;)
        if (line[0] != '\0')
            cr_assert(eq(int, story_admit(&story, line), ADMITTED), "%s", story.complaint.detail);
    expect_bouts("demo day", &story.log, &seen);
    cr_expect(gt(sz, seen.count, 20), "the last bout has its cards");
    story_close(&story);
    free(text);
}

Test(cards, random_bouts, .timeout = 120)
{
    static struct seen seen;
    for (uint64_t seed = 1; seed <= 24; seed++) {
        struct dice dice = dice_of(seed);
        struct log log;
        char name[40];
        snprintf(name, sizeof name, "seed %d", (int)seed);
        log_init(&log, test_editions(), malloc, free);
        random_log(&dice, &log, 240);
        expect_bouts(name, &log, &seen);
        log_close(&log);
    }
}

/* More than the lists hold: nothing is said, rather than half of it. */
Test(cards, too_much_to_count)
{
    struct story story;
    struct card cards[CARD_PLACES];
    int64_t next_ms;
    story_init(&story);
    story_tell(&story, FREESTYLE "1 score side:red points:1 action:step_out; "
                                 "1 score side:blue points:1 action:step_out");
    for (int i = 0; i < 260; i++)
        story_tell(&story, "attack side:red techniques:[single_leg] outcome:stopped");
    struct fold fold;
    fold_init(&fold, story.log.bouts[0], malloc, free);
    cr_assert(fold_read(&fold, 200));
    struct state state = state_of(&fold, story.at_ms);
    cr_expect(gt(sz, cards_of(test_language("en"), &state, NULL, NULL, cards, &next_ms), 0));
    cr_assert(fold_read(&fold, story.log.bouts[0]->count));
    state = state_of(&fold, story.at_ms);
    cr_expect(eq(sz, cards_of(test_language("en"), &state, NULL, NULL, cards, &next_ms), 0));
    fold_close(&fold);
    story_close(&story);
}
