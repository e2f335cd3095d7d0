/* What is wrong with an input, in words for its sender: the kind, the place, one sentence.
 * Refusals are expected and change nothing; a failure of memory is no refusal. */
#pragma once
#include <stdbool.h>
#include <stddef.h>

#define REFUSALS(X)                                                                                \
    X(REFUSED_NOT_JSON, "not a JSON object")                                                       \
    X(REFUSED_MEMBER_UNKNOWN, "a member that this type doesn't have")                              \
    X(REFUSED_MEMBER_MISSING, "a required member is missing")                                      \
    X(REFUSED_MEMBER_TYPE, "a member of another JSON type")                                        \
    X(REFUSED_MEMBER_VALUE, "a value that isn't allowed there")                                    \
    X(REFUSED_TYPE, "an unknown event type")                                                       \
    X(REFUSED_ID_REUSED, "this id already has other content")                                      \
    X(REFUSED_BOUT, "no bout of that id has been called")                                          \
    X(REFUSED_EDITION, "no edition of that name is known")                                         \
    X(REFUSED_REF, "it names no earlier event of this bout")                                       \
    X(REFUSED_REF_TYPE, "it names an event that it can't be about")                                \
    X(REFUSED_POINTS, "points or an action that the edition doesn't have")                         \
    X(REFUSED_TIME, "a bout time beyond the bout's periods")                                       \
    X(REFUSED_WINNER, "the ending and the winner don't go together")                               \
    X(REFUSED_TOO_MANY, "the bout has all the events that it can hold")                            \
    X(REFUSED_LOST, "only the daemon itself can say that it lost the clock")                       \
    X(REFUSED_RULES, "not a valid edition")                                                        \
    X(REFUSED_ROSTER, "not a valid roster")
enum refusal {
    ACCEPTED,
#define X(code, text) code,
    REFUSALS(X)
#undef X
        REFUSAL_COUNT
};

struct complaint { /* the caller's memory; written only on refusal */
    enum refusal why;
    size_t line;      /* from 1; 0: a single event was sent */
    char pointer[96]; /* RFC 6901, "/side"; "" is the whole event */
    char detail[240]; /* one sentence: what was found, what would do */
};

const char *refusal_title(enum refusal why); /* "a required member is missing" */
/* The short name that stands in a problem's `type`: "member-missing". */
const char *refusal_name(enum refusal why);

/* Writes the complaint (its line is kept) and answers false, for `return complain(…)`.
 * `pointer` and `detail` are cut to their room; `detail` is a printf format. */
bool complain(struct complaint *complaint, enum refusal why, const char *pointer,
              const char *detail, ...) __attribute__((format(printf, 4, 5)));
