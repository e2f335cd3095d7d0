/* The daemon's own words about itself: logfmt lines on standard error. Never what an event says. */
#pragma once

enum report_level { REPORT_ERROR, REPORT_WARNING, REPORT_INFO, REPORT_DEBUG };

struct report {
    enum report_level level; /* what is less urgent is left out */
};

/* "at=… level=info message="…" `pairs`": pairs is a printf format of further key=value. */
void report(const struct report *to, enum report_level level, const char *message,
            const char *pairs, ...) __attribute__((format(printf, 4, 5)));
/* False: no level of that name (error, warning, info, debug). */
int report_level_read(const char *name, enum report_level *level);
