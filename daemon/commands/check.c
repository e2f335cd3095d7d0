/* boutwire check: is this file good, and if not, where and why. */
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "commands/command.h"
#include "commands/edition_files.h"
#include "commands/log_file.h"
#include "commands/sheet_file.h"
#include "journal/store.h"
#include "wire/json.h"
#include "wire/sheet.h"

static const char help[] =
    "usage: boutwire check [--rules FILE]... FILE...\n"
    "Says of each FILE whether it is valid: a sheet where its name ends in .csv, an edition "
    "where\n"
    "it is one JSON object with age_groups, else a log (NDJSON). Every line of a log that is not\n"
    "valid is named, as FILE:LINE: REASON on standard error.\n"
    "Exit codes: 0 all are valid, 1 one is not, 2 wrong use or an unreadable file, 3 no memory.\n";

struct checking {
    const char *path;
    size_t event_count, repeated_count, refused_count;
    bool no_memory;
};

static bool check_line(void *context, const struct log_file_line *line)
{
    struct checking *checking = context;
    switch (line->admittance.admitted) {
    case ADMITTED:
        checking->event_count++;
        return true;
    case REPEATED:
        checking->repeated_count++;
        return true;
    case NOT_ADMITTED:
        checking->refused_count++;
        fprintf(stderr, "%s:%zu: %s\n", checking->path, line->number, line->complaint.detail);
        return true;
    case NO_MEMORY:
        checking->no_memory = true;
        return false;
    }
    return false;
}

static int check_log(const char *path, char *text, size_t size, const struct editions *editions)
{
    struct checking checking = {.path = path};
    struct log log;
    log_init(&log, editions, malloc, free);
    log_file_read(&log, text, size, check_line, &checking);
    size_t bout_count = log.bout_count;
    log_close(&log);
    if (checking.no_memory)
        return command_no_memory();
    if (checking.refused_count > 0)
        return EXIT_REFUSED;
    printf("%s: a log, %zu events of %zu bouts", path, checking.event_count, bout_count);
    printf(checking.repeated_count > 0 ? ", %zu sent again\n" : "\n", checking.repeated_count);
    return EXIT_FINE;
}

static int check_edition(const char *path, const struct value *document, struct arena *arena)
{
    struct complaint complaint = {.why = ACCEPTED};
    struct edition edition;
    if (edition_read(&edition, document, arena, &complaint)) {
        printf("%s: an edition, %s\n", path, edition.name);
        return EXIT_FINE;
    }
    if (complaint.why == ACCEPTED)
        return command_no_memory();
    fprintf(stderr, "%s: %s%s%s\n", path, complaint.pointer, complaint.pointer[0] ? ": " : "",
            complaint.detail);
    return EXIT_REFUSED;
}

static int check_sheet(const char *path, const char *text, size_t size,
                       const struct editions *editions)
{
    static const char *const things[] = {"a roster", "a bout order", "a list of teams"};
    struct complaint complaint = {.why = ACCEPTED};
    struct sheet sheet;
    int code = EXIT_FINE;
    if (sheet_read(&sheet, text, size, editions, &complaint))
        printf("%s: %s, %zu %s\n", path, things[sheet.kind], sheet.count,
               sheet_kind_name(sheet.kind));
    else
        code = sheet_file_refused(path, &sheet, &complaint);
    sheet_close(&sheet);
    return code;
}

/* ---- a store: its files, and every event as if it came in now ---- */

struct checking_store {
    const char *path;
    struct log log;
    struct arena arena;
    size_t refused_count;
};

static int check_event(void *context, const struct journal_row *row)
{
    struct checking_store *checking = context;
    struct complaint complaint = {.why = ACCEPTED};
    struct admittance admittance = {.admitted = NOT_ADMITTED};
    arena_reset(&checking->arena);
    const struct value *event = json_read(&checking->arena, row->text, row->size, &complaint);
    if (event != NULL)
        admittance = log_admit(&checking->log, event, INTAKE_FILE, &complaint);
    if (admittance.admitted == ADMITTED)
        return 0;
    if (admittance.admitted == NO_MEMORY || (event == NULL && complaint.why == ACCEPTED))
        return UV_ENOMEM;
    checking->refused_count++;
    fprintf(stderr, "%s: event %llu: %s\n", checking->path, (unsigned long long)row->seq,
            admittance.admitted == REPEATED ? "its id is an earlier event's" : complaint.detail);
    return 0;
}

static int check_events(struct checking_store *checking, struct store *store)
{
    int status = store_read(store, check_event, checking);
    if (status == UV_ENOMEM)
        return command_no_memory();
    if (status != 0)
        fprintf(stderr, "%s\n", store_reason(store));
    if (status != 0 || checking->refused_count > 0)
        return EXIT_REFUSED;
    printf("%s: a store, %zu events of %zu bouts\n", checking->path, checking->log.count,
           checking->log.bout_count);
    if (store_notice(store)[0] != '\0')
        printf("%s\n", store_notice(store));
    return EXIT_FINE;
}

static int check_store(const char *path, const struct editions *editions)
{
    struct checking_store checking = {.path = path};
    struct store *store = NULL;
    char reason[STORE_REASON_SIZE] = "";
    int status = store_open_checking(&store, path, reason, sizeof reason);
    if (status == UV_ENOMEM)
        return command_no_memory();
    if (status != 0) {
        fprintf(stderr, "%s\n", reason);
        return status == UV_EILSEQ || status == UV_EFTYPE ? EXIT_REFUSED : EXIT_UNUSABLE;
    }
    log_init(&checking.log, editions, malloc, free);
    arena_init(&checking.arena, malloc, free);
    int code = check_events(&checking, store);
    store_close(store, true);
    arena_close(&checking.arena);
    log_close(&checking.log);
    return code;
}

static bool ends_with(const char *text, const char *end)
{
    size_t size = strlen(text), end_size = strlen(end);
    return size >= end_size && strcmp(text + size - end_size, end) == 0;
}

static int check_text(const char *path, char *text, size_t size, const struct editions *editions)
{
    struct arena arena;
    struct complaint complaint;
    if (ends_with(path, ".csv"))
        return check_sheet(path, text, size, editions);
    arena_init(&arena, malloc, free);
    const struct value *document = json_read(&arena, text, size, &complaint);
    bool is_edition = document != NULL && value_member(document, "age_groups") != NULL;
    int code =
        is_edition ? check_edition(path, document, &arena) : check_log(path, text, size, editions);
    arena_close(&arena);
    return code;
}

static int check_file(const char *path, const struct editions *editions)
{
    size_t size = 0;
    if (store_is_one(path))
        return check_store(path, editions);
    char *text = command_read_file(path, &size);
    if (text == NULL)
        return EXIT_UNUSABLE;
    int code = check_text(path, text, size, editions);
    free(text);
    return code;
}

int command_check(int argc, char **argv)
{
    static const struct option options[] = {
        {"rules", required_argument, NULL, 'r'},
        {"help", no_argument, NULL, 'h'},
        {NULL, 0, NULL, 0},
    };
    const char *rules[32];
    size_t rules_count = 0;
    struct edition_files files;
    for (int option; (option = getopt_long(argc, argv, "h", options, NULL)) != -1;) {
        if (option == 'h')
            return fputs(help, stdout), command_finish(EXIT_FINE);
        if (option != 'r' || rules_count == sizeof rules / sizeof *rules)
            return EXIT_UNUSABLE;
        rules[rules_count++] = optarg;
    }
    if (optind == argc)
        return command_misused("check", "a FILE is wanted");
    int worst = edition_files_read(&files, rules, rules_count);
    if (worst != EXIT_FINE)
        return worst;
    for (int i = optind; i < argc; i++) {
        int code = check_file(argv[i], &files.editions);
        worst = code > worst ? code : worst;
    }
    edition_files_close(&files);
    return command_finish(worst);
}
