/* What is read of one bout, of the day's events and of who wrestles: docs/wire.md, "Addresses".
 * Each is shown to whoever asks as their audience has it, at that audience's moment. */
#pragma once
#include "service/asker.h"

void bout_get(const struct asker *asker, const char *id);        /* its state */
void bout_events_get(const struct asker *asker, const char *id); /* its log */
void recap_get(const struct asker *asker, const char *id);       /* for a sheet to print */
void day_events_get(const struct asker *asker);
void roster_get(const struct asker *asker);
void athlete_get(const struct asker *asker, const char *athlete);
