/* How `serve` is set: by option, by environment, by a config file, in that order of strength.
 *   option                 environment                  config file
 *   --listen               BOUTWIRE_LISTEN              listen = 127.0.0.1:7600
 *   --lines                BOUTWIRE_LINES               lines = unix:/run/boutwire/lines
 *   --lines-mode           BOUTWIRE_LINES_MODE          lines_mode = 0600
 *   --certificate          BOUTWIRE_CERTIFICATE         certificate = FILE
 *   --private-key          BOUTWIRE_PRIVATE_KEY         private_key = FILE
 *   --store                BOUTWIRE_STORE               store = boutwire.sqlite
 *   --archive              BOUTWIRE_ARCHIVE             archive = STORE.archive
 *   --pages                BOUTWIRE_PAGES               pages = FOLDER
 *   --write-files          BOUTWIRE_WRITE_FILES         write_files = FOLDER
 *   --log-level            BOUTWIRE_LOG_LEVEL           log_level = info
 *   --log-format           BOUTWIRE_LOG_FORMAT          log_format = logfmt
 *   --public-minors        BOUTWIRE_PUBLIC_MINORS       public_minors = no
 *   --private              BOUTWIRE_PRIVATE             private = no
 *   --plain-text-network   BOUTWIRE_PLAIN_TEXT_NETWORK  plain_text_network = no
 *   --language             BOUTWIRE_LANGUAGE            language = en
 *   --drain-seconds        BOUTWIRE_DRAIN_SECONDS       drain_seconds = 5
 *   --event-rate           BOUTWIRE_EVENT_RATE          event_rate = 50
 *   --event-burst          BOUTWIRE_EVENT_BURST         event_burst = 500
 *   --connections          BOUTWIRE_CONNECTIONS         connections = 16384
 *   --connections-per-address                           connections_per_address = 256
 *                          BOUTWIRE_CONNECTIONS_PER_ADDRESS
 *   --public-url           BOUTWIRE_PUBLIC_URL          public_url = https://hall.example/hall/
 *   --trusted-proxy        BOUTWIRE_TRUSTED_PROXY       trusted_proxy = 127.0.0.1
 *   --allow-origin         BOUTWIRE_ALLOW_ORIGIN        allow_origin = https://score.example
 *   --config               BOUTWIRE_CONFIG
 * A config file has a `name = value` a line; # begins a comment.
 * `listen`, `trusted_proxy` and `allow_origin` are lists: several options, several lines, or
 * several in one text with spaces or commas between. What one source says of a list takes the place
 * of all that a weaker one says of it. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include "net/front.h"
#include "net/listening.h"
#include "service/report.h"

/* 10,000 who follow, and as many again who come back before the old ones are missed. */
enum { CONNECTIONS_USUAL = 16384, CONNECTIONS_PER_ADDRESS_USUAL = 256, CONNECTIONS_MAX = 1000000 };
enum { EVENTS_MAX = 1000000 };
enum { DRAIN_SECONDS_USUAL = 5, DRAIN_SECONDS_MAX = 600 };
enum { SETTING_SIZE = 512, SETTINGS_GIVEN_MAX = 128 };

enum setting {
    SETTING_LISTEN,
    SETTING_LINES,
    SETTING_LINES_MODE,
    SETTING_CERTIFICATE,
    SETTING_PRIVATE_KEY,
    SETTING_STORE,
    SETTING_ARCHIVE,
    SETTING_PAGES,
    SETTING_WRITE_FILES,
    SETTING_LOG_LEVEL,
    SETTING_LOG_FORMAT,
    SETTING_PUBLIC_MINORS,
    SETTING_PRIVATE,
    SETTING_PLAIN_TEXT_NETWORK,
    SETTING_DRAIN_SECONDS,
    SETTING_LANGUAGE,
    SETTING_EVENT_RATE,
    SETTING_EVENT_BURST,
    SETTING_CONNECTIONS,
    SETTING_CONNECTIONS_PER_ADDRESS,
    SETTING_PUBLIC_URL,
    SETTING_TRUSTED_PROXY,
    SETTING_ALLOW_ORIGIN,
    SETTING_COUNT
};

struct settings {
    struct listening listen[LISTENINGS_MAX];
    size_t listen_count;
    struct talking lines[LISTENINGS_MAX]; /* where events come as lines */
    size_t lines_count;
    unsigned lines_mode; /* of sockets in the file system: 0600 */
    char certificate[SETTING_SIZE], private_key[SETTING_SIZE]; /* PEM; "": none */
    struct front front; /* what stands before it: public_url, trusted_proxy, allow_origin */
    char store[SETTING_SIZE], pages[SETTING_SIZE];
    char language[SETTING_SIZE];    /* of cards and sentences: "en" */
    char write_files[SETTING_SIZE]; /* a folder for values as files; "": none are written */
    char archive[SETTING_SIZE];     /* "": beside the store, see settings_archive */
    enum report_level report_level;
    enum report_form report_form;
    bool public_minors;               /* a day with minors is public: initials, team and side */
    bool is_private;                  /* what is public elsewhere needs a key too */
    bool plain_text_network;          /* others may reach it without TLS: said by name */
    unsigned event_rate, event_burst; /* of each source: a second, 0: no limit; at once */
    unsigned connections, connections_per_address; /* that there may be at most */
    unsigned drain_seconds; /* over which those who listen are let go at the end */
};

struct settings_given { /* what the options said, in their order */
    struct {
        enum setting setting;
        const char *text;
    } items[SETTINGS_GIVEN_MAX];
    size_t count;
    bool too_many;
    const char *config; /* NULL: not given */
};

/* Notes one option; the text is borrowed until settings_read. */
void settings_give(struct settings_given *given, enum setting setting, const char *text);
bool settings_has(const struct settings_given *given, enum setting setting);

/* False: said on standard error, with the place. `command` is named there. */
bool settings_read(struct settings *settings, const struct settings_given *given,
                   const char *command);
/* The same while a daemon runs; what is wrong is one sentence. One reading at a time. */
enum { SETTINGS_REASON_SIZE = 1024 };
bool settings_read_again(struct settings *settings, const struct settings_given *given,
                         const char *command, char reason[SETTINGS_REASON_SIZE]);
const char *setting_name(enum setting setting); /* as in a config file: "log_level" */
bool settings_same(const struct settings *one, const struct settings *other, enum setting setting);
/* Takes that setting over from the other, if it may change while the daemon runs; else false. */
bool settings_take_live(struct settings *settings, const struct settings *other,
                        enum setting setting);
/* Where the archive is: the one that was set, or beside the store. */
enum { ARCHIVE_PATH_SIZE = SETTING_SIZE + 16 };
void settings_archive(const struct settings *settings, char path[ARCHIVE_PATH_SIZE]);
/* A path beside the program: build/boutwire's "../overlay". False: it has no such room. */
bool settings_beside(char path[SETTING_SIZE], const char *relative);
