/* Those who send lines, over TCP or a socket in the file system: controllers and scripts. Knows
 * addresses, connections and lines; knows nothing of what they say. On the caller's libuv loop.
 *
 * A line ends with \n (\r\n is taken too); the last one of all may end with the connection. Each
 * that is handed over must be answered, once, with talker_answer; what comes is answered in the
 * caller's order. While TALKER_WAITING_MAX answers are owed, or too much of what was said hasn't
 * been taken by the client, nothing more is read of it: so what it is owed is bounded, and it is
 * slowed down by its own slowness.
 *
 * It is let go, after `ending` has said why: a line longer than `line_bytes_max`, one that isn't
 * ended `first_seconds` after it began, nothing heard for `silence_seconds`, nothing taken of what
 * it is owed for `unsent_seconds`, and the daemon's end. A peer that vanishes is found by TCP's
 * keep-alive.
 *
 * A socket in the file system is made for its owner alone and then given `mode`; one that nobody
 * listens to any more is replaced, one that is alive is refused, and so is any other file. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <uv.h>
#include "net/listening.h"

enum { TALKER_WAITING_MAX = 256, TALKERS_REASON_SIZE = 160 };

struct talkers;
struct talker;

enum talk_end {
    TALK_TOO_LONG, /* a line */
    TALK_UNENDED,  /* a line that has begun */
    TALK_SILENT,
    TALK_UNREAD, /* what it is owed */
    TALK_TOO_MANY,
    TALK_STOPPING, /* the daemon ends; all that it was owed has been answered */
};

struct talkers_callbacks {
    void *context;
    void (*opened)(void *context, struct talker *talker);
    /* `number` counts the talker's lines, blank ones too, from 1. Without its end, unterminated. */
    void (*line)(void *context, struct talker *talker, size_t number, const char *text,
                 size_t size);
    /* It is about to be let go of: the last that can be said. */
    void (*ending)(void *context, struct talker *talker, enum talk_end why);
    void (*closed)(void *context, struct talker *talker); /* it is gone after this call */
};

struct talkers_options {
    const struct talking *listen; /* borrowed, for good */
    size_t listen_count;
    unsigned mode; /* of sockets in the file system: 0600 */
    size_t line_bytes_max, talkers_max;
    unsigned first_seconds, silence_seconds, unsent_seconds;
};

/* Listens on all of them or none. 0, or a negative libuv code; then `*failed` says which of
 * `listen` couldn't be had, and `reason` why. */
int talkers_start(struct talkers **talkers, uv_loop_t *loop, const struct talkers_options *options,
                  const struct talkers_callbacks *callbacks, size_t *failed,
                  char reason[TALKERS_REASON_SIZE]);
int talkers_port(const struct talkers *talkers, size_t i); /* of the i-th; 0 for a file's */
size_t talkers_count(const struct talkers *talkers);       /* who is connected */
/* No new ones; reads nothing more, and lets go of each as soon as it has what it is owed. */
void talkers_drain(struct talkers *talkers);
/* Ends all at once; then, after uv_run has run dry, talkers_free. */
void talkers_close(struct talkers *talkers);
void talkers_free(struct talkers *talkers); /* NULL is allowed */

/* Says a line, its end added, as the answer to one that was handed over … */
void talker_answer(struct talker *talker, const char *text, size_t size);
/* … or as nobody's. */
void talker_say(struct talker *talker, const char *text, size_t size);
void talker_needs_no_answer(struct talker *talker);
/* Takes no more lines of it, and closes when it has taken what was said, or after a few seconds. */
void talker_end(struct talker *talker);
bool talker_is_local(const struct talker *talker);       /* over a socket in the file system */
const char *talker_address(const struct talker *talker); /* "unix" for a local one */
void talker_set_context(struct talker *talker, void *context);
void *talker_context(const struct talker *talker);
