/* What the lines share: the sentence in hand, and the words that several of them say.
 * Inside daemon/prompts only. */
#pragma once
#include "prompts/english.h"
#include "prompts/lines.h"
#include "prompts/text.h"

struct story {
    const struct telling *before;
    const struct state *after;
    const struct fold *fold;
    int32_t place; /* the event just read; EVENT_NONE: time alone */
    struct naming names, full; /* family names where given, and whole ones */
    struct line *lines;
    size_t count;
    struct text text; /* of the line in hand */
    bool cut;         /* one of them has no room for all its words */
};

/* The event that was just read, as it stands, or another of the bout. */
const struct event *story_event(const struct story *story);
const struct read_event *story_read(const struct story *story, int32_t place);

/* Begins another line; its first letter is a capital unless it is that of a name. */
void story_begin(struct story *story, enum line_kind kind, enum side side);
void story_say(struct story *story, enum phrase phrase, const struct fill *fills);
/* The same with whole names. */
void story_say_full(struct story *story, enum phrase phrase, const struct fill *fills);

/* How the lead goes on from what was said: ", and leads" where it can (it is `side`'s own points),
 * ": Brandt leads", or as a sentence of its own. Nothing but the full stop while anything waits to
 * be confirmed or is under review. */
enum joining { JOIN_AND, JOIN_COLON, JOIN_SENTENCE };
void story_lead(struct story *story, enum joining joining, enum side side);
bool story_is_settled(const struct state *state);

/* " with 32 seconds left", in a period's last minute. */
void story_time_left(struct story *story, const struct read_event *read);

/* An event as a thing: "the 2 for Brandt", "the caution of Haddad". */
enum { NOUN_SIZE = 200 };
const char *story_noun(const struct story *story, const struct event *event, char noun[NOUN_SIZE]);
/* Whose points those of an event are. */
enum side story_giver(const struct event *event);

/* Whether an event is told, as what kind of line, and its sentence with what it makes of the lead.
 * The sentence begins no line: "corrected: " may stand before it. Notes, results, the clock and the
 * bout's details have sentences of their own (lines.c). */
bool story_tells(const struct read_event *read);
enum line_kind story_kind(const struct event *event);
void story_tell(struct story *story, const struct read_event *read);
/* " from a low single on the lead leg": what a score came from, where it is known. */
bool story_has_hold(const struct story *story, const struct event *score);
void story_tell_hold(struct story *story, const struct event *score);

/* Of lines.c. */
void story_tell_note(struct story *story, const struct event *note);
void story_tell_clock(struct story *story);  /* a period begins, ends, or is put back */
void story_tell_result(struct story *story, bool corrected);
/* Of corrections.c: what a confirm, void, amend or restart has changed. */
void story_tell_correction(struct story *story);
