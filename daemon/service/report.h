/* The daemon's own words about itself: a line each on standard error, as logfmt or as JSON (RFC
 * 8259, one object a line). Never what an event says, nobody's name, and no key.
 *
 *   at=2026-11-25T17:06:19.204Z level=info message="the log is read" store=a.sqlite events=0
 *   {"at":"2026-11-25T17:06:19.204Z","level":"info","message":"the log is read","events":0}
 *
 * logfmt has no standard: a value stands bare when it is ASCII with neither spaces, quotes, "=" nor
 * control characters, else between quotes, escaped as in JSON; `message` always between quotes.
 * What is no UTF-8 becomes U+FFFD, and a value longer than REPORT_VALUE_MAX bytes is cut there. The
 * time is the daemon's: a system clock that is stepped doesn't move it. */
#pragma once
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include "service/daytime.h"

enum { REPORT_VALUE_MAX = 1000, REPORT_LINE_SIZE = 8192 };

enum report_level { REPORT_ERROR, REPORT_WARNING, REPORT_INFO, REPORT_DEBUG };
enum report_form { REPORT_LOGFMT, REPORT_JSON };

struct report {
    enum report_level level; /* what is less urgent is left out */
    enum report_form form;
    const struct daytime *daytime; /* NULL: the system's time */
};

/* `pairs` is a printf format of further names and values: "store=%s events=%zu reason=\"%s\"".
 * The quotes may stand there or not: each value is written as the form wants it, those of %s as
 * text, those of %d, %u, %ld, %lu, %lld, %llu and %zu as numbers. "%s" with "": there are none. */
void report(const struct report *to, enum report_level level, const char *message,
            const char *pairs, ...) __attribute__((format(printf, 4, 5)));
/* The line, ended by a line feed and terminated, without writing it; answers its size. Pairs that
 * don't fit are left out. */
size_t report_line(char line[REPORT_LINE_SIZE], enum report_form form, int64_t at_ms,
                   enum report_level level, const char *message, const char *pairs, va_list values);

/* False: no level of that name (error, warning, info, debug). */
int report_level_read(const char *name, enum report_level *level);
const char *report_level_name(enum report_level level);
/* False: no form of that name (logfmt, json). */
int report_form_read(const char *name, enum report_form *form);
const char *report_form_name(enum report_form form);
