#include "commands/settings.h"
#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>
#include "commands/command.h"

static const char *const names[] = {"listen", "store", "pages", "log_level"};
enum { SETTING_COUNT = sizeof names / sizeof *names };

bool settings_beside(char path[SETTING_SIZE], const char *relative)
{
    char program[SETTING_SIZE];
    size_t size = sizeof program;
    if (uv_exepath(program, &size) != 0)
        return false;
    char *slash = strrchr(program, '/');
    if (slash == NULL)
        return false;
    *slash = '\0';
    return snprintf(path, SETTING_SIZE, "%s/%s", program, relative) < SETTING_SIZE;
}

static bool take_listen(struct settings *settings, const char *text, const char *place)
{
    const char *colon = strrchr(text, ':');
    char *end = NULL;
    long port = colon != NULL ? strtol(colon + 1, &end, 10) : -1;
    if (colon == NULL || colon == text || end == colon + 1 || *end != '\0' || port < 0 ||
        port > 65535 || colon - text >= SETTING_SIZE) {
        fprintf(stderr, "%s: listen: %s is no HOST:PORT\n", place, text);
        return false;
    }
    bool bracketed = text[0] == '[' && colon[-1] == ']'; /* [::1]:7600 */
    snprintf(settings->host, sizeof settings->host, "%.*s",
             (int)(colon - text) - (bracketed ? 2 : 0), text + (bracketed ? 1 : 0));
    settings->port = (int)port;
    return true;
}

static bool take(struct settings *settings, const char *name, const char *text, const char *place)
{
    if (strcmp(name, "listen") == 0)
        return take_listen(settings, text, place);
    if (strcmp(name, "log_level") == 0) {
        if (report_level_read(text, &settings->report_level))
            return true;
        fprintf(stderr, "%s: log_level: %s is none of error, warning, info, debug\n", place, text);
        return false;
    }
    char *path = strcmp(name, "store") == 0 ? settings->store : settings->pages;
    if (text[0] != '\0' && snprintf(path, SETTING_SIZE, "%s", text) < SETTING_SIZE)
        return true;
    fprintf(stderr, "%s: %s: a path of 1 to %d bytes is wanted\n", place, name, SETTING_SIZE - 1);
    return false;
}

static char *trimmed(char *text)
{
    while (isspace((unsigned char)*text))
        text++;
    for (size_t size = strlen(text); size > 0 && isspace((unsigned char)text[size - 1]); size--)
        text[size - 1] = '\0';
    return text;
}

static bool take_config_line(struct settings *settings, char *line, const char *place)
{
    line[strcspn(line, "#\n")] = '\0';
    char *name = trimmed(line), *equals = strchr(name, '=');
    if (*name == '\0')
        return true;
    if (equals != NULL) {
        *equals = '\0';
        name = trimmed(name);
        for (size_t i = 0; i < SETTING_COUNT; i++)
            if (strcmp(names[i], name) == 0)
                return take(settings, name, trimmed(equals + 1), place);
    }
    fprintf(stderr, "%s: %s is no setting; listen, store, pages and log_level are\n", place, name);
    return false;
}

static bool take_config(struct settings *settings, const char *path)
{
    size_t size = 0, number = 0;
    char *text = command_read_file(path, &size);
    bool good = text != NULL;
    for (char *line = text, *next; good && line != NULL; line = next) {
        char place[SETTING_SIZE + 32];
        next = strchr(line, '\n');
        if (next != NULL)
            *next++ = '\0';
        snprintf(place, sizeof place, "%s:%zu", path, ++number);
        good = take_config_line(settings, line, place);
    }
    free(text);
    return good;
}

static bool take_environment(struct settings *settings)
{
    static const char *const variables[SETTING_COUNT] = {"BOUTWIRE_LISTEN", "BOUTWIRE_STORE",
                                                         "BOUTWIRE_PAGES", "BOUTWIRE_LOG_LEVEL"};
    for (size_t i = 0; i < SETTING_COUNT; i++) {
        const char *value = getenv(variables[i]);
        if (value != NULL && !take(settings, names[i], value, variables[i]))
            return false;
    }
    return true;
}

bool settings_read(struct settings *settings, const struct settings_given *given,
                   const char *command)
{
    const char *options[SETTING_COUNT] = {given->listen, given->store, given->pages,
                                          given->log_level};
    const char *config = given->config != NULL ? given->config : getenv("BOUTWIRE_CONFIG");
    char place[64];
    *settings = (struct settings){
        .host = "127.0.0.1", .port = 7600, .store = "boutwire.sqlite", .report_level = REPORT_INFO};
    snprintf(place, sizeof place, "boutwire %s", command);
    if (!settings_beside(settings->pages, "../overlay"))
        settings->pages[0] = '\0';
    if (config != NULL && !take_config(settings, config))
        return false;
    if (!take_environment(settings))
        return false;
    for (size_t i = 0; i < SETTING_COUNT; i++)
        if (options[i] != NULL && !take(settings, names[i], options[i], place))
            return false;
    return true;
}
