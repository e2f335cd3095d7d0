#include "commands/sheet_file.h"
#include <stdio.h>
#include "commands/command.h"

int sheet_file_refused(const char *path, const struct sheet *sheet,
                       const struct complaint *complaint)
{
    if (complaint->why == ACCEPTED)
        return command_no_memory();
    fprintf(stderr, "%s:%zu: row %zu", path, complaint->line, sheet->row);
    if (sheet->column > 0)
        fprintf(stderr, ", column %zu", sheet->column);
    fprintf(stderr, ": %s\n", complaint->detail);
    return EXIT_REFUSED;
}
