#include "rules/value.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <stdlib.h>
#include <string.h>
#include "support.h"
#include "wire/json.h"

static const struct value *read_text(struct arena *arena, const char *text)
{
    struct complaint complaint;
    const struct value *value = json_read(arena, text, strlen(text), &complaint);
    cr_assert(value != NULL, "%s: %s", text, complaint.detail);
    return value;
}

struct equal_row {
    char one[64], other[64];
    bool equal;
};

/* docs/events.md: "compared as JSON values, numbers by value". Kinds of value: RFC 8259. */
static const struct equal_row equal_rows[] = {
    {"2", "2", true},
    {"2", "2.0", true},
    {"2", "2e0", true},
    {"20", "2e1", true},
    {"2", "2.5", false},
    {"2", "3", false},
    {"0", "-0", true},
    {"0", "-0.0", true},
    {"-1", "1", false},
    {"1.5", "1.5", true},
    {"1.5", "15e-1", true},
    {"1.5", "1.25", false},
    /* one more than a double can tell apart: 2^53 + 1, and 2^63 - 1 against 2^63 */
    {"9007199254740993", "9007199254740992.0", false},
    {"9007199254740992", "9007199254740992.0", true},
    {"9223372036854775807", "9223372036854775808.0", false},
    {"-9223372036854775808", "-9223372036854775808.0", true},
    {"1", "1e300", false},
    {"2", "\"2\"", false},
    {"1", "true", false},
    {"0", "false", false},
    {"0", "null", false},
    {"true", "true", true},
    {"true", "false", false},
    {"null", "null", true},
    {"null", "false", false},
    {"\"a\"", "\"a\"", true},
    {"\"a\"", "\"\\u0061\"", true},
    {"\"a\"", "\"A\"", false},
    {"\"\"", "null", false},
    {"[]", "[]", true},
    {"[]", "{}", false},
    {"[1,2]", "[1,2.0]", true},
    {"[1,2]", "[2,1]", false},
    {"[1,2]", "[1]", false},
    {"[1]", "[1,2]", false},
    {"{}", "{}", true},
    {"{\"a\":1,\"b\":2}", "{\"b\":2,\"a\":1}", true},
    {"{\"a\":1,\"b\":2}", "{\"a\":1}", false},
    {"{\"a\":1}", "{\"a\":1,\"b\":2}", false},
    {"{\"a\":1}", "{\"b\":1}", false},
    {"{\"a\":{\"b\":[1,{\"c\":2}]}}", "{\"a\":{\"b\":[1,{\"c\":2.0}]}}", true},
    {"{\"a\":{\"b\":[1,{\"c\":2}]}}", "{\"a\":{\"b\":[1,{\"c\":3}]}}", false},
};
static void check_equal(const struct equal_row *row)
{
    struct arena arena;
    arena_init(&arena, malloc, free);
    const struct value *one = read_text(&arena, row->one), *other = read_text(&arena, row->other);
    cr_expect(eq(int, value_equal(one, other), row->equal), "%s and %s", row->one, row->other);
    cr_expect(eq(int, value_equal(other, one), row->equal), "%s and %s", row->other, row->one);
    cr_expect(value_equal(one, one), "%s and itself", row->one);
    arena_close(&arena);
}

Test(value, equal)
{
    for (size_t i = 0; i < sizeof equal_rows / sizeof *equal_rows; i++)
        check_equal(&equal_rows[i]);
}

Test(value, member)
{
    struct arena arena;
    arena_init(&arena, malloc, free);
    const struct value *object = read_text(&arena, "{\"a\":1,\"bc\":[2]}");
    const struct value *member = value_member(object, "a");
    cr_assert(member != NULL);
    cr_expect(eq(i64, member->as.integer, 1));
    cr_expect(value_member(object, "bc") != NULL);
    cr_expect(value_member(object, "b") == NULL, "a name is compared whole");
    cr_expect(value_member(object, "") == NULL);
    cr_expect(value_member(NULL, "a") == NULL, "of nothing");
    cr_expect(value_member(value_member(object, "bc"), "a") == NULL, "of an array");
    cr_expect(value_member(member, "a") == NULL, "of an integer");
    arena_close(&arena);
}

/* A copy is equal, and is still so when what it was made of has gone. */
Test(value, copy)
{
    static const char text[] = "{\"n\":null,\"t\":true,\"i\":-5,\"r\":1.5,\"s\":\"\\u00e9\","
                               "\"a\":[1,[2,{}],\"x\"],\"o\":{\"p\":{\"q\":[]}}}";
    struct arena first, second;
    arena_init(&first, malloc, free);
    arena_init(&second, malloc, free);
    const struct value *value = read_text(&first, text);
    struct value *copy = value_copy(&second, value);
    cr_assert(copy != NULL);
    cr_expect(value_equal(value, copy));
    arena_close(&first);
    arena_init(&first, malloc, free);
    cr_expect(value_equal(read_text(&first, text), copy));
    arena_close(&first);
    arena_close(&second);
}

struct kind_row {
    char json[16], name[40];
};

/* The words in which a refusal tells what it found. */
static const struct kind_row kind_name_rows[] = {
    {"null", "null"},
    {"true", "true"},
    {"false", "false"},
    {"1", "an integer"},
    {"1.0", "a number with a fraction or exponent"},
    {"1e2", "a number with a fraction or exponent"},
    {"\"\"", "a string"},
    {"[]", "an array"},
    {"{}", "an object"},
};
static void check_kind_name(const struct kind_row *row)
{
    struct arena arena;
    arena_init(&arena, malloc, free);
    expect_text(row->json, value_kind_name(read_text(&arena, row->json)->kind), row->name);
    arena_close(&arena);
}

Test(value, kind_name)
{
    for (size_t i = 0; i < sizeof kind_name_rows / sizeof *kind_name_rows; i++)
        check_kind_name(&kind_name_rows[i]);
}
