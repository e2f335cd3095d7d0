/* One event of the log, read and checked member by member.
 * What each type has, which of it is required and what a value may be stands in one table in
 * event.c, after section 2 of docs/events.md. Two kinds of checks: of a member by itself
 * (event_read), and of an event as a whole in its bout (event_check), which an amended event must
 * pass again. Pure: what it needs comes with `struct event_scope`. */
#pragma once
#include <stdbool.h>
#include <stdint.h>
#include "rules/complaint.h"
#include "rules/edition.h"
#include "rules/side.h"
#include "rules/table.h"
#include "rules/value.h"

enum {
    EVENTS_IN_BOUT_MAX = 10000,
    EVENT_NONE = -1, /* a reference that names nothing */
    TECHNIQUES_MAX = 8,
    SETUPS_MAX = 4,
};

#define EVENT_TYPES(X)                                                                             \
    X(EVENT_BOUT, "bout")                                                                          \
    X(EVENT_CLOCK, "clock")                                                                        \
    X(EVENT_SCORE, "score")                                                                        \
    X(EVENT_ATTACK, "attack")                                                                      \
    X(EVENT_CAUTION, "caution")                                                                    \
    X(EVENT_PASSIVITY, "passivity")                                                                \
    X(EVENT_POSITION, "position")                                                                  \
    X(EVENT_CHALLENGE, "challenge")                                                                \
    X(EVENT_STOPPAGE, "stoppage")                                                                  \
    X(EVENT_CONFIRM, "confirm")                                                                    \
    X(EVENT_VOID, "void")                                                                          \
    X(EVENT_AMEND, "amend")                                                                        \
    X(EVENT_RESTART, "restart")                                                                    \
    X(EVENT_CLOSE, "close")                                                                        \
    X(EVENT_NOTE, "note")                                                                          \
    X(EVENT_ENTRY, "entry") /* from here on: types of the day, which carry no bout */              \
    X(EVENT_SLOT, "slot")                                                                          \
    X(EVENT_SESSION, "session")
enum event_type {
#define X(type, name) type,
    EVENT_TYPES(X)
#undef X
        EVENT_TYPE_COUNT,
    /* In a copy of a bout's log alone: an event that an audience never sees (access/delayed.h). It
     * doesn't stand, tells nothing and is in no list. */
    EVENT_HIDDEN = EVENT_TYPE_COUNT
};

/* clang-format off */
#define EVENT_MEMBERS(X) \
    X(ID, "id") X(TYPE, "type") X(BOUT, "bout") X(AT, "at") X(KEYED_AT, "keyed_at") X(SEQ, "seq") \
    X(BY, "by") X(PERIOD, "period") X(T_MS, "t_ms") X(RULES, "rules") X(RED, "red") \
    X(BLUE, "blue") X(MAT, "mat") X(NUMBER, "number") X(STYLE, "style") X(AGE_GROUP, "age_group") \
    X(WEIGHT, "weight") X(STAGE, "stage") X(SLOT, "slot") X(LENGTH, "length") X(CALL, "call") \
    X(OFF, "off") X(DO, "do") X(SIDE, "side") X(POINTS, "points") X(ACTION, "action") \
    X(TECHNIQUE, "technique") X(LEG, "leg") X(ATTACK, "attack") X(UNCONFIRMED, "unconfirmed") \
    X(BEFORE, "before") X(TECHNIQUES, "techniques") X(SETUP, "setup") X(OUTCOME, "outcome") \
    X(AFTER, "after") X(STOPPED_BY, "stopped_by") X(REASON, "reason") X(POSITION, "position") \
    X(TOP, "top") X(ORDERED, "ordered") X(CHOSEN_BY, "chosen_by") X(OF, "of") X(KIND, "kind") \
    X(REF, "ref") X(WHY, "why") X(SET, "set") X(UNSET, "unset") X(HOW, "how") X(WINNER, "winner") \
    X(SCORE, "score") X(CODE, "code") X(TEXT, "text") X(TO, "to") \
    /* of the day's types alone */ \
    X(ATHLETE, "athlete") X(NAME, "name") X(FAMILY, "family") X(GIVEN, "given") X(SAY, "say") \
    X(IPA, "ipa") X(CHECKED_BY, "checked_by") X(TEAM, "team") X(NOC, "noc") X(SEED, "seed") \
    X(FACTS, "facts") X(MINOR, "minor") X(CONSENT, "consent") X(OUT, "out") X(ORDER, "order") \
    X(STARTS_AT, "starts_at") X(SESSION, "session")
/* clang-format on */
enum event_member {
#define X(member, name) MEMBER_##member,
    EVENT_MEMBERS(X)
#undef X
        MEMBER_COUNT
};

/* Words; 0 is always "not given". The order is the table's in event.c. */
enum clock_do { CLOCK_START = 1, CLOCK_STOP, CLOCK_END, CLOCK_SET, CLOCK_LOST };
enum stoppage_do { STOPPAGE_START = 1, STOPPAGE_STOP };
enum leg { LEG_NONE, LEG_LEAD, LEG_TRAIL };
const char *leg_name(enum leg leg); /* "lead"; "" for LEG_NONE */
enum attack_outcome {
    ATTACK_OPEN = 1,
    ATTACK_SCORED,
    ATTACK_STOPPED,
    ATTACK_COUNTERED,
    ATTACK_OUT,
    ATTACK_STALEMATE,
    ATTACK_SLIPPED
};
enum challenge_outcome { CHALLENGE_ASKED = 1, CHALLENGE_UPHELD, CHALLENGE_REJECTED };
enum passivity_stage { PASSIVITY_WARNING = 1, PASSIVITY_ACTIVITY, PASSIVITY_PENALTY };
enum position { POSITION_STANDING = 1, POSITION_PAR_TERRE };
enum stoppage_kind {
    STOPPAGE_INJURY = 1,
    STOPPAGE_BLOOD,
    STOPPAGE_REVIEW,
    STOPPAGE_CONFERENCE,
    STOPPAGE_OTHER
};
enum why { WHY_KEYING = 1, WHY_OFFICIALS, WHY_CHALLENGE };
enum note_to { NOTE_TO_BOOTH = 1, NOTE_TO_PUBLIC };

struct name_list {
    unsigned count;
    const char *names[TECHNIQUES_MAX];
};

struct person { /* NULL where it wasn't given; `name` always is */
    const char *name, *family, *given, *say, *team, *noc, *athlete;
};

/* A bout's details, as a `bout` event gives them; lengths are the edition's where it gives none. */
struct details {
    const struct edition *edition;
    const struct age_group *age_group;
    struct person sides[2]; /* side_index() */
    const char *mat, *number, *style, *age_group_name, *weight, *stage, *slot;
    int periods;
    int32_t period_ms, break_ms;
    bool call, off;
};

/* An event. A member that wasn't given is 0, NULL or EVENT_NONE; `given` tells for those of the
 * bout's types. Text is borrowed from `document`. */
struct event {
    enum event_type type;
    uint64_t given; /* bit MEMBER_x */
    int64_t at_ms, keyed_at_ms;
    int64_t moment_ms; /* set by the log: section 1, "an event's moment" */
    uint64_t seq;      /* from 1, over the whole log; set by the log */
    int32_t period, t_ms;
    int32_t points;
    int32_t ref, attack, after, of, before; /* places in the bout's log, from 0 */
    uint8_t side, winner, top, chosen_by;   /* enum side */
    uint8_t what;                           /* enum clock_do or stoppage_do */
    uint8_t outcome;                        /* enum attack_outcome or challenge_outcome */
    uint8_t stage, position, kind, leg, why, to;
    const char *id, *by;
    const char *action, *technique, *reason, *stopped_by, *how, *code, *text;
    const struct name_list *techniques, *setup;
    int64_t sheet[2];              /* a close's score, as on the officials' sheet */
    const struct details *details; /* of a `bout` event */
    const struct event *set;       /* of an `amend`: its members, of the target's type */
    uint64_t unset;                /* of an `amend`: bits MEMBER_x */
    const struct value *document;  /* the event as it came */
};

static inline bool event_gives(const struct event *event, enum event_member member)
{
    return (event->given >> member & 1u) != 0;
}

const char *event_type_name(enum event_type type);
const char *event_member_name(enum event_member member);
static inline bool event_is_of_day(enum event_type type)
{
    return type >= EVENT_ENTRY;
}
/* The word as it stands on the wire: event_word(type, MEMBER_OUTCOME, event->outcome). "" for 0. */
const char *event_word(enum event_type type, enum event_member member, unsigned word);

/* An event that the log already has, found by its id. */
struct known_event {
    const struct bout *bout; /* NULL: a type of the day */
    int32_t place;           /* in the bout's log, from 0 */
    size_t day_place;        /* of a type of the day: in the log's list of those */
    enum event_type type;
    uint64_t seq;
    const struct value *document;
};

/* What an event is read against; all of it borrowed. */
struct event_scope {
    const struct editions *editions;
    const struct table *known; /* of struct known_event */
    const struct bout *bout;   /* NULL for a type of the day, and for a bout's first event */
    struct arena *arena;       /* where lists and details go */
    bool in_log;               /* `at` is required */
};

/* Reads one event; its type must be known already (event_type_of). False: refused, or, with `why`
 * ACCEPTED, no memory. Doesn't set moment and seq, and leaves `set` of an amend alone. */
bool event_read(struct event *event, const struct value *document, const struct event_scope *scope,
                struct complaint *complaint);
/* Reads what an amend sets and unsets, members of `target`'s type, into `set` and `unset`. */
bool event_read_amendment(struct event *amend, const struct event *target,
                          const struct event_scope *scope, struct complaint *complaint);
/* Finds the type, and that `id` and (where it must be) `bout` are there and well formed. */
bool event_type_of(const struct value *document, enum event_type *type,
                   struct complaint *complaint);

/* The event with one amendment more: members copied from `set`, then `unset` taken away. */
void event_amend(struct event *event, const struct event *set, uint64_t unset);
/* The checks of a whole event against the bout's details. */
bool event_check(const struct event *event, const struct details *details,
                 struct complaint *complaint);
