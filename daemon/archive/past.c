#include "archive/past.h"
#include <uv.h>

enum { MEETINGS_MAX = 1000, NOTES_MAX = 32 };

static struct past_share share_of(struct archive_share share)
{
    return (struct past_share){(int)share.bouts, (int)share.won};
}

static int ask_notes(struct archive *archive, const struct archive_span *ever, struct arena *arena,
                     struct past_side *side)
{
    struct archive_note *list = NULL;
    size_t count = 0;
    int code = archive_notes(archive, ever, NOTES_MAX, arena, &list, &count);
    struct past_note *notes = arena_take(arena, (count + 1) * sizeof *notes);
    if (code != 0 || notes == NULL)
        return code != 0 ? code : UV_ENOMEM;
    for (size_t i = 0; i < count; i++)
        notes[i] =
            (struct past_note){list[i].text, list[i].bout, list[i].against, list[i].called_at_ms};
    side->notes = notes;
    side->note_count = count;
    return 0;
}

static int ask_side(struct archive *archive, const char *athlete, int64_t called_at_ms,
                    struct arena *arena, struct past_side *side)
{
    struct archive_totals totals;
    struct archive_span ever = {athlete, INT64_MIN, called_at_ms};
    struct archive_span today = {athlete, called_at_ms - PAST_TODAY_MS, called_at_ms};
    if (athlete == NULL)
        return 0;
    int code = archive_totals(archive, &ever, &totals);
    if (code != 0)
        return code;
    side->scored_first = share_of(totals.scored_first);
    code = archive_totals(archive, &today, &totals);
    side->late_scores = (int)totals.late_scores;
    side->late_bouts = (int)totals.late_bouts;
    return code == 0 ? ask_notes(archive, &ever, arena, side) : code;
}

/* The bouts are as red saw them, on whichever side it was then. */
static void take_meetings(struct past_meetings *meetings, const struct archive_bout *list,
                          size_t count)
{
    meetings->bouts = (int)count;
    for (size_t i = 0; i < count; i++)
        if (list[i].winner != SIDE_NONE)
            meetings->won[list[i].winner == list[i].side ? 0 : 1]++;
    if (count == 0)
        return;
    meetings->last_points[0] = (int)list[0].self.points;
    meetings->last_points[1] = (int)list[0].other.points;
    meetings->last_how = list[0].how;
    meetings->last_winner = list[0].winner == SIDE_NONE      ? SIDE_NONE
                            : list[0].winner == list[0].side ? SIDE_RED
                                                             : SIDE_BLUE;
}

static int ask_meetings(struct archive *archive, const struct details *details,
                        int64_t called_at_ms, struct arena *arena, struct past_meetings *meetings)
{
    struct archive_bout *list = NULL;
    size_t count = 0;
    struct archive_span span = {details->sides[0].athlete, INT64_MIN, called_at_ms};
    const char *other = details->sides[1].athlete;
    if (span.athlete == NULL || other == NULL)
        return 0;
    int code = archive_meetings(archive, &span, other, MEETINGS_MAX, arena, &list, &count);
    if (code == 0)
        take_meetings(meetings, list, count);
    return code;
}

static int ask_positions(struct archive *archive, const struct details *details,
                         struct arena *arena, struct past *past)
{
    struct archive_position *list = NULL;
    size_t count = 0;
    const char *style = account_style(details);
    int64_t length_ms = (int64_t)details->periods * details->period_ms;
    if (style == NULL)
        return 0;
    int code = archive_positions(archive, style, length_ms, arena, &list, &count);
    struct past_position *positions = arena_take(arena, (count + 1) * sizeof *positions);
    if (code != 0 || positions == NULL)
        return code != 0 ? code : UV_ENOMEM;
    for (size_t i = 0; i < count; i++)
        positions[i] = (struct past_position){(int)list[i].minutes, (int)list[i].behind,
                                              share_of(list[i].share)};
    past->positions = positions;
    past->position_count = count;
    return 0;
}

int archive_past(struct archive *archive, const struct details *details, int64_t called_at_ms,
                 struct arena *arena, struct past *past)
{
    int code = 0;
    *past = (struct past){.positions = NULL};
    for (unsigned i = 0; i < 2 && code == 0; i++)
        code = ask_side(archive, details->sides[i].athlete, called_at_ms, arena, &past->sides[i]);
    if (code == 0)
        code = ask_meetings(archive, details, called_at_ms, arena, &past->meetings);
    return code == 0 ? ask_positions(archive, details, arena, past) : code;
}
