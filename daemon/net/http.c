#include "net/http.h"
#include <stdint.h>
#include <string.h>
#include <strings.h>

static const struct route routes[] = {
    {"/api/", PLACE_REQUESTS, METHOD_GET | METHOD_HEAD | METHOD_POST, "GET, HEAD, POST"},
    {"/text/", PLACE_STREAMS, METHOD_GET, "GET"},
    {"/sse/", PLACE_STREAMS, METHOD_GET, "GET"},
    {"/healthz", PLACE_REQUESTS, METHOD_GET | METHOD_HEAD, "GET, HEAD"},
    {"/readyz", PLACE_REQUESTS, METHOD_GET | METHOD_HEAD, "GET, HEAD"},
    {"/metrics", PLACE_REQUESTS, METHOD_GET | METHOD_HEAD, "GET, HEAD"},
    {"/ws", PLACE_WEBSOCKET, METHOD_GET, "GET"},
    {"/", PLACE_PAGES, METHOD_GET | METHOD_HEAD, "GET, HEAD"},
};

static bool route_matches(const struct route *route, const char *path)
{
    size_t size = strlen(route->path);
    if (route->path[size - 1] == '/')
        return strncmp(path, route->path, size) == 0;
    return strcmp(path, route->path) == 0;
}

const struct route *route_of(const char *path)
{
    size_t last = sizeof routes / sizeof *routes - 1; /* the pages: all the rest */
    for (size_t i = 0; i < last; i++)
        if (route_matches(&routes[i], path))
            return &routes[i];
    return &routes[last];
}

bool content_length_read(const char *text, size_t *length)
{
    if (*text == '\0')
        return false;
    size_t sum = 0;
    for (; *text != '\0'; text++) {
        if (*text < '0' || *text > '9')
            return false;
        size_t digit = (size_t)(*text - '0');
        if (sum > (SIZE_MAX - digit) / 10)
            return false;
        sum = sum * 10 + digit;
    }
    *length = sum;
    return true;
}

bool websocket_key_is_whole(const char *key)
{
    static const char signs[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    /* 16 bytes are 21 signs and 2 bits of the next, whose others are 0: A, Q, g or w. */
    return strspn(key, signs) == 22 && strchr("AQgw", key[21]) != NULL &&
           strcmp(key + 22, "==") == 0;
}

bool list_has(const char *list, const char *member)
{
    size_t size = strlen(member);
    while (*list != '\0') {
        list += strspn(list, ", \t");
        size_t length = strcspn(list, ", \t");
        if (length == size && strncasecmp(list, member, size) == 0)
            return true;
        list += length;
    }
    return false;
}

const char *status_phrase(int status)
{
    static const struct {
        int status;
        const char *phrase;
    } phrases[] = {
        {200, "OK"},
        {201, "Created"},
        {202, "Accepted"},
        {204, "No Content"},
        {301, "Moved Permanently"},
        {302, "Found"},
        {303, "See Other"},
        {304, "Not Modified"},
        {307, "Temporary Redirect"},
        {400, "Bad Request"},
        {401, "Unauthorized"},
        {403, "Forbidden"},
        {404, "Not Found"},
        {405, "Method Not Allowed"},
        {406, "Not Acceptable"},
        {408, "Request Timeout"},
        {409, "Conflict"},
        {410, "Gone"},
        {411, "Length Required"},
        {413, "Content Too Large"},
        {415, "Unsupported Media Type"},
        {421, "Misdirected Request"},
        {422, "Unprocessable Content"},
        {426, "Upgrade Required"},
        {429, "Too Many Requests"},
        {500, "Internal Server Error"},
        {503, "Service Unavailable"},
        {507, "Insufficient Storage"},
    };
    for (size_t i = 0; i < sizeof phrases / sizeof *phrases; i++)
        if (phrases[i].status == status)
            return phrases[i].phrase;
    return "";
}
