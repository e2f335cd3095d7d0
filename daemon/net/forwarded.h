/* What proxies say of the request that they pass on: whose it was, by which scheme and host.
 * `Forwarded` is RFC 7239's; X-Forwarded-For, -Proto and -Host are habit, with no standard.
 *
 * Each proxy adds itself at the right end, so what stands further left was perhaps only claimed by
 * the client. A chain is read from the right, for as long as who says it is trusted.
 * Pure: no sockets, no allocation. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include "net/address.h"

enum { HOPS_MAX = 16, HOP_SCHEME_SIZE = 8, HOP_HOST_SIZE = 256 };

struct hop { /* one proxy's word */
    struct address address;
    bool named;                   /* `address` is known: it isn't "unknown" or a made-up name */
    char scheme[HOP_SCHEME_SIZE]; /* "https"; "": not said */
    char host[HOP_HOST_SIZE];     /* "hall.example:8443"; "": not said */
};

struct hops { /* the nearest proxy's first; of a longer chain the nearest HOPS_MAX */
    size_t count;
    struct hop hops[HOPS_MAX];
};

/* False: not as RFC 7239 4 has it, and nothing of it is to be believed. */
bool forwarded_read(struct hops *hops, const char *header);
/* The habit's three; each may be NULL. An entry that is no address is a hop that isn't named. Of
 * schemes and hosts the one at the same place counts, or the leftmost where there are fewer. */
void x_forwarded_read(struct hops *hops, const char *addresses, const char *schemes,
                      const char *hosts);

struct trust {
    const struct address_range *ranges;
    size_t count;
};
bool is_trusted(const struct trust *trust, const struct address *address);

/* Whose request it was: `address` is who has sent it to us, and becomes who has sent it to the
 * outermost proxy that is trusted. Gives that proxy's word; NULL: nobody's is believed. */
const struct hop *hops_follow(const struct hops *hops, const struct trust *trust,
                              struct address *address);
