#include "prompts/narration.h"

const struct read_event *narration_read(const struct narration *narration, int32_t place)
{
    return &narration->fold->events[place];
}

const struct event *narration_event(const struct narration *narration)
{
    return narration->fold->events[narration->place].event;
}

/* ---- the sentence in hand ---- */

static void begin_at(struct narration *narration, struct line *line, enum line_kind kind,
                     enum side side)
{
    *line = (struct line){.kind = kind, .side = side, .place = narration->place};
    const struct state *after = narration->after;
    if (!narration->fold->clock.keyed)
        return;
    line->period = after->clock.period;
    line->t_ms = after->clock.t_ms;
    if (narration->place == EVENT_NONE || narration_event(narration)->type == EVENT_CLOCK)
        return;
    line->period = narration_read(narration, narration->place)->period;
    line->t_ms = narration_read(narration, narration->place)->t_ms;
}

void narration_begin(struct narration *narration, enum line_kind kind, enum side side)
{
    if (narration->count == LINES_MAX) {
        narration->cut = true;
        return;
    }
    struct line *line = &narration->lines[narration->count++];
    begin_at(narration, line, kind, side);
    narration->text = text_start(narration->language, line->text, LINE_BYTES_MAX + 1);
    narration->text.capital = true;
}

static void say(struct narration *narration, enum phrase phrase, const struct naming *names,
                const struct fill *fills)
{
    text_add(&narration->text, phrase, names, fills);
    narration->cut = narration->cut || narration->text.cut;
}

void narration_say(struct narration *narration, enum phrase phrase, const struct fill *fills)
{
    say(narration, phrase, &narration->names, fills);
}

void narration_say_full(struct narration *narration, enum phrase phrase, const struct fill *fills)
{
    say(narration, phrase, &narration->full, fills);
}

/* ---- who leads ---- */

bool narration_is_settled(const struct state *state)
{
    const struct fold *fold = state->fold;
    for (unsigned i = 0; i < 2; i++)
        if (fold->unconfirmed[i] > 0 ||
            state->all.sides[i].cautions != state->confirmed.sides[i].cautions)
            return false;
    return !state->under_review;
}

/* Taken from the other side, still the other side's, or simply so. */
static enum phrase lead_phrase(const struct narration *narration, enum side side)
{
    const struct leader *leader = &narration->after->leader;
    enum side before = narration->before != NULL ? narration->before->leader.side : SIDE_NONE;
    bool by_points = leader->by == BY_POINTS;
    if (leader->side == SIDE_NONE)
        return LEAD_NOBODY;
    if (before == side_other(leader->side))
        return by_points ? LEAD_POINTS_TAKES : LEAD_LEVEL_TAKES;
    if (before == leader->side && side == side_other(leader->side))
        return by_points ? LEAD_POINTS_STILL : LEAD_LEVEL_STILL;
    return by_points ? LEAD_POINTS : LEAD_LEVEL;
}

/* In one sentence with the points, where the side that has them leads by points. */
static enum phrase joined(enum phrase phrase, enum joining joining, enum side side,
                          enum side leader)
{
    if (joining == JOIN_AND && side == leader && phrase == LEAD_POINTS)
        return LEAD_AND;
    if (joining == JOIN_AND && side == leader && phrase == LEAD_POINTS_TAKES)
        return LEAD_AND_TAKES;
    return phrase;
}

static bool superiority_is_new(const struct narration *narration)
{
    bool before = narration->before != NULL && narration->before->due == DUE_SUPERIORITY;
    return narration->after->confirmed_due == DUE_SUPERIORITY && !before;
}

void narration_lead(struct narration *narration, enum joining joining, enum side side)
{
    const struct state *after = narration->after;
    if (!narration_is_settled(after)) {
        narration_say(narration, LINE_STOP, NULL);
        return;
    }
    bool closed = after->phase == PHASE_CLOSED || after->phase == PHASE_OFF;
    enum side leader = after->leader.side;
    enum side first = leader != SIDE_NONE ? leader : SIDE_RED;
    enum phrase plain = closed ? LEAD_CLOSED : lead_phrase(narration, side);
    enum phrase phrase = joined(plain, joining, side, leader);
    if (phrase == plain)
        narration_say(narration, joining == JOIN_COLON ? LEAD_COLON : LEAD_SENTENCE, NULL);
    narration_say(narration, phrase,
                  FILLS({"L", .side = first}, {"T", .side = side_other(first)},
                        {"a", .number = after->all.sides[side_index(first)].points},
                        {"b", .number = after->all.sides[side_index(side_other(first))].points},
                        {"by", .word = WORD_CRITERION, .text = criterion_name(after->leader.by)}));
    if (!closed && superiority_is_new(narration))
        narration_say(narration, LINE_SUPERIORITY, NULL);
}

void narration_time_left(struct narration *narration, const struct read_event *read)
{
    const struct details *details = narration->fold->details;
    int32_t left_ms = details->period_ms - read->t_ms;
    char time[TIME_SIZE];
    if (left_ms <= 0 || left_ms > 60000 || !narration->fold->clock.keyed)
        return;
    narration_say(narration, read->period < details->periods ? LINE_TIME_LEFT_OF : LINE_TIME_LEFT,
                  FILLS({"time", .text = text_span(narration->language, left_ms, time)},
                        {"period", .number = read->period}));
}

/* ---- an event as a thing ---- */

enum side narration_giver(const struct event *event)
{
    return event->type == EVENT_SCORE ? (enum side)event->side : side_other((enum side)event->side);
}

static enum phrase noun_phrase(const struct event *event)
{
    switch (event->type) {
    case EVENT_CAUTION:
        return NOUN_CAUTION;
    case EVENT_PASSIVITY:
        return event->stage == PASSIVITY_WARNING    ? NOUN_WARNING
               : event->stage == PASSIVITY_ACTIVITY ? NOUN_ACTIVITY
                                                    : NOUN_PASSIVITY;
    case EVENT_CHALLENGE:
        return event->outcome == CHALLENGE_ASKED ? NOUN_CHALLENGE : NOUN_DECISION;
    case EVENT_ATTACK:
        return NOUN_ATTACK;
    case EVENT_POSITION:
        return NOUN_POSITION;
    case EVENT_STOPPAGE:
        return NOUN_STOPPAGE;
    case EVENT_CLOSE:
        return NOUN_RESULT;
    case EVENT_NOTE:
        return NOUN_NOTE;
    case EVENT_SCORE:
    case EVENT_BOUT:
    case EVENT_CLOCK:
    case EVENT_CONFIRM:
    case EVENT_VOID:
    case EVENT_AMEND:
    case EVENT_RESTART:
    case EVENT_ENTRY:
    case EVENT_SLOT:
    case EVENT_SESSION:
    case EVENT_TYPE_COUNT:
        break;
    }
    return NOUN_POINTS;
}

const char *narration_noun(const struct narration *narration, const struct event *event,
                           char noun[NOUN_SIZE])
{
    struct text text = text_start(narration->language, noun, NOUN_SIZE);
    const char *hold = event->type == EVENT_ATTACK ? event->techniques->names[0] : "";
    text_add(&text, noun_phrase(event), &narration->names,
             FILLS({"S", .side = (enum side)event->side}, {"n", .number = event->points},
                   {"hold", .word = WORD_TECHNIQUE, .text = hold}));
    return noun;
}
