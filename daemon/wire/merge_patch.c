#include "wire/merge_patch.h"
#include <assert.h>

/* Both are objects: a part of them that is equal needs no member in the patch. -1: no memory. */
static int difference_add_object(json_t *patch, const char *name, json_t *from, json_t *to)
{
    json_t *inner = merge_patch_make(from, to);
    if (inner == NULL)
        return -1;
    if (json_object_size(inner) > 0)
        return json_object_set_new_nocheck(patch, name, inner);
    json_decref(inner);
    return 0;
}

static int difference_add(json_t *patch, const char *name, json_t *from, json_t *to)
{
    if (from == to)
        return 0;
    if (json_is_object(from) && json_is_object(to))
        return difference_add_object(patch, name, from, to);
    if (json_equal(from, to))
        return 0;
    return json_object_set_nocheck(patch, name, to);
}

json_t *merge_patch_make(json_t *from, json_t *to)
{
    assert(json_is_object(from));
    assert(json_is_object(to));
    json_t *patch = json_object();
    if (patch == NULL)
        return NULL;
    const char *name;
    json_t *value;
    json_object_foreach(to, name,
                        value) if (difference_add(patch, name, json_object_get(from, name), value) <
                                   0) goto free_patch;
    json_object_foreach(from, name, value) if (json_object_get(to, name) == NULL &&
                                               json_object_set_new_nocheck(
                                                   patch, name, json_null()) < 0) goto free_patch;
    return patch;

free_patch:
    json_decref(patch);
    return NULL;
}

static int patch_member(json_t *result, const char *name, json_t *patch)
{
    if (json_is_null(patch)) {
        (void)json_object_del(result, name); /* fails only when there is none to take away */
        return 0;
    }
    json_t *value = merge_patch_apply(json_object_get(result, name), patch);
    return value == NULL ? -1 : json_object_set_new_nocheck(result, name, value);
}

json_t *merge_patch_apply(json_t *target, json_t *patch)
{
    if (!json_is_object(patch))
        return json_incref(patch);
    json_t *result = json_object();
    if (result == NULL)
        return NULL;
    /* Not json_copy: without memory that gives a copy with members missing. */
    if (json_is_object(target) && json_object_update(result, target) < 0)
        goto free_result;
    const char *name;
    json_t *value;
    json_object_foreach(patch, name,
                        value) if (patch_member(result, name, value) < 0) goto free_result;
    return result;

free_result:
    json_decref(result);
    return NULL;
}
