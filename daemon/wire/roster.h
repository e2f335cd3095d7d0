/* A roster as CSV (RFC 4180, strict UTF-8, commas): a header row of an `entry` event's member
 * names, `athlete` among them, then one athlete a row. An empty cell is a member left out; `minor`,
 * `consent` and `out` are true or false; several `facts` are parted by a vertical bar.
 * Each row must make a valid `entry`; a file is good as a whole or not at all. */
#pragma once
#include "rules/event.h"

/* Counts the athletes. False: refused, with `line` where the row begins, `pointer` the member
 * and the reason; or, with `why` ACCEPTED, no memory. */
bool roster_check(const char *text, size_t size, const struct editions *editions,
                  size_t *athlete_count, struct complaint *complaint);
