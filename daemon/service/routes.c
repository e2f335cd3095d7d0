#include "service/routes.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include "service/clients.h"
#include "service/flat.h"
#include "service/intake_problem.h"
#include "service/metrics.h"
#include "service/published.h"
#include "service/recap.h"
#include "service/roster.h"
#include "service/shows.h"
#include "wire/json.h"
#include "wire/openmetrics.h"
#include "wire/problem_json.h"
#include "wire/state_json.h"

static const char object_type[] = "application/json";
static const char lines_type[] = "application/x-ndjson";

/* ---- answers ---- */

static void answer_text(struct request *request, int status, const char *type, char *text)
{
    static const char out_of_memory[] =
        "{\"status\":503,\"title\":\"the daemon is out of memory\"}";
    if (text != NULL)
        request_answer(request, status, type, NULL, text, strlen(text));
    else
        request_answer(request, 503, "application/problem+json", NULL, out_of_memory,
                       sizeof out_of_memory - 1);
    free(text);
}

/* Takes `json`; NULL is answered as the want of memory that it is. */
static void answer_json(struct request *request, int status, const char *type, json_t *json)
{
    char *text = json != NULL ? json_line(json) : NULL;
    json_decref(json);
    answer_text(request, status, type, text);
}

static void answer_problem(struct request *request, const struct problem *problem,
                           const char *detail)
{
    answer_json(request, problem->status, "application/problem+json",
                problem_json(problem, detail, NULL, 0, NULL));
}

/* ---- POST /api/v1/events ---- */

static json_t *item_json(const struct intake_item *item)
{
    return json_pack("{s:s, s:I}", "id", item->id, "seq", (json_int_t)item->seq);
}

/* One line an event. */
static char *items_text(const struct intake_answer *answer)
{
    size_t room = 1;
    for (size_t i = 0; i < answer->count; i++)
        room += strlen(answer->items[i].id) + 48;
    char *text = malloc(room);
    size_t used = 0;
    for (size_t i = 0; i < answer->count && text != NULL; i++)
        used += (size_t)snprintf(text + used, room - used, "{\"id\":\"%s\",\"seq\":%llu}\n",
                                 answer->items[i].id, (unsigned long long)answer->items[i].seq);
    if (text != NULL)
        text[used] = '\0';
    return text;
}

static bool is_type(const struct request *request, const char *type)
{
    const char *given = request_header(request, "content-type");
    size_t size = strlen(type);
    return given != NULL && strncasecmp(given, type, size) == 0 &&
           (given[size] == '\0' || given[size] == ';' || given[size] == ' ');
}

/* Takes `json`. Retry-After: RFC 6585 4, RFC 9110 10.2.3; whole seconds. */
static void answer_later(struct request *request, int status, json_t *json, int64_t wait_ms)
{
    char header[48];
    char *text = json != NULL ? json_line(json) : NULL;
    json_decref(json);
    snprintf(header, sizeof header, "Retry-After: %lld\r\n", (long long)(wait_ms + 999) / 1000);
    if (text != NULL)
        request_answer(request, status, "application/problem+json", header, text, strlen(text));
    else
        answer_text(request, 503, object_type, NULL);
    free(text);
}

static void answer_full(struct request *request)
{
    enum { AGAIN_MS = 30000 };
    answer_later(request, problem_full.status, problem_json(&problem_full, NULL, NULL, 0, NULL),
                 AGAIN_MS);
}

static void events_answer(void *who, const struct intake_answer *answer)
{
    struct request *request = who;
    size_t line = answer->complaint != NULL ? answer->complaint->line : 0;
    if (answer->outcome == INTAKE_TOO_FAST)
        answer_later(request, problem_too_fast.status, intake_problem_json(answer, 0),
                     answer->wait_ms);
    else if (answer->outcome != INTAKE_TAKEN)
        answer_json(request, intake_problem(answer).status, "application/problem+json",
                    intake_problem_json(answer, line));
    else if (is_type(request, lines_type))
        answer_text(request, 200, lines_type, items_text(answer));
    else
        answer_json(request, 200, object_type, item_json(&answer->items[0]));
}

/* ---- who asks ---- */

struct asker {
    struct service *service;
    struct request *request;
    const struct key *key; /* NULL: it has shown none */
    struct grant grant;
};

/* RFC 6750 3: what is asked for, and whether what was shown is no good. */
static void answer_refusal(const struct asker *asker, const struct problem *problem,
                           const char *detail)
{
    static const char wanted[] = "WWW-Authenticate: Bearer realm=\"boutwire\"\r\n";
    static const char invalid[] =
        "WWW-Authenticate: Bearer realm=\"boutwire\", error=\"invalid_token\"\r\n";
    json_t *json = problem_json(problem, detail, NULL, 0, NULL);
    char *text = problem->status == 401 && json != NULL ? json_line(json) : NULL;
    if (text == NULL) {
        answer_json(asker->request, problem->status, "application/problem+json", json);
        return;
    }
    json_decref(json);
    request_answer(asker->request, problem->status, "application/problem+json",
                   problem == &problem_key_needed ? wanted : invalid, text, strlen(text));
    free(text);
}

/* "Authorization: Bearer KEY" (RFC 6750 2.1; RFC 9110 11.1: the scheme in any case). Another scheme
 * is between the client and some proxy. False: answered. */
static bool asker_read(struct asker *asker)
{
    const char *given = request_header(asker->request, "authorization");
    asker->grant = anybodys_grant(asker->service);
    if (given == NULL || strncasecmp(given, "bearer ", 7) != 0)
        return true;
    const char *text = given + 7 + strspn(given + 7, " ");
    switch (keys_knock(asker->service, text, strlen(text), &asker->key)) {
    case KNOCK_OPENS:
        asker->grant = (struct grant){asker->key->role, asker->key->mat};
        return true;
    case KNOCK_UNKNOWN:
        if (!asker->service->keys.needed) /* of another day: here none is needed */
            return true;
        answer_refusal(asker, &problem_key_unknown, NULL);
        return false;
    case KNOCK_ENDED:
        answer_refusal(asker, &problem_key_ended, NULL);
        return false;
    }
    return false;
}

/* False: refused, and answered. */
static bool may(const struct asker *asker, enum action action, const char *mat)
{
    char detail[80];
    const struct problem *refusal = access_refusal(asker->service, &asker->grant, action, mat);
    if (refusal == NULL)
        return true;
    snprintf(detail, sizeof detail, "a key of the role %s may not %s", role_name(asker->grant.role),
             action_words(action));
    answer_refusal(asker, refusal, refusal->status == 403 ? detail : NULL);
    return false;
}

/* ---- POST /api/v1/events: taken ---- */

static const char *asker_source(const struct asker *asker)
{
    if (asker->key == NULL)
        return request_address(asker->request);
    return keys_is_player(&asker->service->keys, asker->key->hash) ? NULL : asker->key->name;
}

static void events_post(const struct asker *asker)
{
    struct request *request = asker->request;
    struct intake_source source = {
        .by = asker->key != NULL ? asker->key->name : INTAKE_ANYONE,
        .grant = asker->grant,
        .source = asker_source(asker),
        .answer = events_answer,
        .who = request,
    };
    bool lines = is_type(request, lines_type);
    size_t size = 0;
    const char *body = request_body(request, &size);
    if (asker->grant.role == ROLE_PUBLIC)
        answer_refusal(asker, &problem_key_needed, NULL);
    else if (!lines && !is_type(request, object_type))
        answer_problem(request, &problem_media_type,
                       "send one event as application/json, or many as application/x-ndjson");
    else
        intake_take(asker->service, &source, body, size, lines);
}

/* ---- POST /api/v1/outputs/NAME ---- */

static void output_answer(void *who, const struct outputs_answer *answer)
{
    struct request *request = who;
    if (answer->done != NULL)
        answer_json(request, 200, object_type, json_incref(answer->done));
    else
        answer_json(request, answer->problem.status, "application/problem+json",
                    problem_json(&answer->problem, answer->detail, answer->pointer, 0, NULL));
}

static void output_post(const struct asker *asker, const char *name)
{
    const struct outputs_source source = {
        .by = asker->key != NULL ? asker->key->name : "",
        .answer = output_answer,
        .who = asker->request,
    };
    size_t size = 0;
    const char *body = request_body(asker->request, &size);
    if (!may(asker, ACTION_PRODUCE, NULL))
        return;
    if (!is_type(asker->request, object_type))
        answer_problem(asker->request, &problem_media_type, "send one action as application/json");
    else
        outputs_take(asker->service, &source, name, body, size);
}

/* ---- POST /api/v1/talk ---- */

static void answer_talk(const struct asker *asker, const struct intercom_answer *answer)
{
    if (answer->problem == NULL)
        answer_json(asker->request, 200, object_type, answer->done);
    else if (answer->problem->status == 401)
        answer_refusal(asker, answer->problem, answer->detail);
    else
        answer_json(asker->request, answer->problem->status, "application/problem+json",
                    problem_json(answer->problem, answer->detail, answer->pointer, 0, NULL));
}

static void talk_post(const struct asker *asker)
{
    const struct intercom_source source = {
        .grant = asker->grant,
        .by = asker->key != NULL ? asker->key->name : NULL,
    };
    struct complaint complaint;
    struct problem problem = problem_of_refusal(REFUSED_NOT_JSON);
    size_t size = 0;
    const char *body = request_body(asker->request, &size);
    if (!is_type(asker->request, object_type)) {
        answer_problem(asker->request, &problem_media_type, "send one line as application/json");
        return;
    }
    json_t *message = json_parse(body, size, &complaint);
    if (message != NULL) {
        struct intercom_answer answer = intercom_take(asker->service, &source, message);
        answer_talk(asker, &answer);
    } else {
        bool out = complaint.why == ACCEPTED;
        answer_problem(asker->request, out ? &problem_no_memory : &problem,
                       out ? NULL : complaint.detail);
    }
    json_decref(message);
}

void routes_abandoned(struct service *service, struct request *request)
{
    intake_forget(service, request);
    outputs_forget(service, request);
    roster_forget(service, request);
}

/* ---- what can be read ---- */

/* The topic is there, and may be read. False: answered. */
static bool topic_opens(const struct asker *asker, const char *topic)
{
    struct audience audience;
    if (!audience_of(topic, &audience)) {
        answer_problem(asker->request, &problem_topic, NULL);
        return false;
    }
    if (!may(asker, audience.action, audience.mat))
        return false;
    if (shows_ensure(asker->service, topic))
        return true;
    answer_problem(asker->request, &problem_topic, NULL);
    return false;
}

static void topic_get(const struct asker *asker, const char *topic)
{
    if (!topic_opens(asker, topic))
        return;
    struct frame *frame = relay_snapshot(asker->service->relay, topic);
    if (frame == NULL)
        answer_problem(asker->request, &problem_no_memory, NULL);
    else
        request_answer(asker->request, 200, object_type, NULL, frame->text, frame->size);
}

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
    if (reading == READS_AS_PUBLIC && !may(asker, ACTION_READ_PUBLIC, NULL))
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

static void bout_get(const struct asker *asker, const char *id)
{
    struct bout_reading seen;
    if (bout_asked(asker, id, &seen))
        answer_json(asker->request, 200, object_type, state_json(&seen.state));
}

static void recap_get(const struct asker *asker, const char *id)
{
    struct bout_reading seen;
    if (bout_asked(asker, id, &seen))
        answer_json(asker->request, 200, object_type, recap_json(&seen.state, seen.anchors));
}

/* Its events, one a line; what was hidden from a delayed booth is not among them. */
static char *log_text(const struct fold *fold)
{
    size_t room = 1, used = 0;
    char *text = malloc(room);
    for (size_t i = 0; i < fold->count && text != NULL; i++) {
        if (fold->bout->events[i].type == EVENT_HIDDEN)
            continue;
        json_t *json = json_of(fold->bout->events[i].document);
        char *line = json != NULL ? json_line(json) : NULL;
        size_t size = line != NULL ? strlen(line) : 0;
        char *wider = line != NULL ? realloc(text, room + size + 1) : NULL;
        json_decref(json);
        if (wider == NULL)
            free(text);
        text = wider;
        if (text != NULL) {
            memcpy(text + used, line, size);
            text[used + size] = '\n';
            used += size + 1;
            room += size + 1;
        }
        free(line);
    }
    if (text != NULL)
        text[used] = '\0';
    return text;
}

/* Who may read no log at all isn't told which bouts there are. */
static void bout_events_get(const struct asker *asker, const char *id)
{
    const struct hall_bout *live = hall_bout(&asker->service->hall, id);
    if (live != NULL && !may(asker, ACTION_READ_LOG, mat_of(live)))
        return;
    if (live == NULL && !role_allows(asker->grant.role, ACTION_READ_LOG)) {
        may(asker, ACTION_READ_LOG, NULL);
        return;
    }
    const struct seen_bout seen = bout_read(asker->service, live, reading_of(asker, live), NULL);
    if (seen.bout == NULL)
        answer_problem(asker->request, &problem_not_found, "no bout of that id has been called");
    else
        answer_text(asker->request, 200, lines_type, log_text(&seen.bout->fold));
}

/* The day's events, one a line: those that are on disk, which the hall has read. */
static char *day_text(const struct service *service)
{
    char *text = NULL;
    size_t size = 0;
    uint64_t count = hall_day(&service->hall)->read_count;
    FILE *out = open_memstream(&text, &size);
    bool complete = out != NULL;
    for (uint64_t i = 0; i < count && complete; i++) {
        json_t *json = json_of(service->log.day[i]->document);
        char *line = json != NULL ? json_line(json) : NULL;
        json_decref(json);
        complete = line != NULL && fputs(line, out) != EOF && fputc('\n', out) != EOF;
        free(line);
    }
    if (out != NULL && fclose(out) != 0)
        complete = false;
    if (complete)
        return text;
    free(text);
    return NULL;
}

static void day_events_get(const struct asker *asker)
{
    if (may(asker, ACTION_READ_DAY, NULL))
        answer_text(asker->request, 200, lines_type, day_text(asker->service));
}

/* ---- athletes ---- */

static void roster_get(const struct asker *asker)
{
    if (may(asker, ACTION_READ_DAY, NULL))
        answer_json(asker->request, 200, object_type,
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
        answer_json(request, 200, object_type, json);
        return;
    }
    json_decref(json);
    answer_problem(request, &problem_not_found, "no athlete of that key has been entered");
}

static void athlete_get(const struct asker *asker, const char *athlete)
{
    if (!may(asker, ACTION_READ_DAY, NULL))
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

/* ---- what is published, in other forms ---- */

enum published_form { PUBLISHED_ATOM, PUBLISHED_RESULTS, PUBLISHED_SCORES, PUBLISHED_SPORT };

static const struct exported_bout *find_finished(const struct published *published, const char *id)
{
    for (size_t i = 0; i < published->bouts.count; i++)
        if (strcmp(published->room[i].fold->bout->id, id) == 0 &&
            published->room[i].sentence != NULL)
            return &published->room[i];
    return NULL;
}

static char *published_text(const struct service *service, const struct published *published,
                            enum published_form form, const struct exported_bout *bout)
{
    const struct feed feed = {.store = journal_store(service->journal)};
    switch (form) {
    case PUBLISHED_ATOM:
        return export_atom(&published->bouts, &feed);
    case PUBLISHED_RESULTS:
        return export_results(&published->bouts);
    case PUBLISHED_SCORES:
        return export_scores(&published->bouts);
    case PUBLISHED_SPORT:
        return export_sport(bout, &published->bouts, NULL);
    }
    return NULL;
}

/* `id` is the bout's, of PUBLISHED_SPORT. */
static void published_get(const struct asker *asker, enum published_form form, const char *id)
{
    static const char *const types[] = {
        [PUBLISHED_ATOM] = "application/atom+xml",
        [PUBLISHED_RESULTS] = "text/csv; charset=utf-8; header=present",
        [PUBLISHED_SCORES] = "text/csv; charset=utf-8; header=present",
        [PUBLISHED_SPORT] = "application/ld+json",
    };
    struct published published = {.room = NULL};
    if (!may(asker, ACTION_READ_PUBLIC, NULL))
        return;
    if (asker->service->public_is_off) {
        answer_problem(asker->request, &problem_public_off, NULL);
        return;
    }
    bool complete = published_as_followed(&published, asker->service);
    const struct exported_bout *bout = id != NULL ? find_finished(&published, id) : NULL;
    if (complete && id != NULL && bout == NULL)
        answer_problem(asker->request, &problem_not_found, "no bout of that id has a result");
    else
        answer_text(asker->request, 200, types[form],
                    complete ? published_text(asker->service, &published, form, bout) : NULL);
    published_close(&published);
}

/* Every edition whole, in an array: what the table offers. */
static void rules_get(const struct asker *asker)
{
    const struct editions *editions = asker->service->options.editions;
    json_t *list = json_array();
    for (size_t i = 0; i < editions->count && list != NULL; i++)
        if (json_array_append_new(list, json_of(editions->items[i].document)) != 0) {
            json_decref(list);
            list = NULL;
        }
    answer_json(asker->request, 200, object_type, list);
}

/* ---- streams ---- */

/* "EPOCH-SEQ", as our own `id:` lines are; anything else asks for a snapshot. */
static bool last_seen(const struct request *request, char *epoch, size_t size, unsigned long *seq)
{
    const char *id = request_header(request, "last-event-id");
    const char *dash = id != NULL ? strrchr(id, '-') : NULL;
    char *end = NULL;
    if (dash == NULL || (size_t)(dash - id) >= size)
        return false;
    memcpy(epoch, id, (size_t)(dash - id));
    epoch[dash - id] = '\0';
    *seq = strtoul(dash + 1, &end, 10);
    return end != dash + 1 && *end == '\0';
}

/* How long a browser waits before it comes back. */
static bool send_retry(struct connection *connection)
{
    static const char retry[] = "retry: 2000\n\n";
    struct frame *frame = frame_new(retry, sizeof retry - 1);
    bool sent = frame != NULL && connection_send(connection, frame);
    frame_release(frame);
    return sent;
}

/* The client of a stream that begins; NULL: it ended again, for want of memory, or because
 * everybody is asked to go. */
static struct client *stream_begin(const struct asker *asker, enum connection_kind kind,
                                   const char *topic)
{
    if (asker->service->stopping) {
        answer_problem(asker->request, &problem_draining, NULL);
        return NULL;
    }
    if (is_viewer(&asker->grant, request_address(asker->request)) &&
        clients_are_full(asker->service)) {
        answer_full(asker->request);
        return NULL;
    }
    struct connection *connection = request_stream(asker->request, kind);
    struct client *client =
        connection != NULL ? client_new(asker->service, connection, asker->key) : NULL;
    if (client != NULL)
        client_note(client, topic);
    else if (connection != NULL)
        connection_close(connection, 1011, "out of memory");
    return client;
}

static void sse_get(const struct asker *asker, const char *path)
{
    char topic[AUDIENCE_MAT_SIZE + 16], epoch[RELAY_EPOCH_SIZE_MAX];
    unsigned long seq = 0;
    snprintf(topic, sizeof topic, "%s", path); /* the request's own is gone once it streams */
    bool resumes = last_seen(asker->request, epoch, sizeof epoch, &seq);
    if (!topic_opens(asker, topic))
        return;
    struct client *client = stream_begin(asker, CONNECTION_EVENTS, topic);
    if (client == NULL)
        return;
    if (!send_retry(client->connection) ||
        follower_subscribe(client->follower, topic, resumes ? epoch : NULL, seq) != 0)
        client_end(client, 1011, "out of memory");
}

static char *lines_text(const struct mat *mat, size_t since)
{
    size_t room = 1, used = 0;
    for (size_t i = since; i < mat->line_count; i++)
        room += strlen(mat->lines[i].line.text) + 1;
    char *text = malloc(room);
    for (size_t i = since; i < mat->line_count && text != NULL; i++) {
        size_t size = strlen(mat->lines[i].line.text);
        memcpy(text + used, mat->lines[i].line.text, size);
        text[used + size] = '\n';
        used += size + 1;
    }
    if (text != NULL)
        text[used] = '\0';
    return text;
}

/* The number of the first line told of the bout that the mat shows, from 0. */
static size_t first_line_shown(const struct mat *mat)
{
    size_t first = mat->line_count;
    while (mat->shown != NULL && first > 0 && mat->lines[first - 1].bout == mat->shown->bout)
        first--;
    return first;
}

static void text_since(struct request *request, const struct mat *mat, const char *since)
{
    char *end = NULL;
    unsigned long number = strtoul(since, &end, 10);
    if (end == since || *end != '\0')
        answer_problem(request, &problem_not_found, "since: the number of a line is wanted");
    else
        answer_text(request, 200, "text/plain; charset=utf-8",
                    lines_text(mat, number < mat->line_count ? number : mat->line_count));
}

static void text_get(const struct asker *asker, const char *name)
{
    struct service *service = asker->service;
    const char *since = request_query(asker->request, "since");
    char topic[AUDIENCE_MAT_SIZE + 16];
    if (!may(asker, ACTION_READ_PUBLIC, name))
        return;
    snprintf(topic, sizeof topic, "mat/%s/follow", name);
    struct mat *mat =
        shows_ensure(service, topic) ? hall_mat(views_hall(service, topic), name) : NULL;
    if (mat == NULL) {
        answer_problem(asker->request, &problem_not_found, "there is no such mat");
    } else if (service->public_is_off) {
        answer_problem(asker->request, &problem_public_off, NULL);
    } else if (since != NULL) {
        text_since(asker->request, mat, since);
    } else {
        struct client *client = stream_begin(asker, CONNECTION_TEXT, "");
        if (client == NULL)
            return;
        client->reads = mat;
        client->lines_read = first_line_shown(mat);
        client_read_on(client);
    }
}

/* An answer at all says that the log is read and the port open. */
static void ready_get(struct service *service, struct request *request)
{
    const char *reason = NULL;
    if (service->stopping)
        answer_problem(request, &problem_draining, NULL);
    else if (journal_failure(service->journal, &reason) != 0)
        answer_problem(request, &problem_stopped, reason);
    else
        request_answer(request, 200, "text/plain", NULL, "ready\n", 6);
}

static void metrics_get(const struct asker *asker)
{
    size_t size = 0;
    if (!may(asker, ACTION_READ_GALLERY, NULL))
        return;
    char *text = metrics_text(asker->service, &size);
    if (text != NULL)
        request_answer(asker->request, 200, OPENMETRICS_TYPE, NULL, text, size);
    else
        answer_problem(asker->request, &problem_no_memory, NULL);
    free(text);
}

/* ---- which address ---- */

/* The part of the path after `prefix`; NULL: it begins otherwise, or nothing follows. */
static const char *after(const char *path, const char *prefix)
{
    size_t size = strlen(prefix);
    return strncmp(path, prefix, size) == 0 && path[size] != '\0' ? path + size : NULL;
}

static void outputs_get(const struct asker *asker)
{
    if (!may(asker, ACTION_READ_GALLERY, NULL))
        return;
    answer_json(asker->request, 200, object_type,
                json_pack("{s:o, s:o}", "outputs", outputs_json(asker->service), "delays",
                          outputs_delays_json(asker->service)));
}

/* What is asked for by `?format=`, else by Accept. False: neither, and answered. */
static bool wants_csv(struct request *request, bool *csv)
{
    const char *format = request_query(request, "format"),
               *accept = request_header(request, "accept");
    *csv = format != NULL ? strcmp(format, "csv") == 0
                          : accept != NULL && strstr(accept, "text/csv") != NULL;
    if (format == NULL || *csv || strcmp(format, "json") == 0)
        return true;
    answer_problem(request, &problem_not_found, "format: json or csv is wanted");
    return false;
}

static void flat_get(const struct asker *asker, const char *name)
{
    const struct output *output = outputs_find(asker->service, name);
    struct flat flat;
    bool csv = false;
    if (!may(asker, ACTION_READ_PUBLIC, NULL))
        return;
    if (output == NULL) {
        answer_problem(asker->request, &problem_output, NULL);
        return;
    }
    if (!wants_csv(asker->request, &csv))
        return;
    flat_read(&flat, asker->service, output);
    if (csv)
        answer_text(asker->request, 200, "text/csv; charset=utf-8; header=present",
                    flat_csv(&flat));
    else
        answer_json(asker->request, 200, object_type, flat_json(&flat));
}

static void bouts_route(const struct asker *asker, const char *rest)
{
    char id[80];
    const char *slash = strchr(rest, '/');
    size_t size = slash != NULL ? (size_t)(slash - rest) : strlen(rest);
    bool sport = slash != NULL && strcmp(slash, "/sport") == 0;
    bool recap = slash != NULL && strcmp(slash, "/recap") == 0;
    if (size >= sizeof id || (slash != NULL && !sport && !recap && strcmp(slash, "/events") != 0)) {
        answer_problem(asker->request, &problem_not_found, NULL);
        return;
    }
    memcpy(id, rest, size);
    id[size] = '\0';
    if (slash == NULL)
        bout_get(asker, id);
    else if (recap)
        recap_get(asker, id);
    else if (sport)
        published_get(asker, PUBLISHED_SPORT, id);
    else
        bout_events_get(asker, id);
}

static void get_route(const struct asker *asker, const char *path)
{
    const char *rest;
    if (strcmp(path, "/healthz") == 0)
        request_answer(asker->request, 200, "text/plain", NULL, "alive\n", 6);
    else if (strcmp(path, "/readyz") == 0)
        ready_get(asker->service, asker->request);
    else if (strcmp(path, "/metrics") == 0)
        metrics_get(asker);
    else if (strcmp(path, "/api/v1/rules") == 0)
        rules_get(asker);
    else if (strcmp(path, "/api/v1/results.atom") == 0)
        published_get(asker, PUBLISHED_ATOM, NULL);
    else if (strcmp(path, "/api/v1/results.csv") == 0)
        published_get(asker, PUBLISHED_RESULTS, NULL);
    else if (strcmp(path, "/api/v1/scores.csv") == 0)
        published_get(asker, PUBLISHED_SCORES, NULL);
    else if (strcmp(path, "/api/v1/outputs") == 0)
        outputs_get(asker);
    else if ((rest = after(path, "/api/v1/flat/")) != NULL)
        flat_get(asker, rest);
    else if (strcmp(path, "/api/v1/day/events") == 0)
        day_events_get(asker);
    else if (strcmp(path, "/api/v1/athletes") == 0)
        roster_get(asker);
    else if ((rest = after(path, "/api/v1/athletes/")) != NULL)
        athlete_get(asker, rest);
    else if ((rest = after(path, "/api/v1/topics/")) != NULL)
        topic_get(asker, rest);
    else if ((rest = after(path, "/api/v1/bouts/")) != NULL)
        bouts_route(asker, rest);
    else if ((rest = after(path, "/sse/")) != NULL)
        sse_get(asker, rest);
    else if ((rest = after(path, "/text/")) != NULL)
        text_get(asker, rest);
    else
        answer_problem(asker->request, &problem_not_found, NULL);
}

void routes_request(struct service *service, struct request *request)
{
    const char *path = request_path(request);
    bool events = strcmp(path, "/api/v1/events") == 0;
    bool post = strcmp(request_method(request), "POST") == 0;
    const char *output = after(path, "/api/v1/outputs/");
    struct asker asker = {.service = service, .request = request};
    if (!asker_read(&asker))
        return;
    if (events && post)
        events_post(&asker);
    else if (output != NULL && post)
        output_post(&asker, output);
    else if (strcmp(path, "/api/v1/talk") == 0 && post)
        talk_post(&asker);
    else if (events || output != NULL || post)
        answer_problem(request, &problem_method,
                       events           ? "POST events here"
                       : output != NULL ? "POST actions here"
                                        : "GET is taken here");
    else
        get_route(&asker, path);
}
