/* The store's files, damaged in every way that a test can think of, and read from beside. What must
 * come of it is said in journal/store.h; the events' texts tell whether it did. */
#include "journal/store.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include <dirent.h>
#include <sqlite3.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>
#include "journal/remains.h"
#include "journal/wal.h"

enum { SMALL_PAGE = 512 };

static char folder[64], path[200], log_path[210], reason[STORE_REASON_SIZE];

static void folder_begin(void)
{
    snprintf(folder, sizeof folder, "/tmp/boutwire-store-XXXXXX");
    cr_assert(ne(ptr, mkdtemp(folder), NULL));
    snprintf(path, sizeof path, "%s/day.sqlite", folder);
    snprintf(log_path, sizeof log_path, "%s-wal", path);
}

/* How many files there are; with `remove_them`, until now. */
static size_t file_count(bool remove_them)
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
    file_count(true);
    cr_expect(eq(int, rmdir(folder), 0));
}

TestSuite(store, .init = folder_begin, .fini = folder_end);

/* ---- files ---- */

struct bytes {
    char *all;
    size_t size;
};

static struct bytes bytes_of(const char *file)
{
    struct stat status;
    struct bytes bytes = {NULL, 0};
    if (stat(file, &status) == 0)
        bytes.size = (size_t)status.st_size;
    bytes.all = malloc(bytes.size + 1);
    FILE *stream = bytes.size > 0 ? fopen(file, "rb") : NULL;
    if (stream != NULL) {
        cr_assert(eq(sz, fread(bytes.all, 1, bytes.size, stream), bytes.size));
        fclose(stream);
    }
    return bytes;
}

static void write_file(const char *file, const char *bytes, size_t size)
{
    FILE *stream = fopen(file, "wb");
    cr_assert(ne(ptr, stream, NULL), "%s", file);
    cr_assert(eq(sz, fwrite(bytes, 1, size, stream), size));
    fclose(stream);
}

static bool file_is(const char *file, struct bytes want)
{
    struct bytes got = bytes_of(file);
    bool same = got.size == want.size && memcmp(got.all, want.all, want.size) == 0;
    free(got.all);
    return same;
}

static void sql(const char *statements)
{
    sqlite3 *database;
    char *problem = NULL;
    cr_assert(eq(int, sqlite3_open(path, &database), SQLITE_OK));
    sqlite3_exec(database, statements, NULL, NULL, &problem);
    cr_assert(eq(ptr, problem, NULL), "%s: %s", statements, problem);
    cr_assert(eq(int, sqlite3_close(database), SQLITE_OK));
}

/* ---- stores ---- */

static bool long_events;

/* Event `seq` of a test. With `long_events`, every seventh goes on on other pages. */
static size_t event_text(uint64_t seq, char *text, size_t size)
{
    int more = long_events && seq % 7 == 0 ? 1500 : 40;
    return (size_t)snprintf(
        text, size, "{\"at\":\"2027-05-08T10:00:%02d.000Z\",\"id\":\"e%llu\",\"text\":\"%0*d\"}",
        (int)(seq % 60), (unsigned long long)seq, more, (int)seq);
}

static void add_events(struct store *store, uint64_t first, uint64_t last)
{
    char text[2000];
    cr_assert(eq(int, store_begin(store, true), 0), "%s", store_reason(store));
    for (uint64_t seq = first; seq <= last; seq++) {
        struct journal_row row = {seq, text, event_text(seq, text, sizeof text)};
        cr_assert(eq(int, store_add(store, &row), 0), "%s", store_reason(store));
    }
    cr_assert(eq(int, store_commit(store), 0), "%s", store_reason(store));
}

static struct store *open_store(void)
{
    struct store *store = NULL;
    cr_assert(eq(int, store_open(&store, path, reason, sizeof reason), 0), "%s", reason);
    return store;
}

static void make_small_pages(void)
{
    sql("PRAGMA page_size=512; CREATE TABLE t (x); DROP TABLE t");
}

static void make_store(uint64_t count)
{
    make_small_pages();
    struct store *store = open_store();
    add_events(store, 1, count);
    store_close(store, true);
}

/* As a killed daemon leaves it: the first `moved` events in the store, the others each in a commit
 * of its own in the log beside it. */
static void make_killed_store(uint64_t moved, uint64_t count)
{
    make_store(moved);
    struct store *store = open_store();
    for (uint64_t seq = moved + 1; seq <= count; seq++)
        add_events(store, seq, seq);
    store_close(store, false);
}

static int count_event(void *context, const struct journal_row *row)
{
    uint64_t *count = context;
    char want[2000];
    *count += 1;
    size_t size = event_text(*count, want, sizeof want);
    cr_assert(eq(sz, (size_t)row->seq, (size_t)*count));
    cr_assert(row->size == size && memcmp(row->text, want, size) == 0, "event %zu is as it was",
              (size_t)*count);
    return 0;
}

static uint64_t events_of(struct store *store)
{
    uint64_t count = 0;
    cr_assert(eq(int, store_read(store, count_event, &count), 0), "%s", store_reason(store));
    return count;
}

/* It goes on: one more event is taken, and is there at the next start, which finds nothing. */
static void expect_goes_on(struct store *store, uint64_t count)
{
    add_events(store, count + 1, count + 1);
    store_close(store, true);
    store = open_store();
    cr_expect(eq(str, (char *)store_notice(store), ""));
    cr_expect(eq(sz, (size_t)events_of(store), (size_t)count + 1));
    store_close(store, true);
}

static void expect_reason(const char *part)
{
    cr_expect(ne(ptr, strstr(reason, part), NULL), "\"%s\" says \"%s\"", reason, part);
}

/* Refused as damaged, and nothing is changed. */
static void expect_refused(const char *part)
{
    struct store *store = NULL;
    struct bytes database = bytes_of(path), log = bytes_of(log_path);
    cr_assert(eq(int, store_open(&store, path, reason, sizeof reason), UV_EILSEQ), "%s", reason);
    expect_reason("is damaged");
    expect_reason(part);
    cr_expect(file_is(path, database));
    cr_expect(file_is(log_path, log));
    free(database.all);
    free(log.all);
}

/* ---- the log beside the store ---- */

static enum wal_state log_state(size_t *frames)
{
    struct wal log;
    cr_assert(eq(int, wal_read(&log, path, SMALL_PAGE), 0));
    enum wal_state state = log.state;
    if (frames != NULL)
        *frames = log.frame_count;
    wal_close(&log);
    return state;
}

Test(store, a_log_cut_anywhere_is_whole_or_unfinished)
{
    size_t frames, frames_before = 0, whole = 0;
    make_killed_store(3, 8);
    struct bytes log = bytes_of(log_path);
    for (size_t kept = 1; kept <= log.size; kept++) {
        write_file(log_path, log.all, kept);
        enum wal_state state = log_state(&frames);
        cr_assert(le(sz, frames_before, frames));
        /* What is whole was unfinished one byte before. */
        bool is_end = frames > frames_before || kept == 32;
        cr_assert(eq(int, state,
                     is_end &&kept == 32 ? WAL_EMPTY
                     : is_end            ? WAL_WHOLE
                                         : WAL_UNFINISHED),
                  "cut at %zu", kept);
        whole += is_end ? 1 : 0;
        frames_before = frames;
    }
    cr_expect(eq(sz, whole, 6), "an empty one, and one for each commit");
    remove(log_path);
    cr_expect(eq(int, log_state(&frames), WAL_EMPTY));
    free(log.all);
}

/* In every frame but the last commit's, and in the header. */
Test(store, a_log_with_a_flipped_bit_is_broken_unless_that_is_in_its_last_commit)
{
    make_killed_store(3, 8);
    struct bytes log = bytes_of(log_path);
    struct wal good;
    cr_assert(eq(int, wal_read(&good, path, SMALL_PAGE), 0));
    size_t last = good.frame_count - 1;
    while (last > 0 && good.frames[last - 1].pages == 0)
        last--;
    size_t last_at = 32 + last * (24 + SMALL_PAGE);
    wal_close(&good);
    for (size_t at = 0; at < log.size; at++) {
        log.all[at] = (char)(log.all[at] ^ (1 << (at % 8)));
        write_file(log_path, log.all, log.size);
        log.all[at] = (char)(log.all[at] ^ (1 << (at % 8)));
        enum wal_state state = log_state(NULL);
        cr_assert(state == WAL_BROKEN || (at >= last_at && state == WAL_UNFINISHED), "byte %zu",
                  at);
    }
    free(log.all);
}

Test(store, frames_left_from_before_the_log_began_anew_are_nothing)
{
    make_small_pages();
    struct store *store = open_store();
    for (uint64_t seq = 1; seq <= 6; seq++)
        add_events(store, seq, seq);
    cr_assert(eq(int, store_checkpoint(store), 0));
    add_events(store, 7, 7); /* over the first frames of those that were moved */
    store_close(store, false);
    cr_expect(eq(int, log_state(NULL), WAL_WHOLE));
    store = open_store();
    cr_expect(eq(str, (char *)store_notice(store), ""));
    cr_expect(eq(sz, (size_t)events_of(store), 7));
    store_close(store, true);
}

/* ---- a store that was cut ---- */

/* By SQLite's own list of pages: the last event whose leaf, and all leaves before it, are within
 * the first bytes of the store. */
static uint64_t last_event_within(size_t kept)
{
    static uint64_t lasts[400];
    static size_t ends[400], leaf_count;
    if (leaf_count == 0) {
        sqlite3 *database;
        sqlite3_stmt *leaves;
        uint64_t last = 0;
        cr_assert(eq(int, sqlite3_open(path, &database), SQLITE_OK));
        sqlite3_prepare_v2(database,
                           "SELECT pageno, ncell FROM dbstat WHERE name = 'events' AND"
                           " pagetype = 'leaf' ORDER BY path",
                           -1, &leaves, NULL);
        while (sqlite3_step(leaves) == SQLITE_ROW) {
            ends[leaf_count] = (size_t)sqlite3_column_int64(leaves, 0) * SMALL_PAGE;
            lasts[leaf_count++] = last += (uint64_t)sqlite3_column_int64(leaves, 1);
        }
        sqlite3_finalize(leaves);
        sqlite3_close(database);
        cr_assert(lt(sz, 5, leaf_count));
    }
    size_t within = 0;
    while (within < leaf_count && ends[within] <= kept)
        within++;
    return within == 0 ? 0 : lasts[within - 1];
}

static void remove_damaged(void)
{
    char name[240];
    snprintf(name, sizeof name, "%s-damaged", path);
    remove(name);
    snprintf(name, sizeof name, "%s-damaged-wal", path);
    remove(name);
}

/* The store was made anew of events 1 to `kept`, and says that those after it are lost. */
static void expect_cut(uint64_t kept, uint64_t count, size_t at)
{
    char lost[80];
    struct store *store = open_store();
    cr_assert(eq(sz, (size_t)events_of(store), (size_t)kept), "cut at %zu: %s", at,
              store_notice(store));
    snprintf(reason, sizeof reason, "%s", store_notice(store));
    if (kept + 1 == count)
        snprintf(lost, sizeof lost, "event %zu is lost", (size_t)count);
    else
        snprintf(lost, sizeof lost, "events %zu to %zu are lost", (size_t)kept + 1, (size_t)count);
    expect_reason(kept == count ? "no event is lost" : lost);
    expect_reason("cut short");
    expect_reason("-damaged");
    store_close(store, true);
}

Test(store, cut_anywhere_it_keeps_what_is_whole_and_tells_what_is_lost)
{
    enum { COUNT = 60 };
    make_store(COUNT);
    struct bytes whole = bytes_of(path);
    char damaged[240];
    snprintf(damaged, sizeof damaged, "%s-damaged", path);
    /* Cut at many bytes of its last two pages, and at some of the others. */
    for (size_t kept = whole.size - 1; last_event_within(kept) > 0;
         kept -= kept > whole.size - 2 * SMALL_PAGE ? 5 : 97) {
        struct bytes cut = {whole.all, kept};
        write_file(path, whole.all, kept);
        expect_cut(last_event_within(kept), COUNT, kept);
        cr_assert(file_is(damaged, cut), "what was damaged is kept");
        remove_damaged();
    }
    write_file(path, whole.all, whole.size - 1);
    struct store *store = open_store();
    expect_goes_on(store, events_of(store));
    free(whole.all);
}

/* So much is gone that no event is left to go on from: that is for people to decide. */
Test(store, cut_down_to_nothing_it_is_refused)
{
    make_store(60);
    struct bytes whole = bytes_of(path);
    for (size_t kept = 3 * SMALL_PAGE; last_event_within(kept) == 0; kept += 100) {
        write_file(path, whole.all, kept);
        expect_refused("can be read");
        write_file(path, whole.all, whole.size);
    }
    write_file(path, whole.all, 700);
    struct store *store = NULL;
    cr_expect(ne(int, store_open(&store, path, reason, sizeof reason), 0));
    free(whole.all);
}

Test(store, cut_with_events_in_the_log_that_came_after_it_is_refused)
{
    make_killed_store(40, 44);
    struct bytes whole = bytes_of(path);
    /* Two leaves are gone; the log has a later version of the last one only. */
    write_file(path, whole.all, whole.size - 4 * SMALL_PAGE);
    expect_refused("are lost");
    free(whole.all);
}

Test(store, an_empty_file_beside_a_log_is_no_new_store)
{
    make_killed_store(2, 30);
    struct bytes log = bytes_of(log_path);
    write_file(path, "", 0);
    /* The log alone has every page that those 28 commits changed, and so all events. */
    struct store *store = open_store();
    snprintf(reason, sizeof reason, "%s", store_notice(store));
    expect_reason("no event is lost, 30 can be read");
    cr_expect(eq(sz, (size_t)events_of(store), 30));
    expect_goes_on(store, 30);
    free(log.all);
}

/* A long event's pages may stand after those of later events. Where a cut takes it and leaves
 * those, it is refused: nothing that can be read is dropped unasked. */
Test(store, long_events_and_a_cut)
{
    long_events = true;
    make_store(40);
    struct bytes whole = bytes_of(path);
    size_t went_on = 0, refused = 0;
    for (size_t kept = whole.size - 1; kept > whole.size / 2; kept -= SMALL_PAGE / 2) {
        struct store *store = NULL;
        write_file(path, whole.all, kept);
        int code = store_open(&store, path, reason, sizeof reason);
        if (code == 0)
            snprintf(reason, sizeof reason, "%s", store_notice(store));
        else
            cr_assert(eq(int, code, UV_EILSEQ), "%s", reason);
        expect_reason("lost");
        went_on += code == 0 ? 1 : 0;
        refused += code == 0 ? 0 : 1;
        if (code == 0)
            cr_assert(le(sz, 10, (size_t)events_of(store)), "cut at %zu", kept);
        store_close(store, true);
        remove_damaged();
    }
    cr_expect(lt(sz, 3, went_on));
    cr_expect(lt(sz, 0, refused));
    free(whole.all);
}

Test(store, the_last_events_missing_are_told)
{
    make_store(6);
    sql("DELETE FROM events WHERE seq > 4");
    struct store *store = open_store();
    snprintf(reason, sizeof reason, "%s", store_notice(store));
    expect_reason("events 5 to 6, the last, are lost");
    expect_goes_on(store, 4);
}

/* ---- a log that was damaged ---- */

/* What must come of a store with a damaged log: everything is there, or it is refused and says what
 * is lost, or the last commit, which can't be told from an unfinished one, is gone and that is
 * said. */
static void expect_no_silent_loss(uint64_t count, size_t at, size_t *whole, size_t *refused)
{
    struct store *store = NULL;
    int code = store_open(&store, path, reason, sizeof reason);
    if (code != 0) {
        cr_assert(eq(int, code, UV_EILSEQ), "byte %zu: %s", at, reason);
        expect_reason("lost");
        *refused += 1;
        return;
    }
    uint64_t found = events_of(store);
    bool told = strstr(store_notice(store), "unfinished commit") != NULL;
    cr_assert(found == count || (found == count - 1 && told), "byte %zu: %zu, %s", at,
              (size_t)found, store_notice(store));
    *whole += found == count ? 1 : 0;
    store_close(store, true);
}

Test(store, no_flipped_bit_in_the_log_loses_an_event_in_silence)
{
    make_killed_store(3, 12);
    struct bytes database = bytes_of(path), log = bytes_of(log_path);
    size_t whole = 0, refused = 0;
    for (size_t at = 0; at < log.size; at += at < 100 ? 1 : 23) {
        log.all[at] = (char)(log.all[at] ^ (1 << (at % 8)));
        write_file(path, database.all, database.size);
        write_file(log_path, log.all, log.size);
        log.all[at] = (char)(log.all[at] ^ (1 << (at % 8)));
        expect_no_silent_loss(12, at, &whole, &refused);
        file_count(true);
    }
    cr_expect(lt(sz, 50, whole), "%zu", whole);
    cr_expect(lt(sz, 10, refused), "%zu", refused);
    free(database.all);
    free(log.all);
}

Test(store, a_log_cut_anywhere_keeps_every_whole_commit)
{
    make_killed_store(3, 8);
    struct bytes database = bytes_of(path), log = bytes_of(log_path);
    size_t ends[5], commits = 0;
    struct wal good;
    cr_assert(eq(int, wal_read(&good, path, SMALL_PAGE), 0));
    for (size_t i = 0; i < good.frame_count; i++)
        if (good.frames[i].pages != 0)
            ends[commits++] = 32 + (i + 1) * (24 + SMALL_PAGE);
    wal_close(&good);
    cr_assert(eq(sz, commits, 5));
    for (size_t kept = 0; kept <= log.size; kept += kept % 536 > 520 || kept % 536 < 48 ? 1 : 9) {
        size_t want = 0;
        while (want < commits && ends[want] <= kept)
            want++;
        write_file(path, database.all, database.size);
        write_file(log_path, log.all, kept);
        struct store *store = open_store();
        cr_assert(eq(sz, (size_t)events_of(store), 3 + want), "cut at %zu", kept);
        bool at_end = kept == 0 || kept == 32 || (want > 0 && ends[want - 1] == kept);
        bool told = strstr(store_notice(store), "unfinished commit") != NULL;
        cr_assert(eq(int, told, !at_end), "cut at %zu: %s", kept, store_notice(store));
        store_close(store, true);
    }
    free(database.all);
    free(log.all);
}

/* ---- a start that is interrupted while it makes a store anew ---- */

Test(store, what_an_interrupted_start_began_the_next_one_finishes)
{
    static const char *const left[][3] = {
        /* what is under which name when it is interrupted */
        {"", "-wal", "-rebuilt"},
        {"", "-damaged-wal", "-rebuilt"},
        {"-damaged", "-damaged-wal", "-rebuilt"},
        {"", "-wal", "-rebuilding"},
    };
    make_killed_store(20, 24);
    struct bytes database = bytes_of(path), log = bytes_of(log_path);
    file_count(true);
    make_store(18); /* what can be made of them, let it be said */
    struct bytes rebuilt = bytes_of(path);
    for (size_t i = 0; i < sizeof left / sizeof *left; i++) {
        char names[3][240];
        file_count(true);
        for (size_t j = 0; j < 3; j++)
            snprintf(names[j], sizeof names[j], "%s%s", path, left[i][j]);
        write_file(names[0], database.all, database.size);
        write_file(names[1], log.all, log.size);
        write_file(names[2], rebuilt.all, i < 3 ? rebuilt.size : rebuilt.size / 2);
        struct store *store = open_store();
        cr_expect(eq(sz, (size_t)events_of(store), i < 3 ? 18 : 24), "%zu", i);
        snprintf(reason, sizeof reason, "%s", store_notice(store));
        if (i < 3)
            expect_reason("interrupted");
        store_close(store, true);
        char kept[240];
        snprintf(kept, sizeof kept, "%s-damaged", path);
        cr_expect(eq(int, file_is(kept, database), i < 3), "%zu", i);
        snprintf(kept, sizeof kept, "%s-damaged-wal", path);
        cr_expect(eq(int, file_is(kept, log), i < 3), "%zu", i);
    }
    free(database.all);
    free(log.all);
    free(rebuilt.all);
}

Test(store, a_second_damage_is_kept_beside_the_first)
{
    char name[240];
    for (int round = 1; round <= 3; round++) {
        remove(path);
        make_store(20);
        struct bytes whole = bytes_of(path);
        write_file(path, whole.all, whole.size - (size_t)round);
        store_close(open_store(), true);
        struct bytes cut = {whole.all, whole.size - (size_t)round};
        snprintf(name, sizeof name, round == 1 ? "%s-damaged" : "%s-damaged-%d", path, round);
        cr_expect(file_is(name, cut), "%s", name);
        free(whole.all);
    }
}

/* ---- what remains of a damaged store ---- */

struct loss_row {
    char name[40], statements[200], says[100];
};

ParameterizedTestParameters(store, loss)
{
    static struct loss_row rows[] = {
        {"one in the middle", "DELETE FROM events WHERE seq = 3", "event 3 is lost, 9 can be read"},
        {"the first", "DELETE FROM events WHERE seq = 1", "event 1 is lost, 9 can be read"},
        {"a range", "DELETE FROM events WHERE seq BETWEEN 3 AND 5",
         "events 3 to 5 are lost, 7 can be read"},
        {"several", "DELETE FROM events WHERE seq IN (1, 4, 5, 9)",
         "events 1, 4 to 5, 9 are lost, 6 can be read"},
        {"many", "DELETE FROM events WHERE seq IN (1, 3, 5, 7, 9) OR seq = 6",
         "events 1, 3, 5 to 7, 9 are lost, 4 can be read"},
        {"another text", "UPDATE events SET text = 'x' WHERE seq = 2",
         "event 2 is lost, 9 can be read"},
        {"another life", "UPDATE life SET alive_at_ms = 5", "no event is lost, 10 can be read"},
        {"another last", "UPDATE latest SET seq = 12", "no event is lost, 10 can be read"},
    };
    return cr_make_param_array(struct loss_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct loss_row *row, store, loss)
{
    make_store(10);
    sql(row->statements);
    expect_refused(row->says);
    struct store *store = NULL;
    cr_expect(eq(int, store_open_checking(&store, path, reason, sizeof reason), UV_EILSEQ), "%s",
              row->name);
    expect_reason(row->says);
}

/* Pages that lead to others, and the first page, may be gone: the events are found without them. */
Test(store, remains_need_no_page_but_their_own)
{
    long_events = true;
    make_store(40);
    struct bytes whole = bytes_of(path);
    size_t lost_most = 0;
    for (size_t page = 0; page < whole.size / SMALL_PAGE; page++) {
        char kept[SMALL_PAGE];
        struct remains remains;
        memcpy(kept, whole.all + page * SMALL_PAGE, SMALL_PAGE);
        memset(whole.all + page * SMALL_PAGE, 0xa5, SMALL_PAGE);
        write_file(path, whole.all, whole.size);
        memcpy(whole.all + page * SMALL_PAGE, kept, SMALL_PAGE);
        cr_assert(eq(int, remains_read(&remains, path, false), 0));
        cr_assert(le(sz, remains.count, 40));
        size_t lost = 40 - remains.count;
        lost_most = lost > lost_most ? lost : lost_most;
        if (page == 0)
            cr_expect(eq(sz, lost, 0), "the first page leads to all others");
        remains_close(&remains);
    }
    cr_expect(lt(sz, 0, lost_most));
    cr_expect(le(sz, lost_most, 8), "no page has more than %zu events", lost_most);
    free(whole.all);
}

Test(store, nothing_remains_of_what_was_never_a_store)
{
    struct remains remains;
    char loss[REMAINS_LOSS_SIZE], noise[9000];
    for (size_t i = 0; i < sizeof noise; i++)
        noise[i] = (char)(i * 2654435761u >> 13);
    write_file(path, noise, sizeof noise);
    cr_assert(eq(int, remains_read(&remains, path, true), 0));
    remains_loss(&remains, loss);
    cr_expect(eq(sz, remains.count, 0));
    cr_expect(eq(str, (char *)loss, "no event can be read"));
    remains_close(&remains);
    remove(path);
    cr_assert(eq(int, remains_read(&remains, path, true), 0), "a file that isn't there");
    cr_expect(eq(sz, remains.count, 0));
    remains_close(&remains);
}

/* Whatever is in the files: no byte outside of them is read. (The sanitizers watch.) */
Test(store, remains_of_files_that_say_anything)
{
    long_events = true;
    make_killed_store(30, 34);
    struct bytes database = bytes_of(path), log = bytes_of(log_path);
    unsigned seed = 20270508;
    for (int round = 0; round < 400; round++) {
        struct bytes *bytes = round % 2 == 0 ? &database : &log;
        char kept[64];
        size_t places[64];
        for (int i = 0; i < 64; i++) {
            seed = seed * 1664525u + 1013904223u;
            places[i] = (seed >> 8) % bytes->size;
            kept[i] = bytes->all[places[i]];
            bytes->all[places[i]] = (char)(seed >> 24);
        }
        write_file(path, database.all, database.size);
        write_file(log_path, log.all, log.size);
        struct remains remains;
        cr_assert(eq(int, remains_read(&remains, path, round % 3 == 0), 0), "seed %u", seed);
        for (size_t i = 0; i < remains.count; i++) {
            char want[2000];
            size_t size = event_text(remains.rows[i].seq, want, sizeof want);
            cr_assert(remains.rows[i].size == size && memcmp(remains.rows[i].text, want, size) == 0,
                      "seed %u: what is read is what was written", seed);
        }
        remains_close(&remains);
        for (int i = 64; i-- > 0;)
            bytes->all[places[i]] = kept[i];
    }
    free(database.all);
    free(log.all);
}

/* ---- beside a daemon ---- */

Test(store, reading_beside_a_daemon_sees_one_moment)
{
    struct store *daemon, *reader = NULL;
    make_store(3);
    daemon = open_store();
    add_events(daemon, 4, 5);
    cr_assert(eq(int, store_open_reading(&reader, path, reason, sizeof reason), 0), "%s", reason);
    add_events(daemon, 6, 9);
    cr_expect(eq(sz, (size_t)events_of(reader), 5));
    cr_expect(eq(int, store_checkpoint(daemon), 0), "who reads holds nobody up");
    add_events(daemon, 10, 10);
    cr_expect(eq(sz, (size_t)events_of(reader), 5));
    store_close(reader, true);
    cr_expect(eq(sz, (size_t)events_of(daemon), 10));
    struct store *checking = NULL;
    cr_expect(eq(int, store_open_checking(&checking, path, reason, sizeof reason), UV_EBUSY));
    expect_reason("another daemon holds this store");
    store_close(daemon, true);
    cr_expect(eq(sz, file_count(false), 1), "only the store itself is left");
}

Test(store, reading_changes_nothing)
{
    struct store *reader = NULL;
    make_killed_store(3, 8);
    struct bytes database = bytes_of(path), log = bytes_of(log_path);
    for (int i = 0; i < 2; i++) {
        int code = i == 0 ? store_open_reading(&reader, path, reason, sizeof reason)
                          : store_open_checking(&reader, path, reason, sizeof reason);
        cr_assert(eq(int, code, 0), "%s", reason);
        cr_expect(eq(sz, (size_t)events_of(reader), 8));
        store_close(reader, true);
        cr_expect(file_is(path, database));
        cr_expect(file_is(log_path, log));
    }
    free(database.all);
    free(log.all);
    store_close(open_store(), true);
    cr_expect(eq(int, store_open_reading(&reader, path, reason, sizeof reason), 0));
    store_close(reader, true);
    cr_expect(eq(sz, file_count(false), 1), "and leaves nothing behind");
    char nowhere[240];
    snprintf(nowhere, sizeof nowhere, "%s-not", path);
    cr_expect(eq(int, store_open_reading(&reader, nowhere, reason, sizeof reason), UV_ENOENT));
    cr_expect(eq(sz, file_count(false), 1), "a store that isn't there isn't made");
}

/* Who only reads doesn't look through it all first: damage is met when it is read, and is damage.
 */
Test(store, a_flipped_bit_is_met_when_it_is_read)
{
    make_store(30);
    struct bytes whole = bytes_of(path);
    size_t met = 0;
    for (size_t bit = 0; bit < 8 * whole.size; bit += 19) {
        struct store *reader = NULL;
        uint64_t count = 0;
        size_t at = bit / 8;
        whole.all[at] = (char)(whole.all[at] ^ (1 << (bit % 8)));
        write_file(path, whole.all, whole.size);
        whole.all[at] = (char)(whole.all[at] ^ (1 << (bit % 8)));
        int code = store_open_reading(&reader, path, reason, sizeof reason);
        if (code == 0)
            code = store_read(reader, count_event, &count);
        cr_assert(code == 0 || code == UV_EILSEQ || code == UV_EFTYPE, "byte %zu: %d %s", at, code,
                  reader != NULL ? store_reason(reader) : reason);
        cr_assert(code != 0 || count == 30, "byte %zu: %zu", at, (size_t)count);
        met += code == 0 ? 0 : 1;
        store_close(reader, true);
        remove(log_path);
    }
    cr_expect(lt(sz, 400, met), "%zu of %zu", met, whole.size);
    free(whole.all);
}

Test(store, a_backup_is_the_store_of_that_moment)
{
    char copy[100];
    uint64_t count = 0;
    make_store(30);
    struct store *daemon = open_store();
    add_events(daemon, 31, 33);
    snprintf(copy, sizeof copy, "%s/copy.sqlite", folder);
    cr_assert(eq(int, store_backup(path, copy, &count, reason, sizeof reason), 0), "%s", reason);
    cr_expect(eq(sz, (size_t)count, 33));
    add_events(daemon, 34, 34);
    cr_expect(eq(int, store_backup(path, copy, &count, reason, sizeof reason), UV_EEXIST));
    expect_reason("nothing is replaced");
    store_close(daemon, true);
    cr_expect(eq(sz, file_count(false), 2), "nothing else is left");
    snprintf(path, sizeof path, "%s", copy);
    struct store *store = open_store();
    cr_expect(eq(sz, (size_t)events_of(store), 33));
    expect_goes_on(store, 33);
}

Test(store, a_backup_of_a_damaged_store_is_none)
{
    char copy[100];
    uint64_t count = 0;
    make_store(10);
    sql("UPDATE events SET text = 'x' WHERE seq = 2");
    snprintf(copy, sizeof copy, "%s/copy.sqlite", folder);
    cr_expect(eq(int, store_backup(path, copy, &count, reason, sizeof reason), UV_EILSEQ));
    expect_reason("day.sqlite is damaged: event 2 is not as it was written");
    cr_expect(eq(sz, file_count(false), 1));
    snprintf(copy, sizeof copy, "%s/nowhere/copy.sqlite", folder);
    sql("DELETE FROM events WHERE seq > 1");
    cr_expect(eq(int, store_backup(path, copy, &count, reason, sizeof reason), UV_ENOENT));
    cr_expect(eq(sz, file_count(false), 1));
}

Test(store, who_only_looks_is_waited_for)
{
    struct store *looking = NULL, *daemon = NULL;
    int told[2];
    char byte = 0;
    make_store(3);
    cr_assert(eq(int, pipe(told), 0));
    pid_t child = fork();
    if (child == 0) {
        int code = store_open_checking(&looking, path, reason, sizeof reason);
        ssize_t written = write(told[1], "x", 1);
        usleep(200000); /* however long: who comes meanwhile waits, who comes later finds it free */
        _exit(code == 0 && written == 1 ? 0 : 1);
    }
    cr_assert(eq(int, (int)read(told[0], &byte, 1), 1));
    cr_expect(eq(int, store_open(&daemon, path, reason, sizeof reason), 0), "%s", reason);
    store_close(daemon, true);
    int status = -1;
    cr_assert(eq(int, waitpid(child, &status, 0), child));
    cr_expect(eq(int, status, 0));
}

Test(store, names_that_are_no_files)
{
    static const char *const names[] = {"", ":memory:", "file:day.sqlite?mode=memory"};
    struct store *store = NULL;
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        cr_expect(eq(int, store_open(&store, names[i], reason, sizeof reason), UV_ENOTSUP), "%s",
                  names[i]);
}

/* ---- texts that are kept ---- */

static char kept_all[4000];

static int note_kept(void *context, const struct kept *kept)
{
    (void)context;
    size_t used = strlen(kept_all);
    snprintf(kept_all + used, sizeof kept_all - used, "%s=%.40s ", kept->name, kept->text);
    return 0;
}

static const char *kept_of(struct store *store)
{
    kept_all[0] = '\0';
    cr_assert(eq(int, store_read_kept(store, note_kept, NULL), 0), "%s", store_reason(store));
    return kept_all;
}

static void keep(struct store *store, const char *name, const char *text)
{
    cr_assert(eq(int, store_begin(store, true), 0), "%s", store_reason(store));
    cr_assert(eq(int, store_keep(store, name, text), 0), "%s", store_reason(store));
    cr_assert(eq(int, store_commit(store), 0), "%s", store_reason(store));
}

Test(store, a_text_is_kept_in_place_of_the_one_before)
{
    make_store(3);
    struct store *store = open_store();
    cr_expect(eq(str, (char *)kept_of(store), ""));
    keep(store, "out/main", "one");
    keep(store, "out/wall", "two");
    keep(store, "out/main", "three");
    cr_expect(eq(str, (char *)kept_of(store), "out/wall=two out/main=three "));
    keep(store, "out/wall", "");
    store_close(store, true);
    store = open_store();
    cr_expect(eq(str, (char *)kept_of(store), "out/main=three "));
    keep(store, "out/wall", "four");
    cr_expect(eq(str, (char *)kept_of(store), "out/main=three out/wall=four "));
    expect_goes_on(store, 3);
}

Test(store, what_was_not_committed_is_not_kept)
{
    make_store(1);
    struct store *store = open_store();
    keep(store, "out/main", "one");
    cr_assert(eq(int, store_begin(store, true), 0));
    cr_assert(eq(int, store_keep(store, "out/main", "two"), 0));
    store_close(store, false);
    store = open_store();
    cr_expect(eq(str, (char *)kept_of(store), "out/main=one "));
    store_close(store, true);
}

Test(store, a_store_of_before_there_were_such_texts)
{
    make_store(3);
    sql("DROP TABLE kept");
    struct store *store = NULL;
    cr_assert(eq(int, store_open_checking(&store, path, reason, sizeof reason), 0), "%s", reason);
    cr_expect(eq(str, (char *)kept_of(store), ""));
    store_close(store, true);
    store = open_store();
    keep(store, "out/main", "one");
    cr_expect(eq(str, (char *)kept_of(store), "out/main=one "));
    expect_goes_on(store, 3);
}

/* Of each name the newest, though older ones can still be read somewhere. */
Test(store, cut_short_it_keeps_the_texts_as_they_were_last)
{
    char text[1200];
    make_store(10);
    struct store *store = open_store();
    for (int i = 1; i <= 40; i++) {
        snprintf(text, sizeof text, "%d %0*d", i, i % 5 == 0 ? 1100 : 20, i);
        keep(store, i % 3 == 0 ? "out/wall" : "out/main", text);
        add_events(store, 10 + (uint64_t)i, 10 + (uint64_t)i);
    }
    keep(store, "out/gone", "x");
    keep(store, "out/gone", "");
    add_events(store, 51, 60);
    store_close(store, true);
    struct bytes whole = bytes_of(path);
    write_file(path, whole.all, whole.size - 1);
    store = open_store();
    cr_expect(ne(int, store_notice(store)[0], '\0'), "it was cut");
    const char *kept = kept_of(store);
    cr_expect(ne(ptr, strstr(kept, "out/wall=39 "), NULL), "%s", kept);
    cr_expect(eq(ptr, strstr(kept, "gone"), NULL), "%s", kept);
    /* The last of main, 40, goes on on other pages, and the last of those may be the one cut. */
    cr_expect(eq(ptr, strstr(kept, "out/main=3"), NULL), "%s", kept);
    store_close(store, true);
    free(whole.all);
}

Test(store, a_backup_has_the_texts_too)
{
    char copy[100];
    uint64_t count = 0;
    make_store(3);
    struct store *store = open_store();
    keep(store, "out/main", "one");
    snprintf(copy, sizeof copy, "%s/copy.sqlite", folder);
    cr_assert(eq(int, store_backup(path, copy, &count, reason, sizeof reason), 0), "%s", reason);
    keep(store, "out/main", "two");
    store_close(store, true);
    snprintf(path, sizeof path, "%s", copy);
    store = open_store();
    cr_expect(eq(str, (char *)kept_of(store), "out/main=one "));
    store_close(store, true);
}

struct kept_damage_row {
    char name[40], statements[120];
};

ParameterizedTestParameters(store, kept_damage)
{
    static struct kept_damage_row rows[] = {
        {"another text", "UPDATE kept SET text = 'x'"},
        {"another name", "UPDATE kept SET name = 'out/mein'"},
        {"another number", "UPDATE kept SET id = 9"},
        {"another sum", "UPDATE kept SET checksum = checksum + 1"},
    };
    return cr_make_param_array(struct kept_damage_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct kept_damage_row *row, store, kept_damage)
{
    make_store(3);
    struct store *store = open_store();
    keep(store, "out/main", "one");
    store_close(store, true);
    sql(row->statements);
    for (int i = 0; i < 2; i++) {
        struct store *damaged = NULL;
        int code = i == 0 ? store_open(&damaged, path, reason, sizeof reason)
                          : store_open_checking(&damaged, path, reason, sizeof reason);
        cr_expect(eq(int, code, UV_EILSEQ), "%s", row->name);
        expect_reason("what is kept as out/m");
        expect_reason("is not as it was written; no event is lost, 3 can be read");
    }
}
