#include "net/forwarded.h"
#include <string.h>
#include <strings.h>

static const char token_signs[] = "!#$%&'*+-.^_`|~0123456789" /* RFC 9110 5.6.2 */
                                  "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ";
static const char blanks[] = " \t";

/* A new hop in front, as the nearest so far. */
static struct hop *hop_add(struct hops *hops)
{
    if (hops->count < HOPS_MAX)
        hops->count++;
    memmove(hops->hops + 1, hops->hops, (hops->count - 1) * sizeof *hops->hops);
    hops->hops[0] = (struct hop){.named = false};
    return &hops->hops[0];
}

/* What doesn't fit is left out, as if it weren't said. */
static void copy(char *to, size_t room, const char *text, size_t size)
{
    if (size >= room)
        return;
    memcpy(to, text, size);
    to[size] = '\0';
}

/* --- Forwarded -------------------------------------------------------------------------------- */

struct value {
    char text[HOP_HOST_SIZE]; /* longer ones are cut: no such address or host is ours */
    size_t size;
};

static void value_add(struct value *value, char sign)
{
    if (value->size < sizeof value->text - 1)
        value->text[value->size++] = sign;
}

/* A quoted-string (RFC 9110 5.6.4), from its first sign. NULL: it has no end. */
static const char *quoted_read(const char *at, struct value *value)
{
    for (at++; *at != '"'; at++) {
        if (*at == '\\')
            at++;
        if (*at == '\0')
            return NULL;
        value_add(value, *at);
    }
    return at + 1;
}

static const char *value_read(const char *at, struct value *value)
{
    *value = (struct value){.size = 0};
    if (*at == '"')
        return quoted_read(at, value);
    size_t size = strspn(at, token_signs);
    for (size_t i = 0; i < size; i++)
        value_add(value, at[i]);
    return size == 0 ? NULL : at + size;
}

enum { PAIR_FOR = 1, PAIR_PROTO = 2, PAIR_HOST = 4, PAIR_BY = 8 };

static unsigned pair_kind(const char *name, size_t size)
{
    static const struct {
        const char *name;
        unsigned kind;
    } kinds[] = {{"for", PAIR_FOR}, {"proto", PAIR_PROTO}, {"host", PAIR_HOST}, {"by", PAIR_BY}};
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++)
        if (strlen(kinds[i].name) == size && strncasecmp(kinds[i].name, name, size) == 0)
            return kinds[i].kind;
    return 0; /* 5.5: others may come */
}

static void pair_take(struct hop *hop, unsigned kind, const struct value *value)
{
    if (kind == PAIR_FOR)
        hop->named = address_read_node(&hop->address, value->text, value->size);
    else if (kind == PAIR_PROTO)
        copy(hop->scheme, sizeof hop->scheme, value->text, value->size);
    else if (kind == PAIR_HOST)
        copy(hop->host, sizeof hop->host, value->text, value->size);
}

/* "name=value", each at most once in an element (RFC 7239 4). NULL: it isn't so. */
static const char *pair_read(const char *at, struct hop *hop, unsigned *seen)
{
    struct value value;
    size_t size = strspn(at, token_signs);
    if (size == 0 || at[size] != '=')
        return NULL;
    unsigned kind = pair_kind(at, size);
    if ((*seen & kind) != 0)
        return NULL;
    *seen |= kind;
    at = value_read(at + size + 1, &value);
    if (at != NULL)
        pair_take(hop, kind, &value);
    return at;
}

/* Up to the "," or the end. Pairs may be left out between two ";". */
static const char *element_read(const char *at, struct hop *hop)
{
    unsigned seen = 0;
    for (;;) {
        at += strspn(at, blanks);
        if (*at != ';' && *at != ',' && *at != '\0' && (at = pair_read(at, hop, &seen)) == NULL)
            return NULL;
        at += strspn(at, blanks);
        if (*at == ',' || *at == '\0')
            return at;
        if (*at++ != ';')
            return NULL;
    }
}

bool forwarded_read(struct hops *hops, const char *header)
{
    hops->count = 0;
    for (const char *at = header;; at++) {
        at += strspn(at, blanks);
        if (*at != ',' && *at != '\0') /* RFC 9110 5.6.1.2: empty members count for nothing */
            at = element_read(at, hop_add(hops));
        if (at == NULL || *at == '\0')
            return at != NULL;
    }
}

/* --- X-Forwarded-… ---------------------------------------------------------------------------- */

/* The member of a comma-separated list that stands `place`-th from its right end, without blanks
 * around; the leftmost if there are fewer. */
static const char *member_from_right(const char *list, size_t place, size_t *size)
{
    const char *end = list + strlen(list), *begin = end;
    for (;;) {
        while (begin > list && begin[-1] != ',')
            begin--;
        if (place-- == 0 || begin == list)
            break;
        end = --begin;
    }
    begin += strspn(begin, blanks);
    while (end > begin && strchr(blanks, end[-1]) != NULL)
        end--;
    *size = end > begin ? (size_t)(end - begin) : 0;
    return begin;
}

static size_t member_count(const char *list)
{
    size_t count = *list != '\0';
    for (; *list != '\0'; list++)
        count += *list == ',';
    return count;
}

void x_forwarded_read(struct hops *hops, const char *addresses, const char *schemes,
                      const char *hosts)
{
    size_t size, count = addresses == NULL ? 0 : member_count(addresses);
    hops->count = count < HOPS_MAX ? count : HOPS_MAX;
    if (hops->count == 0 && (schemes != NULL || hosts != NULL))
        hops->count = 1;
    for (size_t i = 0; i < hops->count; i++) {
        struct hop *hop = &hops->hops[i];
        *hop = (struct hop){.named = false};
        if (count > 0) {
            const char *member = member_from_right(addresses, i, &size);
            hop->named = address_read_node(&hop->address, member, size);
        }
        if (schemes != NULL) {
            const char *member = member_from_right(schemes, i, &size);
            copy(hop->scheme, sizeof hop->scheme, member, size);
        }
        if (hosts != NULL) {
            const char *member = member_from_right(hosts, i, &size);
            copy(hop->host, sizeof hop->host, member, size);
        }
    }
}

/* --- whose it was ----------------------------------------------------------------------------- */

bool is_trusted(const struct trust *trust, const struct address *address)
{
    for (size_t i = 0; i < trust->count; i++)
        if (address_range_has(&trust->ranges[i], address))
            return true;
    return false;
}

const struct hop *hops_follow(const struct hops *hops, const struct trust *trust,
                              struct address *address)
{
    const struct hop *believed = NULL;
    for (size_t i = 0; i < hops->count && is_trusted(trust, address); i++) {
        believed = &hops->hops[i];
        if (!believed->named)
            break;
        *address = believed->address;
    }
    return believed;
}
