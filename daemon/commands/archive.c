/* boutwire archive: fills the archive from logs, and asks it. */
#include <getopt.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "archive/archive.h"
#include "commands/command.h"
#include "commands/edition_files.h"
#include "commands/log_file.h"
#include "commands/settings.h"
#include "journal/store.h"
#include "rules/time_of_day.h"
#include "wire/json.h"
#include "wire/state_json.h"

static const char help[] =
    "usage: boutwire archive add [options] STORE|LOG|- …\n"
    "       boutwire archive show [options] ATHLETE\n"
    "       boutwire archive path [options] ATHLETE\n"
    "       boutwire archive meetings [options] ATHLETE OTHER\n"
    "       boutwire archive position [options] --style STYLE --margin N --minute M\n"
    "The archive keeps what every bout ever logged says of its two sides. It is made of logs "
    "(NDJSON\n"
    "files, or stores, running or not) and can always be made anew from them. A bout that is "
    "added\n"
    "again takes its own place; athletes are known by the `athlete` of a bout's side alone.\n"
    "  add        puts the bouts of each log in, a log whole or not at all\n"
    "  show       what is known of an athlete, as one JSON object\n"
    "  path       an athlete's bouts in their order, one JSON line each\n"
    "  meetings   the bouts between two, the latest first, one JSON line each\n"
    "  position   how often a side came back that was where this one is: STYLE, M full minutes\n"
    "             gone, N points ahead (-3: three behind; 0: level, and behind by the criteria)\n"
    "  --archive FILE   the archive (STORE.archive)                 BOUTWIRE_ARCHIVE\n"
    "  --store FILE     the store that it is beside                 BOUTWIRE_STORE\n"
    "  --from TIME, --before TIME   bouts called then (2027-05-08T10:00:00.000Z) alone\n"
    "  --most N         so many meetings at most (10)\n"
    "  --length M       of bouts that last M minutes (6)\n"
    "  --rules FILE     know one more edition (may be repeated)\n"
    "Exit codes: 0 fine, 1 a line of a log is not valid, 2 wrong use or an unusable archive or "
    "log,\n"
    "3 no memory.\n"
    "Counts with their bases, not chances. The archive is for those who comment, never for the\n"
    "public; the officials' sheets decide.\n";

struct asking {
    struct archive *archive;
    struct arena arena;
    char path[ARCHIVE_PATH_SIZE];
    struct archive_span span;
    const char *style, *margin, *minute, *most, *length;
    const char *rules[32];
    size_t rules_count;
};

static int tell(int status, const char *reason)
{
    fprintf(stderr, "boutwire archive: %s\n", reason);
    return status == UV_ENOMEM ? EXIT_NO_MEMORY : EXIT_UNUSABLE;
}

static int tell_failure(const struct asking *asking, int status)
{
    return tell(status, archive_reason(asking->archive));
}

/* ---- add ---- */

struct adding {
    struct asking *asking;
    struct log log;
    const char *path; /* of the log */
    size_t written;
    int code;
};

static bool was_admitted(struct adding *adding, const struct admittance *admittance, size_t number,
                         const struct complaint *complaint)
{
    if (admittance->admitted == ADMITTED || admittance->admitted == REPEATED)
        return true;
    if (admittance->admitted == NO_MEMORY) {
        adding->code = command_no_memory();
        return false;
    }
    fprintf(stderr, "%s:%zu: %s\n", adding->path, number, complaint->detail);
    adding->code = EXIT_REFUSED;
    return false;
}

static bool take_line(void *context, const struct log_file_line *line)
{
    return was_admitted(context, &line->admittance, line->number, &line->complaint);
}

static void read_log_file(struct adding *adding)
{
    size_t size = 0;
    char *text = command_read_file(adding->path, &size);
    if (text == NULL) {
        adding->code = EXIT_UNUSABLE;
        return;
    }
    log_file_read(&adding->log, text, size, take_line, adding);
    free(text);
}

static int take_row(void *context, const struct journal_row *row)
{
    struct adding *adding = context;
    struct complaint complaint = {.why = ACCEPTED};
    struct admittance admittance = {.admitted = NOT_ADMITTED};
    arena_reset(&adding->asking->arena);
    const struct value *document =
        json_read(&adding->asking->arena, row->text, row->size, &complaint);
    if (document != NULL)
        admittance = log_admit(&adding->log, document, INTAKE_FILE, &complaint);
    else if (complaint.why == ACCEPTED)
        admittance.admitted = NO_MEMORY;
    return was_admitted(adding, &admittance, row->seq, &complaint) ? 0 : UV_ECANCELED;
}

static void read_store(struct adding *adding)
{
    char reason[STORE_REASON_SIZE] = "";
    struct store *store = NULL;
    int status = store_open_reading(&store, adding->path, reason, sizeof reason);
    if (status == 0) {
        status = store_read(store, take_row, adding);
        if (status != 0)
            snprintf(reason, sizeof reason, "%s", store_reason(store));
        store_close(store, true);
    }
    if (status != 0 && adding->code == EXIT_FINE)
        adding->code = tell(status, reason);
}

static int put_bout(struct adding *adding, const struct bout *bout)
{
    struct archive_entry entry;
    struct fold fold;
    bool written = false;
    int status = UV_ENOMEM;
    fold_init(&fold, bout, malloc, free);
    arena_reset(&adding->asking->arena);
    if (fold_read(&fold, bout->count)) {
        struct state state = state_of(&fold, fold.latest_moment_ms);
        if (archive_entry_of(&entry, &state, &adding->asking->arena))
            status = archive_put(adding->asking->archive, &entry, &written);
    }
    fold_close(&fold);
    adding->written += written ? 1 : 0;
    return status;
}

static void put_bouts(struct adding *adding)
{
    struct archive *archive = adding->asking->archive;
    int status = archive_begin(archive);
    for (size_t i = 0; i < adding->log.bout_count && status == 0; i++)
        status = put_bout(adding, adding->log.bouts[i]);
    if (status == 0)
        status = archive_commit(archive);
    archive_rollback(archive); /* nothing, where it has been ended */
    if (status == 0)
        printf("%s: %zu of %zu bouts put into the archive\n", adding->path, adding->written,
               adding->log.bout_count);
    else if (status == UV_ENOMEM)
        adding->code = command_no_memory();
    else
        adding->code = tell_failure(adding->asking, status);
}

static int add_log(struct asking *asking, const struct editions *editions, const char *path)
{
    struct adding adding = {.asking = asking, .path = path, .code = EXIT_FINE};
    log_init(&adding.log, editions, malloc, free);
    if (strcmp(path, "-") != 0 && store_is_one(path))
        read_store(&adding);
    else
        read_log_file(&adding);
    if (adding.code == EXIT_FINE)
        put_bouts(&adding);
    log_close(&adding.log);
    return adding.code;
}

static int add(struct asking *asking, int count, char **paths)
{
    struct edition_files files;
    if (count == 0)
        return command_misused("archive", "add wants a store or a log");
    int code = edition_files_read(&files, asking->rules, asking->rules_count);
    if (code != EXIT_FINE)
        return code;
    for (int i = 0; i < count && code == EXIT_FINE; i++)
        code = add_log(asking, &files.editions, paths[i]);
    edition_files_close(&files);
    return code;
}

/* ---- JSON of what is answered ---- */

static int print_json(json_t *json)
{
    char *line = json != NULL ? json_line(json) : NULL;
    json_decref(json);
    if (line == NULL)
        return command_no_memory();
    puts(line);
    free(line);
    return EXIT_FINE;
}

static json_t *share_json(struct archive_share share)
{
    return json_pack("{s:I, s:I}", "bouts", (json_int_t)share.bouts, "won", (json_int_t)share.won);
}

static json_t *hundredths_json(int64_t sum, int64_t count)
{
    return json_real(round((double)sum * 100 / (double)count) / 100);
}

/* Averages stand only where there is something to average. */
static bool add_totals(json_t *object, const struct archive_totals *totals)
{
    bool good = json_add_integer(object, "bouts", totals->bouts) &&
                json_add_integer(object, "begun", totals->begun) &&
                json_add(object, "decided", share_json(totals->decided)) &&
                json_add_integer(object, "points_for", totals->points_for) &&
                json_add_integer(object, "points_against", totals->points_against) &&
                json_add(object, "scored_first", share_json(totals->scored_first)) &&
                json_add(object, "scored_second", share_json(totals->scored_second)) &&
                json_add(object, "late_scores",
                         json_pack("{s:I, s:I}", "bouts", (json_int_t)totals->late_bouts, "scores",
                                   (json_int_t)totals->late_scores));
    if (good && totals->begun > 0)
        good =
            json_add(object, "average_margin",
                     hundredths_json(totals->points_for - totals->points_against, totals->begun));
    if (good && totals->first_scores > 0)
        good = json_add(object, "first_score",
                        json_pack("{s:I, s:I}", "bouts", (json_int_t)totals->first_scores,
                                  "average_ms",
                                  (json_int_t)(totals->first_score_ms / totals->first_scores)));
    return good;
}

static json_t *attempts_json(const void *item)
{
    const struct archive_attempts *row = item;
    json_t *object = json_pack("{s:s, s:I, s:I, s:I, s:I, s:I}", "technique", row->technique,
                               "tried", (json_int_t)row->tried, "scored", (json_int_t)row->scored,
                               "stopped", (json_int_t)row->stopped, "countered",
                               (json_int_t)row->countered, "points", (json_int_t)row->points);
    return json_whole(object,
                      json_add_text(object, "leg", event_word(EVENT_ATTACK, MEMBER_LEG, row->leg)));
}

static json_t *points_json(const char *name, int64_t number, const struct archive_points *row)
{
    return json_pack("{s:I, s:I, s:I}", name, (json_int_t)number, "points_for",
                     (json_int_t)row->points_for, "points_against",
                     (json_int_t)row->points_against);
}

static json_t *period_json(const void *item)
{
    const struct archive_points *row = item;
    return points_json("period", row->number, row);
}

static json_t *minute_json(const void *item) /* as people count: the first minute is 1 */
{
    const struct archive_points *row = item;
    return points_json("minute", row->number + 1, row);
}

static json_t *comebacks_json(const void *item)
{
    const struct archive_comebacks *row = item;
    return json_pack("{s:I, s:I, s:I}", "behind", (json_int_t)row->behind, "bouts",
                     (json_int_t)row->share.bouts, "won", (json_int_t)row->share.won);
}

static json_t *endings_json(const void *item)
{
    const struct archive_endings *row = item;
    return json_pack("{s:s, s:I, s:I, s:I}", "how", row->how, "won", (json_int_t)row->won, "lost",
                     (json_int_t)row->lost, "undecided", (json_int_t)row->undecided);
}

static json_t *person_json(const struct archive_person *person)
{
    json_t *object = json_object();
    return json_whole(object, json_add_text(object, "athlete", person->athlete) &&
                                  json_add_text(object, "name", person->name) &&
                                  json_add_text(object, "team", person->team) &&
                                  json_add_integer(object, "points", person->points));
}

static json_t *bout_json(const struct archive_bout *bout)
{
    json_t *object = json_object();
    return json_whole(object, json_add_text(object, "bout", bout->bout) &&
                                  json_add_time(object, "called_at", bout->called_at_ms) &&
                                  json_add_text(object, "rules", bout->rules) &&
                                  json_add_text(object, "style", bout->style) &&
                                  json_add_text(object, "age_group", bout->age_group) &&
                                  json_add_text(object, "weight", bout->weight) &&
                                  json_add_text(object, "stage", bout->stage) &&
                                  json_add_text(object, "number", bout->number) &&
                                  json_add_text(object, "mat", bout->mat) &&
                                  json_add_text(object, "how", bout->how) &&
                                  json_add_text(object, "code", bout->code) &&
                                  json_add_text(object, "winner", side_name(bout->winner)) &&
                                  json_add_text(object, "side", side_name(bout->side)) &&
                                  json_add_integer(object, "time_ms", bout->time_ms) &&
                                  json_add(object, "self", person_json(&bout->self)) &&
                                  json_add(object, "other", person_json(&bout->other)));
}

static json_t *list_json(const void *items, size_t count, size_t item_size,
                         json_t *(*make)(const void *item))
{
    json_t *array = json_array();
    bool good = array != NULL;
    for (size_t i = 0; i < count && good; i++)
        good = json_array_append_new(array, make((const char *)items + i * item_size)) == 0;
    return json_whole(array, good);
}

/* ---- show ---- */

/* Each part of the answer is one question. */
static int add_lists(struct asking *asking, json_t *object)
{
    struct archive_attempts *attempts = NULL;
    struct archive_points *periods = NULL, *minutes = NULL;
    struct archive_comebacks *comebacks = NULL;
    struct archive_endings *endings = NULL;
    size_t counts[5];
    struct archive *archive = asking->archive;
    struct arena *arena = &asking->arena;
    int status = archive_attempts(archive, &asking->span, arena, &attempts, &counts[0]);
    if (status == 0)
        status = archive_periods(archive, &asking->span, arena, &periods, &counts[1]);
    if (status == 0)
        status = archive_minutes(archive, &asking->span, arena, &minutes, &counts[2]);
    if (status == 0)
        status = archive_comebacks(archive, &asking->span, arena, &comebacks, &counts[3]);
    if (status == 0)
        status = archive_endings(archive, &asking->span, arena, &endings, &counts[4]);
    if (status != 0)
        return status;
    bool good =
        json_add(object, "attempts",
                 list_json(attempts, counts[0], sizeof *attempts, attempts_json)) &&
        json_add(object, "periods", list_json(periods, counts[1], sizeof *periods, period_json)) &&
        json_add(object, "minutes", list_json(minutes, counts[2], sizeof *minutes, minute_json)) &&
        json_add(object, "comebacks",
                 list_json(comebacks, counts[3], sizeof *comebacks, comebacks_json)) &&
        json_add(object, "endings", list_json(endings, counts[4], sizeof *endings, endings_json));
    return good ? 0 : UV_ENOMEM;
}

static int show(struct asking *asking)
{
    struct archive_totals totals;
    json_t *object = json_object();
    int status = archive_totals(asking->archive, &asking->span, &totals);
    if (status == 0 &&
        !(json_add_text(object, "athlete", asking->span.athlete) && add_totals(object, &totals)))
        status = UV_ENOMEM;
    if (status == 0)
        status = add_lists(asking, object);
    if (status == 0)
        return print_json(object);
    json_decref(object);
    return status == UV_ENOMEM ? command_no_memory() : tell_failure(asking, status);
}

/* ---- path, meetings ---- */

static int print_bouts(struct asking *asking, int status, const struct archive_bout *bouts,
                       size_t count)
{
    int code = status == 0 ? EXIT_FINE : tell_failure(asking, status);
    for (size_t i = 0; i < count && code == EXIT_FINE; i++)
        code = print_json(bout_json(&bouts[i]));
    return code;
}

static int path(struct asking *asking)
{
    struct archive_bout *bouts = NULL;
    size_t count = 0;
    int status = archive_bouts(asking->archive, &asking->span, &asking->arena, &bouts, &count);
    return print_bouts(asking, status, bouts, count);
}

static bool read_number(const char *text, long least, long most, long *number)
{
    char *end = NULL;
    *number = strtol(text, &end, 10);
    return end != text && *end == '\0' && *number >= least && *number <= most;
}

static int meetings(struct asking *asking, const char *other)
{
    struct archive_bout *bouts = NULL;
    size_t count = 0;
    long most = 0;
    if (!read_number(asking->most, 1, 1000000, &most))
        return command_misused("archive", "--most takes a number from 1");
    int status = archive_meetings(asking->archive, &asking->span, other, (size_t)most,
                                  &asking->arena, &bouts, &count);
    return print_bouts(asking, status, bouts, count);
}

/* ---- position ---- */

/* A side that is ahead won where the one behind didn't come back. */
static int position(struct asking *asking)
{
    long margin = 0, minute = 0, length = 0;
    if (asking->style == NULL || asking->margin == NULL || asking->minute == NULL)
        return command_misused("archive", "position wants --style, --margin and --minute");
    if (!read_number(asking->margin, -1000, 1000, &margin) ||
        !read_number(asking->minute, 1, 1000, &minute) ||
        !read_number(asking->length, 1, 1000, &length))
        return command_misused("archive", "--margin, --minute and --length take whole numbers");
    struct archive_position asked = {.minutes = minute, .behind = margin < 0 ? -margin : margin};
    int status =
        archive_position(asking->archive, asking->style, length * ACCOUNT_MINUTE_MS, &asked);
    if (status != 0)
        return tell_failure(asking, status);
    int64_t won = margin > 0 ? asked.share.bouts - asked.share.won : asked.share.won;
    return print_json(json_pack("{s:s, s:I, s:I, s:I, s:I, s:I}", "style", asking->style, "margin",
                                (json_int_t)margin, "minute", (json_int_t)minute, "length_ms",
                                (json_int_t)length * ACCOUNT_MINUTE_MS, "bouts",
                                (json_int_t)asked.share.bouts, "won", (json_int_t)won));
}

/* ---- the command ---- */

static int ask(struct asking *asking, const char *what, int count, char **names)
{
    int wanted = strcmp(what, "position") == 0 ? 0 : strcmp(what, "meetings") == 0 ? 2 : 1;
    if (count != wanted)
        return command_misused("archive", "%s wants %d athlete%s", what, wanted,
                               wanted == 1 ? "" : "s");
    asking->span.athlete = count > 0 ? names[0] : NULL;
    if (strcmp(what, "show") == 0)
        return show(asking);
    if (strcmp(what, "path") == 0)
        return path(asking);
    return strcmp(what, "meetings") == 0 ? meetings(asking, names[1]) : position(asking);
}

static bool is_known(const char *what)
{
    static const char *const known[] = {"add", "show", "path", "meetings", "position"};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++)
        if (strcmp(known[i], what) == 0)
            return true;
    return false;
}

static int run(struct asking *asking, const char *what, int count, char **arguments)
{
    char reason[ARCHIVE_REASON_SIZE] = "";
    bool adds = strcmp(what, "add") == 0;
    int status = archive_open(&asking->archive, asking->path, adds ? ARCHIVE_WRITE : ARCHIVE_READ,
                              reason, sizeof reason);
    if (status != 0)
        return tell(status, reason);
    int code = adds ? add(asking, count, arguments) : ask(asking, what, count, arguments);
    archive_close(asking->archive);
    return code;
}

static bool take_option(struct asking *asking, struct settings_given *given, int option)
{
    switch (option) {
    case 'a':
        settings_give(given, SETTING_ARCHIVE, optarg);
        return true;
    case 's':
        settings_give(given, SETTING_STORE, optarg);
        return true;
    case 'f':
        return command_read_time("archive", optarg, &asking->span.from_ms);
    case 'b':
        return command_read_time("archive", optarg, &asking->span.before_ms);
    case 'y':
        asking->style = optarg;
        return true;
    case 'm':
        asking->margin = optarg;
        return true;
    case 'u':
        asking->minute = optarg;
        return true;
    case 'o':
        asking->most = optarg;
        return true;
    case 'l':
        asking->length = optarg;
        return true;
    case 'r':
        if (asking->rules_count == sizeof asking->rules / sizeof *asking->rules)
            return false;
        asking->rules[asking->rules_count++] = optarg;
        return true;
    default:
        return false;
    }
}

int command_archive(int argc, char **argv)
{
    static const struct option options[] = {
        {"archive", required_argument, NULL, 'a'}, {"store", required_argument, NULL, 's'},
        {"from", required_argument, NULL, 'f'},    {"before", required_argument, NULL, 'b'},
        {"style", required_argument, NULL, 'y'},   {"margin", required_argument, NULL, 'm'},
        {"minute", required_argument, NULL, 'u'},  {"most", required_argument, NULL, 'o'},
        {"length", required_argument, NULL, 'l'},  {"rules", required_argument, NULL, 'r'},
        {"help", no_argument, NULL, 'h'},          {NULL, 0, NULL, 0},
    };
    struct asking asking = {
        .span = {.from_ms = INT64_MIN, .before_ms = INT64_MAX}, .most = "10", .length = "6"};
    struct settings settings;
    struct settings_given given = {.config = NULL};
    for (int option; (option = getopt_long(argc, argv, "h", options, NULL)) != -1;) {
        if (option == 'h')
            return fputs(help, stdout), command_finish(EXIT_FINE);
        if (!take_option(&asking, &given, option))
            return EXIT_UNUSABLE;
    }
    if (optind == argc || !is_known(argv[optind]))
        return command_misused("archive", "add, show, path, meetings or position is wanted");
    if (!settings_read(&settings, &given, "archive"))
        return EXIT_UNUSABLE;
    settings_archive(&settings, asking.path);
    arena_init(&asking.arena, malloc, free);
    int code = run(&asking, argv[optind], argc - optind - 1, argv + optind + 1);
    arena_close(&asking.arena);
    return command_finish(code);
}
