/* Frames of a named rate as time and back: a delay that must match a picture is counted in whole
 * frames. The rates ending in .97 and the like are 1000/1001 of the whole one.
 * Source: SMPTE ST 12-1, and Recommendation ITU-R BT.709 for the list of rates. Pure. */
#pragma once
#include <stdbool.h>
#include <stdint.h>

/* In the order of the table in frames.c. */
enum frame_rate {
    RATE_NONE,
    RATE_23_976,
    RATE_24,
    RATE_25,
    RATE_29_97,
    RATE_30,
    RATE_50,
    RATE_59_94,
    RATE_60,
    RATE_COUNT
};

const char *frame_rate_name(enum frame_rate rate); /* "29.97"; "" for RATE_NONE */
/* False: no rate of that name. */
bool frame_rate_read(const char *name, enum frame_rate *rate);
/* To the nearest millisecond. `rate` isn't RATE_NONE. */
int64_t frames_ms(int64_t frames, enum frame_rate rate);
