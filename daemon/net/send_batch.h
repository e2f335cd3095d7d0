/* The same bytes to many sockets, with fewer system calls than sockets where the kernel allows it:
 * the sends are written into a ring that it shares with us (io_uring, Linux 6.1 or later), and one
 * call hands over all of them. Elsewhere, and where io_uring is forbidden (containers often do),
 * it is one send() each: the same outcome for every socket.
 * docs/speed.md tells what it gains. */
#pragma once
#include <stdbool.h>
#include <stddef.h>

struct send_batch;

struct send_item {
    int socket;
    int result; /* how many bytes the kernel took, or a negative errno: -EAGAIN, it is full */
};

enum { SEND_BATCH_MAX = 256 };

/* Gives one that sends, one way or the other; NULL without memory. `plain`: by send() alone. */
struct send_batch *send_batch_new(bool plain);
void send_batch_free(struct send_batch *batch); /* NULL is allowed */
/* Fills in each item's result; never waits. At most SEND_BATCH_MAX items; `bytes` is borrowed. */
void send_batch_send(struct send_batch *batch, struct send_item items[], size_t count,
                     const char *bytes, size_t size);
