/* What a screen and a booth get while thousands follow, for `make bench`.
 *
 *   bench_screen PORT MAT
 *
 * follows out/main and the mat's booth. For each line on standard input, posts it as an event and
 * answers with a line of JSON: when each of the two got its message, and when the answer came,
 * after the event was sent. The kernel's own time of arrival counts, so that it doesn't matter when
 * this process gets its turn beside the crowd. */
#include <errno.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>
#include "subscriber.h"

enum { PATIENCE_MS = 20000 };

struct follower {
    int socket;
    bool head_seen;
    size_t size;
    char bytes[1 << 20];
    uint64_t message_ns; /* arrival of the last message, by CLOCK_REALTIME */
    unsigned messages;
};

static struct follower screen, booth;
static int port;

static uint64_t real_ns(const struct timespec *time)
{
    return (uint64_t)time->tv_sec * 1000000000 + (uint64_t)time->tv_nsec;
}

/* Reads, and answers when the bytes arrived. 0: the other side has closed. */
static ssize_t timed_recv(int socket, char *to, size_t room, uint64_t *at_ns)
{
    union {
        char bytes[256];
        struct cmsghdr align;
    } control;
    struct iovec piece = {to, room};
    struct msghdr message = {.msg_iov = &piece,
                             .msg_iovlen = 1,
                             .msg_control = control.bytes,
                             .msg_controllen = sizeof control.bytes};
    ssize_t came = recvmsg(socket, &message, 0);
    for (struct cmsghdr *part = CMSG_FIRSTHDR(&message); part != NULL;
         part = CMSG_NXTHDR(&message, part))
        if (part->cmsg_level == SOL_SOCKET && part->cmsg_type == SCM_TIMESTAMPNS) {
            struct timespec time;
            memcpy(&time, CMSG_DATA(part), sizeof time);
            *at_ns = real_ns(&time);
        }
    return came;
}

static void follower_read(struct follower *follower, const char *topic)
{
    uint64_t at_ns = 0;
    ssize_t came = timed_recv(follower->socket, follower->bytes + follower->size,
                              sizeof follower->bytes - follower->size, &at_ns);
    if (came <= 0)
        give_up("the screen was cut off");
    follower->size += (size_t)came;
    for (;;) {
        struct piece piece =
            piece_of(SUBSCRIBER_WEBSOCKET, follower->head_seen, follower->bytes, follower->size);
        if (piece.kind == PIECE_NONE)
            return;
        if (piece.kind == PIECE_HEAD) {
            follower->head_seen = true;
            subscriber_subscribe(follower->socket, topic);
        } else if (piece.kind == PIECE_PING) {
            subscriber_pong(follower->socket, piece.text, piece.size - 2);
        } else if (piece.kind == PIECE_MESSAGE) {
            follower->messages++;
            follower->message_ns = at_ns;
        }
        follower->size -= piece.size;
        memmove(follower->bytes, follower->bytes + piece.size, follower->size);
    }
}

static int connect_timed(void)
{
    int one = 1, socket = subscriber_connect(port, 0, 0);
    setsockopt(socket, SOL_SOCKET, SO_TIMESTAMPNS, &one, sizeof one);
    return socket;
}

static const char *booth_topic;

/* Looks at what comes until both have `wanted` messages and the asker has its answer. */
static void wait_for_all(unsigned wanted, int asker, uint64_t *answered_ns)
{
    char answer[4096];
    while (screen.messages < wanted || booth.messages < wanted || asker >= 0) {
        struct pollfd sources[] = {
            {screen.socket, POLLIN, 0}, {booth.socket, POLLIN, 0}, {asker, POLLIN, 0}};
        if (poll(sources, 3, PATIENCE_MS) <= 0)
            give_up("a screen waits for its message");
        if (sources[0].revents != 0)
            follower_read(&screen, "out/main");
        if (sources[1].revents != 0)
            follower_read(&booth, booth_topic);
        if (asker >= 0 && sources[2].revents != 0) {
            if (timed_recv(asker, answer, sizeof answer, answered_ns) <= 0)
                give_up("no answer");
            errno = 0;
            if (strncmp(answer, "HTTP/1.1 2", 10) != 0)
                give_up(answer);
            asker = -1;
        }
    }
}

static double ms_since(uint64_t start_ns, uint64_t at_ns)
{
    return ((double)at_ns - (double)start_ns) * 1e-6;
}

static void event_do(const char *body)
{
    static char request[65536];
    int size = snprintf(request, sizeof request,
                        "POST /api/v1/events HTTP/1.1\r\nHost: 127.0.0.1\r\n"
                        "Content-Type: application/json\r\nContent-Length: %zu\r\n\r\n%s",
                        strlen(body), body);
    int asker = connect_timed();
    usleep(2000); /* it is accepted meanwhile */
    struct timespec start;
    uint64_t answered_ns = 0;
    clock_gettime(CLOCK_REALTIME, &start);
    if (send(asker, request, (size_t)size, MSG_NOSIGNAL) != size)
        give_up("can't ask");
    wait_for_all(screen.messages + 1, asker, &answered_ns);
    close(asker);
    printf("{\"screen_ms\":%.3f,\"booth_ms\":%.3f,\"answer_ms\":%.3f}\n",
           ms_since(real_ns(&start), screen.message_ns),
           ms_since(real_ns(&start), booth.message_ns), ms_since(real_ns(&start), answered_ns));
    fflush(stdout);
}

int main(int argument_count, char **arguments)
{
    static char topic[128], line[65536];
    if (argument_count != 3)
        return 2;
    port = atoi(arguments[1]);
    snprintf(topic, sizeof topic, "mat/%s/booth", arguments[2]);
    booth_topic = topic;
    screen.socket = connect_timed();
    booth.socket = connect_timed();
    subscriber_ask(screen.socket, SUBSCRIBER_WEBSOCKET, NULL);
    subscriber_ask(booth.socket, SUBSCRIBER_WEBSOCKET, NULL);
    wait_for_all(1, -1, NULL);
    puts("{\"follows\":true}");
    fflush(stdout);
    while (fgets(line, sizeof line, stdin) != NULL) {
        line[strcspn(line, "\n")] = '\0';
        event_do(line);
    }
    return 0;
}
