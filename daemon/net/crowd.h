/* How many connections each address has, so that one address can't have them all. IPv6 counts by
 * its first 64 bits: whoever has one address of those has them all (RFC 4291 2.5.4, RFC 6177 2). */
#pragma once
#include <stdbool.h>
#include "net/address.h"

struct crowd { /* begins as zeros */
    void *tree;
};

/* One more. False: it has `most` already, or there is no memory. */
bool crowd_enter(struct crowd *crowd, const struct address *address, unsigned most);
/* One less, of those that entered. */
void crowd_leave(struct crowd *crowd, const struct address *address);
