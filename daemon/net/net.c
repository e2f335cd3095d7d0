/* The listener, lws's life on the caller's loop, and the way from its events to our functions.
 *
 * Normal course: accept, hand the socket to lws, hear of it in net_event. Ways to fail: no file
 * descriptors (accepting pauses until the next tick, what is open stays), no memory (the client
 * is let go), and lws's own timers sleeping: they are looked at only after it was given something
 * to do, so every tick wakes it. */
#define _GNU_SOURCE /* accept4 */
#include "net/client.h"
#include "net/forwarded.h"
#include <assert.h>
#include <errno.h>
#include <netdb.h>
#include <netinet/tcp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

static const char subprotocol[] = "boutwire.v1";

/* lws's logger has no context to give back, so what it calls stands here; the last net_start
 * decides. Most of what lws complains of are clients, who could fill a disk with it, so that only
 * the first lines of each ten seconds are told, and how many there were. */
static void (*log_line)(void *context, const char *line);
static void *log_context;
enum { LOG_WINDOW_SECONDS = 10, LOG_LINES_MAX = 10 };

static void log_to_stderr(void *context, const char *line)
{
    (void)context;
    fprintf(stderr, "net: %s\n", line);
}

static void log_lws(int level, const char *text)
{
    static uint64_t window;
    static unsigned lines;
    char line[256];
    uint64_t now = uv_hrtime() / 1000000000 / LOG_WINDOW_SECONDS;
    if (now != window && lines > LOG_LINES_MAX) {
        snprintf(line, sizeof line, "libwebsockets: %u more lines", lines - LOG_LINES_MAX);
        log_line(log_context, line);
    }
    lines = now == window ? lines + 1 : 1;
    window = now;
    if (lines > LOG_LINES_MAX)
        return;
    snprintf(line, sizeof line, "libwebsockets %s: %s", level == LLL_ERR ? "error" : "warning",
             text);
    line[strcspn(line, "\n")] = '\0';
    log_line(log_context, line);
}

uint64_t net_now(const struct net *net)
{
    return uv_now(net->loop);
}

static void on_tick(uv_timer_t *tick);

static const struct front nothing_in_front;

/* --- clients --------------------------------------------------------------------------------- */

static void client_link(struct net *net, struct client *client)
{
    net->client_count++;
    client->next = net->clients;
    client->link = &net->clients;
    if (client->next != NULL)
        client->next->link = &client->next;
    net->clients = client;
}

static void client_unlink(struct client *client)
{
    struct net *net = client->net;
    if (net->unchecked == client)
        net->unchecked = client->next;
    net->client_count--;
    *client->link = client->next;
    if (client->next != NULL)
        client->next->link = client->link;
}

void client_kill(struct client *client)
{
    /* The shutdown makes lws's last attempts to send fail at once instead of waiting. */
    shutdown(lws_get_socket_fd(client->wsi), SHUT_RDWR);
    lws_set_timeout(client->wsi, PENDING_TIMEOUT_USER_REASON_BASE, LWS_TO_KILL_SYNC);
}

void client_close(struct client *client)
{
    if (client->in_event)
        client->close_wanted = true;
    else
        client_kill(client);
}

ssize_t client_write(struct client *client, const char *bytes, size_t size)
{
    return tls_write(lws_get_ssl(client->wsi), lws_get_socket_fd(client->wsi), bytes, size);
}

void client_shut(struct client *client)
{
    tls_shut(lws_get_ssl(client->wsi), lws_get_socket_fd(client->wsi));
}

/* What the client was has ended; its socket may stay a little longer. */
static void client_ended(struct client *client)
{
    struct request *request = client->request;
    struct connection *connection = client->connection;
    client->request = NULL;
    client->connection = NULL;
    if (request != NULL)
        request_ended(request);
    if (connection != NULL)
        connection_ended(connection);
}

static void client_uncount(struct client *client)
{
    if (client->counted)
        crowd_leave(&client->net->crowd, &client->address);
}

static void client_free(struct client *client)
{
    struct net *net = client->net;
    client_ended(client);
    client_unlink(client);
    client_uncount(client);
    free(client);
    if (net->stopping && net->clients == NULL)
        uv_timer_start(&net->tick, on_tick, 0, TICK_MS);
}

const char *client_address(const struct client *client)
{
    address_write(&client->address, client->net->address);
    return client->net->address;
}

bool client_count(struct client *client)
{
    struct net *net = client->net;
    unsigned most = net->options.clients_per_address_max;
    if (most == 0 || client->counted)
        return true;
    client->counted = crowd_enter(&net->crowd, &client->address, most);
    net->counts.turned_away += client->counted ? 0 : 1;
    return client->counted;
}

/* Others may be behind these, whom the head of their request will name. */
static bool is_nobodys_own(const struct net *net, const struct address *address)
{
    const struct front *front = net->options.front;
    const struct trust trust = {front->trusted, front->trusted_count};
    return address_is_loopback(address) || is_trusted(&trust, address);
}

static bool client_may_come(struct client *client)
{
    struct net *net = client->net;
    if (net->options.clients_max > 0 && net->client_count >= net->options.clients_max) {
        net->counts.turned_away++;
        return false;
    }
    return is_nobodys_own(net, &client->address) || client_count(client);
}

static int option_set(int socket, int level, int name, int value)
{
    return setsockopt(socket, level, name, &value, sizeof value);
}

/* Messages leave at once. The kernel keeps no more than 16 KiB that it has not sent: what a slow
 * client still has to get waits with us, where it can be bounded and overtaken. A peer that
 * vanished without a word is found even where we can't ping (a stream of text). */
static void client_socket_set(const struct net *net, int socket)
{
    int give_up = (int)net->options.give_up_seconds;
    option_set(socket, IPPROTO_TCP, TCP_NODELAY, 1);
    option_set(socket, IPPROTO_TCP, TCP_NOTSENT_LOWAT, 16384);
    option_set(socket, IPPROTO_TCP, TCP_USER_TIMEOUT, give_up * 1000);
    option_set(socket, SOL_SOCKET, SO_KEEPALIVE, 1);
    option_set(socket, IPPROTO_TCP, TCP_KEEPIDLE, give_up);
    option_set(socket, IPPROTO_TCP, TCP_KEEPINTVL, (give_up + 2) / 3);
    option_set(socket, IPPROTO_TCP, TCP_KEEPCNT, 3);
}

static void client_adopt(const struct listener *listener, int socket, const struct sockaddr *peer)
{
    struct net *net = listener->net;
    struct client *client = calloc(1, sizeof *client);
    if (client == NULL) {
        close(socket);
        return;
    }
    client->net = net;
    address_of_socket(&client->address, peer);
    if (!client_may_come(client)) {
        close(socket);
        free(client);
        return;
    }
    client_socket_set(net, socket);
    client->wsi = lws_adopt_socket_vhost(listener->tls ? net->tls_host : net->plain_host, socket);
    if (client->wsi == NULL) { /* it has closed the socket */
        client_uncount(client);
        free(client);
        return;
    }
    lws_set_opaque_user_data(client->wsi, client);
    client_link(net, client);
}

/* --- the listener ---------------------------------------------------------------------------- */

static bool is_shortage(int error)
{
    return error == EMFILE || error == ENFILE || error == ENOBUFS || error == ENOMEM;
}

static void on_connecting(uv_poll_t *readable, int status, int events)
{
    struct listener *listener = readable->data;
    struct net *net = listener->net;
    net->busy = true;
    (void)status, (void)events;
    for (int i = 0; i < 64; i++) { /* then the others have their turn of the loop */
        struct sockaddr_storage name = {.ss_family = AF_UNSPEC};
        socklen_t size = sizeof name;
        struct sockaddr *peer = (struct sockaddr *)&name;
        int socket = accept4(listener->socket, peer, &size, SOCK_NONBLOCK | SOCK_CLOEXEC);
        if (socket >= 0) {
            net->counts.accepted++;
            client_adopt(listener, socket, peer);
            continue;
        }
        if (errno == EINTR || errno == ECONNABORTED)
            continue;
        if (is_shortage(errno)) { /* it would be called for the same one again and again */
            net->options.log(net->options.log_context,
                             "no new client: too many open files, or no memory");
            listener->paused = true;
            net->counts.shortages++;
            uv_poll_stop(readable);
        }
        return;
    }
}

static int listener_bind(const struct addrinfo *address, int *listening)
{
    int type = address->ai_socktype | SOCK_NONBLOCK | SOCK_CLOEXEC;
    int listener = socket(address->ai_family, type, address->ai_protocol);
    if (listener < 0)
        return -errno;
    if (option_set(listener, SOL_SOCKET, SO_REUSEADDR, 1) != 0 ||
        bind(listener, address->ai_addr, address->ai_addrlen) != 0 || listen(listener, 4096) != 0) {
        int error = -errno;
        close(listener);
        return error;
    }
    *listening = listener;
    return 0;
}

static int listener_port(int listener)
{
    union {
        struct sockaddr any;
        struct sockaddr_in four;
        struct sockaddr_in6 six;
    } name = {0};
    socklen_t size = sizeof name;
    if (getsockname(listener, &name.any, &size) != 0)
        return -errno;
    return ntohs(name.any.sa_family == AF_INET6 ? name.six.sin6_port : name.four.sin_port);
}

/* The first of the host's addresses that can be had. lws could listen by itself, but tells
 * neither that a bind failed nor why, and spins when there are no file descriptors. */
static int listener_open(struct listener *listener, const struct listening *listening)
{
    char port[16];
    snprintf(port, sizeof port, "%d", listening->port);
    struct addrinfo hints = {.ai_flags = AI_PASSIVE | AI_NUMERICSERV, .ai_socktype = SOCK_STREAM};
    struct addrinfo *addresses = NULL;
    if (getaddrinfo(listening->host, port, &hints, &addresses) != 0)
        return UV_EADDRNOTAVAIL;
    int error = UV_EADDRNOTAVAIL;
    for (struct addrinfo *address = addresses; address != NULL; address = address->ai_next) {
        error = listener_bind(address, &listener->socket);
        if (error == 0)
            break;
    }
    freeaddrinfo(addresses);
    if (error != 0)
        return error;
    listener->tls = listening->tls;
    listener->port = listener_port(listener->socket);
    if (listener->port >= 0)
        return 0;
    close(listener->socket);
    return listener->port;
}

static void sockets_close(struct net *net)
{
    while (net->listener_count > 0)
        close(net->listeners[--net->listener_count].socket);
}

/* All, or none. */
static int listeners_open(struct net *net, struct net_failure *failure)
{
    for (size_t i = 0; i < net->options.listen_count; i++) {
        const struct listening *listening = &net->options.listen[i];
        int error = listener_open(&net->listeners[i], listening);
        if (error != 0) {
            failure->listening = listening;
            snprintf(failure->reason, sizeof failure->reason, "%s", uv_strerror(error));
            sockets_close(net);
            return error;
        }
        net->listeners[i].net = net;
        net->listener_count++;
    }
    return 0;
}

/* --- what lws tells -------------------------------------------------------------------------- */

/* The request's head has come. `final` keeps lws in the state in which it goes on reading: a GET
 * that is answered from LWS_CALLBACK_HTTP is never read again, so that a client that leaves isn't
 * noticed and the loop spins. What has a body needs lws's own course. */
static int on_head(struct client *client, struct lws_process_html_args *head)
{
    bool body_follows = false;
    int result = request_head(client, head->p, (size_t)head->len, &body_follows);
    head->final = !body_follows;
    return result;
}

static int on_established(struct client *client)
{
    client->connection = connection_new(client, CONNECTION_WEBSOCKET);
    if (client->connection == NULL)
        return -1;
    struct net_callbacks *callbacks = &client->net->callbacks;
    callbacks->opened(callbacks->context, client->connection);
    return 0;
}

static int on_writable(struct client *client)
{
    return client->connection == NULL ? 0 : connection_writable(client->connection);
}

/* lws has a hundred reasons to call; those that we don't name mean nothing here, so this switch
 * alone has a default. */
static int client_event(struct client *client, enum lws_callback_reasons reason, void *in,
                        size_t size)
{
    switch ((int)reason) {
    case LWS_CALLBACK_HTTP_CONFIRM_UPGRADE:
        return upgrade_check(client, in);
    case LWS_CALLBACK_FILTER_HTTP_CONNECTION: /* a request within a request, or on a stream */
        return client->request != NULL || client->connection != NULL ? -1 : 0;
    case LWS_CALLBACK_CHECK_ACCESS_RIGHTS:
        return on_head(client, in);
    case LWS_CALLBACK_HTTP: /* on_head has dealt with it; its body follows */
        return 0;
    case LWS_CALLBACK_HTTP_BODY:
        return request_body_piece(client, in, size);
    case LWS_CALLBACK_HTTP_BODY_COMPLETION:
        return request_body_end(client);
    case LWS_CALLBACK_ESTABLISHED:
        return on_established(client);
    case LWS_CALLBACK_RECEIVE: /* sent before our answer to the handshake, which RFC 6455 4.1 */
        return -1;             /* forbids; all that comes later is read by input.c */
    case LWS_CALLBACK_HTTP_WRITEABLE:
    case LWS_CALLBACK_SERVER_WRITEABLE:
        return on_writable(client);
    case LWS_CALLBACK_WS_PEER_INITIATED_CLOSE: /* the same */
        return -1;
    case LWS_CALLBACK_CLOSED_HTTP:
    case LWS_CALLBACK_CLOSED: /* may come without ESTABLISHED */
        client_ended(client);
        return 0;
    case LWS_CALLBACK_RAW_ADOPT: /* CONNECT, which lws takes for a wish to speak something else */
        return -1;
    default:
        return 0;
    }
}

static int net_event(struct lws *wsi, enum lws_callback_reasons reason, void *user, void *in,
                     size_t size)
{
    if (reason == LWS_CALLBACK_OPENSSL_LOAD_EXTRA_SERVER_VERIFY_CERTS) { /* of no client's */
        struct net *net = lws_context_user(lws_get_context(wsi));
        tls_attach(net->tls, user);
        return 0;
    }
    struct client *client = wsi == NULL ? NULL : lws_get_opaque_user_data(wsi);
    if (client == NULL)
        return 0;
    if (reason == LWS_CALLBACK_WSI_DESTROY) { /* always the last, and for some the only one */
        client_free(client);
        return 0;
    }
    client->net->busy = true;
    bool outer = client->in_event;
    client->in_event = true;
    int result = client_event(client, reason, in, size);
    client->in_event = outer;
    return client->close_wanted ? -1 : result;
}

/* --- lws's life ------------------------------------------------------------------------------ */

/* Without this, lws closes a WebSocket by timers of its own, in a list that costs O(n) a client. */
static const lws_retry_bo_t no_timers = {.secs_since_valid_ping = 0};

/* What lws answers by itself (a request that it can't read) carries these too. */
static const struct lws_protocol_vhost_options always_headers[] = {
    {&always_headers[1], NULL, "content-security-policy:", "default-src 'none'"},
    {&always_headers[2], NULL, "x-content-type-options:", "nosniff"},
    {&always_headers[3], NULL, "referrer-policy:", "no-referrer"},
    {&always_headers[4], NULL, "x-robots-tag:", "noindex, nofollow"},
    {NULL, NULL, "cache-control:", "no-store"},
};

static const struct lws_http_mount all_addresses = {
    .mountpoint = "/",
    .mountpoint_len = 1,
    .origin = subprotocol, /* the name of a protocol in our list */
    .origin_protocol = LWSMPRO_CALLBACK,
};

/* rx_buffer_size is kept for every WebSocket, and lws reads none. tx_packet_size is where lws
 * cuts a write, to copy the rest: beyond any frame. */
static const struct lws_protocols protocols[] = {
    {.name = subprotocol,
     .callback = net_event,
     .rx_buffer_size = 16,
     .tx_packet_size = 64 * 1024 * 1024},
    {.name = NULL},
};

/* The vhosts are made by us (EXPLICIT_VHOSTS), without a listener, for the sockets that we accept.
 */
static int context_open(struct net *net)
{
    void *loops[] = {net->loop};
    struct lws_context_creation_info info = {
        .port = CONTEXT_PORT_NO_LISTEN_SERVER,
        .protocols = protocols,
        .mounts = &all_addresses,
        .headers = always_headers,
        .alpn = "http/1.1", /* writes of our own assume that nothing is multiplexed */
        .options = (net->tls != NULL ? LWS_SERVER_OPTION_DO_SSL_GLOBAL_INIT : 0) |
                   LWS_SERVER_OPTION_LIBUV | LWS_SERVER_OPTION_EXPLICIT_VHOSTS |
                   LWS_SERVER_OPTION_SKIP_SERVER_CANONICAL_NAME,
        .foreign_loops = loops,
        .pcontext = &net->context,
        .retry_and_idle_policy = &no_timers,
        .timeout_secs = net->options.first_seconds,
        .timeout_secs_ah_idle = net->options.first_seconds,
        .max_http_header_data = HEADERS_BYTES_MAX,
        .pt_serv_buf_size = 16384,
        .user = net,
    };
    log_line = net->options.log;
    log_context = net->options.log_context;
    lws_set_log_level(LLL_ERR | LLL_WARN, log_lws);
    net->context = lws_create_context(&info);
    if (net->context == NULL)
        return UV_ENOMEM;
    net->plain_host = lws_create_vhost(net->context, &info);
    if (net->plain_host == NULL || net->tls == NULL)
        return net->plain_host == NULL ? UV_ENOMEM : 0;
    info.vhost_name = "tls";
    info.options |= LWS_SERVER_OPTION_CREATE_VHOST_SSL_CTX;
    net->tls_host = lws_create_vhost(net->context, &info);
    return net->tls_host == NULL ? UV_ENOMEM : 0;
}

static bool wants_tls(const struct net_options *options)
{
    for (size_t i = 0; i < options->listen_count; i++)
        if (options->listen[i].tls)
            return true;
    return false;
}

static int certificate_open(struct net *net, struct net_failure *failure)
{
    const struct net_options *options = &net->options;
    if (!wants_tls(options))
        return 0;
    snprintf(failure->reason, sizeof failure->reason,
             "TLS needs a certificate and its private key");
    if (options->certificate_file != NULL && options->key_file != NULL)
        net->tls = tls_new(options->certificate_file, options->key_file, failure->reason);
    return net->tls == NULL ? UV_EINVAL : 0;
}

/* A client is a file descriptor; the usual soft limit of 1,024 would be the limit of clients. */
static void raise_open_files(void)
{
    struct rlimit limit;
    const rlim_t enough = 1 << 20; /* lws reserves 16 bytes for each */
    if (getrlimit(RLIMIT_NOFILE, &limit) != 0 || limit.rlim_cur >= enough)
        return;
    limit.rlim_cur = limit.rlim_max < enough ? limit.rlim_max : enough;
    setrlimit(RLIMIT_NOFILE, &limit);
}

/* --- start, tick and stop -------------------------------------------------------------------- */

static void handle_is_closed(struct net *net)
{
    if (--net->open_handles > 0)
        return;
    lws_context_destroy(net->context); /* begins it; the loop runs on until it is done */
    net->stopped(net->stopped_context);
}

static void on_own_closed(uv_handle_t *handle)
{
    handle_is_closed(handle->data);
}

static void on_listener_closed(uv_handle_t *readable)
{
    struct listener *listener = readable->data;
    handle_is_closed(listener->net);
}

static void listeners_close(struct net *net)
{
    for (size_t i = 0; i < net->listener_count; i++)
        uv_close((uv_handle_t *)&net->listeners[i].readable, on_listener_closed);
    sockets_close(net);
}

static void client_check(struct client *client, uint64_t now_ms)
{
    if (client->connection != NULL)
        connection_check(client->connection, now_ms);
    else if (client->request != NULL)
        request_check(client->request, now_ms);
}

/* A process that was stopped, or a machine that slept, finds all its deadlines past when it wakes,
 * and everything that was sent to it meanwhile still unread. */
static void excuse_sleep(struct net *net, uint64_t now_ms)
{
    uint64_t gone_ms = now_ms - net->ticked_ms;
    net->ticked_ms = now_ms;
    if (gone_ms < SLEPT_MS)
        return;
    for (struct client *client = net->clients; client != NULL; client = client->next) {
        if (client->connection != NULL)
            connection_excuse(client->connection, gone_ms - TICK_MS);
        if (client->request != NULL)
            request_excuse(client->request, gone_ms - TICK_MS);
    }
}

/* Some of them: to look at thousands at once, and to ping many of these, would keep others waiting
 * for milliseconds. */
static void clients_check(struct net *net, uint64_t now_ms)
{
    if (net->unchecked == NULL)
        net->unchecked = net->clients;
    for (size_t i = 0; i < CHECKED_AT_ONCE && net->unchecked != NULL; i++) {
        struct client *client = net->unchecked;
        net->unchecked = client->next;
        if (net->stopping && now_ms >= net->stop_by_ms)
            client_kill(client);
        else
            client_check(client, now_ms);
    }
}

/* Every client has been looked at. */
static void round_end(struct net *net)
{
    if (net->clients != NULL)
        lws_cancel_service(net->context); /* wakes it, so that it looks at its timers */
    for (size_t i = 0; i < net->listener_count; i++) {
        struct listener *listener = &net->listeners[i];
        if (listener->paused)
            uv_poll_start(&listener->readable, UV_READABLE, on_connecting);
        listener->paused = false;
    }
}

static void on_tick(uv_timer_t *tick)
{
    struct net *net = tick->data;
    uint64_t now_ms = net_now(net);
    if (net->stopping && net->clients == NULL) {
        if (!uv_is_closing((uv_handle_t *)tick)) {
            inputs_close(net, on_own_closed);
            uv_close((uv_handle_t *)tick, on_own_closed);
        }
        return;
    }
    excuse_sleep(net, now_ms);
    uint64_t next_ms = TICK_MS / (1 + net->client_count / CHECKED_AT_ONCE);
    uv_timer_start(tick, on_tick, next_ms, next_ms);
    clients_check(net, now_ms);
    if (net->unchecked == NULL)
        round_end(net);
}

static int handles_start(struct net *net)
{
    net->tick.data = net;
    int opened = inputs_open(net);
    if (opened != 0)
        return opened;
    net->open_handles++;
    for (size_t i = 0; i < net->listener_count; i++) {
        struct listener *listener = &net->listeners[i];
        listener->readable.data = listener;
        int error = uv_poll_init_socket(net->loop, &listener->readable, listener->socket);
        if (error == 0)
            error = uv_poll_start(&listener->readable, UV_READABLE, on_connecting);
        if (error != 0)
            return error;
        net->open_handles++;
    }
    uv_timer_init(net->loop, &net->tick);
    net->open_handles++;
    net->ticked_ms = net_now(net);
    return uv_timer_start(&net->tick, on_tick, TICK_MS, TICK_MS);
}

static void net_release(struct net *net)
{
    tls_free(net->tls);
    pages_free(net->pages);
    send_batch_free(net->batch);
    free(net);
}

int net_start(struct net **started, uv_loop_t *loop, const struct net_options *options,
              const struct net_callbacks *callbacks, struct net_failure *failure)
{
    struct net *net = calloc(1, sizeof *net);
    if (net == NULL)
        return UV_ENOMEM;
    net->loop = loop;
    net->options = *options;
    net->callbacks = *callbacks;
    if (net->options.front == NULL)
        net->options.front = &nothing_in_front;
    if (net->options.log == NULL)
        net->options.log = log_to_stderr;
    raise_open_files();
    *failure = (struct net_failure){.listening = NULL};
    int error = UV_ENOMEM;
    snprintf(failure->reason, sizeof failure->reason, "%s", uv_strerror(error));
    net->batch = send_batch_new(options->plain_sends);
    if (net->batch == NULL)
        goto release;
    error = certificate_open(net, failure);
    if (error == 0)
        error = listeners_open(net, failure);
    if (error != 0)
        goto release;
    error = UV_ENOMEM;
    snprintf(failure->reason, sizeof failure->reason, "%s", uv_strerror(error));
    if (options->pages_folder != NULL && (net->pages = pages_new(options->pages_folder)) == NULL)
        goto close_listeners;
    error = context_open(net);
    if (error != 0)
        goto close_context;
    error = handles_start(net);
    if (error != 0)
        goto close_context;
    *started = net;
    return 0;
close_context: /* it needs the loop to go; what is left after that is the process's to give back */
    lws_context_destroy(net->context);
    sockets_close(net);
    return error;
close_listeners:
    sockets_close(net);
release:
    net_release(net);
    return error;
}

static_assert((int)NET_REASON_SIZE == (int)TLS_REASON_SIZE, "one is given for the other");

bool net_reload_certificate(struct net *net, char reason[NET_REASON_SIZE])
{
    return net->tls == NULL || tls_reload(net->tls, reason);
}

int net_port(const struct net *net, size_t i)
{
    return net->listeners[i].port;
}

bool net_was_busy(struct net *net)
{
    bool busy = net->busy;
    net->busy = false;
    return busy;
}

size_t net_clients(const struct net *net)
{
    return net->client_count;
}

const struct net_counts *net_counts(const struct net *net)
{
    return &net->counts;
}

void net_refuse(struct net *net)
{
    listeners_close(net);
}

size_t net_requests(const struct net *net)
{
    size_t count = 0;
    for (const struct client *client = net->clients; client != NULL; client = client->next)
        count += client->request != NULL && request_is_under_way(client->request) ? 1 : 0;
    return count;
}

void net_hurry(struct net *net)
{
    assert(net->stopping);
    net->stop_by_ms = net_now(net);
    uv_timer_start(&net->tick, on_tick, 0, TICK_MS);
}

void net_stop(struct net *net, void (*stopped)(void *context), void *context)
{
    assert(!net->stopping);
    net->stopping = true;
    net->stopped = stopped;
    net->stopped_context = context;
    net->stop_by_ms = net_now(net) + STOPPING_MS;
    listeners_close(net);
    struct client *next;
    for (struct client *client = net->clients; client != NULL; client = next) {
        next = client->next;
        if (client->connection != NULL)
            connection_close(client->connection, 1001, "the daemon stops");
        else if (client->request != NULL)
            request_finish_soon(client->request);
        else
            client_kill(client);
    }
    uv_timer_start(&net->tick, on_tick, 0, TICK_MS);
}

void net_free(struct net *net)
{
    if (net == NULL)
        return;
    if (net->context != NULL)
        lws_context_destroy(net->context);
    net_release(net);
}
