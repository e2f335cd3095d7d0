/* Outputs as JSON: the parts of the topics out/OUTPUT and gallery (docs/wire.md, "Producing"), and
 * the text by which an output is kept in the store. Each gives a new reference, NULL without
 * memory. */
#pragma once
#include <jansson.h>
#include <stdbool.h>
#include "producing/output.h"

/* A panel's own data, for the panels that are made of one bout: attacks, why, needs, result. */
json_t *attacks_json_sure(const struct state *state, enum side side);
json_t *why_json(const struct state *state);
json_t *needs_json_sure(const struct state *state, enum side side);
json_t *result_panel_json(const struct state *state);
/* How many words and figures stand in it. */
unsigned words_of(const json_t *data);

bool choice_add(json_t *object, const struct choice *choice); /* panel, side, text, at */
json_t *look_json(const struct look *look);                   /* what isn't plain */
json_t *hold_json(const struct output *output);               /* how, since */
json_t *changes_json(const char *words, const struct seen *was, const struct seen *is);
json_t *prepared_json(const struct output *output, const struct seen *now);
json_t *on_air_json(const struct output *output); /* as the gallery has it */
json_t *rules_json(const struct output *output);
json_t *delay_json(const struct output_delay *delay);

/* What is kept, and back. False: no such text, or of a newer program. */
json_t *output_kept_json(const struct output *output);
bool output_kept_read(struct output *output, const json_t *kept);
