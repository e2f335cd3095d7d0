/* A log of any bytes: lines are read, admitted or refused, folded, told and shown. Folding all at
 * once gives what folding one by one gives; what was admitted is admitted again from its own text.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "fuzz.h"
#include "prompts/cards.h"
#include "prompts/teller.h"
#include "rules/log.h"
#include "stats/state.h"
#include "wire/json.h"
#include "wire/state_json.h"
#include "wire/view_json.h"

static char *state_text(const struct state *state)
{
    json_t *json = state_json(state);
    char *text = json_line(json);
    json_decref(json);
    return text;
}

static void show(const struct state *state)
{
    struct card cards[CARD_PLACES];
    struct view_memory memory = {NULL, 0};
    int64_t next_ms;
    cards_of(fuzz_language(), state, NULL, NULL, cards, &next_ms);
    json_t *view = view_json(state, &memory, (struct anchors){0});
    HOLDS(view != NULL);
    json_decref(view);
    view_memory_close(&memory);
}

static void fold_bout(const struct bout *bout)
{
    struct fold one, all;
    struct teller teller = {.begun = false};
    struct line lines[TELLER_LINES_MAX];
    int64_t last_ms = bout->events[bout->count - 1].at_ms;
    fold_init(&one, bout, malloc, free);
    fold_init(&all, bout, malloc, free);
    for (size_t place = 0; place < bout->count; place++) {
        HOLDS(fold_read(&one, place + 1));
        struct state state = state_of(&one, bout->events[place].at_ms);
        teller_read(&teller, fuzz_language(), &state, place, bout->events[place].at_ms, lines);
    }
    HOLDS(fold_read(&all, bout->count));
    struct state by_one = state_of(&one, last_ms), at_once = state_of(&all, last_ms);
    char *text = state_text(&by_one), *other = state_text(&at_once);
    HOLDS(strcmp(text, other) == 0);
    show(&at_once);
    free(text);
    free(other);
    fold_close(&one);
    fold_close(&all);
}

static void admit(struct log *log, struct arena *arena, const char *line, size_t size)
{
    struct complaint complaint = {.why = ACCEPTED};
    arena_reset(arena);
    const struct value *document = json_read(arena, line, size, &complaint);
    if (document == NULL) {
        HOLDS(complaint.why != ACCEPTED && complaint.detail[0] != '\0');
        return;
    }
    if (document->kind != VALUE_OBJECT)
        return;
    size_t count = log->count;
    struct admittance admittance = log_admit(log, document, INTAKE_FILE, &complaint);
    HOLDS(admittance.admitted != NO_MEMORY);
    if (admittance.admitted == NOT_ADMITTED)
        HOLDS(complaint.detail[0] != '\0' && log->count == count);
    if (admittance.admitted == ADMITTED)
        HOLDS(log->count == count + 1);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct log log;
    struct arena arena;
    log_init(&log, fuzz_editions(), malloc, free);
    arena_init(&arena, malloc, free);
    for (size_t from = 0; from < size;) {
        const uint8_t *end = memchr(data + from, '\n', size - from);
        size_t length = end != NULL ? (size_t)(end - (data + from)) : size - from;
        admit(&log, &arena, (const char *)data + from, length);
        from += length + 1;
    }
    for (size_t i = 0; i < log.bout_count; i++)
        fold_bout(log.bouts[i]);
    arena_close(&arena);
    log_close(&log);
    return 0;
}
