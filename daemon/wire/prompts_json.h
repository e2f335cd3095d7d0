/* Cards and lines as the topics show them: docs/wire.md, CARDS and LINES. */
#pragma once
#include <jansson.h>
#include "prompts/cards.h"
#include "prompts/lines.h"

/* The cards by their places, "1" to "3"; `next_ms` as cards_of has it. NULL without memory. */
json_t *cards_json(const struct language *language, const struct state *state,
                   const struct past *past, const struct around *around, int64_t *next_ms);
/* Every ruling that can come of an open challenge, "1", "2" …: empty where none is open. NULL
 * without memory. */
json_t *rulings_json(const struct language *language, const struct state *state);
/* A line that is out. `event` may be ""; `period_ms` is the length of its bout's periods. */
json_t *told_line_json(const struct line *line, const char *event, int64_t at_ms,
                       int32_t period_ms);
