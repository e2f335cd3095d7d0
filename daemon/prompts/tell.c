/* The sentences that tell what happened on the mat, and what the officials called. */
#include <string.h>
#include "prompts/narration.h"
#include "prompts/technique.h"

/* ---- what a score came from ---- */

/* The holds of a score: its own, or those of the attack that it finished. */
struct hold {
    const char *first, *last; /* NULL: not known */
    enum leg leg;
};

static bool is_named(const char *technique)
{
    return technique != NULL && !technique_is_unnamed(technique);
}

static struct hold hold_of(const struct fold *fold, const struct event *score)
{
    const char *own = is_named(score->technique) ? score->technique : NULL;
    struct hold hold = {own, own, (enum leg)score->leg};
    if (!event_gives(score, MEMBER_ATTACK) || !fold->events[score->attack].stands)
        return hold;
    const struct event *attack = fold->events[score->attack].event;
    if (attack->side != score->side)
        return hold;
    for (unsigned i = 0; own == NULL && i < attack->techniques->count; i++) {
        const char *name = attack->techniques->names[i];
        if (!is_named(name))
            continue;
        hold.first = hold.first != NULL ? hold.first : name;
        hold.last = name;
    }
    if (hold.leg == LEG_NONE)
        hold.leg = (enum leg)attack->leg;
    return hold;
}

bool narration_knows_hold(const struct fold *fold, const struct event *score)
{
    return hold_of(fold, score).first != NULL;
}

static void say_leg(struct narration *narration, enum leg leg)
{
    switch (leg) {
    case LEG_LEAD:
        narration_say(narration, LINE_ON_LEAD, NULL);
        break;
    case LEG_TRAIL:
        narration_say(narration, LINE_ON_TRAIL, NULL);
        break;
    case LEG_NONE:
        break;
    }
}

static void say_hold(struct narration *narration, const struct hold *hold, enum phrase one,
                     enum phrase changed)
{
    if (hold->first == NULL)
        return;
    narration_say(narration, strcmp(hold->first, hold->last) == 0 ? one : changed,
                  FILLS({"hold", .word = WORD_TECHNIQUE, .text = hold->last},
                        {"first", .word = WORD_TECHNIQUE, .text = hold->first},
                        {"last", .word = WORD_TECHNIQUE, .text = hold->last}));
    say_leg(narration, hold->leg);
}

void narration_tell_hold(struct narration *narration, const struct event *score)
{
    struct hold hold = hold_of(narration->fold, score);
    say_hold(narration, &hold, LINE_CAME_WITH, LINE_CAME_CHANGED);
}

/* ---- scores ---- */

/* A second turn in one go is told as one more. */
static bool turns_again(const struct narration *narration, const struct read_event *read)
{
    if (read->previous == EVENT_NONE)
        return false;
    const struct read_event *before = narration_read(narration, read->previous);
    return before->event->type == EVENT_SCORE && before->event->side == read->event->side &&
           strcmp(before->event->action, "exposure") == 0 && before->period == read->period &&
           read->t_ms - before->t_ms <= 30000;
}

static bool is_hold(const struct hold *hold, const char *name)
{
    return hold->last != NULL && strcmp(hold->last, name) == 0;
}

struct telling_of_action {
    const char *action;
    enum phrase phrase;
};

static enum phrase action_phrase(const struct narration *narration, const struct read_event *read,
                                 const struct hold *hold)
{
    static const struct telling_of_action tellings[] = {
        {"takedown", LINE_TAKES_DOWN},
        {"exposure", LINE_TURNS},
        {"counter_exposure", LINE_COUNTERS},
        {"throw", LINE_THROWS},
        {"lift", LINE_LIFTS},
        {"feet_to_danger", LINE_INTO_DANGER},
        {"reversal", LINE_REVERSES},
        {"step_out", LINE_STEPS_OUT},
        {"injury_stop", LINE_INJURY_STOP},
        {"bout_stop", LINE_INJURY_STOP}, /* as the public has it in a bout of minors */
    };
    enum phrase phrase = LINE_SCORES;
    for (size_t i = 0; i < sizeof tellings / sizeof *tellings; i++)
        if (strcmp(tellings[i].action, read->event->action) == 0)
            phrase = tellings[i].phrase;
    if (phrase == LINE_TAKES_DOWN && is_hold(hold, "go_behind"))
        return LINE_GOES_BEHIND;
    if (phrase == LINE_TAKES_DOWN && is_hold(hold, "mat_return"))
        return LINE_BRINGS_DOWN;
    if (phrase == LINE_TURNS && turns_again(narration, read))
        return LINE_TURNS_AGAIN;
    if (phrase == LINE_STEPS_OUT && hold->first != NULL)
        return LINE_DRIVES_OUT;
    return phrase;
}

/* The verb says the hold already. */
static bool is_said_by(enum phrase phrase, const struct hold *hold)
{
    return phrase == LINE_GOES_BEHIND || phrase == LINE_BRINGS_DOWN ||
           (phrase == LINE_DRIVES_OUT && is_hold(hold, "push_out")) ||
           (phrase == LINE_REVERSES && is_hold(hold, "reversal"));
}

static void say_points_to(struct narration *narration, const struct event *event)
{
    if (event->points > 0)
        narration_say(narration, LINE_POINTS_TO,
                      FILLS({"n", .number = event->points}, {"O", .side = narration_giver(event)}));
}

static void tell_score(struct narration *narration, const struct read_event *read)
{
    const struct event *event = read->event;
    struct hold hold = hold_of(narration->fold, event);
    enum phrase phrase = action_phrase(narration, read, &hold);
    enum side side = (enum side)event->side;
    bool of_the_other = phrase == LINE_STEPS_OUT || phrase == LINE_INJURY_STOP;
    narration_say(narration, phrase,
                  FILLS({"S", .side = side}, {"O", .side = side_other(side)},
                        {"n", .number = event->points},
                        {"action", .word = WORD_ACTION, .text = event->action}));
    if (!of_the_other && !is_said_by(phrase, &hold))
        say_hold(narration, &hold, LINE_WITH, LINE_WITH_CHANGED);
    if (!of_the_other)
        narration_say(narration, LINE_FOR, FILLS({"n", .number = event->points}));
    narration_time_left(narration, read);
    if (of_the_other)
        say_points_to(narration, event);
    if (!read->confirmed)
        narration_say(narration, LINE_NOT_CONFIRMED, NULL);
    else
        narration_lead(narration, of_the_other ? JOIN_SENTENCE : JOIN_AND, side);
}

/* ---- attempts ---- */

static void say_outcome(struct narration *narration, const struct event *event)
{
    switch ((enum attack_outcome)event->outcome) {
    case ATTACK_STOPPED:
        if (event->stopped_by != NULL)
            narration_say(narration, LINE_IS_STOPPED_BY,
                          FILLS({"defence", .word = WORD_DEFENCE, .text = event->stopped_by}));
        else
            narration_say(narration, LINE_IS_STOPPED, NULL);
        break;
    case ATTACK_COUNTERED:
        narration_say(narration, LINE_IS_COUNTERED, NULL);
        break;
    case ATTACK_OUT:
        narration_say(narration, LINE_GOES_OUT, NULL);
        break;
    case ATTACK_STALEMATE:
        narration_say(narration, LINE_STALEMATE, NULL);
        break;
    case ATTACK_SLIPPED:
        narration_say(narration, LINE_SLIPS_OFF, NULL);
        break;
    case ATTACK_OPEN:
    case ATTACK_SCORED:
        break;
    }
}

static void tell_attack(struct narration *narration, const struct event *event)
{
    const struct name_list *techniques = event->techniques;
    const char *first = techniques->names[0], *last = techniques->names[techniques->count - 1];
    narration_say(narration, technique_family(first) == TECHNIQUE_LEG ? LINE_SHOOTS : LINE_TRIES,
                  FILLS({"S", .side = (enum side)event->side},
                        {"first", .word = WORD_TECHNIQUE, .text = first}));
    say_leg(narration, (enum leg)event->leg);
    if (strcmp(first, last) != 0)
        narration_say(narration, LINE_CHANGES_TO,
                      FILLS({"last", .word = WORD_TECHNIQUE, .text = last}));
    say_outcome(narration, event);
}

/* ---- the officials' calls ---- */

/* How such a call ends: not confirmed yet, or with what it makes of the lead, where it does. */
static void end_call(struct narration *narration, const struct read_event *read)
{
    const struct leader *now = &narration->after->leader;
    enum side before = narration->before != NULL ? narration->before->leader.side : SIDE_NONE;
    if (!read->confirmed)
        narration_say(narration, LINE_NOT_CONFIRMED, NULL);
    else if (read->event->points > 0 || (now->side != before && now->side != SIDE_NONE))
        narration_lead(narration, JOIN_SENTENCE, narration_giver(read->event));
    else
        narration_say(narration, LINE_STOP, NULL);
}

static void tell_caution(struct narration *narration, const struct read_event *read)
{
    const struct event *event = read->event;
    const struct edition *edition = narration->fold->details->edition;
    enum side side = (enum side)event->side;
    int count = narration->after->all.sides[side_index(side)].cautions;
    narration_say(narration, count > 1 ? LINE_CAUTIONED_AGAIN : LINE_CAUTIONED,
                  FILLS({"S", .side = side}, {"reason", .word = WORD_REASON, .text = event->reason},
                        {"n", .number = count}));
    say_points_to(narration, event);
    end_call(narration, read);
    if (count >= edition->cautions_out && read->confirmed)
        narration_say(narration, LINE_CAUTIONS_LOSE, FILLS({"n", .number = edition->cautions_out}));
}

static void tell_activity(struct narration *narration, const struct event *event)
{
    const struct edition *edition = narration->fold->details->edition;
    const struct value *usual =
        value_member(value_member(edition->document, "usual_points"), "passivity");
    int points = 0;
    char time[TIME_SIZE];
    if (usual != NULL && usual->kind == VALUE_ARRAY && usual->count > 0 &&
        usual->items[0].kind == VALUE_INTEGER)
        points = (int)usual->items[0].as.integer;
    narration_say(
        narration, points > 0 ? LINE_ACTIVITY : LINE_ACTIVITY_PLAIN,
        FILLS({"S", .side = (enum side)event->side}, {"O", .side = narration_giver(event)},
              {"time", .text = text_span(narration->language, edition->activity_ms, time)},
              {"n", .number = points}));
}

static void tell_passivity(struct narration *narration, const struct read_event *read)
{
    const struct event *event = read->event;
    enum side side = (enum side)event->side;
    bool was_on = narration->before != NULL && narration->before->activity == side;
    switch ((enum passivity_stage)event->stage) {
    case PASSIVITY_WARNING:
        narration_say(narration, LINE_WARNED, FILLS({"S", .side = side}));
        break;
    case PASSIVITY_ACTIVITY:
        tell_activity(narration, event);
        break;
    case PASSIVITY_PENALTY:
        narration_say(narration, was_on ? LINE_ACTIVITY_ENDS : LINE_PASSIVE,
                      FILLS({"S", .side = side}));
        say_points_to(narration, event);
        break;
    }
    end_call(narration, read);
}

/* What is challenged: the other side's points, or a call against the one who challenges. */
static void tell_asked(struct narration *narration, const struct event *event)
{
    bool of = event_gives(event, MEMBER_OF) && narration_read(narration, event->of)->stands;
    const struct event *what = of ? narration_read(narration, event->of)->event : NULL;
    enum phrase phrase = LINE_CHALLENGES;
    char noun[NOUN_SIZE] = "";
    if (what != NULL && what->type == EVENT_SCORE && what->side != event->side) {
        phrase = LINE_CHALLENGES_WHAT;
        narration_noun(narration, what, noun);
    } else if (what != NULL && what->side == event->side) {
        phrase = what->type == EVENT_CAUTION     ? LINE_CHALLENGES_CAUTION
                 : what->type == EVENT_PASSIVITY ? LINE_CHALLENGES_PASSIVITY
                                                 : LINE_CHALLENGES;
    }
    narration_say(narration, phrase,
                  FILLS({"S", .side = (enum side)event->side}, {"noun", .text = noun}));
}

static void tell_challenge(struct narration *narration, const struct event *event)
{
    enum side side = (enum side)event->side;
    switch ((enum challenge_outcome)event->outcome) {
    case CHALLENGE_ASKED:
        tell_asked(narration, event);
        break;
    case CHALLENGE_UPHELD:
        narration_say(narration, LINE_UPHELD, FILLS({"S", .side = side}));
        narration_lead(narration, JOIN_SENTENCE, SIDE_NONE);
        break;
    case CHALLENGE_REJECTED:
        narration_say(narration, LINE_REJECTED, FILLS({"S", .side = side}));
        say_points_to(narration, event);
        narration_lead(narration, JOIN_SENTENCE, narration_giver(event));
        break;
    }
}

static void tell_position(struct narration *narration, const struct event *event)
{
    enum side chooser = (enum side)event->chosen_by, top = (enum side)event->top;
    enum phrase phrase = LINE_STANDING_CHOSEN;
    if (event->position == POSITION_PAR_TERRE)
        phrase = chooser == SIDE_NONE ? LINE_PAR_TERRE
                 : chooser == top     ? LINE_PAR_TERRE_CHOSEN
                                      : LINE_PAR_TERRE_GIVEN;
    narration_say(narration, phrase, FILLS({"S", .side = chooser}, {"T", .side = top}));
}

static void tell_stoppage(struct narration *narration, const struct event *event)
{
    enum side side = (enum side)event->side;
    switch ((enum stoppage_kind)event->kind) {
    case STOPPAGE_INJURY:
    case STOPPAGE_BLOOD:
        narration_say(narration,
                      event->what == STOPPAGE_STOP ? LINE_TREATMENT_OVER
                      : side == SIDE_NONE          ? LINE_TREATMENT
                                                   : LINE_TREATMENT_OF,
                      FILLS({"S", .side = side}));
        break;
    case STOPPAGE_REVIEW:
        narration_say(narration, LINE_REVIEW, NULL);
        break;
    case STOPPAGE_CONFERENCE:
        narration_say(narration, LINE_CONFERENCE, NULL);
        break;
    case STOPPAGE_OTHER:
        break;
    }
}

static bool tells_attack(const struct read_event *read)
{
    if (read->named_by_own)
        return false; /* the score tells it */
    switch ((enum attack_outcome)read->event->outcome) {
    case ATTACK_STOPPED:
    case ATTACK_COUNTERED:
    case ATTACK_OUT:
    case ATTACK_STALEMATE:
    case ATTACK_SLIPPED:
        return true;
    case ATTACK_OPEN:
    case ATTACK_SCORED:
        break;
    }
    return false;
}

static bool tells_stoppage(const struct event *event)
{
    bool treatment = event->kind == STOPPAGE_INJURY || event->kind == STOPPAGE_BLOOD;
    return treatment || (event->what == STOPPAGE_START && event->kind != STOPPAGE_OTHER);
}

static bool tells_position(const struct event *event)
{
    return event->chosen_by != SIDE_NONE ||
           (event_gives(event, MEMBER_ORDERED) && event->position == POSITION_PAR_TERRE);
}

bool narration_tells(const struct read_event *read)
{
    switch (read->event->type) {
    case EVENT_SCORE:
    case EVENT_CAUTION:
    case EVENT_PASSIVITY:
    case EVENT_CHALLENGE:
    case EVENT_CLOSE:
        return true;
    case EVENT_ATTACK:
        return tells_attack(read);
    case EVENT_POSITION:
        return tells_position(read->event);
    case EVENT_STOPPAGE:
        return tells_stoppage(read->event);
    case EVENT_NOTE:
        return read->event->to == NOTE_TO_PUBLIC;
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
    return false;
}

enum line_kind narration_kind(const struct event *event)
{
    switch (event->type) {
    case EVENT_SCORE:
        return LINE_SCORE;
    case EVENT_ATTACK:
        return LINE_ATTACK;
    case EVENT_CLOSE:
        return LINE_RESULT;
    case EVENT_NOTE:
        return LINE_NOTE;
    case EVENT_BOUT:
        return LINE_CALL;
    case EVENT_CLOCK:
        return LINE_CLOCK;
    case EVENT_CAUTION:
    case EVENT_PASSIVITY:
    case EVENT_CHALLENGE:
    case EVENT_POSITION:
    case EVENT_STOPPAGE:
        return LINE_REFEREE;
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
    return LINE_CORRECTION;
}

void narration_tell(struct narration *narration, const struct read_event *read)
{
    switch (read->event->type) {
    case EVENT_SCORE:
        tell_score(narration, read);
        break;
    case EVENT_CAUTION:
        tell_caution(narration, read);
        break;
    case EVENT_PASSIVITY:
        tell_passivity(narration, read);
        break;
    case EVENT_CHALLENGE:
        tell_challenge(narration, read->event);
        break;
    case EVENT_ATTACK:
        tell_attack(narration, read->event);
        break;
    case EVENT_POSITION:
        tell_position(narration, read->event);
        break;
    case EVENT_STOPPAGE:
        tell_stoppage(narration, read->event);
        break;
    case EVENT_BOUT:
    case EVENT_CLOCK:
    case EVENT_CLOSE:
    case EVENT_NOTE:
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
}
