/* How an output looks: options that its page is told with its state, one table (look.c) of what
 * each may be. What isn't said is the first word of its row. Pure. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "rules/complaint.h"
#include "rules/value.h"

enum { LOOK_TEXT_SIZE = 24 };

enum look_member {
    LOOK_POSITION,   /* where on the picture */
    LOOK_THEME,      /* dark or light */
    LOOK_CLOCK,      /* time left, or elapsed */
    LOOK_MOTION,     /* fades, or cuts alone */
    LOOK_SCORE,      /* all points, or the confirmed ones alone */
    LOOK_UNHEARD,    /* what goes when the daemon isn't heard any more */
    LOOK_LANG,       /* a language tag (RFC 5646), "" for the page's own */
    LOOK_BACKGROUND, /* "" for none, fill, key, or a colour */
    LOOK_COUNT
};

struct look {
    char words[LOOK_COUNT][LOOK_TEXT_SIZE];
    int scale_percent; /* 50 to 100 */
};

struct look look_plain(void);
const char *look_member_name(enum look_member member);
/* Whether the member is as in look_plain. */
bool look_is_plain(const struct look *look, enum look_member member);
/* Reads a whole look: what `value` doesn't name is plain. False: refused. */
bool look_read(struct look *look, const struct value *value, const char *pointer,
               struct complaint *complaint);
