/* A client that stays: a WebSocket or a stream, and what it still has to get.
 *
 * Normal course: a frame is written at once, in connection_send. What the kernel doesn't take of
 * it is sent when there is room: for a WebSocket lws keeps a copy of the rest, because it sends
 * frames of its own that must not come between; for a stream we keep our place in the frame. What
 * is sent after it waits here, as references, and leaves in connection_writable. Ways to fail: the
 * queue is full (false, and `drained` later), the client has gone or says nothing (it is let go),
 * or the daemon ends it: then what is queued goes first, and the close code after it, within
 * ENDING_MS. */
#include "net/client.h"
#include <assert.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/socket.h>

static_assert(FRAME_HEADROOM >= LWS_PRE, "lws writes a message's header there");

struct queued {
    struct queued *next;
    struct frame *frame;
};

/* First what a message to thousands looks at in each of them, so that little memory is fetched. */
struct connection {
    struct client *client;
    struct queued *first, **last;
    size_t partial_bytes; /* WebSocket: of the frame of which lws keeps the rest; 0: of none */
    uint64_t moved_ms;    /* when it last took something of what waits */
    int socket;
    enum connection_kind kind;
    bool encrypted; /* by TLS */
    bool refused;   /* connection_send has answered false since the queue was last empty */
    bool ending;    /* nothing more is queued */
    /* WebSocket: our close frame has been written; no other is waited for, or theirs has come. */
    bool close_sent, close_owed_none;
    bool broken;
    bool patient; /* connection_set_patient */
    void *context;
    size_t queued_bytes;
    size_t first_sent; /* stream: of the first one's bytes */
    char *message;     /* the pieces of a message under way */
    size_t message_size, message_room;
    char *close_reason;
    uint64_t heard_ms; /* WebSocket: of the client, anything */
    uint64_t due_ms;   /* the next ping, or comment */
    uint64_t end_by_ms;
    int close_code;
    struct input *input; /* WebSocket */
    struct frame *pong;  /* the newest answer that there was no room for; NULL: none */
};

static uint64_t ping_ms(const struct connection *connection)
{
    const struct net_options *options = &connection->client->net->options;
    return 1000 *
           (uint64_t)(connection->patient ? options->patient_ping_seconds : options->ping_seconds);
}

static uint64_t silence_max_ms(const struct connection *connection)
{
    const struct net_options *options = &connection->client->net->options;
    return 1000 * (uint64_t)(connection->patient ? options->patient_give_up_seconds
                                                 : options->give_up_seconds);
}

/* The first ping comes after a part of the time that differs from client to client, so that all
 * who came at once aren't pinged at once for ever. */
static uint64_t first_due(const struct connection *connection)
{
    static unsigned turn;
    uint64_t span = connection->kind == CONNECTION_WEBSOCKET ? ping_ms(connection) : COMMENT_MS;
    turn = (turn + 617) % 1024;
    return net_now(connection->client->net) + span / 2 + span * turn / 2048;
}

struct connection *connection_new(struct client *client, enum connection_kind kind)
{
    struct connection *connection = calloc(1, sizeof *connection);
    if (connection == NULL)
        return NULL;
    connection->client = client;
    connection->kind = kind;
    connection->last = &connection->first;
    connection->heard_ms = connection->moved_ms = net_now(client->net);
    connection->due_ms = first_due(connection);
    connection->socket = lws_get_socket_fd(client->wsi);
    connection->encrypted = lws_is_ssl(client->wsi);
    connection->partial_bytes = lws_partial_buffered(client->wsi) ? 1 : 0;
    if (kind != CONNECTION_WEBSOCKET ||
        (connection->input = input_start(client, connection)) != NULL)
        return connection;
    free(connection);
    return NULL;
}

/* --- out ------------------------------------------------------------------------------------- */

/* Hands bytes to lws, for a WebSocket: with websocket_settle the only place that does.
 *
 * lws asks for writes to happen in its WRITEABLE callback alone. Written at once instead, a
 * message to thousands costs half: no second turn through the loop and epoll for each of them. By
 * the source of 4.1.6 that is sound for WebSockets on HTTP/1.1, on the loop's thread, while lws
 * holds no rest of an earlier write (lws_partial_buffered): lws_write then makes its header and
 * calls send(), and keeps a copy of what the kernel didn't take, which it sends before anything
 * else. Nothing else depends on where it is called from. (HTTP/2 and compression would: they are
 * off. Under TLS it calls SSL_write(), and keeps a copy of all that OpenSSL doesn't take, which
 * goes on from there: the handshake is over, and there is never a second one.)
 *
 * A frame is shared: lws writes its header into the headroom before the text, the same bytes for
 * each, and never touches the text, because a server doesn't mask. */
static bool websocket_write(struct connection *connection, char *text, size_t size,
                            enum lws_write_protocol as)
{
    struct lws *wsi = connection->client->wsi;
    if (lws_write(wsi, (unsigned char *)text, size, as) < 0) {
        connection->broken = true; /* the socket's next event ends it, or the next tick */
        return false;
    }
    connection->partial_bytes = lws_partial_buffered(wsi) ? size : 0;
    return true;
}

/* A text message's header, before its text (RFC 6455 5.2; a server doesn't mask). Gives how many
 * bytes before the text it begins. */
static size_t websocket_head(struct frame *frame)
{
    unsigned char *end = (unsigned char *)frame->headroom + FRAME_HEADROOM;
    size_t length_size = frame->size < 126 ? 0 : frame->size < 65536 ? 2 : 8;
    for (size_t i = 0, rest = frame->size; i < length_size; i++, rest >>= 8)
        end[-1 - (ptrdiff_t)i] = (unsigned char)rest;
    size_t head_size = 2 + length_size;
    end[-(ptrdiff_t)head_size] = 0x81;
    end[1 - (ptrdiff_t)head_size] = (unsigned char)(length_size == 0   ? frame->size
                                                    : length_size == 2 ? 126
                                                                       : 127);
    return head_size;
}

/* The bytes of a frame as this connection gets them. */
static char *wire_bytes(const struct connection *connection, struct frame *frame, size_t *size)
{
    size_t head_size = connection->kind == CONNECTION_WEBSOCKET ? websocket_head(frame) : 0;
    *size = head_size + frame->size;
    return frame->text - head_size;
}

/* After a send() past lws: a WebSocket's whole frame of which the kernel took `result` bytes, or a
 * negative errno.
 *
 * A frame that is sent whole leaves lws as it was: it counts nothing and remembers nothing of one
 * (4.1.6, rops_write_role_protocol_ws), and without TLS the bytes are the same that it would have
 * handed to send(). What doesn't fit lws must know of, so that nothing comes between: it gets the
 * rest raw, and keeps it as it would have kept its own. Half of lws's cost for a message to
 * thousands is fetching its memory for each; this doesn't touch it. */
static bool websocket_settle(struct connection *connection, char *bytes, size_t size, int result)
{
    struct lws *wsi = connection->client->wsi;
    connection->partial_bytes = 0;
    if (result == (int)size)
        return true;
    size_t sent = result < 0 ? 0 : (size_t)result;
    if ((result < 0 && result != -EAGAIN && result != -EWOULDBLOCK) ||
        lws_write(wsi, (unsigned char *)bytes + sent, size - sent, LWS_WRITE_RAW) < 0) {
        connection->broken = true;
        return false;
    }
    connection->partial_bytes = lws_partial_buffered(wsi) ? size : 0;
    return true;
}

/* Sends what the kernel takes, from `*sent` on. lws has no part in it: what it buffers for a
 * stream it flushes before it closes, spinning for five seconds when the client has gone. */
static bool stream_write(struct connection *connection, const char *text, size_t size, size_t *sent)
{
    while (*sent < size) {
        ssize_t count = client_write(connection->client, text + *sent, size - *sent);
        if (count <= 0) {
            connection->broken = count != UV_EAGAIN;
            return !connection->broken;
        }
        *sent += (size_t)count;
    }
    return true;
}

static bool frame_write(struct connection *connection, struct frame *frame, size_t *sent)
{
    if (connection->kind != CONNECTION_WEBSOCKET)
        return stream_write(connection, frame->text, frame->size, sent);
    *sent = frame->size;
    return websocket_write(connection, frame->text, frame->size, LWS_WRITE_TEXT);
}

/* A few bytes of our own on a stream that owes nothing: all of them fit, or it has had it. */
static void stream_say(struct connection *connection, const char *text, size_t size)
{
    size_t sent = 0;
    if (!stream_write(connection, text, size, &sent) || sent < size)
        connection->broken = true;
}

void connection_begin(struct connection *connection, const char *head, size_t size)
{
    stream_say(connection, head, size);
}

static bool is_waiting(const struct connection *connection)
{
    return connection->first != NULL || (connection->kind == CONNECTION_WEBSOCKET &&
                                         lws_partial_buffered(connection->client->wsi));
}

static bool is_closing(const struct connection *connection)
{
    return connection->ending || connection->broken;
}

static bool queue_add(struct connection *connection, struct frame *frame)
{
    struct queued *queued = malloc(sizeof *queued);
    if (queued == NULL)
        return false;
    *queued = (struct queued){.frame = frame_keep(frame)};
    if (connection->first == NULL) /* else it has been asked for */
        lws_callback_on_writable(connection->client->wsi);
    *connection->last = queued;
    connection->last = &queued->next;
    connection->queued_bytes += frame->size;
    return true;
}

static void queue_drop_first(struct connection *connection)
{
    struct queued *queued = connection->first;
    connection->first = queued->next;
    if (connection->first == NULL)
        connection->last = &connection->first;
    connection->queued_bytes -= queued->frame->size;
    connection->first_sent = 0;
    frame_release(queued->frame);
    free(queued);
}

/* RFC 6455 5.5.3. While the client takes nothing, the newest ping's answer stands for all. */
static bool pong_write(struct connection *connection)
{
    struct frame *pong = connection->pong;
    connection->pong = NULL;
    bool written = websocket_write(connection, pong->text, pong->size, LWS_WRITE_PONG);
    frame_release(pong);
    return written;
}

/* As much as the kernel takes. False: the connection is broken. */
static bool queue_write(struct connection *connection)
{
    struct lws *wsi = connection->client->wsi;
    if (connection->pong != NULL && !pong_write(connection))
        return false;
    if (connection->kind == CONNECTION_WEBSOCKET && lws_partial_buffered(wsi))
        return true; /* lws calls again */
    while (connection->first != NULL) {
        struct frame *frame = connection->first->frame;
        if (!frame_write(connection, frame, &connection->first_sent))
            return false;
        if (connection->first_sent < frame->size)
            break;
        queue_drop_first(connection);
        if (connection->kind == CONNECTION_WEBSOCKET && lws_send_pipe_choked(wsi))
            break;
    }
    if (connection->first != NULL)
        lws_callback_on_writable(wsi);
    return true;
}

/* The kernel has taken `sent` bytes of a frame: what is left of a stream's waits here. */
static bool rest_keep(struct connection *connection, struct frame *frame, size_t sent)
{
    if (sent == frame->size)
        return true;
    connection->first_sent = sent;
    if (queue_add(connection, frame))
        return true;
    connection->broken = true; /* the rest of a frame that has begun can't be left out */
    return false;
}

static bool send_at_once(struct connection *connection, struct frame *frame)
{
    size_t sent = 0;
    connection->moved_ms = net_now(connection->client->net);
    return frame_write(connection, frame, &sent) && rest_keep(connection, frame, sent);
}

bool connection_send(struct connection *connection, struct frame *frame)
{
    if (is_closing(connection))
        return false;
    if (!is_waiting(connection))
        return send_at_once(connection, frame);
    size_t waiting = connection->queued_bytes + connection->partial_bytes;
    if (waiting <= connection->client->net->options.queue_bytes_max && queue_add(connection, frame))
        return true;
    connection->refused = true;
    connection->client->net->counts.held_back++;
    return false;
}

/* RFC 6455 5.5.1. A reason that is too long is cut between two characters: half of one would make
 * it no close at all. lws writes no close frame when asked to, so this one comes with its head. */
static bool close_write(struct connection *connection)
{
    char bytes[LWS_PRE + 4 + REASON_SIZE_MAX], *at = bytes + LWS_PRE;
    const char *reason = connection->close_reason == NULL ? "" : connection->close_reason;
    bool empty = connection->close_code == CLOSE_NO_CODE;
    size_t size = strlen(reason);
    if (size > REASON_SIZE_MAX) {
        size = REASON_SIZE_MAX;
        while (size > 0 && ((unsigned char)reason[size] & 0xc0) == 0x80)
            size--;
    }
    at[0] = (char)0x88;
    at[1] = (char)(empty ? 0 : 2 + size);
    at[2] = (char)(connection->close_code >> 8);
    at[3] = (char)(connection->close_code & 0xff);
    memcpy(at + 4, reason, size);
    connection->close_sent = true;
    return websocket_write(connection, at, empty ? 2 : 4 + size, LWS_WRITE_RAW);
}

/* --- to many --- */

/* Those of a batch that have nothing waiting, and can be sent to past everything else. */
struct batch {
    size_t count;
    struct send_item items[SEND_BATCH_MAX];
    size_t numbers[SEND_BATCH_MAX]; /* in the caller's arrays */
};

/* Under TLS the bytes are another's for each. Of what lws keeps partial_bytes knows: lws writes
 * nothing of its own. */
static bool may_be_batched(const struct connection *connection, enum connection_kind kind)
{
    return connection->kind == kind && !connection->encrypted && !is_closing(connection) &&
           connection->first == NULL && connection->partial_bytes == 0;
}

static bool batch_settle(struct connection *connection, struct frame *frame, char *bytes,
                         size_t size, int result)
{
    if (connection->kind == CONNECTION_WEBSOCKET)
        return websocket_settle(connection, bytes, size, result);
    connection->broken = result < 0 && result != -EAGAIN && result != -EWOULDBLOCK;
    return !connection->broken && rest_keep(connection, frame, result < 0 ? 0 : (size_t)result);
}

static void batch_send(struct net *net, struct batch *batch, void *const connections[],
                       struct frame *frame, bool taken[])
{
    if (batch->count == 0)
        return;
    size_t size;
    char *bytes = wire_bytes(connections[batch->numbers[0]], frame, &size);
    send_batch_send(net->batch, batch->items, batch->count, bytes, size);
    for (size_t i = 0; i < batch->count; i++) {
        int result = batch->items[i].result;
        if (result != (int)size)
            taken[batch->numbers[i]] =
                batch_settle(connections[batch->numbers[i]], frame, bytes, size, result);
    }
    batch->count = 0;
}

void connections_send(struct net *net, void *const connections[], size_t count, struct frame *frame,
                      bool taken[])
{
    struct batch batch;
    batch.count = 0;
    uint64_t now_ms = net_now(net);
    for (size_t i = 0; i < count; i++) {
        struct connection *connection = connections[i];
        if (!may_be_batched(connection, connection_kind(connections[0]))) {
            taken[i] = connection_send(connection, frame);
            continue;
        }
        taken[i] = true;
        connection->moved_ms = now_ms;
        batch.items[batch.count].socket = connection->socket;
        batch.numbers[batch.count++] = i;
        if (batch.count == SEND_BATCH_MAX)
            batch_send(net, &batch, connections, frame, taken);
    }
    batch_send(net, &batch, connections, frame, taken);
}

/* All has been taken: now the end. A WebSocket says close; when the client's own has come, or none
 * is expected, our side of the connection is closed too, and the client closes its own: closing
 * both at once on what it still sends would take our close frame from it. */
static int connection_goodbye(struct connection *connection)
{
    struct lws *wsi = connection->client->wsi;
    if (connection->kind != CONNECTION_WEBSOCKET)
        return -1;
    if (!connection->close_sent && !close_write(connection))
        return -1;
    if (connection->close_owed_none && !lws_partial_buffered(wsi))
        client_shut(connection->client);
    return 0;
}

int connection_writable(struct connection *connection)
{
    struct client *client = connection->client;
    if (connection->broken)
        return -1;
    connection->moved_ms = net_now(client->net);
    if (!lws_partial_buffered(client->wsi))
        connection->partial_bytes = 0;
    if (!queue_write(connection))
        return -1;
    if (is_waiting(connection))
        return 0;
    if (connection->ending)
        return connection_goodbye(connection);
    if (connection->refused) {
        connection->refused = false;
        client->net->callbacks.drained(client->net->callbacks.context, connection);
    }
    return 0;
}

/* --- in -------------------------------------------------------------------------------------- */

void connection_heard(struct connection *connection)
{
    connection->heard_ms = net_now(connection->client->net);
}

static bool message_append(struct connection *connection, const char *bytes, size_t size)
{
    if (connection->message_size + size > connection->message_room) {
        size_t room = 2 * (connection->message_size + size);
        char *grown = realloc(connection->message, room);
        if (grown == NULL)
            return false;
        connection->message = grown;
        connection->message_room = room;
    }
    memcpy(connection->message + connection->message_size, bytes, size);
    connection->message_size += size;
    return true;
}

static void message_hand_over(struct connection *connection)
{
    struct net_callbacks *callbacks = &connection->client->net->callbacks;
    char *message = connection->message;
    size_t size = connection->message_size;
    connection->message = NULL;
    connection->message_size = connection->message_room = 0;
    callbacks->message(callbacks->context, connection, message, size);
    free(message);
}

void connection_text(struct connection *connection, const char *bytes, size_t size, bool last)
{
    struct net_callbacks *callbacks = &connection->client->net->callbacks;
    if (is_closing(connection))
        return;
    if (last && connection->message_size == 0)
        callbacks->message(callbacks->context, connection, bytes, size);
    else if (size > 0 && !message_append(connection, bytes, size))
        connection_close(connection, LWS_CLOSE_STATUS_UNEXPECTED_CONDITION, "no memory");
    else if (last)
        message_hand_over(connection);
}

void connection_ping(struct connection *connection, const char *bytes, size_t size)
{
    if (is_closing(connection))
        return;
    frame_release(connection->pong);
    connection->pong = frame_new(bytes, size);
    if (connection->pong == NULL) /* a pong is missed, no more */
        return;
    if (!lws_partial_buffered(connection->client->wsi))
        pong_write(connection);
}

/* --- its end --------------------------------------------------------------------------------- */

void connection_close(struct connection *connection, int code, const char *reason)
{
    if (connection->ending)
        return;
    connection->ending = true;
    connection->close_code = code;
    connection->end_by_ms = net_now(connection->client->net) + ENDING_MS;
    if (reason != NULL && *reason != '\0')
        connection->close_reason = strdup(reason); /* without memory: without */
    lws_callback_on_writable(connection->client->wsi);
}

/* Now, but for what lws still holds of a frame. */
static void close_now(struct connection *connection)
{
    connection->ending = connection->close_owed_none = true;
    connection->end_by_ms = net_now(connection->client->net) + ENDING_MS;
    while (connection->first != NULL)
        queue_drop_first(connection);
    if (lws_partial_buffered(connection->client->wsi))
        lws_callback_on_writable(connection->client->wsi);
    else if (connection_goodbye(connection) != 0)
        connection->broken = true;
}

/* It is answered with its own code (RFC 6455 5.5.1), unless ours has gone before. */
void connection_peer_closes(struct connection *connection, int code)
{
    if (!connection->close_sent) {
        connection->close_code = code;
        free(connection->close_reason);
        connection->close_reason = NULL;
    }
    close_now(connection);
}

/* RFC 6455 7.1.7: it has broken the rules; no close of its own is waited for. */
void connection_fault(struct connection *connection, int code, const char *why)
{
    if (!connection->close_sent) {
        connection->close_code = code;
        free(connection->close_reason);
        connection->close_reason = strdup(why); /* without memory: without */
    }
    close_now(connection);
}

/* Why a connection ended that neither side meant to end. Whichever came first, our patience or the
 * kernel's (TCP_USER_TIMEOUT), which may be a little shorter. Who takes nothing can't answer a ping
 * either, so that silence alone is when nothing waits. */
static void count_end(const struct connection *connection)
{
    struct net *net = connection->client->net;
    uint64_t now_ms = net_now(net), unsent_ms = net->options.unsent_seconds * 1000ULL;
    bool waits = connection->first != NULL || connection->partial_bytes > 0;
    bool silent = connection->kind == CONNECTION_WEBSOCKET &&
                  now_ms + TICK_MS - connection->heard_ms >= silence_max_ms(connection);
    bool stuck = waits && now_ms + TICK_MS - connection->moved_ms >= unsent_ms;
    if (connection->ending || (!silent && !stuck))
        return;
    *(waits ? &net->counts.slow : &net->counts.silent) += 1;
}

void connection_ended(struct connection *connection)
{
    count_end(connection);
    struct net_callbacks *callbacks = &connection->client->net->callbacks;
    connection->broken = true;
    input_stop(connection->input);
    callbacks->closed(callbacks->context, connection);
    while (connection->first != NULL)
        queue_drop_first(connection);
    frame_release(connection->pong);
    free(connection->message);
    free(connection->close_reason);
    free(connection);
}

/* Four bytes: lws tells nobody of an answer to an empty ping. */
static void ping_write(struct connection *connection)
{
    static char ping[LWS_PRE + 4];
    memcpy(ping + LWS_PRE, "ping", 4);
    websocket_write(connection, ping + LWS_PRE, 4, LWS_WRITE_PING);
}

/* What says that we are there, and finds out whether the client is. */
static void sign_of_life(struct connection *connection, uint64_t now_ms)
{
    switch (connection->kind) {
    case CONNECTION_WEBSOCKET:
        connection->due_ms = now_ms + ping_ms(connection);
        ping_write(connection);
        break;
    case CONNECTION_EVENTS:
        connection->due_ms = now_ms + COMMENT_MS;
        stream_say(connection, ":\n\n", 3);
        break;
    case CONNECTION_TEXT: /* anything would be a line; TCP's keep-alive has to do */
        connection->due_ms = UINT64_MAX;
        break;
    }
}

/* lws would wait for five seconds, spinning, to send a WebSocket that has gone what it kept. */
static bool peer_has_gone(struct client *client)
{
    char byte;
    return recv(lws_get_socket_fd(client->wsi), &byte, 1, MSG_PEEK | MSG_DONTWAIT) == 0;
}

/* If it reads again, it gets what has begun, and why that was all. */
static void stuck_end(struct connection *connection)
{
    char reason[48];
    struct net *net = connection->client->net;
    struct queued *begun = connection->first_sent > 0 ? connection->first : NULL;
    struct queued **rest = begun != NULL ? &begun->next : &connection->first;
    while (*rest != NULL) {
        struct queued *queued = *rest;
        *rest = queued->next;
        connection->queued_bytes -= queued->frame->size;
        frame_release(queued->frame);
        free(queued);
    }
    connection->last = rest;
    net->counts.slow++;
    snprintf(reason, sizeof reason, "nothing was taken for %u seconds",
             net->options.unsent_seconds);
    connection_close(connection, CLOSE_TRY_AGAIN_LATER, reason);
}

void connection_check(struct connection *connection, uint64_t now_ms)
{
    struct client *client = connection->client;
    uint64_t unsent_ms = client->net->options.unsent_seconds * 1000ULL;
    bool waits = is_waiting(connection);
    bool silent = connection->kind == CONNECTION_WEBSOCKET &&
                  now_ms - connection->heard_ms >= silence_max_ms(connection);
    bool stuck = waits && !connection->ending && now_ms - connection->moved_ms >= unsent_ms;
    bool over = connection->ending && now_ms >= connection->end_by_ms;
    bool gone = waits && peer_has_gone(client);
    if (connection->broken || silent || over || gone)
        client_kill(client);
    else if (stuck)
        stuck_end(connection);
    else if (!waits && !is_closing(connection) && now_ms >= connection->due_ms)
        sign_of_life(connection, now_ms);
}

static uint64_t later(uint64_t ms, uint64_t slept_ms, uint64_t now_ms)
{
    return ms + slept_ms < now_ms ? ms + slept_ms : now_ms;
}

void connection_excuse(struct connection *connection, uint64_t slept_ms)
{
    uint64_t now_ms = net_now(connection->client->net);
    connection->heard_ms = later(connection->heard_ms, slept_ms, now_ms);
    connection->moved_ms = later(connection->moved_ms, slept_ms, now_ms);
    connection->end_by_ms += slept_ms;
}

/* --- what the daemon asks --------------------------------------------------------------------- */

enum connection_kind connection_kind(const struct connection *connection)
{
    return connection->kind;
}

const char *connection_address(const struct connection *connection)
{
    return client_address(connection->client);
}

/* The kernel gives up what isn't acknowledged for so long, too. */
void connection_set_patient(struct connection *connection, bool patient)
{
    if (connection->patient == patient)
        return;
    connection->patient = patient;
    connection->due_ms = first_due(connection);
    int patience_ms = (int)silence_max_ms(connection);
    setsockopt(connection->socket, IPPROTO_TCP, TCP_USER_TIMEOUT, &patience_ms, sizeof patience_ms);
}

void connection_set_context(struct connection *connection, void *context)
{
    connection->context = context;
}

void *connection_context(const struct connection *connection)
{
    return connection->context;
}
