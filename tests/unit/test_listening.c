/* Where a daemon listens, as people write it. Brackets: RFC 3986 3.2.2. The rest is our own choice.
 */
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <string.h>
#include "net/listening.h"

Test(listening, what_is_written_is_read)
{
    static const struct {
        const char *text, *host;
        int port;
        bool tls;
    } rows[] = {
        {"127.0.0.1:7600", "127.0.0.1", 7600, false},
        {"tls:0.0.0.0:7643", "0.0.0.0", 7643, true},
        {"localhost:0", "localhost", 0, false},
        {"[::1]:7600", "::1", 7600, false},
        {"::1:7600", "::1", 7600, false},
        {"tls:[::]:7643", "::", 7643, true},
        {"tls:::1:7643", "::1", 7643, true},
        {"hall.example:65535", "hall.example", 65535, false},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct listening read;
        cr_assert(listening_read(&read, rows[i].text), "%s", rows[i].text);
        cr_expect(eq(str, read.host, (char *)rows[i].host), "%s", rows[i].text);
        cr_expect(eq(int, read.port, rows[i].port), "%s", rows[i].text);
        cr_expect(eq(int, read.tls, rows[i].tls), "%s", rows[i].text);
    }
}

Test(listening, what_is_no_address_is_refused_and_nothing_written)
{
    static const char *const texts[] = {
        "",     "7600", ":7600", "tls:7600", "127.0.0.1", "127.0.0.1:", "a:-1",        "a:65536",
        "a:+1", "a: 1", "a:1x",  "a:000080", "tls:",      "tls::1",     "127.0.0.1:x", "[]:0x10",
    };
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        struct listening read = {.host = "as it was", .port = 1};
        cr_expect(not(listening_read(&read, texts[i])), "%s", texts[i]);
        cr_expect(eq(str, read.host, "as it was"), "%s", texts[i]);
    }
}

Test(listening, a_host_that_is_too_long_is_refused)
{
    char text[LISTENING_HOST_SIZE + 8];
    struct listening read;
    memset(text, 'a', LISTENING_HOST_SIZE);
    strcpy(text + LISTENING_HOST_SIZE, ":1");
    cr_expect(not(listening_read(&read, text)));
    cr_expect(listening_read(&read, text + 1), "one byte less");
}

Test(listening, an_address_is_written_as_browsers_want_it)
{
    char text[LISTENING_TEXT_SIZE];
    listening_write(text, "::1", 7600);
    cr_expect(eq(str, text, "[::1]:7600"));
    listening_write(text, "hall.example", 443);
    cr_expect(eq(str, text, "hall.example:443"));
}

Test(listening, where_lines_are_taken_is_read)
{
    struct talking read;
    cr_assert(talking_read(&read, "tcp:[::1]:7601"));
    cr_expect(not(read.is_unix));
    cr_expect(eq(str, read.tcp.host, "::1"));
    cr_expect(eq(int, read.tcp.port, 7601));
    cr_assert(talking_read(&read, "unix:/run/boutwire/lines"));
    cr_expect(read.is_unix);
    cr_expect(eq(str, read.path, "/run/boutwire/lines"));
    static const char *const texts[] = {"",     "unix:", "tcp:",           "tcp:7601",
                                        "7601", "/run",  "tcp:tls:a:7601", "127.0.0.1:7601"};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
        cr_expect(not(talking_read(&read, texts[i])), "%s", texts[i]);
    char path[5 + TALKING_PATH_SIZE + 1] = "unix:";
    memset(path + 5, 'a', TALKING_PATH_SIZE);
    cr_expect(not(talking_read(&read, path)), "longer than a socket's name may be");
    path[5 + TALKING_PATH_SIZE - 1] = '\0';
    cr_expect(talking_read(&read, path));
}
