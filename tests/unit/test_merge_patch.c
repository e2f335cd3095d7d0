#include "wire/merge_patch.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

static json_t *value_of(const char *text)
{
    json_t *value = json_loads(text, JSON_DECODE_ANY | JSON_REJECT_DUPLICATES, NULL);
    cr_assert(ne(ptr, value, NULL), "%s is JSON", text);
    return value;
}

static char *text_of(const json_t *value)
{
    return json_dumps(value, JSON_ENCODE_ANY | JSON_COMPACT | JSON_SORT_KEYS);
}

struct apply_row {
    char target[40], patch[40], want[40];
};

/* RFC 7396, appendix A, all fifteen, in its order. */
ParameterizedTestParameters(merge_patch, apply)
{
    static struct apply_row rows[] = {
        {"{\"a\":\"b\"}", "{\"a\":\"c\"}", "{\"a\":\"c\"}"},
        {"{\"a\":\"b\"}", "{\"b\":\"c\"}", "{\"a\":\"b\",\"b\":\"c\"}"},
        {"{\"a\":\"b\"}", "{\"a\":null}", "{}"},
        {"{\"a\":\"b\",\"b\":\"c\"}", "{\"a\":null}", "{\"b\":\"c\"}"},
        {"{\"a\":[\"b\"]}", "{\"a\":\"c\"}", "{\"a\":\"c\"}"},
        {"{\"a\":\"c\"}", "{\"a\":[\"b\"]}", "{\"a\":[\"b\"]}"},
        {"{\"a\":{\"b\":\"c\"}}", "{\"a\":{\"b\":\"d\",\"c\":null}}", "{\"a\":{\"b\":\"d\"}}"},
        {"{\"a\":[{\"b\":\"c\"}]}", "{\"a\":[1]}", "{\"a\":[1]}"},
        {"[\"a\",\"b\"]", "[\"c\",\"d\"]", "[\"c\",\"d\"]"},
        {"{\"a\":\"b\"}", "[\"c\"]", "[\"c\"]"},
        {"{\"a\":\"foo\"}", "null", "null"},
        {"{\"a\":\"foo\"}", "\"bar\"", "\"bar\""},
        {"{\"e\":null}", "{\"a\":1}", "{\"e\":null,\"a\":1}"},
        {"[1,2]", "{\"a\":\"b\",\"c\":null}", "{\"a\":\"b\"}"},
        {"{}", "{\"a\":{\"bb\":{\"ccc\":null}}}", "{\"a\":{\"bb\":{}}}"},
    };
    return cr_make_param_array(struct apply_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct apply_row *row, merge_patch, apply)
{
    json_t *target = value_of(row->target), *patch = value_of(row->patch);
    json_t *want = value_of(row->want), *before = json_deep_copy(target);
    json_t *got = merge_patch_apply(target, patch);
    cr_expect(json_equal(got, want), "%s with %s", row->target, row->patch);
    cr_expect(json_equal(target, before), "%s is left as it was", row->target);
    json_decref(got);
    json_decref(before);
    json_decref(want);
    json_decref(patch);
    json_decref(target);
}

struct make_row {
    char from[60], to[60], want[60];
};

ParameterizedTestParameters(merge_patch, make)
{
    static struct make_row rows[] = {
        {"{}", "{}", "{}"},
        {"{\"a\":1,\"b\":[1,{\"c\":2}]}", "{\"b\":[1,{\"c\":2}],\"a\":1}", "{}"},
        {"{\"a\":1}", "{\"a\":2}", "{\"a\":2}"},
        {"{\"a\":1}", "{\"a\":1,\"b\":{}}", "{\"b\":{}}"},
        {"{\"a\":1,\"b\":2}", "{\"b\":2}", "{\"a\":null}"},
        {"{\"a\":{\"b\":1,\"c\":2}}", "{\"a\":{\"b\":1,\"c\":3}}", "{\"a\":{\"c\":3}}"},
        {"{\"a\":{\"b\":1}}", "{\"a\":{}}", "{\"a\":{\"b\":null}}"},
        {"{\"a\":{\"b\":1}}", "{\"a\":[1]}", "{\"a\":[1]}"},
        {"{\"a\":[1]}", "{\"a\":{\"b\":{\"c\":1}}}", "{\"a\":{\"b\":{\"c\":1}}}"},
        {"{\"a\":[1,2]}", "{\"a\":[1,2,3]}", "{\"a\":[1,2,3]}"},
        {"{\"a\":true}", "{\"a\":false}", "{\"a\":false}"},
        {"{\"a\":\"1\"}", "{\"a\":1}", "{\"a\":1}"},
    };
    return cr_make_param_array(struct make_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct make_row *row, merge_patch, make)
{
    json_t *from = value_of(row->from), *to = value_of(row->to), *want = value_of(row->want);
    json_t *patch = merge_patch_make(from, to);
    cr_expect(json_equal(patch, want), "%s to %s", row->from, row->to);
    json_decref(patch);
    json_decref(want);
    json_decref(to);
    json_decref(from);
}

/* xorshift64: the same cases in every run */
static uint64_t random_state;

static unsigned random_below(unsigned bound)
{
    random_state ^= random_state << 13;
    random_state ^= random_state >> 7;
    random_state ^= random_state << 17;
    return (unsigned)(random_state % bound);
}

static json_t *random_value(unsigned depth);

static json_t *random_object(unsigned depth)
{
    json_t *object = json_object();
    unsigned count = random_below(6);
    for (unsigned i = 0; i < count; i++) {
        char name[8];
        snprintf(name, sizeof name, "m%u", random_below(7));
        json_object_set_new(object, name, random_value(depth));
    }
    return object;
}

static json_t *random_value(unsigned depth)
{
    switch (random_below(depth == 0 ? 4 : 7)) {
    case 0:
        return json_integer(random_below(3));
    case 1:
        return json_boolean(random_below(2));
    case 2:
        return json_string(random_below(2) ? "red" : "blue");
    case 3:
        return json_real(0.5 * random_below(3));
    case 4:
        return json_pack("[o]", random_value(depth - 1));
    default:
        return random_object(depth - 1);
    }
}

/* The smallest patch names no member in vain. */
static bool every_end_matters(json_t *from, json_t *to, json_t *patch)
{
    const char *name;
    json_t *value;
    json_object_foreach(patch, name, value)
    {
        json_t *old = json_object_get(from, name), *new = json_object_get(to, name);
        if (json_is_object(old) && json_is_object(new)) {
            if (json_object_size(value) == 0 || !every_end_matters(old, new, value))
                return false;
        } else if (old == new || (old != NULL && new != NULL &&json_equal(old, new))) {
            return false;
        }
    }
    return true;
}

Test(merge_patch, made_and_applied_gives_the_newer)
{
    for (uint64_t seed = 1; seed <= 3000; seed++) {
        random_state = seed * 0x9E3779B97F4A7C15u;
        json_t *from = random_object(4), *to = random_object(4);
        json_t *from_before = json_deep_copy(from), *to_before = json_deep_copy(to);
        json_t *patch = merge_patch_make(from, to);
        json_t *got = merge_patch_apply(from, patch);
        cr_assert(json_equal(got, to), "seed %lu", (unsigned long)seed);
        cr_assert(every_end_matters(from, to, patch), "seed %lu", (unsigned long)seed);
        cr_assert(json_equal(from, from_before), "seed %lu: from", (unsigned long)seed);
        cr_assert(json_equal(to, to_before), "seed %lu: to", (unsigned long)seed);
        json_decref(got);
        json_decref(patch);
        json_decref(to_before);
        json_decref(from_before);
        json_decref(to);
        json_decref(from);
    }
}

/* Memory runs out at the allocation of this number, and stays out; 0: never. */
static unsigned long allocation_count, allocations_until_failure;

static void *failing_malloc(size_t size)
{
    allocation_count++;
    if (allocations_until_failure != 0 && allocation_count >= allocations_until_failure)
        return NULL;
    return malloc(size);
}

static json_t *patched(json_t *from, json_t *to)
{
    json_t *patch = merge_patch_make(from, to);
    json_t *got = patch == NULL ? NULL : merge_patch_apply(from, patch);
    json_decref(patch);
    return got;
}

Test(merge_patch, without_memory_gives_null_and_changes_nothing)
{
    json_set_alloc_funcs(failing_malloc, free);
    random_state = 7;
    json_t *from = random_object(5), *to = random_object(5);
    json_object_set_new(from, "inner", json_pack("{s:{s:i,s:i}}", "a", "b", 1, "c", 2));
    json_object_set_new(to, "inner", json_pack("{s:{s:i,s:{s:i}}}", "a", "b", 2, "d", "e", 3));
    char *from_before = text_of(from), *to_before = text_of(to);
    unsigned long failures = 0;
    for (json_t *got = NULL; got == NULL; failures++) {
        allocation_count = 0;
        allocations_until_failure = failures + 1;
        got = patched(from, to);
        allocations_until_failure = 0;
        char *from_after = text_of(from), *to_after = text_of(to);
        cr_assert(eq(str, from_after, from_before), "allocation %lu", failures + 1);
        cr_assert(eq(str, to_after, to_before), "allocation %lu", failures + 1);
        if (got != NULL)
            cr_expect(json_equal(got, to));
        free(from_after);
        free(to_after);
        json_decref(got);
    }
    cr_expect(lt(ulong, 5, failures), "memory did run out");
    free(from_before);
    free(to_before);
    json_decref(from);
    json_decref(to);
}
