#include "wire/sheet.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "support.h"
#include "wire/json.h"

static bool roster_check(const char *text, size_t size, const struct editions *editions,
                         size_t *count, struct complaint *complaint)
{
    struct sheet sheet;
    bool good = sheet_read(&sheet, text, size, editions, complaint);
    *count = sheet.count;
    cr_expect(good || complaint->why == ACCEPTED || sheet.row > 0 || size == 0);
    sheet_close(&sheet);
    return good;
}

struct good_row {
    char name[48], text[360];
    size_t athlete_count;
};

/* RFC 4180, with what a roster narrows it to. */
static const struct good_row accepted_rows[] = {
    {"a header alone", "athlete\r\n", 0},
    {"a header without a line's end", "athlete", 0},
    {"an athlete", "athlete\r\na1\r\n", 1},
    {"the last line without its end", "athlete\r\na1\r\na2", 2},
    {"lines that end as on Unix", "athlete,name\na1,One\na2,Two\n", 2},
    {"columns in any order", "name,athlete\r\nOne,a1\r\n", 1},
    {"every column",
     "athlete,name,family,given,say,ipa,checked_by,team,noc,style,age_group,weight,seed,facts,"
     "minor,consent,out\r\n"
     "a1,Ana One,One,Ana,AH-nah,\xcb\x88"
     "ana,speaker,Harbour,XXX,women,u17,57,1,"
     "left-handed|champion of the cup,true,false,false\r\n",
     1},
    {"empty cells are left out", "athlete,name,seed,minor,facts\r\na1,,,,\r\n", 1},
    {"a comma in quotes", "athlete,name\r\na1,\"One, Ana\"\r\n", 1},
    {"quotes in quotes", "athlete,name\r\na1,\"Ana \"\"Ace\"\" One\"\r\n", 1},
    {"a line break in quotes", "athlete,facts\r\na1,\"one\r\nfact\"\r\n", 1},
    {"everything in quotes", "\"athlete\",\"name\"\r\n\"a1\",\"Ana\"\r\n", 1},
    {"a byte order mark",
     "\xef\xbb\xbf"
     "athlete\r\na1\r\n",
     1},
    {"letters beyond ASCII",
     "athlete,name\r\na1,\xc5\xbb"
     "aneta \xe6\x91\x94\r\n",
     1},
    {"names that differ", "athlete\r\na1\r\nA1\r\na1-\r\n", 3},
    {"an empty line at the end", "athlete\r\na1\r\n\r\n", 1},
    {"twenty facts", "athlete,facts\r\na1,a|b|c|d|e|f|g|h|i|j|k|l|m|n|o|p|q|r|s|t\r\n", 1},
};
static void check_accepted(const struct good_row *row)
{
    struct complaint complaint;
    size_t count = 99;
    bool good = roster_check(row->text, strlen(row->text), test_editions(), &count, &complaint);
    cr_expect(good, "%s: %s", row->name, complaint.detail);
    cr_expect(eq(sz, count, row->athlete_count), "%s", row->name);
}

Test(sheet, accepted)
{
    for (size_t i = 0; i < sizeof accepted_rows / sizeof *accepted_rows; i++)
        check_accepted(&accepted_rows[i]);
}

struct bad_row {
    char name[48], text[300];
    size_t size; /* 0: strlen */
    size_t line; /* the row: the header is 1 */
    char pointer[16], detail[80];
};

static const struct bad_row refused_rows[] = {
    {"nothing", "", 0, 0, "", "the file is empty"},
    {"no column athlete", "name\r\nOne\r\n", 0, 1, "/athlete", "athlete: is missing in the header"},
    {"an unknown column", "athlete,club\r\na1,Harbour\r\n", 0, 1, "/club",
     "club: is no column of a roster"},
    {"a column with a capital", "Athlete\r\na1\r\n", 0, 1, "/Athlete",
     "Athlete: is no column of a roster"},
    {"a column that is an event's, not an athlete's", "athlete,id\r\na1,x\r\n", 0, 1, "/id",
     "id: is no column of a roster"},
    {"a column twice", "athlete,name,name\r\na1,A,B\r\n", 0, 1, "/name",
     "name: stands twice in the header"},
    {"a cell too few", "athlete,name\r\na1,A\r\na2\r\n", 0, 3, "",
     "the row has another number of cells than the header"},
    {"a cell too many", "athlete,name\r\na1,A,B\r\n", 0, 2, "",
     "the row has another number of cells than the header"},
    {"no athlete", "athlete,name\r\n,A\r\n", 0, 2, "/athlete", "athlete: is missing"},
    {"an athlete twice", "athlete\r\na1\r\na2\r\na1\r\n", 0, 4, "/athlete",
     "athlete: stands in an earlier row already"},
    {"a text that is too long",
     "athlete,name\r\na1,"
     "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"
     "aaaaaaaaaaaa\r\n",
     0, 2, "/name", "name: must have 1 to 100 characters, not 101"},
    {"a seed that is no integer", "athlete,seed\r\na1,first\r\n", 0, 2, "/seed",
     "seed: must be an integer, not a string"},
    {"a seed with a fraction", "athlete,seed\r\na1,1.0\r\n", 0, 2, "/seed",
     "seed: must be an integer, not a string"},
    {"minor that is neither", "athlete,minor\r\na1,yes\r\n", 0, 2, "/minor",
     "minor: must be true or false, not a string"},
    {"consent in capitals", "athlete,consent\r\na1,TRUE\r\n", 0, 2, "/consent",
     "consent: must be true or false, not a string"},
    {"out that is neither", "athlete,out\r\na1,1\r\n", 0, 2, "/out",
     "out: must be true or false, not a string"},
    {"an empty fact", "athlete,facts\r\na1,one||two\r\n", 0, 2, "/facts",
     "facts: must have 1 to 100 characters, not 0"},
    {"more than twenty facts", "athlete,facts\r\na1,a|b|c|d|e|f|g|h|i|j|k|l|m|n|o|p|q|r|s|t|u\r\n",
     0, 2, "/facts", "facts: must hold 20 strings at most"},
    {"Latin-1", "athlete,name\r\na1,Caf\xe9\r\n", 0, 2, "/name", "name: isn't valid UTF-8 text"},
    {"a NUL", "athlete,name\r\na1,A\0B\r\n", 22, 2, "/name", "name: isn't valid UTF-8 text"},
    {"a quote inside a cell", "athlete,name\r\na1,A\"B\r\n", 0, 2, "",
     "a quote that isn't closed, or stands where none may"},
    {"a quote that isn't closed", "athlete,name\r\na1,A\r\na2,\"B\r\n", 0, 3, "",
     "a quote that isn't closed, or stands where none may"},
    {"text behind a quote", "athlete,name\r\na1,\"A\"B\r\n", 0, 2, "",
     "a quote that isn't closed, or stands where none may"},
    {"semicolons", "athlete;name\r\na1;A\r\n", 0, 1, "/athlete;name",
     "athlete;name: is no column of a roster"},
    {"more than 32 columns",
     "a,b,c,d,e,f,g,h,i,j,k,l,m,n,o,p,q,r,s,t,u,v,w,x,y,z,A,B,C,D,E,F,"
     "G\r\n",
     0, 1, "", "more than 32 columns"},
};
static void check_refused(const struct bad_row *row)
{
    struct complaint complaint;
    size_t count = 0, size = row->size != 0 ? row->size : strlen(row->text);
    cr_expect(not(roster_check(row->text, size, test_editions(), &count, &complaint)), "%s",
              row->name);
    cr_expect(eq(int, complaint.why, REFUSED_ROSTER), "%s", row->name);
    expect_text(row->name, complaint.detail, row->detail);
    expect_text(row->name, complaint.pointer, row->pointer);
    cr_expect(eq(sz, complaint.line, row->line), "%s", row->name);
}

Test(sheet, refused)
{
    for (size_t i = 0; i < sizeof refused_rows / sizeof *refused_rows; i++)
        check_refused(&refused_rows[i]);
}

/* `boutwire check` prints FILE:LINE, and so the line must be the file's, also behind an empty line
 * and a cell of two lines. */
Test(sheet, the_line_is_the_files)
{
    static const struct {
        const char *text;
        size_t line;
    } rows[] = {
        {"athlete\r\n\r\na1\r\na1\r\n", 4},
        {"athlete,name\r\na1,\"two\r\nlines\"\r\na1,B\r\n", 4},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct complaint complaint;
        size_t count = 0;
        cr_assert(not(
            roster_check(rows[i].text, strlen(rows[i].text), test_editions(), &count, &complaint)));
        cr_expect(eq(sz, complaint.line, rows[i].line), "%s: %s", rows[i].text, complaint.detail);
    }
}

/* A hundred thousand athletes and no more. */
Test(sheet, bound)
{
    enum { COUNT = 100001 };
    char *text = malloc(20 + 12 * COUNT), *at = text + sprintf(text, "athlete\n");
    for (int i = 0; i < COUNT; i++)
        at += sprintf(at, "a%d\n", i);
    struct complaint complaint;
    size_t count = 0;
    cr_expect(not(roster_check(text, (size_t)(at - text), test_editions(), &count, &complaint)));
    expect_text("one too many", complaint.detail, "more than 100,000 rows");
    cr_expect(eq(sz, complaint.line, COUNT + 1));
    at -= strlen("a100000\n");
    cr_expect(roster_check(text, (size_t)(at - text), test_editions(), &count, &complaint));
    cr_expect(eq(sz, count, COUNT - 1));
    free(text);
}

/* Bytes changed anywhere: it is good or refused, with words that can be sent. */
Test(sheet, bytes_changed)
{
    static const char good[] =
        "athlete,name,seed,facts,minor\r\na1,\"One, Ana\",1,one|two,true\r\na2,Two \xc5\xbb,2,,\r\n"
        "a3,\"Three \"\"3\"\"\",3,three,false\r\n";
    struct dice dice = dice_of(21);
    size_t refused_count = 0;
    for (int i = 0; i < 8000; i++) {
        char text[sizeof good];
        memcpy(text, good, sizeof good);
        for (int changes = 1 + dice_below(&dice, 3); changes > 0; changes--)
            text[dice_below(&dice, (int)strlen(good))] = (char)dice_below(&dice, 256);
        struct complaint complaint;
        size_t count = 0;
        if (roster_check(text, strlen(good), test_editions(), &count, &complaint))
            continue;
        refused_count++;
        cr_assert(eq(int, complaint.why, REFUSED_ROSTER));
        json_t *detail = json_string(complaint.detail);
        cr_assert(detail != NULL, "the complaint is UTF-8: %s", complaint.detail);
        json_decref(detail);
    }
    cr_expect(ge(sz, refused_count, 3000), "%zu", refused_count);
}

/* ---- where it is refused ---- */

struct place_row {
    const char *text;
    size_t line, row, column;
    const char *detail;
};

Test(sheet, every_refusal_has_its_row_and_column)
{
    static const struct place_row rows[] = {
        {"athlete,seed\r\na1,1\r\na2,x\r\n", 3, 3, 2, "seed: must be an integer, not a string"},
        {"athlete,facts\r\na1,\"a\r\nb\"\r\n,c\r\n", 4, 3, 1, "athlete: is missing"},
        {"athlete,club\r\n", 1, 1, 2, "club: is no column of a roster"},
        {"name,athlete\r\nA,a1\r\nB,a1\r\n", 3, 3, 2, "athlete: stands in an earlier row already"},
        {"athlete,name\r\na1\r\n", 2, 2, 0, "the row has another number of cells than the header"},
        {"athlete,name\r\na1,Caf\xe9\r\n", 2, 2, 2, "name: isn't valid UTF-8 text"},
        {"athlete,name\r\na1,A\r\na2,\"B\r\n", 3, 3, 0,
         "a quote that isn't closed, or stands where none may"},
        {"athlete,noc,iso3\r\na1,GER,Deu\r\n", 2, 2, 3,
         "iso3: must be three capital letters, as in ISO 3166-1"},
        {"athlete,lot\r\na1,0\r\n", 2, 2, 2, "lot: must be an integer from 1"},
        {"slot,athlete\r\n", 1, 1, 2, "athlete: is no column of a bout order"},
        {"slot,order\r\nf,1.5\r\n", 2, 2, 2, "order: must be an integer, not a string"},
        {"slot,rules\r\nf,freestyle-1999\r\n", 2, 2, 2, "rules: no edition of that name is known"},
        {"slot,winner_to\r\ns1,final\r\n", 2, 2, 2,
         "winner_to: must be a slot and a side, as in \"final red\""},
        {"slot,winner_to\r\ns1,f red\r\n", 2, 2, 2, "winner_to: names no slot of this file"},
        {"slot,winner_to\r\ns1,f red\r\nf,\r\ns2,f red\r\n", 4, 4, 2,
         "winner_to: that side is somebody else's already"},
        {"slot,loser_to,red\r\ns1,z red,\r\nz,,a1\r\n", 2, 2, 2,
         "loser_to: that side is somebody else's already"},
        {"team,noc\r\n,GER\r\n", 2, 2, 1, "team: is missing"},
        {"team,noc\r\nA,\r\nA,\r\n", 3, 3, 1, "team: stands in an earlier row already"},
        {"team,mat\r\n", 1, 1, 2, "mat: is no column of a list of teams"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct sheet sheet;
        struct complaint complaint;
        cr_expect(not(
            sheet_read(&sheet, rows[i].text, strlen(rows[i].text), test_editions(), &complaint)));
        expect_text(rows[i].text, complaint.detail, rows[i].detail);
        cr_expect(eq(sz, complaint.line, rows[i].line), "%s", rows[i].text);
        cr_expect(eq(sz, sheet.row, rows[i].row), "%s", rows[i].text);
        cr_expect(eq(sz, sheet.column, rows[i].column), "%s", rows[i].text);
        sheet_close(&sheet);
    }
}

/* ---- what its rows are ---- */

struct row_row {
    const char *text, *document; /* of the last row, as shorthand makes it */
    enum sheet_kind kind;
};

Test(sheet, rows_are_events)
{
    static const struct row_row rows[] = {
        {"athlete,name,seed,facts,out,iso3\r\na1,Ana,2,one|two,true,DEU\r\n",
         "type:entry athlete:a1 name:Ana seed:2 facts:[one,two] out:true", SHEET_ATHLETES},
        {"athlete,facts\r\na1,a\\|b|c\\\\|d\\e\r\n",
         "type:entry athlete:a1 facts:['a|b','c\\','d\\e']", SHEET_ATHLETES},
        {"athlete,name\r\na1,'=1+1\r\n", "type:entry athlete:a1 name:'=1+1'", SHEET_ATHLETES},
        {"athlete,name\r\na1,'Ana\r\n", NULL, SHEET_ATHLETES},
        {"slot,red,blue,order\r\nf,winner of s 1,loser of s2,3\r\n",
         "type:slot slot:f red:{winner_of:'s 1'} blue:{loser_of:s2} order:3", SHEET_SLOTS},
        {"slot,red,number\r\nf,a1,14\r\n", "type:slot slot:f red:{athlete:a1} number:'14'",
         SHEET_SLOTS},
        {"slot,winner_to,loser_to\r\ns1,f red,z red\r\ns2,f blue,z blue\r\nz,,\r\nf,,\r\n",
         "type:slot slot:f red:{winner_of:s1} blue:{winner_of:s2}", SHEET_SLOTS},
        {"slot,winner_to,red\r\ns1,f red,\r\nf,,winner of s1\r\n",
         "type:slot slot:f red:{winner_of:s1}", SHEET_SLOTS},
        {"team,noc,iso3\r\nHarbour,GER,DEU\r\n", "type:entry team:Harbour noc:GER", SHEET_TEAMS},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct sheet sheet;
        struct complaint complaint;
        cr_assert(
            sheet_read(&sheet, rows[i].text, strlen(rows[i].text), test_editions(), &complaint),
            "%s: %s", rows[i].text, complaint.detail);
        cr_expect(eq(int, sheet.kind, rows[i].kind), "%s", rows[i].text);
        json_t *got = json_of(sheet.rows[sheet.count - 1].document);
        json_t *wanted = rows[i].document != NULL ? shorthand(rows[i].document)
                                                  : json_pack("{s:s, s:s, s:s}", "type", "entry",
                                                              "athlete", "a1", "name", "'Ana");
        char *text = json_line(got);
        cr_expect(json_equal(got, wanted), "%s: %s", rows[i].text, text);
        free(text);
        json_decref(got);
        json_decref(wanted);
        sheet_close(&sheet);
    }
}
