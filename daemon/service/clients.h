/* Who listens: WebSockets, event streams and readers of plain text, and what each has asked for. */
#pragma once
#include "service/service.h"

struct client {
    struct client *next, *previous;
    struct service *service;
    struct connection *connection;
    struct follower *follower; /* NULL for a reader of plain text */
    struct mat *reads;         /* the mat whose lines it reads; NULL for the others */
    size_t lines_read;         /* of that mat */
};

/* NULL without memory. `form` tells how its follower is spoken to. */
struct client *client_new(struct service *service, struct connection *connection);
void client_free(struct client *client); /* NULL is allowed */
/* Sends one JSON object (taken); closes the connection of a client that can't take it. */
void client_send(struct client *client, json_t *message);
/* Sends the lines that a reader of plain text has not had yet. */
void client_read_on(struct client *client);
/* A beat to every client: each second to those who work with it, else every 15 s. */
void clients_beat(struct service *service);
