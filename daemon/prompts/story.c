#include "prompts/story.h"

const struct read_event *story_read(const struct story *story, int32_t place)
{
    return &story->fold->events[place];
}

const struct event *story_event(const struct story *story)
{
    return story->fold->events[story->place].event;
}

/* ---- the sentence in hand ---- */

static void begin_at(struct story *story, struct line *line, enum line_kind kind, enum side side)
{
    *line = (struct line){.kind = kind, .side = side, .place = story->place};
    const struct state *after = story->after;
    if (!story->fold->clock.keyed)
        return;
    line->period = after->clock.period;
    line->t_ms = after->clock.t_ms;
    if (story->place == EVENT_NONE || story_event(story)->type == EVENT_CLOCK)
        return;
    line->period = story_read(story, story->place)->period;
    line->t_ms = story_read(story, story->place)->t_ms;
}

void story_begin(struct story *story, enum line_kind kind, enum side side)
{
    if (story->count == LINES_MAX) {
        story->cut = true;
        return;
    }
    struct line *line = &story->lines[story->count++];
    begin_at(story, line, kind, side);
    story->text = text_start(line->text, LINE_BYTES_MAX + 1);
    story->text.capital = true;
}

static void say(struct story *story, enum phrase phrase, const struct naming *names,
                const struct fill *fills)
{
    text_add(&story->text, english(phrase), names, fills);
    story->cut = story->cut || story->text.cut;
}

void story_say(struct story *story, enum phrase phrase, const struct fill *fills)
{
    say(story, phrase, &story->names, fills);
}

void story_say_full(struct story *story, enum phrase phrase, const struct fill *fills)
{
    say(story, phrase, &story->full, fills);
}

/* ---- who leads ---- */

bool story_is_settled(const struct state *state)
{
    const struct fold *fold = state->fold;
    for (unsigned i = 0; i < 2; i++)
        if (fold->unconfirmed[i] > 0 ||
            state->all.sides[i].cautions != state->confirmed.sides[i].cautions)
            return false;
    return !state->under_review;
}

/* Taken from the other side, still the other side's, or simply so. */
static enum phrase lead_phrase(const struct story *story, enum side side)
{
    const struct leader *leader = &story->after->leader;
    enum side before = story->before != NULL ? story->before->leader.side : SIDE_NONE;
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

static bool superiority_is_new(const struct story *story)
{
    bool before = story->before != NULL && story->before->due == DUE_SUPERIORITY;
    return story->after->confirmed_due == DUE_SUPERIORITY && !before;
}

void story_lead(struct story *story, enum joining joining, enum side side)
{
    const struct state *after = story->after;
    if (!story_is_settled(after)) {
        story_say(story, LINE_STOP, NULL);
        return;
    }
    bool closed = after->phase == PHASE_CLOSED || after->phase == PHASE_OFF;
    enum side leader = after->leader.side;
    enum side first = leader != SIDE_NONE ? leader : SIDE_RED;
    enum phrase plain = closed ? LEAD_CLOSED : lead_phrase(story, side);
    enum phrase phrase = joined(plain, joining, side, leader);
    if (phrase == plain)
        story_say(story, joining == JOIN_COLON ? LEAD_COLON : LEAD_SENTENCE, NULL);
    story_say(story, phrase,
              FILLS({"L", .side = first}, {"T", .side = side_other(first)},
                    {"a", .number = after->all.sides[side_index(first)].points},
                    {"b", .number = after->all.sides[side_index(side_other(first))].points},
                    {"by", .text = english_criterion(after->leader.by)}));
    if (!closed && superiority_is_new(story))
        story_say(story, LINE_SUPERIORITY, NULL);
}

void story_time_left(struct story *story, const struct read_event *read)
{
    const struct details *details = story->fold->details;
    int32_t left_ms = details->period_ms - read->t_ms;
    char time[TIME_SIZE];
    if (left_ms <= 0 || left_ms > 60000 || !story->fold->clock.keyed)
        return;
    story_say(story, read->period < details->periods ? LINE_TIME_LEFT_OF : LINE_TIME_LEFT,
              FILLS({"time", .text = english_span(left_ms, time)},
                    {"period", .number = read->period}));
}

/* ---- an event as a thing ---- */

enum side story_giver(const struct event *event)
{
    return event->type == EVENT_SCORE ? (enum side)event->side
                                      : side_other((enum side)event->side);
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

const char *story_noun(const struct story *story, const struct event *event, char noun[NOUN_SIZE])
{
    struct text text = text_start(noun, NOUN_SIZE);
    char room[WORDS_SIZE];
    const char *hold = "";
    if (event->type == EVENT_ATTACK)
        hold = english_technique(event->techniques->names[0], room);
    text_add(&text, english(noun_phrase(event)), &story->names,
             FILLS({"S", .side = (enum side)event->side}, {"n", .number = event->points},
                   {"hold", .text = hold}));
    return noun;
}
