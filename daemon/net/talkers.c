#include "net/talkers.h"
#include <errno.h>
#include <netdb.h>
#include <netinet/tcp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

enum {
    TICK_MS = 500,
    ENDING_MS = 5000,         /* to take the last that was said, and to close */
    UNSENT_BYTES_MAX = 65536, /* said but not taken: above it nothing more is read */
    READ_BYTES = 4096,        /* room that a read finds at least */
    KEEP_ALIVE_SECONDS = 15,
};

union talk_socket {
    uv_handle_t handle;
    uv_stream_t stream;
    uv_tcp_t tcp;
    uv_pipe_t pipe;
};

struct talk_listener {
    struct talkers *talkers;
    union talk_socket socket;
    bool is_unix, open;
};

struct talker {
    struct talkers *talkers;
    struct talker *next, **link;
    union talk_socket socket;
    uv_shutdown_t shutdown;
    void *context;
    char *bytes; /* read, and not yet handed over */
    size_t size, room, number;
    unsigned waiting; /* answers that it is owed */
    uint64_t heard_ms, moved_ms, begun_ms, end_by_ms;
    char address[64];
    bool local;
    bool reading, taking;
    bool heard_all; /* its last byte has come, or is no longer waited for */
    bool leaving;   /* because the daemon ends */
    bool ended;     /* no more lines are taken */
    bool shut;      /* our side is */
    bool closing;
};

struct talkers {
    uv_loop_t *loop;
    struct talkers_options options;
    struct talkers_callbacks callbacks;
    struct talk_listener listeners[LISTENINGS_MAX];
    size_t listener_count;
    struct talker *first;
    size_t count;
    uv_timer_t tick;
    uv_idle_t resuming; /* runs while somebody's lines can be taken again */
    bool draining;
};

struct said {
    uv_write_t write;
    char text[];
};

static uint64_t now_ms(const struct talkers *talkers)
{
    return uv_now(talkers->loop);
}

/* --- its end --------------------------------------------------------------------------------- */

static void on_talker_closed(uv_handle_t *handle)
{
    struct talker *talker = handle->data;
    free(talker->bytes);
    free(talker);
}

static void talker_close(struct talker *talker)
{
    struct talkers *talkers = talker->talkers;
    if (talker->closing)
        return;
    talker->closing = talker->ended = true;
    talkers->callbacks.closed(talkers->callbacks.context, talker);
    *talker->link = talker->next;
    if (talker->next != NULL)
        talker->next->link = talker->link;
    talkers->count--;
    uv_close(&talker->socket.handle, on_talker_closed);
}

/* A client that closes when it sees the end takes everything; closing on what it still sends would
 * take the last words from it. */
static void on_shut(uv_shutdown_t *shutdown, int status)
{
    struct talker *talker = shutdown->data;
    talker->shut = true;
    if (status != 0 || talker->leaving || talker->heard_all)
        talker_close(talker);
}

static void read_on(struct talker *talker);

void talker_end(struct talker *talker)
{
    if (talker->ended)
        return;
    talker->ended = true;
    talker->size = 0;
    talker->end_by_ms = now_ms(talker->talkers) + ENDING_MS;
    talker->shutdown.data = talker;
    if (uv_shutdown(&talker->shutdown, &talker->socket.stream, on_shut) != 0)
        talker->end_by_ms = 0; /* the next tick ends it */
    else if (!talker->heard_all)
        read_on(talker);
}

static void end_because(struct talker *talker, enum talk_end why)
{
    struct talkers_callbacks *callbacks = &talker->talkers->callbacks;
    if (talker->ended)
        return;
    callbacks->ending(callbacks->context, talker, why);
    talker_end(talker);
}

/* --- out ------------------------------------------------------------------------------------- */

static bool is_full(const struct talker *talker)
{
    return talker->waiting >= TALKER_WAITING_MAX ||
           uv_stream_get_write_queue_size(&talker->socket.stream) > UNSENT_BYTES_MAX;
}

static void on_resuming(uv_idle_t *resuming);

/* Not at once: who answers may be in the midst of something. Nothing is started that is being
 * closed: libuv would wait for it for good. */
static void resume_soon(struct talker *talker)
{
    uv_idle_t *resuming = &talker->talkers->resuming;
    if (!talker->ended && !talker->taking && !talker->reading && !is_full(talker) &&
        !uv_is_closing((uv_handle_t *)resuming))
        uv_idle_start(resuming, on_resuming);
}

static void on_written(uv_write_t *write, int status)
{
    struct talker *talker = write->data;
    free((char *)write - offsetof(struct said, write));
    if (status == UV_ECANCELED)
        return;
    talker->moved_ms = now_ms(talker->talkers);
    if (status != 0)
        talker_close(talker);
    else
        resume_soon(talker);
}

/* Who says something may be in the midst of much else: the next tick closes it. */
static void talker_break(struct talker *talker)
{
    if (talker->ended)
        return;
    talker->ended = true;
    talker->size = 0;
    talker->end_by_ms = 0;
}

void talker_say(struct talker *talker, const char *text, size_t size)
{
    struct said *said = talker->ended ? NULL : malloc(sizeof *said + size + 1);
    if (said == NULL) {
        talker_break(talker);
        return;
    }
    memcpy(said->text, text, size);
    said->text[size] = '\n';
    uv_buf_t bytes = uv_buf_init(said->text, (unsigned)size + 1);
    if (uv_stream_get_write_queue_size(&talker->socket.stream) == 0)
        talker->moved_ms = now_ms(talker->talkers);
    said->write.data = talker;
    if (uv_write(&said->write, &talker->socket.stream, &bytes, 1, on_written) == 0)
        return;
    free(said);
    talker_break(talker);
}

void talker_needs_no_answer(struct talker *talker)
{
    talker->waiting--;
    resume_soon(talker);
}

void talker_answer(struct talker *talker, const char *text, size_t size)
{
    talker->waiting--;
    talker_say(talker, text, size);
    resume_soon(talker);
}

/* --- in -------------------------------------------------------------------------------------- */

static void line_hand_over(struct talker *talker, size_t size)
{
    struct talkers_callbacks *callbacks = &talker->talkers->callbacks;
    talker->number++;
    talker->waiting++;
    size_t text_size = size > 0 && talker->bytes[size - 1] == '\r' ? size - 1 : size;
    callbacks->line(callbacks->context, talker, talker->number, talker->bytes, text_size);
}

static void bytes_drop(struct talker *talker, size_t size)
{
    if (talker->size == 0)
        return; /* it was ended meanwhile */
    talker->size -= size;
    memmove(talker->bytes, talker->bytes + size, talker->size);
}

/* The size of the next line with its end; 0: it isn't whole yet. */
static size_t line_size(const struct talker *talker)
{
    const char *end = talker->size > 0 ? memchr(talker->bytes, '\n', talker->size) : NULL;
    if (end != NULL)
        return (size_t)(end - talker->bytes) + 1;
    return talker->heard_all && !talker->leaving ? talker->size : 0;
}

static void lines_take(struct talker *talker)
{
    size_t size, most = talker->talkers->options.line_bytes_max;
    talker->taking = true;
    while (!talker->ended && !is_full(talker) && (size = line_size(talker)) > 0) {
        bool has_end = talker->bytes[size - 1] == '\n';
        size_t text_size = has_end ? size - 1 : size;
        if (text_size > most)
            break;
        line_hand_over(talker, text_size);
        bytes_drop(talker, size);
        talker->begun_ms = now_ms(talker->talkers);
    }
    talker->taking = false;
    if (!talker->ended && talker->size > most && memchr(talker->bytes, '\n', most + 1) == NULL)
        end_because(talker, TALK_TOO_LONG);
}

/* All that it said has been answered, and nothing more will come. */
static void end_if_done(struct talker *talker)
{
    if (talker->ended || !talker->heard_all || talker->waiting > 0 || line_size(talker) > 0)
        return;
    if (talker->leaving)
        end_because(talker, TALK_STOPPING);
    else
        talker_end(talker);
}

static void on_room(uv_handle_t *handle, size_t suggested, uv_buf_t *buffer)
{
    struct talker *talker = handle->data;
    (void)suggested;
    *buffer = uv_buf_init(NULL, 0);
    if (talker->room - talker->size < READ_BYTES) {
        size_t room = talker->room * 2 + READ_BYTES;
        char *wider = realloc(talker->bytes, room);
        if (wider == NULL)
            return; /* UV_ENOBUFS */
        talker->bytes = wider;
        talker->room = room;
    }
    *buffer = uv_buf_init(talker->bytes + talker->size, (unsigned)(talker->room - talker->size));
}

static void read_stop(struct talker *talker)
{
    talker->reading = false;
    uv_read_stop(&talker->socket.stream);
}

static void on_read(uv_stream_t *stream, ssize_t size, const uv_buf_t *buffer)
{
    struct talker *talker = stream->data;
    (void)buffer;
    if (size == 0)
        return;
    if (size < 0) {
        read_stop(talker);
        talker->heard_all = true;
        if (size != UV_EOF || (talker->ended && talker->shut)) {
            talker_close(talker);
            return;
        }
    } else if (talker->ended) {
        return; /* thrown away */
    } else {
        if (talker->size == 0)
            talker->begun_ms = now_ms(talker->talkers);
        talker->size += (size_t)size;
        talker->heard_ms = now_ms(talker->talkers);
    }
    read_on(talker);
}

/* Takes what can be taken, and reads on as long as there is room for answers. */
static void read_on(struct talker *talker)
{
    lines_take(talker);
    bool wanted = !talker->heard_all && (talker->ended || !is_full(talker));
    if (talker->closing)
        return;
    if (!wanted && talker->reading)
        read_stop(talker);
    if (wanted && !talker->reading)
        talker->reading = uv_read_start(&talker->socket.stream, on_room, on_read) == 0;
    end_if_done(talker);
}

static void on_resuming(uv_idle_t *resuming)
{
    struct talkers *talkers = resuming->data;
    struct talker *next;
    uv_idle_stop(resuming);
    for (struct talker *talker = talkers->first; talker != NULL; talker = next) {
        next = talker->next;
        if (!talker->ended && !talker->reading)
            read_on(talker);
    }
}

/* --- time ------------------------------------------------------------------------------------ */

static void talker_check(struct talker *talker, uint64_t at_ms)
{
    const struct talkers_options *options = &talker->talkers->options;
    bool unsent = uv_stream_get_write_queue_size(&talker->socket.stream) > 0;
    if (talker->ended && at_ms >= talker->end_by_ms)
        talker_close(talker);
    else if (talker->ended)
        return;
    else if (unsent && at_ms - talker->moved_ms >= options->unsent_seconds * 1000ULL)
        end_because(talker, TALK_UNREAD);
    else if (talker->size > 0 && talker->reading &&
             at_ms - talker->begun_ms >= options->first_seconds * 1000ULL)
        end_because(talker, TALK_UNENDED);
    else if (talker->waiting == 0 && at_ms - talker->heard_ms >= options->silence_seconds * 1000ULL)
        end_because(talker, TALK_SILENT);
}

static void on_tick(uv_timer_t *tick)
{
    struct talkers *talkers = tick->data;
    struct talker *next;
    for (struct talker *talker = talkers->first; talker != NULL; talker = next) {
        next = talker->next;
        talker_check(talker, now_ms(talkers));
    }
}

/* --- coming ---------------------------------------------------------------------------------- */

static void address_note(struct talker *talker)
{
    struct sockaddr_storage peer;
    int size = sizeof peer;
    if (talker->local)
        snprintf(talker->address, sizeof talker->address, "unix");
    else if (uv_tcp_getpeername(&talker->socket.tcp, (struct sockaddr *)&peer, &size) != 0 ||
             getnameinfo((struct sockaddr *)&peer, (socklen_t)size, talker->address,
                         sizeof talker->address, NULL, 0, NI_NUMERICHOST) != 0)
        snprintf(talker->address, sizeof talker->address, "unknown");
}

static void talker_link(struct talkers *talkers, struct talker *talker)
{
    talker->next = talkers->first;
    talker->link = &talkers->first;
    if (talker->next != NULL)
        talker->next->link = &talker->next;
    talkers->first = talker;
    talkers->count++;
}

static void on_unwanted_closed(uv_handle_t *handle)
{
    free(handle->data);
}

static int socket_init(uv_loop_t *loop, union talk_socket *socket, bool is_unix)
{
    return is_unix ? uv_pipe_init(loop, &socket->pipe, 0) : uv_tcp_init(loop, &socket->tcp);
}

static void on_connecting(uv_stream_t *server, int status)
{
    struct talk_listener *listener = server->data;
    struct talkers *talkers = listener->talkers;
    struct talker *talker = status == 0 ? calloc(1, sizeof *talker) : NULL;
    if (talker == NULL || socket_init(talkers->loop, &talker->socket, listener->is_unix) != 0) {
        free(talker);
        return; /* libuv keeps it, and tries again with the next */
    }
    talker->socket.handle.data = talker;
    if (uv_accept(server, &talker->socket.stream) != 0) {
        uv_close(&talker->socket.handle, on_unwanted_closed);
        return;
    }
    talker->talkers = talkers;
    talker->local = listener->is_unix;
    talker->heard_ms = talker->moved_ms = talker->begun_ms = now_ms(talkers);
    if (!listener->is_unix) {
        uv_tcp_nodelay(&talker->socket.tcp, 1);
        uv_tcp_keepalive(&talker->socket.tcp, 1, KEEP_ALIVE_SECONDS);
    }
    address_note(talker);
    talker_link(talkers, talker);
    talkers->callbacks.opened(talkers->callbacks.context, talker);
    if (talkers->count > talkers->options.talkers_max)
        end_because(talker, TALK_TOO_MANY);
    read_on(talker);
}

/* --- listening ------------------------------------------------------------------------------- */

/* A socket that nobody listens to is what a daemon leaves that was killed. */
static int path_clear(const char *path)
{
    struct sockaddr_un name = {.sun_family = AF_UNIX};
    struct stat file;
    if (lstat(path, &file) != 0)
        return errno == ENOENT ? 0 : -errno;
    if (!S_ISSOCK(file.st_mode))
        return UV_EEXIST;
    int probe = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (probe < 0)
        return -errno;
    snprintf(name.sun_path, sizeof name.sun_path, "%s", path);
    int error = connect(probe, (struct sockaddr *)&name, sizeof name) == 0 ? 0 : errno;
    close(probe);
    if (error != ECONNREFUSED)
        return UV_EADDRINUSE;
    return unlink(path) == 0 ? 0 : -errno;
}

/* Nobody else can open it between its making and its mode. */
static int bind_unix(struct talk_listener *listener, const char *path, unsigned mode)
{
    int error = path_clear(path);
    if (error != 0)
        return error;
    mode_t usual = umask(0177);
    error = uv_pipe_bind(&listener->socket.pipe, path);
    umask(usual);
    if (error == 0 && chmod(path, mode) != 0)
        error = -errno;
    return error;
}

static int bind_tcp(struct talk_listener *listener, const struct listening *tcp)
{
    char port[16];
    struct addrinfo hints = {.ai_flags = AI_PASSIVE | AI_NUMERICSERV, .ai_socktype = SOCK_STREAM};
    struct addrinfo *address = NULL;
    snprintf(port, sizeof port, "%d", tcp->port);
    if (getaddrinfo(tcp->host, port, &hints, &address) != 0)
        return UV_EADDRNOTAVAIL;
    int error = uv_tcp_bind(&listener->socket.tcp, address->ai_addr, 0);
    freeaddrinfo(address);
    return error;
}

static int listener_open(struct talkers *talkers, const struct talking *talking)
{
    struct talk_listener *listener = &talkers->listeners[talkers->listener_count];
    listener->talkers = talkers;
    listener->is_unix = talking->is_unix;
    int error = socket_init(talkers->loop, &listener->socket, talking->is_unix);
    if (error != 0)
        return error;
    listener->open = true;
    listener->socket.handle.data = listener;
    talkers->listener_count++;
    error = talking->is_unix ? bind_unix(listener, talking->path, talkers->options.mode)
                             : bind_tcp(listener, &talking->tcp);
    return error != 0 ? error : uv_listen(&listener->socket.stream, 128, on_connecting);
}

static void listeners_close(struct talkers *talkers)
{
    for (size_t i = 0; i < talkers->listener_count; i++)
        if (talkers->listeners[i].open) {
            talkers->listeners[i].open = false;
            uv_close(&talkers->listeners[i].socket.handle, NULL); /* unlinks a file's */
        }
}

static void say_reason(char reason[TALKERS_REASON_SIZE], int error)
{
    const char *words = error == UV_EEXIST       ? "there is a file that isn't a socket"
                        : error == UV_EADDRINUSE ? "somebody listens there already"
                                                 : uv_strerror(error);
    snprintf(reason, TALKERS_REASON_SIZE, "%s", words);
}

int talkers_start(struct talkers **started, uv_loop_t *loop, const struct talkers_options *options,
                  const struct talkers_callbacks *callbacks, size_t *failed,
                  char reason[TALKERS_REASON_SIZE])
{
    struct talkers *talkers = calloc(1, sizeof *talkers);
    int error = UV_ENOMEM;
    *failed = 0;
    say_reason(reason, error);
    *started = talkers;
    if (talkers == NULL)
        return error;
    talkers->loop = loop;
    talkers->options = *options;
    talkers->callbacks = *callbacks;
    uv_timer_init(loop, &talkers->tick);
    uv_idle_init(loop, &talkers->resuming);
    talkers->tick.data = talkers->resuming.data = talkers;
    error = uv_timer_start(&talkers->tick, on_tick, TICK_MS, TICK_MS);
    for (size_t i = 0; i < options->listen_count && error == 0; i++) {
        *failed = i;
        error = listener_open(talkers, &options->listen[i]);
    }
    if (error != 0)
        say_reason(reason, error);
    return error;
}

int talkers_port(const struct talkers *talkers, size_t i)
{
    struct sockaddr_storage name;
    int size = sizeof name;
    const struct talk_listener *listener = &talkers->listeners[i];
    if (listener->is_unix ||
        uv_tcp_getsockname(&listener->socket.tcp, (struct sockaddr *)&name, &size) != 0)
        return 0;
    return ntohs(name.ss_family == AF_INET6 ? ((struct sockaddr_in6 *)&name)->sin6_port
                                            : ((struct sockaddr_in *)&name)->sin_port);
}

size_t talkers_count(const struct talkers *talkers)
{
    return talkers == NULL ? 0 : talkers->count;
}

void talkers_drain(struct talkers *talkers)
{
    struct talker *next;
    if (talkers == NULL || talkers->draining)
        return;
    talkers->draining = true;
    listeners_close(talkers);
    for (struct talker *talker = talkers->first; talker != NULL; talker = next) {
        next = talker->next;
        talker->leaving = talker->heard_all = true;
        if (talker->reading)
            read_stop(talker);
        if (!talker->taking)
            read_on(talker);
    }
}

void talkers_close(struct talkers *talkers)
{
    if (talkers == NULL || uv_is_closing((uv_handle_t *)&talkers->tick))
        return;
    listeners_close(talkers);
    while (talkers->first != NULL)
        talker_close(talkers->first);
    uv_close((uv_handle_t *)&talkers->tick, NULL);
    uv_close((uv_handle_t *)&talkers->resuming, NULL);
}

void talkers_free(struct talkers *talkers)
{
    free(talkers);
}

/* --- what the daemon asks -------------------------------------------------------------------- */

bool talker_is_local(const struct talker *talker)
{
    return talker->local;
}

const char *talker_address(const struct talker *talker)
{
    return talker->address;
}

void talker_set_context(struct talker *talker, void *context)
{
    talker->context = context;
}

void *talker_context(const struct talker *talker)
{
    return talker->context;
}
