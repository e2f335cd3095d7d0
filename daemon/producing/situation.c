#include "producing/situation.h"
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static struct seen seen_of(const struct state *state)
{
    struct seen seen = {
        .seq = state->seq,
        .points = {state->all.sides[0].points, state->all.sides[1].points},
        .unconfirmed = {state->fold->unconfirmed[0], state->fold->unconfirmed[1]},
        .leader = state->confirmed_leader,
        .phase = state->phase,
        .under_review = state->under_review,
        .result = state->result.how != NULL && !state->result.unconfirmed,
    };
    snprintf(seen.bout, sizeof seen.bout, "%s", state->fold->bout->id);
    return seen;
}

struct situation situation_of(const struct state *state, const struct surroundings *around,
                              int64_t now_ms)
{
    struct situation situation = {.now_ms = now_ms};
    if (state != NULL) {
        situation.seen = seen_of(state);
        situation.called_seq = state->fold->called_seq;
        situation.level = state->confirmed.sides[0].points == state->confirmed.sides[1].points;
    }
    for (unsigned i = PANEL_NONE; i < PANEL_COUNT; i++)
        situation.absent[i] = panel_absence((enum panel)i, state, around);
    memcpy(situation.words, around->words, sizeof situation.words);
    return situation;
}

static bool leader_differs(struct leader one, struct leader other)
{
    return one.side != other.side || one.by != other.by;
}

bool seen_differs(const struct seen *one, const struct seen *other)
{
    return strcmp(one->bout, other->bout) != 0 || one->points[0] != other->points[0] ||
           one->points[1] != other->points[1] || one->unconfirmed[0] != other->unconfirmed[0] ||
           one->unconfirmed[1] != other->unconfirmed[1] ||
           leader_differs(one->leader, other->leader) || one->phase != other->phase ||
           one->under_review != other->under_review || one->result != other->result;
}

/* ---- in words ---- */

__attribute__((format(printf, 2, 3))) static void say(char words[CHANGE_WORDS_SIZE],
                                                      const char *form, ...)
{
    size_t used = strlen(words);
    va_list values;
    if (used > 0 && used + 2 < CHANGE_WORDS_SIZE)
        used += (size_t)snprintf(words + used, CHANGE_WORDS_SIZE - used, "; ");
    va_start(values, form);
    vsnprintf(words + used, CHANGE_WORDS_SIZE - used, form, values);
    va_end(values);
}

static void say_points(char words[CHANGE_WORDS_SIZE], enum side side, const struct seen *was,
                       const struct seen *is)
{
    unsigned i = side_index(side);
    if (was->points[i] != is->points[i])
        say(words, "%s %d to %d%s", side_name(side), was->points[i], is->points[i],
            is->unconfirmed[i] > 0 ? ", not confirmed" : "");
    else if (was->unconfirmed[i] > 0 && is->unconfirmed[i] == 0)
        say(words, "%s %d confirmed", side_name(side), is->points[i]);
    else if (was->unconfirmed[i] != is->unconfirmed[i])
        say(words, "%s %d not confirmed", side_name(side), is->unconfirmed[i]);
}

static void say_leader(char words[CHANGE_WORDS_SIZE], struct leader was, struct leader is)
{
    static const char *const reasons[] = {
        [BY_NOTHING] = "",
        [BY_POINTS] = "points",
        [BY_HOLDS] = "holds",
        [BY_CAUTIONS] = "cautions",
        [BY_LAST_POINT] = "last point",
        [BY_FIRST_POINT] = "first point",
        [BY_TECHNIQUE] = "technique",
    };
    if (!leader_differs(was, is))
        return;
    if (is.side == SIDE_NONE)
        say(words, "%s leads no more", side_name(was.side));
    else
        say(words, "%s leads on %s", side_name(is.side), reasons[is.by]);
}

static void say_phase(char words[CHANGE_WORDS_SIZE], enum phase is)
{
    static const char *const phases[] = {
        [PHASE_OFF] = "off the mat",
        [PHASE_CLOSED] = "closed",
        [PHASE_OVER] = "to end",
        [PHASE_LIVE] = "the clock runs",
        [PHASE_BREAK] = "break",
        [PHASE_CALLED] = "not begun",
        [PHASE_STOPPED] = "the clock stands",
    };
    say(words, "%s", phases[is]);
}

bool seen_changes(const struct seen *was, const struct seen *is, char words[CHANGE_WORDS_SIZE])
{
    words[0] = '\0';
    if (strcmp(was->bout, is->bout) != 0) {
        say(words, is->bout[0] != '\0' ? "another bout" : "no bout any more");
        return true;
    }
    say_points(words, SIDE_RED, was, is);
    say_points(words, SIDE_BLUE, was, is);
    say_leader(words, was->leader, is->leader);
    if (was->under_review != is->under_review)
        say(words, is->under_review ? "a challenge is open" : "no challenge is open any more");
    if (was->result != is->result)
        say(words, is->result ? "a result stands" : "the result stands no more");
    else if (was->phase != is->phase)
        say_phase(words, is->phase);
    return words[0] != '\0';
}
