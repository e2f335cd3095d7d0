#include "access/keys_file.h"
#include <errno.h>
#include <fcntl.h>
#include <openssl/evp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/random.h>
#include <sys/stat.h>
#include <unistd.h>
#include "rules/time_of_day.h"
#include "wire/json.h"
#include "wire/state_json.h"

enum { KEYS_BYTES_MAX = 4 << 20 };

static bool fail(char reason[KEYS_REASON_SIZE], const char *words, ...)
    __attribute__((format(printf, 2, 3)));
static bool fail(char reason[KEYS_REASON_SIZE], const char *words, ...)
{
    va_list arguments;
    va_start(arguments, words);
    vsnprintf(reason, KEYS_REASON_SIZE, words, arguments);
    va_end(arguments);
    return false;
}

bool keys_file_path(char path[KEYS_PATH_SIZE], const char *store)
{
    return snprintf(path, KEYS_PATH_SIZE, "%s.keys", store) < KEYS_PATH_SIZE;
}

void key_hash(const char *text, size_t size, unsigned char hash[KEY_HASH_SIZE])
{
    unsigned length = 0;
    /* It can fail for want of memory; a hash of zeros is no key's. */
    if (EVP_Digest(text, size, hash, &length, EVP_sha256(), NULL) != 1)
        memset(hash, 0, KEY_HASH_SIZE);
}

/* ---- lines into keys ---- */

static const char *text_of(const struct value *line, const char *member)
{
    const struct value *value = value_member(line, member);
    return value != NULL && value->kind == VALUE_STRING ? value->as.string : NULL;
}

static bool time_of(const struct value *line, const char *member, int64_t *ms)
{
    const char *text = text_of(line, member);
    return text != NULL && time_of_day_read(text, ms);
}

static bool hash_of(const struct value *line, unsigned char hash[KEY_HASH_SIZE])
{
    const char *text = text_of(line, "hash");
    if (text == NULL || strspn(text, "0123456789abcdef") != KEY_HASH_SIZE * 2 ||
        text[KEY_HASH_SIZE * 2] != '\0')
        return false;
    for (size_t i = 0; i < KEY_HASH_SIZE; i++) {
        char two[3] = {text[i * 2], text[i * 2 + 1], '\0'};
        hash[i] = (unsigned char)strtoul(two, NULL, 16);
    }
    return true;
}

static bool ring_add(struct key_ring *ring, const struct key *key)
{
    if (ring->count == ring->capacity) {
        size_t capacity = ring->capacity == 0 ? 16 : ring->capacity * 2;
        struct key *keys = realloc(ring->keys, capacity * sizeof *keys);
        if (keys == NULL)
            return false;
        ring->keys = keys;
        ring->capacity = capacity;
    }
    ring->keys[ring->count++] = *key;
    return true;
}

/* One that was made. "" when it is good; else what is wrong. */
static const char *take_key(struct key_ring *ring, const struct value *line)
{
    const char *name = text_of(line, "key"), *role = text_of(line, "role");
    const char *mat = text_of(line, "mat");
    struct key key = {.until_ms = INT64_MAX, .ended_ms = INT64_MAX};
    if (name == NULL || !key_name_is_good(name))
        return "`key` is no name of a key";
    if (role == NULL || !role_read(role, &key.role))
        return "`role` is none of follow, booth, table, gallery";
    if (!hash_of(line, key.hash) || key_ring_find(ring, key.hash) != NULL)
        return "`hash` is no hash of 64 hexadecimal digits, or is there twice";
    if (!time_of(line, "made_at", &key.made_ms))
        return "`made_at` is no time";
    if (value_member(line, "until") != NULL && !time_of(line, "until", &key.until_ms))
        return "`until` is no time";
    key.name = strdup(name);
    key.mat = mat != NULL ? strdup(mat) : NULL;
    if (key.name != NULL && (mat == NULL || key.mat != NULL) && ring_add(ring, &key))
        return "";
    free(key.name);
    free(key.mat);
    return "no memory";
}

static const char *take_end(struct key_ring *ring, const struct value *line)
{
    const char *name = text_of(line, "ended");
    int64_t at_ms = 0;
    if (name == NULL || !time_of(line, "at", &at_ms))
        return "`ended` names no key, or `at` is no time";
    for (size_t i = 0; i < ring->count; i++)
        if (strcmp(ring->keys[i].name, name) == 0 && at_ms < ring->keys[i].ended_ms)
            ring->keys[i].ended_ms = at_ms;
    return "";
}

static const char *take_line(struct key_ring *ring, struct arena *arena, const char *text,
                             size_t size)
{
    struct complaint complaint = {.why = ACCEPTED};
    arena_reset(arena);
    const struct value *line = json_read(arena, text, size, &complaint);
    if (line == NULL)
        return complaint.why == ACCEPTED ? "no memory" : "it is no JSON";
    return value_member(line, "ended") != NULL ? take_end(ring, line) : take_key(ring, line);
}

/* Up to the last line that has its end. */
static size_t whole_size(const char *text, size_t size)
{
    while (size > 0 && text[size - 1] != '\n')
        size--;
    return size;
}

bool key_ring_read(struct key_ring *ring, const char *text, size_t size,
                   char reason[KEYS_REASON_SIZE])
{
    struct arena arena;
    size_t number = 0;
    const char *wrong = "";
    *ring = (struct key_ring){.count = 0};
    arena_init(&arena, malloc, free);
    size = whole_size(text, size);
    for (size_t from = 0; from < size && wrong[0] == '\0'; number++) {
        size_t length =
            (size_t)((const char *)memchr(text + from, '\n', size - from) - text) - from;
        if (length > 0)
            wrong = take_line(ring, &arena, text + from, length);
        from += length + 1;
    }
    arena_close(&arena);
    return wrong[0] == '\0' || fail(reason, "line %zu: %s", number, wrong);
}

void key_ring_close(struct key_ring *ring)
{
    for (size_t i = 0; i < ring->count; i++) {
        free(ring->keys[i].name);
        free(ring->keys[i].mat);
    }
    free(ring->keys);
    *ring = (struct key_ring){.count = 0};
}

/* ---- the file ---- */

/* The whole file, malloc'd. NULL: said in `reason`. */
static char *read_whole(int file, const char *path, size_t *size, char reason[KEYS_REASON_SIZE])
{
    struct stat about;
    if (fstat(file, &about) != 0 || about.st_size > KEYS_BYTES_MAX) {
        fail(reason, "%.100s: %s", path, "it can't be read, or is too large");
        return NULL;
    }
    char *text = malloc((size_t)about.st_size + 1);
    ssize_t got = 0;
    *size = 0;
    while (text != NULL && *size < (size_t)about.st_size &&
           (got = pread(file, text + *size, (size_t)about.st_size - *size, (off_t)*size)) > 0)
        *size += (size_t)got;
    if (text == NULL || got < 0) {
        fail(reason, "%.100s: %s", path, text == NULL ? "no memory" : strerror(errno));
        free(text);
        return NULL;
    }
    return text;
}

static bool read_ring(struct key_ring *ring, int file, const char *path,
                      char reason[KEYS_REASON_SIZE], size_t *whole)
{
    char wrong[KEYS_REASON_SIZE];
    size_t size = 0;
    char *text = read_whole(file, path, &size, reason);
    if (text == NULL)
        return false;
    bool good =
        key_ring_read(ring, text, size, wrong) || fail(reason, "%.100s: %.150s", path, wrong);
    *whole = whole_size(text, size);
    free(text);
    return good;
}

bool keys_file_read(struct key_ring *ring, const char *path, char reason[KEYS_REASON_SIZE])
{
    size_t whole;
    *ring = (struct key_ring){.count = 0};
    int file = open(path, O_RDONLY | O_CLOEXEC);
    if (file < 0)
        return errno == ENOENT || fail(reason, "%.100s: %s", path, strerror(errno));
    bool good = read_ring(ring, file, path, reason, &whole);
    close(file);
    return good;
}

/* A new file is there for good only when its folder says so. */
static bool sync_folder(const char *path)
{
    char folder[KEYS_PATH_SIZE];
    snprintf(folder, sizeof folder, "%s", path);
    char *slash = strrchr(folder, '/');
    if (slash != NULL)
        slash[slash == folder ? 1 : 0] = '\0';
    int opened = open(slash != NULL ? folder : ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    bool done = opened >= 0 && fsync(opened) == 0;
    if (opened >= 0)
        close(opened);
    return done;
}

/* Takes `line`. What an earlier writer left unfinished is cut off. */
static bool append(int file, const char *path, size_t whole, json_t *line,
                   char reason[KEYS_REASON_SIZE])
{
    char *text = line != NULL ? json_line(line) : NULL;
    json_decref(line);
    if (text == NULL)
        return fail(reason, "no memory");
    size_t size = strlen(text);
    text[size] = '\n'; /* in place of its end: it is written by its size */
    bool done = ftruncate(file, (off_t)whole) == 0 &&
                pwrite(file, text, size + 1, (off_t)whole) == (ssize_t)size + 1 &&
                fsync(file) == 0 && sync_folder(path);
    free(text);
    return done || fail(reason, "%.100s: %s", path, strerror(errno));
}

/* Whoever writes reads first, and holds the lock for both. */
struct writing {
    int file;
    size_t whole;
    struct key_ring ring;
};

static bool writing_begin(struct writing *writing, const char *path, int flags,
                          char reason[KEYS_REASON_SIZE])
{
    *writing = (struct writing){.file = open(path, O_RDWR | O_CLOEXEC | flags, 0600)};
    if (writing->file < 0 && errno == ENOENT && flags == 0)
        return fail(reason, "no key has been made for this store");
    if (writing->file < 0 || flock(writing->file, LOCK_EX) != 0)
        return fail(reason, "%.100s: %s", path, strerror(errno));
    return read_ring(&writing->ring, writing->file, path, reason, &writing->whole);
}

static void writing_end(struct writing *writing)
{
    key_ring_close(&writing->ring);
    if (writing->file >= 0)
        close(writing->file); /* and with it the lock */
}

/* ---- a new key ---- */

bool key_make(char text[KEY_TEXT_LENGTH + 1])
{
    static const char signs[] = "0123456789abcdefghjkmnpqrstvwxyz";
    unsigned char random[KEY_TEXT_LENGTH];
    if (getrandom(random, sizeof random, 0) != (ssize_t)sizeof random)
        return false;
    for (size_t i = 0; i < KEY_TEXT_LENGTH; i++)
        text[i] = signs[random[i] & 31];
    text[KEY_TEXT_LENGTH] = '\0';
    return true;
}

/* "table-A", "booth"; then "booth-2". A mat's name that is no word is left out. */
static void make_name(const struct writing *writing, const struct key_wish *wish,
                      char name[KEY_NAME_LENGTH_MAX + 1])
{
    char first[KEY_NAME_LENGTH_MAX + 1];
    bool by_mat = wish->mat != NULL && key_name_is_good(wish->mat) && strlen(wish->mat) <= 20;
    snprintf(first, sizeof first, "%s%s%.20s", role_name(wish->role), by_mat ? "-" : "",
             by_mat ? wish->mat : "");
    snprintf(name, KEY_NAME_LENGTH_MAX + 1, "%s", first);
    for (unsigned i = 2; key_ring_named(&writing->ring, name, wish->now_ms) != NULL; i++)
        snprintf(name, KEY_NAME_LENGTH_MAX + 1, "%.29s-%u", first, i);
}

static json_t *key_json(const struct key_wish *wish, const struct new_key *made)
{
    unsigned char hash[KEY_HASH_SIZE];
    char hex[KEY_HASH_SIZE * 2 + 1];
    json_t *line = json_object();
    key_hash(made->text, KEY_TEXT_LENGTH, hash);
    for (size_t i = 0; i < KEY_HASH_SIZE; i++)
        snprintf(hex + i * 2, 3, "%02x", hash[i]);
    if (json_add_text(line, "key", made->name) &&
        json_add_text(line, "role", role_name(wish->role)) &&
        json_add_text(line, "mat", wish->mat) && json_add_text(line, "hash", hex) &&
        json_add_time(line, "made_at", wish->now_ms) &&
        (wish->until_ms == INT64_MAX || json_add_time(line, "until", wish->until_ms)))
        return line;
    json_decref(line);
    return NULL;
}

static bool add_key(struct writing *writing, const char *path, const struct key_wish *wish,
                    struct new_key *made, char reason[KEYS_REASON_SIZE])
{
    if (wish->name != NULL && key_ring_named(&writing->ring, wish->name, wish->now_ms) != NULL)
        return fail(reason, "%s has a key already: revoke it first, or choose another name",
                    wish->name);
    if (wish->name != NULL)
        snprintf(made->name, sizeof made->name, "%s", wish->name);
    else
        make_name(writing, wish, made->name);
    if (!key_make(made->text))
        return fail(reason, "no random numbers: %s", strerror(errno));
    return append(writing->file, path, writing->whole, key_json(wish, made), reason);
}

/* As an event could name it: 1 to 100 characters of UTF-8. */
static bool is_mat(const char *mat)
{
    json_t *text = json_string(mat);
    size_t characters = 0;
    for (const char *byte = mat; *byte != '\0'; byte++)
        characters += ((unsigned char)*byte & 0xc0) != 0x80 ? 1 : 0;
    json_decref(text);
    return text != NULL && characters >= 1 && characters <= 100;
}

bool keys_file_add(const char *path, const struct key_wish *wish, struct new_key *made,
                   char reason[KEYS_REASON_SIZE])
{
    struct writing writing;
    if (wish->mat != NULL && !is_mat(wish->mat))
        return fail(reason, "no mat can be called that: 1 to 100 characters are wanted");
    bool done = writing_begin(&writing, path, O_CREAT, reason) &&
                add_key(&writing, path, wish, made, reason);
    writing_end(&writing);
    return done;
}

bool keys_file_end(const char *path, const char *name, int64_t now_ms,
                   char reason[KEYS_REASON_SIZE])
{
    struct writing writing;
    bool done = writing_begin(&writing, path, 0, reason);
    if (done && key_ring_named(&writing.ring, name, now_ms) == NULL)
        done = fail(reason, "no key of the name %.60s opens", name);
    if (done) {
        json_t *line = json_object();
        bool complete = json_add_text(line, "ended", name) && json_add_time(line, "at", now_ms);
        if (!complete) {
            json_decref(line);
            line = NULL;
        }
        done = append(writing.file, path, writing.whole, line, reason);
    }
    writing_end(&writing);
    return done;
}
