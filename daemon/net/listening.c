#include "net/listening.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool port_read(const char *text, int *port)
{
    size_t size = strlen(text);
    if (size == 0 || size > 5 || strspn(text, "0123456789") != size)
        return false;
    *port = (int)strtol(text, NULL, 10);
    return *port <= 65535;
}

bool listening_read(struct listening *listening, const char *text)
{
    struct listening read = {.tls = strncmp(text, "tls:", 4) == 0};
    const char *host = read.tls ? text + 4 : text, *colon = strrchr(host, ':');
    if (colon == NULL || !port_read(colon + 1, &read.port))
        return false;
    size_t size = (size_t)(colon - host);
    if (size > 2 && host[0] == '[' && colon[-1] == ']') {
        host++;
        size -= 2;
    }
    if (size == 0 || size >= sizeof read.host)
        return false;
    memcpy(read.host, host, size);
    *listening = read;
    return true;
}

bool talking_read(struct talking *talking, const char *text)
{
    struct talking read = {.is_unix = strncmp(text, "unix:", 5) == 0};
    if (read.is_unix) {
        size_t size = strlen(text + 5);
        if (size == 0 || size >= sizeof read.path)
            return false;
        memcpy(read.path, text + 5, size);
    } else if (strncmp(text, "tcp:", 4) != 0 || !listening_read(&read.tcp, text + 4) ||
               read.tcp.tls) {
        return false;
    }
    *talking = read;
    return true;
}

void listening_write(char text[LISTENING_TEXT_SIZE], const char *host, int port)
{
    bool six = strchr(host, ':') != NULL;
    snprintf(text, LISTENING_TEXT_SIZE, "%s%s%s:%d", six ? "[" : "", host, six ? "]" : "", port);
}
