/* The archive: what every bout ever logged says of its two sides, in an SQLite file of its own, so
 * that it can be asked for while the next one is wrestled. Beside the log, not part of it: all of
 * it is made of accounts (stats/account.h) and can be made again from the logs; losing it loses
 * nothing, and a daemon runs without.
 *
 * Who is who: an athlete is the key that a bout's side names as `athlete`. The same key in two logs
 * is the same person, and a side without one is nobody's: a name alone is not identity.
 * Which bout is which: its id, its first event's id, and when that was accepted. So a store, a copy
 * of it and an export of it are the same bouts, and the one that tells more events of a bout holds.
 *
 * Nothing here is public. What is kept is what was keyed of a bout, its sides' names and teams and
 * its age group, and the booth's notes on a side; nothing of the roster.
 *
 * Everything blocks, and one archive is for one thread at a time; several processes may have the
 * file open. Codes are 0 or negative libuv codes, with a sentence in archive_reason. UV_EFTYPE: no
 * archive of ours, or of another format; UV_EILSEQ: damaged; UV_EBUSY, UV_ENOSPC, UV_EIO … */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "rules/arena.h"
#include "stats/account.h"

struct archive;

enum { ARCHIVE_REASON_SIZE = 600 };
enum archive_use { ARCHIVE_READ, ARCHIVE_WRITE /* makes the file when it isn't there */ };

/* Opens it and looks through its structure. On failure nothing is open, and nothing was changed. */
int archive_open(struct archive **archive, const char *path, enum archive_use use, char *reason,
                 size_t reason_size);
void archive_close(struct archive *archive);               /* NULL is allowed */
const char *archive_reason(const struct archive *archive); /* of the last failure */

/* ---- filling ---- */

/* One bout, ready to be written: texts are the log's own, lists the arena's. */
struct archive_entry {
    const char *bout, *event; /* its id, and its first event's */
    int64_t called_at_ms;     /* when that was accepted */
    size_t events;            /* of the bout so far */
    const struct details *details;
    struct account account;
};
/* What the archive is to say of a bout as it is now; a bout of which there is nothing to say (it
 * has only been called) makes an entry that archive_put passes over. False without memory. */
bool archive_entry_of(struct archive_entry *entry, const struct state *state, struct arena *arena);

/* A transaction: all of it is there after the commit, or nothing. What fails has ended it. */
int archive_begin(struct archive *archive);
/* Writes the bout, in place of what was there of it. `*written` false: there was nothing to say, or
 * the archive already knows it from more events. */
int archive_put(struct archive *archive, const struct archive_entry *entry, bool *written);
int archive_commit(struct archive *archive);
void archive_rollback(struct archive *archive);
int archive_count(struct archive *archive, int64_t *bouts);

/* ---- asking; lists and texts are the arena's ---- */

/* An athlete's bouts that were called at or after from_ms and before before_ms. */
struct archive_span {
    const char *athlete;
    int64_t from_ms, before_ms;
};

struct archive_share { /* `won` of `bouts`, those that somebody won */
    int64_t bouts, won;
};

struct archive_totals {
    int64_t bouts; /* all of them */
    int64_t begun; /* without those that ended before they began */
    struct archive_share decided;
    int64_t points_for, points_against;               /* of those begun */
    struct archive_share scored_first, scored_second; /* first: the bout's first points */
    int64_t first_scores, first_score_ms; /* bouts with own points; the sum of the times */
    int64_t late_scores, late_bouts; /* scores in the last 30 s of a period; bouts that had some */
};
int archive_totals(struct archive *archive, const struct archive_span *span,
                   struct archive_totals *totals);

struct archive_attempts { /* the most tried first */
    const char *technique;
    enum leg leg;
    int64_t tried, scored, stopped, countered, points;
};
int archive_attempts(struct archive *archive, const struct archive_span *span, struct arena *arena,
                     struct archive_attempts **list, size_t *count);

struct archive_points { /* `number`: the period, from 1, or the minute of the bout, from 0 */
    int64_t number, points_for, points_against;
};
int archive_periods(struct archive *archive, const struct archive_span *span, struct arena *arena,
                    struct archive_points **list, size_t *count);
int archive_minutes(struct archive *archive, const struct archive_span *span, struct arena *arena,
                    struct archive_points **list, size_t *count);

struct archive_comebacks { /* bouts in which it was that much behind at worst */
    int64_t behind;
    struct archive_share share;
};
int archive_comebacks(struct archive *archive, const struct archive_span *span, struct arena *arena,
                      struct archive_comebacks **list, size_t *count);

struct archive_endings {
    const char *how;
    int64_t won, lost, undecided;
};
int archive_endings(struct archive *archive, const struct archive_span *span, struct arena *arena,
                    struct archive_endings **list, size_t *count);

struct archive_person {
    const char *athlete, *name, *team; /* NULL where there is none; the name always is */
    int64_t points;
};
struct archive_bout { /* as one side saw it */
    const char *bout;
    int64_t called_at_ms, time_ms;
    const char *rules, *style, *age_group, *weight, *stage, *number, *mat; /* NULL: none */
    const char *how, *code;                                                /* NULL: no result */
    enum side side, winner;
    struct archive_person self, other;
};
/* The athlete's bouts of the span in the order in which they were called. */
int archive_bouts(struct archive *archive, const struct archive_span *span, struct arena *arena,
                  struct archive_bout **list, size_t *count);
/* Those against the other, the last `most` of them, the latest first. */
int archive_meetings(struct archive *archive, const struct archive_span *span, const char *other,
                     size_t most, struct arena *arena, struct archive_bout **list, size_t *count);

struct archive_note { /* the booth's, on that athlete in one of the bouts */
    const char *text, *bout, *against;
    int64_t called_at_ms;
};
/* The last `most` of them, the latest first. */
int archive_notes(struct archive *archive, const struct archive_span *span, size_t most,
                  struct arena *arena, struct archive_note **list, size_t *count);

/* How often a side that was behind with so many full minutes gone has won: by points, and with
 * `behind` 0 by the criteria at a level score. Of bouts of that style and length that somebody won,
 * and that went on after it. */
struct archive_position {
    int64_t minutes, behind;
    struct archive_share share;
};
int archive_position(struct archive *archive, const char *style, int64_t length_ms,
                     struct archive_position *position); /* minutes and behind are given */
int archive_positions(struct archive *archive, const char *style, int64_t length_ms,
                      struct arena *arena, struct archive_position **list, size_t *count);
