/* How fast each source of events may go: a bucket for each key, and, where none is shown, for each
 * address. The daemon itself and the demo's player are never asked. */
#pragma once
#include <stddef.h>
#include <stdint.h>
#include "access/bucket.h"

/* More of them at once than this, and the one with the fullest bucket is forgotten: it loses least.
 */
enum { RATES_SOURCES_MAX = 512, RATES_NAME_SIZE = 64 };

struct rates {
    struct rate rate;
    struct rate_source *sources; /* NULL before the first */
    size_t count;
    uint64_t refused; /* inputs, since the start */
};

/* 0: `source` may send that many events now. Else after so many milliseconds. */
int64_t rates_ask(struct rates *rates, const char *source, size_t count, int64_t now_ms);
void rates_close(struct rates *rates);
