/* The normal course of store_open: hold the file, mend it if it needs that, open it, see whose file
 * it is, check everything or make the tables if it is new, move what the log beside it holds into
 * it, prepare the statements. Any step that fails leaves one sentence in `reason`. The two ways of
 * opening for reading take some of the same steps, and none that writes. */
#include "journal/store_parts.h"
#include <assert.h>
#include <errno.h>
#include <sqlite3.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "journal/checksum.h"
#include "journal/files.h"
#include "journal/hold.h"
#include "journal/mend.h"
#include "journal/wal.h"

enum {
    APPLICATION_ID = 0x626f7574, /* "bout", in the file's header */
    FORMAT = 1,                  /* its user_version; a change that old daemons can't read adds 1 */
    CHECKPOINT_PAGES = 1000,
    BUSY_MS = 5000, /* for another program that locks the file a moment */
};

struct store {
    sqlite3 *database;
    sqlite3_stmt *begin, *insert, *latest, *alive, *keep, *replaced, *commit, *rollback;
    int hold; /* see hold.h; -1: not held */
    int log_pages;
    bool durable;
    bool is_foreign;        /* the last failure: it didn't look like one of ours */
    bool leave_log;         /* when it is closed: it was not ours to move */
    size_t unfinished_size; /* of what stood after the log's last commit */
    uint64_t last_seq;
    uint64_t told_seq; /* by the row about the last event; 0: no such row */
    bool reads_all; /* reading must come to that one: nothing else has looked whether it is there */
    uint64_t added_seq; /* the last of this transaction; 0: none */
    bool has_kept;      /* the table is there */
    uint64_t kept_id;   /* the highest */
    int64_t alive_at_ms;
    int unsafe;
    char epoch[STORE_EPOCH_SIZE];
    char reason[STORE_REASON_SIZE], notice[STORE_REASON_SIZE];
    char path[];
};

/* ---- failures ---- */

static int code_of(int result)
{
    if (result == SQLITE_IOERR_NOMEM)
        return UV_ENOMEM;
    switch (result & 0xff) {
    case SQLITE_OK:
    case SQLITE_DONE:
        return 0;
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
        return UV_EILSEQ;
    case SQLITE_CANTOPEN:
        return UV_ENOENT;
    case SQLITE_PERM:
    case SQLITE_AUTH:
        return UV_EACCES;
    case SQLITE_TOOBIG:
        return UV_E2BIG;
    default:
        return UV_EIO;
    }
}

__attribute__((format(printf, 3, 4))) static int refuse(struct store *store, int code,
                                                        const char *form, ...)
{
    va_list values;
    va_start(values, form);
    vsnprintf(store->reason, sizeof store->reason, form, values);
    va_end(values);
    return code;
}

static int damaged(struct store *store, const char *what)
{
    return refuse(store, UV_EILSEQ, "%s is damaged: %s", store->path, what);
}

static int foreign(struct store *store)
{
    store->is_foreign = true;
    return refuse(store, UV_EFTYPE, "%s is not a store of boutwire", store->path);
}

/* Tells what SQLite answered while we were `doing` something ("opened", "written"). It often
 * doesn't say what the system answered: errno does, if it was 0 before. */
static int refuse_result(struct store *store, int result, const char *doing)
{
    int code = code_of(result);
    if (code == UV_EBUSY)
        return refuse(store, code, "%s is in use: another program has locked it", store->path);
    if (code == UV_EFTYPE)
        return foreign(store);
    sqlite3 *database = store->database;
    const char *what = database == NULL ? sqlite3_errstr(result) : sqlite3_errmsg(database);
    if (code == UV_EILSEQ)
        return damaged(store, what);
    int system = errno != 0 ? uv_translate_sys_error(errno) : 0;
    if (system == 0 && database != NULL)
        system = uv_translate_sys_error(sqlite3_system_errno(database));
    if (system == 0 || (code != UV_EIO && code != UV_ENOENT))
        return refuse(store, code, "%s can't be %s: %s", store->path, doing, what);
    return refuse(store, code == UV_ENOENT ? system : code, "%s can't be %s: %s (%s)", store->path,
                  doing, what, uv_strerror(system));
}

/* ---- statements ---- */

static int execute(struct store *store, const char *sql, const char *doing)
{
    errno = 0;
    int result = sqlite3_exec(store->database, sql, NULL, NULL, NULL);
    return result == SQLITE_OK ? 0 : refuse_result(store, result, doing);
}

static int prepare(struct store *store, sqlite3_stmt **statement, const char *sql)
{
    int result =
        sqlite3_prepare_v3(store->database, sql, -1, SQLITE_PREPARE_PERSISTENT, statement, NULL);
    return result == SQLITE_OK ? 0 : refuse_result(store, result, "read");
}

/* Runs a statement that answers no rows. */
static int run(struct store *store, sqlite3_stmt *statement)
{
    errno = 0;
    int result = sqlite3_step(statement);
    if (result != SQLITE_DONE)
        refuse_result(store, result, "written");
    int again = sqlite3_reset(statement); /* tells the same failure once more */
    assert(again == SQLITE_OK || result != SQLITE_DONE);
    return result == SQLITE_DONE ? 0 : code_of(result);
}

/* The first value of the first row, which there must be, as text. */
static int read_text(struct store *store, const char *sql, char *text, size_t size)
{
    sqlite3_stmt *statement = NULL;
    errno = 0;
    int code = prepare(store, &statement, sql);
    if (code != 0)
        return code;
    int result = sqlite3_step(statement);
    bool is_null = result == SQLITE_ROW && sqlite3_column_type(statement, 0) == SQLITE_NULL;
    const unsigned char *value = result == SQLITE_ROW ? sqlite3_column_text(statement, 0) : NULL;
    if (value != NULL)
        snprintf(text, size, "%s", (const char *)value);
    else if (is_null)
        code = refuse(store, UV_EILSEQ, "%s is damaged: nothing in %s", store->path, sql);
    else if (result == SQLITE_ROW)
        code = refuse_result(store, SQLITE_NOMEM, "read");
    else if (result == SQLITE_DONE)
        code = refuse(store, UV_EILSEQ, "%s is damaged: no answer to %s", store->path, sql);
    else
        code = refuse_result(store, result, "read");
    int finished = sqlite3_finalize(statement);
    if (code == 0 && finished != SQLITE_OK)
        code = refuse_result(store, finished, "read");
    return code;
}

static int read_number(struct store *store, const char *sql, int64_t *number)
{
    char text[32];
    int code = read_text(store, sql, text, sizeof text);
    if (code == 0)
        *number = strtoll(text, NULL, 10);
    return code;
}

/* ---- opening ---- */

/* A store is a file, and its name is taken as it stands. */
static int name_check(struct store *store)
{
    bool names_none = store->path[0] == '\0' || strcmp(store->path, ":memory:") == 0 ||
                      strncmp(store->path, "file:", 5) == 0;
    return names_none
               ? refuse(store, UV_ENOTSUP, "\"%s\" is no name for a store's file", store->path)
               : 0;
}

static int hold_file(struct store *store, bool alone)
{
    int code = hold_take(&store->hold, store->path, alone);
    if (code == UV_EBUSY)
        return refuse(store, code, "%s is in use: another daemon holds this store", store->path);
    if (code == UV_EAGAIN)
        return refuse(store, code, "%s is in use: it is being looked through", store->path);
    return code == 0
               ? 0
               : refuse(store, code, "%s can't be opened: %s", store->path, uv_strerror(code));
}

/* What stands after the log's last commit is no damage: it is what was being written at the end. */
static int look_at_log(struct store *store)
{
    struct wal log;
    int code = wal_read(&log, store->path, 0);
    store->unfinished_size = log.state == WAL_UNFINISHED ? log.unfinished_size : 0;
    store->leave_log = log.size > 0;
    wal_close(&log);
    return code == 0 ? 0
                     : refuse(store, code, "the log beside %s can't be read: %s", store->path,
                              uv_strerror(code));
}

static int open_file(struct store *store, int flags)
{
    assert(sqlite3_threadsafe() != 0);
    errno = 0;
    int result = sqlite3_open_v2(store->path, &store->database,
                                 SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX | flags, NULL);
    if (result == SQLITE_OK)
        result = sqlite3_extended_result_codes(store->database, 1);
    if (result == SQLITE_OK)
        result = sqlite3_busy_timeout(store->database, BUSY_MS);
    if (result == SQLITE_OK && file_size(store->path) == 1) /* SQLite would take it for empty */
        return foreign(store);
    return result == SQLITE_OK ? 0 : refuse_result(store, result, "opened");
}

static int expect_writable(struct store *store)
{
    if (sqlite3_db_readonly(store->database, "main") != 1)
        return 0;
    return refuse(store, UV_EROFS, "%s can only be read, and a daemon must write its store",
                  store->path);
}

static int identify(struct store *store, bool *is_new)
{
    int64_t application = 0, format = 0, tables = 0;
    int code = read_number(store, "PRAGMA application_id", &application);
    if (code == 0)
        code = read_number(store, "PRAGMA user_version", &format);
    if (code == 0)
        code = read_number(store, "SELECT count(*) FROM sqlite_schema", &tables);
    if (code != 0)
        return code;
    *is_new = application == 0 && format == 0 && tables == 0;
    if (*is_new)
        return 0;
    if (application != APPLICATION_ID)
        return foreign(store);
    if (format != FORMAT)
        return refuse(store, UV_EFTYPE, "%s has format %lld, and this daemon knows format %d only",
                      store->path, (long long)format, FORMAT);
    return 0;
}

/* Opened so before the log is first looked at, SQLite keeps the log's index in memory. */
static int open_for_itself(struct store *store)
{
    int result = sqlite3_close(store->database);
    assert(result == SQLITE_OK);
    store->database = NULL;
    int code = open_file(store, 0);
    return code == 0 ? execute(store, "PRAGMA locking_mode=EXCLUSIVE", "opened") : code;
}

/* The log's index is a file that all who read share. A disk too full for it doesn't keep a daemon
 * from starting: it can have the index for itself, and nobody else may read meanwhile. */
static int identify_alone(struct store *store, bool *is_new)
{
    int code = identify(store, is_new);
    if (code != UV_EIO && code != UV_ENOSPC)
        return code;
    code = open_for_itself(store);
    if (code == 0)
        code = identify(store, is_new);
    if (code == 0)
        snprintf(store->notice, sizeof store->notice,
                 "%s has no room beside it: backup and export must wait until the next start",
                 store->path);
    return code;
}

static int expect_setting(struct store *store, const char *sql, const char *want)
{
    char got[32];
    int code = read_text(store, sql, got, sizeof got);
    if (code == 0 && strcmp(got, want) != 0)
        code = refuse(store, UV_ENOTSUP, "%s can't be used: %s answered %s", store->path, sql, got);
    return code;
}

static int set_durable(struct store *store, bool durable)
{
    if (durable == store->durable)
        return 0;
    int code =
        execute(store, durable ? "PRAGMA synchronous=FULL" : "PRAGMA synchronous=NORMAL", "set up");
    if (code == 0)
        store->durable = durable;
    return code;
}

static int note_log_pages(void *context, sqlite3 *database, const char *name, int pages)
{
    (void)database;
    (void)name;
    struct store *store = context;
    store->log_pages = pages;
    return SQLITE_OK;
}

static int set_up(struct store *store)
{
    int code = set_durable(store, true);
    if (code == 0)
        code = expect_setting(store, "PRAGMA synchronous", "2"); /* FULL */
    if (code == 0)
        code = expect_setting(store, "PRAGMA journal_mode=WAL", "wal");
    if (code == 0)
        code = execute(store, "PRAGMA cell_size_check=ON", "set up");
    (void)sqlite3_wal_hook(store->database, note_log_pages, store); /* instead of its own habit */
    return code;
}

static int make_epoch(struct store *store)
{
    unsigned char random[(STORE_EPOCH_SIZE - 1) / 2];
    int code = uv_random(NULL, NULL, random, sizeof random, 0, NULL);
    if (code != 0)
        return refuse(store, code, "%s can't be made: no random numbers, %s", store->path,
                      uv_strerror(code));
    for (size_t i = 0; i < sizeof random; i++)
        snprintf(store->epoch + 2 * i, 3, "%02x", random[i]);
    return 0;
}

static const char latest_table[] =
    "CREATE TABLE latest (only INTEGER PRIMARY KEY CHECK (only = 1), seq INTEGER NOT NULL,"
    " checksum INTEGER NOT NULL) STRICT;";

/* A text that is kept again is a new row, and the old one goes: so the highest number holds,
 * wherever on the disk an old row can still be read. */
static const char kept_table[] =
    "CREATE TABLE kept (id INTEGER PRIMARY KEY, name TEXT NOT NULL, text TEXT NOT NULL,"
    " checksum INTEGER NOT NULL) STRICT;";

/* The events come last: so a file that is cut short has lost them from the end, and still knows its
 * life and what is missing. */
static int make_tables(struct store *store)
{
    char sql[1400];
    snprintf(
        sql, sizeof sql,
        "BEGIN EXCLUSIVE;"
        "CREATE TABLE life (only INTEGER PRIMARY KEY CHECK (only = 1), epoch TEXT NOT NULL,"
        " alive_at_ms INTEGER NOT NULL, checksum INTEGER NOT NULL) STRICT;"
        "INSERT INTO life VALUES (1, '%s', %lld, %lld);"
        "%s INSERT INTO latest VALUES (1, 0, %lld);"
        "%s "
        "CREATE TABLE events (seq INTEGER PRIMARY KEY, text TEXT NOT NULL,"
        " checksum INTEGER NOT NULL) STRICT;"
        "PRAGMA application_id=%d;"
        "PRAGMA user_version=%d;"
        "COMMIT",
        store->epoch, (long long)store->alive_at_ms,
        (long long)checksum_of((uint64_t)store->alive_at_ms, store->epoch, strlen(store->epoch)),
        latest_table, (long long)store_latest_checksum(0), kept_table, APPLICATION_ID, FORMAT);
    return execute(store, sql, "made");
}

/* A store of before there was such a row; older daemons leave it alone. */
static int make_latest(struct store *store)
{
    char sql[400];
    snprintf(sql, sizeof sql, "BEGIN IMMEDIATE; %s INSERT INTO latest VALUES (1, 0, %lld); COMMIT",
             latest_table, (long long)store_latest_checksum(0));
    return execute(store, sql, "made");
}

/* Likewise. */
static int make_kept(struct store *store)
{
    int code = store->has_kept ? 0 : execute(store, kept_table, "made");
    store->has_kept = store->has_kept || code == 0;
    return code;
}

/* Events from the end are missing: that was told, and the log goes on from what is there. */
static int correct_latest(struct store *store)
{
    char sql[200];
    snprintf(sql, sizeof sql, "UPDATE latest SET seq = %llu, checksum = %lld",
             (unsigned long long)store->last_seq,
             (long long)store_latest_checksum(store->last_seq));
    return execute(store, sql, "written");
}

int64_t store_latest_checksum(uint64_t last_seq)
{
    return checksum_of(last_seq, "latest", sizeof "latest" - 1);
}

int64_t store_kept_checksum(uint64_t id, const char *name, size_t name_size, const char *text,
                            size_t text_size)
{
    return checksum_of((uint64_t)checksum_of(id, name, name_size), text, text_size);
}

static int check_structure(struct store *store)
{
    char answer[120];
    int code = read_text(store, "PRAGMA quick_check(1)", answer, sizeof answer);
    return code != 0 || strcmp(answer, "ok") == 0 ? code : damaged(store, answer);
}

static int count_row(void *context, const struct journal_row *row)
{
    struct store *store = context;
    store->last_seq = row->seq;
    return 0;
}

static int read_life(struct store *store)
{
    int64_t checksum = 0;
    int code = read_text(store, "SELECT epoch FROM life", store->epoch, sizeof store->epoch);
    if (code == 0)
        code = read_number(store, "SELECT alive_at_ms FROM life", &store->alive_at_ms);
    if (code == 0)
        code = read_number(store, "SELECT checksum FROM life", &checksum);
    if (code == 0 &&
        checksum != checksum_of((uint64_t)store->alive_at_ms, store->epoch, strlen(store->epoch)))
        code = damaged(store, "the row about its life is not as it was written");
    return code;
}

static int read_latest(struct store *store, bool *has_row)
{
    int64_t seq = 0, checksum = 0;
    int code = read_number(
        store, "SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name = 'latest'", &seq);
    *has_row = seq != 0;
    if (code != 0 || !*has_row)
        return code;
    code = read_number(store, "SELECT seq FROM latest", &seq);
    if (code == 0)
        code = read_number(store, "SELECT checksum FROM latest", &checksum);
    if (code != 0)
        return code;
    if (checksum != store_latest_checksum((uint64_t)seq))
        return damaged(store, "the row about its last event is not as it was written");
    store->told_seq = (uint64_t)seq;
    return 0;
}

static int pass_kept(void *context, const struct kept *kept)
{
    (void)context;
    (void)kept;
    return 0;
}

static int look_through(struct store *store, bool *has_latest)
{
    int code = check_structure(store);
    if (code == 0)
        code = store_read(store, count_row, store);
    if (code == 0)
        code = read_life(store);
    if (code == 0)
        code = store_read_kept(store, pass_kept, NULL);
    return code == 0 ? read_latest(store, has_latest) : code;
}

/* ---- what the opening found ---- */

static void notice_missing(const struct store *store, char *text, size_t size)
{
    uint64_t first = store->last_seq + 1, last = store->told_seq;
    if (first == last)
        snprintf(text, size, "event %llu, the last, is lost", (unsigned long long)last);
    else
        snprintf(text, size, "events %llu to %llu, the last, are lost", (unsigned long long)first,
                 (unsigned long long)last);
}

/* What mending said comes first; nothing can be said after it that it didn't see. */
static void notice_end(struct store *store)
{
    char missing[80];
    if (store->notice[0] != '\0')
        return;
    if (store->told_seq > store->last_seq) {
        notice_missing(store, missing, sizeof missing);
        snprintf(store->notice, sizeof store->notice, "%s is damaged: %s", store->path, missing);
    } else if (store->unfinished_size > 0) {
        snprintf(store->notice, sizeof store->notice,
                 "the log beside %s ends in %zu bytes of an unfinished commit: what was being "
                 "written after event %llu is not there",
                 store->path, store->unfinished_size, (unsigned long long)store->last_seq);
    }
}

/* What the log beside the store holds may have been read from memory that the disk never had, if a
 * sync failed before this start. Moved into the database and synced there, it is safe, and the log
 * begins anew; a later event would else go on from what a power cut may take away. */
static int settle(struct store *store)
{
    errno = 0;
    int result =
        sqlite3_wal_checkpoint_v2(store->database, NULL, SQLITE_CHECKPOINT_TRUNCATE, NULL, NULL);
    int code = code_of(result);
    if (code == UV_EBUSY)
        return refuse(store, code, "%s is in use: it is being copied or exported", store->path);
    if (code == UV_ENOMEM)
        return refuse_result(store, result, "brought up to date");
    store->unsafe = code;
    if (code != 0)
        refuse_result(store, result, "brought up to date");
    return 0;
}

/* ---- opening ---- */

static int prepare_all(struct store *store)
{
    int code = prepare(store, &store->begin, "BEGIN IMMEDIATE");
    if (code == 0)
        code = prepare(store, &store->insert, "INSERT INTO events VALUES (?1, ?2, ?3)");
    if (code == 0)
        code = prepare(store, &store->latest, "UPDATE latest SET seq = ?1, checksum = ?2");
    if (code == 0)
        code = prepare(store, &store->alive, "UPDATE life SET alive_at_ms = ?1, checksum = ?2");
    if (code == 0 && store->has_kept)
        code = prepare(store, &store->keep, "INSERT INTO kept VALUES (?1, ?2, ?3, ?4)");
    if (code == 0 && store->has_kept)
        code = prepare(store, &store->replaced, "DELETE FROM kept WHERE name = ?1 AND id < ?2");
    if (code == 0)
        code = prepare(store, &store->commit, "COMMIT");
    if (code == 0)
        code = prepare(store, &store->rollback, "ROLLBACK");
    return code;
}

/* A new store has its tables in its own file at once: were the log beside it lost, what is left
 * would else look like a store that was never used. */
static int open_new(struct store *store)
{
    int code = store->epoch[0] == '\0' ? make_epoch(store) : 0;
    if (code == 0)
        code = make_tables(store);
    store->has_kept = code == 0;
    if (code == 0)
        code = settle(store);
    return code == 0 ? store->unsafe : code;
}

static int open_old(struct store *store)
{
    bool has_latest = false;
    int code = look_through(store, &has_latest);
    if (code == 0)
        notice_end(store);
    if (code == 0)
        code = settle(store);
    if (code == 0 && store->unsafe == 0 && !has_latest)
        code = make_latest(store);
    else if (code == 0 && store->unsafe == 0 && store->told_seq > store->last_seq)
        code = correct_latest(store);
    if (code == 0 && store->unsafe == 0)
        code = make_kept(store);
    return code;
}

static int open_database(struct store *store)
{
    bool is_new = false;
    int code = open_file(store, SQLITE_OPEN_CREATE);
    if (code == 0)
        code = expect_writable(store);
    if (code == 0)
        code = identify_alone(store, &is_new);
    if (code == 0)
        code = set_up(store);
    if (code == 0)
        code = is_new ? open_new(store) : open_old(store);
    return code == 0 ? prepare_all(store) : code;
}

static int open_to_write(struct store *store)
{
    int code = name_check(store);
    if (code == 0)
        code = hold_file(store, true);
    if (code == 0)
        code = mend(store->path, &store->hold, store->notice, sizeof store->notice, store->reason,
                    sizeof store->reason);
    if (code == 0)
        code = look_at_log(store);
    store->leave_log = false; /* it is ours now */
    return code == 0 ? open_database(store) : code;
}

/* From its first read on, what is read is one moment of the store. */
static int open_snapshot(struct store *store)
{
    bool is_new = false;
    int code = open_file(store, 0);
    if (code == 0)
        code = execute(store, "PRAGMA query_only=ON; PRAGMA cell_size_check=ON; BEGIN", "read");
    if (code == 0)
        code = identify(store, &is_new);
    return code == 0 && is_new ? foreign(store) : code;
}

/* Whoever holds the store has looked through it; while nobody does, it must be done here. */
static int open_to_read(struct store *store)
{
    bool has_latest = false;
    int code = name_check(store);
    if (code == 0)
        code = hold_file(store, false);
    bool daemon_holds = code == UV_EBUSY;
    if (code == 0)
        code = mend_look(store->path, store->reason, sizeof store->reason);
    if (code == 0)
        code = look_at_log(store);
    store->leave_log = store->leave_log || daemon_holds;
    if (code == 0 || daemon_holds)
        code = open_snapshot(store);
    if (code == 0)
        code = read_latest(store, &has_latest);
    if (code == 0)
        code = read_life(store);
    store->reads_all = true;
    if (code == 0 && !daemon_holds)
        hold_let_go(store->hold);
    return code;
}

static int open_to_check(struct store *store)
{
    bool has_latest = false;
    int code = name_check(store);
    if (code == 0)
        code = hold_file(store, false);
    if (code == 0)
        code = mend_look(store->path, store->reason, sizeof store->reason);
    if (code == 0)
        code = look_at_log(store);
    if (code == 0)
        code = open_snapshot(store);
    if (code == 0)
        code = look_through(store, &has_latest);
    if (code != 0)
        return code;
    if (store->told_seq > store->last_seq) {
        char missing[80];
        notice_missing(store, missing, sizeof missing);
        return damaged(store, missing);
    }
    notice_end(store);
    return 0;
}

enum { LOOKED_AT = 72 }; /* bytes of the first page: its first words, and whose it is */

static bool first_page_read(const char *path, unsigned char page[LOOKED_AT])
{
    FILE *file = file_is_plain(path) ? fopen(path, "rbe") : NULL;
    bool has_page = file != NULL && fread(page, LOOKED_AT, 1, file) == 1;
    if (file != NULL)
        fclose(file);
    return has_page;
}

static bool has_our_id(const unsigned char *page)
{
    static const unsigned char id[] = {APPLICATION_ID >> 24, APPLICATION_ID >> 16 & 0xff,
                                       APPLICATION_ID >> 8 & 0xff, APPLICATION_ID & 0xff};
    return memcmp(page + 68, id, sizeof id) == 0;
}

bool store_has_id(const char *path)
{
    unsigned char page[LOOKED_AT];
    return first_page_read(path, page) && has_our_id(page);
}

bool store_is_one(const char *path)
{
    unsigned char page[LOOKED_AT];
    return first_page_read(path, page) &&
           (has_our_id(page) || memcmp(page, "SQLite format 3", 16) == 0);
}

/* A failure that tells of damage tells what is lost too. */
static int tell_loss(struct store *store, int code)
{
    bool told = strstr(store->reason, " can be read") != NULL;
    bool damaged_one = code == UV_EILSEQ || (store->is_foreign && store_is_one(store->path));
    if (told || !damaged_one)
        return code;
    char loss[STORE_REASON_SIZE];
    snprintf(loss, sizeof loss, "%s is damaged: its first page is not as it was written",
             store->path);
    char *sentence = store->is_foreign ? loss : store->reason;
    if (!mend_tell_loss(store->path, sentence, STORE_REASON_SIZE))
        return code;
    if (store->is_foreign)
        snprintf(store->reason, sizeof store->reason, "%s", loss);
    return UV_EILSEQ;
}

static struct store *store_new(const char *path, char *reason, size_t reason_size)
{
    size_t size = strlen(path) + 1;
    struct store *store = calloc(1, sizeof *store + size);
    if (store == NULL) {
        snprintf(reason, reason_size, "%s can't be opened: out of memory", path);
        return NULL;
    }
    memcpy(store->path, path, size);
    store->hold = -1;
    return store;
}

static int open_with(int (*steps)(struct store *store), struct store **opened, const char *path,
                     char *reason, size_t reason_size)
{
    struct store *store = store_new(path, reason, reason_size);
    if (store == NULL)
        return UV_ENOMEM;
    int code = steps(store);
    if (code == 0) {
        *opened = store;
        return 0;
    }
    code = tell_loss(store, code);
    snprintf(reason, reason_size, "%s", store->reason);
    store_close(store, false);
    return code;
}

int store_open(struct store **opened, const char *path, char *reason, size_t reason_size)
{
    return open_with(open_to_write, opened, path, reason, reason_size);
}

int store_open_reading(struct store **opened, const char *path, char *reason, size_t reason_size)
{
    return open_with(open_to_read, opened, path, reason, reason_size);
}

int store_open_checking(struct store **opened, const char *path, char *reason, size_t reason_size)
{
    return open_with(open_to_check, opened, path, reason, reason_size);
}

void store_close(struct store *store, bool sound)
{
    if (store == NULL)
        return;
    sqlite3_stmt *statements[] = {store->begin, store->insert,   store->latest, store->alive,
                                  store->keep,  store->replaced, store->commit, store->rollback};
    for (size_t i = 0; i < sizeof statements / sizeof *statements; i++)
        (void)sqlite3_finalize(statements[i]); /* tells again what was told before */
    bool leave_log = !sound || store->unsafe != 0 || store->leave_log;
    if (leave_log && store->database != NULL)
        (void)sqlite3_db_config(store->database, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, NULL);
    int result = sqlite3_close(store->database);
    assert(result == SQLITE_OK); /* else a statement was forgotten */
    hold_close(store->hold);
    free(store);
}

/* ---- reading ---- */

static int row_check(struct store *store, const struct journal_row *row, uint64_t seq,
                     int64_t checksum)
{
    char what[80];
    if (row->seq != seq)
        snprintf(what, sizeof what, "event %llu is missing", (unsigned long long)seq);
    else if (checksum != checksum_of(seq, row->text, row->size))
        snprintf(what, sizeof what, "event %llu is not as it was written", (unsigned long long)seq);
    else
        return 0;
    return damaged(store, what);
}

static int row_read(struct store *store, sqlite3_stmt *statement, uint64_t seq,
                    struct journal_row *row)
{
    static const char nothing[] = "";
    bool is_null =
        sqlite3_column_type(statement, 1) == SQLITE_NULL; /* by damage: none was written */
    row->seq = (uint64_t)sqlite3_column_int64(statement, 0);
    row->text = is_null ? nothing : (const char *)sqlite3_column_text(statement, 1);
    row->size = (size_t)sqlite3_column_bytes(statement, 1);
    if (row->text == NULL)
        return refuse_result(store, SQLITE_NOMEM, "read");
    return row_check(store, row, seq, sqlite3_column_int64(statement, 2));
}

static int read_missing(struct store *store, uint64_t last)
{
    char missing[80];
    if (!store->reads_all || last >= store->told_seq)
        return 0;
    store->last_seq = last;
    notice_missing(store, missing, sizeof missing);
    return damaged(store, missing);
}

int store_read(struct store *store, int (*each)(void *context, const struct journal_row *row),
               void *context)
{
    sqlite3_stmt *statement = NULL;
    uint64_t seq = 0;
    errno = 0;
    int code = prepare(store, &statement, "SELECT seq, text, checksum FROM events ORDER BY seq");
    if (code != 0)
        return code;
    int result = sqlite3_step(statement);
    while (code == 0 && result == SQLITE_ROW) {
        struct journal_row row;
        code = row_read(store, statement, ++seq, &row);
        if (code == 0)
            code = each(context, &row);
        if (code == 0)
            result = sqlite3_step(statement);
    }
    if (code == 0 && result != SQLITE_DONE)
        code = refuse_result(store, result, "read");
    (void)sqlite3_finalize(statement); /* tells again what was told before */
    return code == 0 ? read_missing(store, seq) : code;
}

static int kept_text(struct store *store, sqlite3_stmt *statement, int column, const char **text)
{
    *text = (const char *)sqlite3_column_text(statement, column);
    if (*text == NULL && sqlite3_column_type(statement, column) == SQLITE_NULL)
        *text = ""; /* by damage: none was written */
    return *text != NULL ? 0 : refuse_result(store, SQLITE_NOMEM, "read");
}

static int kept_read(struct store *store, sqlite3_stmt *statement, struct kept *kept)
{
    char what[120];
    kept->id = (uint64_t)sqlite3_column_int64(statement, 0);
    int code = kept_text(store, statement, 1, &kept->name);
    if (code == 0)
        code = kept_text(store, statement, 2, &kept->text);
    if (code != 0)
        return code;
    store->kept_id = kept->id > store->kept_id ? kept->id : store->kept_id;
    if (store_kept_checksum(kept->id, kept->name, strlen(kept->name), kept->text,
                            strlen(kept->text)) == sqlite3_column_int64(statement, 3))
        return 0;
    snprintf(what, sizeof what, "what is kept as %.60s is not as it was written", kept->name);
    return damaged(store, what);
}

static int kept_is_there(struct store *store)
{
    int64_t count = 0;
    int code = read_number(
        store, "SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name = 'kept'", &count);
    store->has_kept = count != 0;
    return code;
}

int store_read_kept(struct store *store, int (*each)(void *context, const struct kept *kept),
                    void *context)
{
    sqlite3_stmt *statement = NULL;
    int code = kept_is_there(store);
    if (code != 0 || !store->has_kept)
        return code;
    errno = 0;
    code = prepare(store, &statement, "SELECT id, name, text, checksum FROM kept ORDER BY id");
    int result = code == 0 ? sqlite3_step(statement) : SQLITE_DONE;
    while (code == 0 && result == SQLITE_ROW) {
        struct kept kept;
        code = kept_read(store, statement, &kept);
        if (code == 0 && kept.text[0] != '\0')
            code = each(context, &kept);
        if (code == 0)
            result = sqlite3_step(statement);
    }
    if (code == 0 && result != SQLITE_DONE)
        code = refuse_result(store, result, "read");
    (void)sqlite3_finalize(statement); /* tells again what was told before */
    return code;
}

const char *store_epoch(const struct store *store)
{
    return store->epoch;
}

int64_t store_alive_at(const struct store *store)
{
    return store->alive_at_ms;
}

uint64_t store_last_seq(const struct store *store)
{
    return store->last_seq;
}

const char *store_reason(const struct store *store)
{
    return store->reason;
}

const char *store_notice(const struct store *store)
{
    return store->notice;
}

struct sqlite3 *store_database(const struct store *store)
{
    return store->database;
}

int store_unsafe(const struct store *store)
{
    return store->unsafe;
}

/* ---- writing ---- */

/* Undoes the transaction; the first failure's reason stays the one that is told. A full disk or
 * memory before the commit has lost nothing; a transaction that can't be undone is a failure. */
static int undo(struct store *store, int code)
{
    if (sqlite3_get_autocommit(store->database) == 0) {
        int result = sqlite3_step(store->rollback);
        (void)sqlite3_reset(store->rollback);
        if (result != SQLITE_DONE)
            code = UV_EIO;
    }
    return code;
}

int store_begin(struct store *store, bool durable)
{
    assert(store->unsafe == 0);
    store->added_seq = 0;
    int code = set_durable(store, durable);
    if (code == 0)
        code = run(store, store->begin);
    return code == 0 ? 0 : undo(store, code);
}

/* Binds borrowed text; the statement is run before that goes. */
static int bind_and_run(struct store *store, sqlite3_stmt *statement, int result)
{
    int code =
        result == SQLITE_OK ? run(store, statement) : refuse_result(store, result, "written");
    (void)sqlite3_clear_bindings(statement); /* cannot fail */
    return code == 0 ? 0 : undo(store, code);
}

int store_add(struct store *store, const struct journal_row *row)
{
    int result = sqlite3_bind_int64(store->insert, 1, (sqlite3_int64)row->seq);
    if (result == SQLITE_OK)
        result =
            sqlite3_bind_text64(store->insert, 2, row->text, row->size, SQLITE_STATIC, SQLITE_UTF8);
    if (result == SQLITE_OK)
        result = sqlite3_bind_int64(store->insert, 3, checksum_of(row->seq, row->text, row->size));
    store->added_seq = row->seq;
    return bind_and_run(store, store->insert, result);
}

/* What was kept under that name before goes with the same commit. */
static int drop_replaced(struct store *store, const char *name)
{
    int result = sqlite3_bind_text(store->replaced, 1, name, -1, SQLITE_STATIC);
    if (result == SQLITE_OK)
        result = sqlite3_bind_int64(store->replaced, 2, (sqlite3_int64)store->kept_id);
    return bind_and_run(store, store->replaced, result);
}

int store_keep(struct store *store, const char *name, const char *text)
{
    uint64_t id = ++store->kept_id;
    int64_t checksum = store_kept_checksum(id, name, strlen(name), text, strlen(text));
    int result = sqlite3_bind_int64(store->keep, 1, (sqlite3_int64)id);
    if (result == SQLITE_OK)
        result = sqlite3_bind_text(store->keep, 2, name, -1, SQLITE_STATIC);
    if (result == SQLITE_OK)
        result = sqlite3_bind_text(store->keep, 3, text, -1, SQLITE_STATIC);
    if (result == SQLITE_OK)
        result = sqlite3_bind_int64(store->keep, 4, checksum);
    int code = bind_and_run(store, store->keep, result);
    return code == 0 ? drop_replaced(store, name) : code;
}

static int set_latest(struct store *store)
{
    int result = sqlite3_bind_int64(store->latest, 1, (sqlite3_int64)store->added_seq);
    if (result == SQLITE_OK)
        result = sqlite3_bind_int64(store->latest, 2, store_latest_checksum(store->added_seq));
    return bind_and_run(store, store->latest, result);
}

int store_set_alive(struct store *store, int64_t at_ms)
{
    int64_t checksum = checksum_of((uint64_t)at_ms, store->epoch, strlen(store->epoch));
    int result = sqlite3_bind_int64(store->alive, 1, at_ms);
    if (result == SQLITE_OK)
        result = sqlite3_bind_int64(store->alive, 2, checksum);
    return bind_and_run(store, store->alive, result);
}

int store_commit(struct store *store)
{
    int code = store->added_seq != 0 ? set_latest(store) : 0;
    if (code != 0)
        return code; /* undone */
    code = run(store, store->commit);
    return code == 0 ? 0 : undo(store, code);
}

bool store_wants_checkpoint(const struct store *store)
{
    return store->log_pages >= CHECKPOINT_PAGES;
}

int store_checkpoint(struct store *store)
{
    store->log_pages = 0; /* the next commit counts again: no second try before */
    errno = 0;
    int result =
        sqlite3_wal_checkpoint_v2(store->database, NULL, SQLITE_CHECKPOINT_PASSIVE, NULL, NULL);
    return result == SQLITE_OK ? 0 : refuse_result(store, result, "brought up to date");
}

/* ---- a store made at once ---- */

static int add_all(struct store *store, const struct journal_row *rows, size_t count,
                   const struct kept *kept, size_t kept_count)
{
    int code = store_begin(store, true);
    for (size_t i = 0; code == 0 && i < count; i++)
        code = store_add(store, &rows[i]);
    for (size_t i = 0; code == 0 && i < kept_count; i++)
        code = store_keep(store, kept[i].name, kept[i].text);
    return code == 0 ? store_commit(store) : code;
}

int store_make(const char *path, const char *epoch, int64_t alive_at_ms,
               const struct journal_row *rows, size_t count, const struct kept *kept,
               size_t kept_count, char *reason, size_t reason_size)
{
    struct store *store = store_new(path, reason, reason_size);
    if (store == NULL)
        return UV_ENOMEM;
    snprintf(store->epoch, sizeof store->epoch, "%s", epoch != NULL ? epoch : "");
    store->alive_at_ms = alive_at_ms;
    int code = open_database(store);
    if (code == 0)
        code = add_all(store, rows, count, kept, kept_count);
    if (code == 0)
        code = settle(store);
    if (code == 0)
        code = store->unsafe;
    if (code != 0)
        snprintf(reason, reason_size, "%s", store->reason);
    store_close(store, code == 0);
    return code;
}
