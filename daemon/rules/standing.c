#include "rules/standing.h"

/* A note of the bout, or an amend of one: what a restart leaves alone besides `bout` events. */
static bool survives_restart(const struct event *events, const struct event *event)
{
    return event->type == EVENT_BOUT || event->type == EVENT_NOTE ||
           (event->type == EVENT_AMEND && events[event->ref].type == EVENT_NOTE);
}

void standing_of(const struct event *events, size_t count, bool *stands)
{
    size_t restart = 0; /* everything before it is taken out */
    for (size_t i = 0; i < count; i++)
        stands[i] = events[i].type != EVENT_HIDDEN;
    for (size_t i = count; i-- > 0;)
        if (events[i].type == EVENT_VOID && stands[i])
            stands[events[i].ref] = false;
    for (size_t i = count; i-- > 0 && restart == 0;)
        if (events[i].type == EVENT_RESTART && stands[i])
            restart = i;
    for (size_t i = 0; i < restart; i++)
        if (!survives_restart(events, &events[i]))
            stands[i] = false;
}
