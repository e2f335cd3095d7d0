#include "rules/table.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "support.h"

enum { NAMES = 600, STEPS = 60000 };

/* Random adding and removing, compared at every step with the plainest list there is. Few names for
 * many steps, so that gaps are closed and slots used again many times over. */
Test(table, same_as_a_plain_list)
{
    for (uint64_t seed = 1; seed <= 5; seed++) {
        struct dice dice = dice_of(seed);
        struct arena arena;
        struct table table = {0};
        static char names[NAMES][16];
        int things[NAMES];
        bool there[NAMES] = {false};
        size_t count = 0;
        int most = seed == 1 ? 40 : NAMES; /* the first size, and sizes to grow to */
        arena_init(&arena, malloc, free);
        for (int i = 0; i < NAMES; i++)
            snprintf(names[i], sizeof names[i], "n%d", i * 7919 % 100003);
        for (int step = 0; step < STEPS; step++) {
            int i = dice_below(&dice, most);
            if (there[i]) {
                table_remove(&table, names[i]);
                count--;
            } else {
                cr_assert(table_add(&table, &arena, names[i], &things[i]));
                count++;
            }
            there[i] = !there[i];
            cr_assert(eq(sz, table.count, count), "seed %llu, step %d", (unsigned long long)seed,
                      step);
            if (step % 50 == 0)
                for (int j = 0; j < NAMES; j++)
                    if (table_find(&table, names[j]) != (there[j] ? &things[j] : NULL))
                        cr_fatal("seed %llu, step %d, %s", (unsigned long long)seed, step,
                                 names[j]);
        }
        arena_close(&arena);
    }
}

Test(table, empty)
{
    struct table table = {0};
    cr_expect(eq(ptr, table_find(&table, "anything"), NULL));
    table_remove(&table, "anything");
    cr_expect(eq(sz, table.count, 0));
}

Test(table, what_is_not_there_is_not_removed)
{
    struct arena arena;
    struct table table = {0};
    int thing;
    arena_init(&arena, malloc, free);
    cr_assert(table_add(&table, &arena, "one", &thing));
    table_remove(&table, "other");
    cr_expect(eq(sz, table.count, 1));
    cr_expect(eq(ptr, table_find(&table, "one"), &thing));
    arena_close(&arena);
}

/* A table that finds no room to grow is as it was, and can be asked again. */
Test(table, no_memory)
{
    enum { COUNT = 200 };
    struct arena arena;
    struct table table = {0};
    static char names[COUNT][16];
    int thing, refused_count = 0;
    arena_init(&arena, failing_allocate, failing_release);
    for (int i = 0; i < COUNT; i++) {
        snprintf(names[i], sizeof names[i], "%d", i);
        arena_fill(&arena);
        fail_after(0);
        bool added = table_add(&table, &arena, names[i], &thing);
        fail_never();
        if (!added) {
            refused_count++;
            cr_assert(eq(sz, table.count, (size_t)i));
            cr_assert(eq(ptr, table_find(&table, names[i]), NULL));
            cr_assert(table_add(&table, &arena, names[i], &thing));
        }
        for (int j = 0; j <= i; j++)
            cr_assert(eq(ptr, table_find(&table, names[j]), &thing), "%s after %d", names[j], i);
    }
    cr_expect(eq(int, refused_count, 4), "to 64, 128, 256 and 512");
    arena_close(&arena);
    cr_expect(eq(long, allocations_left_over(), 0));
}
