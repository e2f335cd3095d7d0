/* Measures the archive: how long it takes to put 100,000 bouts in, to open it then, and how long
 * each question takes (median and p99 over random athletes and positions). Prints figures, judges
 * nothing. The bouts are made here, the same every time: some hundred are keyed, folded and taken
 * as accounts, and each is put in again and again as other athletes' bout of another day. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>
#include "archive/archive.h"
#include "commands/edition_files.h"
#include "rules/time_of_day.h"
#include "wire/json.h"

enum {
    BOUTS = 100000,
    MADE = 300,
    ATHLETES = 3000,
    ASKED = 2000,
    IN_TRANSACTION = 500,
    NAME_SIZE = 16,
};

static const int64_t begins_ms = INT64_C(1809770400000), between_ms = 600000;

/* ---- chance ---- */

static uint64_t state = 88172645463325252u;

static int below(int limit)
{
    state ^= state << 13;
    state ^= state >> 7;
    state ^= state << 17;
    return (int)(state % (uint64_t)limit);
}

static double now_s(void)
{
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec + (double)time.tv_nsec / 1e9;
}

static void expect(bool good, const char *what)
{
    if (good)
        return;
    fprintf(stderr, "bench: %s\n", what);
    exit(1);
}

/* ---- bouts ---- */

static void key(struct log *log, struct arena *arena, int64_t at_ms, const char *bout,
                const char *members)
{
    static unsigned number;
    char text[400], at[TIME_OF_DAY_SIZE];
    struct complaint complaint;
    time_of_day_write(at_ms, at);
    snprintf(text, sizeof text, "{\"id\":\"e%u\",\"bout\":\"%s\",\"at\":\"%s\",%s}", ++number, bout,
             at, members);
    arena_reset(arena);
    const struct value *document = json_read(arena, text, strlen(text), &complaint);
    expect(document != NULL &&
               log_admit(log, document, INTAKE_FILE, &complaint).admitted == ADMITTED,
           text);
}

static void key_action(struct log *log, struct arena *arena, int64_t at_ms, const char *bout)
{
    static const char *const sides[] = {"red", "blue"}, *const legs[] = {"lead", "trail"};
    static const char *const techniques[] = {"single_leg",     "double_leg", "high_crotch",
                                             "low_single",     "ankle_pick", "go_behind",
                                             "firemans_carry", "arm_drag",   "snap_down"};
    static const char *const scores[] = {"2,\"action\":\"takedown\"", "2,\"action\":\"exposure\"",
                                         "1,\"action\":\"step_out\"", "4,\"action\":\"throw\""};
    static const char *const outcomes[] = {"stopped", "stopped", "countered", "out"};
    char text[300];
    int period = 1 + below(2), t_ms = below(180000);
    if (below(3) == 0)
        snprintf(text, sizeof text,
                 "\"type\":\"score\",\"side\":\"%s\",\"points\":%s,\"technique\":\"%s\","
                 "\"leg\":\"%s\",\"period\":%d,\"t_ms\":%d",
                 sides[below(2)], scores[below(4)], techniques[below(9)], legs[below(2)], period,
                 t_ms);
    else
        snprintf(text, sizeof text,
                 "\"type\":\"attack\",\"side\":\"%s\",\"techniques\":[\"%s\"],\"leg\":\"%s\","
                 "\"outcome\":\"%s\",\"period\":%d,\"t_ms\":%d",
                 sides[below(2)], techniques[below(9)], legs[below(2)], outcomes[below(4)], period,
                 t_ms);
    key(log, arena, at_ms, bout, text);
}

static void make_bout(struct log *log, struct arena *arena, int number)
{
    char bout[16], close[200];
    int64_t at_ms = begins_ms;
    snprintf(bout, sizeof bout, "m%d", number);
    snprintf(close, sizeof close,
             "\"type\":\"bout\",\"rules\":\"freestyle-2022\",\"style\":\"%s\","
             "\"red\":{\"name\":\"Red\"},\"blue\":{\"name\":\"Blue\"},\"weight\":\"74\"",
             below(3) == 0 ? "women" : "freestyle");
    key(log, arena, at_ms, bout, close);
    for (int i = 8 + below(16); i > 0; i--)
        key_action(log, arena, at_ms += 1000, bout);
    snprintf(close, sizeof close,
             "\"type\":\"close\",\"how\":\"%s\",\"winner\":\"%s\",\"period\":2,\"t_ms\":%d",
             below(4) == 0 ? "fall" : "points", below(2) == 0 ? "red" : "blue",
             180000 - below(2) * 90000);
    key(log, arena, at_ms + 1000, bout, close);
}

/* ---- filling ---- */

static char names[ATHLETES][NAME_SIZE];

/* A few wrestle much more than most. */
static const char *some_athlete(void)
{
    int place = below(ATHLETES);
    return names[below(place + 1)];
}

static void put_again(struct archive *archive, const struct archive_entry *made, int number)
{
    char bout[16];
    struct details details = *made->details;
    struct archive_entry entry = *made;
    bool written = false;
    snprintf(bout, sizeof bout, "b%d", number % 100);
    entry.bout = bout;
    entry.called_at_ms = begins_ms + number * between_ms;
    entry.details = &details;
    for (int i = 0; i < 2; i++)
        details.sides[i].athlete = details.sides[i].name = some_athlete();
    expect(archive_put(archive, &entry, &written) == 0 && written, archive_reason(archive));
}

static void fill(struct archive *archive, struct log *log)
{
    static struct archive_entry made[MADE];
    static struct fold folds[MADE];
    struct arena arena;
    arena_init(&arena, malloc, free);
    for (int i = 0; i < MADE; i++)
        make_bout(log, &arena, i);
    arena_reset(&arena);
    for (int i = 0; i < MADE; i++) {
        fold_init(&folds[i], log->bouts[i], malloc, free);
        expect(fold_read(&folds[i], log->bouts[i]->count), "memory");
        struct state of = state_of(&folds[i], INT64_MIN);
        expect(archive_entry_of(&made[i], &of, &arena), "memory");
    }
    for (int i = 0; i < BOUTS; i++) {
        if (i % IN_TRANSACTION == 0)
            expect(archive_begin(archive) == 0, archive_reason(archive));
        put_again(archive, &made[below(MADE)], i);
        if ((i + 1) % IN_TRANSACTION == 0)
            expect(archive_commit(archive) == 0, archive_reason(archive));
    }
    for (int i = 0; i < MADE; i++)
        fold_close(&folds[i]);
    arena_close(&arena);
}

/* ---- asking ---- */

typedef int question(struct archive *archive, struct arena *arena);

static struct archive_span some_span(void)
{
    return (struct archive_span){some_athlete(), INT64_MIN, INT64_MAX};
}

static int ask_totals(struct archive *archive, struct arena *arena)
{
    struct archive_span span = some_span();
    struct archive_totals totals;
    (void)arena;
    return archive_totals(archive, &span, &totals);
}

static int ask_attempts(struct archive *archive, struct arena *arena)
{
    struct archive_span span = some_span();
    struct archive_attempts *list;
    size_t count;
    return archive_attempts(archive, &span, arena, &list, &count);
}

static int ask_periods(struct archive *archive, struct arena *arena)
{
    struct archive_span span = some_span();
    struct archive_points *list;
    size_t count;
    return archive_periods(archive, &span, arena, &list, &count);
}

static int ask_minutes(struct archive *archive, struct arena *arena)
{
    struct archive_span span = some_span();
    struct archive_points *list;
    size_t count;
    return archive_minutes(archive, &span, arena, &list, &count);
}

static int ask_comebacks(struct archive *archive, struct arena *arena)
{
    struct archive_span span = some_span();
    struct archive_comebacks *list;
    size_t count;
    return archive_comebacks(archive, &span, arena, &list, &count);
}

static int ask_endings(struct archive *archive, struct arena *arena)
{
    struct archive_span span = some_span();
    struct archive_endings *list;
    size_t count;
    return archive_endings(archive, &span, arena, &list, &count);
}

static int ask_meetings(struct archive *archive, struct arena *arena)
{
    struct archive_span span = some_span();
    struct archive_bout *list;
    size_t count;
    return archive_meetings(archive, &span, some_athlete(), 10, arena, &list, &count);
}

static int ask_path(struct archive *archive, struct arena *arena)
{
    struct archive_span span = some_span();
    struct archive_bout *list;
    size_t count;
    span.before_ms = begins_ms + below(BOUTS) * between_ms;
    span.from_ms = span.before_ms - 14 * 3600000;
    return archive_bouts(archive, &span, arena, &list, &count);
}

static int ask_position(struct archive *archive, struct arena *arena)
{
    struct archive_position position = {.minutes = 1 + below(5), .behind = below(9)};
    (void)arena;
    return archive_position(archive, "freestyle", 360000, &position);
}

static int ask_positions(struct archive *archive, struct arena *arena)
{
    struct archive_position *list;
    size_t count;
    return archive_positions(archive, "freestyle", 360000, arena, &list, &count);
}

static const struct {
    const char *what;
    question *ask;
} questions[] = {
    {"totals, first score, margin, late", ask_totals},
    {"attempts by technique and leg", ask_attempts},
    {"points by period", ask_periods},
    {"points by minute", ask_minutes},
    {"comebacks", ask_comebacks},
    {"endings", ask_endings},
    {"last meetings of two", ask_meetings},
    {"a day's path", ask_path},
    {"how often a side came back", ask_position},
    {"the same for every minute and margin", ask_positions},
};

static int by_size(const void *one, const void *other)
{
    double a = *(const double *)one, b = *(const double *)other;
    return a < b ? -1 : a > b;
}

static void measure(struct archive *archive, const char *what, question *ask)
{
    static double figures[ASKED];
    struct arena arena;
    arena_init(&arena, malloc, free);
    for (int i = 0; i < ASKED; i++) {
        arena_reset(&arena);
        double start = now_s();
        expect(ask(archive, &arena) == 0, archive_reason(archive));
        figures[i] = (now_s() - start) * 1e3;
    }
    arena_close(&arena);
    qsort(figures, ASKED, sizeof *figures, by_size);
    printf("  %-38s median %7.3f ms   p99 %7.3f ms\n", what, figures[ASKED / 2],
           figures[ASKED * 99 / 100]);
}

static void measure_all(const char *path)
{
    struct archive *archive = NULL;
    char reason[ARCHIVE_REASON_SIZE];
    double start = now_s();
    expect(archive_open(&archive, path, ARCHIVE_READ, reason, sizeof reason) == 0, reason);
    printf("the archive opened and looked through    %8.0f ms\n", (now_s() - start) * 1e3);
    for (size_t i = 0; i < sizeof questions / sizeof *questions; i++)
        measure(archive, questions[i].what, questions[i].ask);
    archive_close(archive);
}

static void fill_all(const char *path)
{
    struct edition_files files;
    struct archive *archive = NULL;
    struct log log;
    struct stat file;
    char reason[ARCHIVE_REASON_SIZE];
    expect(edition_files_read(&files, NULL, 0) == 0, "editions");
    expect(archive_open(&archive, path, ARCHIVE_WRITE, reason, sizeof reason) == 0, reason);
    log_init(&log, &files.editions, malloc, free);
    double start = now_s();
    fill(archive, &log);
    double gone_s = now_s() - start;
    log_close(&log);
    archive_close(archive);
    edition_files_close(&files);
    expect(stat(path, &file) == 0, "the file is there");
    printf("%d bouts put into the archive, each   %8.0f us (%.0f MB)\n", BOUTS,
           gone_s * 1e6 / BOUTS, (double)file.st_size / 1e6);
}

int main(void)
{
    char folder[] = "/tmp/boutwire-bench-XXXXXX", path[64];
    for (int i = 0; i < ATHLETES; i++)
        snprintf(names[i], NAME_SIZE, "athlete-%d", i);
    expect(mkdtemp(folder) != NULL, "a folder in /tmp");
    snprintf(path, sizeof path, "%s/archive", folder);
    fill_all(path);
    measure_all(path);
    unlink(path);
    snprintf(path, sizeof path, "%s/archive-wal", folder);
    unlink(path);
    snprintf(path, sizeof path, "%s/archive-shm", folder);
    unlink(path);
    rmdir(folder);
    return 0;
}
