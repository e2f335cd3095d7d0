#include "commands/settings.h"
#include <ctype.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <uv.h>
#include "commands/command.h"
#include "net/http.h"

static const struct {
    const char *name, *variable;
} known[SETTING_COUNT] = {
    [SETTING_LISTEN] = {"listen", "BOUTWIRE_LISTEN"},
    [SETTING_LINES] = {"lines", "BOUTWIRE_LINES"},
    [SETTING_LINES_MODE] = {"lines_mode", "BOUTWIRE_LINES_MODE"},
    [SETTING_CERTIFICATE] = {"certificate", "BOUTWIRE_CERTIFICATE"},
    [SETTING_PRIVATE_KEY] = {"private_key", "BOUTWIRE_PRIVATE_KEY"},
    [SETTING_STORE] = {"store", "BOUTWIRE_STORE"},
    [SETTING_ARCHIVE] = {"archive", "BOUTWIRE_ARCHIVE"},
    [SETTING_PAGES] = {"pages", "BOUTWIRE_PAGES"},
    [SETTING_WRITE_FILES] = {"write_files", "BOUTWIRE_WRITE_FILES"},
    [SETTING_LOG_LEVEL] = {"log_level", "BOUTWIRE_LOG_LEVEL"},
    [SETTING_LOG_FORMAT] = {"log_format", "BOUTWIRE_LOG_FORMAT"},
    [SETTING_PUBLIC_MINORS] = {"public_minors", "BOUTWIRE_PUBLIC_MINORS"},
    [SETTING_PRIVATE] = {"private", "BOUTWIRE_PRIVATE"},
    [SETTING_LANGUAGE] = {"language", "BOUTWIRE_LANGUAGE"},
    [SETTING_PLAIN_TEXT_NETWORK] = {"plain_text_network", "BOUTWIRE_PLAIN_TEXT_NETWORK"},
    [SETTING_DRAIN_SECONDS] = {"drain_seconds", "BOUTWIRE_DRAIN_SECONDS"},
    [SETTING_EVENT_RATE] = {"event_rate", "BOUTWIRE_EVENT_RATE"},
    [SETTING_EVENT_BURST] = {"event_burst", "BOUTWIRE_EVENT_BURST"},
    [SETTING_CONNECTIONS] = {"connections", "BOUTWIRE_CONNECTIONS"},
    [SETTING_CONNECTIONS_PER_ADDRESS] = {"connections_per_address",
                                         "BOUTWIRE_CONNECTIONS_PER_ADDRESS"},
    [SETTING_PUBLIC_URL] = {"public_url", "BOUTWIRE_PUBLIC_URL"},
    [SETTING_TRUSTED_PROXY] = {"trusted_proxy", "BOUTWIRE_TRUSTED_PROXY"},
    [SETTING_ALLOW_ORIGIN] = {"allow_origin", "BOUTWIRE_ALLOW_ORIGIN"},
};

/* Where the reading that is under way says what is wrong. */
static FILE *complaints;

const char *setting_name(enum setting setting)
{
    return known[setting].name;
}

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

void settings_archive(const struct settings *settings, char path[ARCHIVE_PATH_SIZE])
{
    bool set = settings->archive[0] != '\0';
    snprintf(path, ARCHIVE_PATH_SIZE, "%s%s", set ? settings->archive : settings->store,
             set ? "" : ".archive");
}

/* What one source says: `begun` are the lists that it has said something of. */
struct source {
    struct settings *settings;
    bool begun[SETTING_COUNT];
};

/* Calls `take_item` for each part of a list; commas and spaces stand between. */
static bool take_list(struct settings *settings, const char *name, const char *text,
                      const char *place,
                      bool (*take_item)(struct settings *settings, const char *item,
                                        const char *place))
{
    static const char between[] = ", \t";
    const char *from = text + strspn(text, between);
    if (*from == '\0')
        fprintf(complaints, "%s: %s: at least one is wanted\n", place, name);
    bool good = *from != '\0';
    while (good && *from != '\0') {
        char item[SETTING_SIZE];
        size_t size = strcspn(from, between);
        snprintf(item, sizeof item, "%.*s", (int)size, from);
        good = take_item(settings, item, place);
        from += size;
        from += strspn(from, between);
    }
    return good;
}

static bool take_listen(struct settings *settings, const char *item, const char *place)
{
    if (settings->listen_count == LISTENINGS_MAX) {
        fprintf(complaints, "%s: listen: %d at most\n", place, LISTENINGS_MAX);
        return false;
    }
    if (listening_read(&settings->listen[settings->listen_count], item)) {
        settings->listen_count++;
        return true;
    }
    fprintf(complaints, "%s: listen: %s is no HOST:PORT or tls:HOST:PORT\n", place, item);
    return false;
}

static bool take_trusted_proxy(struct settings *settings, const char *item, const char *place)
{
    struct front *front = &settings->front;
    if (front->trusted_count == TRUSTED_MAX) {
        fprintf(complaints, "%s: trusted_proxy: %d at most\n", place, TRUSTED_MAX);
        return false;
    }
    if (address_range_read(&front->trusted[front->trusted_count], item)) {
        front->trusted_count++;
        return true;
    }
    fprintf(complaints, "%s: trusted_proxy: %s is no ADDRESS or ADDRESS/BITS, like 192.0.2.0/24\n",
            place, item);
    return false;
}

static bool take_allow_origin(struct settings *settings, const char *item, const char *place)
{
    struct front *front = &settings->front;
    if (front->allowed_count == ALLOWED_MAX) {
        fprintf(complaints, "%s: allow_origin: %d at most\n", place, ALLOWED_MAX);
        return false;
    }
    if (origin_read(&front->allowed[front->allowed_count], item)) {
        front->allowed_count++;
        return true;
    }
    fprintf(complaints, "%s: allow_origin: %s is no origin, like https://score.example:8443\n",
            place, item);
    return false;
}

/* Its path may be left standing by the proxy: then it must not look like an address of ours. */
static bool take_public_url(struct settings *settings, const char *text, const char *place)
{
    struct public_url url;
    if (!public_url_read(&url, text)) {
        fprintf(complaints,
                "%s: public_url: %s isn't like https://hall.example/ or "
                "https://hall.example/hall/\n",
                place, text);
        return false;
    }
    char below[PUBLIC_PATH_SIZE + 1];
    snprintf(below, sizeof below, "%s/", url.path);
    if (route_of(url.path)->place != PLACE_PAGES || route_of(below)->place != PLACE_PAGES) {
        fprintf(complaints, "%s: public_url: %s begins like an address of the daemon's own\n",
                place, url.path);
        return false;
    }
    settings->front.public_url = url;
    return true;
}

static bool take_lines(struct settings *settings, const char *item, const char *place)
{
    if (settings->lines_count == LISTENINGS_MAX) {
        fprintf(complaints, "%s: lines: %d at most\n", place, LISTENINGS_MAX);
        return false;
    }
    if (talking_read(&settings->lines[settings->lines_count], item)) {
        settings->lines_count++;
        return true;
    }
    fprintf(complaints, "%s: lines: %s is no tcp:HOST:PORT or unix:PATH\n", place, item);
    return false;
}

static bool take_mode(unsigned *mode, const char *name, const char *text, const char *place)
{
    size_t size = strlen(text);
    if (size >= 3 && size <= 4 && strspn(text, "01234567") == size &&
        strtoul(text, NULL, 8) <= 0777) {
        *mode = (unsigned)strtoul(text, NULL, 8);
        return true;
    }
    fprintf(complaints, "%s: %s: %s is no mode of a file, as 0660 is\n", place, name, text);
    return false;
}

static bool take_path(char path[SETTING_SIZE], const char *name, const char *text,
                      const char *place)
{
    if (text[0] != '\0' && snprintf(path, SETTING_SIZE, "%s", text) < SETTING_SIZE)
        return true;
    fprintf(complaints, "%s: %s: a path of 1 to %d bytes is wanted\n", place, name,
            SETTING_SIZE - 1);
    return false;
}

static bool take_switch(bool *on, const char *name, const char *text, const char *place)
{
    *on = strcmp(text, "yes") == 0;
    if (*on || strcmp(text, "no") == 0)
        return true;
    fprintf(complaints, "%s: %s: %s is neither yes nor no\n", place, name, text);
    return false;
}

static bool take_seconds(unsigned *seconds, const char *name, const char *text, const char *place)
{
    char *end = NULL;
    long number = strtol(text, &end, 10);
    if (isdigit((unsigned char)text[0]) && *end == '\0' && number <= DRAIN_SECONDS_MAX) {
        *seconds = (unsigned)number;
        return true;
    }
    fprintf(complaints, "%s: %s: %s is no number of seconds from 0 to %d\n", place, name, text,
            DRAIN_SECONDS_MAX);
    return false;
}

static bool take_number(unsigned *number, unsigned least, unsigned most, const char *name,
                        const char *text, const char *place)
{
    size_t size = strlen(text);
    unsigned long read = strtoul(text, NULL, 10);
    if (size >= 1 && size <= 9 && strspn(text, "0123456789") == size && read >= least &&
        read <= most) {
        *number = (unsigned)read;
        return true;
    }
    fprintf(complaints, "%s: %s: %s is no whole number from %u to %u\n", place, name, text, least,
            most);
    return false;
}

static bool take_connections(unsigned *most, const char *name, const char *text, const char *place)
{
    char *end = NULL;
    long number = strtol(text, &end, 10);
    if (isdigit((unsigned char)text[0]) && *end == '\0' && number >= 1 &&
        number <= CONNECTIONS_MAX) {
        *most = (unsigned)number;
        return true;
    }
    fprintf(complaints, "%s: %s: %s is no number from 1 to %d\n", place, name, text,
            CONNECTIONS_MAX);
    return false;
}

static bool take(struct source *source, enum setting setting, const char *text, const char *place)
{
    struct settings *settings = source->settings;
    const char *name = known[setting].name;
    bool renews = !source->begun[setting];
    source->begun[setting] = true;
    switch (setting) {
    case SETTING_LISTEN:
        settings->listen_count = renews ? 0 : settings->listen_count;
        return take_list(settings, name, text, place, take_listen);
    case SETTING_LINES:
        settings->lines_count = renews ? 0 : settings->lines_count;
        return take_list(settings, name, text, place, take_lines);
    case SETTING_LINES_MODE:
        return take_mode(&settings->lines_mode, name, text, place);
    case SETTING_CERTIFICATE:
        return take_path(settings->certificate, name, text, place);
    case SETTING_PRIVATE_KEY:
        return take_path(settings->private_key, name, text, place);
    case SETTING_STORE:
        return take_path(settings->store, name, text, place);
    case SETTING_ARCHIVE:
        return take_path(settings->archive, name, text, place);
    case SETTING_PAGES:
        return take_path(settings->pages, name, text, place);
    case SETTING_WRITE_FILES:
        return take_path(settings->write_files, name, text, place);
    case SETTING_LOG_LEVEL:
        if (report_level_read(text, &settings->report_level))
            return true;
        fprintf(complaints, "%s: log_level: %s is none of error, warning, info, debug\n", place,
                text);
        return false;
    case SETTING_LOG_FORMAT:
        if (report_form_read(text, &settings->report_form))
            return true;
        fprintf(complaints, "%s: log_format: %s is neither logfmt nor json\n", place, text);
        return false;
    case SETTING_PUBLIC_MINORS:
        return take_switch(&settings->public_minors, name, text, place);
    case SETTING_PRIVATE:
        return take_switch(&settings->is_private, name, text, place);
    case SETTING_PLAIN_TEXT_NETWORK:
        return take_switch(&settings->plain_text_network, name, text, place);
    case SETTING_LANGUAGE:
        return take_path(settings->language, name, text, place);
    case SETTING_EVENT_RATE:
        return take_number(&settings->event_rate, 0, EVENTS_MAX, name, text, place);
    case SETTING_EVENT_BURST:
        return take_number(&settings->event_burst, 1, EVENTS_MAX, name, text, place);
    case SETTING_CONNECTIONS:
        return take_connections(&settings->connections, name, text, place);
    case SETTING_CONNECTIONS_PER_ADDRESS:
        return take_connections(&settings->connections_per_address, name, text, place);
    case SETTING_PUBLIC_URL:
        return take_public_url(settings, text, place);
    case SETTING_TRUSTED_PROXY:
        settings->front.trusted_count = renews ? 0 : settings->front.trusted_count;
        return take_list(settings, name, text, place, take_trusted_proxy);
    case SETTING_ALLOW_ORIGIN:
        settings->front.allowed_count = renews ? 0 : settings->front.allowed_count;
        return take_list(settings, name, text, place, take_allow_origin);
    case SETTING_DRAIN_SECONDS:
        return take_seconds(&settings->drain_seconds, name, text, place);
    case SETTING_COUNT:
        break;
    }
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

static bool take_config_line(struct source *source, char *line, const char *place)
{
    line[strcspn(line, "#\n")] = '\0';
    char *name = trimmed(line), *equals = strchr(name, '=');
    if (*name == '\0')
        return true;
    if (equals != NULL) {
        *equals = '\0';
        name = trimmed(name);
        for (unsigned i = 0; i < SETTING_COUNT; i++)
            if (strcmp(known[i].name, name) == 0)
                return take(source, (enum setting)i, trimmed(equals + 1), place);
    }
    fprintf(complaints, "%s: %s is no setting; these are:", place, name);
    for (unsigned i = 0; i < SETTING_COUNT; i++)
        fprintf(complaints, " %s", known[i].name);
    fputs("\n", complaints);
    return false;
}

static bool take_config(struct settings *settings, const char *path)
{
    struct source source = {.settings = settings};
    size_t size = 0, number = 0;
    char *text = command_read_file(path, &size);
    bool good = text != NULL;
    for (char *line = text, *next; good && line != NULL; line = next) {
        char place[SETTING_SIZE + 32];
        next = strchr(line, '\n');
        if (next != NULL)
            *next++ = '\0';
        snprintf(place, sizeof place, "%s:%zu", path, ++number);
        good = take_config_line(&source, line, place);
    }
    free(text);
    return good;
}

static bool take_environment(struct settings *settings)
{
    struct source source = {.settings = settings};
    for (unsigned i = 0; i < SETTING_COUNT; i++) {
        const char *value = getenv(known[i].variable);
        if (value != NULL && !take(&source, (enum setting)i, value, known[i].variable))
            return false;
    }
    return true;
}

static bool take_options(struct settings *settings, const struct settings_given *given,
                         const char *command)
{
    struct source source = {.settings = settings};
    char place[64];
    snprintf(place, sizeof place, "boutwire %s", command);
    if (given->too_many)
        fprintf(complaints, "%s: more than %d options\n", place, SETTINGS_GIVEN_MAX);
    if (given->too_many)
        return false;
    for (size_t i = 0; i < given->count; i++)
        if (!take(&source, given->items[i].setting, given->items[i].text, place))
            return false;
    return true;
}

void settings_give(struct settings_given *given, enum setting setting, const char *text)
{
    given->too_many = given->count == SETTINGS_GIVEN_MAX;
    if (given->too_many)
        return;
    given->items[given->count].setting = setting;
    given->items[given->count++].text = text;
}

bool settings_has(const struct settings_given *given, enum setting setting)
{
    for (size_t i = 0; i < given->count; i++)
        if (given->items[i].setting == setting)
            return true;
    return false;
}

static const char *config_path(const struct settings_given *given)
{
    return given->config != NULL ? given->config : getenv("BOUTWIRE_CONFIG");
}

static bool read_all(struct settings *settings, const struct settings_given *given,
                     const char *command)
{
    const char *config = config_path(given);
    *settings = (struct settings){.listen = {{.host = "127.0.0.1", .port = 7600}},
                                  .listen_count = 1,
                                  .lines_mode = 0600,
                                  .store = "boutwire.sqlite",
                                  .language = "en",
                                  .report_level = REPORT_INFO,
                                  .event_rate = 50,
                                  .event_burst = 500,
                                  .connections = CONNECTIONS_USUAL,
                                  .connections_per_address = CONNECTIONS_PER_ADDRESS_USUAL,
                                  .drain_seconds = DRAIN_SECONDS_USUAL};
    if (!settings_beside(settings->pages, "../overlay"))
        settings->pages[0] = '\0';
    if (config != NULL && !take_config(settings, config))
        return false;
    return take_environment(settings) && take_options(settings, given, command);
}

bool settings_read(struct settings *settings, const struct settings_given *given,
                   const char *command)
{
    complaints = stderr;
    return read_all(settings, given, command);
}

bool settings_read_again(struct settings *settings, const struct settings_given *given,
                         const char *command, char reason[SETTINGS_REASON_SIZE])
{
    const char *config = config_path(given);
    if (config != NULL && access(config, R_OK) != 0) {
        snprintf(reason, SETTINGS_REASON_SIZE, "%s: %s", config, strerror(errno));
        return false;
    }
    reason[0] = '\0';
    complaints = fmemopen(reason, SETTINGS_REASON_SIZE, "w");
    if (complaints == NULL) {
        snprintf(reason, SETTINGS_REASON_SIZE, "%s", strerror(errno));
        return false;
    }
    bool good = read_all(settings, given, command);
    fclose(complaints);
    reason[SETTINGS_REASON_SIZE - 1] = '\0';
    reason[strcspn(reason, "\n")] = '\0';
    return good;
}

static bool same_listening(const struct listening *one, const struct listening *other)
{
    return strcmp(one->host, other->host) == 0 && one->port == other->port &&
           one->tls == other->tls;
}

static bool same_listen(const struct settings *one, const struct settings *other)
{
    bool same = one->listen_count == other->listen_count;
    for (size_t i = 0; i < one->listen_count && same; i++)
        same = same_listening(&one->listen[i], &other->listen[i]);
    return same;
}

static bool same_lines(const struct settings *one, const struct settings *other)
{
    bool same = one->lines_count == other->lines_count;
    for (size_t i = 0; i < one->lines_count && same; i++)
        same = one->lines[i].is_unix == other->lines[i].is_unix &&
               strcmp(one->lines[i].path, other->lines[i].path) == 0 &&
               same_listening(&one->lines[i].tcp, &other->lines[i].tcp);
    return same;
}

static bool same_public_url(const struct front *one, const struct front *other)
{
    return origin_same(&one->public_url.origin, &other->public_url.origin) &&
           strcmp(one->public_url.path, other->public_url.path) == 0;
}

static bool same_trusted_proxy(const struct front *one, const struct front *other)
{
    for (size_t i = 0; i < one->trusted_count && i < other->trusted_count; i++)
        if (one->trusted[i].bits != other->trusted[i].bits ||
            !address_same(&one->trusted[i].first, &other->trusted[i].first))
            return false;
    return one->trusted_count == other->trusted_count;
}

static bool same_allow_origin(const struct front *one, const struct front *other)
{
    for (size_t i = 0; i < one->allowed_count && i < other->allowed_count; i++)
        if (!origin_same(&one->allowed[i], &other->allowed[i]))
            return false;
    return one->allowed_count == other->allowed_count;
}

bool settings_same(const struct settings *one, const struct settings *other, enum setting setting)
{
    switch (setting) {
    case SETTING_LISTEN:
        return same_listen(one, other);
    case SETTING_LINES:
        return same_lines(one, other);
    case SETTING_LINES_MODE:
        return one->lines_mode == other->lines_mode;
    case SETTING_CERTIFICATE:
        return strcmp(one->certificate, other->certificate) == 0;
    case SETTING_PRIVATE_KEY:
        return strcmp(one->private_key, other->private_key) == 0;
    case SETTING_STORE:
        return strcmp(one->store, other->store) == 0;
    case SETTING_ARCHIVE:
        return strcmp(one->archive, other->archive) == 0;
    case SETTING_PAGES:
        return strcmp(one->pages, other->pages) == 0;
    case SETTING_WRITE_FILES:
        return strcmp(one->write_files, other->write_files) == 0;
    case SETTING_LOG_LEVEL:
        return one->report_level == other->report_level;
    case SETTING_LOG_FORMAT:
        return one->report_form == other->report_form;
    case SETTING_PUBLIC_MINORS:
        return one->public_minors == other->public_minors;
    case SETTING_PRIVATE:
        return one->is_private == other->is_private;
    case SETTING_PLAIN_TEXT_NETWORK:
        return one->plain_text_network == other->plain_text_network;
    case SETTING_DRAIN_SECONDS:
        return one->drain_seconds == other->drain_seconds;
    case SETTING_LANGUAGE:
        return strcmp(one->language, other->language) == 0;
    case SETTING_EVENT_RATE:
        return one->event_rate == other->event_rate;
    case SETTING_EVENT_BURST:
        return one->event_burst == other->event_burst;
    case SETTING_CONNECTIONS:
        return one->connections == other->connections;
    case SETTING_CONNECTIONS_PER_ADDRESS:
        return one->connections_per_address == other->connections_per_address;
    case SETTING_PUBLIC_URL:
        return same_public_url(&one->front, &other->front);
    case SETTING_TRUSTED_PROXY:
        return same_trusted_proxy(&one->front, &other->front);
    case SETTING_ALLOW_ORIGIN:
        return same_allow_origin(&one->front, &other->front);
    case SETTING_COUNT:
        break;
    }
    return true;
}

bool settings_take_live(struct settings *settings, const struct settings *other,
                        enum setting setting)
{
    if (setting == SETTING_LOG_LEVEL)
        settings->report_level = other->report_level;
    else if (setting == SETTING_LOG_FORMAT)
        settings->report_form = other->report_form;
    else if (setting == SETTING_PUBLIC_MINORS)
        settings->public_minors = other->public_minors;
    else if (setting == SETTING_DRAIN_SECONDS)
        settings->drain_seconds = other->drain_seconds;
    else if (setting == SETTING_EVENT_RATE)
        settings->event_rate = other->event_rate;
    else if (setting == SETTING_EVENT_BURST)
        settings->event_burst = other->event_burst;
    else if (setting == SETTING_ALLOW_ORIGIN) {
        memcpy(settings->front.allowed, other->front.allowed, sizeof settings->front.allowed);
        settings->front.allowed_count = other->front.allowed_count;
    } else
        return false;
    return true;
}
