/* One HTTP request of a command to a running daemon, by libwebsockets, with the key of
 * BOUTWIRE_KEY. Blocks until it is answered. */
#pragma once
#include <stddef.h>

struct daemon_address {
    char host[256];
    int port;
};
/* HOST:PORT or [HOST]:PORT, maybe with http:// or ws:// before it. 0, or -1: it is none. */
int daemon_address_read(struct daemon_address *address, const char *text);

struct daemon_answer {
    int status; /* HTTP's */
    char *body; /* malloc'd, ends with NUL */
    size_t size;
};

/* GET without a body, else POST of it as NDJSON. 0, UV_ENOMEM, or UV_ECONNREFUSED: nobody answers
 * there. With 0, the answer's body is to be freed. */
int daemon_call(const struct daemon_address *address, const char *path, const char *body,
                size_t size, struct daemon_answer *answer);
