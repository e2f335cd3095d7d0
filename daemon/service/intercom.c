#include "service/intercom.h"
#include <stdio.h>
#include <string.h>
#include "service/clients.h"
#include "service/gallery.h"
#include "service/service.h"
#include "wire/problem_json.h"
#include "wire/state_json.h"

/* ---- as topics have it ---- */

static json_t *spoken_json(const struct spoken *spoken, bool with_mat)
{
    json_t *object = json_object();
    bool complete =
        object != NULL && json_add_text(object, "from", spoken->to_booth ? "gallery" : "booth") &&
        json_add_text(object, "mat", with_mat ? spoken->mat : NULL) &&
        json_add_text(object, "by", spoken->by[0] != '\0' ? spoken->by : NULL) &&
        json_add_text(object, "text", spoken->text) && json_add_time(object, "at", spoken->at_ms) &&
        (spoken->seen_ms == 0 || json_add_time(object, "seen", spoken->seen_ms));
    return json_whole(object, complete);
}

static bool is_kept(const struct intercom *intercom, uint64_t number)
{
    return number > 0 && number <= intercom->count && intercom->count - number < INTERCOM_KEPT;
}

static const struct spoken *line_of(const struct intercom *intercom, uint64_t number)
{
    return &intercom->lines[(number - 1) % INTERCOM_KEPT];
}

json_t *intercom_json(const struct intercom *intercom, const char *mat)
{
    json_t *lines = json_object();
    size_t most = mat != NULL ? INTERCOM_BOOTH : INTERCOM_GALLERY, shown = 0;
    bool complete = lines != NULL;
    for (uint64_t n = intercom->count; is_kept(intercom, n) && shown < most && complete; n--) {
        const struct spoken *spoken = line_of(intercom, n);
        char number[24];
        if (mat != NULL && strcmp(mat, spoken->mat) != 0)
            continue;
        snprintf(number, sizeof number, "%llu", (unsigned long long)n);
        complete = json_add(lines, number, spoken_json(spoken, mat == NULL));
        shown++;
    }
    return json_whole(lines, complete);
}

/* At once, to both ends; whoever is shown the booth's topic with a delay too. */
static void publish(struct service *service, const char *name)
{
    struct mat *mat = hall_mat(&service->hall, name);
    if (mat != NULL)
        mat->changed = true;
    views_change(service);
    service_publish(service);
    if (relay_state(service->relay, "gallery") != NULL)
        gallery_publish(service);
}

/* ---- what is said ---- */

static struct intercom_answer wrong(const struct problem *problem, const char *detail,
                                    const char *pointer)
{
    return (struct intercom_answer){.problem = problem, .detail = detail, .pointer = pointer};
}

static struct intercom_answer done(const char *what, uint64_t number, const json_t *message)
{
    struct intercom_answer answer = {.problem = NULL};
    json_t *said = json_pack("{s:I}", "talk", (json_int_t)number);
    const char *id = json_string_value(json_object_get(message, "id"));
    if (said != NULL && json_add_text(said, "id", id))
        answer.done = json_pack("{s:O}", what, said);
    json_decref(said);
    return answer.done != NULL ? answer : wrong(&problem_no_memory, NULL, NULL);
}

/* One line: 1 to 140 characters, none of them a control character (U+0000 to U+001F, U+007F). */
static bool is_line(const char *text)
{
    size_t characters = 0;
    for (; text != NULL && *text != '\0'; text++) {
        unsigned char byte = (unsigned char)*text;
        if (byte < 0x20 || byte == 0x7f)
            return false;
        characters += (byte & 0xc0) != 0x80;
    }
    return characters >= 1 && characters <= INTERCOM_CHARACTERS;
}

static void keep(struct service *service, const struct spoken *spoken)
{
    struct intercom *intercom = &service->intercom;
    struct spoken *line = &intercom->lines[intercom->count % INTERCOM_KEPT];
    *line = *spoken;
    line->number = ++intercom->count;
    line->at_ms = daytime_now(&service->daytime);
}

static struct intercom_answer take_say(struct service *service,
                                       const struct intercom_source *source, const json_t *message)
{
    const json_t *say = json_object_get(message, "say");
    const char *to = json_string_value(json_object_get(say, "to"));
    const char *mat = json_string_value(json_object_get(say, "mat"));
    const char *text = json_string_value(json_object_get(say, "text"));
    bool to_booth = to != NULL && strcmp(to, "booth") == 0;
    if (!to_booth && (to == NULL || strcmp(to, "gallery") != 0))
        return wrong(&problem_message, "say: to is booth or gallery", "/say/to");
    if (mat == NULL)
        return wrong(&problem_message, "say: mat, whose booth it is", "/say/mat");
    const struct problem *refusal = access_refusal(
        service, &source->grant, to_booth ? ACTION_SAY_TO_BOOTH : ACTION_SAY_TO_GALLERY, mat);
    if (refusal != NULL)
        return wrong(refusal, NULL, "/say");
    if (hall_mat(&service->hall, mat) == NULL)
        return wrong(&problem_not_found, "there is no such mat", "/say/mat");
    if (!is_line(text))
        return wrong(&problem_message, "say: text, one line of 1 to 140 characters", "/say/text");
    struct spoken spoken = {.to_booth = to_booth};
    snprintf(spoken.mat, sizeof spoken.mat, "%s", mat);
    snprintf(spoken.text, sizeof spoken.text, "%s", text);
    snprintf(spoken.by, sizeof spoken.by, "%s", source->by != NULL ? source->by : "");
    keep(service, &spoken);
    publish(service, mat);
    return done("said", service->intercom.count, message);
}

/* Who may say something to them acknowledges what they said. Of what isn't kept any more, whoever
 * may say anything is told so. */
static const struct problem *seen_refusal(struct service *service, const struct grant *grant,
                                          const struct spoken *spoken)
{
    if (spoken == NULL)
        return grant_allows(grant, ACTION_SAY_TO_BOOTH, NULL)
                   ? NULL
                   : access_refusal(service, grant, ACTION_SAY_TO_GALLERY, grant->mat);
    return access_refusal(service, grant,
                          spoken->to_booth ? ACTION_SAY_TO_GALLERY : ACTION_SAY_TO_BOOTH,
                          spoken->mat);
}

static struct intercom_answer take_seen(struct service *service,
                                        const struct intercom_source *source, const json_t *message)
{
    const json_t *seen = json_object_get(message, "seen");
    uint64_t number = json_is_integer(seen) ? (uint64_t)json_integer_value(seen) : 0;
    if (!json_is_integer(seen))
        return wrong(&problem_message, "seen: a number of the talk", "/seen");
    struct spoken *spoken = is_kept(&service->intercom, number)
                                ? &service->intercom.lines[(number - 1) % INTERCOM_KEPT]
                                : NULL;
    const struct problem *refusal = seen_refusal(service, &source->grant, spoken);
    if (refusal != NULL)
        return wrong(refusal, NULL, "/seen");
    if (spoken == NULL)
        return wrong(&problem_not_found, "nothing of that number was said lately", "/seen");
    if (spoken->seen_ms == 0) { /* once is enough */
        spoken->seen_ms = daytime_now(&service->daytime);
        publish(service, spoken->mat);
    }
    return done("seen", number, message);
}

struct intercom_answer intercom_take(struct service *service, const struct intercom_source *source,
                                     const json_t *message)
{
    if (json_object_get(message, "say") != NULL)
        return take_say(service, source, message);
    if (json_object_get(message, "seen") != NULL)
        return take_seen(service, source, message);
    return wrong(&problem_message, "say or seen is wanted", NULL);
}
