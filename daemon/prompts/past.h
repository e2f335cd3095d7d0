/* What the archive knows of a bout's two sides, as plain values: asked when the bout is called, of
 * the bouts called before it, and handed to the cards. Whoever asks an archive fills it; the cards
 * know nothing of where it comes from. All are counts with their bases. Pure. */
#pragma once
#include <stddef.h>
#include <stdint.h>
#include "rules/side.h"

struct past_share { /* `won` of `bouts` */
    int bouts, won;
};

struct past_note { /* the booth's, on this athlete in an earlier bout */
    const char *text, *bout, *against;
    int64_t called_at_ms; /* that bout */
};

struct past_side {
    struct past_share scored_first; /* bouts that somebody won, in which it scored first */
    int late_scores, late_bouts;    /* today, before this bout: in the last 30 s of a period */
    const struct past_note *notes;  /* the latest first; the page's, no card is made of them */
    size_t note_count;
};

/* How often a side that was behind so much, with so many full minutes gone, has won: in bouts of
 * this one's style and length. `behind` 0: level, and behind by the criteria. */
struct past_position {
    int minutes, behind;
    struct past_share share;
};

struct past_meetings { /* of the two; by this bout's sides */
    int bouts, won[2];
    int last_points[2];
    enum side last_winner; /* SIDE_NONE: nobody */
    const char *last_how;  /* an ending's name; NULL: it has no result */
};

struct past {
    struct past_side sides[2];
    struct past_meetings meetings;
    const struct past_position *positions;
    size_t position_count;
};
