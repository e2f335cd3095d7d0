/* The editions that a run of the program knows: the shipped ones, and those of `--rules FILE`, of
 * which one with a shipped name takes its place. */
#pragma once
#include "rules/edition.h"

struct edition_files {
    struct editions editions;
    struct arena arena;
    const char **texts; /* of each edition: its file as it is */
};

/* Reads the shipped ones, then the files. What is wrong goes to standard error as `FILE: …`.
 * 0, or the program's exit code. */
int edition_files_read(struct edition_files *files, const char *const *paths, size_t path_count);
void edition_files_close(struct edition_files *files);
