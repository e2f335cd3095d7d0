#include "relay/relay.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include <limits.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>
#include "wire/merge_patch.h"

#define EPOCH "5f0c.1a"

static char callbacks_context; /* its address is the context that `send` must get */

/* ---- a client that keeps what it is sent ---- */

enum { SENT_MAX = 400 };

struct client {
    struct follower *follower;
    struct frame *sent[SENT_MAX];
    size_t sent_count;
    bool full; /* refuses frames */
    void (*on_frame)(struct client *client);
    struct client *other;
    struct relay *relay;
};

static bool take(void *context, void *client_given, struct frame *frame)
{
    struct client *client = client_given;
    cr_assert(eq(ptr, context, &callbacks_context));
    if (client->full)
        return false;
    cr_assert(lt(sz, client->sent_count, SENT_MAX));
    client->sent[client->sent_count++] = frame_keep(frame);
    if (client->on_frame != NULL)
        client->on_frame(client);
    return true;
}

static struct relay *relay_of_test(void)
{
    struct relay_callbacks callbacks = {.context = &callbacks_context, .send = take};
    struct relay *relay = relay_new(EPOCH, &callbacks);
    cr_assert(ne(ptr, relay, NULL));
    return relay;
}

static void client_begin(struct client *client, struct relay *relay, enum follower_form form)
{
    *client = (struct client){.relay = relay};
    client->follower = follower_new(relay, form, client);
    cr_assert(ne(ptr, client->follower, NULL));
}

static void client_forget(struct client *client)
{
    for (size_t i = 0; i < client->sent_count; i++)
        frame_release(client->sent[i]);
    client->sent_count = 0;
}

static void client_end(struct client *client)
{
    client_forget(client);
    follower_free(client->follower);
}

static void publish(struct relay *relay, const char *topic, const char *text)
{
    json_t *state = json_loads(text, JSON_REJECT_DUPLICATES, NULL);
    cr_assert(ne(ptr, state, NULL), "%s is JSON", text);
    cr_assert(eq(int, relay_publish(relay, topic, state), 0));
    json_decref(state);
}

static void publish_number(struct relay *relay, const char *topic, unsigned long number)
{
    char text[40];
    snprintf(text, sizeof text, "{\"n\":%lu}", number);
    publish(relay, topic, text);
}

static void expect_text(const struct frame *frame, const char *text)
{
    cr_expect(strcmp(frame->text, text) == 0, "sent %s instead of %s", frame->text, text);
    cr_expect(eq(sz, frame->size, strlen(text)), "the size of %s", text);
}

static void expect_sent(struct client *client, size_t index, const char *text)
{
    cr_assert(lt(sz, index, client->sent_count), "message %zu was sent: %s", index, text);
    expect_text(client->sent[index], text);
}

#define SNAPSHOT(seq, state)                                                                       \
    "{\"epoch\":\"" EPOCH "\",\"seq\":" #seq ",\"state\":" state ",\"topic\":\"t\"}"
#define PATCH(from, seq, patch)                                                                    \
    "{\"epoch\":\"" EPOCH "\",\"from\":" #from ",\"patch\":" patch ",\"seq\":" #seq                \
    ",\"topic\":\"t\"}"

/* ---- what is sent ---- */

static bool is_of_mat(const char *topic)
{
    return strncmp(topic, "mat/", 4) == 0;
}

Test(relay, snapshot_first_then_patches)
{
    struct relay *relay = relay_of_test();
    struct client client;
    client_begin(&client, relay, FOLLOWER_WEBSOCKET);
    publish(relay, "t", "{\"b\":{\"x\":1,\"w\":\"\\u00e4\"},\"a\":[1]}");
    cr_expect(eq(int, follower_subscribe(client.follower, "t", NULL, 0), 0));
    publish(relay, "t", "{\"b\":{\"x\":2,\"w\":\"\\u00e4\"},\"a\":[1]}");
    publish(relay, "t", "{\"a\":[1]}");
    cr_assert(eq(sz, client.sent_count, 3));
    expect_sent(&client, 0, SNAPSHOT(1, "{\"a\":[1],\"b\":{\"w\":\"\xc3\xa4\",\"x\":1}}"));
    expect_sent(&client, 1, PATCH(1, 2, "{\"b\":{\"x\":2}}"));
    expect_sent(&client, 2, PATCH(2, 3, "{\"b\":null}"));
    client_end(&client);
    relay_free(relay);
}

Test(relay, event_streams_get_the_same_json_with_an_id)
{
    struct relay *relay = relay_of_test();
    struct client client;
    client_begin(&client, relay, FOLLOWER_EVENTS);
    publish(relay, "t", "{\"a\":1}");
    follower_subscribe(client.follower, "t", NULL, 0);
    publish(relay, "t", "{\"a\":\"line\\nfeed\"}");
    relay_beat(relay, NULL, "2027-05-08T10:00:00.000Z");
    cr_assert(eq(sz, client.sent_count, 3));
    expect_sent(&client, 0,
                "event: state\nid: " EPOCH "-1\ndata: " SNAPSHOT(1, "{\"a\":1}") "\n\n");
    expect_sent(&client, 1,
                "event: patch\nid: " EPOCH
                "-2\ndata: " PATCH(1, 2, "{\"a\":\"line\\nfeed\"}") "\n\n");
    expect_sent(&client, 2,
                "event: beat\ndata: {\"beat\":{\"now\":\"2027-05-08T10:00:00.000Z\"}}\n\n");
    client_end(&client);
    relay_free(relay);
}

Test(relay, publishing_the_same_sends_nothing)
{
    struct relay *relay = relay_of_test();
    struct client client;
    client_begin(&client, relay, FOLLOWER_WEBSOCKET);
    publish(relay, "t", "{\"a\":1,\"b\":{}}");
    follower_subscribe(client.follower, "t", NULL, 0);
    publish(relay, "t", "{\"b\":{},\"a\":1}");
    cr_expect(eq(sz, client.sent_count, 1));
    client_end(&client);
    relay_free(relay);
}

Test(relay, a_message_is_encoded_once_for_all)
{
    struct relay *relay = relay_of_test();
    struct client clients[6];
    publish(relay, "t", "{\"a\":1}");
    for (size_t i = 0; i < 6; i++) {
        client_begin(&clients[i], relay, i < 3 ? FOLLOWER_WEBSOCKET : FOLLOWER_EVENTS);
        follower_subscribe(clients[i].follower, "t", NULL, 0);
    }
    publish(relay, "t", "{\"a\":2}");
    for (size_t message = 0; message < 2; message++)
        for (size_t i = 0; i < 6; i++)
            cr_expect(eq(ptr, clients[i].sent[message], clients[i < 3 ? 0 : 3].sent[message]),
                      "client %zu, message %zu", i, message);
    cr_expect(eq(ptr, relay_snapshot(relay, "t"), relay_snapshot(relay, "t")));
    for (size_t i = 0; i < 6; i++)
        client_end(&clients[i]);
    relay_free(relay);
}

Test(relay, topics_are_apart)
{
    struct relay *relay = relay_of_test();
    struct client client;
    client_begin(&client, relay, FOLLOWER_WEBSOCKET);
    publish(relay, "t", "{\"a\":1}");
    publish(relay, "u", "{\"a\":2}");
    cr_expect(eq(int, follower_subscribe(client.follower, "v", NULL, 0), UV_ENOENT));
    follower_subscribe(client.follower, "t", NULL, 0);
    publish(relay, "u", "{\"a\":3}");
    cr_expect(eq(sz, client.sent_count, 1), "follows t alone");
    follower_unsubscribe(client.follower, "u");
    follower_unsubscribe(client.follower, "nowhere");
    follower_unsubscribe(client.follower, "t");
    publish(relay, "t", "{\"a\":4}");
    cr_expect(eq(sz, client.sent_count, 1), "follows nothing");
    cr_expect(eq(int, (int)json_integer_value(json_object_get(relay_state(relay, "u"), "a")), 3));
    cr_expect(eq(ptr, relay_state(relay, "v"), NULL));
    cr_expect(eq(ptr, relay_snapshot(relay, "v"), NULL));
    expect_text(relay_snapshot(relay, "t"), SNAPSHOT(2, "{\"a\":4}"));
    client_end(&client);
    relay_free(relay);
}

/* ---- resuming ---- */

struct resume_row {
    char name[40];
    unsigned long versions; /* published before the client comes */
    char epoch[16];
    unsigned long seq;
    bool snapshot; /* else patches: `count` of them, the first from `seq` */
    size_t count;
};

ParameterizedTestParameters(relay, resume)
{
    static struct resume_row rows[] = {
        {"two missed", 5, EPOCH, 3, false, 2},
        {"nothing missed: an empty patch", 5, EPOCH, 5, false, 1},
        {"nothing missed of one version", 1, EPOCH, 1, false, 1},
        {"all but the first version", 5, EPOCH, 1, false, 4},
        {"no version known", 5, EPOCH, 0, true, 1},
        {"a version to come", 5, EPOCH, 6, true, 1},
        {"the last number that there is", 5, EPOCH, ULONG_MAX, true, 1},
        {"another epoch", 5, "5f0c.1b", 3, true, 1},
        {"another epoch, nothing missed", 5, "5f0c", 5, true, 1},
        {"the oldest patch is kept", RELAY_VERSIONS_MAX + 40, EPOCH, 40, false, RELAY_VERSIONS_MAX},
        {"the oldest patch is gone", RELAY_VERSIONS_MAX + 40, EPOCH, 39, true, 1},
    };
    return cr_make_param_array(struct resume_row, rows, sizeof rows / sizeof *rows);
}

/* From version `from` to the next, of a topic whose number is its version. */
static void expect_patch(struct client *client, size_t index, unsigned long from)
{
    char text[200];
    snprintf(text, sizeof text,
             "{\"epoch\":\"" EPOCH "\",\"from\":%lu,\"patch\":{\"n\":%lu},\"seq\":%lu,"
             "\"topic\":\"t\"}",
             from, from + 1, from + 1);
    expect_sent(client, index, text);
}

static void expect_nothing_missed(struct client *client, unsigned long seq)
{
    char text[200];
    snprintf(text, sizeof text,
             "{\"epoch\":\"" EPOCH "\",\"from\":%lu,\"patch\":{},\"seq\":%lu,\"topic\":\"t\"}", seq,
             seq);
    expect_sent(client, 0, text);
}

ParameterizedTest(struct resume_row *row, relay, resume)
{
    struct relay *relay = relay_of_test();
    struct client client;
    client_begin(&client, relay, FOLLOWER_WEBSOCKET);
    for (unsigned long seq = 1; seq <= row->versions; seq++)
        publish_number(relay, "t", seq);
    cr_expect(eq(int, follower_subscribe(client.follower, "t", row->epoch, row->seq), 0));
    cr_assert(eq(sz, client.sent_count, row->count), "%s", row->name);
    if (row->snapshot)
        expect_text(client.sent[0], relay_snapshot(relay, "t")->text);
    else if (row->seq == row->versions)
        expect_nothing_missed(&client, row->seq);
    else
        for (size_t i = 0; i < row->count; i++)
            expect_patch(&client, i, row->seq + i);
    client_forget(&client);
    publish_number(relay, "t", row->versions + 1);
    expect_patch(&client, 0, row->versions);
    client_end(&client);
    relay_free(relay);
}

Test(relay, history_is_bounded_in_bytes_too)
{
    enum { TEXT_SIZE = 300000 };
    struct relay *relay = relay_of_test();
    struct client client;
    client_begin(&client, relay, FOLLOWER_EVENTS);
    char *text = malloc(TEXT_SIZE + 1);
    for (int seq = 1; seq <= 6; seq++) {
        memset(text, 'a' + seq, TEXT_SIZE);
        text[TEXT_SIZE] = '\0';
        json_t *state = json_pack("{s:s}", "text", text);
        relay_publish(relay, "t", state);
        json_decref(state);
    }
    follower_subscribe(client.follower, "t", EPOCH, 3); /* three of 300,000 are kept, not four */
    cr_expect(eq(sz, client.sent_count, 3));
    cr_expect(eq(int, strncmp(client.sent[0]->text, "event: patch", 12), 0));
    client_forget(&client);
    follower_subscribe(client.follower, "t", EPOCH, 2);
    cr_assert(eq(sz, client.sent_count, 1));
    cr_expect(eq(int, strncmp(client.sent[0]->text, "event: state", 12), 0));
    free(text);
    client_end(&client);
    relay_free(relay);
}

static bool is_t(const char *topic)
{
    return strcmp(topic, "t") == 0;
}

Test(relay, what_is_forgotten_is_given_to_nobody)
{
    struct relay *relay = relay_of_test();
    struct client clients[3];
    for (size_t i = 0; i < 3; i++)
        client_begin(&clients[i], relay, FOLLOWER_WEBSOCKET);
    publish(relay, "t", "{\"n\":\"Ada\"}");
    publish(relay, "u", "{\"n\":1}");
    publish(relay, "t", "{\"n\":\"Eva\"}");
    publish(relay, "u", "{\"n\":2}");
    relay_forget(relay, is_t);
    publish(relay, "t", "{\"n\":\"AB\"}");
    follower_subscribe(clients[0].follower, "t", EPOCH, 1);
    expect_sent(&clients[0], 0, SNAPSHOT(3, "{\"n\":\"AB\"}"));
    follower_subscribe(clients[1].follower, "t", EPOCH, 2);
    expect_sent(&clients[1], 0, PATCH(2, 3, "{\"n\":\"AB\"}"));
    follower_subscribe(clients[2].follower, "u", EPOCH, 1);
    cr_expect(strstr(clients[2].sent[0]->text, "\"patch\"") != NULL, "others keep theirs");
    for (size_t i = 0; i < 3; i++)
        client_end(&clients[i]);
    relay_free(relay);
}

Test(relay, a_patch_beyond_the_bound_still_reaches_its_followers)
{
    struct relay *relay = relay_of_test();
    struct client client;
    client_begin(&client, relay, FOLLOWER_WEBSOCKET);
    publish(relay, "t", "{}");
    follower_subscribe(client.follower, "t", NULL, 0);
    char *text = calloc(1, RELAY_HISTORY_BYTES_MAX + 100);
    memset(text, 'x', RELAY_HISTORY_BYTES_MAX + 99);
    json_t *state = json_pack("{s:s}", "text", text);
    relay_publish(relay, "t", state);
    cr_assert(eq(sz, client.sent_count, 2));
    cr_expect(ne(ptr, strstr(client.sent[1]->text, "\"from\":1"), NULL));
    json_decref(state);
    free(text);
    client_end(&client);
    relay_free(relay);
}

Test(relay, following_twice_starts_anew)
{
    struct relay *relay = relay_of_test();
    struct client client;
    client_begin(&client, relay, FOLLOWER_WEBSOCKET);
    publish_number(relay, "t", 1);
    publish_number(relay, "t", 2);
    follower_subscribe(client.follower, "t", NULL, 0);
    follower_subscribe(client.follower, "t", EPOCH, 1);
    publish_number(relay, "t", 3);
    cr_assert(eq(sz, client.sent_count, 3), "each version once");
    expect_sent(&client, 0, SNAPSHOT(2, "{\"n\":2}"));
    expect_patch(&client, 1, 1);
    expect_patch(&client, 2, 2);
    client_end(&client);
    relay_free(relay);
}

/* ---- slow followers ---- */

Test(relay, a_slow_follower_gets_the_newest_snapshot)
{
    struct relay *relay = relay_of_test();
    struct client slow, quick;
    client_begin(&slow, relay, FOLLOWER_WEBSOCKET);
    client_begin(&quick, relay, FOLLOWER_WEBSOCKET);
    publish_number(relay, "t", 1);
    publish_number(relay, "u", 1);
    publish_number(relay, "w", 1);
    follower_subscribe(slow.follower, "t", NULL, 0);
    follower_subscribe(slow.follower, "u", NULL, 0);
    follower_subscribe(slow.follower, "w", NULL, 0);
    follower_subscribe(quick.follower, "t", NULL, 0);
    client_forget(&slow);
    slow.full = true;
    publish_number(relay, "t", 2); /* refused */
    slow.full = false;
    publish_number(relay, "t", 3);
    publish_number(relay, "u", 2);
    relay_beat(relay, NULL, "2027-05-08T10:00:00.000Z");
    cr_expect(eq(sz, slow.sent_count, 0), "nothing until it has caught up");
    cr_expect(eq(sz, quick.sent_count, 4), "the other had everything");
    follower_caught_up(slow.follower);
    cr_assert(eq(sz, slow.sent_count, 2), "t and u, but not w, of which it missed nothing");
    bool t_first = strstr(slow.sent[0]->text, "\"topic\":\"t\"") != NULL;
    expect_sent(&slow, t_first ? 0 : 1, SNAPSHOT(3, "{\"n\":3}"));
    cr_expect(ne(ptr, strstr(slow.sent[t_first ? 1 : 0]->text, "\"state\":{\"n\":2}"), NULL));
    follower_caught_up(slow.follower);
    cr_expect(eq(sz, slow.sent_count, 2), "once");
    publish_number(relay, "t", 4);
    expect_patch(&slow, 2, 3);
    client_end(&slow);
    client_end(&quick);
    relay_free(relay);
}

Test(relay, slow_again_while_catching_up)
{
    struct relay *relay = relay_of_test();
    struct client slow;
    client_begin(&slow, relay, FOLLOWER_EVENTS);
    publish_number(relay, "t", 1);
    slow.full = true;
    cr_expect(eq(int, follower_subscribe(slow.follower, "t", NULL, 0), 0), "follows all the same");
    follower_caught_up(slow.follower);
    slow.full = false;
    publish_number(relay, "t", 2);
    cr_expect(eq(sz, slow.sent_count, 0));
    follower_caught_up(slow.follower);
    expect_sent(&slow, 0, "event: state\nid: " EPOCH "-2\ndata: " SNAPSHOT(2, "{\"n\":2}") "\n\n");
    client_end(&slow);
    relay_free(relay);
}

Test(relay, slow_while_resuming_ends_in_a_snapshot)
{
    struct relay *relay = relay_of_test();
    struct client slow;
    client_begin(&slow, relay, FOLLOWER_WEBSOCKET);
    for (unsigned long n = 1; n <= 4; n++)
        publish_number(relay, "t", n);
    slow.full = true;
    follower_subscribe(slow.follower, "t", EPOCH, 4); /* refuses the empty patch */
    slow.full = false;
    follower_subscribe(slow.follower, "t", EPOCH, 2); /* still waits */
    cr_expect(eq(sz, slow.sent_count, 0));
    follower_caught_up(slow.follower);
    cr_assert(eq(sz, slow.sent_count, 1));
    expect_sent(&slow, 0, SNAPSHOT(4, "{\"n\":4}"));
    client_end(&slow);
    relay_free(relay);
}

/* ---- beats ---- */

Test(relay, one_beat_a_follower)
{
    struct relay *relay = relay_of_test();
    struct client both, one, none;
    client_begin(&both, relay, FOLLOWER_WEBSOCKET);
    client_begin(&one, relay, FOLLOWER_WEBSOCKET);
    client_begin(&none, relay, FOLLOWER_WEBSOCKET);
    publish_number(relay, "mat/A/booth", 1);
    publish_number(relay, "mat/A/table", 1);
    publish_number(relay, "day/booth", 1);
    follower_subscribe(both.follower, "mat/A/booth", NULL, 0);
    follower_subscribe(both.follower, "mat/A/table", NULL, 0);
    follower_subscribe(one.follower, "day/booth", NULL, 0);
    client_forget(&both);
    client_forget(&one);
    relay_beat(relay, is_of_mat, "2027-05-08T10:00:00.000Z");
    cr_assert(eq(sz, both.sent_count, 1));
    expect_sent(&both, 0, "{\"beat\":{\"now\":\"2027-05-08T10:00:00.000Z\"}}");
    cr_expect(eq(sz, one.sent_count, 0));
    relay_beat(relay, NULL, "2027-05-08T10:00:01.000Z");
    cr_expect(eq(sz, both.sent_count, 2));
    cr_expect(eq(sz, one.sent_count, 1));
    cr_expect(eq(sz, none.sent_count, 0), "follows nothing");
    client_end(&both);
    client_end(&one);
    client_end(&none);
    relay_free(relay);
}

/* ---- slices ---- */

Test(relay, slices_reach_everyone_in_order)
{
    enum { CLIENTS = 10 };
    struct relay *relay = relay_of_test();
    struct client clients[CLIENTS];
    publish_number(relay, "t", 1);
    for (size_t i = 0; i < CLIENTS; i++) {
        client_begin(&clients[i], relay, FOLLOWER_WEBSOCKET);
        follower_subscribe(clients[i].follower, "t", NULL, 0);
    }
    cr_expect(eq(int, relay_continue(relay), false), "nothing waits");
    relay_set_slice(relay, 4);
    publish_number(relay, "t", 2);
    size_t reached = 0;
    for (size_t i = 0; i < CLIENTS; i++)
        reached += clients[i].sent_count == 2;
    cr_expect(eq(sz, reached, 4));
    publish_number(relay, "t", 3); /* overtakes nobody */
    unsigned turns = 0;
    while (relay_continue(relay))
        turns++;
    cr_expect(eq(uint, turns, 1), "four at once, four more, then the last two");
    for (size_t i = 0; i < CLIENTS; i++) {
        cr_assert(eq(sz, clients[i].sent_count, 3), "client %zu", i);
        expect_patch(&clients[i], 1, 1);
        expect_patch(&clients[i], 2, 2);
        client_end(&clients[i]);
    }
    relay_free(relay);
}

enum { BATCHES_MAX = 16 };
static size_t batch_count, batches[BATCHES_MAX];

/* How many of each third of the clients have had `wanted` messages. */
static void count_reached(const struct client clients[], size_t count, size_t wanted,
                          size_t reached[3])
{
    reached[0] = reached[1] = reached[2] = 0;
    for (size_t i = 0; i < count; i++)
        reached[i % 3] += clients[i].sent_count >= wanted;
}

static void take_many(void *context, void *const clients[], size_t count, struct frame *frame,
                      bool taken[])
{
    for (size_t i = 0; i < count; i++)
        taken[i] = take(context, clients[i], frame);
    batches[batch_count++ % BATCHES_MAX] = count;
}

/* A bout's screen and two halls of followers. */
static bool is_patient(const char *topic)
{
    return topic[0] == 'f';
}

Test(relay, those_who_are_one_behind_are_given_it_together)
{
    enum { CLIENTS = 10 };
    struct relay_callbacks callbacks = {
        .context = &callbacks_context, .send = take, .send_to_many = take_many};
    struct relay *relay = relay_new(EPOCH, &callbacks);
    struct client clients[CLIENTS];
    publish_number(relay, "t", 1);
    for (size_t i = 0; i < CLIENTS; i++) {
        client_begin(&clients[i], relay, i < 6 ? FOLLOWER_WEBSOCKET : FOLLOWER_EVENTS);
        follower_subscribe(clients[i].follower, "t", NULL, 0);
    }
    cr_expect(eq(sz, batch_count, 0), "snapshots go to each alone");
    clients[3].full = clients[8].full = true;
    publish_number(relay, "t", 2);
    cr_expect(eq(sz, batch_count, 2), "a batch for each form");
    cr_expect(eq(sz, batches[0], 6));
    cr_expect(eq(sz, batches[1], 4));
    publish_number(relay, "t", 3);
    cr_expect(eq(sz, batches[2], 5), "without who couldn't take the last");
    cr_expect(eq(sz, batches[3], 3));
    for (size_t i = 0; i < CLIENTS; i++)
        cr_expect(eq(sz, clients[i].sent_count, i == 3 || i == 8 ? 1 : 3), "client %zu", i);
    clients[3].full = false;
    follower_caught_up(clients[3].follower);
    expect_sent(&clients[3], 1, SNAPSHOT(3, "{\"n\":3}"));
    publish_number(relay, "t", 4);
    cr_expect(eq(sz, batches[4], 6), "with it again");
    expect_patch(&clients[3], 2, 3);
    for (size_t i = 0; i < CLIENTS; i++)
        client_end(&clients[i]);
    relay_free(relay);
}

Test(relay, the_patient_have_theirs_after_the_others_and_in_turn)
{
    enum { CLIENTS = 30 };
    static const char *const topics[] = {"out", "f1", "f2"};
    struct relay_callbacks callbacks = {
        .context = &callbacks_context, .send = take, .is_patient = is_patient};
    struct relay *relay = relay_new(EPOCH, &callbacks);
    struct client clients[CLIENTS];
    relay_set_slice(relay, 4);
    for (size_t topic = 0; topic < 3; topic++)
        publish_number(relay, topics[topic], 1);
    for (size_t i = 0; i < CLIENTS; i++) {
        client_begin(&clients[i], relay, FOLLOWER_WEBSOCKET);
        follower_subscribe(clients[i].follower, topics[i % 3], NULL, 0);
    }
    publish_number(relay, "f1", 2);
    publish_number(relay, "f2", 2);
    publish_number(relay, "out", 2);
    size_t reached[3];
    count_reached(clients, CLIENTS, 2, reached);
    cr_expect(eq(sz, reached[0], 4));
    cr_expect(eq(sz, reached[1] + reached[2], 0), "nobody of the patient while it is published");
    relay_continue(relay);
    count_reached(clients, CLIENTS, 2, reached);
    cr_expect(eq(sz, reached[0], 8));
    cr_expect(eq(sz, reached[1] + reached[2], 4), "one of their topics a turn");
    relay_continue(relay);
    count_reached(clients, CLIENTS, 2, reached);
    cr_expect(eq(sz, reached[0], 10));
    cr_expect(eq(sz, reached[1], 4));
    cr_expect(eq(sz, reached[2], 4), "then the other's");
    while (relay_continue(relay))
        ;
    count_reached(clients, CLIENTS, 2, reached);
    for (size_t topic = 0; topic < 3; topic++)
        cr_expect(eq(sz, reached[topic], 10));
    for (size_t i = 0; i < CLIENTS; i++)
        client_end(&clients[i]);
    relay_free(relay);
}

/* ---- what may happen within `send` ---- */

static void leave(struct client *client)
{
    follower_unsubscribe(client->follower, "t");
}

static void free_both(struct client *client)
{
    follower_free(client->follower);
    follower_free(client->other->follower);
    client->follower = client->other->follower = NULL;
}

static void publish_more(struct client *client)
{
    unsigned long n =
        (unsigned long)json_integer_value(json_object_get(relay_state(client->relay, "t"), "n"));
    if (n < 300)
        publish_number(client->relay, "t", n + 1);
}

static void leave_and_return(struct client *client)
{
    client->on_frame = NULL;
    follower_unsubscribe(client->follower, "t");
    follower_subscribe(client->follower, "t", NULL, 0);
}

static void three_clients(struct relay *relay, struct client clients[3])
{
    publish_number(relay, "t", 1);
    for (size_t i = 0; i < 3; i++) {
        client_begin(&clients[i], relay, FOLLOWER_WEBSOCKET);
        follower_subscribe(clients[i].follower, "t", NULL, 0);
    }
}

static void three_clients_end(struct client clients[3])
{
    for (size_t i = 0; i < 3; i++)
        client_end(&clients[i]);
}

Test(relay, unsubscribed_within_send)
{
    struct relay *relay = relay_of_test();
    struct client clients[3];
    three_clients(relay, clients);
    for (size_t i = 0; i < 3; i++)
        clients[i].on_frame = leave;
    publish_number(relay, "t", 2);
    publish_number(relay, "t", 3);
    for (size_t i = 0; i < 3; i++)
        cr_expect(eq(sz, clients[i].sent_count, 2), "client %zu", i);
    three_clients_end(clients);
    relay_free(relay);
}

Test(relay, freed_within_send)
{
    for (size_t first = 0; first < 3; first++)
        for (size_t second = 0; second < 3; second++) {
            if (first == second)
                continue;
            struct relay *relay = relay_of_test();
            struct client clients[3];
            three_clients(relay, clients);
            clients[first].on_frame = free_both;
            clients[first].other = &clients[second];
            publish_number(relay, "t", 2);
            publish_number(relay, "t", 3);
            cr_expect(eq(sz, clients[first].sent_count, 2));
            cr_expect(le(sz, clients[second].sent_count, 2));
            cr_expect(eq(sz, clients[3 - first - second].sent_count, 3), "the third had all");
            three_clients_end(clients);
            relay_free(relay);
        }
}

Test(relay, published_within_send)
{
    struct relay *relay = relay_of_test();
    struct client clients[3];
    three_clients(relay, clients);
    clients[1].on_frame = publish_more; /* further than the history is long */
    publish_number(relay, "t", 2);
    for (size_t i = 0; i < 3; i++) {
        unsigned long seq = 1;
        for (size_t message = 1; message < clients[i].sent_count; message++, seq++)
            expect_patch(&clients[i], message, seq);
        cr_expect(eq(ulong, seq, 300), "client %zu had every version, each once", i);
    }
    three_clients_end(clients);
    relay_free(relay);
}

Test(relay, left_and_returned_within_send)
{
    struct relay *relay = relay_of_test();
    struct client clients[3];
    three_clients(relay, clients);
    clients[1].on_frame = leave_and_return;
    publish_number(relay, "t", 2);
    publish_number(relay, "t", 3);
    cr_assert(eq(sz, clients[1].sent_count, 4));
    expect_patch(&clients[1], 1, 1);
    expect_sent(&clients[1], 2, SNAPSHOT(2, "{\"n\":2}"));
    expect_patch(&clients[1], 3, 2);
    three_clients_end(clients);
    relay_free(relay);
}

static void free_self(struct client *client)
{
    follower_free(client->follower);
    client->follower = NULL;
}

Test(relay, freed_while_subscribing_and_catching_up)
{
    struct relay *relay = relay_of_test();
    struct client client;
    client_begin(&client, relay, FOLLOWER_WEBSOCKET);
    publish_number(relay, "t", 1);
    publish_number(relay, "u", 1);
    client.on_frame = free_self;
    follower_subscribe(client.follower, "t", NULL, 0);
    cr_expect(eq(sz, client.sent_count, 1));
    client_end(&client);

    client_begin(&client, relay, FOLLOWER_WEBSOCKET);
    client.full = true;
    follower_subscribe(client.follower, "t", NULL, 0);
    follower_subscribe(client.follower, "u", NULL, 0);
    client.full = false;
    client.on_frame = free_self;
    follower_caught_up(client.follower);
    cr_expect(eq(sz, client.sent_count, 1), "nothing after it was freed");
    client_end(&client);
    relay_free(relay);
}

/* ---- whatever happens: a model client ---- */

enum { HALL = 40, TOPICS = 3, STEPS = 400 };

static const char *const topic_names[TOPICS] = {"mat/A/follow", "mat/B/follow", "day/follow"};

struct viewer {
    struct follower *follower;
    json_t *states[TOPICS]; /* as put together from the messages; NULL: does not follow */
    unsigned long seqs[TOPICS];
    bool stalled;
};

static uint64_t random_state;
static struct viewer hall[HALL];
static struct relay *hall_relay;

static unsigned random_below(unsigned bound)
{
    random_state ^= random_state << 13;
    random_state ^= random_state >> 7;
    random_state ^= random_state << 17;
    return (unsigned)(random_state % bound);
}

static void viewer_forget(struct viewer *viewer, size_t topic)
{
    json_decref(viewer->states[topic]);
    viewer->states[topic] = NULL;
}

static void viewer_leave(struct viewer *viewer)
{
    follower_free(viewer->follower);
    viewer->follower = NULL;
    for (size_t topic = 0; topic < TOPICS; topic++)
        viewer_forget(viewer, topic);
}

static bool others_may_leave; /* not from within a batch */

static void viewer_take_state(struct viewer *viewer, json_t *message)
{
    size_t topic = 0;
    while (strcmp(json_string_value(json_object_get(message, "topic")), topic_names[topic]) != 0)
        topic++;
    unsigned long seq = (unsigned long)json_integer_value(json_object_get(message, "seq"));
    json_t *patch = json_object_get(message, "patch"), *state;
    if (patch != NULL) {
        cr_assert(ne(ptr, viewer->states[topic], NULL), "a patch comes after a state");
        json_t *from = json_object_get(message, "from");
        cr_assert(eq(ulong, (unsigned long)json_integer_value(from), viewer->seqs[topic]));
        state = merge_patch_apply(viewer->states[topic], patch);
    } else {
        state = json_incref(json_object_get(message, "state"));
    }
    viewer_forget(viewer, topic);
    viewer->states[topic] = state;
    viewer->seqs[topic] = seq;
}

static bool viewer_take(void *context, void *client, struct frame *frame)
{
    (void)context;
    struct viewer *viewer = client;
    cr_assert(not(viewer->stalled), "nothing is sent to the slow");
    if (random_below(20) == 0) {
        viewer->stalled = true;
        return false;
    }
    json_t *message = json_loads(frame->text, JSON_REJECT_DUPLICATES, NULL);
    cr_assert(ne(ptr, message, NULL));
    if (json_object_get(message, "beat") == NULL)
        viewer_take_state(viewer, message);
    json_decref(message);
    struct viewer *other = &hall[random_below(HALL)];
    if (others_may_leave && random_below(60) == 0 && other->follower != NULL)
        viewer_leave(other);
    return true;
}

static void viewers_take(void *context, void *const clients[], size_t count, struct frame *frame,
                         bool taken[])
{
    for (size_t i = 0; i < count; i++)
        taken[i] = viewer_take(context, clients[i], frame);
}

static void random_publication(void)
{
    json_t *state = json_object();
    for (int i = 0; i < 5; i++) {
        char name[8];
        snprintf(name, sizeof name, "m%u", random_below(8));
        json_object_set_new(state, name, json_integer(random_below(3)));
    }
    cr_assert(eq(int, relay_publish(hall_relay, topic_names[random_below(TOPICS)], state), 0));
    json_decref(state);
}

static void random_visit(struct viewer *viewer)
{
    size_t topic = random_below(TOPICS);
    if (viewer->follower == NULL) {
        viewer->stalled = false;
        viewer->follower = follower_new(hall_relay, FOLLOWER_WEBSOCKET, viewer);
    } else if (viewer->stalled) {
        viewer->stalled = false;
        follower_caught_up(viewer->follower);
    } else if (viewer->states[topic] == NULL) {
        follower_subscribe(viewer->follower, topic_names[topic], NULL, 0);
    } else if (random_below(2) == 0) {
        follower_unsubscribe(viewer->follower, topic_names[topic]);
        viewer_forget(viewer, topic);
    } else {
        follower_subscribe(viewer->follower, topic_names[topic], EPOCH, viewer->seqs[topic]);
    }
}

static void random_step(void)
{
    switch (random_below(8)) {
    case 0:
        relay_beat(hall_relay, random_below(2) ? is_of_mat : NULL, "2027-05-08T10:00:00.000Z");
        break;
    case 1:
        relay_continue(hall_relay);
        break;
    case 2:
    case 3:
        random_publication();
        break;
    default:
        random_visit(&hall[random_below(HALL)]);
    }
}

/* When everybody can take frames again, everybody has what the relay has. */
static void expect_all_equal(uint64_t seed)
{
    for (bool again = true; again;) {
        again = relay_continue(hall_relay);
        for (size_t i = 0; i < HALL; i++)
            if (hall[i].follower != NULL && hall[i].stalled) {
                hall[i].stalled = false;
                follower_caught_up(hall[i].follower);
                again = true;
            }
    }
    for (size_t i = 0; i < HALL; i++)
        for (size_t topic = 0; topic < TOPICS; topic++)
            if (hall[i].states[topic] != NULL)
                cr_assert(
                    json_equal(hall[i].states[topic], relay_state(hall_relay, topic_names[topic])),
                    "seed %lu, viewer %zu, topic %zu", (unsigned long)seed, i, topic);
}

Test(relay, everyone_ends_with_the_newest_state)
{
    for (uint64_t seed = 1; seed <= 60; seed++) {
        random_state = seed * 0x9E3779B97F4A7C15u;
        struct relay_callbacks callbacks = {.send = viewer_take};
        others_may_leave = seed % 3 != 0;
        if (!others_may_leave)
            callbacks.send_to_many = viewers_take;
        if (seed % 5 == 0)
            callbacks.is_patient = is_of_mat;
        hall_relay = relay_new(EPOCH, &callbacks);
        relay_set_slice(hall_relay, seed % 2 == 0 ? 0 : 1 + seed % 7);
        for (size_t topic = 0; topic < TOPICS; topic++)
            publish(hall_relay, topic_names[topic], "{}");
        for (size_t step = 0; step < STEPS; step++)
            random_step();
        expect_all_equal(seed);
        for (size_t i = 0; i < HALL; i++)
            viewer_leave(&hall[i]);
        relay_free(hall_relay);
    }
}

/* ---- without memory ---- */

static unsigned long allocation_count, allocations_until_failure;

static void *failing_malloc(size_t size)
{
    allocation_count++;
    if (allocations_until_failure != 0 && allocation_count >= allocations_until_failure)
        return NULL;
    return malloc(size);
}

static void memory_ends_after(unsigned long allocations)
{
    allocation_count = 0;
    allocations_until_failure = allocations + 1;
}

static void memory_is_back(void)
{
    allocations_until_failure = 0;
}

Test(relay, a_publication_without_memory_changes_nothing)
{
    json_set_alloc_funcs(failing_malloc, free);
    struct relay *relay = relay_of_test();
    struct client client;
    client_begin(&client, relay, FOLLOWER_EVENTS);
    publish(relay, "t", "{\"a\":{\"b\":1,\"c\":2},\"d\":1}");
    follower_subscribe(client.follower, "t", NULL, 0);
    json_t *before = relay_state(relay, "t");
    json_t *state = json_pack("{s:{s:i,s:i},s:s}", "a", "b", 1, "c", 3, "e", "new");
    unsigned long failures = 0;
    for (int code = UV_ENOMEM; code != 0; failures++) {
        memory_ends_after(failures);
        code = relay_publish(relay, "t", state);
        memory_is_back();
        if (code == 0)
            break;
        cr_assert(eq(int, code, UV_ENOMEM));
        cr_assert(eq(ptr, relay_state(relay, "t"), before), "allocation %lu", failures);
        cr_assert(eq(sz, client.sent_count, 1), "allocation %lu", failures);
    }
    cr_expect(lt(ulong, 5, failures), "memory did run out");
    expect_sent(&client, 1,
                "event: patch\nid: " EPOCH
                "-2\ndata: " PATCH(1, 2, "{\"a\":{\"c\":3},\"d\":null,\"e\":\"new\"}") "\n\n");
    json_decref(state);
    client_end(&client);
    relay_free(relay);
}

Test(relay, a_newcomer_without_memory_does_not_follow)
{
    json_set_alloc_funcs(failing_malloc, free);
    struct relay *relay = relay_of_test();
    struct client client;
    client_begin(&client, relay, FOLLOWER_WEBSOCKET);
    publish_number(relay, "t", 1);
    unsigned long failures = 0;
    for (int code = UV_ENOMEM; code != 0; failures++) {
        memory_ends_after(failures);
        code = follower_subscribe(client.follower, "t", NULL, 0);
        memory_is_back();
        if (code == 0)
            break;
        cr_assert(eq(int, code, UV_ENOMEM));
        publish_number(relay, "t", failures + 2);
        cr_assert(eq(sz, client.sent_count, 0), "allocation %lu", failures);
    }
    cr_expect(lt(ulong, 3, failures), "memory did run out");
    cr_expect(eq(sz, client.sent_count, 1));
    client_end(&client);
    relay_free(relay);
}

Test(relay, a_follower_whose_frame_had_no_memory_catches_up_with_the_next_version)
{
    json_set_alloc_funcs(failing_malloc, free);
    struct relay *relay = relay_of_test();
    struct client client;
    client_begin(&client, relay, FOLLOWER_WEBSOCKET);
    publish_number(relay, "t", 1);
    follower_subscribe(client.follower, "t", NULL, 0);
    client.full = true;
    publish_number(relay, "t", 2);
    client.full = false;
    memory_ends_after(0);
    follower_caught_up(client.follower);
    relay_beat(relay, NULL, "2027-05-08T10:00:00.000Z");
    memory_is_back();
    cr_expect(eq(sz, client.sent_count, 1), "no snapshot and no beat could be made");
    publish_number(relay, "t", 3);
    cr_assert(eq(sz, client.sent_count, 2));
    expect_sent(&client, 1, SNAPSHOT(3, "{\"n\":3}"));
    client_end(&client);
    relay_free(relay);
}
