/* A WebSocket client for a command: one line to a daemon, dialled when it is asked for.
 * By libwebsockets on the caller's libuv loop and thread. It doesn't dial again by itself: who
 * holds it decides when, and what to say once more. */
#pragma once
#include <stddef.h>
#include <uv.h>

struct caller;

struct caller_callbacks {
    void *context;
    void (*opened)(void *context);
    /* A whole message; borrowed. */
    void (*message)(void *context, const char *text, size_t size);
    /* The line has ended or could not be opened; what was queued is gone. May dial again. */
    void (*lost)(void *context, const char *reason);
};

/* `host` (copied) is a name or an address without brackets. 0, UV_ENOMEM or UV_EIO. */
int caller_new(struct caller **caller, uv_loop_t *loop, const char *host, int port,
               const struct caller_callbacks *callbacks);
/* Dials, when there is no line: `opened` or `lost` comes, maybe at once. */
void caller_dial(struct caller *caller);
/* Queues one message (copied). 0, UV_ENOTCONN or UV_ENOMEM. */
int caller_send(struct caller *caller, const char *text, size_t size);
/* Sends what is queued, then closes in order; `lost` comes. */
void caller_hang_up(struct caller *caller);
/* Not from within a callback. After caller_end nothing is called any more; run the loop until it
 * is dry, then free. */
void caller_end(struct caller *caller);
void caller_free(struct caller *caller);
