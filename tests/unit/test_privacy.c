/* Minors: what the public's copy of a bout's log holds and doesn't, and that all else is the same.
 * Each story is read as the daemon reads it: the day first, then the public's copy of the bout. */
#include "access/privacy.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "prompts/lines.h"
#include "support.h"
#include "wire/json.h"
#include "wire/prompts_json.h"
#include "wire/state_json.h"
#include "wire/view_json.h"

/* ---- who is a minor ---- */

static const struct {
    const char *age_group;
    bool of_minors;
} age_groups[] = {
    {NULL, false}, {"seniors", false},  {"u15", true},   {"u17", true},    {"u13", true},
    {"u9", true},  {"U17", true},       {"u18", false},  {"u20", false},   {"u23", false},
    {"u", false},  {"", false},         {"u17a", false}, {"u1000", false}, {"veterans", false},
    {"u0", true},  {"under 17", false},
};

Test(privacy, age_groups_of_minors)
{
    for (size_t i = 0; i < sizeof age_groups / sizeof *age_groups; i++)
        cr_expect(eq(int, age_group_is_of_minors(age_groups[i].age_group), age_groups[i].of_minors),
                  "%s", age_groups[i].age_group);
}

/* ---- a bout as the public has it ---- */

struct shown {
    struct story story;
    struct day day;
    struct privacy privacy;
    struct public_bout public;
    const struct bout *bout; /* the public's, or its own where nothing is withheld */
    struct fold fold;
};

static void shown_make(struct shown *shown, const char *text)
{
    story_init(&shown->story);
    story_tell(&shown->story, text);
    day_init(&shown->day, malloc, free);
    for (size_t i = 0; i < shown->story.log.day_count; i++)
        cr_assert(day_read(&shown->day, shown->story.log.day[i]));
    const struct bout *source = shown->story.log.bouts[0];
    shown->privacy = privacy_of(&shown->day, source, source->count);
    public_bout_init(&shown->public, source, &shown->day, shown->privacy, malloc, free);
    shown->bout = shown->privacy.covers ? &shown->public.bout : source;
    if (shown->privacy.covers)
        cr_assert(public_bout_read(&shown->public, source->count));
    fold_init(&shown->fold, shown->bout, malloc, free);
}

static void shown_close(struct shown *shown)
{
    fold_close(&shown->fold);
    public_bout_close(&shown->public);
    day_close(&shown->day);
    story_close(&shown->story);
}

static void add(char **text, json_t *json)
{
    char *line = json_line(json);
    json_decref(json);
    *text = realloc(*text, strlen(*text) + strlen(line) + 2);
    strcat(strcat(*text, line), "\n");
    free(line);
}

/* All that is ever said in public of the bout, event by event. malloc'd. */
static char *all_said(struct shown *shown)
{
    char *text = calloc(1, 1);
    struct telling told;
    struct view_memory memory = {NULL, 0};
    for (size_t place = 0; place < shown->bout->count; place++) {
        struct line lines[LINES_MAX];
        cr_assert(fold_read(&shown->fold, place + 1));
        struct state state = state_of(&shown->fold, shown->bout->events[place].at_ms);
        size_t count =
            lines_after(test_language("en"), place > 0 ? &told : NULL, &state, place, lines);
        told = telling_of(&state);
        for (size_t i = 0; i < count; i++)
            add(&text, told_line_json(&lines[i], shown->bout->events[place].id, 0, 180000));
        add(&text, view_json(&state, &memory, (struct anchors){0, false}));
        add(&text, short_json(&state, (struct anchors){0, false}));
        add(&text, state_json(&state));
        if (state.result.how != NULL)
            add(&text, result_line_json(&state));
    }
    view_memory_close(&memory);
    return text;
}

#define RED                                                                                        \
    "red:{name:'Paloma Iriarteche',family:Iriarteche,given:Paloma,say:'pah-LOH-mah',"              \
    "team:'Alto Mirasal',noc:ALM,athlete:a1}"
#define BLUE "blue:{name:'Signe Aldershaw',family:Aldershaw,given:Signe,team:Harbour,athlete:a2}"
#define BOUT(more)                                                                                 \
    "bout rules:freestyle-2022 mat:A weight:'53' slot:w53 style:women " RED " " BLUE more

struct withheld_row {
    char name[60];
    char story[700];
    char absent[200];  /* parted by | */
    char present[200]; /* likewise */
};

static struct withheld_row withheld_rows[] = {
    {"seniors are told as they are", "0 " BOUT(""), "\"PI\"",
     "Paloma Iriarteche|Signe Aldershaw|\"weight\":\"53\"|Women 53 kg|pah-LOH-mah|ALM"},
    {"under 18, both have initials, team and side", "0 " BOUT(" age_group:u17"),
     "Paloma|Iriarteche|Signe|Aldershaw|pah-LOH|ALM|\"a1\"|53|weight",
     "PI (Alto Mirasal) in red, SA (Harbour) in blue|\"age_group\":\"u17\"|Women"},
    {"u15 likewise", "0 " BOUT(" age_group:u15"), "Iriarteche|Aldershaw|53", "PI|SA"},
    {"consent gives a name, and the name alone",
     "0 entry athlete:a2 minor:true consent:true; 0 " BOUT(" age_group:u17"),
     "Paloma|Iriarteche|53|weight", "PI (Alto|Signe Aldershaw (Harbour)"},
    {"consent doesn't stay when it is taken back",
     "0 entry athlete:a2 minor:true consent:true; 0 entry athlete:a2 consent:false; 0 " BOUT(
         " age_group:u17"),
     "Signe|Aldershaw", "SA"},
    {"a minor among seniors", "0 entry athlete:a1 minor:true; 0 " BOUT(""),
     "Paloma|Iriarteche|53|weight", "PI|Signe Aldershaw"},
    {"a minor with consent: still no weight",
     "0 entry athlete:a1 minor:true consent:true; 0 " BOUT(""), "53|weight",
     "Paloma Iriarteche|Signe Aldershaw"},
    {"a minor by the age group of the entry", "0 entry athlete:a1 age_group:u17; 0 " BOUT(""),
     "Paloma|Iriarteche|53", "PI|Signe Aldershaw"},
    {"unless the entry says otherwise", "0 entry athlete:a1 age_group:u17 minor:false; 0 " BOUT(""),
     "\"PI\"", "Paloma Iriarteche|53"},
    {"hidden later: what was told before too",
     "0 " BOUT("") "; 5 score side:red points:2 action:takedown; 9 entry athlete:a1 minor:true "
                   "consent:false",
     "Paloma|Iriarteche|53", "PI takes down Aldershaw|Signe Aldershaw"},
    {"without a key, by the name of the entry",
     "0 entry athlete:z9 name:'Ada Brandt' minor:true; 0 bout rules:freestyle-2022 weight:'53' "
     "red:{name:'Ada Brandt'} blue:{name:'Noor Haddad'}",
     "Ada|Brandt|53", "AB|Noor Haddad"},
    {"of two entries with one name, the one that hides",
     "0 entry athlete:z8 name:'Ada Brandt'; 0 entry athlete:z9 name:'Ada Brandt' minor:true; "
     "0 entry athlete:z7 name:'Ada Brandt' consent:true; 0 bout rules:freestyle-2022 "
     "red:{name:'Ada Brandt'} blue:{name:'Noor Haddad'}",
     "Ada|Brandt", "AB"},
    {"the latest age group holds for the whole bout",
     "0 " BOUT("") "; 5 score side:red points:2 action:takedown; 9 " BOUT(" age_group:u17"),
     "Paloma|Iriarteche|Signe|Aldershaw|53", "PI|SA"},
    {"and backwards too", "0 " BOUT(" age_group:u17") "; 9 " BOUT(" age_group:seniors"), "\"PI\"",
     "Paloma Iriarteche|53"},
    {"one that was called by mistake stays hidden",
     "0 entry athlete:z9 minor:true; 0 bout rules:freestyle-2022 weight:'53' "
     "red:{name:'Ada Brandt',athlete:z9} blue:{name:'Noor Haddad'}; 5 bout rules:freestyle-2022 "
     "red:{name:'Eva Holm'} blue:{name:'Noor Haddad'}",
     "Ada|Brandt|53", "AB in red|Eva Holm"},
    {"where initials are the same, the colour is left",
     "0 bout rules:freestyle-2022 age_group:u17 red:{name:'Ada Brandt'} blue:{name:'Ava Bloom'}; "
     "5 score side:red points:2 action:takedown",
     "Ada|Brandt|Ava|Bloom|AB", "Red takes down Blue"},
    {"where a name has none, the colour is left",
     "0 bout rules:freestyle-2022 age_group:u17 red:{name:'王小明'} blue:{name:'Ava Bloom'}",
     "王|Ava|Bloom", "Red in red, AB in blue"},
    {"a stoppage for an injury is a stoppage",
     "0 " BOUT(
         " age_group:u17") "; 5 stoppage kind:injury side:red do:start; 9 stoppage kind:blood "
                           "side:blue do:stop",
     "injury|blood|treatment", "\"stoppage\":{\"kind\":\"other\",\"since\""},
    {"so it is when it is amended to one",
     "0 " BOUT(" age_group:u17") "; 5 stoppage kind:review side:red do:start; 6 amend ref:e2 "
                                 "set:{kind:injury,side:red}",
     "injury|treatment|\"side\":\"red\",\"since\"", "\"kind\":\"other\""},
    {"a review is told", "0 " BOUT(" age_group:u17") "; 5 stoppage kind:review do:start", "injury",
     "\"kind\":\"review\""},
    {"a point for a stop says no more, and is no technique",
     "0 " BOUT(" age_group:u17") "; 1 clock do:start; 5 score side:red points:1 "
                                 "action:injury_stop",
     "injury", "\"action\":\"bout_stop\"|The bout is stopped for SA"},
    {"and likewise when it is amended to one",
     "0 " BOUT(" age_group:u17") "; 1 clock do:start; 5 score side:red points:1 action:step_out; "
                                 "6 amend ref:e3 set:{action:injury_stop}",
     "injury", "\"action\":\"bout_stop\""},
    {"notes to the booth are nobody else's",
     "0 " BOUT(" age_group:u17") "; 5 note text:'her sister is next' to:booth", "sister", "PI"},
    {"the result has initials too", "0 " BOUT(" age_group:u17") "; 5 close how:fall winner:red",
     "Iriarteche|Aldershaw|53", "PI beats SA by fall|\"red\":\"PI\"|\"blue\":\"SA\""},
};

static void check_words(const char *name, const char *said, char *words, bool wanted)
{
    for (char *word = strtok(words, "|"); word != NULL; word = strtok(NULL, "|"))
        cr_expect(eq(int, strstr(said, word) != NULL, wanted), "%s: %s", name, word);
}

Test(privacy, what_is_withheld)
{
    for (size_t i = 0; i < sizeof withheld_rows / sizeof *withheld_rows; i++) {
        struct withheld_row *row = &withheld_rows[i];
        struct shown shown;
        shown_make(&shown, row->story);
        char *said = all_said(&shown);
        check_words(row->name, said, row->absent, false);
        check_words(row->name, said, row->present, true);
        free(said);
        shown_close(&shown);
    }
}

/* Nothing leads back from the copy to what was taken out. */
Test(privacy, the_copy_keeps_no_document)
{
    struct shown shown;
    shown_make(&shown, "0 " BOUT(" age_group:u17") "; 5 stoppage kind:injury do:start; 6 amend "
                                                   "ref:e2 set:{kind:blood}");
    for (size_t i = 0; i < shown.bout->count; i++) {
        const struct event *event = &shown.bout->events[i];
        cr_expect(event->document == NULL && event->by == NULL);
        cr_expect(event->set == NULL || event->set->document == NULL);
    }
    shown_close(&shown);
}

/* What a change of the day or of the details does to what is withheld. */
Test(privacy, of_a_bout)
{
    struct shown shown;
    shown_make(&shown, "0 " BOUT("") "; 5 " BOUT(" age_group:u17"));
    const struct bout *bout = shown.story.log.bouts[0];
    struct privacy before = privacy_of(&shown.day, bout, 1), after = shown.privacy;
    struct privacy nothing = privacy_of(&shown.day, bout, 0);
    cr_expect(not(before.covers || before.of_minors || before.group_of_minors));
    cr_expect(after.covers && after.of_minors && after.group_of_minors);
    cr_expect(not(nothing.covers));
    shown_close(&shown);
}

/* ---- all else is the same ---- */

/* The state as `fold` prints it, but for what may differ. */
static char *comparable(const struct bout *bout, int64_t now_ms)
{
    json_t *state = state_of_bout(bout, bout->count, now_ms);
    json_object_del(state, "stoppage");
    char *line = json_line(state);
    json_decref(state);
    return line;
}

Test(privacy, score_clock_and_leader_are_the_same)
{
    const struct privacy everything = {true, true, true};
    for (uint64_t seed = 1; seed <= 60; seed++) {
        struct dice dice = dice_of(seed);
        struct log log;
        struct day day;
        log_init(&log, test_editions(), malloc, free);
        random_log(&dice, &log, 150);
        day_init(&day, malloc, free);
        for (size_t i = 0; i < log.bout_count; i++) {
            struct public_bout public;
            const struct bout *bout = log.bouts[i];
            int64_t now_ms = bout->events[bout->count - 1].at_ms + 1000;
            public_bout_init(&public, bout, &day, everything, malloc, free);
            cr_assert(public_bout_read(&public, bout->count));
            char *want = comparable(bout, now_ms), *got = comparable(&public.bout, now_ms);
            cr_expect(eq(str, got, want), "seed %llu", (unsigned long long)seed);
            free(want);
            free(got);
            public_bout_close(&public);
        }
        day_close(&day);
        log_close(&log);
    }
}

/* Copied as it comes or all at once: the same. */
Test(privacy, copied_event_by_event)
{
    struct shown shown;
    shown_make(&shown, "0 " BOUT(" age_group:u17") "; 5 score side:red points:2 action:takedown; "
                                                   "6 stoppage kind:injury do:start; 7 close "
                                                   "how:fall winner:red");
    struct public_bout slow;
    const struct bout *source = shown.story.log.bouts[0];
    public_bout_init(&slow, source, &shown.day, shown.privacy, malloc, free);
    for (size_t count = 1; count <= source->count; count++) {
        cr_assert(public_bout_read(&slow, count));
        cr_assert(eq(sz, slow.bout.count, count));
    }
    char *one = state_line(&slow.bout, source->count, story_begins_ms + 9000);
    char *other = state_line(&shown.public.bout, source->count, story_begins_ms + 9000);
    cr_expect(eq(str, one, other));
    free(one);
    free(other);
    public_bout_close(&slow);
    shown_close(&shown);
}

Test(privacy, without_memory_it_can_be_asked_again)
{
    struct shown shown;
    shown_make(&shown, "0 " BOUT(" age_group:u17") "; 5 stoppage kind:injury do:start; 6 amend "
                                                   "ref:e2 set:{kind:blood}");
    const struct bout *source = shown.story.log.bouts[0];
    bool failed = true;
    for (long left = 0; failed; left++) {
        struct public_bout public;
        public_bout_init(&public, source, &shown.day, shown.privacy, failing_allocate,
                         failing_release);
        fail_after(left);
        bool done = public_bout_read(&public, source->count);
        failed = has_failed();
        fail_never();
        cr_expect(eq(int, done, !failed));
        cr_assert(public_bout_read(&public, source->count));
        char *one = state_line(&public.bout, source->count, story_begins_ms + 9000);
        char *other = state_line(&shown.public.bout, source->count, story_begins_ms + 9000);
        cr_expect(eq(str, one, other));
        free(one);
        free(other);
        public_bout_close(&public);
    }
    cr_expect(eq(long, allocations_left_over(), 0));
    shown_close(&shown);
}

/* ---- the names that notes may not tell ---- */

static bool note_name(void *context, const struct secret_name *name)
{
    char *text = context;
    sprintf(text + strlen(text), "%s as %s; ", name->words[0], name->shown);
    return true;
}

static bool refuse_name(void *context, const struct secret_name *name)
{
    (void)name;
    ++*(int *)context;
    return false;
}

Test(privacy, names_that_are_withheld)
{
    struct shown shown;
    char text[500] = "";
    int asked = 0;
    shown_make(&shown,
               "0 entry athlete:a1 name:'Paloma Iriarteche' minor:true; "
               "0 entry athlete:a2 name:'Signe Aldershaw' minor:true consent:true; "
               "0 entry athlete:a3 name:'王小明' minor:true; 0 entry athlete:a4 name:'Eva'; "
               "0 " BOUT(" age_group:u17"));
    const struct bout *bout = shown.story.log.bouts[0];
    cr_expect(day_secret_names(&shown.day, note_name, text));
    expect_text("of the day", text, "Paloma Iriarteche as PI; 王小明 as …; ");
    text[0] = '\0';
    cr_expect(bout_secret_names(&shown.day, bout, bout->count, note_name, text));
    expect_text("of the bout", text, "Paloma Iriarteche as PI; ");
    cr_expect(not(day_secret_names(&shown.day, refuse_name, &asked)));
    cr_expect(not(bout_secret_names(&shown.day, bout, bout->count, refuse_name, &asked)));
    cr_expect(eq(int, asked, 2), "the first that is refused is the last");
    shown_close(&shown);
}
