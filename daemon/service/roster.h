/* What there is to say of an athlete before a bout (docs/wire.md, "Athletes"): what the roster
 * says, what was noted today, and, where there is an archive, what it knows. For who works with it,
 * never for the public. */
#pragma once
#include <jansson.h>
#include <stdbool.h>

struct service;

/* Every athlete's entry, under its key. NULL without memory. */
json_t *roster_json(const struct service *service);
/* What the roster says of one: an empty object, where it doesn't know the key. */
json_t *entry_json(const struct service *service, const char *athlete);

struct roster_question {
    const char *athlete, *other; /* other: whose meetings with it are wanted; NULL: nobody's */
    json_t *known;               /* the answer's members so far; taken */
    /* Once, at once or later: `known` with what the archive says; NULL without memory. Takes it.
     * Not after roster_forget. */
    void (*answer)(void *who, json_t *json);
    void *who;
};
/* Asks the archive for the rest. Copies the texts. */
void roster_ask(struct service *service, const struct roster_question *question);
void roster_forget(struct service *service, const void *who);
