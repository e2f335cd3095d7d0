/* What is known of a day already: the latest members of every athlete and slot, as a log or a
 * running daemon has them. What a command adds is compared with it. */
#pragma once
#include <jansson.h>
#include <stdbool.h>
#include <stdint.h>
#include "commands/daemon_call.h"

struct day_known {
    json_t *entries, *slots; /* by their keys, in the order in which they were first keyed */
    uint64_t count;          /* events of the day read */
};

bool day_known_init(struct day_known *known); /* false without memory */
void day_known_close(struct day_known *known);
/* The `entries` or `slots` that an event of that type belongs to, and its key; NULL: neither. */
json_t *day_known_of(const struct day_known *known, const json_t *event, const char **key);
/* Takes an event as it is; one of another type changes nothing. False without memory. */
bool day_known_take(struct day_known *known, const json_t *event);
/* Each says on standard error what is wrong, and answers the program's exit code. */
int day_known_read(struct day_known *known, const char *path); /* a log, NDJSON */
int day_known_ask(struct day_known *known, const struct daemon_address *address,
                  const char *command);

/* An id that no other event of the day has: it hangs on what the event says and on how much was
 * known before it. Adds it. False without memory. */
bool day_event_add_id(json_t *event, const char *prefix, uint64_t count);
/* Sends events, an array, whole or not at all. What is refused is said by `line_name` of the
 * event's place in the array. Answers the program's exit code. */
int day_events_send(const json_t *events, const struct daemon_address *address, const char *command,
                    void (*line_name)(void *context, size_t place), void *context);
/* Prints them as NDJSON; the program's exit code. */
int day_events_print(const json_t *events);
