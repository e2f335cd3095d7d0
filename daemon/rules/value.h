/* A JSON value as plain structs: what the core reads events and editions from.
 * Strings are UTF-8, NUL-terminated (a string that holds U+0000 never gets here).
 * Borrowed from whoever made it; value_copy makes one that lives in an arena. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "rules/arena.h"

enum value_kind {
    VALUE_NULL,
    VALUE_TRUE,
    VALUE_FALSE,
    VALUE_INTEGER, /* written without fraction and exponent */
    VALUE_REAL,
    VALUE_STRING,
    VALUE_ARRAY,
    VALUE_OBJECT,
};

struct value {
    enum value_kind kind;
    const char *name; /* the member's name in an object; NULL elsewhere */
    union {
        int64_t integer;
        double real;
        const char *string;
    } as;
    const struct value *items; /* of an array or an object, in the order they were written */
    size_t count;
};

/* The member of that name; NULL: there is none, or it is no object. */
const struct value *value_member(const struct value *object, const char *name);
/* Equal as JSON values: members in any order, numbers by value (2 equals 2.0). */
bool value_equal(const struct value *one, const struct value *other);
/* What JSON calls it, for messages: "a string", "true", "an object" … */
const char *value_kind_name(enum value_kind kind);
/* A deep copy in the arena; NULL without memory. */
struct value *value_copy(struct arena *arena, const struct value *value);
/* Whether two texts are the same, or neither is there (NULL). */
bool same_text(const char *one, const char *other);
