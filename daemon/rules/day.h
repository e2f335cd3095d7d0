/* The day's roster: every athlete as the latest `entry` events leave them. A later entry replaces
 * the members that it names and keeps the others (docs/events.md, "The types of the day").
 * Pure: no clock, no I/O; memory from the caller's allocate and release. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include "rules/arena.h"
#include "rules/event.h"
#include "rules/table.h"

struct athlete {         /* texts are the log's own; NULL where none was given */
    const char *athlete; /* the key in the roster */
    const char *name, *family, *given, *team, *age_group;
    bool minor, minor_said; /* minor_said: an entry has said whether */
    bool consent, out;
};

struct day {
    struct arena arena;
    struct table known;        /* key to struct athlete */
    struct athlete **athletes; /* in the order in which they were entered */
    size_t count, capacity;
};

void day_init(struct day *day, void *(*allocate)(size_t), void (*release)(void *));
void day_close(struct day *day);
/* Reads one event of the day; one that isn't an entry changes nothing. False without memory. */
bool day_read(struct day *day, const struct event *event);
const struct athlete *day_athlete(const struct day *day, const char *athlete); /* NULL: unknown */
