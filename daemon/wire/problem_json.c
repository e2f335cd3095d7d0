#include "wire/problem_json.h"
#include <stdio.h>
#include "wire/state_json.h"

const struct problem problem_not_found = {"not-found", "there is nothing at this address", 404};
const struct problem problem_method = {"method", "this address doesn't take that method", 405};
const struct problem problem_media_type = {"media-type", "the body is of no type taken here", 415};
const struct problem problem_draining = {"draining", "the daemon is stopping", 503};
const struct problem problem_stopped = {"stopped", "the log can't be written: no event is taken",
                                        503};
const struct problem problem_busy = {"busy", "too much is waiting to be written", 503};
const struct problem problem_message = {"message", "no message of that kind is known", 400};
const struct problem problem_topic = {"topic", "there is no such topic", 404};
const struct problem problem_no_memory = {"no-memory", "the daemon is out of memory", 503};

const struct problem problem_too_fast = {"too-fast", "too many at once: wait a moment", 429};
const struct problem problem_full = {"full", "as many as may be are connected", 503};
const struct problem problem_let_go = {"let-go", "this connection is let go", 408};

const struct problem problem_public_off = {
    "public-off", "minors wrestle, and nobody has made this day public", 403};

const struct problem problem_key_needed = {"key-needed", "this needs a key", 401};
const struct problem problem_key_unknown = {"key-unknown", "no such key has been made", 401};
const struct problem problem_key_ended = {"key-ended", "this key has ended", 401};
const struct problem problem_forbidden = {"forbidden", "this key may not do that", 403};

const struct problem problem_output = {"output", "there is no such output", 404};
const struct problem problem_outputs_full = {"outputs-full",
                                             "there are as many outputs as there may be", 422};
const struct problem problem_delays_full = {"delays-full",
                                            "as many audiences have a delay as may have one", 422};
const struct problem problem_not_prepared = {"not-prepared",
                                             "nothing, or something else, is prepared", 409};
const struct problem problem_withheld = {"withheld", "there is nothing of it to show now", 409};

static int status_of(enum refusal why)
{
    if (why == REFUSED_NOT_JSON)
        return 400;
    return why == REFUSED_ID_REUSED ? 409 : 422;
}

struct problem problem_of_refusal(enum refusal why)
{
    return (struct problem){refusal_name(why), refusal_title(why), status_of(why)};
}

json_t *problem_json(const struct problem *problem, const char *detail, const char *pointer,
                     size_t line, const char *id)
{
    char type[64];
    json_t *object = json_object();
    snprintf(type, sizeof type, "/problem/%s", problem->name);
    if (json_add_text(object, "type", type) && json_add_text(object, "title", problem->title) &&
        json_add_integer(object, "status", problem->status) &&
        json_add_text(object, "detail", detail) && json_add_text(object, "pointer", pointer) &&
        (line == 0 || json_add_integer(object, "line", (int64_t)line)) &&
        json_add_text(object, "id", id))
        return object;
    json_decref(object);
    return NULL;
}
