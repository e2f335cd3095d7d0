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

/* How anchors are sent to an audience that is shown the bout as it was some time ago. */
struct anchors {
    int64_t behind_ms; /* every time of day that is counted from is so much later; 0: no delay */
    bool still; /* time stands at the state's `now`: clocks don't run, `still_at` says when */
};

json_t *view_json(const struct state *state, struct view_memory *memory,
                  struct anchors anchors);                                  /* VIEW */
json_t *events_json(const struct state *state, struct view_memory *memory); /* EVENTS */
json_t *notes_json(const struct state *state); /* NOTES to the booth; NULL-free, may be empty */
json_t *short_json(const struct state *state, struct anchors anchors); /* SHORT: other mats */
json_t *result_line_json(const struct state *state); /* RESULT; only once the bout is closed */
