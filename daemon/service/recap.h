/* A bout as a sheet prints it (docs/wire.md, "Recap"): its view, its points by period, its attacks
 * by technique and leg, and why its leader leads, step by step. Made of a state, as the topics are:
 * whoever may be shown the state may be shown this. */
#pragma once
#include <jansson.h>
#include "stats/state.h"
#include "wire/view_json.h"

json_t *recap_json(const struct state *state, struct anchors anchors); /* NULL without memory */
