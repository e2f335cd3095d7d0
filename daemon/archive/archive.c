/* Opening: the file is opened, seen to be ours and whole, made if it is new, and every statement
 * prepared. Whatever is wrong is said in one sentence that also says what to do: the archive can
 * always be made anew, so nothing here mends. */
#include <assert.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>
#include "archive/archive_parts.h"

enum {
    APPLICATION_ID = 0x626f7561, /* "boua", in the file's header */
    FORMAT = 2,                  /* its user_version; a change of the tables adds 1 */
    BUSY_MS = 5000,              /* for another process that writes meanwhile */
};

static const char tables[] =
    "CREATE TABLE athletes (id INTEGER PRIMARY KEY, athlete TEXT NOT NULL UNIQUE) STRICT;"
    "CREATE TABLE bouts (id INTEGER PRIMARY KEY, bout TEXT NOT NULL, called_at_ms INTEGER NOT NULL,"
    " event TEXT NOT NULL, events INTEGER NOT NULL, rules TEXT NOT NULL, style TEXT,"
    " age_group TEXT, weight TEXT, stage TEXT, number TEXT, mat TEXT, how TEXT, code TEXT,"
    " winner INTEGER, time_ms INTEGER NOT NULL, length_ms INTEGER NOT NULL,"
    " UNIQUE (bout, called_at_ms, event)) STRICT;"
    "CREATE TABLE sides (id INTEGER PRIMARY KEY, athlete_id INTEGER REFERENCES athletes,"
    " called_at_ms INTEGER NOT NULL, name TEXT NOT NULL, team TEXT, begun INTEGER NOT NULL,"
    " won INTEGER, points INTEGER NOT NULL, against INTEGER NOT NULL, scored_first INTEGER,"
    " first_score_ms INTEGER, behind_most INTEGER NOT NULL, late_scores INTEGER NOT NULL) STRICT;"
    "CREATE INDEX sides_of_athlete ON sides (athlete_id, called_at_ms);"
    "CREATE TABLE attempts (side_id INTEGER NOT NULL, technique TEXT NOT NULL,"
    " leg INTEGER NOT NULL, tried INTEGER NOT NULL, scored INTEGER NOT NULL,"
    " stopped INTEGER NOT NULL, countered INTEGER NOT NULL, points INTEGER NOT NULL,"
    " PRIMARY KEY (side_id, technique, leg)) STRICT, WITHOUT ROWID;"
    "CREATE TABLE notes (side_id INTEGER NOT NULL, place INTEGER NOT NULL, text TEXT NOT NULL,"
    " PRIMARY KEY (side_id, place)) STRICT, WITHOUT ROWID;"
    "CREATE TABLE minutes (bout_id INTEGER NOT NULL, period INTEGER NOT NULL,"
    " minute INTEGER NOT NULL, red INTEGER NOT NULL, blue INTEGER NOT NULL,"
    " PRIMARY KEY (bout_id, period, minute)) STRICT, WITHOUT ROWID;"
    "CREATE TABLE course (bout_id INTEGER NOT NULL, style TEXT NOT NULL,"
    " length_ms INTEGER NOT NULL, minutes INTEGER NOT NULL, behind INTEGER NOT NULL,"
    " came_back INTEGER NOT NULL, PRIMARY KEY (bout_id, minutes)) STRICT, WITHOUT ROWID;"
    /* What the course of all bouts adds up to, kept by the two triggers below. */
    "CREATE TABLE positions (style TEXT NOT NULL, length_ms INTEGER NOT NULL,"
    " minutes INTEGER NOT NULL, behind INTEGER NOT NULL, bouts INTEGER NOT NULL,"
    " came_back INTEGER NOT NULL, PRIMARY KEY (style, length_ms, minutes, behind))"
    " STRICT, WITHOUT ROWID;"
    "CREATE TRIGGER course_added AFTER INSERT ON course BEGIN"
    " INSERT INTO positions VALUES (new.style, new.length_ms, new.minutes, new.behind, 1,"
    " new.came_back) ON CONFLICT DO UPDATE SET bouts = bouts + 1,"
    " came_back = came_back + excluded.came_back; END;"
    "CREATE TRIGGER course_removed AFTER DELETE ON course BEGIN"
    " UPDATE positions SET bouts = bouts - 1, came_back = came_back - old.came_back"
    " WHERE style = old.style AND length_ms = old.length_ms AND minutes = old.minutes"
    " AND behind = old.behind; END;"
    "CREATE TRIGGER bout_removed AFTER DELETE ON bouts BEGIN"
    " DELETE FROM attempts WHERE side_id BETWEEN 2 * old.id AND 2 * old.id + 1;"
    " DELETE FROM notes WHERE side_id BETWEEN 2 * old.id AND 2 * old.id + 1;"
    " DELETE FROM sides WHERE id BETWEEN 2 * old.id AND 2 * old.id + 1;"
    " DELETE FROM minutes WHERE bout_id = old.id;"
    " DELETE FROM course WHERE bout_id = old.id; END;";

/* ---- failures ---- */

static int code_of(int result)
{
    if (result == SQLITE_IOERR_NOMEM)
        return UV_ENOMEM;
    switch (result & 0xff) {
    case SQLITE_NOMEM:
        return UV_ENOMEM;
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return UV_EBUSY;
    case SQLITE_FULL:
        return UV_ENOSPC;
    case SQLITE_READONLY:
        return UV_EROFS;
    case SQLITE_NOTADB:
        return UV_EFTYPE;
    case SQLITE_CORRUPT:
    case SQLITE_ERROR: /* a table or column that should be there is not */
    case SQLITE_CONSTRAINT:
    case SQLITE_MISMATCH:
        return UV_EILSEQ;
    case SQLITE_CANTOPEN:
        return UV_ENOENT;
    case SQLITE_PERM:
    case SQLITE_AUTH:
        return UV_EACCES;
    default:
        return UV_EIO;
    }
}

__attribute__((format(printf, 3, 4))) static int refuse(struct archive *archive, int code,
                                                        const char *form, ...)
{
    va_list values;
    va_start(values, form);
    vsnprintf(archive->reason, sizeof archive->reason, form, values);
    va_end(values);
    return code;
}

static int damaged(struct archive *archive, const char *what)
{
    return refuse(archive, UV_EILSEQ,
                  "%s is damaged: %s; it can be made anew from the logs (boutwire archive add)",
                  archive->path, what);
}

static int foreign(struct archive *archive)
{
    return refuse(archive, UV_EFTYPE, "%s is not an archive of boutwire", archive->path);
}

int archive_fail(struct archive *archive, int result, const char *doing)
{
    int code = code_of(result);
    sqlite3 *database = archive->database;
    const char *what = database != NULL ? sqlite3_errmsg(database) : sqlite3_errstr(result);
    if (code == UV_EFTYPE)
        return foreign(archive);
    if (code == UV_EILSEQ)
        return damaged(archive, what);
    return refuse(archive, code, "%s can't be %s: %s", archive->path, doing, what);
}

const char *archive_reason(const struct archive *archive)
{
    return archive->reason;
}

/* ---- statements ---- */

static int execute(struct archive *archive, const char *sql, const char *doing)
{
    int result = sqlite3_exec(archive->database, sql, NULL, NULL, NULL);
    return result == SQLITE_OK ? 0 : archive_fail(archive, result, doing);
}

int archive_run(struct archive *archive, enum statement statement)
{
    sqlite3_stmt *prepared = archive->statements[statement];
    int result = sqlite3_step(prepared);
    int code = result == SQLITE_DONE ? 0 : archive_fail(archive, result, "written");
    (void)sqlite3_reset(prepared); /* tells the same failure once more */
    return code;
}

void archive_bind_text(struct archive *archive, enum statement statement, int place,
                       const char *text)
{
    (void)sqlite3_bind_text(archive->statements[statement], place, text, -1, SQLITE_STATIC);
}

void archive_bind_integer(struct archive *archive, enum statement statement, int place,
                          int64_t value)
{
    int result = sqlite3_bind_int64(archive->statements[statement], place, value);
    assert(result == SQLITE_OK); /* it takes no memory, and the place is right */
}

void archive_bind_nothing(struct archive *archive, enum statement statement, int place)
{
    int result = sqlite3_bind_null(archive->statements[statement], place);
    assert(result == SQLITE_OK);
}

static int prepare(struct archive *archive)
{
    static const char *const sql[] = {
#define X(name, sql) sql,
        STATEMENTS(X)
#undef X
    };
    for (unsigned i = 0; i < STATEMENT_COUNT_OF_ALL; i++) {
        int result = sqlite3_prepare_v3(archive->database, sql[i], -1, SQLITE_PREPARE_PERSISTENT,
                                        &archive->statements[i], NULL);
        if (result != SQLITE_OK)
            return archive_fail(archive, result, "read");
    }
    return 0;
}

/* ---- opening ---- */

/* The one value that a statement answers; as text, or "" where it is none. */
static int read_text(struct archive *archive, const char *sql, char *text, size_t size)
{
    sqlite3_stmt *statement = NULL;
    int result = sqlite3_prepare_v2(archive->database, sql, -1, &statement, NULL);
    if (result == SQLITE_OK)
        result = sqlite3_step(statement);
    const unsigned char *value = result == SQLITE_ROW ? sqlite3_column_text(statement, 0) : NULL;
    snprintf(text, size, "%s", value != NULL ? (const char *)value : "");
    int code = result == SQLITE_ROW ? 0 : archive_fail(archive, result, "read");
    (void)sqlite3_finalize(statement);
    return code;
}

static int read_number(struct archive *archive, const char *sql, int64_t *number)
{
    char text[32];
    int code = read_text(archive, sql, text, sizeof text);
    *number = strtoll(text, NULL, 10);
    return code;
}

static int open_file(struct archive *archive, enum archive_use use)
{
    assert(sqlite3_threadsafe() != 0);
    int flags = use == ARCHIVE_WRITE ? SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE
                                     : SQLITE_OPEN_READWRITE; /* to share the log of a writer */
    int result =
        sqlite3_open_v2(archive->path, &archive->database, flags | SQLITE_OPEN_NOMUTEX, NULL);
    if (result == SQLITE_OK)
        result = sqlite3_extended_result_codes(archive->database, 1);
    if (result == SQLITE_OK)
        result = sqlite3_busy_timeout(archive->database, BUSY_MS);
    return result == SQLITE_OK ? 0 : archive_fail(archive, result, "opened");
}

static int identify(struct archive *archive, bool *is_new)
{
    int64_t application = 0, format = 0, names = 0;
    int code = read_number(archive, "PRAGMA application_id", &application);
    if (code == 0)
        code = read_number(archive, "PRAGMA user_version", &format);
    if (code == 0)
        code = read_number(archive, "SELECT count(*) FROM sqlite_schema", &names);
    if (code != 0)
        return code;
    *is_new = application == 0 && format == 0 && names == 0;
    if (*is_new)
        return 0;
    if (application != APPLICATION_ID)
        return foreign(archive);
    if (format != FORMAT)
        return refuse(archive, UV_EFTYPE,
                      "%s has format %lld, and this program knows format %d only; it can be made "
                      "anew from the logs (boutwire archive add)",
                      archive->path, (long long)format, FORMAT);
    return 0;
}

/* Two processes may come to a new file at once: the second finds the tables made. */
static int make(struct archive *archive)
{
    char numbers[100];
    bool is_new = false;
    int code = execute(archive, "PRAGMA journal_mode=WAL; BEGIN IMMEDIATE", "made");
    if (code == 0)
        code = identify(archive, &is_new);
    if (code == 0 && is_new)
        code = execute(archive, tables, "made");
    snprintf(numbers, sizeof numbers, "PRAGMA application_id=%d; PRAGMA user_version=%d; COMMIT",
             APPLICATION_ID, FORMAT);
    return code == 0 ? execute(archive, is_new ? numbers : "COMMIT", "made") : code;
}

static int check(struct archive *archive)
{
    char answer[200];
    int code = read_text(archive, "PRAGMA quick_check(1)", answer, sizeof answer);
    const char *newline = strchr(answer, '\n'); /* what comes before it names the database */
    if (code == 0 && strcmp(answer, "ok") != 0)
        code = damaged(archive, newline != NULL ? newline + 1 : answer);
    return code;
}

/* What is lost with a power cut can be made again, so nothing waits for the disk. */
static const char settings[] = "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL;"
                               "PRAGMA cell_size_check=ON; PRAGMA cache_size=-16000;"
                               "PRAGMA temp_store=MEMORY; PRAGMA recursive_triggers=ON";

static int open_all(struct archive *archive, enum archive_use use)
{
    bool is_new = false;
    int code = open_file(archive, use);
    if (code == 0)
        code = identify(archive, &is_new);
    if (code == 0 && is_new)
        code = use == ARCHIVE_WRITE ? make(archive) : foreign(archive);
    if (code == 0)
        code = execute(archive, settings, "set up");
    if (code == 0)
        code = check(archive);
    return code == 0 ? prepare(archive) : code;
}

int archive_open(struct archive **opened, const char *path, enum archive_use use, char *reason,
                 size_t reason_size)
{
    struct archive *archive = calloc(1, sizeof *archive + strlen(path) + 1);
    if (archive == NULL) {
        snprintf(reason, reason_size, "%s can't be opened: out of memory", path);
        return UV_ENOMEM;
    }
    memcpy(archive->path, path, strlen(path) + 1);
    int code = open_all(archive, use);
    if (code == 0) {
        *opened = archive;
        return 0;
    }
    snprintf(reason, reason_size, "%s", archive->reason);
    archive_close(archive);
    return code;
}

void archive_close(struct archive *archive)
{
    if (archive == NULL)
        return;
    for (unsigned i = 0; i < STATEMENT_COUNT_OF_ALL; i++)
        (void)sqlite3_finalize(archive->statements[i]);
    int result = sqlite3_close(archive->database);
    assert(result == SQLITE_OK); /* nothing of it is left open */
    free(archive);
}
