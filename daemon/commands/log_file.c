#include "commands/log_file.h"
#include <stdlib.h>
#include <string.h>
#include "wire/json.h"

static void line_admit(struct log *log, struct arena *arena, const char *text, size_t size,
                       struct log_file_line *line)
{
    arena_reset(arena);
    const struct value *document = json_read(arena, text, size, &line->complaint);
    if (document != NULL)
        line->admittance = log_admit(log, document, INTAKE_FILE, &line->complaint);
    else
        line->admittance = (struct admittance){
            .admitted = line->complaint.why == ACCEPTED ? NO_MEMORY : NOT_ADMITTED};
    line->complaint.line = line->number;
}

void log_file_read(struct log *log, char *text, size_t size,
                   bool (*each)(void *context, const struct log_file_line *line), void *context)
{
    struct arena arena;
    struct log_file_line line = {.number = 0};
    bool go_on = true;
    arena_init(&arena, malloc, free);
    for (size_t from = 0; from < size && go_on;) {
        const char *end = memchr(text + from, '\n', size - from);
        size_t length = end != NULL ? (size_t)(end - (text + from)) : size - from;
        line.number++;
        if (!line_is_blank(text + from, length)) {
            line_admit(log, &arena, text + from, length, &line);
            go_on = each(context, &line);
        }
        from += length + 1;
    }
    arena_close(&arena);
}
