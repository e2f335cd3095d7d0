/* The journal on a real file in a folder of its own and a real loop. The disk fails when a test
 * says so: between SQLite and the real files stands a layer that refuses writes or syncs. */
#include "journal/journal.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include <dirent.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

/* ---- a disk that fails ---- */

enum fault { FAULT_NONE, FAULT_FULL, FAULT_SYNC, FAULT_READ_ONLY, FAULT_NO_INDEX };

static struct disk {
    enum fault fault;
    int from;           /* the fault comes with the write or sync of this number, from 1 */
    int files;          /* SQLITE_OPEN_MAIN_DB, SQLITE_OPEN_WAL or both: which it strikes */
    int writes, syncs;  /* of such files */
    int log_syncs;      /* of the write-ahead log */
    bool syncs_nothing; /* for a test that opens a store thousands of times */
} disk;

struct layered {
    sqlite3_file base;
    sqlite3_file *real;
    int kind;
};

static sqlite3_vfs *real_disk;

static sqlite3_file *real_of(sqlite3_file *file)
{
    return ((struct layered *)(void *)file)->real;
}

static bool struck(sqlite3_file *file, int *count, enum fault fault)
{
    if ((((struct layered *)(void *)file)->kind & disk.files) == 0)
        return false;
    *count += 1;
    return disk.fault == fault && *count >= disk.from;
}

static int layered_close(sqlite3_file *file)
{
    return real_of(file)->pMethods->xClose(real_of(file));
}

static int layered_read(sqlite3_file *file, void *to, int size, sqlite3_int64 offset)
{
    return real_of(file)->pMethods->xRead(real_of(file), to, size, offset);
}

static int layered_write(sqlite3_file *file, const void *from, int size, sqlite3_int64 offset)
{
    if (struck(file, &disk.writes, FAULT_FULL))
        return SQLITE_FULL;
    return real_of(file)->pMethods->xWrite(real_of(file), from, size, offset);
}

static int layered_truncate(sqlite3_file *file, sqlite3_int64 size)
{
    return real_of(file)->pMethods->xTruncate(real_of(file), size);
}

static int layered_sync(sqlite3_file *file, int flags)
{
    if (((struct layered *)(void *)file)->kind == SQLITE_OPEN_WAL)
        disk.log_syncs++;
    if (struck(file, &disk.syncs, FAULT_SYNC))
        return SQLITE_IOERR_FSYNC;
    if (disk.syncs_nothing)
        return SQLITE_OK;
    return real_of(file)->pMethods->xSync(real_of(file), flags);
}

static int layered_size(sqlite3_file *file, sqlite3_int64 *size)
{
    return real_of(file)->pMethods->xFileSize(real_of(file), size);
}

static int layered_lock(sqlite3_file *file, int level)
{
    return real_of(file)->pMethods->xLock(real_of(file), level);
}

static int layered_unlock(sqlite3_file *file, int level)
{
    return real_of(file)->pMethods->xUnlock(real_of(file), level);
}

static int layered_reserved(sqlite3_file *file, int *answer)
{
    return real_of(file)->pMethods->xCheckReservedLock(real_of(file), answer);
}

static int layered_control(sqlite3_file *file, int what, void *value)
{
    return real_of(file)->pMethods->xFileControl(real_of(file), what, value);
}

static int layered_sector(sqlite3_file *file)
{
    return real_of(file)->pMethods->xSectorSize(real_of(file));
}

static int layered_traits(sqlite3_file *file)
{
    return real_of(file)->pMethods->xDeviceCharacteristics(real_of(file));
}

static int layered_share(sqlite3_file *file, int part, int size, int extend, void volatile **memory)
{
    if (disk.fault == FAULT_NO_INDEX)
        return SQLITE_IOERR_SHMSIZE;
    return real_of(file)->pMethods->xShmMap(real_of(file), part, size, extend, memory);
}

static int layered_share_lock(sqlite3_file *file, int from, int count, int flags)
{
    return real_of(file)->pMethods->xShmLock(real_of(file), from, count, flags);
}

static void layered_share_barrier(sqlite3_file *file)
{
    real_of(file)->pMethods->xShmBarrier(real_of(file));
}

static int layered_share_end(sqlite3_file *file, int remove_it)
{
    return real_of(file)->pMethods->xShmUnmap(real_of(file), remove_it);
}

static const sqlite3_io_methods layered_methods = {
    .iVersion = 2,
    .xClose = layered_close,
    .xRead = layered_read,
    .xWrite = layered_write,
    .xTruncate = layered_truncate,
    .xSync = layered_sync,
    .xFileSize = layered_size,
    .xLock = layered_lock,
    .xUnlock = layered_unlock,
    .xCheckReservedLock = layered_reserved,
    .xFileControl = layered_control,
    .xSectorSize = layered_sector,
    .xDeviceCharacteristics = layered_traits,
    .xShmMap = layered_share,
    .xShmLock = layered_share_lock,
    .xShmBarrier = layered_share_barrier,
    .xShmUnmap = layered_share_end,
};

static int layered_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *file, int flags,
                        int *flags_out)
{
    (void)vfs;
    struct layered *layered = (struct layered *)(void *)file;
    if (disk.fault == FAULT_READ_ONLY)
        flags = (flags & ~(SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE)) | SQLITE_OPEN_READONLY;
    layered->real = (sqlite3_file *)(void *)(layered + 1);
    layered->kind = flags & (SQLITE_OPEN_MAIN_DB | SQLITE_OPEN_WAL);
    layered->base.pMethods = NULL;
    int result = real_disk->xOpen(real_disk, name, layered->real, flags, flags_out);
    if (layered->real->pMethods != NULL)
        layered->base.pMethods = &layered_methods;
    return result;
}

static void disk_layer(void)
{
    static sqlite3_vfs layer;
    real_disk = sqlite3_vfs_find(NULL);
    layer = *real_disk;
    layer.zName = "layered";
    layer.szOsFile = (int)sizeof(struct layered) + real_disk->szOsFile;
    layer.xOpen = layered_open;
    cr_assert(eq(int, sqlite3_vfs_register(&layer, 1), SQLITE_OK));
}

static void disk_fails(enum fault fault, int files, int from)
{
    disk = (struct disk){.fault = fault, .files = files, .from = from};
}

static void disk_works(void)
{
    disk = (struct disk){.files = SQLITE_OPEN_MAIN_DB | SQLITE_OPEN_WAL};
}

/* ---- a folder, a loop, a journal ---- */

static char folder[64], path[128], log_path[140], reason[400];
static uv_loop_t loop;

static void folder_begin(void)
{
    snprintf(folder, sizeof folder, "/tmp/boutwire-journal-XXXXXX");
    cr_assert(ne(ptr, mkdtemp(folder), NULL));
    snprintf(path, sizeof path, "%s/day.sqlite", folder);
    snprintf(log_path, sizeof log_path, "%s-wal", path);
    cr_assert(eq(int, uv_loop_init(&loop), 0));
    disk_layer();
    disk_works();
}

static size_t folder_file_count(bool remove_them)
{
    DIR *files = opendir(folder);
    size_t count = 0;
    for (struct dirent *file = readdir(files); file != NULL; file = readdir(files)) {
        if (file->d_name[0] == '.')
            continue;
        count++;
        char name[400];
        snprintf(name, sizeof name, "%s/%s", folder, file->d_name);
        if (remove_them)
            cr_expect(eq(int, remove(name), 0));
    }
    closedir(files);
    return count;
}

static void folder_end(void)
{
    cr_expect(eq(int, uv_loop_close(&loop), 0), "nothing is left on the loop");
    folder_file_count(true);
    cr_expect(eq(int, rmdir(folder), 0));
}

TestSuite(journal, .init = folder_begin, .fini = folder_end);

static struct journal *open_at(const char *file)
{
    struct journal *journal = NULL;
    int code = journal_open(&journal, &loop, file, reason, sizeof reason);
    cr_assert(eq(int, code, 0), "%s", reason);
    return journal;
}

static void mark(void *context)
{
    *(bool *)context = true;
}

static void close_now(struct journal *journal)
{
    bool closed = false;
    journal_close(journal, mark, &closed);
    cr_expect(not(closed), "it closes on the loop, not within the call");
    cr_assert(eq(int, uv_run(&loop, UV_RUN_DEFAULT), 0));
    cr_expect(closed);
}

static void expect_reason(const char *part)
{
    cr_expect(ne(ptr, strstr(reason, part), NULL), "\"%s\" says \"%s\"", reason, part);
}

static void expect_refused(int want)
{
    struct journal *journal = NULL;
    reason[0] = '\0';
    cr_assert(eq(int, journal_open(&journal, &loop, path, reason, sizeof reason), want), "%s",
              reason);
    cr_expect(eq(ptr, journal, NULL));
    expect_reason(path);
}

/* Event `seq` of a test is this text. */
static size_t event_text(uint64_t seq, char *text, size_t size)
{
    return (size_t)snprintf(text, size,
                            "{\"id\":\"e%llu\",\"type\":\"note\",\"text\":\"\xc3\xa4\"}",
                            (unsigned long long)seq);
}

static int append_events(struct journal *journal, uint64_t first, size_t count,
                         void (*done)(void *, int), void *context)
{
    struct journal_row rows[8];
    char texts[8][80];
    cr_assert(le(sz, count, 8));
    for (size_t i = 0; i < count; i++)
        rows[i] = (struct journal_row){first + i, texts[i],
                                       event_text(first + i, texts[i], sizeof texts[i])};
    int code = journal_append(journal, rows, count, done, context);
    memset(texts, '?', sizeof texts); /* what was handed over is the caller's again */
    return code;
}

static int count_event(void *context, const struct journal_row *row)
{
    uint64_t *count = context;
    *count += 1;
    char want[80];
    size_t size = event_text(*count, want, sizeof want);
    cr_assert(eq(sz, (size_t)row->seq, (size_t)*count));
    cr_assert(eq(sz, row->size, size));
    cr_assert(memcmp(row->text, want, size) == 0, "event %zu is as it was", (size_t)*count);
    return 0;
}

static uint64_t events_at(const char *file)
{
    struct journal *journal = open_at(file);
    uint64_t count = 0;
    cr_assert(eq(int, journal_read(journal, count_event, &count), 0));
    close_now(journal);
    return count;
}

/* The answers to a test's appends, in the order in which they came. */
static struct answers {
    size_t count;
    int codes[200];
    size_t numbers[200];
} answers;

static void note_answer(void *context, int status)
{
    answers.codes[answers.count] = status;
    answers.numbers[answers.count] = (size_t)context;
    answers.count++;
}

static void *numbered(size_t number)
{
    return (void *)(uintptr_t)number;
}

static void make_store(uint64_t count)
{
    struct journal *journal = open_at(path);
    for (uint64_t seq = 1; seq <= count; seq++)
        cr_assert(eq(int, append_events(journal, seq, 1, note_answer, NULL), 0));
    close_now(journal);
    answers = (struct answers){0};
}

/* The store has so many events, and takes one more. */
static void make_store_go_on(uint64_t count, const char *name)
{
    struct journal *journal = open_at(path);
    uint64_t found = 0;
    cr_expect(eq(str, (char *)journal_notice(journal), ""), "%s", name);
    cr_expect(eq(int, journal_read(journal, count_event, &found), 0), "%s", name);
    cr_expect(eq(sz, (size_t)found, (size_t)count), "%s", name);
    append_events(journal, count + 1, 1, note_answer, NULL);
    close_now(journal);
    cr_expect(eq(int, answers.codes[answers.count - 1], 0), "%s", name);
    cr_expect(eq(sz, (size_t)events_at(path), (size_t)count + 1), "%s", name);
}

static size_t file_size(const char *file)
{
    struct stat status;
    return stat(file, &status) == 0 ? (size_t)status.st_size : 0;
}

static char *file_bytes(const char *file, size_t *size)
{
    *size = file_size(file);
    char *bytes = malloc(*size + 1);
    FILE *stream = fopen(file, "rb");
    cr_assert(ne(ptr, stream, NULL), "%s", file);
    cr_assert(eq(sz, fread(bytes, 1, *size, stream), *size));
    fclose(stream);
    return bytes;
}

static void file_write(const char *file, const char *bytes, size_t size)
{
    FILE *stream = fopen(file, "wb");
    cr_assert(ne(ptr, stream, NULL), "%s", file);
    cr_assert(eq(sz, fwrite(bytes, 1, size, stream), size));
    fclose(stream);
}

static void file_copy(const char *from, const char *to)
{
    size_t size;
    char *bytes = file_bytes(from, &size);
    file_write(to, bytes, size);
    free(bytes);
}

static void sql(const char *statements)
{
    sqlite3 *database;
    int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE;
    cr_assert(eq(int, sqlite3_open_v2(path, &database, flags, real_disk->zName), SQLITE_OK));
    char *problem = NULL;
    sqlite3_exec(database, statements, NULL, NULL, &problem);
    cr_assert(eq(ptr, problem, NULL), "%s: %s", statements, problem);
    cr_assert(eq(int, sqlite3_close(database), SQLITE_OK));
}

/* ---- the normal course ---- */

Test(journal, a_new_store_is_empty_and_has_a_name)
{
    struct journal *journal = open_at(path);
    uint64_t count = 0;
    cr_expect(eq(int, journal_read(journal, count_event, &count), 0));
    cr_expect(eq(sz, (size_t)count, 0));
    cr_expect(eq(sz, strspn(journal_epoch(journal), "0123456789abcdef"), 16));
    cr_expect(eq(sz, strspn(journal_epoch(journal), "0123456789abcdef."), 25));
    cr_expect(eq(sz, strlen(journal_epoch(journal)), 25));
    cr_expect(eq(i64, journal_last_alive(journal), 0));
    cr_expect(eq(int, journal_failure(journal, NULL), 0));
    close_now(journal);
    cr_expect(eq(sz, folder_file_count(false), 1), "only the store itself is left");
}

Test(journal, what_was_appended_is_read_again)
{
    struct journal *journal = open_at(path);
    char epoch[40];
    snprintf(epoch, sizeof epoch, "%s", journal_epoch(journal));
    append_events(journal, 1, 1, note_answer, numbered(0));
    append_events(journal, 2, 3, note_answer, numbered(1));
    cr_expect(eq(sz, answers.count, 0), "the answer comes on the loop");
    cr_expect(eq(sz, journal_waiting(journal), 2));
    uv_run(&loop, UV_RUN_DEFAULT);
    cr_expect(eq(sz, answers.count, 2));
    cr_expect(eq(sz, journal_waiting(journal), 0));
    close_now(journal);

    cr_expect(eq(sz, (size_t)events_at(path), 4));
    journal = open_at(path);
    cr_expect(eq(int, strncmp(epoch, journal_epoch(journal), 17), 0), "the store keeps its name");
    cr_expect(ne(int, strcmp(epoch, journal_epoch(journal)), 0), "a run has its own");
    append_events(journal, 5, 1, note_answer, numbered(2));
    close_now(journal);
    cr_expect(eq(sz, (size_t)events_at(path), 5));
}

static int stop_at_two(void *context, const struct journal_row *row)
{
    *(uint64_t *)context = row->seq;
    return row->seq == 2 ? 77 : 0;
}

Test(journal, reading_ends_when_the_reader_says_so)
{
    make_store(3);
    struct journal *journal = open_at(path);
    uint64_t last = 0;
    cr_expect(eq(int, journal_read(journal, stop_at_two, &last), 77));
    cr_expect(eq(sz, (size_t)last, 2));
    close_now(journal);
}

Test(journal, answers_come_in_order_and_a_crowd_shares_a_commit)
{
    struct journal *journal = open_at(path);
    uv_run(&loop, UV_RUN_DEFAULT);
    disk_works();
    for (uint64_t seq = 1; seq <= 150; seq++)
        cr_assert(eq(int, append_events(journal, seq, 1, note_answer, numbered(seq)), 0));
    uv_run(&loop, UV_RUN_DEFAULT);
    cr_assert(eq(sz, answers.count, 150));
    for (size_t i = 0; i < 150; i++) {
        cr_expect(eq(int, answers.codes[i], 0));
        cr_expect(eq(sz, answers.numbers[i], i + 1));
    }
    cr_expect(ge(int, disk.log_syncs, 2), "the first alone, then the rest");
    cr_expect(le(int, disk.log_syncs, 4), "and the log's header");
    close_now(journal);
    cr_expect(eq(sz, (size_t)events_at(path), 150));
}

static struct durable {
    struct journal *journal;
    int log_syncs_before;
    uint64_t seq;
} durable;

/* When an event is answered, the disk has it: a copy of the files as they are holds it. */
static void copy_holds_it(void *context, int status)
{
    (void)context;
    char copy[160], copy_log[170];
    snprintf(copy, sizeof copy, "%s/copy.sqlite", folder);
    snprintf(copy_log, sizeof copy_log, "%s-wal", copy);
    cr_expect(eq(int, status, 0));
    cr_expect(lt(int, durable.log_syncs_before, disk.log_syncs), "synced before the answer");
    file_copy(path, copy);
    file_copy(log_path, copy_log);
    uv_loop_t other;
    uv_loop_init(&other);
    struct journal *journal = NULL;
    cr_assert(eq(int, journal_open(&journal, &other, copy, reason, sizeof reason), 0), "%s",
              reason);
    uint64_t count = 0;
    journal_read(journal, count_event, &count);
    cr_expect(eq(sz, (size_t)count, (size_t)durable.seq));
    journal_close(journal, NULL, NULL);
    uv_run(&other, UV_RUN_DEFAULT);
    cr_expect(eq(int, uv_loop_close(&other), 0));
}

Test(journal, what_is_answered_is_on_the_disk)
{
    durable.journal = open_at(path);
    for (durable.seq = 1; durable.seq <= 5; durable.seq++) {
        durable.log_syncs_before = disk.log_syncs;
        append_events(durable.journal, durable.seq, 1, copy_holds_it, NULL);
        uv_run(&loop, UV_RUN_DEFAULT);
    }
    close_now(durable.journal);
}

static struct chain {
    struct journal *journal;
    uint64_t seq;
    bool closed;
} chain;

static void append_next(void *context, int status)
{
    cr_expect(eq(int, status, 0));
    if (chain.seq == 5)
        journal_close(chain.journal, mark, &chain.closed);
    else
        append_events(chain.journal, ++chain.seq, 1, append_next, context);
}

Test(journal, appends_and_closes_from_within_an_answer)
{
    chain = (struct chain){.journal = open_at(path), .seq = 1};
    append_events(chain.journal, 1, 1, append_next, NULL);
    uv_run(&loop, UV_RUN_DEFAULT);
    cr_expect(chain.closed);
    cr_expect(eq(sz, (size_t)events_at(path), 5));
}

static void all_answered(void *context)
{
    *(size_t *)context = answers.count;
}

Test(journal, closing_answers_what_waits_first)
{
    struct journal *journal = open_at(path);
    size_t answered = 0;
    for (uint64_t seq = 1; seq <= 20; seq++)
        append_events(journal, seq, 1, note_answer, numbered(seq));
    journal_close(journal, all_answered, &answered);
    uv_run(&loop, UV_RUN_DEFAULT);
    cr_expect(eq(sz, answered, 20));
    cr_expect(eq(sz, (size_t)events_at(path), 20));
}

Test(journal, a_gap_in_the_numbers_is_a_bug_of_the_caller, .signal = SIGABRT)
{
    struct journal *journal = open_at(path);
    folder_file_count(true); /* now: nothing is left to do it after an abort */
    rmdir(folder);
    append_events(journal, 2, 1, note_answer, NULL);
}

Test(journal, the_log_beside_the_store_stays_short)
{
    struct journal *journal = open_at(path);
    char *text = malloc(20000);
    memset(text, 'x', 20000);
    size_t longest = 0;
    for (uint64_t seq = 1; seq <= 900; seq++) {
        struct journal_row row = {seq, text, 20000};
        cr_assert(eq(int, journal_append(journal, &row, 1, note_answer, NULL), 0));
        uv_run(&loop, UV_RUN_DEFAULT);
        answers.count = 0;
        if (file_size(log_path) > longest)
            longest = file_size(log_path);
    }
    free(text);
    cr_expect(lt(sz, 10000000, file_size(path)), "most is in the store itself");
    cr_expect(lt(sz, longest, 5000000), "%zu bytes", longest);
    close_now(journal);
}

/* ---- the time of life ---- */

Test(journal, the_last_time_alive_is_kept)
{
    struct journal *journal = open_at(path);
    journal_note_alive(journal, 1000000);
    journal_note_alive(journal, 1000999); /* not a second later */
    uv_run(&loop, UV_RUN_DEFAULT);
    cr_expect(eq(i64, journal_last_alive(journal), 0), "of the life before this");
    journal_note_alive(journal, 1001000);
    append_events(journal, 1, 1, note_answer, NULL);
    journal_note_alive(journal, 1002500); /* waits while the others are written */
    close_now(journal);

    journal = open_at(path);
    cr_expect(eq(i64, journal_last_alive(journal), 1002500));
    journal_note_alive(journal, 1000); /* the clock was set back: still the latest word */
    close_now(journal);
    journal = open_at(path);
    cr_expect(eq(i64, journal_last_alive(journal), 1000));
    close_now(journal);
}

Test(journal, a_note_of_life_waits_for_no_disk)
{
    struct journal *journal = open_at(path);
    append_events(journal, 1, 1, note_answer, NULL);
    uv_run(&loop, UV_RUN_DEFAULT);
    int syncs = disk.log_syncs;
    for (int64_t second = 1; second <= 20; second++) {
        journal_note_alive(journal, second * 1000);
        uv_run(&loop, UV_RUN_DEFAULT);
    }
    cr_expect(eq(int, disk.log_syncs, syncs));
    append_events(journal, 2, 1, note_answer, NULL);
    uv_run(&loop, UV_RUN_DEFAULT);
    cr_expect(lt(int, syncs, disk.log_syncs), "an event does");
    close_now(journal);
}

/* ---- a disk that fails ---- */

struct fault_row {
    char name[40];
    enum fault fault;
    int from;
    int code;
    char says[40];
};

ParameterizedTestParameters(journal, fault)
{
    static struct fault_row rows[] = {
        {"full at once", FAULT_FULL, 1, UV_ENOSPC, "database or disk is full"},
        {"full within the transaction", FAULT_FULL, 4, UV_ENOSPC, "database or disk is full"},
        {"the sync fails", FAULT_SYNC, 1, UV_EIO, "disk I/O error"},
        {"the second sync fails", FAULT_SYNC, 2, UV_EIO, "disk I/O error"},
    };
    return cr_make_param_array(struct fault_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct fault_row *row, journal, fault)
{
    make_store(3);
    struct journal *journal = open_at(path);
    disk_fails(row->fault, SQLITE_OPEN_WAL, row->from);
    append_events(journal, 4, 3, note_answer, numbered(0)); /* in the first commit */
    for (uint64_t seq = 7; seq <= 9; seq++)                 /* in the second */
        append_events(journal, seq, 1, note_answer, numbered(seq));
    uv_run(&loop, UV_RUN_DEFAULT);
    cr_assert(eq(sz, answers.count, 4), "%s: everyone is answered", row->name);
    size_t taken = 0;
    while (taken < 4 && answers.codes[taken] == 0)
        taken++;
    cr_expect(lt(sz, taken, 4), "%s", row->name);
    for (size_t i = taken; i < 4; i++)
        cr_expect(eq(int, answers.codes[i], row->code), "%s: answer %zu", row->name, i);

    const char *why = NULL;
    cr_expect(eq(int, journal_failure(journal, &why), row->code), "%s", row->name);
    cr_expect(ne(ptr, strstr(why, row->says), NULL), "%s: %s", row->name, why);
    cr_expect(ne(ptr, strstr(why, path), NULL), "%s: %s", row->name, why);
    disk_works(); /* too late: nothing is retried */
    cr_expect(eq(int, append_events(journal, 10, 1, note_answer, NULL), row->code), "%s",
              row->name);
    journal_note_alive(journal, 5000);
    close_now(journal);
    cr_expect(eq(sz, answers.count, 4), "%s", row->name);
    cr_expect(eq(int, disk.writes + disk.syncs, 0), "%s: the disk is left alone", row->name);

    uint64_t count = events_at(path);
    cr_expect(ge(sz, (size_t)count, taken == 0 ? 3 : 6), "%s: what was answered is there",
              row->name);
    cr_expect(count == 3 || count == 6 || count == 9, "%s: a batch is whole or not there: %zu",
              row->name, (size_t)count);
}

Test(journal, a_full_disk_does_not_keep_a_daemon_from_starting)
{
    struct journal *journal = open_at(path);
    append_events(journal, 1, 3, note_answer, NULL);
    uv_run(&loop, UV_RUN_DEFAULT);
    disk_fails(FAULT_FULL, SQLITE_OPEN_MAIN_DB | SQLITE_OPEN_WAL, 1);
    append_events(journal, 4, 1, note_answer, NULL);
    close_now(journal);
    cr_expect(eq(int, answers.codes[1], UV_ENOSPC));
    cr_expect(eq(sz, (size_t)events_at(path), 3), "it starts, and shows what stands");
    cr_expect(lt(sz, 0, file_size(path)), "no file was taken away");
}

Test(journal, a_disk_too_full_for_a_note_of_life_stops_nothing)
{
    struct journal *journal = open_at(path);
    disk_fails(FAULT_FULL, SQLITE_OPEN_WAL, 1);
    journal_note_alive(journal, 1000);
    uv_run(&loop, UV_RUN_DEFAULT);
    cr_expect(lt(int, 0, disk.writes), "it was tried");
    cr_expect(eq(int, journal_failure(journal, NULL), 0));
    disk_works();
    append_events(journal, 1, 1, note_answer, NULL);
    uv_run(&loop, UV_RUN_DEFAULT);
    cr_expect(eq(int, answers.codes[0], 0));
    close_now(journal);
    cr_expect(eq(sz, (size_t)events_at(path), 1));
}

/* ---- a disk that fails at the opening, after a daemon was killed ---- */

/* A store whose last events are only in the log beside it, as a killed daemon leaves it. */
static void make_killed_store(void)
{
    char copy[160], copy_log[170];
    snprintf(copy, sizeof copy, "%s/killed.sqlite", folder);
    snprintf(copy_log, sizeof copy_log, "%s-wal", copy);
    make_store(3);
    struct journal *journal = open_at(path);
    append_events(journal, 4, 2, note_answer, NULL);
    uv_run(&loop, UV_RUN_DEFAULT);
    file_copy(path, copy);
    file_copy(log_path, copy_log);
    close_now(journal);
    cr_assert(eq(int, rename(copy, path), 0));
    cr_assert(eq(int, rename(copy_log, log_path), 0));
    answers = (struct answers){0};
    disk_works();
}

struct opening_row {
    char name[40];
    enum fault fault;
    int files, code;
};

ParameterizedTestParameters(journal, opening_fault)
{
    static struct opening_row rows[] = {
        {"the store can't grow", FAULT_FULL, SQLITE_OPEN_MAIN_DB, UV_ENOSPC},
        {"the store can't be synced", FAULT_SYNC, SQLITE_OPEN_MAIN_DB, UV_EIO},
        {"the log can't be synced", FAULT_SYNC, SQLITE_OPEN_WAL, UV_EIO},
    };
    return cr_make_param_array(struct opening_row, rows, sizeof rows / sizeof *rows);
}
/* What the log holds must be moved into the store before anything goes on from it. If that fails,
 * what stands is shown, nothing is taken and nothing written, and the next start has it all. */
ParameterizedTest(struct opening_row *row, journal, opening_fault)
{
    make_killed_store();
    size_t log_size = file_size(log_path);
    disk_fails(row->fault, row->files, 1);
    struct journal *journal = open_at(path);
    const char *why = "";
    cr_expect(eq(int, journal_failure(journal, &why), row->code), "%s: %s", row->name, why);
    cr_expect(ne(ptr, strstr(why, path), NULL), "%s: %s", row->name, why);
    uint64_t count = 0;
    cr_expect(eq(int, journal_read(journal, count_event, &count), 0), "%s", row->name);
    cr_expect(eq(sz, (size_t)count, 5), "%s", row->name);
    disk_works();
    cr_expect(eq(int, append_events(journal, 6, 1, note_answer, NULL), row->code), "%s", row->name);
    journal_note_alive(journal, 5000);
    close_now(journal);
    cr_expect(eq(int, disk.writes + disk.syncs, 0), "%s: the disk is left alone", row->name);
    cr_expect(eq(sz, file_size(log_path), log_size), "%s", row->name);
    make_store_go_on(5, row->name);
}

Test(journal, what_the_log_holds_is_in_the_store_before_anything_goes_on_from_it)
{
    make_killed_store();
    size_t size = file_size(path);
    struct journal *journal = open_at(path);
    cr_expect(eq(int, journal_failure(journal, NULL), 0));
    cr_expect(eq(sz, file_size(log_path), 0), "the log begins anew");
    cr_expect(le(sz, size, file_size(path)));
    cr_expect(lt(int, 0, disk.syncs));
    close_now(journal);
    make_store_go_on(5, "as ever");
}

Test(journal, no_room_for_the_logs_index_keeps_no_daemon_from_starting)
{
    make_killed_store();
    disk_fails(FAULT_NO_INDEX, 0, 0);
    struct journal *journal = open_at(path);
    cr_expect(ne(ptr, strstr(journal_notice(journal), "backup and export must wait"), NULL), "%s",
              journal_notice(journal));
    append_events(journal, 6, 1, note_answer, NULL);
    uv_run(&loop, UV_RUN_DEFAULT);
    cr_expect(eq(int, answers.codes[0], 0));
    close_now(journal);
    disk_works();
    make_store_go_on(6, "with an index again");
}

static void append_until_checkpoint(struct journal *journal)
{
    static char text[200000];
    memset(text, 'x', sizeof text);
    for (uint64_t seq = 1; seq <= 30; seq++) {
        struct journal_row row = {seq, text, sizeof text};
        if (journal_append(journal, &row, 1, note_answer, NULL) != 0)
            return;
        uv_run(&loop, UV_RUN_DEFAULT);
    }
}

Test(journal, a_checkpoint_that_finds_the_disk_full_stops_nothing)
{
    struct journal *journal = open_at(path);
    disk_fails(FAULT_FULL, SQLITE_OPEN_MAIN_DB, 1);
    append_until_checkpoint(journal);
    cr_expect(lt(int, 0, disk.writes), "a checkpoint was tried");
    cr_expect(eq(int, journal_failure(journal, NULL), 0));
    cr_expect(eq(sz, answers.count, 30));
    disk_works();
    close_now(journal);
    cr_expect(lt(sz, 30 * 200000, file_size(path)), "moved when there was room again");
}

Test(journal, a_checkpoint_whose_sync_fails_stops_it)
{
    struct journal *journal = open_at(path);
    disk_fails(FAULT_SYNC, SQLITE_OPEN_MAIN_DB, 1);
    append_until_checkpoint(journal);
    cr_expect(eq(int, journal_failure(journal, NULL), UV_EIO));
    for (size_t i = 0; i < answers.count; i++)
        cr_expect(eq(int, answers.codes[i], 0), "what was committed was answered so");
    cr_expect(lt(sz, answers.count, 30));
    close_now(journal);
}

/* ---- files that are refused ---- */

Test(journal, a_second_daemon_is_refused)
{
    struct journal *journal = open_at(path);
    append_events(journal, 1, 1, note_answer, NULL);
    uv_run(&loop, UV_RUN_DEFAULT);
    pid_t child = fork();
    if (child == 0) {
        struct journal *second = NULL;
        int code = journal_open(&second, &loop, path, reason, sizeof reason);
        _exit(code == UV_EBUSY && strstr(reason, "another daemon holds this store") ? 0 : 1);
    }
    int status = -1;
    cr_assert(eq(int, waitpid(child, &status, 0), child));
    cr_expect(eq(int, status, 0), "another process");
    append_events(journal, 2, 1, note_answer, NULL);
    close_now(journal);
    cr_expect(eq(sz, (size_t)events_at(path), 2), "the first one was not disturbed");
}

Test(journal, a_file_that_is_no_store_is_refused_and_left_alone)
{
    static const char letter[] = "Dear organisers, here is the draw for Saturday.\n";
    char text[2000];
    for (size_t i = 0; i < sizeof text; i++)
        text[i] = letter[i % (sizeof letter - 1)];
    file_write(path, text, sizeof text);
    expect_refused(UV_EFTYPE);
    expect_reason("is not a store of boutwire");
    size_t size;
    char *bytes = file_bytes(path, &size);
    cr_expect(eq(sz, size, sizeof text));
    cr_expect(memcmp(bytes, text, sizeof text) == 0);
    free(bytes);
    cr_expect(eq(sz, folder_file_count(false), 1));
}

Test(journal, another_programs_database_is_refused_and_left_alone)
{
    sql("CREATE TABLE songs (title TEXT); INSERT INTO songs VALUES ('one')");
    size_t size, size_after;
    char *before = file_bytes(path, &size);
    expect_refused(UV_EFTYPE);
    char *after = file_bytes(path, &size_after);
    cr_expect(eq(sz, size_after, size));
    cr_expect(memcmp(before, after, size) == 0);
    free(before);
    free(after);
    cr_expect(eq(sz, folder_file_count(false), 1));
}

Test(journal, a_newer_store_is_refused)
{
    make_store(2);
    sql("PRAGMA user_version=2");
    expect_refused(UV_EFTYPE);
    expect_reason("has format 2, and this daemon knows format 1 only");
}

Test(journal, a_store_that_can_only_be_read_is_refused)
{
    make_store(2);
    disk_fails(FAULT_READ_ONLY, 0, 0);
    expect_refused(UV_EROFS);
    expect_reason("can only be read");
}

Test(journal, a_folder_that_is_not_there)
{
    snprintf(path, sizeof path, "%s/nowhere/day.sqlite", folder);
    expect_refused(UV_ENOENT);
    expect_reason("no such file or directory");
}

Test(journal, a_store_that_would_not_be_on_a_disk_is_refused)
{
    snprintf(path, sizeof path, ":memory:");
    expect_refused(UV_ENOTSUP);
}

Test(journal, an_empty_file_becomes_a_store)
{
    file_write(path, "", 0);
    make_store(2);
    cr_expect(eq(sz, (size_t)events_at(path), 2));
}

/* ---- damage ---- */

struct damage_row {
    char name[40], statements[160], says[60];
};

ParameterizedTestParameters(journal, damage)
{
    static struct damage_row rows[] = {
        {"the first is missing", "DELETE FROM events WHERE seq = 1", "event 1 is missing"},
        {"one is missing", "DELETE FROM events WHERE seq = 3", "event 3 is missing"},
        {"one has another text", "UPDATE events SET text = replace(text, 'e2', 'e9') WHERE seq = 2",
         "event 2 is not as it was written"},
        {"two have changed places",
         "UPDATE events SET seq = 9 WHERE seq = 1; UPDATE events SET seq = 1 WHERE seq = 2;"
         "UPDATE events SET seq = 2 WHERE seq = 9",
         "event 1 is not as it was written"},
        {"the table is missing", "DROP TABLE events", "no such table"},
        {"no row about its life", "DELETE FROM life", "no answer to SELECT epoch FROM life"},
        {"another time of life", "UPDATE life SET alive_at_ms = 5", "the row about its life"},
    };
    return cr_make_param_array(struct damage_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct damage_row *row, journal, damage)
{
    make_store(4);
    sql(row->statements);
    expect_refused(UV_EILSEQ);
    expect_reason("is damaged");
    expect_reason(row->says);
}

/* Flips each byte of a store in turn: it is refused, or everything in it is as it was. */
Test(journal, no_flipped_byte_goes_unnoticed)
{
    sql("PRAGMA page_size=512; CREATE TABLE t (x); DROP TABLE t");
    make_store(6);
    size_t size, refused = 0;
    char *bytes = file_bytes(path, &size);
    for (size_t at = 0; at < size; at += 3) {
        bytes[at] = (char)(bytes[at] ^ (1 << (at % 8)));
        file_write(path, bytes, size);
        bytes[at] = (char)(bytes[at] ^ (1 << (at % 8)));
        struct journal *journal = NULL;
        if (journal_open(&journal, &loop, path, reason, sizeof reason) != 0) {
            refused++;
            remove(log_path);
            continue;
        }
        uint64_t count = 0;
        cr_assert(eq(int, journal_read(journal, count_event, &count), 0), "byte %zu", at);
        cr_assert(eq(sz, (size_t)count, 6), "byte %zu", at);
        cr_assert(eq(i64, journal_last_alive(journal), 0), "byte %zu", at);
        close_now(journal);
        remove(log_path);
    }
    cr_expect(lt(sz, 100, refused), "%zu of %zu", refused, size);
    free(bytes);
}

/* ---- texts that are kept ---- */

static char kept_text[400];

static int note_kept(void *context, const struct kept *kept)
{
    (void)context;
    size_t used = strlen(kept_text);
    snprintf(kept_text + used, sizeof kept_text - used, "%s=%s ", kept->name, kept->text);
    return 0;
}

static void expect_kept(const char *want)
{
    struct journal *journal = open_at(path);
    kept_text[0] = '\0';
    cr_assert(eq(int, journal_read_kept(journal, note_kept, NULL), 0));
    cr_expect(eq(str, kept_text, (char *)want));
    close_now(journal);
}

Test(journal, texts_are_kept_among_the_events_in_their_order)
{
    char name[] = "out/main", text[] = "one";
    struct journal *journal = open_at(path);
    append_events(journal, 1, 1, note_answer, numbered(1));
    cr_assert(eq(int, journal_keep(journal, name, text, note_answer, numbered(2)), 0));
    memset(name, '?', sizeof name - 1); /* what was handed over is the caller's again */
    memset(text, '?', sizeof text - 1);
    append_events(journal, 2, 1, note_answer, numbered(3));
    cr_assert(eq(int, journal_keep(journal, "out/main", "two", note_answer, numbered(4)), 0));
    cr_assert(eq(int, journal_keep(journal, "delays", "{}", note_answer, numbered(5)), 0));
    cr_expect(eq(sz, journal_waiting(journal), 5));
    cr_expect(eq(sz, answers.count, 0), "never within the call");
    close_now(journal);
    cr_assert(eq(sz, answers.count, 5));
    for (size_t i = 0; i < 5; i++) {
        cr_expect(eq(int, answers.codes[i], 0));
        cr_expect(eq(sz, answers.numbers[i], i + 1));
    }
    expect_kept("out/main=two delays={} ");
    cr_expect(eq(sz, (size_t)events_at(path), 2));
}

Test(journal, a_text_alone_is_on_the_disk_when_it_is_answered)
{
    struct journal *journal = open_at(path);
    int syncs = disk.log_syncs;
    cr_assert(eq(int, journal_keep(journal, "out/main", "one", note_answer, NULL), 0));
    uv_run(&loop, UV_RUN_DEFAULT);
    cr_expect(eq(int, answers.codes[0], 0));
    cr_expect(lt(int, syncs, disk.log_syncs));
    close_now(journal);
}

static void keep_late(void *context, int status)
{
    cr_expect(eq(int, status, 0));
    cr_expect(eq(int, journal_keep(context, "out/main", "late", note_answer, NULL), UV_ECANCELED));
}

Test(journal, while_it_is_being_closed_nothing_more_is_kept)
{
    struct journal *journal = open_at(path);
    cr_assert(eq(int, append_events(journal, 1, 1, keep_late, journal), 0));
    cr_assert(eq(int, journal_keep(journal, "out/main", "one", note_answer, NULL), 0));
    close_now(journal);
    cr_expect(eq(sz, answers.count, 1));
    expect_kept("out/main=one ");
}

Test(journal, a_text_that_the_disk_does_not_take_is_a_failure)
{
    make_store(1);
    struct journal *journal = open_at(path);
    disk_fails(FAULT_SYNC, SQLITE_OPEN_WAL, 1);
    cr_assert(eq(int, journal_keep(journal, "out/main", "one", note_answer, NULL), 0));
    uv_run(&loop, UV_RUN_DEFAULT);
    cr_assert(eq(sz, answers.count, 1));
    cr_expect(eq(int, answers.codes[0], UV_EIO));
    cr_expect(eq(int, journal_keep(journal, "out/main", "two", note_answer, NULL), UV_EIO));
    disk_works();
    close_now(journal);
    cr_expect(eq(sz, answers.count, 1));
}

/* As after a power cut: the log's tail is there up to some byte. */
Test(journal, a_log_cut_at_every_byte_loses_only_its_tail)
{
    sql("PRAGMA page_size=512; CREATE TABLE t (x); DROP TABLE t");
    make_store(2);
    struct journal *journal = open_at(path);
    for (uint64_t seq = 3; seq <= 5; seq++) {
        append_events(journal, seq, 1, note_answer, NULL);
        uv_run(&loop, UV_RUN_DEFAULT);
    }
    size_t size, log_size;
    char *bytes = file_bytes(path, &size), *log = file_bytes(log_path, &log_size);
    close_now(journal);
    uint64_t before = 2;
    disk.syncs_nothing = true;
    for (size_t kept = 0; kept <= log_size; kept++) {
        file_write(path, bytes, size);
        file_write(log_path, log, kept);
        uint64_t count = events_at(path);
        cr_assert(ge(sz, (size_t)count, (size_t)before), "cut at %zu of %zu", kept, log_size);
        before = count;
    }
    cr_expect(eq(sz, (size_t)before, 5), "whole, it holds everything");
    free(bytes);
    free(log);
}

/* ---- without memory ---- */

static sqlite3_mem_methods real_memory;
static unsigned long allocation_count, allocations_until_failure;

static bool memory_ends(void)
{
    allocation_count++;
    return allocations_until_failure != 0 && allocation_count >= allocations_until_failure;
}

static void *failing_malloc(int size)
{
    return memory_ends() ? NULL : real_memory.xMalloc(size);
}

static void *failing_realloc(void *memory, int size)
{
    return memory_ends() ? NULL : real_memory.xRealloc(memory, size);
}

static void memory_begin(void)
{
    cr_assert(eq(int, sqlite3_config(SQLITE_CONFIG_GETMALLOC, &real_memory), SQLITE_OK));
    sqlite3_mem_methods methods = real_memory;
    methods.xMalloc = failing_malloc;
    methods.xRealloc = failing_realloc;
    cr_assert(eq(int, sqlite3_config(SQLITE_CONFIG_MALLOC, &methods), SQLITE_OK));
    cr_assert(eq(int, sqlite3_config(SQLITE_CONFIG_LOOKASIDE, 0, 0), SQLITE_OK));
    folder_begin();
}

static void memory_ends_after(unsigned long allocations)
{
    allocation_count = 0;
    allocations_until_failure = allocations + 1;
}

static void memory_is_back(void)
{
    allocations_until_failure = 0;
}

TestSuite(journal_memory, .init = memory_begin, .fini = folder_end);

Test(journal_memory, opening_without_memory_changes_nothing)
{
    make_store(3);
    unsigned long failures = 0;
    struct journal *journal = NULL;
    for (int code = -1; code != 0; failures++) {
        memory_ends_after(failures);
        code = journal_open(&journal, &loop, path, reason, sizeof reason);
        memory_is_back();
        if (code == 0)
            break;
        cr_assert(eq(int, code, UV_ENOMEM), "allocation %lu: %s", failures, reason);
        cr_assert(eq(ptr, journal, NULL));
    }
    cr_expect(lt(ulong, 50, failures), "memory did run out");
    uint64_t count = 0;
    cr_expect(eq(int, journal_read(journal, count_event, &count), 0));
    cr_expect(eq(sz, (size_t)count, 3));
    close_now(journal);
}

Test(journal_memory, a_note_of_life_without_memory_stops_nothing)
{
    make_store(1);
    struct journal *journal = open_at(path);
    unsigned long failures = 0;
    for (int64_t second = 1;; second++, failures++) {
        memory_ends_after(failures);
        journal_note_alive(journal, second * 1000);
        uv_run(&loop, UV_RUN_DEFAULT);
        memory_is_back();
        cr_assert(eq(int, journal_failure(journal, NULL), 0), "allocation %lu", failures);
        if (allocation_count <= failures)
            break;
        append_events(journal, 2 + failures, 1, note_answer, NULL);
        uv_run(&loop, UV_RUN_DEFAULT);
        cr_assert(eq(int, answers.codes[failures], 0), "allocation %lu", failures);
    }
    cr_expect(lt(ulong, 2, failures), "memory did run out");
    close_now(journal);
    cr_expect(eq(sz, (size_t)events_at(path), failures + 1));
}

Test(journal_memory, appending_without_memory_is_a_failure_and_loses_nothing)
{
    uint64_t stands = 3;
    make_store(stands);
    for (unsigned long failures = 0;; failures++) {
        struct journal *journal = open_at(path);
        answers.count = 0;
        memory_ends_after(failures);
        append_events(journal, stands + 1, 2, note_answer, NULL);
        uv_run(&loop, UV_RUN_DEFAULT);
        memory_is_back();
        cr_assert(eq(sz, answers.count, 1));
        int code = answers.codes[0];
        close_now(journal);
        if (code == 0) {
            cr_expect(lt(ulong, 5, failures), "memory did run out");
            cr_expect(eq(sz, (size_t)events_at(path), (size_t)stands + 2));
            break;
        }
        cr_assert(eq(int, code, UV_ENOMEM), "allocation %lu", failures);
        cr_assert(eq(sz, (size_t)events_at(path), (size_t)stands), "allocation %lu", failures);
    }
}
