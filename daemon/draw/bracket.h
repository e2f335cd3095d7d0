/* The draw of one weight: from its entries and seeds to the slots in which they wrestle.
 *
 * Up to `nordic_up_to` entries everyone meets everyone; up to `pools_up_to` they do so in two
 * pools, then semi-finals crosswise; more wrestle direct elimination with repechage. There the
 * bracket has the largest of 2, 4, 8 … 64 places that the entries fill, and as many qualification
 * bouts as there are entries more than places.
 *
 * A slot names an athlete, or the winner or loser of another slot. What hangs on who reaches the
 * final (a repechage's sides) or on a pool's ranking is left out: draw/picture.h fills it in.
 *
 * Sources: docs/rules.md, "Draws". Qualification bouts and seeds top, bottom, bottom, top: UWW, 27
 * Jan 2022. Two groups of repechage, from the earliest loser to the loser of the semi-final, the
 * winner of each group third: common practice, no source.
 * Pure: what is made lives in the caller's arena. */
#pragma once
#include "rules/arena.h"
#include "rules/day.h"
#include "rules/draw_rules.h"

struct draw_entry {
    const char *athlete;
    int64_t seed; /* from 1; 0 or less: none */
};

enum draw_form { DRAW_NORDIC, DRAW_POOLS, DRAW_ELIMINATION };

struct drawn_slot {
    const char *slot;  /* "fs74-sf1" */
    const char *stage; /* "semi-final" */
    struct slot_side sides[2];
    unsigned rounds_after; /* of its weight's draw: 0 for the final */
};

struct bracket {
    enum draw_form form;
    struct drawn_slot *slots; /* in the order in which they are wrestled */
    size_t count;
};

/* `entries`: 1 to DRAW_ENTRIES_MAX, in the order of their lots; seeded ones are taken out and
 * placed by their seeds. One entry alone has no slot. Slots are named `prefix`-something.
 * Borrows the athletes' keys. False without memory. */
bool bracket_draw(struct bracket *bracket, const struct draw_rules *rules, const char *prefix,
                  const struct draw_entry *entries, size_t count, struct arena *arena);
enum draw_form draw_form_of(const struct draw_rules *rules, size_t count);
/* What a weight's slots are named after: "fs74", "w53-u17". NULL without memory; any of the three
 * may be NULL. */
const char *bracket_prefix(const char *style, const char *age_group, const char *weight,
                           struct arena *arena);
