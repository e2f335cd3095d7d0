/* The day's draw as the topics show it: slots, weights with their places, the team table, sessions.
 * docs/wire.md, "The draw"; how it is derived: docs/draw.md. What is withheld of minors is so here
 * too, whether a bout of theirs was called yet or not. */
#pragma once
#include <jansson.h>
#include <stdbool.h>
#include "service/hall.h"

/* What was last made, and of what: made again only when a result or the day has changed, and then
 * only those slots and weights that have. */
struct draw_items {
    struct draw_item *items;
    size_t count;
};
struct draw_memory {    /* begin with zeros */
    uint64_t signature; /* 0: nothing */
    json_t *parts;
    struct draw_items slots, weights;
};
void draw_memory_close(struct draw_memory *memory);

/* What an audience is shown of the bouts; the day is the live one. */
struct draw_source {
    const struct day *day;
    const struct hall_bout *const *bouts;
    size_t bout_count;
    int64_t now_ms;
    bool public;
};

/* Adds its members to a day's object. False without memory. */
bool day_draw_add(json_t *object, const struct draw_source *source, struct draw_memory *memory);
/* Whether the public is shown less of the draw than the booth. */
bool day_draw_covers(const struct day *day);
