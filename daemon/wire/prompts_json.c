#include "wire/prompts_json.h"
#include <stdio.h>
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

static json_t *card_json(const struct state *state, const struct card *card)
{
    json_t *object = json_object();
    return json_whole(object, json_add_text(object, "id", card->id) &&
                                  json_add_text(object, "kind", card_kind_name(card->kind)) &&
                                  json_add_text(object, "side", side_name(card->side)) &&
                                  json_add_text(object, "headline", card->headline) &&
                                  json_add_text(object, "line", card->line) &&
                                  json_add(object, "evidence", evidence_json(state, card)) &&
                                  json_add_time(object, "since", card->since_ms));
}

json_t *cards_json(const struct language *language, const struct state *state, int64_t *next_ms)
{
    struct card cards[CARD_PLACES];
    json_t *object = json_object();
    bool complete = object != NULL;
    cards_of(language, state, cards, next_ms);
    for (int i = 0; i < CARD_PLACES && complete; i++) {
        char place[16];
        snprintf(place, sizeof place, "%d", i + 1);
        complete = cards[i].id[0] == '\0' || json_add(object, place, card_json(state, &cards[i]));
    }
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
