/* What an output sees at a moment: as much of its mat's bout as producing rests on. Kept beside
 * what is prepared, it tells what has changed since. Pure: no clock, no I/O, no allocation. */
#pragma once
#include "producing/panel.h"

enum { CHANGE_WORDS_SIZE = 400 };

struct seen {                /* of the bout that the mat shows */
    char bout[BOUT_ID_SIZE]; /* "": none */
    uint64_t seq;            /* its last event */
    int points[2], unconfirmed[2];
    struct leader leader; /* by what is confirmed */
    enum phase phase;
    bool under_review, result; /* a result stands */
};

struct situation {
    int64_t now_ms; /* the real moment, whatever the delay */
    struct seen seen;
    uint64_t called_seq; /* of the event that called the bout */
    bool level;          /* by what is confirmed */
    enum absence absent[PANEL_COUNT];
    unsigned words[PANEL_COUNT];
};

/* `state` NULL: the mat shows no bout. */
struct situation situation_of(const struct state *state, const struct surroundings *around,
                              int64_t now_ms);
bool seen_differs(const struct seen *one, const struct seen *other);
/* What has changed, as one sentence of clauses: "red 2 to 6, not confirmed; blue leads no more". ""
 * where nothing has that a viewer would see. Answers whether there is something. */
bool seen_changes(const struct seen *was, const struct seen *is, char words[CHANGE_WORDS_SIZE]);
