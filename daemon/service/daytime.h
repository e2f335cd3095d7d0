/* The daemon's one clock. The time of day is taken from the system once, when the daemon starts,
 * and goes on by the monotonic clock: a system clock that is stepped moves no bout.
 * Never earlier than what the log has seen already. */
#pragma once
#include <stdint.h>

struct daytime {
    int64_t start_ms; /* the time of day when it was started */
    uint64_t start_steady_ns;
};

void daytime_start(struct daytime *daytime);
int64_t daytime_now(const struct daytime *daytime);              /* ms since 1970 */
void daytime_not_before(struct daytime *daytime, int64_t at_ms); /* moves on to at_ms at least */
