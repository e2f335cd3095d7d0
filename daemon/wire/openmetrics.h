/* Figures for those who watch the daemon, as OpenMetrics text, version 1.0.0.
 * Source: OpenMetrics specification 1.0, "Text format" and "Metric types".
 * Pure but for malloc: no clock, no I/O. Families are written one after the other, each with its
 * samples; names are ours and checked by assert, label values may be anything. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define OPENMETRICS_TYPE "application/openmetrics-text; version=1.0.0; charset=utf-8"

/* How long something took, how often. The bounds are the same for all: ten millionths of a second
 * to ten seconds. */
enum { HISTOGRAM_BOUND_COUNT = 14 };
struct histogram {
    uint64_t
        counts[HISTOGRAM_BOUND_COUNT + 1]; /* each its own, not those below it; the last: +Inf */
    double sum;
};
void histogram_note(struct histogram *histogram, double seconds);
uint64_t histogram_count(const struct histogram *histogram);

enum openmetrics_type {
    OPENMETRICS_GAUGE,
    OPENMETRICS_COUNTER,
    OPENMETRICS_HISTOGRAM,
    OPENMETRICS_INFO,
};

struct openmetrics { /* all zero to begin with */
    char *text;
    size_t size, room;
    bool failed; /* for want of memory; openmetrics_end tells */
    const char *family;
    enum openmetrics_type type;
};

/* Begins a family. `unit` is the end of its name (boutwire_commit_seconds: "seconds"), or NULL. */
void openmetrics_family(struct openmetrics *out, const char *name, enum openmetrics_type type,
                        const char *unit, const char *help);
/* Samples of that family: a gauge's, counter's or info's (then 1). `label` may be NULL: without. */
void openmetrics_integer(struct openmetrics *out, const char *label, const char *value,
                         uint64_t number);
void openmetrics_float(struct openmetrics *out, const char *label, const char *value,
                       double number);
void openmetrics_histogram(struct openmetrics *out, const struct histogram *histogram);
/* Gives the text, to be freed; NULL without memory. */
char *openmetrics_end(struct openmetrics *out, size_t *size);
