/* The day around a bout, as plain values: who the two are by the roster, how they came here, where
 * winner and loser go, their teams, the other mats, an upset, what comes next. Whoever knows the
 * day fills it in (service/around.c) and hands it to the cards, which know nothing of where it
 * comes from. For the booth alone: nothing here is withheld. Pure. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "rules/side.h"

enum { AROUND_FACTS_MAX = 3, AROUND_MATS_MAX = 8 };

struct around_next { /* a bout to come; texts NULL where it isn't known */
    bool known;
    const char *stage, *against;
    int64_t from_ms; /* the earliest that it is expected to start; 0: nothing is known */
};

struct around_side {
    const char *facts[AROUND_FACTS_MAX]; /* as the commentator wrote them */
    size_t fact_count;
    int seed;      /* 0: none */
    int won, lost; /* earlier today */
    struct {
        const char *against, *how; /* NULL: there was none */
        int points[2];             /* own, the other's */
        bool won;
    } last;
    struct around_next next; /* the next bout of this side, once this one is decided */
    int place;               /* in the weight; 0: not decided */
    struct {
        const char *name; /* NULL: none, or it has no result yet */
        int place, points, won, lost;
    } team;
};

struct around_mat { /* another mat, with what is confirmed of the bout that it shows */
    const char *mat, *bout, *names[2];
    int points[2];
    enum side leader; /* SIDE_NONE: nobody */
    const char *how;  /* NULL: it goes on; then `leader` has won */
};

struct around_upset { /* a result against the seeds */
    const char *bout, *winner, *loser, *how;
    int loser_seed;
    int points[2]; /* the winner's first */
    int64_t at_ms;
};

struct around {
    struct around_side sides[2];
    struct around_next winner_to, loser_to; /* by the draw, whoever wins */
    struct around_mat mats[AROUND_MATS_MAX];
    size_t mat_count;
    struct around_upset upset; /* the latest; `bout` NULL: none */
    struct {
        const char *names[2]; /* NULL: not both are known */
        int64_t from_ms;
    } next_here; /* the next bout of this mat */
};
