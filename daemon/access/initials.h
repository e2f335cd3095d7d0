/* Names that are not told: initials in their place, and the same in a text that somebody wrote.
 * Common practice, no source, for how initials are made: the first letter of each word of the name
 * as shown, in its order, without stops ("Signe Aldershaw": "SA"). Scripts whose signs are whole
 * syllables or words have no initials: one sign would be the name.
 * Pure: no clock, no I/O, no allocation. Text is UTF-8. */
#pragma once
#include <stdbool.h>
#include <stddef.h>

enum { INITIALS_SIZE = 64 };

/* False: the name has no initials; `initials` is "" then. */
bool initials_of(const char *name, char initials[INITIALS_SIZE]);

struct secret_name {
    const char *words[3]; /* every way in which it is written; NULL: none */
    const char *shown;    /* in its place */
};

/* `text` with every word of these names replaced, neighbouring ones by one. Capitals, and marks on
 * letters, make no difference; endings neither ("Aldershaw's"). Words of fewer than four letters
 * are replaced only where they are written exactly so, and single letters never. True: something
 * was replaced. What doesn't fit into `size` bytes is cut off, between characters. */
bool conceal(char *concealed, size_t size, const char *text, const struct secret_name *names,
             size_t count);
