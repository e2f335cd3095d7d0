/* One event, read: which sentences it makes. Most make one; a correction is told by what it changed
 * (corrections.c); the clock by what is different from before. */
#include "prompts/lines.h"
#include <string.h>
#include "prompts/narration.h"

const char *line_kind_name(enum line_kind kind)
{
    static const char *const names[] = {
        [LINE_CALL] = "call",     [LINE_CLOCK] = "clock",     [LINE_SCORE] = "score",
        [LINE_ATTACK] = "attack", [LINE_REFEREE] = "referee", [LINE_CORRECTION] = "correction",
        [LINE_RESULT] = "result", [LINE_NOTE] = "note",
    };
    return names[kind];
}

struct telling telling_of(const struct state *state)
{
    return (struct telling){
        .phase = state->phase,
        .keyed = state->fold->clock.keyed,
        .period = state->clock.period,
        .used_up = state->clock.used_up,
        .leader = state->confirmed_leader,
        .due = state->confirmed_due,
        .activity = state->activity.side,
    };
}

/* ---- who wrestles, and where ---- */

static void say_side(struct narration *narration, enum side side)
{
    const char *team = narration->fold->details->sides[side_index(side)].team;
    narration_say_full(narration, team != NULL ? LINE_CALL_TEAM : LINE_CALL_NAME,
                       FILLS({"S", .side = side}, {"team", .given = team}));
    narration_say(narration, side == SIDE_RED ? LINE_CALL_RED : LINE_CALL_BLUE, NULL);
}

static bool is_number(const char *text)
{
    return text[strspn(text, "+-0123456789")] == '\0';
}

/* "Women 57 kg, semi-final." */
static void say_class(struct narration *narration, const struct details *details)
{
    bool some = details->style != NULL || details->weight != NULL;
    if (!some && details->stage == NULL)
        return;
    if (details->style != NULL)
        narration_say(narration, LINE_CALL_STYLE,
                      FILLS({"style", .word = WORD_STYLE, .text = details->style}));
    if (details->weight != NULL)
        narration_say(narration,
                      is_number(details->weight) ? LINE_CALL_WEIGHT : LINE_CALL_WEIGHT_PLAIN,
                      FILLS({"weight", .given = details->weight}));
    if (details->stage != NULL)
        narration_say(narration, some ? LINE_CALL_STAGE : LINE_CALL_STAGE_ALONE,
                      FILLS({"stage", .given = details->stage}));
    narration_say(narration, LINE_STOP, NULL);
}

static void say_call(struct narration *narration, const struct details *details)
{
    enum phrase phrase = LINE_CALL_PLAIN;
    if (details->mat != NULL)
        phrase = details->number != NULL ? LINE_CALL_BOTH : LINE_CALL_MAT;
    else if (details->number != NULL)
        phrase = LINE_CALL_NUMBER;
    narration_say(narration, phrase,
                  FILLS({"mat", .given = details->mat}, {"number", .given = details->number}));
    say_side(narration, SIDE_RED);
    say_side(narration, SIDE_BLUE);
    say_class(narration, details);
}

static bool same(const char *one, const char *other)
{
    return one == other || (one != NULL && other != NULL && strcmp(one, other) == 0);
}

/* What a call says is as it was. */
static bool same_call(const struct details *one, const struct details *other)
{
    for (unsigned i = 0; i < 2; i++)
        if (!same(one->sides[i].name, other->sides[i].name) ||
            !same(one->sides[i].team, other->sides[i].team))
            return false;
    return same(one->number, other->number) && same(one->style, other->style) &&
           same(one->weight, other->weight) && same(one->stage, other->stage);
}

static const struct details *details_before(const struct narration *narration)
{
    const struct event *events = narration->fold->bout->events;
    for (int32_t place = narration->place; place-- > 0;)
        if (events[place].type == EVENT_BOUT)
            return events[place].details;
    return NULL;
}

static void tell_details(struct narration *narration)
{
    const struct details *now = narration_event(narration)->details,
                         *before = details_before(narration);
    bool called = before == NULL || now->call || (now->mat != NULL && !same(now->mat, before->mat));
    if (now->off) {
        narration_begin(narration, LINE_CALL, SIDE_NONE);
        narration_say(narration, LINE_OFF,
                      FILLS({"S", .side = SIDE_RED}, {"O", .side = SIDE_BLUE}));
    } else if (called) {
        narration_begin(narration, LINE_CALL, SIDE_NONE);
        if (before != NULL && !before->off && same(now->mat, before->mat))
            narration_say(narration, LINE_CALL_AGAIN, NULL);
        say_call(narration, now);
    } else if (!same_call(before, now)) {
        narration_begin(narration, LINE_CORRECTION, SIDE_NONE);
        narration_say(narration, LINE_ANEW, NULL);
        say_call(narration, now);
    }
}

/* ---- the clock ---- */

static enum phrase attacks_phrase(const struct attack_tally *tally)
{
    if (tally->scored == 0)
        return LINE_ATTACKS_NONE;
    if (tally->scored < tally->tried)
        return LINE_ATTACKS_SOME;
    return tally->tried == 1   ? LINE_ATTACKS_ONE
           : tally->tried == 2 ? LINE_ATTACKS_BOTH
                               : LINE_ATTACKS_ALL;
}

/* "Brandt scored with one attack of four"; the second side shorter, where it is said alike. */
static enum phrase say_attacks(struct narration *narration, enum side side, enum phrase before)
{
    const struct attack_tally *tally = &narration->fold->attacks[side_index(side)];
    enum phrase phrase = attacks_phrase(tally);
    if (phrase == before && phrase == LINE_ATTACKS_SOME)
        phrase = LINE_ATTACKS_SOME_TOO;
    if (phrase == before && phrase == LINE_ATTACKS_NONE)
        phrase = LINE_ATTACKS_NONE_TOO;
    narration_say(
        narration, phrase,
        FILLS({"S", .side = side}, {"k", .number = tally->scored}, {"n", .number = tally->tried}));
    return phrase;
}

static bool has_tried(const struct narration *narration, enum side side)
{
    return narration->fold->attacks[side_index(side)].tried > 0;
}

/* A side without attempts isn't spoken of: none keyed doesn't mean that none were made. */
static void say_both_attacks(struct narration *narration)
{
    bool red = has_tried(narration, SIDE_RED), blue = has_tried(narration, SIDE_BLUE);
    enum phrase said = SAY_NOTHING;
    if (!red && !blue)
        return;
    narration_say(narration, LINE_SPACE, NULL);
    if (red)
        said = say_attacks(narration, SIDE_RED, SAY_NOTHING);
    if (red && blue)
        narration_say(narration, LINE_COMMA, NULL);
    if (blue)
        say_attacks(narration, SIDE_BLUE, said);
    narration_say(narration, LINE_STOP, NULL);
}

static void tell_period_end(struct narration *narration)
{
    const struct state *after = narration->after;
    bool last = after->clock.period >= narration->fold->details->periods;
    narration_begin(narration, LINE_CLOCK, SIDE_NONE);
    narration_say(narration, last ? LINE_TIME_UP : LINE_PERIOD_ENDS,
                  FILLS({"period", .number = after->clock.period}));
    if (after->under_review) {
        narration_say(narration, LINE_REVIEWED, NULL);
        return;
    }
    if (!narration_is_settled(after)) {
        narration_say(narration, LINE_WAITING, NULL);
        return;
    }
    narration_lead(narration, JOIN_COLON, SIDE_NONE);
    say_both_attacks(narration);
    if (last)
        narration_say(narration, LINE_RESULT_TO_COME, NULL);
}

static void tell_period_begin(struct narration *narration)
{
    const struct state *after = narration->after;
    narration_begin(narration, LINE_CLOCK, SIDE_NONE);
    narration_say(narration, LINE_PERIOD_BEGINS, FILLS({"period", .number = after->clock.period}));
    if (after->clock.period == 1 || !narration_is_settled(after))
        narration_say(narration, LINE_STOP, NULL);
    else
        narration_lead(narration, JOIN_COLON, SIDE_NONE);
}

static void tell_clock_back(struct narration *narration)
{
    const struct clock_reading *clock = &narration->after->clock;
    char time[TIME_SIZE];
    narration_begin(narration, LINE_CORRECTION, SIDE_NONE);
    narration_say(
        narration, LINE_CLOCK_BACK,
        FILLS({"time", .text = text_span(narration->language,
                                         narration->fold->details->period_ms - clock->t_ms, time)},
              {"period", .number = clock->period}));
}

static bool has_ended(const struct telling *before, const struct state *after)
{
    bool told = before != NULL && before->period == after->clock.period && before->used_up;
    return after->clock.used_up && !told && after->phase != PHASE_CLOSED &&
           after->phase != PHASE_OFF;
}

void narration_tell_clock(struct narration *narration)
{
    const struct telling *before = narration->before;
    const struct clock_reading *now = &narration->after->clock;
    if (before == NULL)
        return;
    bool back = now->period < before->period ||
                (now->period == before->period && before->used_up && !now->used_up);
    if (has_ended(before, narration->after))
        tell_period_end(narration);
    else if (back)
        tell_clock_back(narration);
    else if (now->period > before->period || (!before->keyed && now->running))
        tell_period_begin(narration);
}

/* ---- the result ---- */

enum { HOW_SIZE = 96 };

/* "by fall", "on last point". */
static void say_how(struct narration *narration, char how[HOW_SIZE])
{
    const struct state *after = narration->after;
    const struct leader *leader = &after->leader;
    const struct edition *edition = narration->fold->details->edition;
    struct text text = text_start(narration->language, how, HOW_SIZE);
    bool by_criterion = strcmp(after->result.how, "points") == 0 && after->result.consistent &&
                        leader->by != BY_POINTS;
    enum phrase phrase = by_criterion                                 ? LINE_ON_CRITERION
                         : strcmp(after->result.how, "cautions") == 0 ? LINE_BY_CAUTIONS
                                                                      : LINE_HOW;
    text_add(&text, phrase, NULL,
             FILLS({"by", .word = WORD_CRITERION, .text = criterion_name(leader->by)},
                   {"n", .number = edition->cautions_out},
                   {"how", .word = WORD_ENDING, .text = after->result.how}));
}

/* On the sheet where it was keyed, else ours; the winner's first. */
static void say_result_score(struct narration *narration, const struct event *close)
{
    const struct tally *sides = narration->after->all.sides;
    unsigned winner = side_index(narration->after->result.winner);
    bool sheet = event_gives(close, MEMBER_SCORE);
    int points[2];
    for (unsigned i = 0; i < 2; i++)
        points[i] = sheet ? (int)close->sheet[i] : sides[i].points;
    narration_say(narration, LINE_RESULT_SCORE,
                  FILLS({"a", .number = points[winner]}, {"b", .number = points[1 - winner]}));
}

static void say_code(struct narration *narration, const struct event *close)
{
    const struct result *result = &narration->after->result;
    unsigned first = side_index(result->winner);
    const char *code = event_gives(close, MEMBER_CODE) ? close->code : result->code;
    narration_say(narration, result->consistent ? LINE_RESULT_CLASS : LINE_RESULT_CODE,
                  FILLS({"code", .given = code}, {"a", .number = result->class_points[first]},
                        {"b", .number = result->class_points[1 - first]}));
}

static void tell_stands(struct narration *narration, const struct event *close)
{
    const struct result *result = &narration->after->result;
    bool scored = strcmp(result->how, "points") == 0 || strcmp(result->how, "superiority") == 0;
    char how[HOW_SIZE], time[TIME_SIZE];
    say_how(narration, how);
    narration_say_full(
        narration,
        result->winner != SIDE_NONE             ? LINE_BEATS
        : strncmp(result->how, "both_", 5) == 0 ? LINE_NO_WINNER
                                                : LINE_NO_WINNER_PLAIN,
        FILLS({"S", .side = result->winner != SIDE_NONE ? result->winner : SIDE_RED},
              {"O", .side = result->winner != SIDE_NONE ? side_other(result->winner) : SIDE_BLUE},
              {"how", .text = how}));
    if (scored && result->winner != SIDE_NONE)
        say_result_score(narration, close);
    if (result->time_ms > 0)
        narration_say(narration, LINE_RESULT_TIME,
                      FILLS({"time", .text = text_gone(result->time_ms, time)}));
    say_code(narration, close);
}

static void tell_waits(struct narration *narration)
{
    const struct result *result = &narration->after->result;
    char how[HOW_SIZE], time[TIME_SIZE];
    say_how(narration, how);
    narration_say(narration, result->time_ms > 0 ? LINE_RESULT_WAITS : LINE_RESULT_WAITS_PLAIN,
                  FILLS({"how", .text = how}, {"time", .text = text_gone(result->time_ms, time)}));
}

void narration_tell_result(struct narration *narration, bool corrected)
{
    const struct result *result = &narration->after->result;
    if (result->how == NULL)
        return;
    narration_begin(narration, LINE_RESULT, result->unconfirmed ? SIDE_NONE : result->winner);
    if (corrected)
        narration_say(narration, LINE_ANEW, NULL);
    if (result->unconfirmed) {
        tell_waits(narration);
        return;
    }
    tell_stands(narration, narration_read(narration, narration->fold->close)->event);
    if (result->consistent)
        return;
    narration_begin(narration, LINE_RESULT, SIDE_NONE);
    narration_say(narration, LINE_SHEET_DIFFERS, NULL);
}

/* ---- notes ---- */

/* As it was written, to the letter. */
void narration_tell_note(struct narration *narration, const struct event *note)
{
    if (note->to != NOTE_TO_PUBLIC)
        return;
    narration_begin(narration, LINE_NOTE, (enum side)note->side);
    char *text = narration->text.bytes;
    size_t size = strlen(note->text);
    if (size >= LINE_TEXT_SIZE)
        size = LINE_TEXT_SIZE - 1;
    memcpy(text, note->text, size);
    text[size] = '\0';
}

/* ---- one event ---- */

/* An event with a bout time of its own, of an earlier period: keyed late. */
static void say_added(struct narration *narration, const struct read_event *read)
{
    if (read->period < narration->after->clock.period)
        narration_say(narration, LINE_ADDED, FILLS({"period", .number = read->period}));
}

static void tell_what_happened(struct narration *narration)
{
    const struct read_event *read = narration_read(narration, narration->place);
    if (!narration_tells(read))
        return;
    narration_begin(narration, narration_kind(read->event), (enum side)read->event->side);
    say_added(narration, read);
    narration_tell(narration, read);
}

static bool had_result(const struct narration *narration)
{
    return narration->before != NULL && narration->before->phase == PHASE_CLOSED;
}

static void tell(struct narration *narration)
{
    const struct event *event = narration_event(narration);
    switch (event->type) {
    case EVENT_BOUT:
        tell_details(narration);
        break;
    case EVENT_CLOCK:
        narration_tell_clock(narration);
        break;
    case EVENT_SCORE:
    case EVENT_ATTACK:
    case EVENT_CAUTION:
    case EVENT_PASSIVITY:
    case EVENT_POSITION:
    case EVENT_CHALLENGE:
    case EVENT_STOPPAGE:
        tell_what_happened(narration);
        break;
    case EVENT_CONFIRM:
    case EVENT_VOID:
    case EVENT_AMEND:
    case EVENT_RESTART:
        narration_tell_correction(narration);
        break;
    case EVENT_CLOSE:
        narration_tell_result(narration, had_result(narration));
        break;
    case EVENT_NOTE:
        narration_tell_note(narration, event);
        break;
    case EVENT_ENTRY:
    case EVENT_SLOT:
    case EVENT_SESSION:
    case EVENT_TYPE_COUNT:
        break;
    }
}

static struct narration narration_of(const struct language *language, const struct telling *before,
                                     const struct state *after, int32_t place,
                                     struct line lines[LINES_MAX])
{
    struct narration narration = {.language = language,
                                  .before = before,
                                  .after = after,
                                  .fold = after->fold,
                                  .place = place,
                                  .lines = lines};
    for (unsigned i = 0; i < 2; i++) {
        const struct person *person = &after->fold->details->sides[i];
        narration.full.sides[i] = person->name;
        narration.names.sides[i] = person->family != NULL ? person->family : person->name;
    }
    return narration;
}

/* Told again with Red and Blue, where names leave no room for the words. */
static size_t told(struct narration narration, void (*teller)(struct narration *))
{
    struct narration plain = narration;
    teller(&narration);
    if (!narration.cut)
        return narration.count;
    plain.names = plain.full = naming_plain(narration.language);
    teller(&plain);
    return plain.count;
}

size_t lines_after(const struct language *language, const struct telling *before,
                   const struct state *after, size_t place, struct line lines[LINES_MAX])
{
    return told(narration_of(language, before, after, (int32_t)place, lines), tell);
}

size_t lines_at_time(const struct language *language, const struct telling *before,
                     const struct state *after, struct line lines[LINES_MAX])
{
    if (before == NULL || !has_ended(before, after))
        return 0;
    return told(narration_of(language, before, after, EVENT_NONE, lines), tell_period_end);
}
