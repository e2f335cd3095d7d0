/* The normal course: read the file, its header, then every frame; note of each whether its checksum
 * goes on from the frame before it ("linked"); then let the frames up to each commit
 * count if all of them are linked. */
#include "journal/wal.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>
#include "journal/files.h"

enum {
    HEADER_SIZE = 32,
    FRAME_HEADER_SIZE = 24,
    MAGIC = 0x377f0682, /* and 1 more where checksums read words with the high byte first */
    VERSION_OF_FORMAT = 3007000,
};

struct sum {
    uint32_t one, two;
};

/* What the header says, or what was found out without it. */
struct life {
    bool known;
    bool high_first;
    uint32_t salt_one, salt_two;
    struct sum sum; /* what the first frame goes on from */
};

static uint32_t word_at(const unsigned char *bytes)
{
    return (uint32_t)bytes[0] << 24 | (uint32_t)bytes[1] << 16 | (uint32_t)bytes[2] << 8 | bytes[3];
}

static uint32_t low_word_at(const unsigned char *bytes)
{
    return (uint32_t)bytes[3] << 24 | (uint32_t)bytes[2] << 16 | (uint32_t)bytes[1] << 8 | bytes[0];
}

/* `size` is a multiple of 8. */
static struct sum sum_add(struct sum sum, bool high_first, const unsigned char *bytes, size_t size)
{
    uint32_t (*read)(const unsigned char *) = high_first ? word_at : low_word_at;
    for (size_t i = 0; i < size; i += 8) {
        sum.one += read(bytes + i) + sum.two;
        sum.two += read(bytes + i + 4) + sum.one;
    }
    return sum;
}

static struct sum sum_at(const unsigned char *bytes)
{
    return (struct sum){word_at(bytes), word_at(bytes + 4)};
}

static bool sums_equal(struct sum a, struct sum b)
{
    return a.one == b.one && a.two == b.two;
}

static bool is_page_size(size_t size)
{
    return size >= 512 && size <= 65536 && (size & (size - 1)) == 0;
}

/* ---- the header ---- */

static bool header_read(struct wal *wal, struct life *life)
{
    const unsigned char *bytes = wal->bytes;
    uint32_t magic = word_at(bytes);
    bool high_first = (magic & 1u) != 0;
    struct sum sum = sum_add((struct sum){0, 0}, high_first, bytes, 24);
    if ((magic & ~1u) != MAGIC || word_at(bytes + 4) != VERSION_OF_FORMAT ||
        !sums_equal(sum, sum_at(bytes + 24)) || !is_page_size(word_at(bytes + 8)))
        return false;
    wal->page_size = wal->told_page_size = word_at(bytes + 8);
    *life = (struct life){true, high_first, word_at(bytes + 16), word_at(bytes + 20), sum};
    return true;
}

static size_t frame_size(const struct wal *wal)
{
    return FRAME_HEADER_SIZE + wal->page_size;
}

static const unsigned char *frame_at(const struct wal *wal, size_t index)
{
    return wal->bytes + HEADER_SIZE + index * frame_size(wal);
}

/* What a frame's checksum is if it goes on from `sum`. */
static struct sum frame_sum(const struct wal *wal, const unsigned char *frame, bool high_first,
                            struct sum sum)
{
    sum = sum_add(sum, high_first, frame, 8);
    return sum_add(sum, high_first, frame + FRAME_HEADER_SIZE, wal->page_size);
}

static bool frame_goes_on(const struct wal *wal, const unsigned char *frame, bool high_first,
                          struct sum sum)
{
    return sums_equal(frame_sum(wal, frame, high_first, sum), sum_at(frame + 16));
}

/* The header can't be read. If frames go on from one another, their salts are this life's. */
static bool life_guess(const struct wal *wal, size_t whole_count, struct life *life)
{
    for (size_t i = 0; i + 1 < whole_count; i++)
        for (int high_first = 0; high_first <= 1; high_first++) {
            const unsigned char *frame = frame_at(wal, i), *next = frame_at(wal, i + 1);
            if (!frame_goes_on(wal, next, high_first == 1, sum_at(frame + 16)))
                continue;
            *life = (struct life){true, high_first == 1, word_at(next + 8), word_at(next + 12),
                                  sum_at(wal->bytes + 24)};
            return true;
        }
    return false;
}

/* ---- the frames ---- */

/* A frame left from before the log was begun anew has two other salts; a page that a power cut kept
 * from the disk may be nothing but zeros, which is no frame of any life. */
static bool is_of_life(const struct life *life, const unsigned char *frame)
{
    return word_at(frame + 8) == life->salt_one || word_at(frame + 12) == life->salt_two;
}

/* What stands in the frame before this one as its checksum; or, for a frame whose own checksum was
 * damaged, what it must have been. */
static struct sum sum_before(const struct wal *wal, const struct life *life, size_t index,
                             bool recomputed)
{
    if (index == 0)
        return life->sum;
    const unsigned char *before = frame_at(wal, index - 1);
    if (!recomputed)
        return sum_at(before + 16);
    return frame_sum(wal, before, life->high_first, sum_before(wal, life, index - 1, false));
}

static bool is_linked(const struct wal *wal, const struct life *life, size_t index)
{
    const unsigned char *frame = frame_at(wal, index);
    if (word_at(frame + 8) != life->salt_one || word_at(frame + 12) != life->salt_two ||
        word_at(frame) == 0)
        return false;
    return frame_goes_on(wal, frame, life->high_first, sum_before(wal, life, index, false)) ||
           frame_goes_on(wal, frame, life->high_first, sum_before(wal, life, index, true));
}

static void frame_note(struct wal *wal, const struct life *life, size_t index)
{
    const unsigned char *frame = frame_at(wal, index);
    wal->frames[index] = (struct wal_frame){.page = word_at(frame),
                                            .pages = word_at(frame + 4),
                                            .counts = is_linked(wal, life, index),
                                            .of_this_life = is_of_life(life, frame),
                                            .bytes = frame + FRAME_HEADER_SIZE};
}

/* Until now a frame "counts" when it is linked; from here on when its whole commit is. Answers how
 * many frames there are up to the end of the last whole commit. */
static size_t commits_find(struct wal *wal)
{
    size_t begin = 0, end = 0;
    bool whole = true;
    for (size_t i = 0; i < wal->frame_count; i++) {
        struct wal_frame *frame = &wal->frames[i];
        bool ends = frame->of_this_life && frame->pages != 0;
        whole = whole && frame->counts;
        if (ends && whole) {
            wal->pages = frame->pages;
            end = i + 1;
        }
        if (ends && !whole)
            for (size_t j = begin; j <= i; j++)
                wal->frames[j].counts = false;
        if (ends) {
            begin = i + 1;
            whole = true;
        }
    }
    for (size_t i = begin; i < wal->frame_count; i++)
        wal->frames[i].counts = false;
    return end;
}

static bool is_zero(const unsigned char *bytes, size_t size)
{
    for (size_t i = 0; i < size; i++)
        if (bytes[i] != 0)
            return false;
    return true;
}

/* Whether a commit was begun at the byte where the last whole one ends. */
static bool was_begun(const struct wal *wal, const struct life *life, size_t at)
{
    size_t left = wal->size - at;
    if (left == 0)
        return false;
    if (left < FRAME_HEADER_SIZE)
        return true;
    return is_of_life(life, wal->bytes + at) || is_zero(wal->bytes + at, FRAME_HEADER_SIZE);
}

static void state_find(struct wal *wal, const struct life *life, bool header_good)
{
    size_t end = commits_find(wal), bad = 0;
    while (bad < end && wal->frames[bad].counts)
        bad++;
    size_t end_at = HEADER_SIZE + end * frame_size(wal);
    wal->unfinished_size = was_begun(wal, life, end_at) ? wal->size - end_at : 0;
    wal->state = wal->unfinished_size > 0 ? WAL_UNFINISHED : WAL_WHOLE;
    if (end == 0 && wal->unfinished_size == 0)
        wal->state = WAL_EMPTY;
    if (bad < end || (!header_good && end > 0)) {
        wal->state = WAL_BROKEN;
        wal->broken_at = header_good ? HEADER_SIZE + bad * frame_size(wal) : 0;
    }
    wal->frame_count = end; /* what was begun after it counts for nothing */
}

int wal_read(struct wal *wal, const char *path, size_t page_size)
{
    *wal = (struct wal){.page_size = is_page_size(page_size) ? page_size : 4096};
    size_t path_size = strlen(path) + sizeof "-wal";
    char *log_path = malloc(path_size);
    if (log_path == NULL)
        return UV_ENOMEM;
    snprintf(log_path, path_size, "%s-wal", path);
    int code = file_read(log_path, &wal->bytes, &wal->size);
    free(log_path);
    if (code != 0 || wal->size == 0)
        return code;

    struct life life = {.known = false};
    wal->state = WAL_UNFINISHED;
    wal->unfinished_size = wal->size;
    bool header_good = wal->size >= HEADER_SIZE && header_read(wal, &life);
    size_t whole_count = wal->size < HEADER_SIZE ? 0 : (wal->size - HEADER_SIZE) / frame_size(wal);
    if (!header_good && !life_guess(wal, whole_count, &life))
        return 0;
    wal->frames = calloc(whole_count + 1, sizeof *wal->frames);
    if (wal->frames == NULL)
        return UV_ENOMEM;
    wal->frame_count = whole_count;
    for (size_t i = 0; i < whole_count; i++)
        frame_note(wal, &life, i);
    state_find(wal, &life, header_good);
    return 0;
}

void wal_close(struct wal *wal)
{
    free(wal->frames);
    free(wal->bytes);
    *wal = (struct wal){.state = WAL_EMPTY};
}

const unsigned char *wal_page(const struct wal *wal, uint32_t page)
{
    for (size_t i = wal->frame_count; i-- > 0;)
        if (wal->frames[i].counts && wal->frames[i].page == page)
            return wal->frames[i].bytes;
    return NULL;
}
