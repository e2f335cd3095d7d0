/* The keys on disk, in a real file in a folder of its own. */
#include "access/keys_file.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include "support.h"

static char folder[] = "/tmp/boutwire-keys-XXXXXX";
static char path[KEYS_PATH_SIZE];
static char reason[KEYS_REASON_SIZE];

enum { NOW_MS = 1000000 };

static void make_folder(void)
{
    cr_assert(mkdtemp(folder) != NULL);
    char store[sizeof folder + 20];
    snprintf(store, sizeof store, "%s/day.sqlite", folder);
    cr_assert(keys_file_path(path, store));
}

static void remove_folder(void)
{
    unlink(path);
    rmdir(folder);
}

TestSuite(keys_file, .init = make_folder, .fini = remove_folder);

static struct new_key add(const char *name, enum role role, const char *mat, int64_t until_ms)
{
    struct key_wish wish = {
        .name = name, .role = role, .mat = mat, .now_ms = NOW_MS, .until_ms = until_ms};
    struct new_key made;
    cr_assert(keys_file_add(path, &wish, &made, reason), "%s", reason);
    return made;
}

static struct key_ring ring_read(void)
{
    struct key_ring ring;
    cr_assert(keys_file_read(&ring, path, reason), "%s", reason);
    return ring;
}

static const struct key *key_of(const struct key_ring *ring, const char *text)
{
    unsigned char hash[KEY_HASH_SIZE];
    key_hash(text, strlen(text), hash);
    return key_ring_find(ring, hash);
}

static void append_text(const char *text)
{
    FILE *file = fopen(path, "a");
    cr_assert(file != NULL && fputs(text, file) >= 0 && fclose(file) == 0);
}

/* FIPS 180-4, the example of one block ("abc"). */
Test(keys_file, a_hash_is_sha_256)
{
    static const unsigned char want[KEY_HASH_SIZE] = {
        0xba, 0x78, 0x16, 0xbf, 0x8f, 0x01, 0xcf, 0xea, 0x41, 0x41, 0x40,
        0xde, 0x5d, 0xae, 0x22, 0x23, 0xb0, 0x03, 0x61, 0xa3, 0x96, 0x17,
        0x7a, 0x9c, 0xb4, 0x10, 0xff, 0x61, 0xf2, 0x00, 0x15, 0xad};
    unsigned char hash[KEY_HASH_SIZE];
    key_hash("abc", 3, hash);
    cr_expect(memcmp(hash, want, sizeof want) == 0);
}

Test(keys_file, no_file_is_no_keys)
{
    struct key_ring ring = ring_read();
    cr_expect(eq(sz, ring.count, 0));
    key_ring_close(&ring);
}

Test(keys_file, a_key_is_known_by_its_hash_alone)
{
    struct new_key made = add("ann", ROLE_TABLE, "A", NOW_MS + KEY_DAY_MS);
    size_t size;
    char *text = file_text(path, &size);
    cr_expect(strstr(text, made.text) == NULL, "the key itself is nowhere");
    free(text);
    struct stat about;
    cr_assert(stat(path, &about) == 0);
    cr_expect(eq(u32, about.st_mode & 0777, 0600), "and its hash nobody else's");
    struct key_ring ring = ring_read();
    const struct key *key = key_of(&ring, made.text);
    cr_assert(key != NULL);
    expect_text("name", key->name, "ann");
    expect_text("mat", key->mat, "A");
    cr_expect(eq(int, key->role, ROLE_TABLE));
    cr_expect(eq(i64, key->made_ms, NOW_MS));
    cr_expect(eq(i64, key->until_ms, NOW_MS + KEY_DAY_MS));
    cr_expect(eq(i64, key->ended_ms, INT64_MAX));
    cr_expect(key_of(&ring, "") == NULL);
    key_ring_close(&ring);
}

Test(keys_file, keys_differ_and_are_words)
{
    char seen[50][KEY_TEXT_LENGTH + 1];
    for (size_t i = 0; i < 50; i++) {
        struct new_key made = add(NULL, ROLE_FOLLOW, NULL, INT64_MAX);
        cr_expect(eq(sz, strlen(made.text), KEY_TEXT_LENGTH));
        cr_expect(eq(sz, strspn(made.text, "0123456789abcdefghjkmnpqrstvwxyz"), KEY_TEXT_LENGTH));
        for (size_t j = 0; j < i; j++)
            cr_expect(strcmp(seen[j], made.text) != 0);
        strcpy(seen[i], made.text);
    }
    struct key_ring ring = ring_read();
    cr_expect(eq(sz, ring.count, 50));
    for (size_t i = 0; i < 50; i++)
        cr_expect(key_of(&ring, seen[i]) == &ring.keys[i]);
    key_ring_close(&ring);
}

Test(keys_file, names_that_are_made)
{
    static const struct {
        enum role role;
        const char *mat, *name;
    } rows[] = {
        {ROLE_BOOTH, NULL, "booth"},     {ROLE_BOOTH, NULL, "booth-2"},
        {ROLE_TABLE, "A", "table-A"},    {ROLE_TABLE, "A", "table-A-2"},
        {ROLE_TABLE, "B", "table-B"},    {ROLE_TABLE, "mat 1", "table"},
        {ROLE_GALLERY, NULL, "gallery"}, {ROLE_BOOTH, NULL, "booth-3"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct new_key made = add(NULL, rows[i].role, rows[i].mat, INT64_MAX);
        expect_text("name", made.name, rows[i].name);
    }
}

Test(keys_file, one_name_has_one_key_that_opens)
{
    struct key_wish wish = {
        .name = "ann", .role = ROLE_BOOTH, .now_ms = NOW_MS, .until_ms = INT64_MAX};
    struct new_key first = add("ann", ROLE_TABLE, NULL, INT64_MAX), made;
    cr_expect(not(keys_file_add(path, &wish, &made, reason)));
    cr_expect(strstr(reason, "ann has a key already") != NULL, "%s", reason);
    cr_assert(keys_file_end(path, "ann", NOW_MS + 5, reason), "%s", reason);
    cr_expect(not(keys_file_end(path, "ann", NOW_MS + 6, reason)), "it has ended");
    wish.now_ms = NOW_MS + 6;
    cr_assert(keys_file_add(path, &wish, &made, reason), "%s", reason);
    struct key_ring ring = ring_read();
    const struct key *old = key_of(&ring, first.text), *new = key_of(&ring, made.text);
    cr_expect(eq(i64, old->ended_ms, NOW_MS + 5));
    cr_expect(eq(i64, new->ended_ms, INT64_MAX), "the later one is another key");
    cr_expect(key_ring_named(&ring, "ann", NOW_MS + 7) == new);
    key_ring_close(&ring);
}

Test(keys_file, nobody_of_that_name)
{
    cr_expect(not(keys_file_end(path, "eve", NOW_MS, reason)));
    cr_expect(strstr(reason, "no key has been made") != NULL, "%s", reason);
    cr_expect(access(path, F_OK) != 0, "and no file is made for that");
    add("ann", ROLE_TABLE, NULL, INT64_MAX);
    cr_expect(not(keys_file_end(path, "eve", NOW_MS, reason)));
    cr_expect(strstr(reason, "eve") != NULL, "%s", reason);
}

/* A writer that died in the middle of a line wrote none. */
Test(keys_file, a_line_without_its_end_was_never_written)
{
    struct new_key made = add("ann", ROLE_TABLE, NULL, INT64_MAX);
    append_text("{\"ended\":\"ann\",\"at\":\"2027-05-08T10:00");
    struct key_ring ring = ring_read();
    cr_expect(eq(i64, key_of(&ring, made.text)->ended_ms, INT64_MAX));
    key_ring_close(&ring);
    struct new_key next = add("bob", ROLE_BOOTH, NULL, INT64_MAX);
    ring = ring_read();
    cr_expect(eq(sz, ring.count, 2));
    cr_expect(key_of(&ring, next.text) != NULL && key_of(&ring, made.text) != NULL);
    key_ring_close(&ring);
}

#define GOOD                                                                                       \
    "{\"key\":\"ann\",\"role\":\"table\",\"made_at\":\"2027-05-08T10:00:00.000Z\",\"hash\":"
#define HASH "\"00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff\""
static const struct {
    char name[40], text[400], want[60];
} bad[] = {
    {"no JSON", "table ann\n", "line 1: it is no JSON"},
    {"no object", "[]\n", "line 1: `key` is no name of a key"},
    {"a hash too short", GOOD "\"00\"}\n", "line 1: `hash` is no hash"},
    {"a hash in capitals",
     GOOD "\"00112233445566778899AABBCCDDEEFF00112233445566778899aabbccddeeff\"}\n",
     "line 1: `hash` is no hash"},
    {"a hash twice", GOOD HASH "}\n" GOOD HASH "}\n", "line 2: `hash` is no hash"},
    {"a role that no key has",
     "{\"key\":\"a\",\"role\":\"anyone\",\"made_at\":\"2027-05-08T10:00:00.000Z\",\"hash\":" HASH
     "}\n",
     "line 1: `role` is none of"},
    {"no time", "{\"key\":\"a\",\"role\":\"booth\",\"made_at\":\"noon\",\"hash\":" HASH "}\n",
     "line 1: `made_at` is no time"},
    {"an end that is no time", GOOD HASH ",\"until\":\"noon\"}\n", "line 1: `until` is no time"},
    {"an end without its time", GOOD HASH "}\n{\"ended\":\"ann\"}\n", "line 2: `ended` names"},
};

Test(keys_file, what_is_no_list_of_keys)
{
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct key_ring ring;
        bool good = key_ring_read(&ring, bad[i].text, strlen(bad[i].text), reason);
        cr_expect(not(good), "%s", bad[i].name);
        cr_expect(strncmp(reason, bad[i].want, strlen(bad[i].want)) == 0, "%s: %s", bad[i].name,
                  reason);
        key_ring_close(&ring);
    }
    append_text("table ann\n");
    struct key_ring ring;
    cr_expect(not(keys_file_read(&ring, path, reason)));
    cr_expect(strstr(reason, path) != NULL && strstr(reason, "line 1") != NULL, "%s", reason);
    key_ring_close(&ring);
}
