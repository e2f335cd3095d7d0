#include "stats/chase.h"
#include <limits.h>

/* What a side must come to. */
typedef bool goal(const struct edition *edition, const struct tallies *tallies, enum side side);

static bool leads(const struct edition *edition, const struct tallies *tallies, enum side side)
{
    return leader_of(edition, tallies).side == side;
}

static bool is_superior(const struct edition *edition, const struct tallies *tallies,
                        enum side side)
{
    return tallies_superior(edition, tallies) && leads(edition, tallies, side);
}

/* Superiority ends the bout: then nothing turns it either. */
static bool leads_safely(const struct edition *edition, const struct tallies *tallies,
                         enum side side)
{
    if (!leads(edition, tallies, side))
        return false;
    if (tallies_superior(edition, tallies))
        return true;
    for (int value = 1; value <= EDITION_VALUE_MAX; value++) {
        if (!edition->values[value])
            continue;
        struct tallies turned = tallies_with(tallies, side_other(side), value);
        if (leads(edition, &turned, side_other(side)))
            return false;
    }
    return true;
}

/* ---- looking through all combinations ---- */

struct search {
    const struct edition *edition;
    enum side side;
    goal *reached;
    struct chase_way way, best; /* best.points INT_MAX: none is found yet */
};

/* Adds `actions` more, none higher than `highest`. In a combination values fall, so that each is
 * met once, and those with lower values come first; what costs as much as the best found is not
 * looked at. */
static void look(struct search *search, const struct tallies *tallies, int actions, int highest)
{
    if (actions == 0) {
        if (search->reached(search->edition, tallies, search->side))
            search->best = search->way;
        return;
    }
    for (int value = 1; value <= highest; value++) {
        struct chase_way *way = &search->way;
        if (!search->edition->values[value] || way->points + value >= search->best.points)
            continue;
        struct tallies with = tallies_with(tallies, search->side, value);
        way->values[way->actions++] = value;
        way->points += value;
        look(search, &with, actions - 1, value);
        way->points -= value;
        way->values[--way->actions] = 0;
    }
}

static struct chase_way found(const struct search *search)
{
    return search->best.points == INT_MAX ? (struct chase_way){.actions = 0} : search->best;
}

static struct search search_new(const struct edition *edition, enum side side, goal *reached)
{
    return (struct search){
        .edition = edition, .side = side, .reached = reached, .best = {.points = INT_MAX}};
}

static struct chase_way fewest_of(const struct state *state, enum side side, goal *reached)
{
    const struct edition *edition = state->fold->details->edition;
    struct search search = search_new(edition, side, reached);
    if (reached(edition, &state->all, side))
        return (struct chase_way){.actions = 0};
    for (int actions = 1; actions <= CHASE_ACTIONS_MAX && search.best.points == INT_MAX; actions++)
        look(&search, &state->all, actions, EDITION_VALUE_MAX);
    return found(&search);
}

/* More actions count only where they make it with fewer points. */
static struct chase_way least_of(const struct state *state, enum side side, struct chase_way fewest)
{
    struct search search = search_new(state->fold->details->edition, side, leads);
    if (fewest.actions == 0)
        return fewest;
    search.best = fewest;
    for (int actions = fewest.actions + 1; actions <= CHASE_ACTIONS_MAX; actions++)
        look(&search, &state->all, actions, EDITION_VALUE_MAX);
    return found(&search);
}

/* ---- the parts ---- */

struct chase_way chase_fewest(const struct state *state, enum side side)
{
    return fewest_of(state, side, leads);
}

struct chase_way chase_least(const struct state *state, enum side side)
{
    return least_of(state, side, chase_fewest(state, side));
}

struct chase_way chase_safe(const struct state *state, enum side side)
{
    return fewest_of(state, side, leads_safely);
}

struct chase_way chase_superior(const struct state *state, enum side side)
{
    return fewest_of(state, side, is_superior);
}

bool chase_is_safe(const struct state *state, enum side side)
{
    return leads_safely(state->fold->details->edition, &state->all, side);
}

enum chase_pace chase_pace(int points, int missing, int64_t gone_ms, int64_t left_ms)
{
    if (missing == 0 || gone_ms < CHASE_PACE_LEAST_MS)
        return PACE_UNKNOWN;
    return points * left_ms >= missing * gone_ms ? PACE_ENOUGH : PACE_SHORT;
}

static void take_pace(struct chase_side *side, const struct state *state, unsigned place)
{
    const struct details *details = state->fold->details;
    int64_t length_ms = (int64_t)details->periods * details->period_ms;
    side->tries = state->fold->attacks[place].tried;
    side->scored = state->fold->attacks[place].scored;
    side->points = state->all.sides[place].points;
    side->gone_ms = (int64_t)(state->clock.period - 1) * details->period_ms + state->clock.t_ms;
    side->left_ms = length_ms > side->gone_ms ? length_ms - side->gone_ms : 0;
    side->pace = chase_pace(side->points, side->least.points, side->gone_ms, side->left_ms);
}

struct chase chase_of(const struct state *state)
{
    struct chase chase = {.sides = {{.leads = false}}};
    for (enum side side = SIDE_RED; side <= SIDE_BLUE; side++) {
        struct chase_side *own = &chase.sides[side_index(side)];
        own->leads = state->leader.side == side;
        own->is_safe = chase_is_safe(state, side);
        own->fewest = chase_fewest(state, side);
        own->least = least_of(state, side, own->fewest);
        own->safe = chase_safe(state, side);
        own->superior = chase_superior(state, side);
        take_pace(own, state, side_index(side));
    }
    return chase;
}
