#include "draw/places.h"
#include <assert.h>
#include <string.h>

enum { FIRST = 1, SECOND = 2, THIRD = 3 };

static struct picture_slot *slots_of(const struct making *making)
{
    return making->picture->slots;
}

static struct picture_weight *weight_at(const struct making *making, int32_t weight)
{
    return &making->picture->weights[weight];
}

static const struct picture_bout *bout_at(const struct making *making, int32_t bout)
{
    return &making->bouts[bout];
}

/* ---- who ---- */

static const char *name_of(const struct making *making, struct picture_who who)
{
    return bout_at(making, who.bout)->details->sides[who.side].name;
}

/* By the key; without one, by the name that the bout gave. */
bool who_equal(const struct making *making, struct picture_who one, struct picture_who other)
{
    if (one.athlete != NULL && other.athlete != NULL)
        return strcmp(one.athlete, other.athlete) == 0;
    return one.athlete == NULL && other.athlete == NULL &&
           strcmp(name_of(making, one), name_of(making, other)) == 0;
}

static const char *team_of(const struct making *making, struct picture_who who)
{
    const struct athlete *athlete =
        who.athlete != NULL ? day_athlete(making->day, who.athlete) : NULL;
    if (athlete != NULL && athlete->team != NULL)
        return athlete->team;
    return who.bout != PICTURE_NONE ? bout_at(making, who.bout)->details->sides[who.side].team
                                    : NULL;
}

static struct picture_rank *rank_of(const struct making *making,
                                    const struct picture_weight *weight, struct picture_who who)
{
    for (size_t i = 0; i < weight->rank_count; i++)
        if (who_equal(making, weight->ranks[i].who, who))
            return &weight->ranks[i];
    return NULL;
}

/* ---- what the bouts brought ---- */

static bool is_wrestled(const struct picture_slot *slot)
{
    return slot->decided && !slot->passed && slot->bout != PICTURE_NONE;
}

static void count_bout(const struct making *making, struct picture_weight *weight,
                       const struct picture_slot *slot, unsigned side)
{
    const struct picture_bout *bout = bout_at(making, slot->bout);
    struct picture_rank *rank = rank_of(making, weight, slot->sides[side].who);
    bool won = bout->result.winner != SIDE_NONE && side_index(bout->result.winner) == side;
    assert(rank != NULL);
    rank->bouts++;
    rank->class_points += bout->result.class_points[side];
    rank->points_scored += bout->points[side];
    rank->points_given += bout->points[1 - side];
    rank->victories += won ? 1 : 0;
    rank->falls += won && strcmp(bout->result.how, "fall") == 0 ? 1 : 0;
    rank->superiorities += won && strcmp(bout->result.how, "superiority") == 0 ? 1 : 0;
    rank->nobody_won = rank->nobody_won || bout->result.winner == SIDE_NONE;
}

/* A slot of a group: nobody comes from it, and the draw names both. */
static bool is_of_group(const struct picture_slot *slot)
{
    return slot->slot->sides[0].from == FROM_ATHLETE && slot->slot->sides[1].from == FROM_ATHLETE &&
           slot->winner_to == PICTURE_NONE && slot->loser_to == PICTURE_NONE;
}

/* Who has met, or will meet, is of one group: the smaller number goes to both until none changes.
 * A group is then numbered by its first member. */
static void number_groups(const struct making *making, int32_t number, size_t *groups)
{
    struct picture_weight *weight = weight_at(making, number);
    for (bool changed = true; changed;) {
        changed = false;
        for (size_t i = 0; i < making->picture->slot_count; i++) {
            const struct picture_slot *slot = &slots_of(making)[i];
            if (slot->weight != number || !is_of_group(slot))
                continue;
            struct picture_rank *red = rank_of(making, weight, slot->sides[0].who);
            struct picture_rank *blue = rank_of(making, weight, slot->sides[1].who);
            size_t *one = &groups[red - weight->ranks], *other = &groups[blue - weight->ranks];
            changed = changed || *one != *other;
            *one = *other = *one < *other ? *one : *other;
            red->pool = blue->pool = 1;
        }
    }
    unsigned pools = 0;
    for (size_t i = 0; i < weight->rank_count; i++) {
        if (weight->ranks[i].pool == 0)
            continue;
        if (groups[i] == i)
            pools += pools < UINT8_MAX ? 1 : 0;
        weight->ranks[i].pool = groups[i] == i ? (uint8_t)pools : weight->ranks[groups[i]].pool;
    }
}

bool places_gather(const struct making *making, int32_t number, enum gathering gathering)
{
    struct picture_weight *weight = weight_at(making, number);
    size_t most = 0;
    for (size_t i = 0; i < making->picture->slot_count; i++)
        most += slots_of(making)[i].weight == number ? 2 : 0;
    weight->ranks = arena_take(making->arena, most * sizeof *weight->ranks);
    size_t *groups = arena_take(making->arena, most * sizeof *groups);
    if (weight->ranks == NULL || groups == NULL)
        return false;
    weight->rank_count = 0;
    weight->decided = true;
    for (size_t i = 0; i < making->picture->slot_count; i++) {
        const struct picture_slot *slot = &slots_of(making)[i];
        if (slot->weight != number)
            continue;
        weight->decided = weight->decided && slot->decided;
        for (unsigned side = 0; side < 2; side++) {
            const struct picture_side *known = &slot->sides[side];
            if (known->comes == COMES_KNOWN && rank_of(making, weight, known->who) == NULL)
                weight->ranks[weight->rank_count++] = (struct picture_rank){.who = known->who};
            if (is_wrestled(slot) && (gathering == GATHER_ALL || is_of_group(slot)))
                count_bout(making, weight, slot, side);
        }
    }
    for (size_t i = 0; i < weight->rank_count; i++)
        groups[i] = i;
    number_groups(making, number, groups);
    return true;
}

/* ---- ranking by criteria ---- */

static int figure_of(const struct picture_rank *rank, enum rank_by by)
{
    switch (by) {
    case RANK_VICTORIES:
        return rank->victories;
    case RANK_CLASS_POINTS:
        return rank->class_points;
    case RANK_FALLS:
        return rank->falls;
    case RANK_SUPERIORITIES:
        return rank->superiorities;
    case RANK_POINTS_SCORED:
        return rank->points_scored;
    case RANK_POINTS_GIVEN:
        return -rank->points_given;
    case RANK_DIRECT_MATCH:
    case RANK_BY_NOTHING:
        return 0;
    }
    return 0;
}

/* More than 0: the first is better, by the first of the criteria that parts them. */
static int compare(const struct picture_rank *one, const struct picture_rank *other,
                   const enum rank_by *order, size_t count)
{
    int difference = 0;
    for (size_t i = 0; i < count && difference == 0; i++)
        difference = figure_of(one, order[i]) - figure_of(other, order[i]);
    return difference;
}

struct ranking {
    const struct making *making;
    int32_t weight;
    const enum rank_by *head, *tail; /* what makes equals; what parts them */
    size_t head_count, tail_count;
    bool direct_match;
};

static struct ranking ranking_of(const struct making *making, int32_t weight,
                                 const enum rank_by *order)
{
    struct ranking ranking = {.making = making, .weight = weight, .head = order};
    size_t count = 0;
    while (order[count] != RANK_BY_NOTHING && order[count] != RANK_DIRECT_MATCH)
        count++;
    ranking.head_count = count;
    ranking.direct_match = order[count] == RANK_DIRECT_MATCH;
    ranking.tail = order + count + (ranking.direct_match ? 1 : 0);
    while (ranking.tail[ranking.tail_count] != RANK_BY_NOTHING)
        ranking.tail_count++;
    return ranking;
}

/* More than 0: the first beat the other, and was not beaten as often. */
static int direct_match(const struct ranking *ranking, const struct picture_rank *one,
                        const struct picture_rank *other)
{
    int difference = 0;
    for (size_t i = 0; i < ranking->making->picture->slot_count; i++) {
        const struct picture_slot *slot = &slots_of(ranking->making)[i];
        if (slot->weight != ranking->weight || !is_wrestled(slot) || !is_of_group(slot) ||
            slot->winner.comes != COMES_KNOWN || slot->loser.comes != COMES_KNOWN)
            continue;
        if (who_equal(ranking->making, slot->winner.who, one->who) &&
            who_equal(ranking->making, slot->loser.who, other->who))
            difference++;
        if (who_equal(ranking->making, slot->winner.who, other->who) &&
            who_equal(ranking->making, slot->loser.who, one->who))
            difference--;
    }
    return difference;
}

static void swap(struct picture_rank **one, struct picture_rank **other)
{
    struct picture_rank *kept = *one;
    *one = *other;
    *other = kept;
}

static void give_same(struct picture_rank **members, size_t count, int place)
{
    for (size_t i = 0; i < count; i++)
        members[i]->place = place;
}

static void part_two(const struct ranking *ranking, struct picture_rank **members, int place)
{
    int difference = ranking->direct_match ? direct_match(ranking, members[0], members[1]) : 0;
    if (difference == 0)
        difference = compare(members[0], members[1], ranking->tail, ranking->tail_count);
    if (difference < 0)
        swap(&members[0], &members[1]);
    members[0]->place = place;
    members[1]->place = difference == 0 ? place : place + 1;
}

/* Brings those who are worst to the end; answers how many they are. */
static size_t worst_last(const struct ranking *ranking, struct picture_rank **members, size_t count)
{
    const struct picture_rank *worst = members[0];
    size_t front = 0;
    for (size_t i = 1; i < count; i++)
        if (compare(members[i], worst, ranking->tail, ranking->tail_count) < 0)
            worst = members[i];
    for (size_t i = 0; i < count; i++)
        if (compare(members[i], worst, ranking->tail, ranking->tail_count) != 0)
            swap(&members[front++], &members[i]);
    return count - front;
}

/* Equals by the head: the last of them is found by the tail until two are left, for whom their bout
 * decides (UWW, 2 Feb 2021). Each turn takes at least one away, or ends it. */
static void part_equals(const struct ranking *ranking, struct picture_rank **members, size_t count,
                        int place)
{
    while (count > 2) {
        size_t last = worst_last(ranking, members, count);
        if (last == count) {
            give_same(members, count, place);
            return;
        }
        if (last == 2)
            part_two(ranking, members + count - 2, place + (int)count - 2);
        else
            give_same(members + count - last, last, place + (int)(count - last));
        count -= last;
    }
    if (count == 2)
        part_two(ranking, members, place);
    else if (count == 1)
        members[0]->place = place;
}

/* Gives the members places from `place` on. */
static void rank_members(const struct ranking *ranking, struct picture_rank **members, size_t count,
                         int place)
{
    for (size_t i = 1; i < count; i++)
        for (size_t j = i;
             j > 0 && compare(members[j], members[j - 1], ranking->head, ranking->head_count) > 0;
             j--)
            swap(&members[j], &members[j - 1]);
    for (size_t from = 0, to; from < count; from = to) {
        for (to = from + 1; to < count && compare(members[from], members[to], ranking->head,
                                                  ranking->head_count) == 0;)
            to++;
        part_equals(ranking, members + from, to - from, place + (int)from);
    }
}

/* Who took part in nothing but bouts that nobody won has no place: the officials say. */
static bool is_ranked(const struct picture_rank *rank)
{
    return rank->victories > 0 || !rank->nobody_won;
}

enum { MEMBERS_MAX = 2 * DRAW_ENTRIES_MAX };

/* Those of the pool (0: of all) who have no place yet. */
static size_t members_of(const struct picture_weight *weight, unsigned pool,
                         struct picture_rank **members)
{
    size_t count = 0;
    for (size_t i = 0; i < weight->rank_count && count < MEMBERS_MAX; i++)
        if ((pool == 0 || weight->ranks[i].pool == pool) && weight->ranks[i].place == 0 &&
            is_ranked(&weight->ranks[i]))
            members[count++] = &weight->ranks[i];
    return count;
}

static const struct draw_rules *rules_of(const struct picture_weight *weight)
{
    return weight->edition != NULL && weight->edition->draw.given ? &weight->edition->draw : NULL;
}

/* ---- groups in which everyone meets everyone ---- */

static bool pool_is_decided(const struct making *making, int32_t number, unsigned pool)
{
    const struct picture_weight *weight = weight_at(making, number);
    for (size_t i = 0; i < making->picture->slot_count; i++) {
        const struct picture_slot *slot = &slots_of(making)[i];
        if (slot->weight != number || !is_of_group(slot) || slot->decided)
            continue;
        const struct picture_rank *red = rank_of(making, weight, slot->sides[0].who);
        if (red != NULL && red->pool == pool)
            return false;
    }
    return true;
}

struct picture_rank *places_in_pool(const struct making *making, int32_t number, unsigned pool,
                                    unsigned place)
{
    struct picture_weight *weight = weight_at(making, number);
    struct picture_rank *members[MEMBERS_MAX], *found = NULL;
    if (rules_of(weight) == NULL || !pool_is_decided(making, number, pool))
        return NULL;
    size_t count = members_of(weight, pool, members);
    struct ranking ranking = ranking_of(making, number, rules_of(weight)->nordic_ranking);
    rank_members(&ranking, members, count, FIRST);
    for (size_t i = 0; i < count; i++) /* of two at one place nobody can tell who goes on */
        if (members[i]->place == (int)place &&
            (i + 1 == count || members[i + 1]->place > (int)place))
            found = members[i];
    for (size_t i = 0; i < count; i++)
        members[i]->place = 0; /* in the pool, not in the weight */
    return found;
}

static void give_nordic(const struct making *making, int32_t number)
{
    static const enum rank_by by_victories[] = {RANK_VICTORIES, RANK_BY_NOTHING};
    struct picture_weight *weight = weight_at(making, number);
    struct picture_rank *members[MEMBERS_MAX];
    const struct draw_rules *rules = rules_of(weight);
    for (size_t i = 0; i < weight->rank_count; i++)
        if (weight->ranks[i].pool != 1)
            return;
    if (!weight->decided || (rules == NULL && weight->rank_count != 2))
        return;
    struct ranking ranking =
        ranking_of(making, number, rules != NULL ? rules->nordic_ranking : by_victories);
    rank_members(&ranking, members, members_of(weight, 0, members), FIRST);
}

/* ---- a tree of slots, with a final ---- */

static bool has_side(const struct picture_slot *slot, enum slot_from from)
{
    return slot->slot->sides[0].from == from || slot->slot->sides[1].from == from;
}

static bool is_final(const struct picture_slot *slot)
{
    return slot->winner_to == PICTURE_NONE && has_side(slot, FROM_WINNER) &&
           !has_side(slot, FROM_LOSER);
}

static bool is_bronze(const struct picture_slot *slot)
{
    return slot->winner_to == PICTURE_NONE && has_side(slot, FROM_LOSER);
}

/* NULL: there is none, or more than one, as while a draw is being keyed. */
static struct picture_slot *final_of(const struct making *making, int32_t weight)
{
    struct picture_slot *final = NULL;
    for (size_t i = 0; i < making->picture->slot_count; i++) {
        struct picture_slot *slot = &slots_of(making)[i];
        if (slot->weight != weight || !is_final(slot))
            continue;
        if (final != NULL)
            return NULL;
        final = slot;
    }
    return final;
}

static void give(const struct making *making, int32_t weight, const struct picture_side *side,
                 int place)
{
    struct picture_rank *rank =
        side->comes == COMES_KNOWN ? rank_of(making, weight_at(making, weight), side->who) : NULL;
    if (rank != NULL && rank->place == 0)
        rank->place = place;
}

/* Who loses to a finalist and has no bout for bronze to go to is third without one. */
static bool is_third(const struct making *making, const struct picture_slot *slot,
                     const struct picture_slot *final)
{
    return slot->winner_to != PICTURE_NONE && &slots_of(making)[slot->winner_to] == final &&
           slot->loser_to == PICTURE_NONE;
}

static int thirds_of(const struct making *making, int32_t weight, const struct picture_slot *final)
{
    int thirds = 0;
    for (size_t i = 0; i < making->picture->slot_count; i++) {
        const struct picture_slot *slot = &slots_of(making)[i];
        thirds += slot->weight == weight && (is_bronze(slot) || is_third(making, slot, final));
    }
    return thirds;
}

static void give_medals(const struct making *making, int32_t weight,
                        const struct picture_slot *final)
{
    int thirds = thirds_of(making, weight, final);
    if (final->decided) {
        give(making, weight, &final->winner, FIRST);
        give(making, weight, &final->loser, SECOND);
    }
    for (size_t i = 0; i < making->picture->slot_count; i++) {
        const struct picture_slot *slot = &slots_of(making)[i];
        if (slot->weight != weight || !slot->decided)
            continue;
        if (is_bronze(slot)) {
            give(making, weight, &slot->winner, THIRD);
            give(making, weight, &slot->loser, THIRD + thirds);
        } else if (is_third(making, slot, final)) {
            give(making, weight, &slot->loser, THIRD);
        }
    }
}

static void give_rest(const struct making *making, int32_t number)
{
    struct picture_weight *weight = weight_at(making, number);
    struct picture_rank *members[MEMBERS_MAX];
    int placed = 0;
    if (!weight->decided || rules_of(weight) == NULL)
        return;
    for (size_t i = 0; i < weight->rank_count; i++)
        placed += weight->ranks[i].place > 0 ? 1 : 0;
    struct ranking ranking = ranking_of(making, number, rules_of(weight)->ranking);
    rank_members(&ranking, members, members_of(weight, 0, members), placed + 1);
}

/* By place; those without one behind, as they came. */
static void order_ranks(struct picture_weight *weight)
{
    for (size_t i = 1; i < weight->rank_count; i++) {
        struct picture_rank rank = weight->ranks[i];
        size_t to = i;
        for (; to > 0 && rank.place > 0 &&
               (weight->ranks[to - 1].place == 0 || weight->ranks[to - 1].place > rank.place);
             to--)
            weight->ranks[to] = weight->ranks[to - 1];
        weight->ranks[to] = rank;
    }
}

void places_give(const struct making *making, int32_t weight)
{
    bool tree = false;
    for (size_t i = 0; i < making->picture->slot_count; i++)
        tree = tree || (slots_of(making)[i].weight == weight &&
                        slots_of(making)[i].winner_to != PICTURE_NONE);
    const struct picture_slot *final = tree ? final_of(making, weight) : NULL;
    if (!tree) {
        give_nordic(making, weight);
    } else if (final != NULL) {
        give_medals(making, weight, final);
        give_rest(making, weight);
    }
    order_ranks(weight_at(making, weight));
}

/* ---- teams ---- */

static struct picture_team *team_in(struct picture_team *teams, size_t *count, const char *team,
                                    const char *style)
{
    for (size_t i = 0; i < *count; i++)
        if (strcmp(teams[i].team, team) == 0 &&
            (style == NULL || strcmp(teams[i].style, style) == 0))
            return &teams[i];
    teams[*count] = (struct picture_team){.team = team, .style = style};
    return &teams[(*count)++];
}

static void count_rank(struct picture_team *team, const struct picture_weight *weight,
                       const struct picture_rank *rank)
{
    const struct draw_rules *rules = rules_of(weight);
    team->gold += rank->place == FIRST ? 1 : 0;
    team->silver += rank->place == SECOND ? 1 : 0;
    team->bronze += rank->place == THIRD ? 1 : 0;
    team->won += rank->victories;
    team->lost += rank->bouts - rank->victories;
    if (rules != NULL && rank->place > 0 && rank->place <= TEAM_PLACES_MAX)
        team->points += rules->team_points[rank->place - 1];
}

/* More points, then more firsts, seconds, thirds (from memory). */
static int compare_teams(const struct picture_team *one, const struct picture_team *other)
{
    int differences[] = {one->points - other->points, one->gold - other->gold,
                         one->silver - other->silver, one->bronze - other->bronze};
    for (size_t i = 0; i < sizeof differences / sizeof *differences; i++)
        if (differences[i] != 0)
            return differences[i];
    return 0;
}

/* Orders and places those of one table; equal ones share a place and stand by their names. */
static void order_teams(struct picture_team *teams, size_t count)
{
    for (size_t i = 1; i < count; i++) {
        struct picture_team team = teams[i];
        size_t to = i;
        for (; to > 0; to--) {
            int difference = compare_teams(&team, &teams[to - 1]);
            if (difference < 0 || (difference == 0 && strcmp(team.team, teams[to - 1].team) > 0))
                break;
            teams[to] = teams[to - 1];
        }
        teams[to] = team;
    }
    for (size_t i = 0; i < count; i++)
        teams[i].place =
            i > 0 && compare_teams(&teams[i], &teams[i - 1]) == 0 ? teams[i - 1].place : (int)i + 1;
}

/* The tables of the styles stand one behind the other. */
static void count_style(const struct making *making, const char *style)
{
    struct picture *picture = making->picture;
    struct picture_team *teams = picture->style_teams + picture->style_team_count;
    size_t count = 0;
    for (size_t i = 0; i < picture->weight_count; i++) {
        const struct picture_weight *weight = &picture->weights[i];
        if (weight->style == NULL || strcmp(weight->style, style) != 0)
            continue;
        for (size_t j = 0; j < weight->rank_count; j++) {
            const char *team = team_of(making, weight->ranks[j].who);
            if (team != NULL)
                count_rank(team_in(teams, &count, team, style), weight, &weight->ranks[j]);
        }
    }
    order_teams(teams, count);
    picture->style_team_count += count;
}

static bool is_first_of_style(const struct picture *picture, size_t weight)
{
    const char *style = picture->weights[weight].style;
    for (size_t i = 0; style != NULL && i < weight; i++)
        if (picture->weights[i].style != NULL && strcmp(picture->weights[i].style, style) == 0)
            return false;
    return style != NULL;
}

bool places_count_teams(const struct making *making)
{
    struct picture *picture = making->picture;
    size_t most = 0;
    for (size_t i = 0; i < picture->weight_count; i++)
        most += picture->weights[i].rank_count;
    picture->teams = arena_take(making->arena, most * sizeof *picture->teams);
    picture->style_teams = arena_take(making->arena, most * sizeof *picture->style_teams);
    if (picture->teams == NULL || picture->style_teams == NULL)
        return false;
    for (size_t i = 0; i < picture->weight_count; i++) {
        const struct picture_weight *weight = &picture->weights[i];
        for (size_t j = 0; j < weight->rank_count; j++) {
            const char *team = team_of(making, weight->ranks[j].who);
            if (team != NULL)
                count_rank(team_in(picture->teams, &picture->team_count, team, NULL), weight,
                           &weight->ranks[j]);
        }
        if (is_first_of_style(picture, i))
            count_style(making, weight->style);
    }
    order_teams(picture->teams, picture->team_count);
    return true;
}
