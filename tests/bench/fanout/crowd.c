/* Thousands of subscribers in one process, for `make bench`: the same towards every server.
 *
 *   bench_crowd ws|sse PORT PID COUNT TOPIC SLOW_COUNT
 *
 * connects COUNT subscribers and says what that took; then does what it is told by lines:
 *   round METHOD-AND-PATH TYPE BODY   posts BODY, waits until everyone has one more message
 *   slow                              the first SLOW_COUNT stop reading
 *   quiet SECONDS                     only answers pings, and says what the server's CPU did
 * and answers each with a line of JSON. PID is the server's, whose CPU time is asked for before
 * and after, with that of the kernel's softirq threads. TOPIC "-": subscribers need not ask for
 * one, and no snapshot comes. */
#include <errno.h>
#include <glob.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>
#include "subscriber.h"

enum {
    AT_ONCE = 64,
    SLOW_BYTES = 4096,
    LINE_MAX_SIZE = 65536,
    PATIENCE_S = 20,
    SOFTIRQ_THREADS_MAX = 64
};

struct subscriber {
    int socket;
    bool head_seen, slow;
    unsigned messages;
    size_t held_size;
    char *held; /* of a piece that isn't whole yet */
};

static struct subscriber *subscribers;
static uint64_t *arrivals; /* of this round's message, of each */
static size_t count, slow_count, ready_count, message_size;
static unsigned wanted; /* messages each must have */
static size_t have;     /* how many have them */
static enum subscriber_kind kind;
static const char *topic;
static int queue, port;
static clockid_t server_clock;
static char softirq_paths[SOFTIRQ_THREADS_MAX][64];
static size_t softirq_count;
static uint64_t batch_ns; /* when the events being looked at were had from the kernel */

/* The kernel's threads that take over when much is sent at once: what they do is the sending's
 * cost too, and not counted as the server's. */
static void find_softirq_threads(void)
{
    glob_t found;
    if (glob("/proc/[0-9]*/comm", 0, NULL, &found) != 0)
        return;
    for (size_t i = 0; i < found.gl_pathc && softirq_count < SOFTIRQ_THREADS_MAX; i++) {
        char name[64] = "", *path = found.gl_pathv[i];
        FILE *file = fopen(path, "re");
        if (file != NULL && fgets(name, sizeof name, file) != NULL &&
            strncmp(name, "ksoftirqd/", 10) == 0)
            snprintf(softirq_paths[softirq_count++], sizeof *softirq_paths, "%.*s/schedstat",
                     (int)(strrchr(path, '/') - path), path);
        if (file != NULL)
            fclose(file);
    }
    globfree(&found);
}

static uint64_t softirq_cpu_ns(void)
{
    uint64_t sum = 0;
    for (size_t i = 0; i < softirq_count; i++) {
        unsigned long long ns = 0;
        FILE *file = fopen(softirq_paths[i], "re");
        if (file != NULL && fscanf(file, "%llu", &ns) == 1)
            sum += ns;
        if (file != NULL)
            fclose(file);
    }
    return sum;
}

static uint64_t server_cpu_ns(void)
{
    struct timespec spent;
    if (clock_gettime(server_clock, &spent) != 0)
        give_up("the server has gone");
    return (uint64_t)spent.tv_sec * 1000000000 + (uint64_t)spent.tv_nsec + softirq_cpu_ns();
}

static void note_message(struct subscriber *subscriber, size_t size)
{
    if (++subscriber->messages != wanted || subscriber->slow)
        return;
    have++;
    arrivals[subscriber - subscribers] = batch_ns;
    message_size = size;
}

static void note_piece(struct subscriber *subscriber, struct piece piece)
{
    switch (piece.kind) {
    case PIECE_HEAD:
        subscriber->head_seen = true;
        ready_count++;
        if (kind == SUBSCRIBER_WEBSOCKET && topic != NULL)
            subscriber_subscribe(subscriber->socket, topic);
        break;
    case PIECE_MESSAGE:
        note_message(subscriber, piece.size);
        break;
    case PIECE_PING:
        subscriber_pong(subscriber->socket, piece.text, piece.size - 2);
        break;
    case PIECE_CLOSE:
        errno = 0;
        give_up("a subscriber was cut off");
        break;
    case PIECE_OTHER:
    case PIECE_NONE:
        break;
    }
}

static void hold(struct subscriber *subscriber, const char *bytes, size_t size)
{
    char *held = size > 0 ? malloc(size) : NULL;
    if (size > 0)
        memcpy(held, bytes, size);
    free(subscriber->held);
    subscriber->held = held;
    subscriber->held_size = size;
}

static void read_from(struct subscriber *subscriber)
{
    static char buffer[1 << 20];
    size_t size = subscriber->held_size, at = 0;
    if (size > 0)
        memcpy(buffer, subscriber->held, size);
    ssize_t came = recv(subscriber->socket, buffer + size, sizeof buffer - size, MSG_DONTWAIT);
    if (came == 0 || (came < 0 && errno != EAGAIN))
        give_up("a subscriber was cut off");
    if (came < 0)
        return;
    size += (size_t)came;
    for (;;) {
        struct piece piece = piece_of(kind, subscriber->head_seen, buffer + at, size - at);
        if (piece.kind == PIECE_NONE)
            break;
        note_piece(subscriber, piece);
        at += piece.size;
    }
    if (size > at || subscriber->held_size > 0)
        hold(subscriber, buffer + at, size - at);
}

/* One look at what has come. False: it was a line of commands. */
static bool pump(int timeout_ms)
{
    struct epoll_event events[256];
    bool told = false;
    int found = epoll_wait(queue, events, 256, timeout_ms);
    batch_ns = now_ns();
    for (int i = 0; i < found; i++)
        if (events[i].data.ptr == NULL)
            told = true;
        else
            read_from(events[i].data.ptr);
    return !told;
}

static void pump_until(const size_t *what, size_t enough)
{
    uint64_t end_ns = now_ns() + PATIENCE_S * UINT64_C(1000000000);
    while (*what < enough && now_ns() < end_ns)
        pump(100);
    errno = ETIMEDOUT;
    if (*what < enough)
        give_up("not everyone got it");
}

static void watch(int socket, void *who)
{
    struct epoll_event event = {.events = EPOLLIN, .data.ptr = who};
    if (epoll_ctl(queue, EPOLL_CTL_ADD, socket, &event) != 0)
        give_up("can't watch");
}

static void connect_all(void)
{
    uint64_t start_ns = now_ns();
    wanted = topic != NULL ? 1 : 0;
    for (size_t i = 0; i < count; i++) {
        struct subscriber *subscriber = &subscribers[i];
        subscriber->socket = subscriber_connect(port, (unsigned)i, i < slow_count ? SLOW_BYTES : 0);
        watch(subscriber->socket, subscriber);
        subscriber_ask(subscriber->socket, kind, topic);
        pump_until(&ready_count, i < AT_ONCE ? 0 : i - AT_ONCE);
    }
    pump_until(&ready_count, count);
    if (topic != NULL)
        pump_until(&have, count);
    printf("{\"connected\":%zu,\"seconds\":%.3f}\n", count, (double)(now_ns() - start_ns) * 1e-9);
}

static int by_time(const void *one, const void *other)
{
    uint64_t a = *(const uint64_t *)one, b = *(const uint64_t *)other;
    return (a > b) - (a < b);
}

static double quantile_ms(const uint64_t *sorted, size_t all, double part, uint64_t since_ns)
{
    size_t i = (size_t)((double)all * part);
    return (double)(sorted[i < all ? i : all - 1] - since_ns) * 1e-6;
}

/* The answer is waited for too: what the server does for it belongs to the round. */
static void round_do(const char *path, const char *type, const char *body)
{
    static char request[LINE_MAX_SIZE + 512], answer[4096];
    int size = snprintf(request, sizeof request,
                        "%s HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: %s\r\n"
                        "Content-Length: %zu\r\n\r\n%s",
                        path, type, strlen(body), body);
    int asker = subscriber_connect(port, (unsigned)count, 0);
    for (int i = 0; i < 4; i++)
        pump(1); /* the connection is accepted meanwhile */
    have = 0;
    wanted++;
    uint64_t cpu_ns = server_cpu_ns(), start_ns = now_ns();
    if (send(asker, request, (size_t)size, MSG_NOSIGNAL) != size)
        give_up("can't ask");
    pump_until(&have, count - slow_count);
    uint64_t end_ns = now_ns();
    ssize_t answered = recv(asker, answer, sizeof answer - 1, 0);
    usleep(1000);
    cpu_ns = server_cpu_ns() - cpu_ns;
    close(asker);
    answer[answered > 0 ? answered : 0] = '\0';
    if (strncmp(answer, "HTTP/1.1 2", 10) != 0) {
        errno = 0;
        give_up(answer);
    }
    qsort(arrivals + slow_count, count - slow_count, sizeof *arrivals, by_time);
    const uint64_t *times = arrivals + slow_count;
    size_t all = count - slow_count;
    printf("{\"cpu_ns\":%" PRIu64 ",\"bytes\":%zu,\"first_ms\":%.3f,\"p50_ms\":%.3f,"
           "\"p99_ms\":%.3f,\"last_ms\":%.3f}\n",
           cpu_ns, message_size, quantile_ms(times, all, 0, start_ns),
           quantile_ms(times, all, 0.5, start_ns), quantile_ms(times, all, 0.99, start_ns),
           (double)(end_ns - start_ns) * 1e-6);
}

static void slow_down(void)
{
    for (size_t i = 0; i < slow_count; i++) {
        epoll_ctl(queue, EPOLL_CTL_DEL, subscribers[i].socket, NULL);
        subscribers[i].slow = true;
    }
    printf("{\"slow\":%zu}\n", slow_count);
}

static void quiet(double seconds)
{
    uint64_t start_ns = now_ns(), cpu_ns = server_cpu_ns();
    while ((double)(now_ns() - start_ns) * 1e-9 < seconds)
        pump(10);
    printf("{\"cpu_ns\":%" PRIu64 ",\"ns\":%" PRIu64 "}\n", server_cpu_ns() - cpu_ns,
           now_ns() - start_ns);
}

static void obey(char *line)
{
    char *rest = line;
    const char *word = strsep(&rest, "\t\n");
    if (strcmp(word, "round") == 0) {
        const char *path = strsep(&rest, "\t"), *type = strsep(&rest, "\t");
        round_do(path, type, strsep(&rest, "\n"));
    } else if (strcmp(word, "slow") == 0) {
        slow_down();
    } else if (strcmp(word, "quiet") == 0) {
        quiet(atof(rest));
    }
    fflush(stdout);
}

int main(int argument_count, char **arguments)
{
    static char line[LINE_MAX_SIZE];
    if (argument_count != 7)
        return 2;
    struct rlimit limit;
    getrlimit(RLIMIT_NOFILE, &limit);
    limit.rlim_cur = limit.rlim_max;
    setrlimit(RLIMIT_NOFILE, &limit);
    kind = strcmp(arguments[1], "sse") == 0 ? SUBSCRIBER_EVENTS : SUBSCRIBER_WEBSOCKET;
    port = atoi(arguments[2]);
    if (clock_getcpuclockid((pid_t)atoi(arguments[3]), &server_clock) != 0)
        give_up("no such server");
    count = (size_t)atol(arguments[4]);
    topic = strcmp(arguments[5], "-") == 0 ? NULL : arguments[5];
    slow_count = (size_t)atol(arguments[6]);
    subscribers = calloc(count, sizeof *subscribers);
    arrivals = calloc(count, sizeof *arrivals);
    queue = epoll_create1(EPOLL_CLOEXEC);
    find_softirq_threads();
    connect_all();
    fflush(stdout);
    watch(STDIN_FILENO, NULL);
    for (;;)
        if (!pump(-1)) {
            if (fgets(line, sizeof line, stdin) == NULL)
                return 0;
            obey(line);
        }
}
