/* boutwire serve: the daemon; boutwire demo: the daemon with the invented day playing. */
#include <getopt.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "access/keys_file.h"
#include "commands/command.h"
#include "commands/edition_files.h"
#include "commands/settings.h"
#include "service/outputs.h"
#include "service/service.h"
#include "service/talks.h"
#include "wire/language_json.h"

static const char serve_help[] =
    "usage: boutwire serve [options]\n"
    "Takes events over HTTP and WebSocket, keeps the log, serves pages and feeds until stopped.\n"
    "  --listen HOST:PORT   where (127.0.0.1:7600; port 0: any);     BOUTWIRE_LISTEN\n"
    "                       tls:HOST:PORT with TLS. May be repeated\n"
    "  --lines WHERE        events as lines: tcp:HOST:PORT or        BOUTWIRE_LINES\n"
    "                       unix:PATH. May be repeated\n"
    "  --lines-mode MODE    of unix: sockets (0600)                  BOUTWIRE_LINES_MODE\n"
    "  --certificate FILE   for TLS: PEM, and the chain after it     BOUTWIRE_CERTIFICATE\n"
    "  --private-key FILE   for TLS: PEM, its private key            BOUTWIRE_PRIVATE_KEY\n"
    "  --store FILE         the log (boutwire.sqlite)                BOUTWIRE_STORE\n"
    "  --archive FILE       what all bouts say (STORE.archive)       BOUTWIRE_ARCHIVE\n"
    "  --pages FOLDER       the pages (../overlay of the program)    BOUTWIRE_PAGES\n"
    "  --write-files FOLDER every output's values as small files     BOUTWIRE_WRITE_FILES\n"
    "  --log-level LEVEL    error, warning, info (usual), debug      BOUTWIRE_LOG_LEVEL\n"
    "  --log-format FORMAT  logfmt (usual), json (an object a line)  BOUTWIRE_LOG_FORMAT\n"
    "  --public-minors      a day on which minors wrestle is public: BOUTWIRE_PUBLIC_MINORS=yes\n"
    "                       initials, team and side; else it isn't\n"
    "  --private            what is public needs a key, too          BOUTWIRE_PRIVATE=yes\n"
    "  --plain-text-network others reach it without TLS      BOUTWIRE_PLAIN_TEXT_NETWORK=yes\n"
    "  --language LANGUAGE  of cards and sentences (en); there is de, too BOUTWIRE_LANGUAGE\n"
    "  --drain-seconds N    at the end, those who listen are let  BOUTWIRE_DRAIN_SECONDS\n"
    "                       go over so long at most (5)\n"
    "  --event-rate N       events a second from one source (50;     BOUTWIRE_EVENT_RATE\n"
    "                       0: any number)\n"
    "  --event-burst N      at once before that (500)                BOUTWIRE_EVENT_BURST\n"
    "  --connections N      at most so many in all (16384)           BOUTWIRE_CONNECTIONS\n"
    "  --connections-per-address N  of one address (256)  BOUTWIRE_CONNECTIONS_PER_ADDRESS\n"
    "  --public-url URL     how others find it, behind a proxy or tunnel, BOUTWIRE_PUBLIC_URL\n"
    "                       with a path perhaps: https://hall.example/hall/\n"
    "  --trusted-proxy ADDRESS[/BITS]  whose word on where a request  BOUTWIRE_TRUSTED_PROXY\n"
    "                       came from counts. May be repeated\n"
    "  --allow-origin ORIGIN  pages of another site that may act  BOUTWIRE_ALLOW_ORIGIN\n"
    "                       here: https://score.example. May be repeated\n"
    "  --config FILE        lines of `name = value`, named as in the BOUTWIRE_CONFIG\n"
    "                       environment: log_level = info; # begins a comment\n"
    "  --rules FILE         know one more edition (may be repeated)\n"
    "Keys are made with `boutwire key add`. Without any, everything is open on this machine, and\n"
    "no other address is listened on.\n"
    "An option is stronger than the environment, the environment than the config file.\n"
    "Exit codes: 0 stopped in order, 1 an edition is not valid, 2 wrong use, or the store or port\n"
    "can't be used, 3 no memory.\n"
    "The officials' sheet decides, not this feed; it is no basis for wagers.\n";

static const char demo_help[] = "usage: boutwire demo [--speed N] [--log FILE] [options of serve]\n"
                                "Serves a day that is played from a log (the invented demo day), "
                                "in a store of its own that is\n"
                                "removed at the end, unless --store names one. Its minors are "
                                "public, as by --public-minors.\n"
                                "  --speed N            so many times as fast (1)\n"
                                "  --log FILE           another log than fixtures/demo/day.ndjson\n"
                                "Exit codes: as those of serve.\n";

struct serving {
    struct settings settings;
    const struct settings_given *given;
    const char *rules[32];
    size_t rules_count;
    bool demo;
    const char *speed, *demo_log;
    char demo_folder[SETTING_SIZE]; /* "" when the store is the caller's */
    uv_process_t player;
    bool plays;
    char player_key[KEY_TEXT_LENGTH + 1]; /* in case that the store has keys */
};

static void print_base(const struct serving *serving, size_t i, int port)
{
    const struct listening *listening = &serving->settings.listen[i];
    char written[LISTENING_TEXT_SIZE];
    listening_write(written, listening->host, port);
    printf("%s://%s/", listening->tls ? "https" : "http", written);
}

static void print_lines(const struct talking *talking, int port)
{
    char written[LISTENING_TEXT_SIZE];
    if (talking->is_unix)
        snprintf(written, sizeof written, "%s", talking->path);
    else
        listening_write(written, talking->tcp.host, port);
    printf("%s:%s events as lines\n", talking->is_unix ? "unix" : "tcp", written);
}

/* All pages of the first; of the others, where they are. */
static void print_addresses(const struct serving *serving, const struct service *service)
{
    static const char *const pages[][2] = {
        {"", "all pages"},
        {"screen/", "the graphic on air"},
        {"booth/?mat=A", "the commentator's cards"},
        {"table/?mat=A", "keying"},
        {"gallery/", "producing"},
        {"follow/?mat=A", "the bout as text"},
        {"text/A", "the same for a terminal (curl -N)"},
    };
    const struct public_url *public_url = &serving->settings.front.public_url;
    char others[ORIGIN_HOST_SIZE + PUBLIC_PATH_SIZE + 32];
    for (size_t i = 0; i < sizeof pages / sizeof *pages; i++) {
        print_base(serving, 0, service_port(service, 0));
        printf("%-14s %s\n", pages[i][0], pages[i][1]);
    }
    for (size_t i = 1; i < serving->settings.listen_count; i++) {
        print_base(serving, i, service_port(service, i));
        printf("%-14s %s\n", "", "the same");
    }
    if (public_url->origin.host[0] != '\0') {
        public_url_write(public_url, others, sizeof others);
        printf("%s %s\n", others, "the same, for others");
    }
    for (size_t i = 0; i < serving->settings.lines_count; i++)
        print_lines(&serving->settings.lines[i], talks_port(service, i));
    fflush(stdout);
}

/* ---- the demo's player: a rehearsal in a process of its own ---- */

static void player_closed(uv_handle_t *handle)
{
    struct serving *serving = handle->data;
    serving->plays = false;
}

static void player_ended(uv_process_t *player, int64_t status, int signal)
{
    if (status != 0 && signal == 0)
        fprintf(stderr, "boutwire demo: the player ended with exit code %d\n", (int)status);
    uv_close((uv_handle_t *)player, player_closed);
}

/* The player speaks no TLS. */
static bool player_address(const struct serving *serving, const struct service *service,
                           char to[LISTENING_TEXT_SIZE])
{
    for (size_t i = 0; i < serving->settings.listen_count; i++)
        if (!serving->settings.listen[i].tls) {
            listening_write(to, serving->settings.listen[i].host, service_port(service, i));
            return true;
        }
    return false;
}

static int player_start(struct serving *serving, struct service *service)
{
    char program[SETTING_SIZE], to[LISTENING_TEXT_SIZE], demo_log[SETTING_SIZE];
    size_t size = sizeof program;
    if (!player_address(serving, service, to))
        return command_misused("demo", "its player needs one --listen without TLS");
    if (serving->demo_log == NULL && !settings_beside(demo_log, "../fixtures/demo/day.ndjson"))
        return command_misused("demo", "the demo day isn't beside the program: use --log");
    /* uv_spawn takes its arguments as writable, and leaves them alone. */
    const char *arguments[] = {
        program,        "rehearse", serving->demo_log != NULL ? serving->demo_log : demo_log,
        "--to",         to,         "--speed",
        serving->speed, "--quiet",  NULL};
    uv_stdio_container_t streams[] = {{.flags = UV_IGNORE},
                                      {.flags = UV_INHERIT_FD, .data.fd = 1},
                                      {.flags = UV_INHERIT_FD, .data.fd = 2}};
    uv_process_options_t options = {.exit_cb = player_ended,
                                    .file = program,
                                    .args = (char **)(uintptr_t)arguments,
                                    .stdio_count = 3,
                                    .stdio = streams};
    if (uv_exepath(program, &size) != 0 || setenv("BOUTWIRE_KEY", serving->player_key, 1) != 0)
        return EXIT_UNUSABLE;
    int status = uv_spawn(&service->loop, &serving->player, &options);
    serving->player.data = serving;
    serving->plays = status == 0;
    if (status == 0)
        return EXIT_FINE;
    uv_close((uv_handle_t *)&serving->player, NULL);
    fprintf(stderr, "boutwire demo: %s\n", uv_strerror(status));
    return EXIT_UNUSABLE;
}

/* Who looks at the demo shall see what a producer would have armed. */
static void is_armed(void *who, const struct outputs_answer *answer)
{
    (void)who;
    if (answer->done == NULL)
        fprintf(stderr, "boutwire demo: a rule isn't armed: %s\n", answer->problem.title);
}

static void arm_rules(struct service *service)
{
    static const char *const actions[] = {
        "{\"arm\":{\"rule\":\"names_at_call\",\"on\":true}}",
        "{\"arm\":{\"rule\":\"attacks_in_break\",\"on\":true}}",
        "{\"arm\":{\"rule\":\"result_when_sure\",\"on\":true}}",
    };
    const struct outputs_source demo = {.by = "demo", .answer = is_armed};
    for (size_t i = 0; i < sizeof actions / sizeof *actions; i++)
        outputs_take(service, &demo, "main", actions[i], strlen(actions[i]));
}

static int on_listening(void *context, struct service *service)
{
    struct serving *serving = context;
    print_addresses(serving, service);
    if (!serving->demo)
        return EXIT_FINE;
    arm_rules(service);
    return player_start(serving, service);
}

/* ---- SIGHUP: the settings are read again ---- */

static void apply(const struct serving *serving, struct service *service)
{
    const struct settings *settings = &serving->settings;
    service->report.level = settings->report_level;
    service->report.form = settings->report_form;
    service->options.public_minors = settings->public_minors || serving->demo;
    service->options.drain_seconds = settings->drain_seconds;
    service->rates.rate = (struct rate){settings->event_rate, settings->event_burst};
    service_publish(service);
}

/* All or nothing: with one mistake in the file, nothing changes. */
static void on_reload(void *context, struct service *service)
{
    struct serving *serving = context;
    struct settings now;
    char reason[SETTINGS_REASON_SIZE];
    size_t changed = 0;
    if (!settings_read_again(&now, serving->given, serving->demo ? "demo" : "serve", reason)) {
        report(&service->report, REPORT_ERROR, "the settings can't be read, nothing is changed",
               "reason=\"%s\"", reason);
        return;
    }
    if (serving->demo_folder[0] != '\0') /* the demo's own store isn't in the settings */
        memcpy(now.store, serving->settings.store, sizeof now.store);
    for (unsigned i = 0; i < SETTING_COUNT; i++) {
        if (settings_same(&serving->settings, &now, (enum setting)i))
            continue;
        bool live = settings_take_live(&serving->settings, &now, (enum setting)i);
        changed += live ? 1 : 0;
        report(&service->report, live ? REPORT_INFO : REPORT_WARNING,
               live ? "a setting has changed" : "a setting is changed by a restart only",
               "setting=%s", setting_name((enum setting)i));
    }
    apply(serving, service);
    report(&service->report, REPORT_INFO, "the settings are read again", "changed=%zu", changed);
}

static void on_stopping(void *context)
{
    struct serving *serving = context;
    if (serving->plays && !uv_is_closing((uv_handle_t *)&serving->player))
        uv_process_kill(&serving->player, SIGTERM);
}

/* ---- the demo's store: a new folder each time ---- */

static bool demo_store_make(struct serving *serving)
{
    char folder[] = "/tmp/boutwire-demo-XXXXXX";
    if (mkdtemp(folder) == NULL) {
        perror("boutwire demo: /tmp");
        return false;
    }
    snprintf(serving->demo_folder, sizeof serving->demo_folder, "%s", folder);
    snprintf(serving->settings.store, sizeof serving->settings.store, "%s/day.sqlite", folder);
    return true;
}

static void demo_store_remove(const struct serving *serving)
{
    static const char *const files[] = {
        "day.sqlite",         "day.sqlite-wal",         "day.sqlite-shm",        "day.sqlite.keys",
        "day.sqlite.archive", "day.sqlite.archive-wal", "day.sqlite.archive-shm"};
    char path[SETTING_SIZE + 32];
    if (serving->demo_folder[0] == '\0')
        return;
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        snprintf(path, sizeof path, "%s/%s", serving->demo_folder, files[i]);
        unlink(path);
    }
    rmdir(serving->demo_folder);
}

static int language_take(struct language *language, struct edition_files *files, const char *name)
{
    char reason[LANGUAGE_REASON_SIZE];
    if (language_shipped(language, &files->arena, name, reason))
        return EXIT_FINE;
    if (reason[0] == '\0')
        return command_no_memory();
    fprintf(stderr, "boutwire: --language: %s\n", reason);
    return EXIT_UNUSABLE;
}

static const char *path_or_none(const char *path)
{
    return path[0] != '\0' ? path : NULL;
}

static int run(struct serving *serving)
{
    struct edition_files files;
    int code = edition_files_read(&files, serving->rules, serving->rules_count);
    if (code != EXIT_FINE)
        return code;
    struct language language;
    code = language_take(&language, &files, serving->settings.language);
    if (code != EXIT_FINE) {
        edition_files_close(&files);
        return code;
    }
    char archive[ARCHIVE_PATH_SIZE];
    settings_archive(&serving->settings, archive);
    const struct service_options options = {
        .language = &language,
        .archive = archive,
        .listen = serving->settings.listen,
        .listen_count = serving->settings.listen_count,
        .lines = serving->settings.lines,
        .lines_count = serving->settings.lines_count,
        .lines_mode = serving->settings.lines_mode,
        .certificate_file = path_or_none(serving->settings.certificate),
        .private_key_file = path_or_none(serving->settings.private_key),
        .front = &serving->settings.front,
        .store = serving->settings.store,
        .pages_folder = serving->settings.pages,
        .report_level = serving->settings.report_level,
        .report_form = serving->settings.report_form,
        .editions = &files.editions,
        .public_minors = serving->settings.public_minors || serving->demo,
        .is_private = serving->settings.is_private,
        .write_files = path_or_none(serving->settings.write_files),
        .plain_text_network = serving->settings.plain_text_network,
        .events_rate = {serving->settings.event_rate, serving->settings.event_burst},
        .connections = serving->settings.connections,
        .connections_per_address = serving->settings.connections_per_address,
        .drain_seconds = serving->settings.drain_seconds,
        .player_key = serving->demo ? serving->player_key : NULL,
        .listening = on_listening,
        .stopping = on_stopping,
        .reload = on_reload,
        .context = serving,
    };
    code = service_run(&options);
    edition_files_close(&files);
    demo_store_remove(serving);
    return code;
}

static bool is_speed(const char *text)
{
    char *end = NULL;
    double speed = strtod(text, &end);
    return end != text && *end == '\0' && speed >= 0.1 && speed <= 60;
}

enum { OPTION_SETTING = 256, OPTION_SWITCH = 512 }; /* these and a setting */

static bool take_option(struct serving *serving, struct settings_given *given, int option)
{
    if (option >= OPTION_SWITCH)
        settings_give(given, (enum setting)(option - OPTION_SWITCH), "yes");
    else if (option >= OPTION_SETTING)
        settings_give(given, (enum setting)(option - OPTION_SETTING), optarg);
    else if (option == 'c')
        given->config = optarg;
    else if (option == 'r' && serving->rules_count < sizeof serving->rules / sizeof *serving->rules)
        serving->rules[serving->rules_count++] = optarg;
    else if (option == 'x' && serving->demo)
        serving->speed = optarg;
    else if (option == 'g' && serving->demo)
        serving->demo_log = optarg;
    else
        return false;
    return true;
}

static int serve(int argc, char **argv, bool demo)
{
    static const struct option options[] = {
        {"listen", required_argument, NULL, OPTION_SETTING + SETTING_LISTEN},
        {"lines", required_argument, NULL, OPTION_SETTING + SETTING_LINES},
        {"lines-mode", required_argument, NULL, OPTION_SETTING + SETTING_LINES_MODE},
        {"certificate", required_argument, NULL, OPTION_SETTING + SETTING_CERTIFICATE},
        {"private-key", required_argument, NULL, OPTION_SETTING + SETTING_PRIVATE_KEY},
        {"store", required_argument, NULL, OPTION_SETTING + SETTING_STORE},
        {"archive", required_argument, NULL, OPTION_SETTING + SETTING_ARCHIVE},
        {"pages", required_argument, NULL, OPTION_SETTING + SETTING_PAGES},
        {"write-files", required_argument, NULL, OPTION_SETTING + SETTING_WRITE_FILES},
        {"log-level", required_argument, NULL, OPTION_SETTING + SETTING_LOG_LEVEL},
        {"log-format", required_argument, NULL, OPTION_SETTING + SETTING_LOG_FORMAT},
        {"public-minors", no_argument, NULL, OPTION_SWITCH + SETTING_PUBLIC_MINORS},
        {"private", no_argument, NULL, OPTION_SWITCH + SETTING_PRIVATE},
        {"plain-text-network", no_argument, NULL, OPTION_SWITCH + SETTING_PLAIN_TEXT_NETWORK},
        {"language", required_argument, NULL, OPTION_SETTING + SETTING_LANGUAGE},
        {"drain-seconds", required_argument, NULL, OPTION_SETTING + SETTING_DRAIN_SECONDS},
        {"event-rate", required_argument, NULL, OPTION_SETTING + SETTING_EVENT_RATE},
        {"event-burst", required_argument, NULL, OPTION_SETTING + SETTING_EVENT_BURST},
        {"connections", required_argument, NULL, OPTION_SETTING + SETTING_CONNECTIONS},
        {"connections-per-address", required_argument, NULL,
         OPTION_SETTING + SETTING_CONNECTIONS_PER_ADDRESS},
        {"public-url", required_argument, NULL, OPTION_SETTING + SETTING_PUBLIC_URL},
        {"trusted-proxy", required_argument, NULL, OPTION_SETTING + SETTING_TRUSTED_PROXY},
        {"allow-origin", required_argument, NULL, OPTION_SETTING + SETTING_ALLOW_ORIGIN},
        {"config", required_argument, NULL, 'c'},
        {"rules", required_argument, NULL, 'r'},
        {"speed", required_argument, NULL, 'x'},
        {"log", required_argument, NULL, 'g'},
        {"help", no_argument, NULL, 'h'},
        {NULL, 0, NULL, 0},
    };
    const char *name = demo ? "demo" : "serve";
    struct settings_given given = {.config = NULL};
    struct serving serving = {.given = &given, .demo = demo, .speed = "1"};
    for (int option; (option = getopt_long(argc, argv, "h", options, NULL)) != -1;) {
        if (option == 'h')
            return fputs(demo ? demo_help : serve_help, stdout), command_finish(EXIT_FINE);
        if (option == '?')
            return EXIT_UNUSABLE;
        if (!take_option(&serving, &given, option))
            return command_misused(name, "an option that doesn't go with it");
    }
    if (optind != argc)
        return command_misused(name, "%s isn't an option", argv[optind]);
    if (!is_speed(serving.speed))
        return command_misused(name, "--speed takes a number from 0.1 to 60");
    if (!settings_read(&serving.settings, &given, name))
        return EXIT_UNUSABLE;
    if (demo && !key_make(serving.player_key))
        return EXIT_UNUSABLE;
    if (demo && !settings_has(&given, SETTING_STORE) && !demo_store_make(&serving))
        return EXIT_UNUSABLE;
    return run(&serving);
}

int command_serve(int argc, char **argv)
{
    return serve(argc, argv, false);
}

int command_demo(int argc, char **argv)
{
    return serve(argc, argv, true);
}
