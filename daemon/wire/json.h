/* JSON text to the core's plain values and back, by jansson.
 * What comes in must be UTF-8, hold no member twice and no U+0000, nest at most JSON_DEPTH_MAX
 * deep; an integer is a number without fraction and exponent that fits 64 bits. */
#pragma once
#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include "rules/arena.h"
#include "rules/complaint.h"
#include "rules/value.h"

enum { JSON_DEPTH_MAX = 32 };

/* Reads one JSON text into the arena. NULL: refused, with the reason in the complaint; or, with
 * `why` ACCEPTED, no memory. */
struct value *json_read(struct arena *arena, const char *text, size_t size,
                        struct complaint *complaint);
/* The same limits, for what stays jansson's: a new reference; NULL as above. */
json_t *json_parse(const char *text, size_t size, struct complaint *complaint);
/* Whether the parser can have memory just now: it reports the want of it as any other error. */
bool json_has_memory(void);
/* The same value as jansson's; a new reference, NULL without memory. */
json_t *json_of(const struct value *value);
/* Compact, members in sorted order; gives malloc'd text, NULL without memory. */
char *json_line(const json_t *json);
/* Whether a line has nothing but spaces, tabs and carriage returns: then it is passed over. */
bool line_is_blank(const char *line, size_t size);
