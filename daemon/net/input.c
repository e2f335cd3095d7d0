/* What the client of a WebSocket sends: read here, and not by lws, whose reader lets pass what RFC
 * 6455 forbids and hides it (reader.h). lws keeps the socket, and what is written.
 *
 * lws is kept from reading for good, and a second descriptor of the socket is watched, because
 * libuv watches a descriptor once and lws has that. What comes is given to reader.c and from there
 * to connection.c. Ways to fail: the client goes, or the socket breaks (it is let go at once), or
 * it breaks the rules (connection_fault; what it still sends is thrown away until it goes). */
#include "net/client.h"
#include <errno.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <unistd.h>

struct input {
    uv_poll_t arrived;
    struct connection *connection; /* NULL: it has ended, and this memory waits for its handle */
    struct client *client;
    struct reader reader;
    int socket;
    bool deaf;
};

static void on_input_closed(uv_handle_t *handle)
{
    free(handle->data);
}

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

static void on_arrived(uv_poll_t *arrived, int status, int events)
{
    struct input *input = arrived->data;
    struct net *net = input->client->net;
    (void)events;
    ssize_t size = status < 0 ? 0 : recv(input->socket, net->arrived, sizeof net->arrived, 0);
    if (size < 0 && (errno == EAGAIN || errno == EINTR))
        return;
    if (size <= 0) {
        uv_poll_stop(arrived);
        client_kill(input->client);
        return;
    }
    connection_heard(input->connection);
    if (!input->deaf)
        bytes_take(input, net->arrived, (size_t)size);
}

static int input_watch(struct input *input, uv_loop_t *loop)
{
    input->socket = dup(lws_get_socket_fd(input->client->wsi));
    if (input->socket < 0)
        return -errno;
    int error = uv_poll_init_socket(loop, &input->arrived, input->socket);
    if (error != 0)
        close(input->socket);
    return error;
}

struct input *input_start(struct client *client, struct connection *connection)
{
    struct net *net = client->net;
    struct input *input = calloc(1, sizeof *input);
    if (input == NULL)
        return NULL;
    input->client = client;
    input->connection = connection;
    input->arrived.data = input;
    reader_init(&input->reader, net->options.message_bytes_max);
    if (input_watch(input, net->loop) != 0) {
        free(input);
        return NULL;
    }
    if (uv_poll_start(&input->arrived, UV_READABLE, on_arrived) != 0) {
        input_stop(input);
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
    input->connection = NULL;
    uv_poll_stop(&input->arrived);
    close(input->socket);
    uv_close((uv_handle_t *)&input->arrived, on_input_closed);
}
