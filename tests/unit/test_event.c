#include "rules/event.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "support.h"

#define BOUT "0 bout rules:freestyle-2022; "
#define TEN "aaaaaaaaaa"
#define FORTY TEN TEN TEN TEN

struct accepted_row {
    char name[72], story[1100];
};

/* Every member that a type has, and every value at its bound: docs/events.md. What is refused has a
 * fixture each, in fixtures/refusals. */
ParameterizedTestParameters(event, accepted)
{
    static struct accepted_row rows[] = {
        {"an id of every character", "bout id:AZaz09._~:- rules:freestyle-2022"},
        {"an id of 64", "bout id:" FORTY TEN TEN "aaaa rules:freestyle-2022"},
        {"a bout's id of 64", "bout bout:" FORTY TEN TEN "aaaa rules:freestyle-2022"},
        {"the daemon's members", "bout rules:freestyle-2022 seq:1 by:mat-a keyed_at:@-1"},
        {"any seq", "bout rules:freestyle-2022 seq:-5"},
        {"a bout time at the end", BOUT "note text:a to:booth period:2 t_ms:180000"},
        {"a bout time at the beginning", BOUT "restart period:1 t_ms:0"},
        {"all of a bout",
         "bout rules:freestyle-2022 red:{name:Red,family:R,given:G,say:S,team:T,noc:N,athlete:a} "
         "blue:{name:Blue,family:R,given:G,say:S,team:T,noc:N,athlete:b} mat:A number:'7' "
         "style:women age_group:u17 weight:'57' stage:final slot:w57-f "
         "length:{periods:9,period_ms:3600000,break_ms:3600000} call:true off:true period:9 "
         "t_ms:3600000"},
        {"the least length", "bout rules:freestyle-2022 length:{periods:1,period_ms:1,break_ms:0}"},
        {"an empty length", "bout rules:freestyle-2022 length:{}"},
        {"a text of 100", "bout rules:freestyle-2022 mat:" FORTY FORTY TEN TEN},
        {"100 characters of three bytes each",
         "bout rules:freestyle-2022 mat:"
         "摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔"
         "摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔"
         "摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔摔"},
        {"clock", BOUT "clock do:start; clock do:stop; clock do:end; clock do:lost; "
                       "clock do:set period:2 t_ms:180000; clock do:start period:2"},
        {"all of a score",
         BOUT "attack side:red techniques:[single_leg] outcome:open; score side:red points:2 "
              "action:takedown technique:single_leg leg:lead attack:e2 unconfirmed:true before:e2 "
              "period:1 t_ms:5"},
        {"an attack named by the other side's score",
         BOUT "attack side:red techniques:[single_leg] outcome:open; score side:blue points:2 "
              "action:counter_exposure attack:e2"},
        {"all of an attack",
         BOUT "attack side:red techniques:[a] outcome:open; attack side:blue "
              "techniques:[a,b,c,d,e,f,g,h] leg:trail setup:[a,b,c,d] outcome:stopped after:e2 "
              "stopped_by:sprawl"},
        {"an attack's outcomes",
         BOUT "attack side:red techniques:[a] outcome:scored; attack side:red techniques:[a] "
              "outcome:stopped; attack side:red techniques:[a] outcome:countered; attack side:red "
              "techniques:[a] outcome:out; attack side:red techniques:[a] outcome:stalemate; "
              "attack side:red techniques:[a] outcome:slipped"},
        {"no set-up", BOUT "attack side:red techniques:[a] setup:[] outcome:open"},
        {"names outside the catalogue", BOUT "attack side:red techniques:[" FORTY ",0_9] "
                                             "setup:[nobody_knows] outcome:open"},
        {"caution", BOUT "caution side:red reason:brutality points:0; caution side:blue "
                         "reason:own_word points:2 unconfirmed:true before:e2"},
        {"passivity", BOUT "passivity side:red stage:warning; passivity side:red stage:activity "
                           "unconfirmed:true; passivity side:red stage:penalty points:0; "
                           "passivity side:red stage:penalty points:1 before:e2"},
        {"position", BOUT "position position:standing; position position:par_terre top:red "
                          "ordered:true chosen_by:blue; position position:standing top:blue"},
        {"challenge", BOUT "challenge side:red outcome:asked of:e1; challenge side:red "
                           "outcome:upheld; challenge side:blue outcome:rejected points:1 "
                           "before:e2; challenge side:blue outcome:rejected points:0"},
        {"stoppage", BOUT "stoppage kind:injury do:start side:red; stoppage kind:blood do:start; "
                          "stoppage kind:review do:stop; stoppage kind:conference do:start; "
                          "stoppage kind:other do:stop"},
        {"confirm", BOUT "confirm; confirm ref:e1; confirm ref:e2"},
        {"void", BOUT "clock do:start; void ref:e2; void ref:e3 why:keying; void ref:e4 "
                      "why:officials; void ref:e5 why:challenge"},
        {"what is void may be named", BOUT "clock do:start; void ref:e2; void ref:e2; confirm "
                                           "ref:e2; amend ref:e2 set:{do:stop}"},
        {"amend", BOUT "score side:red points:2 action:takedown technique:a before:e1; amend "
                       "ref:e2 set:{points:4,action:throw,unconfirmed:true} "
                       "unset:[technique,before] why:challenge; amend ref:e2 unset:[leg]"},
        {"amend of every type that can be",
         BOUT "clock do:start; attack side:red techniques:[a] outcome:open; caution side:red "
              "reason:a points:1; passivity side:red stage:warning; position position:standing; "
              "challenge side:red outcome:asked; stoppage kind:blood do:start; close how:fall "
              "winner:red; note text:a to:booth; amend ref:e2 set:{do:stop}; amend ref:e3 "
              "set:{outcome:out}; amend ref:e4 set:{points:2}; amend ref:e5 set:{side:blue}; "
              "amend ref:e6 set:{ordered:true}; amend ref:e7 set:{outcome:rejected,points:1}; "
              "amend ref:e8 set:{kind:injury}; amend ref:e9 set:{winner:blue}; amend ref:e10 "
              "set:{to:public}"},
        {"amend: a bout time", BOUT "score side:red points:2 action:takedown; amend ref:e2 "
                                    "set:{period:1,t_ms:5}; amend ref:e2 unset:[period,t_ms]"},
        {"amend: a reference later than the event, earlier than the amend",
         BOUT "score side:red points:2 action:takedown; attack side:red techniques:[a] "
              "outcome:open; amend ref:e2 set:{attack:e3,before:e3}"},
        {"amend in two steps, each valid",
         BOUT "score side:red points:2 action:takedown; amend ref:e2 "
              "set:{points:4,action:throw}; amend ref:e2 set:{points:5}"},
        {"restart", BOUT "restart; restart reason:wrong_length"},
        {"close", BOUT "close how:points winner:blue score:{red:0,blue:900} code:VPO "
                       "unconfirmed:true; close how:both_disqualified"},
        {"a code that isn't the edition's", BOUT "close how:points winner:blue code:X"},
        {"note", BOUT "note text:a to:booth side:red; note text:b to:public"},
        {"all of an entry",
         "entry athlete:a name:N family:F given:G say:S ipa:I checked_by:C team:T noc:N "
         "style:none age_group:u99 weight:'57' seed:-1 facts:[one,two] minor:true consent:false "
         "out:true"},
        {"twenty facts, or none",
         "entry athlete:a facts:[a,b,c,d,e,f,g,h,i,j,k,l,m,n,o,p,q,r,s,t]; entry athlete:a "
         "facts:[]"},
        {"all of a slot",
         "slot slot:s number:'1' mat:A order:14 stage:final style:any age_group:any weight:'57' "
         "rules:greco-2026 starts_at:soon red:{winner_of:s1} blue:{loser_of:s2}; slot slot:s "
         "red:{athlete:a}"},
        {"all of a session", "session session:m name:Morning mat:A do:start; session session:m "
                             "name:Morning do:stop"},
        {"the day's with seq, by and keyed_at", "entry athlete:a seq:3 by:desk keyed_at:@-5"},
        {"after a result stands", BOUT "close how:fall winner:red; score side:blue points:5 "
                                       "action:throw; clock do:start; close how:forfeit "
                                       "winner:blue"},
        {"off its mat", "bout rules:freestyle-2022 off:true; clock do:start"},
        {"another edition, which has no activity time",
         BOUT "passivity side:red stage:activity; bout rules:greco-2026; score side:red points:2 "
              "action:takedown"},
    };
    return cr_make_param_array(struct accepted_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct accepted_row *row, event, accepted)
{
    struct story story;
    story_init(&story);
    cr_expect(eq(int, story_try(&story, row->story), ADMITTED), "%s: event %zu: %s", row->name,
              story.told, story.complaint.detail);
    story_close(&story);
}

struct refused_row {
    char story[240];
    enum refusal why;
    char pointer[40]; /* RFC 6901: the place in the event as it was sent */
};

/* The kind and the place of a refusal, which a sender reads beside the words. */
static const struct refused_row refused_rows[] = {
    {BOUT "clock do:start id:''", REFUSED_MEMBER_VALUE, "/id"},
    {BOUT "clock do:start id:5", REFUSED_MEMBER_TYPE, "/id"},
    {BOUT "clock do:start id:e1", REFUSED_ID_REUSED, "/id"},
    {BOUT "goal", REFUSED_TYPE, "/type"},
    {BOUT "clock bout:c do:start", REFUSED_BOUT, "/bout"},
    {BOUT "entry athlete:a bout:b", REFUSED_MEMBER_UNKNOWN, "/bout"},
    {BOUT "clock do:start at:now", REFUSED_MEMBER_VALUE, "/at"},
    {BOUT "clock", REFUSED_MEMBER_MISSING, "/do"},
    {BOUT "clock do:pause", REFUSED_MEMBER_VALUE, "/do"},
    {BOUT "clock do:start side:red", REFUSED_MEMBER_UNKNOWN, "/side"},
    {BOUT "clock do:set period:1", REFUSED_MEMBER_MISSING, "/t_ms"},
    {BOUT "clock do:stop t_ms:1", REFUSED_MEMBER_UNKNOWN, "/t_ms"},
    {BOUT "clock do:set period:3 t_ms:0", REFUSED_TIME, "/period"},
    {BOUT "clock do:set period:2 t_ms:180001", REFUSED_TIME, "/t_ms"},
    {BOUT "note text:a to:booth t_ms:1", REFUSED_MEMBER_MISSING, "/period"},
    {BOUT "note text:a to:booth period:1", REFUSED_MEMBER_MISSING, "/t_ms"},
    {BOUT "note text:5 to:booth", REFUSED_MEMBER_TYPE, "/text"},
    {BOUT "note text:'' to:booth", REFUSED_MEMBER_VALUE, "/text"},
    {"bout rules:greco-2026 mat:5", REFUSED_MEMBER_TYPE, "/mat"},
    {"entry athlete:a name:5", REFUSED_MEMBER_TYPE, "/name"},
    {"entry athlete:a minor:yes", REFUSED_MEMBER_TYPE, "/minor"},
    {"entry athlete:a seed:first", REFUSED_MEMBER_TYPE, "/seed"},
    {"session session:m name:M do:pause", REFUSED_MEMBER_VALUE, "/do"},
    {"bout rules:none", REFUSED_EDITION, "/rules"},
    {"bout rules:greco-2026 style:women", REFUSED_MEMBER_VALUE, "/style"},
    {"bout rules:greco-2026 age_group:u11", REFUSED_MEMBER_VALUE, "/age_group"},
    {"bout rules:greco-2026 red:{team:T}", REFUSED_MEMBER_MISSING, "/red/name"},
    {"bout rules:greco-2026 red:{name:R,club:C}", REFUSED_MEMBER_UNKNOWN, "/red/club"},
    {"bout rules:greco-2026 blue:{name:5}", REFUSED_MEMBER_TYPE, "/blue/name"},
    {"bout rules:greco-2026 length:{periods:0}", REFUSED_MEMBER_VALUE, "/length/periods"},
    {"bout rules:greco-2026 length:{break_ms:x}", REFUSED_MEMBER_TYPE, "/length/break_ms"},
    {BOUT "score side:red points:3 action:throw", REFUSED_POINTS, "/points"},
    {BOUT "score side:red points:4 action:takedown", REFUSED_POINTS, "/action"},
    {BOUT "score side:red points:two action:takedown", REFUSED_MEMBER_TYPE, "/points"},
    {BOUT "score side:red points:2 action:takedown before:e9", REFUSED_REF, "/before"},
    {BOUT "score side:red points:2 action:takedown attack:e1", REFUSED_REF_TYPE, "/attack"},
    {BOUT "score side:red points:2 action:takedown unconfirmed:false", REFUSED_MEMBER_TYPE,
     "/unconfirmed"},
    {BOUT "attack side:red techniques:[] outcome:open", REFUSED_MEMBER_VALUE, "/techniques"},
    {BOUT "passivity side:red stage:warning points:1", REFUSED_MEMBER_UNKNOWN, "/points"},
    {BOUT "passivity side:red stage:penalty", REFUSED_MEMBER_MISSING, "/points"},
    {BOUT "bout rules:greco-2026; passivity side:red stage:activity", REFUSED_MEMBER_VALUE,
     "/stage"},
    {BOUT "position position:par_terre", REFUSED_MEMBER_MISSING, "/top"},
    {BOUT "challenge side:red outcome:upheld points:1", REFUSED_MEMBER_UNKNOWN, "/points"},
    {BOUT "void ref:e1", REFUSED_REF_TYPE, "/ref"},
    {BOUT "void ref:e9", REFUSED_REF, "/ref"},
    {BOUT "amend ref:e1 set:{mat:B}", REFUSED_REF_TYPE, "/ref"},
    {BOUT "clock do:start; amend ref:e2", REFUSED_MEMBER_MISSING, "/set"},
    {BOUT "clock do:start; amend ref:e2 set:{}", REFUSED_MEMBER_VALUE, "/set"},
    {BOUT "clock do:start; amend ref:e2 set:{do:5}", REFUSED_MEMBER_TYPE, "/set/do"},
    {BOUT "clock do:start; amend ref:e2 set:{side:red}", REFUSED_MEMBER_UNKNOWN, "/set/side"},
    {BOUT "clock do:start; amend ref:e2 set:{do:set}", REFUSED_MEMBER_MISSING, "/set"},
    {BOUT "close how:draw", REFUSED_MEMBER_VALUE, "/how"},
    {BOUT "close how:fall", REFUSED_WINNER, "/winner"},
    {BOUT "close how:both_injured winner:red", REFUSED_WINNER, "/winner"},
    {BOUT "close how:fall winner:red score:{red:1}", REFUSED_MEMBER_MISSING, "/score/blue"},
    {BOUT "close how:fall winner:red score:{red:1,blue:x}", REFUSED_MEMBER_TYPE, "/score/blue"},
    {"slot slot:s red:{athlete:a,winner_of:b}", REFUSED_MEMBER_VALUE, "/red"},
    {"slot slot:s red:{name:a}", REFUSED_MEMBER_UNKNOWN, "/red/name"},
    /* a name's own slash and tilde are written ~1 and ~0: RFC 6901, section 3 */
    {BOUT "clock do:start a/b~c:1", REFUSED_MEMBER_UNKNOWN, "/a~1b~0c"},
};
static void check_refused(const struct refused_row *row)
{
    struct story story;
    story_init(&story);
    cr_assert(eq(int, story_try(&story, row->story), NOT_ADMITTED), "%s", row->story);
    expect_text(row->story, refusal_name(story.complaint.why), refusal_name(row->why));
    expect_text(row->story, story.complaint.pointer, row->pointer);
    story_close(&story);
}

Test(event, refused)
{
    for (size_t i = 0; i < sizeof refused_rows / sizeof *refused_rows; i++)
        check_refused(&refused_rows[i]);
}

/* A name as long as one likes, of characters that are cut in the middle, must leave words that can
 * be sent: UTF-8, in their room. */
Test(event, complaints_are_utf8)
{
    static const struct {
        const char *before, *after;
    } forms[] = {
        {"{\"id\":\"n\",\"type\":\"clock\",\"bout\":\"b\",\"", "\":1}"},
        {"{\"id\":\"n\",\"type\":\"", "\"}"},
        {"{\"id\":\"n\",\"type\":\"bout\",\"bout\":\"c\",\"red\":{\"", "\":1}}"},
        {"{\"id\":\"n\",\"type\":\"close\",\"bout\":\"b\",\"at\":\"2027-05-08T10:00:00.000Z\","
         "\"how\":\"",
         "\"}"},
    };
    for (size_t form = 0; form < sizeof forms / sizeof *forms; form++)
        for (int ascii = 0; ascii < 64; ascii++) {
            struct story story;
            char text[400], name[160];
            memset(name, 'a', (size_t)ascii);
            name[ascii] = '\0';
            for (int i = 0; i < 12; i++)
                strcat(name, "\xe6\x91\x94");
            snprintf(text, sizeof text, "%s%s%s", forms[form].before, name, forms[form].after);
            story_init(&story);
            story_tell(&story, BOUT);
            cr_assert(eq(int, story_admit(&story, text), NOT_ADMITTED), "%s", text);
            json_t *detail = json_string(story.complaint.detail);
            json_t *pointer = json_string(story.complaint.pointer);
            cr_assert(detail != NULL && pointer != NULL, "%s: %s %s", text, story.complaint.pointer,
                      story.complaint.detail);
            json_decref(detail);
            json_decref(pointer);
            story_close(&story);
        }
}

/* Every kind of refusal has a title and a name of its own, for RFC 9457's `title` and `type`. */
Test(event, refusals_have_names)
{
    for (enum refusal why = ACCEPTED + 1; why < REFUSAL_COUNT; why++) {
        cr_expect(ne(chr, refusal_title(why)[0], '\0'), "%d", (int)why);
        for (enum refusal other = ACCEPTED + 1; other < why; other++) {
            cr_expect(ne(int, strcmp(refusal_name(why), refusal_name(other)), 0), "%s",
                      refusal_name(why));
            cr_expect(ne(int, strcmp(refusal_title(why), refusal_title(other)), 0), "%s",
                      refusal_title(why));
        }
    }
}

/* The words as they stand on the wire; 0 is none. */
Test(event, words)
{
    expect_text("outcome", event_word(EVENT_ATTACK, MEMBER_OUTCOME, ATTACK_SLIPPED), "slipped");
    expect_text("outcome", event_word(EVENT_CHALLENGE, MEMBER_OUTCOME, CHALLENGE_UPHELD), "upheld");
    expect_text("do", event_word(EVENT_CLOCK, MEMBER_DO, CLOCK_LOST), "lost");
    expect_text("do", event_word(EVENT_STOPPAGE, MEMBER_DO, STOPPAGE_STOP), "stop");
    expect_text("why", event_word(EVENT_VOID, MEMBER_WHY, WHY_CHALLENGE), "challenge");
    expect_text("none", event_word(EVENT_CLOCK, MEMBER_DO, 0), "");
    expect_text("no such member", event_word(EVENT_CLOCK, MEMBER_SIDE, 1), "");
    expect_text("a type", event_type_name(EVENT_SESSION), "session");
    expect_text("a member", event_member_name(MEMBER_STOPPED_BY), "stopped_by");
}

/* What an event says is what was read of it: every field that the core reads. */
Test(event, fields)
{
    struct story story;
    story_init(&story);
    story_tell(&story, BOUT "attack side:blue techniques:[a,b] leg:trail setup:[c] "
                            "outcome:stalemate stopped_by:d period:2 t_ms:3; 5 score side:red "
                            "points:2 action:takedown technique:a leg:lead attack:e2 before:e1 "
                            "unconfirmed:true keyed_at:@4 by:mat-a; close how:points winner:blue "
                            "score:{red:1,blue:2} code:VPO1");
    const struct event *events = story.log.bouts[0]->events;
    const struct event *attack = &events[1], *score = &events[2], *close = &events[3];
    cr_expect(eq(int, attack->type, EVENT_ATTACK));
    cr_expect(eq(int, attack->side, SIDE_BLUE));
    cr_assert(eq(int, attack->techniques->count, 2));
    expect_text("technique", attack->techniques->names[1], "b");
    expect_text("setup", attack->setup->names[0], "c");
    cr_expect(eq(int, attack->leg, LEG_TRAIL));
    cr_expect(eq(int, attack->outcome, ATTACK_STALEMATE));
    expect_text("stopped_by", attack->stopped_by, "d");
    cr_expect(eq(i32, attack->period, 2));
    cr_expect(eq(i32, attack->t_ms, 3));
    cr_expect(eq(i32, attack->after, EVENT_NONE));
    cr_expect(eq(i32, score->points, 2));
    expect_text("action", score->action, "takedown");
    cr_expect(score->technique == attack->techniques->names[0],
              "a technique's name is kept once, to be compared by its address");
    cr_expect(eq(i32, score->attack, 1));
    cr_expect(eq(i32, score->before, 0));
    cr_expect(event_gives(score, MEMBER_UNCONFIRMED));
    cr_expect(not(event_gives(score, MEMBER_PERIOD)));
    expect_text("by", score->by, "mat-a");
    cr_expect(eq(i64, score->keyed_at_ms, story_begins_ms + 4000));
    cr_expect(eq(i64, score->at_ms, story_begins_ms + 5000));
    expect_text("how", close->how, "points");
    expect_text("code", close->code, "VPO1");
    cr_expect(eq(i64, close->sheet[1], 2));
    cr_expect(eq(int, close->winner, SIDE_BLUE));
    story_close(&story);
}

/* A bout's details: the edition's lengths where the event gives none. */
Test(event, details)
{
    struct story story;
    story_init(&story);
    story_tell(&story, "bout rules:freestyle-2022 age_group:u17 length:{period_ms:90000} "
                       "red:{name:R,say:S} mat:A weight:'57'");
    const struct details *details = story.log.bouts[0]->details;
    cr_expect(details->edition == test_edition("freestyle-2022"));
    cr_expect(eq(int, details->periods, 2));
    cr_expect(eq(i32, details->period_ms, 90000));
    cr_expect(eq(i32, details->break_ms, 30000));
    expect_text("name", details->sides[0].name, "R");
    expect_text("say", details->sides[0].say, "S");
    expect_text("no team", details->sides[0].team, NULL);
    expect_text("mat", details->mat, "A");
    expect_text("age group", details->age_group_name, "u17");
    expect_text("no style", details->style, NULL);
    story_tell(&story, "bout rules:greco-2026");
    details = story.log.bouts[0]->details;
    cr_expect(eq(i32, details->period_ms, 180000), "another one replaces them all");
    expect_text("no mat", details->mat, NULL);
    expect_text("no age group", details->age_group_name, NULL);
    story_close(&story);
}
