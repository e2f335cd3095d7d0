/* Sentences for those without pictures: what each event makes of what was known before. */
#include "prompts/lines.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "support.h"

#define BOUT(rules)                                                                                \
    "0 bout rules:" rules " red:{name:'Ada Brandt',family:Brandt} "                                \
    "blue:{name:'Noor Haddad',family:Haddad}; 0 clock do:start; "
#define FREESTYLE BOUT("freestyle-2022")
#define GRECO BOUT("greco-2022")
/* Period two begins at 210: its seconds are 210 and more. */
#define SECOND "180 clock do:end; 210 clock do:start period:2; "

struct row {
    char name[60];
    char story[1100];
    char want[420]; /* what the last event makes, line by line, as "kind: text" and " / " between */
};

/* A bout told event by event, as a reader follows it. */
struct reading {
    struct story story;
    struct fold fold;
    struct telling told;
    int64_t next_ms;
    struct line lines[LINES_MAX];
    size_t count; /* of the last event, or of time after it */
};

typedef void listener(void *hearer, const struct reading *reading, const struct state *state);

static void keep(struct reading *reading, const struct state *state)
{
    reading->told = telling_of(state);
    reading->next_ms = state->next_ms;
}

static void let_pass(struct reading *reading, int64_t until_ms, listener *hear, void *hearer)
{
    while (reading->next_ms <= until_ms) {
        struct state state = state_of(&reading->fold, reading->next_ms);
        reading->count = lines_at_time(test_language("en"), &reading->told, &state, reading->lines);
        hear(hearer, reading, &state);
        keep(reading, &state);
    }
}

static void read_on(struct reading *reading, const struct bout *bout, size_t place, listener *hear,
                    void *hearer)
{
    int64_t at_ms = bout->events[place].at_ms;
    if (place > 0)
        let_pass(reading, at_ms, hear, hearer);
    cr_assert(fold_read(&reading->fold, place + 1));
    struct state state = state_of(&reading->fold, at_ms);
    reading->count = lines_after(test_language("en"), place > 0 ? &reading->told : NULL, &state,
                                 place, reading->lines);
    hear(hearer, reading, &state);
    keep(reading, &state);
}

static void read_bout(struct reading *reading, const struct bout *bout, listener *hear,
                      void *hearer)
{
    fold_init(&reading->fold, bout, malloc, free);
    for (size_t place = 0; place < bout->count; place++)
        read_on(reading, bout, place, hear, hearer);
}

static void not_heard(void *hearer, const struct reading *reading, const struct state *state)
{
    (void)hearer;
    (void)reading;
    (void)state;
}

static void join_lines(const struct reading *reading, char *text, size_t size)
{
    size_t length = 0;
    text[0] = '\0';
    for (size_t i = 0; i < reading->count && length < size; i++)
        length += (size_t)snprintf(text + length, size - length, "%s%s: %s", i > 0 ? " / " : "",
                                   line_kind_name(reading->lines[i].kind), reading->lines[i].text);
}

/* Lines of the last event; with a `now` in the story, those of the time up to it. */
static void expect_lines(const struct row *row)
{
    struct reading reading = {.count = 0};
    char text[1500];
    story_init(&reading.story);
    story_tell(&reading.story, row->story);
    read_bout(&reading, reading.story.log.bouts[0], not_heard, NULL);
    if (reading.story.now_ms != INT64_MIN)
        let_pass(&reading, reading.story.now_ms, not_heard, NULL);
    join_lines(&reading, text, sizeof text);
    cr_expect(strcmp(text, row->want) == 0, "%s: \"%s\"", row->name, text);
    fold_close(&reading.fold);
    story_close(&reading.story);
}

/* ---- the bout and its clock ---- */

ParameterizedTestParameters(lines, bout_and_clock)
{
    static struct row rows[] = {
        {"a call with all that is known",
         "0 bout rules:freestyle-2022 mat:A number:'7' style:women weight:'57' stage:semi-final "
         "red:{name:'Ada Brandt',team:'Old Mill'} blue:{name:'Noor Haddad'}",
         "call: Bout 7 on mat A: Ada Brandt (Old Mill) in red, Noor Haddad in blue. Women 57 kg, "
         "semi-final."},
        {"a call with the names alone",
         "0 bout rules:freestyle-2022 red:{name:'Ada Brandt'} blue:{name:'Noor Haddad'}",
         "call: Called: Ada Brandt in red, Noor Haddad in blue."},
        {"a name that begins small stays so",
         "0 bout rules:freestyle-2022 mat:B red:{name:'de Vries'} blue:{name:'Haddad'}",
         "call: On mat B: de Vries in red, Haddad in blue."},
        {"called again",
         "0 bout rules:freestyle-2022 mat:B red:{name:'Brandt'} blue:{name:'Haddad'}; "
         "60 bout rules:freestyle-2022 mat:B red:{name:'Brandt'} blue:{name:'Haddad'} call:true",
         "call: Called again: on mat B: Brandt in red, Haddad in blue."},
        {"to another mat",
         "0 bout rules:freestyle-2022 mat:B red:{name:'Brandt'} blue:{name:'Haddad'}; "
         "60 bout rules:freestyle-2022 mat:C red:{name:'Brandt'} blue:{name:'Haddad'}",
         "call: On mat C: Brandt in red, Haddad in blue."},
        {"a name put right",
         "0 bout rules:freestyle-2022 mat:B red:{name:'Brand'} blue:{name:'Haddad'}; "
         "60 bout rules:freestyle-2022 mat:B red:{name:'Brandt'} blue:{name:'Haddad'}",
         "correction: Corrected: on mat B: Brandt in red, Haddad in blue."},
        {"details that no line has said",
         "0 bout rules:freestyle-2022 mat:B red:{name:'Brandt'} blue:{name:'Haddad'}; "
         "60 bout rules:freestyle-2022 mat:B red:{name:'Brandt',noc:AAA} blue:{name:'Haddad'}",
         ""},
        {"off the mat", FREESTYLE "60 bout rules:freestyle-2022 off:true",
         "call: The bout of Red and Blue is taken off the mat."},
        {"the bout begins", FREESTYLE, "clock: Period one begins."},
        {"a stop", FREESTYLE "20 clock do:stop", ""},
        {"a start within the period", FREESTYLE "20 clock do:stop; 30 clock do:start", ""},
        {"the time runs out, nothing scored", FREESTYLE "180 now",
         "clock: End of period one: it is 0 to 0."},
        {"the horn, with score and attacks",
         FREESTYLE "10 score side:red points:2 action:takedown technique:double_leg; "
                   "20 attack side:red techniques:[single_leg] outcome:stopped; "
                   "30 attack side:red techniques:[single_leg] outcome:out; "
                   "40 attack side:red techniques:[single_leg] outcome:slipped; "
                   "50 attack side:blue techniques:[single_leg] outcome:stopped; "
                   "60 attack side:blue techniques:[single_leg] outcome:countered; "
                   "179 clock do:end",
         "clock: End of period one: Brandt leads 2 to 0. Brandt scored with one attack of four, "
         "Haddad attacked twice without a score."},
        {"both scored",
         FREESTYLE "10 score side:red points:2 action:takedown technique:double_leg; "
                   "20 attack side:red techniques:[single_leg] outcome:stopped; "
                   "30 score side:blue points:1 action:step_out technique:push_out; "
                   "40 attack side:blue techniques:[single_leg] outcome:stopped; "
                   "50 attack side:blue techniques:[single_leg] outcome:countered; 180 now",
         "clock: End of period one: Brandt leads 2 to 1. Brandt scored with one attack of two, "
         "Haddad with one of three."},
        {"every attack scored",
         FREESTYLE "10 score side:red points:2 action:takedown technique:double_leg; "
                   "30 score side:blue points:1 action:step_out technique:push_out; "
                   "50 score side:blue points:1 action:step_out technique:push_out; 180 now",
         "clock: End of period one: it is 2 to 2, and Brandt leads on higher holds. Brandt scored "
         "with the only attack, Haddad scored with both attacks."},
        {"neither scored",
         FREESTYLE "20 attack side:red techniques:[single_leg] outcome:stopped; "
                   "30 attack side:blue techniques:[single_leg] outcome:stopped; "
                   "40 attack side:blue techniques:[single_leg] outcome:stopped; 180 now",
         "clock: End of period one: it is 0 to 0. Brandt attacked once without a score, Haddad "
         "twice."},
        {"a side without attempts keyed isn't spoken of",
         FREESTYLE "20 attack side:blue techniques:[single_leg] outcome:stopped; 180 now",
         "clock: End of period one: it is 0 to 0. Haddad attacked once without a score."},
        {"points wait at the horn",
         FREESTYLE "178 score side:red points:2 action:takedown unconfirmed:true; 180 now",
         "clock: End of period one; the last points are not confirmed yet."},
        {"a challenge is open at the horn",
         FREESTYLE "10 score side:red points:2 action:takedown; "
                   "178 challenge side:blue outcome:asked; 180 now",
         "clock: End of period one; a challenge is open."},
        {"the end is told once", FREESTYLE "181 clock do:end", ""},
        {"period two", FREESTYLE "10 score side:red points:2 action:takedown; " SECOND,
         "clock: Period two begins: Brandt leads 2 to 0."},
        {"the end of time",
         FREESTYLE "10 score side:red points:2 action:takedown; "
                   "20 score side:blue points:2 action:takedown; " SECOND "390 now",
         "clock: Time is up: it is 2 to 2, and Haddad leads on last point. The officials' result "
         "is "
         "to come."},
        {"the horn was early", FREESTYLE "170 clock do:end; 175 clock do:set period:1 t_ms:148000",
         "correction: The clock is put back: 32 seconds left in period one."},
        {"the horn is void", FREESTYLE "119 clock do:end; 125 void ref:e3",
         "correction: The clock is put back: 55 seconds left in period one."},
        {"back to period one", FREESTYLE SECOND "215 clock do:set period:1 t_ms:56000",
         "correction: The clock is put back: 2 minutes 4 seconds left in period one."},
        {"a clock set while it runs", FREESTYLE "60 clock do:set period:1 t_ms:48000", ""},
        {"the bout anew", FREESTYLE "10 score side:red points:2 action:takedown; 20 restart",
         "correction: The bout starts anew; what came before no longer counts."},
        {"not anew after all",
         FREESTYLE "10 score side:red points:2 action:takedown; 20 restart; 30 void ref:e4",
         "correction: Corrected: the bout goes on; what came before counts again. Brandt leads 2 "
         "to 0."},
        {"a void of what the restart took out",
         FREESTYLE "10 score side:red points:2 action:takedown; 20 restart; 30 void ref:e3", ""},
        {"a public note, to the letter",
         FREESTYLE "20 note to:public text:'Treatment on mat A – the bout resumes shortly'",
         "note: Treatment on mat A – the bout resumes shortly"},
        {"a note to the booth", FREESTYLE "20 note to:booth text:'Old knee, says the coach'", ""},
        {"a note made public",
         FREESTYLE "20 note to:booth text:'Back soon'; "
                   "30 amend ref:e3 set:{to:public}",
         "note: Back soon"},
        {"a note made secret",
         FREESTYLE "20 note to:public text:'Back soon'; "
                   "30 amend ref:e3 set:{to:booth}",
         ""},
    };
    return cr_make_param_array(struct row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct row *row, lines, bout_and_clock)
{
    expect_lines(row);
}

/* ---- points and attempts ---- */

#define UNCONFIRMED " unconfirmed:true; "
ParameterizedTestParameters(lines, points)
{
    static struct row rows[] = {
        {"a takedown", FREESTYLE "10 score side:red points:2 action:takedown",
         "score: Brandt takes down Haddad for 2, and leads 2 to 0."},
        {"not confirmed", FREESTYLE "10 score side:red points:2 action:takedown" UNCONFIRMED,
         "score: Brandt takes down Haddad for 2, not confirmed yet."},
        {"confirmed",
         FREESTYLE "10 score side:red points:2 action:takedown" UNCONFIRMED "14 confirm",
         "score: The 2 is confirmed: Brandt leads 2 to 0."},
        {"confirmed, and the other side leads",
         FREESTYLE "10 score side:red points:4 action:throw; "
                   "20 score side:blue points:2 action:takedown" UNCONFIRMED "24 confirm ref:e4",
         "score: The 2 for Haddad is confirmed: Brandt still leads, 4 to 2."},
        {"several at once",
         FREESTYLE "10 score side:red points:2 action:takedown" UNCONFIRMED
                   "12 score side:red points:2 action:exposure" UNCONFIRMED "15 confirm",
         "score: The points are confirmed: Brandt leads 4 to 0."},
        {"one of two",
         FREESTYLE "10 score side:red points:2 action:takedown" UNCONFIRMED
                   "12 score side:red points:2 action:exposure" UNCONFIRMED "15 confirm ref:e3",
         "score: The 2 for Brandt is confirmed."},
        {"confirmed already",
         FREESTYLE "10 score side:red points:2 action:takedown" UNCONFIRMED
                   "14 confirm; 16 confirm",
         ""},
        {"points that stand while others wait",
         FREESTYLE "10 score side:red points:2 action:takedown" UNCONFIRMED
                   "14 score side:blue points:1 action:reversal",
         "score: Haddad reverses Brandt for 1."},
        {"what it came from",
         FREESTYLE "10 attack side:red techniques:[low_single] leg:lead outcome:open; "
                   "12 score side:red points:2 action:takedown attack:e3",
         "score: Brandt takes down Haddad with a low single on the lead leg for 2, and leads 2 to "
         "0."},
        {"changed on the way",
         FREESTYLE "10 attack side:red techniques:[ankle_pick,double_leg] outcome:open; "
                   "12 score side:red points:2 action:takedown attack:e3",
         "score: Brandt takes down Haddad with an ankle pick changed to a double leg for 2, and "
         "leads 2 to 0."},
        {"behind", FREESTYLE "10 score side:red points:2 action:takedown technique:go_behind",
         "score: Brandt goes behind Haddad for 2, and leads 2 to 0."},
        {"turned", FREESTYLE "10 score side:red points:2 action:exposure technique:gut_wrench",
         "score: Brandt turns Haddad with a gut wrench for 2, and leads 2 to 0."},
        {"turned, and again",
         FREESTYLE "10 score side:red points:2 action:exposure technique:leg_lace; "
                   "13 score side:red points:2 action:exposure technique:leg_lace",
         "score: Brandt turns Haddad again with a leg lace for 2, and leads 4 to 0."},
        {"a counter",
         FREESTYLE "10 attack side:blue techniques:[single_leg] outcome:open; "
                   "12 score side:red points:2 action:counter_exposure attack:e3",
         "score: Brandt counters and turns Haddad for 2, and leads 2 to 0."},
        {"a throw", GRECO "10 score side:blue points:4 action:throw technique:arm_throw",
         "score: Haddad throws Brandt with an arm throw for 4, and leads 4 to 0."},
        {"out, nobody says how", FREESTYLE "10 score side:red points:1 action:step_out",
         "score: Haddad steps out, 1 to Brandt. Brandt leads 1 to 0."},
        {"driven out", FREESTYLE "10 score side:red points:1 action:step_out technique:push_out",
         "score: Brandt drives Haddad out for 1, and leads 1 to 0."},
        {"a stop for an injury", FREESTYLE "10 score side:red points:1 action:injury_stop",
         "score: The bout is stopped for Haddad, 1 to Brandt. Brandt leads 1 to 0."},
        {"three points, June 2013",
         BOUT("june-2013") "10 score side:red points:3 action:feet_to_danger",
         "score: Brandt takes Haddad from the feet straight into danger for 3, and leads 3 to 0."},
        {"takes the lead",
         FREESTYLE "10 score side:red points:2 action:takedown; "
                   "20 score side:blue points:4 action:throw",
         "score: Haddad throws Brandt for 4, and takes the lead, 4 to 2."},
        {"still behind",
         FREESTYLE "10 score side:red points:2 action:takedown; "
                   "20 score side:blue points:1 action:reversal",
         "score: Haddad reverses Brandt for 1. Brandt still leads, 2 to 1."},
        {"level, by the last point",
         FREESTYLE "10 score side:red points:2 action:takedown; "
                   "20 score side:blue points:2 action:takedown",
         "score: Haddad takes down Brandt for 2. It is 2 to 2, and Haddad takes the lead on last "
         "point."},
        {"level, and still behind",
         FREESTYLE "10 score side:red points:2 action:takedown; "
                   "20 score side:blue points:1 action:step_out; "
                   "30 score side:blue points:1 action:reversal",
         "score: Haddad reverses Brandt for 1. It is 2 to 2, and Brandt still leads on higher "
         "holds."},
        {"the margin",
         FREESTYLE "10 score side:red points:4 action:throw; 20 score side:red points:4 "
                   "action:throw; 30 score side:red points:2 action:exposure",
         "score: Brandt turns Haddad for 2, and leads 10 to 0. That is the margin of superiority."},
        {"late", FREESTYLE SECOND "358 score side:red points:2 action:takedown",
         "score: Brandt takes down Haddad for 2 with 32 seconds left, and leads 2 to 0."},
        {"late in period one", FREESTYLE "179 score side:red points:1 action:step_out",
         "score: Haddad steps out with 1 second left in period one, 1 to Brandt. Brandt leads 1 to "
         "0."},
        {"added late",
         FREESTYLE SECOND "220 score side:red points:2 action:takedown period:1 t_ms:60000",
         "score: Added late, from period one: Brandt takes down Haddad for 2, and leads 2 to 0."},
        {"while a challenge is open",
         FREESTYLE "10 score side:red points:2 action:takedown; "
                   "12 challenge side:blue outcome:asked; "
                   "20 score side:blue points:2 action:takedown",
         "score: Haddad takes down Brandt for 2."},
        {"a name with no room for anything else",
         "0 bout rules:freestyle-2022 red:{name:'"
         "Aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"
         "aaaaaaaaaaa'} "
         "blue:{name:'"
         "Bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb"
         "bbbbbbbbbbb'}; "
         "10 score side:red points:4 action:throw; 20 score side:blue points:2 action:takedown "
         "technique:double_leg leg:lead",
         "score: Blue takes down Red with a double leg on the lead leg for 2. Red still leads, 4 "
         "to "
         "2."},

        {"stopped, all keyed at once",
         FREESTYLE "10 attack side:red techniques:[low_single] leg:lead outcome:stopped "
                   "stopped_by:sprawl",
         "attack: Brandt shoots a low single on the lead leg and is stopped by a sprawl."},
        {"stopped", FREESTYLE "10 attack side:red techniques:[gut_wrench] outcome:stopped",
         "attack: Brandt tries a gut wrench and is stopped."},
        {"changed and stopped",
         FREESTYLE "10 attack side:red techniques:[single_leg,double_leg] outcome:stopped",
         "attack: Brandt shoots a single leg, changes to a double leg and is stopped."},
        {"countered", FREESTYLE "10 attack side:red techniques:[ankle_pick] outcome:countered",
         "attack: Brandt shoots an ankle pick and is countered."},
        {"out", FREESTYLE "10 attack side:red techniques:[push_out] outcome:out",
         "attack: Brandt tries a push-out, and it goes out of bounds."},
        {"stalemate", FREESTYLE "10 attack side:red techniques:[high_crotch] outcome:stalemate",
         "attack: Brandt shoots a high crotch, and it ends in a stalemate."},
        {"slipped", FREESTYLE "10 attack side:red techniques:[arm_spin] outcome:slipped",
         "attack: Brandt tries an arm spin and slips off."},
        {"open isn't told", FREESTYLE "10 attack side:red techniques:[arm_spin] outcome:open", ""},
        {"scored is told by its score",
         FREESTYLE "10 attack side:red techniques:[arm_spin] outcome:scored", ""},
        {"it was open, and was stopped",
         FREESTYLE "10 attack side:red techniques:[arm_spin] outcome:open; "
                   "12 amend ref:e3 set:{outcome:stopped}",
         "attack: Brandt tries an arm spin and is stopped."},
        {"details later",
         FREESTYLE "10 attack side:red techniques:[single_leg] outcome:stopped; "
                   "12 amend ref:e3 set:{leg:lead,stopped_by:whizzer}",
         "attack: The single leg of Brandt went for the lead leg and was stopped by a whizzer."},
        {"the leg later",
         FREESTYLE "10 attack side:red techniques:[single_leg] outcome:out; "
                   "12 amend ref:e3 set:{leg:trail}",
         "attack: The single leg of Brandt went for the trail leg."},
        {"set-ups later aren't told",
         FREESTYLE "10 attack side:red techniques:[single_leg] outcome:out; "
                   "12 amend ref:e3 set:{setup:[club]}",
         ""},
        {"another outcome",
         FREESTYLE "10 attack side:red techniques:[single_leg] outcome:out; "
                   "12 amend ref:e3 set:{outcome:stalemate}",
         "correction: Corrected: Brandt shoots a single leg, and it ends in a stalemate."},
        {"taken out",
         FREESTYLE "10 attack side:red techniques:[single_leg] outcome:out; 12 void ref:e3",
         "correction: Corrected: the single leg of Brandt is taken out."},
        {"an open one taken out",
         FREESTYLE "10 attack side:red techniques:[single_leg] outcome:open; 12 void ref:e3", ""},
    };
    return cr_make_param_array(struct row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct row *row, lines, points)
{
    expect_lines(row);
}

/* ---- the officials ---- */

ParameterizedTestParameters(lines, officials)
{
    static struct row rows[] = {
        {"a caution", FREESTYLE "10 caution side:blue reason:fleeing_mat points:1",
         "referee: Haddad is cautioned for fleeing the mat, 1 to Brandt. Brandt leads 1 to 0."},
        {"without points",
         FREESTYLE "10 score side:red points:2 action:takedown; "
                   "20 caution side:blue reason:brutality points:0",
         "referee: Haddad is cautioned for brutality."},
        {"without points, but it turns the lead",
         FREESTYLE "10 score side:red points:2 action:takedown; "
                   "20 score side:blue points:2 action:takedown; "
                   "30 caution side:blue reason:illegal_hold points:0",
         "referee: Haddad is cautioned for an illegal hold. It is 2 to 2, and Brandt takes the "
         "lead "
         "on fewer cautions."},
        {"not confirmed",
         FREESTYLE "10 caution side:blue reason:fleeing_hold points:1 unconfirmed:true",
         "referee: Haddad is cautioned for fleeing the hold, 1 to Brandt, not confirmed yet."},
        {"confirmed",
         FREESTYLE "10 caution side:blue reason:fleeing_hold points:1" UNCONFIRMED "12 confirm",
         "score: The caution of Haddad is confirmed: Brandt leads 1 to 0."},
        {"the second",
         FREESTYLE "10 caution side:blue reason:fleeing_hold points:1; "
                   "20 caution side:blue reason:fleeing_in_danger points:2",
         "referee: Second caution for Haddad, for fleeing the mat in danger, 2 to Brandt. Brandt "
         "leads 3 to 0."},
        {"the third",
         FREESTYLE "10 caution side:blue reason:fleeing_hold points:1; "
                   "20 caution side:blue reason:fleeing_hold points:1; "
                   "30 caution side:blue reason:fleeing_hold points:1",
         "referee: Third caution for Haddad, for fleeing the hold, 1 to Brandt. Brandt leads 3 to "
         "0. Three cautions lose the bout."},
        {"a warning", FREESTYLE "10 passivity side:blue stage:warning",
         "referee: Haddad is warned for passivity."},
        {"a warning confirmed",
         FREESTYLE "10 passivity side:blue stage:warning unconfirmed:true; 12 confirm",
         "referee: The warning of Haddad is confirmed."},
        {"named", FREESTYLE "10 passivity side:blue stage:activity",
         "referee: Haddad is named: 30 seconds to score, or 1 to Brandt."},
        {"the activity time ends",
         FREESTYLE "10 passivity side:blue stage:activity; "
                   "40 passivity side:blue stage:penalty points:1",
         "referee: No score from Haddad in the activity time, 1 to Brandt. Brandt leads 1 to 0."},
        {"passive, in Greco-Roman", GRECO "10 passivity side:blue stage:penalty points:1",
         "referee: Haddad is named passive, 1 to Brandt. Brandt leads 1 to 0."},
        {"par terre is chosen",
         GRECO "12 position position:par_terre top:red ordered:true chosen_by:red",
         "referee: Brandt chooses par terre, and starts on top."},
        {"par terre is ordered", GRECO "12 position position:par_terre top:red ordered:true",
         "referee: Par terre is ordered, Brandt on top."},
        {"standing is chosen", GRECO "12 position position:standing chosen_by:red",
         "referee: Brandt chooses to go on standing."},
        {"how they are isn't told", FREESTYLE "12 position position:par_terre top:red", ""},
        {"a challenge of points",
         FREESTYLE "10 score side:red points:4 action:throw; "
                   "12 challenge side:blue outcome:asked of:e3",
         "referee: Haddad challenges the 4 for Brandt."},
        {"a challenge of one's own caution",
         FREESTYLE "10 caution side:blue reason:fleeing_mat points:1; "
                   "12 challenge side:blue outcome:asked of:e3",
         "referee: Haddad challenges the caution."},
        {"a challenge", FREESTYLE "12 challenge side:blue outcome:asked",
         "referee: Haddad challenges."},
        {"lost",
         FREESTYLE "10 score side:red points:4 action:throw; "
                   "12 challenge side:blue outcome:asked of:e3; "
                   "60 challenge side:blue outcome:rejected points:1",
         "referee: The challenge of Haddad is lost, 1 to Brandt. Brandt leads 5 to 0."},
        {"upheld",
         FREESTYLE "10 score side:red points:4 action:throw; "
                   "12 challenge side:blue outcome:asked of:e3; "
                   "60 amend ref:e3 set:{points:2} why:challenge; "
                   "61 challenge side:blue outcome:upheld",
         "referee: The challenge of Haddad is upheld. Brandt leads 2 to 0."},
        {"treatment", FREESTYLE "12 stoppage kind:blood side:blue do:start",
         "referee: The bout is stopped, treatment on the mat for Haddad."},
        {"it is over",
         FREESTYLE "12 stoppage kind:injury do:start; 60 stoppage kind:injury do:stop",
         "referee: The treatment is over."},
        {"a review", FREESTYLE "12 stoppage kind:review do:start",
         "referee: The officials review the action."},
        {"another stoppage", FREESTYLE "12 stoppage kind:other do:start", ""},
    };
    return cr_make_param_array(struct row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct row *row, lines, officials)
{
    expect_lines(row);
}

/* ---- corrections ---- */

ParameterizedTestParameters(lines, corrections)
{
    static struct row rows[] = {
        {"a slip of the keys",
         FREESTYLE "10 score side:red points:2 action:takedown; 20 score side:red points:2 "
                   "action:exposure; 24 void ref:e4",
         "correction: Corrected: the 2 for Brandt is taken out. Brandt leads 2 to 0."},
        {"by the officials",
         FREESTYLE "10 score side:red points:2 action:takedown; 24 void ref:e3 why:officials",
         "correction: The officials take back the 2 for Brandt. It is 0 to 0."},
        {"after a challenge",
         FREESTYLE "10 score side:red points:2 action:takedown; 24 void ref:e3 why:challenge",
         "correction: After the challenge, the 2 for Brandt is taken out. It is 0 to 0."},
        {"back again",
         FREESTYLE "10 score side:red points:2 action:takedown; 24 void ref:e3; 26 void ref:e4",
         "correction: Corrected: the 2 for Brandt stands after all. Brandt leads 2 to 0."},
        {"out, back and out",
         FREESTYLE "10 score side:red points:2 action:takedown; 24 void ref:e3; 26 void ref:e4; "
                   "28 void ref:e5 why:officials",
         "correction: The officials take back the 2 for Brandt. It is 0 to 0."},
        {"twice void, one of them taken back",
         FREESTYLE "10 score side:red points:2 action:takedown; 24 void ref:e3; 26 void ref:e3; "
                   "28 void ref:e5",
         ""},
        {"back, but it still waits",
         FREESTYLE "10 score side:red points:2 action:takedown" UNCONFIRMED
                   "24 void ref:e3; 26 void ref:e4",
         "correction: Corrected: the 2 for Brandt stands after all, not confirmed yet."},
        {"other points",
         FREESTYLE "10 score side:red points:4 action:throw; 20 amend ref:e3 set:{points:2}",
         "correction: Corrected: the 4 for Brandt is a 2. Brandt leads 2 to 0."},
        {"other points, by the officials",
         FREESTYLE "10 score side:red points:4 action:throw; "
                   "20 amend ref:e3 set:{points:2} why:officials",
         "correction: The officials correct the 4 for Brandt to 2. Brandt leads 2 to 0."},
        {"other points, while the challenge is open",
         FREESTYLE "10 score side:red points:4 action:throw; "
                   "12 challenge side:blue outcome:asked of:e3; "
                   "20 amend ref:e3 set:{points:2} why:challenge",
         "correction: After the challenge, the 4 for Brandt is corrected to 2."},
        {"the other side",
         FREESTYLE "10 score side:red points:2 action:takedown; 20 amend ref:e3 set:{side:blue}",
         "correction: Corrected: 2 to Haddad, not 2 to Brandt. Haddad takes the lead, 2 to 0."},
        {"another action",
         FREESTYLE "10 score side:red points:2 action:takedown; 20 amend ref:e3 set:{action:throw}",
         "correction: Corrected: Brandt throws Haddad for 2, and leads 2 to 0."},
        {"the amendment taken back",
         FREESTYLE "10 score side:red points:4 action:throw; 20 amend ref:e3 set:{points:2}; "
                   "30 void ref:e4",
         "correction: Corrected: the 2 for Brandt is a 4. Brandt leads 4 to 0."},
        {"the hold, later",
         FREESTYLE "10 score side:red points:2 action:takedown; "
                   "14 amend ref:e3 set:{technique:low_single,leg:lead}",
         "score: The 2 for Brandt came from a low single on the lead leg."},
        {"its place in the order isn't told",
         FREESTYLE "10 score side:red points:2 action:takedown; 14 amend ref:e3 set:{period:1,"
                   "t_ms:9000}",
         ""},
        {"confirmed by taking the mark away",
         FREESTYLE "10 score side:red points:2 action:takedown" UNCONFIRMED
                   "14 amend ref:e3 unset:[unconfirmed]",
         "score: The 2 is confirmed: Brandt leads 2 to 0."},
        {"the confirmation taken back",
         FREESTYLE "10 score side:red points:2 action:takedown" UNCONFIRMED
                   "14 confirm; 16 void ref:e4",
         "correction: Corrected: the 2 for Brandt is not confirmed yet."},
        {"a caution for another reason",
         FREESTYLE "10 caution side:blue reason:fleeing_hold points:1; "
                   "20 amend ref:e3 set:{reason:fleeing_mat} why:officials",
         "correction: Corrected by the officials: Haddad is cautioned for fleeing the mat, 1 to "
         "Brandt. Brandt leads 1 to 0."},
        {"a caution as it was",
         FREESTYLE "10 caution side:blue reason:fleeing_hold points:1; "
                   "20 amend ref:e3 set:{reason:fleeing_hold,points:1}",
         ""},
        {"another one chose",
         GRECO "10 position position:par_terre top:red ordered:true chosen_by:red; "
               "20 amend ref:e3 set:{chosen_by:blue}",
         "correction: Corrected: Haddad chooses par terre, Brandt starts on top."},
        {"a challenge that wasn't one",
         FREESTYLE "10 challenge side:blue outcome:asked; 14 void ref:e3 why:officials",
         "correction: The challenge of Haddad does not count. It is 0 to 0."},
        {"a note taken back", FREESTYLE "10 note to:public text:Hello; 14 void ref:e3",
         "correction: Corrected: a note is taken out."},
        {"a secret note taken back", FREESTYLE "10 note to:booth text:Hello; 14 void ref:e3", ""},
        {"points put right after the result",
         FREESTYLE "10 score side:red points:2 action:takedown; 20 close how:fall winner:red; "
                   "30 amend ref:e3 set:{points:4,action:throw} why:officials",
         "correction: The officials correct the 2 for Brandt to 4. The score is now Brandt 4, "
         "Haddad 0."},
    };
    return cr_make_param_array(struct row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct row *row, lines, corrections)
{
    expect_lines(row);
}

/* ---- results ---- */

/* Codes and classification points: avjc.de, Regelwerk, 2018; VCA, VFO, DSQ from memory. */
ParameterizedTestParameters(lines, results)
{
    static struct row rows[] = {
        {"a fall in period two", FREESTYLE SECOND "250 close how:fall winner:blue",
         "result: Noor Haddad beats Ada Brandt by fall, 3:40 (VFA, classification points 5 to 0)."},
        {"on points",
         FREESTYLE "10 score side:red points:2 action:takedown; 20 score side:blue points:1 "
                   "action:reversal; " SECOND "391 close how:points winner:red",
         "result: Ada Brandt beats Noor Haddad on points, 2 to 1, 6:00 (VPO1, classification "
         "points "
         "3 to 1)."},
        {"level: who led, and why",
         FREESTYLE "10 score side:red points:2 action:takedown; 20 score side:blue points:2 "
                   "action:takedown; " SECOND "391 close how:points winner:blue",
         "result: Noor Haddad beats Ada Brandt on last point, 2 to 2, 6:00 (VPO1, classification "
         "points 3 to 1)."},
        {"superiority",
         FREESTYLE "10 score side:red points:5 action:throw; 20 score side:red points:5 "
                   "action:throw; 21 clock do:stop; 30 close how:superiority winner:red",
         "result: Ada Brandt beats Noor Haddad by superiority, 10 to 0, 0:21 (VSU, classification "
         "points 4 to 0)."},
        {"cautions",
         FREESTYLE "10 caution side:blue reason:brutality points:1; 20 caution side:blue "
                   "reason:brutality points:1; 30 caution side:blue reason:brutality points:1; "
                   "31 clock do:stop; 40 close how:cautions winner:red",
         "result: Ada Brandt beats Noor Haddad by three cautions, 0:31 (VCA, classification points "
         "5 to 0)."},
        {"before it began",
         "0 bout rules:freestyle-2022 red:{name:'Ada Brandt'} blue:{name:'Noor Haddad'}; "
         "60 close how:forfeit winner:red",
         "result: Ada Brandt beats Noor Haddad by forfeit (VFO, classification points 5 to 0)."},
        {"nobody", FREESTYLE "31 clock do:stop; 40 close how:both_disqualified",
         "result: No winner: Ada Brandt and Noor Haddad are both disqualified, 0:31 (2DSQ, "
         "classification points 0 to 0)."},
        {"not confirmed: no winner is named",
         FREESTYLE "31 clock do:stop; 40 close how:fall winner:red unconfirmed:true",
         "result: The result, by fall at 0:31, is not confirmed yet."},
        {"confirmed",
         FREESTYLE "31 clock do:stop; 40 close how:fall winner:red unconfirmed:true; 44 confirm",
         "result: Ada Brandt beats Noor Haddad by fall, 0:31 (VFA, classification points 5 to 0)."},
        {"the sheet says otherwise",
         FREESTYLE "10 score side:red points:2 action:takedown; " SECOND
                   "391 close how:points winner:red score:{red:3,blue:0}",
         "result: Ada Brandt beats Noor Haddad on points, 3 to 0, 6:00 (VPO). / result: The "
         "officials' sheet and this feed differ; the sheet decides."},
        {"another result",
         FREESTYLE "31 clock do:stop; 40 close how:fall winner:red; 60 close how:injury winner:red",
         "result: Corrected: Ada Brandt beats Noor Haddad by injury, 0:31 (VIN, classification "
         "points 5 to 0)."},
        {"taken back", FREESTYLE "31 clock do:stop; 40 close how:fall winner:red; 60 void ref:e4",
         "correction: Corrected: the result is taken out."},
        {"amended to what it was",
         FREESTYLE "31 clock do:stop; 40 close how:fall winner:red; "
                   "60 amend ref:e4 set:{winner:red}",
         ""},
        {"at another time",
         FREESTYLE "31 clock do:stop; 40 close how:fall winner:red period:1 t_ms:31000; "
                   "60 amend ref:e4 set:{t_ms:29000}",
         "result: Corrected: Ada Brandt beats Noor Haddad by fall, 0:29 (VFA, classification "
         "points "
         "5 to 0)."},
        {"amended",
         FREESTYLE "31 clock do:stop; 40 close how:fall winner:red; "
                   "60 amend ref:e4 set:{winner:blue} why:officials",
         "result: Corrected: Noor Haddad beats Ada Brandt by fall, 0:31 (VFA, classification "
         "points "
         "5 to 0)."},
    };
    return cr_make_param_array(struct row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct row *row, lines, results)
{
    expect_lines(row);
}

/* ---- what a line carries beside its words ---- */

Test(lines, members)
{
    struct reading reading = {.count = 0};
    story_init(&reading.story);
    story_tell(&reading.story, FREESTYLE "12.5 score side:blue points:1 action:reversal");
    const struct bout *bout = reading.story.log.bouts[0];
    fold_init(&reading.fold, bout, malloc, free);
    read_on(&reading, bout, 0, not_heard, NULL);
    cr_expect(eq(int, reading.lines[0].period, 0), "before the clock began there is no bout time");
    read_on(&reading, bout, 1, not_heard, NULL);
    read_on(&reading, bout, 2, not_heard, NULL);
    const struct line *line = &reading.lines[0];
    cr_expect(eq(int, line->kind, LINE_SCORE));
    cr_expect(eq(int, line->side, SIDE_BLUE));
    cr_expect(eq(int, line->period, 1));
    cr_expect(eq(int, line->t_ms, 12500));
    cr_expect(eq(int, line->place, 2));
    let_pass(&reading, story_begins_ms + 180000, not_heard, NULL);
    cr_expect(eq(int, line->kind, LINE_CLOCK));
    cr_expect(eq(int, line->t_ms, 180000));
    cr_expect(eq(int, line->place, EVENT_NONE));
    fold_close(&reading.fold);
    story_close(&reading.story);
}

/* The longest note there can be: 280 characters of four bytes. */
Test(lines, longest_note)
{
    struct reading reading = {.count = 0};
    char note[4 * 280 + 1] = "", text[1400];
    for (int i = 0; i < 280; i++)
        strcat(note, "\xF0\x9F\xA4\xBC");
    snprintf(text, sizeof text, FREESTYLE "20 note to:public text:'%s'", note);
    story_init(&reading.story);
    story_tell(&reading.story, text);
    read_bout(&reading, reading.story.log.bouts[0], not_heard, NULL);
    cr_assert(eq(sz, reading.count, 1));
    cr_expect(strcmp(reading.lines[0].text, note) == 0, "to the letter");
    fold_close(&reading.fold);
    story_close(&reading.story);
}

/* ---- what always holds ---- */

struct hearing {
    const char *name;
    int lines;
};

static bool speaks(const char *text, const char *words)
{
    return strstr(text, words) != NULL;
}

/* Who leads is said only when nothing waits; who won, only of a result that stands. */
static void expect_nothing_early(const char *name, const char *text, const struct state *state)
{
    bool waits = state->fold->unconfirmed[0] + state->fold->unconfirmed[1] > 0;
    if (speaks(text, " leads ") || speaks(text, " the lead, ") || speaks(text, " still leads")) {
        cr_expect(not(waits), "%s: points wait: %s", name, text);
        cr_expect(not(state->under_review), "%s: a challenge is open: %s", name, text);
        cr_expect(ne(int, state->leader.side, SIDE_NONE), "%s: nobody leads: %s", name, text);
    }
    if (speaks(text, " beats ")) {
        cr_expect(state->result.how != NULL && !state->result.unconfirmed, "%s: %s", name, text);
        cr_expect(ne(int, state->result.winner, SIDE_NONE), "%s: %s", name, text);
    }
}

static void expect_sentence(const char *name, const struct line *line)
{
    static const char *const never[] = {" she ", " he ", " her ", " him ", " his ", "{",
                                        "}",     "  ",   " .",    " ,",    "..",    "robbed"};
    const char *text = line->text;
    size_t length = strlen(text);
    cr_expect(gt(sz, length, 8), "%s: %s", name, text);
    cr_expect(le(sz, length, LINE_BYTES_MAX), "%s: %s", name, text);
    cr_expect(eq(chr, text[length - 1], '.'), "%s: %s", name, text);
    cr_expect(not(text[0] >= 'a' && text[0] <= 'z'), "%s: %s", name, text);
    for (size_t i = 0; i < sizeof never / sizeof *never; i++)
        cr_expect(not(speaks(text, never[i])), "%s: no \"%s\": %s", name, never[i], text);
}

static void expect_true(void *hearer, const struct reading *reading, const struct state *state)
{
    struct hearing *hearing = hearer;
    cr_assert(le(sz, reading->count, LINES_MAX));
    for (size_t i = 0; i < reading->count; i++) {
        const struct line *line = &reading->lines[i];
        hearing->lines++;
        if (line->kind == LINE_NOTE)
            continue;
        expect_sentence(hearing->name, line);
        expect_nothing_early(hearing->name, line->text, state);
    }
}

static int expect_bouts(const char *name, const struct log *log)
{
    struct hearing hearing = {.name = name};
    for (size_t i = 0; i < log->bout_count; i++) {
        struct reading reading = {.count = 0};
        read_bout(&reading, log->bouts[i], expect_true, &hearing);
        let_pass(&reading, INT64_MAX - 1, expect_true, &hearing);
        fold_close(&reading.fold);
    }
    return hearing.lines;
}

Test(lines, demo_day)
{
    struct story story;
    size_t size;
    char *text = file_text("fixtures/demo/day.ndjson", &size);
    story_init(&story);
    for (char *rest = text, *line; (line = strsep(&rest, "\n")) != NULL;)
        if (line[0] != '\0')
            cr_assert(eq(int, story_admit(&story, line), ADMITTED), "%s", story.complaint.detail);
    cr_expect(gt(int, expect_bouts("demo day", &story.log), 400));
    story_close(&story);
    free(text);
}

Test(lines, random_bouts)
{
    for (uint64_t seed = 1; seed <= 200; seed++) {
        struct dice dice = dice_of(seed);
        struct log log;
        char name[40];
        snprintf(name, sizeof name, "seed %d", (int)seed);
        log_init(&log, test_editions(), malloc, free);
        random_log(&dice, &log, 240);
        expect_bouts(name, &log);
        log_close(&log);
    }
}
