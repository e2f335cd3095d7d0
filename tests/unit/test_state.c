#include "stats/state.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "support.h"

#define FREE "0 bout rules:freestyle-2022; "
#define GRECO "0 bout rules:greco-2026; "
#define RED1 "score side:red points:1 action:step_out "
#define RED2 "score side:red points:2 action:takedown "
#define RED4 "score side:red points:4 action:throw "
#define RED5 "score side:red points:5 action:throw "
#define BLUE1 "score side:blue points:1 action:step_out "
#define BLUE2 "score side:blue points:2 action:takedown "
#define BLUE5 "score side:blue points:5 action:throw "
#define BLUE4 "score side:blue points:4 action:throw "
#define RED10 RED5 ";" RED5 ";"
#define CAUTION(side) "caution side:" #side " reason:fleeing_mat points:0;"

struct row {
    char name[100], story[600], wanted[400];
};

#define ROWS(suite, test, ...)                                                                     \
    ParameterizedTestParameters(suite, test)                                                       \
    {                                                                                              \
        static struct row rows[] = {__VA_ARGS__};                                                  \
        return cr_make_param_array(struct row, rows, sizeof rows / sizeof *rows);                  \
    }                                                                                              \
    ParameterizedTest(struct row *row, suite, test)                                                \
    {                                                                                              \
        expect_state(row->name, row->story, row->wanted);                                          \
    }

/* The phase is the first that holds of off, closed, over, live, break, called, stopped. Each row
 * that names two has both hold. docs/state.md. */
ROWS(state, phase, {"called", FREE, "phase:called"},
     {"called, whatever else was keyed", FREE RED2 "; note text:a to:booth", "phase:called"},
     {"live", FREE "10 clock do:start", "phase:live"},
     {"stopped", FREE "10 clock do:start; 20 clock do:stop", "phase:stopped"},
     {"stopped by a set alone", FREE "10 clock do:set period:1 t_ms:0", "phase:stopped"},
     {"called again when no clock event stands", FREE "10 clock do:start; void ref:e2",
      "phase:called"},
     {"break", FREE "10 clock do:start; 190 now", "phase:break"},
     {"break by the horn", FREE "10 clock do:start; 20 clock do:end", "phase:break"},
     {"live again in the next period",
      FREE "10 clock do:start; 20 clock do:end; 50 clock do:start period:2", "phase:live"},
     {"over when the last period is used up", FREE "10 clock do:start period:2; 190 now",
      "phase:over due:time"},
     {"over by superiority", FREE "10 clock do:start;" RED10 "20 clock do:stop",
      "phase:over due:superiority"},
     {"not while the clock runs", FREE "10 clock do:start;" RED10 "20 now",
      "phase:live due:superiority"},
     {"over before the clock has run", FREE RED10, "phase:over"},
     {"over, rather than break", FREE "10 clock do:start;" RED10 "190 now", "phase:over"},
     {"over by cautions", FREE CAUTION(red) CAUTION(red) CAUTION(red) "1 now",
      "phase:over due:cautions"},
     {"over by unconfirmed points (on air it is confirmed.due that counts)",
      FREE RED5 ";" RED5 "unconfirmed:true", "phase:over due:superiority confirmed:{due:null}"},
     {"closed", FREE "10 clock do:start; 20 clock do:stop; close how:fall winner:red",
      "phase:closed"},
     {"closed, rather than over", FREE RED10 "close how:superiority winner:red",
      "phase:closed due:superiority"},
     {"closed, rather than live", FREE "10 clock do:start; close how:fall winner:red",
      "phase:closed clock:{running:true}"},
     {"closed, unconfirmed", FREE "close how:fall winner:red unconfirmed:true", "phase:closed"},
     {"not once the close is void", FREE "close how:fall winner:red; void ref:e2", "phase:called"},
     {"off", FREE "bout rules:freestyle-2022 off:true", "phase:off"},
     {"off, rather than closed",
      FREE "close how:fall winner:red; bout rules:freestyle-2022 "
           "off:true",
      "phase:off result:{how:fall}"},
     {"off, rather than live", FREE "10 clock do:start; bout rules:freestyle-2022 off:true",
      "phase:off clock:{running:true}"},
     {"on again", FREE "bout rules:freestyle-2022 off:true; bout rules:freestyle-2022",
      "phase:called"},
     {"off at once", "0 bout rules:freestyle-2022 off:true", "phase:off"},
     {"one period alone: over, no break",
      "0 bout rules:freestyle-2022 length:{periods:1}; 10 clock do:start; 190 now", "phase:over"},
     {"three periods: a break after the second",
      "0 bout rules:freestyle-2022 length:{periods:3}; 10 clock do:start period:2; 190 now",
      "phase:break"},
     {"lost: stopped", FREE "10 clock do:start; 60 clock do:lost keyed_at:@20", "phase:stopped"})

/* The break: 0:30 (Ontario, amateur combative sport rules; avjc.de, 2018), counted from where the
 * clock ran out, was set to the length, or was ended before it ran out. docs/state.md. */
ROWS(state, interval, {"none before", FREE "10 clock do:start; 189 now", "break:null"},
     {"begins where the clock ran out", FREE "10 clock do:start; 190 now", "break:{left_ms:30000}"},
     {"goes on with the time of day", FREE "10 clock do:start; 200.5 now", "break:{left_ms:19500}"},
     {"not below 0", FREE "10 clock do:start; 230 now", "phase:break break:{left_ms:0}"},
     {"a horn after it ran out doesn't begin it anew",
      FREE "10 clock do:start; 195 clock do:end; 200 now", "break:{left_ms:20000}"},
     {"nor does a stop", FREE "10 clock do:start; 195 clock do:stop; 200 now",
      "break:{left_ms:20000}"},
     {"a horn before it ran out does", FREE "10 clock do:start; 185 clock do:end; 200 now",
      "break:{left_ms:15000}"},
     {"at the moment when it was keyed",
      FREE "10 clock do:start; 195 clock do:end keyed_at:@185; 200 now", "break:{left_ms:15000}"},
     {"a horn while it stood", FREE "10 clock do:start; 20 clock do:stop; 30 clock do:end; 40 now",
      "break:{left_ms:20000}"},
     {"set to the length", FREE "10 clock do:start; 20 clock do:set period:1 t_ms:180000; 30 now",
      "break:{left_ms:20000}"},
     {"set to the length again begins it anew",
      FREE "10 clock do:start; 195 clock do:set period:1 t_ms:180000; 200 now",
      "break:{left_ms:25000}"},
     {"ends with the next period",
      FREE "10 clock do:start; 190 clock do:stop; 215 clock do:start "
           "period:2",
      "break:null phase:live"},
     {"none after the last period", FREE "10 clock do:start period:2; 200 now", "break:null"},
     {"none once it is closed", FREE "10 clock do:start; 200 close how:fall winner:red",
      "break:null phase:closed"},
     {"the bout's own break",
      "0 bout rules:freestyle-2022 length:{break_ms:20000}; 10 clock "
      "do:start; 200 now",
      "break:{left_ms:10000}"},
     {"no break at all",
      "0 bout rules:freestyle-2022 length:{break_ms:0}; 10 clock do:start; "
      "190 now",
      "phase:break break:{left_ms:0}"},
     {"set to a later period's length",
      "0 bout rules:freestyle-2022 length:{periods:3}; 10 clock "
      "do:set period:2 t_ms:180000; 15 now",
      "break:{left_ms:25000}"},
     {"of a length that was shortened later: from where it then ran out",
      FREE "10 clock do:start; 80 bout rules:freestyle-2022 length:{period_ms:60000}; 80 now",
      "phase:break break:{left_ms:20000}"})

/* Why the bout should end now: the first of superiority, cautions, time. It is kept after a close.
 */
ROWS(state, due, {"nothing", FREE, "due:null due_against:null"},
     {"superiority", FREE RED10, "due:superiority due_against:null"},
     {"of blue", FREE BLUE4 ";" BLUE4 ";" BLUE2, "due:superiority"},
     {"no more when the other side scores", FREE RED10 BLUE1, "due:null"},
     {"cautions, against one", FREE CAUTION(blue) CAUTION(blue) CAUTION(blue) RED1,
      "due:cautions due_against:[blue]"},
     {"against both, red first",
      FREE CAUTION(blue) CAUTION(blue) CAUTION(blue) CAUTION(red) CAUTION(red) CAUTION(red) RED1,
      "due:cautions due_against:[red,blue]"},
     {"more than three", FREE CAUTION(red) CAUTION(red) CAUTION(red) CAUTION(red) RED1,
      "due:cautions due_against:[red]"},
     {"superiority before cautions", FREE RED10 CAUTION(red) CAUTION(red) CAUTION(red) RED1,
      "due:superiority due_against:null"},
     {"time", FREE "10 clock do:start period:2; 190 now", "due:time due_against:null"},
     {"not a moment before", FREE "10 clock do:start period:2; 189.999 now", "due:null"},
     {"cautions before time",
      FREE CAUTION(red) CAUTION(red) CAUTION(red) "10 clock do:start period:2; 190 now",
      "due:cautions"},
     {"not after the first period", FREE "10 clock do:start; 190 now", "due:null"},
     {"kept after a close", FREE RED10 "close how:superiority winner:red", "due:superiority"},
     {"taken back with what made it", FREE RED5 ";" RED5 "; void ref:e3", "due:null"},
     {"confirmed apart: time is confirmed by itself", FREE "10 clock do:start period:2; 190 now",
      "confirmed:{due:time}"},
     {"confirmed apart: the margin", FREE RED10 BLUE1 "unconfirmed:true",
      "due:null confirmed:{red:10,blue:0,due:superiority}"},
     {"a later period takes time away",
      FREE "10 clock do:start period:2; 200 bout "
           "rules:freestyle-2022 length:{periods:3}; 201 now",
      "due:null phase:break"})

/* What the bout would be if that side scored that value next; what a side needs. The imagined point
 * is by technique, confirmed, and the last; nothing else changes. */
ROWS(
    state, outlook,
    {"at 0-0", FREE,
     "outlook:{red:{1:{red:1,blue:0,leader:{side:red,by:points},due:null},2:{red:2},4:{red:4},"
     "5:{red:5},3:null,6:null},blue:{1:{red:0,blue:1,leader:{side:blue,by:points}}}}"},
    {"the edition's values", "0 bout rules:june-2013", "outlook:{red:{3:{red:3},4:null}}"},
    {"at 2-1", FREE RED2 ";" BLUE1,
     "outlook:{blue:{1:{red:2,blue:2,leader:{side:red,by:holds}},2:{red:2,blue:3,leader:{side:"
     "blue,by:points}}}} needs:{red:{to_lead:null,to_superiority:9},blue:{to_lead:2,"
     "to_superiority:11}}"},
    {"level at 2-2, the last point leads", FREE RED2 ";" BLUE2,
     "needs:{red:{to_lead:1,to_superiority:10},blue:{to_lead:null}}"},
    {"behind by 1 with equal holds, a 1 draws level and leads", FREE RED1,
     "outlook:{blue:{1:{red:1,blue:1,leader:{side:blue,by:last_point}}}} needs:{blue:{to_lead:1}}"},
    {"no single action can", FREE RED5 ";" RED1, "needs:{blue:{to_lead:null,to_superiority:16}}"},
    {"a 5 draws level, and leads as the last point", FREE RED5 ";" RED5 ";" BLUE5,
     "outlook:{blue:{5:{red:10,blue:10,leader:{side:blue,by:last_point}}}} "
     "needs:{blue:{to_lead:5}}"},
    {"cautions decide there, too", FREE RED1 ";" CAUTION(blue) "1 now",
     "outlook:{blue:{1:{leader:{side:red,by:cautions}}}} needs:{blue:{to_lead:2}}"},
    {"superiority by the next action", FREE RED4 ";" RED4,
     "outlook:{red:{1:{due:null},2:{red:10,due:superiority},4:{red:12,due:superiority},5:{due:"
     "superiority}}} needs:{red:{to_superiority:2}}"},
    {"reached", FREE RED10,
     "needs:{red:{to_lead:null,to_superiority:null}} "
     "outlook:{blue:{1:{red:10,blue:1,due:null}}}"},
    {"Greco-Roman: 8", GRECO RED4 ";" RED2,
     "outlook:{red:{1:{due:null},2:{due:superiority}}} needs:{red:{to_superiority:2}}"},
    {"Greco-Roman: at 0-1 by passivity a step-out leads by technique",
     GRECO "passivity side:blue stage:penalty points:1",
     "outlook:{blue:{1:{red:1,blue:1,leader:{side:blue,by:technique}}}} needs:{blue:{to_lead:1}}"},
    {"trial of 2025: there it doesn't",
     "0 bout rules:greco-2025-trial; passivity side:blue stage:penalty points:1",
     "outlook:{blue:{1:{leader:{side:red,by:first_point}}}} needs:{blue:{to_lead:2}}"},
    {"unconfirmed points are in it", FREE RED2 "unconfirmed:true",
     "outlook:{red:{1:{red:3}},blue:{1:{red:2,blue:1}}}"},
    {"superiority that the other side has stays", FREE RED10 RED2,
     "outlook:{blue:{1:{red:12,blue:1,due:superiority}}}"},
    {"a leader by a tie-break needs nothing to lead", FREE "caution side:blue reason:a points:0",
     "leader:{side:red,by:cautions} needs:{red:{to_lead:null},blue:{to_lead:1}}"})

/* The officials must name a side at 2:00 of the first period at 0-0: FILA, June 2013, still common
 * practice; periods of 3:00 alone. */
ROWS(state, forced_call, {"from the beginning", FREE, "forced_call:{left_ms:120000}"},
     {"runs with the clock", FREE "10 clock do:start; 15 now", "forced_call:{left_ms:115000}"},
     {"a moment before", FREE "10 clock do:start; 129.999 now", "forced_call:{left_ms:1}"},
     {"reached", FREE "10 clock do:start; 130 now", "forced_call:null"},
     {"points end it", FREE RED1, "forced_call:null"},
     {"unconfirmed ones, too", FREE RED1 "unconfirmed:true", "forced_call:null"},
     {"taken back, it is there again", FREE RED1 "; void ref:e2", "forced_call:{left_ms:120000}"},
     {"a caution without points doesn't", FREE CAUTION(red) "1 now",
      "forced_call:{left_ms:120000}"},
     {"a warning doesn't", FREE "passivity side:red stage:warning", "forced_call:{left_ms:120000}"},
     {"an activity time does", FREE "passivity side:red stage:activity", "forced_call:null"},
     {"of blue's, too", FREE "passivity side:blue stage:activity", "forced_call:null"},
     {"a penalty of 0 points does", FREE "passivity side:red stage:penalty points:0",
      "forced_call:null"},
     {"as does one that ended an activity time",
      FREE "passivity side:red stage:activity; passivity side:red stage:penalty points:0",
      "forced_call:null"},
     {"level at 1-1 is not 0-0", FREE RED1 ";" BLUE1, "forced_call:null"},
     {"not in the second period", FREE "10 clock do:start period:2", "forced_call:null"},
     {"none for periods of 2:00", "0 bout rules:freestyle-2022 age_group:u17", "forced_call:null"},
     {"none for veterans", "0 bout rules:freestyle-2022 age_group:veterans", "forced_call:null"},
     {"under-20 as seniors", "0 bout rules:freestyle-2022 age_group:u20",
      "forced_call:{left_ms:120000}"},
     {"none where the bout's own periods are no longer than it",
      "0 bout rules:freestyle-2022 length:{period_ms:120000}", "forced_call:null"},
     {"where they are a moment longer", "0 bout rules:freestyle-2022 length:{period_ms:120001}",
      "forced_call:{left_ms:120000}"},
     {"none in Greco-Roman", GRECO, "forced_call:null"},
     {"before January 2022", "0 bout rules:freestyle-2015", "forced_call:{left_ms:120000}"})

/* Results. Codes and classification points: avjc.de, "Regelwerk", 2018, and as published (see
 * test_edition.c). The time is what has elapsed over the whole bout (common practice, no source).
 */
#define STOPPED "10 clock do:start; 63 clock do:stop; "
ROWS(state, result, {"none", FREE, "result:null"},
     {"fall", FREE STOPPED "close how:fall winner:red",
      "result:{how:fall,code:VFA,winner:red,class_points:{red:5,blue:0},period:1,time_ms:53000,"
      "consistent:true,unconfirmed:null}"},
     {"fall 0:40 into the second period",
      FREE "10 clock do:start period:2; 50 clock do:stop; "
           "close how:fall winner:blue",
      "result:{code:VFA,winner:blue,class_points:{red:0,blue:5},period:2,time_ms:220000}"},
     {"fall of one who is behind, past the margin", FREE RED10 "close how:fall winner:blue",
      "result:{code:VFA,winner:blue,consistent:true}"},
     {"injury", FREE "close how:injury winner:blue",
      "result:{code:VIN,class_points:{red:0,blue:5},consistent:true}"},
     {"cautions", FREE CAUTION(red) CAUTION(red) CAUTION(red) "close how:cautions winner:blue",
      "result:{code:VCA,class_points:{red:0,blue:5},consistent:true}"},
     {"cautions, though the loser hasn't them all",
      FREE CAUTION(red) CAUTION(red) "close how:cautions winner:blue", "result:{consistent:false}"},
     {"cautions, though the winner has them",
      FREE CAUTION(red) CAUTION(red) CAUTION(red) "close how:cautions winner:red",
      "result:{consistent:false}"},
     {"forfeit", FREE "close how:forfeit winner:red",
      "result:{code:VFO,class_points:{red:5,blue:0},time_ms:0,consistent:true}"},
     {"disqualification", FREE "close how:disqualification winner:red",
      "result:{code:DSQ,class_points:{red:5,blue:0},consistent:true}"},
     {"both disqualified", FREE "close how:both_disqualified",
      "result:{code:2DSQ,winner:null,class_points:{red:0,blue:0},consistent:true}"},
     {"both injured", FREE RED1 "; close how:both_injured",
      "result:{code:2VIN,winner:null,class_points:{red:0,blue:0},consistent:true}"},
     {"both forfeit", FREE "close how:both_forfeit", "result:{code:2VFO,winner:null}"},
     {"superiority, loser without points", FREE RED10 "close how:superiority winner:red",
      "result:{code:VSU,class_points:{red:4,blue:0},consistent:true}"},
     {"superiority, loser with points",
      FREE BLUE1 ";" RED10 RED1 "; close how:superiority "
                 "winner:red",
      "result:{code:VSU1,class_points:{red:4,blue:1},consistent:true}"},
     {"superiority, not by the margin", FREE RED5 "; close how:superiority winner:red",
      "result:{code:VSU,consistent:false}"},
     {"superiority, of the one who is behind", FREE RED10 "close how:superiority winner:blue",
      "result:{code:VSU1,consistent:false}"},
     {"points, loser without points", FREE RED1 "; close how:points winner:red",
      "result:{code:VPO,class_points:{red:3,blue:0},consistent:true}"},
     {"points, loser with points", FREE BLUE1 ";" RED2 "; close how:points winner:red",
      "result:{code:VPO1,class_points:{red:3,blue:1},consistent:true}"},
     {"points, level, by the last", FREE BLUE1 ";" RED1 "; close how:points winner:red",
      "result:{code:VPO1,consistent:true}"},
     {"points, level, of the other side", FREE BLUE1 ";" RED1 "; close how:points winner:blue",
      "result:{code:VPO1,winner:blue,consistent:false}"},
     {"points, of the one who is behind", FREE RED1 "; close how:points winner:blue",
      "result:{consistent:false}"},
     {"points, though nobody leads", FREE "close how:points winner:red",
      "result:{code:VPO,consistent:false}"},
     {"points, though the margin is reached", FREE RED10 "close how:points winner:red",
      "result:{consistent:false}"},
     {"the sheet's score, the same",
      FREE RED2 ";" BLUE1 "; close how:points winner:red "
                "score:{red:2,blue:1}",
      "result:{consistent:true}"},
     {"red's differs", FREE RED2 ";" BLUE1 "; close how:points winner:red score:{red:3,blue:1}",
      "result:{consistent:false}"},
     {"blue's differs", FREE RED2 ";" BLUE1 "; close how:points winner:red score:{red:2,blue:0}",
      "result:{consistent:false}"},
     {"the score differs after a fall", FREE "close how:fall winner:red score:{red:1,blue:0}",
      "result:{consistent:false}"},
     {"the sheet's code, the same", FREE RED2 ";" BLUE1 "; close how:points winner:red code:VPO1",
      "result:{code:VPO1,consistent:true}"},
     {"the code differs: the derived one is shown",
      FREE RED2 ";" BLUE1 "; close how:points winner:red code:VPO",
      "result:{code:VPO1,consistent:false}"},
     {"unconfirmed points count in it",
      FREE RED2 "unconfirmed:true; close how:points winner:red "
                "score:{red:2,blue:0}",
      "result:{consistent:true} confirmed:{red:0}"},
     {"what is keyed after it changes it", FREE RED2 "; close how:points winner:red;" BLUE4,
      "result:{consistent:false,code:VPO1}"},
     {"the last that stands counts", FREE "close how:fall winner:red; close how:injury winner:blue",
      "result:{how:injury,winner:blue}"},
     {"the last, void: the one before",
      FREE "close how:fall winner:red; close how:injury "
           "winner:blue; void ref:e3",
      "result:{how:fall,winner:red}"},
     {"amended", FREE "close how:fall winner:red; amend ref:e2 set:{winner:blue}",
      "result:{winner:blue}"},
     {"unconfirmed", FREE "close how:fall winner:red unconfirmed:true",
      "result:{unconfirmed:true}"},
     {"confirmed by its name", FREE "close how:fall winner:red unconfirmed:true; confirm ref:e2",
      "result:{unconfirmed:null}"},
     {"confirmed with all", FREE "close how:fall winner:red unconfirmed:true; confirm",
      "result:{unconfirmed:null}"},
     {"at its own bout time", FREE STOPPED "close how:fall winner:red period:1 t_ms:52000",
      "result:{period:1,time_ms:52000}"},
     {"keyed late: at its moment",
      FREE "10 clock do:start; 99 close how:fall winner:red "
           "keyed_at:@60; 100 now",
      "result:{time_ms:50000}"},
     {"the bout clock runs on, the result's time stays",
      FREE "10 clock do:start; 60 close how:fall winner:red; 100 now", "result:{time_ms:50000}"},
     {"a time beyond a length that was shortened later",
      FREE STOPPED "close how:fall winner:red; bout rules:freestyle-2022 length:{period_ms:50000}",
      "result:{period:1,time_ms:50000}"},
     {"an own bout time beyond a length that was shortened later counts as the length",
      FREE "close how:fall winner:red period:2 t_ms:170000; bout rules:freestyle-2022 "
           "length:{period_ms:60000}",
      "result:{period:2,time_ms:120000}"},
     {"its own period stays, though the bout no longer has it",
      FREE "close how:fall winner:red period:2 t_ms:5000; bout rules:freestyle-2022 "
           "length:{periods:1}",
      "result:{period:2,time_ms:185000}"},
     {"of shorter periods",
      "0 bout rules:freestyle-2022 age_group:u17; 10 clock do:start "
      "period:2; 50 close how:fall winner:red",
      "result:{period:2,time_ms:160000}"},
     {"Greco-Roman, 8-0 on points", GRECO RED4 ";" RED4 "; close how:points winner:red",
      "result:{code:VPO,consistent:false}"},
     {"Greco-Roman, 8-0 by superiority", GRECO RED4 ";" RED4 "; close how:superiority winner:red",
      "result:{code:VSU,consistent:true}"},
     {"a restart takes it away", FREE "close how:fall winner:red; restart",
      "result:null phase:called"})

/* What every state has. */
ROWS(state, always,
     {"seq is the last event's, over the whole log",
      FREE "bout bout:c rules:greco-2026; 1 clock do:start; 2 clock bout:c do:start",
      "bout:b seq:3"},
     {"also of one that changes nothing", FREE "confirm; note text:a to:booth", "seq:3"},
     {"a seq that was read is ignored", FREE "note text:a to:booth seq:77", "seq:2"},
     {"clock", FREE, "clock:{period:1,t_ms:0,left_ms:180000,elapsed_ms:0,running:false}"},
     {"score and what is confirmed of it", FREE,
      "score:{red:0,blue:0} unconfirmed:{red:0,blue:0} confirmed:{red:0,blue:0} "
      "cautions:{red:0,blue:0} challenge:{red:{left:true},blue:{left:true}}"},
     {"nobody leads", FREE,
      "leader:null due:null result:null position:null stoppage:null "
      "activity:null break:null"},
     {"needs at the beginning", FREE,
      "needs:{red:{to_lead:1,to_superiority:10},blue:{to_lead:1,to_superiority:10}}"})

/* `next_ms`: when the state changes by itself. Live, it is when somebody must look again. */
struct next_row {
    char name[64], story[240];
    double seconds; /* after ten o'clock; 0: never */
};
ParameterizedTestParameters(state, next)
{
    static struct next_row rows[] = {
        {"it stands", FREE, 0},
        {"it runs: the forced call", FREE "10 clock do:start; 15 now", 130},
        {"after it: the period's end", FREE "10 clock do:start; 135 now", 190},
        {"with points: the period's end", FREE "10 clock do:start;" RED1 "; 15 now", 190},
        {"used up: never", FREE "10 clock do:start; 195 now", 0},
        {"stopped again", FREE "10 clock do:start; 15 clock do:stop; 20 now", 0},
        {"in the second period", FREE "10 clock do:start period:2; 15 now", 190},
    };
    return cr_make_param_array(struct next_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct next_row *row, state, next)
{
    struct story story;
    struct fold fold;
    story_init(&story);
    story_tell(&story, row->story);
    const struct bout *bout = story.log.bouts[0];
    fold_init(&fold, bout, malloc, free);
    cr_assert(fold_read(&fold, bout->count));
    struct state state = state_of(&fold, story_now(&story));
    int64_t wanted =
        row->seconds > 0 ? story_begins_ms + (int64_t)(row->seconds * 1000) : INT64_MAX;
    cr_expect(eq(i64, state.next_ms, wanted), "%s", row->name);
    fold_close(&fold);
    story_close(&story);
}

/* Between now and `next_ms` nothing changes but what moves with time: the same phase, due and
 * score; an activity time's or a break's end changes numbers alone. */
Test(state, nothing_changes_before_next)
{
    size_t compared = 0;
    for (uint64_t seed = 1; seed <= 60; seed++) {
        struct dice dice = dice_of(seed);
        struct log log;
        log_init(&log, test_editions(), malloc, free);
        random_log(&dice, &log, 80);
        for (size_t i = 0; i < log.bout_count; i++) {
            struct fold fold;
            fold_init(&fold, log.bouts[i], malloc, free);
            for (size_t count = 1; count <= log.bouts[i]->count; count++) {
                cr_assert(fold_read(&fold, count));
                struct state now = state_of(&fold, INT64_MIN);
                if (now.next_ms == INT64_MAX)
                    continue;
                cr_assert(ge(i64, now.next_ms, now.now_ms));
                struct state then = state_of(&fold, now.next_ms - 1);
                cr_assert(eq(int, then.phase, now.phase), "seed %llu", (unsigned long long)seed);
                cr_assert(eq(int, then.due, now.due), "seed %llu", (unsigned long long)seed);
                cr_assert(eq(int, then.forced_call_left_ms == EVENT_NONE,
                             now.forced_call_left_ms == EVENT_NONE),
                          "seed %llu", (unsigned long long)seed);
                cr_assert(eq(i64, then.next_ms, now.next_ms), "seed %llu",
                          (unsigned long long)seed);
                compared++;
            }
            fold_close(&fold);
        }
        log_close(&log);
    }
    cr_expect(ge(sz, compared, 300), "%zu", compared);
}

/* The names on the wire. */
Test(state, names)
{
    static const char *const phases[] = {"off",   "closed", "over",   "live",
                                         "break", "called", "stopped"};
    static const char *const dues[] = {"", "superiority", "cautions", "time"};
    for (int i = 0; i < 7; i++)
        expect_text("phase", phase_name((enum phase)i), phases[i]);
    for (int i = 0; i < 4; i++)
        expect_text("due", due_name((enum due)i), dues[i]);
}
