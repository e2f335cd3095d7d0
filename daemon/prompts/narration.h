/* What the lines share: the sentence in hand, and the words that several of them say.
 * Inside daemon/prompts only. */
#pragma once
#include "prompts/language.h"
#include "prompts/lines.h"
#include "prompts/text.h"

struct narration {
    const struct language *language;
    const struct telling *before;
    const struct state *after;
    const struct fold *fold;
    int32_t place;             /* the event just read; EVENT_NONE: time alone */
    struct naming names, full; /* family names where given, and whole ones */
    struct line *lines;
    size_t count;
    struct text text; /* of the line in hand */
    bool cut;         /* one of them has no room for all its words */
};

/* The event that was just read, as it stands, or another of the bout. */
const struct event *narration_event(const struct narration *narration);
const struct read_event *narration_read(const struct narration *narration, int32_t place);

/* Begins another line; its first letter is a capital unless it is that of a name. */
void narration_begin(struct narration *narration, enum line_kind kind, enum side side);
void narration_say(struct narration *narration, enum phrase phrase, const struct fill *fills);
/* The same with whole names. */
void narration_say_full(struct narration *narration, enum phrase phrase, const struct fill *fills);

/* How the lead goes on from what was said: ", and leads" where it can (it is `side`'s own points),
 * ": Brandt leads", or as a sentence of its own. Nothing but the full stop while anything waits to
 * be confirmed or is under review. */
enum joining { JOIN_AND, JOIN_COLON, JOIN_SENTENCE };
void narration_lead(struct narration *narration, enum joining joining, enum side side);
bool narration_is_settled(const struct state *state);

/* " with 32 seconds left", in a period's last minute. */
void narration_time_left(struct narration *narration, const struct read_event *read);

/* An event as a thing: "the 2 for Brandt", "the caution of Haddad". */
enum { NOUN_SIZE = 200 };
const char *narration_noun(const struct narration *narration, const struct event *event,
                           char noun[NOUN_SIZE]);
/* Whose points those of an event are. */
enum side narration_giver(const struct event *event);

/* Whether an event is told, as what kind of line, and its sentence with what it makes of the lead.
 * The sentence begins no line: "corrected: " may stand before it. Notes, results, the clock and the
 * bout's details have sentences of their own (lines.c). */
bool narration_tells(const struct read_event *read);
enum line_kind narration_kind(const struct event *event);
void narration_tell(struct narration *narration, const struct read_event *read);
/* " from a low single on the lead leg": what a score came from, where it is known. */
bool narration_knows_hold(const struct fold *fold, const struct event *score);
void narration_tell_hold(struct narration *narration, const struct event *score);

/* Of lines.c. */
void narration_tell_note(struct narration *narration, const struct event *note);
void narration_tell_clock(struct narration *narration); /* a period begins, ends, or is put back */
void narration_tell_result(struct narration *narration, bool corrected);
/* Of corrections.c: what a confirm, void, amend or restart has changed. */
void narration_tell_correction(struct narration *narration);
