/* The floor that fan-out is measured against: a server that does nothing but what nobody can leave
 * out. One epoll loop; who asks for a WebSocket or a stream is a subscriber; a POST's body is
 * framed once and goes to each of them by one send() of the same bytes. It keeps nothing for
 * anybody, checks nothing, pings nobody, and counts on every send being taken whole. */
#include <arpa/inet.h>
#include <openssl/evp.h>
#include <openssl/sha.h>
#include <netinet/tcp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <unistd.h>
#include "subscriber.h"

enum { SUBSCRIBERS_MAX = 1 << 17, BODY_MAX = 65000 };

static int subscribers[SUBSCRIBERS_MAX], subscriber_count, queue;
static enum subscriber_kind kind;

static void say(int client, const char *text, size_t size)
{
    if (send(client, text, size, MSG_NOSIGNAL) != (ssize_t)size)
        give_up("a send wasn't taken");
}

static void to_all(const char *body, size_t size)
{
    static char frame[BODY_MAX + 64];
    size_t head = 0, tail = 0;
    if (kind == SUBSCRIBER_EVENTS) {
        head = (size_t)sprintf(frame, "event: patch\ndata: ");
        tail = (size_t)sprintf(frame + head + size, "\n\n");
    } else { /* RFC 6455 5.2 */
        frame[head++] = (char)0x81;
        frame[head++] = (char)(size > 125 ? 126 : size);
        if (size > 125) {
            frame[head++] = (char)(size >> 8);
            frame[head++] = (char)size;
        }
    }
    memcpy(frame + head, body, size);
    for (int i = 0; i < subscriber_count; i++)
        say(subscribers[i], frame, head + size + tail);
}

static void subscribe(int client, const char *head)
{
    static const char salt[] = "258EAFA5-E914-47DA-95CA-C5AB0DC85B11"; /* RFC 6455 1.3 */
    const char *key = strcasestr(head, "Sec-WebSocket-Key: ");
    char salted[80], answer[256], accept[40];
    unsigned char hash[SHA_DIGEST_LENGTH];
    int size;
    if (key != NULL) {
        kind = SUBSCRIBER_WEBSOCKET;
        snprintf(salted, sizeof salted, "%.24s%s", key + 19, salt);
        SHA1((unsigned char *)salted, strlen(salted), hash);
        EVP_EncodeBlock((unsigned char *)accept, hash, sizeof hash);
        size = snprintf(answer, sizeof answer,
                        "HTTP/1.1 101 Switching Protocols\r\nUpgrade: websocket\r\n"
                        "Connection: Upgrade\r\nSec-WebSocket-Accept: %s\r\n\r\n",
                        accept);
    } else {
        kind = SUBSCRIBER_EVENTS;
        size = snprintf(answer, sizeof answer,
                        "HTTP/1.1 200 OK\r\nContent-Type: text/event-stream\r\n\r\n");
    }
    say(client, answer, (size_t)size);
    if (subscriber_count == SUBSCRIBERS_MAX)
        give_up("too many");
    subscribers[subscriber_count++] = client;
}

/* Whole requests are counted on: the bench sends each at once. */
static void read_from(int client)
{
    static char text[BODY_MAX];
    ssize_t size = recv(client, text, sizeof text - 1, 0);
    if (size <= 0) {
        close(client);
        return;
    }
    text[size] = '\0';
    char *body = strstr(text, "\r\n\r\n");
    if (body == NULL)
        return; /* what a subscriber says */
    body += 4;
    if (strncmp(text, "GET ", 4) == 0) {
        subscribe(client, text);
        return;
    }
    to_all(body, (size_t)(text + size - body));
    static const char done[] = "HTTP/1.1 204 No Content\r\nConnection: close\r\n\r\n";
    say(client, done, sizeof done - 1);
}

static void watch(int socket)
{
    struct epoll_event event = {.events = EPOLLIN, .data.fd = socket};
    if (epoll_ctl(queue, EPOLL_CTL_ADD, socket, &event) != 0)
        give_up("can't watch");
}

static void accept_all(int listener)
{
    int client, one = 1;
    while ((client = accept4(listener, NULL, NULL, SOCK_NONBLOCK | SOCK_CLOEXEC)) >= 0) {
        setsockopt(client, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one);
        watch(client);
    }
}

static int listen_somewhere(void)
{
    struct sockaddr_in name = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t size = sizeof name;
    int listener = socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (bind(listener, (struct sockaddr *)&name, size) != 0 || listen(listener, 4096) != 0 ||
        getsockname(listener, (struct sockaddr *)&name, &size) != 0)
        give_up("can't listen");
    printf("http://127.0.0.1:%d/\n", ntohs(name.sin_port));
    fflush(stdout);
    return listener;
}

int main(void)
{
    struct rlimit limit;
    getrlimit(RLIMIT_NOFILE, &limit);
    limit.rlim_cur = limit.rlim_max;
    setrlimit(RLIMIT_NOFILE, &limit);
    queue = epoll_create1(EPOLL_CLOEXEC);
    int listener = listen_somewhere();
    watch(listener);
    watch(STDIN_FILENO); /* who started it has gone, when this ends */
    for (;;) {
        struct epoll_event events[256];
        int count = epoll_wait(queue, events, 256, -1);
        for (int i = 0; i < count; i++)
            if (events[i].data.fd == STDIN_FILENO)
                return 0;
            else if (events[i].data.fd == listener)
                accept_all(listener);
            else
                read_from(events[i].data.fd);
    }
}
