#include "rules/value.h"
#include <string.h>

const struct value *value_member(const struct value *object, const char *name)
{
    if (object == NULL || object->kind != VALUE_OBJECT)
        return NULL;
    for (size_t i = 0; i < object->count; i++)
        if (strcmp(object->items[i].name, name) == 0)
            return &object->items[i];
    return NULL;
}

static bool is_number(const struct value *value)
{
    return value->kind == VALUE_INTEGER || value->kind == VALUE_REAL;
}

/* A real equals an integer when it holds exactly that number; both bounds are powers of two. */
static bool real_is(double real, int64_t integer)
{
    return real >= -9223372036854775808.0 && real < 9223372036854775808.0 &&
           (int64_t)real == integer && (double)(int64_t)real >= real &&
           (double)(int64_t)real <= real;
}

static bool number_equal(const struct value *one, const struct value *other)
{
    if (one->kind == VALUE_INTEGER && other->kind == VALUE_INTEGER)
        return one->as.integer == other->as.integer;
    if (one->kind == VALUE_INTEGER)
        return real_is(other->as.real, one->as.integer);
    if (other->kind == VALUE_INTEGER)
        return real_is(one->as.real, other->as.integer);
    return one->as.real >= other->as.real && one->as.real <= other->as.real;
}

static bool items_equal(const struct value *one, const struct value *other)
{
    if (one->count != other->count)
        return false;
    for (size_t i = 0; i < one->count; i++) {
        const struct value *item = &one->items[i];
        const struct value *match =
            one->kind == VALUE_OBJECT ? value_member(other, item->name) : &other->items[i];
        if (match == NULL || !value_equal(item, match))
            return false;
    }
    return true;
}

bool value_equal(const struct value *one, const struct value *other)
{
    if (is_number(one) && is_number(other))
        return number_equal(one, other);
    if (one->kind != other->kind)
        return false;
    if (one->kind == VALUE_STRING)
        return strcmp(one->as.string, other->as.string) == 0;
    return items_equal(one, other);
}

const char *value_kind_name(enum value_kind kind)
{
    switch (kind) {
    case VALUE_NULL:
        return "null";
    case VALUE_TRUE:
        return "true";
    case VALUE_FALSE:
        return "false";
    case VALUE_INTEGER:
        return "an integer";
    case VALUE_REAL:
        return "a number with a fraction or exponent";
    case VALUE_STRING:
        return "a string";
    case VALUE_ARRAY:
        return "an array";
    case VALUE_OBJECT:
        return "an object";
    }
    return "";
}

static bool copy_into(struct arena *arena, struct value *copy, const struct value *value)
{
    *copy = *value;
    if (value->name != NULL && (copy->name = arena_copy(arena, value->name)) == NULL)
        return false;
    if (value->kind == VALUE_STRING)
        return (copy->as.string = arena_copy(arena, value->as.string)) != NULL;
    if (value->count == 0)
        return true;
    struct value *items = arena_take(arena, value->count * sizeof *items);
    if (items == NULL)
        return false;
    copy->items = items;
    for (size_t i = 0; i < value->count; i++)
        if (!copy_into(arena, &items[i], &value->items[i]))
            return false;
    return true;
}

struct value *value_copy(struct arena *arena, const struct value *value)
{
    struct value *copy = arena_take(arena, sizeof *copy);
    return copy != NULL && copy_into(arena, copy, value) ? copy : NULL;
}

bool same_text(const char *one, const char *other)
{
    return one == other || (one != NULL && other != NULL && strcmp(one, other) == 0);
}
