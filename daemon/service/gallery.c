#include "service/gallery.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "service/clients.h"
#include "service/talks.h"
#include "wire/state_json.h"

/* Where somebody is, as far as the gallery needs it: whole addresses are nobody's business.
 * Networks of their own: RFC 1918, RFC 3927 (169.254/16), RFC 4193 (fc00::/7), RFC 4291
 * (fe80::/10).
 */
static const char *place_of(const char *address)
{
    static const char *const own[] = {"10.", "192.168.", "169.254.", "fc", "fd",
                                      "fe8", "fe9",      "fea",      "feb"};
    int second = 0;
    if (strncmp(address, "::ffff:", 7) == 0)
        address += 7;
    if (host_is_this_machine(address))
        return "this_machine";
    if (sscanf(address, "172.%d.", &second) == 1 && second >= 16 && second <= 31)
        return "network";
    for (size_t i = 0; i < sizeof own / sizeof *own; i++)
        if (strncmp(address, own[i], strlen(own[i])) == 0)
            return "network";
    return "internet";
}

/* Who works here: holds a key, or has had what not everybody may have. */
static bool is_listed(const struct client *client)
{
    return !client->ended && (client->holder != NULL || client->privileged);
}

static json_t *connected_json(const struct holder *holder, const struct grant *grant,
                              int64_t since_ms, const char *place)
{
    json_t *object = json_object();
    if (json_add_text(object, "name", holder != NULL ? holder->name : NULL) &&
        json_add_text(object, "role", role_name(grant->role)) &&
        json_add_text(object, "mat", grant->mat) && json_add_time(object, "since", since_ms) &&
        json_add_text(object, "address", place))
        return object;
    json_decref(object);
    return NULL;
}

/* The mats that there are, with the bout that each shows. */
static json_t *mats_json(const struct hall *hall)
{
    json_t *mats = json_object();
    bool complete = mats != NULL;
    for (const struct mat *mat = hall->mats; mat != NULL && complete; mat = mat->next) {
        json_t *object = json_object();
        complete = json_add(mats, mat->name, object) &&
                   json_add_text(object, "bout", mat->shown != NULL ? mat->shown->bout->id : NULL);
    }
    return json_whole(mats, complete);
}

static bool add_client(json_t *connected, const struct client *client)
{
    char number[24];
    struct grant grant = client_grant(client);
    snprintf(number, sizeof number, "%llu", (unsigned long long)client->number);
    return json_add(connected, number,
                    connected_json(client->holder, &grant, client->since_ms,
                                   place_of(connection_address(client->connection))));
}

static bool add_talk(json_t *connected, const struct talk *talk)
{
    char number[24];
    struct grant grant = talk_grant(talk);
    const char *place =
        talker_is_local(talk->talker) ? "this_machine" : place_of(talker_address(talk->talker));
    snprintf(number, sizeof number, "%llu", (unsigned long long)talk->number);
    return json_add(connected, number, connected_json(talk->holder, &grant, talk->since_ms, place));
}

bool gallery_publish(struct service *service)
{
    static const char *const kinds[] = {
        [SHOWS_FOLLOW] = "follow", [SHOWS_TEXT] = "text", [SHOWS_SCREEN] = "screen"};
    int counts[] = {[SHOWS_SCREEN] = 0};
    json_t *connected = json_object(), *viewers = json_object(), *state = NULL;
    bool complete = connected != NULL && viewers != NULL;
    for (const struct client *client = service->clients; client != NULL && complete;
         client = client->next) {
        if (is_listed(client))
            complete = add_client(connected, client);
        else if (!client->ended)
            counts[client->shows]++;
    }
    for (const struct talk *talk = service->talks; talk != NULL && complete; talk = talk->next)
        if (talk_is_listed(talk))
            complete = add_talk(connected, talk);
    for (enum shown_kind i = SHOWS_FOLLOW; i <= SHOWS_SCREEN && complete; i++)
        complete = json_add_integer(viewers, kinds[i], counts[i]);
    if (complete)
        state = json_pack("{s:O, s:O, s:o, s:o, s:o, s:o}", "connected", connected, "viewers",
                          viewers, "outputs", outputs_json(service), "delays",
                          outputs_delays_json(service), "mats", mats_json(&service->hall), "talk",
                          intercom_json(&service->intercom, NULL));
    json_decref(connected);
    json_decref(viewers);
    bool done = state != NULL && relay_publish(service->relay, "gallery", state) == 0;
    json_decref(state);
    return done;
}

static const char cut_off[] = "cut off by the gallery";

static void end_key(struct service *service, const struct holder *holder)
{
    if (holder == NULL)
        return;
    keys_end(service, holder->name);
    clients_recheck(service);
    talks_recheck(service);
}

static bool cut_talk(struct service *service, unsigned long long wanted)
{
    struct talk *talk = service->talks;
    while (talk != NULL && (talk->number != wanted || !talk_is_listed(talk)))
        talk = talk->next;
    if (talk == NULL)
        return false;
    talk_end(talk, &problem_let_go, cut_off);
    end_key(service, talk->holder);
    return true;
}

bool gallery_cut(struct service *service, const char *number)
{
    char *end = NULL;
    unsigned long long wanted = strtoull(number, &end, 10);
    struct client *client = service->clients;
    if (end == number || *end != '\0')
        return false;
    while (client != NULL && (client->number != wanted || !is_listed(client)))
        client = client->next;
    if (client == NULL)
        return cut_talk(service, wanted);
    client_end(client, POLICY, cut_off);
    end_key(service, client->holder);
    return true;
}
