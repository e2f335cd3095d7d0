#include "service/bout_routes.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "service/recap.h"
#include "service/roster.h"
#include "wire/json.h"
#include "wire/state_json.h"

static const char *mat_of(const struct hall_bout *bout)
{
    return bout->mat != NULL ? bout->mat->name : NULL;
}

/* ---- a bout ---- */

enum reading { READS_LIVE, READS_AS_BOOTH, READS_AS_PUBLIC };

/* How the bout is read: as it is, by who works on its mat (the booth as its topic shows it); by
 * everybody else as the public has it. */
static enum reading reading_of(const struct asker *asker, const struct hall_bout *live)
{
    if (live == NULL || !grant_allows(&asker->grant, ACTION_READ_BOOTH, mat_of(live)))
        return READS_AS_PUBLIC;
    return asker->grant.role == ROLE_BOOTH ? READS_AS_BOOTH : READS_LIVE;
}

/* The bout as that audience is shown it; `anchors` may be NULL. */
static struct seen_bout bout_read(struct service *service, const struct hall_bout *live,
                                  enum reading reading, struct anchors *anchors)
{
    char topic[AUDIENCE_MAT_SIZE + 16];
    const char *who = reading == READS_AS_BOOTH ? "booth" : "follow";
    if (anchors != NULL)
        *anchors = (struct anchors){.behind_ms = 0};
    if (live == NULL || reading == READS_LIVE)
        return (struct seen_bout){&service->hall, live, daytime_now(&service->daytime)};
    if (anchors != NULL && mat_of(live) != NULL) {
        snprintf(topic, sizeof topic, "mat/%s/%s", mat_of(live), who);
        *anchors = views_anchors(service, topic);
    }
    return views_bout(service, live, who);
}

/* A bout as whoever asks may read it, at its audience's moment. */
struct bout_reading {
    struct state state;
    struct anchors anchors;
};

/* False: answered. */
static bool bout_asked(const struct asker *asker, const char *id, struct bout_reading *seen)
{
    struct service *service = asker->service;
    const struct hall_bout *live = hall_bout(&service->hall, id);
    enum reading reading = reading_of(asker, live);
    if (reading == READS_AS_PUBLIC && !asker_may(asker, ACTION_READ_PUBLIC, NULL))
        return false;
    if (reading == READS_AS_PUBLIC && service->public_is_off) {
        answer_problem(asker->request, &problem_public_off, NULL);
        return false;
    }
    const struct seen_bout read = bout_read(service, live, reading, &seen->anchors);
    if (read.bout == NULL) {
        answer_problem(asker->request, &problem_not_found, "no bout of that id has been called");
        return false;
    }
    seen->state = state_of(
        reading == READS_AS_PUBLIC ? hall_public_fold(read.bout) : &read.bout->fold, read.now_ms);
    return true;
}

void bout_get(const struct asker *asker, const char *id)
{
    struct bout_reading seen;
    if (bout_asked(asker, id, &seen))
        answer_json(asker->request, 200, TYPE_JSON, state_json(&seen.state));
}

void recap_get(const struct asker *asker, const char *id)
{
    struct bout_reading seen;
    if (bout_asked(asker, id, &seen))
        answer_json(asker->request, 200, TYPE_JSON, recap_json(&seen.state, seen.anchors));
}

static bool write_line(FILE *out, const struct value *document)
{
    json_t *json = json_of(document);
    char *line = json != NULL ? json_line(json) : NULL;
    bool complete = line != NULL && fputs(line, out) != EOF && fputc('\n', out) != EOF;
    json_decref(json);
    free(line);
    return complete;
}

/* The text that `out` was opened for, or NULL. */
static char *text_whole(FILE *out, char **text, bool complete)
{
    if (out != NULL && fclose(out) != 0)
        complete = false;
    if (complete)
        return *text;
    free(*text);
    return NULL;
}

/* Its events, one a line; what was hidden from a delayed booth is not among them. */
static char *log_text(const struct fold *fold)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    bool complete = out != NULL;
    for (size_t i = 0; i < fold->count && complete; i++) {
        const struct event *event = &fold->bout->events[i];
        complete = event->type == EVENT_HIDDEN || write_line(out, event->document);
    }
    return text_whole(out, &text, complete);
}

/* Who may read no log at all isn't told which bouts there are. */
void bout_events_get(const struct asker *asker, const char *id)
{
    const struct hall_bout *live = hall_bout(&asker->service->hall, id);
    if (live != NULL && !asker_may(asker, ACTION_READ_LOG, mat_of(live)))
        return;
    if (live == NULL && !role_allows(asker->grant.role, ACTION_READ_LOG)) {
        asker_may(asker, ACTION_READ_LOG, NULL);
        return;
    }
    const struct seen_bout seen = bout_read(asker->service, live, reading_of(asker, live), NULL);
    if (seen.bout == NULL)
        answer_problem(asker->request, &problem_not_found, "no bout of that id has been called");
    else
        answer_text(asker->request, 200, TYPE_LINES, log_text(&seen.bout->fold));
}

/* The day's events, one a line: those that are on disk, which the hall has read. */
static char *day_text(const struct service *service)
{
    char *text = NULL;
    size_t size = 0;
    uint64_t count = hall_day(&service->hall)->read_count;
    FILE *out = open_memstream(&text, &size);
    bool complete = out != NULL;
    for (uint64_t i = 0; i < count && complete; i++)
        complete = write_line(out, service->log.day[i]->document);
    return text_whole(out, &text, complete);
}

void day_events_get(const struct asker *asker)
{
    if (asker_may(asker, ACTION_READ_DAY, NULL))
        answer_text(asker->request, 200, TYPE_LINES, day_text(asker->service));
}

/* ---- athletes ---- */

void roster_get(const struct asker *asker)
{
    if (asker_may(asker, ACTION_READ_DAY, NULL))
        answer_json(asker->request, 200, TYPE_JSON,
                    json_pack("{s:o}", "athletes", roster_json(asker->service)));
}

static enum side side_of(const struct fold *fold, const char *athlete)
{
    for (enum side side = SIDE_RED; side <= SIDE_BLUE; side++) {
        const char *own = fold->details->sides[side_index(side)].athlete;
        if (own != NULL && strcmp(own, athlete) == 0)
            return side;
    }
    return SIDE_NONE;
}

/* Adds what the booth was told during that bout of this side, or of neither. */
static bool add_notes(json_t *notes, const struct hall_bout *bout, enum side own, int64_t now_ms)
{
    const struct state state = state_of(&bout->fold, now_ms);
    json_t *all = notes_json(&state), *note;
    const char *seq;
    bool complete = all != NULL;
    json_object_foreach(all, seq, note)
    {
        const char *side = json_string_value(json_object_get(note, "side"));
        if (side != NULL && strcmp(side, side_name(own)) != 0)
            continue;
        complete = complete && json_add_text(note, "bout", bout->bout->id) &&
                   json_object_set_nocheck(notes, seq, note) == 0;
    }
    json_decref(all);
    return complete;
}

/* Of every bout of this store in which the athlete wrestled and whose mat's booth is open to
 * whoever asks. */
static json_t *notes_of(const struct asker *asker, const char *athlete)
{
    json_t *notes = json_object();
    bool complete = notes != NULL;
    for (const struct hall_bout *live = asker->service->hall.bouts; live != NULL && complete;
         live = live->next) {
        enum reading reading = reading_of(asker, live);
        if (reading == READS_AS_PUBLIC)
            continue;
        const struct seen_bout seen = bout_read(asker->service, live, reading, NULL);
        enum side own = seen.bout != NULL ? side_of(&seen.bout->fold, athlete) : SIDE_NONE;
        complete = own == SIDE_NONE || add_notes(notes, seen.bout, own, seen.now_ms);
    }
    return json_whole(notes, complete);
}

static void athlete_answer(void *who, json_t *json)
{
    struct request *request = who;
    bool known = json_object_size(json_object_get(json, "entry")) > 0 ||
                 json_integer_value(json_object_get(json_object_get(json, "archive"), "bouts")) > 0;
    if (json == NULL || known) {
        answer_json(request, 200, TYPE_JSON, json);
        return;
    }
    json_decref(json);
    answer_problem(request, &problem_not_found, "no athlete of that key has been entered");
}

void athlete_get(const struct asker *asker, const char *athlete)
{
    if (!asker_may(asker, ACTION_READ_DAY, NULL))
        return;
    const struct roster_question question = {
        .athlete = athlete,
        .other = request_query(asker->request, "against"),
        .known = json_pack("{s:s, s:o, s:o}", "athlete", athlete, "entry",
                           entry_json(asker->service, athlete), "notes", notes_of(asker, athlete)),
        .answer = athlete_answer,
        .who = asker->request,
    };
    roster_ask(asker->service, &question);
}
