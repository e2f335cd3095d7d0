/* A bout's state as JSON, member for member as docs/state.md has it: what `boutwire fold` prints
 * and `GET /api/v1/bouts/BOUT` answers. */
#pragma once
#include <jansson.h>
#include "stats/state.h"

/* A new reference; NULL without memory. */
json_t *state_json(const struct state *state);

/* The parts that topics share with it; each adds its members to `object`, false without memory. */
bool state_json_score(json_t *object, const struct state *state); /* all but what moves with time */
/* The object, when all of it could be added; else gives it back, and answers NULL. Takes it. */
json_t *json_whole(json_t *object, bool complete);
bool json_add(json_t *object, const char *name, json_t *value); /* takes `value`; NULL fails */
bool json_add_text(json_t *object, const char *name, const char *text); /* NULL text: leaves out */
bool json_add_integer(json_t *object, const char *name, int64_t number);
bool json_add_true(json_t *object, const char *name, bool fact);  /* false: leaves out */
bool json_add_time(json_t *object, const char *name, int64_t ms); /* RFC 3339 */
