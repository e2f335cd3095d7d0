/* The languages that are part of the program: daemon/prompts/languages/, made into texts by the
 * build. A file has `language` (BCP 47), `phrases` (all of them, by their names in small letters),
 * `words` (by kind and name: a text, or an object of forms), `numbers` (from nought to twelve) and
 * `articles`. Which numbers are plural comes from ICU's rules of the language (CLDR). */
#pragma once
#include <stdbool.h>
#include "prompts/language.h"
#include "rules/arena.h"

struct shipped_language {
    const char *file; /* "en.json"; NULL ends the list */
    const char *text;
    size_t size;
};
extern const struct shipped_language shipped_languages[];

enum { LANGUAGE_REASON_SIZE = 320 };

/* Reads a language's file; all of it lives in the arena. False: `reason` says why not ("": without
 * memory). */
bool language_read(struct language *language, struct arena *arena, const char *text, size_t size,
                   char reason[LANGUAGE_REASON_SIZE]);
/* The shipped one of that name; false with the reason, naming those that there are. */
bool language_shipped(struct language *language, struct arena *arena, const char *name,
                      char reason[LANGUAGE_REASON_SIZE]);
