/* The bout clock: what period it is and how much of it has been wrestled.
 * Only `clock` events move it; between them it is a function of the moment that is asked for.
 * Source: docs/events.md, section 3. Pure. */
#pragma once
#include <stdbool.h>
#include <stdint.h>
#include "rules/event.h"

struct clock {         /* as its events have left it */
    int period;        /* from 1 */
    int32_t t_ms;      /* elapsed in the period at the anchor */
    int64_t anchor_ms; /* the moment at which t_ms held */
    bool running;
    bool unsure;        /* the daemon was away: true until the next clock event */
    bool keyed;         /* any clock event stands */
    int64_t used_up_ms; /* when t_ms came to the length by `set` or `end` */
};

struct clock_reading { /* as it is at one moment */
    int period;
    int32_t t_ms;
    bool running;       /* and time is left */
    bool used_up;       /* the period's length is reached */
    int64_t used_up_ms; /* since when; only where used_up */
};

struct clock clock_new(void); /* period 1, nothing elapsed, stopped */
struct clock_reading clock_at(const struct clock *clock, int32_t period_ms, int64_t moment_ms);
/* Applies a `clock` event at its moment. True when a `start` has begun a later period. */
bool clock_apply(struct clock *clock, const struct event *event, const struct details *details,
                 int64_t moment_ms);
