/* boutwire draw: brackets from entries and seeds, as the slot events that key them.
 * The normal course: learn the entries, from a sheet, a log or a running daemon; part them by
 * weight; draw each by its edition; lay all bouts in one running order, round by round from the
 * finals backwards, with mats and numbers; then show, print or send them. */
#include <getopt.h>
#include <openssl/evp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "commands/command.h"
#include "commands/day_known.h"
#include "commands/edition_files.h"
#include "commands/import_sheets.h"
#include "commands/sheet_file.h"
#include "draw/bracket.h"
#include "wire/json.h"

static const char help[] =
    "usage: boutwire draw --edition NAME... [options] ENTRIES\n"
    "       boutwire draw --edition NAME... [options] --to HOST:PORT\n"
    "Draws every weight of the entries: everyone against everyone, two pools, or elimination with\n"
    "repechage, as the edition of its style says (docs/draw.md). ENTRIES is a sheet of athletes "
    "(.csv)\n"
    "or a log (NDJSON); with --to alone, the daemon's day. Who is out isn't drawn. The slot events "
    "are\n"
    "printed (NDJSON), or sent as one batch.\n"
    "  --edition NAME   the edition of one or more styles (may be repeated)\n"
    "  --rules FILE     know one more edition (may be repeated)\n"
    "  --to HOST:PORT   send to this daemon; with a key, where it asks for one: BOUTWIRE_KEY\n"
    "  --style S, --age-group G, --weight W   those alone\n"
    "  --lot TEXT       draw the lots by this text: the same text, the same draw. Without it, and\n"
    "                   without a column `lot`, entries stand as they were entered\n"
    "  --mats A,B       deal the bouts out to these mats in turn\n"
    "  --number-from N  number the bouts from N on\n"
    "  --preview        show the draw, and send nothing\n"
    "The officials draw; this prepares what they announce.\n"
    "Exit codes: 0 done, 1 something is not valid or was refused, 2 wrong use, an unreadable file "
    "or\n"
    "no connection, 3 no memory.\n";

enum { EDITIONS_MAX = 16, WEIGHTS_MAX = 256, MATS_MAX = 32 };

struct entered {
    const char *athlete;
    int64_t seed, lot; /* lot 0: none */
    unsigned char ticket[EVP_MAX_MD_SIZE];
};

struct weight {
    const char *style, *age_group, *weight;
    const struct edition *edition;
    struct entered *entries;
    size_t count;
    const char *prefix;
    struct bracket bracket;
};

struct placed { /* one bout in the running order of the day */
    const struct weight *weight;
    const struct drawn_slot *slot;
    const char *mat; /* NULL: none */
    size_t order, number;
};

struct drawing {
    /* options */
    const char *editions[EDITIONS_MAX], *to, *style, *age_group, *weight, *lot, *path;
    size_t edition_count;
    char *mats[MATS_MAX];
    size_t mat_count, number_from;
    bool preview;

    struct day_known known;
    struct arena arena;
    struct weight *weights;
    size_t weight_count;
    struct placed *placed;
    size_t placed_count;
    int code;
};

static bool out_of_memory(struct drawing *drawing)
{
    drawing->code = command_no_memory();
    return false;
}

static bool refuse(struct drawing *drawing, const char *what, const char *why)
{
    fprintf(stderr, "boutwire draw: %s: %s\n", what, why);
    drawing->code = EXIT_REFUSED;
    return false;
}

/* ---- entries ---- */

static bool take_sheet(struct drawing *drawing, const struct sheet *sheet)
{
    for (size_t i = 0; i < sheet->count; i++) {
        json_t *event = json_of(sheet->rows[i].document);
        bool done =
            event != NULL && day_known_take(&drawing->known, event) &&
            (sheet->rows[i].lot == 0 ||
             json_object_set_new(json_object_get(drawing->known.entries, sheet->rows[i].key), "lot",
                                 json_integer(sheet->rows[i].lot)) == 0);
        json_decref(event);
        if (!done)
            return out_of_memory(drawing);
    }
    return true;
}

static bool read_sheet(struct drawing *drawing, const struct editions *editions)
{
    struct complaint complaint;
    struct sheet sheet;
    size_t size = 0;
    char *text = command_read_file(drawing->path, &size);
    if (text == NULL) {
        drawing->code = EXIT_UNUSABLE;
        return false;
    }
    if (!sheet_read(&sheet, text, size, editions, &complaint))
        drawing->code = sheet_file_refused(drawing->path, &sheet, &complaint);
    else if (sheet.kind != SHEET_ATHLETES)
        refuse(drawing, drawing->path, "is no sheet of athletes");
    else
        take_sheet(drawing, &sheet);
    sheet_close(&sheet);
    free(text);
    return drawing->code == EXIT_FINE;
}

/* With entries of its own, a daemon is asked all the same: what it has drawn already is not drawn
 * again. */
static bool learn(struct drawing *drawing, const struct editions *editions,
                  const struct daemon_address *address)
{
    if (drawing->to != NULL)
        drawing->code = day_known_ask(&drawing->known, address, "draw");
    if (drawing->code != EXIT_FINE || drawing->path == NULL)
        return drawing->code == EXIT_FINE;
    if (import_is_sheet(drawing->path))
        return read_sheet(drawing, editions);
    drawing->code = day_known_read(&drawing->known, drawing->path);
    return drawing->code == EXIT_FINE;
}

/* ---- weights ---- */

static bool is_wanted(const char *wanted, const char *text)
{
    return wanted == NULL || same_text(wanted, text);
}

static const char *text_of(const json_t *thing, const char *member)
{
    return json_string_value(json_object_get(thing, member));
}

static struct weight *weight_of(struct drawing *drawing, const json_t *entry)
{
    const char *style = text_of(entry, "style"), *age_group = text_of(entry, "age_group");
    const char *kilograms = text_of(entry, "weight");
    for (size_t i = 0; i < drawing->weight_count; i++) {
        struct weight *weight = &drawing->weights[i];
        if (same_text(weight->style, style) && same_text(weight->age_group, age_group) &&
            same_text(weight->weight, kilograms))
            return weight;
    }
    if (drawing->weight_count == WEIGHTS_MAX)
        return NULL;
    struct weight *weight = &drawing->weights[drawing->weight_count++];
    *weight = (struct weight){.style = style, .age_group = age_group, .weight = kilograms};
    weight->entries = arena_take(&drawing->arena, (DRAW_ENTRIES_MAX + 1) * sizeof *weight->entries);
    return weight;
}

/* Anybody can draw the same lot again: SHA-256 of the text, a space and the athlete's key. */
static bool draw_lot(const struct drawing *drawing, struct entered *entered)
{
    unsigned size = 0;
    EVP_MD_CTX *context = EVP_MD_CTX_new();
    bool done = context != NULL && EVP_DigestInit_ex(context, EVP_sha256(), NULL) == 1 &&
                EVP_DigestUpdate(context, drawing->lot, strlen(drawing->lot)) == 1 &&
                EVP_DigestUpdate(context, " ", 1) == 1 &&
                EVP_DigestUpdate(context, entered->athlete, strlen(entered->athlete)) == 1 &&
                EVP_DigestFinal_ex(context, entered->ticket, &size) == 1;
    EVP_MD_CTX_free(context);
    return done;
}

static bool take_entry(struct drawing *drawing, const char *athlete, const json_t *entry)
{
    if (json_is_true(json_object_get(entry, "out")) ||
        !is_wanted(drawing->style, text_of(entry, "style")) ||
        !is_wanted(drawing->age_group, text_of(entry, "age_group")) ||
        !is_wanted(drawing->weight, text_of(entry, "weight")))
        return true;
    if (text_of(entry, "style") == NULL) {
        fprintf(stderr, "boutwire draw: %s has no style, and isn't drawn\n", athlete);
        return true;
    }
    struct weight *weight = weight_of(drawing, entry);
    if (weight == NULL)
        return refuse(drawing, athlete, "there are too many weights");
    if (weight->entries == NULL)
        return out_of_memory(drawing);
    if (weight->count == DRAW_ENTRIES_MAX)
        return refuse(drawing, athlete, "more than 64 entries in one weight");
    struct entered *entered = &weight->entries[weight->count++];
    *entered = (struct entered){.athlete = athlete,
                                .seed = json_integer_value(json_object_get(entry, "seed")),
                                .lot = json_integer_value(json_object_get(entry, "lot"))};
    return drawing->lot == NULL || draw_lot(drawing, entered) || out_of_memory(drawing);
}

static bool part_weights(struct drawing *drawing)
{
    const char *athlete;
    json_t *entry;
    drawing->weights = arena_take(&drawing->arena, WEIGHTS_MAX * sizeof *drawing->weights);
    if (drawing->weights == NULL)
        return out_of_memory(drawing);
    json_object_foreach(drawing->known.entries, athlete,
                        entry) if (!take_entry(drawing, athlete, entry)) return false;
    return drawing->weight_count > 0 || refuse(drawing, "entries", "there is nobody to draw");
}

/* ---- drawing ---- */

static const struct edition *edition_of(const struct drawing *drawing,
                                        const struct editions *editions, const char *style)
{
    for (size_t i = 0; i < drawing->edition_count; i++) {
        const struct edition *edition = editions_find(editions, drawing->editions[i]);
        if (edition_has_style(edition, style))
            return edition;
    }
    return NULL;
}

/* Lots that were drawn come first, then tickets; else as they were entered. */
static bool comes_before(const struct drawing *drawing, const struct entered *one,
                         const struct entered *other)
{
    if (one->lot != other->lot)
        return one->lot != 0 && (other->lot == 0 || one->lot < other->lot);
    return drawing->lot != NULL && memcmp(one->ticket, other->ticket, sizeof one->ticket) < 0;
}

static void order_lots(const struct drawing *drawing, struct weight *weight)
{
    for (size_t i = 1; i < weight->count; i++) {
        struct entered entered = weight->entries[i];
        size_t to = i;
        for (; to > 0 && comes_before(drawing, &entered, &weight->entries[to - 1]); to--)
            weight->entries[to] = weight->entries[to - 1];
        weight->entries[to] = entered;
    }
}

static bool is_drawn(const struct drawing *drawing, const struct weight *weight)
{
    const char *name;
    json_t *slot;
    json_object_foreach(drawing->known.slots, name,
                        slot) if (same_text(text_of(slot, "style"), weight->style) &&
                                  same_text(text_of(slot, "age_group"), weight->age_group) &&
                                  same_text(text_of(slot, "weight"), weight->weight)) return true;
    return false;
}

static bool draw_weight(struct drawing *drawing, const struct editions *editions,
                        struct weight *weight)
{
    struct draw_entry entries[DRAW_ENTRIES_MAX];
    weight->prefix =
        bracket_prefix(weight->style, weight->age_group, weight->weight, &drawing->arena);
    if (weight->prefix == NULL)
        return out_of_memory(drawing);
    weight->edition = edition_of(drawing, editions, weight->style);
    if (weight->edition == NULL)
        return refuse(drawing, weight->prefix, "no --edition given has this style");
    if (!weight->edition->draw.given)
        return refuse(drawing, weight->prefix, "the edition says nothing of draws");
    if (is_drawn(drawing, weight))
        return refuse(drawing, weight->prefix,
                      "is drawn already; to change it, key its slots or import a sheet of them");
    order_lots(drawing, weight);
    for (size_t i = 0; i < weight->count; i++)
        entries[i] = (struct draw_entry){weight->entries[i].athlete, weight->entries[i].seed};
    if (weight->count == 1)
        fprintf(stderr, "boutwire draw: %s: %s is alone, and has no bout\n", weight->prefix,
                weight->entries[0].athlete);
    return bracket_draw(&weight->bracket, &weight->edition->draw, weight->prefix, entries,
                        weight->count, &drawing->arena) ||
           out_of_memory(drawing);
}

/* Rounds side by side, so that all finals come last. */
static bool place_bouts(struct drawing *drawing)
{
    size_t count = 0, most = 0;
    for (size_t i = 0; i < drawing->weight_count; i++) {
        const struct bracket *bracket = &drawing->weights[i].bracket;
        count += bracket->count;
        if (bracket->count > 0 && bracket->slots[0].rounds_after > most)
            most = bracket->slots[0].rounds_after;
    }
    drawing->placed = arena_take(&drawing->arena, (count + 1) * sizeof *drawing->placed);
    if (drawing->placed == NULL)
        return out_of_memory(drawing);
    for (size_t left = most + 1; left > 0; left--)
        for (size_t i = 0; i < drawing->weight_count; i++)
            for (size_t j = 0; j < drawing->weights[i].bracket.count; j++) {
                const struct drawn_slot *slot = &drawing->weights[i].bracket.slots[j];
                size_t place = drawing->placed_count;
                if (slot->rounds_after != left - 1)
                    continue;
                bool dealt = drawing->mat_count > 0;
                drawing->placed[drawing->placed_count++] = (struct placed){
                    .weight = &drawing->weights[i],
                    .slot = slot,
                    .mat = dealt ? drawing->mats[place % drawing->mat_count] : NULL,
                    .order = (dealt ? place / drawing->mat_count : place) + 1,
                    .number = drawing->number_from > 0 ? drawing->number_from + place : 0,
                };
            }
    return true;
}

static bool draw_all(struct drawing *drawing, const struct editions *editions)
{
    for (size_t i = 0; i < drawing->weight_count; i++)
        if (!draw_weight(drawing, editions, &drawing->weights[i]))
            return false;
    return place_bouts(drawing);
}

/* ---- events ---- */

static bool add_text(json_t *event, const char *member, const char *text)
{
    return text == NULL || json_object_set_new(event, member, json_string(text)) == 0;
}

static bool add_side(json_t *event, const char *member, const struct slot_side *side)
{
    static const char *const names[] = {"", "athlete", "winner_of", "loser_of"};
    return side->from == FROM_NOTHING ||
           json_object_set_new(event, member, json_pack("{s:s}", names[side->from], side->name)) ==
               0;
}

static bool add_number(json_t *event, size_t number)
{
    char text[24];
    snprintf(text, sizeof text, "%zu", number);
    return number == 0 || add_text(event, "number", text);
}

static json_t *event_of(const struct drawing *drawing, const struct placed *placed)
{
    const struct drawn_slot *slot = placed->slot;
    json_t *event = json_pack("{s:s, s:s, s:s, s:I}", "type", "slot", "slot", slot->slot, "stage",
                              slot->stage, "order", (json_int_t)placed->order);
    if (event != NULL && add_text(event, "mat", placed->mat) && add_number(event, placed->number) &&
        add_text(event, "style", placed->weight->style) &&
        add_text(event, "age_group", placed->weight->age_group) &&
        add_text(event, "weight", placed->weight->weight) &&
        add_text(event, "rules", placed->weight->edition->name) &&
        add_side(event, "red", &slot->sides[0]) && add_side(event, "blue", &slot->sides[1]) &&
        day_event_add_id(event, "draw", drawing->known.count))
        return event;
    json_decref(event);
    return NULL;
}

static json_t *events_of(struct drawing *drawing)
{
    json_t *events = json_array();
    for (size_t i = 0; i < drawing->placed_count && events != NULL; i++)
        if (json_array_append_new(events, event_of(drawing, &drawing->placed[i])) != 0) {
            json_decref(events);
            events = NULL;
        }
    return events;
}

/* ---- what a reader sees ---- */

static void print_side(const struct drawing *drawing, const struct slot_side *side)
{
    const json_t *entry =
        side->from == FROM_ATHLETE ? json_object_get(drawing->known.entries, side->name) : NULL;
    const char *name = entry != NULL ? text_of(entry, "name") : NULL;
    switch (side->from) {
    case FROM_NOTHING:
        fputs("by the results", stdout);
        return;
    case FROM_WINNER:
        printf("winner of %s", side->name);
        return;
    case FROM_LOSER:
        printf("loser of %s", side->name);
        return;
    case FROM_ATHLETE:
        break;
    }
    fputs(name != NULL ? name : side->name, stdout);
    if (text_of(entry, "team") != NULL)
        printf(" (%s)", text_of(entry, "team"));
    if (json_integer_value(json_object_get(entry, "seed")) > 0)
        printf(" [%lld]", (long long)json_integer_value(json_object_get(entry, "seed")));
}

static void print_weight(const struct drawing *drawing, const struct weight *weight)
{
    static const char *const forms[] = {"everyone meets everyone", "two pools",
                                        "elimination with repechage"};
    printf("%s: %zu %s, %s, by %s\n", weight->prefix, weight->count,
           weight->count == 1 ? "entry" : "entries", forms[weight->bracket.form],
           weight->edition->name);
    for (size_t i = 0; i < drawing->placed_count; i++) {
        const struct placed *placed = &drawing->placed[i];
        if (placed->weight != weight)
            continue;
        fputs("  ", stdout);
        if (placed->number > 0)
            printf("no. %zu, ", placed->number);
        if (placed->mat != NULL)
            printf("mat %s, ", placed->mat);
        printf("%s, %s: ", placed->slot->slot, placed->slot->stage);
        print_side(drawing, &placed->slot->sides[0]);
        fputs(" - ", stdout);
        print_side(drawing, &placed->slot->sides[1]);
        putchar('\n');
    }
}

static void name_line(void *context, size_t place)
{
    const struct drawing *drawing = context;
    if (place < drawing->placed_count)
        fprintf(stderr, "boutwire draw: %s: ", drawing->placed[place].slot->slot);
}

static int finish(struct drawing *drawing, const struct daemon_address *address)
{
    if (drawing->preview) {
        for (size_t i = 0; i < drawing->weight_count; i++)
            print_weight(drawing, &drawing->weights[i]);
        return EXIT_FINE;
    }
    json_t *events = events_of(drawing);
    if (events == NULL)
        return command_no_memory();
    int code = EXIT_FINE;
    if (drawing->to == NULL)
        code = day_events_print(events);
    else if (json_array_size(events) > 0)
        code = day_events_send(events, address, "draw", name_line, drawing);
    if (drawing->to != NULL && code == EXIT_FINE)
        printf("%zu slots of %zu weights drawn\n", json_array_size(events), drawing->weight_count);
    json_decref(events);
    return code;
}

/* ---- options ---- */

static int run(struct drawing *drawing, const struct editions *editions)
{
    struct daemon_address address;
    if (drawing->to != NULL && daemon_address_read(&address, drawing->to) != 0)
        return command_misused("draw", "--to: %s is no HOST:PORT", drawing->to);
    for (size_t i = 0; i < drawing->edition_count; i++)
        if (editions_find(editions, drawing->editions[i]) == NULL)
            return command_misused("draw", "--edition: no edition is called %s",
                                   drawing->editions[i]);
    arena_init(&drawing->arena, malloc, free);
    if (!day_known_init(&drawing->known))
        out_of_memory(drawing);
    else if (learn(drawing, editions, &address) && part_weights(drawing) &&
             draw_all(drawing, editions))
        drawing->code = finish(drawing, &address);
    day_known_close(&drawing->known);
    arena_close(&drawing->arena);
    return drawing->code;
}

static bool read_mats(struct drawing *drawing, char *text)
{
    for (char *mat = strtok(text, ","); mat != NULL; mat = strtok(NULL, ",")) {
        if (drawing->mat_count == MATS_MAX)
            return false;
        drawing->mats[drawing->mat_count++] = mat;
    }
    return drawing->mat_count > 0;
}

static bool read_number(struct drawing *drawing, const char *text)
{
    char *end = NULL;
    long number = strtol(text, &end, 10);
    drawing->number_from = number > 0 ? (size_t)number : 0;
    return number >= 1 && number <= 1000000 && *end == '\0';
}

static int take_option(struct drawing *drawing, int option, char *text)
{
    switch (option) {
    case 'e':
        if (drawing->edition_count == EDITIONS_MAX)
            return EXIT_UNUSABLE;
        drawing->editions[drawing->edition_count++] = text;
        return EXIT_FINE;
    case 't':
        drawing->to = text;
        return EXIT_FINE;
    case 's':
        drawing->style = text;
        return EXIT_FINE;
    case 'g':
        drawing->age_group = text;
        return EXIT_FINE;
    case 'w':
        drawing->weight = text;
        return EXIT_FINE;
    case 'l':
        drawing->lot = text;
        return EXIT_FINE;
    case 'p':
        drawing->preview = true;
        return EXIT_FINE;
    case 'm':
        return read_mats(drawing, text)
                   ? EXIT_FINE
                   : command_misused("draw", "--mats: 1 to 32 mats, as in A,B");
    case 'n':
        return read_number(drawing, text)
                   ? EXIT_FINE
                   : command_misused("draw", "--number-from: %s is no number from 1", text);
    }
    return EXIT_UNUSABLE;
}

int command_draw(int argc, char **argv)
{
    static const struct option options[] = {
        {"edition", required_argument, NULL, 'e'},
        {"rules", required_argument, NULL, 'r'},
        {"to", required_argument, NULL, 't'},
        {"style", required_argument, NULL, 's'},
        {"age-group", required_argument, NULL, 'g'},
        {"weight", required_argument, NULL, 'w'},
        {"lot", required_argument, NULL, 'l'},
        {"mats", required_argument, NULL, 'm'},
        {"number-from", required_argument, NULL, 'n'},
        {"preview", no_argument, NULL, 'p'},
        {"help", no_argument, NULL, 'h'},
        {NULL, 0, NULL, 0},
    };
    struct drawing drawing = {.code = EXIT_FINE};
    struct edition_files files;
    const char *rules[32];
    size_t rules_count = 0;
    for (int option; (option = getopt_long(argc, argv, "h", options, NULL)) != -1;) {
        if (option == 'h')
            return fputs(help, stdout), command_finish(EXIT_FINE);
        if (option == 'r' && rules_count < sizeof rules / sizeof *rules) {
            rules[rules_count++] = optarg;
            continue;
        }
        int code = take_option(&drawing, option, optarg);
        if (code != EXIT_FINE)
            return code;
    }
    if (argc - optind > 1 || (argc == optind && drawing.to == NULL))
        return command_misused("draw", "a sheet or a log of entries is wanted, or --to");
    if (drawing.edition_count == 0)
        return command_misused("draw", "--edition says by which rules");
    drawing.path = argc > optind ? argv[optind] : NULL;
    int code = edition_files_read(&files, rules, rules_count);
    if (code != EXIT_FINE)
        return code;
    code = run(&drawing, &files.editions);
    edition_files_close(&files);
    return command_finish(code);
}
