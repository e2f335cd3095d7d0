/* The keys on disk: a file beside the store, FILE.keys, one JSON object a line, only ever added to.
 *
 *     {"hash":SHA-256 in hex,"key":NAME,"made_at":TIME,"mat":MAT?,"role":ROLE,"until":TIME?}
 *     {"at":TIME,"ended":NAME}
 *
 * The first is a key that was made (without `until` it is for good), the second ends the one of
 * that name. Keys themselves are nowhere. Whoever writes holds the file's lock (flock), and is done
 * when it is on disk; a line without its end was never written. The daemon reads it again whenever
 * it has changed. Every function that can fail answers false with one sentence in `reason`. */
#pragma once
#include "access/key_ring.h"

enum { KEYS_REASON_SIZE = 256, KEYS_PATH_SIZE = 1024 };

/* False: too long. */
bool keys_file_path(char path[KEYS_PATH_SIZE], const char *store);
/* Reads the text of such a file into an empty ring; to be closed in either case. */
bool key_ring_read(struct key_ring *ring, const char *text, size_t size,
                   char reason[KEYS_REASON_SIZE]);
void key_ring_close(struct key_ring *ring);
/* No such file is an empty ring. */
bool keys_file_read(struct key_ring *ring, const char *path, char reason[KEYS_REASON_SIZE]);

void key_hash(const char *text, size_t size, unsigned char hash[KEY_HASH_SIZE]);

/* A key that nobody has had. False: no random numbers. */
bool key_make(char text[KEY_TEXT_LENGTH + 1]);

struct key_wish {
    const char *name; /* NULL: one is made of role and mat */
    enum role role;
    const char *mat;
    int64_t now_ms, until_ms;
};
struct new_key {
    char name[KEY_NAME_LENGTH_MAX + 1];
    char text[KEY_TEXT_LENGTH + 1]; /* this once */
};
/* Makes a key and writes it down. No key that opens has its name. */
bool keys_file_add(const char *path, const struct key_wish *wish, struct new_key *made,
                   char reason[KEYS_REASON_SIZE]);
/* Ends the key of that name; one must open. */
bool keys_file_end(const char *path, const char *name, int64_t now_ms,
                   char reason[KEYS_REASON_SIZE]);
