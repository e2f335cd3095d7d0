#include "journal/mend.h"
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>
#include "journal/files.h"
#include "journal/hold.h"
#include "journal/remains.h"
#include "journal/store_parts.h"
#include "rules/time_of_day.h"
#include "wire/json.h"

/* The names that a store at `path` may have beside it; one allocation. */
struct names {
    char *rebuilding, *rebuilt, *log, *damaged, *damaged_log;
    size_t size; /* of each */
    char room[];
};

enum { NAME_COUNT = 5, NAME_MORE = 32 };

static struct names *names_new(const char *path)
{
    size_t size = strlen(path) + NAME_MORE;
    struct names *names = malloc(sizeof *names + NAME_COUNT * size);
    if (names == NULL)
        return NULL;
    names->size = size;
    names->rebuilding = names->room;
    names->rebuilt = names->room + size;
    names->log = names->room + 2 * size;
    names->damaged = names->room + 3 * size;
    names->damaged_log = names->room + 4 * size;
    snprintf(names->rebuilding, size, "%s-rebuilding", path);
    snprintf(names->rebuilt, size, "%s-rebuilt", path);
    snprintf(names->log, size, "%s-wal", path);
    return names;
}

/* The first name that no damaged database has yet: the log goes first, so a start that goes on
 * where another was interrupted finds the same one. */
static void names_choose_damaged(struct names *names, const char *path)
{
    for (unsigned number = 1;; number++) {
        if (number == 1)
            snprintf(names->damaged, names->size, "%s-damaged", path);
        else
            snprintf(names->damaged, names->size, "%s-damaged-%u", path, number);
        snprintf(names->damaged_log, names->size, "%s-wal", names->damaged);
        if (!file_exists(names->damaged))
            return;
    }
}

static int move(const char *from, const char *to)
{
    if (!file_exists(from))
        return 0;
    return rename(from, to) == 0 ? 0 : uv_translate_sys_error(errno);
}

/* Puts the rebuilt store in its place. The old log goes first: SQLite must never see it beside the
 * new database. Until the last step the rebuilt file is there, and tells the next start to go on.
 */
static int put_in_place(const char *path, struct names *names, int *hold)
{
    names_choose_damaged(names, path);
    int code = move(names->log, names->damaged_log);
    if (code == 0)
        code = folder_sync(path);
    if (code == 0 && file_size(path) > 0)
        code = move(path, names->damaged);
    if (code == 0)
        code = hold_move(hold, names->rebuilt);
    if (code == 0)
        code = move(names->rebuilt, path);
    return code == 0 ? folder_sync(path) : code;
}

/* ---- whether it can be done ---- */

static bool can_be_mended(const struct remains *remains)
{
    uint64_t prefix = remains_prefix(remains);
    if (prefix == 0 || prefix != remains->count)
        return false; /* events are there that came after others that aren't */
    return remains->survey.log.state != WAL_BROKEN || prefix == remains->last;
}

/* They are a store's of ours: by what can be read, by the first page, or by a log without a store.
 */
static bool are_ours(const struct remains *remains, const char *path)
{
    return remains->count > 0 || remains->has_life || remains->last_told || store_has_id(path) ||
           (file_size(path) == 0 && remains->survey.log.state != WAL_EMPTY);
}

static void tell_damage(const struct remains *remains, const char *path, char *text, size_t size)
{
    char loss[REMAINS_LOSS_SIZE];
    const struct wal *log = &remains->survey.log;
    remains_loss(remains, loss);
    if (log->state == WAL_BROKEN)
        snprintf(text, size,
                 "%s is damaged: the log beside it is not as it was written at byte %zu", path,
                 log->broken_at);
    else
        snprintf(text, size, "%s is damaged: it was cut short", path);
    size_t used = strlen(text);
    snprintf(text + used, size - used, "; %s%s", loss,
             log->state == WAL_BROKEN && !remains->goes_on
                 ? " (what the log held there, if it was an event, came after the last)"
                 : "");
}

/* ---- doing it ---- */

/* The daemon is known to have run when it took its last event. */
static int64_t alive_at(const struct remains *remains)
{
    if (remains->has_life)
        return remains->alive_at_ms;
    const struct journal_row *last = &remains->rows[remains->count - 1];
    struct complaint complaint;
    json_t *event = json_parse(last->text, last->size, &complaint);
    const char *at = json_string_value(json_object_get(event, "at"));
    int64_t at_ms = 0;
    if (at == NULL || !time_of_day_read(at, &at_ms))
        at_ms = 0;
    json_decref(event);
    return at_ms;
}

static int clear_away(const char *path)
{
    return remove(path) == 0 || errno == ENOENT ? 0 : uv_translate_sys_error(errno);
}

static int rebuild(const struct remains *remains, const char *path, struct names *names, int *hold,
                   char *reason, size_t reason_size)
{
    /* What an interrupted start left half made; it never held anything of its own. */
    int code = clear_away(names->rebuilding);
    if (code == 0)
        code = store_make(names->rebuilding, remains->has_life ? remains->epoch : NULL,
                          alive_at(remains), remains->rows, remains->count, remains->kept,
                          remains->kept_count, reason, reason_size);
    if (code == 0)
        code = move(names->rebuilding, names->rebuilt);
    if (code == 0)
        code = folder_sync(path);
    return code == 0 ? put_in_place(path, names, hold) : code;
}

static int mend_damaged(const struct remains *remains, const char *path, struct names *names,
                        int *hold, char *notice, size_t notice_size, char *reason,
                        size_t reason_size)
{
    if (!can_be_mended(remains)) {
        tell_damage(remains, path, reason, reason_size);
        return UV_EILSEQ;
    }
    tell_damage(remains, path, notice, notice_size);
    int code = rebuild(remains, path, names, hold, reason, reason_size);
    size_t used = strlen(notice);
    snprintf(notice + used, notice_size - used, "; made anew, the damaged one is kept as %s",
             names->damaged);
    return code;
}

/* Whether the files at `path` are whole, as far as that can be said without SQLite. */
static int look(const char *path, bool *whole)
{
    struct survey survey;
    int code = survey_take(&survey, path);
    bool log_alone = file_size(path) == 0 && survey.log.state != WAL_EMPTY;
    *whole = code == 0 && survey_is_sound(&survey) && !log_alone;
    survey_close(&survey);
    return code;
}

static int mend_with(const char *path, struct names *names, int *hold, char *notice,
                     size_t notice_size, char *reason, size_t reason_size)
{
    struct remains remains;
    bool whole = false;
    if (file_exists(names->rebuilt)) {
        int code = put_in_place(path, names, hold);
        snprintf(
            notice, notice_size,
            "%s was damaged, and a start that made it anew was interrupted: it is in its place "
            "now, and the damaged one is kept as %s",
            path, names->damaged);
        return code;
    }
    int code = look(path, &whole);
    if (code != 0 || whole)
        return code;
    code = remains_read(&remains, path, false);
    if (code == 0 && are_ours(&remains, path))
        code = mend_damaged(&remains, path, names, hold, notice, notice_size, reason, reason_size);
    remains_close(&remains);
    return code;
}

int mend(const char *path, int *hold, char *notice, size_t notice_size, char *reason,
         size_t reason_size)
{
    struct names *names = names_new(path);
    notice[0] = reason[0] = '\0';
    int code = names == NULL
                   ? UV_ENOMEM
                   : mend_with(path, names, hold, notice, notice_size, reason, reason_size);
    if (code != 0 && reason[0] == '\0')
        snprintf(reason, reason_size, "%s can't be read or made anew: %s", path, uv_strerror(code));
    free(names);
    return code;
}

static int look_and_tell(const char *path, const char *rebuilt, char *reason, size_t reason_size)
{
    struct remains remains;
    bool whole = false;
    if (file_exists(rebuilt)) {
        snprintf(reason, reason_size,
                 "%s is damaged, and was made anew but for the last step: start the daemon on it",
                 path);
        return UV_EILSEQ;
    }
    int code = look(path, &whole);
    if (code != 0 || whole)
        return code;
    code = remains_read(&remains, path, true);
    if (code == 0 && are_ours(&remains, path)) {
        tell_damage(&remains, path, reason, reason_size);
        code = UV_EILSEQ;
    }
    remains_close(&remains);
    return code;
}

int mend_look(const char *path, char *reason, size_t reason_size)
{
    struct names *names = names_new(path);
    reason[0] = '\0';
    int code = names == NULL ? UV_ENOMEM : look_and_tell(path, names->rebuilt, reason, reason_size);
    if (code != 0 && reason[0] == '\0')
        snprintf(reason, reason_size, "%s can't be read: %s", path, uv_strerror(code));
    free(names);
    return code;
}

bool mend_tell_loss(const char *path, char *reason, size_t reason_size)
{
    struct remains remains;
    char loss[REMAINS_LOSS_SIZE];
    bool ours = remains_read(&remains, path, true) == 0 && are_ours(&remains, path);
    size_t used = strlen(reason);
    remains_loss(&remains, loss);
    if (ours)
        snprintf(reason + used, reason_size - used, "; %s", loss);
    remains_close(&remains);
    return ours;
}
