/* Finds things by their name: an open hash table of strings, in an arena.
 * The names are borrowed and must live as long as the table. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include "rules/arena.h"

struct table_slot {
    const char *name; /* NULL: the slot is free */
    void *thing;
};

struct table {
    struct table_slot *slots;
    size_t size, count; /* size is a power of two, or 0 */
};

void *table_find(const struct table *table, const char *name); /* NULL: not there */
/* The name must not be there yet. False without memory. */
bool table_add(struct table *table, struct arena *arena, const char *name, void *thing);
void table_remove(struct table *table, const char *name);
