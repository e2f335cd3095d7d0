/* A log as a file: NDJSON, one event a line, read into the core's log. */
#pragma once
#include "rules/log.h"

struct log_file_line {
    size_t number; /* from 1 */
    struct admittance admittance;
    struct complaint complaint; /* of a refused one */
};

/* Cuts `text` at its newlines and admits every line that isn't blank; `each` sees what came of it
 * and answers whether to go on. The text is written into. */
void log_file_read(struct log *log, char *text, size_t size,
                   bool (*each)(void *context, const struct log_file_line *line), void *context);
