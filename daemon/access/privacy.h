/* What of minors the public is shown: a bout's log as the public may know it.
 *
 * Everything public (views, lines, results, text) is made by the same fold and the same sentences
 * as everything else, but of a copy of the log from which what is withheld has been taken out
 * before: so there is no place behind it where it could be forgotten. Scores, clock and leader are
 * the same, because nothing that they rest on is touched.
 *
 * A minor is who wrestles in an age group below 18 (u15, u17, any `u` and a smaller number), whose
 * entry says `minor`, or whose entry has such an age group and doesn't say otherwise.
 * - Their name is initials; where these say nothing (docs/access.md) it is "Red" or "Blue". Left
 *   are the team and the side. Full names with `consent` in the entry.
 * - Of a bout with a minor, consent or not: no weight, and nothing of injuries: a stoppage for one
 *   or for blood is one of kind `other` without a side, the action `injury_stop` is `bout_stop`.
 * Sources: NSPCC/CPSU, "Using photographs of children on websites", and thecpsu.org.uk's advice on
 * naming children; ICO, Children's Code (high privacy by default, data minimisation). That
 * initials, team and side may stay is common practice, no source.
 * Pure: no clock, no I/O; memory from the caller's allocate and release. */
#pragma once
#include <stdbool.h>
#include "access/initials.h"
#include "rules/day.h"
#include "rules/log.h"

bool age_group_is_of_minors(const char *age_group); /* NULL: it isn't */
bool athlete_is_minor(const struct athlete *athlete);

/* Of somebody in an age group of minors (or in another one), by what the day says of them. */
bool name_is_withheld(const struct day *day, const struct person *person, bool group_of_minors);
bool person_is_minor(const struct day *day, const struct person *person);

/* What is withheld of a bout, by its first `count` events and what the day says now. */
struct privacy {
    bool covers;          /* something: else the bout's own log may be shown */
    bool group_of_minors; /* its age group is one: names, but for consent */
    bool of_minors;       /* that, or a minor wrestles in it: weight and injuries */
};
struct privacy privacy_of(const struct day *day, const struct bout *bout, size_t count);

struct public_bout {
    struct arena arena;
    struct bout bout; /* places and ids are the source's; `document` is NULL throughout */
    const struct bout *source;
    const struct day *day;
    struct privacy privacy;
};

/* Borrows both for as long as it lives. `privacy` is that of the whole log as it is known: when it
 * changes, or what the day says of an athlete, begin anew. */
void public_bout_init(struct public_bout *public, const struct bout *source, const struct day *day,
                      struct privacy privacy, void *(*allocate)(size_t), void (*release)(void *));
void public_bout_close(struct public_bout *public);
/* Copies on, to the source's first `count` events. False without memory. */
bool public_bout_read(struct public_bout *public, size_t count);

/* The athletes whose names are withheld, to conceal them in what somebody wrote: all of the day,
 * and the sides of a bout as called by its first `count` events. Each calls `each` for every one
 * until it answers false; the name is borrowed until `each` returns. */
typedef bool secret_name_taker(void *context, const struct secret_name *name);
bool day_secret_names(const struct day *day, secret_name_taker *each, void *context);
bool bout_secret_names(const struct day *day, const struct bout *bout, size_t count,
                       secret_name_taker *each, void *context);
