#include "wire/prompts_json.h"
#include <stdio.h>
#include <stdlib.h>
#include "wire/state_json.h"

static json_t *evidence_json(const struct state *state, const struct card *card)
{
    json_t *evidence = json_array();
    bool complete = evidence != NULL;
    for (size_t i = 0; i < card->evidence_count && complete; i++)
        complete = json_array_append_new(
                       evidence,
                       json_string_nocheck(state->fold->bout->events[card->evidence[i]].id)) == 0;
    return json_whole(evidence, complete);
}

static json_t *figures_json(const struct card *card)
{
    json_t *figures = json_object();
    bool complete = figures != NULL;
    for (size_t i = 0; i < card->figure_count && complete; i++)
        complete = json_add_integer(figures, card->figures[i].name, card->figures[i].number);
    return json_whole(figures, complete);
}

static json_t *card_json(const struct state *state, const struct card *card)
{
    json_t *object = json_object();
    return json_whole(
        object, json_add_text(object, "id", card->id) &&
                    json_add_text(object, "kind", card_kind_name(card->kind)) &&
                    json_add_text(object, "side", side_name(card->side)) &&
                    json_add_text(object, "headline", card->headline) &&
                    json_add_text(object, "line", card->line) &&
                    json_add(object, "evidence", evidence_json(state, card)) &&
                    (card->figure_count == 0 || json_add(object, "figures", figures_json(card))) &&
                    json_add_text(object, "bout", card->bout) &&
                    json_add_time(object, "since", card->since_ms));
}

json_t *cards_json(const struct language *language, const struct state *state,
                   const struct past *past, const struct around *around, int64_t *next_ms)
{
    struct card cards[CARD_PLACES];
    json_t *object = json_object();
    bool complete = object != NULL;
    cards_of(language, state, past, around, cards, next_ms);
    for (int i = 0; i < CARD_PLACES && complete; i++) {
        char place[16];
        snprintf(place, sizeof place, "%d", i + 1);
        complete = cards[i].id[0] == '\0' || json_add(object, place, card_json(state, &cards[i]));
    }
    return json_whole(object, complete);
}

static const char *ruling_kind_name(enum ruling_kind kind)
{
    static const char *const names[] = {
        [RULING_LOST] = "lost", [RULING_NOTHING] = "nothing", [RULING_UPHELD] = "upheld"};
    return names[kind];
}

static json_t *ruling_json(const struct told_ruling *told)
{
    json_t *object = json_object();
    const struct ruling *ruling = &told->ruling;
    bool leads = ruling->leader.side != SIDE_NONE;
    return json_whole(
        object,
        json_add_text(object, "kind", ruling_kind_name(ruling->kind)) &&
            json_add_text(object, "headline", told->headline) &&
            json_add_text(object, "line", told->line) &&
            json_add_integer(object, "red", ruling->points[0]) &&
            json_add_integer(object, "blue", ruling->points[1]) &&
            (!leads || json_add(object, "leader",
                                json_pack("{s:s, s:s}", "side", side_name(ruling->leader.side),
                                          "by", criterion_name(ruling->leader.by)))) &&
            json_add_text(object, "due", due_name(ruling->due)));
}

json_t *rulings_json(const struct language *language, const struct state *state)
{
    struct told_ruling *told = malloc(RULINGS_MAX * sizeof *told);
    json_t *object = told != NULL ? json_object() : NULL;
    size_t count = object != NULL ? rulings_told(language, state, told) : 0;
    bool complete = object != NULL;
    for (size_t i = 0; i < count && complete; i++) {
        char number[24];
        snprintf(number, sizeof number, "%zu", i + 1);
        complete = json_add(object, number, ruling_json(&told[i]));
    }
    free(told);
    return json_whole(object, complete);
}

json_t *told_line_json(const struct line *line, const char *event, int64_t at_ms, int32_t period_ms)
{
    json_t *object = json_object();
    bool timed = line->period > 0;
    return json_whole(
        object, json_add_text(object, "text", line->text) &&
                    json_add_text(object, "kind", line_kind_name(line->kind)) &&
                    json_add_text(object, "side", side_name(line->side)) &&
                    (!timed || (json_add_integer(object, "period", line->period) &&
                                json_add_integer(object, "t_ms", line->t_ms) &&
                                json_add_integer(object, "left_ms", period_ms - line->t_ms))) &&
                    json_add_time(object, "at", at_ms) && json_add_text(object, "event", event));
}
