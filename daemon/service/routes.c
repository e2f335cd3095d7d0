#include "service/routes.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include "service/bout_routes.h"
#include "service/flat.h"
#include "service/intake_problem.h"
#include "service/metrics.h"
#include "service/published.h"
#include "service/roster.h"
#include "service/stream_routes.h"
#include "wire/json.h"
#include "wire/openmetrics.h"
#include "wire/problem_json.h"
#include "wire/state_json.h"

static bool is_type(const struct request *request, const char *type)
{
    const char *given = request_header(request, "content-type");
    size_t size = strlen(type);
    return given != NULL && strncasecmp(given, type, size) == 0 &&
           (given[size] == '\0' || given[size] == ';' || given[size] == ' ');
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

static void events_answer(void *who, const struct intake_answer *answer)
{
    struct request *request = who;
    size_t line = answer->complaint != NULL ? answer->complaint->line : 0;
    if (answer->outcome == INTAKE_TOO_FAST)
        answer_later(request, problem_too_fast.status, intake_problem_json(answer, 0),
                     answer->wait_ms);
    else if (answer->outcome != INTAKE_TAKEN)
        answer_json(request, intake_problem(answer).status, TYPE_PROBLEM,
                    intake_problem_json(answer, line));
    else if (is_type(request, TYPE_LINES))
        answer_text(request, 200, TYPE_LINES, items_text(answer));
    else
        answer_json(request, 200, TYPE_JSON, item_json(&answer->items[0]));
}

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
    bool lines = is_type(request, TYPE_LINES);
    size_t size = 0;
    const char *body = request_body(request, &size);
    if (asker->grant.role == ROLE_PUBLIC)
        answer_refusal(asker, &problem_key_needed, NULL);
    else if (!lines && !is_type(request, TYPE_JSON))
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
        answer_json(request, 200, TYPE_JSON, json_incref(answer->done));
    else
        answer_json(request, answer->problem.status, TYPE_PROBLEM,
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
    if (!asker_may(asker, ACTION_PRODUCE, NULL))
        return;
    if (!is_type(asker->request, TYPE_JSON))
        answer_problem(asker->request, &problem_media_type, "send one action as application/json");
    else
        outputs_take(asker->service, &source, name, body, size);
}

/* ---- POST /api/v1/talk ---- */

static void answer_talk(const struct asker *asker, const struct intercom_answer *answer)
{
    if (answer->problem == NULL)
        answer_json(asker->request, 200, TYPE_JSON, answer->done);
    else if (answer->problem->status == 401)
        answer_refusal(asker, answer->problem, answer->detail);
    else
        answer_json(asker->request, answer->problem->status, TYPE_PROBLEM,
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
    if (!is_type(asker->request, TYPE_JSON)) {
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
    if (!asker_may(asker, ACTION_READ_PUBLIC, NULL))
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
    answer_json(asker->request, 200, TYPE_JSON, list);
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
    if (!asker_may(asker, ACTION_READ_GALLERY, NULL))
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
    if (!asker_may(asker, ACTION_READ_GALLERY, NULL))
        return;
    answer_json(asker->request, 200, TYPE_JSON,
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
    if (!asker_may(asker, ACTION_READ_PUBLIC, NULL))
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
        answer_json(asker->request, 200, TYPE_JSON, flat_json(&flat));
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
