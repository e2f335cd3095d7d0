/* Plain files of the store, where SQLite is not asked. Codes are 0 or negative libuv codes. */
#pragma once
#include <stdbool.h>
#include <stddef.h>

/* The whole file in `*bytes`, which the caller frees. A file that isn't there: no bytes, 0. */
int file_read(const char *path, unsigned char **bytes, size_t *size);
/* How long it is; 0 when it isn't there. */
size_t file_size(const char *path);
bool file_exists(const char *path);
bool file_is_plain(const char *path); /* it can be read twice: no pipe, no device */
/* What was made, renamed or removed in the folder of `path` outlives a power cut. */
int folder_sync(const char *path);
