/* Who may do what: the table of roles and actions, topics and their audiences, and keys. */
#include "access/access.h"
#include "access/key_ring.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <string.h>
#include "support.h"

/* ---- roles and actions ---- */

/* One letter an action, in the order of the enum: y everywhere, m on the key's mat, - never.
 * Written out here once more, by docs/access.md, so that a slip in either table is found. */
static const struct {
    enum role role;
    char leaves[ACTION_COUNT + 1];
} roles[] = {
    {ROLE_PUBLIC, "y------------"}, {ROLE_FOLLOW, "y------------"},  {ROLE_BOOTH, "ym-my--m---m-"},
    {ROLE_TABLE, "ymmmy-mmm--m-"},  {ROLE_GALLERY, "yyyyyy-yyyy-y"}, {ROLE_ANYONE, "yyyyyyyyyyyyy"},
};

static void check_role(enum role role, const char *leaves)
{
    const struct grant all = {role, NULL}, own = {role, "A"};
    for (unsigned i = 0; i < ACTION_COUNT; i++) {
        enum action action = (enum action)i;
        bool some = leaves[i] != '-', bound = leaves[i] == 'm';
        const char *words = action_words(action);
        cr_expect(eq(int, role_allows(role, action), some), "%s %s", role_name(role), words);
        cr_expect(eq(int, grant_allows(&all, action, "A"), some), "%s %s", role_name(role), words);
        cr_expect(eq(int, grant_allows(&all, action, NULL), some), "%s %s", role_name(role), words);
        cr_expect(eq(int, grant_allows(&own, action, "A"), some), "%s %s", role_name(role), words);
        cr_expect(eq(int, grant_allows(&own, action, "B"), some && !bound), "%s %s",
                  role_name(role), words);
        cr_expect(eq(int, grant_allows(&own, action, NULL), some && !bound), "%s %s",
                  role_name(role), words);
    }
}

Test(access, every_role_and_action)
{
    cr_assert(eq(sz, sizeof roles / sizeof *roles, ROLE_COUNT));
    for (size_t i = 0; i < ROLE_COUNT; i++)
        check_role(roles[i].role, roles[i].leaves);
}

Test(access, roles_of_keys)
{
    enum role role = ROLE_PUBLIC;
    for (unsigned i = ROLE_FOLLOW; i <= ROLE_GALLERY; i++) {
        cr_assert(role_read(role_name((enum role)i), &role));
        cr_expect(eq(int, role, (int)i));
        cr_expect(eq(int, role_takes_mat(role), role == ROLE_TABLE || role == ROLE_BOOTH));
    }
    cr_expect(not(role_read("public", &role)), "nobody needs a key for it");
    cr_expect(not(role_read("anyone", &role)), "no key opens everything");
    cr_expect(not(role_read("", &role)));
    cr_expect(not(role_read("Table", &role)));
}

/* ---- topics ---- */

static const struct {
    char topic[40];
    bool there;
    enum action action;
    char mat[20];
} topics[] = {
    {"mat/A/table", true, ACTION_READ_TABLE, "A"},
    {"mat/A/booth", true, ACTION_READ_BOOTH, "A"},
    {"mat/A/follow", true, ACTION_READ_PUBLIC, "A"},
    {"mat/hall 1/A/booth", true, ACTION_READ_BOOTH, "hall 1/A"},
    {"mat/follow/table", true, ACTION_READ_TABLE, "follow"},
    {"mat/A/follow/booth", true, ACTION_READ_BOOTH, "A/follow"},
    {"out/main", true, ACTION_READ_PUBLIC, ""},
    {"out/second", true, ACTION_READ_PUBLIC, ""},
    {"day/follow", true, ACTION_READ_PUBLIC, ""},
    {"day/booth", true, ACTION_READ_DAY, ""},
    {"gallery", true, ACTION_READ_GALLERY, ""},
    {"", false, 0, ""},
    {"mat/", false, 0, ""},
    {"mat//table", false, 0, ""},
    {"mat/table", false, 0, ""},
    {"mat/A", false, 0, ""},
    {"mat/A/gallery", false, 0, ""},
    {"mat/A/table/", false, 0, ""},
    {"Mat/A/table", false, 0, ""},
    {"out/", false, 0, ""},
    {"day", false, 0, ""},
    {"day/table", false, 0, ""},
    {"gallery/", false, 0, ""},
};

Test(access, whose_a_topic_is)
{
    for (size_t i = 0; i < sizeof topics / sizeof *topics; i++) {
        struct audience audience;
        bool there = audience_of(topics[i].topic, &audience);
        cr_expect(eq(int, there, topics[i].there), "%s", topics[i].topic);
        if (!there || !topics[i].there)
            continue;
        cr_expect(eq(int, audience.action, topics[i].action), "%s", topics[i].topic);
        cr_expect(eq(str, audience.mat, (char *)topics[i].mat), "%s", topics[i].topic);
    }
}

Test(access, a_mat_too_long_for_a_topic_has_none)
{
    char topic[AUDIENCE_MAT_SIZE + 20] = "mat/";
    struct audience audience;
    memset(topic + 4, 'x', AUDIENCE_MAT_SIZE - 1);
    strcpy(topic + 4 + AUDIENCE_MAT_SIZE - 1, "/table");
    cr_expect(audience_of(topic, &audience));
    cr_expect(eq(sz, strlen(audience.mat), AUDIENCE_MAT_SIZE - 1));
    memset(topic + 4, 'x', AUDIENCE_MAT_SIZE);
    strcpy(topic + 4 + AUDIENCE_MAT_SIZE, "/table");
    cr_expect(not(audience_of(topic, &audience)));
}

/* ---- keys ---- */

enum { KEYS = 5 };

static struct key keys[KEYS] = {
    {.name = "ann", .role = ROLE_TABLE, .made_ms = 100, .until_ms = 200, .ended_ms = INT64_MAX},
    {.name = "ann", .role = ROLE_BOOTH, .made_ms = 300, .until_ms = 400, .ended_ms = INT64_MAX},
    {.name = "bob", .role = ROLE_BOOTH, .made_ms = 0, .until_ms = INT64_MAX, .ended_ms = 50},
    {.name = "cat", .role = ROLE_GALLERY, .until_ms = INT64_MAX, .ended_ms = INT64_MAX},
    {.name = "dee", .role = ROLE_FOLLOW, .until_ms = 1000, .ended_ms = 999},
};

static struct key_ring ring_of_hashes(void)
{
    for (unsigned i = 0; i < KEYS; i++)
        for (unsigned byte = 0; byte < KEY_HASH_SIZE; byte++)
            keys[i].hash[byte] = (unsigned char)(i * 37 + byte);
    return (struct key_ring){.keys = keys, .count = KEYS, .capacity = KEYS};
}

Test(access, a_key_is_found_by_its_hash_alone)
{
    struct key_ring ring = ring_of_hashes();
    for (size_t i = 0; i < KEYS; i++)
        cr_expect(eq(ptr, (void *)(uintptr_t)key_ring_find(&ring, keys[i].hash), &keys[i]));
}

Test(access, a_hash_with_one_bit_wrong_is_no_key)
{
    struct key_ring ring = ring_of_hashes();
    for (size_t i = 0; i < KEYS; i++)
        for (unsigned bit = 0; bit < KEY_HASH_SIZE * 8; bit++) {
            unsigned char hash[KEY_HASH_SIZE];
            memcpy(hash, keys[i].hash, sizeof hash);
            hash[bit / 8] ^= (unsigned char)(1u << bit % 8);
            cr_expect(key_ring_find(&ring, hash) == NULL, "key %zu, bit %u", i, bit);
        }
    struct key_ring none = {.count = 0};
    cr_expect(key_ring_find(&none, keys[0].hash) == NULL);
}

static const struct {
    size_t key;
    int64_t now_ms;
    bool opens;
} moments[] = {
    {0, 199, true}, {0, 200, false},          /* `until` is when it no longer opens */
    {2, 0, false},  {2, 50, false},           /* revoked: at once, whatever the clocks say */
    {3, 0, true},   {3, INT64_MAX - 1, true}, /* for good */
    {4, 0, false},
};

Test(access, a_key_opens_until_it_ends)
{
    for (size_t i = 0; i < sizeof moments / sizeof *moments; i++)
        cr_expect(eq(int, key_opens(&keys[moments[i].key], moments[i].now_ms), moments[i].opens),
                  "%s at %lld", keys[moments[i].key].name, (long long)moments[i].now_ms);
}

Test(access, a_name_is_of_the_key_that_opens)
{
    struct key_ring ring = ring_of_hashes();
    cr_expect(key_ring_named(&ring, "ann", 150) == &keys[0]);
    cr_expect(key_ring_named(&ring, "ann", 350) == &keys[1]);
    cr_expect(key_ring_named(&ring, "ann", 450) == NULL);
    cr_expect(key_ring_named(&ring, "bob", 50) == NULL);
    cr_expect(key_ring_named(&ring, "eve", 0) == NULL);
}

Test(access, names_of_keys)
{
    static const char *const good[] = {"a", "Ann", "table-A", "booth.2_b~", "0"};
    static const char *const bad[] = {"",
                                      "Ann B",
                                      "ann/b",
                                      "\xc3\x84nn",
                                      "a\nb",
                                      "a#b",
                                      "0123456789012345678901234567890123456789x"};
    for (size_t i = 0; i < sizeof good / sizeof *good; i++)
        cr_expect(key_name_is_good(good[i]), "%s", good[i]);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        cr_expect(not(key_name_is_good(bad[i])), "%s", bad[i]);
}

/* ---- addresses ---- */

static const struct {
    char host[30];
    bool this_machine;
} hosts[] = {
    {"127.0.0.1", true},
    {"127.8.9.10", true},
    {"localhost", true},
    {"::1", true},
    {"0.0.0.0", false},
    {"::", false},
    {"192.168.1.7", false},
    {"", false},
    {"127.evil.example", false},
    {"localhost.example", false},
    {"10.127.0.1", false},
    {"::ffff:127.0.0.1", false}, /* it listens on both kinds of addresses: too clever to trust */
};

Test(access, addresses_of_this_machine)
{
    for (size_t i = 0; i < sizeof hosts / sizeof *hosts; i++)
        cr_expect(eq(int, host_is_this_machine(hosts[i].host), hosts[i].this_machine), "%s",
                  hosts[i].host);
}

static const struct {
    char host[16];
    bool keys, tls, by_name;
    const char *why; /* NULL: it may listen */
} listenings[] = {
    {"127.0.0.1", false, false, false, NULL}, {"::1", true, true, true, NULL},
    {"0.0.0.0", false, false, false, "key"},  {"0.0.0.0", false, true, true, "key"},
    {"0.0.0.0", true, false, false, "TLS"},   {"0.0.0.0", true, true, false, NULL},
    {"0.0.0.0", true, false, true, NULL},     {"192.0.2.1", true, false, false, "TLS"},
};

Test(access, where_it_may_listen)
{
    for (size_t i = 0; i < sizeof listenings / sizeof *listenings; i++) {
        const char *why = listening_refusal(listenings[i].host, listenings[i].keys,
                                            listenings[i].tls, listenings[i].by_name);
        cr_expect(eq(int, why == NULL, listenings[i].why == NULL), "row %zu", i);
        cr_expect(why == NULL || listenings[i].why == NULL || strstr(why, listenings[i].why),
                  "row %zu: %s", i, why);
    }
}
