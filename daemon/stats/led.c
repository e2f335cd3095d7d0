#include "stats/led.h"

enum side led_after(struct led *led, const struct fold *fold, size_t place)
{
    const struct read_event *read = &fold->events[place];
    if (read->stands && read->confirmed)
        fold_count(fold, &led->tallies, read);
    return leader_of(fold->details->edition, &led->tallies).side;
}
