/* A ruling's points are counted by walking the order of points once more, with the challenged entry
 * in its imagined form and what is given besides just before it. */
#include "stats/rulings.h"

struct imagined {
    const struct fold *fold;
    struct challenged challenged;
    int32_t before; /* what is given besides comes before this entry; EVENT_NONE: last */
    struct ruling *ruling;
};

/* ---- what is challenged ---- */

static int32_t last_points(const struct fold *fold)
{
    for (int32_t place = (int32_t)fold->count; place-- > 0;)
        if (fold->events[place].stands && fold->events[place].gives_points)
            return place;
    return EVENT_NONE;
}

struct challenged challenged_of(const struct state *state)
{
    const struct fold *fold = state->fold;
    int32_t red = fold->challenge[0].open, blue = fold->challenge[1].open;
    struct challenged challenged = {.place = red > blue ? red : blue, .target = EVENT_NONE};
    if (challenged.place == EVENT_NONE)
        return challenged;
    const struct event *asked = fold->events[challenged.place].event;
    challenged.side = (enum side)asked->side;
    if (!event_gives(asked, MEMBER_OF))
        challenged.target = last_points(fold);
    else if (fold->events[asked->of].stands)
        challenged.target = asked->of;
    return challenged;
}

static bool can_be_changed(const struct imagined *imagined)
{
    int32_t target = imagined->challenged.target;
    return target != EVENT_NONE && imagined->fold->events[target].event->type == EVENT_SCORE &&
           imagined->fold->events[target].gives_points;
}

static bool can_be_out(const struct imagined *imagined)
{
    int32_t target = imagined->challenged.target;
    if (target == EVENT_NONE)
        return false;
    enum event_type type = imagined->fold->events[target].event->type;
    return type == EVENT_SCORE || type == EVENT_CAUTION || type == EVENT_PASSIVITY;
}

/* The entry that was keyed next after what is challenged, or is that itself. */
static int32_t entry_from(const struct fold *fold, int32_t target)
{
    for (int32_t place = target; target != EVENT_NONE && place < (int32_t)fold->count; place++)
        if (fold->events[place].stands && fold->events[place].gives_points)
            return place;
    return EVENT_NONE;
}

/* ---- counting ---- */

static void count_technique(struct tallies *tallies, enum side side, int value)
{
    if (value > 0)
        *tallies = tallies_with(tallies, side, value);
}

static bool is_changed(const struct imagined *imagined, int32_t place)
{
    return place == imagined->challenged.target && imagined->ruling->kind == RULING_UPHELD &&
           imagined->ruling->value != RULING_STAYS;
}

static void count_entry(const struct imagined *imagined, struct tallies *tallies, int32_t place)
{
    const struct ruling *ruling = imagined->ruling;
    if (ruling->kind == RULING_UPHELD && place == imagined->before)
        count_technique(tallies, imagined->challenged.side, ruling->given);
    if (is_changed(imagined, place))
        count_technique(tallies, ruling->side, ruling->value);
    else
        fold_count(imagined->fold, tallies, &imagined->fold->events[place]);
}

/* Points that a lost challenge gives are no points by technique. */
static void count_lost(const struct imagined *imagined, struct tallies *tallies)
{
    const struct ruling *ruling = imagined->ruling;
    enum side giver = side_other(imagined->challenged.side);
    struct tally *tally = &tallies->sides[side_index(giver)];
    if (ruling->kind != RULING_LOST || ruling->given == 0)
        return;
    tally->points += ruling->given;
    if (imagined->fold->details->edition->penalty_points_are_holds)
        tally->holds[ruling->given]++;
    tallies->last_point = giver;
    if (tallies->first_point == SIDE_NONE)
        tallies->first_point = giver;
}

static struct tallies count(const struct imagined *imagined)
{
    const struct fold *fold = imagined->fold;
    struct tallies tallies = {.first_point = SIDE_NONE};
    for (int32_t place = fold->first_entry; place != EVENT_NONE; place = fold->events[place].next)
        count_entry(imagined, &tallies, place);
    for (int32_t place = 0; place < (int32_t)fold->count; place++)
        if (fold->events[place].stands && !fold->events[place].gives_points &&
            !is_changed(imagined, place))
            fold_count(fold, &tallies, &fold->events[place]);
    if (imagined->ruling->kind == RULING_UPHELD && imagined->before == EVENT_NONE)
        count_technique(&tallies, imagined->challenged.side, imagined->ruling->given);
    count_lost(imagined, &tallies);
    return tallies;
}

/* ---- the list ---- */

struct listing {
    const struct state *state;
    struct imagined imagined;
    struct ruling *rulings;
    size_t count;
};

static void add(struct listing *listing, struct ruling ruling)
{
    struct ruling *added = &listing->rulings[listing->count++];
    *added = ruling;
    listing->imagined.ruling = added;
    struct tallies tallies = count(&listing->imagined);
    for (unsigned i = 0; i < 2; i++)
        added->points[i] = tallies.sides[i].points;
    added->leader = leader_of(listing->state->fold->details->edition, &tallies);
    added->due = state_due(listing->state, &tallies);
}

/* The same with each value that the challenger may be given besides. */
static void add_upheld(struct listing *listing, int value, enum side side)
{
    const struct edition *edition = listing->state->fold->details->edition;
    for (int given = 0; given <= EDITION_VALUE_MAX; given++) {
        if (given > 0 ? !edition->values[given] : value == RULING_STAYS)
            continue;
        add(listing,
            (struct ruling){.kind = RULING_UPHELD, .value = value, .side = side, .given = given});
    }
}

static void add_changes(struct listing *listing)
{
    const struct fold *fold = listing->state->fold;
    const struct read_event *target = &fold->events[listing->imagined.challenged.target];
    for (enum side side = SIDE_RED; side <= SIDE_BLUE; side++)
        for (int value = 1; value <= EDITION_VALUE_MAX; value++)
            if (fold->details->edition->values[value] &&
                (side != (enum side)target->giver || value != target->event->points))
                add_upheld(listing, value, side);
}

static int lost_points(const struct edition *edition)
{
    const struct value *usual = value_member(edition->document, "usual_points");
    const struct value *points = usual != NULL ? value_member(usual, "challenge") : NULL;
    return points != NULL && points->kind == VALUE_INTEGER ? (int)points->as.integer : 1;
}

size_t rulings_of(const struct state *state, struct ruling rulings[RULINGS_MAX])
{
    const struct fold *fold = state->fold;
    struct listing listing = {.state = state,
                              .imagined = {.fold = fold, .challenged = challenged_of(state)},
                              .rulings = rulings};
    struct imagined *imagined = &listing.imagined;
    if (imagined->challenged.place == EVENT_NONE)
        return 0;
    imagined->before = entry_from(fold, imagined->challenged.target);
    add(&listing,
        (struct ruling){.kind = RULING_LOST, .given = lost_points(fold->details->edition)});
    add(&listing, (struct ruling){.kind = RULING_NOTHING, .value = RULING_STAYS});
    if (can_be_out(imagined))
        add_upheld(&listing, 0, SIDE_NONE);
    if (can_be_changed(imagined))
        add_changes(&listing);
    add_upheld(&listing, RULING_STAYS, SIDE_NONE);
    return listing.count;
}
