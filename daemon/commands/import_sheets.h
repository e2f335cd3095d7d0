/* boutwire import, of sheets: athletes, slots and teams as CSV. */
#pragma once
#include <stdbool.h>
#include "rules/edition.h"

struct sheets_wish {
    const char *const *paths;
    int path_count;
    const char *to;    /* HOST:PORT of a daemon; NULL: the events are printed */
    const char *after; /* a log that they come after; NULL: none */
    bool preview;
};

/* Answers the program's exit code. */
int import_sheets(const struct sheets_wish *wish, const struct editions *editions);
bool import_is_sheet(const char *path); /* by its name's end */
