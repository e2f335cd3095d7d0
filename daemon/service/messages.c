#include "service/messages.h"
#include <stdlib.h>
#include <string.h>
#include "service/gallery.h"
#include "service/intake_problem.h"
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

/* What needs a key is not asked for without one: the connection ends. */
static void refuse(struct client *client, const struct problem *problem, const char *detail,
                   const char *pointer, const char *id)
{
    send_problem(client, problem, detail, pointer, id);
    if (problem->status == 401)
        client_end(client, POLICY, problem->title);
}

/* ---- hello ---- */

static void answer_hello(struct client *client)
{
    struct grant grant = client_grant(client);
    client_send(client, hello_json(&grant, client->holder));
}

static void take_key(struct client *client, const char *text, size_t size)
{
    const struct key *key = NULL;
    switch (keys_knock(client->service, text, size, &key)) {
    case KNOCK_OPENS:
        if (client_take_key(client, key))
            answer_hello(client);
        else
            client_end(client, 1011, "out of memory");
        return;
    case KNOCK_UNKNOWN:
        if (!client->service->keys.needed) { /* of another day: here none is needed */
            answer_hello(client);
            return;
        }
        refuse(client, &problem_key_unknown, NULL, "/hello/key", NULL);
        return;
    case KNOCK_ENDED:
        refuse(client, &problem_key_ended, NULL, "/hello/key", NULL);
        return;
    }
}

/* A key comes with the first message or not at all: so nothing is half allowed. */
static void take_hello(struct client *client, const json_t *hello, bool first)
{
    const json_t *key = json_object_get(hello, "key");
    if (!json_is_object(hello) || (key != NULL && !json_is_string(key))) {
        send_problem(client, &problem_message, "hello: an object, its key a text", "/hello", NULL);
    } else if (key == NULL) {
        answer_hello(client);
    } else if (first) {
        take_key(client, json_string_value(key), json_string_length(key));
    } else {
        send_problem(client, &problem_message, "a key comes with the first message", "/hello/key",
                     NULL);
        client_end(client, POLICY, "a key comes with the first message");
    }
}

/* ---- events ---- */

static void event_answer(void *who, const struct intake_answer *answer)
{
    struct client *client = who;
    if (answer->outcome == INTAKE_TAKEN)
        client_send(client, json_pack("{s:{s:s, s:I}}", "ack", "id", answer->items[0].id, "seq",
                                      (json_int_t)answer->items[0].seq));
    else
        client_send(client, json_pack("{s:o}", "problem", intake_problem_json(answer, 0)));
}

static void take_event(struct client *client, const json_t *event)
{
    struct intake_source source = {
        .by = client->holder != NULL ? client->holder->name : INTAKE_ANYONE,
        .grant = client_grant(client),
        .source =
            source_name(client->service, client->holder, connection_address(client->connection)),
        .answer = event_answer,
        .who = client,
    };
    if (source.grant.role == ROLE_PUBLIC) {
        refuse(client, &problem_key_needed, NULL, "/event",
               json_string_value(json_object_get(event, "id")));
        return;
    }
    client->privileged = true;
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
    struct audience audience;
    struct grant grant = client_grant(client);
    if (topic == NULL) {
        send_problem(client, &problem_message, "subscribe: each has a topic", "/subscribe", NULL);
        return;
    }
    if (!audience_of(topic, &audience)) {
        send_problem(client, &problem_topic, topic, "/subscribe", NULL);
        return;
    }
    const struct problem *refusal =
        access_refusal(client->service, &grant, audience.action, audience.mat);
    if (refusal != NULL) {
        refuse(client, refusal, topic, "/subscribe", NULL);
        return;
    }
    if (client->came_late && client_is_viewer(client)) {
        send_problem(client, &problem_full, topic, "/subscribe", NULL);
        client_end(client, TRY_AGAIN_LATER, problem_full.title);
        return;
    }
    if (!shows_ensure(client->service, topic)) {
        send_problem(client, &problem_topic, topic, "/subscribe", NULL);
        return;
    }
    client_note(client, topic);
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
    for (size_t i = 0; i < json_array_size(wishes) && !client->ended; i++)
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

/* ---- producing ---- */

static void output_answer(void *who, const struct outputs_answer *answer)
{
    struct client *client = who;
    if (answer->done != NULL)
        client_send(client, json_pack("{s:O}", "done", answer->done));
    else
        send_problem(client, &answer->problem, answer->detail, answer->pointer, answer->id);
}

/* `id` is the sender's own, to know the answer by. */
static void produce(struct client *client, const char *name, const json_t *act, const char *id)
{
    const struct outputs_source source = {
        .by = client->holder != NULL ? client->holder->name : "",
        .id = id,
        .answer = output_answer,
        .who = client,
    };
    char *text = json_line(act);
    client->privileged = true;
    if (text != NULL)
        outputs_take(client->service, &source, name, text, strlen(text));
    else
        send_problem(client, &problem_no_memory, NULL, NULL, id);
    free(text);
}

static void take_output(struct client *client, const json_t *message)
{
    const char *name = json_string_value(json_object_get(message, "output"));
    const char *id = json_string_value(json_object_get(message, "id"));
    const json_t *act = json_object_get(message, "do");
    struct grant grant = client_grant(client);
    const struct problem *refusal = access_refusal(client->service, &grant, ACTION_PRODUCE, NULL);
    if (refusal != NULL)
        refuse(client, refusal, NULL, "/output", id);
    else if (name == NULL || !json_is_object(act))
        send_problem(client, &problem_message, "output: a name, and do: one action, are wanted",
                     name == NULL ? "/output" : "/do", id);
    else
        produce(client, name, act, id);
}

/* ---- cutting off ---- */

static void take_cut(struct client *client, const json_t *cut)
{
    const char *number = json_string_value(json_object_get(cut, "connected"));
    struct grant grant = client_grant(client);
    const struct problem *refusal = access_refusal(client->service, &grant, ACTION_CUT, NULL);
    if (refusal != NULL) {
        refuse(client, refusal, NULL, "/cut", NULL);
        return;
    }
    if (number == NULL) {
        send_problem(client, &problem_message, "cut: connected, a number of the gallery's topic",
                     "/cut", NULL);
        return;
    }
    if (gallery_cut(client->service, number))
        client_send(client, json_pack("{s:{s:s}}", "cut", "connected", number));
    else
        send_problem(client, &problem_not_found, "nobody of that number is connected",
                     "/cut/connected", NULL);
}

/* ---- between a booth and the gallery ---- */

static void take_talk(struct client *client, const json_t *message)
{
    const struct intercom_source source = {
        .grant = client_grant(client),
        .by = client->holder != NULL ? client->holder->name : NULL,
    };
    const char *id = json_string_value(json_object_get(message, "id"));
    struct intercom_answer answer = intercom_take(client->service, &source, message);
    if (answer.problem == NULL) {
        client->privileged = true;
        client_send(client, answer.done);
    } else if (answer.problem->status == 401) {
        refuse(client, answer.problem, answer.detail, answer.pointer, id);
    } else {
        send_problem(client, answer.problem, answer.detail, answer.pointer, id);
    }
}

static void take_object(struct client *client, const json_t *message, int64_t received_ms,
                        bool first)
{
    const json_t *part;
    if ((part = json_object_get(message, "hello")) != NULL)
        take_hello(client, part, first);
    else if ((part = json_object_get(message, "event")) != NULL)
        take_event(client, part);
    else if ((part = json_object_get(message, "subscribe")) != NULL)
        take_subscribe(client, part);
    else if ((part = json_object_get(message, "unsubscribe")) != NULL)
        take_unsubscribe(client, part);
    else if ((part = json_object_get(message, "clock")) != NULL)
        take_clock(client, part, received_ms);
    else if ((part = json_object_get(message, "cut")) != NULL)
        take_cut(client, part);
    else if (json_object_get(message, "output") != NULL)
        take_output(client, message);
    else if (json_object_get(message, "say") != NULL || json_object_get(message, "seen") != NULL)
        take_talk(client, message);
    else
        send_problem(client, &problem_message,
                     "hello, subscribe, unsubscribe, event, output, clock, cut, say or seen is "
                     "wanted",
                     NULL, NULL);
}

/* Whoever only follows has little to say. */
static bool says_too_much(struct client *client, int64_t now_ms)
{
    static const struct rate minute = {.a_second = 100 / 60.0, .burst = 100};
    struct grant grant = client_grant(client);
    if (grant.role != ROLE_PUBLIC && grant.role != ROLE_FOLLOW)
        return false;
    return bucket_take(&client->messages, &minute, 1, now_ms) > 0;
}

void messages_take(struct client *client, const char *text, size_t size)
{
    int64_t received_ms = daytime_now(&client->service->daytime);
    if (says_too_much(client, received_ms)) {
        static const char most[] = "100 messages a minute";
        send_problem(client, &problem_too_fast, most, NULL, NULL);
        client_end(client, POLICY, most);
        return;
    }
    struct complaint complaint;
    struct problem problem = problem_of_refusal(REFUSED_NOT_JSON);
    bool first = !client->greeted;
    client->greeted = true;
    json_t *message = json_parse(text, size, &complaint);
    if (json_is_object(message))
        take_object(client, message, received_ms, first);
    else if (message == NULL && complaint.why == ACCEPTED)
        send_problem(client, &problem_no_memory, NULL, NULL, NULL);
    else
        send_problem(client, &problem,
                     message != NULL ? "a message is one JSON object" : complaint.detail, NULL,
                     NULL);
    json_decref(message);
}
