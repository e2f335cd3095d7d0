#include "wire/json.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "support.h"

struct text_row {
    char text[80];
    char line[80]; /* as it is written again; empty: as it was */
};

/* RFC 8259; the writing is compact and in the order of names. */
static const struct text_row read_and_written_rows[] = {
    {"null", ""},
    {"true", ""},
    {"false", ""},
    {"0", ""},
    {"-1", ""},
    {"-0", "0"},
    {"9223372036854775807", ""},
    {"-9223372036854775808", ""},
    {"1.5", ""},
    {"\"\"", ""},
    {"\"caf\\u00e9 \\ud83e\\udd3c\"", "\"caf\xc3\xa9 \xf0\x9f\xa4\xbc\""},
    {"\"\\\"\\\\\\/\\n\\t\"", "\"\\\"\\\\/\\n\\t\""},
    {"[]", ""},
    {"{}", ""},
    {" [ 1 , [ ] , { } ] \r\n\t", "[1,[],{}]"},
    {"{\"b\":1,\"a\":{\"d\":[true],\"c\":null}}", "{\"a\":{\"c\":null,\"d\":[true]},\"b\":1}"},
    {"{\"\":0,\"A\":1,\"a\":2,\"\\u00e9\":3}", "{\"\":0,\"A\":1,\"a\":2,\"\xc3\xa9\":3}"},
    {"{\"a\":\"{[{[\\\"}]\"}", ""},
};
static void check_read_and_written(const struct text_row *row)
{
    struct arena arena;
    struct complaint complaint;
    arena_init(&arena, malloc, free);
    const struct value *value = json_read(&arena, row->text, strlen(row->text), &complaint);
    cr_assert(value != NULL, "%s: %s", row->text, complaint.detail);
    json_t *json = json_of(value);
    char *line = json_line(json);
    expect_text(row->text, line, row->line[0] != '\0' ? row->line : row->text);
    free(line);
    json_decref(json);
    arena_close(&arena);
}

Test(json, read_and_written)
{
    for (size_t i = 0; i < sizeof read_and_written_rows / sizeof *read_and_written_rows; i++)
        check_read_and_written(&read_and_written_rows[i]);
}

struct refused_row {
    char name[40], text[64];
    size_t size; /* 0: strlen */
};

static const struct refused_row refused_rows[] = {
    {"nothing", "", 0},
    {"spaces", "  ", 0},
    {"a word", "start", 0},
    {"cut off", "{\"a\":1", 0},
    {"two values", "1 2", 0},
    {"two objects", "{} {}", 0},
    {"a comma at the end", "[1,]", 0},
    {"single quotes", "{'a':1}", 0},
    {"a name without quotes", "{a:1}", 0},
    {"a comment", "{} // x", 0},
    {"a member twice", "{\"a\":1,\"a\":1}", 0},
    {"a member twice, spelt otherwise", "{\"a\":1,\"\\u0061\":2}", 0},
    {"a member twice, deeper", "{\"b\":[{\"a\":1,\"a\":2}]}", 0},
    {"a leading zero", "01", 0},
    {"a leading plus", "+1", 0},
    {"a point without digits", "1.", 0},
    {"not a number", "NaN", 0},
    {"beyond 64 bits", "9223372036854775808", 0},
    {"beyond a double", "1e999", 0},
    {"a line break in a text", "\"a\nb\"", 0},
    {"U+0000 in a text", "\"a\\u0000b\"", 0},
    {"U+0000 in a name", "{\"a\\u0000\":1}", 0},
    {"a NUL byte in a text", "\"a\0b\"", 5},
    {"a NUL byte after the end", "{}\0", 3},
    {"half a surrogate pair", "\"\\ud83e\"", 0},
    {"a lone second surrogate", "\"\\udd3c\"", 0},
    {"a byte that UTF-8 hasn't", "\"\xff\"", 0},
    {"Latin-1", "\"caf\xe9\"", 0},
    {"UTF-8 cut off", "\"\xc3\"", 0},
    {"UTF-8 longer than need be", "\"\xc0\xaf\"", 0},
    {"a surrogate in UTF-8", "\"\xed\xa0\x80\"", 0},
    {"beyond U+10FFFF", "\"\xf4\x90\x80\x80\"", 0},
    {"a byte order mark", "\xef\xbb\xbf{}", 0},
    {"UTF-16", "\xff\xfe{\0}\0", 6},
};
static void check_refused(const struct refused_row *row)
{
    struct arena arena;
    struct complaint complaint = {.line = 7};
    arena_init(&arena, malloc, free);
    size_t size = row->size != 0 ? row->size : strlen(row->text);
    cr_expect(json_read(&arena, row->text, size, &complaint) == NULL, "%s", row->name);
    cr_expect(eq(int, complaint.why, REFUSED_NOT_JSON), "%s", row->name);
    cr_expect(eq(sz, complaint.line, 7), "%s: the line is the caller's", row->name);
    cr_expect(ne(chr, complaint.detail[0], '\0'), "%s is told", row->name);
    arena_close(&arena);
}

Test(json, refused)
{
    for (size_t i = 0; i < sizeof refused_rows / sizeof *refused_rows; i++)
        check_refused(&refused_rows[i]);
}

/* `depth` brackets of that kind, one inside the other, and as many at the end. */
static void nest(char *text, int depth, const char *open, const char *close)
{
    *text = '\0';
    for (int i = 0; i < depth; i++)
        strcat(text, open);
    strcat(text, *open == '[' ? "" : "1");
    for (int i = 0; i < depth; i++)
        strcat(text, close);
}

Test(json, depth)
{
    static const struct {
        const char *open, *close;
    } kinds[] = {{"[", "]"}, {"{\"a\":", "}"}};
    char text[20 * (JSON_DEPTH_MAX + 2)];
    for (unsigned kind = 0; kind < 2; kind++)
        for (int depth = JSON_DEPTH_MAX - 1; depth <= JSON_DEPTH_MAX + 1; depth++) {
            struct arena arena;
            struct complaint complaint;
            arena_init(&arena, malloc, free);
            nest(text, depth, kinds[kind].open, kinds[kind].close);
            bool read = json_read(&arena, text, strlen(text), &complaint) != NULL;
            cr_expect(eq(int, read, depth <= JSON_DEPTH_MAX), "%d of %s", depth, kinds[kind].open);
            arena_close(&arena);
        }
}

/* A text far deeper than the stack could be must be refused before it is parsed. */
Test(json, far_too_deep)
{
    enum { SIZE = 4000000 };
    struct arena arena;
    struct complaint complaint;
    char *text = malloc(SIZE);
    memset(text, '[', SIZE);
    arena_init(&arena, malloc, free);
    cr_expect(json_read(&arena, text, SIZE, &complaint) == NULL);
    expect_text("the complaint", complaint.detail, "not JSON: nested more than 32 deep");
    arena_close(&arena);
    free(text);
}

/* Brackets in texts are none; neither do a backslash and a quote end a text too early or too late.
 */
Test(json, brackets_in_texts)
{
    static const char *const texts[] = {
        "\"[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[\"",
        "[\"\\\\\",\"\\\"[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[\"]",
        "{\"\\\"{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{{\\\\\":1}",
    };
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        struct arena arena;
        struct complaint complaint;
        arena_init(&arena, malloc, free);
        cr_expect(json_read(&arena, texts[i], strlen(texts[i]), &complaint) != NULL, "%s: %s",
                  texts[i], complaint.detail);
        arena_close(&arena);
    }
}

/* The text is read to `size`, wherever its memory ends; ASan watches. */
Test(json, cut_at_every_byte)
{
    static const char text[] =
        "{\"id\":\"e1\",\"set\":{\"techniques\":[\"a\\u00e9\",\"b\"]},\"t\":-1.5e1}";
    for (size_t size = 0; size <= strlen(text); size++) {
        struct arena arena;
        struct complaint complaint;
        char *cut = malloc(size > 0 ? size : 1);
        memcpy(cut, text, size);
        arena_init(&arena, malloc, free);
        bool read = json_read(&arena, cut, size, &complaint) != NULL;
        cr_expect(eq(int, read, size == strlen(text)), "%zu bytes", size);
        arena_close(&arena);
        free(cut);
    }
}
