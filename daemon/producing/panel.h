/* What a producer can put on air beside the bout line: the panels, what there is of each at a
 * moment, and how long each stays at least.
 *
 * What derives from points (who leads, what is needed, an ending) is not there while points wait
 * for their confirmation or a challenge is open, and nobody is called the winner before the result
 * stands. Source of the least times: published guidance for superimposed text (2 s and 0.2 s a
 * word, 3 s and 0.2 s from ten words on); 5 s for names are common practice, no source.
 * Pure: no clock, no I/O, no allocation. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "rules/side.h"
#include "stats/state.h"

#define PANELS(X)                                                                                  \
    X(PANEL_WHO, "who")         /* both names, clubs, and how they got here */                     \
    X(PANEL_ATTACKS, "attacks") /* tried and scored, by kind and by leg */                         \
    X(PANEL_WHY, "why")         /* why the leader leads: the criteria, step by step */             \
    X(PANEL_NEEDS, "needs")     /* what each side needs */                                         \
    X(PANEL_RESULT, "result")   /* with what it is worth */                                        \
    X(PANEL_MATS, "mats")       /* the other mats */                                               \
    X(PANEL_ORDER, "order")     /* the bouts that come on this mat */                              \
    X(PANEL_RESULTS, "results") /* the latest of the day */                                        \
    X(PANEL_TEXT, "text")       /* a free line */                                                  \
    X(PANEL_BACK, "back")       /* when it goes on */
enum panel {
    PANEL_NONE,
#define X(panel, name) panel,
    PANELS(X)
#undef X
        PANEL_COUNT
};
const char *panel_name(enum panel panel); /* "attacks"; "" for PANEL_NONE */
bool panel_read(const char *name, enum panel *panel);
/* It is about the bout that the mat shows: with the bout it goes. */
bool panel_is_of_bout(enum panel panel);
bool panel_takes_side(enum panel panel); /* may be of one side alone */

enum { PANEL_TEXT_MAX = 140, PANEL_TEXT_SIZE = PANEL_TEXT_MAX * 4 + 1, BOUT_ID_SIZE = 65 };

/* Which panel, of what. */
struct choice {
    enum panel panel;
    enum side side;             /* SIDE_NONE: both */
    char text[PANEL_TEXT_SIZE]; /* of PANEL_TEXT, and beside the time of PANEL_BACK */
    int64_t at_ms;              /* of PANEL_BACK */
};

/* Why a panel has nothing to show now. */
#define ABSENCES(X)                                                                                \
    X(ABSENT_NO_BOUT, "no_bout", "the mat shows no bout")                                          \
    X(ABSENT_UNCONFIRMED, "unconfirmed", "points wait for their confirmation")                     \
    X(ABSENT_UNDER_REVIEW, "under_review", "a challenge is open")                                  \
    X(ABSENT_NOT_YET, "not_yet", "there is nothing to say of it yet")                              \
    X(ABSENT_OVER, "over", "the bout is decided")                                                  \
    X(ABSENT_EMPTY, "empty", "nothing is written in it")                                           \
    X(ABSENT_MINORS, "minors", "minors wrestle, and nobody has made this day public")
enum absence {
    ABSENT_NOT, /* it is there */
#define X(absence, name, words) absence,
    ABSENCES(X)
#undef X
        ABSENCE_COUNT
};
const char *absence_name(enum absence absence);  /* "unconfirmed"; "" for ABSENT_NOT */
const char *absence_words(enum absence absence); /* one clause */

/* What is known of the rest of the hall. */
struct surroundings {
    bool is_private;             /* nothing may be shown at all */
    bool has_mats;               /* another mat shows a bout */
    bool has_order;              /* a bout is still to come on this mat, by the draw */
    bool has_results;            /* a result of the day stands */
    unsigned words[PANEL_COUNT]; /* of each panel, as it would be shown; figures count as words */
};

/* `state` is the bout's that the output's mat shows; NULL: it shows none. A free line and a time
 * are there when they are written: see choice_absence. */
enum absence panel_absence(enum panel panel, const struct state *state,
                           const struct surroundings *around);
enum absence choice_absence(const struct choice *choice, enum absence of_panel);
int64_t panel_least_ms(const struct choice *choice, unsigned words);
unsigned words_in(const char *text);

/* Attacks of a bout as far as they are sure: one that was finished by a score that waits for its
 * confirmation is left out until then. The `most` most tried techniques, and the rest together. */
enum { ATTACK_KINDS_MAX = 4 };
struct attack_kind {
    const char *technique; /* borrowed from the fold; NULL: all the others */
    int tried[2], scored[2];
};
struct sure_attacks {
    int tried[2], scored[2];
    struct attack_kind kinds[ATTACK_KINDS_MAX + 1];
    size_t kind_count;
    int leg_tried[3][2], leg_scored[3][2]; /* by enum leg */
};
struct sure_attacks sure_attacks_of(const struct fold *fold);

/* Why the leader leads: points first, then what the edition asks at a level score, down to what
 * decides. By what is confirmed. */
struct why_step {
    enum criterion by;
    int red, blue;  /* of BY_POINTS, BY_CAUTIONS, BY_TECHNIQUE */
    enum side side; /* whom it is for; SIDE_NONE: it separates nobody */
};
struct reasons {
    struct why_step steps[EDITION_CRITERIA_MAX + 1];
    size_t step_count;
};
struct reasons reasons_of(const struct state *state);
