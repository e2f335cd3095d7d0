/* What stands: which events of a bout are left when its voids and restarts have done their work.
 * Source: docs/events.md, section 2, "What stands". Pure. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include "rules/event.h"

/* Looks at the first `count` events of a bout; stands[i] says whether the i-th is left. */
void standing_of(const struct event *events, size_t count, bool *stands);
