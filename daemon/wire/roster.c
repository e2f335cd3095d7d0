#include "wire/roster.h"
#include <csv.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "wire/json.h"

enum { COLUMNS_MAX = 32, ATHLETES_MAX = 100000 };

struct roster {
    struct arena arena, row_arena;
    const struct editions *editions;
    struct complaint *complaint;
    char *columns[COLUMNS_MAX];
    size_t column_count;
    const char *cells[COLUMNS_MAX];
    size_t cell_count;
    size_t row_count; /* read so far, the header's included */
    size_t line;      /* of the file, from 1: where the row being read begins */
    struct table athletes;
    size_t athlete_count;
    bool refused, no_memory;
};

static void refuse(struct roster *roster, const char *column, const char *text)
{
    if (roster->refused)
        return;
    char pointer[64];
    snprintf(pointer, sizeof pointer, "%s%.60s", *column != '\0' ? "/" : "", column);
    roster->refused = true;
    complain(roster->complaint, REFUSED_ROSTER, pointer, "%.100s%s%s", column,
             *column != '\0' ? ": " : "", text);
    roster->complaint->line = roster->line;
}

/* By the JSON library's own check, which needs memory: `*no_memory` where that is what it lacks. */
static bool is_utf8(const char *text, size_t size, bool *no_memory)
{
    json_t *string = json_stringn(text, size);
    bool valid = string != NULL;
    *no_memory = *no_memory || (!valid && !json_has_memory());
    json_decref(string);
    return valid;
}

static void take_cell(void *cell, size_t size, void *context)
{
    struct roster *roster = context;
    if (roster->refused || roster->no_memory)
        return;
    if (roster->cell_count == COLUMNS_MAX) {
        refuse(roster, "", "more than 32 columns");
        return;
    }
    const char *column =
        roster->cell_count < roster->column_count ? roster->columns[roster->cell_count] : "";
    if (memchr(cell, '\0', size) != NULL || !is_utf8(cell, size, &roster->no_memory)) {
        if (!roster->no_memory)
            refuse(roster, column, "isn't valid UTF-8 text");
        return;
    }
    char *copy = arena_take(&roster->row_arena, size + 1);
    if (copy == NULL)
        roster->no_memory = true;
    else if (size > 0)
        memcpy(copy, cell, size);
    roster->cells[roster->cell_count++] = copy;
}

static bool is_column(const char *name)
{
    static const char *const names[] = {
        "athlete", "name",      "family", "given", "say",   "ipa",   "checked_by", "team", "noc",
        "style",   "age_group", "weight", "seed",  "facts", "minor", "consent",    "out",
    };
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        if (strcmp(names[i], name) == 0)
            return true;
    return false;
}

static void take_header(struct roster *roster)
{
    bool athlete = false;
    for (size_t i = 0; i < roster->cell_count && !roster->refused && !roster->no_memory; i++) {
        if (!is_column(roster->cells[i]))
            refuse(roster, roster->cells[i], "is no column of a roster");
        for (size_t j = 0; j < i && !roster->refused; j++)
            if (strcmp(roster->columns[j], roster->cells[i]) == 0)
                refuse(roster, roster->cells[i], "stands twice in the header");
        athlete = athlete || strcmp(roster->cells[i], "athlete") == 0;
        roster->columns[i] = arena_copy(&roster->arena, roster->cells[i]);
        roster->no_memory = roster->no_memory || roster->columns[i] == NULL;
    }
    if (!athlete)
        refuse(roster, "athlete", "is missing in the header");
    roster->column_count = roster->cell_count;
}

static bool facts_value(struct roster *roster, struct value *value, const char *cell)
{
    size_t count = 1;
    for (const char *at = cell; *at != '\0'; at++)
        count += *at == '|' ? 1 : 0;
    struct value *items = arena_take(&roster->row_arena, count * sizeof *items);
    char *text = arena_copy(&roster->row_arena, cell);
    if (items == NULL || text == NULL)
        return false;
    for (size_t i = 0; i < count; i++) {
        char *end = text + strcspn(text, "|");
        *end = '\0';
        items[i].kind = VALUE_STRING;
        items[i].as.string = text;
        text = end + 1;
    }
    value->kind = VALUE_ARRAY;
    value->items = items;
    value->count = count;
    return true;
}

/* What a cell is as JSON; a cell that is not what its column wants stays text, and is refused. */
static bool cell_value(struct roster *roster, struct value *value, const char *cell)
{
    bool truth = strcmp(value->name, "minor") == 0 || strcmp(value->name, "consent") == 0 ||
                 strcmp(value->name, "out") == 0;
    char *end = NULL;
    value->kind = VALUE_STRING;
    value->as.string = cell;
    if (strcmp(value->name, "facts") == 0)
        return facts_value(roster, value, cell);
    if (truth && strcmp(cell, "true") == 0)
        value->kind = VALUE_TRUE;
    if (truth && strcmp(cell, "false") == 0)
        value->kind = VALUE_FALSE;
    if (strcmp(value->name, "seed") == 0 && strspn(cell, "0123456789") == strlen(cell) &&
        strlen(cell) < 10) {
        value->kind = VALUE_INTEGER;
        value->as.integer = strtol(cell, &end, 10);
    }
    return true;
}

static bool row_value(struct roster *roster, struct value *row, char *id)
{
    struct value *items = arena_take(&roster->row_arena, (COLUMNS_MAX + 2) * sizeof *items);
    if (items == NULL)
        return false;
    *row = (struct value){.kind = VALUE_OBJECT, .items = items, .count = 2};
    items[0] = (struct value){.kind = VALUE_STRING, .name = "id", .as.string = id};
    items[1] = (struct value){.kind = VALUE_STRING, .name = "type", .as.string = "entry"};
    for (size_t i = 0; i < roster->cell_count; i++) {
        if (roster->cells[i][0] == '\0')
            continue;
        items[row->count].name = roster->columns[i];
        if (!cell_value(roster, &items[row->count++], roster->cells[i]))
            return false;
    }
    return true;
}

static void take_athlete(struct roster *roster)
{
    char id[32];
    struct value row;
    struct event event;
    struct complaint complaint = {.why = ACCEPTED};
    struct event_scope scope = {roster->editions, NULL, NULL, &roster->row_arena, false};
    if (roster->cell_count != roster->column_count) {
        refuse(roster, "", "the row has another number of cells than the header");
        return;
    }
    snprintf(id, sizeof id, "row-%zu", roster->row_count);
    if (!row_value(roster, &row, id)) {
        roster->no_memory = true;
        return;
    }
    if (!event_read(&event, &row, &scope, &complaint)) {
        roster->no_memory = complaint.why == ACCEPTED;
        if (!roster->no_memory)
            refuse(roster, "", complaint.detail);
        memcpy(roster->complaint->pointer, complaint.pointer, sizeof complaint.pointer);
        return;
    }
    const char *athlete = value_member(&row, "athlete")->as.string;
    char *kept = arena_copy(&roster->arena, athlete);
    if (kept != NULL && table_find(&roster->athletes, kept) != NULL)
        refuse(roster, "athlete", "stands in an earlier row already");
    else if (kept == NULL || !table_add(&roster->athletes, &roster->arena, kept, kept))
        roster->no_memory = true;
    if (++roster->athlete_count > ATHLETES_MAX)
        refuse(roster, "", "more than 100,000 athletes");
}

static void take_row(int end, void *context)
{
    struct roster *roster = context;
    (void)end;
    if (roster->refused || roster->no_memory)
        return;
    roster->row_count++;
    if (roster->row_count == 1)
        take_header(roster);
    else
        take_athlete(roster);
    arena_reset(&roster->row_arena);
    roster->cell_count = 0;
}

static bool is_break(char byte)
{
    return byte == '\r' || byte == '\n';
}

/* Hands the parser one line of the file after the other, to know where each row begins: one with a
 * quoted line break goes over several. */
static bool parse_lines(struct roster *roster, struct csv_parser *parser, const char *text,
                        size_t size)
{
    size_t number = 0, rows = roster->row_count;
    bool in_row = false;
    for (size_t from = 0; from < size;) {
        const char *end = memchr(text + from, '\n', size - from);
        size_t length = end != NULL ? (size_t)(end - (text + from)) + 1 : size - from;
        number++;
        if (!in_row)
            roster->line = number;
        if (csv_parse(parser, text + from, length, take_cell, take_row, roster) != length)
            return false;
        in_row = roster->row_count == rows && (in_row || !is_break(text[from]));
        rows = roster->row_count;
        from += length;
    }
    return csv_fini(parser, take_cell, take_row, roster) == 0;
}

static bool roster_parse(struct roster *roster, const char *text, size_t size)
{
    struct csv_parser parser;
    if (csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI) != 0)
        return false;
    if (!parse_lines(roster, &parser, text, size)) {
        if (csv_error(&parser) == CSV_ENOMEM)
            roster->no_memory = true;
        else
            refuse(roster, "", "a quote that isn't closed, or stands where none may");
    }
    csv_free(&parser);
    return true;
}

bool roster_check(const char *text, size_t size, const struct editions *editions,
                  size_t *athlete_count, struct complaint *complaint)
{
    struct roster roster = {.editions = editions, .complaint = complaint};
    size_t mark = size >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
    complaint->why = ACCEPTED;
    arena_init(&roster.arena, malloc, free);
    arena_init(&roster.row_arena, malloc, free);
    if (!roster_parse(&roster, text + mark, size - mark))
        roster.no_memory = true;
    if (!roster.no_memory && roster.row_count == 0)
        refuse(&roster, "", "the file is empty");
    *athlete_count = roster.athlete_count;
    arena_close(&roster.arena);
    arena_close(&roster.row_arena);
    if (roster.no_memory)
        complaint->why = ACCEPTED;
    return !roster.refused && !roster.no_memory;
}
