#include "service/talks.h"
#include <stdlib.h>
#include <string.h>
#include "service/intake_problem.h"
#include "service/service.h"
#include "wire/json.h"

enum {
    TALK_LINE_BYTES_MAX = 64 << 10,
    TALKERS_MAX = 256,
    FIRST_SECONDS = 10,
    SILENCE_SECONDS = 3600,
    UNSENT_SECONDS = 10,
};

struct owed {
    struct owed *next;
    struct talk *talk;
    size_t line;
    char *text; /* NULL: not known yet */
};

/* ---- answers, in the order of the lines ---- */

static struct owed *owe(struct talk *talk, size_t line)
{
    struct owed *owed = calloc(1, sizeof *owed);
    if (owed == NULL)
        return NULL;
    *owed = (struct owed){.talk = talk, .line = line};
    *talk->last = owed;
    talk->last = &owed->next;
    return owed;
}

static void owed_drop_first(struct talk *talk)
{
    struct owed *owed = talk->first;
    talk->first = owed->next;
    if (talk->first == NULL)
        talk->last = &talk->first;
    free(owed->text);
    free(owed);
}

/* Takes `answer`. What is known of answers from the first on is said. */
static void pay(struct owed *owed, json_t *answer)
{
    struct talk *talk = owed->talk;
    owed->text = answer != NULL ? json_line(answer) : NULL;
    json_decref(answer);
    if (owed->text == NULL) { /* no memory: better no connection than one answer left out */
        talk->ended = true;
        talker_end(talk->talker);
        return;
    }
    while (talk->first != NULL && talk->first->text != NULL) {
        if (!talk->ended)
            talker_answer(talk->talker, talk->first->text, strlen(talk->first->text));
        owed_drop_first(talk);
    }
}

static json_t *problem_line(const struct problem *problem, const char *detail, const char *pointer,
                            size_t line)
{
    return json_pack("{s:o}", "problem", problem_json(problem, detail, pointer, line, NULL));
}

void talk_end(struct talk *talk, const struct problem *problem, const char *detail)
{
    if (talk->ended)
        return;
    json_t *json = problem_line(problem, detail, NULL, 0);
    char *text = json != NULL ? json_line(json) : NULL;
    json_decref(json);
    if (text != NULL)
        talker_say(talk->talker, text, strlen(text));
    free(text);
    talk->ended = true;
    talker_end(talk->talker);
}

/* ---- who it is ---- */

struct grant talk_grant(const struct talk *talk)
{
    if (talk->holder != NULL)
        return (struct grant){talk->holder->role, talk->holder->mat};
    struct grant anybody = anybodys_grant(talk->service);
    bool local = anybody.role == ROLE_PUBLIC && talker_is_local(talk->talker);
    return local ? (struct grant){ROLE_TABLE, NULL} : anybody;
}

bool talk_is_listed(const struct talk *talk)
{
    return !talk->ended &&
           (talk->holder != NULL || talk->privileged || talker_is_local(talk->talker));
}

static void needs_key(struct owed *owed, const struct problem *problem)
{
    struct talk *talk = owed->talk;
    pay(owed, problem_line(problem, NULL, NULL, owed->line));
    talk->ended = true;
    talker_end(talk->talker);
}

static void greet(struct owed *owed)
{
    struct grant grant = talk_grant(owed->talk);
    pay(owed, hello_json(&grant, owed->talk->holder));
}

static void take_key(struct owed *owed, const char *text, size_t size)
{
    struct talk *talk = owed->talk;
    const struct key *key = NULL;
    switch (keys_knock(talk->service, text, size, &key)) {
    case KNOCK_OPENS:
        talk->holder = holder_new(key);
        if (talk->holder == NULL)
            pay(owed, NULL);
        else
            greet(owed);
        return;
    case KNOCK_UNKNOWN:
        if (talk->service->keys.needed)
            needs_key(owed, &problem_key_unknown);
        else /* of another day: here none is needed */
            greet(owed);
        return;
    case KNOCK_ENDED:
        needs_key(owed, &problem_key_ended);
        return;
    }
}

/* False: the line is no hello. */
static bool take_hello(struct owed *owed, const char *text, size_t size)
{
    struct complaint complaint;
    json_t *message = json_parse(text, size, &complaint);
    const json_t *hello = json_object_get(message, "hello"), *key = json_object_get(hello, "key");
    bool is_hello = hello != NULL;
    if (is_hello && (!json_is_object(hello) || (key != NULL && !json_is_string(key))))
        pay(owed, problem_line(&problem_message, "hello: an object, its key a text", "/hello",
                               owed->line));
    else if (key != NULL)
        take_key(owed, json_string_value(key), json_string_length(key));
    else if (is_hello)
        greet(owed);
    json_decref(message);
    return is_hello;
}

/* ---- events ---- */

static void event_answer(void *who, const struct intake_answer *answer)
{
    struct owed *owed = who;
    if (answer->outcome == INTAKE_TAKEN)
        pay(owed, json_pack("{s:s, s:I}", "id", answer->items[0].id, "seq",
                            (json_int_t)answer->items[0].seq));
    else
        pay(owed, json_pack("{s:o}", "problem", intake_problem_json(answer, owed->line)));
}

static void take_event(struct owed *owed, const char *text, size_t size)
{
    struct talk *talk = owed->talk;
    const struct intake_source source = {
        .by = talk->holder != NULL ? talk->holder->name : INTAKE_ANYONE,
        .grant = talk_grant(talk),
        .source = source_name(talk->service, talk->holder, talker_address(talk->talker)),
        .answer = event_answer,
        .who = owed,
    };
    if (source.grant.role == ROLE_PUBLIC) {
        needs_key(owed, &problem_key_needed);
        return;
    }
    talk->privileged = true;
    intake_take(talk->service, &source, text, size, false);
}

static void on_line(void *context, struct talker *talker, size_t number, const char *text,
                    size_t size)
{
    struct talk *talk = talker_context(talker);
    (void)context;
    if (line_is_blank(text, size)) { /* a sign of life */
        talker_needs_no_answer(talker);
        return;
    }
    bool first = !talk->greeted;
    struct owed *owed = owe(talk, number);
    talk->greeted = true;
    if (owed == NULL) {
        talk->ended = true;
        talker_end(talker);
    } else if (!first || !take_hello(owed, text, size)) {
        take_event(owed, text, size);
    }
}

/* ---- coming and going ---- */

static void on_opened(void *context, struct talker *talker)
{
    struct service *service = context;
    struct talk *talk = calloc(1, sizeof *talk);
    talker_set_context(talker, talk);
    if (talk == NULL) {
        talker_end(talker);
        return;
    }
    *talk = (struct talk){.service = service,
                          .talker = talker,
                          .number = ++service->client_count,
                          .since_ms = daytime_now(&service->daytime),
                          .next = service->talks,
                          .link = &service->talks};
    talk->last = &talk->first;
    if (talk->next != NULL)
        talk->next->link = &talk->next;
    service->talks = talk;
}

static void on_ending(void *context, struct talker *talker, enum talk_end why)
{
    static const char *const words[] = {
        [TALK_TOO_LONG] = "a line of more than 65536 bytes",
        [TALK_UNENDED] = "a line that wasn't ended within 10 seconds",
        [TALK_SILENT] = "nothing was said for an hour",
        [TALK_UNREAD] = "answers weren't read for 10 seconds",
        [TALK_TOO_MANY] = "too many send lines already",
        [TALK_STOPPING] = NULL,
    };
    struct talk *talk = talker_context(talker);
    (void)context;
    if (talk != NULL)
        talk_end(talk, why == TALK_STOPPING ? &problem_draining : &problem_let_go, words[why]);
}

static void on_closed(void *context, struct talker *talker)
{
    struct talk *talk = talker_context(talker);
    struct service *service = context;
    if (talk == NULL)
        return;
    for (struct owed *owed = talk->first; owed != NULL; owed = owed->next)
        intake_forget(service, owed);
    while (talk->first != NULL)
        owed_drop_first(talk);
    *talk->link = talk->next;
    if (talk->next != NULL)
        talk->next->link = talk->link;
    holder_free(talk->holder);
    free(talk);
}

void talks_recheck(struct service *service)
{
    int64_t silent_ms = daytime_now(&service->daytime) - FIRST_SECONDS * INT64_C(1000);
    for (struct talk *talk = service->talks, *next; talk != NULL; talk = next) {
        next = talk->next;
        bool public = talk_grant(talk).role == ROLE_PUBLIC;
        if (talk->holder != NULL && holder_has_ended(service, talk->holder))
            talk_end(talk, &problem_key_ended, NULL);
        else if (public && (talk->privileged || (!talk->greeted && talk->since_ms <= silent_ms)))
            talk_end(talk, &problem_key_needed, NULL);
    }
}

/* ---- where ---- */

static bool refused(struct service *service, const struct talking *talking, const char *reason)
{
    report(&service->report, REPORT_ERROR, "can't take lines", "at=%s port=%d reason=\"%s\"",
           talking->is_unix ? talking->path : talking->tcp.host, talking->tcp.port, reason);
    return false;
}

bool talks_start(struct service *service)
{
    const struct service_options *options = &service->options;
    const struct talkers_options how = {
        .listen = options->lines,
        .listen_count = options->lines_count,
        .mode = options->lines_mode,
        .line_bytes_max = TALK_LINE_BYTES_MAX,
        .talkers_max = TALKERS_MAX,
        .first_seconds = FIRST_SECONDS,
        .silence_seconds = SILENCE_SECONDS,
        .unsent_seconds = UNSENT_SECONDS,
    };
    const struct talkers_callbacks callbacks = {.context = service,
                                                .opened = on_opened,
                                                .line = on_line,
                                                .ending = on_ending,
                                                .closed = on_closed};
    char reason[TALKERS_REASON_SIZE];
    size_t failed = 0;
    if (options->lines_count == 0)
        return true;
    for (size_t i = 0; i < options->lines_count; i++) {
        const char *refusal =
            options->lines[i].is_unix
                ? NULL
                : listening_refusal(options->lines[i].tcp.host, keys_any_opens(service), false,
                                    options->plain_text_network);
        if (refusal != NULL)
            return refused(service, &options->lines[i], refusal);
    }
    if (talkers_start(&service->talkers, &service->loop, &how, &callbacks, &failed, reason) == 0)
        return true;
    return refused(service, &options->lines[failed], reason);
}

int talks_port(const struct service *service, size_t i)
{
    return talkers_port(service->talkers, i);
}
