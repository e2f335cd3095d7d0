/* boutwire fold: a log in, states out. */
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include "access/delayed.h"
#include "commands/command.h"
#include "commands/edition_files.h"
#include "commands/log_file.h"
#include "stats/state.h"
#include "wire/json.h"
#include "wire/state_json.h"

static const char help[] =
    "usage: boutwire fold [options] FILE|-\n"
    "Reads a log (NDJSON, one event a line) and prints the state of every bout after its last\n"
    "event, one JSON line a bout, in the order of their first events.\n"
    "  --each         print the state after every event, of that event's bout\n"
    "  --now TIME     show the states as they are at TIME (2027-05-08T10:00:00.000Z);\n"
    "                 else at the time of the last event read\n"
    "  --until TIME   stop before the first event accepted later, and show what was known then\n"
    "  --delay MS     with --until: what an audience with that delay was shown at TIME; slips\n"
    "                 corrected before their turn came are as if never keyed\n"
    "  --keep-going   report a line that is not a valid event and go on; exit 1 at the end\n"
    "  --rules FILE   know one more edition (may be repeated)\n"
    "Exit codes: 0 fine, 1 a line is not valid, 2 wrong use or an unreadable file, 3 no memory.\n"
    "The officials' sheet decides, not this output; it is no basis for wagers.\n";

struct folding {
    const char *path;
    struct log log;
    struct fold *folds; /* with `each`: one a bout, in the log's order */
    size_t fold_count;
    bool each, keep_going, has_now, has_until, has_delay;
    int64_t now_ms, until_ms, delay_ms;
    int64_t last_at_ms; /* of the last event read */
    int code;
};

static bool print_state(struct folding *folding, const struct fold *fold, int64_t now_ms)
{
    struct state state = state_of(fold, now_ms);
    json_t *json = state_json(&state);
    char *line = json != NULL ? json_line(json) : NULL;
    if (line != NULL)
        puts(line);
    else
        folding->code = command_no_memory();
    json_decref(json);
    free(line);
    return line != NULL;
}

static int64_t now_of(const struct folding *folding)
{
    return folding->has_now     ? folding->now_ms
           : folding->has_until ? folding->until_ms - folding->delay_ms
                                : folding->last_at_ms;
}

static struct fold *fold_of(struct folding *folding, const struct bout *bout)
{
    for (size_t i = folding->fold_count; i-- > 0;)
        if (folding->folds[i].bout == bout)
            return &folding->folds[i];
    struct fold *folds =
        realloc(folding->folds, (folding->fold_count + 1) * sizeof *folding->folds);
    if (folds == NULL)
        return NULL;
    folding->folds = folds;
    fold_init(&folds[folding->fold_count], bout, malloc, free);
    return &folds[folding->fold_count++];
}

static bool print_bout(struct folding *folding, const struct bout *bout)
{
    struct fold *fold = fold_of(folding, bout);
    if (fold == NULL || !fold_read(fold, bout->count)) {
        folding->code = command_no_memory();
        return false;
    }
    return print_state(folding, fold, now_of(folding));
}

static int64_t at_of(const struct log *log, const struct bout *bout)
{
    return bout != NULL ? bout->events[bout->count - 1].at_ms : log->day[log->day_count - 1]->at_ms;
}

static bool read_line(void *context, const struct log_file_line *line)
{
    struct folding *folding = context;
    switch (line->admittance.admitted) {
    case REPEATED:
        return true;
    case NO_MEMORY:
        folding->code = command_no_memory();
        return false;
    case NOT_ADMITTED:
        fflush(stdout);
        fprintf(stderr, "%s:%zu: %s\n", folding->path, line->number, line->complaint.detail);
        folding->code = EXIT_REFUSED;
        return folding->keep_going;
    case ADMITTED:
        break;
    }
    int64_t at_ms = at_of(&folding->log, line->admittance.bout);
    if (folding->has_until && at_ms > folding->until_ms) {
        log_rewind(&folding->log, folding->log.count - 1);
        return false;
    }
    folding->last_at_ms = at_ms;
    return !folding->each || line->admittance.bout == NULL ||
           print_bout(folding, line->admittance.bout);
}

/* ---- as an audience with a delay was shown it ---- */

/* Every event that has come due, in the order of the log: what is behind one that hasn't, waits. */
static size_t due_count(const struct folding *folding, const struct delays *delays)
{
    size_t count = 0;
    while (count < folding->log.count &&
           event_due(log_event(&folding->log, count + 1), delays) <= folding->until_ms)
        count++;
    return count;
}

static bool read_due(struct delayed_bout *delayed, const struct delays *delays, size_t count)
{
    const struct bout *source = delayed->source;
    int64_t due_ms = INT64_MIN;
    for (size_t i = 0; i < source->count && source->events[i].seq <= count; i++) {
        int64_t own_ms = event_due(&source->events[i], delays);
        due_ms = own_ms > due_ms ? own_ms : due_ms;
        if (!delayed_bout_read(delayed, due_ms, UINT64_MAX))
            return false;
    }
    return true;
}

static bool print_delayed(struct folding *folding, const struct bout *bout,
                          const struct delays *delays, size_t count)
{
    struct delayed_bout delayed;
    struct fold fold;
    delayed_bout_init(&delayed, bout, malloc, free);
    fold_init(&fold, &delayed.bout, malloc, free);
    bool done = read_due(&delayed, delays, count) && fold_read(&fold, delayed.bout.count);
    if (!done)
        folding->code = command_no_memory();
    else if (fold.count > 0)
        done = print_state(folding, &fold, now_of(folding));
    fold_close(&fold);
    delayed_bout_close(&delayed);
    return done;
}

static void print_all_delayed(struct folding *folding)
{
    /* set before all that was ever keyed */
    const struct delay_change change = {INT64_MIN / 2, folding->delay_ms};
    const struct delays delays = {&change, 1};
    size_t count = due_count(folding, &delays);
    for (size_t i = 0; i < folding->log.bout_count; i++)
        if (!print_delayed(folding, folding->log.bouts[i], &delays, count))
            return;
}

/* ---- the file ---- */

static void fold_file(struct folding *folding)
{
    size_t size = 0;
    char *text = command_read_file(folding->path, &size);
    if (text == NULL) {
        folding->code = EXIT_UNUSABLE;
        return;
    }
    log_file_read(&folding->log, text, size, read_line, folding);
    free(text);
    if (folding->each || folding->code == EXIT_NO_MEMORY ||
        (folding->code == EXIT_REFUSED && !folding->keep_going))
        return;
    if (folding->has_delay) {
        print_all_delayed(folding);
        return;
    }
    for (size_t i = 0; i < folding->log.bout_count; i++)
        if (!print_bout(folding, folding->log.bouts[i]))
            return;
}

static int fold_with(struct folding *folding, const char *const *rules, size_t rules_count)
{
    struct edition_files editions;
    int code = edition_files_read(&editions, rules, rules_count);
    if (code != EXIT_FINE)
        return code;
    log_init(&folding->log, &editions.editions, malloc, free);
    fold_file(folding);
    for (size_t i = 0; i < folding->fold_count; i++)
        fold_close(&folding->folds[i]);
    free(folding->folds);
    log_close(&folding->log);
    edition_files_close(&editions);
    return command_finish(folding->code);
}

static bool read_delay(struct folding *folding, const char *text)
{
    char *end = NULL;
    long delay_ms = strtol(text, &end, 10);
    if (end == text || *end != '\0' || delay_ms < 0 || delay_ms > DELAY_MS_MAX)
        return command_misused("fold", "--delay: milliseconds are wanted, 0 to 120000"), false;
    folding->delay_ms = delay_ms;
    folding->has_delay = true;
    return true;
}

int command_fold(int argc, char **argv)
{
    static const struct option options[] = {
        {"each", no_argument, NULL, 'e'},        {"now", required_argument, NULL, 'n'},
        {"until", required_argument, NULL, 'u'}, {"delay", required_argument, NULL, 'd'},
        {"keep-going", no_argument, NULL, 'k'},  {"rules", required_argument, NULL, 'r'},
        {"help", no_argument, NULL, 'h'},        {NULL, 0, NULL, 0},
    };
    struct folding folding = {.code = EXIT_FINE};
    const char *rules[32];
    size_t rules_count = 0;
    for (int option; (option = getopt_long(argc, argv, "h", options, NULL)) != -1;) {
        if (option == 'h')
            return fputs(help, stdout), command_finish(EXIT_FINE);
        if (option == 'e')
            folding.each = true;
        else if (option == 'k')
            folding.keep_going = true;
        else if (option == 'n' && command_read_time("fold", optarg, &folding.now_ms))
            folding.has_now = true;
        else if (option == 'u' && command_read_time("fold", optarg, &folding.until_ms))
            folding.has_until = true;
        else if (option == 'd' && read_delay(&folding, optarg))
            continue;
        else if (option == 'r' && rules_count < sizeof rules / sizeof *rules)
            rules[rules_count++] = optarg;
        else
            return EXIT_UNUSABLE;
    }
    if (optind + 1 != argc)
        return command_misused("fold", "one FILE is wanted, or - for standard input");
    if (folding.has_delay && (!folding.has_until || folding.has_now || folding.each))
        return command_misused("fold", "--delay goes with --until, and not with --now or --each");
    folding.path = argv[optind];
    return fold_with(&folding, rules, rules_count);
}
