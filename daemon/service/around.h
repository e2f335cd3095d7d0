/* What stands around a bout, for the cards (prompts/around.h): taken of a hall as its audience is
 * shown it, so that a delayed booth hears nothing early. */
#pragma once
#include "prompts/around.h"
#include "service/hall.h"

/* Whether cards may speak of it now: nothing is being wrestled. */
bool around_is_wanted(const struct state *state);
/* Lives in the arena, and borrows the hall's texts. False without memory. */
bool around_make(struct around *around, const struct hall *hall, const struct hall_bout *bout,
                 int64_t now_ms, struct arena *arena);
