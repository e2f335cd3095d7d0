/* What a hold is, as far as cards and lines need to know: its family, and the height at which a leg
 * attack takes the leg. Names that aren't here are allowed in events and are TECHNIQUE_OTHER.
 * Source: common practice of the trade, no printed source; the low attacks and the leg that they
 * reach from coaching guides to the low and the sweep single (sportmentary.com), the high single
 * from notes at peninsulamma.com.au. */
#pragma once
#include <stdbool.h>

enum technique_family {
    TECHNIQUE_OTHER, /* a tie, a defence, or unknown */
    TECHNIQUE_LEG,   /* attacks on the legs, or with them */
    TECHNIQUE_UPPER,
    TECHNIQUE_TOP, /* turns and lifts in par terre */
};

/* `attack` says only that there was one: what a table keys before it knows the hold. */
bool technique_is_unnamed(const char *technique);
enum technique_family technique_family(const char *technique);
/* False for what the table keys before one is known: nothing is told of it by name. */
bool technique_is_known(const char *technique);
bool technique_is_low(const char *technique);  /* heel to knee, taken from close to the mat */
bool technique_is_high(const char *technique); /* thigh to hip */
