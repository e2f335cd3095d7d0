#include "net/origin.h"
#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include "net/address.h"

static int usual_port(const char *scheme)
{
    if (strcmp(scheme, "https") == 0)
        return 443;
    return strcmp(scheme, "http") == 0 ? 80 : 0;
}

/* Digits, 1 to 65535; else 0. */
static int port_read(const char *text, size_t size)
{
    int port = 0;
    if (size == 0 || size > 5)
        return 0;
    for (size_t i = 0; i < size; i++) {
        if (!isdigit((unsigned char)text[i]))
            return 0;
        port = port * 10 + text[i] - '0';
    }
    return port > 65535 ? 0 : port;
}

static bool is_host_sign(char sign, bool bracketed)
{
    unsigned char letter = (unsigned char)sign;
    return isalnum(letter) || sign == '-' || sign == '.' || sign == '_' ||
           (bracketed && sign == ':');
}

/* The host's part of "host:port": "[::1]" with its brackets. 0: it is none. */
static size_t host_size(const char *text, size_t size)
{
    bool bracketed = size > 0 && text[0] == '[';
    size_t end = bracketed ? 1 : 0;
    while (end < size && is_host_sign(text[end], bracketed))
        end++;
    if (!bracketed)
        return end;
    struct address address;
    bool closed = end < size && text[end] == ']' && address_read(&address, text + 1, end - 1);
    return closed ? end + 1 : 0;
}

static bool authority_read(struct origin *origin, const char *scheme, const char *text, size_t size)
{
    size_t host = host_size(text, size);
    if (host == 0 || host >= sizeof origin->host)
        return false;
    int port = usual_port(scheme);
    if (host < size &&
        (text[host] != ':' || (port = port_read(text + host + 1, size - host - 1)) == 0))
        return false;
    *origin = (struct origin){.port = port};
    snprintf(origin->scheme, sizeof origin->scheme, "%s", scheme);
    for (size_t i = 0; i < host; i++)
        origin->host[i] = (char)tolower((unsigned char)text[i]);
    return true;
}

bool origin_read_host(struct origin *origin, const char *scheme, const char *host)
{
    return authority_read(origin, scheme, host, strlen(host));
}

/* What follows the scheme; NULL: neither of the two. */
static const char *after_scheme(const char *text, const char **scheme)
{
    static const char *const schemes[] = {"http", "https"};
    for (size_t i = 0; i < sizeof schemes / sizeof *schemes; i++) {
        size_t size = strlen(schemes[i]);
        *scheme = schemes[i];
        if (strncasecmp(text, schemes[i], size) == 0 && strncmp(text + size, "://", 3) == 0)
            return text + size + 3;
    }
    return NULL;
}

bool origin_read(struct origin *origin, const char *text)
{
    const char *scheme, *rest = after_scheme(text, &scheme);
    return rest != NULL && authority_read(origin, scheme, rest, strlen(rest));
}

bool origin_same(const struct origin *a, const struct origin *b)
{
    bool scheme_is_known = a->scheme[0] != '\0' && b->scheme[0] != '\0';
    if (strcmp(a->host, b->host) != 0 || (scheme_is_known && strcmp(a->scheme, b->scheme) != 0))
        return false;
    /* "hall.example" alone may be either scheme's usual port. */
    const struct origin *open = a->port == 0 ? a : b, *other = open == a ? b : a;
    if (open->port == 0)
        return other->port == 0 || other->port == usual_port(other->scheme);
    return a->port == b->port;
}

/* "/hall/of/fame": its parts plain, so that it is written in one way only. */
static bool is_public_path(const char *path, size_t size)
{
    for (size_t i = 0; i < size; i++) {
        if (path[i] == '/' && (i + 1 == size || path[i + 1] == '/' || path[i + 1] == '.'))
            return false;
        if (!isalnum((unsigned char)path[i]) && strchr("/-_.~", path[i]) == NULL)
            return false;
    }
    return true;
}

bool public_url_read(struct public_url *url, const char *text)
{
    const char *scheme, *rest = after_scheme(text, &scheme);
    if (rest == NULL)
        return false;
    size_t authority = strcspn(rest, "/");
    const char *path = rest + authority;
    size_t size = strlen(path);
    if (size > 0 && path[size - 1] == '/')
        size--;
    struct public_url read = {.path = ""};
    if (size >= sizeof read.path || !is_public_path(path, size) ||
        !authority_read(&read.origin, scheme, rest, authority))
        return false;
    memcpy(read.path, path, size);
    *url = read;
    return true;
}

void public_url_write(const struct public_url *url, char *text, size_t room)
{
    const struct origin *origin = &url->origin;
    char port[16] = "";
    if (origin->port != usual_port(origin->scheme))
        snprintf(port, sizeof port, ":%d", origin->port);
    snprintf(text, room, "%s://%s%s%s/", origin->scheme, origin->host, port, url->path);
}

bool host_is_local(const struct origin *origin)
{
    struct address address;
    size_t size = strlen(origin->host);
    if (strcmp(origin->host, "localhost") == 0 ||
        (size > 10 && strcmp(origin->host + size - 10, ".localhost") == 0))
        return true;
    bool bracketed = origin->host[0] == '[';
    return address_read(&address, origin->host + bracketed, size - 2U * bracketed) &&
           address_is_loopback(&address);
}

const char *public_path_strip(const struct public_url *url, const char *path)
{
    size_t size = strlen(url->path);
    bool below = size > 0 && strncmp(path, url->path, size) == 0 &&
                 (path[size] == '/' || path[size] == '\0');
    return below ? path + size : path;
}
