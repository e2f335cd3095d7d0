/* What stands in front of the daemon, as its owner has said it, and what follows for a request:
 * whose it is, whether it was meant for us, and whether its page may act here.
 *
 * A proxy's word counts only when the proxy is trusted, and a client's own word never: see
 * forwarded.h. When Forwarded and X-Forwarded-For both come and name different clients, one of them
 * is perhaps the client's, passed on by a proxy that only knows the other; then neither counts, and
 * the proxy's own address stands for all such clients.
 * Sources: RFC 7239 8.1, RFC 6455 10.2, RFC 9110 7.4 and 15.5.20 (421).
 * Pure: no sockets, no allocation. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include "net/address.h"
#include "net/origin.h"

enum { TRUSTED_MAX = 32, ALLOWED_MAX = 32 };

struct front {
    struct public_url public_url; /* its origin's host "": none */
    struct address_range trusted[TRUSTED_MAX];
    size_t trusted_count;
    struct origin allowed[ALLOWED_MAX]; /* pages of others that may act here */
    size_t allowed_count;
};

struct head { /* of a request, as it came; NULL: not there */
    const char *host, *forwarded, *x_addresses, *x_schemes, *x_hosts;
    bool tls; /* it came to us by TLS */
};

struct sender {
    struct address address;
    bool proxied;         /* a trusted proxy has passed it on, and says so */
    struct origin host;   /* as a trusted proxy or else Host says; host "": not known */
    struct origin direct; /* as Host says */
};

/* False: its Host isn't one (RFC 9112 3.2), and the rest of it can't be told. */
bool sender_read(struct sender *sender, const struct front *front, const struct address *peer,
                 const struct head *head);

/* Whether the Host is a name of ours: of this machine, or one that the owner has said. Another one
 * may be a stranger's, pointed at us to make a browser take their page for ours. */
bool front_knows_host(const struct front *front, const struct sender *sender);

/* Whether a page of that Origin may send what changes something. */
bool front_allows(const struct front *front, const struct sender *sender, const char *origin);
