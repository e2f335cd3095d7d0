#include "rules/table.h"
#include <stdint.h>
#include <string.h>

/* FNV-1a, 64 bits. */
static size_t hash_of(const char *name)
{
    uint64_t hash = 14695981039346656037u;
    for (const unsigned char *byte = (const unsigned char *)name; *byte != '\0'; byte++)
        hash = (hash ^ *byte) * 1099511628211u;
    return (size_t)(hash ^ (hash >> 32));
}

static size_t slot_of(const struct table *table, const char *name)
{
    size_t slot = hash_of(name) & (table->size - 1);
    while (table->slots[slot].name != NULL && strcmp(table->slots[slot].name, name) != 0)
        slot = (slot + 1) & (table->size - 1);
    return slot;
}

void *table_find(const struct table *table, const char *name)
{
    return table->size == 0 ? NULL : table->slots[slot_of(table, name)].thing;
}

static bool table_widen(struct table *table, struct arena *arena)
{
    struct table wider = {.size = table->size == 0 ? 64 : table->size * 2, .count = table->count};
    wider.slots = arena_take(arena, wider.size * sizeof *wider.slots);
    if (wider.slots == NULL)
        return false;
    for (size_t i = 0; i < table->size; i++)
        if (table->slots[i].name != NULL)
            wider.slots[slot_of(&wider, table->slots[i].name)] = table->slots[i];
    *table = wider;
    return true;
}

bool table_add(struct table *table, struct arena *arena, const char *name, void *thing)
{
    if ((table->count + 1) * 4 > table->size * 3 && !table_widen(table, arena))
        return false;
    table->slots[slot_of(table, name)] = (struct table_slot){name, thing};
    table->count++;
    return true;
}

/* Closes the gap by moving back what would no longer be found (linear probing's deletion). */
void table_remove(struct table *table, const char *name)
{
    if (table->size == 0)
        return;
    size_t gap = slot_of(table, name);
    if (table->slots[gap].name == NULL)
        return;
    table->count--;
    for (size_t next = (gap + 1) & (table->size - 1); table->slots[next].name != NULL;
         next = (next + 1) & (table->size - 1)) {
        size_t home = hash_of(table->slots[next].name) & (table->size - 1);
        bool stays = gap <= next ? gap < home && home <= next : gap < home || home <= next;
        if (stays)
            continue;
        table->slots[gap] = table->slots[next];
        gap = next;
    }
    table->slots[gap] = (struct table_slot){NULL, NULL};
}
