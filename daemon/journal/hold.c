#include "journal/hold.h"
#include <errno.h>
#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>
#include <uv.h>

enum { TRIES_MAX = 500, BETWEEN_TRIES_MS = 20 }; /* ten seconds */

static bool lock(int file, int how)
{
    int answer;
    do
        answer = flock(file, how | LOCK_NB);
    while (answer != 0 && errno == EINTR);
    return answer == 0;
}

/* Somebody who looks lets another look too; a daemon doesn't. */
static bool only_looked_at(int file)
{
    return lock(file, LOCK_SH) && flock(file, LOCK_UN) == 0;
}

static int lock_alone(int file)
{
    for (int i = 0; i < TRIES_MAX; i++) {
        if (lock(file, LOCK_EX))
            return 0;
        if (!only_looked_at(file))
            return UV_EBUSY;
        nanosleep(&(struct timespec){.tv_nsec = BETWEEN_TRIES_MS * 1000000L}, NULL);
    }
    return UV_EAGAIN;
}

/* The file that was opened may have been replaced before it was locked. */
static bool is_at(int file, const char *path)
{
    struct stat opened, named;
    return fstat(file, &opened) == 0 && stat(path, &named) == 0 && opened.st_dev == named.st_dev &&
           opened.st_ino == named.st_ino;
}

int hold_take(int *hold, const char *path, bool alone)
{
    *hold = -1;
    for (int i = 0; i < TRIES_MAX; i++) {
        int file = open(path, O_RDONLY | O_CLOEXEC | (alone ? O_CREAT : 0), 0644);
        if (file < 0)
            return uv_translate_sys_error(errno);
        int code = alone ? lock_alone(file) : lock(file, LOCK_SH) ? 0 : UV_EBUSY;
        if (code == 0 && is_at(file, path)) {
            *hold = file;
            return 0;
        }
        close(file);
        if (code != 0)
            return code;
    }
    return UV_EAGAIN;
}

int hold_move(int *hold, const char *to)
{
    int file = open(to, O_RDONLY | O_CLOEXEC);
    if (file < 0)
        return uv_translate_sys_error(errno);
    if (!lock(file, LOCK_EX)) {
        close(file);
        return UV_EBUSY;
    }
    hold_close(*hold);
    *hold = file;
    return 0;
}

void hold_let_go(int hold)
{
    (void)flock(hold, LOCK_UN); /* the descriptor is good, and unlocking doesn't wait */
}

void hold_close(int hold)
{
    if (hold >= 0)
        close(hold);
}
