/* boutwire: the program. Hands its arguments to one command. */
#include <stdio.h>
#include <string.h>
#include "commands/command.h"

static const char help[] =
    "usage: boutwire COMMAND [options]\n"
    "Live commentary and stat feed for wrestling: events keyed at the table in, score, leader on\n"
    "criteria, time left and attack counts out, to screens, booth and text.\n"
    "  serve      take events, keep the log, serve the pages and feeds\n"
    "  demo       serve the invented demo day, playing\n"
    "  rehearse   send a log to a running daemon in its own rhythm\n"
    "  fold       print the states that a log makes\n"
    "  tell       print the sentences and cards that a log makes\n"
    "  key        make, list and revoke the keys of who may key, read and produce\n"
    "  check      say whether a log, a store, a roster or an edition is valid, and where not\n"
    "  backup     copy a store while it runs\n"
    "  export     print the log that a store keeps\n"
    "  import     put a log into a store; key a day's athletes and slots from sheets\n"
    "  draw       make brackets of entries and seeds\n"
    "  archive    fill and ask what every bout ever logged says of its sides\n"
    "  rules      list or print the rule editions\n"
    "boutwire COMMAND --help tells more; --version the version.\n"
    "The officials' sheet decides, not this feed; it is no basis for wagers.\n";

static const struct {
    const char *name;
    int (*run)(int argc, char **argv);
} commands[] = {
    {"serve", command_serve},     {"demo", command_demo},     {"rehearse", command_rehearse},
    {"key", command_key},         {"fold", command_fold},     {"check", command_check},
    {"backup", command_backup},   {"export", command_export}, {"import", command_import},
    {"archive", command_archive}, {"rules", command_rules},   {"tell", command_tell},
    {"draw", command_draw},
};

int main(int argc, char **argv)
{
    const char *name = argc > 1 ? argv[1] : "";
    for (int i = 1; i < argc && strcmp(argv[i], "--") != 0; i++)
        if (strcmp(argv[i], "--version") == 0)
            return puts("boutwire " VERSION), command_finish(EXIT_FINE);
    if (strcmp(name, "--help") == 0 || strcmp(name, "-h") == 0)
        return fputs(help, stdout), command_finish(EXIT_FINE);
    for (size_t i = 0; i < sizeof commands / sizeof *commands; i++)
        if (strcmp(commands[i].name, name) == 0)
            return commands[i].run(argc - 1, argv + 1);
    fprintf(stderr, "boutwire: %s%s\nsee: boutwire --help\n",
            argc > 1 ? "no command is called " : "a command is wanted", name);
    return EXIT_UNUSABLE;
}
