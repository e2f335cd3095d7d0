/* The booth's notes of earlier bouts on the two who wrestle now: found again when they are called.
 * Of this store's bouts from the hall, of other days from the archive. Never public. */
#pragma once
#include <jansson.h>
#include "prompts/past.h"
#include "service/hall.h"

enum { EARLIER_MOST = 8 }; /* of each side, the latest */

/* EARLIER (docs/wire.md), of what `hall` has read; `past` NULL: the archive has said nothing. A new
 * reference; NULL without memory. */
json_t *earlier_json(const struct hall *hall, const struct hall_bout *bout,
                     const struct past *past);
