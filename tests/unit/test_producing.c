/* Producing: what of a panel may be shown when, what an action does, what a rule does by itself. */
#include "producing/output.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "support.h"
#include "wire/json.h"
#include "wire/output_json.h"

#define FREE "0 bout rules:freestyle-2022; "
#define RED2 "score side:red points:2 action:takedown "
#define BLUE2 "score side:blue points:2 action:takedown "
#define BLUE1 "score side:blue points:1 action:step_out "

/* ---- frames ---- */

struct frames_row {
    char rate[8];
    int64_t frames, ms;
};

/* A frame's length by SMPTE ST 12-1: 1001/30000 s at 29.97, and so on; figured by hand. */
ParameterizedTestParameters(producing, frames)
{
    static struct frames_row rows[] = {
        {"50", 12, 240},      {"25", 1, 40},        {"25", 3000, 120000}, {"24", 1, 42},
        {"23.976", 24, 1001}, {"29.97", 30, 1001},  {"29.97", 1, 33},     {"30", 1, 33},
        {"59.94", 60, 1001},  {"59.94", 150, 2503}, {"60", 1, 17},        {"60", 0, 0},
    };
    return cr_make_param_array(struct frames_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct frames_row *row, producing, frames)
{
    enum frame_rate rate = RATE_NONE;
    cr_assert(frame_rate_read(row->rate, &rate));
    cr_expect(eq(i64, frames_ms(row->frames, rate), row->ms), "%d at %s", (int)row->frames,
              row->rate);
    expect_text("its name", frame_rate_name(rate), row->rate);
}

/* ---- what there is of a panel ---- */

struct seen_bout {
    struct story story;
    struct fold fold;
    struct state state;
};

static void bout_tell(struct seen_bout *bout, const char *text)
{
    story_init(&bout->story);
    story_tell(&bout->story, text);
    const struct bout *log = bout->story.log.bouts[0];
    fold_init(&bout->fold, log, malloc, free);
    cr_assert(fold_read(&bout->fold, log->count));
    bout->state = state_of(&bout->fold, story_now(&bout->story));
}

static void bout_forget(struct seen_bout *bout)
{
    fold_close(&bout->fold);
    story_close(&bout->story);
}

struct absence_row {
    char name[60], story[500];
    enum panel panel;
    enum absence want;
};

/* Sources: the requirement that what derives from unconfirmed points, or while a challenge is open,
 * is not on air, and that nobody is called the winner before the result stands (docs/wire.md). */
ParameterizedTestParameters(producing, absences)
{
    static struct absence_row rows[] = {
        {"who, from the call on", FREE, PANEL_WHO, ABSENT_NOT},
        {"attacks: none yet", FREE, PANEL_ATTACKS, ABSENT_NOT_YET},
        {"attacks: one was stopped", FREE "attack side:red techniques:[single_leg] outcome:stopped",
         PANEL_ATTACKS, ABSENT_NOT},
        {"attacks: the only one isn't confirmed", FREE RED2 "technique:single_leg unconfirmed:true",
         PANEL_ATTACKS, ABSENT_NOT_YET},
        {"attacks: under review",
         FREE RED2 "technique:single_leg; challenge side:blue outcome:asked", PANEL_ATTACKS,
         ABSENT_UNDER_REVIEW},
        {"why: nobody leads", FREE, PANEL_WHY, ABSENT_NOT_YET},
        {"why: somebody leads", FREE RED2, PANEL_WHY, ABSENT_NOT},
        {"why: not confirmed", FREE RED2 ";" BLUE2 "unconfirmed:true", PANEL_WHY,
         ABSENT_UNCONFIRMED},
        {"why: confirmed again", FREE RED2 ";" BLUE2 "unconfirmed:true; confirm", PANEL_WHY,
         ABSENT_NOT},
        {"why: under review", FREE RED2 "; challenge side:blue outcome:asked of:e2", PANEL_WHY,
         ABSENT_UNDER_REVIEW},
        {"why: reviewed",
         FREE RED2 "; challenge side:blue outcome:asked of:e2; challenge side:blue outcome:upheld",
         PANEL_WHY, ABSENT_NOT},
        {"why: a fall has decided", FREE RED2 "; close how:fall winner:blue", PANEL_WHY,
         ABSENT_OVER},
        {"why: decided on points", FREE RED2 "; close how:points winner:red", PANEL_WHY,
         ABSENT_NOT},
        {"needs", FREE, PANEL_NEEDS, ABSENT_NOT},
        {"needs: not confirmed", FREE BLUE2 "unconfirmed:true", PANEL_NEEDS, ABSENT_UNCONFIRMED},
        {"needs: the time is up", FREE "10 clock do:start period:2; 190 now", PANEL_NEEDS,
         ABSENT_OVER},
        {"needs: a result", FREE "close how:fall winner:red", PANEL_NEEDS, ABSENT_OVER},
        {"result: none", FREE RED2, PANEL_RESULT, ABSENT_NOT_YET},
        {"result: not confirmed", FREE "close how:fall winner:red unconfirmed:true", PANEL_RESULT,
         ABSENT_UNCONFIRMED},
        {"result: it stands", FREE "close how:fall winner:red", PANEL_RESULT, ABSENT_NOT},
        {"result: points wait", FREE RED2 "unconfirmed:true; close how:points winner:red",
         PANEL_RESULT, ABSENT_UNCONFIRMED},
        {"result: taken back", FREE "close how:fall winner:red; void ref:e2", PANEL_RESULT,
         ABSENT_NOT_YET},
        {"no other mat", FREE, PANEL_MATS, ABSENT_NOT_YET},
        {"no result of the day", FREE, PANEL_RESULTS, ABSENT_NOT_YET},
    };
    return cr_make_param_array(struct absence_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct absence_row *row, producing, absences)
{
    struct seen_bout bout;
    struct surroundings around = {.is_private = false};
    bout_tell(&bout, row->story);
    enum absence got = panel_absence(row->panel, &bout.state, &around);
    cr_expect(eq(int, got, row->want), "%s: %s", row->name, absence_name(got));
    around.is_private = true;
    cr_expect(eq(int, panel_absence(row->panel, &bout.state, &around), ABSENT_MINORS), "%s",
              row->name);
    if (panel_is_of_bout(row->panel)) {
        around.is_private = false;
        cr_expect(eq(int, panel_absence(row->panel, NULL, &around), ABSENT_NO_BOUT), "%s",
                  row->name);
    }
    bout_forget(&bout);
}

Test(producing, a_line_is_there_once_it_is_written)
{
    struct choice line = {.panel = PANEL_TEXT}, back = {.panel = PANEL_BACK};
    cr_expect(eq(int, choice_absence(&line, ABSENT_NOT), ABSENT_EMPTY));
    cr_expect(eq(int, choice_absence(&back, ABSENT_NOT), ABSENT_EMPTY));
    strcpy(line.text, "x");
    back.at_ms = 1;
    cr_expect(eq(int, choice_absence(&line, ABSENT_NOT), ABSENT_NOT));
    cr_expect(eq(int, choice_absence(&back, ABSENT_NOT), ABSENT_NOT));
    cr_expect(eq(int, choice_absence(&line, ABSENT_MINORS), ABSENT_MINORS));
}

struct least_row {
    enum panel panel;
    char text[80];
    unsigned words;
    int64_t want_ms;
};

/* 2 s and 0.2 s a word, 3 s and 0.2 s from ten words on; names 5 s. */
ParameterizedTestParameters(producing, least_times)
{
    static struct least_row rows[] = {
        {PANEL_WHO, "", 4, 5000},
        {PANEL_WHO, "", 40, 5000},
        {PANEL_NEEDS, "", 0, 2000},
        {PANEL_NEEDS, "", 9, 3800},
        {PANEL_NEEDS, "", 10, 5000},
        {PANEL_TEXT, "one", 7, 2200},
        {PANEL_TEXT, "  one  two ", 0, 2400},
        {PANEL_TEXT, "a b c d e f g h i j", 0, 5000},
    };
    return cr_make_param_array(struct least_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct least_row *row, producing, least_times)
{
    struct choice choice = {.panel = row->panel};
    strcpy(choice.text, row->text);
    cr_expect(eq(i64, panel_least_ms(&choice, row->words), row->want_ms), "%s %u",
              panel_name(row->panel), row->words);
}

/* ---- a panel's data ---- */

struct data_row {
    char name[60], story[900];
    enum panel panel;
    enum side side;
    char wanted[500];
};

#define TRY(side, technique, rest) "attack side:" #side " techniques:[" #technique "] " rest "; "

ParameterizedTestParameters(producing, data)
{
    static struct data_row rows[] = {
        {"tried and scored, by kind and leg",
         FREE TRY(red, single_leg, "leg:lead outcome:stopped")
             TRY(red, single_leg, "leg:trail outcome:open") RED2
         "attack:e3; " TRY(blue, double_leg, "outcome:stopped"),
         PANEL_ATTACKS, SIDE_NONE,
         "red:{tried:2,scored:1} blue:{tried:1,scored:0} kinds:{'1':{technique:single_leg,"
         "red:{tried:2,scored:1},blue:null},'2':{technique:double_leg,red:null}}"
         " legs:{lead:{red:{tried:1,scored:0}},trail:{red:{tried:1,scored:1}}}"},
        {"one side alone",
         FREE TRY(red, single_leg, "outcome:stopped") TRY(blue, double_leg, "outcome:stopped"),
         PANEL_ATTACKS, SIDE_RED, "red:{tried:1} blue:null kinds:{'1':{red:{tried:1}}}"},
        {"an attack whose score waits doesn't count yet",
         FREE TRY(red, single_leg, "leg:lead outcome:open") RED2
         "attack:e2 unconfirmed:true; " TRY(red, single_leg, "leg:lead outcome:stopped"),
         PANEL_ATTACKS, SIDE_NONE,
         "red:{tried:1,scored:0} kinds:{'1':{red:{tried:1,scored:0}}}"
         " legs:{lead:{red:{tried:1,scored:0}}}"},
        {"two waiting scores of one attack are one",
         FREE TRY(red, single_leg, "leg:lead outcome:open") RED2
         "attack:e2 unconfirmed:true; " RED2
         "attack:e2 unconfirmed:true; " TRY(red, single_leg, "outcome:stopped"),
         PANEL_ATTACKS, SIDE_NONE, "red:{tried:1,scored:0} legs:{lead:null}"},
        {"once it is confirmed it counts",
         FREE TRY(red, single_leg, "leg:lead outcome:open") RED2
         "attack:e2 unconfirmed:true; confirm",
         PANEL_ATTACKS, SIDE_NONE, "red:{tried:1,scored:1} legs:{lead:{red:{scored:1}}}"},
        {"the four most tried, the rest together",
         FREE TRY(red, ankle_pick, "outcome:stopped") TRY(red, single_leg, "outcome:stopped")
             TRY(red, single_leg, "outcome:stopped") TRY(blue, double_leg, "outcome:stopped") TRY(
                 red, double_leg, "outcome:stopped") TRY(red, high_crotch, "outcome:stopped")
                 TRY(blue, high_crotch, "outcome:stopped") TRY(red, snap_down, "outcome:stopped")
                     TRY(blue, snap_down, "outcome:stopped") TRY(blue, throw_by, "outcome:stopped"),
         PANEL_ATTACKS, SIDE_NONE,
         "kinds:{'1':{technique:single_leg},'2':{technique:double_leg},'3':{technique:high_crotch},"
         "'4':{technique:snap_down},'5':{technique:null,others:true,red:{tried:1},blue:{tried:1}}"
         "}"},
        {"why: by points, and nothing more", FREE RED2, PANEL_WHY, SIDE_NONE,
         "leader:{side:red,by:points} rules:freestyle-2022"
         " steps:{'1':{by:points,red:2,blue:0,side:red},'2':null}"},
        /* freestyle-2022: holds, cautions, last point. */
        {"why: down to the last point", FREE RED2 ";" BLUE2, PANEL_WHY, SIDE_NONE,
         "leader:{side:blue,by:last_point} steps:{'1':{by:points,red:2,blue:2,side:null},"
         "'2':{by:holds,red:{'2':1},blue:{'2':1},side:null},'3':{by:cautions,red:0,blue:0},"
         "'4':{by:last_point,side:blue}}"},
        {"why: by the higher hold", FREE RED2 ";" BLUE1 ";" BLUE1, PANEL_WHY, SIDE_NONE,
         "leader:{side:red,by:holds} steps:{'2':{by:holds,side:red},'3':null}"},
        {"needs: to lead, and by what", FREE RED2, PANEL_NEEDS, SIDE_NONE,
         "red:{leads:true,to_superiority:8,to_lead:null}"
         " blue:{leads:null,to_lead:2,to_lead_by:last_point,to_superiority:12}"},
        {"needs of one side", FREE RED2, PANEL_NEEDS, SIDE_BLUE, "red:null blue:{to_lead:2}"},
        /* Classification points of 2022: 3-1 where the loser has scored (docs/rules.md). */
        {"result, with what it is worth", FREE RED2 ";" BLUE1 "; close how:points winner:red",
         PANEL_RESULT, SIDE_NONE,
         "how:points code:VPO1 winner:red loser_scored:true score:{red:2,blue:1}"
         " class_points:{red:3,blue:1}"},
        {"result without a point for the loser", FREE RED2 "; close how:points winner:red",
         PANEL_RESULT, SIDE_NONE, "code:VPO loser_scored:null class_points:{red:3,blue:0}"},
        {"result without a winner", FREE "close how:both_disqualified", PANEL_RESULT, SIDE_NONE,
         "how:both_disqualified winner:null loser_scored:null"},
    };
    return cr_make_param_array(struct data_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct data_row *row, producing, data)
{
    struct seen_bout bout;
    char message[300] = "";
    bout_tell(&bout, row->story);
    json_t *got = row->panel == PANEL_ATTACKS ? attacks_json_sure(&bout.state, row->side)
                  : row->panel == PANEL_WHY   ? why_json(&bout.state)
                  : row->panel == PANEL_NEEDS ? needs_json_sure(&bout.state, row->side)
                                              : result_panel_json(&bout.state);
    json_t *wanted = shorthand(row->wanted);
    cr_expect(has_all(got, wanted, message, sizeof message), "%s: %s", row->name, message);
    json_decref(got);
    json_decref(wanted);
    bout_forget(&bout);
}

/* ---- what a producer sends ---- */

static bool read_act(const char *text, struct act *act, struct complaint *complaint)
{
    struct arena arena;
    arena_init(&arena, malloc, free);
    *complaint = (struct complaint){.why = ACCEPTED};
    const struct value *value = json_read(&arena, text, strlen(text), complaint);
    cr_assert(ne(ptr, (void *)(uintptr_t)value, NULL), "%s", text);
    bool good = act_read(act, value, complaint);
    arena_close(&arena);
    return good;
}

struct refused_row {
    char text[400];
    enum refusal why;
    char pointer[40];
};

ParameterizedTestParameters(producing, refused)
{
    static struct refused_row rows[] = {
        {"{}", REFUSED_MEMBER_VALUE, ""},
        {"[]", REFUSED_MEMBER_TYPE, ""},
        {"{\"prepare\":{},\"take\":{}}", REFUSED_MEMBER_VALUE, ""},
        {"{\"cut\":{}}", REFUSED_MEMBER_UNKNOWN, ""},
        {"{\"prepare\":1}", REFUSED_MEMBER_TYPE, "/prepare"},
        {"{\"prepare\":{\"panel\":1}}", REFUSED_MEMBER_TYPE, "/prepare/panel"},
        {"{\"prepare\":{\"panel\":\"none\"}}", REFUSED_MEMBER_VALUE, "/prepare/panel"},
        {"{\"prepare\":{\"panel\":\"who\",\"line\":true}}", REFUSED_MEMBER_UNKNOWN,
         "/prepare/line"},
        {"{\"prepare\":{\"panel\":\"who\",\"side\":\"green\"}}", REFUSED_MEMBER_VALUE,
         "/prepare/side"},
        {"{\"prepare\":{\"panel\":\"why\",\"side\":\"red\"}}", REFUSED_MEMBER_VALUE,
         "/prepare/side"},
        {"{\"prepare\":{\"panel\":\"who\",\"text\":\"x\"}}", REFUSED_MEMBER_VALUE, "/prepare/text"},
        {"{\"prepare\":{\"panel\":\"text\",\"text\":7}}", REFUSED_MEMBER_TYPE, "/prepare/text"},
        {"{\"prepare\":{\"panel\":\"text\",\"text\":\"a\\nb\"}}", REFUSED_MEMBER_VALUE,
         "/prepare/text"},
        {"{\"prepare\":{\"panel\":\"back\",\"at\":\"noon\"}}", REFUSED_MEMBER_VALUE, "/prepare/at"},
        {"{\"prepare\":{\"panel\":\"text\",\"at\":\"2027-05-08T10:00:00.000Z\"}}",
         REFUSED_MEMBER_VALUE, "/prepare/at"},
        {"{\"take\":{\"line\":false}}", REFUSED_MEMBER_TYPE, "/take/line"},
        {"{\"take\":{\"prepared\":0}}", REFUSED_MEMBER_VALUE, "/take/prepared"},
        {"{\"take\":{\"prepared\":1.5}}", REFUSED_MEMBER_TYPE, "/take/prepared"},
        {"{\"take\":{\"prepared\":1,\"panel\":\"who\"}}", REFUSED_MEMBER_VALUE, "/take/prepared"},
        {"{\"clear\":true}", REFUSED_MEMBER_TYPE, "/clear"},
        {"{\"clear\":{\"all\":true}}", REFUSED_MEMBER_UNKNOWN, "/clear/all"},
        {"{\"hold\":{}}", REFUSED_MEMBER_TYPE, "/hold"},
        {"{\"hold\":\"on\"}", REFUSED_MEMBER_VALUE, "/hold"},
        {"{\"mat\":1}", REFUSED_MEMBER_TYPE, "/mat"},
        {"{\"mat\":\"0123456789012345678901234567890123456789012345678901234567890123456789"
         "0123456789012345678901234567890\"}",
         REFUSED_MEMBER_VALUE, "/mat"},
        {"{\"delay\":{}}", REFUSED_MEMBER_VALUE, "/delay/ms"},
        {"{\"delay\":{\"ms\":-1}}", REFUSED_MEMBER_VALUE, "/delay/ms"},
        {"{\"delay\":{\"ms\":120001}}", REFUSED_MEMBER_VALUE, "/delay/ms"},
        {"{\"delay\":{\"ms\":1,\"frames\":1,\"rate\":\"25\"}}", REFUSED_MEMBER_VALUE, "/delay/ms"},
        {"{\"delay\":{\"frames\":1}}", REFUSED_MEMBER_VALUE, "/delay/rate"},
        {"{\"delay\":{\"ms\":1,\"rate\":\"25\"}}", REFUSED_MEMBER_VALUE, "/delay/rate"},
        {"{\"delay\":{\"frames\":1,\"rate\":\"26\"}}", REFUSED_MEMBER_VALUE, "/delay/rate"},
        {"{\"delay\":{\"frames\":3001,\"rate\":\"25\"}}", REFUSED_MEMBER_VALUE, "/delay/frames"},
        {"{\"delay\":{\"ms\":1,\"of\":\"\"}}", REFUSED_MEMBER_VALUE, "/delay/of"},
        {"{\"look\":{\"position\":\"middle\"}}", REFUSED_MEMBER_VALUE, "/look/position"},
        {"{\"look\":{\"colour\":\"red\"}}", REFUSED_MEMBER_UNKNOWN, "/look/colour"},
        {"{\"look\":{\"theme\":1}}", REFUSED_MEMBER_TYPE, "/look/theme"},
        {"{\"look\":{\"lang\":\"d e\"}}", REFUSED_MEMBER_VALUE, "/look/lang"},
        {"{\"look\":{\"scale_percent\":49}}", REFUSED_MEMBER_VALUE, "/look/scale_percent"},
        {"{\"arm\":{\"on\":true}}", REFUSED_MEMBER_MISSING, "/arm/rule"},
        {"{\"arm\":{\"rule\":\"names_at_call\"}}", REFUSED_MEMBER_MISSING, "/arm/on"},
        {"{\"arm\":{\"rule\":\"everything\",\"on\":true}}", REFUSED_MEMBER_VALUE, "/arm/rule"},
        {"{\"arm\":{\"rule\":\"names_at_call\",\"on\":1}}", REFUSED_MEMBER_TYPE, "/arm/on"},
        {"{\"arm\":{\"rule\":\"names_at_call\",\"on\":true,\"at\":\"2027-05-08T10:00:00.000Z\"}}",
         REFUSED_MEMBER_VALUE, "/arm/at"},
        {"{\"remove\":{\"now\":true}}", REFUSED_MEMBER_UNKNOWN, "/remove/now"},
    };
    return cr_make_param_array(struct refused_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct refused_row *row, producing, refused)
{
    struct act act;
    struct complaint complaint;
    cr_expect(not(read_act(row->text, &act, &complaint)), "%s", row->text);
    cr_expect(eq(int, complaint.why, row->why), "%s: %s", row->text, complaint.detail);
    expect_text(row->text, complaint.pointer, row->pointer);
    cr_expect(ne(int, complaint.detail[0], '\0'), "%s", row->text);
}

Test(producing, texts_are_bounded_by_characters)
{
    char text[PANEL_TEXT_MAX * 4 + 100], line[PANEL_TEXT_MAX * 4 + 1] = "";
    struct act act;
    struct complaint complaint;
    for (int i = 0; i < PANEL_TEXT_MAX; i++)
        strcat(line, "\xf0\x9f\xa4\xbc"); /* U+1F93C, four bytes */
    snprintf(text, sizeof text, "{\"take\":{\"panel\":\"text\",\"text\":\"%s\"}}", line);
    cr_assert(read_act(text, &act, &complaint), "%s", complaint.detail);
    expect_text("140 characters", act.choice.text, line);
    snprintf(text, sizeof text, "{\"take\":{\"panel\":\"text\",\"text\":\"%sx\"}}", line);
    cr_expect(not(read_act(text, &act, &complaint)), "one more");
    expect_text("where", complaint.pointer, "/take/text");
}

/* ---- what it does ---- */

static struct situation situation_told(struct seen_bout *bout, const char *story, int64_t now_ms)
{
    struct surroundings around = {.has_mats = true, .has_results = true};
    bout_tell(bout, story);
    return situation_of(&bout->state, &around, now_ms);
}

/* Each action must be taken. Answers the last one's outcome. */
static struct act_outcome do_all(struct output *output, const char *acts, struct situation *now)
{
    struct act_outcome outcome = {.changed = false};
    char copy[600], *rest = copy, detail[160];
    snprintf(copy, sizeof copy, "%s", acts);
    for (char *one; (one = strsep(&rest, ";")) != NULL;) {
        struct act act;
        struct complaint complaint;
        cr_assert(read_act(one, &act, &complaint), "%s: %s", one, complaint.detail);
        enum act_answer answer =
            output_act(output, &act, now, "ann", &outcome, detail, sizeof detail);
        cr_assert(eq(int, answer, ACT_DONE), "%s: %s", one, detail);
    }
    return outcome;
}

struct act_row {
    char name[80], story[300], acts[400], wanted[400];
};

#define WHO "{\"take\":{\"panel\":\"who\"}}"
#define TEXT(text) "{\"take\":{\"panel\":\"text\",\"text\":\"" text "\"}}"

/* `wanted` is of what is kept: docs/wire.md, OUTPUT. */
ParameterizedTestParameters(producing, acts)
{
    static struct act_row rows[] = {
        {"a new output has its line on air", FREE, "{\"prepare\":{}}",
         "version:2 on_air:{line:true,panel:null} prepared:null hold:null delay:{ms:0}"},
        {"prepared, not on air", FREE, "{\"prepare\":{\"panel\":\"who\"}}",
         "on_air:{panel:null} prepared:{panel:who,version:2,by:ann,seen:{bout:b,seq:1}}"},
        {"taken as prepared", FREE,
         "{\"prepare\":{\"panel\":\"who\",\"side\":\"red\"}};{\"take\":{}}",
         "on_air:{line:true,panel:{panel:who,side:red,bout:b,by:ann,least_ms:5000}} prepared:null"
         " version:3"},
        {"taken with its version", FREE,
         "{\"prepare\":{\"panel\":\"who\"}};{\"hold\":\"off\"};{\"take\":{\"prepared\":2}}",
         "on_air:{panel:{panel:who}}"},
        {"a panel taken by name leaves what is prepared", FREE,
         "{\"prepare\":{\"panel\":\"needs\"}};" WHO,
         "on_air:{panel:{panel:who}}"
         " prepared:{panel:needs}"},
        {"taken away again", FREE, "{\"prepare\":{\"panel\":\"who\"}};{\"prepare\":{}}",
         "prepared:null on_air:{panel:null}"},
        {"clear takes everything", FREE, WHO ";{\"clear\":{}}", "on_air:{line:false,panel:null}"},
        {"clear ends a hold", FREE, WHO ";{\"hold\":\"freeze\"};{\"clear\":{}}", "hold:null"},
        {"clear leaves what is prepared", FREE, "{\"prepare\":{\"panel\":\"who\"}};{\"clear\":{}}",
         "prepared:{panel:who}"},
        {"the panel alone", FREE, WHO ";{\"clear\":{\"panel\":true}}",
         "on_air:{line:true,panel:null}"},
        {"the line alone", FREE, WHO ";{\"clear\":{\"line\":true}}",
         "on_air:{line:false,panel:{panel:who}}"},
        {"the line again", FREE, "{\"clear\":{}};{\"take\":{\"line\":true}}",
         "on_air:{line:true,panel:null}"},
        {"line and panel at once", FREE,
         "{\"clear\":{}};{\"take\":{\"line\":true,\"panel\":\"who\"}}",
         "on_air:{line:true,panel:{panel:who}}"},
        {"a panel without the line", FREE, "{\"clear\":{}};" WHO,
         "on_air:{line:false,panel:{panel:who}}"},
        {"held", FREE, "{\"hold\":\"hide\"}", "hold:{how:hide}"},
        {"held another way", FREE, "{\"hold\":\"hide\"};{\"hold\":\"freeze\"}",
         "hold:{how:freeze}"},
        {"taken while it is held", FREE, "{\"hold\":\"hide\"};" WHO,
         "hold:{how:hide} on_air:{panel:{panel:who}}"},
        {"another mat: its bout's panels go", FREE,
         WHO ";{\"prepare\":{\"panel\":\"why\"}};{\"mat\":\"B\"}",
         "mat:B on_air:{line:true,panel:null} prepared:null"},
        {"another mat: other panels stay", FREE,
         TEXT("Hello") ";{\"prepare\":{\"panel\":\"mats\"}};{\"mat\":\"B\"}",
         "mat:B on_air:{panel:{panel:text,text:Hello,bout:null}} prepared:{panel:mats}"},
        {"the same mat again changes nothing on air", FREE,
         "{\"mat\":\"B\"};" WHO ";{\"mat\":\"B\"}", "on_air:{panel:{panel:who}}"},
        {"the first mat again", FREE, "{\"mat\":\"B\"};{\"mat\":\"\"}", "mat:null"},
        {"a delay in frames", FREE, "{\"delay\":{\"frames\":150,\"rate\":\"59.94\"}}",
         "delay:{ms:2503,frames:150,rate:'59.94'}"},
        {"a delay in ms", FREE,
         "{\"delay\":{\"frames\":150,\"rate\":\"59.94\"}};{\"delay\":{\"ms\":80}}",
         "delay:{ms:80,frames:null,rate:null}"},
        {"another audience's delay isn't the output's", FREE,
         "{\"delay\":{\"ms\":80,\"of\":\"mat/A/follow\"}}", "delay:{ms:0} version:1"},
        {"a look is whole", FREE,
         "{\"look\":{\"theme\":\"light\",\"scale_percent\":80}};{\"look\":{\"clock\":\"elapsed\"}}",
         "look:{clock:elapsed,theme:null,scale_percent:null}"},
        {"armed", FREE, "{\"arm\":{\"rule\":\"names_at_call\",\"on\":true}}",
         "rules:{names_at_call:{armed:true,by:ann},why_in_break:{armed:false,by:null}}"},
        {"disarmed", FREE,
         "{\"arm\":{\"rule\":\"round_between\",\"on\":true,\"at\":\"2027-05-08T11:00:00.000Z\"}};"
         "{\"arm\":{\"rule\":\"round_between\",\"on\":false}}",
         "rules:{round_between:{armed:false,by:null,since:null,at:null}}"},
    };
    return cr_make_param_array(struct act_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct act_row *row, producing, acts)
{
    struct seen_bout bout;
    struct situation now = situation_told(&bout, row->story, story_begins_ms);
    struct output output = output_new("main"), again;
    char message[300] = "";
    do_all(&output, row->acts, &now);
    json_t *kept = output_kept_json(&output), *wanted = shorthand(row->wanted);
    cr_expect(has_all(kept, wanted, message, sizeof message), "%s: %s", row->name, message);
    /* What is kept is all that matters: read back, it is kept the same. */
    cr_assert(output_kept_read(&again, kept), "%s", row->name);
    json_t *twice = output_kept_json(&again);
    cr_expect(json_equal(kept, twice), "%s: kept again", row->name);
    json_decref(kept);
    json_decref(twice);
    json_decref(wanted);
    bout_forget(&bout);
}

struct not_done_row {
    char name[60], story[300], first[200], act[200];
    enum act_answer want;
    char detail[100];
};

ParameterizedTestParameters(producing, not_done)
{
    static struct not_done_row rows[] = {
        {"nothing is prepared", FREE, "", "{\"take\":{}}", ACT_NOT_PREPARED,
         "nothing is prepared, and no panel named"},
        {"nothing of that version", FREE, "", "{\"take\":{\"prepared\":2}}", ACT_NOT_PREPARED,
         "nothing is prepared now"},
        {"something else by now", FREE,
         "{\"prepare\":{\"panel\":\"who\"}};{\"prepare\":{\"panel\":\"needs\"}}",
         "{\"take\":{\"prepared\":2}}", ACT_NOT_PREPARED, "needs is prepared now"},
        {"withheld", FREE RED2 "unconfirmed:true", "", "{\"take\":{\"panel\":\"why\"}}", ACT_ABSENT,
         "nothing of it can be shown: points wait for their confirmation"},
        {"withheld, as prepared", FREE RED2 "unconfirmed:true", "{\"prepare\":{\"panel\":\"why\"}}",
         "{\"take\":{}}", ACT_ABSENT,
         "nothing of it can be shown: points wait for their confirmation"},
        {"not written", FREE, "", "{\"take\":{\"panel\":\"text\"}}", ACT_ABSENT,
         "nothing of it can be shown: nothing is written in it"},
        {"the line doesn't help", FREE, "{\"clear\":{}}",
         "{\"take\":{\"panel\":\"result\",\"line\":true}}", ACT_ABSENT,
         "nothing of it can be shown: there is nothing to say of it yet"},
    };
    return cr_make_param_array(struct not_done_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct not_done_row *row, producing, not_done)
{
    struct seen_bout bout;
    struct situation now = situation_told(&bout, row->story, story_begins_ms);
    struct output output = output_new("main");
    struct act act;
    struct act_outcome outcome;
    struct complaint complaint;
    char detail[160] = "";
    if (row->first[0] != '\0')
        do_all(&output, row->first, &now);
    json_t *before = output_kept_json(&output);
    cr_assert(read_act(row->act, &act, &complaint), "%s", complaint.detail);
    enum act_answer got = output_act(&output, &act, &now, "", &outcome, detail, sizeof detail);
    cr_expect(eq(int, got, row->want), "%s", row->name);
    expect_text(row->name, detail, row->detail);
    json_t *after = output_kept_json(&output);
    cr_expect(json_equal(before, after), "%s: nothing has changed", row->name);
    json_decref(before);
    json_decref(after);
    bout_forget(&bout);
}

/* ---- what has changed since ---- */

struct change_row {
    char was[300], is[400], words[200];
};

ParameterizedTestParameters(producing, changes)
{
    static struct change_row rows[] = {
        {FREE, FREE "note text:a to:booth", ""},
        {FREE, FREE RED2 "unconfirmed:true", "red 0 to 2, not confirmed"},
        {FREE RED2 "unconfirmed:true", FREE RED2 "unconfirmed:true; confirm",
         "red 2 confirmed; red leads on points"},
        {FREE RED2, FREE RED2 ";" BLUE2, "blue 0 to 2; blue leads on last point"},
        {FREE RED2, FREE RED2 "; void ref:e2", "red 2 to 0; red leads no more"},
        {FREE, FREE "clock do:start", "the clock runs"},
        {FREE "clock do:start", FREE "clock do:start; 2 clock do:stop", "the clock stands"},
        {FREE "clock do:start", FREE "clock do:start; 2 clock do:end", "break"},
        {FREE RED2, FREE RED2 "; challenge side:blue outcome:asked", "a challenge is open"},
        {FREE RED2 "; challenge side:blue outcome:asked",
         FREE RED2 "; challenge side:blue outcome:asked; challenge side:blue outcome:rejected "
                   "points:1",
         "red 2 to 3; no challenge is open any more"},
        {FREE, FREE "close how:fall winner:red", "a result stands"},
        {FREE, "0 bout rules:freestyle-2022 bout:c", "another bout"},
    };
    return cr_make_param_array(struct change_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct change_row *row, producing, changes)
{
    struct seen_bout one, other;
    char words[CHANGE_WORDS_SIZE];
    struct situation was = situation_told(&one, row->was, story_begins_ms);
    struct situation is = situation_told(&other, row->is, story_begins_ms);
    cr_expect(eq(int, seen_changes(&was.seen, &is.seen, words), row->words[0] != '\0'), "%s",
              row->is);
    expect_text(row->is, words, row->words);
    struct output output = output_new("main");
    do_all(&output, "{\"prepare\":{\"panel\":\"who\"}}", &was);
    struct act_outcome outcome = do_all(&output, "{\"take\":{}}", &is);
    cr_expect(eq(int, outcome.has_changes, row->words[0] != '\0'), "%s", row->is);
    expect_text(row->is, outcome.changes, row->words);
    bout_forget(&one);
    bout_forget(&other);
}

Test(producing, a_take_says_what_it_cut_short)
{
    struct seen_bout bout;
    struct situation now = situation_told(&bout, FREE, 1000);
    struct output output = output_new("main");
    do_all(&output, WHO, &now);
    now.now_ms = 1000 + 4999;
    struct act_outcome outcome = do_all(&output, TEXT("x"), &now);
    cr_expect(eq(int, outcome.cut_short, PANEL_WHO));
    cr_expect(eq(i64, outcome.cut_short_ms, 1));
    now.now_ms += 10000;
    outcome = do_all(&output, WHO, &now);
    cr_expect(eq(int, outcome.cut_short, PANEL_NONE));
    bout_forget(&bout);
}

/* ---- rules ---- */

/* A day of an output: moments, each what is done there (after a `!`) or seen. What is on air after
 * each is told as "panel" or "-", parted by blanks. */
struct moment {
    char story[300]; /* as of then; "" : no bout */
    int64_t now_ms;
    char acts[100];  /* "": none */
    char want[20];   /* what is on air */
    int64_t next_ms; /* when it wants to look again; 0: never */
};

struct rule_row {
    char name[80], rule[160];
    struct moment moments[9];
};

#define ARM(rule) "{\"arm\":{\"rule\":\"" rule "\",\"on\":true}}"
#define ENDED FREE RED2 "; close how:points winner:red"
#define NEXT "0 bout rules:freestyle-2022 bout:c"

ParameterizedTestParameters(producing, rules)
{
    static struct rule_row rows[] = {
        {"names: from the call to the first start, and at least 5 s",
         ARM("names_at_call"),
         {{"", 0, "", "-", 0},
          {FREE, 1000, "", "who", 6000},
          {FREE "1 clock do:start", 2000, "", "who", 6000},
          {FREE "1 clock do:start", 6000, "", "-", 0},
          {FREE "1 clock do:start; 3 clock do:stop", 7000, "", "-", 0}}},
        {"names: not for a bout that was called before",
         ARM("names_at_call"),
         {{FREE, 0, "", "-", 0}, {FREE "note text:a to:booth", 1000, "", "-", 0}}},
        {"names: called again",
         ARM("names_at_call"),
         {{FREE, 0, "", "-", 0},
          {FREE "5 bout rules:freestyle-2022 call:true", 5000, "", "who", 10000}}},
        {"names: the next bout's, once this one's have gone",
         ARM("names_at_call"),
         {{"", 0, "", "-", 0}, {FREE, 1000, "", "who", 6000}, {NEXT, 2000, "", "who", 7000}}},
        {"unarmed, nothing happens",
         "{\"prepare\":{}}",
         {{"", 0, "", "-", 0}, {FREE, 1000, "", "-", 0}}},
        {"disarmed, its panel goes",
         ARM("names_at_call"),
         {{"", 0, "", "-", 0},
          {FREE, 1000, "", "who", 6000},
          {FREE, 2000, "{\"arm\":{\"rule\":\"names_at_call\",\"on\":false}}", "-", 0},
          {NEXT, 9000, "", "-", 0}}},
        {"it waits for the least time of what is up",
         ARM("names_at_call"),
         {{"", 0, TEXT("one"), "text", 0},
          {FREE, 1000, "", "text", 2200},
          {FREE, 2200, "", "who", 7200}}},
        {"what waited too long doesn't come",
         ARM("names_at_call"),
         {{"", 0, TEXT("one"), "text", 0},
          {FREE, 1000, "", "text", 2200},
          {FREE "1 clock do:start", 2000, "", "text", 0},
          {FREE "1 clock do:start", 2200, "", "text", 0}}},
        {"clear beats its least time, and what waits",
         ARM("names_at_call"),
         {{"", 0, "", "-", 0},
          {FREE, 1000, "", "who", 6000},
          {FREE, 1500, "{\"clear\":{}}", "-", 0},
          {FREE "note text:a to:booth", 2000, "", "-", 0}}},
        {"a producer's take beats it, and stays",
         ARM("names_at_call"),
         {{"", 0, "", "-", 0},
          {FREE, 1000, "", "who", 6000},
          {FREE, 1500, TEXT("one"), "text", 0},
          {FREE "1 clock do:start", 9000, "", "text", 0}}},
        {"attacks in a break, until it is over",
         ARM("attacks_in_break"),
         {{FREE "attack side:red techniques:[single_leg] outcome:stopped; clock do:start", 0, "",
           "-", 0},
          {FREE "attack side:red techniques:[single_leg] outcome:stopped; clock do:start; 5 clock "
                "do:end",
           5000, "", "attacks", 7000},
          {FREE "attack side:red techniques:[single_leg] outcome:stopped; clock do:start; 5 clock "
                "do:end; 35 clock do:start period:2",
           35000, "", "-", 0}}},
        {"attacks: none, no panel",
         ARM("attacks_in_break"),
         {{FREE "clock do:start", 0, "", "-", 0},
          {FREE "clock do:start; 5 clock do:end", 5000, "", "-", 0}}},
        {"why in a level break",
         ARM("why_in_break"),
         {{FREE RED2 ";" BLUE2 "; clock do:start", 0, "", "-", 0},
          {FREE RED2 ";" BLUE2 "; clock do:start; 5 clock do:end", 5000, "", "why", 7000}}},
        {"why: not when somebody is ahead",
         ARM("why_in_break"),
         {{FREE RED2 "; clock do:start", 0, "", "-", 0},
          {FREE RED2 "; clock do:start; 5 clock do:end", 5000, "", "-", 0}}},
        {"why: once the points are confirmed",
         ARM("why_in_break"),
         {{FREE RED2 ";" BLUE2 "unconfirmed:true; clock do:start", 0, "", "-", 0},
          {FREE RED2 ";" BLUE2 "unconfirmed:true; clock do:start; 5 clock do:end", 5000, "", "-",
           0},
          {FREE RED2 ";" BLUE2 "unconfirmed:true; clock do:start; 5 clock do:end; confirm", 6000,
           "", "why", 8000}}},
        {"the result, until the next call",
         ARM("result_when_sure"),
         {{FREE RED2, 0, "", "-", 0},
          {FREE RED2 "; close how:points winner:red unconfirmed:true", 1000, "", "-", 0},
          {FREE RED2 "; close how:points winner:red unconfirmed:true; confirm", 2000, "", "result",
           4000},
          {FREE RED2 "; close how:points winner:red unconfirmed:true; confirm", 60000, "", "result",
           0},
          {NEXT, 61000, "", "-", 0}}},
        {"the result is taken back",
         ARM("result_when_sure"),
         {{FREE RED2, 0, "", "-", 0},
          {ENDED, 1000, "", "result", 3000},
          {ENDED "; void ref:e3", 3000, "", "-", 0}}},
        {"other mats and results in turn, until the next call",
         ARM("round_between"),
         {{FREE RED2, 0, "", "-", 0},
          {ENDED, 1000, "", "mats", 3000},
          {ENDED, 3000, "", "mats", 9000},
          {ENDED, 9000, "", "results", 11000},
          {ENDED, 17000, "", "mats", 19000},
          {NEXT, 18000, "", "mats", 19000},
          {NEXT, 19000, "", "-", 0}}},
        {"the time first, where it is known",
         "{\"arm\":{\"rule\":\"round_between\",\"on\":true,\"at\":\"2027-05-08T11:00:00.000Z\"}}",
         {{FREE RED2, 0, "", "-", 0},
          {ENDED, 1000, "", "back", 3000},
          {ENDED, 9000, "", "mats", 11000}}},
        {"two at once: one after the other",
         ARM("result_when_sure") ";" ARM("round_between"),
         {{FREE RED2, 0, "", "-", 0},
          {ENDED, 1000, "", "result", 3000},
          {ENDED, 3000, "", "mats", 5000}}},
        {"another mat is no news",
         ARM("result_when_sure"),
         {{FREE RED2, 0, "", "-", 0},
          {ENDED, 1000, "{\"mat\":\"B\"}", "-", 0},
          {ENDED, 2000, "", "-", 0}}},
    };
    return cr_make_param_array(struct rule_row, rows, sizeof rows / sizeof *rows);
}

static struct situation moment_seen(struct seen_bout *bout, const struct moment *moment)
{
    struct surroundings around = {.has_mats = true, .has_results = true};
    if (moment->story[0] == '\0')
        return situation_of(NULL, &around, moment->now_ms);
    return situation_told(bout, moment->story, moment->now_ms);
}

ParameterizedTest(struct rule_row *row, producing, rules)
{
    struct output output = output_new("main");
    size_t count = sizeof row->moments / sizeof *row->moments;
    for (size_t i = 0; i < count && row->moments[i].want[0] != '\0'; i++) {
        const struct moment *moment = &row->moments[i];
        struct seen_bout bout;
        struct situation now = moment_seen(&bout, moment);
        int64_t next_ms = 0;
        if (i == 0)
            do_all(&output, row->rule, &now);
        if (moment->acts[0] != '\0')
            do_all(&output, moment->acts, &now);
        uint64_t version = output.version;
        enum panel panel = output.on_air.choice.panel;
        bool changed = output_look(&output, &now, &next_ms);
        enum panel got = output.on_air.choice.panel;
        cr_expect(eq(int, changed, output.version != version), "%s: moment %zu", row->name, i);
        cr_expect(changed || got == panel, "%s: moment %zu", row->name, i);
        expect_text(row->name, got == PANEL_NONE ? "-" : panel_name(got), moment->want);
        cr_expect(eq(i64, next_ms, moment->next_ms == 0 ? INT64_MAX : moment->next_ms),
                  "%s: moment %zu", row->name, i);
        /* Seen once more nothing happens. */
        cr_expect(not(output_look(&output, &now, &next_ms)), "%s: moment %zu again", row->name, i);
        if (moment->story[0] != '\0')
            bout_forget(&bout);
    }
}

Test(producing, a_panel_goes_with_its_bout)
{
    struct seen_bout bout, next;
    int64_t next_ms = 0;
    struct situation now = situation_told(&bout, FREE RED2, 1000);
    struct output output = output_new("main");
    do_all(&output, "{\"take\":{\"panel\":\"why\"}}", &now);
    cr_expect(not(output_look(&output, &now, &next_ms)));
    now = situation_told(&next, NEXT, 1001);
    cr_expect(output_look(&output, &now, &next_ms), "at once, whatever its least time");
    cr_expect(eq(int, output.on_air.choice.panel, PANEL_NONE));
    cr_expect(output.on_air.line);
    bout_forget(&bout);
    bout_forget(&next);
}

Test(producing, names_of_outputs)
{
    static const char *const good[] = {"main", "a", "9", "wall-2",
                                       "0123456789abcdef0123456789abcdef"};
    static const char *const bad[] = {"",    "Main",     "a b",
                                      "a/b", "\xc3\xa4", "0123456789abcdef0123456789abcdefg"};
    for (size_t i = 0; i < sizeof good / sizeof *good; i++)
        cr_expect(output_name_is_good(good[i]), "%s", good[i]);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        cr_expect(not(output_name_is_good(bad[i])), "%s", bad[i]);
}

Test(producing, what_is_kept_of_a_newer_program_is_left_alone)
{
    struct output output = output_new("main");
    json_t *kept = output_kept_json(&output);
    json_object_set_new(kept, "format", json_integer(2));
    cr_expect(not(output_kept_read(&output, kept)));
    json_decref(kept);
}
