/* The normal course: take the survey, then look at every page of the database and every frame of
 * the log in turn. On each that is a leaf of a table, each cell is read as a record; a record
 * counts if it has the shape of one of our rows and its checksum is right. Of two rows with one
 * number the later one holds. */
#include "journal/remains.h"
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <uv.h>
#include "journal/checksum.h"
#include "journal/files.h"
#include "journal/store_parts.h"

enum {
    HEADER_SIZE = 100, /* of the database, at the start of its first page */
    PAGE_SIZE_MIN = 512,
    PAGE_SIZE_MAX = 65536,
    TABLE_LEAF = 13,      /* a page's kind */
    COLUMN_COUNT_MAX = 4, /* of our tables */
    PAYLOAD_SIZE_MAX = 1 << 24,
};

/* ---- the survey ---- */

static uint32_t word_at(const unsigned char *bytes)
{
    return (uint32_t)bytes[0] << 24 | (uint32_t)bytes[1] << 16 | (uint32_t)bytes[2] << 8 | bytes[3];
}

static size_t half_at(const unsigned char *bytes)
{
    return (size_t)bytes[0] << 8 | bytes[1];
}

static size_t page_size_of(const unsigned char *header)
{
    size_t size = half_at(header + 16);
    size = size == 1 ? PAGE_SIZE_MAX : size;
    return size >= PAGE_SIZE_MIN && (size & (size - 1)) == 0 ? size : 0;
}

/* How many pages the database says it has; 0: it doesn't. The number holds while the two counters
 * of changes agree. */
static uint32_t pages_told(const unsigned char *header)
{
    bool holds = word_at(header + 24) == word_at(header + 92);
    return holds ? word_at(header + 28) : 0;
}

static bool pages_are_missing(const struct survey *survey, uint32_t pages, size_t size)
{
    size_t page_size = survey->page_size != 0 ? survey->page_size : survey->log.page_size;
    for (size_t page = size / page_size + 1; page <= pages; page++)
        if (wal_page(&survey->log, (uint32_t)page) == NULL)
            return true;
    return false;
}

static int header_read(const char *path, unsigned char header[HEADER_SIZE], bool *there)
{
    int file = open(path, O_RDONLY | O_CLOEXEC);
    *there = file >= 0 && read(file, header, HEADER_SIZE) == HEADER_SIZE;
    int closed = file >= 0 ? close(file) : 0;
    *there = *there && memcmp(header, "SQLite format 3", 16) == 0;
    return closed == 0 ? 0 : UV_EIO;
}

int survey_take(struct survey *survey, const char *path)
{
    unsigned char header[HEADER_SIZE];
    bool has_header = false;
    *survey = (struct survey){.page_size = 0};
    int code = header_read(path, header, &has_header);
    if (has_header)
        survey->page_size = page_size_of(header);
    if (code == 0)
        code = wal_read(&survey->log, path, survey->page_size);
    if (code != 0)
        return code;
    uint32_t pages = survey->log.pages;
    if (pages == 0 && has_header && survey->page_size != 0)
        pages = pages_told(header);
    survey->is_short = pages_are_missing(survey, pages, file_size(path));
    return 0;
}

void survey_close(struct survey *survey)
{
    wal_close(&survey->log);
}

bool survey_is_sound(const struct survey *survey)
{
    return !survey->is_short && survey->log.state != WAL_BROKEN;
}

/* ---- records ---- */

struct reading {
    struct remains *remains;
    const unsigned char *database;
    size_t database_size, page_size;
    bool scraps;
    struct found { /* every row met, as often as it is met */
        struct journal_row row;
        size_t order;
    } * found;
    size_t found_count, found_capacity;
    bool only_for_loss; /* of what is read now, only the numbers count */
    uint64_t highest;
    bool no_memory;
};

struct column {
    bool is_text;
    int64_t integer;
    const char *text;
    size_t size;
};

struct record {
    uint64_t number; /* the row's */
    struct column columns[COLUMN_COUNT_MAX];
    size_t column_count;
};

/* A number of one to nine bytes, seven bits in each. Answers how many bytes it took; 0: it doesn't
 * end where it should. */
static size_t varint_read(const unsigned char *bytes, size_t size, uint64_t *number)
{
    *number = 0;
    for (size_t i = 0; i < size && i < 9; i++) {
        if (i == 8) {
            *number = *number << 8 | bytes[i];
            return 9;
        }
        *number = *number << 7 | (bytes[i] & 0x7fu);
        if ((bytes[i] & 0x80u) == 0)
            return i + 1;
    }
    return 0;
}

static size_t column_size(uint64_t kind)
{
    static const size_t sizes[] = {0, 1, 2, 3, 4, 6, 8, 8, 0, 0, 0, 0};
    return kind < 12 ? sizes[kind] : (size_t)(kind - 12) / 2;
}

static int64_t integer_read(const unsigned char *bytes, size_t size)
{
    uint64_t number = size > 0 && (bytes[0] & 0x80u) != 0 ? UINT64_MAX : 0;
    for (size_t i = 0; i < size; i++)
        number = number << 8 | bytes[i];
    return (int64_t)number;
}

static struct column column_read(uint64_t kind, const unsigned char *bytes)
{
    if (kind >= 13 && kind % 2 == 1)
        return (struct column){
            .is_text = true, .text = (const char *)bytes, .size = column_size(kind)};
    if (kind == 9)
        return (struct column){.integer = 1};
    return (struct column){.integer = integer_read(bytes, kind <= 6 ? column_size(kind) : 0)};
}

static bool record_read(struct record *record, const unsigned char *payload, size_t size)
{
    uint64_t header_size = 0, kind = 0;
    size_t at = varint_read(payload, size, &header_size);
    if (at == 0 || header_size > size)
        return false;
    size_t body = (size_t)header_size;
    while (at < header_size) {
        size_t took = varint_read(payload + at, (size_t)header_size - at, &kind);
        if (took == 0 || record->column_count == COLUMN_COUNT_MAX ||
            kind > 2ul * PAYLOAD_SIZE_MAX || column_size(kind) > size - body)
            return false;
        record->columns[record->column_count++] = column_read(kind, payload + body);
        body += column_size(kind);
        at += took;
    }
    return body == size;
}

/* ---- whose row it is ---- */

static void found_add(struct reading *reading, uint64_t seq, const struct column *text)
{
    if (reading->found_count == reading->found_capacity) {
        size_t capacity = reading->found_capacity * 2 + 256;
        struct found *wider = realloc(reading->found, capacity * sizeof *wider);
        reading->no_memory = reading->no_memory || wider == NULL;
        if (wider == NULL)
            return;
        reading->found = wider;
        reading->found_capacity = capacity;
    }
    char *copy = malloc(text->size + 1);
    reading->no_memory = reading->no_memory || copy == NULL;
    if (copy == NULL)
        return;
    memcpy(copy, text->text, text->size);
    copy[text->size] = '\0';
    reading->found[reading->found_count] =
        (struct found){{seq, copy, text->size}, reading->found_count};
    reading->found_count++;
}

static void number_note(struct remains *remains, uint64_t number, bool told)
{
    remains->last = number > remains->last ? number : remains->last;
    remains->last_told = remains->last_told || told;
}

static void event_take(struct reading *reading, const struct record *record)
{
    const struct column *text = &record->columns[1];
    if (record->number == 0 || record->number > INT64_MAX ||
        checksum_of(record->number, text->text, text->size) != record->columns[2].integer)
        return;
    number_note(reading->remains, record->number, false);
    if (reading->only_for_loss)
        return;
    reading->highest = record->number > reading->highest ? record->number : reading->highest;
    found_add(reading, record->number, text);
}

static void life_take(struct reading *reading, const struct record *record)
{
    const struct column *epoch = &record->columns[1];
    int64_t alive_at_ms = record->columns[2].integer;
    struct remains *remains = reading->remains;
    if (reading->only_for_loss || epoch->size != sizeof remains->epoch - 1 ||
        checksum_of((uint64_t)alive_at_ms, epoch->text, epoch->size) != record->columns[3].integer)
        return;
    memcpy(remains->epoch, epoch->text, epoch->size);
    remains->epoch[epoch->size] = '\0';
    remains->alive_at_ms = alive_at_ms;
    remains->has_life = true;
}

static void last_take(struct reading *reading, const struct record *record)
{
    uint64_t last = (uint64_t)record->columns[1].integer;
    if (store_latest_checksum(last) == record->columns[2].integer)
        number_note(reading->remains, last, true);
}

static char *text_copy(struct reading *reading, const struct column *text)
{
    char *copy = malloc(text->size + 1);
    reading->no_memory = reading->no_memory || copy == NULL;
    if (copy == NULL)
        return NULL;
    memcpy(copy, text->text, text->size);
    copy[text->size] = '\0';
    return copy;
}

static void kept_free(struct kept *kept)
{
    free((void *)(uintptr_t)kept->name);
    free((void *)(uintptr_t)kept->text);
}

/* The place of that name; one more, where there is none. NULL without memory. */
static struct kept *kept_place(struct reading *reading, const char *name)
{
    struct remains *remains = reading->remains;
    for (size_t i = 0; i < remains->kept_count; i++)
        if (strcmp(remains->kept[i].name, name) == 0)
            return &remains->kept[i];
    struct kept *wider = realloc(remains->kept, (remains->kept_count + 1) * sizeof *remains->kept);
    reading->no_memory = reading->no_memory || wider == NULL;
    if (wider == NULL)
        return NULL;
    remains->kept = wider;
    wider[remains->kept_count] = (struct kept){.id = 0};
    return &wider[remains->kept_count++];
}

/* Of one name the latest holds, wherever it stands. */
static void kept_take(struct reading *reading, const struct record *record)
{
    const struct column *name = &record->columns[1], *text = &record->columns[2];
    if (reading->only_for_loss ||
        store_kept_checksum(record->number, name->text, name->size, text->text, text->size) !=
            record->columns[3].integer)
        return;
    struct kept kept = {record->number, text_copy(reading, name), text_copy(reading, text)};
    struct kept *place =
        kept.name != NULL && kept.text != NULL ? kept_place(reading, kept.name) : NULL;
    if (place == NULL || place->id >= kept.id) {
        kept_free(&kept);
        return;
    }
    kept_free(place);
    *place = kept;
}

static void record_take(struct reading *reading, const struct record *record)
{
    const struct column *columns = record->columns;
    if (record->column_count == 4 && columns[1].is_text && columns[2].is_text) {
        kept_take(reading, record);
        return;
    }
    if (record->column_count == 3 && columns[1].is_text)
        event_take(reading, record);
    else if (record->column_count == 4 && columns[1].is_text)
        life_take(reading, record);
    else if (record->column_count == 3)
        last_take(reading, record);
}

/* ---- pages ---- */

/* What is there of a page of the database, filled up with zeros in `room`; NULL: nothing. */
static const unsigned char *database_page(const struct reading *reading, size_t page,
                                          unsigned char *room)
{
    size_t at = (page - 1) * reading->page_size;
    size_t left = at < reading->database_size ? reading->database_size - at : 0;
    if (left >= reading->page_size)
        return reading->database + at;
    if (reading->database == NULL || left == 0 || !reading->scraps)
        return NULL;
    memset(room, 0, reading->page_size);
    memcpy(room, reading->database + at, left);
    return room;
}

/* Gathers a payload that goes on on other pages; malloc'd. NULL: it can't be read. */
static unsigned char *payload_gather(struct reading *reading, const unsigned char *local,
                                     size_t local_size, size_t size)
{
    unsigned char *payload = malloc(size), *room = malloc(reading->page_size);
    size_t got = local_size;
    bool good = payload != NULL && room != NULL;
    reading->no_memory = reading->no_memory || !good;
    if (good)
        memcpy(payload, local, local_size);
    uint32_t next = word_at(local + local_size);
    while (good && got < size) {
        const unsigned char *page = wal_page(&reading->remains->survey.log, next);
        if (page == NULL && next != 0)
            page = database_page(reading, next, room);
        size_t piece = size - got < reading->page_size - 4 ? size - got : reading->page_size - 4;
        good = page != NULL;
        if (!good)
            break;
        memcpy(payload + got, page + 4, piece);
        got += piece;
        next = word_at(page);
    }
    free(room);
    if (good)
        return payload;
    free(payload);
    return NULL;
}

/* How much of a payload stands in the cell itself. */
static size_t local_size_of(size_t page_size, size_t size)
{
    size_t most = page_size - 35, least = (page_size - 12) * 32 / 255 - 23;
    if (size <= most)
        return size;
    size_t fits = least + (size - least) % (page_size - 4);
    return fits <= most ? fits : least;
}

static void cell_read(struct reading *reading, const unsigned char *cell, size_t room)
{
    struct record record = {.number = 0};
    uint64_t size = 0;
    size_t at = varint_read(cell, room, &size);
    size_t took = at > 0 ? varint_read(cell + at, room - at, &record.number) : 0;
    if (took == 0 || size == 0 || size > PAYLOAD_SIZE_MAX)
        return;
    at += took;
    size_t local = local_size_of(reading->page_size, (size_t)size);
    size_t needed = local == size ? local : local + 4;
    if (needed > room - at)
        return;
    unsigned char *gathered = NULL;
    if (local < size)
        gathered = payload_gather(reading, cell + at, local, (size_t)size);
    if (local < size && gathered == NULL)
        return;
    if (record_read(&record, gathered != NULL ? gathered : cell + at, (size_t)size))
        record_take(reading, &record);
    free(gathered);
}

static void page_read(struct reading *reading, size_t number, const unsigned char *page)
{
    size_t head = number == 1 ? HEADER_SIZE : 0;
    if (page[head] != TABLE_LEAF)
        return;
    size_t cell_count = half_at(page + head + 3);
    for (size_t i = 0; i < cell_count; i++) {
        size_t pointer_at = head + 8 + 2 * i;
        if (pointer_at + 2 > reading->page_size)
            return;
        size_t at = half_at(page + pointer_at);
        if (at >= pointer_at + 2 && at < reading->page_size)
            cell_read(reading, page + at, reading->page_size - at);
    }
}

static void database_read(struct reading *reading)
{
    size_t pages = reading->database_size / reading->page_size + 1;
    unsigned char *room = malloc(reading->page_size);
    reading->no_memory = reading->no_memory || room == NULL;
    for (size_t number = 1; room != NULL && number <= pages; number++) {
        const unsigned char *page = database_page(reading, number, room);
        if (page != NULL)
            page_read(reading, number, page);
    }
    free(room);
}

static void log_read(struct reading *reading)
{
    const struct wal *log = &reading->remains->survey.log;
    uint64_t highest_before = reading->highest;
    bool met_bad = log->state == WAL_BROKEN && log->broken_at == 0;
    for (size_t i = 0; i < log->frame_count; i++) {
        const struct wal_frame *frame = &log->frames[i];
        met_bad = met_bad || !frame->counts;
        reading->only_for_loss = !frame->counts;
        if (frame->counts || frame->of_this_life)
            page_read(reading, frame->page, frame->bytes);
        if (!met_bad)
            highest_before = reading->highest;
    }
    reading->remains->goes_on = reading->highest > highest_before;
}

/* ---- the rows ---- */

static int found_compare(const void *one, const void *other)
{
    const struct found *a = one, *b = other;
    if (a->row.seq != b->row.seq)
        return a->row.seq < b->row.seq ? -1 : 1;
    return a->order < b->order ? -1 : 1;
}

/* Each number once, by the last that was met. */
static void rows_make(struct reading *reading)
{
    struct remains *remains = reading->remains;
    if (reading->found_count > 0)
        qsort(reading->found, reading->found_count, sizeof *reading->found, found_compare);
    remains->rows = calloc(reading->found_count + 1, sizeof *remains->rows);
    reading->no_memory = reading->no_memory || remains->rows == NULL;
    for (size_t i = 0; i < reading->found_count; i++) {
        struct journal_row row = reading->found[i].row;
        bool again = i + 1 < reading->found_count && reading->found[i + 1].row.seq == row.seq;
        if (again || remains->rows == NULL)
            free((void *)(uintptr_t)row.text);
        else
            remains->rows[remains->count++] = row;
    }
    free(reading->found);
    reading->found = NULL;
    reading->found_count = reading->found_capacity = 0;
}

static void rows_free(struct remains *remains)
{
    for (size_t i = 0; i < remains->count; i++)
        free((void *)(uintptr_t)remains->rows[i].text);
    free(remains->rows);
    for (size_t i = 0; i < remains->kept_count; i++)
        kept_free(&remains->kept[i]);
    free(remains->kept);
    remains->kept = NULL;
    remains->kept_count = 0;
    remains->rows = NULL;
    remains->count = 0;
}

static void read_with(struct reading *reading, size_t page_size)
{
    rows_free(reading->remains);
    reading->page_size = page_size;
    database_read(reading);
    if (page_size == reading->remains->survey.log.page_size)
        log_read(reading);
    rows_make(reading);
}

/* A first page that doesn't tell the page size leaves what the log says, or the size with which the
 * most can be read. */
static void read_all(struct reading *reading)
{
    const struct survey *survey = &reading->remains->survey;
    size_t best = survey->page_size != 0 ? survey->page_size : survey->log.told_page_size;
    size_t most = 0;
    if (best == 0)
        best = survey->log.page_size;
    else
        most = SIZE_MAX;
    for (size_t size = PAGE_SIZE_MIN; most != SIZE_MAX && size <= PAGE_SIZE_MAX; size *= 2) {
        read_with(reading, size);
        best = reading->remains->count > most ? size : best;
        most = reading->remains->count > most ? reading->remains->count : most;
    }
    read_with(reading, best);
}

int remains_read(struct remains *remains, const char *path, bool scraps)
{
    unsigned char *database = NULL;
    size_t size = 0;
    *remains = (struct remains){.count = 0};
    int code = survey_take(&remains->survey, path);
    if (code == 0)
        code = file_read(path, &database, &size);
    if (code != 0)
        return code;
    struct reading reading = {
        .remains = remains, .database = database, .database_size = size, .scraps = scraps};
    read_all(&reading);
    free(database);
    return reading.no_memory ? UV_ENOMEM : 0;
}

void remains_close(struct remains *remains)
{
    rows_free(remains);
    survey_close(&remains->survey);
}

uint64_t remains_prefix(const struct remains *remains)
{
    size_t count = 0;
    while (count < remains->count && remains->rows[count].seq == count + 1)
        count++;
    return count;
}

/* ---- the loss in words ---- */

struct words {
    char *text;
    size_t used;
};

__attribute__((format(printf, 2, 3))) static void say(struct words *words, const char *form, ...)
{
    va_list values;
    va_start(values, form);
    size_t room = REMAINS_LOSS_SIZE - words->used;
    int size = vsnprintf(words->text + words->used, room, form, values);
    va_end(values);
    if (size > 0)
        words->used += (size_t)size < room ? (size_t)size : room - 1;
}

static void say_range(struct words *words, size_t number, uint64_t first, uint64_t last)
{
    if (number > 0)
        say(words, ", ");
    if (first == last)
        say(words, "%llu", (unsigned long long)first);
    else
        say(words, "%llu to %llu", (unsigned long long)first, (unsigned long long)last);
}

static void say_missing(struct words *words, const struct remains *remains)
{
    enum { RANGES_MAX = 5 };
    size_t ranges = 0, i = 0;
    for (uint64_t seq = 1; seq <= remains->last && ranges <= RANGES_MAX;) {
        uint64_t next = i < remains->count ? remains->rows[i].seq : remains->last + 1;
        if (seq < next && ranges == RANGES_MAX)
            say(words, " and others");
        else if (seq < next)
            say_range(words, ranges, seq, next - 1);
        ranges += seq < next ? 1 : 0;
        seq = next + 1;
        i++;
    }
}

void remains_loss(const struct remains *remains, char loss[REMAINS_LOSS_SIZE])
{
    struct words words = {loss, 0};
    uint64_t missing = remains->last - remains->count;
    bool may_be_more = remains->survey.is_short && !remains->last_told;
    if (remains->last == 0) {
        say(&words, "no event can be read");
        return;
    }
    if (missing > 0) {
        say(&words, missing == 1 ? "event " : "events ");
        say_missing(&words, remains);
        say(&words, missing == 1 ? " is lost, " : " are lost, ");
    } else if (may_be_more) {
        say(&words, "events after %llu may be lost, ", (unsigned long long)remains->last);
    } else {
        say(&words, "no event is lost, ");
    }
    say(&words, "%zu can be read", remains->count);
}
