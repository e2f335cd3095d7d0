#include "commands/edition_files.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "commands/command.h"
#include "commands/shipped_editions.h"
#include "wire/json.h"

/* Puts the edition where one of its name is, or at the end, where there is room. */
static void edition_put(struct edition_files *files, const struct edition *edition,
                        const char *text)
{
    size_t place = 0;
    while (place < files->editions.count &&
           strcmp(files->editions.items[place].name, edition->name) != 0)
        place++;
    files->editions.items[place] = *edition;
    files->texts[place] = text;
    if (place == files->editions.count)
        files->editions.count++;
}

static int edition_add(struct edition_files *files, const char *path, const char *text, size_t size)
{
    struct complaint complaint = {.why = ACCEPTED};
    struct edition edition;
    char *kept = arena_take(&files->arena, size + 1);
    struct value *document = json_read(&files->arena, text, size, &complaint);
    if (kept != NULL && document != NULL &&
        edition_read(&edition, document, &files->arena, &complaint)) {
        memcpy(kept, text, size);
        edition_put(files, &edition, kept);
        return EXIT_FINE;
    }
    if (complaint.why == ACCEPTED)
        return command_no_memory();
    fprintf(stderr, "%s: %s%s%s\n", path, complaint.pointer, complaint.pointer[0] ? ": " : "",
            complaint.detail);
    return EXIT_REFUSED;
}

int edition_files_read(struct edition_files *files, const char *const *paths, size_t path_count)
{
    size_t shipped = 0;
    int code = EXIT_FINE;
    *files = (struct edition_files){.texts = NULL};
    arena_init(&files->arena, malloc, free);
    while (shipped_editions[shipped].file != NULL)
        shipped++;
    size_t room = shipped + path_count;
    files->editions.items = arena_take(&files->arena, room * sizeof *files->editions.items);
    files->texts = arena_take(&files->arena, room * sizeof *files->texts);
    if (files->editions.items == NULL || files->texts == NULL)
        code = command_no_memory();
    for (size_t i = 0; i < shipped && code == EXIT_FINE; i++)
        code = edition_add(files, shipped_editions[i].file, shipped_editions[i].text,
                           shipped_editions[i].size);
    for (size_t i = 0; i < path_count && code == EXIT_FINE; i++) {
        size_t size = 0;
        char *text = command_read_file(paths[i], &size);
        code = text != NULL ? edition_add(files, paths[i], text, size) : EXIT_UNUSABLE;
        free(text);
    }
    if (code != EXIT_FINE)
        edition_files_close(files);
    return code;
}

void edition_files_close(struct edition_files *files)
{
    arena_close(&files->arena);
}
