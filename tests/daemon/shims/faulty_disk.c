/* A disk that fails when a test says so, put between a program and the C library by LD_PRELOAD.
 * The calls that it knows: pwrite, sync (fsync, fdatasync), truncate, rename. Only those on
 * FAULT_FILES are counted (one path, or with * at its end all that begin so), and only while the
 * file FAULT_ARMED is there.
 *
 *   FAULT_CALLS   which are counted, by name: "pwrite,sync"
 *   FAULT_FROM    the first of them that fails, from 1; 0: none, they are only noted
 *   FAULT_COUNT   how many fail from there on; 0: all
 *   FAULT_ERROR   EIO or ENOSPC; or KILL: the process dies instead of the call; or HANG: the
 *                 call takes until FAULT_ARMED is gone, and then works
 *   FAULT_LOG     a file that gets a line for each counted call: its name, the file, "failed" if so
 *
 * A pwrite that finds no room writes half of what it was given first, as a disk that fills up does.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static atomic_int counted;
static atomic_bool half_written;

static const char *setting(const char *name)
{
    const char *value = getenv(name);
    return value == NULL ? "" : value;
}

static void *real(const char *name)
{
    void *function = dlsym(RTLD_NEXT, name);
    if (function == NULL)
        abort();
    return function;
}

static void note(const char *call, const char *path, bool fails)
{
    char line[400];
    const char *log = setting("FAULT_LOG"), *slash = strrchr(path, '/');
    if (log[0] == '\0')
        return;
    int size = snprintf(line, sizeof line, "%s %s%s\n", call, slash != NULL ? slash + 1 : path,
                        fails ? " failed" : "");
    int file = open(log, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0644);
    if (file < 0 || write(file, line, (size_t)size) != size)
        abort();
    close(file);
}

static bool is_meant(const char *path)
{
    const char *files = setting("FAULT_FILES");
    size_t size = strlen(files);
    if (size > 0 && files[size - 1] == '*')
        return strncmp(path, files, size - 1) == 0;
    return strcmp(path, files) == 0;
}

/* The call on that path fails, with errno set. */
static bool fails(const char *call, const char *path)
{
    const char *error = setting("FAULT_ERROR");
    if (!is_meant(path) || strstr(setting("FAULT_CALLS"), call) == NULL ||
        access(setting("FAULT_ARMED"), F_OK) != 0)
        return false;
    int number = atomic_fetch_add(&counted, 1) + 1, from = atoi(setting("FAULT_FROM"));
    int count = atoi(setting("FAULT_COUNT"));
    bool now = from > 0 && number >= from && (count == 0 || number < from + count);
    note(call, path, now);
    if (!now)
        return false;
    if (strcmp(error, "KILL") == 0)
        kill(getpid(), SIGKILL);
    if (strcmp(error, "HANG") == 0) {
        while (access(setting("FAULT_ARMED"), F_OK) == 0)
            usleep(10000);
        return false;
    }
    errno = strcmp(error, "ENOSPC") == 0 ? ENOSPC : EIO;
    return true;
}

static bool fails_on(const char *call, int file)
{
    char link[64], path[4096];
    snprintf(link, sizeof link, "/proc/self/fd/%d", file);
    ssize_t size = readlink(link, path, sizeof path - 1);
    if (size < 0)
        return false;
    path[size] = '\0';
    return fails(call, path);
}

static ssize_t faulty_pwrite(const char *name, int file, const void *bytes, size_t size, off64_t at)
{
    ssize_t (*pwrite_really)(int, const void *, size_t, off64_t);
    *(void **)&pwrite_really = real(name);
    if (!fails_on("pwrite", file))
        return pwrite_really(file, bytes, size, at);
    if (errno == ENOSPC && size > 1 && !atomic_exchange(&half_written, true))
        return pwrite_really(file, bytes, size / 2, at);
    return -1;
}

ssize_t pwrite(int file, const void *bytes, size_t size, off_t at)
{
    return faulty_pwrite("pwrite", file, bytes, size, at);
}

ssize_t pwrite64(int file, const void *bytes, size_t size, off64_t at)
{
    return faulty_pwrite("pwrite64", file, bytes, size, at);
}

static int faulty_sync(const char *name, int file)
{
    int (*sync_really)(int);
    *(void **)&sync_really = real(name);
    return fails_on("sync", file) ? -1 : sync_really(file);
}

int fsync(int file)
{
    return faulty_sync("fsync", file);
}

int fdatasync(int file)
{
    return faulty_sync("fdatasync", file);
}

int ftruncate64(int file, off64_t size)
{
    int (*truncate_really)(int, off64_t);
    *(void **)&truncate_really = real("ftruncate64");
    return fails_on("truncate", file) ? -1 : truncate_really(file, size);
}

int rename(const char *from, const char *to)
{
    int (*rename_really)(const char *, const char *);
    *(void **)&rename_really = real("rename");
    return fails("rename", from) ? -1 : rename_really(from, to);
}
