/* Events as lines, over TCP and sockets in the file system: controllers and scripts
 * (net/talkers.h).
 *
 * A line is an event, and is answered with a line, in the order of the lines: {"id","seq"} after
 * the commit, or {"problem"} with the number of the line. The first may be {"hello":{"key"}}. Over
 * TCP a key is needed wherever HTTP needs one; a socket in the file system lets in whoever may open
 * the file, as a table for every mat. */
#pragma once
#include <jansson.h>
#include <stdbool.h>
#include "access/access.h"
#include "net/talkers.h"
#include "service/clients.h"

struct owed; /* an answer */

struct talk { /* one who sends lines */
    struct talk *next, **link;
    struct service *service;
    struct talker *talker;
    struct holder *holder; /* NULL: it has shown no key */
    struct owed *first, **last;
    uint64_t number; /* among the clients */
    int64_t since_ms;
    bool greeted, privileged, ended;
};

/* Listens where the options say. False: reported. */
bool talks_start(struct service *service);
int talks_port(const struct service *service, size_t i); /* 0 for a file's */
/* Who works here: is in the gallery's list. */
bool talk_is_listed(const struct talk *talk);
struct grant talk_grant(const struct talk *talk);
/* Lets go of it, with a problem as its last line. */
void talk_end(struct talk *talk, const struct problem *problem, const char *detail);
/* Ends those whose key has ended, those who say no key where one is needed, and, as soon as keys
 * are needed, those who had without one what needs one. */
void talks_recheck(struct service *service);
