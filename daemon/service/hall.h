/* The hall: every bout's fold, the mats with the bout that each shows, and the lines told of them.
 * Made by reading committed events in their order and by time passing, and by nothing else: read
 * again, it comes out the same.
 *
 * What is withheld of minors is taken out here: a bout of which something is has a second log and
 * fold, the public's, and every line is told of that one. What an athlete's entry says, or a bout's
 * latest age group, holds backwards too: when it changes what was told, the hall is `stale` until
 * hall_retell has read everything anew.
 *
 * A hall may be behind: what a delayed audience is shown (views.h). It reads every event when that
 * falls due, of copies of the logs in which a slip that was corrected in time isn't
 * (access/delayed.h). What is withheld is never delayed: that it asks of the live hall. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "access/delayed.h"
#include "access/privacy.h"
#include "prompts/teller.h"
#include "rules/log.h"
#include "stats/fold.h"
#include "wire/view_json.h"

struct told_line { /* a sentence that is out */
    struct line line;
    const char *event; /* the event's id; "" where time alone made it */
    int64_t at_ms;
    const struct bout *bout;
};

struct mat {
    struct mat *next;
    char *name;
    struct hall_bout *shown; /* the bout last called to it that is not off; NULL: none */
    struct told_line *lines; /* numbered from 1, over the whole day */
    size_t line_count, line_capacity;
    uint64_t first_seq;    /* of the first event that called a bout here; 0: none has */
    int64_t cards_next_ms; /* when its cards change by time alone */
    bool changed;          /* since it was last published */
};

struct hall_bout {
    const struct bout *bout;
    struct delayed_bout delayed; /* only in a hall that is behind: what the fold reads */
    struct fold fold;
    struct privacy privacy;
    struct public_bout public; /* this and the two below: only where privacy.covers */
    struct fold public_fold;
    struct view_memory public_memory;
    struct teller teller; /* the lines told of it, and what waits */
    struct mat *mat;      /* NULL: it names none */
    struct view_memory memory;
    int64_t next_ms;       /* when it changes by itself; INT64_MAX: never */
    size_t archived_count; /* of its events, when it was last handed to the archive; 0: never */
    struct hall_bout *next;
};

struct hall {
    const struct language *language;
    struct hall_bout *bouts; /* the newest first */
    struct mat *mats;        /* by name */
    struct day day;
    bool day_changed;
    bool has_minors; /* on the day's roster, or in a bout */
    bool stale;      /* what was told is no longer what may be told */
    bool retelling;
    bool names_anew; /* somebody's name may be told no more: for who shows what others wrote */
    const struct hall *live;     /* the hall that this one is behind; NULL: it is the live one */
    const struct delays *delays; /* and these three: only where it is behind */
    uint64_t known_seq;          /* so many events are there for good, read or not; also while
                                    the live one is told anew */
    int64_t due_ms;              /* when the last event read fell due */
    bool has_hidden;             /* something was never seen here, or only as amended */
};

/* `language` is what lines are told in; borrowed for as long as the hall lives. */
void hall_init(struct hall *hall, const struct language *language);
/* One that is behind; borrows both, whose day it has. Whoever reads for it sets `known_seq` first.
 */
void hall_init_behind(struct hall *hall, const struct hall *live, const struct delays *delays);
void hall_close(struct hall *hall);
/* The roster, slots and sessions: the live hall's, whichever is asked. */
const struct day *hall_day(const struct hall *hall);
/* The time up to which the hall has passed when this event comes: when it was accepted; for a lost
 * clock, when the daemon was last there to see it run. */
int64_t hall_comes_at(const struct event *event);
/* Reads the next event of the bout (its fold's count tells which). False without memory. */
bool hall_read(struct hall *hall, const struct bout *bout);
/* Reads the next event of the day. False without memory. */
bool hall_read_day(struct hall *hall, const struct event *event);
/* Reads the log's first `count` events, all that were read before, anew: then the hall isn't stale.
 * Mats stay where they are. Of a hall that is behind: after the live one. False without memory:
 * then it is still stale. */
bool hall_retell(struct hall *hall, const struct log *log, size_t count);
/* Lets time pass up to `now_ms`: periods that run out are told. False without memory. */
bool hall_pass(struct hall *hall, int64_t now_ms);
int64_t hall_next(const struct hall *hall); /* the next moment at which hall_pass does something */
struct hall_bout *hall_bout(const struct hall *hall, const char *id);
/* The fold that the public is shown. */
const struct fold *hall_public_fold(const struct hall_bout *bout);
struct mat *hall_mat(struct hall *hall, const char *name);     /* NULL: not there */
struct mat *hall_mat_add(struct hall *hall, const char *name); /* NULL without memory */
/* Puts initials in the place of every name that the public isn't told, in what somebody wrote. */
void hall_conceal(const struct hall *hall, char *text, size_t size);
