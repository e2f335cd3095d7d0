/* Normal course: each bout is scanned for the runs of its clock, and times of day become times of
 * the video by one subtraction. A bout lasts from the first start of its clock to its result, or,
 * while none stands, to its last event; the next bout's beginning ends it at the latest. */
#define _POSIX_C_SOURCE 200809L /* open_memstream */
#include <inttypes.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "exports/exports.h"
#include "prompts/scan.h"
#include "prompts/text.h"
#include "stats/state.h"
#include "wire/json.h"
#include "wire/state_json.h"

struct span { /* of a bout: times of day */
    int64_t from_ms, to_ms;
};

struct period_span {
    int period;
    struct span span;
};

struct shot { /* one bout, scanned */
    const struct exported_bout *bout;
    struct state state;
    struct scan scan;
    struct span span;
};

static int64_t first_start(const struct scan *scan)
{
    if (scan->complete && scan->run_count > 0)
        return scan->runs[0].from_ms;
    return scan->fold->bout->events[0].at_ms;
}

static int64_t last_moment(const struct fold *fold)
{
    return fold->close != EVENT_NONE ? fold->events[fold->close].event->at_ms
                                     : fold->latest_moment_ms;
}

static void shot_take(struct shot *shot, const struct exported_bouts *bouts, size_t place)
{
    shot->bout = &bouts->bouts[place];
    shot->state = state_of(shot->bout->fold, bouts->now_ms);
    scan_take(&shot->scan, bouts->language, &shot->state);
    shot->span = (struct span){first_start(&shot->scan), last_moment(shot->bout->fold)};
    if (place + 1 == bouts->count)
        return;
    struct state next = state_of(bouts->bouts[place + 1].fold, bouts->now_ms);
    struct scan scan;
    scan_take(&scan, bouts->language, &next);
    if (first_start(&scan) < shot->span.to_ms)
        shot->span.to_ms = first_start(&scan);
}

/* It was going on while the video ran. */
static bool is_in(const struct video *video, struct span span)
{
    return span.to_ms > video->starts_ms && span.to_ms > span.from_ms;
}

static void print_time(FILE *out, const struct video *video, int64_t moment_ms)
{
    int64_t ms = moment_ms > video->starts_ms ? moment_ms - video->starts_ms : 0;
    fprintf(out, "%02" PRId64 ":%02d:%02d.%03d", ms / 3600000, (int)(ms / 60000 % 60),
            (int)(ms / 1000 % 60), (int)(ms % 1000));
}

static void print_timings(FILE *out, const struct video *video, struct span span)
{
    print_time(out, video, span.from_ms);
    fputs(" --> ", out);
    print_time(out, video, span.to_ms);
    fputc('\n', out);
}

/* WebVTT section 4.2.2: in a cue's text & and < are escaped, and so is > here, for no arrow may
 * stand in it. A name's line break would end the cue. */
static void print_text(FILE *out, const char *text)
{
    for (; *text != '\0'; text++) {
        switch (*text) {
        case '&':
            fputs("&amp;", out);
            break;
        case '<':
            fputs("&lt;", out);
            break;
        case '>':
            fputs("&gt;", out);
            break;
        case '\n':
        case '\r':
            fputc(' ', out);
            break;
        default:
            fputc(*text, out);
        }
    }
}

/* What open_memstream has gathered; NULL where anything of it failed. */
static char *gathered(FILE *out, char **text)
{
    bool failed = ferror(out) != 0;
    if (fclose(out) == 0 && !failed)
        return *text;
    free(*text);
    return NULL;
}

/* ---- chapters ---- */

/* The moment at which a later period than `period` began within the bout, else its end. */
static int64_t period_end(const struct shot *shot, int period)
{
    for (size_t i = 0; i < shot->scan.run_count; i++)
        if (shot->scan.runs[i].period > period)
            return shot->scan.runs[i].from_ms;
    return shot->span.to_ms;
}

static void print_periods(FILE *out, const struct video *video, const struct shot *shot)
{
    int told = 0;
    for (size_t i = 0; i < shot->scan.run_count && shot->scan.complete; i++) {
        const struct run *run = &shot->scan.runs[i];
        struct span span = {run->from_ms, period_end(shot, run->period)};
        if (run->period <= told)
            continue;
        told = run->period;
        if (span.to_ms > shot->span.to_ms)
            span.to_ms = shot->span.to_ms;
        if (!is_in(video, span))
            continue;
        fprintf(out, "\n%s.%d\n", shot->bout->fold->bout->id, told);
        print_timings(out, video, span);
        char words[TITLE_SIZE];
        struct text text = text_start(shot->scan.language, words, sizeof words);
        text_add(&text, CHAPTER_PERIOD, NULL, FILLS({"n", .number = told}));
        print_text(out, words);
        fputc('\n', out);
    }
}

char *export_chapters(const struct exported_bouts *bouts, const struct video *video)
{
    char *text = NULL, title[TITLE_SIZE];
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (out == NULL)
        return NULL;
    fputs("WEBVTT\n", out);
    for (size_t i = 0; i < bouts->count; i++) {
        struct shot shot;
        shot_take(&shot, bouts, i);
        if (!is_in(video, shot.span))
            continue;
        fprintf(out, "\n%s\n", shot.bout->fold->bout->id);
        print_timings(out, video, shot.span);
        print_text(out, export_title(shot.bout, bouts->language, title));
        fputc('\n', out);
        print_periods(out, video, &shot);
    }
    return gathered(out, &text);
}

char *export_chapter_lines(const struct exported_bouts *bouts, const struct video *video)
{
    char *text = NULL, title[TITLE_SIZE];
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (out == NULL)
        return NULL;
    for (size_t i = 0; i < bouts->count; i++) {
        struct shot shot;
        shot_take(&shot, bouts, i);
        if (!is_in(video, shot.span))
            continue;
        int64_t from_ms = shot.span.from_ms - video->starts_ms;
        int64_t seconds = from_ms > 0 ? from_ms / 1000 : 0;
        fprintf(out, "%" PRId64 ":%02d:%02d %s\n", seconds / 3600, (int)(seconds / 60 % 60),
                (int)(seconds % 60), export_title(shot.bout, bouts->language, title));
    }
    return gathered(out, &text);
}

/* ---- cues ---- */

static json_t *cue_json(const struct shot *shot, const struct read_event *read,
                        const struct tallies *tallies)
{
    const struct event *event = read->event;
    json_t *object = json_object();
    bool complete =
        json_add_text(object, "bout", shot->bout->fold->bout->id) &&
        json_add_integer(object, "seq", (json_int_t)event->seq) &&
        json_add_text(object, "side", side_name((enum side)event->side)) &&
        json_add_text(object, "name",
                      shot->scan.details->sides[side_index((enum side)event->side)].name) &&
        json_add_integer(object, "points", event->points) &&
        json_add_text(object, "action", event->action) &&
        json_add_text(object, "technique", export_technique(shot->bout->fold, event)) &&
        json_add_integer(object, "period", read->period) &&
        json_add_integer(object, "t_ms", read->t_ms) &&
        json_add(object, "score",
                 json_pack("{s:i, s:i}", "red", tallies->sides[0].points, "blue",
                           tallies->sides[1].points));
    return json_whole(object, complete);
}

/* JSON may hold the arrow that a cue's text may not: there as an escape. */
static void print_json(FILE *out, const char *json)
{
    for (const char *arrow; (arrow = strstr(json, "-->")) != NULL; json = arrow + 3)
        fprintf(out, "%.*s--\\u003e", (int)(arrow - json), json);
    fputs(json, out);
}

struct cue {
    struct span span;
    const char *id; /* the score's */
    char *json;
};

struct cues {
    struct cue *items;
    size_t count, room;
};

static bool cue_add(struct cues *cues, struct cue cue)
{
    if (cues->count == cues->room) {
        size_t room = cues->room == 0 ? 64 : cues->room * 2;
        struct cue *items = realloc(cues->items, room * sizeof *items);
        if (items == NULL)
            return false;
        cues->items = items;
        cues->room = room;
    }
    cues->items[cues->count++] = cue;
    return true;
}

static bool cue_take(struct cues *cues, const struct video *video, const struct shot *shot,
                     const struct read_event *read, const struct tallies *tallies)
{
    int64_t moment_ms = export_moment(&shot->scan, read);
    struct span span = {moment_ms - video->before_ms, moment_ms + video->after_ms};
    if (!is_in(video, span))
        return true;
    json_t *json = cue_json(shot, read, tallies);
    struct cue cue = {span, read->event->id, json != NULL ? json_line(json) : NULL};
    json_decref(json);
    if (cue.json != NULL && cue_add(cues, cue))
        return true;
    free(cue.json);
    return false;
}

static bool cues_of(struct cues *cues, const struct video *video, const struct shot *shot)
{
    const struct fold *fold = shot->bout->fold;
    struct tallies tallies = {.first_point = SIDE_NONE};
    bool complete = true;
    for (int32_t place = fold->first_entry; place != EVENT_NONE && complete;
         place = fold->events[place].next) {
        const struct read_event *read = &fold->events[place];
        fold_count(fold, &tallies, read);
        if (read->event->type == EVENT_SCORE)
            complete = cue_take(cues, video, shot, read, &tallies);
    }
    return complete;
}

static int by_start(const void *one, const void *other)
{
    const struct cue *a = one, *b = other;
    return a->span.from_ms < b->span.from_ms ? -1 : a->span.from_ms > b->span.from_ms ? 1 : 0;
}

/* In the order of their in points, which WebVTT (section 4.1) asks for, and which is not always
 * that of the points. */
static char *print_cues(struct cues *cues, const struct video *video)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (out == NULL)
        return NULL;
    if (cues->count > 0)
        qsort(cues->items, cues->count, sizeof *cues->items, by_start);
    fputs("WEBVTT\n", out);
    for (size_t i = 0; i < cues->count; i++) {
        fprintf(out, "\n%s\n", cues->items[i].id);
        print_timings(out, video, cues->items[i].span);
        print_json(out, cues->items[i].json);
        fputc('\n', out);
    }
    return gathered(out, &text);
}

char *export_cues(const struct exported_bouts *bouts, const struct video *video)
{
    struct cues cues = {NULL, 0, 0};
    bool complete = true;
    for (size_t i = 0; i < bouts->count && complete; i++) {
        struct shot shot;
        shot_take(&shot, bouts, i);
        complete = cues_of(&cues, video, &shot);
    }
    char *text = complete ? print_cues(&cues, video) : NULL;
    for (size_t i = 0; i < cues.count; i++)
        free(cues.items[i].json);
    free(cues.items);
    return text;
}
