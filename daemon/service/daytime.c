#include "service/daytime.h"
#include <uv.h>

void daytime_start(struct daytime *daytime)
{
    uv_timeval64_t now = {0, 0};
    uv_gettimeofday(&now);
    daytime->start_ms = now.tv_sec * 1000 + now.tv_usec / 1000;
    daytime->start_steady_ns = uv_hrtime();
}

int64_t daytime_now(const struct daytime *daytime)
{
    return daytime->start_ms + (int64_t)((uv_hrtime() - daytime->start_steady_ns) / 1000000);
}

void daytime_not_before(struct daytime *daytime, int64_t at_ms)
{
    int64_t now_ms = daytime_now(daytime);
    if (now_ms < at_ms)
        daytime->start_ms += at_ms - now_ms;
}
