#include "producing/frames.h"
#include <string.h>

static const struct {
    const char *name;
    int64_t frames, seconds; /* so many frames in so many seconds */
} rates[RATE_COUNT] = {
    [RATE_NONE] = {"", 1, 1},  [RATE_23_976] = {"23.976", 24000, 1001}, [RATE_24] = {"24", 24, 1},
    [RATE_25] = {"25", 25, 1}, [RATE_29_97] = {"29.97", 30000, 1001},   [RATE_30] = {"30", 30, 1},
    [RATE_50] = {"50", 50, 1}, [RATE_59_94] = {"59.94", 60000, 1001},   [RATE_60] = {"60", 60, 1},
};

const char *frame_rate_name(enum frame_rate rate)
{
    return rates[rate].name;
}

bool frame_rate_read(const char *name, enum frame_rate *rate)
{
    for (unsigned i = RATE_NONE + 1; i < RATE_COUNT; i++)
        if (strcmp(rates[i].name, name) == 0)
            return *rate = (enum frame_rate)i, true;
    return false;
}

int64_t frames_ms(int64_t frames, enum frame_rate rate)
{
    int64_t whole = frames * 1000 * rates[rate].seconds;
    return (whole + rates[rate].frames / 2) / rates[rate].frames;
}
