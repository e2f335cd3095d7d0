/* Memory that is freed all at once: the core's only way to memory, and it comes from the caller.
 * Taken in blocks with the caller's `allocate` and given back with its `release` (malloc and free
 * will do). What is taken is zeroed and aligned for any type. */
#pragma once
#include <stddef.h>

struct arena_block;

struct arena {
    void *(*allocate)(size_t size);
    void (*release)(void *memory);
    struct arena_block *blocks; /* the newest first */
};

void arena_init(struct arena *arena, void *(*allocate)(size_t), void (*release)(void *));
void arena_close(struct arena *arena); /* gives every block back; may be called twice */
/* Forgets all that was taken, and keeps the memory for what comes next. */
void arena_reset(struct arena *arena);

void *arena_take(struct arena *arena, size_t size);      /* NULL without memory */
char *arena_copy(struct arena *arena, const char *text); /* NULL without memory */
/* An array of `count` items grown to hold one more: as it is while there is room, else copied to
 * twice the size (the old one stays in the arena until it is closed). NULL without memory. */
void *arena_grow(struct arena *arena, void *items, size_t count, size_t *capacity,
                 size_t item_size);
