#include "prompts/teller.h"
#include <string.h>
#include "prompts/narration.h"

static const struct event *event_at(const struct state *state, int32_t place)
{
    return &state->fold->bout->events[place];
}

/* ---- what waits ---- */

/* Words for these need no hold. */
static bool needs_no_hold(const struct event *score)
{
    static const char *const actions[] = {"step_out", "injury_stop", "bout_stop"};
    for (size_t i = 0; i < sizeof actions / sizeof *actions; i++)
        if (strcmp(score->action, actions[i]) == 0)
            return true;
    return false;
}

static bool lacks_hold(const struct state *state, int32_t place)
{
    const struct read_event *read = &state->fold->events[place];
    return read->stands && read->event->type == EVENT_SCORE && !needs_no_hold(read->event) &&
           !narration_knows_hold(state->fold, read->event);
}

static bool is_alone(const struct state *state, int32_t place)
{
    const struct fold *fold = state->fold;
    const struct read_event *read = &fold->events[place];
    int unconfirmed = fold->unconfirmed[0] + fold->unconfirmed[1];
    return unconfirmed == (read->confirmed ? 0 : read->event->points);
}

static void wait_for(struct teller *teller, const struct state *after, int32_t place, int64_t at_ms,
                     const struct line *line)
{
    teller->waits = true;
    teller->alone = is_alone(after, place);
    teller->place = place;
    teller->until_ms = at_ms + TELLER_WAIT_MS;
    teller->before = teller->told;
    teller->line = *line;
}

static size_t let_out(struct teller *teller, struct line *lines)
{
    if (!teller->waits)
        return 0;
    teller->waits = false;
    *lines = teller->line;
    return 1;
}

/* ---- what goes into it ---- */

static bool is_slip(const struct event *correction)
{
    return correction->why == 0 || correction->why == WHY_KEYING;
}

/* A correction of the score, or of the attack that it finished. */
static bool corrects(const struct teller *teller, const struct state *after,
                     const struct event *event)
{
    const struct event *score = after->fold->events[teller->place].event;
    bool of_attack = event->type == EVENT_AMEND && event_gives(score, MEMBER_ATTACK) &&
                     event->ref == score->attack;
    return is_slip(event) && (event->ref == teller->place || of_attack);
}

static bool adds(const struct teller *teller, const struct state *after, int32_t place)
{
    const struct event *event = event_at(after, place);
    if (!teller->waits)
        return false;
    if (event->type == EVENT_AMEND || event->type == EVENT_VOID)
        return corrects(teller, after, event);
    if (event->type != EVENT_CONFIRM)
        return false;
    return event_gives(event, MEMBER_REF) ? event->ref == teller->place : teller->alone;
}

/* The sentence as it is now, with what was added; nothing where the score was a slip. */
static void say_anew(struct teller *teller, const struct language *language,
                     const struct state *after)
{
    struct line lines[LINES_MAX];
    bool stands = after->fold->events[teller->place].stands;
    size_t count =
        stands ? lines_after(language, &teller->before, after, (size_t)teller->place, lines) : 0;
    if (count > 0)
        teller->line = lines[0];
    teller->waits = count > 0;
}

/* ---- the ways on ---- */

static size_t lines_put(struct line *lines, const struct line *own, size_t count)
{
    for (size_t i = 0; i < count; i++)
        lines[i] = own[i];
    return count;
}

size_t teller_read(struct teller *teller, const struct language *language,
                   const struct state *after, size_t place, int64_t at_ms,
                   struct line lines[TELLER_LINES_MAX])
{
    struct line own[LINES_MAX];
    size_t count = 0;
    int32_t here = (int32_t)place;
    if (adds(teller, after, here)) {
        say_anew(teller, language, after);
        if (teller->waits && !lacks_hold(after, teller->place))
            count = let_out(teller, lines);
        teller->told = telling_of(after);
        return count;
    }
    size_t own_count =
        lines_after(language, teller->begun ? &teller->told : NULL, after, place, own);
    if (own_count > 0)
        count = let_out(teller, lines);
    if (own_count == 1 && lacks_hold(after, here))
        wait_for(teller, after, here, at_ms, own);
    else
        count += lines_put(&lines[count], own, own_count);
    teller->told = telling_of(after);
    teller->begun = true;
    return count;
}

size_t teller_pass(struct teller *teller, const struct language *language,
                   const struct state *after, int64_t now_ms, struct line lines[TELLER_LINES_MAX])
{
    struct line own[LINES_MAX];
    size_t count = 0;
    size_t own_count = teller->begun ? lines_at_time(language, &teller->told, after, own) : 0;
    if (own_count > 0 || now_ms >= teller_next(teller))
        count = let_out(teller, lines);
    count += lines_put(&lines[count], own, own_count);
    teller->told = telling_of(after);
    return count;
}

int64_t teller_next(const struct teller *teller)
{
    return teller->waits ? teller->until_ms : INT64_MAX;
}
