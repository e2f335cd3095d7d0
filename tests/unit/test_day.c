/* The roster that entries make: the latest of each member. */
#include "rules/day.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <stdlib.h>
#include <string.h>
#include "support.h"

static void read_story(struct day *day, struct story *story, const char *text)
{
    story_init(story);
    story_tell(story, text);
    day_init(day, malloc, free);
    for (size_t i = 0; i < story->log.day_count; i++)
        cr_assert(day_read(day, story->log.day[i]));
}

Test(day, an_entry_is_an_athlete)
{
    struct day day;
    struct story story;
    read_story(&day, &story,
               "0 entry athlete:a1 name:'Ada Brandt' family:Brandt given:Ada team:Harbour "
               "age_group:u17 minor:true");
    const struct athlete *ada = day_athlete(&day, "a1");
    cr_assert(ada != NULL);
    expect_text("athlete", ada->athlete, "a1");
    expect_text("name", ada->name, "Ada Brandt");
    expect_text("family", ada->family, "Brandt");
    expect_text("given", ada->given, "Ada");
    expect_text("team", ada->team, "Harbour");
    expect_text("age_group", ada->age_group, "u17");
    cr_expect(ada->minor && ada->minor_said && !ada->consent && !ada->out);
    cr_expect(day_athlete(&day, "a2") == NULL);
    cr_expect(eq(sz, day.count, 1));
    day_close(&day);
    story_close(&story);
}

Test(day, a_later_entry_replaces_what_it_names)
{
    struct day day;
    struct story story;
    read_story(&day, &story,
               "0 entry athlete:a1 name:'Ada Brandt' minor:true consent:true; "
               "0 entry athlete:a2 name:'Noor Haddad'; "
               "0 session session:s name:s do:start; 0 slot slot:f; "
               "1 entry athlete:a1 consent:false out:true; 2 entry athlete:a1 name:'Ada B'");
    const struct athlete *ada = day_athlete(&day, "a1"), *noor = day_athlete(&day, "a2");
    expect_text("name", ada->name, "Ada B");
    cr_expect(ada->minor && ada->minor_said && !ada->consent && ada->out);
    cr_expect(not(noor->minor || noor->minor_said));
    cr_expect(eq(sz, day.count, 2));
    cr_expect(day.athletes[0] == ada && day.athletes[1] == noor);
    day_close(&day);
    story_close(&story);
}

Test(day, without_memory_nothing_changes)
{
    struct story story;
    story_init(&story);
    story_tell(&story, "0 entry athlete:a1 name:Ada; 0 entry athlete:a2 minor:true");
    for (long left = 0;; left++) {
        struct day day;
        day_init(&day, failing_allocate, failing_release);
        fail_after(left);
        bool done = day_read(&day, story.log.day[0]) && day_read(&day, story.log.day[1]);
        bool failed = has_failed();
        fail_never();
        cr_expect(eq(int, done, !failed));
        cr_expect(done || day.count < 2);
        day_close(&day);
        if (done)
            break;
    }
    cr_expect(eq(long, allocations_left_over(), 0));
    story_close(&story);
}
