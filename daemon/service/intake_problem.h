/* Why events weren't taken, as the problem that their sender reads. */
#pragma once
#include <jansson.h>
#include "service/intake.h"
#include "wire/problem_json.h"

/* Not for INTAKE_TAKEN. */
struct problem intake_problem(const struct intake_answer *answer);
/* A new reference; NULL without memory. `line` 0: of no line. */
json_t *intake_problem_json(const struct intake_answer *answer, size_t line);
