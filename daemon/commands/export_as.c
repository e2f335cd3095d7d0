#include "commands/export_as.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "commands/command.h"
#include "commands/edition_files.h"
#include "service/published.h"
#include "wire/json.h"
#include "wire/language_json.h"

static const struct {
    const char *name;
    bool of_video;
} forms[] = {
    [FORM_NONE] = {"log", false},      [FORM_CHAPTERS] = {"chapters", true},
    [FORM_CUES] = {"cues", true},      [FORM_CHAPTER_LINES] = {"chapter-lines", true},
    [FORM_ATOM] = {"atom", false},     [FORM_RESULTS] = {"results", false},
    [FORM_SCORES] = {"scores", false}, [FORM_SPORT] = {"sport", false},
};

bool export_form_read(const char *name, enum export_form *form)
{
    for (enum export_form i = FORM_NONE; i <= FORM_SPORT; i++)
        if (strcmp(forms[i].name, name) == 0) {
            *form = i;
            return true;
        }
    return false;
}

bool export_form_wants_video(enum export_form form)
{
    return forms[form].of_video;
}

struct reading {
    struct log log;
    struct arena arena; /* of the event in hand */
    struct hall hall;
};

static int read_row(void *context, const struct journal_row *row)
{
    struct reading *reading = context;
    struct complaint complaint = {.why = ACCEPTED};
    arena_reset(&reading->arena);
    const struct value *event = json_read(&reading->arena, row->text, row->size, &complaint);
    if (event == NULL)
        return complaint.why == ACCEPTED ? UV_ENOMEM : UV_EILSEQ;
    struct admittance admittance = log_admit(&reading->log, event, INTAKE_FILE, &complaint);
    if (admittance.admitted == ADMITTED || admittance.admitted == REPEATED)
        return 0;
    if (admittance.admitted == NO_MEMORY)
        return UV_ENOMEM;
    fprintf(stderr, "boutwire export: event %llu: %s\n", (unsigned long long)row->seq,
            complaint.detail);
    return UV_EILSEQ;
}

static bool read_hall(struct reading *reading)
{
    struct log *log = &reading->log;
    for (size_t i = 0; i < log->count; i++) {
        const struct bout *bout = log->admissions[i].bout;
        bool read = bout != NULL ? hall_read(&reading->hall, bout)
                                 : hall_read_day(&reading->hall, log_event(log, i + 1));
        if (!read)
            return false;
    }
    return !reading->hall.stale || hall_retell(&reading->hall, log, log->count);
}

static const struct exported_bout *bout_of(const struct published *published, const char *id)
{
    for (size_t i = 0; i < published->bouts.count; i++)
        if (strcmp(published->room[i].fold->bout->id, id) == 0)
            return &published->room[i];
    return NULL;
}

static char *sport_of(const struct published *published, const struct export_wish *wish)
{
    const struct exported_bout *bout = bout_of(published, wish->bout);
    return export_sport(bout, &published->bouts, wish->url);
}

static char *text_of(const struct published *published, const struct export_wish *wish,
                     const char *store)
{
    const struct video video = {wish->video_starts_ms, VIDEO_BEFORE_MS, VIDEO_AFTER_MS};
    const struct feed feed = {store, wish->url};
    switch (wish->form) {
    case FORM_CHAPTERS:
        return export_chapters(&published->bouts, &video);
    case FORM_CUES:
        return export_cues(&published->bouts, &video);
    case FORM_CHAPTER_LINES:
        return export_chapter_lines(&published->bouts, &video);
    case FORM_ATOM:
        return export_atom(&published->bouts, &feed);
    case FORM_RESULTS:
        return export_results(&published->bouts);
    case FORM_SCORES:
        return export_scores(&published->bouts);
    case FORM_SPORT:
        return sport_of(published, wish);
    case FORM_NONE:
        break;
    }
    return NULL;
}

static int refuse(const char *why)
{
    fprintf(stderr, "boutwire export: %s\n", why);
    return EXIT_REFUSED;
}

static int print_published(const struct reading *reading, const struct export_wish *wish,
                           const char *store)
{
    struct published published = {.room = NULL};
    size_t count = reading->log.count;
    int64_t now_ms = count > 0 ? log_event(&reading->log, count)->at_ms : 0;
    if (!published_of(&published, &reading->hall, wish->mat, now_ms))
        return command_no_memory();
    int code = EXIT_FINE;
    if (wish->form == FORM_SPORT && bout_of(&published, wish->bout) == NULL)
        code = refuse("the store has no such bout");
    char *text = code == EXIT_FINE ? text_of(&published, wish, store) : NULL;
    if (code == EXIT_FINE && text == NULL)
        code = command_no_memory();
    if (text != NULL)
        fputs(text, stdout);
    free(text);
    published_close(&published);
    return code;
}

static int read_and_print(struct reading *reading, struct store *store,
                          const struct export_wish *wish)
{
    int status = store_read(store, read_row, reading);
    if (status == UV_ENOMEM)
        return command_no_memory();
    if (status != 0)
        return refuse(store_reason(store)[0] != '\0' ? store_reason(store)
                                                     : "the log can't be read");
    if (!read_hall(reading))
        return command_no_memory();
    if (reading->hall.has_minors && !wish->public_minors)
        return refuse("minors wrestle on this day: it is published with --public-minors alone");
    return print_published(reading, wish, store_epoch(store));
}

int export_as(struct store *store, const struct export_wish *wish)
{
    struct edition_files editions;
    struct language language;
    struct reading reading;
    char reason[LANGUAGE_REASON_SIZE];
    int code = edition_files_read(&editions, NULL, 0);
    if (code != EXIT_FINE)
        return code;
    if (!language_shipped(&language, &editions.arena, wish->language, reason)) {
        fprintf(stderr, "boutwire export: --language: %s\n", reason);
        edition_files_close(&editions);
        return EXIT_UNUSABLE;
    }
    log_init(&reading.log, &editions.editions, malloc, free);
    arena_init(&reading.arena, malloc, free);
    hall_init(&reading.hall, &language);
    code = read_and_print(&reading, store, wish);
    hall_close(&reading.hall);
    arena_close(&reading.arena);
    log_close(&reading.log);
    edition_files_close(&editions);
    return code;
}
