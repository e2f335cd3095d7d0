/* boutwire import: a log into a store, while no daemon holds it.
 * The normal course: the events that the store has are admitted into a log, then the file's lines;
 * those that are new become rows, and all rows one transaction. A new store is made only when every
 * line has been found valid. */
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "commands/command.h"
#include "commands/edition_files.h"
#include "commands/import_sheets.h"
#include "commands/log_file.h"
#include "commands/settings.h"
#include "journal/files.h"
#include "journal/store.h"
#include "wire/json.h"

static const char help[] =
    "usage: boutwire import [--store FILE] [--rules FILE]... [--keep-going] LOG|-\n"
    "       boutwire import [--to HOST:PORT] [--after LOG] [--preview] SHEET.csv...\n"
    "Puts a log (NDJSON) into a store that no daemon holds, after what is there; makes the store "
    "if\n"
    "there is none. The whole log or nothing: a line that `boutwire fold` would refuse is named "
    "as\n"
    "LOG:LINE: REASON, and nothing changes. An event that the store has already is skipped, by "
    "its\n"
    "id. Kept as they are: `at` (required) and `by`. Set anew: `seq`, which counts 1, 2, 3 … over\n"
    "the whole store. So export, then import into a new store, gives the same log byte for byte.\n"
    "  --store FILE   the store (boutwire.sqlite)                    BOUTWIRE_STORE\n"
    "  --rules FILE   know one more edition (may be repeated)\n"
    "  --keep-going   name a line that is not valid, leave it out and go on; exit 1 at the end\n"
    "Sheets (CSV, docs/draw.md) of athletes, slots and teams become events of the day, whole or "
    "not\n"
    "at all: what is there already as they have it makes none. They are printed (NDJSON), or "
    "sent.\n"
    "  --to HOST:PORT a running daemon: compare with its day, and send. With a key, where it asks\n"
    "                 for one: a table's, in the environment as BOUTWIRE_KEY\n"
    "  --after LOG    compare with that log's day\n"
    "  --preview      show what would change, and change nothing\n"
    "Exit codes: 0 all of it is there, 1 a line is not valid or the store is damaged, 2 wrong use, "
    "or\n"
    "a file or store that can't be used, 3 no memory.\n";

struct importing {
    const char *store_path, *path;
    struct store *store; /* NULL until there is one */
    struct log log;
    struct arena arena;
    struct journal_row *rows; /* their texts are ours */
    size_t count, capacity, repeated_count;
    int64_t last_at_ms;
    bool keep_going;
    bool store_failed; /* it is left as it is for the next start */
    int code;
};

static int tell(int status, const char *reason)
{
    fprintf(stderr, "boutwire import: %s\n", reason);
    return status == UV_ENOMEM   ? EXIT_NO_MEMORY
           : status == UV_EILSEQ ? EXIT_REFUSED
                                 : EXIT_UNUSABLE;
}

/* ---- what the store has ---- */

static int admit_row(void *context, const struct journal_row *row)
{
    struct importing *importing = context;
    struct complaint complaint = {.why = ACCEPTED};
    arena_reset(&importing->arena);
    const struct value *event = json_read(&importing->arena, row->text, row->size, &complaint);
    struct admittance admittance = {.admitted = NOT_ADMITTED};
    if (event != NULL)
        admittance = log_admit(&importing->log, event, INTAKE_FILE, &complaint);
    if (admittance.admitted == ADMITTED)
        return 0;
    if (admittance.admitted == NO_MEMORY || (event == NULL && complaint.why == ACCEPTED))
        return UV_ENOMEM;
    fprintf(stderr, "%s: event %llu: %s\n", importing->store_path, (unsigned long long)row->seq,
            admittance.admitted == REPEATED ? "its id is an earlier event's" : complaint.detail);
    return UV_EILSEQ;
}

static bool read_store(struct importing *importing)
{
    char reason[STORE_REASON_SIZE] = "";
    if (file_size(importing->store_path) == 0)
        return true;
    int status = store_open(&importing->store, importing->store_path, reason, sizeof reason);
    if (status != 0) {
        importing->code = tell(status, reason);
        return false;
    }
    if (store_notice(importing->store)[0] != '\0')
        fprintf(stderr, "boutwire import: %s\n", store_notice(importing->store));
    status = store_read(importing->store, admit_row, importing);
    if (status != 0)
        importing->code = tell(status, "the store's own log isn't valid: nothing was changed");
    return status == 0;
}

/* ---- the log's lines ---- */

/* The event as it came, with the number that it has here. */
static char *text_of(const struct log *log, uint64_t seq)
{
    const struct known_event *known = table_find(&log->known, log->admissions[seq - 1].id);
    json_t *event = json_of(known->document);
    char *text = NULL;
    if (event != NULL && json_object_set_new(event, "seq", json_integer((json_int_t)seq)) == 0)
        text = json_line(event);
    json_decref(event);
    return text;
}

static bool add_row(struct importing *importing, uint64_t seq)
{
    if (importing->count == importing->capacity) {
        size_t capacity = importing->capacity * 2 + 256;
        struct journal_row *wider = realloc(importing->rows, capacity * sizeof *wider);
        if (wider == NULL)
            return false;
        importing->rows = wider;
        importing->capacity = capacity;
    }
    char *text = text_of(&importing->log, seq);
    if (text == NULL)
        return false;
    importing->rows[importing->count++] = (struct journal_row){seq, text, strlen(text)};
    int64_t at_ms = log_event(&importing->log, seq)->at_ms;
    importing->last_at_ms = at_ms > importing->last_at_ms ? at_ms : importing->last_at_ms;
    return true;
}

static bool take_line(void *context, const struct log_file_line *line)
{
    struct importing *importing = context;
    switch (line->admittance.admitted) {
    case REPEATED:
        importing->repeated_count++;
        return true;
    case NOT_ADMITTED:
        fprintf(stderr, "%s:%zu: %s\n", importing->path, line->number, line->complaint.detail);
        importing->code = EXIT_REFUSED;
        return importing->keep_going;
    case ADMITTED:
        if (add_row(importing, line->admittance.seq))
            return true;
        break;
    case NO_MEMORY:
        break;
    }
    importing->code = command_no_memory();
    return false;
}

static bool read_lines(struct importing *importing)
{
    size_t size = 0;
    char *text = command_read_file(importing->path, &size);
    if (text == NULL) {
        importing->code = EXIT_UNUSABLE;
        return false;
    }
    log_file_read(&importing->log, text, size, take_line, importing);
    free(text);
    return importing->code == EXIT_FINE ||
           (importing->code == EXIT_REFUSED && importing->keep_going);
}

/* ---- the transaction ---- */

/* A daemon that starts on the store takes it that it last ran when the last event was accepted: a
 * clock that runs on at the log's end is lost, as after any absence. */
static int write_rows(struct importing *importing)
{
    struct store *store = importing->store;
    int64_t alive_at_ms = store_alive_at(store);
    int status = store_unsafe(store);
    if (status == 0)
        status = store_begin(store, true);
    for (size_t i = 0; status == 0 && i < importing->count; i++)
        status = store_add(store, &importing->rows[i]);
    if (status == 0 && importing->last_at_ms > alive_at_ms)
        status = store_set_alive(store, importing->last_at_ms);
    return status == 0 ? store_commit(store) : status;
}

static void write_store(struct importing *importing)
{
    char reason[STORE_REASON_SIZE] = "";
    int status = 0;
    if (importing->store == NULL)
        status = store_open(&importing->store, importing->store_path, reason, sizeof reason);
    if (status == 0 && importing->count > 0) {
        status = write_rows(importing);
        snprintf(reason, sizeof reason, "%s", store_reason(importing->store));
    }
    if (status != 0) {
        importing->code = tell(status, reason);
        importing->store_failed = true;
        return;
    }
    printf("%s: %zu events imported", importing->store_path, importing->count);
    printf(importing->repeated_count > 0 ? ", %zu were there already\n" : "\n",
           importing->repeated_count);
}

static int run(struct importing *importing, const struct editions *editions)
{
    log_init(&importing->log, editions, malloc, free);
    arena_init(&importing->arena, malloc, free);
    if (read_store(importing) && read_lines(importing))
        write_store(importing);
    store_close(importing->store, !importing->store_failed);
    for (size_t i = 0; i < importing->count; i++)
        free((void *)(uintptr_t)importing->rows[i].text);
    free(importing->rows);
    arena_close(&importing->arena);
    log_close(&importing->log);
    return importing->code;
}

int command_import(int argc, char **argv)
{
    static const struct option options[] = {
        {"store", required_argument, NULL, 's'}, {"rules", required_argument, NULL, 'r'},
        {"keep-going", no_argument, NULL, 'k'},  {"to", required_argument, NULL, 't'},
        {"after", required_argument, NULL, 'a'}, {"preview", no_argument, NULL, 'p'},
        {"help", no_argument, NULL, 'h'},        {NULL, 0, NULL, 0},
    };
    struct sheets_wish sheets = {.to = NULL};
    struct importing importing = {.code = EXIT_FINE};
    struct settings settings;
    struct settings_given given = {.config = NULL};
    struct edition_files files;
    const char *rules[32];
    size_t rules_count = 0;
    for (int option; (option = getopt_long(argc, argv, "h", options, NULL)) != -1;) {
        if (option == 'h')
            return fputs(help, stdout), command_finish(EXIT_FINE);
        if (option == 's')
            settings_give(&given, SETTING_STORE, optarg);
        else if (option == 't')
            sheets.to = optarg;
        else if (option == 'a')
            sheets.after = optarg;
        else if (option == 'p')
            sheets.preview = true;
        else if (option == 'k')
            importing.keep_going = true;
        else if (option == 'r' && rules_count < sizeof rules / sizeof *rules)
            rules[rules_count++] = optarg;
        else
            return EXIT_UNUSABLE;
    }
    sheets.paths = (const char *const *)&argv[optind];
    sheets.path_count = argc - optind;
    bool is_sheet = argc > optind && import_is_sheet(argv[optind]);
    for (int i = optind; i < argc && is_sheet; i++)
        if (!import_is_sheet(argv[i]))
            return command_misused("import", "%s is no sheet: its name must end in .csv", argv[i]);
    if (!is_sheet && optind + 1 != argc)
        return command_misused("import", "one LOG is wanted, or - for standard input");
    if (!is_sheet && (sheets.to != NULL || sheets.after != NULL || sheets.preview))
        return command_misused("import", "--to, --after and --preview go with sheets (.csv)");
    if (is_sheet && (settings_has(&given, SETTING_STORE) || importing.keep_going))
        return command_misused("import", "--store and --keep-going go with a LOG");
    if (!settings_read(&settings, &given, "import"))
        return EXIT_UNUSABLE;
    importing.store_path = settings.store;
    importing.path = argv[optind];
    int code = edition_files_read(&files, rules, rules_count);
    if (code != EXIT_FINE)
        return code;
    code = is_sheet ? import_sheets(&sheets, &files.editions) : run(&importing, &files.editions);
    edition_files_close(&files);
    return command_finish(code);
}
