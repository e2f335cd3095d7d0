/* The command line: one function a command, each with its own options and --help.
 * What is asked for goes to standard output, errors to standard error. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "service/exit_code.h"

int command_fold(int argc, char **argv);
int command_check(int argc, char **argv);
int command_rules(int argc, char **argv);
int command_serve(int argc, char **argv);
int command_demo(int argc, char **argv);
int command_rehearse(int argc, char **argv);
int command_backup(int argc, char **argv);
int command_export(int argc, char **argv);
int command_import(int argc, char **argv);
int command_draw(int argc, char **argv);
int command_archive(int argc, char **argv);
int command_key(int argc, char **argv);
int command_tell(int argc, char **argv);

int command_no_memory(void); /* says so, answers EXIT_NO_MEMORY */
/* "boutwire NAME: …" and where to read more; answers EXIT_UNUSABLE. */
int command_misused(const char *name, const char *detail, ...)
    __attribute__((format(printf, 2, 3)));
/* The whole file ("-": standard input), NUL-terminated, malloc'd; NULL: said on standard error. */
char *command_read_file(const char *path, size_t *size);
/* An option's time of day; false: said on standard error. */
bool command_read_time(const char *command, const char *text, int64_t *ms);
/* Flushes standard output: EXIT_FINE, or EXIT_UNUSABLE when what was printed got lost. */
int command_finish(int code);
