/* The daemon's log lines. JSON: RFC 8259 7 (strings), RFC 3629 4 (what is UTF-8). logfmt has no
 * standard: common practice, no source. */
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include <jansson.h>
#include <string.h>
#include "service/report.h"

static size_t line_of(char line[REPORT_LINE_SIZE], enum report_form form, const char *pairs, ...)
{
    va_list values;
    va_start(values, pairs);
    size_t size = report_line(line, form, 1795626379204, REPORT_WARNING, "so it is", pairs, values);
    va_end(values);
    return size;
}

struct value_row {
    char name[32], value[64], logfmt[96], json[96];
};
ParameterizedTestParameters(report, values)
{
    static struct value_row rows[] = {
        {"plain", "a.sqlite", "a.sqlite", "\"a.sqlite\""},
        {"empty", "", "\"\"", "\"\""},
        {"a space", "a b", "\"a b\"", "\"a b\""},
        {"equals", "a=b", "\"a=b\"", "\"a=b\""},
        {"a quote", "a\"b", "\"a\\\"b\"", "\"a\\\"b\""},
        {"a backslash", "a\\b", "\"a\\\\b\"", "\"a\\\\b\""},
        {"a line feed forges no line", "x\nat=1", "\"x\\nat=1\"", "\"x\\nat=1\""},
        {"control characters", "\x01\t\r\x1b[0m", "\"\\u0001\\t\\r\\u001b[0m\"",
         "\"\\u0001\\t\\r\\u001b[0m\""},
        {"DEL", "\x7f", "\"\\u007f\"", "\"\\u007f\""},
        {"characters of two to four bytes", "\xc3\xa9\xe2\x82\xac\xf0\x9f\xa4\xbc",
         "\"\xc3\xa9\xe2\x82\xac\xf0\x9f\xa4\xbc\"", "\"\xc3\xa9\xe2\x82\xac\xf0\x9f\xa4\xbc\""},
        {"cut short", "x \xe2\x82", "\"x \xef\xbf\xbd\xef\xbf\xbd\"",
         "\"x \xef\xbf\xbd\xef\xbf\xbd\""},
        {"overlong", "x \xc0\xaf", "\"x \xef\xbf\xbd\xef\xbf\xbd\"",
         "\"x \xef\xbf\xbd\xef\xbf\xbd\""},
        {"a surrogate", "x \xed\xa0\x80", "\"x \xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd\"",
         "\"x \xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd\""},
        {"beyond U+10FFFF", "x \xf4\x90\x80\x80",
         "\"x \xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd\"",
         "\"x \xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd\""},
    };
    return cr_make_param_array(struct value_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct value_row *row, report, values)
{
    char line[REPORT_LINE_SIZE], want[512];
    line_of(line, REPORT_LOGFMT, "value=%s", row->value);
    snprintf(want, sizeof want,
             "at=2026-11-25T17:06:19.204Z level=warning message=\"so it is\" value=%s\n",
             row->logfmt);
    cr_expect(eq(str, line, want), "%s", row->name);
    size_t size = line_of(line, REPORT_JSON, "value=%s", row->value);
    snprintf(want, sizeof want,
             "{\"at\":\"2026-11-25T17:06:19.204Z\",\"level\":\"warning\","
             "\"message\":\"so it is\",\"value\":%s}\n",
             row->json);
    cr_expect(eq(str, line, want), "%s", row->name);
    json_t *read = json_loads(line, JSON_REJECT_DUPLICATES, NULL);
    cr_expect(ne(ptr, read, NULL), "%s is JSON", row->name);
    cr_expect(eq(sz, size, strlen(line)));
    json_decref(read);
}

Test(report, numbers_are_numbers_and_quotes_in_the_format_mean_nothing)
{
    char line[REPORT_LINE_SIZE];
    line_of(line, REPORT_JSON, "a=%d b=%u c=%ld d=%lu e=%lld f=%llu g=%zu h=\"%s\" i=%s", -1, 2U,
            -3L, 4UL, -5LL, 6ULL, (size_t)7, "h", "8");
    cr_expect(eq(str, strstr(line, "\"a\":"),
                 "\"a\":-1,\"b\":2,\"c\":-3,\"d\":4,\"e\":-5,\"f\":6,\"g\":7,\"h\":\"h\","
                 "\"i\":\"8\"}\n"));
    line_of(line, REPORT_LOGFMT, "a=%d h=\"%s\" i=%s", -1, "h h", "8");
    cr_expect(eq(str, strstr(line, " a="), " a=-1 h=\"h h\" i=8\n"));
}

Test(report, without_pairs)
{
    char line[REPORT_LINE_SIZE];
    line_of(line, REPORT_LOGFMT, "%s", "");
    cr_expect(eq(str, line, "at=2026-11-25T17:06:19.204Z level=warning message=\"so it is\"\n"));
    line_of(line, REPORT_JSON, "%s", "");
    cr_expect(eq(str, line,
                 "{\"at\":\"2026-11-25T17:06:19.204Z\",\"level\":\"warning\",\"message\":"
                 "\"so it is\"}\n"));
}

/* However long: what doesn't fit is left out whole, and the line is a line still. */
Test(report, long_values)
{
    static char value[20000], line[REPORT_LINE_SIZE];
    for (size_t size = 0; size < sizeof value; size += 1 + size / 7) {
        for (enum report_form form = REPORT_LOGFMT; form <= REPORT_JSON; form++)
            for (int kind = 0; kind < 3; kind++) {
                memset(value, "x\x01 "[kind], size);
                value[size] = '\0';
                if (kind == 2 && size > 1) /* é, cut nowhere in its middle */
                    for (size_t i = 0; i + 1 < size; i += 2)
                        memcpy(value + i, "\xc3\xa9", 2);
                size_t written = line_of(line, form, "a=%s b=%s c=%s", value, value, "last");
                cr_assert(lt(sz, written, sizeof line), "%zu", size);
                cr_assert(eq(sz, written, strlen(line)));
                cr_assert(eq(chr, line[written - 1], '\n'));
                cr_assert(strchr(line, '\n') == line + written - 1, "one line");
                if (form == REPORT_JSON) {
                    json_t *read = json_loads(line, JSON_REJECT_DUPLICATES, NULL);
                    cr_assert(ne(ptr, read, NULL), "%zu: %s", size, line);
                    json_decref(read);
                }
            }
    }
}

Test(report, names_of_levels_and_forms)
{
    enum report_level level = REPORT_ERROR;
    enum report_form form = REPORT_LOGFMT;
    cr_expect(report_level_read("debug", &level) && level == REPORT_DEBUG);
    cr_expect(not(report_level_read("loud", &level)));
    cr_expect(report_form_read("json", &form) && form == REPORT_JSON);
    cr_expect(not(report_form_read("JSON", &form)));
    cr_expect(eq(str, (char *)report_level_name(REPORT_INFO), "info"));
    cr_expect(eq(str, (char *)report_form_name(REPORT_LOGFMT), "logfmt"));
}
