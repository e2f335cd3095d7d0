/* The texts of HTTP that daemon/net decides by. Rows name their sources: RFC 9110 8.6
 * (Content-Length), RFC 9110 5.6.1 (lists). What has none is our own choice.
 */
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include "net/http.h"
#include "net/pages.h"

struct route_row {
    char path[40], route[16];
    enum place place;
};
ParameterizedTestParameters(net, route)
{
    static struct route_row rows[] = {
        {"/api/v1/events", "/api/", PLACE_REQUESTS},
        {"/api/", "/api/", PLACE_REQUESTS},
        {"/api", "/", PLACE_PAGES},
        {"/apiary", "/", PLACE_PAGES},
        {"/sse/mat/A/follow", "/sse/", PLACE_STREAMS},
        {"/text/A", "/text/", PLACE_STREAMS},
        {"/healthz", "/healthz", PLACE_REQUESTS},
        {"/healthz/", "/", PLACE_PAGES},
        {"/ws", "/ws", PLACE_WEBSOCKET},
        {"/ws/", "/", PLACE_PAGES},
        {"/wsx", "/", PLACE_PAGES},
        {"/", "/", PLACE_PAGES},
        {"/API/v1", "/", PLACE_PAGES},
    };
    return cr_make_param_array(struct route_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct route_row *row, net, route)
{
    const struct route *route = route_of(row->path);
    cr_expect(eq(str, (char *)route->path, row->route), "%s", row->path);
    cr_expect(eq(int, route->place, row->place), "%s", row->path);
}

Test(net, content_length_is_digits_and_nothing_else)
{
    static const struct {
        const char *text;
        bool good;
        size_t length;
    } rows[] = {
        {"0", true, 0},
        {"1048576", true, 1048576},
        {"007", true, 7}, /* 1*DIGIT */
        {"18446744073709551615", true, 18446744073709551615U},
        {"18446744073709551616", false, 0},
        {"99999999999999999999999", false, 0},
        {"", false, 0},
        {"-1", false, 0},
        {"+1", false, 0},
        {" 1", false, 0},
        {"1 ", false, 0},
        {"0x10", false, 0},
        {"5,5", false, 0}, /* two headers; 8.6 allows to refuse */
        {"1e3", false, 0},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        size_t length = 0;
        cr_expect(eq(int, content_length_read(rows[i].text, &length), rows[i].good), "\"%s\"",
                  rows[i].text);
        cr_expect(eq(sz, length, rows[i].length), "\"%s\"", rows[i].text);
    }
}

Test(net, a_list_has_its_members_whole)
{
    cr_expect(list_has("Upgrade", "upgrade"));
    cr_expect(list_has("keep-alive, Upgrade", "upgrade"));
    cr_expect(list_has("a,b , boutwire.v1", "boutwire.v1"));
    cr_expect(not(list_has("boutwire.v10", "boutwire.v1")));
    cr_expect(not(list_has("xupgrade, upgradex", "upgrade")));
    cr_expect(not(list_has("", "upgrade")));
    cr_expect(not(list_has(", ,", "upgrade")));
}

Test(net, a_page_path_stays_below_its_folder)
{
    static const char *const good[] = {"/", "/index.html", "/a/b/c.js", "/a.b/c..d", "/a/"};
    static const char *const bad[] = {"",       "a",    "/..", "/../a", "/a/../b", "/.a",
                                      "/a/.b/", "/./a", "//a", "/a//b", "/...",    "/a/.."};
    for (size_t i = 0; i < sizeof good / sizeof *good; i++)
        cr_expect(page_path_is_safe(good[i]), "%s", good[i]);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        cr_expect(not(page_path_is_safe(bad[i])), "%s", bad[i]);
}

Test(net, a_page_has_the_type_of_its_name)
{
    cr_expect(eq(str, (char *)page_type("/a/b.js"), "text/javascript; charset=utf-8"));
    cr_expect(eq(str, (char *)page_type("/a/B.HTML"), "text/html; charset=utf-8"));
    cr_expect(eq(str, (char *)page_type("/font.woff2"), "font/woff2"));
    cr_expect(eq(str, (char *)page_type("/js"), "application/octet-stream"));
    cr_expect(eq(str, (char *)page_type(".js"), "application/octet-stream"));
}

Test(net, every_status_that_we_use_has_its_phrase)
{
    static const int used[] = {200, 301, 304, 400, 403, 404, 405, 411, 413, 426, 503};
    for (size_t i = 0; i < sizeof used / sizeof *used; i++)
        cr_expect(ne(str, (char *)status_phrase(used[i]), ""), "%d", used[i]);
    cr_expect(eq(str, (char *)status_phrase(299), ""));
}

Test(net, a_websocket_key_is_sixteen_bytes_in_base64)
{
    static const struct {
        const char *key;
        bool whole;
    } rows[] = {
        {"dGhlIHNhbXBsZSBub25jZQ==", true},  /* RFC 6455 1.3 */
        {"AQIDBAUGBwgJCgsMDQ4PEA==", true},  /* RFC 6455 4.1: its example value */
        {"AAAAAAAAAAAAAAAAAAAAAB==", false}, /* bits beyond the 16th byte: RFC 4648 3.5 */
        {"AAAAAAAAAAAAAAAAAAAAAAA=", false}, /* 17 bytes */
        {"AAAAAAAAAAAAAAAAAAAA", false},     /* 15 */
        {"AAAAAAAAAAAAAAAAAAAAAA", false},   /* without its padding: RFC 4648 3.2 */
        {"AAAAAAAAAAAAAAAAAAAAAA===", false},
        {"AAAAAAAAA AAAAAAAAAAAA==", false},
        {"AAAAAAAAA-AAAAAAAAAAAA==", false}, /* of the alphabet for URLs */
        {"", false},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        cr_expect(eq(int, websocket_key_is_whole(rows[i].key), rows[i].whole), "%s", rows[i].key);
}
