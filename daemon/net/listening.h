/* Where a daemon listens, as people write it: HOST:PORT, or tls:HOST:PORT for one that speaks TLS.
 * An IPv6 address may stand in brackets: [::1]:7600, ::1:7600. Port 0: any that is free.
 * Pure: no sockets, no allocation. */
#pragma once
#include <stdbool.h>

enum { LISTENING_HOST_SIZE = 256, LISTENINGS_MAX = 16, LISTENING_TEXT_SIZE = 280 };

struct listening {
    char host[LISTENING_HOST_SIZE]; /* a name or an address, without brackets */
    int port;
    bool tls;
};

/* False: `text` is no such thing; then nothing is written. */
bool listening_read(struct listening *listening, const char *text);
/* Where it takes lines: tcp:HOST:PORT, or unix:PATH, a socket in the file system. */
enum { TALKING_PATH_SIZE = 108 }; /* unix(7): sun_path */
struct talking {
    bool is_unix;
    struct listening tcp;         /* !is_unix */
    char path[TALKING_PATH_SIZE]; /* is_unix */
};
bool talking_read(struct talking *talking, const char *text);

/* "host:port" as it stands in an address: IPv6 in brackets. */
void listening_write(char text[LISTENING_TEXT_SIZE], const char *host, int port);
