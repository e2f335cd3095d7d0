/* Who may do what: every role against every action, as one table (access.c), and which audience a
 * topic belongs to.
 * A key has a role, and may be bound to one mat: then whatever belongs to another mat, or to none,
 * is as if the role were not allowed it. Reading what is public is nobody's privilege.
 * Pure: no clock, no I/O, no allocation. */
#pragma once
#include <stdbool.h>
#include <stddef.h>

enum role {
    ROLE_PUBLIC,  /* no key */
    ROLE_FOLLOW,  /* reads what is public, where that needs a key too */
    ROLE_BOOTH,   /* reads for the commentator, and writes notes to the booth */
    ROLE_TABLE,   /* keys a mat, or all */
    ROLE_GALLERY, /* produces, sees who is connected, and cuts off */
    ROLE_ANYONE,  /* no key has been made: on this machine alone, and open there */
    ROLE_COUNT
};
const char *role_name(enum role role); /* "table" */
/* A role that a key can have; false: there is none of that name. */
bool role_read(const char *name, enum role *role);
bool role_takes_mat(enum role role); /* a key of it may be bound to one mat */

enum action {
    ACTION_READ_PUBLIC, /* out/OUTPUT, mat/MAT/follow, day/follow, text, a bout as the public has it
                         */
    ACTION_READ_BOOTH,  /* mat/MAT/booth, a bout as it is */
    ACTION_READ_TABLE,  /* mat/MAT/table */
    ACTION_READ_LOG,    /* a bout's events */
    ACTION_READ_DAY,    /* day/booth */
    ACTION_READ_GALLERY,   /* gallery */
    ACTION_KEY_BOUT,       /* every event of a bout … */
    ACTION_KEY_NOTE,       /* … a note to the booth alone */
    ACTION_KEY_DAY,        /* entry, slot, session */
    ACTION_PRODUCE,        /* an output's actions */
    ACTION_SAY_TO_BOOTH,   /* a line to a booth, and that one of it has been seen */
    ACTION_SAY_TO_GALLERY, /* a booth's line to the gallery, and that one of it has been seen */
    ACTION_CUT,            /* cut somebody off */
    ACTION_COUNT
};
const char *action_words(enum action action); /* "key events of a bout": after "may not" */

struct grant {
    enum role role;
    const char *mat; /* borrowed; NULL: every mat */
};
/* `mat` is whose the thing is; NULL: no mat's. */
bool grant_allows(const struct grant *grant, enum action action, const char *mat);
/* What the role is allowed at all, on some mat. */
bool role_allows(enum role role, enum action action);

enum { AUDIENCE_MAT_SIZE = 512 };

/* Whose a topic is: what reading it is, and on which mat ("": none). False: no topic is called so.
 * mat/MAT/table, mat/MAT/booth, mat/MAT/follow (MAT may hold slashes), out/OUTPUT, day/booth,
 * day/follow, gallery. */
struct audience {
    enum action action;
    char mat[AUDIENCE_MAT_SIZE];
};
bool audience_of(const char *topic, struct audience *audience);

/* Whether only this machine reaches that address: localhost, 127.x.x.x, ::1. */
bool host_is_this_machine(const char *host);
/* Why a daemon mustn't listen there, as one sentence; NULL: it may. `keys`: at least one opens. */
const char *listening_refusal(const char *host, bool keys, bool tls, bool plain_text_by_name);
