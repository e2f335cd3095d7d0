/* How fast one source may go: a token bucket. It holds `burst` tokens at most, and gains `a_second`
 * of them; whatever is taken takes as many as it counts, or all that a full bucket holds if it
 * counts more: so that nothing is too large for ever.
 *
 * Once it has had too few, nothing is taken until it holds a second's worth again, so that those
 * who send one after the other without waiting for answers have all that follows refused too, and
 * can send it again in order.
 * Pure: no clock, no allocation. */
#pragma once
#include <stdbool.h>
#include <stdint.h>

struct rate {
    double a_second; /* 0: no limit */
    double burst;    /* at least 1 */
};

struct bucket {
    double tokens;
    int64_t at_ms; /* as of when */
    double wanted; /* nothing is taken before it holds that much; 0: it may be */
};

/* A full one. */
struct bucket bucket_full(const struct rate *rate, int64_t now_ms);
/* 0: taken. Else nothing was, and it may be after so many milliseconds. */
int64_t bucket_take(struct bucket *bucket, const struct rate *rate, double count, int64_t now_ms);
/* How many it holds by then; nothing is changed. A time that goes backwards adds nothing. */
double bucket_holds(const struct bucket *bucket, const struct rate *rate, int64_t now_ms);
