#include "wire/sheet.h"
#include <csv.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "wire/json.h"

enum { COLUMNS_MAX = 32, ROWS_MAX = 100000, MEMBERS_BESIDE = 4 };

enum cell_kind {
    CELL_TEXT,
    CELL_TRUTH,
    CELL_INTEGER,
    CELL_FACTS,
    CELL_SIDE,
    CELL_WAY,
    CELL_ISO,
    CELL_LOT
};

struct column {
    const char *name;
    enum cell_kind kind;
};

static const struct column athlete_columns[] = {
    {"athlete", CELL_TEXT},    {"name", CELL_TEXT},    {"family", CELL_TEXT},
    {"given", CELL_TEXT},      {"say", CELL_TEXT},     {"ipa", CELL_TEXT},
    {"checked_by", CELL_TEXT}, {"team", CELL_TEXT},    {"noc", CELL_TEXT},
    {"iso3", CELL_ISO},        {"style", CELL_TEXT},   {"age_group", CELL_TEXT},
    {"weight", CELL_TEXT},     {"seed", CELL_INTEGER}, {"lot", CELL_LOT},
    {"facts", CELL_FACTS},     {"minor", CELL_TRUTH},  {"consent", CELL_TRUTH},
    {"out", CELL_TRUTH},       {NULL, CELL_TEXT},
};
static const struct column slot_columns[] = {
    {"slot", CELL_TEXT},      {"number", CELL_TEXT},  {"mat", CELL_TEXT},
    {"order", CELL_INTEGER},  {"stage", CELL_TEXT},   {"style", CELL_TEXT},
    {"age_group", CELL_TEXT}, {"weight", CELL_TEXT},  {"rules", CELL_TEXT},
    {"starts_at", CELL_TEXT}, {"red", CELL_SIDE},     {"blue", CELL_SIDE},
    {"winner_to", CELL_WAY},  {"loser_to", CELL_WAY}, {NULL, CELL_TEXT},
};
static const struct column team_columns[] = {
    {"team", CELL_TEXT}, {"noc", CELL_TEXT}, {"iso3", CELL_ISO}, {NULL, CELL_TEXT}};

static const struct {
    const char *key, *type, *name, *words;
    const struct column *columns;
} kinds[] = {
    [SHEET_ATHLETES] = {"athlete", "entry", "athletes", "is no column of a roster",
                        athlete_columns},
    [SHEET_SLOTS] = {"slot", "slot", "slots", "is no column of a bout order", slot_columns},
    [SHEET_TEAMS] = {"team", "entry", "teams", "is no column of a list of teams", team_columns},
};

const char *sheet_kind_name(enum sheet_kind kind)
{
    return kinds[kind].name;
}

struct way { /* "the winner of this row's slot goes there": laid once every row is read */
    size_t row;
    size_t column; /* place in the header, from 0 */
    const char *cell;
};

struct reading {
    struct sheet *sheet;
    const struct editions *editions;
    struct complaint *complaint;
    struct arena scratch; /* of one row's check */
    const struct column *columns[COLUMNS_MAX];
    const char *header[COLUMNS_MAX];
    size_t column_count;
    const char *cells[COLUMNS_MAX];
    size_t cell_count;
    size_t row_count;  /* read so far, the header's included */
    size_t line;       /* of the file, from 1: where the row being read begins */
    struct table keys; /* to struct sheet_row */
    size_t capacity;
    struct way *ways;
    size_t way_count, way_capacity;
    bool refused, no_memory;
};

/* `column` from 0; COLUMNS_MAX: the row as a whole. */
static void refuse_at(struct reading *reading, size_t row, size_t line, size_t column,
                      const char *name, const char *text)
{
    char pointer[64];
    if (reading->refused)
        return;
    snprintf(pointer, sizeof pointer, "%s%.60s", *name != '\0' ? "/" : "", name);
    reading->refused = true;
    complain(reading->complaint, REFUSED_ROSTER, pointer, "%.100s%s%s", name,
             *name != '\0' ? ": " : "", text);
    reading->complaint->line = line;
    reading->sheet->row = row;
    reading->sheet->column = column < COLUMNS_MAX ? column + 1 : 0;
}

static void refuse(struct reading *reading, size_t column, const char *name, const char *text)
{
    refuse_at(reading, reading->row_count, reading->line, column, name, text);
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

/* ---- cells ---- */

static const char *column_name(const struct reading *reading, size_t column)
{
    return column < reading->column_count ? reading->header[column] : "";
}

/* OWASP ASVS 1.2.10: how a cell is guarded that a spreadsheet would take for a formula. */
static const char *without_guard(const char *cell)
{
    size_t marks = strspn(cell, "'");
    bool guarded = marks > 0 && cell[marks] != '\0' && strchr("=+-@\t\r", cell[marks]) != NULL;
    return guarded ? cell + 1 : cell;
}

static void take_cell(void *cell, size_t size, void *context)
{
    struct reading *reading = context;
    if (reading->refused || reading->no_memory)
        return;
    if (reading->cell_count == COLUMNS_MAX) {
        reading->row_count++;
        refuse(reading, COLUMNS_MAX, "", "more than 32 columns");
        return;
    }
    if (memchr(cell, '\0', size) != NULL || !is_utf8(cell, size, &reading->no_memory)) {
        size_t column = reading->cell_count;
        reading->row_count += reading->no_memory ? 0 : 1; /* this row isn't counted yet */
        if (!reading->no_memory)
            refuse(reading, column, column_name(reading, column), "isn't valid UTF-8 text");
        return;
    }
    char *copy = arena_take(&reading->sheet->arena, size + 1);
    if (copy == NULL)
        reading->no_memory = true;
    else if (size > 0)
        memcpy(copy, cell, size);
    reading->cells[reading->cell_count++] = copy != NULL ? without_guard(copy) : NULL;
}

static struct value string_value(const char *name, const char *text)
{
    return (struct value){.kind = VALUE_STRING, .name = name, .as.string = text};
}

/* Cuts the next fact off; the escapes are undone in place. */
static char *cut_fact(char **rest)
{
    char *fact = *rest, *to = *rest, *from = *rest;
    for (; *from != '\0' && *from != '|'; from++) {
        if (from[0] == '\\' && (from[1] == '|' || from[1] == '\\'))
            from++;
        *to++ = *from;
    }
    *rest = *from != '\0' ? from + 1 : NULL;
    *to = '\0';
    return fact;
}

static bool facts_value(struct reading *reading, struct value *value, const char *cell)
{
    size_t most = 1, count = 0;
    for (const char *at = cell; *at != '\0'; at++)
        most += *at == '|' ? 1 : 0;
    struct value *items = arena_take(&reading->sheet->arena, most * sizeof *items);
    char *rest = arena_copy(&reading->sheet->arena, cell);
    if (items == NULL || rest == NULL)
        return false;
    while (rest != NULL)
        items[count++] = string_value(NULL, cut_fact(&rest));
    value->kind = VALUE_ARRAY;
    value->items = items;
    value->count = count;
    return true;
}

/* {athlete}, {winner_of} or {loser_of}. */
static bool side_value(struct reading *reading, struct value *value, const char *cell)
{
    static const struct {
        const char *words, *member;
    } ways[] = {{"winner of ", "winner_of"}, {"loser of ", "loser_of"}};
    struct value *item = arena_take(&reading->sheet->arena, sizeof *item);
    if (item == NULL)
        return false;
    *item = string_value("athlete", cell);
    for (size_t i = 0; i < 2; i++)
        if (strncmp(cell, ways[i].words, strlen(ways[i].words)) == 0)
            *item = string_value(ways[i].member, cell + strlen(ways[i].words));
    value->kind = VALUE_OBJECT;
    value->items = item;
    value->count = 1;
    return true;
}

static bool read_integer(const char *cell, int64_t *number)
{
    const char *digits = cell + (*cell == '-' ? 1 : 0);
    if (*digits == '\0' || strspn(digits, "0123456789") != strlen(digits) || strlen(digits) > 9)
        return false;
    *number = strtol(cell, NULL, 10);
    return true;
}

/* What a cell is as JSON; a cell that is not what its column wants stays text, and is refused. */
static bool cell_value(struct reading *reading, struct value *value, const struct column *column,
                       const char *cell)
{
    *value = string_value(column->name, cell);
    if (column->kind == CELL_FACTS)
        return facts_value(reading, value, cell);
    if (column->kind == CELL_SIDE)
        return side_value(reading, value, cell);
    if (column->kind == CELL_TRUTH && strcmp(cell, "true") == 0)
        value->kind = VALUE_TRUE;
    if (column->kind == CELL_TRUTH && strcmp(cell, "false") == 0)
        value->kind = VALUE_FALSE;
    if (column->kind == CELL_INTEGER && read_integer(cell, &value->as.integer))
        value->kind = VALUE_INTEGER;
    return true;
}

/* ---- rows ---- */

static bool keep_way(struct reading *reading, size_t column)
{
    struct way *ways = arena_grow(&reading->sheet->arena, reading->ways, reading->way_count,
                                  &reading->way_capacity, sizeof *ways);
    if (ways == NULL)
        return false;
    reading->ways = ways;
    ways[reading->way_count++] =
        (struct way){reading->sheet->count, column, reading->cells[column]};
    return true;
}

static bool is_iso3(const char *cell)
{
    return strlen(cell) == 3 && strspn(cell, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") == 3;
}

/* Cells that are no member of the event. */
static bool take_beside(struct reading *reading, size_t column, struct sheet_row *row)
{
    const char *cell = reading->cells[column], *name = reading->header[column];
    switch (reading->columns[column]->kind) {
    case CELL_ISO:
        if (!is_iso3(cell))
            refuse(reading, column, name, "must be three capital letters, as in ISO 3166-1");
        return true;
    case CELL_LOT:
        if (!read_integer(cell, &row->lot) || row->lot < 1)
            refuse(reading, column, name, "must be an integer from 1");
        return true;
    case CELL_WAY:
        return keep_way(reading, column);
    case CELL_TEXT:
    case CELL_TRUTH:
    case CELL_INTEGER:
    case CELL_FACTS:
    case CELL_SIDE:
        break;
    }
    return true;
}

static bool is_beside(const struct column *column)
{
    return column->kind == CELL_ISO || column->kind == CELL_LOT || column->kind == CELL_WAY;
}

static bool row_value(struct reading *reading, struct value *document, struct sheet_row *row)
{
    struct value *items =
        arena_take(&reading->sheet->arena, (reading->cell_count + MEMBERS_BESIDE) * sizeof *items);
    if (items == NULL)
        return false;
    *document = (struct value){.kind = VALUE_OBJECT, .items = items, .count = 1};
    items[0] = string_value("type", kinds[reading->sheet->kind].type);
    for (size_t i = 0; i < reading->cell_count; i++) {
        if (reading->cells[i][0] == '\0')
            continue;
        bool beside = is_beside(reading->columns[i]);
        if (beside ? !take_beside(reading, i, row)
                   : !cell_value(reading, &items[document->count++], reading->columns[i],
                                 reading->cells[i]))
            return false;
    }
    return true;
}

static size_t column_of(const struct reading *reading, const char *pointer)
{
    size_t size = strcspn(pointer + (*pointer == '/' ? 1 : 0), "/");
    for (size_t i = 0; i < reading->column_count && *pointer == '/'; i++)
        if (strlen(reading->header[i]) == size &&
            strncmp(reading->header[i], pointer + 1, size) == 0)
            return i;
    return COLUMNS_MAX;
}

static size_t key_column(const struct reading *reading)
{
    char pointer[32];
    snprintf(pointer, sizeof pointer, "/%s", kinds[reading->sheet->kind].key);
    return column_of(reading, pointer);
}

/* The row as the event that it is. A team stands for any athlete of it. */
static bool check_row(struct reading *reading, const struct value *document)
{
    struct value items[COLUMNS_MAX + MEMBERS_BESIDE + 2];
    struct value whole = {.kind = VALUE_OBJECT, .items = items, .count = document->count};
    struct event event;
    struct complaint complaint = {.why = ACCEPTED};
    struct event_scope scope = {reading->editions, NULL, NULL, &reading->scratch, false};
    memcpy(items, document->items, document->count * sizeof *items);
    items[whole.count++] = string_value("id", "row");
    if (reading->sheet->kind == SHEET_TEAMS)
        items[whole.count++] = string_value("athlete", "any");
    if (event_read(&event, &whole, &scope, &complaint))
        return true;
    reading->no_memory = complaint.why == ACCEPTED;
    if (!reading->no_memory) {
        refuse(reading, column_of(reading, complaint.pointer), "", complaint.detail);
        memcpy(reading->complaint->pointer, complaint.pointer, sizeof complaint.pointer);
    }
    return false;
}

static bool keep_row(struct reading *reading, const struct sheet_row *row)
{
    struct sheet *sheet = reading->sheet;
    struct sheet_row *rows =
        arena_grow(&sheet->arena, sheet->rows, sheet->count, &reading->capacity, sizeof *rows);
    if (rows == NULL)
        return false;
    sheet->rows = rows;
    rows[sheet->count++] = *row;
    return true;
}

static void take_thing(struct reading *reading)
{
    const char *key = kinds[reading->sheet->kind].key;
    struct sheet_row row = {.line = reading->line, .row = reading->row_count};
    struct value *document = arena_take(&reading->sheet->arena, sizeof *document);
    if (reading->cell_count != reading->column_count) {
        refuse(reading, COLUMNS_MAX, "", "the row has another number of cells than the header");
        return;
    }
    if (document == NULL || !row_value(reading, document, &row)) {
        reading->no_memory = true;
        return;
    }
    if (reading->refused)
        return;
    const struct value *found = value_member(document, key);
    if (found == NULL) {
        refuse(reading, key_column(reading), key, "is missing");
        return;
    }
    if (!check_row(reading, document))
        return;
    row.document = document;
    row.key = found->as.string;
    if (table_find(&reading->keys, row.key) != NULL)
        refuse(reading, key_column(reading), key, "stands in an earlier row already");
    else if (!table_add(&reading->keys, &reading->sheet->arena, row.key, document) ||
             !keep_row(reading, &row))
        reading->no_memory = true;
    if (reading->sheet->count > ROWS_MAX)
        refuse(reading, COLUMNS_MAX, "", "more than 100,000 rows");
}

/* ---- the header ---- */

static bool has_cell(const struct reading *reading, const char *name)
{
    for (size_t i = 0; i < reading->cell_count; i++)
        if (strcmp(reading->cells[i], name) == 0)
            return true;
    return false;
}

static enum sheet_kind kind_of(const struct reading *reading)
{
    if (has_cell(reading, "slot"))
        return SHEET_SLOTS;
    return has_cell(reading, "team") && !has_cell(reading, "athlete") && !has_cell(reading, "name")
               ? SHEET_TEAMS
               : SHEET_ATHLETES;
}

static void take_header(struct reading *reading)
{
    reading->sheet->kind = kind_of(reading);
    const char *key = kinds[reading->sheet->kind].key;
    for (size_t i = 0; i < reading->cell_count && !reading->refused; i++) {
        const struct column *column = kinds[reading->sheet->kind].columns;
        while (column->name != NULL && strcmp(column->name, reading->cells[i]) != 0)
            column++;
        if (column->name == NULL)
            refuse(reading, i, reading->cells[i], kinds[reading->sheet->kind].words);
        for (size_t j = 0; j < i && !reading->refused; j++)
            if (strcmp(reading->header[j], reading->cells[i]) == 0)
                refuse(reading, i, reading->cells[i], "stands twice in the header");
        reading->columns[i] = column;
        reading->header[i] = reading->cells[i];
    }
    if (!has_cell(reading, key))
        refuse(reading, COLUMNS_MAX, key, "is missing in the header");
    reading->column_count = reading->cell_count;
}

static void take_row(int end, void *context)
{
    struct reading *reading = context;
    (void)end;
    if (reading->refused || reading->no_memory)
        return;
    reading->row_count++;
    if (reading->row_count == 1)
        take_header(reading);
    else
        take_thing(reading);
    arena_reset(&reading->scratch);
    reading->cell_count = 0;
}

/* ---- where winners and losers go ---- */

static void lay_way(struct reading *reading, const struct way *way)
{
    struct sheet_row *row = &reading->sheet->rows[way->row];
    const char *name = reading->header[way->column], *space = strrchr(way->cell, ' ');
    char slot[256];
    bool red = space != NULL && strcmp(space, " red") == 0;
    bool well = space != NULL && (red || strcmp(space, " blue") == 0) &&
                (size_t)(space - way->cell) < sizeof slot;
    snprintf(slot, sizeof slot, "%.*s", well ? (int)(space - way->cell) : 0, way->cell);
    struct value *target = well ? table_find(&reading->keys, slot) : NULL;
    const char *wrong = !well            ? "must be a slot and a side, as in \"final red\""
                        : target == NULL ? "names no slot of this file"
                                         : NULL;
    if (wrong != NULL) {
        refuse_at(reading, row->row, row->line, way->column, name, wrong);
        return;
    }
    struct value *item = arena_take(&reading->sheet->arena, sizeof *item);
    if (item == NULL) {
        reading->no_memory = true;
        return;
    }
    *item = string_value(strcmp(name, "winner_to") == 0 ? "winner_of" : "loser_of", row->key);
    struct value side = {
        .kind = VALUE_OBJECT, .name = red ? "red" : "blue", .items = item, .count = 1};
    const struct value *had = value_member(target, side.name);
    if (had != NULL && !value_equal(had, &side))
        refuse_at(reading, row->row, row->line, way->column, name,
                  "that side is somebody else's already");
    else if (had == NULL) /* there is room: a row has two sides, and their columns may be empty */
        memcpy((struct value *)(uintptr_t)&target->items[target->count++], &side, sizeof side);
}

/* ---- the file ---- */

static bool is_break(char byte)
{
    return byte == '\r' || byte == '\n';
}

/* Hands the parser one line of the file after the other, to know where each row begins: one with a
 * quoted line break goes over several. */
static bool parse_lines(struct reading *reading, struct csv_parser *parser, const char *text,
                        size_t size)
{
    size_t number = 0, rows = reading->row_count;
    bool in_row = false;
    for (size_t from = 0; from < size;) {
        const char *end = memchr(text + from, '\n', size - from);
        size_t length = end != NULL ? (size_t)(end - (text + from)) + 1 : size - from;
        number++;
        if (!in_row)
            reading->line = number;
        if (csv_parse(parser, text + from, length, take_cell, take_row, reading) != length)
            return false;
        in_row = reading->row_count == rows && (in_row || !is_break(text[from]));
        rows = reading->row_count;
        from += length;
    }
    return csv_fini(parser, take_cell, take_row, reading) == 0;
}

static bool parse(struct reading *reading, const char *text, size_t size)
{
    struct csv_parser parser;
    if (csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI) != 0)
        return false;
    if (!parse_lines(reading, &parser, text, size)) {
        if (csv_error(&parser) == CSV_ENOMEM)
            reading->no_memory = true;
        else {
            reading->row_count++;
            refuse(reading, COLUMNS_MAX, "", "a quote that isn't closed, or stands where none may");
        }
    }
    csv_free(&parser);
    return true;
}

bool sheet_read(struct sheet *sheet, const char *text, size_t size, const struct editions *editions,
                struct complaint *complaint)
{
    struct reading reading = {.sheet = sheet, .editions = editions, .complaint = complaint};
    size_t mark = size >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
    *sheet = (struct sheet){.kind = SHEET_ATHLETES};
    complaint->why = ACCEPTED;
    arena_init(&sheet->arena, malloc, free);
    arena_init(&reading.scratch, malloc, free);
    if (!parse(&reading, text + mark, size - mark))
        reading.no_memory = true;
    if (!reading.no_memory && reading.row_count == 0)
        refuse(&reading, COLUMNS_MAX, "", "the file is empty");
    for (size_t i = 0; i < reading.way_count && !reading.refused && !reading.no_memory; i++)
        lay_way(&reading, &reading.ways[i]);
    arena_close(&reading.scratch);
    if (reading.no_memory)
        complaint->why = ACCEPTED;
    return !reading.refused && !reading.no_memory;
}

void sheet_close(struct sheet *sheet)
{
    arena_close(&sheet->arena);
    *sheet = (struct sheet){.kind = SHEET_ATHLETES, .arena = sheet->arena};
}
