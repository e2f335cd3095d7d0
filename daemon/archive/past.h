/* What the archive knows of the two sides of a bout that is called, for the cards (prompts/past.h):
 * of bouts called before it alone, so that it is the same whenever it is asked. */
#pragma once
#include "archive/archive.h"
#include "prompts/past.h"

/* "Today" is the time before the bout's call: no log says where midnight is, and no day of
 * wrestling is as long. */
enum { PAST_TODAY_MS = 14 * 3600 * 1000 };

/* Lists and texts are the arena's. A side without a key has no past. 0 or a code as archive.h's. */
int archive_past(struct archive *archive, const struct details *details, int64_t called_at_ms,
                 struct arena *arena, struct past *past);
