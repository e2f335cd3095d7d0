/* RFC 9457 problem details: what is wrong with a request or a message, for programs and people.
 * `type` is a relative reference, /problem/NAME, one a kind (docs/wire.md lists them). */
#pragma once
#include <jansson.h>
#include "rules/complaint.h"

struct problem {
    const char *name;  /* "id-reused" */
    const char *title; /* the same for every problem of the kind */
    int status;        /* HTTP's */
};

extern const struct problem problem_too_fast, problem_full, problem_let_go, problem_not_found,
    problem_method, problem_media_type, problem_stopped, problem_draining, problem_busy,
    problem_message, problem_topic, problem_no_memory, problem_public_off, problem_key_needed,
    problem_key_unknown, problem_key_ended, problem_forbidden, problem_output, problem_outputs_full,
    problem_not_prepared, problem_withheld, problem_delays_full;

struct problem problem_of_refusal(enum refusal why);
/* A new reference; NULL without memory. `detail`, `pointer` and `id` may be NULL or ""; `line` 0.
 */
json_t *problem_json(const struct problem *problem, const char *detail, const char *pointer,
                     size_t line, const char *id);
