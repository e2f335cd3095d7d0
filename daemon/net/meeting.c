/* Who asks: read of a request's head, once, and judged by front.c. */
#include "net/client.h"
#include <string.h>

/* As large as a head may be, so that nothing is left out. */
struct head_text {
    char host[HEADERS_BYTES_MAX], origin[HEADERS_BYTES_MAX], forwarded[HEADERS_BYTES_MAX];
    char x_addresses[HEADERS_BYTES_MAX], x_schemes[HEADERS_BYTES_MAX], x_hosts[HEADERS_BYTES_MAX];
};

/* NULL: not there. A header of several lines is one list, but of those that lws doesn't know it
 * gives the first line alone. */
static const char *text_of(struct lws *wsi, enum lws_token_indexes token, const char *name,
                           char text[HEADERS_BYTES_MAX])
{
    int name_size = name == NULL ? 0 : (int)strlen(name);
    int size = name == NULL ? lws_hdr_copy(wsi, text, HEADERS_BYTES_MAX, token)
                            : lws_hdr_custom_copy(wsi, text, HEADERS_BYTES_MAX, name, name_size);
    return size > 0 ? text : NULL;
}

static bool is_http_1_0(struct lws *wsi)
{
    char text[16];
    return lws_hdr_copy(wsi, text, sizeof text, WSI_TOKEN_HTTP) > 0 &&
           strcmp(text, "HTTP/1.0") == 0;
}

static bool is_open(const struct net *net)
{
    return net->callbacks.is_open != NULL && net->callbacks.is_open(net->callbacks.context);
}

struct refusal client_meet(struct client *client, bool acts)
{
    static const char retry[] = "Retry-After: 10\r\n";
    const struct net *net = client->net;
    const struct front *front = net->options.front;
    struct lws *wsi = client->wsi;
    struct head_text text;
    struct sender sender;
    const struct head head = {
        .host = text_of(wsi, WSI_TOKEN_HOST, NULL, text.host),
        .forwarded = text_of(wsi, WSI_TOKEN_COUNT, "forwarded:", text.forwarded),
        .x_addresses = text_of(wsi, WSI_TOKEN_X_FORWARDED_FOR, NULL, text.x_addresses),
        .x_schemes = text_of(wsi, WSI_TOKEN_COUNT, "x-forwarded-proto:", text.x_schemes),
        .x_hosts = text_of(wsi, WSI_TOKEN_COUNT, "x-forwarded-host:", text.x_hosts),
        .tls = lws_get_ssl(wsi) != NULL,
    };
    const char *origin = text_of(wsi, WSI_TOKEN_ORIGIN, NULL, text.origin);
    if (!sender_read(&sender, front, &client->address, &head) ||
        (head.host == NULL && !is_http_1_0(wsi)))
        return (struct refusal){400, "Host must be one host", NULL};
    client->address = sender.address;
    if (sender.proxied && !client_count(client))
        return (struct refusal){429, "as many connections as an address may have", retry};
    if (is_open(net) && !front_knows_host(front, &sender))
        return (struct refusal){421, "this host isn't known here: see --public-url", NULL};
    if (acts && origin != NULL && !front_allows(front, &sender, origin))
        return (struct refusal){403, "sent by another site's page", NULL};
    return (struct refusal){0, NULL, NULL};
}
