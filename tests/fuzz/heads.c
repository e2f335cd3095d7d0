/* Any bytes as what a request's head says of its sender: Host, Origin, and what proxies add, a line
 * each, in this order: Host, Origin, Forwarded, X-Forwarded-For, -Proto, -Host, Content-Length. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "fuzz.h"
#include "net/front.h"
#include "net/http.h"

enum { LINES = 7 };

/* Parts the copy at its line feeds; what isn't there is NULL. */
static void part(char *copy, char *lines[LINES])
{
    for (size_t i = 0; i < LINES; i++) {
        lines[i] = copy;
        if (copy == NULL)
            continue;
        copy = strchr(copy, '\n');
        if (copy != NULL)
            *copy++ = '\0';
        if (lines[i][0] == '\0')
            lines[i] = NULL;
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct front front = {.trusted_count = 1};
    struct address peer;
    struct sender sender;
    char *lines[LINES];
    char *copy = malloc(size + 1);
    HOLDS(copy != NULL);
    memcpy(copy, data, size);
    copy[size] = '\0';
    part(copy, lines);
    HOLDS(address_range_read(&front.trusted[0], "10.0.0.0/8"));
    HOLDS(address_read(&peer, "10.1.2.3", 8));
    HOLDS(public_url_read(&front.public_url, "https://hall.example:8443/day"));
    const struct head head = {lines[0], lines[2], lines[3], lines[4], lines[5], false};
    if (sender_read(&sender, &front, &peer, &head)) {
        char text[ADDRESS_TEXT_SIZE];
        struct address again;
        address_write(&sender.address, text);
        HOLDS(address_read(&again, text, strlen(text)) && address_same(&again, &sender.address));
        front_knows_host(&front, &sender);
        if (lines[1] != NULL)
            front_allows(&front, &sender, lines[1]);
    }
    size_t length;
    if (lines[6] != NULL)
        content_length_read(lines[6], &length);
    free(copy);
    return 0;
}
