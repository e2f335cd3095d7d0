#include "service/hall.h"
#include <assert.h>
#include <stdlib.h>
#include <string.h>

void hall_init(struct hall *hall, const struct language *language)
{
    *hall = (struct hall){.language = language, .day_changed = true};
    day_init(&hall->day, malloc, free);
}

void hall_init_behind(struct hall *hall, const struct hall *live, const struct delays *delays)
{
    hall_init(hall, live->language);
    hall->live = live;
    hall->delays = delays;
    hall->due_ms = INT64_MIN;
}

const struct day *hall_day(const struct hall *hall)
{
    return hall->live != NULL ? &hall->live->day : &hall->day;
}

static void bout_uncover(struct hall_bout *bout)
{
    if (!bout->privacy.covers)
        return;
    fold_close(&bout->public_fold);
    public_bout_close(&bout->public);
    view_memory_close(&bout->public_memory);
}

/* What was read of it. */
static void bout_empty(struct hall *hall, struct hall_bout *bout)
{
    bout_uncover(bout);
    fold_close(&bout->fold);
    view_memory_close(&bout->memory);
    if (hall->live != NULL)
        delayed_bout_close(&bout->delayed);
}

void hall_close(struct hall *hall)
{
    day_close(&hall->day);
    while (hall->bouts != NULL) {
        struct hall_bout *next = hall->bouts->next;
        bout_empty(hall, hall->bouts);
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

/* The log that its folds read. */
static const struct bout *log_of(const struct hall *hall, const struct hall_bout *bout)
{
    return hall->live != NULL ? &bout->delayed.bout : bout->bout;
}

static void bout_begin(struct hall *hall, struct hall_bout *bout)
{
    bout->teller = (struct teller){.begun = false};
    bout->next_ms = INT64_MAX;
    if (hall->live != NULL)
        delayed_bout_init(&bout->delayed, bout->bout, malloc, free);
    fold_init(&bout->fold, log_of(hall, bout), malloc, free);
    bout->memory = (struct view_memory){NULL, 0};
}

static struct hall_bout *bout_add(struct hall *hall, const struct bout *bout)
{
    struct hall_bout *added = calloc(1, sizeof *added);
    if (added == NULL)
        return NULL;
    added->bout = bout;
    bout_begin(hall, added);
    added->next = hall->bouts;
    hall->bouts = added;
    return added;
}

/* ---- what the public may know ---- */

const struct fold *hall_public_fold(const struct hall_bout *bout)
{
    return bout->privacy.covers ? &bout->public_fold : &bout->fold;
}

static void bout_cover(struct hall *hall, struct hall_bout *bout, struct privacy privacy)
{
    bout->privacy = privacy;
    if (!privacy.covers)
        return;
    public_bout_init(&bout->public, log_of(hall, bout), hall_day(hall), privacy, malloc, free);
    fold_init(&bout->public_fold, &bout->public.bout, malloc, free);
    bout->public_memory = (struct view_memory){NULL, 0};
}

static bool same_privacy(struct privacy one, struct privacy other)
{
    return one.covers == other.covers && one.of_minors == other.of_minors &&
           one.group_of_minors == other.group_of_minors;
}

/* What is withheld of a bout, as it is known now. */
static struct privacy privacy_known(const struct hall *hall, const struct bout *bout, size_t count)
{
    if (hall->live != NULL) {
        const struct hall_bout *live = hall_bout(hall->live, bout->id);
        assert(live != NULL); /* it has read whatever is read behind it */
        return live->privacy;
    }
    return privacy_of(&hall->day, bout, count);
}

/* How many of its events are among the log's first `count`. */
static size_t events_among(const struct bout *bout, size_t count)
{
    size_t events = bout->count;
    while (events > 0 && bout->events[events - 1].seq > count)
        events--;
    return events;
}

struct concealed_text {
    char *text;
    size_t size;
};

static bool conceal_one(void *context, const struct secret_name *name)
{
    struct concealed_text *of = context;
    char concealed[LINE_TEXT_SIZE];
    if (conceal(concealed, of->size, of->text, name, 1))
        memcpy(of->text, concealed, of->size);
    return true;
}

/* What is told anew is told with every name known from the first. */
static size_t known_of(const struct hall *live, const struct hall_bout *bout)
{
    return live->retelling ? events_among(bout->bout, live->known_seq) : bout->fold.count;
}

void hall_conceal(const struct hall *hall, char *text, size_t size)
{
    struct concealed_text of = {text, size < LINE_TEXT_SIZE ? size : LINE_TEXT_SIZE};
    const struct hall *live = hall->live != NULL ? hall->live : hall;
    day_secret_names(&live->day, conceal_one, &of);
    for (const struct hall_bout *bout = live->bouts; bout != NULL; bout = bout->next)
        if (bout->privacy.covers)
            bout_secret_names(&live->day, bout->bout, known_of(live, bout), conceal_one, &of);
}

/* Whether a note that is out has one of the bout's names that nobody may be told. */
static bool is_named(const struct hall *hall, const struct bout *bout, size_t count)
{
    for (const struct mat *mat = hall->mats; mat != NULL; mat = mat->next)
        for (size_t i = 0; i < mat->line_count; i++) {
            const struct line *line = &mat->lines[i].line;
            char text[LINE_TEXT_SIZE];
            struct concealed_text of = {text, sizeof text};
            if (line->kind != LINE_NOTE)
                continue;
            memcpy(text, line->text, sizeof text);
            bout_secret_names(&hall->day, bout, count, conceal_one, &of);
            if (strcmp(text, line->text) != 0)
                return true;
        }
    return false;
}

/* A `bout` event says who wrestles, and in which age group. A hall that is behind is told anew
 * whenever the live one is. */
static void bout_look(struct hall *hall, struct hall_bout *bout, size_t place)
{
    if (hall->retelling || bout->bout->events[place].type != EVENT_BOUT)
        return;
    if (hall->live != NULL) {
        if (place == 0)
            bout_cover(hall, bout, privacy_known(hall, bout->bout, 1));
        return;
    }
    struct privacy privacy = privacy_of(&hall->day, bout->bout, place + 1);
    hall->has_minors = hall->has_minors || privacy.of_minors;
    if (place == 0)
        bout_cover(hall, bout, privacy);
    else if (!same_privacy(privacy, bout->privacy))
        hall->stale = true;
    hall->names_anew = hall->names_anew || privacy.covers;
    hall->stale = hall->stale || (privacy.covers && is_named(hall, bout->bout, place + 1));
}

static bool public_read(struct hall_bout *bout, size_t count)
{
    return !bout->privacy.covers ||
           (public_bout_read(&bout->public, count) && fold_read(&bout->public_fold, count));
}

/* A note is told as somebody wrote it, but for the names that nobody may be told. */
static void line_conceal(const struct hall *hall, struct line *line)
{
    if (line->kind == LINE_NOTE)
        hall_conceal(hall, line->text, sizeof line->text);
}

/* ---- lines ---- */

static bool lines_add(const struct hall *hall, struct hall_bout *bout, struct line *lines,
                      size_t count, int64_t at_ms)
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
        line_conceal(hall, &lines[i]);
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

/* When time alone changes it, or ends the wait of a line. */
static int64_t bout_next(const struct hall_bout *bout, const struct state *state)
{
    int64_t wait_ends_ms = teller_next(&bout->teller);
    return wait_ends_ms < state->next_ms ? wait_ends_ms : state->next_ms;
}

/* What time alone has brought to the bout up to `now_ms`: a period's end, most often. */
static bool bout_pass(struct hall *hall, struct hall_bout *bout, int64_t now_ms)
{
    while (bout->next_ms <= now_ms) {
        struct line lines[TELLER_LINES_MAX];
        int64_t at_ms = bout->next_ms;
        struct state state = state_of(hall_public_fold(bout), at_ms);
        size_t count = teller_pass(&bout->teller, hall->language, &state, at_ms, lines);
        if (!lines_add(hall, bout, lines, count, at_ms))
            return false;
        bout->next_ms = bout_next(bout, &state);
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
    return event_comes_at(event);
}

/* What was hidden has come back: the folds and what was made of them begin anew. */
static void bout_retake(struct hall *hall, struct hall_bout *bout)
{
    view_memory_close(&bout->memory);
    bout_uncover(bout);
    bout_cover(hall, bout, bout->privacy);
}

/* In a hall that is behind: the event as its audience may know it. */
static bool delayed_read(struct hall *hall, struct hall_bout *bout, const struct event *event)
{
    if (hall->live == NULL)
        return true;
    int64_t due_ms = event_due(event, hall->delays);
    hall->due_ms = due_ms > hall->due_ms ? due_ms : hall->due_ms;
    if (!delayed_bout_read(&bout->delayed, hall->due_ms, hall->known_seq))
        return false;
    hall->has_hidden = hall->has_hidden || bout->delayed.has_hidden;
    if (bout->delayed.anew)
        bout_retake(hall, bout);
    return true;
}

bool hall_read(struct hall *hall, const struct bout *log)
{
    struct line lines[TELLER_LINES_MAX];
    struct hall_bout *bout = hall_bout(hall, log->id);
    if (bout == NULL && (bout = bout_add(hall, log)) == NULL)
        return false;
    size_t place = bout->fold.count;
    int64_t at_ms = log->events[place].at_ms;
    /* Whatever ran out before this event came is told first, here as when the log is read again. */
    if (!hall_pass(hall, hall_comes_at(&log->events[place])) ||
        !delayed_read(hall, bout, &log->events[place]) || !fold_read(&bout->fold, place + 1) ||
        !bout_place(hall, bout))
        return false;
    bout_look(hall, bout, place);
    if (!public_read(bout, place + 1))
        return false;
    struct state state = state_of(hall_public_fold(bout), at_ms);
    size_t count = teller_read(&bout->teller, hall->language, &state, place, at_ms, lines);
    if (!lines_add(hall, bout, lines, count, at_ms))
        return false;
    bout->next_ms = bout_next(bout, &state);
    mat_look(hall, bout->mat, bout);
    hall->day_changed = true;
    return true;
}

/* ---- the day ---- */

/* Whether what may be told of an athlete is as it was. */
static bool same_athlete(const struct athlete *one, const struct athlete *other)
{
    return athlete_is_minor(one) == athlete_is_minor(other) && one->consent == other->consent &&
           same_text(one->name, other->name) && same_text(one->family, other->family) &&
           same_text(one->given, other->given);
}

bool hall_read_day(struct hall *hall, const struct event *event)
{
    static const struct athlete nobody = {.consent = false};
    hall->day_changed = true;
    if (event->type != EVENT_ENTRY)
        return day_read(&hall->day, event);
    const char *key = value_member(event->document, "athlete")->as.string;
    const struct athlete *known = day_athlete(&hall->day, key);
    struct athlete before = known != NULL ? *known : nobody;
    if (!day_read(&hall->day, event))
        return false;
    const struct athlete *now = day_athlete(&hall->day, key);
    bool concerns = athlete_is_minor(&before) || athlete_is_minor(now);
    hall->has_minors = hall->has_minors || athlete_is_minor(now);
    bool anew = concerns && !same_athlete(&before, now);
    hall->names_anew = hall->names_anew || anew;
    hall->stale = hall->stale || (anew && hall->bouts != NULL);
    return true;
}

/* ---- telling anew ---- */

/* Of what was keyed before, some may no longer be so: a slip of the roster, a wrong age group. */
static void look_for_minors(struct hall *hall)
{
    hall->has_minors = false;
    for (size_t i = 0; i < hall->day.count; i++)
        hall->has_minors = hall->has_minors || athlete_is_minor(hall->day.athletes[i]);
    for (const struct hall_bout *bout = hall->bouts; bout != NULL; bout = bout->next)
        hall->has_minors = hall->has_minors || bout->privacy.of_minors;
}

static void bout_begin_anew(struct hall *hall, struct hall_bout *bout, size_t count)
{
    struct privacy privacy = privacy_known(hall, bout->bout, events_among(bout->bout, count));
    bout_empty(hall, bout);
    bout_begin(hall, bout);
    bout->mat = NULL;
    bout_cover(hall, bout, privacy);
}

static void mat_begin_anew(struct mat *mat)
{
    mat->shown = NULL;
    mat->line_count = 0;
    mat->first_seq = 0;
    mat->changed = true;
}

/* Events are read as when they came, but what is withheld is known from the first. */
static bool read_all(struct hall *hall, const struct log *log, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (log->admissions[i].bout != NULL && !hall_read(hall, log->admissions[i].bout))
            return false;
    return true;
}

bool hall_retell(struct hall *hall, const struct log *log, size_t count)
{
    for (struct mat *mat = hall->mats; mat != NULL; mat = mat->next)
        mat_begin_anew(mat);
    for (struct hall_bout *bout = hall->bouts; bout != NULL; bout = bout->next)
        bout_begin_anew(hall, bout, count);
    look_for_minors(hall);
    hall->due_ms = INT64_MIN;
    hall->known_seq = hall->live == NULL ? count : hall->known_seq;
    hall->retelling = true;
    hall->stale = !read_all(hall, log, count);
    hall->retelling = false;
    return !hall->stale;
}
