#include "access/key_ring.h"
#include <string.h>

bool key_name_is_good(const char *name)
{
    size_t good =
        strspn(name, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789._~-");
    return good > 0 && good <= KEY_NAME_LENGTH_MAX && name[good] == '\0';
}

bool key_opens(const struct key *key, int64_t now_ms)
{
    return now_ms < key->until_ms && key->ended_ms == INT64_MAX;
}

/* 0 when they are equal; every byte is looked at in any case. */
static unsigned difference(const unsigned char *one, const unsigned char *other)
{
    unsigned bits = 0;
    for (size_t i = 0; i < KEY_HASH_SIZE; i++)
        bits |= (unsigned)(one[i] ^ other[i]);
    return bits;
}

/* Every key is compared; which of them it was is kept without a branch. */
const struct key *key_ring_find(const struct key_ring *ring,
                                const unsigned char hash[KEY_HASH_SIZE])
{
    size_t found = 0; /* from 1 */
    for (size_t i = 0; i < ring->count; i++) {
        size_t differs = (difference(ring->keys[i].hash, hash) + 0xff) >> 8; /* 0 or 1 */
        found |= (i + 1) & (differs - 1);
    }
    return found > 0 ? &ring->keys[found - 1] : NULL;
}

const struct key *key_ring_named(const struct key_ring *ring, const char *name, int64_t now_ms)
{
    for (size_t i = 0; i < ring->count; i++)
        if (strcmp(ring->keys[i].name, name) == 0 && key_opens(&ring->keys[i], now_ms))
            return &ring->keys[i];
    return NULL;
}
