#include "net/front.h"
#include <string.h>
#include "net/forwarded.h"

/* What the habit's headers say is taken over where Forwarded says nothing of it. */
static void hop_complete(struct hop *hop, const struct hop *other)
{
    if (hop->scheme[0] == '\0')
        memcpy(hop->scheme, other->scheme, sizeof hop->scheme);
    if (hop->host[0] == '\0')
        memcpy(hop->host, other->host, sizeof hop->host);
}

/* The word of the outermost proxy that is trusted; false: none counts. */
static bool word_find(const struct front *front, const struct head *head, struct address *address,
                      struct hop *word)
{
    const struct trust trust = {front->trusted, front->trusted_count};
    struct hops forwarded = {.count = 0}, habit;
    struct address of_forwarded = *address, of_habit = *address;
    if (head->forwarded != NULL && !forwarded_read(&forwarded, head->forwarded))
        forwarded.count = 0;
    x_forwarded_read(&habit, head->x_addresses, head->x_schemes, head->x_hosts);
    const struct hop *a = hops_follow(&forwarded, &trust, &of_forwarded);
    const struct hop *b = hops_follow(&habit, &trust, &of_habit);
    bool both = head->forwarded != NULL && head->x_addresses != NULL;
    if ((a == NULL && b == NULL) || (both && !address_same(&of_forwarded, &of_habit)))
        return false;
    *word = a != NULL ? *a : *b;
    if (a != NULL && b != NULL)
        hop_complete(word, b);
    *address = head->forwarded != NULL ? of_forwarded : of_habit;
    return true;
}

static bool is_passed_on(const struct front *front, const struct address *peer,
                         const struct head *head)
{
    const struct trust trust = {front->trusted, front->trusted_count};
    bool says_so = head->forwarded != NULL || head->x_addresses != NULL ||
                   head->x_schemes != NULL || head->x_hosts != NULL;
    return says_so && is_trusted(&trust, peer);
}

bool sender_read(struct sender *sender, const struct front *front, const struct address *peer,
                 const struct head *head)
{
    struct hop word;
    *sender = (struct sender){.address = *peer};
    /* In plain text it may have come by TLS to a proxy that says nothing. */
    const char *scheme = head->tls ? "https" : "";
    if (head->host != NULL && !origin_read_host(&sender->direct, scheme, head->host))
        return false;
    sender->host = sender->direct;
    sender->proxied = is_passed_on(front, peer, head);
    if (!sender->proxied || !word_find(front, head, &sender->address, &word))
        return true;
    struct origin told;
    if (origin_read_host(&told, word.scheme,
                         word.host[0] != '\0' ? word.host
                         : head->host != NULL ? head->host
                                              : ""))
        sender->host = told;
    return true;
}

bool front_knows_host(const struct front *front, const struct sender *sender)
{
    const char *host = sender->direct.host;
    if (host[0] == '\0' || host_is_local(&sender->direct) ||
        strcmp(host, front->public_url.origin.host) == 0)
        return true;
    for (size_t i = 0; i < front->allowed_count; i++)
        if (strcmp(host, front->allowed[i].host) == 0)
            return true;
    return false;
}

bool front_allows(const struct front *front, const struct sender *sender, const char *text)
{
    struct origin origin;
    const struct origin *ours = &front->public_url.origin;
    if (!origin_read(&origin, text))
        return false;
    for (size_t i = 0; i < front->allowed_count; i++)
        if (origin_same(&origin, &front->allowed[i]))
            return true;
    if (ours->host[0] != '\0' && origin_same(&origin, ours))
        return true;
    /* Who comes by way of the proxy comes to the public address, and to no other. */
    if (ours->host[0] != '\0' && sender->proxied)
        return false;
    return sender->host.host[0] != '\0' && origin_same(&origin, &sender->host);
}
