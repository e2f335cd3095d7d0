/* One HTTP request: its head, its body, its answer. One a connection.
 *
 * Normal course: request_head copies what the daemon may want to know (lws forgets a head when it
 * likes), the body comes in pieces, request_hand_over stops reading and gives it to the daemon or
 * looks for the page; the answer leaves, our side of the connection is closed, and the client
 * closes its own. While a request waits or is answered nothing is read from its client: lws would
 * take what comes for the next request. So one that leaves meanwhile is noticed when the answer
 * is written.
 *
 * Why one: a client may send its next request before it has the answer to the first. What lws has
 * read of it by then waits in lws's own list, and in 4.1.6 a POST found there has its head taken
 * for its body, and then the loop never comes back: one client would stop the daemon. Whether
 * something waits there lws doesn't tell. A connection that carries one request has no next.
 *
 * Ways to fail: what is refused is answered by `answer_problem`; a body may still be under way
 * then, and is read and thrown away for a while, because closing on unread bytes resets the
 * connection, and takes the answer with it. */
#include "net/client.h"
#include <assert.h>
#include <stdio.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>

enum header {
    HEADER_HOST,
    HEADER_ORIGIN,
    HEADER_CONTENT_TYPE,
    HEADER_ACCEPT,
    HEADER_AUTHORIZATION,
    HEADER_LAST_EVENT_ID,
    HEADER_IF_NONE_MATCH,
    HEADER_USER_AGENT,
    HEADER_COUNT
};

/* Those that lws knows have a token; the others stand among "custom" ones, in lower case. */
static const struct {
    const char *name;
    enum lws_token_indexes token;
} header_names[HEADER_COUNT] = {
    [HEADER_HOST] = {"host", WSI_TOKEN_HOST},
    [HEADER_ORIGIN] = {"origin", WSI_TOKEN_ORIGIN},
    [HEADER_CONTENT_TYPE] = {"content-type", WSI_TOKEN_HTTP_CONTENT_TYPE},
    [HEADER_ACCEPT] = {"accept", WSI_TOKEN_HTTP_ACCEPT},
    [HEADER_AUTHORIZATION] = {"authorization", WSI_TOKEN_HTTP_AUTHORIZATION},
    [HEADER_LAST_EVENT_ID] = {"last-event-id:", WSI_TOKEN_COUNT},
    [HEADER_IF_NONE_MATCH] = {"if-none-match", WSI_TOKEN_HTTP_IF_NONE_MATCH},
    [HEADER_USER_AGENT] = {"user-agent", WSI_TOKEN_HTTP_USER_AGENT},
};

enum request_state {
    REQUEST_READING,   /* its body comes */
    REQUEST_WAITING,   /* the daemon has it */
    REQUEST_ANSWERING, /* the answer leaves */
    REQUEST_LINGERING, /* answered; what still comes is thrown away, until the client closes */
};

struct request {
    struct client *client;
    void *context;
    enum request_state state;
    const struct route *route;
    enum method method;
    bool reading_stopped;
    char *path;
    char *query; /* "name=value\0name=value\0\0" */
    char *headers[HEADER_COUNT];
    char *body;
    size_t body_size, body_length; /* come, and announced */
    struct answer answer;
    uint64_t by_ms; /* READING, LINGERING: over then */
};

static void request_free(struct request *request)
{
    for (size_t i = 0; i < HEADER_COUNT; i++)
        free(request->headers[i]);
    free(request->path);
    free(request->query);
    free(request->body);
    free(request);
}

static struct request *answer_owner(struct answer *answer)
{
    return (struct request *)((char *)answer - offsetof(struct request, answer));
}

/* --- the head -------------------------------------------------------------------------------- */

/* Gives a copy of what a header says; NULL when it isn't there. False without memory. */
static bool header_copy(struct lws *wsi, const char *name, enum lws_token_indexes token, char **to)
{
    bool custom = token == WSI_TOKEN_COUNT;
    int name_size = (int)strlen(name);
    int size =
        custom ? lws_hdr_custom_length(wsi, name, name_size) : lws_hdr_total_length(wsi, token);
    *to = NULL;
    if (size <= 0)
        return true;
    *to = malloc((size_t)size + 1);
    if (*to == NULL)
        return false;
    int copied = custom ? lws_hdr_custom_copy(wsi, *to, size + 1, name, name_size)
                        : lws_hdr_copy(wsi, *to, size + 1, token);
    if (copied < 0)
        (*to)[0] = '\0';
    return true;
}

static bool query_copy(struct request *request)
{
    struct lws *wsi = request->client->wsi;
    int room = lws_hdr_total_length(wsi, WSI_TOKEN_HTTP_URI_ARGS) + 2;
    char *end = request->query = calloc(1, (size_t)room);
    if (end == NULL)
        return false;
    for (int i = 0;; i++) {
        int left = room - (int)(end - request->query) - 1;
        int size =
            left <= 0 ? -1 : lws_hdr_copy_fragment(wsi, end, left, WSI_TOKEN_HTTP_URI_ARGS, i);
        if (size < 0)
            break;
        if (size > 0) /* an empty one ("?a=1&&b=2") would look like the end */
            end += size + 1;
    }
    *end = '\0';
    return true;
}

static enum method method_of(struct lws *wsi)
{
    char *path;
    int size;
    switch (lws_http_get_uri_and_method(wsi, &path, &size)) {
    case LWSHUMETH_GET:
        return METHOD_GET;
    case LWSHUMETH_HEAD:
        return METHOD_HEAD;
    case LWSHUMETH_POST:
        return METHOD_POST;
    default: /* an int of lws's */
        return METHOD_OTHER;
    }
}

static bool connection_header_says(struct lws *wsi, const char *member)
{
    char text[128];
    return lws_hdr_copy(wsi, text, sizeof text, WSI_TOKEN_CONNECTION) > 0 && list_has(text, member);
}

static struct request *request_new(struct client *client, const char *path)
{
    struct request *request = calloc(1, sizeof *request);
    if (request == NULL)
        return NULL;
    struct lws *wsi = client->wsi;
    request->client = client;
    request->path = strdup(path);
    request->route = route_of(path);
    request->method = method_of(wsi);
    bool complete = request->path != NULL && query_copy(request);
    for (size_t i = 0; i < HEADER_COUNT && complete; i++)
        complete =
            header_copy(wsi, header_names[i].name, header_names[i].token, &request->headers[i]);
    if (complete)
        return request;
    request_free(request);
    return NULL;
}

/* --- the answer ------------------------------------------------------------------------------ */

static void on_request_closed(uv_handle_t *handle)
{
    struct answer *answer = handle->data;
    request_free(answer_owner(answer));
}

static void request_release(struct request *request)
{
    if (answer_close(&request->answer, on_request_closed))
        request_free(request);
}

/* The answer has left, or couldn't. The client has LINGER_MS to read it and to close. */
static void on_answered(struct answer *answer, int error)
{
    struct request *request = answer_owner(answer);
    struct client *client = request->client;
    request->state = REQUEST_LINGERING;
    request->by_ms = net_now(client->net) + LINGER_MS;
    if (error != 0) {
        client_close(client);
        return;
    }
    client_shut(client);
    if (request->reading_stopped)
        lws_rx_flow_control(client->wsi, 1);
}

static void answer_begin(struct request *request)
{
    request->state = REQUEST_ANSWERING;
    request->answer.done = on_answered;
    struct lws *wsi = request->client->wsi;
    answer_start(&request->answer, request->client->net->loop, lws_get_socket_fd(wsi),
                 lws_get_ssl(wsi));
}

static void answer_problem(struct request *request, int status, const char *detail,
                           const char *headers)
{
    struct answer_head head = {.status = status, .headers = headers};
    if (answer_make_problem(&request->answer, &head, detail, request->method == METHOD_HEAD))
        answer_begin(request);
    else
        on_answered(&request->answer, UV_ENOMEM);
}

/* --- pages ----------------------------------------------------------------------------------- */

static void page_answer(struct request *request, const struct page *page)
{
    char headers[96];
    snprintf(headers, sizeof headers, "ETag: %s\r\n", page->etag);
    const char *known = request->headers[HEADER_IF_NONE_MATCH];
    bool unchanged = known != NULL && strstr(known, page->etag) != NULL;
    struct answer_head head = {
        .status = unchanged ? 304 : 200,
        .type = unchanged ? NULL : page->type,
        .length = unchanged ? -1 : (long long)page->bytes->size,
        .cache = "no-cache",
        .headers = headers,
    };
    if (unchanged || request->method == METHOD_HEAD)
        frame_release(page->bytes);
    else
        request->answer.page = page->bytes;
    if (answer_make(&request->answer, &head, NULL, 0))
        answer_begin(request);
    else
        on_answered(&request->answer, UV_ENOMEM);
}

/* Relative, so that it is right behind any proxy. Only a file's own name stands in it: anything
 * that isn't plain would need encoding, and such folders aren't ours. */
static void page_redirect(struct request *request, const char *path)
{
    const char *name = strrchr(path, '/') + 1;
    if (strspn(name, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_") !=
        strlen(name)) {
        answer_problem(request, 404, "no such page", NULL);
        return;
    }
    char headers[320];
    int size = snprintf(headers, sizeof headers, "Location: %s/\r\n", name);
    if ((size_t)size >= sizeof headers)
        answer_problem(request, 404, "no such page", NULL);
    else
        answer_problem(request, 301, "a folder's address ends with a slash", headers);
}

static void page_request(struct request *request)
{
    struct pages *pages = request->client->net->pages;
    struct page page;
    if (request->path[0] == '\0') { /* all of it was the public path */
        page_redirect(request, request->client->net->options.front->public_url.path);
        return;
    }
    switch (pages == NULL ? PAGE_ABSENT : pages_find(pages, request->path, &page)) {
    case PAGE_FOUND:
        page_answer(request, &page);
        break;
    case PAGE_ABSENT:
        answer_problem(request, 404, "no such page", NULL);
        break;
    case PAGE_IS_FOLDER:
        page_redirect(request, request->path);
        break;
    case PAGE_UNREADABLE:
        answer_problem(request, 403, "this page can't be read", NULL);
        break;
    }
}

/* --- from the head to the daemon -------------------------------------------------------------- */

/* Until it is answered, nothing more is read from the client. */
static void reading_stop(struct client *client)
{
    if (client->request == NULL || client->request->state == REQUEST_LINGERING)
        return;
    client->request->reading_stopped = true;
    lws_rx_flow_control(client->wsi, 0);
}

/* The whole request has come. */
static void request_hand_over(struct request *request)
{
    struct client *client = request->client;
    struct net *net = client->net;
    lws_set_timeout(client->wsi, NO_PENDING_TIMEOUT, 0);
    request->state = REQUEST_WAITING;
    switch (request->route->place) {
    case PLACE_REQUESTS:
    case PLACE_STREAMS:
        net->callbacks.request(net->callbacks.context, request);
        break;
    case PLACE_PAGES:
        page_request(request);
        break;
    case PLACE_WEBSOCKET:
        answer_problem(request, 426, "a WebSocket lives here: this request asks for none",
                       "Upgrade: websocket\r\nConnection: Upgrade\r\n");
        break;
    }
    reading_stop(client);
}

enum body_framing { BODY_NONE, BODY_LENGTH, BODY_UNKNOWN, BODY_BROKEN };

static enum body_framing body_framing(struct request *request)
{
    struct lws *wsi = request->client->wsi;
    if (lws_hdr_total_length(wsi, WSI_TOKEN_HTTP_TRANSFER_ENCODING) > 0)
        return BODY_UNKNOWN;
    char text[32];
    int size = lws_hdr_copy(wsi, text, sizeof text, WSI_TOKEN_HTTP_CONTENT_LENGTH);
    if (size < 0 || (size > 0 && !content_length_read(text, &request->body_length)))
        return BODY_BROKEN;
    if (size == 0)
        return request->method == METHOD_POST ? BODY_UNKNOWN : BODY_NONE;
    return request->body_length > 0 ? BODY_LENGTH : BODY_NONE;
}

/* What is wrong with the head is answered here; true then. */
static bool head_refused(struct request *request, const struct refusal *front,
                         enum body_framing framing)
{
    char allow[64];
    snprintf(allow, sizeof allow, "Allow: %s\r\n", request->route->allow);
    if (request->client->net->stopping)
        answer_problem(request, 503, "the daemon is stopping", NULL);
    else if (front->status != 0)
        answer_problem(request, front->status, front->detail, front->headers);
    else if ((request->route->methods & request->method) == 0)
        answer_problem(request, 405, "this address doesn't take that method", allow);
    else if (framing == BODY_BROKEN)
        answer_problem(request, 400, "Content-Length must be one whole number", NULL);
    else if (framing == BODY_UNKNOWN)
        answer_problem(request, 411, "a body needs a Content-Length, and no Transfer-Encoding",
                       NULL);
    else if (framing == BODY_LENGTH && request->method != METHOD_POST)
        answer_problem(request, 400, "only a POST may have a body", NULL);
    else if (request->body_length > request->client->net->options.body_bytes_max)
        answer_problem(request, 413, "the body is larger than this address takes", NULL);
    else
        return false;
    return true;
}

/* lws reads a body where it found a length, and after a POST, PUT or PATCH in any case; elsewhere
 * it would take a body for the next request, so there nothing more is read. */
static bool lws_reads_body(const struct request *request, enum body_framing framing)
{
    char *path;
    int size;
    int method = lws_http_get_uri_and_method(request->client->wsi, &path, &size);
    bool may_have =
        method == LWSHUMETH_POST || method == LWSHUMETH_PUT || method == LWSHUMETH_PATCH;
    return framing == BODY_LENGTH || (may_have && framing == BODY_UNKNOWN);
}

static bool body_expected(struct request *request)
{
    static const char go_on[] = "HTTP/1.1 100 Continue\r\n\r\n";
    struct lws *wsi = request->client->wsi;
    request->body = malloc(request->body_length + 1);
    if (request->body == NULL)
        return false;
    request->body[0] = '\0';
    request->by_ms =
        net_now(request->client->net) + request->client->net->options.first_seconds * 1000;
    char text[32];
    if (lws_hdr_copy(wsi, text, sizeof text, WSI_TOKEN_HTTP_EXPECT) > 0 &&
        list_has(text, "100-continue"))
        return client_write(request->client, go_on, sizeof go_on - 1) == sizeof go_on - 1;
    return true;
}

/* lws cuts a path at these two, as it does a query. */
static struct refusal head_meet(struct client *client, const char *path, size_t path_size)
{
    if (strlen(path) != path_size)
        return (struct refusal){400, "; and & in a path must be percent-encoded", NULL};
    return client_meet(client, method_of(client->wsi) == METHOD_POST);
}

int request_head(struct client *client, const char *path, size_t path_size, bool *body_follows)
{
    const struct front *front = client->net->options.front;
    struct refusal refusal = head_meet(client, path, path_size);
    struct request *request = request_new(client, public_path_strip(&front->public_url, path));
    if (request == NULL)
        return -1;
    client->request = request;
    enum body_framing framing = body_framing(request);
    *body_follows = lws_reads_body(request, framing);
    if (head_refused(request, &refusal, framing)) {
        lws_set_timeout(client->wsi, NO_PENDING_TIMEOUT, 0);
        if (!*body_follows)
            reading_stop(client);
        return 0;
    }
    if (framing == BODY_LENGTH)
        return body_expected(request) ? 0 : -1;
    request_hand_over(request);
    return 0;
}

int request_body_piece(struct client *client, const char *bytes, size_t size)
{
    struct request *request = client->request;
    if (request == NULL || request->state != REQUEST_READING)
        return 0; /* of one that was refused */
    if (size > request->body_length - request->body_size)
        return -1;
    memcpy(request->body + request->body_size, bytes, size);
    request->body_size += size;
    request->body[request->body_size] = '\0';
    return 0;
}

int request_body_end(struct client *client)
{
    struct request *request = client->request;
    if (request == NULL)
        return -1;
    switch (request->state) {
    case REQUEST_READING:
        request_hand_over(request);
        return 0;
    case REQUEST_WAITING:
    case REQUEST_ANSWERING:
        return 0;
    case REQUEST_LINGERING: /* of a refused one: now nothing unread is left */
        return -1;
    }
    return -1;
}

/* --- its end --------------------------------------------------------------------------------- */

void request_check(struct request *request, uint64_t now_ms)
{
    uint64_t give_up_ms = request->client->net->options.give_up_seconds * 1000ULL;
    switch (request->state) {
    case REQUEST_WAITING:
        break;
    case REQUEST_READING:
    case REQUEST_LINGERING:
        if (now_ms >= request->by_ms)
            client_kill(request->client);
        break;
    case REQUEST_ANSWERING:
        if (now_ms - request->answer.moved_ms >= give_up_ms)
            client_kill(request->client);
        break;
    }
}

void request_ended(struct request *request)
{
    struct net_callbacks *callbacks = &request->client->net->callbacks;
    if (request->state == REQUEST_WAITING)
        callbacks->abandoned(callbacks->context, request);
    request_release(request);
}

void request_excuse(struct request *request, uint64_t slept_ms)
{
    request->by_ms += slept_ms;
}

bool request_is_under_way(const struct request *request)
{
    return request->state != REQUEST_LINGERING;
}

void request_finish_soon(struct request *request)
{
    if (request->state == REQUEST_READING)
        client_kill(request->client);
}

/* --- what the daemon asks and says ------------------------------------------------------------ */

const char *request_method(const struct request *request)
{
    return request->method == METHOD_POST ? "POST" : "GET";
}

const char *request_path(const struct request *request)
{
    return request->path;
}

const char *request_query(const struct request *request, const char *name)
{
    size_t size = strlen(name);
    for (const char *pair = request->query; *pair != '\0'; pair += strlen(pair) + 1) {
        if (strncmp(pair, name, size) != 0)
            continue;
        if (pair[size] == '=')
            return pair + size + 1;
        if (pair[size] == '\0')
            return "";
    }
    return NULL;
}

const char *request_header(const struct request *request, const char *header)
{
    size_t size = strlen(header);
    for (size_t i = 0; i < HEADER_COUNT; i++)
        if (strncmp(header_names[i].name, header, size) == 0 &&
            strspn(header_names[i].name + size, ":") == strlen(header_names[i].name + size))
            return request->headers[i];
    return NULL;
}

const char *request_body(const struct request *request, size_t *size)
{
    *size = request->body_size;
    return request->body == NULL ? "" : request->body;
}

const char *request_address(const struct request *request)
{
    return client_address(request->client);
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
    assert(request->state == REQUEST_WAITING);
    struct answer_head head = {
        .status = status,
        .type = type,
        .cache = "no-store",
        .headers = headers,
        .length = (long long)size,
    };
    if (answer_make(&request->answer, &head, body, request->method == METHOD_HEAD ? 0 : size))
        answer_begin(request);
    else
        answer_problem(request, 503, "no memory for the answer", NULL);
}

/* From here on lws reads again, only to notice that the client leaves. */
struct connection *request_stream(struct request *request, enum connection_kind kind)
{
    assert(request->state == REQUEST_WAITING);
    struct client *client = request->client;
    const char *type =
        kind == CONNECTION_EVENTS ? "text/event-stream" : "text/plain; charset=utf-8";
    struct answer_head head = {
        .status = 200,
        .type = type,
        .cache = "no-store",
        .headers = "X-Accel-Buffering: no\r\n",
        .length = -1, /* its end is the connection's end */
    };
    struct connection *connection = connection_new(client, kind);
    if (connection == NULL || !answer_make(&request->answer, &head, NULL, 0)) {
        answer_problem(request, 503, "no memory for another stream", NULL);
        free(connection);
        return NULL;
    }
    connection_begin(connection, request->answer.bytes, request->answer.size);
    lws_http_headers_detach(client->wsi);
    if (request->reading_stopped)
        lws_rx_flow_control(client->wsi, 1);
    client->request = NULL;
    client->connection = connection;
    request_release(request);
    return connection;
}

/* --- the way to a WebSocket ------------------------------------------------------------------ */

static bool header_is(struct lws *wsi, enum lws_token_indexes token, const char *wanted)
{
    char text[32];
    return lws_hdr_copy(wsi, text, sizeof text, token) > 0 && strcmp(text, wanted) == 0;
}

static bool is_handshake(struct lws *wsi)
{
    char key[32];
    return connection_header_says(wsi, "upgrade") &&
           lws_hdr_total_length(wsi, WSI_TOKEN_HOST) > 0 &&
           !header_is(wsi, WSI_TOKEN_HTTP, "HTTP/1.0") &&
           lws_hdr_copy(wsi, key, sizeof key, WSI_TOKEN_KEY) > 0 && websocket_key_is_whole(key);
}

/* RFC 6455 4.2.1, in the order in which a client would want to hear of it. lws itself checks less,
 * and hangs up without an answer. */
static struct refusal upgrade_refusal(struct client *client, const char *upgrade)
{
    static const char versions[] = "Sec-WebSocket-Version: 13\r\n";
    struct lws *wsi = client->wsi;
    char *path = NULL, protocols[128];
    int path_size, method = lws_http_get_uri_and_method(wsi, &path, &path_size);
    if (strcasecmp(upgrade, "websocket") != 0)
        return (struct refusal){400, "no upgrade but to a WebSocket", NULL};
    if (method < 0 ||
        strcmp(public_path_strip(&client->net->options.front->public_url, path), "/ws") != 0)
        return (struct refusal){404, "the WebSocket is at /ws", NULL};
    if (method != LWSHUMETH_GET)
        return (struct refusal){405, "a WebSocket is asked for by GET", "Allow: GET\r\n"};
    if (!is_handshake(wsi))
        return (struct refusal){400, "not a WebSocket handshake", NULL};
    if (!header_is(wsi, WSI_TOKEN_VERSION, "13"))
        return (struct refusal){426, "WebSocket version 13 is spoken here", versions};
    struct refusal refusal = client_meet(client, true);
    if (refusal.status != 0)
        return refusal;
    if (lws_hdr_total_length(wsi, WSI_TOKEN_PROTOCOL) > 0 &&
        (lws_hdr_copy(wsi, protocols, sizeof protocols, WSI_TOKEN_PROTOCOL) <= 0 ||
         !list_has(protocols, "boutwire.v1")))
        return (struct refusal){400, "the subprotocol is boutwire.v1", NULL};
    return refusal;
}

int upgrade_check(struct client *client, const char *upgrade)
{
    if (client->request != NULL || client->connection != NULL || client->net->stopping)
        return -1;
    struct refusal refusal = upgrade_refusal(client, upgrade);
    if (refusal.status == 0)
        return 0;
    struct answer answer = {0};
    struct answer_head head = {.status = refusal.status, .headers = refusal.headers};
    if (!answer_make_problem(&answer, &head, refusal.detail, false))
        return -1;
    ssize_t sent = client_write(client, answer.bytes, answer.size);
    answer_close(&answer, NULL);
    return sent < 0 ? -1 : 1;
}
