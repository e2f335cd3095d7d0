/* A copy of a store while it runs, by SQLite's backup interface.
 * The normal course: open the store to read one moment of it, copy all its pages into a new file
 * beside the one that is wanted, look through the copy, sync it, and give it its name. What fails
 * takes the new file away again. */
#include <errno.h>
#include <fcntl.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include "journal/files.h"
#include "journal/store_parts.h"

struct backup {
    const char *from, *to;
    char *made; /* the new file, until it has its name */
    char *reason;
    size_t reason_size;
};

static int refuse(const struct backup *backup, int code, const char *why)
{
    snprintf(backup->reason, backup->reason_size, "%s can't be made: %s", backup->to, why);
    return code;
}

static int refuse_system(const struct backup *backup)
{
    return refuse(backup, uv_translate_sys_error(errno), strerror(errno));
}

/* ---- the new file ---- */

/* It may be read by whoever may read the store: it holds what the store holds. */
static int file_make(struct backup *backup)
{
    struct stat status;
    if (file_exists(backup->to))
        return refuse(backup, UV_EEXIST,
                      "there is something of that name, and nothing is replaced");
    int file = mkstemp(backup->made);
    if (file < 0) {
        int code = refuse_system(backup);
        backup->made[0] = '\0';
        return code;
    }
    bool good = stat(backup->from, &status) == 0 && fchmod(file, status.st_mode & 0777) == 0;
    int code = good ? 0 : refuse_system(backup);
    close(file);
    return code;
}

static void file_remove(const struct backup *backup)
{
    static const char *const ends[] = {"", "-journal", "-wal", "-shm"};
    size_t size = strlen(backup->made);
    char *name = malloc(size + 16);
    for (size_t i = 0; name != NULL && i < sizeof ends / sizeof *ends; i++) {
        snprintf(name, size + 16, "%s%s", backup->made, ends[i]);
        (void)remove(name); /* most of them aren't there */
    }
    free(name);
}

static int file_sync(const struct backup *backup)
{
    int file = open(backup->made, O_RDONLY | O_CLOEXEC);
    int code = file >= 0 && fsync(file) == 0 ? 0 : refuse_system(backup);
    if (file >= 0)
        close(file);
    return code;
}

/* A hard link takes no other file's place; where there are none, a moment is left in which somebody
 * else could make a file of that name. */
static int file_name(const struct backup *backup)
{
    int answer = link(backup->made, backup->to);
    if (answer == 0)
        answer = remove(backup->made);
    else if (errno != EEXIST && !file_exists(backup->to))
        answer = rename(backup->made, backup->to);
    if (answer != 0)
        return refuse_system(backup);
    int code = folder_sync(backup->to);
    return code == 0 ? 0 : refuse(backup, code, uv_strerror(code));
}

/* ---- the pages ---- */

/* All in one step: nothing that is written meanwhile begins it anew, and nobody is held up, since
 * who reads and who writes don't wait for each other. */
static int pages_copy(const struct backup *backup, sqlite3 *from, sqlite3 *to)
{
    sqlite3_backup *copying = sqlite3_backup_init(to, "main", from, "main");
    if (copying == NULL)
        return refuse(backup, UV_EIO, sqlite3_errmsg(to));
    int result = sqlite3_backup_step(copying, -1);
    int finished = sqlite3_backup_finish(copying);
    if (result == SQLITE_DONE && finished == SQLITE_OK)
        return 0;
    return refuse(backup, (result & 0xff) == SQLITE_FULL ? UV_ENOSPC : UV_EIO, sqlite3_errmsg(to));
}

static int database_copy(const struct backup *backup, const struct store *store)
{
    sqlite3 *to = NULL;
    int result =
        sqlite3_open_v2(backup->made, &to, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, NULL);
    int code = result == SQLITE_OK ? pages_copy(backup, store_database(store), to)
                                   : refuse(backup, UV_EIO, sqlite3_errstr(result));
    result = sqlite3_close(to);
    return code != 0 || result == SQLITE_OK ? code : refuse(backup, UV_EIO, sqlite3_errstr(result));
}

static int copy_check(const struct backup *backup, uint64_t *count)
{
    struct store *copy = NULL;
    char reason[STORE_REASON_SIZE];
    int code = store_open_checking(&copy, backup->made, reason, sizeof reason);
    if (code != 0) { /* what is damaged is the store: the copy is what it is */
        bool names_it = strncmp(reason, backup->made, strlen(backup->made)) == 0;
        snprintf(backup->reason, backup->reason_size, "%s%s", names_it ? backup->from : "",
                 names_it ? reason + strlen(backup->made) : reason);
        return code;
    }
    *count = store_last_seq(copy);
    store_close(copy, true);
    return 0;
}

static int backup_make(struct backup *backup, const struct store *store, uint64_t *count)
{
    int code = file_make(backup);
    if (code == 0)
        code = database_copy(backup, store);
    if (code == 0)
        code = copy_check(backup, count);
    if (code == 0)
        code = file_sync(backup);
    if (code == 0)
        code = file_name(backup);
    if (code != 0 && backup->made[0] != '\0')
        file_remove(backup);
    return code;
}

int store_backup(const char *from, const char *to, uint64_t *count, char *reason,
                 size_t reason_size)
{
    struct store *store = NULL;
    struct backup backup = {.from = from, .to = to, .reason = reason, .reason_size = reason_size};
    int code = store_open_reading(&store, from, reason, reason_size);
    if (code != 0)
        return code;
    size_t size = strlen(to) + sizeof ".XXXXXX";
    backup.made = malloc(size);
    if (backup.made == NULL) {
        code = refuse(&backup, UV_ENOMEM, "out of memory");
    } else {
        snprintf(backup.made, size, "%s.XXXXXX", to);
        code = backup_make(&backup, store, count);
    }
    free(backup.made);
    store_close(store, true);
    return code;
}
