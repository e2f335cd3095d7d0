#include "rules/edition.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "support.h"
#include "wire/json.h"

/* ---- what the shipped editions say ---- */

struct action_row {
    char edition[20];
    int value;
    char action[24];
    bool has;
};

/* Values and actions: referee's guide of ringen-kampfrichter.info, "Bewertung von Aktionen und
 * Griffen" (DRB-P). The same in all editions since 2015, except that 5 from par terre in
 * Greco-Roman is from memory (an action's name doesn't say where it began). */
static const struct {
    int value;
    const char *action;
} actions[] = {
    {1, "step_out"}, {1, "reversal"},         {1, "injury_stop"}, {2, "takedown"},
    {2, "exposure"}, {2, "counter_exposure"}, {2, "throw"},       {2, "lift"},
    {4, "throw"},    {4, "feet_to_danger"},   {4, "lift"},        {5, "throw"},
    {5, "lift"},
};
static const char *const shipped[] = {"freestyle-2015", "freestyle-2022",   "greco-2021",
                                      "greco-2022",     "greco-2025-trial", "greco-2026"};

/* Every value from 0 to 16 with every name there is: accepted are those of the table, and no other.
 */
Test(edition, actions)
{
    for (size_t i = 0; i < sizeof shipped / sizeof *shipped; i++) {
        const struct edition *edition = test_edition(shipped[i]);
        for (int value = -1; value <= 16; value++)
            for (size_t j = 0; j < sizeof actions / sizeof *actions; j++) {
                bool has = false;
                for (size_t k = 0; k < sizeof actions / sizeof *actions; k++)
                    has = has || (actions[k].value == value &&
                                  strcmp(actions[k].action, actions[j].action) == 0);
                cr_expect(eq(int, edition_has_action(edition, value, actions[j].action), has),
                          "%s: %s of %d", shipped[i], actions[j].action, value);
            }
        for (int value = 0; value <= EDITION_VALUE_MAX; value++) {
            bool is = value == 1 || value == 2 || value == 4 || value == 5;
            cr_expect(eq(int, edition->values[value], is), "%s: %d", shipped[i], value);
        }
    }
}

static const struct action_row other_actions_rows[] = {
    {"freestyle-2022", 2, "leg_lace", false}, /* a technique is no action */
    {"freestyle-2022", 2, "takedow", false},
    {"freestyle-2022", 2, "takedownn", false},
    {"freestyle-2022", 2, "Takedown", false},
    {"freestyle-2022", 2, "", false},
    {"freestyle-2022", 3, "throw", false},
    /* values 1, 2, 3, 5: FILA, notice of June 2013; which action has which value: from memory
     */
    {"june-2013", 3, "throw", true},
    {"june-2013", 3, "feet_to_danger", true},
    {"june-2013", 4, "throw", false},
    {"june-2013", 5, "throw", true},
    {"june-2013", 1, "step_out", true},
    {"june-2013", 2, "takedown", true},
};
static void check_other_actions(const struct action_row *row)
{
    cr_expect(
        eq(int, edition_has_action(test_edition(row->edition), row->value, row->action), row->has),
        "%s: %s of %d", row->edition, row->action, row->value);
}

Test(edition, other_actions)
{
    for (size_t i = 0; i < sizeof other_actions_rows / sizeof *other_actions_rows; i++)
        check_other_actions(&other_actions_rows[i]);
}

/* All are points by technique but a stop for an injury that is not visible (DRB-P: a point for the
 * other side). */
Test(edition, points_by_technique)
{
    for (size_t i = 0; i < sizeof actions / sizeof *actions; i++)
        cr_expect(eq(int, action_is_technique(actions[i].action),
                     strcmp(actions[i].action, "injury_stop") != 0),
                  "%s", actions[i].action);
}

struct length_row {
    char age_group[12];
    int32_t period_ms;
    bool forced_call; /* in freestyle and women's wrestling */
};

/* Length: Ontario, amateur combative sport rules, wrestling; avjc.de, "Regelwerk", 2018. The call
 * at 2:00 belongs to periods of 3:00: FILA, June 2013, still common practice; none is shipped for
 * Greco-Roman, whose passivity has no activity time (UWW, 2 Feb 2021). */
static const struct length_row length_rows[] = {
    {"u15", 120000, false},      {"u17", 120000, false}, {"u20", 180000, true},
    {"u23", 180000, true},                           /* from memory */
    {"veterans", 120000, false},                     /* from memory */
    {"seniors", 180000, true},   {"", 180000, true}, /* without an age group, seniors holds: our
                                                        own choice, no source */
};
static void check_length(const struct length_row *row)
{
    for (size_t i = 0; i < sizeof shipped / sizeof *shipped; i++) {
        bool freestyle = strncmp(shipped[i], "freestyle", 9) == 0;
        const struct age_group *group = edition_age_group(
            test_edition(shipped[i]), row->age_group[0] != '\0' ? row->age_group : NULL);
        cr_assert(group != NULL, "%s has %s", shipped[i], row->age_group);
        cr_expect(eq(int, group->periods, 2), "%s, %s: periods", shipped[i], row->age_group);
        cr_expect(eq(i32, group->period_ms, row->period_ms), "%s, %s: period", shipped[i],
                  row->age_group);
        cr_expect(eq(i32, group->break_ms, 30000), "%s, %s: break", shipped[i], row->age_group);
        cr_expect(
            eq(i32, group->forced_call_ms, freestyle && row->forced_call ? 120000 : EDITION_NONE),
            "%s, %s: forced call", shipped[i], row->age_group);
    }
}

Test(edition, length)
{
    for (size_t i = 0; i < sizeof length_rows / sizeof *length_rows; i++)
        check_length(&length_rows[i]);
}

Test(edition, other_age_groups)
{
    static const char *const names[] = {"u11", "senior", "", "U20"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        cr_expect(edition_age_group(test_edition("freestyle-2022"), names[i]) == NULL, "'%s'",
                  names[i]);
}

struct facts_row {
    char edition[20], styles[2][16], from[12], until[12];
    int superiority;
    int32_t activity_ms;
    enum activity_end activity_ended_by;
};

/* Superiority: avjc.de, "Regelwerk", 2018. Activity time of 30 s: Deutscher Ringer-Bund, early
 * 2022; who ends it: UWW, 27 Jan 2022. Dates: UWW 2 Feb 2021, 27 Jan 2022, 28 Mar and 19 June 2025;
 * where print gives a month or a season alone, the file says which day stands for it. */
static const struct facts_row facts_rows[] = {
    {"freestyle-2015",
     {"freestyle", "women"},
     "2015-05-01",
     "2022-01-26",
     10,
     30000,
     ACTIVITY_ENDED_BY_EITHER},
    {"freestyle-2022",
     {"freestyle", "women"},
     "2022-01-27",
     "",
     10,
     30000,
     ACTIVITY_ENDED_BY_NAMED},
    {"greco-2021", {"greco_roman"}, "2021-02-01", "2022-01-26", 8, EDITION_NONE, 0},
    {"greco-2022", {"greco_roman"}, "2022-01-27", "2025-12-31", 8, EDITION_NONE, 0},
    {"greco-2025-trial", {"greco_roman"}, "2025-04-07", "2025-09-30", 8, EDITION_NONE, 0},
    {"greco-2026", {"greco_roman"}, "2026-01-01", "", 8, EDITION_NONE, 0},
    /* cautions first, 1 2 3 5: FILA, June 2013; superiority 7 and who ends the time: from
       memory */
    {"june-2013",
     {"freestyle", "women"},
     "2013-06-01",
     "2013-12-31",
     7,
     30000,
     ACTIVITY_ENDED_BY_EITHER},
};
static void expect_text_member(const struct edition *edition, const char *name, const char *wanted)
{
    const struct value *found = value_member(edition->document, name);
    expect_text(name, found != NULL ? found->as.string : "", wanted);
}
static void check_facts(const struct facts_row *row)
{
    const struct edition *edition = test_edition(row->edition);
    size_t style_count = row->styles[1][0] != '\0' ? 2 : 1;
    cr_expect(eq(sz, edition->style_count, style_count), "%s", row->edition);
    for (size_t i = 0; i < style_count; i++)
        cr_expect(edition_has_style(edition, row->styles[i]), "%s: %s", row->edition,
                  row->styles[i]);
    expect_text_member(edition, "from", row->from);
    expect_text_member(edition, "until", row->until);
    cr_expect(eq(int, edition->superiority, row->superiority), "%s", row->edition);
    cr_expect(eq(i32, edition->activity_ms, row->activity_ms), "%s", row->edition);
    if (row->activity_ms != EDITION_NONE)
        cr_expect(eq(int, edition->activity_ended_by, row->activity_ended_by), "%s", row->edition);
    /* Three cautions lose the bout: UWW, 27 Jan 2022; Deutscher Ringer-Bund, early 2022. */
    cr_expect(eq(int, edition->cautions_out, 3), "%s", row->edition);
    cr_expect(edition->penalty_points_are_holds, "%s: on unless said (unsettled in print)",
              row->edition);
    /* Each activity penalty also a caution: FILA, June 2013. */
    cr_expect(eq(int, edition->penalty_is_caution, strcmp(row->edition, "june-2013") == 0), "%s",
              row->edition);
}

Test(edition, facts)
{
    for (size_t i = 0; i < sizeof facts_rows / sizeof *facts_rows; i++)
        check_facts(&facts_rows[i]);
}

Test(edition, styles_are_the_editions_own)
{
    cr_expect(not(edition_has_style(test_edition("freestyle-2022"), "greco_roman")));
    cr_expect(not(edition_has_style(test_edition("greco-2026"), "freestyle")));
    cr_expect(not(edition_has_style(test_edition("greco-2026"), "women")));
    cr_expect(not(edition_has_style(test_edition("greco-2026"), "greco")));
}

struct ending_row {
    char name[20];
    bool has_winner;
    char shutout[8]; /* the loser is without points */
    int winner, loser;
    char scored[8]; /* the loser has some */
    int scored_winner, scored_loser;
};

/* Classification points: avjc.de, "Regelwerk", 2018. Codes VFA, VIN, VSU, VSU1, VPO, VPO1 and 2DSQ
 * as published; VCA, VFO, DSQ, 2VIN and 2VFO from memory. */
static const struct ending_row endings_rows[] = {
    {"fall", true, "VFA", 5, 0, "VFA", 5, 0},
    {"injury", true, "VIN", 5, 0, "VIN", 5, 0},
    {"cautions", true, "VCA", 5, 0, "VCA", 5, 0},
    {"forfeit", true, "VFO", 5, 0, "VFO", 5, 0},
    {"disqualification", true, "DSQ", 5, 0, "DSQ", 5, 0},
    {"superiority", true, "VSU", 4, 0, "VSU1", 4, 1},
    {"points", true, "VPO", 3, 0, "VPO1", 3, 1},
    {"both_disqualified", false, "2DSQ", 0, 0, "2DSQ", 0, 0},
    {"both_injured", false, "2VIN", 0, 0, "2VIN", 0, 0},
    {"both_forfeit", false, "2VFO", 0, 0, "2VFO", 0, 0},
};
static void check_endings(const struct ending_row *row)
{
    for (size_t i = 0; i < sizeof shipped / sizeof *shipped; i++) {
        const struct edition *edition = test_edition(shipped[i]);
        const struct ending *ending = edition_ending(edition, row->name);
        cr_assert(ending != NULL, "%s has %s", shipped[i], row->name);
        cr_expect(eq(sz, edition->ending_count, 10), "%s", shipped[i]);
        cr_expect(eq(int, ending->has_winner, row->has_winner), "%s, %s", shipped[i], row->name);
        expect_text(row->name, ending->worth[0].code, row->shutout);
        expect_text(row->name, ending->worth[1].code, row->scored);
        cr_expect(eq(int, ending->worth[0].winner, row->winner), "%s", row->name);
        cr_expect(eq(int, ending->worth[0].loser, row->loser), "%s", row->name);
        cr_expect(eq(int, ending->worth[1].winner, row->scored_winner), "%s", row->name);
        cr_expect(eq(int, ending->worth[1].loser, row->scored_loser), "%s", row->name);
        cr_expect(edition_ending(edition, "draw") == NULL, "%s", shipped[i]);
    }
}

Test(edition, endings)
{
    for (size_t i = 0; i < sizeof endings_rows / sizeof *endings_rows; i++)
        check_endings(&endings_rows[i]);
}

Test(edition, found_by_name)
{
    cr_expect(editions_find(test_editions(), "freestyle-1999") == NULL);
    cr_expect(editions_find(test_editions(), "") == NULL);
    cr_expect(editions_find(test_editions(), "greco-202") == NULL, "a name is compared whole");
    expect_text("its name", editions_find(test_editions(), "greco-2026")->name, "greco-2026");
}

/* ---- draws ---- */

/* Entries: fewer than six Nordic, six and seven in two pools (common practice, rules of the trade);
 * qualification bouts top-bottom-bottom-top: UWW, 27 Jan 2022; of two with equal victories their
 * direct match: UWW, 2 Feb 2021; the points of a place: from memory. */
Test(edition, draws)
{
    for (size_t i = 0; i < sizeof shipped / sizeof *shipped; i++) {
        const struct draw_rules *draw = &test_edition(shipped[i])->draw;
        bool since_2021 = strcmp(shipped[i], "freestyle-2015") != 0;
        bool since_2022 = since_2021 && strcmp(shipped[i], "greco-2021") != 0;
        cr_expect(draw->given && draw->nordic_up_to == 5 && draw->pools_up_to == 7);
        cr_expect(eq(int, draw->spread, since_2022), "%s", shipped[i]);
        cr_expect(eq(int, draw->nordic_ranking[0], RANK_VICTORIES), "%s", shipped[i]);
        cr_expect(
            eq(int, draw->nordic_ranking[1], since_2021 ? RANK_DIRECT_MATCH : RANK_CLASS_POINTS),
            "%s", shipped[i]);
        cr_expect(draw->team_points[0] == 25 && draw->team_points[9] == 2 &&
                  draw->team_points[10] == 0);
    }
    cr_expect(not(test_edition("league")->draw.given));
}

/* ---- documents that are refused ---- */

/* The smallest edition that there can be, as shorthand: every member here is required. */
static const char smallest[] = "name:small source:['Our own'] styles:[freestyle] "
                               "age_groups:{seniors:{periods:2,period_ms:120000,break_ms:30000}} "
                               "values:[1,2] actions:{1:[step_out],2:[takedown]} superiority:10 "
                               "ties:[{order:[holds,cautions,last_point]}] cautions_out:3 "
                               "endings:{points:{has_winner:true,code:VPO,winner:3,loser:1}}";

struct document_row {
    char patch[200]; /* members put in place of the smallest one's; null takes one away */
    char pointer[48];
    char detail[140];
};

/* The members are those of docs/rules.md; the words must tell its writer what would do. */
static const struct document_row refused_rows[] = {
    {"name:null", "/name", "name: must be a name of 1 to 40 of a-z 0-9 _ -"},
    {"name:5", "/name", "name: must be a name of 1 to 40 of a-z 0-9 _ -"},
    {"name:''", "/name", "name: must be a name of 1 to 40 of a-z 0-9 _ -"},
    {"name:'Our club'", "/name", "name: must be a name of 1 to 40 of a-z 0-9 _ -"},
    {"name:a123456789b123456789c123456789d123456789e", "/name",
     "name: must be a name of 1 to 40 of a-z 0-9 _ -"},
    {"source:null", "/source", "source: must be an array of strings: documents, articles"},
    {"source:[]", "/source", "source: must be an array of strings: documents, articles"},
    {"source:[1]", "/source", "source: must be an array of strings: documents, articles"},
    {"source:ours", "/source", "source: must be an array of strings: documents, articles"},
    {"styles:null", "/styles", "styles: must be an array of names, not empty"},
    {"styles:[]", "/styles", "styles: must be an array of names, not empty"},
    {"styles:freestyle", "/styles", "styles: must be an array of names, not empty"},
    {"styles:['free style']", "/styles", "styles: must be a name of 1 to 40 of a-z 0-9 _ -"},
    {"age_groups:null", "/age_groups", "age_groups: must be an object, one member an age group"},
    {"age_groups:{}", "/age_groups", "age_groups: must be an object, one member an age group"},
    {"age_groups:[]", "/age_groups", "age_groups: must be an object, one member an age group"},
    {"age_groups:{u17:{periods:2,period_ms:1,break_ms:0}}", "/age_groups",
     "age_groups: must have seniors, which holds without an age group"},
    {"age_groups:{seniors:{period_ms:1,break_ms:0}}", "/age_groups/seniors/periods",
     "periods: is missing"},
    {"age_groups:{seniors:{periods:0,period_ms:1,break_ms:0}}", "/age_groups/seniors/periods",
     "periods: must be an integer from 1 to 9"},
    {"age_groups:{seniors:{periods:10,period_ms:1,break_ms:0}}", "/age_groups/seniors/periods",
     "periods: must be an integer from 1 to 9"},
    {"age_groups:{seniors:{periods:2,break_ms:0}}", "/age_groups/seniors/period_ms",
     "period_ms: is missing"},
    {"age_groups:{seniors:{periods:2,period_ms:0,break_ms:0}}", "/age_groups/seniors/period_ms",
     "period_ms: must be an integer from 1 to 3600000"},
    {"age_groups:{seniors:{periods:2,period_ms:3600001,break_ms:0}}",
     "/age_groups/seniors/period_ms", "period_ms: must be an integer from 1 to 3600000"},
    {"age_groups:{seniors:{periods:2,period_ms:1,break_ms:-1}}", "/age_groups/seniors/break_ms",
     "break_ms: must be an integer from 0 to 3600000"},
    {"age_groups:{seniors:{periods:2,period_ms:1,break_ms:0,forced_call_ms:0}}",
     "/age_groups/seniors/forced_call_ms", "forced_call_ms: must be an integer from 1 to 3600000"},
    {"values:null", "/values", "values: must be an array of integers, not empty"},
    {"values:[]", "/values", "values: must be an array of integers, not empty"},
    {"values:[0]", "/values", "values: must be integers from 1 to 15"},
    {"values:[16]", "/values", "values: must be integers from 1 to 15"},
    {"values:[two]", "/values", "values: must be integers from 1 to 15"},
    {"actions:null", "/actions/1", "1: must be an array of names, not empty"},
    {"actions:{1:[step_out]}", "/actions/2", "2: must be an array of names, not empty"},
    {"actions:{1:[step_out],2:[]}", "/actions/2", "2: must be an array of names, not empty"},
    {"actions:{1:[step_out],2:['take down']}", "/actions/2",
     "2: must be a name of 1 to 40 of a-z 0-9 _ -"},
    {"superiority:null", "/superiority", "superiority: is missing"},
    {"superiority:0", "/superiority", "superiority: must be an integer from 1 to 1000"},
    {"superiority:ten", "/superiority", "superiority: must be an integer from 1 to 1000"},
    {"ties:null", "/ties", "ties: must be an array of tie-break clauses"},
    {"ties:{}", "/ties", "ties: must be an array of tie-break clauses"},
    {"ties:[{}]", "/ties/0/order", "order: must be an array of 1 to 6 criteria"},
    {"ties:[{order:[holds]},{order:[]}]", "/ties/1/order",
     "order: must be an array of 1 to 6 criteria"},
    {"ties:[{order:[holds,holds,holds,holds,holds,holds,holds]}]", "/ties/0/order",
     "order: must be an array of 1 to 6 criteria"},
    {"ties:[{order:[points]}]", "/ties/0/order",
     "order: knows holds, cautions, last_point, first_point and technique"},
    {"ties:[{order:[1]}]", "/ties/0/order",
     "order: knows holds, cautions, last_point, first_point and technique"},
    {"ties:[{score:-1,order:[holds]}]", "/ties/0/score",
     "score: must be an integer from 0 to 1000"},
    {"ties:[{by_technique:3,order:[holds]}]", "/ties/0/by_technique",
     "by_technique: must be an integer from 0 to 2"},
    {"ties:[{cautions_given:1,order:[holds]}]", "/ties/0/cautions_given",
     "cautions_given: must be [least, most]"},
    {"ties:[{cautions_given:[1],order:[holds]}]", "/ties/0/cautions_given",
     "cautions_given: must be [least, most]"},
    {"ties:[{cautions_given:[-1,1],order:[holds]}]", "/ties/0/cautions_given",
     "cautions_given: must be [least, most]"},
    {"cautions_out:null", "/cautions_out", "cautions_out: is missing"},
    {"cautions_out:0", "/cautions_out", "cautions_out: must be an integer from 1 to 1000"},
    {"activity_ms:30000", "/activity_ended_by",
     "activity_ended_by: goes with activity_ms: named or either"},
    {"activity_ended_by:named", "/activity_ended_by",
     "activity_ended_by: goes with activity_ms: named or either"},
    {"activity_ms:30000 activity_ended_by:both", "/activity_ended_by",
     "activity_ended_by: must be named or either"},
    {"activity_ms:0 activity_ended_by:named", "/activity_ms",
     "activity_ms: must be an integer from 1 to 3600000"},
    {"penalty_points_are_holds:1", "/penalty_points_are_holds",
     "penalty_points_are_holds: must be true or false"},
    {"penalty_is_caution:yes", "/penalty_is_caution", "penalty_is_caution: must be true or false"},
    {"draw:5", "/draw", "draw: must be an object"},
    {"draw:{}", "/draw/nordic_up_to", "nordic_up_to: must be an integer from 0 to 64"},
    {"draw:{nordic_up_to:5,pools_up_to:65}", "/draw/pools_up_to",
     "pools_up_to: must be an integer from 0 to 64"},
    {"draw:{nordic_up_to:5,pools_up_to:7,qualification:top}", "/draw/qualification",
     "qualification: must be spread or bottom"},
    {"draw:{nordic_up_to:5,pools_up_to:7,qualification:spread,nordic_ranking:[]}",
     "/draw/nordic_ranking", "nordic_ranking: must be an array of 1 to 7 criteria"},
    {"draw:{nordic_up_to:5,pools_up_to:7,qualification:bottom,nordic_ranking:[luck]}",
     "/draw/nordic_ranking",
     "nordic_ranking: knows victories, direct_match, class_points, falls, superiorities, "
     "points_scored and points_given"},
    {"draw:{nordic_up_to:5,pools_up_to:7,qualification:spread,nordic_ranking:[victories],ranking:["
     "1]}",
     "/draw/ranking",
     "ranking: knows victories, direct_match, class_points, falls, superiorities, points_scored "
     "and points_given"},
    {"draw:{nordic_up_to:5,pools_up_to:7,qualification:spread,nordic_ranking:[victories],ranking:["
     "falls],team_points:[-1]}",
     "/draw/team_points",
     "team_points: must be an array of up to 16 integers from 0 to 1000, by place"},
    {"endings:null", "/endings", "endings: must be an object, one member an ending"},
    {"endings:{}", "/endings", "endings: must be an object, one member an ending"},
    {"endings:{fall:{code:VFA,winner:5,loser:0}}", "/endings/fall/has_winner",
     "has_winner: must be true or false"},
    {"endings:{fall:{has_winner:true,winner:5,loser:0}}", "/endings/fall/code",
     "code: must be a string"},
    {"endings:{fall:{has_winner:true,code:'',winner:5,loser:0}}", "/endings/fall/code",
     "code: must be a string"},
    {"endings:{fall:{has_winner:true,code:VFA,loser:0}}", "/endings/fall/winner",
     "winner: is missing"},
    {"endings:{fall:{has_winner:true,code:VFA,winner:5,loser:-1}}", "/endings/fall/loser",
     "loser: must be an integer from 0 to 100"},
    {"endings:{'a b':{has_winner:true,code:VFA,winner:5,loser:0}}", "/endings/a b",
     "an ending's name has 1 to 40 of a-z 0-9 _ -"},
};

/* Reads the smallest edition with the patch's members; the message tells why not. */
static bool read_patched(const char *patch, struct edition *edition, struct arena *arena,
                         struct complaint *complaint)
{
    json_t *document = shorthand(smallest), *members = shorthand(patch), *member;
    const char *name;
    json_object_foreach(members, name, member)
    {
        if (json_is_null(member))
            json_object_del(document, name);
        else
            json_object_set(document, name, member);
    }
    char *text = json_dumps(document, 0);
    const struct value *value = json_read(arena, text, strlen(text), complaint);
    cr_assert(value != NULL, "%s", complaint->detail);
    bool read = edition_read(edition, value, arena, complaint);
    free(text);
    json_decref(document);
    json_decref(members);
    return read;
}

static void check_refused(const struct document_row *row)
{
    struct edition edition;
    struct arena arena;
    struct complaint complaint;
    arena_init(&arena, malloc, free);
    cr_expect(not(read_patched(row->patch, &edition, &arena, &complaint)), "%s", row->patch);
    cr_expect(eq(int, complaint.why, REFUSED_RULES), "%s", row->patch);
    expect_text(row->patch, complaint.pointer, row->pointer);
    expect_text(row->patch, complaint.detail, row->detail);
    arena_close(&arena);
}

Test(edition, refused)
{
    for (size_t i = 0; i < sizeof refused_rows / sizeof *refused_rows; i++)
        check_refused(&refused_rows[i]);
}

Test(edition, not_an_object)
{
    struct edition edition;
    struct arena arena;
    struct complaint complaint;
    arena_init(&arena, malloc, free);
    const struct value *value = json_read(&arena, "[]", 2, &complaint);
    cr_assert(value != NULL);
    cr_expect(not(edition_read(&edition, value, &arena, &complaint)));
    expect_text("the complaint", complaint.detail, "an edition is a JSON object");
    arena_close(&arena);
}

/* What is left out has its usual meaning: docs/rules.md, "What each member means". */
Test(edition, smallest)
{
    struct edition edition;
    struct arena arena;
    struct complaint complaint;
    arena_init(&arena, malloc, free);
    cr_assert(read_patched("", &edition, &arena, &complaint), "%s", complaint.detail);
    cr_expect(eq(i32, edition.activity_ms, EDITION_NONE));
    cr_expect(eq(i32, edition.age_groups[0].forced_call_ms, EDITION_NONE));
    cr_expect(edition.penalty_points_are_holds);
    cr_expect(not(edition.penalty_is_caution));
    cr_expect(eq(int, edition.ties[0].score, EDITION_NONE));
    cr_expect(eq(int, edition.ties[0].cautions_least, EDITION_NONE));
    cr_expect(eq(int, edition.ties[0].by_technique, EDITION_NONE));
    cr_expect(edition.values[1] && edition.values[2] && !edition.values[4]);
    expect_text("code", edition.endings[0].worth[1].code, "VPO");
    arena_close(&arena);
}
