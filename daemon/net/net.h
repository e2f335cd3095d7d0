/* Sockets: HTTP, WebSocket and Server-Sent Events by libwebsockets, on the caller's libuv loop.
 * Knows addresses, connections and bytes; knows nothing of bouts. What comes in is handed over
 * whole (a request with its body, a message put together from its fragments); what goes out are
 * shared frames. Everything runs on the loop's thread. Each address that it listens on is plain or
 * speaks TLS 1.2 and 1.3, by one certificate for all.
 *
 * Addresses: below /api/, /sse/ and /text/, and at /healthz, /readyz and /metrics, requests are
 * handed over; /ws is the WebSocket, subprotocol boutwire.v1; all else is a page of the folder.
 * What an address doesn't take is refused here (405): a stream's takes GET, the others GET and
 * HEAD, and /api/ POST too. HEAD is handed over as GET, and its answer's body left out. Our own
 * refusals are application/problem+json. One request a connection: the answer closes it.
 *
 * Limits: a body or message larger than the options say is refused here (413, or close 1009);
 * a body without Content-Length is 411; handshake and request end after `first_seconds`. A POST
 * or WebSocket that another site's page asks for is 403 (front.h). While nobody needs a key, what
 * was meant for a host that isn't ours is 421.
 * Messages: text and valid UTF-8, else close 1003 and 1007; what RFC 6455 forbids, 1002 (reader.h).
 * Connections beyond the options' numbers are closed at once; by way of a trusted proxy, whose
 * clients are counted by the address that it says, they are answered 429. This machine's own aren't
 * counted by address: a proxy that isn't named, or what plays a day, may be all of them.
 * A client too slow to take its frames: see connection_send. One that takes nothing of what waits
 * for it for `unsent_seconds` is let go (1013, if it still reads that); a WebSocket is pinged every
 * `ping_seconds`, and one that says nothing for `give_up_seconds` has gone. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <uv.h>
#include "net/front.h"
#include "net/listening.h"
#include "wire/frame.h"

struct net;
struct connection; /* one client that stays: a WebSocket, an event stream, or a stream of text */
struct request;    /* one HTTP request, from its last byte to its answer */

enum { NET_REASON_SIZE = 320 };
enum connection_kind { CONNECTION_WEBSOCKET, CONNECTION_EVENTS, CONNECTION_TEXT };

struct net_callbacks {
    void *context;
    /* A whole request. Answer it at once or later, once, with request_answer or request_stream;
     * the request is gone after that, or after `abandoned`. */
    void (*request)(void *context, struct request *request);
    /* The client of an unanswered request has gone: forget it, don't answer it. (Most that go are
     * noticed only when the answer is written: until then nothing is read from them.) */
    void (*abandoned)(void *context, struct request *request);
    void (*opened)(void *context, struct connection *connection); /* a WebSocket */
    /* `text` is valid UTF-8, and isn't terminated. */
    void (*message)(void *context, struct connection *connection, const char *text, size_t size);
    /* Any kind of connection has ended; it is gone after this call. */
    void (*closed)(void *context, struct connection *connection);
    /* The queue is empty again after connection_send had answered false: send the newest state. */
    void (*drained)(void *context, struct connection *connection);
    /* Whether everything is open to whoever gets here, without a key. NULL: it isn't. */
    bool (*is_open)(void *context);
};

struct net_options {
    const struct listening *listen; /* 1 to LISTENINGS_MAX of them; net_port tells which port */
    size_t listen_count;
    const char *certificate_file, *key_file; /* PEM; wanted as soon as one of `listen` is by TLS */
    const char *pages_folder;                /* served at "/" with the strict policy; NULL: none */
    const struct front *front; /* stays the caller's, and in place; NULL: nothing is in front */
    size_t body_bytes_max, message_bytes_max, queue_bytes_max;
    unsigned clients_max;             /* connections in all; 0: any number */
    unsigned clients_per_address_max; /* of one client's address; 0: any number */
    unsigned first_seconds, ping_seconds, give_up_seconds, unsent_seconds;
    unsigned patient_ping_seconds, patient_give_up_seconds; /* connection_set_patient */
    bool plain_sends; /* one system call each, even where the kernel would take them together */
    /* What goes wrong here, a line each; NULL: standard error. */
    void (*log)(void *context, const char *line);
    void *log_context;
};

/* Since it was started. */
struct net_counts {
    uint64_t accepted;    /* connections, whatever became of them */
    uint64_t shortages;   /* times that no file descriptor or memory was left for another */
    uint64_t turned_away; /* connections beyond clients_max or clients_per_address_max */
    uint64_t slow;        /* connections let go of because they took nothing for too long */
    uint64_t silent;      /* because they said nothing for too long, though they were asked */
    uint64_t held_back;   /* frames that weren't queued, because too much waited already */
};

/* Why net_start failed. */
struct net_failure {
    const struct listening *listening; /* which of `listen` couldn't be had; NULL: it isn't one's */
    char reason[NET_REASON_SIZE];      /* in words */
};

/* Listens on all of them, or on none; raises the limit of open files as far as it may. 0, or a
 * negative libuv code (UV_EADDRINUSE …) and what failed; `net` is the caller's to stop. */
int net_start(struct net **net, uv_loop_t *loop, const struct net_options *options,
              const struct net_callbacks *callbacks, struct net_failure *failure);
/* Reads the certificate's files again, for connections to come. False: they are no good, `reason`
 * says why, and the old one stays. Without TLS there is nothing to do. */
bool net_reload_certificate(struct net *net, char reason[NET_REASON_SIZE]);
int net_port(const struct net *net, size_t i); /* of the i-th of `listen` */
size_t net_clients(const struct net *net);     /* connections now, those without a request too */
const struct net_counts *net_counts(const struct net *net);
/* Lets nobody new in; who is there stays. */
void net_refuse(struct net *net);
size_t net_requests(const struct net *net); /* under way: read, waited for, or being answered */
/* Whether anybody was heard of since it was last asked: what that leads to comes first. */
bool net_was_busy(struct net *net);
/* Stops accepting, closes every WebSocket with 1001 and ends streams, answers what the daemon still
 * answers, within a few seconds; `stopped` is called on the loop when all clients are gone. Then,
 * after uv_run has run dry, net_free. */
void net_stop(struct net *net, void (*stopped)(void *context), void *context);
/* After net_stop: doesn't wait any longer for anybody. */
void net_hurry(struct net *net);
void net_free(struct net *net);

/* The request's parts: borrowed, valid until it is answered. */
const char *request_method(const struct request *request); /* "GET" or "POST" */
/* Percent-decoded, "." and ".." resolved, without the query. A plain + has become a space. */
const char *request_path(const struct request *request);
/* The first of that name, decoded; "" without a value; NULL: none. */
const char *request_query(const struct request *request, const char *name);
/* NULL: none. `header` is one of host, origin, content-type, accept, authorization, last-event-id,
 * if-none-match, user-agent; of others nothing is known. */
const char *request_header(const struct request *request, const char *header);
const char *request_body(const struct request *request, size_t *size); /* terminated */
/* The client's, as text: what a trusted proxy says, else the peer's. Valid until the next call. */
const char *request_address(const struct request *request);
void request_set_context(struct request *request, void *context);
void *request_context(const struct request *request);

/* `type` a media type, `headers` further lines "name: value\r\n…" or NULL. */
void request_answer(struct request *request, int status, const char *type, const char *headers,
                    const char *body, size_t size);
/* Answers 200 and keeps the connection open; NULL without memory (then it was answered 503).
 * CONNECTION_EVENTS has type text/event-stream, CONNECTION_TEXT text/plain. */
struct connection *request_stream(struct request *request, enum connection_kind kind);

/* Queues a shared frame (borrowed; kept while needed). False when it was not queued: the client is
 * too slow, its queue holds more than queue_bytes_max; then `drained` comes later. Or the
 * connection is ending; then `closed` comes later. */
bool connection_send(struct connection *connection, struct frame *frame);
/* The same to many of one kind, each another, in few system calls; `taken` says of each what
 * connection_send would have. Nothing is called back from within it. */
void connections_send(struct net *net, void *const connections[], size_t count, struct frame *frame,
                      bool taken[]);
/* Closes with an RFC 6455 code and a reason of at most 123 bytes (streams just end). */
void connection_close(struct connection *connection, int code, const char *reason);
enum connection_kind connection_kind(const struct connection *connection);
/* The client's, as text: what a trusted proxy says, else the peer's. Valid until the next call. */
const char *connection_address(const struct connection *connection);
/* Who only looks on is pinged less often, and may be silent for longer, than who works with it, as
 * everyone does at first. */
void connection_set_patient(struct connection *connection, bool patient);
void connection_set_context(struct connection *connection, void *context);
void *connection_context(const struct connection *connection);
