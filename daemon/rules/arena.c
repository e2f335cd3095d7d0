#include "rules/arena.h"
#include <stdalign.h>
#include <stdint.h>
#include <string.h>

enum { BLOCK_SIZE = 64 * 1024 };

struct arena_block {
    struct arena_block *next;
    size_t size, used; /* bytes of `memory` */
    alignas(max_align_t) unsigned char memory[];
};

void arena_init(struct arena *arena, void *(*allocate)(size_t), void (*release)(void *))
{
    *arena = (struct arena){.allocate = allocate, .release = release};
}

void arena_close(struct arena *arena)
{
    while (arena->blocks != NULL) {
        struct arena_block *next = arena->blocks->next;
        arena->release(arena->blocks);
        arena->blocks = next;
    }
}

/* Only the newest block is kept: a fold's blocks are all of one size after its first correction. */
void arena_reset(struct arena *arena)
{
    struct arena_block *kept = arena->blocks;
    if (kept == NULL)
        return;
    arena->blocks = kept->next;
    arena_close(arena);
    kept->next = NULL;
    kept->used = 0;
    arena->blocks = kept;
}

static struct arena_block *block_new(struct arena *arena, size_t size)
{
    size_t room = size > BLOCK_SIZE ? size : BLOCK_SIZE;
    struct arena_block *block = arena->allocate(sizeof *block + room);
    if (block == NULL)
        return NULL;
    block->size = room;
    block->used = 0;
    block->next = arena->blocks;
    arena->blocks = block;
    return block;
}

void *arena_take(struct arena *arena, size_t size)
{
    if (size > SIZE_MAX / 2)
        return NULL;
    size_t rounded =
        (size + alignof(max_align_t) - 1) / alignof(max_align_t) * alignof(max_align_t);
    struct arena_block *block = arena->blocks;
    if (block == NULL || block->size - block->used < rounded)
        block = block_new(arena, rounded);
    if (block == NULL)
        return NULL;
    void *memory = block->memory + block->used;
    block->used += rounded;
    memset(memory, 0, size);
    return memory;
}

char *arena_copy(struct arena *arena, const char *text)
{
    size_t size = strlen(text) + 1;
    char *copy = arena_take(arena, size);
    if (copy != NULL)
        memcpy(copy, text, size);
    return copy;
}

void *arena_grow(struct arena *arena, void *items, size_t count, size_t *capacity, size_t item_size)
{
    if (count < *capacity)
        return items;
    size_t wanted = *capacity == 0 ? 16 : *capacity * 2;
    void *grown = arena_take(arena, wanted * item_size);
    if (grown == NULL)
        return NULL;
    if (count > 0)
        memcpy(grown, items, count * item_size);
    *capacity = wanted;
    return grown;
}
