/* The normal course: read every sheet, whole; learn what the day has already, from a daemon or a
 * log; find what differs; then show it, print it, or send it as one batch. An athlete or slot that
 * is there as the sheet has it makes no event, so a sheet imported twice changes nothing.
 * Whatever is refused anywhere: nothing is changed at all. */
#include "commands/import_sheets.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "commands/command.h"
#include "commands/day_known.h"
#include "commands/sheet_file.h"
#include "wire/json.h"

enum { SHEETS_MAX = 16 };

struct origin { /* of an event: which row of which file */
    size_t sheet, row;
};

struct importing {
    const struct sheets_wish *wish;
    struct sheet sheets[SHEETS_MAX];
    size_t sheet_count;
    struct day_known known;
    json_t *teams;  /* by name: what the teams' sheets say */
    json_t *events; /* an array: what is to change */
    struct origin *origins;
    size_t new_counts[SHEETS_MAX], changed_counts[SHEETS_MAX];
    int code;
};

bool import_is_sheet(const char *path)
{
    size_t size = strlen(path);
    return size > 4 && strcmp(path + size - 4, ".csv") == 0;
}

static bool out_of_memory(struct importing *importing)
{
    importing->code = command_no_memory();
    return false;
}

/* ---- the files ---- */

static bool read_sheet(struct importing *importing, const char *path,
                       const struct editions *editions)
{
    struct complaint complaint;
    size_t size = 0;
    char *text = command_read_file(path, &size);
    if (text == NULL) {
        importing->code = EXIT_UNUSABLE;
        return false;
    }
    struct sheet *sheet = &importing->sheets[importing->sheet_count++];
    if (!sheet_read(sheet, text, size, editions, &complaint))
        importing->code = sheet_file_refused(path, sheet, &complaint);
    free(text);
    return importing->code == EXIT_FINE;
}

static bool read_sheets(struct importing *importing, const struct editions *editions)
{
    for (int i = 0; i < importing->wish->path_count; i++)
        if (!read_sheet(importing, importing->wish->paths[i], editions))
            return false;
    return true;
}

static bool learn(struct importing *importing, const struct daemon_address *address)
{
    if (importing->wish->after != NULL)
        importing->code = day_known_read(&importing->known, importing->wish->after);
    else if (importing->wish->to != NULL)
        importing->code = day_known_ask(&importing->known, address, "import");
    return importing->code == EXIT_FINE;
}

/* ---- teams ---- */

static bool take_teams(struct importing *importing)
{
    for (size_t i = 0; i < importing->sheet_count; i++) {
        const struct sheet *sheet = &importing->sheets[i];
        for (size_t j = 0; j < sheet->count && sheet->kind == SHEET_TEAMS; j++)
            if (json_object_set_new(importing->teams, sheet->rows[j].key,
                                    json_of(sheet->rows[j].document)) != 0)
                return out_of_memory(importing);
    }
    return true;
}

/* An athlete without a country code has the team's. */
static bool add_noc(const struct importing *importing, json_t *entry, const json_t *before)
{
    const json_t *team = json_object_get(entry, "team");
    if (team == NULL)
        team = json_object_get(before, "team");
    json_t *noc =
        team != NULL
            ? json_object_get(json_object_get(importing->teams, json_string_value(team)), "noc")
            : NULL;
    bool has = json_object_get(entry, "noc") != NULL || json_object_get(before, "noc") != NULL;
    return noc == NULL || has || json_object_set(entry, "noc", noc) == 0;
}

/* ---- what differs ---- */

/* Takes what is so already out of the event; answers whether anything is left. */
static bool keep_differences(json_t *event, const json_t *before)
{
    const char *member;
    json_t *value;
    void *next;
    size_t left = 0;
    json_object_foreach_safe(event, next, member, value)
    {
        bool named = strcmp(member, "type") == 0 || strcmp(member, "athlete") == 0 ||
                     strcmp(member, "slot") == 0;
        if (!named && json_equal(value, json_object_get(before, member)))
            json_object_del(event, member);
        else
            left += named ? 0 : 1;
    }
    return left > 0 || before == NULL;
}

static bool keep_event(struct importing *importing, json_t *event, struct origin origin)
{
    size_t place = json_array_size(importing->events);
    struct origin *origins = realloc(importing->origins, (place + 1) * sizeof *importing->origins);
    if (origins == NULL)
        return false;
    importing->origins = origins;
    origins[place] = origin;
    return day_event_add_id(event, "sheet", importing->known.count) &&
           json_array_append(importing->events, event) == 0;
}

/* Takes `event`. */
static bool compare(struct importing *importing, json_t *event, struct origin origin)
{
    const char *key = NULL;
    const json_t *all = event != NULL ? day_known_of(&importing->known, event, &key) : NULL;
    const json_t *before = all != NULL ? json_object_get(all, key) : NULL;
    bool done = all != NULL;
    if (done && all == importing->known.entries)
        done = add_noc(importing, event, before);
    if (done && keep_differences(event, before)) {
        size_t *count = before == NULL ? importing->new_counts : importing->changed_counts;
        count[origin.sheet]++;
        done = keep_event(importing, event, origin);
    }
    json_decref(event);
    return done || out_of_memory(importing);
}

static bool compare_rows(struct importing *importing, size_t number)
{
    const struct sheet *sheet = &importing->sheets[number];
    for (size_t i = 0; i < sheet->count; i++)
        if (!compare(importing, json_of(sheet->rows[i].document), (struct origin){number, i}))
            return false;
    return true;
}

static bool is_in_sheets(const struct importing *importing, const char *athlete)
{
    for (size_t i = 0; i < importing->sheet_count; i++)
        for (size_t j = 0; j < importing->sheets[i].count; j++)
            if (importing->sheets[i].kind == SHEET_ATHLETES &&
                strcmp(importing->sheets[i].rows[j].key, athlete) == 0)
                return true;
    return false;
}

/* Athletes who are there already, of a team that a teams' sheet names. */
static bool compare_known(struct importing *importing, size_t number)
{
    const char *athlete;
    json_t *entry;
    json_object_foreach(importing->known.entries, athlete, entry)
    {
        json_t *team = json_object_get(entry, "team");
        if (team == NULL || is_in_sheets(importing, athlete))
            continue;
        for (size_t i = 0; i < importing->sheets[number].count; i++) {
            if (strcmp(importing->sheets[number].rows[i].key, json_string_value(team)) != 0)
                continue;
            json_t *event = json_pack("{s:s, s:s}", "type", "entry", "athlete", athlete);
            if (!compare(importing, event, (struct origin){number, i}))
                return false;
        }
    }
    return true;
}

static bool compare_sheets(struct importing *importing)
{
    for (size_t i = 0; i < importing->sheet_count; i++) {
        bool teams = importing->sheets[i].kind == SHEET_TEAMS;
        if (teams ? !compare_known(importing, i) : !compare_rows(importing, i))
            return false;
    }
    return true;
}

/* ---- who and what is named, and nowhere there ---- */

static bool has_row(const struct importing *importing, enum sheet_kind kind, const char *key)
{
    const json_t *known = kind == SHEET_SLOTS ? importing->known.slots : importing->known.entries;
    if (json_object_get(known, key) != NULL)
        return true;
    for (size_t i = 0; i < importing->sheet_count; i++)
        for (size_t j = 0; j < importing->sheets[i].count; j++)
            if (importing->sheets[i].kind == kind &&
                strcmp(importing->sheets[i].rows[j].key, key) == 0)
                return true;
    return false;
}

static bool knows_athletes(const struct importing *importing)
{
    bool any = json_object_size(importing->known.entries) > 0;
    for (size_t i = 0; i < importing->sheet_count; i++)
        any = any || importing->sheets[i].kind == SHEET_ATHLETES;
    return any;
}

static void tell_unknown(const struct importing *importing, struct origin origin,
                         const json_t *event)
{
    static const char *const sides[] = {"red", "blue"};
    for (size_t i = 0; i < 2; i++) {
        const char *member;
        json_t *name;
        json_object_foreach(json_object_get(event, sides[i]), member, name)
        {
            bool athlete = strcmp(member, "athlete") == 0;
            if (has_row(importing, athlete ? SHEET_ATHLETES : SHEET_SLOTS,
                        json_string_value(name)) ||
                (athlete && !knows_athletes(importing)))
                continue;
            const struct sheet_row *row = &importing->sheets[origin.sheet].rows[origin.row];
            fprintf(stderr, "%s:%zu: row %zu: %s: no %s is called %s yet\n",
                    importing->wish->paths[origin.sheet], row->line, row->row, sides[i],
                    athlete ? "athlete" : "slot", json_string_value(name));
        }
    }
}

static void tell_all_unknown(const struct importing *importing)
{
    size_t place;
    json_t *event;
    json_array_foreach(importing->events, place, event)
        tell_unknown(importing, importing->origins[place], event);
}

/* ---- what is shown, printed or sent ---- */

static void print_value(const json_t *value)
{
    char *text = value != NULL ? json_dumps(value, JSON_COMPACT | JSON_ENCODE_ANY) : NULL;
    fputs(text != NULL ? text : "nothing", stdout);
    free(text);
}

static void preview_event(const struct importing *importing, const json_t *event)
{
    const char *key = NULL, *member, *mark = ":";
    const json_t *all = day_known_of(&importing->known, event, &key);
    const json_t *before = json_object_get(all, key);
    json_t *value;
    printf("  %c %s", before == NULL ? '+' : '~', key);
    json_object_foreach((json_t *)(uintptr_t)event, member, value)
    {
        if (strcmp(member, "type") == 0 || strcmp(member, "id") == 0 ||
            strcmp(member, all == importing->known.slots ? "slot" : "athlete") == 0)
            continue;
        printf("%s %s ", mark, member);
        mark = ",";
        if (json_object_get(before, member) != NULL) {
            print_value(json_object_get(before, member));
            fputs(" -> ", stdout);
        }
        print_value(value);
    }
    putchar('\n');
}

static void preview_sheet(const struct importing *importing, size_t number)
{
    const struct sheet *sheet = &importing->sheets[number];
    size_t place, added = importing->new_counts[number],
                  changed = importing->changed_counts[number];
    json_t *event;
    printf("%s: %zu %s: %zu new, %zu changed", importing->wish->paths[number], sheet->count,
           sheet_kind_name(sheet->kind), added, changed);
    if (sheet->kind != SHEET_TEAMS)
        printf(", %zu as they are", sheet->count - added - changed);
    putchar('\n');
    json_array_foreach(importing->events, place, event) if (importing->origins[place].sheet ==
                                                            number) preview_event(importing, event);
}

static void name_line(void *context, size_t place)
{
    const struct importing *importing = context;
    if (place >= json_array_size(importing->events))
        return;
    struct origin origin = importing->origins[place];
    const struct sheet_row *row = &importing->sheets[origin.sheet].rows[origin.row];
    fprintf(stderr, "%s:%zu: row %zu: ", importing->wish->paths[origin.sheet], row->line, row->row);
}

static int finish(const struct importing *importing, const struct daemon_address *address)
{
    size_t count = json_array_size(importing->events);
    if (importing->wish->preview) {
        for (size_t i = 0; i < importing->sheet_count; i++)
            preview_sheet(importing, i);
        return EXIT_FINE;
    }
    if (importing->wish->to == NULL)
        return day_events_print(importing->events);
    int code = count > 0 ? day_events_send(importing->events, address, "import", name_line,
                                           (void *)(uintptr_t)importing)
                         : EXIT_FINE;
    if (code == EXIT_FINE)
        printf("%zu events imported\n", count);
    return code;
}

int import_sheets(const struct sheets_wish *wish, const struct editions *editions)
{
    struct importing importing = {.wish = wish, .code = EXIT_FINE};
    struct daemon_address address;
    if (wish->to != NULL && daemon_address_read(&address, wish->to) != 0)
        return command_misused("import", "--to: %s is no HOST:PORT", wish->to);
    if (wish->path_count > SHEETS_MAX)
        return command_misused("import", "no more than %d sheets at once", SHEETS_MAX);
    importing.teams = json_object();
    importing.events = json_array();
    if (!day_known_init(&importing.known) || importing.teams == NULL || importing.events == NULL)
        out_of_memory(&importing);
    else if (read_sheets(&importing, editions) && learn(&importing, &address) &&
             take_teams(&importing) && compare_sheets(&importing)) {
        tell_all_unknown(&importing);
        importing.code = finish(&importing, &address);
    }
    for (size_t i = 0; i < importing.sheet_count; i++)
        sheet_close(&importing.sheets[i]);
    day_known_close(&importing.known);
    json_decref(importing.teams);
    json_decref(importing.events);
    free(importing.origins);
    return importing.code;
}
