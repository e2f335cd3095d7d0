#include "prompts/technique.h"
#include <stddef.h>
#include <string.h>

static bool is_one_of(const char *technique, const char *const *names)
{
    for (; *names != NULL; names++)
        if (strcmp(technique, *names) == 0)
            return true;
    return false;
}

bool technique_is_unnamed(const char *technique)
{
    return strcmp(technique, "attack") == 0;
}

enum technique_family technique_family(const char *technique)
{
    static const char *const leg[] = {
        "single_leg",  "high_single", "low_single", "sweep_single",      "double_leg",
        "high_crotch", "ankle_pick",  "knee_tap",   "firemans_carry",    "outside_trip",
        "inside_trip", "leg_hook",    "foot_sweep", "inner_thigh_throw", NULL,
    };
    static const char *const upper[] = {
        "duck_under", "go_behind",    "mat_return",   "arm_spin",        "arm_throw",
        "hip_toss",   "head_and_arm", "lateral_drop", "body_lock_throw", "salto",
        "suplex",     "bear_hug",     "push_out",     "headlock_roll",   NULL,
    };
    static const char *const top[] = {
        "gut_wrench",   "trap_arm_gut", "leg_lace",    "crotch_lift",          "straight_lift",
        "reverse_lift", "side_lift",    "half_nelson", "three_quarter_nelson", "arm_bar",
        "cradle",       "turk",         NULL,
    };
    if (is_one_of(technique, leg))
        return TECHNIQUE_LEG;
    if (is_one_of(technique, upper))
        return TECHNIQUE_UPPER;
    return is_one_of(technique, top) ? TECHNIQUE_TOP : TECHNIQUE_OTHER;
}

bool technique_is_known(const char *technique)
{
    return strcmp(technique, "attack") != 0; /* UNNAMED of overlay/table/options.js */
}

bool technique_is_low(const char *technique)
{
    static const char *const low[] = {"low_single", "ankle_pick", "sweep_single", NULL};
    return is_one_of(technique, low);
}

bool technique_is_high(const char *technique)
{
    static const char *const high[] = {"high_single", "high_crotch", "firemans_carry", NULL};
    return is_one_of(technique, high);
}
