/* No memory is asked for: a line about the want of it must come out too. */
#include "service/report.h"
#include <assert.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <uv.h>
#include "rules/time_of_day.h"

static const char *const level_names[] = {"error", "warning", "info", "debug"};
static const char *const form_names[] = {"logfmt", "json"};

int report_level_read(const char *name, enum report_level *level)
{
    for (unsigned i = 0; i < sizeof level_names / sizeof *level_names; i++)
        if (strcmp(level_names[i], name) == 0)
            return *level = (enum report_level)i, 1;
    return 0;
}

const char *report_level_name(enum report_level level)
{
    return level_names[level];
}

int report_form_read(const char *name, enum report_form *form)
{
    for (unsigned i = 0; i < sizeof form_names / sizeof *form_names; i++)
        if (strcmp(form_names[i], name) == 0)
            return *form = (enum report_form)i, 1;
    return 0;
}

const char *report_form_name(enum report_form form)
{
    return form_names[form];
}

/* ---- characters ---- */

struct line {
    char *text;
    size_t size;
    enum report_form form;
    bool full; /* something didn't fit */
};

static const size_t ending = sizeof "}\n"; /* what always follows still has room */

static void add(struct line *line, const char *bytes, size_t size)
{
    if (line->full || line->size + size + ending > REPORT_LINE_SIZE) {
        line->full = true;
        return;
    }
    memcpy(line->text + line->size, bytes, size);
    line->size += size;
}

static void add_text(struct line *line, const char *text)
{
    add(line, text, strlen(text));
}

/* The bytes of the character that begins here (RFC 3629 4); 0: none does. */
static size_t character_size(const char *text, size_t size)
{
    const unsigned char *byte = (const unsigned char *)text;
    static const struct {
        unsigned char first, last, second_first, second_last, size;
    } rows[] = {
        {0x00, 0x7f, 0, 0, 1},       {0xc2, 0xdf, 0x80, 0xbf, 2}, {0xe0, 0xe0, 0xa0, 0xbf, 3},
        {0xe1, 0xec, 0x80, 0xbf, 3}, {0xed, 0xed, 0x80, 0x9f, 3}, {0xee, 0xef, 0x80, 0xbf, 3},
        {0xf0, 0xf0, 0x90, 0xbf, 4}, {0xf1, 0xf3, 0x80, 0xbf, 4}, {0xf4, 0xf4, 0x80, 0x8f, 4},
    };
    size_t row = 0, count = sizeof rows / sizeof *rows;
    while (row < count && (byte[0] < rows[row].first || byte[0] > rows[row].last))
        row++;
    if (row == count || rows[row].size > size)
        return 0;
    for (size_t i = 1; i < rows[row].size; i++) {
        unsigned char first = i == 1 ? rows[row].second_first : 0x80;
        unsigned char last = i == 1 ? rows[row].second_last : 0xbf;
        if (byte[i] < first || byte[i] > last)
            return 0;
    }
    return rows[row].size;
}

/* RFC 8259 7: quotes, the backslash and control characters are escaped. DEL too, for terminals. */
static void add_escaped(struct line *line, char character)
{
    static const char known[] = "\"\\\n\r\t", letters[] = "\"\\nrt";
    const char *place = character != '\0' ? strchr(known, character) : NULL;
    char text[8];
    if (place != NULL)
        snprintf(text, sizeof text, "\\%c", letters[place - known]);
    else if ((unsigned char)character < 0x20 || character == 0x7f)
        snprintf(text, sizeof text, "\\u%04x", (unsigned)(unsigned char)character);
    else
        snprintf(text, sizeof text, "%c", character);
    add_text(line, text);
}

static void add_quoted(struct line *line, const char *text)
{
    size_t size = strnlen(text, REPORT_VALUE_MAX + 4);
    add_text(line, "\"");
    for (size_t i = 0; i < size && i < REPORT_VALUE_MAX;) {
        size_t character = character_size(text + i, size - i);
        if (character == 0)
            add_text(line, "\xef\xbf\xbd");
        else if (character == 1)
            add_escaped(line, text[i]);
        else
            add(line, text + i, character);
        i += character == 0 ? 1 : character;
    }
    add_text(line, "\"");
}

/* May it stand without quotes? */
static bool is_bare(const char *text)
{
    size_t size = strnlen(text, REPORT_VALUE_MAX);
    for (size_t i = 0; i < size; i++)
        if (text[i] <= ' ' || text[i] > '~' || strchr("=\"\\", text[i]) != NULL)
            return false;
    return size > 0 && size < REPORT_VALUE_MAX;
}

/* ---- pairs ---- */

static void add_name(struct line *line, const char *name, size_t size)
{
    bool json = line->form == REPORT_JSON;
    if (line->size > 0)
        add_text(line, json ? "," : " ");
    add_text(line, json ? "\"" : "");
    add(line, name, size);
    add_text(line, json ? "\":" : "=");
}

static void add_value(struct line *line, const char *text)
{
    if (line->form == REPORT_LOGFMT && is_bare(text))
        add_text(line, text);
    else
        add_quoted(line, text);
}

static void add_pair(struct line *line, const char *name, const char *value)
{
    add_name(line, name, strlen(name));
    add_value(line, value);
}

/* Of %d, %u, %zu, and with one l or two; `conversion` is what stands behind the "%". */
static long long number_taken(const char *conversion, size_t size, va_list *values)
{
    bool is_signed = conversion[size - 1] == 'd';
    size_t longs = strspn(conversion, "l");
    assert(strchr("du", conversion[size - 1]) != NULL && longs <= 2);
    if (conversion[0] == 'z')
        return (long long)va_arg(*values, size_t);
    if (longs == 2)
        return va_arg(*values, long long); /* those without a sign are below 2^63 here */
    if (longs == 1)
        return is_signed ? va_arg(*values, long) : (long long)va_arg(*values, unsigned long);
    return is_signed ? va_arg(*values, int) : (long long)va_arg(*values, unsigned);
}

/* Takes one value as its conversion says, from behind the "%"; answers where the format goes on. */
static const char *add_converted(struct line *line, const char *conversion, va_list *values)
{
    char number[32];
    size_t size = strspn(conversion, "lzdus");
    assert(size > 0);
    if (size == 1 && conversion[0] == 's') {
        add_value(line, va_arg(*values, const char *));
    } else {
        snprintf(number, sizeof number, "%lld", number_taken(conversion, size, values));
        add_text(line, number);
    }
    return conversion + size;
}

/* "name=%s other=\"%s\"". A pair that doesn't fit is taken back whole. */
static void add_pairs(struct line *line, const char *pairs, va_list *values)
{
    while (*pairs != '\0' && *pairs != '%') {
        size_t before = line->size, name = strcspn(pairs, "=");
        add_name(line, pairs, name);
        pairs += name + strspn(pairs + name, "=\"");
        assert(*pairs == '%');
        pairs = add_converted(line, pairs + 1, values);
        pairs += strspn(pairs, "\" ");
        if (line->full)
            line->size = before;
        line->full = false;
    }
}

/* ---- the line ---- */

size_t report_line(char text[REPORT_LINE_SIZE], enum report_form form, int64_t at_ms,
                   enum report_level level, const char *message, const char *pairs, va_list values)
{
    struct line line = {.text = text, .form = form};
    char at[TIME_OF_DAY_SIZE];
    va_list left;
    time_of_day_write(at_ms, at);
    if (form == REPORT_JSON) { /* begun here, so that add_name puts no comma before the first */
        add_text(&line, "{\"at\":");
        add_value(&line, at);
    } else {
        add_pair(&line, "at", at);
    }
    add_pair(&line, "level", level_names[level]);
    add_name(&line, "message", strlen("message"));
    add_quoted(&line, message);
    va_copy(left, values);
    add_pairs(&line, pairs, &left);
    va_end(left);
    const char *end = form == REPORT_JSON ? "}\n" : "\n";
    memcpy(text + line.size, end, strlen(end) + 1);
    return line.size + strlen(end);
}

static int64_t now_ms(const struct report *to)
{
    uv_timeval64_t now = {0, 0};
    if (to->daytime != NULL)
        return daytime_now(to->daytime);
    uv_gettimeofday(&now);
    return now.tv_sec * 1000 + now.tv_usec / 1000;
}

void report(const struct report *to, enum report_level level, const char *message,
            const char *pairs, ...)
{
    char line[REPORT_LINE_SIZE];
    if (level > to->level)
        return;
    va_list values;
    va_start(values, pairs);
    size_t size = report_line(line, to->form, now_ms(to), level, message, pairs, values);
    va_end(values);
    fwrite(line, 1, size, stderr);
}
