/* Who led when: for every point that is confirmed, the leader once it stood, by the same criteria
 * as the leader of the whole. What the strip along the bout line is drawn from. In the order of the
 * log: an entry that `before` has moved counts from where it was keyed. Pure: no clock, no I/O, no
 * allocation. */
#pragma once
#include "stats/fold.h"

struct led { /* begin with {0}; hand it every place in turn, from 0 */
    struct tallies tallies;
};

/* Takes the next event of the fold, and answers who leads by all that is confirmed up to it. */
enum side led_after(struct led *led, const struct fold *fold, size_t place);
