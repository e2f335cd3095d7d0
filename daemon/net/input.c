/* What the client of a WebSocket sends: read here, and not by lws, whose reader lets pass what RFC
 * 6455 forbids and hides it (reader.h). lws keeps the socket, and what is written.
 *
 * lws is kept from reading for good. libuv watches a descriptor once, and lws has that: so all
 * these sockets are watched by an epoll set of our own, which libuv watches as one. What comes is
 * given to reader.c and from there to connection.c. Under TLS a record is read at a time, and there
 * is room for the largest: so nothing is ever left with OpenSSL of which the watch wouldn't tell.
 * Ways to fail: the client goes, or the socket breaks (it is let go at once), or it breaks the
 * rules (connection_fault; what it still sends is thrown away until it goes). */
#include "net/client.h"
#include <errno.h>
#include <stdlib.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <unistd.h>

struct input {
    struct connection *connection; /* NULL: it has ended, and this memory waits in `ended` */
    struct client *client;
    struct net *net;
    struct input *next_ended;
    struct reader reader;
    bool deaf;
};

/* False: nothing more is to be read of what has come. */
static bool piece_take(struct input *input, enum reading reading, const struct piece *piece)
{
    switch (reading) {
    case READ_NOTHING:
        return true;
    case READ_TEXT:
        connection_text(input->connection, piece->bytes, piece->size, piece->last);
        break;
    case READ_PING:
        connection_ping(input->connection, piece->bytes, piece->size);
        break;
    case READ_PONG: /* that something came has been noted */
        break;
    case READ_CLOSE:
        input->deaf = true;
        connection_peer_closes(input->connection, piece->code);
        break;
    case READ_FAULT:
        input->deaf = true;
        connection_fault(input->connection, piece->code, piece->why);
        break;
    }
    return input->connection != NULL && !input->deaf;
}

/* Any of the calls may end the connection. */
static void bytes_take(struct input *input, char *bytes, size_t size)
{
    while (size > 0) {
        struct piece piece = {0};
        size_t taken;
        enum reading reading = reader_take(&input->reader, bytes, size, &taken, &piece);
        if (!piece_take(input, reading, &piece))
            return;
        bytes += taken;
        size -= taken;
    }
}

static int watch_change(const struct net *net, int operation, int socket, struct input *input)
{
    struct epoll_event event = {.events = EPOLLIN, .data.ptr = input};
    return epoll_ctl(net->inputs.epoll, operation, socket, &event) == 0 ? 0 : -errno;
}

static void input_read(struct input *input)
{
    struct client *client = input->client;
    struct net *net = input->net;
    int socket = lws_get_socket_fd(client->wsi);
    ssize_t size = tls_read(lws_get_ssl(client->wsi), socket, net->arrived, sizeof net->arrived);
    if (size == UV_EAGAIN)
        return;
    if (size <= 0) {
        watch_change(net, EPOLL_CTL_DEL, socket, input);
        client_kill(client);
        return;
    }
    connection_heard(input->connection);
    if (!input->deaf)
        bytes_take(input, net->arrived, (size_t)size);
}

static void ended_free(struct inputs *inputs)
{
    while (inputs->ended != NULL) {
        struct input *input = inputs->ended;
        inputs->ended = input->next_ended;
        free(input);
    }
}

/* What is left is told of again in the next turn of the loop. */
static void on_arrived(uv_poll_t *arrived, int status, int happened)
{
    struct net *net = arrived->data;
    struct inputs *inputs = &net->inputs;
    struct epoll_event events[INPUTS_AT_ONCE];
    (void)status, (void)happened;
    int count = epoll_wait(inputs->epoll, events, INPUTS_AT_ONCE, 0);
    inputs->reading = net->busy = true;
    for (int i = 0; i < count; i++) {
        struct input *input = events[i].data.ptr;
        if (input->connection != NULL) /* one before it may have ended it */
            input_read(input);
    }
    inputs->reading = false;
    ended_free(inputs);
}

int inputs_open(struct net *net)
{
    struct inputs *inputs = &net->inputs;
    inputs->epoll = epoll_create1(EPOLL_CLOEXEC);
    if (inputs->epoll < 0)
        return -errno;
    inputs->arrived.data = net;
    int error = uv_poll_init(net->loop, &inputs->arrived, inputs->epoll);
    return error != 0 ? error : uv_poll_start(&inputs->arrived, UV_READABLE, on_arrived);
}

void inputs_close(struct net *net, uv_close_cb closed)
{
    uv_poll_stop(&net->inputs.arrived);
    close(net->inputs.epoll);
    uv_close((uv_handle_t *)&net->inputs.arrived, closed);
}

struct input *input_start(struct client *client, struct connection *connection)
{
    struct net *net = client->net;
    struct input *input = calloc(1, sizeof *input);
    if (input == NULL)
        return NULL;
    input->client = client;
    input->net = net;
    input->connection = connection;
    reader_init(&input->reader, net->options.message_bytes_max);
    if (watch_change(net, EPOLL_CTL_ADD, lws_get_socket_fd(client->wsi), input) != 0) {
        free(input);
        return NULL;
    }
    lws_rx_flow_control(client->wsi, LWS_RXFLOW_REASON_APPLIES_DISABLE |
                                         LWS_RXFLOW_REASON_USER_BOOL |
                                         LWS_RXFLOW_REASON_FLAG_PROCESS_NOW);
    return input;
}

void input_stop(struct input *input)
{
    if (input == NULL)
        return;
    struct inputs *inputs = &input->net->inputs;
    watch_change(input->net, EPOLL_CTL_DEL, lws_get_socket_fd(input->client->wsi), input);
    input->connection = NULL;
    input->next_ended = inputs->ended;
    inputs->ended = input;
    if (!inputs->reading)
        ended_free(inputs);
}
