#include "service/around.h"
#include <stdlib.h>
#include <string.h>
#include "draw/picture.h"
#include "draw/schedule.h"

struct around_day {
    const struct hall *hall;
    const struct day *day;
    const struct editions *editions;
    const struct hall_bout **bouts; /* all, as the picture counts them */
    struct state *states;
    struct picture_bout *pictures;
    size_t count;
    struct picture picture;
    struct expected_start *expected; /* by slot->place */
    /* whose cards are made */
    const struct hall_bout *bout;
    const struct picture_slot *slot; /* of the bout; NULL: it has none */
};

bool around_is_wanted(const struct state *state)
{
    return state->phase == PHASE_CALLED || state->phase == PHASE_CLOSED ||
           state->phase == PHASE_BREAK || state->phase == PHASE_STOPPED;
}

/* ---- the day ---- */

static bool take_expected(struct around_day *looking, int64_t now_ms, struct arena *arena)
{
    struct schedule_bout *bouts = arena_take(arena, (looking->count + 1) * sizeof *bouts);
    looking->expected =
        arena_take(arena, (looking->day->slot_count + 1) * sizeof *looking->expected);
    if (bouts == NULL || looking->expected == NULL)
        return false;
    for (size_t i = 0; i < looking->count; i++)
        bouts[i] = schedule_bout_of(&looking->states[i]);
    schedule_make(looking->expected, looking->day, looking->editions, bouts, looking->count,
                  now_ms);
    return true;
}

static void find_slot(struct around_day *looking)
{
    looking->slot = NULL;
    const char *name = looking->bout->fold.details->slot;
    const struct slot *slot = name != NULL ? day_slot(looking->day, name) : NULL;
    if (slot != NULL && slot->place < looking->picture.slot_count)
        looking->slot = &looking->picture.slots[slot->place];
}

static bool look(struct around_day *looking, int64_t now_ms, struct arena *arena)
{
    size_t count = 0;
    for (const struct hall_bout *bout = looking->hall->bouts; bout != NULL; bout = bout->next)
        count += bout->fold.count > 0 ? 1 : 0;
    looking->bouts = arena_take(arena, (count + 1) * sizeof(struct hall_bout *));
    looking->states = arena_take(arena, (count + 1) * sizeof *looking->states);
    looking->pictures = arena_take(arena, (count + 1) * sizeof *looking->pictures);
    if (looking->bouts == NULL || looking->states == NULL || looking->pictures == NULL)
        return false;
    for (const struct hall_bout *bout = looking->hall->bouts; bout != NULL; bout = bout->next) {
        if (bout->fold.count == 0)
            continue;
        size_t i = looking->count++;
        looking->bouts[i] = bout;
        looking->states[i] = state_of(&bout->fold, now_ms);
        looking->pictures[i] = picture_bout_of(&looking->states[i]);
    }
    if (!picture_make(&looking->picture, looking->day, looking->pictures, looking->count,
                      looking->editions, arena) ||
        !take_expected(looking, now_ms, arena))
        return false;
    return true;
}

/* ---- who ---- */

static const char *short_name(const struct person *person)
{
    return person->family != NULL ? person->family : person->name;
}

static const char *name_of(const struct around_day *looking, struct picture_who who)
{
    if (who.bout != PICTURE_NONE)
        return short_name(&looking->pictures[who.bout].details->sides[who.side]);
    const struct athlete *athlete =
        who.athlete != NULL ? day_athlete(looking->day, who.athlete) : NULL;
    if (athlete == NULL)
        return who.athlete;
    return athlete->family != NULL ? athlete->family : athlete->name;
}

static const char *known_name(const struct around_day *looking, const struct picture_side *side)
{
    return side->comes == COMES_KNOWN ? name_of(looking, side->who) : NULL;
}

static bool same(const char *one, const char *other)
{
    return one != NULL && other != NULL && strcmp(one, other) == 0;
}

static bool result_stands(const struct state *state)
{
    return state->result.how != NULL && !state->result.unconfirmed && !state->under_review;
}

static const struct athlete *athlete_of(const struct around_day *looking,
                                        const struct person *person)
{
    return person->athlete != NULL ? day_athlete(looking->day, person->athlete) : NULL;
}

static void take_entry(struct around_side *side, const struct athlete *athlete)
{
    side->seed = (int)athlete->seed;
    const struct value *facts = athlete->facts;
    for (size_t i = 0; facts != NULL && i < facts->count && i < AROUND_FACTS_MAX; i++)
        side->facts[side->fact_count++] = facts->items[i].as.string;
}

/* ---- how they came here ---- */

static uint64_t closed_at(const struct hall_bout *bout)
{
    return bout->bout->events[bout->fold.close].seq;
}

static void take_result(struct around_side *side, const struct state *state, enum side own)
{
    const struct details *details = state->fold->details;
    unsigned i = side_index(own), j = side_index(side_other(own));
    side->last.against = short_name(&details->sides[j]);
    side->last.how = state->result.how;
    side->last.points[0] = state->all.sides[i].points;
    side->last.points[1] = state->all.sides[j].points;
    side->last.won = state->result.winner == own;
}

static void take_way(struct around_side *side, const struct around_day *looking,
                     const char *athlete)
{
    uint64_t latest = 0;
    for (size_t n = 0; n < looking->count; n++) {
        const struct hall_bout *bout = looking->bouts[n];
        const struct state *state = &looking->states[n];
        if (bout == looking->bout || !result_stands(state) ||
            bout->bout->events[0].seq > looking->bout->bout->events[0].seq)
            continue;
        for (enum side own = SIDE_RED; own <= SIDE_BLUE; own++) {
            if (!same(bout->fold.details->sides[side_index(own)].athlete, athlete))
                continue;
            side->won += state->result.winner == own ? 1 : 0;
            side->lost += state->result.winner == side_other(own) ? 1 : 0;
            if (state->result.winner == SIDE_NONE || closed_at(bout) < latest)
                continue;
            latest = closed_at(bout);
            take_result(side, state, own);
        }
    }
}

/* ---- what comes ---- */

static void take_next(struct around_next *next, const struct around_day *looking, int32_t slot,
                      unsigned own)
{
    const struct picture_slot *target = &looking->picture.slots[slot];
    const struct expected_start *expected = &looking->expected[target->slot->place];
    *next = (struct around_next){
        .known = true,
        .stage = target->slot->stage,
        .against = known_name(looking, &target->sides[1 - own]),
        .from_ms = expected->known ? expected->from_ms : 0,
    };
}

/* The first slot to come that is known to be theirs. */
static void find_next(struct around_side *side, const struct around_day *looking,
                      const char *athlete)
{
    for (size_t i = 0; i < looking->picture.slot_count; i++) {
        const struct picture_slot *slot = &looking->picture.slots[i];
        if (slot->decided || slot->bout != PICTURE_NONE || slot == looking->slot)
            continue;
        for (unsigned own = 0; own < 2; own++)
            if (slot->sides[own].comes == COMES_KNOWN &&
                same(slot->sides[own].who.athlete, athlete)) {
                take_next(&side->next, looking, (int32_t)i, own);
                return;
            }
    }
}

static void take_place(struct around_side *side, const struct around_day *looking,
                       const char *athlete)
{
    if (looking->slot == NULL || !looking->slot->decided || side->next.known)
        return;
    const struct picture_weight *weight = &looking->picture.weights[looking->slot->weight];
    for (size_t i = 0; i < weight->rank_count; i++)
        if (same(weight->ranks[i].who.athlete, athlete))
            side->place = weight->ranks[i].place;
}

static void take_team(struct around_side *side, const struct around_day *looking, const char *team)
{
    for (size_t i = 0; i < looking->picture.team_count && team != NULL; i++) {
        const struct picture_team *row = &looking->picture.teams[i];
        if (!same(row->team, team))
            continue;
        side->team.name = row->team;
        side->team.place = row->place;
        side->team.points = row->points;
        side->team.won = row->won;
        side->team.lost = row->lost;
    }
}

static void take_side(struct around_side *side, const struct around_day *looking, enum side which)
{
    const struct person *person = &looking->bout->fold.details->sides[side_index(which)];
    const struct athlete *athlete = athlete_of(looking, person);
    const char *team = person->team != NULL || athlete == NULL ? person->team : athlete->team;
    if (athlete != NULL)
        take_entry(side, athlete);
    take_team(side, looking, team);
    if (person->athlete == NULL)
        return; /* a name alone is not identity */
    take_way(side, looking, person->athlete);
    find_next(side, looking, person->athlete);
    take_place(side, looking, person->athlete);
}

static void take_ways_on(struct around *around, const struct around_day *looking)
{
    const struct picture_slot *slot = looking->slot;
    if (slot == NULL)
        return;
    if (slot->winner_to != PICTURE_NONE)
        take_next(&around->winner_to, looking, slot->winner_to, slot->winner_to_side);
    if (slot->loser_to != PICTURE_NONE)
        take_next(&around->loser_to, looking, slot->loser_to, slot->loser_to_side);
}

/* ---- elsewhere ---- */

/* What waits to be confirmed, or is looked at again, isn't told. */
static bool is_settled(const struct state *state)
{
    return !state->under_review && state->fold->unconfirmed[0] == 0 &&
           state->fold->unconfirmed[1] == 0;
}

static void take_mat(struct around *around, const struct mat *mat, const struct state *state)
{
    bool over = result_stands(state);
    const struct details *details = state->fold->details;
    if (around->mat_count == AROUND_MATS_MAX || !is_settled(state) ||
        (state->phase == PHASE_CLOSED && (!over || state->result.winner == SIDE_NONE)) ||
        state->phase == PHASE_OFF || state->phase == PHASE_CALLED || state->phase == PHASE_OVER)
        return;
    around->mats[around->mat_count++] = (struct around_mat){
        .mat = mat->name,
        .bout = mat->shown->bout->id,
        .names = {short_name(&details->sides[0]), short_name(&details->sides[1])},
        .points = {state->all.sides[0].points, state->all.sides[1].points},
        .leader = over ? state->result.winner : state->leader.side,
        .how = over ? state->result.how : NULL,
    };
}

static void take_mats(struct around *around, const struct around_day *looking, int64_t now_ms)
{
    for (const struct mat *mat = looking->hall->mats; mat != NULL; mat = mat->next) {
        if (mat->shown == NULL || mat->shown == looking->bout || mat->shown->fold.count == 0)
            continue;
        struct state state = state_of(&mat->shown->fold, now_ms);
        take_mat(around, mat, &state);
    }
}

static int seed_of(const struct around_day *looking, const struct person *person)
{
    const struct athlete *athlete = athlete_of(looking, person);
    return athlete != NULL ? (int)athlete->seed : 0;
}

static void take_upset(struct around *around, const struct around_day *looking)
{
    uint64_t latest = 0;
    for (size_t i = 0; i < looking->count; i++) {
        const struct state *state = &looking->states[i];
        const struct hall_bout *bout = looking->bouts[i];
        if (bout == looking->bout || !result_stands(state) || state->result.winner == SIDE_NONE ||
            closed_at(bout) < latest)
            continue;
        unsigned w = side_index(state->result.winner), l = 1 - w;
        const struct person *sides = bout->fold.details->sides;
        int winner = seed_of(looking, &sides[w]), loser = seed_of(looking, &sides[l]);
        if (loser == 0 || (winner != 0 && winner < loser))
            continue;
        latest = closed_at(bout);
        around->upset = (struct around_upset){
            .bout = bout->bout->id,
            .winner = short_name(&sides[w]),
            .loser = short_name(&sides[l]),
            .how = state->result.how,
            .loser_seed = loser,
            .points = {state->all.sides[w].points, state->all.sides[l].points},
            .at_ms = bout->bout->events[bout->fold.close].at_ms,
        };
    }
}

/* The earliest expected of this mat; both must be known. */
static void take_next_here(struct around *around, const struct around_day *looking)
{
    const char *mat = looking->bout->mat != NULL ? looking->bout->mat->name : NULL;
    int64_t earliest_ms = INT64_MAX;
    for (size_t i = 0; i < looking->picture.slot_count; i++) {
        const struct picture_slot *slot = &looking->picture.slots[i];
        const struct expected_start *expected = &looking->expected[slot->slot->place];
        if (slot->decided || slot->bout != PICTURE_NONE || !same(slot->slot->mat, mat) ||
            !expected->known || expected->from_ms >= earliest_ms)
            continue;
        earliest_ms = expected->from_ms;
        around->next_here.names[0] = known_name(looking, &slot->sides[0]);
        around->next_here.names[1] = known_name(looking, &slot->sides[1]);
        around->next_here.from_ms = expected->from_ms;
    }
    if (around->next_here.names[0] == NULL || around->next_here.names[1] == NULL)
        around->next_here.names[0] = NULL;
}

struct around_day *around_look(const struct hall *hall, const struct editions *editions,
                               int64_t now_ms, struct arena *arena)
{
    struct around_day *looking = arena_take(arena, sizeof *looking);
    if (looking == NULL)
        return NULL;
    *looking = (struct around_day){.hall = hall, .day = hall_day(hall), .editions = editions};
    return look(looking, now_ms, arena) ? looking : NULL;
}

struct around around_make(struct around_day *looking, const struct hall_bout *bout, int64_t now_ms)
{
    struct around around = {.mat_count = 0};
    looking->bout = bout;
    find_slot(looking);
    for (enum side side = SIDE_RED; side <= SIDE_BLUE; side++)
        take_side(&around.sides[side_index(side)], looking, side);
    take_ways_on(&around, looking);
    take_mats(&around, looking, now_ms);
    take_upset(&around, looking);
    take_next_here(&around, looking);
    return around;
}
