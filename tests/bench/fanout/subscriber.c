#include "subscriber.h"
#include <arpa/inet.h>
#include <errno.h>
#include <netinet/tcp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>

enum { ADDRESSES = 200 }; /* 127.0.1.1 and so on */

uint64_t now_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000000000 + (uint64_t)now.tv_nsec;
}

void give_up(const char *what)
{
    fprintf(stderr, "bench: %s: %s\n", what, strerror(errno));
    exit(1);
}

int subscriber_connect(int port, unsigned from, int receive_bytes)
{
    int one = 1;
    struct sockaddr_in own = {.sin_family = AF_INET,
                              .sin_addr.s_addr = htonl(0x7f000101 + from % ADDRESSES)};
    struct sockaddr_in server = {.sin_family = AF_INET,
                                 .sin_port = htons((uint16_t)port),
                                 .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    int client = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (client < 0)
        give_up("no socket");
    setsockopt(client, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one);
    setsockopt(client, IPPROTO_IP, IP_BIND_ADDRESS_NO_PORT, &one, sizeof one);
    if (receive_bytes > 0)
        setsockopt(client, SOL_SOCKET, SO_RCVBUF, &receive_bytes, sizeof receive_bytes);
    if (bind(client, (struct sockaddr *)&own, sizeof own) != 0 ||
        connect(client, (struct sockaddr *)&server, sizeof server) != 0)
        give_up("can't connect");
    return client;
}

static void say(int socket, const char *text, size_t size)
{
    if (send(socket, text, size, MSG_NOSIGNAL) != (ssize_t)size)
        give_up("can't write");
}

void subscriber_ask(int socket, enum subscriber_kind kind, const char *topic)
{
    char text[512];
    int size = kind == SUBSCRIBER_EVENTS
                   ? snprintf(text, sizeof text,
                              "GET /sse/%s HTTP/1.1\r\nHost: 127.0.0.1\r\n"
                              "Accept: text/event-stream\r\n\r\n",
                              topic)
                   : snprintf(text, sizeof text,
                              "GET /ws HTTP/1.1\r\nHost: 127.0.0.1\r\nUpgrade: websocket\r\n"
                              "Connection: Upgrade\r\nSec-WebSocket-Version: 13\r\n"
                              "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n"
                              "Sec-WebSocket-Protocol: boutwire.v1\r\n\r\n");
    say(socket, text, (size_t)size);
}

/* A frame of at most 125 bytes, masked with zeros: RFC 6455 5.2, 5.3. */
static void frame_say(int socket, unsigned char first, const char *text, size_t size)
{
    char frame[6 + 125] = {(char)first, (char)(0x80 | size)};
    memcpy(frame + 6, text, size);
    say(socket, frame, 6 + size);
}

void subscriber_subscribe(int socket, const char *topic)
{
    char text[126];
    int size = snprintf(text, sizeof text, "{\"subscribe\":[{\"topic\":\"%s\"}]}", topic);
    frame_say(socket, 0x81, text, (size_t)size);
}

void subscriber_pong(int socket, const char *text, size_t size)
{
    frame_say(socket, 0x8a, text, size);
}

static bool begins(const char *text, size_t size, const char *with)
{
    size_t length = strlen(with);
    return size >= length && memcmp(text, with, length) == 0;
}

static struct piece ending(const char *bytes, size_t size, const char *end, enum piece_kind kind)
{
    const char *found = memmem(bytes, size, end, strlen(end));
    if (found == NULL)
        return (struct piece){PIECE_NONE, 0, NULL};
    return (struct piece){kind, (size_t)(found - bytes) + strlen(end), bytes};
}

static struct piece event_of(const char *bytes, size_t size)
{
    bool version = begins(bytes, size, "event: state") || begins(bytes, size, "event: patch");
    return ending(bytes, size, "\n\n", version ? PIECE_MESSAGE : PIECE_OTHER);
}

static struct piece frame_of(const char *bytes, size_t size)
{
    const unsigned char *head = (const unsigned char *)bytes;
    struct piece piece = {PIECE_NONE, 0, NULL};
    if (size < 2)
        return piece;
    size_t length = head[1] & 0x7f, head_size = length == 126 ? 4 : length == 127 ? 10 : 2;
    if (size < head_size)
        return piece;
    if (head_size > 2)
        for (size_t i = 2, sum = 0; i < head_size; i++)
            length = sum = sum * 256 + head[i];
    if (size < head_size + length)
        return piece;
    piece.size = head_size + length;
    piece.text = bytes + head_size;
    switch (head[0] & 0x0f) {
    case 1:
        piece.kind = begins(piece.text, length, "{\"beat") ? PIECE_OTHER : PIECE_MESSAGE;
        break;
    case 8:
        piece.kind = PIECE_CLOSE;
        break;
    case 9:
        piece.kind = PIECE_PING;
        break;
    default:
        piece.kind = PIECE_OTHER;
    }
    return piece;
}

struct piece piece_of(enum subscriber_kind kind, bool head_seen, const char *bytes, size_t size)
{
    if (!head_seen)
        return ending(bytes, size, "\r\n\r\n", PIECE_HEAD);
    return kind == SUBSCRIBER_EVENTS ? event_of(bytes, size) : frame_of(bytes, size);
}
