#include <stdio.h>
#include <stdlib.h>
#include "commands/edition_files.h"
#include "fuzz.h"
#include "wire/language_json.h"

static struct edition_files files;
static struct language language;

static void read_once(void)
{
    char reason[LANGUAGE_REASON_SIZE];
    if (files.texts != NULL)
        return;
    HOLDS(edition_files_read(&files, NULL, 0) == 0);
    HOLDS(language_shipped(&language, &files.arena, "en", reason));
}

const struct editions *fuzz_editions(void)
{
    read_once();
    return &files.editions;
}

const struct language *fuzz_language(void)
{
    read_once();
    return &language;
}
