/* The keys that were made, and which of them open.
 * A key is 130 random bits, so a plain hash of it is enough: nobody finds one by trying, and
 * whoever reads the file has none. Comparing takes the same time whichever key is compared with,
 * and however much of it is right. Pure: no clock, no I/O; the keys are the caller's. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "access/access.h"

enum {
    KEY_HASH_SIZE = 32,   /* SHA-256 (FIPS 180-4) */
    KEY_TEXT_LENGTH = 26, /* of Crockford's 32 signs without I, L, O and U, in lower case */
    KEY_NAME_LENGTH_MAX = 40,
    KEY_DAY_MS = 24 * 60 * 60 * 1000, /* how long a key opens, where nothing else is said */
};

struct key {
    char *name; /* whose it is; what events are signed with */
    char *mat;  /* NULL: every mat */
    enum role role;
    unsigned char hash[KEY_HASH_SIZE];
    int64_t made_ms;
    int64_t until_ms; /* INT64_MAX: for good */
    int64_t ended_ms; /* when it was revoked, by whatever clock; INT64_MAX: it wasn't */
};

struct key_ring {
    struct key *keys;
    size_t count, capacity;
};

/* 1 to 40 of A-Z a-z 0-9 . _ ~ - : a name is a word in addresses, files and logs. */
bool key_name_is_good(const char *name);
bool key_opens(const struct key *key, int64_t now_ms);
/* The key of that hash, ended or not; NULL: none has been made. */
const struct key *key_ring_find(const struct key_ring *ring,
                                const unsigned char hash[KEY_HASH_SIZE]);
/* The key of that name that opens now; NULL: none. */
const struct key *key_ring_named(const struct key_ring *ring, const char *name, int64_t now_ms);
