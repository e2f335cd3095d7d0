#include "commands/export_sheet.h"
#include <csv.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "commands/command.h"
#include "commands/day_known.h"
#include "wire/json.h"

static const char *const athlete_columns[] = {
    "athlete", "name",   "family",    "given", "say",   "ipa",   "checked_by", "team", "noc",
    "style",   "weight", "age_group", "seed",  "facts", "minor", "consent",    "out",  NULL};
static const char *const slot_columns[] = {"slot",  "number",    "mat",    "order", "stage",
                                           "style", "age_group", "weight", "rules", "starts_at",
                                           "red",   "blue",      NULL};

bool export_sheet_kind(const char *name, enum sheet_kind *kind)
{
    *kind = strcmp(name, sheet_kind_name(SHEET_SLOTS)) == 0 ? SHEET_SLOTS : SHEET_ATHLETES;
    return strcmp(name, sheet_kind_name(*kind)) == 0;
}

/* ---- cells ---- */

/* OWASP ASVS 1.2.10: what a spreadsheet would take for a formula begins with an apostrophe; so does
 * what begins with one and would lose it on its way back. */
static void print_cell(const char *text, bool first)
{
    size_t marks = strspn(text, "'");
    bool guarded = text[marks] != '\0' && strchr("=+-@\t\r", text[marks]) != NULL;
    size_t size = strlen(text);
    char *cell = malloc(size + 2);
    if (!first)
        putchar(',');
    if (cell == NULL)
        return;
    snprintf(cell, size + 2, "%s%s", guarded ? "'" : "", text);
    if (strpbrk(cell, ",\"\r\n") != NULL || cell[0] == ' ')
        csv_fwrite(stdout, cell, strlen(cell));
    else
        fputs(cell, stdout);
    free(cell);
}

/* Facts in one cell, parted by bars. */
static char *join_facts(const json_t *facts)
{
    char *text = NULL;
    size_t size = 0, place;
    json_t *fact;
    FILE *out = open_memstream(&text, &size);
    if (out == NULL)
        return NULL;
    json_array_foreach(facts, place, fact)
    {
        if (place > 0)
            fputc('|', out);
        for (const char *at = json_string_value(fact); *at != '\0'; at++) {
            if (*at == '|' || *at == '\\')
                fputc('\\', out);
            fputc(*at, out);
        }
    }
    fclose(out);
    return text;
}

static char *side_text(const json_t *side)
{
    static const char *const ways[][2] = {
        {"winner_of", "winner of "}, {"loser_of", "loser of "}, {"athlete", ""}};
    for (size_t i = 0; i < sizeof ways / sizeof *ways; i++) {
        const char *name = json_string_value(json_object_get(side, ways[i][0]));
        size_t size = name != NULL ? strlen(ways[i][1]) + strlen(name) + 1 : 0;
        char *text = name != NULL ? malloc(size) : NULL;
        if (text != NULL)
            snprintf(text, size, "%s%s", ways[i][1], name);
        if (name != NULL)
            return text;
    }
    return strdup("");
}

/* Malloc'd; NULL without memory. */
static char *cell_text(const json_t *value)
{
    char number[32];
    if (json_is_array(value))
        return join_facts(value);
    if (json_is_object(value))
        return side_text(value);
    if (json_is_boolean(value))
        return strdup(json_is_true(value) ? "true" : "false");
    if (json_is_string(value))
        return strdup(json_string_value(value));
    snprintf(number, sizeof number, "%lld", (long long)json_integer_value(value));
    return strdup(json_is_integer(value) ? number : "");
}

/* ---- rows ---- */

static bool print_row(const char *const *columns, const json_t *thing, const char *key)
{
    for (size_t i = 0; columns[i] != NULL; i++) {
        char *text = i == 0 ? strdup(key) : cell_text(json_object_get(thing, columns[i]));
        if (text == NULL)
            return false;
        print_cell(text, i == 0);
        free(text);
    }
    fputs("\r\n", stdout);
    return true;
}

static bool print_sheet(const struct day_known *known, enum sheet_kind kind)
{
    const char *const *columns = kind == SHEET_SLOTS ? slot_columns : athlete_columns;
    const char *key;
    json_t *thing;
    for (size_t i = 0; columns[i] != NULL; i++)
        print_cell(columns[i], i == 0);
    fputs("\r\n", stdout);
    json_object_foreach(kind == SHEET_SLOTS ? known->slots : known->entries, key,
                        thing) if (!print_row(columns, thing, key)) return false;
    return true;
}

static int take_row(void *context, const struct journal_row *row)
{
    struct complaint complaint = {.why = ACCEPTED};
    json_t *event = json_parse(row->text, row->size, &complaint);
    bool taken = event != NULL && day_known_take(context, event);
    json_decref(event);
    return taken ? 0 : complaint.why != ACCEPTED ? UV_EILSEQ : UV_ENOMEM;
}

int export_sheet(struct store *store, enum sheet_kind kind)
{
    struct day_known known;
    int status = day_known_init(&known) ? store_read(store, take_row, &known) : UV_ENOMEM;
    if (status == 0 && !print_sheet(&known, kind))
        status = UV_ENOMEM;
    day_known_close(&known);
    if (status == UV_ENOMEM)
        return command_no_memory();
    if (status != 0)
        fprintf(stderr, "boutwire export: %s\n", store_reason(store));
    return status == 0 ? EXIT_FINE : status == UV_EILSEQ ? EXIT_REFUSED : EXIT_UNUSABLE;
}
