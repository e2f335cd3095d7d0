#include "commands/caller.h"
#include <assert.h>
#include <libwebsockets.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MESSAGE_BYTES_MAX = 1 << 20, DIAL_SECONDS = 5 };

struct outgoing {
    struct outgoing *next;
    size_t size;
    unsigned char room[LWS_PRE]; /* libwebsockets puts the frame's header here … */
    unsigned char text[];        /* … and masks the text in place */
};

struct caller {
    struct caller_callbacks callbacks;
    struct lws_context *context; /* libwebsockets makes it NULL when all of it is gone */
    struct lws *line;            /* NULL: none */
    bool open, dialling, hanging_up, ended;
    struct outgoing *first, **last;
    char *incoming; /* a message's fragments so far */
    size_t incoming_size;
    int port;
    char host_header[300];
    char host[];
};

static void queue_drop(struct caller *caller)
{
    while (caller->first != NULL) {
        struct outgoing *outgoing = caller->first;
        caller->first = outgoing->next;
        free(outgoing);
    }
    caller->last = &caller->first;
}

static void line_lost(struct caller *caller, const char *reason)
{
    caller->line = NULL;
    caller->open = caller->hanging_up = caller->dialling = false;
    queue_drop(caller);
    free(caller->incoming);
    caller->incoming = NULL;
    caller->incoming_size = 0;
    if (!caller->ended)
        caller->callbacks.lost(caller->callbacks.context, reason);
}

/* One message a turn. A short write is kept by libwebsockets, never answered with less. */
static int write_one(struct caller *caller, struct lws *line)
{
    struct outgoing *outgoing = caller->first;
    if (outgoing == NULL) {
        if (!caller->hanging_up)
            return 0;
        lws_close_reason(line, LWS_CLOSE_STATUS_NORMAL, NULL, 0);
        return -1; /* how libwebsockets is told to close */
    }
    caller->first = outgoing->next;
    if (caller->first == NULL)
        caller->last = &caller->first;
    int written = lws_write(line, outgoing->text, outgoing->size, LWS_WRITE_TEXT);
    bool fine = written >= 0 && (size_t)written >= outgoing->size;
    free(outgoing);
    if (!fine)
        return -1;
    if (caller->first != NULL || caller->hanging_up)
        lws_callback_on_writable(line);
    return 0;
}

/* Puts a message together; -1 closes the line. */
static int read_piece(struct caller *caller, struct lws *line, const char *piece, size_t size)
{
    if (caller->incoming_size + size > MESSAGE_BYTES_MAX)
        return -1;
    char *grown = realloc(caller->incoming, caller->incoming_size + size + 1);
    if (grown == NULL)
        return -1;
    caller->incoming = grown;
    if (size > 0)
        memcpy(grown + caller->incoming_size, piece, size);
    caller->incoming_size += size;
    grown[caller->incoming_size] = '\0';
    if (!lws_is_final_fragment(line) || lws_remaining_packet_payload(line) > 0)
        return 0;
    char *text = caller->incoming;
    size_t text_size = caller->incoming_size;
    caller->incoming = NULL;
    caller->incoming_size = 0;
    if (!caller->ended)
        caller->callbacks.message(caller->callbacks.context, text, text_size);
    free(text);
    return 0;
}

static int on_event(struct lws *line, enum lws_callback_reasons reason, void *user, void *in,
                    size_t size)
{
    (void)user;
    struct caller *caller = lws_context_user(lws_get_context(line));
    switch ((int)reason) {
    case LWS_CALLBACK_CLIENT_ESTABLISHED:
        caller->line = line;
        caller->open = true;
        caller->dialling = false;
        if (!caller->ended)
            caller->callbacks.opened(caller->callbacks.context);
        return 0;
    case LWS_CALLBACK_CLIENT_RECEIVE:
        return read_piece(caller, line, in, size);
    case LWS_CALLBACK_CLIENT_WRITEABLE:
        return write_one(caller, line);
    case LWS_CALLBACK_CLIENT_CONNECTION_ERROR:
        line_lost(caller, "no connection"); /* what it tells more is for its own developers */
        return 0;
    case LWS_CALLBACK_CLIENT_CLOSED:
        line_lost(caller, "the connection has ended");
        return 0;
    default:
        return 0;
    }
}

static const struct lws_protocols protocols[] = {
    {.name = "boutwire.v1", .callback = on_event, .rx_buffer_size = 65536},
    {0},
};

int caller_new(struct caller **made, uv_loop_t *loop, const char *host, int port,
               const struct caller_callbacks *callbacks)
{
    size_t size = strlen(host) + 1;
    struct caller *caller = calloc(1, sizeof *caller + size);
    if (caller == NULL)
        return UV_ENOMEM;
    memcpy(caller->host, host, size);
    caller->port = port;
    bool six = strchr(host, ':') != NULL;
    snprintf(caller->host_header, sizeof caller->host_header, "%s%s%s:%d", six ? "[" : "", host,
             six ? "]" : "", port);
    caller->callbacks = *callbacks;
    caller->last = &caller->first;
    void *loops[] = {loop};
    struct lws_context_creation_info info = {
        .port = CONTEXT_PORT_NO_LISTEN,
        .protocols = protocols,
        .options = LWS_SERVER_OPTION_LIBUV,
        .foreign_loops = loops,
        .user = caller,
        .pcontext = &caller->context,
        .timeout_secs = DIAL_SECONDS,
        .connect_timeout_secs = DIAL_SECONDS,
        .gid = -1,
        .uid = -1,
    };
    lws_set_log_level(0, NULL);
    caller->context = lws_create_context(&info);
    if (caller->context == NULL) {
        free(caller);
        return UV_EIO;
    }
    *made = caller;
    return 0;
}

void caller_dial(struct caller *caller)
{
    assert(caller->line == NULL);
    assert(!caller->dialling);
    struct lws_client_connect_info info = {
        .context = caller->context,
        .address = caller->host,
        .host = caller->host_header,
        .port = caller->port,
        .path = "/ws",
        .protocol = protocols[0].name,
        .local_protocol_name = protocols[0].name,
        .ietf_version_or_minus_one = -1,
    };
    caller->dialling = true;
    struct lws *line = lws_client_connect_via_info(&info);
    /* Of some failures it tells by the callback, of others by this NULL alone. */
    if (line == NULL && caller->dialling)
        line_lost(caller, "no connection");
}

int caller_send(struct caller *caller, const char *text, size_t size)
{
    if (!caller->open || caller->hanging_up)
        return UV_ENOTCONN;
    struct outgoing *outgoing = malloc(sizeof *outgoing + size);
    if (outgoing == NULL)
        return UV_ENOMEM;
    outgoing->next = NULL;
    outgoing->size = size;
    memcpy(outgoing->text, text, size);
    *caller->last = outgoing;
    caller->last = &outgoing->next;
    lws_callback_on_writable(caller->line);
    return 0;
}

void caller_hang_up(struct caller *caller)
{
    if (!caller->open || caller->hanging_up)
        return;
    caller->hanging_up = true;
    lws_callback_on_writable(caller->line);
}

void caller_end(struct caller *caller)
{
    caller->ended = true;
    lws_context_destroy(caller->context);
}

void caller_free(struct caller *caller)
{
    if (caller == NULL)
        return;
    /* The second half of its end; libwebsockets wants it outside the loop. */
    if (caller->context != NULL)
        lws_context_destroy(caller->context);
    queue_drop(caller);
    free(caller->incoming);
    free(caller);
}
