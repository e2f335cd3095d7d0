/* Topics: one JSON object each, its versions, and who follows it.
 * A publication compares the new object with the last one, makes one RFC 7396 merge patch, encodes
 * it once (for WebSockets; for event streams from the same text, if any follow) and gives it to
 * every follower. A newcomer gets a snapshot; who comes back with the last epoch and seq that they
 * saw gets exactly the patches they missed, in order, and, when nothing was missed, an empty patch
 * from that seq to that seq: so a patch says "resumed" and a state says "begin anew". Versions too
 * old, not yet there or of another epoch are answered with a snapshot. A follower that couldn't
 * take a frame gets nothing more until follower_caught_up, then the newest snapshot.
 * Knows no sockets: the frames leave through `send`.
 *
 * On the wire: members in sorted order, without spaces. For event streams the same object stands
 * in `data:`, under `event: state`, `patch` or `beat`; the first two have `id: EPOCH-SEQ`.
 * Bounds: the patches kept for a topic are at most RELAY_VERSIONS_MAX and, but for the newest, at
 * most RELAY_HISTORY_BYTES_MAX of JSON (event streams need it once more); beyond either the oldest
 * go, and who needs them gets a snapshot.
 * Queues belong to `send`: it says false when it is full.
 * Without memory for a follower's frame the follower is left as it is and catches up with the next
 * version. From within `send` every function here may be called except relay_free: a follower may
 * be freed there, its own included. */
#pragma once
#include <jansson.h>
#include <stdbool.h>
#include <stdint.h>
#include "wire/frame.h"

enum { RELAY_VERSIONS_MAX = 256, RELAY_HISTORY_BYTES_MAX = 1 << 20, RELAY_EPOCH_SIZE_MAX = 65 };

struct relay;
struct follower; /* one client's place in one topic or several; the caller's client behind it */

enum follower_form { FOLLOWER_WEBSOCKET, FOLLOWER_EVENTS };

/* Since the relay was made. */
struct relay_counts {
    uint64_t snapshots, patches; /* given, and taken by `send` */
    uint64_t resumed;            /* followers that came back and got what they had missed */
    uint64_t begun_anew;         /* that came back and got a snapshot, because it can't be told */
    uint64_t stalled;            /* times that `send` said false */
};

struct relay_callbacks {
    void *context;
    /* False: the client could not take it now. `client` is what follower_new was given. */
    bool (*send)(void *context, void *client, struct frame *frame);
    /* The same to many at once, each of them another; `taken` says it of each. Nothing of the relay
     * may be called from within it. NULL: `send` is called for each. */
    void (*send_to_many)(void *context, void *const clients[], size_t count, struct frame *frame,
                         bool taken[]);
    /* Whose followers can wait while others have theirs: relay_set_slice. NULL: nobody's. */
    bool (*is_patient)(const char *topic);
};

/* `epoch`: the name of this life of the store, [A-Za-z0-9.]{1,64}; copied. Topics count their
 * versions from 1 in every run, so a run needs an epoch of its own. NULL without memory. */
struct relay *relay_new(const char *epoch, const struct relay_callbacks *callbacks);
void relay_free(struct relay *relay); /* every follower must have been freed before */

/* Makes `state` (an object, kept, never changed afterwards by anyone) the topic's newest version;
 * the topic is made if it is new. Publishing what it already holds sends nothing. 0, or UV_ENOMEM:
 * then nothing has changed. */
int relay_publish(struct relay *relay, const char *topic, json_t *state);

/* Nobody gets the versions before the newest any more, of the topics that are `meant`: who comes
 * back from one of them gets a snapshot. For what was published and may no longer be shown. */
void relay_forget(struct relay *relay, bool (*meant)(const char *topic));

/* The topic's snapshot message, as for a WebSocket; borrowed; NULL: no such topic, or no memory. */
struct frame *relay_snapshot(struct relay *relay, const char *topic);
json_t *relay_state(struct relay *relay, const char *topic); /* borrowed; NULL: no such topic */
const struct relay_counts *relay_counts(const struct relay *relay);

/* `client` is handed to `send`. NULL without memory. */
struct follower *follower_new(struct relay *relay, enum follower_form form, void *client);
void follower_free(struct follower *follower); /* leaves every topic; NULL is allowed */
/* Follows a topic. `epoch` NULL: a snapshot; else what was missed since `seq`, or a snapshot.
 * 0, UV_ENOENT (no such topic) or UV_ENOMEM. Following twice starts anew. */
int follower_subscribe(struct follower *follower, const char *topic, const char *epoch,
                       unsigned long seq);
void follower_unsubscribe(struct follower *follower, const char *topic);
/* The client can take frames again: sends the newest snapshot of each topic that it missed. */
void follower_caught_up(struct follower *follower);
/* A beat to every follower of the topics that are `meant` (NULL: of all); one each, however many of
 * these topics they follow. `now` is an RFC 3339 time. */
void relay_beat(struct relay *relay, bool (*meant)(const char *topic), const char *now);

/* A hall full of followers shouldn't keep the loop from its other work: a publication or beat
 * hands out to at most `followers_max` followers of a topic at once, and to none of a patient one;
 * the rest wait for relay_continue, to be called once a turn of the loop while it answers true
 * (more is left). In such a turn the patient topics come last, and one of them only, each in turn.
 * 0, as at the start: all in one pass. A version that comes meanwhile overtakes nobody: each
 * follower gets every version in order. */
void relay_set_slice(struct relay *relay, size_t followers_max);
bool relay_continue(struct relay *relay);
