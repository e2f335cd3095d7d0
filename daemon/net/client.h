/* What the files of daemon/net share, and nobody else sees.
 *
 * A client is one accepted socket, from accept until libwebsockets (lws) has given it back. While
 * it has a request, that stands in `request`; once it has become a WebSocket or a stream, that
 * stands in `connection`, for good. An idle one has neither.
 *
 * lws reads requests, writes, and keeps the socket; everything that we ask of it goes through
 * `wsi`. What a WebSocket's client sends is read by input.c. It calls net_event (net.c), which
 * finds the client and calls one function here. Nothing is freed while lws or the daemon may still
 * hold it: closing is always asked for, and happens in the event that tells of it.
 *
 * libwebsockets 4.1.6 as Debian builds it; what it does that its documents don't say stands as a
 * comment at the place that depends on it. */
#pragma once
#include <libwebsockets.h>
#include <stdint.h>
#include "net/answer.h"
#include "net/crowd.h"
#include "net/http.h"
#include "net/net.h"
#include "net/pages.h"
#include "net/reader.h"
#include "net/send_batch.h"
#include "net/tls.h"

enum {
    SLEPT_MS = 2000,          /* so late a tick means that we stood still */
    TICK_MS = 500,            /* how often each client's deadlines are looked at */
    CHECKED_AT_ONCE = 256,    /* clients whose deadlines are looked at in one turn of the loop */
    COMMENT_MS = 15000,       /* an event stream that says nothing is cut by proxies */
    LINGER_MS = 2000,         /* for a refused body still under way, after the answer */
    ENDING_MS = 5000,         /* to take what is queued, and to answer our close */
    STOPPING_MS = 3000,       /* the same when the daemon stops */
    ARRIVED_BYTES = 16384,    /* read at once from a WebSocket */
    INPUTS_AT_ONCE = 64,      /* WebSockets read before others have their turn */
    HEADERS_BYTES_MAX = 8192, /* of one request; more, and the connection ends */
    CLOSE_TRY_AGAIN_LATER = 1013, /* RFC 6455 11.7: the registry's */
    REASON_SIZE_MAX = 123,        /* RFC 6455 5.5: a control frame's 125 bytes, less the code */
};

struct client {
    struct net *net;
    struct lws *wsi;
    struct client *next, **link; /* the net's list */
    struct request *request;
    struct connection *connection;
    struct address address; /* as a trusted proxy says, or the socket's peer */
    bool counted;           /* among those of its address */
    bool in_event, close_wanted;
};

struct listener {
    struct net *net;
    uv_poll_t readable;
    int socket, port;
    bool tls;
    bool paused; /* until the next tick: there was no file descriptor left */
};

/* The WebSockets' sockets, watched together: input.c. */
struct inputs {
    int epoll;
    uv_poll_t arrived;
    bool reading;
    struct input *ended; /* freed when what has come has been read */
};

struct net {
    uv_loop_t *loop;
    struct lws_context *context; /* lws makes it NULL when it has given everything back */
    struct lws_vhost *plain_host, *tls_host; /* tls_host is NULL without a certificate */
    struct tls *tls;
    struct net_options options;
    struct net_callbacks callbacks;
    struct pages *pages; /* NULL: none */
    struct client *clients;
    struct client *unchecked; /* of them, from here on, in this tick; NULL: it begins anew */
    unsigned client_count;
    struct crowd crowd;
    struct net_counts counts;
    struct send_batch *batch;
    char address[64]; /* what connection_address told last */
    char arrived[ARRIVED_BYTES];
    struct inputs inputs;
    struct listener listeners[LISTENINGS_MAX];
    size_t listener_count; /* of those that are open */
    uv_timer_t tick;
    bool busy; /* net_was_busy */
    bool stopping;
    uint64_t stop_by_ms, ticked_ms;
    unsigned open_handles;
    void (*stopped)(void *context);
    void *stopped_context;
};

uint64_t net_now(const struct net *net); /* of the loop, milliseconds */
/* Ends a client at once, without goodbye; what it was is told in the events that follow. Not from
 * within an event of the client's own. */
void client_kill(struct client *client);
/* The same from anywhere: within an event, lws is told to close when that returns. */
void client_close(struct client *client);
/* What we write ourselves, and our half closed, as in tls.h. */
ssize_t client_write(struct client *client, const char *bytes, size_t size);
void client_shut(struct client *client);

/* Counts it among those of its address, if it isn't yet; false: there are as many as may be. */
bool client_count(struct client *client);
/* As text; valid until the next call. */
const char *client_address(const struct client *client);

struct refusal {
    int status; /* 0: none */
    const char *detail, *headers;
};
/* meeting.c. Notes whose the request is whose head has come, and says why it isn't taken: it was
 * meant for another host, or, if it `acts`, sent by another site's page. */
struct refusal client_meet(struct client *client, bool acts);

/* request.c. What is returned to lws: 0 to go on, -1 to close. */
int request_head(struct client *client, const char *path, size_t path_size, bool *body_follows);
int request_body_piece(struct client *client, const char *bytes, size_t size);
int request_body_end(struct client *client);
void request_check(struct request *request, uint64_t now_ms); /* its deadlines, every tick */
void request_ended(struct request *request);                  /* its client has gone */
void request_excuse(struct request *request, uint64_t slept_ms);
bool request_is_under_way(const struct request *request);
void request_finish_soon(struct request *request); /* the daemon stops */
/* Whether a WebSocket may be opened; if not, it is answered. 0: may; 1: answered; -1: close. */
int upgrade_check(struct client *client, const char *upgrade);

/* connection.c. The same. */
struct connection *connection_new(struct client *client, enum connection_kind kind);
void connection_begin(struct connection *connection, const char *head, size_t size);
void connection_ended(struct connection *connection);
int connection_writable(struct connection *connection);
void connection_heard(struct connection *connection);
/* What a WebSocket's client has sent; see reader.h. */
void connection_text(struct connection *connection, const char *bytes, size_t size, bool last);
void connection_ping(struct connection *connection, const char *bytes, size_t size);
void connection_peer_closes(struct connection *connection, int code);
void connection_fault(struct connection *connection, int code, const char *why);
void connection_check(struct connection *connection, uint64_t now_ms);
/* We have stood still for so long, and heard nobody: that is not the client's silence. */
void connection_excuse(struct connection *connection, uint64_t slept_ms);

/* input.c: hands what comes to the four of connection.c. 0, or a negative libuv code. */
int inputs_open(struct net *net);
void inputs_close(struct net *net, uv_close_cb closed); /* when all clients have gone */
/* NULL without memory. */
struct input *input_start(struct client *client, struct connection *connection);
void input_stop(struct input *input); /* NULL is allowed */
