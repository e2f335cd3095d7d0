#include "journal/files.h"
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <uv.h>

size_t file_size(const char *path)
{
    struct stat status;
    return stat(path, &status) == 0 ? (size_t)status.st_size : 0;
}

bool file_exists(const char *path)
{
    struct stat status;
    return lstat(path, &status) == 0;
}

bool file_is_plain(const char *path)
{
    struct stat status;
    return stat(path, &status) == 0 && S_ISREG(status.st_mode);
}

static int read_all(int file, unsigned char *bytes, size_t *size)
{
    size_t got = 0;
    while (got < *size) {
        ssize_t piece = read(file, bytes + got, *size - got);
        if (piece < 0 && errno == EINTR)
            continue;
        if (piece < 0)
            return uv_translate_sys_error(errno);
        if (piece == 0)
            break;
        got += (size_t)piece;
    }
    *size = got;
    return 0;
}

int file_read(const char *path, unsigned char **bytes, size_t *size)
{
    struct stat status;
    *bytes = NULL;
    *size = 0;
    int file = open(path, O_RDONLY | O_CLOEXEC);
    if (file < 0)
        return errno == ENOENT ? 0 : uv_translate_sys_error(errno);
    int code = fstat(file, &status) == 0 ? 0 : uv_translate_sys_error(errno);
    size_t length = code == 0 ? (size_t)status.st_size : 0;
    unsigned char *read_into = code == 0 ? malloc(length + 1) : NULL;
    if (code == 0)
        code = read_into == NULL ? UV_ENOMEM : read_all(file, read_into, &length);
    close(file);
    if (code != 0) {
        free(read_into);
        return code;
    }
    *bytes = read_into;
    *size = length;
    return 0;
}

int folder_sync(const char *path)
{
    const char *slash = strrchr(path, '/');
    size_t size = slash == NULL ? 0 : slash == path ? 1 : (size_t)(slash - path);
    char *folder = size == 0 ? strdup(".") : strndup(path, size);
    if (folder == NULL)
        return UV_ENOMEM;
    int file = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    int code = file >= 0 && fsync(file) == 0 ? 0 : uv_translate_sys_error(errno);
    if (file >= 0)
        close(file);
    free(folder);
    return code;
}
