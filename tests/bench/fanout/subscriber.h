/* What the bench's clients share: a connection to a server on the loopback, the request that makes
 * it a subscriber, and the messages in what comes in. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum subscriber_kind { SUBSCRIBER_WEBSOCKET, SUBSCRIBER_EVENTS };

/* A socket to 127.0.0.1:port, from the `from`-th of the loopback's addresses, so that there are
 * ports enough. `receive_bytes` 0: the kernel's usual room. Exits when there is none. */
int subscriber_connect(int port, unsigned from, int receive_bytes);
/* Writes the request: a WebSocket's handshake, or a GET of the topic's stream. */
void subscriber_ask(int socket, enum subscriber_kind kind, const char *topic);
/* Subscribes an open WebSocket to a topic. */
void subscriber_subscribe(int socket, const char *topic);

enum piece_kind {
    PIECE_NONE,    /* not whole yet */
    PIECE_HEAD,    /* an HTTP head */
    PIECE_MESSAGE, /* a version of a topic: a snapshot, or a patch */
    PIECE_PING,
    PIECE_OTHER, /* a beat, a comment */
    PIECE_CLOSE,
};

/* The first piece of what came; `size` is how long it is, `text` where its text begins. */
struct piece {
    enum piece_kind kind;
    size_t size;
    const char *text;
};
struct piece piece_of(enum subscriber_kind kind, bool head_seen, const char *bytes, size_t size);
void subscriber_pong(int socket, const char *text, size_t size);

uint64_t now_ns(void);
void give_up(const char *what);
