/* A server that uses daemon/net alone, for the tests beside it: it answers with what it was asked,
 * and does to a client what a test tells it to. It prints its port, serves until its standard
 * input ends, stops, and exits 0 when all was given back.
 *
 * GET  /api/echo      what was asked          POST /api/echo  the same, and the body
 * GET  /api/size?n=   n bytes                 GET  /api/later?ms=  answered after that time
 * GET  /api/never     not answered            GET  /api/counts     what has happened so far
 * POST /api/all       the body to everyone    POST /api/end        streams end, WebSockets close
 * GET  /sse/… /text/… streams                 WebSocket: see on_message */
#include "net/net.h"
#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

struct peer {
    struct connection *connection;
    struct peer *next, **link;
    unsigned long sent, flood_left;
    struct frame *flood;
};

struct later {
    uv_timer_t timer;
    struct request *request;
};

static struct {
    uv_loop_t loop;
    struct net *net;
    uv_pipe_t input;
    struct peer *peers;
    unsigned long requests, abandoned, opened, streams, closed, refused, drained;
    bool stopped;
} server;

static struct frame *frame_of(const char *text, size_t size)
{
    struct frame *frame = frame_new(text, size);
    assert(frame != NULL);
    return frame;
}

static void send_text(struct connection *connection, const char *text, size_t size)
{
    struct frame *frame = frame_of(text, size);
    connection_send(connection, frame);
    frame_release(frame);
}

static char *pattern_new(size_t size)
{
    char *text = malloc(size + 1);
    assert(text != NULL);
    for (size_t i = 0; i < size; i++)
        text[i] = (char)('a' + i % 26);
    text[size] = '\0';
    return text;
}

/* --- connections ----------------------------------------------------------------------------- */

static void peer_new(struct connection *connection)
{
    struct peer *peer = calloc(1, sizeof *peer);
    assert(peer != NULL);
    peer->connection = connection;
    peer->next = server.peers;
    peer->link = &server.peers;
    if (peer->next != NULL)
        peer->next->link = &peer->next;
    server.peers = peer;
    connection_set_context(connection, peer);
}

static void on_opened(void *context, struct connection *connection)
{
    (void)context;
    server.opened++;
    peer_new(connection);
}

static void on_closed(void *context, struct connection *connection)
{
    (void)context;
    server.closed++;
    struct peer *peer = connection_context(connection);
    *peer->link = peer->next;
    if (peer->next != NULL)
        peer->next->link = peer->link;
    frame_release(peer->flood);
    free(peer);
}

/* Sends until it is told no; `drained` goes on with the rest. */
static void flood(struct peer *peer)
{
    while (peer->flood_left > 0) {
        if (!connection_send(peer->connection, peer->flood)) {
            server.refused++;
            return;
        }
        peer->flood_left--;
        peer->sent++;
    }
    char text[64];
    int size = snprintf(text, sizeof text, "flooded %lu", peer->sent);
    send_text(peer->connection, text, (size_t)size);
}

static void on_drained(void *context, struct connection *connection)
{
    (void)context;
    server.drained++;
    flood(connection_context(connection));
}

static void do_big(struct connection *connection, size_t size)
{
    char *text = pattern_new(size);
    send_text(connection, text, size);
    free(text);
}

static void do_flood(struct connection *connection, unsigned long count, size_t size)
{
    struct peer *peer = connection_context(connection);
    char *text = pattern_new(size);
    frame_release(peer->flood);
    peer->flood = frame_of(text, size);
    free(text);
    peer->flood_left = count;
    peer->sent = 0;
    flood(peer);
}

/* "big N": a frame of N bytes. "flood N SIZE": N frames, then "flooded N". "close CODE WHY".
 * "address": the peer's. "patient": pinged as who only looks on. All else comes back as it is. */
static void on_message(void *context, struct connection *connection, const char *text, size_t size)
{
    (void)context;
    char command[128];
    snprintf(command, sizeof command, "%.*s", size < 100 ? (int)size : 0, text);
    unsigned long count, each;
    int code, at = 0;
    if (sscanf(command, "big %lu", &count) == 1 && count <= 100000000)
        do_big(connection, count);
    else if (sscanf(command, "flood %lu %lu", &count, &each) == 2 && each <= 1000000)
        do_flood(connection, count, each);
    else if (sscanf(command, "close %d %n", &code, &at) == 1)
        connection_close(connection, code, command + at);
    else if (strcmp(command, "patient") == 0)
        connection_set_patient(connection, true);
    else if (strcmp(command, "address") == 0)
        send_text(connection, connection_address(connection),
                  strlen(connection_address(connection)));
    else
        send_text(connection, text, size);
}

/* --- requests -------------------------------------------------------------------------------- */

static void answer_text(struct request *request, int status, const char *text, size_t size)
{
    request_answer(request, status, "text/plain; charset=utf-8", NULL, text, size);
}

static const char *or_none(const char *text)
{
    return text == NULL ? "-" : text;
}

static void do_echo(struct request *request)
{
    size_t body_size;
    const char *body = request_body(request, &body_size);
    size_t room = body_size + 4096;
    char *text = malloc(room);
    assert(text != NULL);
    int size = snprintf(
        text, room,
        "method %s\npath %s\nq %s\ncontent-type %s\nlast-event-id %s\n"
        "origin %s\nhost %s\nauthorization %s\naccept %s\naddress %s\nbody %zu\n\n",
        request_method(request), request_path(request), or_none(request_query(request, "q")),
        or_none(request_header(request, "content-type")),
        or_none(request_header(request, "last-event-id")),
        or_none(request_header(request, "origin")), or_none(request_header(request, "host")),
        or_none(request_header(request, "authorization")),
        or_none(request_header(request, "accept")), request_address(request), body_size);
    assert(size > 0 && (size_t)size + body_size < room);
    memcpy(text + size, body, body_size);
    answer_text(request, 200, text, (size_t)size + body_size);
    free(text);
}

static unsigned long query_number(struct request *request, const char *name, unsigned long most)
{
    const char *text = request_query(request, name);
    unsigned long number = text == NULL ? 0 : strtoul(text, NULL, 10);
    return number < most ? number : most;
}

static void do_size(struct request *request)
{
    size_t size = query_number(request, "n", 100000000);
    char *text = pattern_new(size);
    answer_text(request, 200, text, size);
    free(text);
}

static void on_later_closed(uv_handle_t *handle)
{
    free(handle->data);
}

static void on_later(uv_timer_t *timer)
{
    struct later *later = timer->data;
    if (later->request != NULL)
        answer_text(later->request, 200, "later", 5);
    uv_close((uv_handle_t *)timer, on_later_closed);
}

static void do_later(struct request *request)
{
    struct later *later = calloc(1, sizeof *later);
    assert(later != NULL);
    later->request = request;
    later->timer.data = later;
    request_set_context(request, later);
    uv_timer_init(&server.loop, &later->timer);
    uv_timer_start(&later->timer, on_later, query_number(request, "ms", 10000), 0);
}

static void on_abandoned(void *context, struct request *request)
{
    (void)context;
    server.abandoned++;
    struct later *later = request_context(request);
    if (later != NULL)
        later->request = NULL;
}

static void do_counts(struct request *request)
{
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    unsigned long cpu_ms = (unsigned long)(usage.ru_utime.tv_sec + usage.ru_stime.tv_sec) * 1000 +
                           (unsigned long)(usage.ru_utime.tv_usec + usage.ru_stime.tv_usec) / 1000;
    char text[512];
    int size = snprintf(
        text, sizeof text,
        "{\"requests\":%lu,\"abandoned\":%lu,\"opened\":%lu,\"streams\":%lu,"
        "\"closed\":%lu,\"slow\":%lu,\"refused\":%lu,\"drained\":%lu,\"cpu_ms\":%lu}",
        server.requests, server.abandoned, server.opened, server.streams, server.closed,
        (unsigned long)net_counts(server.net)->slow, server.refused, server.drained, cpu_ms);
    request_answer(request, 200, "application/json", "X-Test: yes\r\n", text, (size_t)size);
}

/* To all of a kind together, as the daemon does it. */
static void send_to_kind(enum connection_kind kind, struct frame *frame)
{
    enum { PEERS_MAX = 1024 };
    void *connections[PEERS_MAX] = {NULL};
    bool taken[PEERS_MAX];
    size_t count = 0;
    for (struct peer *peer = server.peers; peer != NULL; peer = peer->next)
        if (connection_kind(peer->connection) == kind && count < PEERS_MAX)
            connections[count++] = peer->connection;
    connections_send(server.net, connections, count, frame, taken);
    for (size_t i = 0; i < count; i++)
        server.refused += taken[i] ? 0 : 1;
}

static void do_all(struct request *request)
{
    size_t size;
    const char *body = request_body(request, &size);
    char text[4096];
    snprintf(text, sizeof text, "data: %.*s\n\n", (int)size, body);
    struct frame *plain = frame_of(body, size);
    struct frame *event = frame_of(text, strlen(text));
    send_to_kind(CONNECTION_WEBSOCKET, plain);
    send_to_kind(CONNECTION_EVENTS, event);
    send_to_kind(CONNECTION_TEXT, plain);
    frame_release(plain);
    frame_release(event);
    answer_text(request, 200, "sent", 4);
}

static void do_end(struct request *request)
{
    for (struct peer *peer = server.peers; peer != NULL; peer = peer->next)
        connection_close(peer->connection, 1001, "the end");
    answer_text(request, 200, "ended", 5);
}

static void do_stream(struct request *request, enum connection_kind kind)
{
    char first[128];
    snprintf(first, sizeof first, kind == CONNECTION_EVENTS ? "data: hello %s\n\n" : "hello %s\n",
             or_none(request_header(request, "last-event-id")));
    struct connection *connection = request_stream(request, kind);
    if (connection == NULL)
        return;
    server.streams++;
    peer_new(connection);
    send_text(connection, first, strlen(first));
}

static void on_request(void *context, struct request *request)
{
    (void)context;
    server.requests++;
    const char *path = request_path(request);
    if (strncmp(path, "/sse/", 5) == 0)
        do_stream(request, CONNECTION_EVENTS);
    else if (strncmp(path, "/text/", 6) == 0)
        do_stream(request, CONNECTION_TEXT);
    else if (strcmp(path, "/api/size") == 0)
        do_size(request);
    else if (strcmp(path, "/api/later") == 0)
        do_later(request);
    else if (strcmp(path, "/api/counts") == 0)
        do_counts(request);
    else if (strcmp(path, "/api/all") == 0)
        do_all(request);
    else if (strcmp(path, "/api/end") == 0)
        do_end(request);
    else if (strcmp(path, "/api/never") != 0)
        do_echo(request);
}

/* --- its life -------------------------------------------------------------------------------- */

static void on_stopped(void *context)
{
    (void)context;
    server.stopped = true;
}

static void on_room(uv_handle_t *handle, size_t suggested, uv_buf_t *room)
{
    static char bytes[64];
    (void)handle, (void)suggested;
    *room = uv_buf_init(bytes, sizeof bytes);
}

static void on_input(uv_stream_t *input, ssize_t size, const uv_buf_t *bytes)
{
    (void)bytes;
    if (size >= 0)
        return;
    uv_close((uv_handle_t *)input, NULL);
    net_stop(server.net, on_stopped, NULL);
}

static unsigned long number(int count, char **words, const char *name, unsigned long usual)
{
    for (int i = 1; i + 1 < count; i += 2)
        if (strcmp(words[i], name) == 0)
            return strtoul(words[i + 1], NULL, 10);
    return usual;
}

static const char *word(int count, char **words, const char *name, const char *usual)
{
    for (int i = 1; i + 1 < count; i += 2)
        if (strcmp(words[i], name) == 0)
            return words[i + 1];
    return usual;
}

static struct front front_of(int count, char **words)
{
    struct front front = {.trusted_count = 0};
    for (int i = 1; i + 1 < count; i += 2) {
        if (strcmp(words[i], "--public-url") == 0)
            assert(public_url_read(&front.public_url, words[i + 1]));
        else if (strcmp(words[i], "--trusted-proxy") == 0)
            assert(address_range_read(&front.trusted[front.trusted_count++], words[i + 1]));
        else if (strcmp(words[i], "--allow-origin") == 0)
            assert(origin_read(&front.allowed[front.allowed_count++], words[i + 1]));
    }
    return front;
}

static bool always_open(void *context)
{
    (void)context;
    return true;
}

int main(int count, char **words)
{
    struct listening listening = {.port = (int)number(count, words, "--port", 0),
                                  .tls = word(count, words, "--certificate", NULL) != NULL};
    snprintf(listening.host, sizeof listening.host, "%s",
             word(count, words, "--host", "127.0.0.1"));
    const struct front front = front_of(count, words);
    struct net_options options = {
        .front = &front,
        .listen = &listening,
        .listen_count = 1,
        .certificate_file = word(count, words, "--certificate", NULL),
        .key_file = word(count, words, "--private-key", NULL),
        .pages_folder = word(count, words, "--pages", NULL),
        .body_bytes_max = number(count, words, "--body", 1024 * 1024),
        .message_bytes_max = number(count, words, "--message", 65536),
        .queue_bytes_max = number(count, words, "--queue", 262144),
        .clients_max = (unsigned)number(count, words, "--clients", 0),
        .clients_per_address_max = (unsigned)number(count, words, "--per-address", 0),
        .first_seconds = (unsigned)number(count, words, "--first", 10),
        .ping_seconds = (unsigned)number(count, words, "--ping", 10),
        .give_up_seconds = (unsigned)number(count, words, "--give-up", 30),
        .unsent_seconds =
            (unsigned)number(count, words, "--unsent", number(count, words, "--give-up", 30)),
        .patient_ping_seconds = (unsigned)number(count, words, "--patient-ping", 10),
        .patient_give_up_seconds = (unsigned)number(count, words, "--patient-give-up", 30),
        .plain_sends = number(count, words, "--plain", 0) != 0,
    };
    struct net_callbacks callbacks = {
        .request = on_request,
        .abandoned = on_abandoned,
        .opened = on_opened,
        .message = on_message,
        .closed = on_closed,
        .drained = on_drained,
        .is_open = number(count, words, "--open", 0) != 0 ? always_open : NULL,
    };
    unsigned long files = number(count, words, "--files", 0);
    if (files > 0)
        setrlimit(RLIMIT_NOFILE, &(struct rlimit){files, files});
    uv_loop_init(&server.loop);
    struct net_failure failure;
    int error = net_start(&server.net, &server.loop, &options, &callbacks, &failure);
    if (error != 0) {
        printf("%s\n", uv_err_name(error));
        return 1;
    }
    printf("%d\n", net_port(server.net, 0));
    fflush(stdout);
    uv_pipe_init(&server.loop, &server.input, 0);
    uv_pipe_open(&server.input, 0);
    uv_read_start((uv_stream_t *)&server.input, on_room, on_input);
    uv_run(&server.loop, UV_RUN_DEFAULT);
    assert(server.stopped && server.peers == NULL);
    net_free(server.net);
    error = uv_loop_close(&server.loop);
    if (error != 0)
        printf("%s\n", uv_err_name(error));
    return error == 0 ? 0 : 1;
}
