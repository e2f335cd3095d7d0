/* The keys while the daemon runs. Read when it starts and again whenever their file changes; who
 * holds one that has ended is cut off at once. As soon as one has been made they are needed, for as
 * long as the daemon runs: taking the file away opens nothing. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <uv.h>
#include "access/keys_file.h"

struct service;
struct keys_reading;

enum { KEYS_POLL_MS = 200 };

struct keys {
    struct service *service;
    char path[KEYS_PATH_SIZE];
    struct key_ring ring;
    struct key player; /* of the demo's own player; nobody's without a name */
    bool needed;
    uv_fs_poll_t poll;
    bool polls;
    bool reads, again; /* a reading is under way; the file has changed since */
};

/* Reads the keys. False: reported. */
bool keys_open(struct service *service);
bool keys_watch(struct service *service); /* begins to look at the file; false: reported */
void keys_close(struct service *service); /* after which the loop has to run dry */

enum knock { KNOCK_OPENS, KNOCK_UNKNOWN, KNOCK_ENDED };
/* What a key opens: `key` is borrowed until the loop's next turn. */
enum knock keys_knock(const struct service *service, const char *text, size_t size,
                      const struct key **key);
/* The key of that hash, ended or not; NULL: there is none. */
const struct key *keys_find(const struct keys *keys, const unsigned char hash[KEY_HASH_SIZE]);
/* The demo's player, which plays as fast as it was told to. */
bool keys_is_player(const struct keys *keys, const unsigned char hash[KEY_HASH_SIZE]);
bool keys_any_opens(const struct service *service);
/* Ends the key of that name: here at once, on disk as soon as may be. */
void keys_end(struct service *service, const char *name);
