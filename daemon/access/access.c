#include "access/access.h"
#include <string.h>

static const char *const role_names[ROLE_COUNT] = {
    [ROLE_PUBLIC] = "public", [ROLE_FOLLOW] = "follow",   [ROLE_BOOTH] = "booth",
    [ROLE_TABLE] = "table",   [ROLE_GALLERY] = "gallery", [ROLE_ANYONE] = "anyone",
};

const char *role_name(enum role role)
{
    return role_names[role];
}

bool role_read(const char *name, enum role *role)
{
    for (unsigned i = ROLE_FOLLOW; i <= ROLE_GALLERY; i++)
        if (strcmp(role_names[i], name) == 0)
            return *role = (enum role)i, true;
    return false;
}

bool role_takes_mat(enum role role)
{
    return role == ROLE_TABLE || role == ROLE_BOOTH;
}

const char *action_words(enum action action)
{
    static const char *const words[ACTION_COUNT] = {
        [ACTION_READ_PUBLIC] = "read the public feed",
        [ACTION_READ_BOOTH] = "read what is the booth's",
        [ACTION_READ_TABLE] = "read what is the table's",
        [ACTION_READ_LOG] = "read the log",
        [ACTION_READ_DAY] = "read the booth's day",
        [ACTION_READ_GALLERY] = "read what is the gallery's",
        [ACTION_KEY_BOUT] = "key events of this bout",
        [ACTION_KEY_NOTE] = "write notes to this booth",
        [ACTION_KEY_DAY] = "key entries, slots and sessions",
        [ACTION_PRODUCE] = "produce",
        [ACTION_SAY_TO_BOOTH] = "speak to a booth",
        [ACTION_SAY_TO_GALLERY] = "speak to the gallery for this booth",
        [ACTION_CUT] = "cut anybody off",
    };
    return words[action];
}

/* NO: never. MAT: on the key's mat; everywhere, where the key is bound to none. YES: wherever. */
enum leave { NO, MAT, YES };

/* A table is read by its columns. */
/* clang-format off */
static const unsigned char leaves[ACTION_COUNT][ROLE_COUNT] = {
    /*                       public follow booth table gallery anyone */
    [ACTION_READ_PUBLIC] =  {YES,   YES,   YES,  YES,  YES,    YES},
    [ACTION_READ_BOOTH] =   {NO,    NO,    MAT,  MAT,  YES,    YES},
    [ACTION_READ_TABLE] =   {NO,    NO,    NO,   MAT,  YES,    YES},
    [ACTION_READ_LOG] =     {NO,    NO,    MAT,  MAT,  YES,    YES},
    [ACTION_READ_DAY] =     {NO,    NO,    YES,  YES,  YES,    YES},
    [ACTION_READ_GALLERY] = {NO,    NO,    NO,   NO,   YES,    YES},
    [ACTION_KEY_BOUT] =     {NO,    NO,    NO,   MAT,  NO,     YES},
    [ACTION_KEY_NOTE] =     {NO,    NO,    MAT,  MAT,  YES,    YES},
    [ACTION_KEY_DAY] =      {NO,    NO,    NO,   MAT,  YES,    YES},
    [ACTION_PRODUCE] =      {NO,    NO,    NO,   NO,   YES,    YES},
    [ACTION_SAY_TO_BOOTH] = {NO,    NO,    NO,   NO,   YES,    YES},
    [ACTION_SAY_TO_GALLERY] = {NO,  NO,    MAT,  MAT,  NO,     YES},
    [ACTION_CUT] =          {NO,    NO,    NO,   NO,   YES,    YES},
};
/* clang-format on */

bool role_allows(enum role role, enum action action)
{
    return leaves[action][role] != NO;
}

bool grant_allows(const struct grant *grant, enum action action, const char *mat)
{
    switch ((enum leave)leaves[action][grant->role]) {
    case NO:
        return false;
    case MAT:
        return grant->mat == NULL || (mat != NULL && strcmp(mat, grant->mat) == 0);
    case YES:
        break;
    }
    return true;
}

/* ---- topics ---- */

static bool mat_topic(const char *topic, struct audience *audience)
{
    static const struct {
        const char *end;
        enum action action;
    } ends[] = {
        {"/table", ACTION_READ_TABLE},
        {"/booth", ACTION_READ_BOOTH},
        {"/follow", ACTION_READ_PUBLIC},
    };
    size_t length = strlen(topic);
    for (size_t i = 0; i < sizeof ends / sizeof *ends; i++) {
        size_t end = strlen(ends[i].end);
        if (length <= end || length - end >= sizeof audience->mat ||
            strcmp(topic + length - end, ends[i].end) != 0)
            continue;
        memcpy(audience->mat, topic, length - end);
        audience->mat[length - end] = '\0';
        audience->action = ends[i].action;
        return true;
    }
    return false;
}

bool audience_of(const char *topic, struct audience *audience)
{
    static const struct {
        const char *topic;
        enum action action;
    } others[] = {
        {"day/follow", ACTION_READ_PUBLIC},
        {"day/booth", ACTION_READ_DAY},
        {"gallery", ACTION_READ_GALLERY},
    };
    *audience = (struct audience){.action = ACTION_READ_PUBLIC};
    if (strncmp(topic, "mat/", 4) == 0)
        return mat_topic(topic + 4, audience);
    if (strncmp(topic, "out/", 4) == 0)
        return topic[4] != '\0';
    for (size_t i = 0; i < sizeof others / sizeof *others; i++)
        if (strcmp(others[i].topic, topic) == 0) {
            audience->action = others[i].action;
            return true;
        }
    return false;
}

/* ---- addresses ---- */

bool host_is_this_machine(const char *host)
{
    bool numbers = host[strspn(host, "0123456789.")] == '\0';
    return strcmp(host, "localhost") == 0 || strcmp(host, "::1") == 0 ||
           (numbers && strncmp(host, "127.", 4) == 0);
}

const char *listening_refusal(const char *host, bool keys, bool tls, bool plain_text_by_name)
{
    if (host_is_this_machine(host))
        return NULL;
    if (!keys)
        return "others reach this address, and no key opens: make keys first, with "
               "`boutwire key add`";
    if (!tls && !plain_text_by_name)
        return "others reach this address, and without TLS whoever is on the network reads keys "
               "as they are sent: use TLS, or say --plain-text-network";
    return NULL;
}
