#include "service/clients.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "rules/time_of_day.h"
#include "wire/json.h"
#include "wire/state_json.h"

enum { FOLLOWERS_BEAT_SECONDS = 15, RESERVE_PART = 16 };

/* ---- what they may ---- */

struct grant anybodys_grant(const struct service *service)
{
    return (struct grant){service->keys.needed ? ROLE_PUBLIC : ROLE_ANYONE, NULL};
}

struct grant client_grant(const struct client *client)
{
    if (client->holder == NULL)
        return anybodys_grant(client->service);
    return (struct grant){client->holder->role, client->holder->mat};
}

/* Nobody without a key, where keys are needed. */
static bool public_may(const struct service *service, enum action action)
{
    return role_allows(ROLE_PUBLIC, action) && !service->options.is_private;
}

const struct problem *access_refusal(const struct service *service, const struct grant *grant,
                                     enum action action, const char *mat)
{
    if (grant->role == ROLE_PUBLIC)
        return public_may(service, action) ? NULL : &problem_key_needed;
    return grant_allows(grant, action, mat) ? NULL : &problem_forbidden;
}

/* ---- coming and going ---- */

struct holder *holder_new(const struct key *key)
{
    struct holder *holder = calloc(1, sizeof *holder);
    if (holder == NULL || (key->mat != NULL && (holder->mat = strdup(key->mat)) == NULL)) {
        free(holder);
        return NULL;
    }
    memcpy(holder->hash, key->hash, sizeof holder->hash);
    snprintf(holder->name, sizeof holder->name, "%s", key->name);
    holder->role = key->role;
    holder->until_ms = key->until_ms;
    return holder;
}

const char *source_name(const struct service *service, const struct holder *holder,
                        const char *address)
{
    if (holder == NULL)
        return address;
    return keys_is_player(&service->keys, holder->hash) ? NULL : holder->name;
}

bool holder_has_ended(const struct service *service, const struct holder *holder)
{
    const struct key *key = keys_find(&service->keys, holder->hash);
    return key == NULL || !key_opens(key, daytime_now(&service->daytime));
}

bool client_take_key(struct client *client, const struct key *key)
{
    client->holder = holder_new(key);
    return client->holder != NULL;
}

json_t *hello_json(const struct grant *grant, const struct holder *holder)
{
    json_t *hello = json_object(), *message = NULL;
    bool complete = json_add_text(hello, "role", role_name(grant->role)) &&
                    json_add_text(hello, "mat", grant->mat) &&
                    json_add_text(hello, "name", holder != NULL ? holder->name : NULL) &&
                    (holder == NULL || holder->until_ms == INT64_MAX ||
                     json_add_time(hello, "until", holder->until_ms));
    if (complete)
        message = json_pack("{s:O}", "hello", hello);
    json_decref(hello);
    return message;
}

void holder_free(struct holder *holder)
{
    if (holder != NULL)
        free(holder->mat);
    free(holder);
}

static size_t readers_in(const struct client *client)
{
    return connection_kind(client->connection) == CONNECTION_TEXT ? 1 : 0;
}

static bool follower_make(struct client *client)
{
    enum connection_kind kind = connection_kind(client->connection);
    if (kind == CONNECTION_TEXT)
        return true;
    client->follower = follower_new(
        client->service->relay, kind == CONNECTION_EVENTS ? FOLLOWER_EVENTS : FOLLOWER_WEBSOCKET,
        client->connection);
    return client->follower != NULL;
}

struct client *client_new(struct service *service, struct connection *connection,
                          const struct key *key)
{
    struct client *client = calloc(1, sizeof *client);
    if (client == NULL)
        return NULL;
    client->service = service;
    client->connection = connection;
    client->number = ++service->client_count;
    client->since_ms = daytime_now(&service->daytime);
    client->came_late = clients_are_full(service);
    if ((key != NULL && !client_take_key(client, key)) || !follower_make(client)) {
        holder_free(client->holder);
        free(client);
        return NULL;
    }
    client->next = service->clients;
    if (client->next != NULL)
        client->next->previous = client;
    service->clients = client;
    service->reader_count += readers_in(client);
    connection_set_context(connection, client);
    return client;
}

void client_free(struct client *client)
{
    if (client == NULL)
        return;
    intake_forget(client->service, client);
    outputs_forget(client->service, client);
    follower_free(client->follower);
    client->service->reader_count -= readers_in(client);
    if (client->previous != NULL)
        client->previous->next = client->next;
    else
        client->service->clients = client->next;
    if (client->next != NULL)
        client->next->previous = client->previous;
    holder_free(client->holder);
    free(client);
}

void client_note(struct client *client, const char *topic)
{
    struct audience audience = {.action = ACTION_READ_PUBLIC};
    bool text = topic[0] == '\0';
    client->works = client->works || (!text && !topic_is_patient(topic));
    connection_set_patient(client->connection, !client->works);
    if (!text)
        audience_of(topic, &audience);
    if (!public_may(client->service, audience.action))
        client->privileged = true;
    if (audience.action != ACTION_READ_PUBLIC)
        return;
    enum shown_kind shows = text                             ? SHOWS_TEXT
                            : strncmp(topic, "out/", 4) == 0 ? SHOWS_SCREEN
                                                             : SHOWS_FOLLOW;
    if (shows > client->shows)
        client->shows = shows;
}

static void let_go(struct client *client, uint64_t *count, int code, const char *reason)
{
    if (client->ended)
        return;
    *count += 1;
    client->ended = true;
    follower_free(client->follower);
    client->follower = NULL;
    client->reads = NULL;
    connection_close(client->connection, code, reason);
}

void client_end(struct client *client, int code, const char *reason)
{
    struct service *service = client->service;
    let_go(client, code == 1011 ? &service->cut_offs.no_memory : &service->cut_offs.not_allowed,
           code, reason);
}

void client_leave(struct client *client)
{
    uint64_t ignored = 0;
    let_go(client, &ignored, 1001, "the daemon stops");
}

size_t clients_count(const struct service *service)
{
    size_t count = 0;
    for (const struct client *client = service->clients; client != NULL; client = client->next)
        count++;
    return count;
}

void clients_recheck(struct service *service)
{
    for (struct client *client = service->clients, *next; client != NULL; client = next) {
        next = client->next;
        if (client->holder != NULL && holder_has_ended(service, client->holder))
            client_end(client, POLICY, "this key has ended");
        else if (client->holder == NULL && service->keys.needed && client->privileged)
            client_end(client, POLICY, "a key is needed now");
    }
}

bool is_viewer(const struct grant *grant, const char *address)
{
    return (grant->role == ROLE_PUBLIC || grant->role == ROLE_FOLLOW) &&
           !host_is_this_machine(address);
}

bool client_is_viewer(const struct client *client)
{
    struct grant grant = client_grant(client);
    return is_viewer(&grant, connection_address(client->connection));
}

bool clients_are_full(const struct service *service)
{
    size_t most = service->options.connections;
    return most > 0 && net_clients(service->net) > most - most / RESERVE_PART;
}

void clients_end_silent(struct service *service, unsigned seconds)
{
    int64_t before_ms = daytime_now(&service->daytime) - seconds * INT64_C(1000);
    for (struct client *client = service->clients, *next; client != NULL; client = next) {
        next = client->next;
        if (client->since_ms > before_ms ||
            connection_kind(client->connection) != CONNECTION_WEBSOCKET)
            continue;
        if (!client->greeted)
            client_end(client, POLICY, "nothing was said");
        else if (client->came_late && client_is_viewer(client))
            client_end(client, TRY_AGAIN_LATER, problem_full.title);
    }
}

/* ---- what they get ---- */

void client_send(struct client *client, json_t *message)
{
    char *text = message != NULL ? json_line(message) : NULL;
    struct frame *frame = text != NULL ? frame_new(text, strlen(text)) : NULL;
    json_decref(message);
    free(text);
    if (!client->ended && (frame == NULL || !connection_send(client->connection, frame)))
        let_go(client, &client->service->cut_offs.slow, POLICY, "too slow for its answers");
    frame_release(frame);
}

void client_read_on(struct client *client)
{
    if (client->ended || client->service->public_is_off)
        return;
    if (client->lines_read > client->reads->line_count) /* told anew, in fewer lines */
        client->lines_read = client->reads->line_count;
    while (client->lines_read < client->reads->line_count) {
        const char *text = client->reads->lines[client->lines_read].line.text;
        size_t size = strlen(text);
        struct frame *frame = frame_new(text, size + 1);
        if (frame != NULL)
            frame->text[size] = '\n';
        bool sent = frame != NULL && connection_send(client->connection, frame);
        frame_release(frame);
        if (!sent)
            return; /* goes on when it has drained */
        client->lines_read++;
    }
}

/* Thousands who read no text aren't gone through for nothing. */
void clients_read_on(struct service *service)
{
    if (service->reader_count == 0)
        return;
    for (struct client *client = service->clients; client != NULL; client = client->next)
        if (client->reads != NULL)
            client_read_on(client);
}

void clients_read_from(struct service *service, const struct mat *from, struct mat *to)
{
    for (struct client *client = service->clients; client != NULL; client = client->next)
        if (client->reads == from)
            client->reads = to;
}

bool topic_is_patient(const char *topic)
{
    size_t size = strlen(topic);
    return size >= 7 && strcmp(topic + size - 7, "/follow") == 0;
}

static bool is_working(const char *topic)
{
    return !topic_is_patient(topic);
}

void clients_beat(struct service *service)
{
    char now[TIME_OF_DAY_SIZE];
    time_of_day_write(daytime_now(&service->daytime), now);
    relay_beat(service->relay, is_working, now);
    if (service->seconds % FOLLOWERS_BEAT_SECONDS == 0)
        relay_beat(service->relay, topic_is_patient, now);
}
