/* boutwire tell: a log in, and out what was said of it. */
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "access/delayed.h"
#include "commands/command.h"
#include "commands/edition_files.h"
#include "commands/log_file.h"
#include "prompts/cards.h"
#include "prompts/teller.h"
#include "rules/time_of_day.h"
#include "wire/language_json.h"

static const char help[] =
    "usage: boutwire tell [options] FILE|-\n"
    "Reads a log (NDJSON, one event a line) and prints every bout as it was told: the sentences,\n"
    "each with the time of day at which it went out. As the booth has it, minors' names included.\n"
    "  --cards           the prompt cards too, whenever one of the three places changes\n"
    "  --bout ID         that bout alone\n"
    "  --language L      en (usual), de\n"
    "  --rules FILE      know one more edition (may be repeated)\n"
    "Exit codes: 0 fine, 1 a line is not valid, 2 wrong use or an unreadable file, 3 no memory.\n"
    "The officials' sheet decides, not this output; it is no basis for wagers.\n";

struct telling_out {
    const char *path, *bout, *language_name;
    bool with_cards;
    struct language language;
    int code;
};

struct one_bout {
    const struct telling_out *out;
    struct fold fold;
    struct teller teller;
    struct card cards[CARD_PLACES];
    int64_t next_ms, cards_next_ms;
};

static void print_time(int64_t at_ms)
{
    char time[TIME_OF_DAY_SIZE];
    time_of_day_write(at_ms, time);
    printf("%.12s  ", time + strlen("2027-05-08T"));
}

static void print_lines(const struct line *lines, size_t count, int64_t at_ms)
{
    for (size_t i = 0; i < count; i++) {
        print_time(at_ms);
        puts(lines[i].text);
    }
}

static bool same_card(const struct card *one, const struct card *other)
{
    return strcmp(one->headline, other->headline) == 0 && strcmp(one->line, other->line) == 0;
}

static void print_cards(struct one_bout *bout, const struct state *state, int64_t at_ms)
{
    static const char *const places[] = {"red", "blue", "bout"};
    struct card cards[CARD_PLACES];
    if (!bout->out->with_cards)
        return;
    cards_of(&bout->out->language, state, NULL, NULL, cards, &bout->cards_next_ms);
    for (size_t i = 0; i < CARD_PLACES; i++) {
        if (same_card(&cards[i], &bout->cards[i]))
            continue;
        print_time(at_ms);
        if (cards[i].id[0] == '\0')
            printf("    %s: -\n", places[i]);
        else
            printf("    %s: %s%s%s\n", places[i], cards[i].headline,
                   cards[i].line[0] != '\0' ? " | " : "", cards[i].line);
    }
    memcpy(bout->cards, cards, sizeof cards);
}

/* ---- time, and events ---- */

static void keep(struct one_bout *bout, const struct state *state)
{
    int64_t wait_ends_ms = teller_next(&bout->teller);
    bout->next_ms = state->next_ms < wait_ends_ms ? state->next_ms : wait_ends_ms;
    if (bout->cards_next_ms < bout->next_ms)
        bout->next_ms = bout->cards_next_ms;
}

static void let_pass(struct one_bout *bout, int64_t until_ms)
{
    struct line lines[TELLER_LINES_MAX];
    while (bout->next_ms <= until_ms) {
        int64_t at_ms = bout->next_ms;
        struct state state = state_of(&bout->fold, at_ms);
        bout->cards_next_ms = INT64_MAX;
        print_lines(lines, teller_pass(&bout->teller, &bout->out->language, &state, at_ms, lines),
                    at_ms);
        print_cards(bout, &state, at_ms);
        keep(bout, &state);
    }
}

static bool read_event(struct one_bout *bout, const struct bout *log, size_t place)
{
    struct line lines[TELLER_LINES_MAX];
    int64_t at_ms = log->events[place].at_ms;
    let_pass(bout, event_comes_at(&log->events[place]));
    if (!fold_read(&bout->fold, place + 1))
        return false;
    struct state state = state_of(&bout->fold, at_ms);
    bout->cards_next_ms = INT64_MAX;
    print_lines(lines,
                teller_read(&bout->teller, &bout->out->language, &state, place, at_ms, lines),
                at_ms);
    print_cards(bout, &state, at_ms);
    keep(bout, &state);
    return true;
}

/* What was still to come by time alone comes too, as long as it is soon. */
enum { AFTER_THE_LAST_MS = 10000 };

static void tell_bout(struct telling_out *out, const struct bout *log)
{
    struct one_bout bout = {.out = out, .next_ms = INT64_MAX, .cards_next_ms = INT64_MAX};
    bool read = true;
    fold_init(&bout.fold, log, malloc, free);
    printf("== %s\n", log->id);
    for (size_t place = 0; place < log->count && read; place++)
        read = read_event(&bout, log, place);
    if (read)
        let_pass(&bout, log->events[log->count - 1].at_ms + AFTER_THE_LAST_MS);
    else
        out->code = command_no_memory();
    fold_close(&bout.fold);
}

/* ---- the log ---- */

static bool read_line(void *context, const struct log_file_line *line)
{
    struct telling_out *out = context;
    switch (line->admittance.admitted) {
    case ADMITTED:
    case REPEATED:
        return true;
    case NO_MEMORY:
        out->code = command_no_memory();
        return false;
    case NOT_ADMITTED:
        break;
    }
    fprintf(stderr, "%s:%zu: %s\n", out->path, line->number, line->complaint.detail);
    out->code = EXIT_REFUSED;
    return false;
}

static void tell_log(struct telling_out *out, struct log *log)
{
    size_t size = 0;
    char *text = command_read_file(out->path, &size);
    if (text == NULL) {
        out->code = EXIT_UNUSABLE;
        return;
    }
    log_file_read(log, text, size, read_line, out);
    free(text);
    for (size_t i = 0; i < log->bout_count && out->code == EXIT_FINE; i++)
        if (out->bout == NULL || strcmp(log->bouts[i]->id, out->bout) == 0)
            tell_bout(out, log->bouts[i]);
    if (out->code == EXIT_FINE && out->bout != NULL && log_bout(log, out->bout) == NULL) {
        fprintf(stderr, "boutwire tell: %s has no bout %s\n", out->path, out->bout);
        out->code = EXIT_REFUSED;
    }
}

static int tell(struct telling_out *out, const char *const *rules, size_t rules_count)
{
    struct edition_files editions;
    struct log log;
    char reason[LANGUAGE_REASON_SIZE];
    int code = edition_files_read(&editions, rules, rules_count);
    if (code != EXIT_FINE)
        return code;
    if (!language_shipped(&out->language, &editions.arena, out->language_name, reason)) {
        edition_files_close(&editions);
        return reason[0] == '\0' ? command_no_memory() : command_misused("tell", "%s", reason);
    }
    log_init(&log, &editions.editions, malloc, free);
    tell_log(out, &log);
    log_close(&log);
    edition_files_close(&editions);
    return command_finish(out->code);
}

int command_tell(int argc, char **argv)
{
    static const struct option options[] = {
        {"cards", no_argument, NULL, 'c'},          {"bout", required_argument, NULL, 'b'},
        {"language", required_argument, NULL, 'l'}, {"rules", required_argument, NULL, 'r'},
        {"help", no_argument, NULL, 'h'},           {NULL, 0, NULL, 0},
    };
    struct telling_out out = {.language_name = "en", .code = EXIT_FINE};
    const char *rules[32];
    size_t rules_count = 0;
    for (int option; (option = getopt_long(argc, argv, "h", options, NULL)) != -1;) {
        if (option == 'h')
            return fputs(help, stdout), command_finish(EXIT_FINE);
        if (option == 'c')
            out.with_cards = true;
        else if (option == 'b')
            out.bout = optarg;
        else if (option == 'l')
            out.language_name = optarg;
        else if (option == 'r' && rules_count < sizeof rules / sizeof *rules)
            rules[rules_count++] = optarg;
        else
            return EXIT_UNUSABLE;
    }
    if (optind + 1 != argc)
        return command_misused("tell", "one FILE is wanted, or - for standard input");
    out.path = argv[optind];
    return tell(&out, rules, rules_count);
}
