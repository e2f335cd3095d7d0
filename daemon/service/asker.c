#include "service/asker.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include "service/clients.h"
#include "wire/json.h"

/* ---- answers ---- */

void answer_text(struct request *request, int status, const char *type, char *text)
{
    static const char out_of_memory[] =
        "{\"status\":503,\"title\":\"the daemon is out of memory\"}";
    if (text != NULL)
        request_answer(request, status, type, NULL, text, strlen(text));
    else
        request_answer(request, 503, TYPE_PROBLEM, NULL, out_of_memory, sizeof out_of_memory - 1);
    free(text);
}

void answer_json(struct request *request, int status, const char *type, json_t *json)
{
    char *text = json != NULL ? json_line(json) : NULL;
    json_decref(json);
    answer_text(request, status, type, text);
}

void answer_problem(struct request *request, const struct problem *problem, const char *detail)
{
    answer_json(request, problem->status, TYPE_PROBLEM,
                problem_json(problem, detail, NULL, 0, NULL));
}

/* Retry-After: RFC 6585 4, RFC 9110 10.2.3; whole seconds. */
void answer_later(struct request *request, int status, json_t *json, int64_t wait_ms)
{
    char header[48];
    char *text = json != NULL ? json_line(json) : NULL;
    json_decref(json);
    snprintf(header, sizeof header, "Retry-After: %lld\r\n", (long long)(wait_ms + 999) / 1000);
    if (text != NULL)
        request_answer(request, status, TYPE_PROBLEM, header, text, strlen(text));
    else
        answer_text(request, 503, TYPE_JSON, NULL);
    free(text);
}

/* ---- who asks ---- */

/* RFC 6750 3: what is asked for, and whether what was shown is no good. */
void answer_refusal(const struct asker *asker, const struct problem *problem, const char *detail)
{
    static const char wanted[] = "WWW-Authenticate: Bearer realm=\"boutwire\"\r\n";
    static const char invalid[] =
        "WWW-Authenticate: Bearer realm=\"boutwire\", error=\"invalid_token\"\r\n";
    json_t *json = problem_json(problem, detail, NULL, 0, NULL);
    char *text = problem->status == 401 && json != NULL ? json_line(json) : NULL;
    if (text == NULL) {
        answer_json(asker->request, problem->status, TYPE_PROBLEM, json);
        return;
    }
    json_decref(json);
    request_answer(asker->request, problem->status, TYPE_PROBLEM,
                   problem == &problem_key_needed ? wanted : invalid, text, strlen(text));
    free(text);
}

/* "Authorization: Bearer KEY" (RFC 6750 2.1; RFC 9110 11.1: the scheme in any case). Another scheme
 * is between the client and some proxy. */
bool asker_read(struct asker *asker)
{
    const char *given = request_header(asker->request, "authorization");
    asker->grant = anybodys_grant(asker->service);
    if (given == NULL || strncasecmp(given, "bearer ", 7) != 0)
        return true;
    const char *text = given + 7 + strspn(given + 7, " ");
    switch (keys_knock(asker->service, text, strlen(text), &asker->key)) {
    case KNOCK_OPENS:
        asker->grant = (struct grant){asker->key->role, asker->key->mat};
        return true;
    case KNOCK_UNKNOWN:
        if (!asker->service->keys.needed) /* of another day: here none is needed */
            return true;
        answer_refusal(asker, &problem_key_unknown, NULL);
        return false;
    case KNOCK_ENDED:
        answer_refusal(asker, &problem_key_ended, NULL);
        return false;
    }
    return false;
}

bool asker_may(const struct asker *asker, enum action action, const char *mat)
{
    char detail[80];
    const struct problem *refusal = access_refusal(asker->service, &asker->grant, action, mat);
    if (refusal == NULL)
        return true;
    snprintf(detail, sizeof detail, "a key of the role %s may not %s", role_name(asker->grant.role),
             action_words(action));
    answer_refusal(asker, refusal, refusal->status == 403 ? detail : NULL);
    return false;
}
