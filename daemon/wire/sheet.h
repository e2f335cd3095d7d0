/* What a spreadsheet says of the day, as CSV (RFC 4180, strict UTF-8, commas): a header row, then
 * one thing a row. What it is of, the header tells:
 *   athletes, with a column `athlete`: an `entry` event's members; `iso3` and `lot` beside them
 *   slots, with a column `slot`: a `slot` event's members; `winner_to` and `loser_to` beside them
 *   teams, with a column `team` and neither: `team`, `noc`, `iso3`
 * An empty cell is a member left out; `minor`, `consent` and `out` are true or false; several
 * `facts` are parted by a vertical bar (\| is one inside a fact, \\ a backslash). A side is an
 * athlete's key, `winner of SLOT` or `loser of SLOT`; where a winner or loser goes is `SLOT red` or
 * `SLOT blue`, a slot of the same file. An apostrophe before = + - @ tab or CR is a spreadsheet's
 * guard against formulas, and is taken off (docs/draw.md, "Sheets").
 * Each row must make a valid event; a file is good as a whole or not at all. */
#pragma once
#include "rules/event.h"

enum sheet_kind { SHEET_ATHLETES, SHEET_SLOTS, SHEET_TEAMS };

struct sheet_row {
    size_t line, row; /* of the file, and of the table; the header's row is 1 */
    /* An `entry` or `slot` event without `id`; of a team, its members alone. */
    const struct value *document;
    const char *key; /* the athlete's, the slot's, the team's */
    int64_t lot;     /* 0: none */
};

struct sheet {
    enum sheet_kind kind;
    struct sheet_row *rows;
    size_t count;
    struct arena arena;
    size_t row, column; /* where it is refused, from 1; column 0: the whole row */
};

/* False: refused, with `line` where the row begins, `pointer` the member and the reason, and the
 * place in `sheet`; or, with `why` ACCEPTED, no memory. To be closed in any case. */
bool sheet_read(struct sheet *sheet, const char *text, size_t size, const struct editions *editions,
                struct complaint *complaint);
void sheet_close(struct sheet *sheet);
const char *sheet_kind_name(enum sheet_kind kind); /* "athletes" */
