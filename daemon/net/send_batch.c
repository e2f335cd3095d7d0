#include "net/send_batch.h"
#include <assert.h>
#include <errno.h>
#include <liburing.h>
#include <stdlib.h>
#include <sys/socket.h>

struct send_batch {
    bool has_ring;
    struct io_uring ring;
};

/* The kernel does the work within our call and nowhere else: no thread of its own, no interrupt.
 * A kernel before 6.1 doesn't know these flags, and gets the plain way. */
static bool ring_open(struct io_uring *ring)
{
    struct io_uring_params how = {.flags = IORING_SETUP_SINGLE_ISSUER | IORING_SETUP_DEFER_TASKRUN};
    return io_uring_queue_init_params(SEND_BATCH_MAX, ring, &how) == 0;
}

struct send_batch *send_batch_new(bool plain)
{
    struct send_batch *batch = calloc(1, sizeof *batch);
    if (batch != NULL)
        batch->has_ring = !plain && ring_open(&batch->ring);
    return batch;
}

void send_batch_free(struct send_batch *batch)
{
    if (batch != NULL && batch->has_ring)
        io_uring_queue_exit(&batch->ring);
    free(batch);
}

static int send_one(int socket, const char *bytes, size_t size)
{
    ssize_t count;
    do
        count = send(socket, bytes, size, MSG_NOSIGNAL | MSG_DONTWAIT);
    while (count < 0 && errno == EINTR);
    return count < 0 ? -errno : (int)count;
}

static void send_plain(struct send_item items[], size_t count, const char *bytes, size_t size)
{
    for (size_t i = 0; i < count; i++)
        items[i].result = send_one(items[i].socket, bytes, size);
}

/* MSG_DONTWAIT: else the kernel would keep a send that doesn't fit, and do it when it likes. */
static void ring_fill(struct io_uring *ring, const struct send_item items[], size_t count,
                      const char *bytes, size_t size)
{
    for (size_t i = 0; i < count; i++) {
        struct io_uring_sqe *entry = io_uring_get_sqe(ring);
        assert(entry != NULL); /* the ring is empty between batches, and as large as one */
        io_uring_prep_send(entry, items[i].socket, bytes, size, MSG_NOSIGNAL | MSG_DONTWAIT);
        io_uring_sqe_set_data64(entry, i);
    }
}

static size_t ring_collect(struct io_uring *ring, struct send_item items[])
{
    struct io_uring_cqe *done;
    unsigned head, found = 0;
    io_uring_for_each_cqe(ring, head, done)
    {
        items[io_uring_cqe_get_data64(done)].result = done->res;
        found++;
    }
    io_uring_cq_advance(ring, found);
    return found;
}

/* Hands over what is in the ring. Gives how many of it the kernel has: all, unless it has no memory
 * or won't any more. */
static size_t ring_submit(struct io_uring *ring, size_t count)
{
    int error;
    do
        error = io_uring_submit_and_wait(ring, (unsigned)count);
    while (error == -EINTR);
    return count - io_uring_sq_ready(ring);
}

/* What is submitted is always collected before this returns: the bytes are only borrowed. */
static void send_by_ring(struct send_batch *batch, struct send_item items[], size_t count,
                         const char *bytes, size_t size)
{
    ring_fill(&batch->ring, items, count, bytes, size);
    size_t submitted = ring_submit(&batch->ring, count);
    for (size_t left = submitted; left > 0;) {
        left -= ring_collect(&batch->ring, items);
        if (left > 0)
            io_uring_submit_and_wait(&batch->ring, (unsigned)left);
    }
    if (submitted == count)
        return;
    batch->has_ring = false;
    io_uring_queue_exit(&batch->ring);
    send_plain(items + submitted, count - submitted, bytes, size);
}

void send_batch_send(struct send_batch *batch, struct send_item items[], size_t count,
                     const char *bytes, size_t size)
{
    if (batch->has_ring && count > 1)
        send_by_ring(batch, items, count, bytes, size);
    else
        send_plain(items, count, bytes, size);
}
