/* Which card is of most use now. Every rule is tried for both sides; what it says competes for its
 * place by a figure made of the rule's own rank, how new the fact is, and whether the bout is at a
 * point where such a fact helps. What changes with time is asked of the scan alone, which keeps the
 * moment at which the first answer changes. */
#include "prompts/cards.h"
#include <assert.h>
#include <stdio.h>
#include <string.h>
#include "prompts/rule.h"

const char *card_kind_name(enum card_kind kind)
{
    static const char *const names[] = {
        [CARD_TIME] = "time",           [CARD_NEEDS] = "needs",     [CARD_LEADER] = "leader",
        [CARD_PATTERN] = "pattern",     [CARD_REFEREE] = "referee", [CARD_PAST] = "past",
        [CARD_RULING] = "ruling",       [CARD_WHO] = "who",         [CARD_MEANS] = "means",
        [CARD_ELSEWHERE] = "elsewhere", [CARD_RECAP] = "recap",
    };
    return names[kind];
}

enum {                  /* what a rule rests on, and so what silences it */
       ON_POINTS = 1,   /* points, cautions, passivities: while one waits to be confirmed */
       ON_ATTEMPTS = 2, /* the side's own attempts: while the score of one waits */
       ON_LEGS = 4,     /* holds on the legs: in Greco-Roman */
       ON_TIME = 8,     /* the clock: while it is unsure */
       ON_BOTH = 16,    /* the attempts of both sides */
};

enum { /* where its fact helps most: it counts more there, and doesn't grow old */
       IN_BREAK = 1,
       LATE = 2,  /* the last minute */
       CLOSE = 4, /* at most two points apart (it does grow old) */
       /* Those with one of these three are said at such times alone: */
       BEFORE = 8, /* called, and not begun */
       PAUSE = 16, /* the break, and long stoppages */
       AFTER = 32, /* the result stands */
};

struct rule {
    int number; /* 0: look of the booth, "time and score reminders" */
    enum card_kind kind;
    const char *name;
    int rank;
    int life_s; /* how long after it came to be so it is still said; 0: as long as it is so */
    unsigned rests_on, helps;
    const char *source;
    rule_shows *shows;
};

#define PRACTICE "common practice, no source"
#define USA_WRESTLER "set-ups, counters and late attacks of winners: USA Wrestler, Apr 2011, p. 30"
#define LOW_GUIDE "the lead foot is closest: guides to the low and sweep single, sportmentary.com"
#define UWW_2022 "UWW, 27 Jan 2022 (activity time, fleeing)"
#define DRB_GUIDE "referee's guide, ringen-kampfrichter.info"
#define ARCHIVE "the archive's own counts; no published rate"
#define ROSTER "the roster, as it was entered; the facts are the commentator's own"
#define RESULTS "the results of this day, as they stand"
#define DRAW "the day's draw by the results so far (draw/picture.h)"
#define SCHEDULE "this day's own lengths and breaks (draw/schedule.h)"
#define EDITION "the bout's rule edition, by its own sources"

static const struct rule rules[] = {
    {0, CARD_TIME, "reminder", 65, 0, ON_POINTS | ON_TIME, 0, PRACTICE, reminder},
    {1, CARD_PATTERN, "low_near", 50, 45, ON_ATTEMPTS | ON_LEGS, IN_BREAK, LOW_GUIDE, low_near},
    {2, CARD_PATTERN, "far_high", 49, 45, ON_ATTEMPTS | ON_LEGS, IN_BREAK, PRACTICE, far_high},
    {3, CARD_PATTERN, "low_far_stopped", 45, 0, ON_ATTEMPTS | ON_LEGS | ON_TIME, 0, LOW_GUIDE,
     low_far_stopped},
    {4, CARD_PATTERN, "changed_after_stop", 53, 45, ON_ATTEMPTS | ON_LEGS, 0, PRACTICE,
     changed_after_stop},
    {5, CARD_PATTERN, "other_leg", 48, 45, ON_ATTEMPTS | ON_LEGS, 0, PRACTICE, other_leg},
    {6, CARD_PATTERN, "same_leg", 58, 45, ON_ATTEMPTS | ON_LEGS, IN_BREAK, PRACTICE, same_leg},
    {7, CARD_PATTERN, "second_effort", 54, 45, ON_ATTEMPTS, 0, PRACTICE, second_effort},
    {8, CARD_PATTERN, "setup_opens", 60, 45, ON_ATTEMPTS, IN_BREAK, USA_WRESTLER, setup_opens},
    {9, CARD_PATTERN, "straight_in", 47, 45, ON_BOTH, 0,
     "an angle weakens a sprawl: Coaching Youth Wrestling, 3rd ed.", straight_in},
    {10, CARD_PATTERN, "re_attacks", 55, 45, ON_BOTH, IN_BREAK, USA_WRESTLER, re_attacks},
    {11, CARD_PATTERN, "counters", 64, 45, ON_BOTH, IN_BREAK, PRACTICE, counters},
    {12, CARD_PATTERN, "held", 42, 45, ON_ATTEMPTS, IN_BREAK, PRACTICE, held},
    {13, CARD_PATTERN, "step_outs", 52, 45, ON_POINTS, IN_BREAK, UWW_2022 "; " DRB_GUIDE,
     step_outs},
    {14, CARD_PATTERN, "takedown_turn", 70, 30, ON_POINTS, 0, PRACTICE, takedown_turn},
    {15, CARD_NEEDS, "turn_after_turn", 85, 0, ON_POINTS | ON_TIME, 0, PRACTICE, turn_after_turn},
    {16, CARD_NEEDS, "one_turn", 95, 0, ON_POINTS | ON_TIME, 0, EDITION, one_turn},
    {17, CARD_PATTERN, "no_turn", 44, 45, ON_POINTS | ON_TIME, IN_BREAK, PRACTICE, no_turn},
    {18, CARD_PATTERN, "par_terre", 57, 45, ON_POINTS | ON_TIME, IN_BREAK,
     "UWW, 2 Feb 2021 (passivity and the choice of par terre)", par_terre},
    {19, CARD_NEEDS, "one_action", 60, 45, ON_POINTS | ON_TIME, IN_BREAK | LATE, EDITION,
     one_action},
    {20, CARD_NEEDS, "step_out_enough", 90, 0, ON_POINTS | ON_TIME, CLOSE, EDITION,
     step_out_enough},
    {21, CARD_LEADER, "level", 88, 0, ON_POINTS | ON_TIME, CLOSE, EDITION, level},
    {22, CARD_PATTERN, "chasing", 74, 0, ON_POINTS | ON_ATTEMPTS | ON_TIME, CLOSE, USA_WRESTLER,
     chasing},
    {23, CARD_PATTERN, "leader_waits", 73, 0, ON_POINTS | ON_BOTH | ON_TIME, CLOSE, UWW_2022,
     leader_waits},
    {24, CARD_LEADER, "caution_turns", 92, 0, ON_POINTS | ON_TIME, CLOSE, EDITION, caution_turns},
    {25, CARD_REFEREE, "two_cautions", 80, 60, ON_POINTS, IN_BREAK | LATE, EDITION, two_cautions},
    {26, CARD_REFEREE, "activity_no_attack", 70, 0, ON_POINTS | ON_TIME, 0, UWW_2022,
     activity_no_attack},
    {27, CARD_REFEREE, "activity_scored_on", 78, 0, ON_POINTS | ON_TIME, 0, UWW_2022,
     activity_scored_on},
    {28, CARD_PATTERN, "one_sided", 50, 0, ON_BOTH | ON_TIME, 0, PRACTICE, one_sided},
    {29, CARD_REFEREE, "forced_call", 72, 0, ON_POINTS | ON_TIME, 0,
     "FILA, notice of June 2013, still common practice", forced_call},
    {30, CARD_PATTERN, "slowing", 46, 45, ON_ATTEMPTS | ON_TIME, 0, PRACTICE, slowing},
    {31, CARD_PATTERN, "off_the_whistle", 40, 45, ON_ATTEMPTS | ON_TIME, IN_BREAK, USA_WRESTLER,
     off_the_whistle},
    {32, CARD_PAST, "late_scorer", 48, 45, ON_POINTS | ON_TIME, IN_BREAK | LATE, ARCHIVE,
     late_scorer},
    {33, CARD_PAST, "first_score", 43, 45, ON_POINTS, IN_BREAK, ARCHIVE, first_score},
    {34, CARD_PATTERN, "dried_up", 56, 45, ON_ATTEMPTS, IN_BREAK, PRACTICE, dried_up},
    {35, CARD_PATTERN, "without_reply", 66, 45, ON_POINTS | ON_TIME, IN_BREAK, PRACTICE,
     without_reply},
    {36, CARD_REFEREE, "no_challenge", 40, 45, ON_POINTS, IN_BREAK | LATE, DRB_GUIDE, no_challenge},
    {37, CARD_NEEDS, "actions_needed", 57, 45, ON_POINTS | ON_TIME, IN_BREAK | LATE, EDITION,
     actions_needed},
    {38, CARD_NEEDS, "pace", 52, 30, ON_POINTS | ON_TIME, 0, PRACTICE, pace},
    {39, CARD_NEEDS, "closes", 40, 45, ON_POINTS | ON_TIME, IN_BREAK | LATE, EDITION, closes},
    {40, CARD_PAST, "came_back", 45, 45, ON_POINTS | ON_TIME, IN_BREAK | LATE, ARCHIVE, came_back},
    {41, CARD_PAST, "met_before", 41, 60, 0, IN_BREAK, ARCHIVE, met_before},
    {42, CARD_RULING, "ruling_lost", 90, 0, 0, 0, EDITION, ruling_lost},
    {43, CARD_RULING, "ruling_upheld", 90, 0, 0, 0, EDITION, ruling_upheld},
    {44, CARD_RULING, "ruling_or", 90, 0, 0, 0, EDITION, ruling_or},
    {45, CARD_WHO, "who", 39, 30, 0, BEFORE | PAUSE, ROSTER, who},
    {46, CARD_WHO, "way_here", 34, 0, 0, BEFORE | PAUSE, RESULTS, way_here},
    {47, CARD_MEANS, "decides", 36, 60, 0, BEFORE | PAUSE, DRAW, decides},
    {48, CARD_MEANS, "comes_next", 60, 0, 0, AFTER, DRAW, comes_next},
    {49, CARD_MEANS, "team_day", 55, 60, 0, AFTER, DRAW, team_day},
    {50, CARD_ELSEWHERE, "other_mat", 26, 0, 0, BEFORE | PAUSE | AFTER, RESULTS, other_mat},
    {51, CARD_ELSEWHERE, "upset", 52, 90, 0, BEFORE | PAUSE | AFTER, RESULTS, upset},
    {52, CARD_ELSEWHERE, "next_here", 50, 120, 0, AFTER, SCHEDULE, next_here},
    {53, CARD_RECAP, "so_far", 33, 0, ON_ATTEMPTS, PAUSE | AFTER, PRACTICE, so_far},
    {54, CARD_RECAP, "summary", 80, 30, ON_POINTS, AFTER, EDITION, summary},
};

/* ---- writing a card ---- */

const char *score_of(char text[SCORE_SIZE], const int points[2], enum side first)
{
    unsigned one = side_index(first);
    snprintf(text, SCORE_SIZE, "%d-%d", points[one], points[1 - one]);
    return text;
}

const char *score_now(char text[SCORE_SIZE], const struct scan *scan, enum side first)
{
    const struct tally *sides = scan->state->all.sides;
    return score_of(text, (const int[2]){sides[0].points, sides[1].points}, first);
}

static bool headline_fits(const struct card *card)
{
    return text_characters(card->headline) <= CARD_HEADLINE_CHARACTERS &&
           text_words(card->headline) <= CARD_HEADLINE_WORDS;
}

/* False where it doesn't fit; then nothing is there. */
static bool write_headline(struct card *card, const struct scan *scan, enum phrase phrase,
                           const struct naming *names, const struct fill *fills)
{
    struct text text = text_start(scan->language, card->headline, sizeof card->headline);
    text_add(&text, phrase, names, fills);
    if (!text.cut && headline_fits(card))
        return true;
    card->headline[0] = '\0';
    return false;
}

static bool write_line(struct card *card, const struct scan *scan, enum phrase phrase,
                       const struct naming *names, const struct fill *fills)
{
    struct text text = text_start(scan->language, card->line, sizeof card->line);
    text_add(&text, phrase, names, fills);
    if (!text.cut && text_characters(card->line) <= CARD_LINE_CHARACTERS)
        return true;
    card->line[0] = '\0';
    return false;
}

bool card_say_or(struct card *card, const struct scan *scan, enum phrase headline,
                 enum phrase spare, enum phrase line, const struct fill *fills)
{
    const struct naming plain = naming_plain(scan->language);
    if (!write_line(card, scan, line, &scan->names, fills))
        write_line(card, scan, line, &plain, fills);
    return write_headline(card, scan, headline, &scan->names, fills) ||
           write_headline(card, scan, headline, &plain, fills) ||
           (spare != SAY_NOTHING && write_headline(card, scan, spare, &plain, fills));
}

bool card_say(struct card *card, const struct scan *scan, enum phrase headline, enum phrase line,
              const struct fill *fills)
{
    return card_say_or(card, scan, headline, SAY_NOTHING, line, fills);
}

void card_rests_on(struct card *card, const struct scan *scan, int32_t place)
{
    int64_t known_ms = scan_known_ms(scan, place);
    if (known_ms > card->since_ms)
        card->since_ms = known_ms;
    if (card->evidence_count == CARD_EVIDENCE_MAX) {
        memmove(card->evidence, card->evidence + 1,
                (CARD_EVIDENCE_MAX - 1) * sizeof *card->evidence);
        card->evidence_count--;
    }
    card->evidence[card->evidence_count++] = place;
}

void card_rests_on_try(struct card *card, const struct scan *scan, const struct try *try)
{
    card_rests_on(card, scan, try->place);
    if (try->finish_place == EVENT_NONE)
        return;
    int64_t known_ms = scan_known_ms(scan, try->finish_place);
    if (known_ms > card->since_ms)
        card->since_ms = known_ms;
}

void card_since(struct card *card, const struct scan *scan, int32_t bout_ms)
{
    int64_t moment_ms = scan_moment_at(scan, bout_ms);
    if (moment_ms > card->since_ms)
        card->since_ms = moment_ms;
}

void card_figure(struct card *card, const char *name, int number)
{
    assert(card->figure_count < CARD_FIGURES_MAX);
    card->figures[card->figure_count++] = (struct card_figure){name, number};
}

/* FNV-1a, 32 bits. */
static uint32_t hash_bytes(uint32_t hash, const void *bytes, size_t count)
{
    const unsigned char *byte = bytes;
    for (size_t i = 0; i < count; i++)
        hash = (hash ^ byte[i]) * 16777619u;
    return hash;
}

/* Its words are in the id, so that the same id says the same. A reminder is another one each time
 * that its occasion comes, though it may say the same. */
static void name_card(struct card *card, const struct rule *rule)
{
    uint32_t hash = hash_bytes(2166136261u, card->headline, strlen(card->headline) + 1);
    hash = hash_bytes(hash, card->line, strlen(card->line));
    if (rule->kind == CARD_TIME)
        hash = hash_bytes(hash, &card->since_ms, sizeof card->since_ms);
    snprintf(card->id, sizeof card->id, "%s%s%s-%08lx", rule->name,
             card->side != SIDE_NONE ? "-" : "", side_name(card->side), (unsigned long)hash);
}

/* ---- choosing ---- */

/* A score that one of the side's attempts rests on waits; SIDE_NONE asks for both sides. */
static bool has_unsettled_try(const struct scan *scan, enum side side)
{
    for (size_t i = 0; i < scan->try_count; i++)
        if (!scan->tries[i].settled && (side == SIDE_NONE || scan->tries[i].side == side))
            return true;
    return false;
}

static bool is_silenced(const struct scan *scan, const struct rule *rule, enum side side)
{
    unsigned on = rule->rests_on;
    return ((on & ON_LEGS) != 0 && scan->greco) ||
           ((on & ON_TIME) != 0 && scan->fold->clock.unsure) ||
           ((on & ON_POINTS) != 0 && !scan->settled) ||
           ((on & ON_ATTEMPTS) != 0 && has_unsettled_try(scan, side)) ||
           ((on & ON_BOTH) != 0 && has_unsettled_try(scan, SIDE_NONE));
}

static bool in_break(const struct scan *scan, const struct rule *rule)
{
    return (rule->helps & IN_BREAK) != 0 && scan->state->phase == PHASE_BREAK;
}

static bool is_late(struct scan *scan, const struct rule *rule)
{
    return (rule->helps & LATE) != 0 && scan_left_at_most(scan, 60000);
}

static bool is_close(const struct scan *scan, const struct rule *rule)
{
    const struct tally *sides = scan->state->all.sides;
    int margin = sides[0].points - sides[1].points;
    return (rule->helps & CLOSE) != 0 && margin >= -2 && margin <= 2;
}

/* Said long enough, unless the bout has come to where it helps again. */
static bool has_grown_old(struct scan *scan, const struct rule *rule, const struct card *card)
{
    return rule->life_s > 0 && !in_break(scan, rule) && !is_late(scan, rule) &&
           scan_moment_reached(scan, card->since_ms + rule->life_s * INT64_C(1000));
}

enum { FRESH_MS = 15000 };

static int use_of(struct scan *scan, const struct rule *rule, const struct card *card)
{
    int use = rule->rank;
    use += scan_moment_reached(scan, card->since_ms + FRESH_MS) ? 0 : 25;
    use += is_late(scan, rule) ? 20 : 0;
    use += in_break(scan, rule) ? 15 : 0;
    use += is_close(scan, rule) ? 10 : 0;
    return use;
}

static size_t place_of(const struct rule *rule, enum side side)
{
    switch (rule->kind) {
    case CARD_PATTERN:
    case CARD_NEEDS:
    case CARD_PAST:
    case CARD_WHO:
        return side_index(side);
    case CARD_MEANS:
        return rule->shows == comes_next ? side_index(side) : 2;
    case CARD_RECAP:
        return rule->shows == so_far ? side_index(side) : 2;
    case CARD_RULING:
        return rule->shows == ruling_lost ? 2 : side_index(side);
    case CARD_TIME:
    case CARD_LEADER:
    case CARD_REFEREE:
    case CARD_ELSEWHERE:
        break;
    }
    return 2;
}

static bool is_of_a_side(const struct rule *rule)
{
    return rule->shows != reminder && rule->shows != forced_call && rule->shows != decides &&
           rule->kind != CARD_ELSEWHERE;
}

/* What a rule says of a side now; false: nothing, or nothing any more. */
static bool card_of(struct scan *scan, const struct rule *rule, enum side side, struct card *card)
{
    *card = (struct card){
        .kind = rule->kind,
        .side = is_of_a_side(rule) ? side : SIDE_NONE,
        .since_ms = INT64_MIN,
        .rule = rule->number,
    };
    if (is_silenced(scan, rule, side) || !rule->shows(scan, side, card))
        return false;
    if (card->since_ms == INT64_MIN)
        card->since_ms = scan_moment_at(scan, 0);
    name_card(card, rule);
    return !has_grown_old(scan, rule, card);
}

struct choice {
    struct card *cards;
    int use[CARD_PLACES];
};

/* At the same use the newer fact, then the rule that stands first. */
static void consider(struct choice *choice, struct scan *scan, const struct rule *rule,
                     enum side side)
{
    struct card card;
    size_t place = place_of(rule, side);
    struct card *best = &choice->cards[place];
    if (!card_of(scan, rule, side, &card))
        return;
    int use = use_of(scan, rule, &card);
    bool better =
        use > choice->use[place] || (use == choice->use[place] && card.since_ms > best->since_ms);
    if (best->id[0] != '\0' && !better)
        return;
    *best = card;
    choice->use[place] = use;
}

/* Cards are for a bout that goes on. */
static bool is_going_on(const struct state *state)
{
    switch (state->phase) {
    case PHASE_LIVE:
    case PHASE_BREAK:
    case PHASE_STOPPED:
        return state->due == DUE_NOTHING;
    case PHASE_OFF:
    case PHASE_CLOSED:
    case PHASE_OVER:
    case PHASE_CALLED:
        break;
    }
    return false;
}

/* A challenge may be asked as the time ends. */
static bool is_challenged(const struct state *state)
{
    return state->under_review &&
           (is_going_on(state) || state->phase == PHASE_OVER || state->phase == PHASE_LIVE);
}

/* Not begun yet, or over for good. */
static bool is_around(const struct state *state)
{
    return state->phase == PHASE_CALLED ||
           (state->phase == PHASE_CLOSED && !state->result.unconfirmed && !state->under_review);
}

/* Takes the scan; false: nothing is to be said now. */
static bool has_something_to_say(struct scan *scan, const struct language *language,
                                 const struct state *state, const struct past *past,
                                 const struct around *around)
{
    if (!is_going_on(state) && !is_challenged(state) && !is_around(state))
        return false;
    scan_take(scan, language, state);
    scan->past = past;
    scan->around = around;
    return is_challenged(state) || (scan->complete && !scan->reviewed);
}

/* While a challenge is open, the rulings and nothing else. */
static bool has_its_time(const struct rule *rule, const struct state *state)
{
    unsigned when = rule->helps & (BEFORE | PAUSE | AFTER);
    if (is_challenged(state) || rule->kind == CARD_RULING)
        return is_challenged(state) && rule->kind == CARD_RULING;
    if (state->phase == PHASE_CALLED)
        return (when & BEFORE) != 0;
    if (state->phase == PHASE_CLOSED)
        return (when & AFTER) != 0;
    return when == 0 || (when & PAUSE) != 0;
}

size_t cards_of(const struct language *language, const struct state *state, const struct past *past,
                const struct around *around, struct card cards[CARD_PLACES], int64_t *next_ms)
{
    struct scan scan;
    struct choice choice = {.cards = cards};
    size_t count = 0;
    memset(cards, 0, CARD_PLACES * sizeof *cards);
    *next_ms = state->next_ms;
    if (!has_something_to_say(&scan, language, state, past, around))
        return 0;
    for (size_t i = 0; i < sizeof rules / sizeof *rules; i++)
        for (enum side side = SIDE_RED; side <= SIDE_BLUE && has_its_time(&rules[i], state); side++)
            consider(&choice, &scan, &rules[i], side);
    if (scan.next_ms < *next_ms)
        *next_ms = scan.next_ms;
    for (size_t place = 0; place < CARD_PLACES; place++)
        count += cards[place].id[0] != '\0';
    return count;
}

bool card_by_rule(const struct language *language, const struct state *state,
                  const struct past *past, const struct around *around, int number, enum side side,
                  struct card *card)
{
    struct scan scan;
    if (!has_something_to_say(&scan, language, state, past, around))
        return false;
    for (size_t i = 0; i < sizeof rules / sizeof *rules; i++)
        if (rules[i].number == number && has_its_time(&rules[i], state) &&
            card_of(&scan, &rules[i], side, card))
            return true;
    return false;
}
