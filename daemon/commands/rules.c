/* boutwire rules: the editions, listed or printed. */
#include <getopt.h>
#include <stdio.h>
#include <string.h>
#include "commands/command.h"
#include "commands/edition_files.h"

static const char help[] =
    "usage: boutwire rules [--rules FILE]... [NAME]\n"
    "Lists the rule editions, one a line: name, from, until, styles, first source.\n"
    "With a NAME, prints that edition as the JSON file that it is (docs/rules.md).\n"
    "Exit codes: 0 fine, 1 no such edition, or one that is not valid, 2 wrong use.\n";

static const char *text_or(const struct value *value, const char *otherwise)
{
    return value != NULL && value->kind == VALUE_STRING ? value->as.string : otherwise;
}

static void print_line(const struct edition *edition)
{
    const struct value *source = value_member(edition->document, "source");
    printf("%-20s %-10s %-10s ", edition->name,
           text_or(value_member(edition->document, "from"), "-"),
           text_or(value_member(edition->document, "until"), "-"));
    for (size_t i = 0; i < edition->style_count; i++)
        printf("%s%s", i > 0 ? "," : "", edition->styles[i]);
    printf("  %s\n", text_or(&source->items[0], ""));
}

static int print_editions(const struct edition_files *files, const char *name)
{
    for (size_t i = 0; i < files->editions.count; i++) {
        const struct edition *edition = &files->editions.items[i];
        if (name == NULL)
            print_line(edition);
        else if (strcmp(edition->name, name) == 0)
            return fputs(files->texts[i], stdout), EXIT_FINE;
    }
    if (name == NULL)
        return EXIT_FINE;
    fprintf(stderr, "boutwire rules: no edition is named %s\n", name);
    return EXIT_REFUSED;
}

int command_rules(int argc, char **argv)
{
    static const struct option options[] = {
        {"rules", required_argument, NULL, 'r'},
        {"help", no_argument, NULL, 'h'},
        {NULL, 0, NULL, 0},
    };
    const char *rules[32];
    size_t rules_count = 0;
    struct edition_files files;
    for (int option; (option = getopt_long(argc, argv, "h", options, NULL)) != -1;) {
        if (option == 'h')
            return fputs(help, stdout), command_finish(EXIT_FINE);
        if (option != 'r' || rules_count == sizeof rules / sizeof *rules)
            return EXIT_UNUSABLE;
        rules[rules_count++] = optarg;
    }
    if (argc - optind > 1)
        return command_misused("rules", "one NAME at the most");
    int code = edition_files_read(&files, rules, rules_count);
    if (code != EXIT_FINE)
        return code;
    code = print_editions(&files, argv[optind]);
    edition_files_close(&files);
    return command_finish(code);
}
