/* How `serve` is set: by option, by environment, by a config file, in that order of strength.
 *   option         environment           config file
 *   --listen       BOUTWIRE_LISTEN       listen = 127.0.0.1:7600
 *   --store        BOUTWIRE_STORE        store = boutwire.sqlite
 *   --pages        BOUTWIRE_PAGES        pages = FOLDER
 *   --log-level    BOUTWIRE_LOG_LEVEL    log_level = info
 *   --config       BOUTWIRE_CONFIG
 * A config file has a `name = value` a line; # begins a comment. */
#pragma once
#include <stdbool.h>
#include "service/report.h"

enum { SETTING_SIZE = 512 };

struct settings {
    char host[SETTING_SIZE];
    int port;
    char store[SETTING_SIZE], pages[SETTING_SIZE];
    enum report_level report_level;
};

struct settings_given { /* what the options said; NULL: nothing */
    const char *listen, *store, *pages, *log_level, *config;
};

/* False: said on standard error, with the place. `command` is named there. */
bool settings_read(struct settings *settings, const struct settings_given *given,
                   const char *command);
/* A path beside the program: build/boutwire's "../overlay". False: it has no such room. */
bool settings_beside(char path[SETTING_SIZE], const char *relative);
