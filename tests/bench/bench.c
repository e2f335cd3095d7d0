/* Measures the core: how fast events are read from JSON, admitted and folded. Prints figures,
 * judges nothing. Each figure is the median of RUNS runs; the logs are made here, the same every
 * time. */
#include <inttypes.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>
#include "commands/edition_files.h"
#include "stats/state.h"
#include "wire/json.h"
#include "wire/state_json.h"
#include "wire/view_json.h"

enum { BOUTS = 100, BOUT_EVENTS = 300, EVENTS = BOUTS * BOUT_EVENTS, RUNS = 7, MILLION = 1000000 };

static uint64_t random_state = 20270508;

static unsigned random_below(unsigned bound)
{
    random_state ^= random_state << 13;
    random_state ^= random_state >> 7;
    random_state ^= random_state << 17;
    return (unsigned)(random_state % bound);
}

static double now_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec * 1e-9;
}

static int by_size(const void *one, const void *other)
{
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

static double median(double *figures)
{
    qsort(figures, RUNS, sizeof *figures, by_size);
    return figures[RUNS / 2];
}

/* ---- the logs ---- */

static const char *const techniques[] = {"single_leg", "double_leg", "high_crotch", "low_single",
                                         "gut_wrench", "ankle_pick", "go_behind",   "leg_lace",
                                         "arm_drag",   "snap_down"};

/* One line of a bout that looks like a bout: attacks, some of them scored and confirmed, the clock
 * stopped and started. With `corrected`, one event in thirty is a correction. */
static void write_event(char *line, size_t size, const char *bout, int i, bool corrected)
{
    const char *side = random_below(2) ? "red" : "blue";
    const char *technique = techniques[random_below(10)];
    char head[200];
    snprintf(head, sizeof head,
             "\"id\":\"%s-%d\",\"bout\":\"%s\",\"at\":\"2027-05-08T10:%02d:%02d.%03dZ\"", bout, i,
             bout, i / 60 % 60, i % 60, (int)random_below(1000));
    if (i == 0)
        snprintf(line, size,
                 "{%s,\"type\":\"bout\",\"rules\":\"freestyle-2022\",\"red\":{\"name\":\"Red\"},"
                 "\"blue\":{\"name\":\"Blue\"},\"mat\":\"A\"}",
                 head);
    else if (corrected && i % 30 == 29)
        snprintf(line, size, "{%s,\"type\":\"void\",\"ref\":\"%s-%d\"}", head, bout, i - 5);
    else if (corrected && i % 30 == 14)
        snprintf(line, size, "{%s,\"type\":\"amend\",\"ref\":\"%s-%d\",\"set\":{\"side\":\"%s\"}}",
                 head, bout, i - 4, side);
    else if (i % 10 == 1 || i % 10 == 6)
        snprintf(line, size, "{%s,\"type\":\"clock\",\"do\":\"%s\"}", head,
                 i % 10 == 1 ? "start" : "stop");
    else if (i % 10 == 4)
        snprintf(line, size, "{%s,\"type\":\"confirm\"}", head);
    else if (i % 10 == 0)
        snprintf(line, size,
                 "{%s,\"type\":\"score\",\"side\":\"%s\",\"points\":2,\"action\":\"takedown\","
                 "\"technique\":\"%s\",\"leg\":\"lead\",\"unconfirmed\":true}",
                 head, side, technique);
    else
        snprintf(line, size,
                 "{%s,\"type\":\"attack\",\"side\":\"%s\",\"techniques\":[\"%s\"],"
                 "\"leg\":\"%s\",\"outcome\":\"stopped\",\"stopped_by\":\"sprawl\"}",
                 head, side, technique, random_below(2) ? "lead" : "trail");
}

static void admit(struct log *log, struct arena *arena, const char *line)
{
    struct complaint complaint;
    arena_reset(arena);
    const struct value *document = json_read(arena, line, strlen(line), &complaint);
    if (document != NULL && log_admit(log, document, INTAKE_FILE, &complaint).admitted == ADMITTED)
        return;
    fprintf(stderr, "bench: %s\n%s\n", complaint.detail, line);
    exit(1);
}

static void make_log(struct log *log, struct arena *arena, bool corrected)
{
    for (int bout = 0; bout < BOUTS; bout++)
        for (int i = 0; i < BOUT_EVENTS; i++) {
            char id[16], line[512];
            snprintf(id, sizeof id, "b%d", bout);
            write_event(line, sizeof line, id, i, corrected);
            admit(log, arena, line);
        }
}

/* ---- the measures ---- */

static void fold_all(const struct log *log, bool one_by_one, bool with_state, int64_t *sum)
{
    for (size_t i = 0; i < log->bout_count; i++) {
        struct fold fold;
        fold_init(&fold, log->bouts[i], malloc, free);
        for (size_t count = one_by_one ? 1 : log->bouts[i]->count; count <= log->bouts[i]->count;
             count++) {
            if (!fold_read(&fold, count))
                exit(3);
            if (with_state)
                *sum += state_of(&fold, 0).leader.side;
        }
        *sum += fold.all.sides[0].points;
        fold_close(&fold);
    }
}

static double ns_an_event(const struct log *log, bool one_by_one, bool with_state)
{
    double figures[RUNS];
    int64_t sum = 0;
    for (int run = 0; run < RUNS; run++) {
        double start = now_s();
        int events = 0;
        for (; events < MILLION; events += EVENTS)
            fold_all(log, one_by_one, with_state, &sum);
        figures[run] = (now_s() - start) * 1e9 / events;
    }
    if (sum == 0)
        puts("(nothing was folded)");
    return median(figures);
}

/* A correction arrives: the 300 events are read anew. */
static double us_a_refold(const struct log *log, struct arena *arena)
{
    double figures[RUNS];
    struct bout *bout = log->bouts[0];
    struct fold fold;
    int64_t sum = 0;
    (void)arena;
    fold_init(&fold, bout, malloc, free);
    for (int run = 0; run < RUNS; run++) {
        double spent = 0;
        for (int i = 0; i < 1000; i++) {
            fold.count = 0; /* as after a correction: all is read again */
            double start = now_s();
            if (!fold_read(&fold, bout->count))
                exit(3);
            spent += now_s() - start;
            sum += fold.all.sides[0].points;
        }
        figures[run] = spent * 1e6 / 1000;
    }
    fold_close(&fold);
    return sum == 0 ? 0 : median(figures);
}

static double us_an_intake(const struct editions *editions)
{
    double figures[RUNS];
    for (int run = 0; run < RUNS; run++) {
        struct log log;
        struct arena arena;
        log_init(&log, editions, malloc, free);
        arena_init(&arena, malloc, free);
        double start = now_s();
        make_log(&log, &arena, false);
        figures[run] = (now_s() - start) * 1e6 / EVENTS;
        log_close(&log);
        arena_close(&arena);
    }
    return median(figures);
}

static json_t *view_of(const struct state *state)
{
    static struct view_memory memory; /* as a daemon that shows the bout would have */
    return view_json(state, &memory, (struct anchors){0, false});
}

static double us_a_text(const struct log *log, json_t *(*make)(const struct state *))
{
    double figures[RUNS];
    struct fold fold;
    fold_init(&fold, log->bouts[0], malloc, free);
    if (!fold_read(&fold, log->bouts[0]->count))
        exit(3);
    for (int run = 0; run < RUNS; run++) {
        double start = now_s();
        for (int i = 0; i < 1000; i++) {
            struct state state = state_of(&fold, 0);
            json_t *json = make(&state);
            free(json_line(json));
            json_decref(json);
        }
        figures[run] = (now_s() - start) * 1e6 / 1000;
    }
    fold_close(&fold);
    return median(figures);
}

/* The disk's own time: one row, one transaction, as the journal writes it. */
static double us_a_commit(void)
{
    enum { COMMITS = 200 };
    static double figures[COMMITS];
    char folder[] = "/tmp/boutwire-bench-XXXXXX", path[64], text[300];
    sqlite3 *store = NULL;
    memset(text, 'x', sizeof text);
    if (mkdtemp(folder) == NULL)
        return 0;
    snprintf(path, sizeof path, "%s/store", folder);
    bool good = sqlite3_open(path, &store) == SQLITE_OK &&
                sqlite3_exec(store,
                             "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;"
                             "CREATE TABLE events (seq INTEGER PRIMARY KEY, text TEXT)",
                             NULL, NULL, NULL) == SQLITE_OK;
    for (int i = 0; i < COMMITS && good; i++) {
        char insert[400];
        snprintf(insert, sizeof insert, "INSERT INTO events (text) VALUES ('%.*s')", 300, text);
        double start = now_s();
        good = sqlite3_exec(store, insert, NULL, NULL, NULL) == SQLITE_OK;
        figures[i] = (now_s() - start) * 1e6;
    }
    sqlite3_close(store);
    unlink(path);
    rmdir(folder);
    qsort(figures, COMMITS, sizeof *figures, by_size);
    return good ? figures[COMMITS / 2] : 0;
}

int main(void)
{
    struct edition_files files;
    struct log plain, corrected;
    struct arena arena;
    if (edition_files_read(&files, NULL, 0) != 0)
        return 1;
    arena_init(&arena, malloc, free);
    log_init(&plain, &files.editions, malloc, free);
    log_init(&corrected, &files.editions, malloc, free);
    make_log(&plain, &arena, false);
    make_log(&corrected, &arena, true);
    double whole = ns_an_event(&plain, false, false), each = ns_an_event(&plain, true, false);
    printf("folded, a million events, one core     %8.2f million events/s\n", 1e3 / whole);
    printf("one incremental event                  %8.1f ns\n", each);
    printf("one incremental event, and its state   %8.1f ns\n", ns_an_event(&plain, true, true));
    printf("re-fold of %d events                  %8.1f us\n", BOUT_EVENTS,
           us_a_refold(&plain, &arena));
    printf("re-fold of %d, 20 of them corrections %8.1f us\n", BOUT_EVENTS,
           us_a_refold(&corrected, &arena));
    printf("one event from JSON to admitted        %8.2f us\n", us_an_intake(&files.editions));
    printf("state of a %d-event bout as text      %8.1f us\n", BOUT_EVENTS,
           us_a_text(&plain, state_json));
    printf("view of it as text                     %8.1f us\n", us_a_text(&plain, view_of));
    printf("the disk's own time for one commit     %8.1f us\n", us_a_commit());
    log_close(&plain);
    log_close(&corrected);
    arena_close(&arena);
    edition_files_close(&files);
    return 0;
}
