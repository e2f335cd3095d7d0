/* Who asks over HTTP, what they may, and how they are answered. Every function of the routes takes
 * the asker, checks first, and answers once; what says "false: answered" has done so. */
#pragma once
#include "service/service.h"
#include "wire/problem_json.h"

#define TYPE_JSON "application/json"
#define TYPE_LINES "application/x-ndjson"
#define TYPE_PROBLEM "application/problem+json"

struct asker {
    struct service *service;
    struct request *request;
    const struct key *key; /* NULL: it has shown none */
    struct grant grant;
};

/* Reads the key, if one was shown. False: it opens nothing, and that is answered. */
bool asker_read(struct asker *asker);
/* False: refused, and answered. */
bool asker_may(const struct asker *asker, enum action action, const char *mat);

/* Takes `text`; NULL is answered as the want of memory that it is. */
void answer_text(struct request *request, int status, const char *type, char *text);
/* Takes `json`; NULL as with answer_text. */
void answer_json(struct request *request, int status, const char *type, json_t *json);
void answer_problem(struct request *request, const struct problem *problem, const char *detail);
/* A problem that is over after a while: says Retry-After. Takes `json`. */
void answer_later(struct request *request, int status, json_t *json, int64_t wait_ms);
/* A problem of the asker's key: 401 says what is asked for. */
void answer_refusal(const struct asker *asker, const struct problem *problem, const char *detail);
