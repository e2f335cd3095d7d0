/* The normal course: relay_publish makes a patch, encodes it, keeps it in the topic's history,
 * then walks the ring of the topic's places. A place knows the last version that its follower was
 * given; bringing it up to date means the kept patches since then or, when these are gone or it
 * knows none, the snapshot. Publishing, resuming, catching up and slicing are all this one step.
 *
 * Nearly everybody is one version behind then, and needs the same frame: those are gathered and
 * given together, so that a socket library can send in batches and a walk through thousands reads
 * memory ahead. Who needs anything else is given it alone, after those gathered so far.
 *
 * What `send` may do while a ring is walked: anything but relay_free. So places and followers that
 * go are only marked and put on a list; they are unlinked and freed when no send is under way. */
#include "relay/relay.h"
#include <assert.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>
#include "wire/merge_patch.h"

/* One message in the forms that somebody needed so far. */
struct message {
    struct frame *websocket, *events;
};

struct topic {
    struct relay *relay;
    struct topic *next;
    json_t *state;
    unsigned long seq;
    struct message snapshot, nothing_missed;    /* of the newest version, made when first needed */
    struct message patches[RELAY_VERSIONS_MAX]; /* the one that led to seq S is at S % MAX */
    size_t patch_count, patch_bytes;
    struct place *cursor; /* in the ring of places: the next to visit; NULL: nobody follows */
    size_t place_count, visits_left, events_follower_count;
    uint32_t beat_number; /* of the last beat meant for this topic's followers */
    bool patient;
    char name[];
};

/* One follower in one topic. */
struct place {
    struct follower *follower;
    struct topic *topic;            /* NULL: not in use */
    struct place *before, *after;   /* ring of the topic */
    struct place *next_of_follower; /* list of the follower */
    struct place *next_gone;
    unsigned long seq; /* the last version given; 0: none, a snapshot is needed */
    bool gone;
};

/* Most follow one topic and no more: that place stands beside its follower. */
struct follower {
    struct place first;
    struct relay *relay;
    void *client;
    struct place *places;
    struct follower *next_gone;
    uint32_t beat_number;
    unsigned char form;
    bool stalled; /* a frame was refused; nothing is sent until it has caught up */
    bool gone;
};

enum { GATHERED_MAX = 256 };

/* Places that are given one frame together, when there are enough of them. */
struct gathered {
    struct frame *frame;
    size_t count;
    struct place *places[GATHERED_MAX];
};

struct relay {
    struct relay_callbacks callbacks;
    struct topic *topics;
    struct topic *served; /* the patient topic whose followers had the last turn */
    struct message beat;
    uint32_t beat_number;
    size_t follower_count, slice;
    struct relay_counts counts;
    unsigned sends_under_way;
    struct place *gone_places;
    struct follower *gone_followers;
    char epoch[];
};

/* ---- messages ---- */

static void message_drop(struct message *message)
{
    frame_release(message->websocket);
    frame_release(message->events);
    *message = (struct message){0};
}

/* Takes `value`; NULL is allowed. */
static struct frame *frame_of(json_t *value)
{
    char *text = value == NULL ? NULL : json_dumps(value, JSON_COMPACT | JSON_SORT_KEYS);
    json_decref(value);
    struct frame *frame = text == NULL ? NULL : frame_new(text, strlen(text));
    free(text);
    return frame;
}

/* `id_line` is "" or ends with a line feed. */
static struct frame *events_frame(const char *event, const char *id_line, const struct frame *data)
{
    size_t size = sizeof "event: \ndata: \n\n" + strlen(event) + strlen(id_line) + data->size;
    char *text = malloc(size);
    if (text == NULL)
        return NULL;
    int written = snprintf(text, size, "event: %s\n%sdata: %s\n\n", event, id_line, data->text);
    struct frame *frame = frame_new(text, (size_t)written);
    free(text);
    return frame;
}

/* The message's frame in that form, made from the WebSocket's where it is missing; borrowed.
 * `seq` 0: a message without an id. NULL without memory. */
static struct frame *message_frame(struct message *message, enum follower_form form,
                                   const char *event, const char *epoch, unsigned long seq)
{
    if (form == FOLLOWER_WEBSOCKET || message->websocket == NULL)
        return message->websocket;
    if (message->events == NULL) {
        char id_line[RELAY_EPOCH_SIZE_MAX + 32] = "";
        if (seq > 0)
            snprintf(id_line, sizeof id_line, "id: %s-%lu\n", epoch, seq);
        message->events = events_frame(event, id_line, message->websocket);
    }
    return message->events;
}

static struct frame *snapshot_frame(struct topic *topic, enum follower_form form)
{
    const char *epoch = topic->relay->epoch;
    if (topic->snapshot.websocket == NULL)
        topic->snapshot.websocket =
            frame_of(json_pack("{s:s,s:s,s:I,s:O}", "topic", topic->name, "epoch", epoch, "seq",
                               (json_int_t)topic->seq, "state", topic->state));
    return message_frame(&topic->snapshot, form, "state", epoch, topic->seq);
}

/* `patch` is taken. */
static struct frame *patch_frame(const struct topic *topic, unsigned long from, unsigned long seq,
                                 json_t *patch)
{
    return frame_of(json_pack("{s:s,s:s,s:I,s:I,s:o}", "topic", topic->name, "epoch",
                              topic->relay->epoch, "from", (json_int_t)from, "seq", (json_int_t)seq,
                              "patch", patch));
}

static struct frame *nothing_missed_frame(struct topic *topic, enum follower_form form)
{
    if (topic->nothing_missed.websocket == NULL)
        topic->nothing_missed.websocket = patch_frame(topic, topic->seq, topic->seq, json_object());
    return message_frame(&topic->nothing_missed, form, "patch", topic->relay->epoch, topic->seq);
}

/* ---- the versions of a topic ---- */

static bool patch_is_kept(const struct topic *topic, unsigned long seq)
{
    return seq <= topic->seq && topic->seq - seq < topic->patch_count;
}

static struct message *patch_message(struct topic *topic, unsigned long seq)
{
    return &topic->patches[seq % RELAY_VERSIONS_MAX];
}

static void history_drop_oldest(struct topic *topic)
{
    struct message *oldest = patch_message(topic, topic->seq - topic->patch_count + 1);
    topic->patch_bytes -= oldest->websocket->size;
    topic->patch_count--;
    message_drop(oldest);
}

/* `message` led to the topic's version `seq`, one more than the last. Taken. */
static void history_add(struct topic *topic, unsigned long seq, struct message message)
{
    if (topic->patch_count == RELAY_VERSIONS_MAX)
        history_drop_oldest(topic);
    topic->seq = seq;
    *patch_message(topic, seq) = message;
    topic->patch_count++;
    topic->patch_bytes += message.websocket->size;
    while (topic->patch_count > 1 && topic->patch_bytes > RELAY_HISTORY_BYTES_MAX)
        history_drop_oldest(topic);
}

static struct topic *topic_find(const struct relay *relay, const char *name)
{
    struct topic *topic = relay->topics;
    while (topic != NULL && strcmp(topic->name, name) != 0)
        topic = topic->next;
    return topic;
}

static int topic_new(struct relay *relay, const char *name, json_t *state)
{
    size_t size = strlen(name) + 1;
    struct topic *topic = calloc(1, sizeof *topic + size);
    if (topic == NULL)
        return UV_ENOMEM;
    memcpy(topic->name, name, size);
    topic->relay = relay;
    topic->state = json_incref(state);
    topic->seq = 1;
    topic->patient = relay->callbacks.is_patient != NULL && relay->callbacks.is_patient(name);
    topic->next = relay->topics;
    relay->topics = topic;
    return 0;
}

static void topic_free(struct topic *topic)
{
    while (topic->patch_count > 0)
        history_drop_oldest(topic);
    message_drop(&topic->snapshot);
    message_drop(&topic->nothing_missed);
    json_decref(topic->state);
    free(topic);
}

/* ---- places: coming and going ---- */

/* Just behind the cursor: last in the walk that may be under way. */
static void ring_add(struct topic *topic, struct place *place)
{
    if (topic->cursor == NULL) {
        place->before = place->after = place;
        topic->cursor = place;
    } else {
        place->after = topic->cursor;
        place->before = topic->cursor->before;
        place->before->after = place;
        place->after->before = place;
    }
    topic->place_count++;
}

static void ring_remove(struct topic *topic, struct place *place)
{
    if (topic->cursor == place)
        topic->cursor = place->after == place ? NULL : place->after;
    place->before->after = place->after;
    place->after->before = place->before;
    topic->place_count--;
    if (topic->visits_left > topic->place_count)
        topic->visits_left = topic->place_count;
}

static void place_unlink(struct place *place)
{
    ring_remove(place->topic, place);
    struct place **link = &place->follower->places;
    while (*link != place)
        link = &(*link)->next_of_follower;
    *link = place->next_of_follower;
}

static void place_release(struct place *place)
{
    if (place == &place->follower->first)
        *place = (struct place){0};
    else
        free(place);
}

static void sweep(struct relay *relay)
{
    while (relay->gone_places != NULL) {
        struct place *place = relay->gone_places;
        relay->gone_places = place->next_gone;
        place_unlink(place);
        place_release(place);
    }
    while (relay->gone_followers != NULL) {
        struct follower *follower = relay->gone_followers;
        relay->gone_followers = follower->next_gone;
        free(follower);
    }
}

static void sends_begin(struct relay *relay)
{
    relay->sends_under_way++;
}

static void sends_end(struct relay *relay)
{
    if (--relay->sends_under_way == 0)
        sweep(relay);
}

static struct place *place_find(const struct follower *follower, const struct topic *topic)
{
    struct place *place = follower->places;
    while (place != NULL && (place->gone || place->topic != topic))
        place = place->next_of_follower;
    return place;
}

static struct place *place_new(struct follower *follower, struct topic *topic)
{
    bool is_first = follower->first.topic == NULL;
    struct place *place = is_first ? &follower->first : calloc(1, sizeof *place);
    if (place == NULL)
        return NULL;
    place->topic = topic;
    place->follower = follower;
    place->next_of_follower = follower->places;
    follower->places = place;
    ring_add(topic, place);
    if (follower->form == FOLLOWER_EVENTS)
        topic->events_follower_count++;
    return place;
}

static void place_leave(struct place *place)
{
    place->gone = true;
    if (place->follower->form == FOLLOWER_EVENTS)
        place->topic->events_follower_count--;
    place->next_gone = place->follower->relay->gone_places;
    place->follower->relay->gone_places = place;
}

/* ---- giving ---- */

/* Within sends_begin and sends_end. The follower may be gone afterwards, but its memory is not. */
static bool follower_send(struct follower *follower, struct frame *frame)
{
    const struct relay_callbacks *callbacks = &follower->relay->callbacks;
    frame_keep(frame); /* a publication from within `send` may drop it from the history */
    bool taken = callbacks->send(callbacks->context, follower->client, frame);
    frame_release(frame);
    if (!taken) {
        follower->stalled = true;
        follower->relay->counts.stalled++;
    }
    return taken;
}

static bool place_can_take(const struct place *place)
{
    return !place->gone && !place->follower->stalled;
}

/* The frame that brings a follower from `seq` nearer to the newest version, and what it will then
 * have. NULL without memory. */
static struct frame *frame_after(struct topic *topic, enum follower_form form, unsigned long *seq)
{
    if (*seq > 0 && patch_is_kept(topic, *seq + 1)) {
        *seq += 1;
        return message_frame(patch_message(topic, *seq), form, "patch", topic->relay->epoch, *seq);
    }
    *seq = topic->seq;
    return snapshot_frame(topic, form);
}

static void place_update(struct place *place)
{
    struct relay_counts *counts = &place->topic->relay->counts;
    while (place_can_take(place) && place->seq != place->topic->seq) {
        unsigned long seq = place->seq;
        bool patches = seq > 0 && patch_is_kept(place->topic, seq + 1);
        struct frame *frame = frame_after(place->topic, place->follower->form, &seq);
        if (frame == NULL)
            return;
        place->seq = seq; /* before sending: a publication from within `send` goes on from here */
        if (follower_send(place->follower, frame))
            *(patches ? &counts->patches : &counts->snapshots) += 1;
        else
            place->seq = 0;
    }
}

static bool beat_is_due(const struct place *place)
{
    return place->follower->beat_number < place->topic->beat_number;
}

static void place_beat(struct place *place)
{
    struct follower *follower = place->follower;
    struct relay *relay = follower->relay;
    if (!place_can_take(place) || !beat_is_due(place))
        return;
    struct frame *frame = message_frame(&relay->beat, follower->form, "beat", relay->epoch, 0);
    if (frame == NULL)
        return;
    follower->beat_number = relay->beat_number;
    follower_send(follower, frame);
}

/* ---- giving to many ---- */

static void gathered_give(struct gathered *gathered)
{
    void *clients[GATHERED_MAX];
    bool taken[GATHERED_MAX];
    size_t count = gathered->count;
    gathered->count = 0;
    if (count == 0)
        return;
    for (size_t i = 0; i < count; i++)
        clients[i] = gathered->places[i]->follower->client;
    struct relay *relay = gathered->places[0]->topic->relay;
    struct relay_counts *counts = &relay->counts;
    const struct relay_callbacks *callbacks = &relay->callbacks;
    callbacks->send_to_many(callbacks->context, clients, count, gathered->frame, taken);
    for (size_t i = 0; i < count; i++) {
        struct place *place = gathered->places[i];
        place->seq = taken[i] ? place->topic->seq : 0;
        place->follower->stalled = !taken[i];
        *(taken[i] ? &counts->patches : &counts->stalled) += 1;
    }
}

/* What the walk has gathered, in both forms; before anything else is given, it is: so everyone
 * gets everything in order, whatever a `send` does. */
struct walk {
    struct gathered forms[2];
};

static void walk_give(struct walk *walk)
{
    gathered_give(&walk->forms[FOLLOWER_WEBSOCKET]);
    gathered_give(&walk->forms[FOLLOWER_EVENTS]);
}

static bool misses_newest_alone(const struct place *place)
{
    const struct topic *topic = place->topic;
    return place->seq > 0 && place->seq + 1 == topic->seq && patch_is_kept(topic, topic->seq);
}

static bool place_gather(struct walk *walk, struct place *place)
{
    struct topic *topic = place->topic;
    enum follower_form form = place->follower->form;
    struct gathered *gathered = &walk->forms[form];
    if (topic->relay->callbacks.send_to_many == NULL || !misses_newest_alone(place))
        return false;
    if (gathered->count == 0)
        gathered->frame = message_frame(patch_message(topic, topic->seq), form, "patch",
                                        topic->relay->epoch, topic->seq);
    if (gathered->frame == NULL)
        return false;
    gathered->places[gathered->count++] = place;
    if (gathered->count == GATHERED_MAX)
        gathered_give(gathered);
    return true;
}

static void place_visit(struct walk *walk, struct place *place)
{
    if (!place_can_take(place))
        return;
    bool gathered = place->seq == place->topic->seq || place_gather(walk, place);
    if (gathered && !beat_is_due(place))
        return;
    walk_give(walk);
    place_update(place);
    place_beat(place);
}

static void topic_walk(struct topic *topic)
{
    struct walk walk;
    walk.forms[FOLLOWER_WEBSOCKET].count = walk.forms[FOLLOWER_EVENTS].count = 0;
    size_t slice = topic->relay->slice == 0 ? SIZE_MAX : topic->relay->slice;
    sends_begin(topic->relay);
    for (; topic->visits_left > 0 && slice > 0; slice--) {
        struct place *place = topic->cursor;
        topic->cursor = place->after;
        topic->visits_left--;
        place_visit(&walk, place);
    }
    walk_give(&walk);
    sends_end(topic->relay);
}

/* Everyone is visited once from now on, beginning with those who have waited longest. */
static void topic_give(struct topic *topic)
{
    topic->visits_left = topic->place_count;
    if (!topic->patient || topic->relay->slice == 0)
        topic_walk(topic);
}

/* ---- the relay ---- */

struct relay *relay_new(const char *epoch, const struct relay_callbacks *callbacks)
{
    size_t size = strlen(epoch) + 1;
    assert(size <= RELAY_EPOCH_SIZE_MAX);
    struct relay *relay = calloc(1, sizeof *relay + size);
    if (relay == NULL)
        return NULL;
    relay->callbacks = *callbacks;
    memcpy(relay->epoch, epoch, size);
    return relay;
}

void relay_free(struct relay *relay)
{
    if (relay == NULL)
        return;
    assert(relay->sends_under_way == 0);
    assert(relay->follower_count == 0);
    while (relay->topics != NULL) {
        struct topic *topic = relay->topics;
        relay->topics = topic->next;
        topic_free(topic);
    }
    message_drop(&relay->beat);
    free(relay);
}

/* The topic's next version: encoded, then kept, then given. `patch` is taken. */
static int topic_advance(struct topic *topic, json_t *state, json_t *patch)
{
    unsigned long seq = topic->seq + 1;
    struct message message = {.websocket = patch_frame(topic, topic->seq, seq, patch)};
    enum follower_form form =
        topic->events_follower_count > 0 ? FOLLOWER_EVENTS : FOLLOWER_WEBSOCKET;
    if (message_frame(&message, form, "patch", topic->relay->epoch, seq) == NULL) {
        message_drop(&message);
        return UV_ENOMEM;
    }
    history_add(topic, seq, message);
    message_drop(&topic->snapshot);
    message_drop(&topic->nothing_missed);
    json_decref(topic->state);
    topic->state = json_incref(state);
    topic_give(topic);
    return 0;
}

int relay_publish(struct relay *relay, const char *name, json_t *state)
{
    assert(json_is_object(state));
    struct topic *topic = topic_find(relay, name);
    if (topic == NULL)
        return topic_new(relay, name, state);
    json_t *patch = merge_patch_make(topic->state, state);
    if (patch == NULL)
        return UV_ENOMEM;
    if (json_object_size(patch) > 0)
        return topic_advance(topic, state, patch);
    json_decref(patch);
    return 0;
}

struct frame *relay_snapshot(struct relay *relay, const char *name)
{
    struct topic *topic = topic_find(relay, name);
    return topic == NULL ? NULL : snapshot_frame(topic, FOLLOWER_WEBSOCKET);
}

json_t *relay_state(struct relay *relay, const char *name)
{
    const struct topic *topic = topic_find(relay, name);
    return topic == NULL ? NULL : topic->state;
}

const struct relay_counts *relay_counts(const struct relay *relay)
{
    return &relay->counts;
}

void relay_beat(struct relay *relay, bool (*meant)(const char *topic), const char *now)
{
    struct frame *frame = frame_of(json_pack("{s:{s:s}}", "beat", "now", now));
    if (frame == NULL)
        return; /* the next one comes soon */
    message_drop(&relay->beat);
    relay->beat.websocket = frame;
    relay->beat_number++;
    for (struct topic *topic = relay->topics; topic != NULL; topic = topic->next)
        if (meant == NULL || meant(topic->name)) {
            topic->beat_number = relay->beat_number;
            topic_give(topic);
        }
}

void relay_forget(struct relay *relay, bool (*meant)(const char *topic))
{
    for (struct topic *topic = relay->topics; topic != NULL; topic = topic->next)
        while (meant(topic->name) && topic->patch_count > 0)
            history_drop_oldest(topic);
}

void relay_set_slice(struct relay *relay, size_t followers_max)
{
    relay->slice = followers_max;
}

/* The next patient topic with somebody left, behind the one that had the last turn. */
static struct topic *patient_next(const struct relay *relay)
{
    struct topic *first = NULL, *topic = relay->topics;
    for (bool behind = false; topic != NULL; topic = topic->next) {
        bool waits = topic->patient && topic->visits_left > 0;
        if (waits && behind)
            return topic;
        if (waits && first == NULL)
            first = topic;
        behind = behind || topic == relay->served;
    }
    return first;
}

bool relay_continue(struct relay *relay)
{
    bool more = false;
    for (struct topic *topic = relay->topics; topic != NULL; topic = topic->next) {
        if (topic->patient)
            continue;
        topic_walk(topic);
        more = more || topic->visits_left > 0;
    }
    relay->served = patient_next(relay);
    if (relay->served != NULL)
        topic_walk(relay->served);
    return more || patient_next(relay) != NULL;
}

/* ---- followers ---- */

struct follower *follower_new(struct relay *relay, enum follower_form form, void *client)
{
    struct follower *follower = calloc(1, sizeof *follower);
    if (follower == NULL)
        return NULL;
    follower->relay = relay;
    follower->form = (unsigned char)form;
    follower->client = client;
    follower->beat_number = relay->beat_number;
    relay->follower_count++;
    return follower;
}

void follower_free(struct follower *follower)
{
    if (follower == NULL)
        return;
    struct relay *relay = follower->relay;
    sends_begin(relay);
    for (struct place *place = follower->places; place != NULL; place = place->next_of_follower)
        if (!place->gone)
            place_leave(place);
    follower->gone = true;
    follower->next_gone = relay->gone_followers;
    relay->gone_followers = follower;
    relay->follower_count--;
    sends_end(relay);
}

/* Which version a returning client can go on from; 0: none, it needs a snapshot. */
static unsigned long seq_resumed(const struct topic *topic, const char *epoch, unsigned long seq)
{
    if (epoch == NULL || strcmp(epoch, topic->relay->epoch) != 0)
        return 0;
    return seq == topic->seq || (seq > 0 && patch_is_kept(topic, seq + 1)) ? seq : 0;
}

/* Everything that goes out first is encoded before anything changes. */
static bool frames_ready(struct topic *topic, enum follower_form form, unsigned long seq)
{
    if (seq == topic->seq)
        return nothing_missed_frame(topic, form) != NULL;
    while (seq != topic->seq)
        if (frame_after(topic, form, &seq) == NULL)
            return false;
    return true;
}

static void place_begin(struct place *place, unsigned long seq)
{
    struct topic *topic = place->topic;
    place->seq = seq;
    if (seq != topic->seq)
        place_update(place);
    else if (place->follower->stalled ||
             !follower_send(place->follower, nothing_missed_frame(topic, place->follower->form)))
        place->seq = 0;
}

int follower_subscribe(struct follower *follower, const char *name, const char *epoch,
                       unsigned long seq)
{
    struct topic *topic = topic_find(follower->relay, name);
    if (topic == NULL)
        return UV_ENOENT;
    unsigned long resumed = seq_resumed(topic, epoch, seq);
    if (!frames_ready(topic, follower->form, resumed))
        return UV_ENOMEM;
    struct place *place = place_find(follower, topic);
    if (place == NULL)
        place = place_new(follower, topic);
    if (place == NULL)
        return UV_ENOMEM;
    if (epoch != NULL)
        *(resumed > 0 ? &follower->relay->counts.resumed : &follower->relay->counts.begun_anew) +=
            1;
    sends_begin(follower->relay);
    place_begin(place, resumed);
    sends_end(follower->relay);
    return 0;
}

void follower_unsubscribe(struct follower *follower, const char *name)
{
    const struct topic *topic = topic_find(follower->relay, name);
    struct place *place = topic == NULL ? NULL : place_find(follower, topic);
    if (place == NULL)
        return;
    sends_begin(follower->relay);
    place_leave(place);
    sends_end(follower->relay);
}

void follower_caught_up(struct follower *follower)
{
    struct relay *relay = follower->relay;
    sends_begin(relay);
    follower->stalled = false;
    for (struct place *place = follower->places; place != NULL; place = place->next_of_follower)
        if (place->seq != place->topic->seq)
            place->seq = 0;
    for (struct place *place = follower->places; place != NULL; place = place->next_of_follower)
        place_update(place);
    sends_end(relay);
}
