/* The sentences of one bout in the order in which they go out, and what has to wait.
 * A score is often keyed before its hold is known: its sentence waits for it, four seconds at most,
 * so that it is one sentence and not two. What comes meanwhile for that score (its hold, its
 * confirmation, a slip of keying) goes into the sentence; anything else that has something to say
 * sends it out first. Once out, a sentence never changes: what comes later is a short new one
 * (lines.h).
 * Pure: no clock, no I/O, no allocation; the time is the events' own. */
#pragma once
#include "prompts/lines.h"

enum { TELLER_WAIT_MS = 4000, TELLER_LINES_MAX = 2 * LINES_MAX };

struct teller {
    struct telling told; /* as the last event, told or waiting, left it */
    bool begun;
    bool waits; /* the rest is only set while one waits */
    bool alone; /* nothing else of the bout was unconfirmed when it was keyed */
    int32_t place;
    int64_t until_ms;
    struct telling before;
    struct line line;
};

/* Begin with {0}. Reads the event at `place`, the last that `after` has read, whose time has come
 * at `at_ms`; writes the lines that go out now, and answers how many. */
size_t teller_read(struct teller *teller, const struct language *language,
                   const struct state *after, size_t place, int64_t at_ms,
                   struct line lines[TELLER_LINES_MAX]);
/* The same for time alone: `after` is the state at `now_ms`. */
size_t teller_pass(struct teller *teller, const struct language *language,
                   const struct state *after, int64_t now_ms, struct line lines[TELLER_LINES_MAX]);
int64_t teller_next(const struct teller *teller); /* when a wait ends; INT64_MAX: nothing waits */
