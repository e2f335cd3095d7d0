/* A bout's rows are always written all together: what was there of it goes first, its triggers take
 * everything that belongs to it along. */
#include "archive/archive_parts.h"

bool archive_entry_of(struct archive_entry *entry, const struct state *state, struct arena *arena)
{
    const struct bout *bout = state->fold->bout;
    *entry = (struct archive_entry){
        .bout = bout->id,
        .event = bout->events[0].id,
        .called_at_ms = bout->events[0].at_ms,
        .events = state->fold->count,
        .details = state->fold->details,
    };
    return account_of(&entry->account, state, arena);
}

int archive_begin(struct archive *archive)
{
    return archive_run(archive, STATEMENT_BEGIN);
}

int archive_commit(struct archive *archive)
{
    int code = archive_run(archive, STATEMENT_COMMIT);
    if (code != 0)
        archive_rollback(archive);
    return code;
}

/* SQLite has ended the transaction by itself after some failures; `reason` keeps the first one. */
void archive_rollback(struct archive *archive)
{
    if (sqlite3_get_autocommit(archive->database) != 0)
        return;
    (void)sqlite3_step(archive->statements[STATEMENT_ROLLBACK]);
    (void)sqlite3_reset(archive->statements[STATEMENT_ROLLBACK]);
}

int archive_count(struct archive *archive, int64_t *bouts)
{
    sqlite3_stmt *prepared = archive->statements[STATEMENT_COUNT];
    int result = sqlite3_step(prepared);
    *bouts = result == SQLITE_ROW ? sqlite3_column_int64(prepared, 0) : 0;
    int code = result == SQLITE_ROW ? 0 : archive_fail(archive, result, "read");
    (void)sqlite3_reset(prepared);
    return code;
}

/* ---- the rows of one bout ---- */

static int find(struct archive *archive, const struct archive_entry *entry, int64_t *id,
                int64_t *events)
{
    sqlite3_stmt *prepared = archive->statements[STATEMENT_FIND_BOUT];
    archive_bind_text(archive, STATEMENT_FIND_BOUT, 1, entry->bout);
    archive_bind_integer(archive, STATEMENT_FIND_BOUT, 2, entry->called_at_ms);
    archive_bind_text(archive, STATEMENT_FIND_BOUT, 3, entry->event);
    int result = sqlite3_step(prepared);
    *id = result == SQLITE_ROW ? sqlite3_column_int64(prepared, 0) : 0;
    *events = result == SQLITE_ROW ? sqlite3_column_int64(prepared, 1) : 0;
    int code =
        result == SQLITE_ROW || result == SQLITE_DONE ? 0 : archive_fail(archive, result, "read");
    (void)sqlite3_reset(prepared);
    return code;
}

static int remove_bout(struct archive *archive, int64_t id)
{
    archive_bind_integer(archive, STATEMENT_REMOVE_BOUT, 1, id);
    return archive_run(archive, STATEMENT_REMOVE_BOUT);
}

static int add_bout(struct archive *archive, const struct archive_entry *entry)
{
    const struct details *details = entry->details;
    const struct account *account = &entry->account;
    const char *const texts[] = {details->edition->name, account->style, details->age_group_name,
                                 details->weight,        details->stage, details->number,
                                 details->mat,           account->how,   account->code};
    enum statement add = STATEMENT_ADD_BOUT;
    archive_bind_text(archive, add, 1, entry->bout);
    archive_bind_integer(archive, add, 2, entry->called_at_ms);
    archive_bind_text(archive, add, 3, entry->event);
    archive_bind_integer(archive, add, 4, (int64_t)entry->events);
    for (int i = 0; i < (int)(sizeof texts / sizeof *texts); i++)
        archive_bind_text(archive, add, 5 + i, texts[i]);
    if (account->winner == SIDE_NONE)
        archive_bind_nothing(archive, add, 14);
    else
        archive_bind_integer(archive, add, 14, side_index(account->winner));
    archive_bind_integer(archive, add, 15, account->time_ms);
    archive_bind_integer(archive, add, 16, account->length_ms);
    return archive_run(archive, add);
}

static int add_athlete(struct archive *archive, const char *athlete)
{
    if (athlete == NULL)
        return 0;
    archive_bind_text(archive, STATEMENT_ADD_ATHLETE, 1, athlete);
    return archive_run(archive, STATEMENT_ADD_ATHLETE);
}

/* 1: it was this side; 0: it was the other; nothing: it was neither. */
static void bind_whether(struct archive *archive, int place, enum side which, enum side side)
{
    if (which == SIDE_NONE)
        archive_bind_nothing(archive, STATEMENT_ADD_SIDE, place);
    else
        archive_bind_integer(archive, STATEMENT_ADD_SIDE, place, which == side ? 1 : 0);
}

static int add_side(struct archive *archive, const struct archive_entry *entry, int64_t id,
                    enum side side)
{
    const struct account *account = &entry->account;
    const struct person *person = &entry->details->sides[side_index(side)];
    const struct account_side *own = &account->sides[side_index(side)];
    const struct account_side *other = &account->sides[side_index(side_other(side))];
    enum statement add = STATEMENT_ADD_SIDE;
    int code = add_athlete(archive, person->athlete);
    if (code != 0)
        return code;
    archive_bind_integer(archive, add, 1, 2 * id + side_index(side));
    archive_bind_text(archive, add, 2, person->athlete);
    archive_bind_integer(archive, add, 3, entry->called_at_ms);
    archive_bind_text(archive, add, 4, person->name);
    archive_bind_text(archive, add, 5, person->team);
    archive_bind_integer(archive, add, 6, account->begun ? 1 : 0);
    bind_whether(archive, 7, account->winner, side);
    archive_bind_integer(archive, add, 8, own->points);
    archive_bind_integer(archive, add, 9, other->points);
    bind_whether(archive, 10, account->scored_first, side);
    if (own->first_score_ms == EVENT_NONE)
        archive_bind_nothing(archive, add, 11);
    else
        archive_bind_integer(archive, add, 11, own->first_score_ms);
    archive_bind_integer(archive, add, 12, own->behind_most);
    archive_bind_integer(archive, add, 13, own->late_scores);
    return archive_run(archive, add);
}

static int add_attempts(struct archive *archive, const struct account_side *side, int64_t side_id)
{
    enum statement add = STATEMENT_ADD_ATTEMPTS;
    int code = 0;
    for (size_t i = 0; i < side->attempt_count && code == 0; i++) {
        const struct account_attempts *row = &side->attempts[i];
        const int64_t numbers[] = {row->leg,     row->tried,     row->scored,
                                   row->stopped, row->countered, row->points};
        archive_bind_integer(archive, add, 1, side_id);
        archive_bind_text(archive, add, 2, row->technique);
        for (int j = 0; j < 6; j++)
            archive_bind_integer(archive, add, 3 + j, numbers[j]);
        code = archive_run(archive, add);
    }
    return code;
}

static int add_notes(struct archive *archive, const struct account_side *side, int64_t side_id)
{
    int code = 0;
    for (size_t i = 0; i < side->note_count && code == 0; i++) {
        archive_bind_integer(archive, STATEMENT_ADD_NOTE, 1, side_id);
        archive_bind_integer(archive, STATEMENT_ADD_NOTE, 2, (int64_t)i);
        archive_bind_text(archive, STATEMENT_ADD_NOTE, 3, side->notes[i]);
        code = archive_run(archive, STATEMENT_ADD_NOTE);
    }
    return code;
}

static int add_minutes(struct archive *archive, const struct account *account, int64_t id)
{
    int code = 0;
    for (size_t i = 0; i < account->minute_count && code == 0; i++) {
        const struct account_minute *row = &account->minutes[i];
        const int64_t numbers[] = {id, row->period, row->minute, row->points[0], row->points[1]};
        for (int j = 0; j < 5; j++)
            archive_bind_integer(archive, STATEMENT_ADD_MINUTE, 1 + j, numbers[j]);
        code = archive_run(archive, STATEMENT_ADD_MINUTE);
    }
    return code;
}

/* Only what somebody won can tell whether the one who was behind came back. */
static int add_course(struct archive *archive, const struct account *account, int64_t id)
{
    enum statement add = STATEMENT_ADD_COURSE;
    int code = 0;
    if (account->winner == SIDE_NONE || account->style == NULL)
        return 0;
    for (size_t i = 0; i < account->course_count && code == 0; i++) {
        const struct account_course *row = &account->course[i];
        if (row->leader == SIDE_NONE)
            continue;
        int behind = row->points[0] - row->points[1];
        archive_bind_integer(archive, add, 1, id);
        archive_bind_text(archive, add, 2, account->style);
        archive_bind_integer(archive, add, 3, account->length_ms);
        archive_bind_integer(archive, add, 4, row->minutes);
        archive_bind_integer(archive, add, 5, behind < 0 ? -behind : behind);
        archive_bind_integer(archive, add, 6, account->winner != row->leader ? 1 : 0);
        code = archive_run(archive, add);
    }
    return code;
}

static int add_all(struct archive *archive, const struct archive_entry *entry)
{
    int code = add_bout(archive, entry);
    int64_t id = code == 0 ? sqlite3_last_insert_rowid(archive->database) : 0;
    for (enum side side = SIDE_RED; side <= SIDE_BLUE && code == 0; side++) {
        code = add_side(archive, entry, id, side);
        if (code == 0)
            code = add_attempts(archive, &entry->account.sides[side_index(side)],
                                2 * id + side_index(side));
        if (code == 0)
            code = add_notes(archive, &entry->account.sides[side_index(side)],
                             2 * id + side_index(side));
    }
    if (code == 0)
        code = add_minutes(archive, &entry->account, id);
    return code == 0 ? add_course(archive, &entry->account, id) : code;
}

int archive_put(struct archive *archive, const struct archive_entry *entry, bool *written)
{
    int64_t id = 0, events = 0;
    int code = find(archive, entry, &id, &events);
    *written = code == 0 && (int64_t)entry->events >= events &&
               (id != 0 || entry->account.begun || entry->account.closed);
    if (*written && id != 0)
        code = remove_bout(archive, id);
    if (*written && code == 0 && (entry->account.begun || entry->account.closed))
        code = add_all(archive, entry);
    if (code != 0) {
        *written = false;
        archive_rollback(archive);
    }
    return code;
}
