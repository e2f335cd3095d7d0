/* Whose a request is, whether it was meant for us, and whether its page may act. Sources stand
 * beside the rows; what has none is our own rule (net/front.h). */
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <string.h>
#include "net/front.h"

static void read_or_fail(struct address *address, const char *text)
{
    cr_assert(address_read(address, text, strlen(text)), "%s", text);
}

/* On https://hall.example/hall/, behind 127.0.0.1 and 10.0.0.0/24; pages of score.example may act.
 */
static struct front hall_front(void)
{
    struct front front = {.trusted_count = 2, .allowed_count = 1};
    cr_assert(public_url_read(&front.public_url, "https://hall.example/hall/"));
    cr_assert(address_range_read(&front.trusted[0], "127.0.0.1"));
    cr_assert(address_range_read(&front.trusted[1], "10.0.0.0/24"));
    cr_assert(origin_read(&front.allowed[0], "https://score.example:8443"));
    return front;
}

Test(front, whose_it_is)
{
    static const struct {
        const char *name, *peer, *forwarded, *x_addresses, *address;
        bool proxied;
    } rows[] = {
        {"nobody between", "192.0.2.9", NULL, NULL, "192.0.2.9", false},
        {"an untrusted sender's word", "192.0.2.9", "for=6.6.6.6", "6.6.6.6", "192.0.2.9", false},
        {"Forwarded", "127.0.0.1", "for=192.0.2.1", NULL, "192.0.2.1", true},
        {"X-Forwarded-For", "127.0.0.1", NULL, "6.6.6.6, 192.0.2.1", "192.0.2.1", true},
        {"through two", "127.0.0.1", NULL, "6.6.6.6, 192.0.2.1, 10.0.0.7", "192.0.2.1", true},
        {"both, of one mind", "127.0.0.1", "for=192.0.2.1", "192.0.2.1", "192.0.2.1", true},
        {"both, one perhaps the client's", "127.0.0.1", "for=6.6.6.6", "192.0.2.1", "127.0.0.1",
         true},
        {"one that can't be read, and one", "127.0.0.1", "for=\"6.6.6.6", "192.0.2.1", "127.0.0.1",
         true},
        {"one that can't be read", "127.0.0.1", "for=\"6.6.6.6", NULL, "127.0.0.1", true},
        {"a proxy that says nothing", "127.0.0.1", NULL, NULL, "127.0.0.1", false},
        {"a proxy that won't say", "127.0.0.1", "for=unknown", NULL, "127.0.0.1", true},
    };
    struct front front = hall_front();
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct head head = {.forwarded = rows[i].forwarded, .x_addresses = rows[i].x_addresses};
        struct sender sender;
        struct address peer;
        char text[ADDRESS_TEXT_SIZE];
        read_or_fail(&peer, rows[i].peer);
        cr_assert(sender_read(&sender, &front, &peer, &head));
        address_write(&sender.address, text);
        cr_expect(eq(str, text, (char *)rows[i].address), "%s", rows[i].name);
        cr_expect(eq(int, sender.proxied, rows[i].proxied), "%s", rows[i].name);
    }
}

Test(front, which_pages_may_act)
{
    static const struct {
        const char *name, *peer, *host, *x_addresses, *x_scheme, *x_host, *origin;
        bool alone, with_public_url; /* no public URL was said, or one was */
    } rows[] = {
        {"the daemon's own page", "192.0.2.9", "10.1.1.1:7600", NULL, NULL, NULL,
         "http://10.1.1.1:7600", true, true},
        {"another site's", "192.0.2.9", "10.1.1.1:7600", NULL, NULL, NULL, "https://bad.example",
         false, false},
        {"one that was allowed", "192.0.2.9", "10.1.1.1:7600", NULL, NULL, NULL,
         "https://score.example:8443", true, true},
        {"the allowed host's other port", "192.0.2.9", "10.1.1.1:7600", NULL, NULL, NULL,
         "https://score.example", false, false},
        {"none of its own (RFC 6454 7.1)", "192.0.2.9", "null", NULL, NULL, NULL, "null", false,
         false},
        {"the public address, Host passed on", "127.0.0.1", "hall.example", "192.0.2.1", NULL, NULL,
         "https://hall.example", true, true},
        {"the public address, Host not passed on", "127.0.0.1", "127.0.0.1:7600", "192.0.2.1", NULL,
         NULL, "https://hall.example", false, true},
        {"the same, but told", "127.0.0.1", "127.0.0.1:7600", "192.0.2.1", "https", "hall.example",
         "https://hall.example", true, true},
        {"told, by another scheme", "127.0.0.1", "127.0.0.1:7600", "192.0.2.1", "https",
         "hall.example", "http://hall.example", false, false},
        {"told by someone untrusted", "192.0.2.9", "10.1.1.1:7600", "192.0.2.1", "https",
         "bad.example", "https://bad.example", false, false},
        {"a page of the proxy's inner address", "127.0.0.1", "127.0.0.1:7600", "192.0.2.1", NULL,
         NULL, "http://127.0.0.1:7600", true, false},
        {"the hall's own machine, beside the proxy", "127.0.0.1", "127.0.0.1:7600", NULL, NULL,
         NULL, "http://127.0.0.1:7600", true, true},
        {"no Host", "192.0.2.9", NULL, NULL, NULL, NULL, "http://10.1.1.1:7600", false, false},
    };
    for (size_t i = 0; i < 2 * (sizeof rows / sizeof *rows); i++) {
        const size_t k = i / 2;
        bool with_public_url = i % 2 == 1;
        struct front front = hall_front();
        struct head head = {.host = rows[k].host,
                            .x_addresses = rows[k].x_addresses,
                            .x_schemes = rows[k].x_scheme,
                            .x_hosts = rows[k].x_host};
        struct sender sender;
        struct address peer;
        if (!with_public_url)
            front.public_url.origin.host[0] = '\0';
        read_or_fail(&peer, rows[k].peer);
        cr_assert(sender_read(&sender, &front, &peer, &head), "%s", rows[k].name);
        cr_expect(eq(int, front_allows(&front, &sender, rows[k].origin),
                     with_public_url ? rows[k].with_public_url : rows[k].alone),
                  "%s, %d", rows[k].name, with_public_url);
    }
}

/* A page that came in plain text, perhaps from somebody on the way, is another origin. */
Test(front, by_tls_the_scheme_is_known)
{
    struct front front = {.trusted_count = 0};
    struct head head = {.host = "hall.example:7643", .tls = true};
    struct sender sender;
    struct address peer;
    read_or_fail(&peer, "192.0.2.9");
    cr_assert(sender_read(&sender, &front, &peer, &head));
    cr_expect(front_allows(&front, &sender, "https://hall.example:7643"));
    cr_expect(not(front_allows(&front, &sender, "http://hall.example:7643")));
    head.host = "hall.example";
    cr_assert(sender_read(&sender, &front, &peer, &head));
    cr_expect(front_allows(&front, &sender, "https://hall.example"));
    cr_expect(not(front_allows(&front, &sender, "http://hall.example")));
}

Test(front, which_hosts_are_ours)
{
    static const struct {
        const char *host;
        bool known;
    } rows[] = {
        {"localhost:7600", true},       {"127.0.0.1:7600", true},
        {"[::1]:7600", true},           {"hall.example", true},
        {"HALL.example:443", true},     {"score.example", true},
        {"rebind.example:7600", false}, {"192.0.2.9:7600", false},
        {"hall.example.bad", false},    {NULL, true}, /* no browser leaves it out: RFC 9112 3.2 */
    };
    struct front front = hall_front();
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct head head = {.host = rows[i].host};
        struct sender sender;
        struct address peer;
        read_or_fail(&peer, "127.0.0.1");
        cr_assert(sender_read(&sender, &front, &peer, &head));
        cr_expect(eq(int, front_knows_host(&front, &sender), rows[i].known), "%s",
                  rows[i].host == NULL ? "none" : rows[i].host);
    }
}

Test(front, a_host_that_is_none)
{
    static const char *const rows[] = {"a,  b", "a b", "a/b", "user@a", "[::1", "a:port"};
    struct front front = hall_front();
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct head head = {.host = rows[i]};
        struct sender sender;
        struct address peer;
        read_or_fail(&peer, "127.0.0.1");
        cr_expect(not(sender_read(&sender, &front, &peer, &head)), "%s", rows[i]);
    }
}
