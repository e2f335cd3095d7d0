/* The normal course of store_open: open, lock, see whose file it is, make the tables if it is new,
 * check everything, prepare the statements. Any step that fails leaves one sentence in `reason`. */
#include "journal/store.h"
#include <assert.h>
#include <sqlite3.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    APPLICATION_ID = 0x626f7574, /* "bout", in the file's header */
    FORMAT = 1,                  /* its user_version; a change that old daemons can't read adds 1 */
    CHECKPOINT_PAGES = 1000,
};

struct store {
    sqlite3 *database;
    sqlite3_stmt *begin, *insert, *alive, *commit, *rollback;
    int log_pages;
    bool durable;
    uint64_t last_seq;
    int64_t alive_at_ms;
    char epoch[STORE_EPOCH_SIZE];
    char reason[STORE_REASON_SIZE];
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

/* Tells what SQLite answered while we were `doing` something ("opened", "written"). */
static int refuse_result(struct store *store, int result, const char *doing)
{
    int code = code_of(result);
    if (code == UV_EBUSY)
        return refuse(store, code, "%s is in use: another daemon holds this store", store->path);
    if (code == UV_EFTYPE)
        return refuse(store, code, "%s is not a store of boutwire", store->path);
    sqlite3 *database = store->database;
    const char *what = database == NULL ? sqlite3_errstr(result) : sqlite3_errmsg(database);
    if (code == UV_EILSEQ)
        return damaged(store, what);
    int system = database == NULL ? 0 : uv_translate_sys_error(sqlite3_system_errno(database));
    if (system == 0 || (code != UV_EIO && code != UV_ENOENT))
        return refuse(store, code, "%s can't be %s: %s", store->path, doing, what);
    return refuse(store, code == UV_ENOENT ? system : code, "%s can't be %s: %s (%s)", store->path,
                  doing, what, uv_strerror(system));
}

/* ---- statements ---- */

static int execute(struct store *store, const char *sql, const char *doing)
{
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
    int code = prepare(store, &statement, sql);
    if (code != 0)
        return code;
    int result = sqlite3_step(statement);
    const unsigned char *value = result == SQLITE_ROW ? sqlite3_column_text(statement, 0) : NULL;
    if (value != NULL)
        snprintf(text, size, "%s", (const char *)value);
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

/* ---- checksums ---- */

/* CRC-32 of ISO/IEC 8802-3, bit by bit: it is far from being what an event costs. It finds every
 * single flipped bit and every burst of up to 32. */
static uint32_t crc_add(uint32_t crc, const unsigned char *bytes, size_t size)
{
    for (size_t i = 0; i < size; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++)
            crc = (crc >> 1) ^ (0xEDB88320u & (0u - (crc & 1u)));
    }
    return crc;
}

static int64_t checksum_of(uint64_t number, const char *text, size_t size)
{
    unsigned char bytes[8];
    for (size_t i = 0; i < sizeof bytes; i++)
        bytes[i] = (unsigned char)(number >> (8 * i));
    uint32_t crc = crc_add(0xFFFFFFFFu, bytes, sizeof bytes);
    return ~crc_add(crc, (const unsigned char *)text, size);
}

/* ---- opening ---- */

static int open_file(struct store *store)
{
    assert(sqlite3_threadsafe() != 0);
    int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOMUTEX;
    int result = sqlite3_open_v2(store->path, &store->database, flags, NULL);
    if (result != SQLITE_OK)
        return refuse_result(store, result, "opened");
    result = sqlite3_extended_result_codes(store->database, 1);
    if (result != SQLITE_OK)
        return refuse_result(store, result, "opened");
    if (sqlite3_db_readonly(store->database, "main") == 1)
        return refuse(store, UV_EROFS, "%s can only be read, and a daemon must write its store",
                      store->path);
    return 0;
}

/* The lock that is taken here is held until the file is closed: that is what the locking mode
 * says. Nothing has been written when it fails. */
static int lock_file(struct store *store)
{
    int code = execute(store, "PRAGMA locking_mode=EXCLUSIVE", "locked");
    if (code == 0)
        code = execute(store, "BEGIN EXCLUSIVE", "opened");
    return code != 0 ? code : execute(store, "COMMIT", "opened");
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
        return refuse(store, UV_EFTYPE, "%s is not a store of boutwire", store->path);
    if (format != FORMAT)
        return refuse(store, UV_EFTYPE, "%s has format %lld, and this daemon knows format %d only",
                      store->path, (long long)format, FORMAT);
    return 0;
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
        code = expect_setting(store, "PRAGMA locking_mode", "exclusive");
    if (code == 0)
        code = expect_setting(store, "PRAGMA journal_mode=WAL", "wal");
    if (code == 0)
        code = execute(store, "PRAGMA cell_size_check=ON", "set up");
    (void)sqlite3_wal_hook(store->database, note_log_pages, store); /* instead of its own habit */
    return code;
}

static int make_tables(struct store *store)
{
    unsigned char random[(STORE_EPOCH_SIZE - 1) / 2];
    int code = uv_random(NULL, NULL, random, sizeof random, 0, NULL);
    if (code != 0)
        return refuse(store, code, "%s can't be made: no random numbers, %s", store->path,
                      uv_strerror(code));
    char epoch[STORE_EPOCH_SIZE], sql[900];
    for (size_t i = 0; i < sizeof random; i++)
        snprintf(epoch + 2 * i, 3, "%02x", random[i]);
    snprintf(sql, sizeof sql,
             "BEGIN EXCLUSIVE;"
             "CREATE TABLE events (seq INTEGER PRIMARY KEY, text TEXT NOT NULL,"
             " checksum INTEGER NOT NULL) STRICT;"
             "CREATE TABLE life (only INTEGER PRIMARY KEY CHECK (only = 1), epoch TEXT NOT NULL,"
             " alive_at_ms INTEGER NOT NULL, checksum INTEGER NOT NULL) STRICT;"
             "INSERT INTO life VALUES (1, '%s', 0, %lld);"
             "PRAGMA application_id=%d;"
             "PRAGMA user_version=%d;"
             "COMMIT",
             epoch, (long long)checksum_of(0, epoch, sizeof epoch - 1), APPLICATION_ID, FORMAT);
    return execute(store, sql, "made");
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

static int prepare_all(struct store *store)
{
    int code = prepare(store, &store->begin, "BEGIN IMMEDIATE");
    if (code == 0)
        code = prepare(store, &store->insert, "INSERT INTO events VALUES (?1, ?2, ?3)");
    if (code == 0)
        code = prepare(store, &store->alive, "UPDATE life SET alive_at_ms = ?1, checksum = ?2");
    if (code == 0)
        code = prepare(store, &store->commit, "COMMIT");
    if (code == 0)
        code = prepare(store, &store->rollback, "ROLLBACK");
    return code;
}

static int open_steps(struct store *store)
{
    bool is_new = false;
    int code = open_file(store);
    if (code == 0)
        code = lock_file(store);
    if (code == 0)
        code = identify(store, &is_new);
    if (code == 0)
        code = set_up(store);
    if (code == 0 && is_new)
        code = make_tables(store);
    if (code == 0)
        code = check_structure(store);
    if (code == 0)
        code = store_read(store, count_row, store);
    if (code == 0)
        code = read_life(store);
    return code == 0 ? prepare_all(store) : code;
}

int store_open(struct store **opened, const char *path, char *reason, size_t reason_size)
{
    size_t size = strlen(path) + 1;
    struct store *store = calloc(1, sizeof *store + size);
    if (store == NULL) {
        snprintf(reason, reason_size, "%s can't be opened: out of memory", path);
        return UV_ENOMEM;
    }
    memcpy(store->path, path, size);
    int code = open_steps(store);
    if (code == 0) {
        *opened = store;
        return 0;
    }
    snprintf(reason, reason_size, "%s", store->reason);
    store_close(store, false);
    return code;
}

void store_close(struct store *store, bool sound)
{
    if (store == NULL)
        return;
    sqlite3_stmt *statements[] = {store->begin, store->insert, store->alive, store->commit,
                                  store->rollback};
    for (size_t i = 0; i < sizeof statements / sizeof *statements; i++)
        (void)sqlite3_finalize(statements[i]); /* tells again what was told before */
    if (!sound && store->database != NULL)
        (void)sqlite3_db_config(store->database, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, NULL);
    int result = sqlite3_close(store->database);
    assert(result == SQLITE_OK); /* else a statement was forgotten */
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
    row->seq = (uint64_t)sqlite3_column_int64(statement, 0);
    row->text = (const char *)sqlite3_column_text(statement, 1);
    row->size = (size_t)sqlite3_column_bytes(statement, 1);
    if (row->text == NULL)
        return refuse_result(store, SQLITE_NOMEM, "read");
    return row_check(store, row, seq, sqlite3_column_int64(statement, 2));
}

int store_read(struct store *store, int (*each)(void *context, const struct journal_row *row),
               void *context)
{
    sqlite3_stmt *statement = NULL;
    int code = prepare(store, &statement, "SELECT seq, text, checksum FROM events ORDER BY seq");
    if (code != 0)
        return code;
    int result = sqlite3_step(statement);
    for (uint64_t seq = 1; code == 0 && result == SQLITE_ROW; seq++) {
        struct journal_row row;
        code = row_read(store, statement, seq, &row);
        if (code == 0)
            code = each(context, &row);
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
    return bind_and_run(store, store->insert, result);
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
    int code = run(store, store->commit);
    return code == 0 ? 0 : undo(store, code);
}

bool store_wants_checkpoint(const struct store *store)
{
    return store->log_pages >= CHECKPOINT_PAGES;
}

int store_checkpoint(struct store *store)
{
    store->log_pages = 0; /* the next commit counts again: no second try before */
    int result =
        sqlite3_wal_checkpoint_v2(store->database, NULL, SQLITE_CHECKPOINT_PASSIVE, NULL, NULL);
    return result == SQLITE_OK ? 0 : refuse_result(store, result, "brought up to date");
}
