/* The normal course: uv_fs_poll looks at the file, on the thread pool; when it has changed, it is
 * read there too, and the loop takes the new ring in place of the old one and looks at every
 * client. A file that can't be read leaves the keys as they were, and is reported. A key that has
 * ended never opens again in this run, whatever the file says. */
#include "service/keys.h"
#include <stdlib.h>
#include <string.h>
#include "service/clients.h"
#include "service/talks.h"

/* ---- what opens ---- */

const struct key *keys_find(const struct keys *keys, const unsigned char hash[KEY_HASH_SIZE])
{
    const struct key *key = key_ring_find(&keys->ring, hash);
    const struct key_ring player = {.keys = (struct key *)(uintptr_t)&keys->player, .count = 1};
    return key == NULL && keys->player.name != NULL ? key_ring_find(&player, hash) : key;
}

enum knock keys_knock(const struct service *service, const char *text, size_t size,
                      const struct key **key)
{
    unsigned char hash[KEY_HASH_SIZE];
    key_hash(text, size, hash);
    *key = keys_find(&service->keys, hash);
    if (*key == NULL)
        return KNOCK_UNKNOWN;
    return key_opens(*key, daytime_now(&service->daytime)) ? KNOCK_OPENS : KNOCK_ENDED;
}

bool keys_is_player(const struct keys *keys, const unsigned char hash[KEY_HASH_SIZE])
{
    return keys->player.name != NULL && memcmp(keys->player.hash, hash, KEY_HASH_SIZE) == 0;
}

bool keys_any_opens(const struct service *service)
{
    const struct key_ring *ring = &service->keys.ring;
    for (size_t i = 0; i < ring->count; i++)
        if (key_opens(&ring->keys[i], daytime_now(&service->daytime)))
            return true;
    return false;
}

/* ---- reading the file ---- */

static void keep_ended(const struct key_ring *old, struct key_ring *new)
{
    for (size_t i = 0; i < new->count; i++) {
        const struct key *known = key_ring_find(old, new->keys[i].hash);
        if (known != NULL && known->ended_ms < new->keys[i].ended_ms)
            new->keys[i].ended_ms = known->ended_ms;
    }
}

static void keys_take(struct keys *keys, struct key_ring *ring)
{
    keep_ended(&keys->ring, ring);
    key_ring_close(&keys->ring);
    keys->ring = *ring;
    keys->needed = keys->needed || ring->count > 0;
}

struct keys_reading {
    uv_work_t work;
    struct keys *keys;
    struct key_ring ring;
    bool good;
    char reason[KEYS_REASON_SIZE];
};

static void read_file(uv_work_t *work)
{
    struct keys_reading *reading = work->data;
    reading->good = keys_file_read(&reading->ring, reading->keys->path, reading->reason);
}

static void reading_begin(struct keys *keys);

static void on_read(uv_work_t *work, int status)
{
    struct keys_reading *reading = work->data;
    struct keys *keys = reading->keys;
    keys->reads = false;
    if (status == 0 && reading->good) {
        keys_take(keys, &reading->ring);
        clients_recheck(keys->service);
        talks_recheck(keys->service);
        report(&keys->service->report, REPORT_DEBUG, "the keys are read", "keys=%zu",
               keys->ring.count);
    } else {
        key_ring_close(&reading->ring);
        report(&keys->service->report, REPORT_ERROR,
               "the keys can't be read, they stay as they were", "reason=\"%s\"",
               status == 0 ? reading->reason : uv_strerror(status));
    }
    free(reading);
    if (keys->again && !keys->service->stopping)
        reading_begin(keys);
}

static void reading_begin(struct keys *keys)
{
    struct keys_reading *reading = calloc(1, sizeof *reading);
    keys->again = false;
    if (reading != NULL) {
        reading->keys = keys;
        reading->work.data = reading;
        keys->reads = uv_queue_work(&keys->service->loop, &reading->work, read_file, on_read) == 0;
    }
    if (keys->reads)
        return;
    free(reading);
    report(&keys->service->report, REPORT_ERROR, "out of memory while reading the keys", "%s", "");
}

static void on_changed(uv_fs_poll_t *poll, int status, const uv_stat_t *before,
                       const uv_stat_t *now)
{
    struct keys *keys = poll->data;
    (void)before;
    (void)now;
    if (status == UV_ENOENT && keys->ring.count == 0)
        return; /* none has been made yet */
    if (status != 0 && status != UV_ENOENT)
        report(&keys->service->report, REPORT_ERROR, "the keys' file can't be looked at",
               "reason=\"%s\"", uv_strerror(status));
    else if (keys->reads)
        keys->again = true;
    else
        reading_begin(keys);
}

bool keys_open(struct service *service)
{
    struct keys *keys = &service->keys;
    char reason[KEYS_REASON_SIZE] = "its path is too long";
    keys->service = service;
    if (!keys_file_path(keys->path, service->options.store) ||
        !keys_file_read(&keys->ring, keys->path, reason)) {
        report(&service->report, REPORT_ERROR, "the keys can't be read", "reason=\"%s\"", reason);
        return false;
    }
    keys->needed = keys->ring.count > 0;
    keys->player = (struct key){.role = ROLE_TABLE, .until_ms = INT64_MAX, .ended_ms = INT64_MAX};
    if (service->options.player_key != NULL) {
        keys->player.name = (char *)(uintptr_t) "rehearsal";
        key_hash(service->options.player_key, strlen(service->options.player_key),
                 keys->player.hash);
    }
    return true;
}

bool keys_watch(struct service *service)
{
    struct keys *keys = &service->keys;
    keys->poll.data = keys;
    keys->polls = uv_fs_poll_init(&service->loop, &keys->poll) == 0;
    int status = keys->polls ? uv_fs_poll_start(&keys->poll, on_changed, keys->path, KEYS_POLL_MS)
                             : UV_ENOMEM;
    if (status != 0)
        report(&service->report, REPORT_ERROR, "the keys' file can't be watched", "reason=\"%s\"",
               uv_strerror(status));
    else
        reading_begin(keys); /* it may have changed before it was watched */
    return status == 0;
}

void keys_close(struct service *service)
{
    struct keys *keys = &service->keys;
    if (keys->polls && !uv_is_closing((uv_handle_t *)&keys->poll))
        uv_close((uv_handle_t *)&keys->poll, NULL);
}

/* ---- ending one ---- */

struct keys_ending {
    uv_work_t work;
    struct keys *keys;
    char name[KEY_NAME_LENGTH_MAX + 1];
    int64_t now_ms;
    bool done;
    char reason[KEYS_REASON_SIZE];
};

static void write_end(uv_work_t *work)
{
    struct keys_ending *ending = work->data;
    ending->done = keys_file_end(ending->keys->path, ending->name, ending->now_ms, ending->reason);
}

static void on_written(uv_work_t *work, int status)
{
    struct keys_ending *ending = work->data;
    if (status != 0 || !ending->done)
        report(&ending->keys->service->report, REPORT_ERROR,
               "a key that was ended is not written down: it opens again after a restart",
               "reason=\"%s\"", status == 0 ? ending->reason : uv_strerror(status));
    free(ending);
}

void keys_end(struct service *service, const char *name)
{
    struct keys *keys = &service->keys;
    int64_t now_ms = daytime_now(&service->daytime);
    report(&service->report, REPORT_INFO, "a key is ended by the gallery", "%s", "");
    if (keys->player.name != NULL && strcmp(keys->player.name, name) == 0) {
        keys->player.ended_ms = now_ms; /* it stands in no file */
        return;
    }
    struct keys_ending *ending = calloc(1, sizeof *ending);
    for (size_t i = 0; i < keys->ring.count; i++)
        if (strcmp(keys->ring.keys[i].name, name) == 0 && key_opens(&keys->ring.keys[i], now_ms))
            keys->ring.keys[i].ended_ms = now_ms;
    if (ending != NULL) {
        ending->keys = keys;
        ending->now_ms = now_ms;
        ending->work.data = ending;
        snprintf(ending->name, sizeof ending->name, "%s", name);
    }
    if (ending == NULL ||
        uv_queue_work(&service->loop, &ending->work, write_end, on_written) != 0) {
        free(ending);
        report(&service->report, REPORT_ERROR, "out of memory while ending a key", "%s", "");
    }
}
