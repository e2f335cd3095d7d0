#include "stats/leader.h"

static enum side more(int red, int blue)
{
    return red > blue ? SIDE_RED : blue > red ? SIDE_BLUE : SIDE_NONE;
}

/* More of the highest value; where equal, of the next one down. */
static enum side by_holds(const struct tally *red, const struct tally *blue)
{
    for (int value = EDITION_VALUE_MAX; value > 0; value--)
        if (red->holds[value] != blue->holds[value])
            return more(red->holds[value], blue->holds[value]);
    return SIDE_NONE;
}

enum side separated_by(enum criterion by, const struct tallies *tallies)
{
    const struct tally *red = &tallies->sides[0], *blue = &tallies->sides[1];
    switch (by) {
    case BY_HOLDS:
        return by_holds(red, blue);
    case BY_CAUTIONS:
        return more(blue->cautions, red->cautions);
    case BY_LAST_POINT:
        return tallies->last_point;
    case BY_FIRST_POINT:
        return tallies->first_point;
    case BY_TECHNIQUE:
        return more(red->by_technique > 0, blue->by_technique > 0);
    case BY_POINTS:
        return more(red->points, blue->points);
    case BY_NOTHING:
        break;
    }
    return SIDE_NONE;
}

static bool holds_here(const struct tie_clause *clause, const struct tallies *tallies)
{
    const struct tally *red = &tallies->sides[0], *blue = &tallies->sides[1];
    int cautions = red->cautions + blue->cautions;
    int sides = (red->by_technique > 0) + (blue->by_technique > 0);
    if (clause->score != EDITION_NONE && clause->score != red->points)
        return false;
    if (clause->cautions_least != EDITION_NONE &&
        (cautions < clause->cautions_least || cautions > clause->cautions_most))
        return false;
    return clause->by_technique == EDITION_NONE || clause->by_technique == sides;
}

static struct leader leader_by_clause(const struct tie_clause *clause,
                                      const struct tallies *tallies)
{
    for (const enum criterion *by = clause->order; *by != BY_NOTHING; by++) {
        enum side side = separated_by(*by, tallies);
        if (side != SIDE_NONE)
            return (struct leader){side, *by};
    }
    return (struct leader){SIDE_NONE, BY_NOTHING};
}

const struct tie_clause *tie_clause_of(const struct edition *edition, const struct tallies *tallies)
{
    for (size_t i = 0; i < edition->tie_count; i++)
        if (holds_here(&edition->ties[i], tallies))
            return &edition->ties[i];
    return NULL;
}

struct leader leader_of(const struct edition *edition, const struct tallies *tallies)
{
    enum side ahead = separated_by(BY_POINTS, tallies);
    if (ahead != SIDE_NONE)
        return (struct leader){ahead, BY_POINTS};
    const struct tie_clause *clause = tie_clause_of(edition, tallies);
    return clause != NULL ? leader_by_clause(clause, tallies)
                          : (struct leader){SIDE_NONE, BY_NOTHING};
}

struct tallies tallies_with(const struct tallies *tallies, enum side side, int value)
{
    struct tallies with = *tallies;
    struct tally *tally = &with.sides[side_index(side)];
    tally->points += value;
    tally->holds[value]++;
    tally->by_technique++;
    with.last_point = side;
    if (with.first_point == SIDE_NONE)
        with.first_point = side;
    return with;
}

bool tallies_superior(const struct edition *edition, const struct tallies *tallies)
{
    int margin = tallies->sides[0].points - tallies->sides[1].points;
    return margin >= edition->superiority || -margin >= edition->superiority;
}
