/* A bout as the topics show it: docs/wire.md, "Topics". Holds nothing that moves by itself: what
 * depends on the time is sent as an anchor, so that equal knowledge gives equal bytes.
 * Each gives a new reference, NULL without memory. */
#pragma once
#include <jansson.h>
#include "stats/state.h"

json_t *view_json(const struct state *state);   /* VIEW */
json_t *events_json(const struct state *state); /* EVENTS, for who keys */
json_t *notes_json(const struct state *state);  /* NOTES to the booth; NULL-free, may be empty */
json_t *short_json(const struct state *state);  /* SHORT, for other mats */
json_t *result_line_json(const struct state *state); /* RESULT; only once the bout is closed */
