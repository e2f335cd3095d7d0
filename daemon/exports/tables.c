/* CSV, RFC 4180: a header, CRLF, quotes where they are needed (libcsv's). */
#define _POSIX_C_SOURCE 200809L
#include <csv.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "exports/exports.h"
#include "stats/state.h"

struct table_out {
    FILE *file;
    bool first; /* of its row */
};

/* A spreadsheet must not take a name for a formula. */
static void cell(struct table_out *out, const char *text)
{
    char safe[2048];
    bool formula = text != NULL && strchr("=+-@\t\r", text[0]) != NULL && text[0] != '\0';
    snprintf(safe, sizeof safe, "%s%s", formula ? "'" : "", text != NULL ? text : "");
    if (!out->first)
        fputc(',', out->file);
    out->first = false;
    if (strpbrk(safe, ",\"\r\n") != NULL || safe[0] == ' ')
        csv_fwrite(out->file, safe, strlen(safe));
    else
        fputs(safe, out->file);
}

static void number_cell(struct table_out *out, int64_t number)
{
    fprintf(out->file, "%s%" PRId64, out->first ? "" : ",", number);
    out->first = false;
}

static void row_end(struct table_out *out)
{
    fputs("\r\n", out->file);
    out->first = true;
}

static void header(struct table_out *out, const char *const *names)
{
    for (; *names != NULL; names++)
        cell(out, *names);
    row_end(out);
}

static void bout_cells(struct table_out *out, const struct fold *fold)
{
    const struct details *details = fold->details;
    cell(out, fold->bout->id);
    cell(out, details->mat);
    cell(out, details->number);
    cell(out, details->style);
    cell(out, details->weight);
    cell(out, details->stage);
    for (unsigned i = 0; i < 2; i++) {
        cell(out, details->sides[i].name);
        cell(out, details->sides[i].team);
        cell(out, details->sides[i].noc);
    }
}

#define BOUT_COLUMNS                                                                               \
    "bout", "mat", "number", "style", "weight", "stage", "red", "red_team", "red_noc", "blue",     \
        "blue_team", "blue_noc"

static void result_row(struct table_out *out, const struct state *state)
{
    const struct result *result = &state->result;
    bout_cells(out, state->fold);
    for (unsigned i = 0; i < 2; i++)
        number_cell(out, state->all.sides[i].points);
    cell(out, side_name(result->winner));
    cell(out, result->how);
    cell(out, result->code);
    for (unsigned i = 0; i < 2; i++)
        number_cell(out, result->class_points[i]);
    number_cell(out, result->period);
    number_cell(out, result->time_ms);
    cell(out, result->consistent ? "yes" : "no");
    cell(out, result->unconfirmed ? "no" : "yes");
    row_end(out);
}

static char *finished(FILE *file, char **text)
{
    bool failed = ferror(file) != 0;
    if (fclose(file) == 0 && !failed)
        return *text;
    free(*text);
    return NULL;
}

char *export_results(const struct exported_bouts *bouts)
{
    static const char *const names[] = {
        BOUT_COLUMNS, "red_score", "blue_score",       "winner",
        "how",        "code",      "red_class_points", "blue_class_points",
        "period",     "time_ms",   "consistent",       "confirmed",
        NULL};
    char *text = NULL;
    size_t size = 0;
    struct table_out out = {open_memstream(&text, &size), true};
    if (out.file == NULL)
        return NULL;
    header(&out, names);
    for (size_t i = 0; i < bouts->count; i++) {
        struct state state = state_of(bouts->bouts[i].fold, bouts->now_ms);
        if (state.result.how != NULL)
            result_row(&out, &state);
    }
    return finished(out.file, &text);
}

static void score_rows(struct table_out *out, const struct fold *fold)
{
    struct tallies tallies = {.first_point = SIDE_NONE};
    for (int32_t place = fold->first_entry; place != EVENT_NONE; place = fold->events[place].next) {
        const struct read_event *read = &fold->events[place];
        fold_count(fold, &tallies, read);
        bout_cells(out, fold);
        number_cell(out, (int64_t)read->event->seq);
        cell(out, side_name((enum side)read->giver));
        number_cell(out, read->event->points);
        cell(out, event_type_name(read->event->type));
        cell(out, read->event->action);
        cell(out, export_technique(fold, read->event));
        number_cell(out, read->period);
        number_cell(out, read->t_ms);
        for (unsigned i = 0; i < 2; i++)
            number_cell(out, tallies.sides[i].points);
        cell(out, read->confirmed ? "yes" : "no");
        row_end(out);
    }
}

char *export_scores(const struct exported_bouts *bouts)
{
    static const char *const names[] = {BOUT_COLUMNS, "seq",       "side",   "points", "type",
                                        "action",     "technique", "period", "t_ms",   "red_score",
                                        "blue_score", "confirmed", NULL};
    char *text = NULL;
    size_t size = 0;
    struct table_out out = {open_memstream(&text, &size), true};
    if (out.file == NULL)
        return NULL;
    header(&out, names);
    for (size_t i = 0; i < bouts->count; i++)
        score_rows(&out, bouts->bouts[i].fold);
    return finished(out.file, &text);
}
