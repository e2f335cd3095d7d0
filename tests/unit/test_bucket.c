/* A token bucket. What it promises is our own choice; nothing is published of how fast a table may
 * key. */
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include "access/bucket.h"

static const struct rate table = {.a_second = 50, .burst = 500};

static int taken(struct bucket *bucket, const struct rate *rate, int64_t now_ms)
{
    int count = 0;
    while (count < 100000 && bucket_take(bucket, rate, 1, now_ms) == 0)
        count++;
    return count;
}

Test(bucket, a_full_one_gives_its_burst_and_no_more)
{
    struct bucket bucket = bucket_full(&table, 1000);
    cr_expect(eq(int, taken(&bucket, &table, 1000), 500));
    cr_expect(eq(i64, bucket_take(&bucket, &table, 1, 1000), 1000), "a second's worth");
}

Test(bucket, once_empty_it_gives_nothing_for_a_second_then_its_rate)
{
    struct bucket bucket = bucket_full(&table, 0);
    taken(&bucket, &table, 0);
    cr_expect(eq(i64, bucket_take(&bucket, &table, 1, 20), 980), "there is one, but it waits");
    cr_expect(eq(i64, bucket_take(&bucket, &table, 1, 999), 1));
    cr_expect(eq(int, taken(&bucket, &table, 1000), 50));
    cr_expect(eq(int, taken(&bucket, &table, 3000), 100));
}

Test(bucket, it_never_holds_more_than_its_burst)
{
    struct bucket bucket = bucket_full(&table, 0);
    taken(&bucket, &table, 0);
    cr_expect(eq(int, taken(&bucket, &table, INT64_C(1) << 50), 500));
}

Test(bucket, a_slow_source_is_never_held_up)
{
    struct bucket bucket = bucket_full(&table, 0);
    for (int64_t now_ms = 0; now_ms < 3600 * INT64_C(1000); now_ms += 20)
        cr_assert(eq(i64, bucket_take(&bucket, &table, 1, now_ms), 0), "at %lld",
                  (long long)now_ms);
}

Test(bucket, a_batch_takes_as_many_as_it_has_and_a_large_one_all)
{
    struct bucket bucket = bucket_full(&table, 0);
    cr_expect(eq(i64, bucket_take(&bucket, &table, 300, 0), 0));
    cr_expect(eq(i64, bucket_take(&bucket, &table, 300, 0), 2000), "100 are wanting");
    cr_expect(eq(i64, bucket_take(&bucket, &table, 300, 2000), 0));
    bucket = bucket_full(&table, 0);
    cr_expect(eq(i64, bucket_take(&bucket, &table, 10000, 0), 0), "a whole log, into a full one");
    cr_expect(eq(i64, bucket_take(&bucket, &table, 10000, 0), 10000));
    cr_expect(eq(i64, bucket_take(&bucket, &table, 10000, 10000), 0));
}

Test(bucket, a_time_that_goes_back_gives_nothing_and_takes_nothing)
{
    struct bucket bucket = bucket_full(&table, 5000);
    taken(&bucket, &table, 5000);
    cr_expect(gt(i64, bucket_take(&bucket, &table, 1, 0), 0));
    cr_expect(eq(int, taken(&bucket, &table, 6000), 50));
}

Test(bucket, a_rate_of_nothing_is_no_limit)
{
    static const struct rate none = {.a_second = 0, .burst = 1};
    struct bucket bucket = bucket_full(&none, 0);
    cr_expect(eq(int, taken(&bucket, &none, 0), 100000));
}

Test(bucket, less_than_one_a_second_still_comes_again)
{
    static const struct rate viewer = {.a_second = 0.5, .burst = 1};
    struct bucket bucket = bucket_full(&viewer, 0);
    cr_expect(eq(i64, bucket_take(&bucket, &viewer, 1, 0), 0));
    cr_expect(eq(i64, bucket_take(&bucket, &viewer, 1, 0), 2000));
    cr_expect(eq(i64, bucket_take(&bucket, &viewer, 1, 2000), 0));
}
