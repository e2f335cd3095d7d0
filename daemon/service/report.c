#include "service/report.h"
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

static const char *const level_names[] = {"error", "warning", "info", "debug"};

int report_level_read(const char *name, enum report_level *level)
{
    for (unsigned i = 0; i < sizeof level_names / sizeof *level_names; i++)
        if (strcmp(level_names[i], name) == 0)
            return *level = (enum report_level)i, 1;
    return 0;
}

void report(const struct report *to, enum report_level level, const char *message,
            const char *pairs, ...)
{
    char at[32] = "", rest[512];
    struct timespec now = {0, 0};
    struct tm parts;
    if (level > to->level)
        return;
    clock_gettime(CLOCK_REALTIME, &now);
    if (gmtime_r(&now.tv_sec, &parts) != NULL)
        strftime(at, sizeof at, "%Y-%m-%dT%H:%M:%SZ", &parts);
    va_list arguments;
    va_start(arguments, pairs);
    vsnprintf(rest, sizeof rest, pairs, arguments);
    va_end(arguments);
    fprintf(stderr, "at=%s level=%s message=\"%s\"%s%s\n", at, level_names[level], message,
            rest[0] != '\0' ? " " : "", rest);
}
