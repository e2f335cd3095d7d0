#include "service/hall.h"
#include <stdlib.h>
#include <string.h>

void hall_init(struct hall *hall)
{
    *hall = (struct hall){.day_changed = true};
}

void hall_close(struct hall *hall)
{
    while (hall->bouts != NULL) {
        struct hall_bout *next = hall->bouts->next;
        fold_close(&hall->bouts->fold);
        view_memory_close(&hall->bouts->memory);
        free(hall->bouts);
        hall->bouts = next;
    }
    while (hall->mats != NULL) {
        struct mat *next = hall->mats->next;
        free(hall->mats->name);
        free(hall->mats->lines);
        free(hall->mats);
        hall->mats = next;
    }
}

struct hall_bout *hall_bout(const struct hall *hall, const char *id)
{
    struct hall_bout *bout = hall->bouts;
    while (bout != NULL && strcmp(bout->bout->id, id) != 0)
        bout = bout->next;
    return bout;
}

struct mat *hall_mat(struct hall *hall, const char *name)
{
    struct mat *mat = hall->mats;
    while (mat != NULL && strcmp(mat->name, name) != 0)
        mat = mat->next;
    return mat;
}

struct mat *hall_mat_add(struct hall *hall, const char *name)
{
    struct mat *mat = hall_mat(hall, name);
    if (mat != NULL)
        return mat;
    mat = calloc(1, sizeof *mat);
    if (mat == NULL || (mat->name = strdup(name)) == NULL) {
        free(mat);
        return NULL;
    }
    mat->cards_next_ms = INT64_MAX;
    struct mat **place = &hall->mats;
    while (*place != NULL && strcmp((*place)->name, name) < 0)
        place = &(*place)->next;
    mat->next = *place;
    *place = mat;
    return mat;
}

static struct hall_bout *bout_add(struct hall *hall, const struct bout *bout)
{
    struct hall_bout *added = calloc(1, sizeof *added);
    if (added == NULL)
        return NULL;
    added->bout = bout;
    added->next_ms = INT64_MAX;
    fold_init(&added->fold, bout, malloc, free);
    added->next = hall->bouts;
    hall->bouts = added;
    return added;
}

/* ---- lines ---- */

static bool lines_add(struct hall_bout *bout, const struct line *lines, size_t count, int64_t at_ms)
{
    struct mat *mat = bout->mat;
    for (size_t i = 0; i < count && mat != NULL; i++) {
        if (mat->line_count == mat->line_capacity) {
            size_t capacity = mat->line_capacity == 0 ? 64 : mat->line_capacity * 2;
            struct told_line *grown = realloc(mat->lines, capacity * sizeof *grown);
            if (grown == NULL)
                return false;
            mat->lines = grown;
            mat->line_capacity = capacity;
        }
        bool of_event = lines[i].place != EVENT_NONE;
        mat->lines[mat->line_count++] = (struct told_line){
            .line = lines[i],
            .event = of_event ? bout->bout->events[lines[i].place].id : "",
            .at_ms = at_ms,
            .bout = bout->bout,
        };
    }
    return true;
}

/* ---- mats ---- */

/* The bout last called to the mat that is not off. */
static struct hall_bout *shown_on(const struct hall *hall, const struct mat *mat)
{
    struct hall_bout *shown = NULL;
    for (struct hall_bout *bout = hall->bouts; bout != NULL; bout = bout->next)
        if (bout->mat == mat && !bout->fold.details->off &&
            (shown == NULL || bout->fold.called_seq > shown->fold.called_seq))
            shown = bout;
    return shown;
}

static void mat_look(struct hall *hall, struct mat *mat, const struct hall_bout *changed)
{
    struct hall_bout *shown = mat != NULL ? shown_on(hall, mat) : NULL;
    if (mat == NULL)
        return;
    mat->changed = mat->changed || shown != mat->shown || shown == changed;
    mat->shown = shown;
    if (mat->first_seq == 0 && shown != NULL)
        mat->first_seq = shown->fold.called_seq;
}

/* A `bout` event may have moved it to another mat. */
static bool bout_place(struct hall *hall, struct hall_bout *bout)
{
    const char *name = bout->fold.details->mat;
    struct mat *was = bout->mat;
    bout->mat = name != NULL ? hall_mat_add(hall, name) : NULL;
    if (name != NULL && bout->mat == NULL)
        return false;
    if (was != bout->mat)
        mat_look(hall, was, NULL);
    return true;
}

/* ---- events and time ---- */

/* What time alone has brought to the bout up to `now_ms`: a period's end, most often. */
static bool bout_pass(struct hall *hall, struct hall_bout *bout, int64_t now_ms)
{
    while (bout->next_ms <= now_ms) {
        struct line lines[LINES_MAX];
        int64_t at_ms = bout->next_ms;
        struct state state = state_of(&bout->fold, at_ms);
        size_t count = lines_at_time(&bout->told, &state, lines);
        if (!lines_add(bout, lines, count, at_ms))
            return false;
        bout->told = telling_of(&state);
        bout->next_ms = state.next_ms;
        mat_look(hall, bout->mat, bout);
        hall->day_changed = true;
    }
    return true;
}

static struct hall_bout *next_to_pass(const struct hall *hall)
{
    struct hall_bout *next = NULL;
    for (struct hall_bout *bout = hall->bouts; bout != NULL; bout = bout->next)
        if (bout->next_ms != INT64_MAX && (next == NULL || bout->next_ms < next->next_ms))
            next = bout;
    return next;
}

bool hall_pass(struct hall *hall, int64_t now_ms)
{
    for (struct hall_bout *bout; (bout = next_to_pass(hall)) != NULL && bout->next_ms <= now_ms;)
        if (!bout_pass(hall, bout, bout->next_ms))
            return false;
    for (struct mat *mat = hall->mats; mat != NULL; mat = mat->next)
        mat->changed = mat->changed || (mat->shown != NULL && mat->cards_next_ms <= now_ms);
    return true;
}

int64_t hall_next(const struct hall *hall)
{
    const struct hall_bout *bout = next_to_pass(hall);
    int64_t next_ms = bout != NULL ? bout->next_ms : INT64_MAX;
    for (const struct mat *mat = hall->mats; mat != NULL; mat = mat->next)
        if (mat->shown != NULL && mat->cards_next_ms < next_ms)
            next_ms = mat->cards_next_ms;
    return next_ms;
}

int64_t hall_comes_at(const struct event *event)
{
    bool lost = event->type == EVENT_CLOCK && event->what == CLOCK_LOST;
    return lost ? event->moment_ms : event->at_ms;
}

bool hall_read(struct hall *hall, const struct bout *log)
{
    struct line lines[LINES_MAX];
    struct hall_bout *bout = hall_bout(hall, log->id);
    if (bout == NULL && (bout = bout_add(hall, log)) == NULL)
        return false;
    size_t place = bout->fold.count;
    int64_t at_ms = log->events[place].at_ms;
    /* Whatever ran out before this event came is told first, here as when the log is read again. */
    if (!hall_pass(hall, hall_comes_at(&log->events[place])) ||
        !fold_read(&bout->fold, place + 1) || !bout_place(hall, bout))
        return false;
    struct state state = state_of(&bout->fold, at_ms);
    size_t count = lines_after(place > 0 ? &bout->told : NULL, &state, place, lines);
    if (!lines_add(bout, lines, count, at_ms))
        return false;
    bout->told = telling_of(&state);
    bout->next_ms = state.next_ms;
    mat_look(hall, bout->mat, bout);
    hall->day_changed = true;
    return true;
}
