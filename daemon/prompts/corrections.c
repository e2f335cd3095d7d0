/* What a correction has changed, told by comparing the event that it is about with what it was
 * before: whether it stands, whether it is confirmed, and its members. A correction of a correction
 * comes down to the same question, whatever the chain of voids that led to it. */
#include <string.h>
#include "prompts/story.h"
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

static bool was_confirmed(const struct story *story, const bool *stood, int32_t target,
                          const struct event *event)
{
    const struct event *events = story->fold->bout->events;
    if (!event_gives(event, MEMBER_UNCONFIRMED))
        return true;
    for (int32_t i = target + 1; i < story->place; i++)
        if (stood[i] && covers(&events[i], target))
            return true;
    return false;
}

/* As it was after the first `place` events; `stood` says which of them stood then. */
static struct version version_before(const struct story *story, const bool *stood, int32_t target)
{
    const struct event *events = story->fold->bout->events;
    struct version version = {.stands = stood[target], .event = events[target]};
    for (int32_t i = target + 1; i < story->place; i++)
        if (stood[i] && events[i].type == EVENT_AMEND && events[i].ref == target)
            event_amend(&version.event, events[i].set, events[i].unset);
    version.confirmed = was_confirmed(story, stood, target, &version.event);
    return version;
}

static struct version version_after(const struct story *story, int32_t target)
{
    const struct read_event *read = story_read(story, target);
    return (struct version){read->stands, read->confirmed, *read->event};
}

/* The event that a chain of voids is about in the end. */
static int32_t root_of(const struct story *story, int32_t ref)
{
    const struct event *events = story->fold->bout->events;
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
static void end_correction(struct story *story, const struct event *event)
{
    if (gives_points(event))
        story_lead(story, JOIN_SENTENCE, SIDE_NONE);
    else
        story_say(story, LINE_STOP, NULL);
}

static enum side about(const struct event *event)
{
    return event->type == EVENT_SCORE ? story_giver(event) : (enum side)event->side;
}

static bool was_told(const struct story *story, int32_t target, const struct event *event)
{
    struct read_event read = *story_read(story, target);
    read.event = event;
    return story_tells(&read);
}

static void tell_standing(struct story *story, const struct change *change)
{
    const struct event *event = change->is.stands ? &change->is.event : &change->was.event;
    char noun[NOUN_SIZE];
    if (event->type == EVENT_CLOCK) {
        story_tell_clock(story);
        return;
    }
    if (!was_told(story, change->target, event))
        return;
    if (change->is.stands && event->type == EVENT_CLOSE) {
        story_tell_result(story, true);
        return;
    }
    bool asked = event->type == EVENT_CHALLENGE && event->outcome == CHALLENGE_ASKED;
    enum phrase back = by_why(change->why, LINE_BACK, LINE_BACK_OFFICIALS, LINE_BACK_CHALLENGE);
    enum phrase out = by_why(change->why, LINE_OUT, LINE_OUT_OFFICIALS, LINE_OUT_CHALLENGE);
    story_begin(story, LINE_CORRECTION, about(event));
    story_say(story,
              change->is.stands ? back
              : asked           ? LINE_OUT_ASKED
                                : out,
              FILLS({"noun", .text = story_noun(story, event, noun)}));
    if (change->is.stands && !change->is.confirmed)
        story_say(story, LINE_NOT_CONFIRMED, NULL);
    else
        end_correction(story, event);
}

/* ---- changed ---- */

static void say_anew(struct story *story, enum why why)
{
    story_say(story, by_why(why, LINE_ANEW, LINE_ANEW_OFFICIALS, LINE_ANEW_CHALLENGE), NULL);
}

static void tell_anew(struct story *story, const struct change *change)
{
    const struct read_event *read = story_read(story, change->target);
    if (!story_tells(read))
        return;
    story_begin(story, LINE_CORRECTION, about(read->event));
    say_anew(story, change->why);
    story_tell(story, read);
}

static bool points_differ(const struct change *change)
{
    return change->was.event.points != change->is.event.points ||
           story_giver(&change->was.event) != story_giver(&change->is.event);
}

/* "Corrected: the 4 for Brandt is a 2." "Corrected: 2 to Haddad, not 4 to Brandt." */
static void tell_points(struct story *story, const struct change *change)
{
    const struct event *was = &change->was.event, *is = &change->is.event;
    enum side giver = story_giver(is);
    char noun[NOUN_SIZE];
    story_begin(story, LINE_CORRECTION, giver);
    if (giver == story_giver(was))
        story_say(story,
                  by_why(change->why, LINE_POINTS, LINE_POINTS_OFFICIALS, LINE_POINTS_CHALLENGE),
                  FILLS({"noun", .text = story_noun(story, was, noun)}, {"n", .number = is->points}));
    else
        story_say(story,
                  by_why(change->why, LINE_SIDES, LINE_SIDES_OFFICIALS, LINE_SIDES_CHALLENGE),
                  FILLS({"n", .number = is->points}, {"m", .number = was->points},
                        {"S", .side = giver}, {"O", .side = side_other(giver)}));
    if (change->is.confirmed)
        story_lead(story, JOIN_SENTENCE, SIDE_NONE);
    else
        story_say(story, LINE_NOT_CONFIRMED, NULL);
}

static bool had_hold(const struct story *story, const struct event *score)
{
    return score->technique != NULL || (event_gives(score, MEMBER_ATTACK) &&
                                        story_read(story, score->attack)->stands);
}

static void tell_score_change(struct story *story, const struct change *change)
{
    const struct event *was = &change->was.event, *is = &change->is.event;
    char noun[NOUN_SIZE];
    if (points_differ(change)) {
        tell_points(story, change);
    } else if (strcmp(was->action, is->action) != 0) {
        tell_anew(story, change);
    } else if (!had_hold(story, was) && story_has_hold(story, is)) {
        story_begin(story, LINE_SCORE, about(is));
        story_say(story, LINE_CAME_FROM, FILLS({"noun", .text = story_noun(story, is, noun)}));
        story_tell_hold(story, is);
        story_say(story, LINE_STOP, NULL);
    }
}

static bool same_name(const char *one, const char *other)
{
    return one == other || (one != NULL && other != NULL && strcmp(one, other) == 0);
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
static void tell_attack_details(struct story *story, const struct event *was,
                                const struct event *is)
{
    bool leg = was->leg == LEG_NONE && is->leg != LEG_NONE;
    bool by = was->stopped_by == NULL && is->stopped_by != NULL && is->outcome == ATTACK_STOPPED;
    char hold[WORDS_SIZE], defence[WORDS_SIZE];
    if (!leg && !by)
        return;
    story_begin(story, LINE_ATTACK, (enum side)is->side);
    story_say(story,
              !leg ? LINE_ATTACK_BY
              : by ? LINE_ATTACK_LEG_BY
                   : LINE_ATTACK_LEG,
              FILLS({"hold", .text = english_technique(is->techniques->names[0], hold)},
                    {"S", .side = (enum side)is->side},
                    {"leg", .text = english_leg((enum leg)is->leg)},
                    {"defence",
                     .text = is->stopped_by != NULL ? english_defence(is->stopped_by, defence)
                                                    : ""}));
}

static void tell_attack_change(struct story *story, const struct change *change)
{
    const struct event *was = &change->was.event, *is = &change->is.event;
    const struct read_event *read = story_read(story, change->target);
    bool told = was_told(story, change->target, was);
    if (same_attack(was, is)) {
        if (told || read->named_by_own)
            tell_attack_details(story, was, is);
    } else if (told) {
        tell_anew(story, change);
    } else if (story_tells(read)) { /* it was open, and now it is known what came of it */
        story_begin(story, LINE_ATTACK, (enum side)is->side);
        story_tell(story, read);
    }
}

static bool same_call(const struct event *one, const struct event *other)
{
    return one->side == other->side && one->points == other->points &&
           one->stage == other->stage && one->outcome == other->outcome &&
           one->position == other->position && one->top == other->top &&
           one->chosen_by == other->chosen_by && one->kind == other->kind &&
           one->what == other->what && same_name(one->reason, other->reason);
}

static bool same_result(const struct event *one, const struct event *other)
{
    return strcmp(one->how, other->how) == 0 && one->winner == other->winner &&
           one->sheet[0] == other->sheet[0] && one->sheet[1] == other->sheet[1] &&
           one->t_ms == other->t_ms && one->period == other->period &&
           same_name(one->code, other->code);
}

static void tell_members(struct story *story, const struct change *change)
{
    const struct event *was = &change->was.event, *is = &change->is.event;
    switch (is->type) {
    case EVENT_SCORE:
        tell_score_change(story, change);
        break;
    case EVENT_ATTACK:
        tell_attack_change(story, change);
        break;
    case EVENT_CAUTION:
    case EVENT_PASSIVITY:
    case EVENT_POSITION:
    case EVENT_CHALLENGE:
    case EVENT_STOPPAGE:
        if (!same_call(was, is))
            tell_anew(story, change);
        break;
    case EVENT_CLOSE:
        if (!same_result(was, is) && story->fold->close == change->target)
            story_tell_result(story, true);
        break;
    case EVENT_NOTE:
        if (is->to != was->to || strcmp(is->text, was->text) != 0)
            story_tell_note(story, is);
        break;
    case EVENT_CLOCK:
        story_tell_clock(story);
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

static struct confirmed confirmations(const struct story *story, const bool *stood, int32_t from,
                                      int32_t to)
{
    struct confirmed confirmed = {.one = EVENT_NONE};
    for (int32_t i = from; i < to; i++) {
        const struct read_event *read = story_read(story, i);
        if (!stood[i] || !read->stands)
            continue;
        struct version was = version_before(story, stood, i);
        if (was.confirmed == read->confirmed)
            continue;
        if (read->event->type == EVENT_CLOSE) {
            confirmed.result = confirmed.result || story->fold->close == i;
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
static enum phrase confirmed_phrase(const struct story *story, const struct confirmed *confirmed,
                                    const struct event *one)
{
    bool named = story_is_settled(story->after) && story->after->phase != PHASE_CLOSED &&
                 story->after->leader.side == story_giver(one);
    if (confirmed->points > 1)
        return LINE_CONFIRMED_POINTS;
    if (confirmed->points == 1)
        return one->type == EVENT_SCORE && named ? LINE_CONFIRMED_OWN : LINE_CONFIRMED_ONE;
    return confirmed->calls == 1 ? LINE_CONFIRMED_ONE : LINE_CONFIRMED_CALLS;
}

static void tell_confirmed(struct story *story, const struct confirmed *confirmed)
{
    int all = confirmed->points + confirmed->calls;
    char noun[NOUN_SIZE];
    if (all > 0) {
        const struct event *one = story_read(story, confirmed->one)->event;
        enum side side = confirmed->points == 1 ? story_giver(one)
                         : all == 1             ? (enum side)one->side
                                                : SIDE_NONE;
        story_begin(story, confirmed->points > 0 ? LINE_SCORE : LINE_REFEREE, side);
        story_say(story, confirmed_phrase(story, confirmed, one),
                  FILLS({"noun", .text = story_noun(story, one, noun)},
                        {"n", .number = one->points}));
        if (confirmed->points > 0)
            story_lead(story, JOIN_COLON, confirmed->points == 1 ? side : SIDE_NONE);
        else
            story_say(story, LINE_STOP, NULL);
    }
    if (confirmed->result)
        story_tell_result(story, false);
}

static void tell_unconfirmed(struct story *story, const struct confirmed *confirmed)
{
    int all = confirmed->points + confirmed->calls;
    char noun[NOUN_SIZE];
    if (all > 0) {
        const struct event *one = story_read(story, confirmed->one)->event;
        story_begin(story, LINE_CORRECTION, all == 1 ? about(one) : SIDE_NONE);
        story_say(story, all == 1 ? LINE_UNCONFIRMED_ONE : LINE_UNCONFIRMED_SOME,
                  FILLS({"noun", .text = story_noun(story, one, noun)}));
    }
    if (confirmed->result)
        story_tell_result(story, true);
}

/* Everything that the confirm covers; nothing where it changes nothing. */
static void tell_confirmation(struct story *story, const bool *stood, int32_t confirm, bool stands)
{
    const struct event *event = &story->fold->bout->events[confirm];
    bool named = event_gives(event, MEMBER_REF);
    struct confirmed confirmed =
        confirmations(story, stood, named ? event->ref : 0, named ? event->ref + 1 : confirm);
    if (stands)
        tell_confirmed(story, &confirmed);
    else
        tell_unconfirmed(story, &confirmed);
}

/* ---- the bout anew ---- */

static void tell_restart(struct story *story, bool stands)
{
    story_begin(story, LINE_CORRECTION, SIDE_NONE);
    story_say(story, stands ? LINE_RESTART : LINE_RESTART_BACK, NULL);
    if (!stands)
        story_lead(story, JOIN_SENTENCE, SIDE_NONE);
}

/* ---- one correction ---- */

static void tell_change(struct story *story, const bool *stood, int32_t target, enum why why)
{
    struct change change = {
        .target = target,
        .was = version_before(story, stood, target),
        .is = version_after(story, target),
        .why = why,
    };
    if (change.was.stands != change.is.stands) {
        tell_standing(story, &change);
        return;
    }
    if (!change.is.stands)
        return;
    size_t told = story->count;
    tell_members(story, &change);
    if (story->count == told && change.was.confirmed != change.is.confirmed) {
        struct confirmed confirmed = confirmations(story, stood, target, target + 1);
        if (change.is.confirmed)
            tell_confirmed(story, &confirmed);
        else
            tell_unconfirmed(story, &confirmed);
    }
}

void story_tell_correction(struct story *story)
{
    const struct event *event = story_event(story);
    bool stood[EVENTS_IN_BOUT_MAX];
    standing_of(story->fold->bout->events, (size_t)story->place, stood);
    if (event->type == EVENT_RESTART) {
        tell_restart(story, true);
        return;
    }
    if (event->type == EVENT_CONFIRM) {
        tell_confirmation(story, stood, story->place, true);
        return;
    }
    if (event->type == EVENT_AMEND) {
        tell_change(story, stood, event->ref, why_of(event));
        return;
    }
    int32_t root = root_of(story, event->ref);
    const struct event *about_it = &story->fold->bout->events[root];
    bool stands = story_read(story, root)->stands;
    if (stands == stood[root])
        return; /* another void, or a restart, holds it as it is */
    if (about_it->type == EVENT_RESTART)
        tell_restart(story, stands);
    else if (about_it->type == EVENT_CONFIRM)
        tell_confirmation(story, stood, root, stands);
    else if (about_it->type == EVENT_AMEND)
        tell_change(story, stood, about_it->ref, why_of(event));
    else
        tell_change(story, stood, root, why_of(event));
}
