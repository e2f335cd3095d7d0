#include "service/messages.h"
#include <stdlib.h>
#include <string.h>
#include "service/shows.h"
#include "wire/json.h"
#include "wire/problem_json.h"
#include "wire/state_json.h"

enum { SUBSCRIPTIONS_MAX = 64 };

static void send_problem(struct client *client, const struct problem *problem, const char *detail,
                         const char *pointer, const char *id)
{
    client_send(client,
                json_pack("{s:o}", "problem", problem_json(problem, detail, pointer, 0, id)));
}

/* ---- events ---- */

static void event_answer(void *who, const struct intake_answer *answer)
{
    struct client *client = who;
    switch (answer->outcome) {
    case INTAKE_TAKEN:
        client_send(client, json_pack("{s:{s:s, s:I}}", "ack", "id", answer->items[0].id, "seq",
                                      (json_int_t)answer->items[0].seq));
        return;
    case INTAKE_REFUSED: {
        struct problem problem = problem_of_refusal(answer->complaint->why);
        send_problem(client, &problem, answer->complaint->detail, answer->complaint->pointer,
                     answer->id);
        return;
    }
    case INTAKE_STOPPED:
        send_problem(client, &problem_stopped, answer->reason, NULL, answer->id);
        return;
    case INTAKE_BUSY:
        send_problem(client, &problem_busy, NULL, NULL, answer->id);
        return;
    case INTAKE_NO_MEMORY:
        send_problem(client, &problem_no_memory, NULL, NULL, answer->id);
        return;
    }
}

static void take_event(struct client *client, const json_t *event)
{
    struct intake_source source = {.by = "table", .answer = event_answer, .who = client};
    char *text = json_line(event);
    if (text == NULL) {
        send_problem(client, &problem_no_memory, NULL, NULL, NULL);
        return;
    }
    intake_take(client->service, &source, text, strlen(text), false);
    free(text);
}

/* ---- topics ---- */

static void subscribe_one(struct client *client, const json_t *wish)
{
    const char *topic = json_string_value(json_object_get(wish, "topic"));
    const char *epoch = json_string_value(json_object_get(wish, "epoch"));
    json_t *seq = json_object_get(wish, "seq");
    bool resumes = epoch != NULL && json_is_integer(seq) && json_integer_value(seq) >= 0;
    if (topic == NULL) {
        send_problem(client, &problem_message, "subscribe: each has a topic", "/subscribe", NULL);
        return;
    }
    if (!shows_ensure(client->service, topic)) {
        send_problem(client, &problem_topic, topic, "/subscribe", NULL);
        return;
    }
    if (follower_subscribe(client->follower, topic, resumes ? epoch : NULL,
                           resumes ? (unsigned long)json_integer_value(seq) : 0) != 0)
        send_problem(client, &problem_no_memory, topic, "/subscribe", NULL);
}

static void take_subscribe(struct client *client, const json_t *wishes)
{
    if (!json_is_array(wishes) || json_array_size(wishes) > SUBSCRIPTIONS_MAX) {
        send_problem(client, &problem_message, "subscribe: an array of at most 64 topics",
                     "/subscribe", NULL);
        return;
    }
    for (size_t i = 0; i < json_array_size(wishes); i++)
        subscribe_one(client, json_array_get(wishes, i));
}

static void take_unsubscribe(struct client *client, const json_t *topics)
{
    for (size_t i = 0; i < json_array_size(topics); i++) {
        const char *topic = json_string_value(json_array_get(topics, i));
        if (topic != NULL)
            follower_unsubscribe(client->follower, topic);
    }
}

/* ---- the clock: the client makes its offset of the four times ---- */

static void take_clock(struct client *client, const json_t *clock, int64_t received_ms)
{
    json_t *sent = json_object_get(clock, "t0_ms");
    if (!json_is_number(sent)) {
        send_problem(client, &problem_message, "clock: t0_ms is wanted", "/clock", NULL);
        return;
    }
    json_t *answer =
        json_pack("{s:{s:O, s:I, s:I}}", "clock", "t0_ms", sent, "t1_ms", (json_int_t)received_ms,
                  "t2_ms", (json_int_t)daytime_now(&client->service->daytime));
    client_send(client, answer);
}

static void take_object(struct client *client, const json_t *message, int64_t received_ms)
{
    const json_t *part;
    if ((part = json_object_get(message, "event")) != NULL)
        take_event(client, part);
    else if ((part = json_object_get(message, "subscribe")) != NULL)
        take_subscribe(client, part);
    else if ((part = json_object_get(message, "unsubscribe")) != NULL)
        take_unsubscribe(client, part);
    else if ((part = json_object_get(message, "clock")) != NULL)
        take_clock(client, part, received_ms);
    else if (json_object_get(message, "hello") == NULL)
        send_problem(client, &problem_message,
                     "hello, subscribe, unsubscribe, event or clock is wanted", NULL, NULL);
}

void messages_take(struct client *client, const char *text, size_t size)
{
    int64_t received_ms = daytime_now(&client->service->daytime);
    struct complaint complaint;
    struct problem problem = problem_of_refusal(REFUSED_NOT_JSON);
    json_t *message = json_parse(text, size, &complaint);
    if (json_is_object(message))
        take_object(client, message, received_ms);
    else if (message == NULL && complaint.why == ACCEPTED)
        send_problem(client, &problem_no_memory, NULL, NULL, NULL);
    else
        send_problem(client, &problem,
                     message != NULL ? "a message is one JSON object" : complaint.detail, NULL,
                     NULL);
    json_decref(message);
}
