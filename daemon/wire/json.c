#include "wire/json.h"
#include <assert.h>
#include <string.h>

/* The parser's own limit is far deeper than any stack of ours should go: count before it. */
static bool too_deep(const char *text, size_t size)
{
    int depth = 0;
    bool in_string = false;
    for (size_t i = 0; i < size; i++) {
        if (in_string && text[i] == '\\')
            i++;
        else if (text[i] == '"')
            in_string = !in_string;
        else if (!in_string && (text[i] == '{' || text[i] == '['))
            depth++;
        else if (!in_string && (text[i] == '}' || text[i] == ']'))
            depth--;
        if (depth > JSON_DEPTH_MAX)
            return true;
    }
    return false;
}

static bool take(struct arena *arena, struct value *value, const char *name, const json_t *json);

static bool take_items(struct arena *arena, struct value *value, const json_t *json)
{
    size_t count = json_is_object(json) ? json_object_size(json) : json_array_size(json);
    struct value *items = count > 0 ? arena_take(arena, count * sizeof *items) : NULL;
    if (count > 0 && items == NULL)
        return false;
    value->items = items;
    if (json_is_array(json)) {
        for (; value->count < count; value->count++)
            if (!take(arena, &items[value->count], NULL, json_array_get(json, value->count)))
                return false;
        return true;
    }
    for (void *at = json_object_iter((json_t *)(uintptr_t)json); at != NULL;
         at = json_object_iter_next((json_t *)(uintptr_t)json, at))
        if (!take(arena, &items[value->count++], json_object_iter_key(at),
                  json_object_iter_value(at)))
            return false;
    return true;
}

static bool take(struct arena *arena, struct value *value, const char *name, const json_t *json)
{
    assert(value != NULL);
    if (name != NULL && (value->name = arena_copy(arena, name)) == NULL)
        return false;
    switch (json_typeof(json)) {
    case JSON_OBJECT:
        value->kind = VALUE_OBJECT;
        return take_items(arena, value, json);
    case JSON_ARRAY:
        value->kind = VALUE_ARRAY;
        return take_items(arena, value, json);
    case JSON_STRING:
        value->kind = VALUE_STRING;
        return (value->as.string = arena_copy(arena, json_string_value(json))) != NULL;
    case JSON_INTEGER:
        value->kind = VALUE_INTEGER;
        value->as.integer = json_integer_value(json);
        return true;
    case JSON_REAL:
        value->kind = VALUE_REAL;
        value->as.real = json_real_value(json);
        return true;
    case JSON_TRUE:
        value->kind = VALUE_TRUE;
        return true;
    case JSON_FALSE:
        value->kind = VALUE_FALSE;
        return true;
    case JSON_NULL:
        value->kind = VALUE_NULL;
        return true;
    }
    return false;
}

/* The parser's own words, but where they speak to its programmer. */
static const char *words_of(const json_error_t *error)
{
    enum json_error_code code = json_error_code(error);
    if (code == json_error_null_character || code == json_error_null_byte_in_key)
        return "a string holds U+0000, which isn't taken";
    if (code == json_error_numeric_overflow)
        return "a number is too large, integers have 64 bits";
    return error->text;
}

bool json_has_memory(void)
{
    json_t *string = json_string("a string long enough to need memory of its own");
    json_decref(string);
    return string != NULL;
}

json_t *json_parse(const char *text, size_t size, struct complaint *complaint)
{
    json_error_t error;
    complaint->why = ACCEPTED;
    if (too_deep(text, size)) {
        complain(complaint, REFUSED_NOT_JSON, "", "not JSON: nested more than %d deep",
                 JSON_DEPTH_MAX);
        return NULL;
    }
    json_t *json = json_loadb(text, size, JSON_REJECT_DUPLICATES | JSON_DECODE_ANY, &error);
    if (json == NULL && json_has_memory())
        complain(complaint, REFUSED_NOT_JSON, "", "not JSON: %.100s (byte %d)", words_of(&error),
                 error.position);
    return json;
}

struct value *json_read(struct arena *arena, const char *text, size_t size,
                        struct complaint *complaint)
{
    json_t *json = json_parse(text, size, complaint);
    struct value *value = json != NULL ? arena_take(arena, sizeof *value) : NULL;
    if (value != NULL && !take(arena, value, NULL, json))
        value = NULL;
    json_decref(json);
    return value;
}

static json_t *object_of(const struct value *value)
{
    json_t *object = json_object();
    for (size_t i = 0; i < value->count; i++)
        if (object == NULL || json_object_set_new_nocheck(object, value->items[i].name,
                                                          json_of(&value->items[i])) != 0) {
            json_decref(object);
            return NULL;
        }
    return object;
}

static json_t *array_of(const struct value *value)
{
    json_t *array = json_array();
    for (size_t i = 0; i < value->count; i++)
        if (array == NULL || json_array_append_new(array, json_of(&value->items[i])) != 0) {
            json_decref(array);
            return NULL;
        }
    return array;
}

json_t *json_of(const struct value *value)
{
    switch (value->kind) {
    case VALUE_NULL:
        return json_null();
    case VALUE_TRUE:
        return json_true();
    case VALUE_FALSE:
        return json_false();
    case VALUE_INTEGER:
        return json_integer(value->as.integer);
    case VALUE_REAL:
        return json_real(value->as.real);
    case VALUE_STRING:
        return json_string_nocheck(value->as.string);
    case VALUE_ARRAY:
        return array_of(value);
    case VALUE_OBJECT:
        return object_of(value);
    }
    return NULL;
}

char *json_line(const json_t *json)
{
    return json_dumps(json, JSON_COMPACT | JSON_SORT_KEYS | JSON_ENCODE_ANY);
}

bool line_is_blank(const char *line, size_t size)
{
    for (size_t i = 0; i < size; i++)
        if (line[i] != ' ' && line[i] != '\t' && line[i] != '\r')
            return false;
    return true;
}
