#include "service/roster.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "service/service.h"
#include "wire/json.h"
#include "wire/state_json.h"

/* ---- the roster ---- */

/* An entry's members but those that every event has, and the key that it is found by. */
static bool is_said_of_athlete(const char *member)
{
    static const char *const others[] = {"id", "type", "at", "keyed_at", "seq", "by", "athlete"};
    for (size_t i = 0; i < sizeof others / sizeof *others; i++)
        if (strcmp(others[i], member) == 0)
            return false;
    return true;
}

/* A later entry replaces what it names and keeps the rest (docs/events.md). */
static bool entry_read(json_t *entry, const struct value *document)
{
    json_t *members = json_of(document), *value;
    const char *name;
    bool complete = members != NULL;
    json_object_foreach(members, name, value)
    {
        if (is_said_of_athlete(name))
            complete = json_object_set_nocheck(entry, name, value) == 0 && complete;
    }
    json_decref(members);
    return complete;
}

static const char *athlete_of(const struct event *event)
{
    return event->type == EVENT_ENTRY ? value_member(event->document, "athlete")->as.string : NULL;
}

/* Those of the day's events that are on disk, which the hall has read. */
static uint64_t known_count(const struct service *service)
{
    return hall_day(&service->hall)->read_count;
}

json_t *roster_json(const struct service *service)
{
    json_t *roster = json_object();
    bool complete = roster != NULL;
    for (uint64_t i = 0; i < known_count(service) && complete; i++) {
        const struct event *event = service->log.day[i];
        const char *athlete = athlete_of(event);
        if (athlete == NULL)
            continue;
        if (json_object_get(roster, athlete) == NULL)
            complete = json_add(roster, athlete, json_object());
        complete = complete && entry_read(json_object_get(roster, athlete), event->document);
    }
    return json_whole(roster, complete);
}

json_t *entry_json(const struct service *service, const char *wanted)
{
    json_t *entry = json_object();
    bool complete = entry != NULL;
    for (uint64_t i = 0; i < known_count(service) && complete; i++) {
        const char *athlete = athlete_of(service->log.day[i]);
        if (athlete != NULL && strcmp(athlete, wanted) == 0)
            complete = entry_read(entry, service->log.day[i]->document);
    }
    return json_whole(entry, complete);
}

/* ---- the archive ---- */

enum { ATTEMPTS_MAX = 6, MEETINGS_MAX = 5 };

struct asked {
    struct archive_question question; /* first: it is the same address */
    void (*answer)(void *who, json_t *json);
    json_t *known;
    struct arena arena;
    const char *athlete, *other;
    int64_t before_ms;
    struct archive_totals totals;
    struct archive_attempts *attempts;
    size_t attempt_count;
    struct archive_bout *meetings;
    size_t meeting_count;
};

/* What this store has is told by the day's topic, as each audience is shown it. */
static int64_t first_call(const struct service *service)
{
    int64_t first_ms = daytime_now(&service->daytime);
    for (const struct hall_bout *bout = service->hall.bouts; bout != NULL; bout = bout->next)
        if (bout->bout->events[0].at_ms < first_ms)
            first_ms = bout->bout->events[0].at_ms;
    return first_ms;
}

/* On the pool. */
static int ask(struct archive *archive, struct archive_question *question)
{
    struct asked *asked = (struct asked *)question;
    const struct archive_span span = {asked->athlete, INT64_MIN, asked->before_ms};
    int code = archive_totals(archive, &span, &asked->totals);
    if (code == 0)
        code = archive_attempts(archive, &span, &asked->arena, &asked->attempts,
                                &asked->attempt_count);
    if (code == 0 && asked->other != NULL)
        code = archive_meetings(archive, &span, asked->other, MEETINGS_MAX, &asked->arena,
                                &asked->meetings, &asked->meeting_count);
    return code;
}

static json_t *share_json(struct archive_share share)
{
    return json_pack("{s:I, s:I}", "bouts", (json_int_t)share.bouts, "won", (json_int_t)share.won);
}

static json_t *attempt_json(const struct archive_attempts *attempts)
{
    json_t *object = json_object();
    return json_whole(object, json_add_text(object, "technique", attempts->technique) &&
                                  json_add_text(object, "leg", leg_name(attempts->leg)) &&
                                  json_add_integer(object, "tried", attempts->tried) &&
                                  json_add_integer(object, "scored", attempts->scored));
}

static json_t *attempts_json(const struct asked *asked)
{
    json_t *object = json_object();
    bool complete = object != NULL;
    for (size_t i = 0; i < asked->attempt_count && i < ATTEMPTS_MAX && complete; i++) {
        char number[24];
        snprintf(number, sizeof number, "%zu", i + 1);
        complete = json_add(object, number, attempt_json(&asked->attempts[i]));
    }
    return json_whole(object, complete);
}

static json_t *meeting_json(const struct archive_bout *bout)
{
    json_t *object = json_object();
    return json_whole(
        object,
        json_add_time(object, "called_at", bout->called_at_ms) &&
            json_add_text(object, "style", bout->style) &&
            json_add_text(object, "weight", bout->weight) &&
            json_add_text(object, "stage", bout->stage) &&
            json_add_text(object, "how", bout->how) && json_add_text(object, "code", bout->code) &&
            json_add_true(object, "won", bout->winner != SIDE_NONE && bout->winner == bout->side) &&
            json_add_true(object, "lost",
                          bout->winner != SIDE_NONE && bout->winner != bout->side) &&
            json_add_integer(object, "own", bout->self.points) &&
            json_add_integer(object, "other", bout->other.points));
}

static json_t *meetings_json(const struct asked *asked)
{
    json_t *object = json_object();
    bool complete = object != NULL;
    for (size_t i = 0; i < asked->meeting_count && complete; i++) {
        char number[24];
        snprintf(number, sizeof number, "%zu", i + 1);
        complete = json_add(object, number, meeting_json(&asked->meetings[i]));
    }
    return json_whole(object, complete);
}

static json_t *archive_json(const struct asked *asked)
{
    json_t *object = json_object();
    return json_whole(
        object, json_add_integer(object, "bouts", asked->totals.bouts) &&
                    json_add(object, "decided", share_json(asked->totals.decided)) &&
                    json_add(object, "scored_first", share_json(asked->totals.scored_first)) &&
                    json_add(object, "attempts", attempts_json(asked)) &&
                    (asked->other == NULL || json_add(object, "meetings", meetings_json(asked))));
}

/* Back on the loop. Whoever wanted it may have gone. */
static void answered(struct archive_question *question, bool known)
{
    struct asked *asked = (struct asked *)question;
    json_t *json = asked->known;
    bool complete = json != NULL && (!known || json_add(json, "archive", archive_json(asked)));
    json = json_whole(json, complete);
    if (question->who != NULL)
        asked->answer(question->who, json);
    else
        json_decref(json);
    arena_close(&asked->arena);
    free(asked);
}

void roster_ask(struct service *service, const struct roster_question *question)
{
    struct asked *asked = calloc(1, sizeof *asked);
    if (asked == NULL) {
        json_decref(question->known);
        question->answer(question->who, NULL);
        return;
    }
    asked->question = (struct archive_question){.ask = ask, .answer = answered};
    asked->question.who = question->who;
    asked->answer = question->answer;
    asked->known = question->known;
    asked->before_ms = first_call(service);
    arena_init(&asked->arena, malloc, free);
    asked->athlete = arena_copy(&asked->arena, question->athlete);
    asked->other = question->other != NULL ? arena_copy(&asked->arena, question->other) : NULL;
    if (asked->athlete == NULL || (question->other != NULL && asked->other == NULL))
        answered(&asked->question, false);
    else
        archiving_ask(service, &asked->question);
}

void roster_forget(struct service *service, const void *who)
{
    archiving_forget(service, who);
}
