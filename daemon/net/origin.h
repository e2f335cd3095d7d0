/* Where a page comes from, and which addresses are ours: what keeps another site's page, open in a
 * browser that can reach us, from acting here.
 * Sources: RFC 6454 4, 6 and 7 (origins), RFC 6455 10.2 (Origin of a WebSocket), RFC 9110 4.2
 * (usual ports) and 7.2 (Host), RFC 6761 6.3 (localhost).
 * Pure: no sockets, no allocation. */
#pragma once
#include <stdbool.h>
#include <stddef.h>

enum { ORIGIN_SCHEME_SIZE = 8, ORIGIN_HOST_SIZE = 256, PUBLIC_PATH_SIZE = 128 };

struct origin {
    char scheme[ORIGIN_SCHEME_SIZE]; /* "http" or "https"; "": not known */
    char host[ORIGIN_HOST_SIZE];     /* in small letters; IPv6 in brackets */
    int port;                        /* the scheme's own if none was said; 0: not known */
};

/* Where others find the daemon, behind a proxy or tunnel. */
struct public_url {
    struct origin origin;        /* host "": there is none */
    char path[PUBLIC_PATH_SIZE]; /* "/hall": what stands before our addresses; "": nothing */
};

/* "https://hall.example:8443", and nothing behind it. */
bool origin_read(struct origin *origin, const char *text);
/* What a Host says, "hall.example:8443", for that scheme; "": not known. */
bool origin_read_host(struct origin *origin, const char *scheme, const char *host);
/* Scheme, host and port; a scheme that isn't known is anyone's. */
bool origin_same(const struct origin *a, const struct origin *b);
/* "https://hall.example/hall/"; a path's last "/" may be left out. */
bool public_url_read(struct public_url *url, const char *text);
/* "https://hall.example/hall/" again, always with the last "/". */
void public_url_write(const struct public_url *url, char *text, size_t room);

/* Localhost, or a loopback address: no name that somebody else could point at this machine. */
bool host_is_local(const struct origin *origin);

/* What stands behind the public path, from its "/" on; `path` itself where it doesn't begin so,
 * because the proxy has taken it off. "": the public path without its last "/". */
const char *public_path_strip(const struct public_url *url, const char *path);
