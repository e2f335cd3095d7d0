#include "commands/rehearsal.h"
#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "rules/time_of_day.h"
#include "stats/fold.h"
#include "wire/json.h"

enum { ID_SIZE = 65 };

/* One bout on its way through the log. */
struct bout_play {
    const struct bout *bout;
    struct fold whole; /* read to the end of the log */
    struct fold fold;  /* read as far as the play has come */
    int periods;       /* the fewest and shortest that the bout ever has */
    int32_t period_ms;
    size_t place;          /* of its next event */
    int64_t due_ms;        /* of its last line */
    bool ran_out;          /* that has been said since the clock last went */
    char (*said)[ID_SIZE]; /* our own clock events that stand */
    size_t said_count, said_capacity;
};

struct play {
    struct rehearsal *rehearsal;
    const struct log *log;
    enum rehearsal_pace pace;
    double speed;
    int64_t first_ms, last_ms; /* the earliest and the latest `at` of the log */
    int64_t due_ms;            /* of the last event: `at` may go back, the rhythm doesn't */
    struct bout_play *bouts;
    size_t bout_count;
};

/* ---- lines ---- */

/* Every moment is as far from the others as in the log, so no time needs to be said. */
static bool keeps_time(const struct play *play)
{
    return play->pace == REHEARSAL_EXACT || play->speed == 1.0;
}

static int64_t scaled(const struct play *play, int64_t at_ms)
{
    return llround((double)(at_ms - play->first_ms) / play->speed);
}

/* Takes `event`, NULL is allowed; false without memory. */
static bool line_add(struct play *play, struct rehearsal_line line, json_t *event)
{
    struct rehearsal *rehearsal = play->rehearsal;
    if (event != NULL && rehearsal->count == rehearsal->capacity) {
        size_t capacity = rehearsal->capacity == 0 ? 256 : rehearsal->capacity * 2;
        struct rehearsal_line *lines =
            realloc(rehearsal->lines, capacity * sizeof *rehearsal->lines);
        if (lines != NULL) {
            rehearsal->lines = lines;
            rehearsal->capacity = capacity;
        }
    }
    if (event == NULL || rehearsal->count == rehearsal->capacity) {
        json_decref(event);
        return false;
    }
    line.order = rehearsal->count;
    line.event = event;
    line.id = json_string_value(json_object_get(event, "id"));
    rehearsal->lines[rehearsal->count++] = line;
    return true;
}

/* When it is sent and what it says of its pressing. */
static struct rehearsal_line line_of(const struct play *play, const struct event *event,
                                     int64_t moment_ms, bool keyed)
{
    struct rehearsal_line line = {.seq = event->seq, .keyed = keyed};
    if (play->pace == REHEARSAL_EXACT) {
        line.keyed_ms = moment_ms - play->last_ms;
    } else {
        line.due_ms = play->due_ms;
        line.keyed_ms = scaled(play, moment_ms);
    }
    return line;
}

/* ---- events ---- */

/* The event as it is sent; NULL without memory. */
static json_t *event_json(const struct event *event)
{
    static const char *const left_out[] = {"at", "seq", "by", "keyed_at"};
    json_t *json = json_of(event->document);
    if (json == NULL)
        return NULL;
    for (size_t i = 0; i < sizeof left_out / sizeof *left_out; i++)
        (void)json_object_del(json, left_out[i]); /* fails where there is none */
    if (event->type == EVENT_CLOCK && event->what == CLOCK_LOST &&
        json_object_set_new(json, "do", json_string("stop")) < 0) {
        json_decref(json);
        return NULL;
    }
    return json;
}

static json_t *event_json_at(const struct event *event, int period, int32_t t_ms)
{
    json_t *json = event_json(event);
    if (json == NULL || (json_object_set_new(json, "period", json_integer(period)) == 0 &&
                         json_object_set_new(json, "t_ms", json_integer(t_ms)) == 0))
        return json;
    json_decref(json);
    return NULL;
}

/* An id of our own beside an event's, which the log doesn't have. */
static void id_beside(const struct log *log, const struct event *event, const char *suffix,
                      char id[ID_SIZE])
{
    bool fits = strlen(event->id) + strlen(suffix) < ID_SIZE;
    snprintf(id, ID_SIZE, "%.56s%s", event->id, suffix);
    for (unsigned number = 1; !fits || log_seq_of(log, id) != 0; number++) {
        snprintf(id, ID_SIZE, "rehearsal.%llu.%u%s", (unsigned long long)event->seq, number,
                 suffix);
        fits = true;
    }
}

static json_t *clock_json(const struct play *play, const struct event *event, const char *suffix,
                          const char *bout, const char *what)
{
    char id[ID_SIZE];
    id_beside(play->log, event, suffix, id);
    return json_pack("{s:s,s:s,s:s,s:s}", "id", id, "type", "clock", "bout", bout, "do", what);
}

static json_t *set_json(const struct play *play, const struct event *event, const char *suffix,
                        const char *bout, const struct clock_reading *clock)
{
    json_t *json = clock_json(play, event, suffix, bout, "set");
    if (json != NULL && json_object_set_new(json, "period", json_integer(clock->period)) == 0 &&
        json_object_set_new(json, "t_ms", json_integer(clock->t_ms)) == 0)
        return json;
    json_decref(json);
    return NULL;
}

/* ---- a bout out of its rhythm: its times are said ---- */

static bool says_bout_time(const struct event *event)
{
    return event->type != EVENT_CLOCK && event->type != EVENT_BOUT &&
           !event_gives(event, MEMBER_PERIOD);
}

static struct clock_reading clock_of(const struct bout_play *bout, int64_t moment_ms)
{
    return clock_at(&bout->fold.clock, bout->fold.details->period_ms, moment_ms);
}

/* The daemon refuses what the bout's details don't allow, also when an event is amended after they
 * have changed. */
static bool can_be_said(const struct bout_play *bout, int period, int32_t t_ms)
{
    return period <= bout->periods && t_ms <= bout->period_ms;
}

/* The bout time of the event that comes now: as the whole log has it, in which a correction of the
 * clock may have moved it; of one that doesn't stand, as it was when it came. */
static json_t *timed_json(const struct bout_play *bout, const struct event *event,
                          const struct clock_reading *clock)
{
    const struct read_event *read = &bout->whole.events[bout->place];
    int period = read->stands ? read->period : clock->period;
    int32_t t_ms = read->stands ? read->t_ms : clock->t_ms;
    if (bout->place == 0 || !says_bout_time(event) || !can_be_said(bout, period, t_ms))
        return event_json(event);
    return event_json_at(event, period, t_ms);
}

/* A clock event of our own; remembered, so that it can be taken back. Takes `json`. */
static bool clock_line_add(struct play *play, struct bout_play *bout, struct rehearsal_line line,
                           json_t *json)
{
    if (json != NULL && bout->said_count == bout->said_capacity) {
        size_t capacity = bout->said_capacity == 0 ? 16 : bout->said_capacity * 2;
        char(*said)[ID_SIZE] = realloc(bout->said, capacity * sizeof *bout->said);
        if (said == NULL) {
            json_decref(json);
            return false;
        }
        bout->said = said;
        bout->said_capacity = capacity;
    }
    if (json != NULL)
        snprintf(bout->said[bout->said_count++], ID_SIZE, "%s",
                 json_string_value(json_object_get(json, "id")));
    return line_add(play, line, json);
}

/* The clock's events were keyed by mistake and have been taken back; so are those that we added. */
static bool take_back_clock(struct play *play, struct bout_play *bout, const struct event *event)
{
    for (; bout->said_count > 0; bout->said_count--) {
        char suffix[32], id[ID_SIZE];
        snprintf(suffix, sizeof suffix, ".void%zu", bout->said_count);
        id_beside(play->log, event, suffix, id);
        json_t *json = json_pack("{s:s,s:s,s:s,s:s}", "id", id, "type", "void", "bout",
                                 bout->bout->id, "ref", bout->said[bout->said_count - 1]);
        if (!line_add(play, line_of(play, event, event->moment_ms, true), json))
            return false;
    }
    return true;
}

/* The clock has run out by itself since the last event: the one on the page must be told. `event`
 * is the bout's last before that, or the one that comes after. */
static bool run_out(struct play *play, struct bout_play *bout, const struct event *event,
                    const char *suffix, const struct clock_reading *clock)
{
    if (!bout->fold.clock.running || !clock->used_up || bout->ran_out ||
        !can_be_said(bout, clock->period, clock->t_ms))
        return true;
    bout->ran_out = true;
    struct rehearsal_line line = line_of(play, event, clock->used_up_ms, true);
    line.due_ms = line.keyed_ms > bout->due_ms ? line.keyed_ms : bout->due_ms;
    return clock_line_add(play, bout, line, set_json(play, event, suffix, bout->bout->id, clock));
}

static bool clock_was_touched(const struct event *event, const struct clock_reading *before,
                              const struct clock_reading *after)
{
    if (event->type == EVENT_CLOCK)
        return event->what == CLOCK_START || event->what == CLOCK_STOP ||
               event->what == CLOCK_LOST || event->what == CLOCK_SET;
    return before->period != after->period || before->t_ms != after->t_ms ||
           before->running != after->running;
}

/* The clock on the page is brought to the log's. Slower than life it may have run out too early,
 * and then `set` alone leaves it standing: so it is started or stopped too. */
static bool correct_clock(struct play *play, struct bout_play *bout, const struct event *event,
                          const struct clock_reading *clock)
{
    if (!can_be_said(bout, clock->period, clock->t_ms))
        return true;
    struct rehearsal_line line = line_of(play, event, event->moment_ms, true);
    bool log_sets_it = event->type == EVENT_CLOCK && event->what == CLOCK_SET;
    if (!log_sets_it &&
        !clock_line_add(play, bout, line, set_json(play, event, ".set", bout->bout->id, clock)))
        return false;
    const char *what = clock->running ? "start" : "stop";
    return play->speed >= 1 ||
           clock_line_add(play, bout, line, clock_json(play, event, ".run", bout->bout->id, what));
}

static bool play_timed(struct play *play, struct bout_play *bout, const struct event *event)
{
    if (!fold_read(&bout->fold, bout->place) || !fold_read(&bout->whole, bout->bout->count))
        return false;
    struct clock_reading before = {.period = 1};
    if (bout->place > 0)
        before = clock_of(bout, event->moment_ms);
    if (bout->place > 0 && !run_out(play, bout, event, ".out", &before))
        return false;
    struct rehearsal_line line = line_of(play, event, event->moment_ms, true);
    if (!line_add(play, line, timed_json(bout, event, &before)) ||
        !fold_read(&bout->fold, bout->place + 1))
        return false;
    struct clock_reading after = clock_of(bout, event->moment_ms);
    if (!after.used_up)
        bout->ran_out = false;
    if (!bout->fold.clock.keyed)
        return event->type == EVENT_RESTART || take_back_clock(play, bout, event);
    return !clock_was_touched(event, &before, &after) || correct_clock(play, bout, event, &after);
}

/* ---- the log from its first event to its last ---- */

static void note_lengths(struct bout_play *play)
{
    play->periods = INT_MAX;
    play->period_ms = INT32_MAX;
    for (size_t i = 0; i < play->bout->count; i++) {
        const struct details *details = play->bout->events[i].details;
        if (details != NULL && details->periods < play->periods)
            play->periods = details->periods;
        if (details != NULL && details->period_ms < play->period_ms)
            play->period_ms = details->period_ms;
    }
}

static struct bout_play *bout_play_of(struct play *play, const struct bout *bout)
{
    for (size_t i = play->bout_count; i-- > 0;)
        if (play->bouts[i].bout == bout)
            return &play->bouts[i];
    struct bout_play *found = &play->bouts[play->bout_count++];
    found->bout = bout;
    note_lengths(found);
    fold_init(&found->whole, bout, malloc, free);
    fold_init(&found->fold, bout, malloc, free);
    return found;
}

static void note_due(struct play *play, int64_t at_ms)
{
    int64_t due_ms = scaled(play, at_ms);
    if (due_ms > play->due_ms)
        play->due_ms = due_ms;
}

static bool play_bout_event(struct play *play, const struct bout *of)
{
    struct bout_play *bout = bout_play_of(play, of);
    const struct event *event = &of->events[bout->place];
    note_due(play, event->at_ms);
    bool fine;
    if (keeps_time(play))
        fine = line_add(play, line_of(play, event, event->moment_ms, true), event_json(event));
    else
        fine = play_timed(play, bout, event);
    bout->place++;
    bout->due_ms = play->due_ms;
    return fine;
}

static bool play_day_event(struct play *play, const struct event *event)
{
    bool keyed = event_gives(event, MEMBER_KEYED_AT);
    bool late = keyed && event->keyed_at_ms < event->at_ms;
    note_due(play, event->at_ms);
    return line_add(play, line_of(play, event, late ? event->keyed_at_ms : event->at_ms, keyed),
                    event_json(event));
}

/* Clocks that ran out between their bout's last event and the log's. */
static bool play_ends(struct play *play)
{
    if (keeps_time(play))
        return true;
    for (size_t i = 0; i < play->bout_count; i++) {
        struct bout_play *bout = &play->bouts[i];
        struct clock_reading clock = clock_of(bout, play->last_ms);
        const struct event *last = &bout->bout->events[bout->place - 1];
        if (!run_out(play, bout, last, ".end", &clock))
            return false;
    }
    return true;
}

static bool play_all(struct play *play)
{
    size_t day = 0;
    for (size_t i = 0; i < play->log->count; i++) {
        const struct bout *bout = play->log->admissions[i].bout;
        if (bout != NULL ? !play_bout_event(play, bout)
                         : !play_day_event(play, play->log->day[day++]))
            return false;
    }
    return play_ends(play);
}

static void note_at(struct play *play, int64_t at_ms)
{
    if (at_ms < play->first_ms)
        play->first_ms = at_ms;
    if (at_ms > play->last_ms)
        play->last_ms = at_ms;
}

static void find_times(struct play *play)
{
    play->first_ms = INT64_MAX;
    play->last_ms = INT64_MIN;
    for (size_t i = 0; i < play->log->day_count; i++)
        note_at(play, play->log->day[i]->at_ms);
    for (size_t i = 0; i < play->log->bout_count; i++)
        for (size_t j = 0; j < play->log->bouts[i]->count; j++)
            note_at(play, play->log->bouts[i]->events[j].at_ms);
}

static int by_due(const void *one_given, const void *other_given)
{
    const struct rehearsal_line *one = one_given, *other = other_given;
    if (one->due_ms != other->due_ms)
        return one->due_ms < other->due_ms ? -1 : 1;
    return one->order < other->order ? -1 : one->order > other->order;
}

bool rehearsal_make(struct rehearsal *rehearsal, const struct log *log, enum rehearsal_pace pace,
                    double speed)
{
    *rehearsal = (struct rehearsal){0};
    struct play play = {.rehearsal = rehearsal, .log = log, .pace = pace, .speed = speed};
    play.bouts = calloc(log->bout_count + 1, sizeof *play.bouts);
    if (play.bouts == NULL)
        return false;
    find_times(&play);
    bool fine = play_all(&play);
    for (size_t i = 0; i < play.bout_count; i++) {
        fold_close(&play.bouts[i].whole);
        fold_close(&play.bouts[i].fold);
        free(play.bouts[i].said);
    }
    free(play.bouts);
    if (!fine) {
        rehearsal_free(rehearsal);
        return false;
    }
    if (rehearsal->count > 0) {
        qsort(rehearsal->lines, rehearsal->count, sizeof *rehearsal->lines, by_due);
        rehearsal->length_ms = rehearsal->lines[rehearsal->count - 1].due_ms;
    }
    return true;
}

void rehearsal_free(struct rehearsal *rehearsal)
{
    for (size_t i = 0; i < rehearsal->count; i++)
        json_decref(rehearsal->lines[i].event);
    free(rehearsal->lines);
    *rehearsal = (struct rehearsal){0};
}

char *rehearsal_message(struct rehearsal_line *line, int64_t start_ms)
{
    char keyed_at[TIME_OF_DAY_SIZE];
    time_of_day_write(start_ms + line->keyed_ms, keyed_at);
    if (line->keyed && json_object_set_new(line->event, "keyed_at", json_string(keyed_at)) < 0)
        return NULL;
    json_t *message = json_pack("{s:O}", "event", line->event);
    char *text = message == NULL ? NULL : json_line(message);
    json_decref(message);
    return text;
}
