#include "commands/day_known.h"
#include <openssl/evp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>
#include "commands/command.h"
#include "wire/json.h"

enum { ID_HEX = 24 };

bool day_known_init(struct day_known *known)
{
    *known = (struct day_known){json_object(), json_object(), 0};
    return known->entries != NULL && known->slots != NULL;
}

void day_known_close(struct day_known *known)
{
    json_decref(known->entries);
    json_decref(known->slots);
    *known = (struct day_known){NULL, NULL, 0};
}

json_t *day_known_of(const struct day_known *known, const json_t *event, const char **key)
{
    const char *type = json_string_value(json_object_get(event, "type"));
    bool entry = type != NULL && strcmp(type, "entry") == 0;
    bool slot = type != NULL && strcmp(type, "slot") == 0;
    *key = json_string_value(json_object_get(event, entry ? "athlete" : "slot"));
    return *key == NULL || (!entry && !slot) ? NULL : entry ? known->entries : known->slots;
}

static bool is_own(const char *member)
{
    static const char *const own[] = {"id", "type", "at", "keyed_at", "seq", "by"};
    for (size_t i = 0; i < sizeof own / sizeof *own; i++)
        if (strcmp(own[i], member) == 0)
            return true;
    return false;
}

bool day_known_take(struct day_known *known, const json_t *event)
{
    const char *key, *member;
    json_t *all = day_known_of(known, event, &key), *value;
    if (all == NULL)
        return true;
    known->count++;
    json_t *thing = json_object_get(all, key);
    if (thing == NULL) {
        if (json_object_set_new(all, key, json_object()) != 0)
            return false;
        thing = json_object_get(all, key);
    }
    json_object_foreach((json_t *)(uintptr_t)event, member,
                        value) if (!is_own(member) &&
                                   json_object_set(thing, member, value) != 0) return false;
    return true;
}

/* ---- from a log, or a daemon ---- */

static int take_lines(struct day_known *known, char *text, const char *path)
{
    size_t number = 0;
    for (char *line = text, *next; line != NULL; line = next) {
        struct complaint complaint = {.why = ACCEPTED};
        size_t size = strcspn(line, "\n");
        next = line[size] == '\n' ? line + size + 1 : NULL;
        number++;
        if (strspn(line, " \t\r") >= size)
            continue;
        json_t *event = json_parse(line, size, &complaint);
        bool taken = event != NULL && day_known_take(known, event);
        bool refused = event == NULL && complaint.why != ACCEPTED;
        json_decref(event);
        if (refused) {
            fprintf(stderr, "%s:%zu: %s\n", path, number, complaint.detail);
            return EXIT_REFUSED;
        }
        if (!taken)
            return command_no_memory();
    }
    return EXIT_FINE;
}

int day_known_read(struct day_known *known, const char *path)
{
    size_t size = 0;
    char *text = command_read_file(path, &size);
    if (text == NULL)
        return EXIT_UNUSABLE;
    int code = take_lines(known, text, path);
    free(text);
    return code;
}

static int call_failed(const struct daemon_address *address, int status, const char *command)
{
    if (status == UV_ENOMEM)
        return command_no_memory();
    fprintf(stderr, "boutwire %s: no daemon answers at %s port %d\n", command, address->host,
            address->port);
    return EXIT_UNUSABLE;
}

static const char *detail_of(const json_t *problem)
{
    const char *detail = json_string_value(json_object_get(problem, "detail"));
    const char *title = json_string_value(json_object_get(problem, "title"));
    return detail != NULL ? detail : title != NULL ? title : "the daemon refuses it";
}

int day_known_ask(struct day_known *known, const struct daemon_address *address,
                  const char *command)
{
    struct daemon_answer answer;
    int status = daemon_call(address, "/api/v1/day/events", NULL, 0, &answer);
    if (status != 0)
        return call_failed(address, status, command);
    int code = EXIT_UNUSABLE;
    if (answer.status == 200) {
        code = take_lines(known, answer.body, "the daemon's day");
    } else {
        json_t *problem = json_loads(answer.body, 0, NULL);
        fprintf(stderr, "boutwire %s: %s\n", command, detail_of(problem));
        json_decref(problem);
    }
    free(answer.body);
    return code;
}

/* ---- to a daemon, or to standard output ---- */

bool day_event_add_id(json_t *event, const char *prefix, uint64_t count)
{
    unsigned char digest[EVP_MAX_MD_SIZE];
    char id[64], *text = json_line(event);
    unsigned size = 0;
    EVP_MD_CTX *context = EVP_MD_CTX_new();
    bool done = text != NULL && context != NULL &&
                EVP_DigestInit_ex(context, EVP_sha256(), NULL) == 1 &&
                EVP_DigestUpdate(context, &count, sizeof count) == 1 &&
                EVP_DigestUpdate(context, text, strlen(text)) == 1 &&
                EVP_DigestFinal_ex(context, digest, &size) == 1;
    int used = snprintf(id, sizeof id, "%.20s-", prefix);
    for (unsigned i = 0; done && i < ID_HEX / 2; i++)
        used += snprintf(id + used, sizeof id - (size_t)used, "%02x", digest[i]);
    EVP_MD_CTX_free(context);
    free(text);
    return done && json_object_set_new(event, "id", json_string(id)) == 0;
}

/* One event a line; malloc'd, NULL without memory. */
static char *lines_of(const json_t *events, size_t *size)
{
    char *text = NULL;
    FILE *out = open_memstream(&text, size);
    bool complete = out != NULL;
    for (size_t i = 0; i < json_array_size(events) && complete; i++) {
        char *line = json_line(json_array_get(events, i));
        complete = line != NULL && fprintf(out, "%s\n", line) > 0;
        free(line);
    }
    if (out != NULL && fclose(out) != 0)
        complete = false;
    if (complete)
        return text;
    free(text);
    return NULL;
}

static int tell_refused(const struct daemon_answer *answer, const char *command,
                        void (*line_name)(void *context, size_t place), void *context)
{
    json_t *problem = json_loads(answer->body, 0, NULL);
    const json_t *line = json_object_get(problem, "line");
    if (json_is_integer(line) && json_integer_value(line) > 0)
        line_name(context, (size_t)json_integer_value(line) - 1);
    else
        fprintf(stderr, "boutwire %s: ", command);
    fprintf(stderr, "%s; nothing was changed\n", detail_of(problem));
    json_decref(problem);
    return answer->status >= 500 ? EXIT_UNUSABLE : EXIT_REFUSED;
}

int day_events_send(const json_t *events, const struct daemon_address *address, const char *command,
                    void (*line_name)(void *context, size_t place), void *context)
{
    struct daemon_answer answer;
    size_t size = 0;
    char *text = lines_of(events, &size);
    if (text == NULL)
        return command_no_memory();
    int status = daemon_call(address, "/api/v1/events", text, size, &answer);
    free(text);
    if (status != 0)
        return call_failed(address, status, command);
    int code =
        answer.status == 200 ? EXIT_FINE : tell_refused(&answer, command, line_name, context);
    free(answer.body);
    return code;
}

int day_events_print(const json_t *events)
{
    size_t size = 0;
    char *text = lines_of(events, &size);
    if (text == NULL)
        return command_no_memory();
    fwrite(text, 1, size, stdout);
    free(text);
    return EXIT_FINE;
}
