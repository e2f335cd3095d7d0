#include "wire/openmetrics.h"
#include <assert.h>
#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* As they are written ("Canonical Numbers"), because %g would differ from library to library. */
static const struct {
    double seconds;
    const char *text;
} bounds[HISTOGRAM_BOUND_COUNT] = {
    {1e-5, "1e-05"}, {5e-5, "5e-05"}, {1e-4, "0.0001"}, {5e-4, "0.0005"}, {1e-3, "0.001"},
    {2e-3, "0.002"}, {5e-3, "0.005"}, {0.01, "0.01"},   {0.02, "0.02"},   {0.05, "0.05"},
    {0.1, "0.1"},    {0.5, "0.5"},    {1.0, "1.0"},     {10.0, "10.0"},
};

void histogram_note(struct histogram *histogram, double seconds)
{
    size_t bound = 0;
    while (bound < HISTOGRAM_BOUND_COUNT && seconds > bounds[bound].seconds)
        bound++;
    histogram->counts[bound]++;
    histogram->sum += seconds;
}

uint64_t histogram_count(const struct histogram *histogram)
{
    uint64_t count = 0;
    for (size_t i = 0; i <= HISTOGRAM_BOUND_COUNT; i++)
        count += histogram->counts[i];
    return count;
}

/* ---- text ---- */

static bool has_room(struct openmetrics *out, size_t more)
{
    if (out->size + more < out->room)
        return true;
    size_t room = 2 * (out->size + more) + 1024;
    char *text = out->failed ? NULL : realloc(out->text, room);
    if (text == NULL) {
        out->failed = true;
        return false;
    }
    out->text = text;
    out->room = room;
    return true;
}

static void add(struct openmetrics *out, const char *bytes, size_t size)
{
    if (!has_room(out, size))
        return;
    memcpy(out->text + out->size, bytes, size);
    out->size += size;
    out->text[out->size] = '\0';
}

static void add_text(struct openmetrics *out, const char *text)
{
    add(out, text, strlen(text));
}

static void add_texts(struct openmetrics *out, const char *first, ...)
{
    va_list texts;
    va_start(texts, first);
    for (const char *text = first; text != NULL; text = va_arg(texts, const char *))
        add_text(out, text);
    va_end(texts);
}

/* "Escaping": line feed, double quote and backslash. */
static void add_escaped(struct openmetrics *out, const char *text)
{
    for (; *text != '\0'; text++) {
        if (*text == '\n')
            add_text(out, "\\n");
        else if (*text == '"' || *text == '\\')
            add(out, (char[]){'\\', *text}, 2);
        else
            add(out, text, 1);
    }
}

/* ABNF label-name, which a metricname of ours is, too. */
static bool is_name(const char *name)
{
    static const char letters[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ_";
    static const char characters[] =
        "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ_0123456789";
    return *name != '\0' && strchr(letters, *name) != NULL &&
           name[strspn(name, characters)] == '\0';
}

static bool ends_in_unit(const char *name, const char *unit)
{
    size_t name_size = strlen(name), unit_size = strlen(unit);
    return name_size > unit_size + 1 && name[name_size - unit_size - 1] == '_' &&
           strcmp(name + name_size - unit_size, unit) == 0;
}

/* ---- families and samples ---- */

static const char *const type_names[] = {
    [OPENMETRICS_GAUGE] = "gauge",
    [OPENMETRICS_COUNTER] = "counter",
    [OPENMETRICS_HISTOGRAM] = "histogram",
    [OPENMETRICS_INFO] = "info",
};
static const char *const suffixes[] = {
    [OPENMETRICS_GAUGE] = "",
    [OPENMETRICS_COUNTER] = "_total",
    [OPENMETRICS_HISTOGRAM] = "",
    [OPENMETRICS_INFO] = "_info",
};

void openmetrics_family(struct openmetrics *out, const char *name, enum openmetrics_type type,
                        const char *unit, const char *help)
{
    assert(is_name(name));
    assert(unit == NULL || ends_in_unit(name, unit));
    out->family = name;
    out->type = type;
    add_texts(out, "# TYPE ", name, " ", type_names[type], "\n", NULL);
    if (unit != NULL)
        add_texts(out, "# UNIT ", name, " ", unit, "\n", NULL);
    add_texts(out, "# HELP ", name, " ", NULL);
    add_escaped(out, help);
    add_text(out, "\n");
}

static void add_sample(struct openmetrics *out, const char *suffix, const char *label,
                       const char *value, const char *number)
{
    add_texts(out, out->family, suffix, NULL);
    if (label != NULL) {
        assert(is_name(label));
        add_texts(out, "{", label, "=\"", NULL);
        add_escaped(out, value);
        add_text(out, "\"}");
    }
    add_texts(out, " ", number, "\n", NULL);
}

void openmetrics_integer(struct openmetrics *out, const char *label, const char *value,
                         uint64_t number)
{
    char text[24];
    assert(out->type != OPENMETRICS_HISTOGRAM);
    snprintf(text, sizeof text, "%" PRIu64, number);
    add_sample(out, suffixes[out->type], label, value, text);
}

/* "Numbers": a float has a point or an exponent. */
static void float_write(char text[40], double number)
{
    int size = snprintf(text, 32, "%.15g", number);
    if (strpbrk(text, ".e") == NULL)
        snprintf(text + size, 8, ".0");
}

void openmetrics_float(struct openmetrics *out, const char *label, const char *value, double number)
{
    char text[40];
    assert(out->type != OPENMETRICS_HISTOGRAM);
    float_write(text, number);
    add_sample(out, suffixes[out->type], label, value, text);
}

void openmetrics_histogram(struct openmetrics *out, const struct histogram *histogram)
{
    char text[40];
    uint64_t count = 0;
    assert(out->type == OPENMETRICS_HISTOGRAM);
    for (size_t i = 0; i <= HISTOGRAM_BOUND_COUNT; i++) {
        count += histogram->counts[i];
        snprintf(text, sizeof text, "%" PRIu64, count);
        add_sample(out, "_bucket", "le", i < HISTOGRAM_BOUND_COUNT ? bounds[i].text : "+Inf", text);
    }
    add_sample(out, "_count", NULL, NULL, text);
    float_write(text, histogram->sum);
    add_sample(out, "_sum", NULL, NULL, text);
}

char *openmetrics_end(struct openmetrics *out, size_t *size)
{
    add_text(out, "# EOF\n");
    if (out->failed) {
        free(out->text);
        return NULL;
    }
    *size = out->size;
    return out->text;
}
