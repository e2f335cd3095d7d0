/* Places in a weight and the team table: what draw/picture.c asks once slots are decided.
 * A bout for a place gives it; whom none ranks, the edition's criteria do (docs/rules.md, "Draws").
 * Pure; memory from the caller's arena. */
#pragma once
#include "draw/picture.h"

/* What is being made, and of what. */
struct making {
    struct picture *picture;
    const struct day *day;
    const struct picture_bout *bouts;
    size_t bout_count;
    const struct editions *editions;
    struct arena *arena;
};

bool who_equal(const struct making *making, struct picture_who one, struct picture_who other);
/* A pool's ranking is by the pool's bouts alone. */
enum gathering { GATHER_POOLS, GATHER_ALL };
/* Lists who is known to wrestle in the weight, with what their decided bouts brought, and which
 * group of everyone against everyone they are in. False without memory. */
bool places_gather(const struct making *making, int32_t weight, enum gathering gathering);
/* The one at that place (1, 2) of a pool, once all its bouts are decided and the pools' bouts alone
 * are gathered; NULL: not yet. */
struct picture_rank *places_in_pool(const struct making *making, int32_t weight, unsigned pool,
                                    unsigned place);
void places_give(const struct making *making, int32_t weight);
bool places_count_teams(const struct making *making); /* false without memory */
