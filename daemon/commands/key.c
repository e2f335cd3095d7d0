/* boutwire key: makes, lists and revokes the keys of a store. A daemon that runs on that store
 * takes every change up by itself. */
#include <getopt.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>
#include "access/access.h"
#include "access/keys_file.h"
#include "commands/command.h"
#include "commands/settings.h"
#include "rules/time_of_day.h"

static const char help[] =
    "usage: boutwire key add ROLE [--name NAME] [--mat MAT] [--until TIME | --keep] [--url URL]\n"
    "       boutwire key list\n"
    "       boutwire key revoke NAME\n"
    "Who may do what on a store, one key a person. ROLE is table (keys bouts), gallery (produces,\n"
    "sees who is connected), booth (reads for the commentator), or follow (reads what is public,\n"
    "where that needs a key: serve --private). A key is printed once, when it is made; the store\n"
    "keeps a hash of it, in FILE.keys. A daemon that runs takes every change up at once.\n"
    "  --name NAME      whose it is: 1 to 40 of A-Z a-z 0-9 . _ ~ -; events are signed with it\n"
    "  --mat MAT        for this mat alone (table and booth)\n"
    "  --until TIME     it ends then, like 2027-05-08T20:00:00.000Z; else in 24 hours\n"
    "  --keep           it doesn't end by itself\n"
    "  --url URL        how the daemon is reached, for the addresses that are printed; else as\n"
    "                   public_url or listen says, in --config or the environment\n"
    "  --store FILE     the log that the keys are for (boutwire.sqlite)\n"
    "  --listen HOST:PORT, --config FILE   as the daemon has them\n"
    "Exit codes: 0 done, 1 it can't be (there is no such key, or the name is taken), 2 wrong use, "
    "or\n"
    "a file that can't be used, 3 no memory.\n";

struct keying {
    struct settings settings;
    char path[KEYS_PATH_SIZE];
    const char *url;
    struct key_wish wish;
    bool limited; /* --until or --keep was given */
};

static int64_t now_ms(void)
{
    struct timespec now = {0, 0};
    clock_gettime(CLOCK_REALTIME, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

static int failed(const char *reason)
{
    fprintf(stderr, "boutwire key: %s\n", reason);
    return EXIT_REFUSED;
}

/* ---- add ---- */

/* Keys are made for others: the first that they reach, if there is one. */
static const struct listening *listening_of_others(const struct settings *settings)
{
    for (size_t i = 0; i < settings->listen_count; i++)
        if (!host_is_this_machine(settings->listen[i].host))
            return &settings->listen[i];
    return &settings->listen[0];
}

/* A name that others can use: a daemon that listens everywhere is reached by its machine's. */
static void print_base(const struct keying *keying)
{
    char machine[256] = "";
    const struct listening *listening = listening_of_others(&keying->settings);
    const char *host = listening->host;
    if (keying->url != NULL) {
        printf("%s%s", keying->url, keying->url[strlen(keying->url) - 1] == '/' ? "" : "/");
        return;
    }
    const struct public_url *public_url = &keying->settings.front.public_url;
    if (public_url->origin.host[0] != '\0') {
        char others[ORIGIN_HOST_SIZE + PUBLIC_PATH_SIZE + 32];
        public_url_write(public_url, others, sizeof others);
        printf("%s", others);
        return;
    }
    if ((strcmp(host, "0.0.0.0") == 0 || strcmp(host, "::") == 0) &&
        gethostname(machine, sizeof machine - 1) == 0)
        host = machine;
    char written[LISTENING_TEXT_SIZE];
    listening_write(written, host, listening->port);
    printf("%s://%s/", listening->tls ? "https" : "http", written);
}

/* As in an address: everything but letters, digits and - . _ ~ (RFC 3986 2.3). */
static void print_encoded(const char *text)
{
    static const char plain[] =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._~";
    for (; *text != '\0'; text++)
        if (strchr(plain, *text) != NULL)
            putchar(*text);
        else
            printf("%%%02X", (unsigned char)*text);
}

static void print_page(const struct keying *keying, const char *page, const char *key)
{
    print_base(keying);
    printf("%s/", page);
    if (keying->wish.mat != NULL) {
        printf("?mat=");
        print_encoded(keying->wish.mat);
    }
    printf("#key=%s\n", key);
}

static void print_pages(const struct keying *keying, const char *key)
{
    switch (keying->wish.role) {
    case ROLE_TABLE:
        print_page(keying, "table", key);
        print_page(keying, "booth", key); /* for who keys and calls alone */
        break;
    case ROLE_BOOTH:
        print_page(keying, "booth", key);
        break;
    case ROLE_GALLERY:
        print_page(keying, "gallery", key);
        break;
    case ROLE_FOLLOW:
        print_page(keying, "follow", key);
        print_page(keying, "screen", key);
        break;
    case ROLE_PUBLIC:
    case ROLE_ANYONE:
    case ROLE_COUNT:
        break;
    }
}

static int add(struct keying *keying)
{
    struct new_key made;
    char reason[KEYS_REASON_SIZE], until[TIME_OF_DAY_SIZE];
    struct key_wish *wish = &keying->wish;
    wish->now_ms = now_ms();
    if (!keying->limited)
        wish->until_ms = wish->now_ms + KEY_DAY_MS;
    if (wish->until_ms <= wish->now_ms)
        return command_misused("key", "--until: that time has gone by");
    if (!keys_file_add(keying->path, wish, &made, reason))
        return failed(reason);
    printf("%s\n", made.text);
    print_pages(keying, made.text);
    if (wish->until_ms == INT64_MAX) {
        fprintf(stderr, "the key of %s opens until it is revoked; it is shown this once\n",
                made.name);
    } else {
        time_of_day_write(wish->until_ms, until);
        fprintf(stderr, "the key of %s opens until %s; it is shown this once\n", made.name, until);
    }
    return command_finish(EXIT_FINE);
}

/* ---- list ---- */

static const char *state_of_key(const struct key *key, int64_t at_ms)
{
    if (key->ended_ms != INT64_MAX)
        return "revoked";
    return key_opens(key, at_ms) ? "opens" : "over";
}

static int list(const struct keying *keying)
{
    struct key_ring ring;
    char reason[KEYS_REASON_SIZE], made[TIME_OF_DAY_SIZE], until[TIME_OF_DAY_SIZE];
    int64_t at_ms = now_ms();
    if (!keys_file_read(&ring, keying->path, reason)) {
        key_ring_close(&ring);
        fprintf(stderr, "boutwire key: %s\n", reason);
        return EXIT_UNUSABLE;
    }
    for (size_t i = 0; i < ring.count; i++) {
        const struct key *key = &ring.keys[i];
        time_of_day_write(key->made_ms, made);
        if (key->until_ms != INT64_MAX)
            time_of_day_write(key->until_ms, until);
        printf("%s\t%s\t%s\t%s\t%s\t%s\n", key->name, role_name(key->role),
               key->mat != NULL ? key->mat : "-", made, key->until_ms != INT64_MAX ? until : "-",
               state_of_key(key, at_ms));
    }
    key_ring_close(&ring);
    return command_finish(EXIT_FINE);
}

/* ---- options ---- */

enum { OPTION_KEEP = 'k', OPTION_UNTIL = 'u' };

static int run(struct keying *keying, int count, char **words)
{
    char reason[KEYS_REASON_SIZE];
    if (count == 2 && strcmp(words[0], "add") == 0) {
        if (!role_read(words[1], &keying->wish.role))
            return command_misused("key", "%s is none of table, gallery, booth, follow", words[1]);
        if (keying->wish.mat != NULL && !role_takes_mat(keying->wish.role))
            return command_misused("key", "a key of the role %s is for every mat", words[1]);
        return add(keying);
    }
    if (count == 1 && strcmp(words[0], "list") == 0)
        return list(keying);
    if (count == 2 && strcmp(words[0], "revoke") == 0)
        return keys_file_end(keying->path, words[1], now_ms(), reason) ? EXIT_FINE : failed(reason);
    return command_misused("key", "add ROLE, list, or revoke NAME is wanted");
}

static bool good_name(const char *name)
{
    return name == NULL || key_name_is_good(name);
}

int command_key(int argc, char **argv)
{
    static const struct option options[] = {
        {"name", required_argument, NULL, 'n'},
        {"mat", required_argument, NULL, 'm'},
        {"until", required_argument, NULL, OPTION_UNTIL},
        {"keep", no_argument, NULL, OPTION_KEEP},
        {"url", required_argument, NULL, 'a'},
        {"store", required_argument, NULL, 's'},
        {"listen", required_argument, NULL, 'l'},
        {"config", required_argument, NULL, 'c'},
        {"help", no_argument, NULL, 'h'},
        {NULL, 0, NULL, 0},
    };
    struct keying keying = {.wish = {.until_ms = INT64_MAX}};
    struct settings_given given = {.config = NULL};
    for (int option; (option = getopt_long(argc, argv, "h", options, NULL)) != -1;) {
        if (option == 'h')
            return fputs(help, stdout), command_finish(EXIT_FINE);
        if (option == '?')
            return EXIT_UNUSABLE;
        if (option == OPTION_UNTIL && !command_read_time("key", optarg, &keying.wish.until_ms))
            return EXIT_UNUSABLE;
        if ((option == OPTION_UNTIL || option == OPTION_KEEP) && keying.limited)
            return command_misused("key", "either --until or --keep, once");
        keying.limited = keying.limited || option == OPTION_UNTIL || option == OPTION_KEEP;
        if (option == 's' || option == 'l')
            settings_give(&given, option == 's' ? SETTING_STORE : SETTING_LISTEN, optarg);
        const char **place = option == 'n'   ? &keying.wish.name
                             : option == 'm' ? &keying.wish.mat
                             : option == 'a' ? &keying.url
                             : option == 'c' ? &given.config
                                             : NULL;
        if (place != NULL && (*place = optarg)[0] == '\0')
            return command_misused("key", "an option with nothing in it");
    }
    if (!good_name(keying.wish.name))
        return command_misused("key", "--name: 1 to 40 of A-Z a-z 0-9 . _ ~ - are wanted");
    if (!settings_read(&keying.settings, &given, "key") ||
        !keys_file_path(keying.path, keying.settings.store))
        return EXIT_UNUSABLE;
    return run(&keying, argc - optind, argv + optind);
}
