/* A net without sockets, in place of daemon/net/net.c and its like: requests and connections are
 * made of a fuzzer's bytes, and what is answered is counted. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include "net/net.h"

/* One HTTP request: "GET /path?query\nheader: value\n…\n\nbody". Answered at once or later. */
void fake_request(const char *text, size_t size);
/* A WebSocket that says these messages, parted by line feeds, and goes. */
void fake_talk(const char *text, size_t size);
/* Requests and connections that are still open: given up. */
void fake_give_up(void);
size_t fake_open_requests(void);
