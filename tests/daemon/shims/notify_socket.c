/* A service manager's ear for tests: binds a datagram socket (a path, or "@name" for an abstract
 * one), says "listening", and then prints each datagram as one line, its line feeds as "|". */
#include <stddef.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>

int main(int argc, char **argv)
{
    struct sockaddr_un name = {.sun_family = AF_UNIX};
    char message[4096];
    if (argc != 2 || strlen(argv[1]) >= sizeof name.sun_path)
        return 2;
    size_t size = strlen(argv[1]);
    memcpy(name.sun_path, argv[1], size);
    socklen_t name_size = (socklen_t)(offsetof(struct sockaddr_un, sun_path) + size);
    if (argv[1][0] == '@')
        name.sun_path[0] = '\0';
    else
        name_size++;
    int ear = socket(AF_UNIX, SOCK_DGRAM, 0);
    if (ear < 0 || bind(ear, (struct sockaddr *)&name, name_size) != 0) {
        perror(argv[1]);
        return 1;
    }
    puts("listening");
    fflush(stdout);
    for (;;) {
        ssize_t got = recv(ear, message, sizeof message - 1, 0);
        if (got < 0)
            return 1;
        message[got] = '\0';
        for (char *end = message; (end = strchr(end, '\n')) != NULL;)
            *end = '|';
        puts(message);
        fflush(stdout);
    }
}
