/* What proxies say: RFC 7239's own examples, what its grammar forbids, and whom to believe. The
 * section stands beside each row; what has none is the habit of X-Forwarded-…, or our own choice.
 */
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <stdio.h>
#include <string.h>
#include "net/forwarded.h"

/* The hops from the nearest on, as "ADDRESS SCHEME HOST; …", what isn't known as "-". */
static void hops_write(const struct hops *hops, char *text, size_t room)
{
    size_t used = 0;
    text[0] = '\0';
    for (size_t i = 0; i < hops->count; i++) {
        char address[ADDRESS_TEXT_SIZE] = "-";
        const struct hop *hop = &hops->hops[i];
        if (hop->named)
            address_write(&hop->address, address);
        used += (size_t)snprintf(text + used, room - used, "%s%s %s %s", i > 0 ? "; " : "", address,
                                 hop->scheme[0] != '\0' ? hop->scheme : "-",
                                 hop->host[0] != '\0' ? hop->host : "-");
    }
}

Test(forwarded, header)
{
    static const struct {
        const char *section, *header, *hops; /* NULL: not to be believed */
    } rows[] = {
        {"4", "for=\"_gazonk\"", "- - -"},
        {"4", "For=\"[2001:db8:cafe::17]:4711\"", "2001:db8:cafe::17 - -"},
        {"4", "for=192.0.2.60;proto=http;by=203.0.113.43", "192.0.2.60 http -"},
        {"4", "for=192.0.2.43, for=198.51.100.17", "198.51.100.17 - -; 192.0.2.43 - -"},
        {"6", "for=\"192.0.2.43:47011\"", "192.0.2.43 - -"},
        {"6", "for=\"[2001:db8:cafe::17]:47011\"", "2001:db8:cafe::17 - -"},
        {"6.3", "for=_hidden, for=_SEVKISEK", "- - -; - - -"},
        {"7.1", "for=192.0.2.43,for=\"[2001:db8:cafe::17]\",for=unknown",
         "- - -; 2001:db8:cafe::17 - -; 192.0.2.43 - -"},
        {"7.4", "for=192.0.2.43, for=\"[2001:db8:cafe::17]\"",
         "2001:db8:cafe::17 - -; 192.0.2.43 - -"},
        {"7.5", "for=192.0.2.43, for=198.51.100.17;by=203.0.113.60;proto=http;host=example.com",
         "198.51.100.17 http example.com; 192.0.2.43 - -"},
        {"4", "FOR=192.0.2.1;PROTO=https;Host=hall.example", "192.0.2.1 https hall.example"},
        {"4", "proto=https;for=192.0.2.1", "192.0.2.1 https -"},
        {"4", ";;for=192.0.2.1;;proto=https;", "192.0.2.1 https -"}, /* pairs may be left out */
        {"4", "for=192.0.2.1;secret=\"a,b;c=d\"", "192.0.2.1 - -"},
        {"5.5", "for=192.0.2.1;new-one=x", "192.0.2.1 - -"},
        {"5.3", "host=\"hall.example:8443\"", "- - hall.example:8443"},
        {"4", "for=\"192.0\\.2.1\"", "192.0.2.1 - -"}, /* RFC 9110 5.6.4 */
        {"4", ", ,for=192.0.2.1,,", "192.0.2.1 - -"},  /* RFC 9110 5.6.1.2 */
        {"4", "", ""},
        {"4", "for=192.0.2.1 ; proto=https", "192.0.2.1 https -"}, /* more than 4 allows */
        {"4", "for=192.0.2.1;for=192.0.2.2", NULL},                /* once an element */
        {"4", "for=192.0.2.1;For=192.0.2.1", NULL},
        {"4", "for=2001:db8::1", NULL}, /* : only in quotes */
        {"4", "for=192.0.2.43:47011", NULL},
        {"4", "for=[2001:db8::1]", NULL},
        {"4", "for", NULL},
        {"4", "for=", NULL},
        {"4", "=192.0.2.1", NULL},
        {"4", "for = 192.0.2.1", NULL},
        {"4", "for=\"192.0.2.1", NULL},
        {"4", "for=\"192.0.2.1\\", NULL},
        {"4", "for=\"192.0.2.1\"x", NULL},
        {"4", "for=192.0.2.1 proto=https", NULL},
        {"8.1", "for=\"x, for=192.0.2.1",
         NULL}, /* a client's open quote swallows the proxy's word */
        {"8.1", "for=192.0.2.9;x=\", for=\"[2001:db8::1]\"", NULL},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct hops hops;
        char text[512];
        bool read = forwarded_read(&hops, rows[i].header);
        cr_expect(eq(int, read, rows[i].hops != NULL), "%s: %s", rows[i].section, rows[i].header);
        if (!read || rows[i].hops == NULL)
            continue;
        hops_write(&hops, text, sizeof text);
        cr_expect(eq(str, text, (char *)rows[i].hops), "%s: %s", rows[i].section, rows[i].header);
    }
}

Test(forwarded, a_long_chain_keeps_its_nearest)
{
    char header[4096] = "";
    for (int i = 0; i < 100; i++) {
        size_t used = strlen(header);
        snprintf(header + used, sizeof header - used, "%sfor=192.0.2.%d", i > 0 ? "," : "", i);
    }
    struct hops hops;
    char text[ADDRESS_TEXT_SIZE];
    cr_assert(forwarded_read(&hops, header));
    cr_assert(eq(sz, hops.count, HOPS_MAX));
    address_write(&hops.hops[0].address, text);
    cr_expect(eq(str, text, "192.0.2.99"));
    address_write(&hops.hops[HOPS_MAX - 1].address, text);
    cr_expect(eq(str, text, "192.0.2.84"));
}

Test(forwarded, habit)
{
    static const struct {
        const char *addresses, *schemes, *hosts, *hops;
    } rows[] = {
        {"192.0.2.43, 2001:db8:cafe::17", NULL, NULL,
         "2001:db8:cafe::17 - -; 192.0.2.43 - -"}, /* RFC 7239 7.4 */
        {"192.0.2.43", "https", "hall.example", "192.0.2.43 https hall.example"},
        {"192.0.2.1,192.0.2.2", "https", "hall.example:8443",
         "192.0.2.2 https hall.example:8443; 192.0.2.1 https hall.example:8443"},
        {"192.0.2.1, 192.0.2.2", "https, http", "hall.example, inner.example",
         "192.0.2.2 http inner.example; 192.0.2.1 https hall.example"},
        {"192.0.2.1:4711", NULL, NULL, "192.0.2.1 - -"},
        {"[2001:db8::1]:4711", NULL, NULL, "2001:db8::1 - -"},
        {"unknown, 192.0.2.1", NULL, NULL, "192.0.2.1 - -; - - -"},
        {"  192.0.2.1  ,\t192.0.2.2\t", NULL, NULL, "192.0.2.2 - -; 192.0.2.1 - -"},
        {"192.0.2.1,", NULL, NULL, "- - -; 192.0.2.1 - -"},
        {"", NULL, NULL, ""},
        {NULL, NULL, NULL, ""},
        {NULL, "https", NULL, "- https -"},
        {NULL, NULL, "hall.example", "- - hall.example"},
        {"192.0.2.1", "a scheme that is too long", NULL, "192.0.2.1 - -"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct hops hops;
        char text[512];
        x_forwarded_read(&hops, rows[i].addresses, rows[i].schemes, rows[i].hosts);
        hops_write(&hops, text, sizeof text);
        cr_expect(eq(str, text, (char *)rows[i].hops), "row %zu: %s", i, text);
    }
}

/* RFC 7239 8.1: what stands left of the first who isn't trusted was perhaps only claimed. */
Test(forwarded, whom_to_believe)
{
    static const struct {
        const char *peer, *header, *address, *scheme; /* scheme NULL: nobody's word is believed */
    } rows[] = {
        {"203.0.113.9", "for=192.0.2.1;proto=https", "203.0.113.9", NULL},
        {"127.0.0.1", "for=192.0.2.1;proto=https", "192.0.2.1", "https"},
        {"::ffff:127.0.0.1", "for=192.0.2.1;proto=https", "192.0.2.1", "https"},
        {"127.0.0.1", "", "127.0.0.1", NULL},
        {"127.0.0.1", "for=6.6.6.6;proto=ftp, for=192.0.2.1;proto=https", "192.0.2.1", "https"},
        {"127.0.0.1", "for=192.0.2.1;proto=https, for=10.0.0.7;proto=http", "192.0.2.1", "https"},
        {"127.0.0.1", "for=6.6.6.6;proto=ftp, for=192.0.2.1;proto=https, for=10.0.0.7;proto=http",
         "192.0.2.1", "https"},
        {"127.0.0.1", "for=10.0.0.8;proto=https, for=10.0.0.7;proto=http", "10.0.0.8", "https"},
        {"127.0.0.1", "for=unknown;proto=https", "127.0.0.1", "https"},
        {"127.0.0.1", "for=192.0.2.1, for=_hidden;proto=https", "127.0.0.1", "https"},
        {"10.0.0.7", "for=192.0.2.1;proto=https", "192.0.2.1", "https"},
        {"10.0.1.7", "for=192.0.2.1;proto=https", "10.0.1.7", NULL},
    };
    struct address_range ranges[2];
    cr_assert(address_range_read(&ranges[0], "127.0.0.1"));
    cr_assert(address_range_read(&ranges[1], "10.0.0.0/24"));
    const struct trust trust = {ranges, 2};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct hops hops;
        struct address address;
        char text[ADDRESS_TEXT_SIZE];
        cr_assert(forwarded_read(&hops, rows[i].header));
        cr_assert(address_read(&address, rows[i].peer, strlen(rows[i].peer)));
        const struct hop *hop = hops_follow(&hops, &trust, &address);
        address_write(&address, text);
        cr_expect(eq(str, text, (char *)rows[i].address), "row %zu", i);
        cr_expect(eq(int, hop != NULL, rows[i].scheme != NULL), "row %zu", i);
        if (hop != NULL && rows[i].scheme != NULL)
            cr_expect(eq(str, (char *)hop->scheme, (char *)rows[i].scheme), "row %zu", i);
    }
}
