/* What HTTP's texts mean to us: which address takes which methods, what a Content-Length says,
 * which answer a status is called by.
 * Sources: RFC 9110 (methods, statuses, Content-Length), RFC 6455 (key).
 * Pure: no sockets, no allocation; keeps nothing that it is given. */
#pragma once
#include <stdbool.h>
#include <stddef.h>

enum method { METHOD_GET = 1, METHOD_HEAD = 2, METHOD_POST = 4, METHOD_OTHER = 8 };

enum place {
    PLACE_REQUESTS, /* answered by the caller of net_start, at once or later */
    PLACE_STREAMS,  /* the same; may be answered by a stream, so HEAD makes no sense */
    PLACE_WEBSOCKET,
    PLACE_PAGES,
};

struct route {
    const char *path; /* ending in "/": everything below it; else this address alone */
    enum place place;
    unsigned methods;  /* one enum method, or several added up */
    const char *allow; /* the same as the header Allow has it */
};

/* The route of a decoded path that begins with "/"; never NULL. */
const struct route *route_of(const char *path);

/* Digits and nothing else, and a number that fits; false otherwise ("5,5", "-1", ""). */
bool content_length_read(const char *text, size_t *length);

/* Whether a Sec-WebSocket-Key is 16 bytes in base64 (RFC 6455 4.2.1; RFC 4648 4). */
bool websocket_key_is_whole(const char *key);

/* Whether a comma-separated header has this member; capitals don't matter. */
bool list_has(const char *list, const char *member);

/* "Not Found" for 404; "" for one that we don't use. */
const char *status_phrase(int status);
