/* Plays inputs back: every file and every file of a folder that is named. Without a fuzzer, so that
 * any compiler builds it. */
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include "fuzz.h"

int replay(int argc, char **argv);
static size_t played;

static void play_file(const char *path)
{
    FILE *file = fopen(path, "rb");
    uint8_t *bytes = malloc(1 << 20);
    if (file == NULL || bytes == NULL) {
        perror(path);
        exit(2);
    }
    size_t size = fread(bytes, 1, 1 << 20, file);
    fclose(file);
    uint8_t *exact = malloc(size > 0 ? size : 1); /* so that a byte too far is noticed */
    memcpy(exact, bytes, size);
    free(bytes);
    fprintf(stderr, "%s\n", path); /* the last one named is the one that failed */
    LLVMFuzzerTestOneInput(exact, size);
    free(exact);
    played++;
}

static void play_folder(const char *path)
{
    struct dirent **entries;
    int count = scandir(path, &entries, NULL, alphasort);
    for (int i = 0; i < count; i++) {
        char file[4096];
        snprintf(file, sizeof file, "%s/%s", path, entries[i]->d_name);
        if (entries[i]->d_name[0] != '.')
            play_file(file);
        free(entries[i]);
    }
    if (count >= 0)
        free(entries);
}

int replay(int argc, char **argv)
{
    for (int i = 1; i < argc; i++) {
        struct stat about;
        if (stat(argv[i], &about) == 0 && S_ISDIR(about.st_mode))
            play_folder(argv[i]);
        else
            play_file(argv[i]);
    }
    printf("%zu passed, 0 failed\n", played);
    return played > 0 ? 0 : 2;
}

#ifndef WITHOUT_MAIN
int main(int argc, char **argv)
{
    return replay(argc, argv);
}
#endif
