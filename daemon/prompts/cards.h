/* Prompt cards: what a commentator might say just now, one fact a card.
 * Three fixed places: what concerns red (0), what concerns blue (1), and the bout (2): score and
 * time, the leader and why, the referee's book. Each place has at most one card, the one of most
 * use at this moment; an empty place is a good answer.
 * A card says what happened, or what the rules make of it, never what a side should do. Nothing is
 * said on what waits to be confirmed; while a challenge is open only the rulings that can come of
 * it, and nothing while the officials look at the recording otherwise; no percentages, no leg
 * attacks in Greco-Roman. What stands around the bout (who they are, what the result means, the
 * other mats) is said while nothing is wrestled: before the start, in the break, in a long
 * stoppage, and after the result; once it is over nothing but that and the summary is. The rules
 * stand in one table in cards.c, with the source of each. Pure: a function of the state, the past
 * and the language alone; no allocation (some 50 kB of the stack). */
#pragma once
#include "prompts/around.h"
#include "prompts/language.h"
#include "prompts/past.h"
#include "stats/rulings.h"
#include "stats/state.h"

enum {
    CARD_PLACES = 3,
    CARD_HEADLINE_CHARACTERS = 30, /* code points; a glance is at most two seconds */
    CARD_HEADLINE_WORDS = 6,
    CARD_LINE_CHARACTERS = 100,
    CARD_EVIDENCE_MAX = 12, /* the newest, where a fact rests on more */
    CARD_FIGURES_MAX = 2,
};

enum card_kind {
    CARD_TIME,
    CARD_NEEDS,
    CARD_LEADER,
    CARD_PATTERN,
    CARD_REFEREE,
    CARD_PAST,      /* of the archive */
    CARD_RULING,    /* what can come of the open challenge */
    CARD_WHO,       /* who they are, and how they came here */
    CARD_MEANS,     /* what the result means, or would */
    CARD_ELSEWHERE, /* the other mats, and what comes next */
    CARD_RECAP,     /* the bout so far, or all of it */
};
const char *card_kind_name(enum card_kind kind); /* "pattern" */

struct card_figure {  /* of the archive, that a card rests on */
    const char *name; /* "bouts" */
    int number;
};

struct card {
    char id[48]; /* names the fact: the same id says the same words. "": the place is empty */
    enum card_kind kind;
    enum side side; /* SIDE_NONE: of neither */
    char headline[4 * CARD_HEADLINE_CHARACTERS + 1];
    char line[4 * CARD_LINE_CHARACTERS + 1]; /* "": the headline says it all */
    int32_t evidence[CARD_EVIDENCE_MAX];     /* places of the events that it rests on */
    size_t evidence_count;
    struct card_figure figures[CARD_FIGURES_MAX];
    size_t figure_count;
    int64_t since_ms; /* the moment at which it came to be so */
    const char *bout; /* another one, that it tells of; NULL: it tells of this one */
    int rule;         /* its number in the table of cards.c; 0: a reminder of score and time */
};

/* Writes all three places; answers how many hold a card. `past`, `around`: NULL where nothing is
 * known. `next_ms` is the moment at which the cards may change by time alone, the state's own
 * changes included; INT64_MAX: they don't. */
size_t cards_of(const struct language *language, const struct state *state, const struct past *past,
                const struct around *around, struct card cards[CARD_PLACES], int64_t *next_ms);
/* What one rule says of a side now, whether or not another card takes its place. What is of neither
 * side is said of red. False: nothing. */
bool card_by_rule(const struct language *language, const struct state *state,
                  const struct past *past, const struct around *around, int number, enum side side,
                  struct card *card);

/* Every ruling that can come of the open challenge, in words as on a card. Answers how many. */
struct told_ruling {
    struct ruling ruling;
    char headline[4 * CARD_HEADLINE_CHARACTERS + 1];
    char line[4 * CARD_LINE_CHARACTERS + 1];
};
size_t rulings_told(const struct language *language, const struct state *state,
                    struct told_ruling told[RULINGS_MAX]);
