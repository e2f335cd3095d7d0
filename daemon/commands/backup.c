/* boutwire backup: a copy of a store while it runs. */
#include <getopt.h>
#include <stdio.h>
#include "commands/command.h"
#include "commands/settings.h"
#include "journal/store.h"

static const char help[] =
    "usage: boutwire backup [--store FILE] TO\n"
    "Copies the store to the new file TO, whether a daemon holds it or not: every event that was\n"
    "acknowledged before is in it. The copy is looked through, and on the disk, before it has its\n"
    "name; `boutwire serve --store TO` goes on from it. Nothing is replaced: TO must not be "
    "there.\n"
    "  --store FILE   the store (boutwire.sqlite)                    BOUTWIRE_STORE\n"
    "Exit codes: 0 it is there, 1 the store is damaged, 2 wrong use, or a file that can't be "
    "used,\n"
    "3 no memory.\n";

static int run(const char *store, const char *to)
{
    char reason[STORE_REASON_SIZE] = "";
    uint64_t count = 0;
    int status = store_backup(store, to, &count, reason, sizeof reason);
    if (status == 0) {
        printf("%s: a copy of %s, %llu events\n", to, store, (unsigned long long)count);
        return EXIT_FINE;
    }
    fprintf(stderr, "boutwire backup: %s\n", reason);
    return status == UV_ENOMEM   ? EXIT_NO_MEMORY
           : status == UV_EILSEQ ? EXIT_REFUSED
                                 : EXIT_UNUSABLE;
}

int command_backup(int argc, char **argv)
{
    static const struct option options[] = {
        {"store", required_argument, NULL, 's'},
        {"help", no_argument, NULL, 'h'},
        {NULL, 0, NULL, 0},
    };
    struct settings settings;
    struct settings_given given = {.config = NULL};
    for (int option; (option = getopt_long(argc, argv, "h", options, NULL)) != -1;) {
        if (option == 'h')
            return fputs(help, stdout), command_finish(EXIT_FINE);
        if (option != 's')
            return EXIT_UNUSABLE;
        settings_give(&given, SETTING_STORE, optarg);
    }
    if (optind + 1 != argc)
        return command_misused("backup", "one TO is wanted, the file to make");
    if (!settings_read(&settings, &given, "backup"))
        return EXIT_UNUSABLE;
    return command_finish(run(settings.store, argv[optind]));
}
