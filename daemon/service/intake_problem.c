#include "service/intake_problem.h"
#include <stdio.h>

struct problem intake_problem(const struct intake_answer *answer)
{
    switch (answer->outcome) {
    case INTAKE_REFUSED:
        return problem_of_refusal(answer->complaint->why);
    case INTAKE_FORBIDDEN:
        return problem_forbidden;
    case INTAKE_STOPPED:
        return problem_stopped;
    case INTAKE_BUSY:
        return problem_busy;
    case INTAKE_TOO_FAST:
        return problem_too_fast;
    case INTAKE_TAKEN:
    case INTAKE_NO_MEMORY:
        break;
    }
    return problem_no_memory;
}

json_t *intake_problem_json(const struct intake_answer *answer, size_t line)
{
    struct problem problem = intake_problem(answer);
    const struct complaint *complaint = answer->complaint;
    bool refused = answer->outcome == INTAKE_REFUSED;
    const char *detail = complaint != NULL ? complaint->detail : answer->reason;
    char wait[64];
    if (answer->outcome == INTAKE_TOO_FAST) {
        snprintf(wait, sizeof wait, "send the same again in %lld ms", (long long)answer->wait_ms);
        detail = wait;
    }
    return problem_json(&problem, detail, refused ? complaint->pointer : NULL, line, answer->id);
}
