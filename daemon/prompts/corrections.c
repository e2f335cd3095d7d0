/* What a correction has changed, told by comparing the event that it is about with what it was
 * before: whether it stands, whether it is confirmed, and its members. A correction of a correction
 * comes down to the same question, whatever the chain of voids that led to it. */
#include <string.h>
#include "prompts/narration.h"
#include "prompts/technique.h"
#include "rules/standing.h"

struct version { /* of one event, before or after the correction */
    bool stands, confirmed;
    struct event event;
};

struct change {
    int32_t target; /* the event that is affected; EVENT_NONE: none */
    struct version was, is;
    enum why why;
};

/* ---- before and after ---- */

static bool covers(const struct event *confirm, int32_t target)
{
    return confirm->type == EVENT_CONFIRM &&
           (!event_gives(confirm, MEMBER_REF) || confirm->ref == target);
}

static bool was_confirmed(const struct narration *narration, const bool *stood, int32_t target,
                          const struct event *event)
{
    const struct event *events = narration->fold->bout->events;
    if (!event_gives(event, MEMBER_UNCONFIRMED))
        return true;
    for (int32_t i = target + 1; i < narration->place; i++)
        if (stood[i] && covers(&events[i], target))
            return true;
    return false;
}

/* As it was after the first `place` events; `stood` says which of them stood then. */
static struct version version_before(const struct narration *narration, const bool *stood,
                                     int32_t target)
{
    const struct event *events = narration->fold->bout->events;
    struct version version = {.stands = stood[target], .event = events[target]};
    for (int32_t i = target + 1; i < narration->place; i++)
        if (stood[i] && events[i].type == EVENT_AMEND && events[i].ref == target)
            event_amend(&version.event, events[i].set, events[i].unset);
    version.confirmed = was_confirmed(narration, stood, target, &version.event);
    return version;
}

static struct version version_after(const struct narration *narration, int32_t target)
{
    const struct read_event *read = narration_read(narration, target);
    return (struct version){read->stands, read->confirmed, *read->event};
}

/* The event that a chain of voids is about in the end. */
static int32_t root_of(const struct narration *narration, int32_t ref)
{
    const struct event *events = narration->fold->bout->events;
    while (events[ref].type == EVENT_VOID)
        ref = events[ref].ref;
    return ref;
}

static enum why why_of(const struct event *correction)
{
    return correction->why != 0 ? (enum why)correction->why : WHY_KEYING;
}

/* One of three phrases, by whose correction it is. */
static enum phrase by_why(enum why why, enum phrase keying, enum phrase officials,
                          enum phrase challenge)
{
    switch (why) {
    case WHY_OFFICIALS:
        return officials;
    case WHY_CHALLENGE:
        return challenge;
    case WHY_KEYING:
        break;
    }
    return keying;
}

/* ---- taken out, or back ---- */

static bool gives_points(const struct event *event)
{
    return event->type == EVENT_SCORE || event->type == EVENT_CAUTION ||
           event->type == EVENT_PASSIVITY || event->type == EVENT_CHALLENGE;
}

/* The full stop, and what is left of the lead where points or cautions are in question. */
static void end_correction(struct narration *narration, const struct event *event)
{
    if (gives_points(event))
        narration_lead(narration, JOIN_SENTENCE, SIDE_NONE);
    else
        narration_say(narration, LINE_STOP, NULL);
}

static enum side about(const struct event *event)
{
    return event->type == EVENT_SCORE ? narration_giver(event) : (enum side)event->side;
}

static bool was_told(const struct narration *narration, int32_t target, const struct event *event)
{
    struct read_event read = *narration_read(narration, target);
    read.event = event;
    return narration_tells(&read);
}

static void tell_standing(struct narration *narration, const struct change *change)
{
    const struct event *event = change->is.stands ? &change->is.event : &change->was.event;
    char noun[NOUN_SIZE];
    if (event->type == EVENT_CLOCK) {
        narration_tell_clock(narration);
        return;
    }
    if (!was_told(narration, change->target, event))
        return;
    if (change->is.stands && event->type == EVENT_CLOSE) {
        narration_tell_result(narration, true);
        return;
    }
    bool asked = event->type == EVENT_CHALLENGE && event->outcome == CHALLENGE_ASKED;
    enum phrase back = by_why(change->why, LINE_BACK, LINE_BACK_OFFICIALS, LINE_BACK_CHALLENGE);
    enum phrase out = by_why(change->why, LINE_OUT, LINE_OUT_OFFICIALS, LINE_OUT_CHALLENGE);
    narration_begin(narration, LINE_CORRECTION, about(event));
    narration_say(narration,
                  change->is.stands ? back
                  : asked           ? LINE_OUT_ASKED
                                    : out,
                  FILLS({"noun", .text = narration_noun(narration, event, noun)}));
    if (change->is.stands && !change->is.confirmed)
        narration_say(narration, LINE_NOT_CONFIRMED, NULL);
    else
        end_correction(narration, event);
}

/* ---- changed ---- */

static void say_anew(struct narration *narration, enum why why)
{
    narration_say(narration, by_why(why, LINE_ANEW, LINE_ANEW_OFFICIALS, LINE_ANEW_CHALLENGE),
                  NULL);
}

static void tell_anew(struct narration *narration, const struct change *change)
{
    const struct read_event *read = narration_read(narration, change->target);
    if (!narration_tells(read))
        return;
    narration_begin(narration, LINE_CORRECTION, about(read->event));
    say_anew(narration, change->why);
    narration_tell(narration, read);
}

static bool points_differ(const struct change *change)
{
    return change->was.event.points != change->is.event.points ||
           narration_giver(&change->was.event) != narration_giver(&change->is.event);
}

/* "Corrected: the 4 for Brandt is a 2." "Corrected: 2 to Haddad, not 4 to Brandt." */
static void tell_points(struct narration *narration, const struct change *change)
{
    const struct event *was = &change->was.event, *is = &change->is.event;
    enum side giver = narration_giver(is);
    char noun[NOUN_SIZE];
    narration_begin(narration, LINE_CORRECTION, giver);
    if (giver == narration_giver(was))
        narration_say(
            narration,
            by_why(change->why, LINE_POINTS, LINE_POINTS_OFFICIALS, LINE_POINTS_CHALLENGE),
            FILLS({"noun", .text = narration_noun(narration, was, noun)},
                  {"n", .number = is->points}));
    else
        narration_say(narration,
                      by_why(change->why, LINE_SIDES, LINE_SIDES_OFFICIALS, LINE_SIDES_CHALLENGE),
                      FILLS({"n", .number = is->points}, {"m", .number = was->points},
                            {"S", .side = giver}, {"O", .side = side_other(giver)}));
    if (change->is.confirmed)
        narration_lead(narration, JOIN_SENTENCE, SIDE_NONE);
    else
        narration_say(narration, LINE_NOT_CONFIRMED, NULL);
}

/* "The 2 for Brandt came from a low single on the lead leg." */
static void tell_came_from(struct narration *narration, const struct event *score)
{
    char noun[NOUN_SIZE];
    narration_begin(narration, LINE_SCORE, about(score));
    narration_say(narration, LINE_CAME_FROM,
                  FILLS({"noun", .text = narration_noun(narration, score, noun)}));
    narration_tell_hold(narration, score);
    narration_say(narration, LINE_STOP, NULL);
}

static void tell_score_change(struct narration *narration, const struct change *change)
{
    const struct event *was = &change->was.event, *is = &change->is.event;
    if (points_differ(change)) {
        tell_points(narration, change);
    } else if (strcmp(was->action, is->action) != 0) {
        tell_anew(narration, change);
    } else if (!narration_knows_hold(narration->fold, was) &&
               narration_knows_hold(narration->fold, is)) {
        tell_came_from(narration, is);
    }
}

static bool same_attack(const struct event *one, const struct event *other)
{
    bool same = one->side == other->side && one->outcome == other->outcome &&
                one->techniques->count == other->techniques->count;
    for (unsigned i = 0; same && i < one->techniques->count; i++)
        same = strcmp(one->techniques->names[i], other->techniques->names[i]) == 0;
    return same;
}

/* Which leg, and what stopped it, when that wasn't known before. */
static void tell_attack_details(struct narration *narration, const struct event *was,
                                const struct event *is)
{
    bool leg = was->leg == LEG_NONE && is->leg != LEG_NONE;
    bool by = was->stopped_by == NULL && is->stopped_by != NULL && is->outcome == ATTACK_STOPPED;
    if (!leg && !by)
        return;
    narration_begin(narration, LINE_ATTACK, (enum side)is->side);
    narration_say(narration,
                  !leg ? LINE_ATTACK_BY
                  : by ? LINE_ATTACK_LEG_BY
                       : LINE_ATTACK_LEG,
                  FILLS({"hold", .word = WORD_TECHNIQUE, .text = is->techniques->names[0]},
                        {"S", .side = (enum side)is->side},
                        {"leg", .word = WORD_LEG, .text = leg_name((enum leg)is->leg)},
                        {"defence", .word = WORD_DEFENCE,
                         .text = is->stopped_by != NULL ? is->stopped_by : ""}));
}

/* The score that the attack came to, when its holds were not known before. */
static const struct event *named_score(const struct narration *narration,
                                       const struct change *change)
{
    const struct fold *fold = narration->fold;
    const struct name_list *was = change->was.event.techniques;
    for (unsigned i = 0; i < was->count; i++)
        if (!technique_is_unnamed(was->names[i]))
            return NULL;
    for (size_t i = 0; i < fold->count; i++) {
        const struct event *event = fold->events[i].event;
        if (fold->events[i].stands && event->type == EVENT_SCORE &&
            event_gives(event, MEMBER_ATTACK) && event->attack == change->target &&
            event->side == change->is.event.side && narration_knows_hold(fold, event))
            return event;
    }
    return NULL;
}

static void tell_attack_change(struct narration *narration, const struct change *change)
{
    const struct event *was = &change->was.event, *is = &change->is.event;
    const struct read_event *read = narration_read(narration, change->target);
    bool told = was_told(narration, change->target, was);
    const struct event *score = named_score(narration, change);
    if (score != NULL) {
        tell_came_from(narration, score);
    } else if (same_attack(was, is)) {
        if (told || read->named_by_own)
            tell_attack_details(narration, was, is);
    } else if (told) {
        tell_anew(narration, change);
    } else if (narration_tells(read)) { /* it was open, and now it is known what came of it */
        narration_begin(narration, LINE_ATTACK, (enum side)is->side);
        narration_tell(narration, read);
    }
}

static bool same_call(const struct event *one, const struct event *other)
{
    return one->side == other->side && one->points == other->points && one->stage == other->stage &&
           one->outcome == other->outcome && one->position == other->position &&
           one->top == other->top && one->chosen_by == other->chosen_by &&
           one->kind == other->kind && one->what == other->what &&
           same_text(one->reason, other->reason);
}

static bool same_result(const struct event *one, const struct event *other)
{
    return strcmp(one->how, other->how) == 0 && one->winner == other->winner &&
           one->sheet[0] == other->sheet[0] && one->sheet[1] == other->sheet[1] &&
           one->t_ms == other->t_ms && one->period == other->period &&
           same_text(one->code, other->code);
}

static void tell_members(struct narration *narration, const struct change *change)
{
    const struct event *was = &change->was.event, *is = &change->is.event;
    switch (is->type) {
    case EVENT_SCORE:
        tell_score_change(narration, change);
        break;
    case EVENT_ATTACK:
        tell_attack_change(narration, change);
        break;
    case EVENT_CAUTION:
    case EVENT_PASSIVITY:
    case EVENT_POSITION:
    case EVENT_CHALLENGE:
    case EVENT_STOPPAGE:
        if (!same_call(was, is))
            tell_anew(narration, change);
        break;
    case EVENT_CLOSE:
        if (!same_result(was, is) && narration->fold->close == change->target)
            narration_tell_result(narration, true);
        break;
    case EVENT_NOTE:
        if (is->to != was->to || strcmp(is->text, was->text) != 0)
            narration_tell_note(narration, is);
        break;
    case EVENT_CLOCK:
        narration_tell_clock(narration);
        break;
    case EVENT_BOUT:
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

/* ---- confirmed, or not after all ---- */

struct confirmed { /* what came to be confirmed, or ceased to be */
    int points, calls;
    bool result;
    int32_t one; /* the last of them */
};

static struct confirmed confirmations(const struct narration *narration, const bool *stood,
                                      int32_t from, int32_t to)
{
    struct confirmed confirmed = {.one = EVENT_NONE};
    for (int32_t i = from; i < to; i++) {
        const struct read_event *read = narration_read(narration, i);
        if (!stood[i] || !read->stands)
            continue;
        struct version was = version_before(narration, stood, i);
        if (was.confirmed == read->confirmed)
            continue;
        if (read->event->type == EVENT_CLOSE) {
            confirmed.result = confirmed.result || narration->fold->close == i;
        } else if (read->gives_points) {
            confirmed.points++;
            confirmed.one = i;
        } else if (gives_points(read->event)) {
            confirmed.calls++;
            confirmed.one = confirmed.points > 0 ? confirmed.one : i;
        }
    }
    return confirmed;
}

/* The lead that follows names the side, where it is the one that has the points. */
static enum phrase confirmed_phrase(const struct narration *narration,
                                    const struct confirmed *confirmed, const struct event *one)
{
    bool named = narration_is_settled(narration->after) &&
                 narration->after->phase != PHASE_CLOSED &&
                 narration->after->leader.side == narration_giver(one);
    if (confirmed->points > 1)
        return LINE_CONFIRMED_POINTS;
    if (confirmed->points == 1)
        return one->type == EVENT_SCORE && named ? LINE_CONFIRMED_OWN : LINE_CONFIRMED_ONE;
    return confirmed->calls == 1 ? LINE_CONFIRMED_ONE : LINE_CONFIRMED_CALLS;
}

static void tell_confirmed(struct narration *narration, const struct confirmed *confirmed)
{
    int all = confirmed->points + confirmed->calls;
    char noun[NOUN_SIZE];
    if (all > 0) {
        const struct event *one = narration_read(narration, confirmed->one)->event;
        enum side side = confirmed->points == 1 ? narration_giver(one)
                         : all == 1             ? (enum side)one->side
                                                : SIDE_NONE;
        narration_begin(narration, confirmed->points > 0 ? LINE_SCORE : LINE_REFEREE, side);
        narration_say(narration, confirmed_phrase(narration, confirmed, one),
                      FILLS({"noun", .text = narration_noun(narration, one, noun)},
                            {"n", .number = one->points}));
        if (confirmed->points > 0)
            narration_lead(narration, JOIN_COLON, confirmed->points == 1 ? side : SIDE_NONE);
        else
            narration_say(narration, LINE_STOP, NULL);
    }
    if (confirmed->result)
        narration_tell_result(narration, false);
}

static void tell_unconfirmed(struct narration *narration, const struct confirmed *confirmed)
{
    int all = confirmed->points + confirmed->calls;
    char noun[NOUN_SIZE];
    if (all > 0) {
        const struct event *one = narration_read(narration, confirmed->one)->event;
        narration_begin(narration, LINE_CORRECTION, all == 1 ? about(one) : SIDE_NONE);
        narration_say(narration, all == 1 ? LINE_UNCONFIRMED_ONE : LINE_UNCONFIRMED_SOME,
                      FILLS({"noun", .text = narration_noun(narration, one, noun)}));
    }
    if (confirmed->result)
        narration_tell_result(narration, true);
}

/* Everything that the confirm covers; nothing where it changes nothing. */
static void tell_confirmation(struct narration *narration, const bool *stood, int32_t confirm,
                              bool stands)
{
    const struct event *event = &narration->fold->bout->events[confirm];
    bool named = event_gives(event, MEMBER_REF);
    struct confirmed confirmed =
        confirmations(narration, stood, named ? event->ref : 0, named ? event->ref + 1 : confirm);
    if (stands)
        tell_confirmed(narration, &confirmed);
    else
        tell_unconfirmed(narration, &confirmed);
}

/* ---- the bout anew ---- */

static void tell_restart(struct narration *narration, bool stands)
{
    narration_begin(narration, LINE_CORRECTION, SIDE_NONE);
    narration_say(narration, stands ? LINE_RESTART : LINE_RESTART_BACK, NULL);
    if (!stands)
        narration_lead(narration, JOIN_SENTENCE, SIDE_NONE);
}

/* ---- one correction ---- */

static void tell_change(struct narration *narration, const bool *stood, int32_t target,
                        enum why why)
{
    struct change change = {
        .target = target,
        .was = version_before(narration, stood, target),
        .is = version_after(narration, target),
        .why = why,
    };
    if (change.was.stands != change.is.stands) {
        tell_standing(narration, &change);
        return;
    }
    if (!change.is.stands)
        return;
    size_t told = narration->count;
    tell_members(narration, &change);
    if (narration->count == told && change.was.confirmed != change.is.confirmed) {
        struct confirmed confirmed = confirmations(narration, stood, target, target + 1);
        if (change.is.confirmed)
            tell_confirmed(narration, &confirmed);
        else
            tell_unconfirmed(narration, &confirmed);
    }
}

void narration_tell_correction(struct narration *narration)
{
    const struct event *event = narration_event(narration);
    bool stood[EVENTS_IN_BOUT_MAX];
    standing_of(narration->fold->bout->events, (size_t)narration->place, stood);
    if (event->type == EVENT_RESTART) {
        tell_restart(narration, true);
        return;
    }
    if (event->type == EVENT_CONFIRM) {
        tell_confirmation(narration, stood, narration->place, true);
        return;
    }
    if (event->type == EVENT_AMEND) {
        tell_change(narration, stood, event->ref, why_of(event));
        return;
    }
    int32_t root = root_of(narration, event->ref);
    const struct event *about_it = &narration->fold->bout->events[root];
    bool stands = narration_read(narration, root)->stands;
    if (stands == stood[root])
        return; /* another void, or a restart, holds it as it is */
    if (about_it->type == EVENT_RESTART)
        tell_restart(narration, stands);
    else if (about_it->type == EVENT_CONFIRM)
        tell_confirmation(narration, stood, root, stands);
    else if (about_it->type == EVENT_AMEND)
        tell_change(narration, stood, about_it->ref, why_of(event));
    else
        tell_change(narration, stood, root, why_of(event));
}
