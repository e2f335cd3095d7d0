#include "service/clients.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "rules/time_of_day.h"
#include "wire/json.h"

enum { FOLLOWERS_BEAT_SECONDS = 15, POLICY = 1008 };

struct client *client_new(struct service *service, struct connection *connection)
{
    struct client *client = calloc(1, sizeof *client);
    if (client == NULL)
        return NULL;
    client->service = service;
    client->connection = connection;
    if (connection_kind(connection) != CONNECTION_TEXT) {
        client->follower = follower_new(
            service->relay,
            connection_kind(connection) == CONNECTION_EVENTS ? FOLLOWER_EVENTS : FOLLOWER_WEBSOCKET,
            client);
        if (client->follower == NULL) {
            free(client);
            return NULL;
        }
    }
    client->next = service->clients;
    if (client->next != NULL)
        client->next->previous = client;
    service->clients = client;
    connection_set_context(connection, client);
    return client;
}

void client_free(struct client *client)
{
    if (client == NULL)
        return;
    intake_forget(client->service, client);
    follower_free(client->follower);
    if (client->previous != NULL)
        client->previous->next = client->next;
    else
        client->service->clients = client->next;
    if (client->next != NULL)
        client->next->previous = client->previous;
    free(client);
}

void client_send(struct client *client, json_t *message)
{
    char *text = message != NULL ? json_line(message) : NULL;
    struct frame *frame = text != NULL ? frame_new(text, strlen(text)) : NULL;
    json_decref(message);
    free(text);
    if (frame == NULL || !connection_send(client->connection, frame))
        connection_close(client->connection, POLICY, "too slow for its answers");
    frame_release(frame);
}

void client_read_on(struct client *client)
{
    if (client->service->public_is_off)
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

/* Screen, booth, table and gallery must notice silence within seconds; a follower needn't. */
static bool is_working(const char *topic)
{
    size_t size = strlen(topic);
    return size < 7 || strcmp(topic + size - 7, "/follow") != 0;
}

static bool is_followers(const char *topic)
{
    return !is_working(topic);
}

void clients_beat(struct service *service)
{
    char now[TIME_OF_DAY_SIZE];
    time_of_day_write(daytime_now(&service->daytime), now);
    relay_beat(service->relay, is_working, now);
    if (service->seconds % FOLLOWERS_BEAT_SECONDS == 0)
        relay_beat(service->relay, is_followers, now);
}
