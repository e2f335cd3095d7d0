#include "service/recap.h"
#include <stdio.h>
#include <stdlib.h>
#include "stats/account.h"
#include "wire/output_json.h"
#include "wire/state_json.h"

static bool add_numbered(json_t *object, size_t number, json_t *value)
{
    char name[24];
    snprintf(name, sizeof name, "%zu", number);
    return json_add(object, name, value);
}

/* Of one period; minutes without points are not in the account. */
static json_t *period_json(const struct account *account, int period)
{
    int points[2] = {0, 0};
    for (size_t i = 0; i < account->minute_count; i++)
        for (unsigned side = 0; side < 2; side++)
            if (account->minutes[i].period == period)
                points[side] += account->minutes[i].points[side];
    return json_pack("{s:i, s:i}", "red", points[0], "blue", points[1]);
}

/* Those that have been reached. */
static json_t *periods_json(const struct account *account, const struct state *state)
{
    json_t *periods = json_object();
    bool complete = periods != NULL;
    for (int period = 1; account->begun && period <= state->clock.period && complete; period++)
        complete = add_numbered(periods, (size_t)period, period_json(account, period));
    return json_whole(periods, complete);
}

static json_t *attempt_json(const struct account_attempts *attempts)
{
    json_t *object = json_object();
    return json_whole(object, json_add_text(object, "technique", attempts->technique) &&
                                  json_add_text(object, "leg", leg_name(attempts->leg)) &&
                                  json_add_integer(object, "tried", attempts->tried) &&
                                  json_add_integer(object, "scored", attempts->scored) &&
                                  json_add_integer(object, "stopped", attempts->stopped) &&
                                  json_add_integer(object, "countered", attempts->countered) &&
                                  json_add_integer(object, "points", attempts->points));
}

static json_t *attempts_json(const struct account *account)
{
    json_t *both = json_object();
    bool complete = both != NULL;
    for (enum side side = SIDE_RED; side <= SIDE_BLUE && complete; side++) {
        const struct account_side *own = &account->sides[side_index(side)];
        json_t *list = json_object();
        for (size_t i = 0; i < own->attempt_count && complete; i++)
            complete = add_numbered(list, i + 1, attempt_json(&own->attempts[i]));
        complete = json_add(both, side_name(side), list) && complete;
    }
    return json_whole(both, complete);
}

/* What derives from points waits until all of them are confirmed. */
static bool is_sure(const struct state *state)
{
    const struct fold *fold = state->fold;
    return !state->under_review && !state->result.unconfirmed &&
           fold->unconfirmed[0] + fold->unconfirmed[1] == 0 &&
           state->confirmed_leader.side != SIDE_NONE;
}

static bool add_account(json_t *object, const struct state *state)
{
    struct arena arena;
    struct account account;
    arena_init(&arena, malloc, free);
    bool complete = account_of(&account, state, &arena) &&
                    json_add(object, "points", periods_json(&account, state)) &&
                    json_add(object, "attempts", attempts_json(&account));
    arena_close(&arena);
    return complete;
}

json_t *recap_json(const struct state *state, struct anchors anchors)
{
    struct view_memory memory = {NULL, 0};
    json_t *object = json_object();
    bool complete = json_add(object, "bout", view_json(state, &memory, anchors)) &&
                    add_account(object, state) &&
                    (!is_sure(state) || json_add(object, "why", why_json(state)));
    view_memory_close(&memory);
    return json_whole(object, complete);
}
