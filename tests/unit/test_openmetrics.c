/* OpenMetrics text 1.0.0: each test names the section of the specification. What it refuses as a
 * whole is read back by tests/daemon/metrics.test.mjs. */
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <float.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "wire/openmetrics.h"

static void expect_text(struct openmetrics *out, const char *want)
{
    size_t size = 0;
    char *text = openmetrics_end(out, &size);
    cr_assert(ne(ptr, text, NULL));
    cr_expect(eq(str, text, (char *)want));
    cr_expect(eq(sz, size, strlen(want)));
    free(text);
}

/* "Overall Structure": it ends with EOF, also when there is nothing. */
Test(openmetrics, nothing)
{
    expect_text(&(struct openmetrics){0}, "# EOF\n");
}

/* "MetricFamily metadata": TYPE, UNIT, HELP. "Counter": _total. "Info": _info, 1. "Gauge": none. */
Test(openmetrics, families)
{
    struct openmetrics out = {0};
    openmetrics_family(&out, "a_seconds", OPENMETRICS_GAUGE, "seconds", "How long.");
    openmetrics_float(&out, NULL, NULL, 1.5);
    openmetrics_family(&out, "b", OPENMETRICS_COUNTER, NULL, "How many.");
    openmetrics_integer(&out, "kind", "x", 3);
    openmetrics_integer(&out, "kind", "y", 18446744073709551615U);
    openmetrics_family(&out, "c", OPENMETRICS_INFO, NULL, "Which.");
    openmetrics_integer(&out, "version", "1.0", 1);
    expect_text(&out, "# TYPE a_seconds gauge\n"
                      "# UNIT a_seconds seconds\n"
                      "# HELP a_seconds How long.\n"
                      "a_seconds 1.5\n"
                      "# TYPE b counter\n"
                      "# HELP b How many.\n"
                      "b_total{kind=\"x\"} 3\n"
                      "b_total{kind=\"y\"} 18446744073709551615\n"
                      "# TYPE c info\n"
                      "# HELP c Which.\n"
                      "c_info{version=\"1.0\"} 1\n"
                      "# EOF\n");
}

/* "Escaping": line feed, double quote and backslash, in help and in a label's value. */
Test(openmetrics, escaping)
{
    struct openmetrics out = {0};
    openmetrics_family(&out, "a", OPENMETRICS_GAUGE, NULL, "a\nb \"c\" \\");
    openmetrics_integer(&out, "l", "x\n\"\\\xc3\xa9", 0);
    expect_text(&out, "# TYPE a gauge\n"
                      "# HELP a a\\nb \\\"c\\\" \\\\\n"
                      "a{l=\"x\\n\\\"\\\\\xc3\xa9\"} 0\n"
                      "# EOF\n");
}

/* "Numbers": a float has a decimal point, or is written scientifically. */
Test(openmetrics, floats)
{
    static const struct {
        double number;
        const char *want;
    } rows[] = {
        {0, "0.0"},      {3, "3.0"},
        {0.1, "0.1"},    {1e-9, "1e-09"},
        {1e22, "1e+22"}, {123456789.25, "123456789.25"},
        {1e15, "1e+15"}, {1.0 / 3, "0.333333333333333"},
        {-2, "-2.0"},    {DBL_MAX, "1.79769313486232e+308"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct openmetrics out = {0};
        char want[96];
        openmetrics_family(&out, "a", OPENMETRICS_GAUGE, NULL, "x");
        openmetrics_float(&out, NULL, NULL, rows[i].number);
        snprintf(want, sizeof want, "# TYPE a gauge\n# HELP a x\na %s\n# EOF\n", rows[i].want);
        expect_text(&out, want);
    }
}

/* "Histogram": buckets are cumulative and hold what is less or equal; +Inf is the count. */
Test(openmetrics, histogram)
{
    struct openmetrics out = {0};
    struct histogram histogram = {0};
    histogram_note(&histogram, 1e-5); /* equal to a bound: within it */
    histogram_note(&histogram, 0.0015);
    histogram_note(&histogram, 0.0015);
    histogram_note(&histogram, 11);
    cr_expect(eq(u64, histogram_count(&histogram), 4));
    openmetrics_family(&out, "a_seconds", OPENMETRICS_HISTOGRAM, "seconds", "x");
    openmetrics_histogram(&out, &histogram);
    expect_text(&out, "# TYPE a_seconds histogram\n"
                      "# UNIT a_seconds seconds\n"
                      "# HELP a_seconds x\n"
                      "a_seconds_bucket{le=\"1e-05\"} 1\n"
                      "a_seconds_bucket{le=\"5e-05\"} 1\n"
                      "a_seconds_bucket{le=\"0.0001\"} 1\n"
                      "a_seconds_bucket{le=\"0.0005\"} 1\n"
                      "a_seconds_bucket{le=\"0.001\"} 1\n"
                      "a_seconds_bucket{le=\"0.002\"} 3\n"
                      "a_seconds_bucket{le=\"0.005\"} 3\n"
                      "a_seconds_bucket{le=\"0.01\"} 3\n"
                      "a_seconds_bucket{le=\"0.02\"} 3\n"
                      "a_seconds_bucket{le=\"0.05\"} 3\n"
                      "a_seconds_bucket{le=\"0.1\"} 3\n"
                      "a_seconds_bucket{le=\"0.5\"} 3\n"
                      "a_seconds_bucket{le=\"1.0\"} 3\n"
                      "a_seconds_bucket{le=\"10.0\"} 3\n"
                      "a_seconds_bucket{le=\"+Inf\"} 4\n"
                      "a_seconds_count 4\n"
                      "a_seconds_sum 11.00301\n"
                      "# EOF\n");
}

/* Longer than any first room. */
Test(openmetrics, grows)
{
    struct openmetrics out = {0};
    size_t size = 0;
    openmetrics_family(&out, "a", OPENMETRICS_GAUGE, NULL, "x");
    for (uint64_t i = 0; i < 10000; i++) {
        char value[24];
        snprintf(value, sizeof value, "%d", (int)i);
        openmetrics_integer(&out, "i", value, i);
    }
    char *text = openmetrics_end(&out, &size);
    cr_assert(ne(ptr, text, NULL));
    cr_expect(eq(sz, size, strlen(text)));
    cr_expect(ne(ptr, strstr(text, "\na{i=\"9999\"} 9999\n# EOF\n"), NULL));
    free(text);
}
