/* The roster, the slots and the sessions that the day's events make: the latest of each member. */
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

static void expect_side(const struct slot *slot, unsigned side, enum slot_from from,
                        const char *name)
{
    cr_expect(eq(int, slot->sides[side].from, from), "%s, side %u", slot->slot, side);
    expect_text(slot->slot, slot->sides[side].name, name);
}

Test(day, a_slot_is_a_place_in_the_draw)
{
    struct day day;
    struct story story;
    read_story(&day, &story,
               "0 slot slot:f number:'14' mat:B order:7 stage:final style:women age_group:seniors "
               "weight:'57' rules:freestyle-2022 starts_at:'10:58' red:{winner_of:s1} "
               "blue:{loser_of:s2}; 0 slot slot:s1 red:{athlete:a1}");
    const struct slot *final = day_slot(&day, "f"), *semi = day_slot(&day, "s1");
    expect_text("slot", final->slot, "f");
    expect_text("number", final->number, "14");
    expect_text("mat", final->mat, "B");
    expect_text("stage", final->stage, "final");
    expect_text("style", final->style, "women");
    expect_text("age_group", final->age_group, "seniors");
    expect_text("weight", final->weight, "57");
    expect_text("rules", final->rules, "freestyle-2022");
    expect_text("starts_at", final->starts_at, "10:58");
    cr_expect(final->order_said && final->order == 7 && !semi->order_said);
    expect_side(final, 0, FROM_WINNER, "s1");
    expect_side(final, 1, FROM_LOSER, "s2");
    expect_side(semi, 0, FROM_ATHLETE, "a1");
    expect_side(semi, 1, FROM_NOTHING, NULL);
    cr_expect(day_slot(&day, "s2") == NULL && final->place == 0 && semi->place == 1);
    day_close(&day);
    story_close(&story);
}

Test(day, a_later_slot_replaces_what_it_names)
{
    struct day day;
    struct story story;
    read_story(&day, &story,
               "0 slot slot:f mat:A order:1 red:{winner_of:s1} blue:{athlete:a2}; "
               "1 slot slot:f mat:B red:{athlete:a3}; 2 slot slot:g");
    const struct slot *final = day_slot(&day, "f");
    expect_text("mat", final->mat, "B");
    cr_expect(final->order == 1);
    expect_side(final, 0, FROM_ATHLETE, "a3");
    expect_side(final, 1, FROM_ATHLETE, "a2");
    cr_expect(eq(sz, day.slot_count, 2));
    day_close(&day);
    story_close(&story);
}

Test(day, a_session_runs_until_it_is_stopped)
{
    struct day day;
    struct story story;
    read_story(&day, &story,
               "0 session session:am name:Morning mat:A do:start; 0 session session:pm "
               "name:Evening do:start; 1 session session:am name:'The morning' do:stop");
    cr_assert(eq(sz, day.session_count, 2));
    expect_text("name", day.sessions[0]->name, "The morning");
    expect_text("mat", day.sessions[0]->mat, "A");
    cr_expect(day.sessions[1]->running && !day.sessions[0]->running);
    day_close(&day);
    story_close(&story);
}

Test(day, without_memory_nothing_changes)
{
    struct story story;
    story_init(&story);
    story_tell(&story, "0 entry athlete:a1 name:Ada; 0 entry athlete:a2 minor:true; "
                       "0 slot slot:f red:{athlete:a1}; 0 session session:s name:s do:start");
    for (long left = 0;; left++) {
        struct day day;
        day_init(&day, failing_allocate, failing_release);
        fail_after(left);
        bool done = true;
        for (size_t i = 0; i < story.log.day_count; i++)
            done = done && day_read(&day, story.log.day[i]);
        bool failed = has_failed();
        fail_never();
        cr_expect(eq(int, done, !failed));
        cr_expect(done || day.session_count == 0);
        day_close(&day);
        if (done)
            break;
    }
    cr_expect(eq(long, allocations_left_over(), 0));
    story_close(&story);
}
