/* Addresses and ranges as text. Rows name their sources. */
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <netinet/in.h>
#include <string.h>
#include "net/address.h"

Test(address, text)
{
    static const struct {
        const char *text, *written; /* NULL: it is none */
    } rows[] = {
        {"192.0.2.1", "192.0.2.1"},
        {"0.0.0.0", "0.0.0.0"},
        {"192.0.2.256", NULL},
        {"192.0.2", NULL},
        {"192.0.2.01", NULL}, /* RFC 6943 3.1.1: octal to some */
        {"192.0.2.1 ", NULL},
        {"", NULL},
        {"2001:DB8::1", "2001:db8::1"},                /* RFC 5952 4.3 */
        {"2001:db8:0:0:0:0:2:1", "2001:db8::2:1"},     /* RFC 5952 4.2.1 */
        {"2001:db8:0:0:1:0:0:1", "2001:db8::1:0:0:1"}, /* RFC 5952 4.2.3 */
        {"::", "::"},                                  /* RFC 4291 2.2 */
        {"::ffff:192.0.2.1", "192.0.2.1"},             /* RFC 4291 2.5.5.2 */
        {"[2001:db8::1]", NULL},
        {"2001:db8::1::2", NULL},
        {"fe80::1%eth0", NULL},
        {"localhost", NULL},
        {"unknown", NULL},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct address address;
        char text[ADDRESS_TEXT_SIZE] = "";
        bool read = address_read(&address, rows[i].text, strlen(rows[i].text));
        cr_expect(eq(int, read, rows[i].written != NULL), "\"%s\"", rows[i].text);
        if (!read || rows[i].written == NULL)
            continue;
        address_write(&address, text);
        cr_expect(eq(str, text, (char *)rows[i].written), "%s", rows[i].text);
    }
}

Test(address, nodes)
{
    static const struct {
        const char *text, *written;
    } rows[] = {
        {"192.0.2.43:47011", "192.0.2.43"},                 /* RFC 7239 6 */
        {"[2001:db8:cafe::17]:47011", "2001:db8:cafe::17"}, /* RFC 7239 6 */
        {"[2001:db8:cafe::17]", "2001:db8:cafe::17"},       /* RFC 7239 7.1 */
        {"192.0.2.43:_port", "192.0.2.43"},                 /* RFC 7239 6.2: obfport */
        {"2001:db8:cafe::17", "2001:db8:cafe::17"},         /* RFC 7239 7.4: X-Forwarded-For */
        {"192.0.2.43", "192.0.2.43"},
        {"192.0.2.43:", NULL},
        {"[2001:db8:cafe::17", NULL},
        {"[2001:db8:cafe::17]47011", NULL},
        {"[192.0.2.43]", NULL},
        {"[]", NULL},
        {"unknown", NULL}, /* RFC 7239 6.1 */
        {"_hidden", NULL}, /* RFC 7239 6.3 */
        {":80", NULL},
        {"", NULL},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct address address;
        char text[ADDRESS_TEXT_SIZE] = "";
        bool read = address_read_node(&address, rows[i].text, strlen(rows[i].text));
        cr_expect(eq(int, read, rows[i].written != NULL), "\"%s\"", rows[i].text);
        if (!read || rows[i].written == NULL)
            continue;
        address_write(&address, text);
        cr_expect(eq(str, text, (char *)rows[i].written), "%s", rows[i].text);
    }
}

Test(address, sockets)
{
    struct sockaddr_in four = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(0xc0000201)};
    struct sockaddr_in6 mapped = {.sin6_family = AF_INET6,
                                  .sin6_addr = {{{[10] = 0xff, [11] = 0xff, 192, 0, 2, 1}}}};
    struct address a, b;
    char text[ADDRESS_TEXT_SIZE];
    cr_assert(address_of_socket(&a, (struct sockaddr *)&four));
    cr_assert(address_of_socket(&b, (struct sockaddr *)&mapped));
    cr_expect(address_same(&a, &b));
    address_write(&a, text);
    cr_expect(eq(str, text, "192.0.2.1"));
    four.sin_family = AF_UNIX;
    cr_expect(not(address_of_socket(&a, (struct sockaddr *)&four)));
}

Test(address, ranges)
{
    static const struct {
        const char *range, *address;
        bool has;
    } rows[] = {
        {"192.0.2.0/24", "192.0.2.0", true},
        {"192.0.2.0/24", "192.0.2.255", true},
        {"192.0.2.0/24", "192.0.3.0", false},
        {"192.0.2.128/25", "192.0.2.127", false}, /* a prefix that ends within a byte */
        {"192.0.2.128/25", "192.0.2.128", true},
        {"10.0.0.0/9", "10.127.255.255", true},
        {"10.0.0.0/9", "10.128.0.0", false},
        {"192.0.2.7", "192.0.2.7", true}, /* no prefix: that one alone */
        {"192.0.2.7", "192.0.2.6", false},
        {"192.0.2.7/32", "192.0.2.7", true},
        {"0.0.0.0/0", "203.0.113.9", true},
        {"0.0.0.0/0", "2001:db8::1", false},
        {"::/0", "2001:db8::1", true},
        {"2001:db8::/32", "2001:db8:ffff::1", true}, /* RFC 4291 2.3 */
        {"2001:db8::/32", "2001:db9::1", false},
        {"2001:db8::1", "2001:db8::1", true},
        {"fc00::/7", "fdff::1", true}, /* RFC 4193 3.1 */
        {"fc00::/7", "fe00::1", false},
        {"127.0.0.0/8", "::ffff:127.0.0.1", true}, /* the same address */
        {"::ffff:192.0.2.0/120", "192.0.2.9", true},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct address_range range;
        struct address address;
        cr_assert(address_range_read(&range, rows[i].range), "%s", rows[i].range);
        cr_assert(address_read(&address, rows[i].address, strlen(rows[i].address)));
        cr_expect(eq(int, address_range_has(&range, &address), rows[i].has), "%s in %s",
                  rows[i].address, rows[i].range);
    }
}

Test(address, what_is_no_range)
{
    static const char *const rows[] = {
        "",
        "/8",
        "192.0.2.0/",
        "192.0.2.0/33",
        "192.0.2.0/-1",
        "2001::/129",
        "192.0.2.0/08x",
        "192.0.2.0/ 24",
        "192.0.2.1/24", /* one, or all? */
        "hall.example",
        "192.0.2.0/24/8",
        "2001:db8::1/64",
        "192.0.2.0/0024",
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct address_range range;
        cr_expect(not(address_range_read(&range, rows[i])), "\"%s\"", rows[i]);
    }
}

Test(address, loopback)
{
    static const struct {
        const char *text;
        bool loopback;
    } rows[] = {
        {"127.0.0.1", true}, /* RFC 1122 3.2.1.3: all of 127 */
        {"127.255.255.254", true},
        {"128.0.0.1", false},
        {"::1", true}, /* RFC 4291 2.5.3 */
        {"::", false},
        {"::2", false},
        {"::ffff:127.0.0.1", true},
        {"::127.0.0.1", false},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct address address;
        cr_assert(address_read(&address, rows[i].text, strlen(rows[i].text)));
        cr_expect(eq(int, address_is_loopback(&address), rows[i].loopback), "%s", rows[i].text);
    }
}
