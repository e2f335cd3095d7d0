/* Who listens: WebSockets, event streams and readers of plain text, what each has asked for, and
 * what it may: by its key, or as anybody. */
#pragma once
#include "access/access.h"
#include "service/service.h"
#include "wire/problem_json.h"

enum { TRY_AGAIN_LATER = 1013 };
enum { POLICY = 1008 }; /* RFC 6455 7.4.1: how a connection ends that mustn't go on */

struct holder { /* of a key: a copy of what matters of it */
    unsigned char hash[KEY_HASH_SIZE];
    char name[KEY_NAME_LENGTH_MAX + 1];
    enum role role;
    char *mat;
    int64_t until_ms;
};

struct holder *holder_new(const struct key *key); /* NULL without memory */
void holder_free(struct holder *holder);          /* NULL is allowed */
/* Whose speed an event of theirs counts for, as intake_source has it. */
const char *source_name(const struct service *service, const struct holder *holder,
                        const char *address);
bool holder_has_ended(const struct service *service, const struct holder *holder);
/* What is answered to a hello; NULL without memory. `holder` is NULL where no key was shown. */
json_t *hello_json(const struct grant *grant, const struct holder *holder);

enum shown_kind { SHOWS_NOTHING, SHOWS_FOLLOW, SHOWS_TEXT, SHOWS_SCREEN };

struct client {
    struct client *next, *previous;
    struct service *service;
    struct connection *connection;
    struct follower *follower; /* NULL for a reader of plain text */
    struct mat *reads;         /* the mat whose lines it reads; NULL for the others */
    size_t lines_read;         /* of that mat */
    struct holder *holder;     /* NULL: it has no key */
    uint64_t number;
    int64_t since_ms;
    enum shown_kind shows;  /* of what is public */
    struct bucket messages; /* a viewer's, of which a minute has 100 */
    bool works;             /* follows what isn't only looked on at: topic_is_patient */
    bool came_late;         /* when only the reserve was left: see clients_are_full */
    bool greeted;           /* it has said something */
    bool privileged;        /* it has had what not everybody may have */
    bool ended;             /* its connection is being closed: it gets and says nothing more */
};

/* NULL without memory. `key` as keys_knock gave it, or NULL. */
struct client *client_new(struct service *service, struct connection *connection,
                          const struct key *key);
void client_free(struct client *client); /* NULL is allowed */
/* From now on it is that key's. False without memory. */
bool client_take_key(struct client *client, const struct key *key);
struct grant client_grant(const struct client *client);
/* Notes what it follows; a topic, or "" for text. */
void client_note(struct client *client, const char *topic);
/* Lets go of it, with an RFC 6455 code and a reason. */
void client_end(struct client *client, int code, const char *reason);
/* Lets go of it because the daemon stops (1001). */
void client_leave(struct client *client);
size_t clients_count(const struct service *service); /* those that are still connected */
/* Sends one JSON object (taken); closes the connection of a client that can't take it. */
void client_send(struct client *client, json_t *message);
/* Sends the lines that a reader of plain text has not had yet. */
void client_read_on(struct client *client);
void clients_read_on(struct service *service); /* to each of them */
/* Whoever reads the lines of the one mat goes on with the other's, at the same place. */
void clients_read_from(struct service *service, const struct mat *from, struct mat *to);
/* Screen, booth, table and gallery have everything first, and must notice silence within seconds;
 * who follows needn't. */
bool topic_is_patient(const char *topic);
/* A beat to every client: each second to those who work with it, else every 15 s. */
void clients_beat(struct service *service);
/* Ends those whose key has ended, and, as soon as keys are needed, those who had without one what
 * needs one. */
void clients_recheck(struct service *service);
/* Ends those who have said nothing for so long, and viewers who came when only the reserve was
 * left. */
void clients_end_silent(struct service *service, unsigned seconds);

/* Who only follows: has no key, or a follower's, and doesn't sit at this machine. */
bool client_is_viewer(const struct client *client);
bool is_viewer(const struct grant *grant, const char *address);
/* Only those of the connections are left that are kept for who works here: one in sixteen. */
bool clients_are_full(const struct service *service);

/* What somebody without a key may do: everything, while none has been made. */
struct grant anybodys_grant(const struct service *service);
/* Why `grant` may not do that; NULL: it may. problem_key_needed (401) for who has shown no key,
 * problem_forbidden (403) for who has. */
const struct problem *access_refusal(const struct service *service, const struct grant *grant,
                                     enum action action, const char *mat);
