#include "service/stream_routes.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "service/clients.h"
#include "service/shows.h"

/* The topic is there, and may be read. False: answered. */
static bool topic_opens(const struct asker *asker, const char *topic)
{
    struct audience audience;
    if (!audience_of(topic, &audience)) {
        answer_problem(asker->request, &problem_topic, NULL);
        return false;
    }
    if (!asker_may(asker, audience.action, audience.mat))
        return false;
    if (shows_ensure(asker->service, topic))
        return true;
    answer_problem(asker->request, &problem_topic, NULL);
    return false;
}

void topic_get(const struct asker *asker, const char *topic)
{
    if (!topic_opens(asker, topic))
        return;
    struct frame *frame = relay_snapshot(asker->service->relay, topic);
    if (frame == NULL)
        answer_problem(asker->request, &problem_no_memory, NULL);
    else
        request_answer(asker->request, 200, TYPE_JSON, NULL, frame->text, frame->size);
}

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

static void answer_full(struct request *request)
{
    enum { AGAIN_MS = 30000 };
    answer_later(request, problem_full.status, problem_json(&problem_full, NULL, NULL, 0, NULL),
                 AGAIN_MS);
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

void sse_get(const struct asker *asker, const char *path)
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

void text_get(const struct asker *asker, const char *name)
{
    struct service *service = asker->service;
    const char *since = request_query(asker->request, "since");
    char topic[AUDIENCE_MAT_SIZE + 16];
    if (!asker_may(asker, ACTION_READ_PUBLIC, name))
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
