#include "commands/daemon_call.h"
#include <libwebsockets.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>

enum { PIECE_SIZE = 4096, SECONDS_MOST = 30 };

struct call {
    const char *body;
    size_t size, sent;
    struct daemon_answer *answer;
    bool done, no_memory;
};

int daemon_address_read(struct daemon_address *address, const char *text)
{
    static const char *const schemes[] = {"ws://", "http://"};
    char host[sizeof address->host];
    bool is_url = false;
    for (size_t i = 0; i < 2 && !is_url; i++)
        if (strncmp(text, schemes[i], strlen(schemes[i])) == 0) {
            text += strlen(schemes[i]);
            is_url = true;
        }
    int size = snprintf(host, sizeof host, "%s", text);
    if (size < 1 || (size_t)size >= sizeof host)
        return -1;
    if (is_url && host[size - 1] == '/')
        host[size - 1] = '\0';
    char *colon = strrchr(host, ':'), *end = NULL;
    long port = colon == NULL ? 0 : strtol(colon + 1, &end, 10);
    if (port < 1 || port > 65535 || *end != '\0' || colon == host)
        return -1;
    *colon = '\0';
    bool in_brackets = host[0] == '[' && colon[-1] == ']';
    if (in_brackets)
        colon[-1] = '\0';
    snprintf(address->host, sizeof address->host, "%s", in_brackets ? host + 1 : host);
    address->port = (int)port;
    return 0;
}

/* A key in an argument would stand in every list of processes. */
static int add_key(struct lws *line, unsigned char **at, unsigned char *end)
{
    char bearer[512];
    const char *key = getenv("BOUTWIRE_KEY");
    if (key == NULL)
        return 0;
    int size = snprintf(bearer, sizeof bearer, "Bearer %s", key);
    return size >= (int)sizeof bearer ||
           lws_add_http_header_by_token(line, WSI_TOKEN_HTTP_AUTHORIZATION,
                                        (const unsigned char *)bearer, size, at, end);
}

static int add_headers(const struct call *call, struct lws *line, unsigned char **at, size_t room)
{
    static const unsigned char type[] = "application/x-ndjson";
    unsigned char *end = *at + room;
    if (add_key(line, at, end) != 0)
        return -1;
    if (call->body == NULL)
        return 0;
    if (lws_add_http_header_by_token(line, WSI_TOKEN_HTTP_CONTENT_TYPE, type, sizeof type - 1, at,
                                     end) != 0 ||
        lws_add_http_header_content_length(line, call->size, at, end) != 0)
        return -1;
    lws_client_http_body_pending(line, 1);
    lws_callback_on_writable(line);
    return 0;
}

static int write_piece(struct call *call, struct lws *line)
{
    unsigned char room[LWS_PRE + PIECE_SIZE];
    size_t left = call->size - call->sent, size = left < PIECE_SIZE ? left : PIECE_SIZE;
    bool last = size == left;
    if (call->body == NULL)
        return 0;
    memcpy(room + LWS_PRE, call->body + call->sent, size);
    call->sent += size;
    if (lws_write(line, room + LWS_PRE, size, last ? LWS_WRITE_HTTP_FINAL : LWS_WRITE_HTTP) < 0)
        return -1;
    if (last)
        lws_client_http_body_pending(line, 0);
    else
        lws_callback_on_writable(line);
    return 0;
}

static int read_piece(struct call *call, const char *piece, size_t size)
{
    struct daemon_answer *answer = call->answer;
    char *grown = realloc(answer->body, answer->size + size + 1);
    if (grown == NULL) {
        call->no_memory = true;
        return -1;
    }
    answer->body = grown;
    if (size > 0)
        memcpy(grown + answer->size, piece, size);
    answer->size += size;
    grown[answer->size] = '\0';
    return 0;
}

static int read_on(struct lws *line)
{
    char room[LWS_PRE + PIECE_SIZE], *piece = room + LWS_PRE;
    int size = PIECE_SIZE;
    return lws_http_client_read(line, &piece, &size) < 0 ? -1 : 0;
}

static int on_event(struct lws *line, enum lws_callback_reasons reason, void *user, void *in,
                    size_t size)
{
    (void)user;
    struct call *call = lws_context_user(lws_get_context(line));
    switch ((int)reason) {
    case LWS_CALLBACK_CLIENT_APPEND_HANDSHAKE_HEADER:
        return add_headers(call, line, in, size);
    case LWS_CALLBACK_CLIENT_HTTP_WRITEABLE:
        return write_piece(call, line);
    case LWS_CALLBACK_ESTABLISHED_CLIENT_HTTP:
        call->answer->status = (int)lws_http_client_http_response(line);
        return 0;
    case LWS_CALLBACK_RECEIVE_CLIENT_HTTP:
        return read_on(line);
    case LWS_CALLBACK_RECEIVE_CLIENT_HTTP_READ:
        return read_piece(call, in, size);
    case LWS_CALLBACK_CLIENT_CONNECTION_ERROR:
    case LWS_CALLBACK_CLOSED_CLIENT_HTTP:
    case LWS_CALLBACK_COMPLETED_CLIENT_HTTP:
        call->done = true;
        return 0;
    default:
        return 0;
    }
}

static const struct lws_protocols protocols[] = {
    {.name = "http", .callback = on_event, .rx_buffer_size = PIECE_SIZE},
    {0},
};

static bool dial(struct lws_context *context, const struct daemon_address *address,
                 const char *path, const char *method)
{
    char host[300];
    bool six = strchr(address->host, ':') != NULL;
    snprintf(host, sizeof host, "%s%s%s:%d", six ? "[" : "", address->host, six ? "]" : "",
             address->port);
    struct lws_client_connect_info info = {
        .context = context,
        .address = address->host,
        .port = address->port,
        .host = host,
        .path = path,
        .method = method,
        .protocol = protocols[0].name,
        .local_protocol_name = protocols[0].name,
    };
    return lws_client_connect_via_info(&info) != NULL;
}

int daemon_call(const struct daemon_address *address, const char *path, const char *body,
                size_t size, struct daemon_answer *answer)
{
    struct call call = {.body = body, .size = size, .answer = answer};
    struct lws_context_creation_info info = {
        .port = CONTEXT_PORT_NO_LISTEN,
        .protocols = protocols,
        .user = &call,
        .timeout_secs = SECONDS_MOST,
        .connect_timeout_secs = SECONDS_MOST,
        .gid = -1,
        .uid = -1,
    };
    *answer = (struct daemon_answer){.status = 0};
    lws_set_log_level(0, NULL);
    struct lws_context *context = lws_create_context(&info);
    if (context == NULL)
        return UV_ENOMEM;
    bool dialled = dial(context, address, path, body != NULL ? "POST" : "GET");
    while (dialled && !call.done && !call.no_memory)
        if (lws_service(context, 0) < 0)
            break;
    lws_context_destroy(context);
    if (!call.no_memory && answer->body == NULL && read_piece(&call, "", 0) != 0)
        call.no_memory = true;
    if (call.no_memory || answer->status == 0) {
        free(answer->body);
        answer->body = NULL;
        return call.no_memory ? UV_ENOMEM : UV_ECONNREFUSED;
    }
    return 0;
}
