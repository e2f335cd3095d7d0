/* Cards on a side's attempts: which leg, how high, after what, and what became of them. */
#include <string.h>
#include "prompts/rule.h"
#include "prompts/technique.h"

enum {
    ANSWER_MS = 5000,          /* an attack so soon after another answers it */
    FRESH_STOP_MS = 60000,     /* a stopped low shot is news so long */
    CHANGED_WITHIN_MS = 90000, /* between the stopped shot and the changed one */
    WHISTLE_MS = 10000,        /* so soon after a start an attack came off the whistle */
};

static bool is_low(const struct try *try)
{
    return technique_is_low(try->first);
}

static bool is_high(const struct try *try)
{
    return technique_is_high(try->first);
}

static bool has_scored(const struct try *try)
{
    return try->class == ATTACK_HAS_SCORED;
}

/* Stopped by the other side; not by the edge of the mat or a whistle. */
static bool was_stopped(const struct try *try)
{
    return try->class == ATTACK_WAS_STOPPED && try->event->outcome == ATTACK_STOPPED;
}

static bool same_first(const struct try *one, const struct try *other)
{
    return strcmp(one->first, other->first) == 0;
}

/* The side's attempts whose outcome is known, one after the other; NULL begins and ends. */
static const struct try *next_try(const struct scan *scan, enum side side, const struct try *try)
{
    const struct try *end = scan->tries + scan->try_count;
    for (try = try == NULL ? scan->tries : try + 1; try < end; try++)
        if (try->side == side && try_counts(try))
            return try;
    return NULL;
}

/* 1: low attacks on the lead leg, at least one of which scored. */
bool low_near(struct scan *scan, enum side side, struct card *card)
{
    int tried = 0, scored = 0;
    for (const struct try *try = NULL; (try = next_try(scan, side, try)) != NULL;) {
        if (!is_low(try) || try->leg != LEG_LEAD)
            continue;
        tried++;
        scored += has_scored(try);
        card_rests_on_try(card, scan, try);
    }
    return tried >= 2 && scored >= 1 &&
           card_say(card, scan, CARD_LOW_NEAR, CARD_LOW_NEAR_LINE,
                    FILLS({"k", .number = scored}, {"n", .number = tried}));
}

/* 2: the trail leg, and whatever scored there was taken above the knee. */
bool far_high(struct scan *scan, enum side side, struct card *card)
{
    int tried = 0, scored = 0;
    for (const struct try *try = NULL; (try = next_try(scan, side, try)) != NULL;) {
        if (try->leg != LEG_TRAIL)
            continue;
        if (has_scored(try) && !is_high(try))
            return false;
        tried++;
        scored += has_scored(try);
        card_rests_on_try(card, scan, try);
    }
    return scored >= 1 &&
           card_say(card, scan, CARD_FAR_HIGH, tried == 1 ? CARD_FAR_HIGH_ONE : CARD_FAR_HIGH_LINE,
                    FILLS({"k", .number = scored}, {"n", .number = tried}));
}

static bool is_low_far_stopped(const struct try *try)
{
    return try != NULL && is_low(try) && try->leg == LEG_TRAIL &&
           (was_stopped(try) || try->class == ATTACK_WAS_COUNTERED);
}

/* 3: the last attempt was low at the trail leg, and came to nothing. */
bool low_far_stopped(struct scan *scan, enum side side, struct card *card)
{
    const struct try *try = scan_last_try(scan, side, NULL);
    if (!is_low_far_stopped(try) || scan_bout_time_reached(scan, try->bout_ms + FRESH_STOP_MS + 1))
        return false;
    card_rests_on_try(card, scan, try);
    return card_say(card, scan, was_stopped(try) ? CARD_LOW_FAR_STOPPED : CARD_LOW_FAR_COUNTERED,
                    CARD_LOW_FAR_LINE, NULL);
}

/* 4: after such a stop, the next attempt is taken higher, or opened by what moves the feet. */
bool changed_after_stop(struct scan *scan, enum side side, struct card *card)
{
    static const char *const moving[] = {"circle", "push_pull", "head_pull"};
    const struct try *now = scan_last_try(scan, side, NULL);
    const struct try *before = now != NULL ? scan_last_try(scan, side, now) : NULL;
    if (!is_low_far_stopped(before) || now->bout_ms - before->bout_ms > CHANGED_WITHIN_MS)
        return false;
    card_rests_on_try(card, scan, before);
    card_rests_on_try(card, scan, now);
    for (size_t i = 0; i < sizeof moving / sizeof *moving; i++)
        if (try_has_setup(now, moving[i]))
            return card_say(card, scan, CARD_CHANGED, CARD_CHANGED_SETUP,
                            FILLS({"setup", .word = WORD_SETUP, .text = moving[i]}));
    return is_high(now) && card_say(card, scan, CARD_CHANGED, CARD_CHANGED_HIGHER, NULL);
}

/* 5: stopped at least twice in a row on one leg, and now the other. */
bool other_leg(struct scan *scan, enum side side, struct card *card)
{
    const struct try *now = scan_last_try(scan, side, NULL);
    if (now == NULL || now->leg == LEG_NONE)
        return false;
    enum leg leg = now->leg == LEG_LEAD ? LEG_TRAIL : LEG_LEAD;
    int stopped = 0;
    card_rests_on_try(card, scan, now);
    for (const struct try *try = now; (try = scan_last_try(scan, side, try)) != NULL;) {
        if (try->leg != leg || !was_stopped(try))
            break;
        card_rests_on_try(card, scan, try);
        stopped++;
    }
    return stopped >= 2 && card_say(card, scan, CARD_OTHER_LEG,
                                    leg == LEG_LEAD ? CARD_OTHER_LEG_LEAD : CARD_OTHER_LEG_TRAIL,
                                    FILLS({"n", .number = stopped}));
}

/* How often what stopped that attempt stopped those like it; 0 where it wasn't keyed. */
static int stopped_alike(const struct scan *scan, const struct try *like)
{
    int count = 0;
    const char *by = like->event->stopped_by;
    for (const struct try *try = NULL;
         by != NULL && (try = next_try(scan, like->side, try)) != NULL;)
        count += same_first(try, like) && try->leg == like->leg && was_stopped(try) &&
                 try->event->stopped_by != NULL && strcmp(try->event->stopped_by, by) == 0;
    return count;
}

/* 6: the same entry at the same leg, three times or more, and stopped the last two times. */
bool same_leg(struct scan *scan, enum side side, struct card *card)
{
    int tried = 0, scored = 0, in_a_row = 0;
    const struct try *last = NULL;
    for (const struct try *try = NULL; (try = next_try(scan, side, try)) != NULL;)
        last = try;
    if (last == NULL || last->leg == LEG_NONE || !technique_is_known(last->first))
        return false;
    for (const struct try *try = NULL; (try = next_try(scan, side, try)) != NULL;) {
        if (!same_first(try, last) || try->leg != last->leg)
            continue;
        tried++;
        scored += has_scored(try);
        in_a_row = was_stopped(try) ? in_a_row + 1 : 0;
        card_rests_on_try(card, scan, try);
    }
    if (tried < 3 || in_a_row < 2)
        return false;
    int alike = stopped_alike(scan, last);
    const char *by = alike > 1 ? last->event->stopped_by : "";
    return card_say_or(card, scan, CARD_SAME_LEG, CARD_SAME_LEG_SPARE,
                       alike < 2    ? CARD_SAME_LEG_LINE
                       : alike == 2 ? CARD_SAME_LEG_TWICE
                                    : CARD_SAME_LEG_OFTEN,
                       FILLS({"technique", .word = WORD_TECHNIQUE, .text = last->first},
                             {"n", .number = tried}, {"k", .number = scored},
                             {"m", .number = alike},
                             {"defence", .word = WORD_DEFENCE, .text = by}));
}

/* 7: an entry that was changed to another hold, which scored. */
bool second_effort(struct scan *scan, enum side side, struct card *card)
{
    const struct try *try = scan_last_try(scan, side, NULL);
    if (try == NULL || !has_scored(try) || strcmp(try->first, try->last) == 0 ||
        !technique_is_known(try->first) || !technique_is_known(try->last))
        return false;
    card_rests_on_try(card, scan, try);
    if (try->finish_place != EVENT_NONE)
        card_rests_on(card, scan, try->finish_place);
    return card_say(card, scan, CARD_SECOND_EFFORT, CARD_SECOND_EFFORT_LINE,
                    FILLS({"first", .word = WORD_TECHNIQUE, .text = try->first},
                          {"last", .word = WORD_TECHNIQUE, .text = try->last}));
}

struct setup_count {
    int after, after_scored, without, without_scored;
};

static struct setup_count count_setup(const struct scan *scan, enum side side, const char *setup)
{
    struct setup_count count = {0};
    for (const struct try *try = NULL; (try = next_try(scan, side, try)) != NULL;) {
        if (try_has_setup(try, setup)) {
            count.after++;
            count.after_scored += has_scored(try);
        } else {
            count.without++;
            count.without_scored += has_scored(try);
        }
    }
    return count;
}

/* 8: everything that scored came after the same set-up. */
bool setup_opens(struct scan *scan, enum side side, struct card *card)
{
    const struct try *first = NULL;
    while ((first = next_try(scan, side, first)) != NULL && !has_scored(first))
        ;
    if (first == NULL || first->event->setup == NULL)
        return false;
    for (const struct try *try = NULL; (try = next_try(scan, side, try)) != NULL;)
        card_rests_on_try(card, scan, try);
    for (unsigned i = 0; i < first->event->setup->count; i++) {
        const char *setup = first->event->setup->names[i];
        struct setup_count count = count_setup(scan, side, setup);
        if (count.after_scored < 2 || count.without_scored > 0 || count.after + count.without < 5)
            continue;
        return card_say_or(card, scan, CARD_SETUP_OPENS, CARD_SETUP_OPENS_SPARE,
                           count.without > 0 ? CARD_SETUP_OPENS_LINE : CARD_SETUP_OPENS_ALL,
                           FILLS({"setup", .word = WORD_SETUP, .text = setup},
                                 {"k", .number = count.after_scored}, {"n", .number = count.after},
                                 {"m", .number = count.without}));
    }
    return false;
}

/* No set-up, and the table keyed that there was none. */
static bool went_straight_in(const struct try *try)
{
    const struct event *event = try->event;
    if (!event_gives(event, MEMBER_SETUP) || try_has_setup(try, "fake") ||
        try_has_setup(try, "level_change"))
        return false;
    return event->setup == NULL || event->setup->count == 0 || try_has_setup(try, "open");
}

/* 9: the last attempt went straight in, and was countered or answered within five seconds. */
bool straight_in(struct scan *scan, enum side side, struct card *card)
{
    const struct try *try = scan_last_try(scan, side, NULL);
    if (try == NULL || !went_straight_in(try) || has_scored(try))
        return false;
    enum side other = side_other(side);
    const struct try *answer = scan_answer(scan, other, try, ANSWER_MS);
    card_rests_on_try(card, scan, try);
    if (answer == NULL)
        return try->class == ATTACK_WAS_COUNTERED &&
               card_say(card, scan, CARD_STRAIGHT_IN, CARD_STRAIGHT_IN_COUNTER,
                        FILLS({"O", .side = other}));
    int seconds = (answer->bout_ms - try->bout_ms + 500) / 1000;
    card_rests_on_try(card, scan, answer);
    return card_say(card, scan, CARD_STRAIGHT_IN, CARD_STRAIGHT_IN_ATTACK,
                    FILLS({"O", .side = other}, {"s", .number = seconds > 0 ? seconds : 1}));
}

/* 10: attacks straight after stopping one. */
bool re_attacks(struct scan *scan, enum side side, struct card *card)
{
    int stops = 0, answered = 0;
    for (const struct try *try = NULL; (try = next_try(scan, side_other(side), try)) != NULL;) {
        if (!was_stopped(try))
            continue;
        const struct try *answer = scan_answer(scan, side, try, ANSWER_MS);
        stops++;
        if (answer == NULL)
            continue;
        answered++;
        card_rests_on_try(card, scan, try);
        card_rests_on_try(card, scan, answer);
    }
    return answered >= 2 &&
           card_say(card, scan, CARD_RE_ATTACKS, CARD_RE_ATTACKS_LINE,
                    FILLS({"k", .number = answered}, {"n", .number = stops}, {"S", .side = side}));
}

/* 11: points taken from the other side's attacks, four or more of them. */
bool counters(struct scan *scan, enum side side, struct card *card)
{
    int tried = 0, countered = 0, points = 0;
    for (const struct try *try = NULL; (try = next_try(scan, side_other(side), try)) != NULL;) {
        tried++;
        if (try->against == 0)
            continue;
        countered++;
        points += try->against;
        card_rests_on_try(card, scan, try);
        card_rests_on(card, scan, try->finish_place);
    }
    return countered >= 2 && points >= 4 &&
           card_say(card, scan, CARD_COUNTERS, CARD_COUNTERS_LINE,
                    FILLS({"p", .number = points}, {"k", .number = countered},
                          {"n", .number = tried}, {"O", .side = side_other(side)}));
}

/* 12: attempts that the whistle ended, with no progress. */
bool held(struct scan *scan, enum side side, struct card *card)
{
    int count = 0;
    for (const struct try *try = NULL; (try = next_try(scan, side, try)) != NULL;) {
        if (try->class != ATTACK_WAS_STOPPED || try->event->outcome != ATTACK_STALEMATE)
            continue;
        count++;
        card_rests_on_try(card, scan, try);
    }
    return count >= 2 &&
           card_say(card, scan, CARD_HELD, CARD_HELD_LINE, FILLS({"n", .number = count}));
}

static bool off_whistle(const struct scan *scan, const struct try *try)
{
    for (size_t i = 0; i < scan->run_count; i++) {
        const struct run *run = &scan->runs[i];
        if (run->started && run->period == try->period && try->bout_ms >= run->from_bout_ms &&
            try->bout_ms <= run->from_bout_ms + WHISTLE_MS && try->bout_ms <= run->to_bout_ms)
            return true;
    }
    return false;
}

/* 31: attacks within ten seconds of a start of the clock. A turn tried from ordered par terre is
 * none: it can begin no other way. */
bool off_the_whistle(struct scan *scan, enum side side, struct card *card)
{
    int tried = 0, count = 0;
    for (const struct try *try = NULL; (try = next_try(scan, side, try)) != NULL;) {
        if (technique_family(try->first) == TECHNIQUE_TOP)
            continue;
        tried++;
        if (!off_whistle(scan, try))
            continue;
        count++;
        card_rests_on_try(card, scan, try);
    }
    return count >= 2 && card_say(card, scan, CARD_WHISTLE, CARD_WHISTLE_LINE,
                                  FILLS({"k", .number = count}, {"n", .number = tried}));
}

/* 34: an entry that scored at first, and then not in three or more. */
bool dried_up(struct scan *scan, enum side side, struct card *card)
{
    int early = 0, early_scored = 0, since = 0, stopped = 0;
    const struct try *last = NULL;
    for (const struct try *try = NULL; (try = next_try(scan, side, try)) != NULL;)
        last = try;
    if (last == NULL || !technique_is_known(last->first))
        return false;
    for (const struct try *try = NULL; (try = next_try(scan, side, try)) != NULL;) {
        if (!same_first(try, last))
            continue;
        card_rests_on_try(card, scan, try);
        if (has_scored(try)) {
            early += since + 1;
            early_scored++;
            since = stopped = 0;
            continue;
        }
        since++;
        stopped += was_stopped(try) || try->class == ATTACK_WAS_COUNTERED;
    }
    if (early_scored == 0 || since < 3 || stopped == 0)
        return false;
    return card_say_or(card, scan, CARD_DRIED_UP, CARD_DRIED_UP_SPARE,
                       early == 1 ? CARD_DRIED_UP_FIRST : CARD_DRIED_UP_LINE,
                       FILLS({"technique", .word = WORD_TECHNIQUE, .text = last->first},
                             {"n", .number = since}, {"k", .number = early_scored},
                             {"m", .number = early}));
}
