#define _GNU_SOURCE
#include "fake_net.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "fuzz.h"

enum { PARTS_MAX = 16 };

struct request {
    struct request *next;
    void *context;
    char *text; /* all of it, parted by NUL */
    const char *method, *path, *body;
    char *query;
    size_t body_size;
    const char *names[PARTS_MAX], *values[PARTS_MAX];
    size_t header_count;
};

struct connection {
    struct connection *next;
    void *context;
    enum connection_kind kind;
    bool closing;
};

struct net {
    struct net_callbacks callbacks;
    struct net_counts counts;
    struct request *requests;
    struct connection *connections;
    uv_loop_t *loop;
    uv_idle_t stopping;
    void (*stopped)(void *context);
    void *stopped_context;
};

static struct net *the_net;

/* ---- the net ---- */

int net_start(struct net **net, uv_loop_t *loop, const struct net_options *options,
              const struct net_callbacks *callbacks, struct net_failure *failure)
{
    (void)options, (void)failure;
    *net = the_net = calloc(1, sizeof **net);
    HOLDS(the_net != NULL);
    the_net->callbacks = *callbacks;
    the_net->loop = loop;
    return 0;
}

static void on_stopping(uv_idle_t *idle)
{
    struct net *net = idle->data;
    uv_idle_stop(idle);
    uv_close((uv_handle_t *)idle, NULL);
    net->stopped(net->stopped_context);
}

void net_stop(struct net *net, void (*stopped)(void *context), void *context)
{
    fake_give_up();
    net->stopped = stopped;
    net->stopped_context = context;
    uv_idle_init(net->loop, &net->stopping);
    net->stopping.data = net;
    uv_idle_start(&net->stopping, on_stopping);
}

void net_free(struct net *net)
{
    free(net);
    the_net = NULL;
}

bool net_reload_certificate(struct net *net, char reason[NET_REASON_SIZE])
{
    (void)net;
    reason[0] = '\0';
    return true;
}

int net_port(const struct net *net, size_t i)
{
    (void)net;
    return 7600 + (int)i;
}

const struct net_counts *net_counts(const struct net *net)
{
    return &net->counts;
}

void net_refuse(struct net *net)
{
    (void)net;
}

size_t net_requests(const struct net *net)
{
    size_t count = 0;
    for (const struct request *request = net->requests; request != NULL; request = request->next)
        count++;
    return count;
}

size_t net_clients(const struct net *net)
{
    (void)net;
    return 1;
}

size_t fake_open_requests(void)
{
    return net_requests(the_net);
}

bool net_was_busy(struct net *net)
{
    (void)net;
    return false;
}

void net_hurry(struct net *net)
{
    (void)net;
}

/* ---- requests ---- */

static char *take_line(char **text)
{
    char *line = *text, *end = strchr(line, '\n');
    if (end != NULL)
        *end = '\0';
    *text = end != NULL ? end + 1 : line + strlen(line);
    return line;
}

static void part_request(struct request *request, size_t size)
{
    char *text = request->text, *line = take_line(&text);
    char *space = strchr(line, ' ');
    request->method = strncmp(line, "POST", 4) == 0 ? "POST" : "GET";
    request->path = space != NULL ? space + 1 : "/";
    request->query = strchr(request->path, '?');
    if (request->query != NULL)
        *request->query++ = '\0';
    while (*text != '\0' && *text != '\n') {
        line = take_line(&text);
        char *colon = strchr(line, ':');
        if (colon == NULL || request->header_count == PARTS_MAX)
            continue;
        *colon = '\0';
        request->names[request->header_count] = line;
        request->values[request->header_count++] = colon + 1 + strspn(colon + 1, " ");
    }
    text += *text == '\n' ? 1 : 0;
    request->body = text;
    request->body_size = size - (size_t)(text - request->text);
}

void fake_request(const char *text, size_t size)
{
    struct request *request = calloc(1, sizeof *request);
    HOLDS(request != NULL && (request->text = malloc(size + 1)) != NULL);
    memcpy(request->text, text, size);
    request->text[size] = '\0';
    part_request(request, size);
    request->next = the_net->requests;
    the_net->requests = request;
    the_net->callbacks.request(the_net->callbacks.context, request);
}

static void request_free(struct request *request)
{
    struct request **link = &the_net->requests;
    while (*link != request)
        link = &(*link)->next;
    *link = request->next;
    free(request->text);
    free(request);
}

const char *request_method(const struct request *request)
{
    return request->method;
}

const char *request_path(const struct request *request)
{
    return request->path;
}

const char *request_query(const struct request *request, const char *name)
{
    const char *found = request->query != NULL ? strstr(request->query, name) : NULL;
    if (found == NULL)
        return NULL;
    found += strlen(name);
    return *found == '=' ? found + 1 : "";
}

const char *request_header(const struct request *request, const char *header)
{
    for (size_t i = 0; i < request->header_count; i++)
        if (strcasecmp(request->names[i], header) == 0)
            return request->values[i];
    return NULL;
}

const char *request_body(const struct request *request, size_t *size)
{
    *size = request->body_size;
    return request->body;
}

const char *request_address(const struct request *request)
{
    (void)request;
    return "127.0.0.1";
}

void request_set_context(struct request *request, void *context)
{
    request->context = context;
}

void *request_context(const struct request *request)
{
    return request->context;
}

void request_answer(struct request *request, int status, const char *type, const char *headers,
                    const char *body, size_t size)
{
    (void)headers;
    HOLDS(status >= 200 && status < 600 && type != NULL && (size == 0 || body != NULL));
    request_free(request);
}

/* ---- connections ---- */

static struct connection *connection_open(enum connection_kind kind)
{
    struct connection *connection = calloc(1, sizeof *connection);
    HOLDS(connection != NULL);
    connection->kind = kind;
    connection->next = the_net->connections;
    the_net->connections = connection;
    return connection;
}

static void connection_end(struct connection *connection)
{
    struct connection **link = &the_net->connections;
    while (*link != connection)
        link = &(*link)->next;
    *link = connection->next;
    the_net->callbacks.closed(the_net->callbacks.context, connection);
    free(connection);
}

struct connection *request_stream(struct request *request, enum connection_kind kind)
{
    request_free(request);
    return connection_open(kind);
}

void fake_talk(const char *text, size_t size)
{
    struct connection *connection = connection_open(CONNECTION_WEBSOCKET);
    the_net->callbacks.opened(the_net->callbacks.context, connection);
    for (size_t from = 0; from < size && !connection->closing;) {
        const char *end = memchr(text + from, '\n', size - from);
        size_t length = end != NULL ? (size_t)(end - (text + from)) : size - from;
        the_net->callbacks.message(the_net->callbacks.context, connection, text + from, length);
        from += length + 1;
    }
}

void fake_give_up(void)
{
    while (the_net->requests != NULL) {
        the_net->callbacks.abandoned(the_net->callbacks.context, the_net->requests);
        request_free(the_net->requests);
    }
    while (the_net->connections != NULL)
        connection_end(the_net->connections);
}

bool connection_send(struct connection *connection, struct frame *frame)
{
    HOLDS(frame->size > 0 || frame->text != NULL);
    return !connection->closing;
}

void connections_send(struct net *net, void *const connections[], size_t count, struct frame *frame,
                      bool taken[])
{
    (void)net;
    for (size_t i = 0; i < count; i++)
        taken[i] = connection_send(connections[i], frame);
}

void connection_close(struct connection *connection, int code, const char *reason)
{
    HOLDS(code >= 1000 && code < 5000 && reason != NULL && strlen(reason) <= 123);
    connection->closing = true;
}

enum connection_kind connection_kind(const struct connection *connection)
{
    return connection->kind;
}

const char *connection_address(const struct connection *connection)
{
    (void)connection;
    return "127.0.0.1";
}

void connection_set_patient(struct connection *connection, bool patient)
{
    (void)connection, (void)patient;
}

void connection_set_context(struct connection *connection, void *context)
{
    connection->context = context;
}

void *connection_context(const struct connection *connection)
{
    return connection->context;
}
