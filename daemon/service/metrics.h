/* The daemon's figures as OpenMetrics text (GET /metrics): how many, how much, how long. No names,
 * no keys, nothing of what an event says: labels are words of ours. docs/wire.md lists them all. */
#pragma once
#include <stddef.h>

struct service;

/* Gives the text, to be freed; NULL without memory. */
char *metrics_text(const struct service *service, size_t *size);
