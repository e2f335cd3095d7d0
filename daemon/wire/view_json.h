/* A bout as the topics show it: docs/wire.md, "Topics". Holds nothing that moves by itself: what
 * depends on the time is sent as an anchor, so that equal knowledge gives equal bytes.
 * Each gives a new reference, NULL without memory. */
#pragma once
#include <jansson.h>
#include "stats/state.h"

/* What the last view and list of a bout were made of, one item an event: what has not changed is
 * shared with the next one instead of made again. Changes no byte of any answer. */
struct view_memory {
    struct view_item *items;
    size_t count;
};
void view_memory_close(struct view_memory *memory); /* begin with {NULL, 0} */

json_t *view_json(const struct state *state, struct view_memory *memory);   /* VIEW */
json_t *events_json(const struct state *state, struct view_memory *memory); /* EVENTS */
json_t *notes_json(const struct state *state); /* NOTES to the booth; NULL-free, may be empty */
json_t *short_json(const struct state *state); /* SHORT, for other mats */
json_t *result_line_json(const struct state *state); /* RESULT; only once the bout is closed */
