/* What stands around a bout, for the cards (prompts/around.h): taken of a hall as its audience is
 * shown it, so that a delayed booth hears nothing early. */
#pragma once
#include "prompts/around.h"
#include "service/hall.h"

/* Whether cards may speak of it now: nothing is being wrestled. */
bool around_is_wanted(const struct state *state);
/* The whole day as a hall has it, looked at once for all the mats of which cards are made. It lives
 * in the arena, and borrows the hall's texts. NULL without memory. */
struct around_day;
struct around_day *around_look(const struct hall *hall, const struct editions *editions,
                               int64_t now_ms, struct arena *arena);
/* Around that bout of the hall; borrows the day that was looked at. */
struct around around_make(struct around_day *looking, const struct hall_bout *bout, int64_t now_ms);
