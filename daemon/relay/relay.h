/* Topics: one JSON object each, its versions, and who follows it.
 * A publication compares the new object with the last one, makes one RFC 7396 merge patch, encodes
 * it once (for WebSockets, for event streams) and gives it to every follower. A newcomer gets a
 * snapshot; who comes back with the last epoch and seq that they saw gets exactly the patches they
 * missed, or, when these are gone, a snapshot. A follower that couldn't take a frame gets nothing
 * more until relay_caught_up, then the newest snapshot.
 * Knows no sockets: the frames leave through `send`. */
#pragma once
#include <jansson.h>
#include <stdbool.h>
#include "wire/frame.h"

struct relay;
struct follower; /* one client's place in one topic or several; the caller's client behind it */

enum follower_form { FOLLOWER_WEBSOCKET, FOLLOWER_EVENTS };

struct relay_callbacks {
    void *context;
    /* False: the client could not take it now. `client` is what follower_new was given. */
    bool (*send)(void *context, void *client, struct frame *frame);
};

/* `epoch`: the name of this life of the store, [A-Za-z0-9.]+; copied. NULL without memory. */
struct relay *relay_new(const char *epoch, const struct relay_callbacks *callbacks);
void relay_free(struct relay *relay);

/* Makes `state` (borrowed, never changed afterwards) the topic's newest version; the topic is made
 * if it is new. Publishing what it already holds sends nothing. 0 or UV_ENOMEM. */
int relay_publish(struct relay *relay, const char *topic, json_t *state);

/* The topic's snapshot message, as for a WebSocket; borrowed; NULL: no such topic. */
struct frame *relay_snapshot(struct relay *relay, const char *topic);
json_t *relay_state(struct relay *relay, const char *topic); /* borrowed; NULL: no such topic */

struct follower *follower_new(struct relay *relay, enum follower_form form, void *client);
void follower_free(struct follower *follower); /* leaves every topic */
/* Follows a topic. `epoch` NULL: a snapshot; else what was missed since `seq`, or a snapshot.
 * 0, UV_ENOENT (no such topic) or UV_ENOMEM. Following twice starts anew. */
int follower_subscribe(struct follower *follower, const char *topic, const char *epoch,
                       unsigned long seq);
void follower_unsubscribe(struct follower *follower, const char *topic);
/* The client can take frames again: sends the newest snapshot of each topic that it missed. */
void follower_caught_up(struct follower *follower);
/* A beat to every follower of topics whose name begins with `prefix` ("" all). */
void relay_beat(struct relay *relay, const char *prefix, const char *now);
