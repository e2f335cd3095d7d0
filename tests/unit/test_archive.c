/* The archive without memory: every allocation of an answer fails once, and is told; what it is
 * asked and holds is tested from outside (tests/daemon/archive.test.mjs). */
#include "archive/past.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <stdlib.h>
#include <unistd.h>
#include <uv.h>
#include "support.h"

TestSuite(archive);

#define PEOPLE "red:{name:Red,athlete:one} blue:{name:Blue,athlete:two} style:freestyle "

struct opened {
    char folder[40], path[64];
    struct archive *archive;
    struct story story;
    struct arena arena;
};

/* Three bouts of the same two, each told by that story. */
static void open_archive(struct opened *opened, const char *text)
{
    char reason[ARCHIVE_REASON_SIZE];
    snprintf(opened->folder, sizeof opened->folder, "/tmp/boutwire-unit-XXXXXX");
    cr_assert(ne(ptr, mkdtemp(opened->folder), NULL));
    snprintf(opened->path, sizeof opened->path, "%s/archive", opened->folder);
    cr_assert(eq(int,
                 archive_open(&opened->archive, opened->path, ARCHIVE_WRITE, reason, sizeof reason),
                 0),
              "%s", reason);
    story_init(&opened->story);
    story_tell(&opened->story, text);
    arena_init(&opened->arena, malloc, free);
}

static void close_archive(struct opened *opened)
{
    static const char *const ends[] = {"", "-wal", "-shm"};
    char path[80];
    archive_close(opened->archive);
    arena_close(&opened->arena);
    story_close(&opened->story);
    for (size_t i = 0; i < 3; i++) {
        snprintf(path, sizeof path, "%s%s", opened->path, ends[i]);
        unlink(path);
    }
    rmdir(opened->folder);
}

static bool put(struct opened *opened, size_t events)
{
    struct fold fold;
    struct archive_entry entry;
    bool written = false;
    fold_init(&fold, opened->story.log.bouts[0], malloc, free);
    cr_assert(fold_read(&fold, events));
    struct state state = state_of(&fold, INT64_MIN);
    cr_assert(archive_entry_of(&entry, &state, &opened->arena));
    cr_assert(eq(int, archive_begin(opened->archive), 0));
    cr_assert(eq(int, archive_put(opened->archive, &entry, &written), 0), "%s",
              archive_reason(opened->archive));
    cr_assert(eq(int, archive_commit(opened->archive), 0));
    fold_close(&fold);
    return written;
}

static int64_t count_of(struct opened *opened)
{
    int64_t count = -1;
    cr_assert(eq(int, archive_count(opened->archive, &count), 0));
    return count;
}

#define WRESTLED                                                                                   \
    "0 bout rules:freestyle-2022 " PEOPLE "; 1 clock do:start;"                                    \
    "10 score side:red points:2 action:takedown technique:double_leg leg:lead;"                    \
    "200 close how:points winner:red"

Test(archive, more_events_hold)
{
    struct opened opened;
    open_archive(&opened, WRESTLED);
    cr_expect(not(put(&opened, 1)), "only called: there is nothing to say");
    cr_expect(eq(i64, count_of(&opened), 0));
    cr_expect(put(&opened, 4));
    cr_expect(put(&opened, 4), "the same again");
    cr_expect(not(put(&opened, 3)), "fewer events than are known");
    cr_expect(eq(i64, count_of(&opened), 1));
    close_archive(&opened);
}

/* A restart takes out all that was wrestled: then the bout goes. */
Test(archive, nothing_left_to_say)
{
    struct opened opened;
    open_archive(&opened, WRESTLED "; 210 restart");
    cr_expect(put(&opened, 4));
    cr_expect(put(&opened, 5));
    cr_expect(eq(i64, count_of(&opened), 0));
    close_archive(&opened);
}

/* What was begun and not committed was never there. */
Test(archive, taken_back)
{
    struct opened opened;
    struct fold fold;
    struct archive_entry entry;
    bool written = false;
    open_archive(&opened, WRESTLED);
    fold_init(&fold, opened.story.log.bouts[0], malloc, free);
    cr_assert(fold_read(&fold, 4));
    struct state state = state_of(&fold, INT64_MIN);
    cr_assert(archive_entry_of(&entry, &state, &opened.arena));
    cr_assert(eq(int, archive_begin(opened.archive), 0));
    cr_assert(eq(int, archive_put(opened.archive, &entry, &written), 0));
    archive_rollback(opened.archive);
    archive_rollback(opened.archive);
    cr_expect(eq(i64, count_of(&opened), 0));
    fold_close(&fold);
    close_archive(&opened);
}

static int ask_past(struct opened *opened, struct arena *arena, struct past *past)
{
    return archive_past(opened->archive, opened->story.log.bouts[0]->details,
                        story_begins_ms + 86400000, arena, past);
}

static int ask_attempts(struct opened *opened, struct arena *arena, struct past *past)
{
    const struct archive_span span = {"one", INT64_MIN, INT64_MAX};
    struct archive_attempts *list = NULL;
    size_t count = 0;
    int code = archive_attempts(opened->archive, &span, arena, &list, &count);
    past->position_count = count;
    return code;
}

static int ask_bouts(struct opened *opened, struct arena *arena, struct past *past)
{
    const struct archive_span span = {"one", INT64_MIN, INT64_MAX};
    struct archive_bout *list = NULL;
    size_t count = 0;
    int code = archive_bouts(opened->archive, &span, arena, &list, &count);
    past->position_count = count;
    return code;
}

/* Each allocation fails in its turn: that is told, and the next question is answered. */
static void expect_told(struct opened *opened,
                        int (*ask)(struct opened *, struct arena *, struct past *))
{
    struct past past;
    for (long count = 0;; count++) {
        struct arena arena;
        arena_init(&arena, failing_allocate, failing_release);
        fail_after(count);
        int code = ask(opened, &arena, &past);
        bool failed = has_failed();
        fail_never();
        cr_assert(eq(int, code, failed ? UV_ENOMEM : 0), "after %ld allocations", count);
        arena_close(&arena);
        if (!failed)
            break;
    }
    cr_expect(gt(sz, past.position_count, 0), "there was something to answer");
}

Test(archive, without_memory)
{
    struct opened opened;
    open_archive(&opened, WRESTLED);
    cr_assert(put(&opened, 4));
    expect_told(&opened, ask_attempts);
    expect_told(&opened, ask_bouts);
    expect_told(&opened, ask_past);
    cr_expect(eq(i64, allocations_left_over(), 0));
    close_archive(&opened);
}

Test(archive, past_of_the_sides)
{
    struct opened opened;
    struct past past;
    open_archive(&opened, WRESTLED);
    cr_assert(put(&opened, 4));
    cr_assert(eq(int, ask_past(&opened, &opened.arena, &past), 0));
    cr_expect(eq(int, past.sides[0].scored_first.bouts, 1));
    cr_expect(eq(int, past.sides[0].scored_first.won, 1));
    cr_expect(eq(int, past.sides[1].scored_first.bouts, 0));
    cr_expect(eq(int, past.meetings.bouts, 1));
    cr_expect(eq(int, past.meetings.won[0], 1));
    cr_expect(eq(int, past.meetings.last_points[0], 2));
    cr_expect(eq(int, past.meetings.last_winner, SIDE_RED));
    cr_assert(eq(int,
                 archive_past(opened.archive, opened.story.log.bouts[0]->details, story_begins_ms,
                              &opened.arena, &past),
                 0));
    cr_expect(eq(int, past.meetings.bouts, 0), "of bouts called before it alone");
    close_archive(&opened);
}
