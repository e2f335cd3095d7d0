/* A client that hardly reads: connects to 127.0.0.1, says what comes on standard input (an HTTP
 * request for a WebSocket, and after its answer the frames behind it), then takes one byte every so
 * many milliseconds, or none at all (0). Prints "reading", and "closed" when the other side has
 * closed.
 *   slow_reader PORT MILLISECONDS */
#define _GNU_SOURCE /* memmem, POLLRDHUP */
#include <arpa/inet.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

static void say(int line, const char *bytes, size_t size)
{
    while (size > 0) {
        ssize_t sent = send(line, bytes, size, MSG_NOSIGNAL);
        if (sent <= 0)
            exit(1);
        bytes += sent;
        size -= (size_t)sent;
    }
}

static void read_head(int line)
{
    static const char end[] = "\r\n\r\n";
    for (size_t found = 0; found < 4;) {
        char byte;
        if (recv(line, &byte, 1, 0) != 1)
            exit(1);
        found = byte == end[found] ? found + 1 : byte == '\r' ? 1 : 0;
    }
}

int main(int argc, char **argv)
{
    static char input[1 << 20];
    int small = 4096, line = socket(AF_INET, SOCK_STREAM, 0);
    if (argc != 3)
        return 2;
    struct sockaddr_in to = {.sin_family = AF_INET, .sin_port = htons((uint16_t)atoi(argv[1]))};
    inet_pton(AF_INET, "127.0.0.1", &to.sin_addr);
    setsockopt(line, SOL_SOCKET, SO_RCVBUF, &small, sizeof small);
    if (connect(line, (struct sockaddr *)&to, sizeof to) != 0)
        return 1;
    size_t size = fread(input, 1, sizeof input, stdin);
    char *frames = memmem(input, size, "\r\n\r\n", 4);
    if (frames == NULL)
        return 2;
    frames += 4;
    say(line, input, (size_t)(frames - input));
    read_head(line);
    say(line, frames, size - (size_t)(frames - input));
    puts("reading");
    fflush(stdout);
    int pause_ms = atoi(argv[2]);
    for (;;) {
        struct pollfd gone = {.fd = line, .events = POLLRDHUP};
        char byte;
        if (poll(&gone, 1, pause_ms > 0 ? pause_ms : 1000) > 0)
            break;
        if (pause_ms > 0 && recv(line, &byte, 1, MSG_DONTWAIT) == 0)
            break;
    }
    puts("closed");
    return 0;
}
