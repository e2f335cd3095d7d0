#include "net/crowd.h"
#include <assert.h>
#include <search.h>
#include <stdlib.h>
#include <string.h>

struct member {
    struct address address;
    unsigned count;
};

static int member_compare(const void *a, const void *b)
{
    const struct member *one = a, *other = b;
    return memcmp(one->address.bytes, other->address.bytes, sizeof one->address.bytes);
}

static struct member member_of(const struct address *address)
{
    struct member member = {.address = *address};
    if (!address_is_ipv4(address))
        memset(member.address.bytes + 8, 0, 8);
    return member;
}

/* The one that is there, or a new one; NULL without memory. */
static struct member *member_find(struct crowd *crowd, const struct address *address)
{
    struct member wanted = member_of(address);
    void *found = tfind(&wanted, &crowd->tree, member_compare);
    if (found != NULL)
        return *(struct member **)found;
    struct member *member = malloc(sizeof *member);
    if (member == NULL)
        return NULL;
    *member = wanted;
    if (tsearch(member, &crowd->tree, member_compare) != NULL)
        return member;
    free(member);
    return NULL;
}

static void member_drop(struct crowd *crowd, struct member *member)
{
    tdelete(member, &crowd->tree, member_compare);
    free(member);
}

bool crowd_enter(struct crowd *crowd, const struct address *address, unsigned most)
{
    struct member *member = member_find(crowd, address);
    if (member == NULL)
        return false;
    bool enters = member->count < most;
    member->count += enters ? 1 : 0;
    if (member->count == 0)
        member_drop(crowd, member);
    return enters;
}

void crowd_leave(struct crowd *crowd, const struct address *address)
{
    struct member wanted = member_of(address);
    void *found = tfind(&wanted, &crowd->tree, member_compare);
    assert(found != NULL);
    struct member *member = *(struct member **)found;
    if (--member->count == 0)
        member_drop(crowd, member);
}
