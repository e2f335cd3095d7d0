/* A sentence put together: a phrase with places in it, and what fills them.
 * A place is `{key}`: the text, number or name of that key. `{=key}` is the number as a word,
 * `{^key}` begins with a capital, `{@key}` has the indefinite article before it, and
 * `{key:one:many}` is one of two words, by the number. `{.}` makes a capital of what comes next,
 * unless that was given by somebody: names stay as they are.
 * Pure; the bytes are the caller's, and a character is never cut in half. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "rules/side.h"

struct text {
    char *bytes; /* always ended by NUL */
    size_t size, length;
    bool cut;     /* something didn't fit and was left out */
    bool capital; /* the next letter is to be one */
};

struct fill { /* the first of side, given, text and number that is there */
    const char *key;
    const char *text;
    const char *given; /* by somebody, like a name: written as it is */
    int32_t number;
    enum side side; /* its name */
};
/* Fills in a call: FILLS({"n", .number = 3}, {"side", .side = SIDE_RED}). */
#define FILLS(...) ((const struct fill[]){__VA_ARGS__, {.key = NULL}})

struct naming { /* what the sides are called: [0] red */
    const char *sides[2];
};

struct text text_start(char *bytes, size_t size);
/* Adds a phrase, filled. A place that nothing fills is a bug. `naming` may be NULL where no fill is
 * a side, `fills` where the phrase has no places. */
void text_add(struct text *text, const char *phrase, const struct naming *naming,
              const struct fill *fills);

size_t text_characters(const char *bytes); /* code points */
size_t text_words(const char *bytes);      /* parted by spaces */
