#include "commands/command.h"
#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "rules/time_of_day.h"

int command_no_memory(void)
{
    fputs("boutwire: out of memory\n", stderr);
    return EXIT_NO_MEMORY;
}

int command_misused(const char *name, const char *detail, ...)
{
    va_list arguments;
    fprintf(stderr, "boutwire %s: ", name);
    va_start(arguments, detail);
    vfprintf(stderr, detail, arguments);
    va_end(arguments);
    fprintf(stderr, "\nsee: boutwire %s --help\n", name);
    return EXIT_UNUSABLE;
}

static char *read_stream(FILE *stream, size_t *size)
{
    size_t room = 64 * 1024;
    char *text = malloc(room + 1);
    *size = 0;
    while (text != NULL) {
        size_t got = fread(text + *size, 1, room - *size, stream);
        *size += got;
        if (got == 0)
            break;
        if (*size == room) {
            char *wider = realloc(text, room * 2 + 1);
            if (wider == NULL)
                free(text);
            text = wider;
            room *= 2;
        }
    }
    if (text != NULL)
        text[*size] = '\0';
    return text;
}

char *command_read_file(const char *path, size_t *size)
{
    bool standard = strcmp(path, "-") == 0;
    FILE *stream = standard ? stdin : fopen(path, "rb");
    if (stream == NULL) {
        fprintf(stderr, "%s: %s\n", path, strerror(errno));
        return NULL;
    }
    char *text = read_stream(stream, size);
    bool failed = ferror(stream) != 0;
    int error = errno;
    if (!standard)
        fclose(stream);
    if (text == NULL)
        command_no_memory();
    if (text != NULL && failed) {
        fprintf(stderr, "%s: %s\n", path, strerror(error));
        free(text);
        return NULL;
    }
    return text;
}

bool command_read_time(const char *command, const char *text, int64_t *ms)
{
    if (time_of_day_read(text, ms))
        return true;
    command_misused(command, "%s is no time like 2027-05-08T10:00:00.000Z", text);
    return false;
}

int command_finish(int code)
{
    if (fflush(stdout) == 0 && ferror(stdout) == 0)
        return code;
    fprintf(stderr, "boutwire: standard output: %s\n", strerror(errno));
    return EXIT_UNUSABLE;
}
