/* Origins, Hosts and the public address. Sources stand beside the rows. */
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <string.h>
#include "net/origin.h"

Test(origin, text)
{
    static const struct {
        const char *text, *host; /* NULL: it is none */
        int port;
    } rows[] = {
        {"http://example.com", "example.com", 80}, /* RFC 6454 5 */
        {"https://example.com", "example.com", 443},
        {"http://example.com:81", "example.com", 81},
        {"http://EXAMPLE.com", "example.com", 80}, /* RFC 6454 4: small letters */
        {"HTTP://example.com", "example.com", 80},
        {"https://[2001:DB8::1]:8443", "[2001:db8::1]", 8443},
        {"http://127.0.0.1:7600", "127.0.0.1", 7600},
        {"null", NULL, 0},                /* RFC 6454 7.1 */
        {"http://example.com/", NULL, 0}, /* RFC 6454 6.2: no path */
        {"http://example.com:", NULL, 0},
        {"http://example.com:0", NULL, 0},
        {"http://example.com:65536", NULL, 0},
        {"http://example.com:80x", NULL, 0},
        {"http://user@example.com", NULL, 0},
        {"http://", NULL, 0},
        {"http://[::1", NULL, 0},
        {"http://[hall]", NULL, 0},
        {"ftp://example.com", NULL, 0},
        {"file://", NULL, 0},
        {"example.com", NULL, 0},
        {"http://a.example, http://b.example", NULL, 0}, /* two headers, as lws joins them */
        {"", NULL, 0},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct origin origin;
        bool read = origin_read(&origin, rows[i].text);
        cr_expect(eq(int, read, rows[i].host != NULL), "\"%s\"", rows[i].text);
        if (!read || rows[i].host == NULL)
            continue;
        cr_expect(eq(str, origin.host, (char *)rows[i].host), "%s", rows[i].text);
        cr_expect(eq(int, origin.port, rows[i].port), "%s", rows[i].text);
    }
}

/* A page's Origin and the Host that its request was sent to. */
Test(origin, same_as_host)
{
    static const struct {
        const char *origin, *scheme, *host;
        bool same;
    } rows[] = {
        {"http://127.0.0.1:7600", "", "127.0.0.1:7600", true},
        {"https://mat.example", "", "mat.example", true}, /* the scheme isn't known */
        {"http://mat.example", "", "mat.example", true},
        {"https://mat.example", "https", "MAT.example:443", true}, /* RFC 9110 4.2.2 */
        {"https://mat.example", "", "mat.example:443", true},
        {"http://mat.example", "https", "mat.example", false},
        {"https://mat.example:8443", "", "mat.example", false},
        {"http://[::1]:7600", "", "[::1]:7600", true},
        {"http://127.0.0.1:7601", "", "127.0.0.1:7600", false},
        {"http://127.0.0.1.elsewhere.example:7600", "", "127.0.0.1:7600", false},
        {"http://localhost:7600", "", "127.0.0.1:7600",
         false}, /* RFC 6454 4: names aren't looked up */
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct origin origin, host;
        cr_assert(origin_read(&origin, rows[i].origin));
        cr_assert(origin_read_host(&host, rows[i].scheme, rows[i].host));
        cr_expect(eq(int, origin_same(&origin, &host), rows[i].same), "%s, %s", rows[i].origin,
                  rows[i].host);
        cr_expect(eq(int, origin_same(&host, &origin), rows[i].same), "%s, %s", rows[i].origin,
                  rows[i].host);
    }
}

Test(origin, hosts_that_are_none)
{
    static const char *const rows[] = {"",    ":80",    "a b", "a,  b", "a/b",
                                       "a@b", "[::1]x", "a:b", "a:1:2"};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct origin host;
        cr_expect(not(origin_read_host(&host, "", rows[i])), "\"%s\"", rows[i]);
    }
}

Test(origin, local_hosts)
{
    static const struct {
        const char *host;
        bool local;
    } rows[] = {
        {"localhost", true},          {"LOCALHOST:7600", true}, /* RFC 6761 6.3 */
        {"mat.localhost", true},      {"127.0.0.1:7600", true},
        {"127.1.2.3", true},          {"[::1]:7600", true},
        {"localhost.example", false}, {"notlocalhost", false},
        {"127.0.0.1.example", false}, {"192.0.2.1", false},
        {"[2001:db8::1]", false},     {"rebind.example:7600", false},
        {"[::ffff:127.0.0.1]", true},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct origin host;
        cr_assert(origin_read_host(&host, "", rows[i].host), "%s", rows[i].host);
        cr_expect(eq(int, host_is_local(&host), rows[i].local), "%s", rows[i].host);
    }
}

Test(origin, public_url)
{
    static const struct {
        const char *text, *written; /* NULL: it is none */
    } rows[] = {
        {"https://hall.example", "https://hall.example/"},
        {"https://hall.example/", "https://hall.example/"},
        {"https://hall.example/hall", "https://hall.example/hall/"},
        {"https://hall.example/hall/", "https://hall.example/hall/"},
        {"https://Hall.example:8443/a/b-c_d.e~f", "https://hall.example:8443/a/b-c_d.e~f/"},
        {"https://hall.example:443/", "https://hall.example/"}, /* RFC 9110 4.2.2 */
        {"http://hall.example:443/", "http://hall.example:443/"},
        {"https://[2001:db8::1]/hall", "https://[2001:db8::1]/hall/"},
        {"hall.example", NULL},
        {"https://", NULL},
        {"https:///hall", NULL},
        {"https://hall.example/hall?x", NULL},
        {"https://hall.example?x", NULL},
        {"https://hall.example/hall#x", NULL},
        {"https://hall.example/ha%6cl", NULL},
        {"https://hall.example/a//b", NULL},
        {"https://hall.example//", NULL},
        {"https://hall.example/../b", NULL},
        {"https://hall.example/a b", NULL},
        {"https://ann@hall.example/", NULL},
        {"wss://hall.example/", NULL},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct public_url url;
        char text[512];
        bool read = public_url_read(&url, rows[i].text);
        cr_expect(eq(int, read, rows[i].written != NULL), "\"%s\"", rows[i].text);
        if (!read || rows[i].written == NULL)
            continue;
        public_url_write(&url, text, sizeof text);
        cr_expect(eq(str, text, (char *)rows[i].written), "%s", rows[i].text);
    }
}

Test(origin, public_path)
{
    static const struct {
        const char *url, *path, *rest;
    } rows[] = {
        {"https://hall.example/hall/", "/hall/ws", "/ws"},
        {"https://hall.example/hall/", "/hall/", "/"},
        {"https://hall.example/hall/", "/hall", ""},
        {"https://hall.example/hall/", "/ws", "/ws"},
        {"https://hall.example/hall/", "/hallway/x", "/hallway/x"},
        {"https://hall.example/a/b", "/a/b/screen/", "/screen/"},
        {"https://hall.example/a/b", "/a/x", "/a/x"},
        {"https://hall.example/", "/hall/ws", "/hall/ws"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct public_url url;
        cr_assert(public_url_read(&url, rows[i].url));
        cr_expect(eq(str, (char *)public_path_strip(&url, rows[i].path), (char *)rows[i].rest),
                  "%s", rows[i].path);
    }
}
