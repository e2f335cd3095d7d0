#include "producing/panel.h"
#include <string.h>

enum {
    NAMES_LEAST_MS = 5000,
    LEAST_MS = 2000,
    MANY_WORDS = 10,
    MANY_LEAST_MS = 3000,
    WORD_MS = 200
};

static const char *const names[PANEL_COUNT] = {[PANEL_NONE] = "",
#define X(panel, name) [panel] = name,
                                               PANELS(X)
#undef X
};

const char *panel_name(enum panel panel)
{
    return names[panel];
}

bool panel_read(const char *name, enum panel *panel)
{
    for (unsigned i = PANEL_NONE + 1; i < PANEL_COUNT; i++)
        if (strcmp(names[i], name) == 0)
            return *panel = (enum panel)i, true;
    return false;
}

bool panel_is_of_bout(enum panel panel)
{
    switch (panel) {
    case PANEL_WHO:
    case PANEL_ATTACKS:
    case PANEL_WHY:
    case PANEL_NEEDS:
    case PANEL_RESULT:
        return true;
    case PANEL_NONE:
    case PANEL_MATS:
    case PANEL_ORDER:
    case PANEL_RESULTS:
    case PANEL_TEXT:
    case PANEL_BACK:
    case PANEL_COUNT:
        break;
    }
    return false;
}

bool panel_takes_side(enum panel panel)
{
    return panel == PANEL_WHO || panel == PANEL_ATTACKS || panel == PANEL_NEEDS;
}

/* ---- what is there ---- */

static const struct {
    const char *name, *words;
} absences[ABSENCE_COUNT] = {[ABSENT_NOT] = {"", ""},
#define X(absence, name, words) [absence] = {name, words},
                             ABSENCES(X)
#undef X
};

const char *absence_name(enum absence absence)
{
    return absences[absence].name;
}

const char *absence_words(enum absence absence)
{
    return absences[absence].words;
}

static bool points_wait(const struct state *state)
{
    return state->fold->unconfirmed[0] != 0 || state->fold->unconfirmed[1] != 0;
}

static enum absence unsure(const struct state *state)
{
    if (points_wait(state))
        return ABSENT_UNCONFIRMED;
    return state->under_review ? ABSENT_UNDER_REVIEW : ABSENT_NOT;
}

static enum absence attacks_absence(const struct state *state)
{
    struct sure_attacks attacks = sure_attacks_of(state->fold);
    if (state->under_review)
        return ABSENT_UNDER_REVIEW;
    return attacks.tried[0] + attacks.tried[1] == 0 ? ABSENT_NOT_YET : ABSENT_NOT;
}

static enum absence why_absence(const struct state *state)
{
    enum absence absence = unsure(state);
    if (absence != ABSENT_NOT)
        return absence;
    if (state->result.how != NULL && strcmp(state->result.how, "points") != 0)
        return ABSENT_OVER; /* something else has decided */
    return state->confirmed_leader.side == SIDE_NONE ? ABSENT_NOT_YET : ABSENT_NOT;
}

static enum absence needs_absence(const struct state *state)
{
    bool decided = state->result.how != NULL || state->due != DUE_NOTHING;
    enum absence absence = unsure(state);
    return absence == ABSENT_NOT && decided ? ABSENT_OVER : absence;
}

static enum absence result_absence(const struct state *state)
{
    if (state->result.how == NULL)
        return ABSENT_NOT_YET;
    return state->result.unconfirmed ? ABSENT_UNCONFIRMED : unsure(state);
}

enum absence panel_absence(enum panel panel, const struct state *state,
                           const struct surroundings *around)
{
    if (around->is_private)
        return ABSENT_MINORS;
    if (panel_is_of_bout(panel) && state == NULL)
        return ABSENT_NO_BOUT;
    switch (panel) {
    case PANEL_WHO:
    case PANEL_NONE:
    case PANEL_COUNT:
    case PANEL_TEXT:
    case PANEL_BACK:
        break;
    case PANEL_ATTACKS:
        return attacks_absence(state);
    case PANEL_WHY:
        return why_absence(state);
    case PANEL_NEEDS:
        return needs_absence(state);
    case PANEL_RESULT:
        return result_absence(state);
    case PANEL_MATS:
        return around->has_mats ? ABSENT_NOT : ABSENT_NOT_YET;
    case PANEL_ORDER:
        return around->has_order ? ABSENT_NOT : ABSENT_NOT_YET;
    case PANEL_RESULTS:
        return around->has_results ? ABSENT_NOT : ABSENT_NOT_YET;
    }
    return ABSENT_NOT;
}

enum absence choice_absence(const struct choice *choice, enum absence of_panel)
{
    bool unwritten = (choice->panel == PANEL_TEXT && choice->text[0] == '\0') ||
                     (choice->panel == PANEL_BACK && choice->at_ms == 0);
    return of_panel == ABSENT_NOT && unwritten ? ABSENT_EMPTY : of_panel;
}

/* ---- how long ---- */

unsigned words_in(const char *text)
{
    unsigned count = 0;
    bool inside = false;
    for (; *text != '\0'; text++) {
        bool blank = *text == ' ' || *text == '\t' || *text == '\n';
        count += !blank && !inside ? 1 : 0;
        inside = !blank;
    }
    return count;
}

int64_t panel_least_ms(const struct choice *choice, unsigned words)
{
    if (choice->panel == PANEL_WHO)
        return NAMES_LEAST_MS;
    if (choice->panel == PANEL_TEXT)
        words = words_in(choice->text);
    return (words < MANY_WORDS ? LEAST_MS : MANY_LEAST_MS) + (int64_t)words * WORD_MS;
}

/* ---- attacks ---- */

/* What an event counts for among the attacks, when it isn't sure. */
struct unsure_attack {
    const char *technique;
    unsigned side, leg;
    bool tried, scored;
};

static bool waits(const struct fold *fold, size_t place)
{
    const struct read_event *read = &fold->events[place];
    return read->stands && !read->confirmed && read->event->type == EVENT_SCORE;
}

static bool names_attack(const struct fold *fold, const struct event *score)
{
    return event_gives(score, MEMBER_ATTACK) && fold->events[score->attack].stands;
}

/* Two scores may wait that name one attack: it counts once. */
static bool named_before(const struct fold *fold, size_t place, int32_t attack)
{
    for (size_t i = 0; i < place; i++)
        if (waits(fold, i) && names_attack(fold, fold->events[i].event) &&
            fold->events[i].event->attack == attack)
            return true;
    return false;
}

static bool unsure_attack_at(const struct fold *fold, size_t place, struct unsure_attack *attack)
{
    const struct event *score = fold->events[place].event;
    if (!waits(fold, place))
        return false;
    if (!names_attack(fold, score)) {
        *attack = (struct unsure_attack){score->technique, side_index((enum side)score->side),
                                         score->leg, true, true};
        return event_gives(score, MEMBER_TECHNIQUE);
    }
    const struct read_event *read = &fold->events[score->attack];
    *attack = (struct unsure_attack){
        .technique = read->event->techniques->names[0],
        .side = side_index((enum side)read->event->side),
        .leg = read->event->leg,
        .tried = read->attack_class != ATTACK_UNCOUNTED,
        .scored = read->attack_class == ATTACK_HAS_SCORED,
    };
    return !named_before(fold, place, score->attack);
}

static struct attack_kind kind_of(const struct technique_row *row)
{
    return (struct attack_kind){
        .technique = row->technique,
        .tried = {row->sides[0].tried, row->sides[1].tried},
        .scored = {row->sides[0].scored, row->sides[1].scored},
    };
}

static void kind_take_out(struct attack_kind *kind, const struct unsure_attack *attack)
{
    if (kind->technique != attack->technique) /* the fold's names are told apart by their place */
        return;
    kind->tried[attack->side] -= attack->tried ? 1 : 0;
    kind->scored[attack->side] -= attack->scored ? 1 : 0;
}

static int kind_tried(const struct attack_kind *kind)
{
    return kind->tried[0] + kind->tried[1];
}

static void kind_join(struct attack_kind *others, const struct attack_kind *kind)
{
    for (unsigned side = 0; side < 2; side++) {
        others->tried[side] += kind->tried[side];
        others->scored[side] += kind->scored[side];
    }
}

/* The most tried first, those alike in the order in which they were tried; what has no room is
 * joined in the last row. */
static void kind_add(struct sure_attacks *attacks, struct attack_kind kind,
                     struct attack_kind *rest)
{
    size_t place = 0;
    while (place < attacks->kind_count && kind_tried(&attacks->kinds[place]) >= kind_tried(&kind))
        place++;
    if (attacks->kind_count < ATTACK_KINDS_MAX)
        attacks->kind_count++;
    else if (place == ATTACK_KINDS_MAX) {
        kind_join(rest, &kind);
        return;
    } else
        kind_join(rest, &attacks->kinds[ATTACK_KINDS_MAX - 1]);
    memmove(&attacks->kinds[place + 1], &attacks->kinds[place],
            (attacks->kind_count - 1 - place) * sizeof kind);
    attacks->kinds[place] = kind;
}

static void kinds_take(struct sure_attacks *attacks, const struct fold *fold)
{
    struct attack_kind rest = {.technique = NULL};
    for (size_t row = 0; row < fold->row_count; row++) {
        struct attack_kind kind = kind_of(&fold->rows[row]);
        struct unsure_attack attack;
        for (size_t i = 0; i < fold->count; i++)
            if (unsure_attack_at(fold, i, &attack))
                kind_take_out(&kind, &attack);
        if (kind_tried(&kind) > 0)
            kind_add(attacks, kind, &rest);
    }
    if (kind_tried(&rest) > 0)
        attacks->kinds[attacks->kind_count++] = rest;
}

struct sure_attacks sure_attacks_of(const struct fold *fold)
{
    struct sure_attacks attacks = {.kind_count = 0};
    struct unsure_attack unsure_one;
    for (unsigned side = 0; side < 2; side++) {
        const struct attack_tally *tally = &fold->attacks[side];
        attacks.tried[side] = tally->tried;
        attacks.scored[side] = tally->scored;
        for (unsigned leg = LEG_LEAD; leg <= LEG_TRAIL; leg++) {
            attacks.leg_tried[leg][side] = tally->legs[leg].tried;
            attacks.leg_scored[leg][side] = tally->legs[leg].scored;
        }
    }
    for (size_t i = 0; i < fold->count; i++) {
        if (!unsure_attack_at(fold, i, &unsure_one))
            continue;
        unsigned side = unsure_one.side, leg = unsure_one.leg;
        attacks.tried[side] -= unsure_one.tried ? 1 : 0;
        attacks.scored[side] -= unsure_one.scored ? 1 : 0;
        attacks.leg_tried[leg][side] -= unsure_one.tried ? 1 : 0;
        attacks.leg_scored[leg][side] -= unsure_one.scored ? 1 : 0;
    }
    kinds_take(&attacks, fold);
    return attacks;
}

/* ---- why the leader leads ---- */

static struct why_step step_of(enum criterion by, const struct tallies *tallies)
{
    const struct tally *red = &tallies->sides[0], *blue = &tallies->sides[1];
    struct why_step step = {.by = by, .side = separated_by(by, tallies)};
    if (by == BY_POINTS) {
        step.red = red->points;
        step.blue = blue->points;
    } else if (by == BY_CAUTIONS) {
        step.red = red->cautions;
        step.blue = blue->cautions;
    } else if (by == BY_TECHNIQUE) {
        step.red = red->by_technique;
        step.blue = blue->by_technique;
    }
    return step;
}

struct reasons reasons_of(const struct state *state)
{
    const struct tallies *tallies = &state->confirmed;
    struct reasons why = {.steps = {step_of(BY_POINTS, tallies)}, .step_count = 1};
    if (why.steps[0].side != SIDE_NONE)
        return why;
    const struct tie_clause *clause = tie_clause_of(state->fold->details->edition, tallies);
    const enum criterion *by = clause != NULL ? clause->order : (enum criterion[]){BY_NOTHING};
    for (; *by != BY_NOTHING && why.steps[why.step_count - 1].side == SIDE_NONE; by++)
        why.steps[why.step_count++] = step_of(*by, tallies);
    return why;
}
