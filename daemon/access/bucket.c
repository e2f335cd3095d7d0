#include "access/bucket.h"
#include <math.h>

struct bucket bucket_full(const struct rate *rate, int64_t now_ms)
{
    return (struct bucket){.tokens = rate->burst, .at_ms = now_ms};
}

double bucket_holds(const struct bucket *bucket, const struct rate *rate, int64_t now_ms)
{
    double gone_ms = now_ms > bucket->at_ms ? (double)(now_ms - bucket->at_ms) : 0;
    return fmin(rate->burst, bucket->tokens + gone_ms * rate->a_second / 1000);
}

int64_t bucket_take(struct bucket *bucket, const struct rate *rate, double count, int64_t now_ms)
{
    if (rate->a_second <= 0)
        return 0;
    double costs = fmin(count, rate->burst);
    bucket->tokens = bucket_holds(bucket, rate, now_ms);
    bucket->at_ms = now_ms > bucket->at_ms ? now_ms : bucket->at_ms;
    double needs = fmax(costs, bucket->wanted);
    if (bucket->tokens >= needs) {
        bucket->tokens -= costs;
        bucket->wanted = 0;
        return 0;
    }
    bucket->wanted = fmin(rate->burst, fmax(bucket->wanted, rate->a_second));
    needs = fmax(costs, bucket->wanted);
    return (int64_t)ceil((needs - bucket->tokens) * 1000 / rate->a_second);
}
