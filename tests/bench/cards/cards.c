/* Measures what an event costs in words, in time of the processor alone (no call of the system is
 * made in between): the cards and the sentences after every event of the demo
 * day, with an archive's figures at hand. Prints figures, judges nothing. */
#include <stdio.h>
#include <stdlib.h>
#include <time.h>
#include "commands/command.h"
#include "commands/edition_files.h"
#include "commands/log_file.h"
#include "prompts/cards.h"
#include "prompts/teller.h"
#include "wire/language_json.h"

enum { RUNS = 9, EVENTS_MAX = 20000, POSITIONS = 40 };

static double now_s(void)
{
    struct timespec time;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &time);
    return (double)time.tv_sec + (double)time.tv_nsec / 1e9;
}

static int by_size(const void *one, const void *other)
{
    double a = *(const double *)one, b = *(const double *)other;
    return a < b ? -1 : a > b;
}

struct figures {
    double us[EVENTS_MAX];
    size_t count;
};

static void note(struct figures *figures, double start_s)
{
    if (figures->count < EVENTS_MAX)
        figures->us[figures->count++] = (now_s() - start_s) * 1e6;
}

static void print(const char *what, struct figures *figures)
{
    if (figures->count == 0)
        return;
    qsort(figures->us, figures->count, sizeof *figures->us, by_size);
    printf("%-38s median %7.1f us   p99 %7.1f us\n", what, figures->us[figures->count / 2],
           figures->us[figures->count * 99 / 100]);
}

static struct past_position positions[POSITIONS];
static const struct past past = {
    .sides = {{{9, 4}, 2, 2}, {{9, 3}, 1, 1}},
    .meetings = {2, {1, 1}, {3, 4}, SIDE_BLUE, "points"},
    .positions = positions,
    .position_count = POSITIONS,
};
static struct figures of_cards, of_challenges, of_sentences;

static void measure_event(const struct language *language, struct teller *teller,
                          const struct fold *fold, size_t place)
{
    struct card cards[CARD_PLACES];
    struct line lines[TELLER_LINES_MAX];
    int64_t next_ms, at_ms = fold->bout->events[place].at_ms;
    struct state state = state_of(fold, at_ms);
    double start_s = now_s();
    cards_of(language, &state, &past, NULL, cards, &next_ms);
    note(state.under_review ? &of_challenges : &of_cards, start_s);
    start_s = now_s();
    teller_read(teller, language, &state, place, at_ms, lines);
    note(&of_sentences, start_s);
}

static void measure_bout(const struct language *language, const struct bout *bout)
{
    struct fold fold;
    struct teller teller = {.begun = false};
    fold_init(&fold, bout, malloc, free);
    for (size_t place = 0; place < bout->count; place++) {
        if (!fold_read(&fold, place + 1))
            exit(3);
        measure_event(language, &teller, &fold, place);
    }
    fold_close(&fold);
}

static bool go_on(void *context, const struct log_file_line *line)
{
    (void)context;
    return line->admittance.admitted != NO_MEMORY;
}

int main(void)
{
    struct edition_files files;
    struct language language;
    struct log log;
    size_t size = 0;
    char reason[LANGUAGE_REASON_SIZE];
    char *text = command_read_file("fixtures/demo/day.ndjson", &size);
    if (text == NULL || edition_files_read(&files, NULL, 0) != 0 ||
        !language_shipped(&language, &files.arena, "en", reason))
        return 1;
    for (int i = 0; i < POSITIONS; i++)
        positions[i] = (struct past_position){1 + i % 5, i / 5, {30, 7}};
    log_init(&log, &files.editions, malloc, free);
    log_file_read(&log, text, size, go_on, NULL);
    for (int run = 0; run < RUNS; run++)
        for (size_t i = 0; i < log.bout_count; i++)
            measure_bout(&language, log.bouts[i]);
    print("the cards after an event", &of_cards);
    print("the same while a challenge is open", &of_challenges);
    print("the sentences after an event", &of_sentences);
    log_close(&log);
    edition_files_close(&files);
    free(text);
    return 0;
}
