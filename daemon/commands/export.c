/* boutwire export: the log that a store keeps, as NDJSON, or what may be published of it. */
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "commands/command.h"
#include "commands/export_as.h"
#include "commands/export_sheet.h"
#include "commands/settings.h"
#include "journal/remains.h"
#include "journal/store.h"
#include "wire/json.h"

static const char help[] =
    "usage: boutwire export [--store FILE] [--bout ID] [--keep-going]\n"
    "       boutwire export --as FORM [--store FILE] [--mat MAT] [options]\n"
    "       boutwire export --sheet athletes|slots [--store FILE]\n"
    "Prints the log that the store keeps (NDJSON, one event a line, in the order in which they "
    "were\n"
    "accepted), whether a daemon holds it or not: what it holds at one moment. `seq`, `at` and "
    "`by`\n"
    "are in it, and so are the booth's notes and all that is withheld from the public.\n"
    "  --store FILE   the store (boutwire.sqlite)                    BOUTWIRE_STORE\n"
    "  --bout ID      that bout's events alone\n"
    "  --keep-going   of a damaged store, print every event that can be read, say on standard "
    "error\n"
    "                 what is lost, and exit 1\n"
    "With --sheet, the day's athletes or slots as CSV, which boutwire import takes again.\n"
    "With --as, what may be published of it: initials for minors, no notes of the booth.\n"
    "  --as FORM      chapters, cues (WebVTT of a video: bouts and periods; scores with in and "
    "out\n"
    "                 points), chapter-lines (for the video's description), atom (a feed of "
    "results),\n"
    "                 results, scores (CSV), sport (IPTC Sport Schema, JSON-LD, of one --bout)\n"
    "  --mat MAT      that mat's bouts alone\n"
    "  --video-start TIME   the time of day at the video's 0:00 (2027-05-08T10:00:00.000Z)\n"
    "  --url URL      where the feed will be, or what the ids of a bout begin with\n"
    "  --language L   en, de                                         BOUTWIRE_LANGUAGE\n"
    "  --public-minors  a day on which minors wrestle is published, too\n"
    "The officials' sheet decides, not what is exported; it is no basis for wagers.\n"
    "Exit codes: 0 fine, 1 the store is damaged or has no such bout, 2 wrong use or an unusable\n"
    "store, 3 no memory.\n";

struct exporting {
    const char *store, *bout; /* NULL: all bouts */
    bool keep_going, any, has_video_start, is_sheet;
    enum sheet_kind sheet;
    struct export_wish wish;
    struct arena arena;
};

static int code_of(int status)
{
    return status == UV_ENOMEM   ? EXIT_NO_MEMORY
           : status == UV_EILSEQ ? EXIT_REFUSED
                                 : EXIT_UNUSABLE;
}

static int tell(int status, const char *reason)
{
    fprintf(stderr, "boutwire export: %s\n", reason);
    return code_of(status);
}

static bool is_wanted(struct exporting *exporting, const struct journal_row *row)
{
    struct complaint complaint;
    if (exporting->bout == NULL)
        return true;
    arena_reset(&exporting->arena);
    const struct value *event = json_read(&exporting->arena, row->text, row->size, &complaint);
    const struct value *bout = event != NULL ? value_member(event, "bout") : NULL;
    return bout != NULL && bout->kind == VALUE_STRING &&
           strcmp(bout->as.string, exporting->bout) == 0;
}

static int print_row(void *context, const struct journal_row *row)
{
    struct exporting *exporting = context;
    if (!is_wanted(exporting, row))
        return 0;
    exporting->any = true;
    fwrite(row->text, 1, row->size, stdout);
    putchar('\n');
    return 0;
}

static int skip_row(void *context, const struct journal_row *row)
{
    (void)context;
    (void)row;
    return 0;
}

static int finish(const struct exporting *exporting)
{
    if (exporting->bout == NULL || exporting->any)
        return EXIT_FINE;
    fprintf(stderr, "boutwire export: %s has no bout %s\n", exporting->store, exporting->bout);
    return EXIT_REFUSED;
}

/* With keep_going, a store is read to its end before anything is printed, for what is read and
 * found damaged half way would be printed a second time from its remains. */
static int export_store(struct exporting *exporting, struct store *store)
{
    int status = exporting->keep_going ? store_read(store, skip_row, NULL) : 0;
    if (status == 0)
        status = store_read(store, print_row, exporting);
    return status;
}

static int export_remains(struct exporting *exporting, const char *reason)
{
    struct remains remains;
    char loss[REMAINS_LOSS_SIZE];
    int status = remains_read(&remains, exporting->store, true);
    for (size_t i = 0; status == 0 && i < remains.count; i++)
        print_row(exporting, &remains.rows[i]);
    remains_loss(&remains, loss);
    remains_close(&remains);
    fflush(stdout);
    if (status != 0)
        return tell(status, uv_strerror(status));
    bool told = strstr(reason, loss) != NULL;
    fprintf(stderr, "boutwire export: %s%s%s\n", reason, told ? "" : "; ", told ? "" : loss);
    return EXIT_REFUSED;
}

static int run(struct exporting *exporting)
{
    char reason[STORE_REASON_SIZE] = "";
    struct store *store = NULL;
    int status = store_open_reading(&store, exporting->store, reason, sizeof reason);
    if (status == 0 && (exporting->is_sheet || exporting->wish.form != FORM_NONE)) {
        int code = exporting->is_sheet ? export_sheet(store, exporting->sheet)
                                       : export_as(store, &exporting->wish);
        store_close(store, true);
        return code;
    }
    if (status == 0) {
        status = export_store(exporting, store);
        if (status != 0)
            snprintf(reason, sizeof reason, "%s", store_reason(store));
        store_close(store, true);
    }
    if (status == 0)
        return finish(exporting);
    if (status == UV_EILSEQ && exporting->keep_going)
        return export_remains(exporting, reason);
    fflush(stdout);
    return tell(status, reason);
}

static int take_option(struct exporting *exporting, struct settings_given *given, int option)
{
    struct export_wish *wish = &exporting->wish;
    switch (option) {
    case 's':
        settings_give(given, SETTING_STORE, optarg);
        return EXIT_FINE;
    case 'l':
        settings_give(given, SETTING_LANGUAGE, optarg);
        return EXIT_FINE;
    case 'b':
        exporting->bout = wish->bout = optarg;
        return EXIT_FINE;
    case 'k':
        exporting->keep_going = true;
        return EXIT_FINE;
    case 'm':
        wish->mat = optarg;
        return EXIT_FINE;
    case 'u':
        wish->url = optarg;
        return EXIT_FINE;
    case 'p':
        wish->public_minors = true;
        return EXIT_FINE;
    case 'c':
        exporting->is_sheet = true;
        return export_sheet_kind(optarg, &exporting->sheet)
                   ? EXIT_FINE
                   : command_misused("export", "--sheet: athletes or slots, not %s", optarg);
    case 'v':
        exporting->has_video_start = true;
        return command_read_time("export", optarg, &wish->video_starts_ms) ? EXIT_FINE
                                                                           : EXIT_UNUSABLE;
    case 'a':
        return export_form_read(optarg, &wish->form)
                   ? EXIT_FINE
                   : command_misused("export", "--as knows no %s", optarg);
    }
    return EXIT_UNUSABLE;
}

/* What goes with what. */
static int check_wish(const struct exporting *exporting)
{
    const struct export_wish *wish = &exporting->wish;
    if (export_form_wants_video(wish->form) != exporting->has_video_start)
        return command_misused("export", "--video-start goes with chapters, cues and "
                                         "chapter-lines, and these need it");
    if (export_form_wants_video(wish->form) && wish->mat == NULL)
        return command_misused("export", "a video is of one mat: --mat says which");
    if (wish->form != FORM_NONE && (wish->form == FORM_SPORT) != (wish->bout != NULL))
        return command_misused("export", "--as sport needs a --bout, and no other form takes one");
    if (exporting->is_sheet &&
        (wish->form != FORM_NONE || exporting->keep_going || wish->bout != NULL))
        return command_misused("export", "--sheet goes with --store alone");
    if (wish->form != FORM_NONE && exporting->keep_going)
        return command_misused("export", "--keep-going is for the log itself");
    return EXIT_FINE;
}

int command_export(int argc, char **argv)
{
    static const struct option options[] = {
        {"store", required_argument, NULL, 's'},
        {"bout", required_argument, NULL, 'b'},
        {"keep-going", no_argument, NULL, 'k'},
        {"as", required_argument, NULL, 'a'},
        {"sheet", required_argument, NULL, 'c'},
        {"mat", required_argument, NULL, 'm'},
        {"video-start", required_argument, NULL, 'v'},
        {"url", required_argument, NULL, 'u'},
        {"language", required_argument, NULL, 'l'},
        {"public-minors", no_argument, NULL, 'p'},
        {"help", no_argument, NULL, 'h'},
        {NULL, 0, NULL, 0},
    };
    struct exporting exporting = {.keep_going = false};
    struct settings settings;
    struct settings_given given = {.config = NULL};
    for (int option; (option = getopt_long(argc, argv, "h", options, NULL)) != -1;) {
        if (option == 'h')
            return fputs(help, stdout), command_finish(EXIT_FINE);
        if (option == '?')
            return EXIT_UNUSABLE;
        int code = take_option(&exporting, &given, option);
        if (code != EXIT_FINE)
            return code;
    }
    if (optind != argc)
        return command_misused("export", "%s isn't an option", argv[optind]);
    if (!settings_read(&settings, &given, "export"))
        return EXIT_UNUSABLE;
    int unfit = check_wish(&exporting);
    if (unfit != EXIT_FINE)
        return unfit;
    exporting.store = settings.store;
    exporting.wish.language = settings.language;
    arena_init(&exporting.arena, malloc, free);
    int code = run(&exporting);
    arena_close(&exporting.arena);
    return command_finish(code);
}
