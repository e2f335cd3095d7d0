/* A message encoded once and shared by everyone it is sent to.
 * The bytes are preceded by FRAME_HEADROOM writable bytes, so that a socket library can put its own
 * header before them without copying. Counted references, one thread. */
#pragma once
#include <stddef.h>

enum { FRAME_HEADROOM = 32 };

struct frame {
    size_t size; /* bytes of text; no terminator is counted, one is there */
    unsigned reference_count;
    char headroom[FRAME_HEADROOM]; /* belongs to the socket library while it writes */
    char text[];
};

/* Gives a frame with one reference and `size` bytes copied from `text`; NULL without memory. */
struct frame *frame_new(const char *text, size_t size);
struct frame *frame_keep(struct frame *frame); /* gives the same frame, one more reference */
void frame_release(struct frame *frame);       /* NULL is allowed */
