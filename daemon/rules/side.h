/* The two sides of a bout. */
#pragma once

enum side { SIDE_NONE, SIDE_RED, SIDE_BLUE };

/* For arrays with one item a side: 0 red, 1 blue. `side` isn't SIDE_NONE. */
static inline unsigned side_index(enum side side)
{
    return side == SIDE_BLUE ? 1u : 0u;
}

static inline enum side side_other(enum side side)
{
    return side == SIDE_RED ? SIDE_BLUE : SIDE_RED;
}

static inline const char *side_name(enum side side)
{
    return side == SIDE_BLUE ? "blue" : side == SIDE_RED ? "red" : "";
}
