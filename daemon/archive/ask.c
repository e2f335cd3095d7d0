/* Every question is one prepared statement; every list is read by the same loop, with a function
 * that makes an item of a row. */
#include <uv.h>
#include "archive/archive_parts.h"

/* Makes the item of the statement's row; texts go into the arena. False without memory. */
typedef bool row_reader(sqlite3_stmt *row, struct arena *arena, void *item);

static void bind_span(struct archive *archive, enum statement statement,
                      const struct archive_span *span)
{
    archive_bind_text(archive, statement, 1, span->athlete);
    archive_bind_integer(archive, statement, 2, span->from_ms);
    archive_bind_integer(archive, statement, 3, span->before_ms);
}

static int no_memory(struct archive *archive)
{
    return archive_fail(archive, SQLITE_NOMEM, "read");
}

/* The list of all that the statement, its parameters bound, answers. */
static int read_list(struct archive *archive, enum statement statement, struct arena *arena,
                     size_t item_size, row_reader *reader, void **list, size_t *count)
{
    sqlite3_stmt *row = archive->statements[statement];
    size_t capacity = 0;
    int result, code = 0;
    *list = NULL;
    *count = 0;
    while (code == 0 && (result = sqlite3_step(row)) != SQLITE_DONE) {
        char *grown = NULL;
        if (result != SQLITE_ROW)
            code = archive_fail(archive, result, "read");
        else if ((grown = arena_grow(arena, *list, *count, &capacity, item_size)) == NULL ||
                 !reader(row, arena, grown + *count * item_size))
            code = no_memory(archive);
        else {
            *list = grown;
            (*count)++;
        }
    }
    (void)sqlite3_reset(row);
    return code;
}

static bool text_at(sqlite3_stmt *row, int place, struct arena *arena, const char **text)
{
    *text = NULL;
    if (sqlite3_column_type(row, place) == SQLITE_NULL)
        return true;
    const unsigned char *value = sqlite3_column_text(row, place);
    return value != NULL && (*text = arena_copy(arena, (const char *)value)) != NULL;
}

/* ---- of one athlete ---- */

int archive_totals(struct archive *archive, const struct archive_span *span,
                   struct archive_totals *totals)
{
    sqlite3_stmt *row = archive->statements[STATEMENT_TOTALS];
    int64_t *const places[] = {
        &totals->bouts,
        &totals->begun,
        &totals->decided.bouts,
        &totals->decided.won,
        &totals->points_for,
        &totals->points_against,
        &totals->scored_first.bouts,
        &totals->scored_first.won,
        &totals->scored_second.bouts,
        &totals->scored_second.won,
        &totals->first_scores,
        &totals->first_score_ms,
        &totals->late_scores,
        &totals->late_bouts,
    };
    *totals = (struct archive_totals){.bouts = 0};
    bind_span(archive, STATEMENT_TOTALS, span);
    int result = sqlite3_step(row);
    for (int i = 0; result == SQLITE_ROW && i < (int)(sizeof places / sizeof *places); i++)
        *places[i] = sqlite3_column_int64(row, i);
    int code = result == SQLITE_ROW ? 0 : archive_fail(archive, result, "read");
    (void)sqlite3_reset(row);
    return code;
}

static bool read_attempts(sqlite3_stmt *row, struct arena *arena, void *item)
{
    struct archive_attempts *attempts = item;
    *attempts = (struct archive_attempts){
        .leg = (enum leg)sqlite3_column_int(row, 1),
        .tried = sqlite3_column_int64(row, 2),
        .scored = sqlite3_column_int64(row, 3),
        .stopped = sqlite3_column_int64(row, 4),
        .countered = sqlite3_column_int64(row, 5),
        .points = sqlite3_column_int64(row, 6),
    };
    return text_at(row, 0, arena, &attempts->technique);
}

int archive_attempts(struct archive *archive, const struct archive_span *span, struct arena *arena,
                     struct archive_attempts **list, size_t *count)
{
    void *items = NULL;
    bind_span(archive, STATEMENT_ATTEMPTS, span);
    int code =
        read_list(archive, STATEMENT_ATTEMPTS, arena, sizeof **list, read_attempts, &items, count);
    *list = items;
    return code;
}

static bool read_points(sqlite3_stmt *row, struct arena *arena, void *item)
{
    (void)arena;
    *(struct archive_points *)item = (struct archive_points){
        .number = sqlite3_column_int64(row, 0),
        .points_for = sqlite3_column_int64(row, 1),
        .points_against = sqlite3_column_int64(row, 2),
    };
    return true;
}

static int ask_points(struct archive *archive, enum statement statement,
                      const struct archive_span *span, struct arena *arena,
                      struct archive_points **list, size_t *count)
{
    void *items = NULL;
    bind_span(archive, statement, span);
    int code = read_list(archive, statement, arena, sizeof **list, read_points, &items, count);
    *list = items;
    return code;
}

int archive_periods(struct archive *archive, const struct archive_span *span, struct arena *arena,
                    struct archive_points **list, size_t *count)
{
    return ask_points(archive, STATEMENT_PERIODS, span, arena, list, count);
}

int archive_minutes(struct archive *archive, const struct archive_span *span, struct arena *arena,
                    struct archive_points **list, size_t *count)
{
    return ask_points(archive, STATEMENT_MINUTES, span, arena, list, count);
}

static bool read_comebacks(sqlite3_stmt *row, struct arena *arena, void *item)
{
    (void)arena;
    *(struct archive_comebacks *)item = (struct archive_comebacks){
        .behind = sqlite3_column_int64(row, 0),
        .share = {sqlite3_column_int64(row, 1), sqlite3_column_int64(row, 2)},
    };
    return true;
}

int archive_comebacks(struct archive *archive, const struct archive_span *span, struct arena *arena,
                      struct archive_comebacks **list, size_t *count)
{
    void *items = NULL;
    bind_span(archive, STATEMENT_COMEBACKS, span);
    int code = read_list(archive, STATEMENT_COMEBACKS, arena, sizeof **list, read_comebacks, &items,
                         count);
    *list = items;
    return code;
}

static bool read_endings(sqlite3_stmt *row, struct arena *arena, void *item)
{
    struct archive_endings *endings = item;
    *endings = (struct archive_endings){
        .won = sqlite3_column_int64(row, 1),
        .lost = sqlite3_column_int64(row, 2),
        .undecided = sqlite3_column_int64(row, 3),
    };
    return text_at(row, 0, arena, &endings->how);
}

int archive_endings(struct archive *archive, const struct archive_span *span, struct arena *arena,
                    struct archive_endings **list, size_t *count)
{
    void *items = NULL;
    bind_span(archive, STATEMENT_ENDINGS, span);
    int code =
        read_list(archive, STATEMENT_ENDINGS, arena, sizeof **list, read_endings, &items, count);
    *list = items;
    return code;
}

/* ---- bouts ---- */

static bool read_person(sqlite3_stmt *row, int from, struct arena *arena,
                        struct archive_person *person)
{
    person->points = sqlite3_column_int64(row, from + 3);
    return text_at(row, from, arena, &person->athlete) &&
           text_at(row, from + 1, arena, &person->name) &&
           text_at(row, from + 2, arena, &person->team);
}

static enum side side_at(sqlite3_stmt *row, int place)
{
    if (sqlite3_column_type(row, place) == SQLITE_NULL)
        return SIDE_NONE;
    return sqlite3_column_int(row, place) == 0 ? SIDE_RED : SIDE_BLUE;
}

static bool read_bout(sqlite3_stmt *row, struct arena *arena, void *item)
{
    struct archive_bout *bout = item;
    *bout = (struct archive_bout){
        .called_at_ms = sqlite3_column_int64(row, 1),
        .time_ms = sqlite3_column_int64(row, 2),
        .winner = side_at(row, 12),
        .side = side_at(row, 13),
    };
    const char **const texts[] = {&bout->rules,  &bout->style, &bout->age_group,
                                  &bout->weight, &bout->stage, &bout->number,
                                  &bout->mat,    &bout->how,   &bout->code};
    bool enough = text_at(row, 0, arena, &bout->bout);
    for (int i = 0; i < (int)(sizeof texts / sizeof *texts) && enough; i++)
        enough = text_at(row, 3 + i, arena, texts[i]);
    return enough && read_person(row, 14, arena, &bout->self) &&
           read_person(row, 18, arena, &bout->other);
}

int archive_bouts(struct archive *archive, const struct archive_span *span, struct arena *arena,
                  struct archive_bout **list, size_t *count)
{
    void *items = NULL;
    bind_span(archive, STATEMENT_BOUTS, span);
    int code = read_list(archive, STATEMENT_BOUTS, arena, sizeof **list, read_bout, &items, count);
    *list = items;
    return code;
}

int archive_meetings(struct archive *archive, const struct archive_span *span, const char *other,
                     size_t most, struct arena *arena, struct archive_bout **list, size_t *count)
{
    void *items = NULL;
    bind_span(archive, STATEMENT_MEETINGS, span);
    archive_bind_text(archive, STATEMENT_MEETINGS, 4, other);
    archive_bind_integer(archive, STATEMENT_MEETINGS, 5, (int64_t)most);
    int code =
        read_list(archive, STATEMENT_MEETINGS, arena, sizeof **list, read_bout, &items, count);
    *list = items;
    return code;
}

static bool read_note(sqlite3_stmt *row, struct arena *arena, void *item)
{
    struct archive_note *note = item;
    *note = (struct archive_note){.called_at_ms = sqlite3_column_int64(row, 3)};
    return text_at(row, 0, arena, &note->text) && text_at(row, 1, arena, &note->bout) &&
           text_at(row, 2, arena, &note->against);
}

int archive_notes(struct archive *archive, const struct archive_span *span, size_t most,
                  struct arena *arena, struct archive_note **list, size_t *count)
{
    void *items = NULL;
    bind_span(archive, STATEMENT_NOTES, span);
    archive_bind_integer(archive, STATEMENT_NOTES, 4, (int64_t)most);
    int code = read_list(archive, STATEMENT_NOTES, arena, sizeof **list, read_note, &items, count);
    *list = items;
    return code;
}

/* ---- positions ---- */

static bool read_position(sqlite3_stmt *row, struct arena *arena, void *item)
{
    (void)arena;
    *(struct archive_position *)item = (struct archive_position){
        .minutes = sqlite3_column_int64(row, 0),
        .behind = sqlite3_column_int64(row, 1),
        .share = {sqlite3_column_int64(row, 2), sqlite3_column_int64(row, 3)},
    };
    return true;
}

int archive_position(struct archive *archive, const char *style, int64_t length_ms,
                     struct archive_position *position)
{
    sqlite3_stmt *row = archive->statements[STATEMENT_POSITION];
    archive_bind_text(archive, STATEMENT_POSITION, 1, style);
    archive_bind_integer(archive, STATEMENT_POSITION, 2, length_ms);
    archive_bind_integer(archive, STATEMENT_POSITION, 3, position->minutes);
    archive_bind_integer(archive, STATEMENT_POSITION, 4, position->behind);
    int result = sqlite3_step(row), code = 0;
    position->share = (struct archive_share){0, 0};
    if (result == SQLITE_ROW)
        read_position(row, NULL, position);
    else if (result != SQLITE_DONE)
        code = archive_fail(archive, result, "read");
    (void)sqlite3_reset(row);
    return code;
}

int archive_positions(struct archive *archive, const char *style, int64_t length_ms,
                      struct arena *arena, struct archive_position **list, size_t *count)
{
    void *items = NULL;
    archive_bind_text(archive, STATEMENT_POSITIONS, 1, style);
    archive_bind_integer(archive, STATEMENT_POSITIONS, 2, length_ms);
    int code =
        read_list(archive, STATEMENT_POSITIONS, arena, sizeof **list, read_position, &items, count);
    *list = items;
    return code;
}
