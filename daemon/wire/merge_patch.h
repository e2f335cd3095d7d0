/* JSON merge patches: the difference of two objects, and its application.
 * Source: RFC 7396 (October 2014), section 2 for `apply`, its appendix A for the tests.
 * A patch can't carry a null as a value, so the objects compared must hold none as a member; that
 * is the wire's own rule ("nothing is ever null"). Arrays are replaced whole.
 * Nothing given is changed. The results share what they can with what was given, so change none of
 * these values afterwards; make new ones. */
#pragma once
#include <jansson.h>

/* Gives the patch that makes `to` of `from`, the smallest that there is: an empty object when they
 * are equal, NULL without memory. Both are objects without null members. */
json_t *merge_patch_make(json_t *from, json_t *to);

/* Gives `target` with `patch` applied; any two JSON values. NULL without memory. */
json_t *merge_patch_apply(json_t *target, json_t *patch);
