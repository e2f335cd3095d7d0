/* A sentence put together: a phrase with places in it, and what fills them (language.h has the form
 * of phrases).
 * Pure; the bytes are the caller's, and a character is never cut in half. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "prompts/language.h"
#include "rules/side.h"

struct text {
    const struct language *language;
    char *bytes; /* always ended by NUL */
    size_t size, length;
    bool cut;     /* something didn't fit and was left out */
    bool capital; /* the next letter is to be one */
};

struct fill { /* the first of side, given, text and number that is there */
    const char *key;
    const char *text; /* ours, or with `word` an event's name for what the language has words for */
    enum word_kind word;
    const char *given; /* by somebody, like a name: written as it is */
    int32_t number;
    enum side side; /* its name */
};
/* Fills in a call: FILLS({"n", .number = 3}, {"side", .side = SIDE_RED}). */
#define FILLS(...) ((const struct fill[]){__VA_ARGS__, {.key = NULL}})

struct naming { /* what the sides are called: [0] red */
    const char *sides[2];
};
struct naming naming_plain(const struct language *language); /* Red and Blue */

struct text text_start(const struct language *language, char *bytes, size_t size);
/* Adds a phrase, filled. A place that nothing fills is a bug. `naming` may be NULL where no fill is
 * a side, `fills` where the phrase has no places. */
void text_add(struct text *text, enum phrase phrase, const struct naming *naming,
              const struct fill *fills);

size_t text_characters(const char *bytes); /* code points */
size_t text_words(const char *bytes);      /* parted by spaces */

enum { TIME_SIZE = 48 };
/* "32 seconds", "1 minute 4 seconds": rounded up like time left on the clock. */
const char *text_span(const struct language *language, int64_t span_ms, char room[TIME_SIZE]);
/* "2:05"; of time left, parts of a second count as one, so that 0:00 is the end. */
const char *text_left(int64_t left_ms, char room[TIME_SIZE]);
const char *text_gone(int64_t gone_ms, char room[TIME_SIZE]);
