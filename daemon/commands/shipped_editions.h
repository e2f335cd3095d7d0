/* The editions that are part of the program: daemon/rules/editions/, made into texts by the build.
 */
#pragma once
#include <stddef.h>

struct shipped_edition {
    const char *file; /* "freestyle-2022.json"; NULL ends the list */
    const char *text;
    size_t size;
};
extern const struct shipped_edition shipped_editions[];
