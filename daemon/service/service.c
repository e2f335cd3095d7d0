#include "service/service.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "service/clients.h"
#include "service/exit_code.h"
#include "service/gallery.h"
#include "service/messages.h"
#include "service/routes.h"
#include "service/shows.h"
#include "service/talks.h"
#include "rules/time_of_day.h"
#include "wire/json.h"

enum {
    BODY_BYTES_MAX = 1 << 20,
    MESSAGE_BYTES_MAX = 64 << 10,
    QUEUE_BYTES_MAX = 1 << 20,
    FIRST_SECONDS = 10,
    PING_SECONDS = 5,
    GIVE_UP_SECONDS = 15,
    PATIENT_PING_SECONDS = 15,
    PATIENT_GIVE_UP_SECONDS = 45,
    UNSENT_SECONDS = 10,
    SLICE_FOLLOWERS = 128,
    SLICE_WHILE_COMMITTING = 32,
    TURNS_LEFT_OUT_MAX = 8,
};

/* ---- from net ---- */

static void on_request(void *context, struct request *request)
{
    routes_request(context, request);
}

static void on_abandoned(void *context, struct request *request)
{
    routes_abandoned(context, request);
}

static void on_opened(void *context, struct connection *connection)
{
    const struct service *service = context;
    struct client *client = client_new(context, connection, NULL);
    if (client == NULL)
        connection_close(connection, 1011, "out of memory");
    else if (service->stopping)
        client_leave(client);
}

static void on_message(void *context, struct connection *connection, const char *text, size_t size)
{
    struct client *client = connection_context(connection);
    (void)context;
    if (client != NULL && !client->ended)
        messages_take(client, text, size);
}

static void on_closed(void *context, struct connection *connection)
{
    (void)context;
    client_free(connection_context(connection));
}

static void on_drained(void *context, struct connection *connection)
{
    struct client *client = connection_context(connection);
    (void)context;
    if (client == NULL)
        return;
    if (client->follower != NULL)
        follower_caught_up(client->follower);
    else if (client->reads != NULL)
        client_read_on(client);
}

static void on_net_line(void *context, const char *line)
{
    const struct service *service = context;
    report(&service->report, REPORT_WARNING, "of the network", "reason=\"%s\"", line);
}

static bool on_is_open(void *context)
{
    const struct service *service = context;
    return !service->keys.needed;
}

/* ---- from relay ---- */

static bool on_send(void *context, void *to, struct frame *frame)
{
    struct service *service = context;
    bool taken = connection_send(to, frame);
    service->deliveries += taken ? 1 : 0;
    return taken;
}

static void on_send_to_many(void *context, void *const to[], size_t count, struct frame *frame,
                            bool taken[])
{
    struct service *service = context;
    connections_send(service->net, to, count, frame, taken);
    for (size_t i = 0; i < count; i++)
        service->deliveries += taken[i] ? 1 : 0;
}

/* ---- time ---- */

/* Followers have their turn when nobody was heard in the last one: a request takes the loop several
 * turns to read and to answer, and followers between them would keep it waiting each time. But they
 * have it some time, however much comes. */
static void on_handing_out(uv_idle_t *idle)
{
    struct service *service = idle->data;
    if (net_was_busy(service->net) && service->turns_left_out < TURNS_LEFT_OUT_MAX) {
        service->turns_left_out++;
        return;
    }
    service->turns_left_out = 0;
    bool commits = service->intake.first != NULL; /* what is published next may come any moment */
    relay_set_slice(service->relay, commits ? SLICE_WHILE_COMMITTING : SLICE_FOLLOWERS);
    if (!relay_continue(service->relay))
        uv_idle_stop(idle);
}

/* At the start, before anybody is there, nothing is handed out.
 * A commit may come to its end after the last handle was closed. One that is started while it is
 * being closed keeps the loop running for good (libuv 1.44 counts it as active, and never again).
 */
static void hand_out(struct service *service)
{
    if (service->net != NULL && !uv_is_closing((uv_handle_t *)&service->handing_out))
        uv_idle_start(&service->handing_out, on_handing_out);
}

static void on_second(uv_timer_t *timer)
{
    struct service *service = timer->data;
    service->seconds++;
    journal_note_alive(service->journal, daytime_now(&service->daytime));
    intake_tell_failure(service);
    life_second(service);
    clients_beat(service);
    hand_out(service);
    clients_recheck(service); /* keys end by time */
    talks_recheck(service);
    clients_end_silent(service, FIRST_SECONDS);
    if (relay_state(service->relay, "gallery") != NULL)
        gallery_publish(service);
}

/* So a period's end and an event always come in the order in which the log, read again, would give
 * them. What waits for a disk that has failed never comes. */
int64_t service_real(const struct service *service)
{
    int64_t now_ms = daytime_now(&service->daytime);
    const char *reason = NULL;
    if (service->intake.committed_seq >= service->log.count ||
        journal_failure(service->journal, &reason) != 0)
        return now_ms;
    const struct event *oldest = log_event(&service->log, service->intake.committed_seq + 1);
    int64_t oldest_ms = hall_comes_at(oldest);
    return oldest_ms < now_ms ? oldest_ms : now_ms;
}

static void on_passing(uv_timer_t *timer)
{
    struct service *service = timer->data;
    if (!hall_pass(&service->hall, service_real(service)))
        service_stop(service, EXIT_NO_MEMORY);
    else
        service_publish(service);
}

static void set_passing(struct service *service)
{
    int64_t next_ms = hall_next(&service->hall), views_ms = views_next(service);
    int64_t now_ms = daytime_now(&service->daytime);
    next_ms = views_ms < next_ms ? views_ms : next_ms;
    if (next_ms == INT64_MAX)
        uv_timer_stop(&service->passing);
    else
        uv_timer_start(&service->passing, on_passing,
                       next_ms > now_ms ? (uint64_t)(next_ms - now_ms) : 1, 0);
}

/* What has been told and may no longer be is told anew, up to the same moment, and nobody who comes
 * back is given what was sent before. */
static bool retell(struct service *service)
{
    if (service->hall.names_anew)
        outputs_conceal(service);
    service->hall.names_anew = false;
    if (!service->hall.stale)
        return true;
    relay_forget(service->relay, shows_is_public);
    outputs_thaw(service);
    views_retell(service);
    return hall_retell(&service->hall, &service->log, service->intake.committed_seq) &&
           hall_pass(&service->hall, service_real(service));
}

void service_publish(struct service *service)
{
    if (!retell(service) || !views_advance(service) || !shows_publish(service))
        report(&service->report, REPORT_ERROR, "out of memory while publishing", "%s", "");
    clients_read_on(service);
    archiving_look(service);
    hand_out(service);
    set_passing(service);
}

/* ---- the clocks that ran while nobody watched ---- */

static bool key_lost(struct service *service, const struct hall_bout *bout, int64_t alive_ms)
{
    struct intake_source source = {.by = "daemon", .own = true};
    char keyed_at[TIME_OF_DAY_SIZE], id[64];
    time_of_day_write(alive_ms, keyed_at);
    snprintf(id, sizeof id, "daemon:lost:%llu", (unsigned long long)service->log.count + 1);
    json_t *event = json_pack("{s:s, s:s, s:s, s:s, s:s}", "id", id, "type", "clock", "bout",
                              bout->bout->id, "do", "lost", "keyed_at", keyed_at);
    char *text = event != NULL ? json_line(event) : NULL;
    json_decref(event);
    if (text == NULL)
        return false;
    intake_take(service, &source, text, strlen(text), false);
    free(text);
    return true;
}

static bool key_lost_clocks(struct service *service, int64_t alive_ms)
{
    int64_t now_ms = daytime_now(&service->daytime);
    if (alive_ms == 0 || now_ms - alive_ms <= AWAY_MS)
        return true;
    for (const struct hall_bout *bout = service->hall.bouts; bout != NULL; bout = bout->next) {
        struct state state = state_of(&bout->fold, alive_ms);
        if (!state.clock.running)
            continue;
        report(&service->report, REPORT_WARNING, "a clock ran while the daemon was away",
               "bout=%s away_ms=%lld", bout->bout->id, (long long)(now_ms - alive_ms));
        if (!key_lost(service, bout, alive_ms))
            return false;
    }
    return true;
}

/* ---- start ---- */

/* A store that can't be written is no reason not to show what stands: journal.h. */
static bool open_store(struct service *service)
{
    char reason[JOURNAL_REASON_SIZE] = "";
    int status = journal_open(&service->journal, &service->loop, service->options.store, reason,
                              sizeof reason);
    if (status != 0) {
        report(&service->report, REPORT_ERROR, "the store can't be opened",
               "store=%s reason=\"%s\"", service->options.store,
               reason[0] != '\0' ? reason : uv_strerror(status));
        return false;
    }
    if (journal_notice(service->journal)[0] != '\0')
        report(&service->report, REPORT_WARNING, "the store is not as it was left",
               "store=%s reason=\"%s\"", service->options.store, journal_notice(service->journal));
    intake_tell_failure(service);
    return true;
}

static void report_no_listening(const struct service *service, const struct listening *listening,
                                const char *reason)
{
    if (listening == NULL)
        report(&service->report, REPORT_ERROR, "can't listen", "reason=\"%s\"", reason);
    else
        report(&service->report, REPORT_ERROR, "can't listen", "host=%s port=%d reason=\"%s\"",
               listening->host, listening->port, reason);
}

/* A proxy or tunnel brings others to a daemon that only listens to its own machine. */
static const char *fronting_refusal(const struct front *front, bool keys)
{
    const struct origin *origin = &front->public_url.origin;
    bool brings_others =
        front->trusted_count > 0 || (origin->host[0] != '\0' && !host_is_local(origin));
    return keys || !brings_others
               ? NULL
               : "others reach it through a proxy, and no key opens: make keys first, with "
                 "`boutwire key add`";
}

/* Where others reach it, it listens only with keys, and in plain text only when told so by name. */
static bool may_listen(struct service *service)
{
    const struct service_options *options = &service->options;
    for (size_t i = 0; i < options->listen_count; i++) {
        const struct listening *listening = &options->listen[i];
        const char *refusal = listening_refusal(listening->host, keys_any_opens(service),
                                                listening->tls, options->plain_text_network);
        if (refusal == NULL)
            continue;
        report_no_listening(service, listening, refusal);
        return false;
    }
    const char *refusal = fronting_refusal(options->front, keys_any_opens(service));
    if (refusal != NULL)
        report_no_listening(service, &options->listen[0], refusal);
    return refusal == NULL;
}

void service_reload_certificate(struct service *service)
{
    char reason[NET_REASON_SIZE];
    if (service->options.certificate_file == NULL)
        return;
    if (net_reload_certificate(service->net, reason))
        report(&service->report, REPORT_INFO, "the certificate is read again", "file=%s",
               service->options.certificate_file);
    else
        report(&service->report, REPORT_ERROR, "the certificate is no good, the old one stays",
               "reason=\"%s\"", reason);
}

static bool listen_on(struct service *service)
{
    const struct net_options options = {
        .listen = service->options.listen,
        .listen_count = service->options.listen_count,
        .certificate_file = service->options.certificate_file,
        .key_file = service->options.private_key_file,
        .pages_folder = service->options.pages_folder,
        .front = service->options.front,
        .body_bytes_max = BODY_BYTES_MAX,
        .message_bytes_max = MESSAGE_BYTES_MAX,
        .queue_bytes_max = QUEUE_BYTES_MAX,
        .clients_max = service->options.connections,
        .clients_per_address_max = service->options.connections_per_address,
        .first_seconds = FIRST_SECONDS,
        .ping_seconds = PING_SECONDS,
        .give_up_seconds = GIVE_UP_SECONDS,
        .unsent_seconds = UNSENT_SECONDS,
        .patient_ping_seconds = PATIENT_PING_SECONDS,
        .patient_give_up_seconds = PATIENT_GIVE_UP_SECONDS,
        .plain_sends = getenv("BOUTWIRE_PLAIN_SENDS") != NULL,
        .log = on_net_line,
        .log_context = service,
    };
    const struct net_callbacks callbacks = {
        .context = service,
        .request = on_request,
        .abandoned = on_abandoned,
        .opened = on_opened,
        .message = on_message,
        .closed = on_closed,
        .drained = on_drained,
        .is_open = on_is_open,
    };
    struct net_failure failure;
    if (net_start(&service->net, &service->loop, &options, &callbacks, &failure) == 0)
        return true;
    report_no_listening(service, failure.listening, failure.reason);
    return false;
}

static bool start_handles(struct service *service)
{
    uv_timer_init(&service->loop, &service->second);
    uv_timer_init(&service->loop, &service->passing);
    uv_idle_init(&service->loop, &service->handing_out);
    outputs_start(service);
    written_start(service);
    service->second.data = service->passing.data = service->handing_out.data = service;
    return life_start(service) && uv_timer_start(&service->second, on_second, 1000, 1000) == 0;
}

static void close_handles(struct service *service)
{
    life_close(service);
    uv_close((uv_handle_t *)&service->second, NULL);
    uv_close((uv_handle_t *)&service->passing, NULL);
    uv_close((uv_handle_t *)&service->handing_out, NULL);
    keys_close(service);
    outputs_stop(service);
    written_stop(service);
}

int service_port(const struct service *service, size_t i)
{
    return net_port(service->net, i);
}

/* ---- the end: no more clients, then no more log ---- */

void service_close(struct service *service)
{
    talkers_close(service->talkers);
    journal_note_alive(service->journal, daytime_now(&service->daytime));
    journal_close(service->journal, NULL, NULL);
    close_handles(service);
}

void service_stop(struct service *service, int code)
{
    if (code != EXIT_FINE)
        service->code = code;
    if (service->net != NULL)
        life_end(service);
    else
        service->stopping = true; /* before it listens: it won't */
}

/* All that was known is read, the lost clocks are keyed, and the first topics made. */
static bool open_hall(struct service *service)
{
    const struct relay_callbacks callbacks = {.context = service,
                                              .send = on_send,
                                              .send_to_many = on_send_to_many,
                                              .is_patient = topic_is_patient};
    if (!written_open(service) || !intake_load(service) || !outputs_load(service))
        return false;
    if (service->log.count > 0)
        daytime_not_before(&service->daytime, log_event(&service->log, service->log.count)->at_ms);
    service->relay = relay_new(journal_epoch(service->journal), &callbacks);
    if (service->relay == NULL || !key_lost_clocks(service, journal_last_alive(service->journal)))
        return false;
    relay_set_slice(service->relay, SLICE_FOLLOWERS);
    report(&service->report, REPORT_INFO, "the log is read", "store=%s events=%zu bouts=%zu",
           service->options.store, service->log.count, service->log.bout_count);
    return hall_pass(&service->hall, service_real(service)) && retell(service) &&
           outputs_open(service) && views_advance(service) && shows_publish(service);
}

static void run(struct service *service)
{
    service->began_ns = uv_hrtime();
    if (service->options.listening != NULL) {
        int code = service->options.listening(service->options.context, service);
        if (code != EXIT_FINE)
            service_stop(service, code);
    }
    archiving_start(service);
    life_listening(service);
    set_passing(service);
    uv_run(&service->loop, UV_RUN_DEFAULT);
    net_free(service->net);
}

/* Each step is undone by what stands below it, in the reverse order. */
static void run_opened(struct service *service)
{
    bool opened = start_handles(service) && keys_open(service) && may_listen(service) &&
                  open_hall(service) && keys_watch(service);
    /* Nobody sees a clock run that is about to be called lost. */
    while (opened && service->intake.first != NULL)
        uv_run(&service->loop, UV_RUN_ONCE);
    if (!opened || service->stopping || !talks_start(service) || !listen_on(service)) {
        service->code = opened && service->stopping ? service->code : EXIT_UNUSABLE;
        talkers_close(service->talkers);
        journal_close(service->journal, NULL, NULL);
        close_handles(service);
        uv_run(&service->loop, UV_RUN_DEFAULT);
        return;
    }
    run(service);
}

int service_run(const struct service_options *options)
{
    struct service *service = calloc(1, sizeof *service);
    if (service == NULL) {
        fputs("boutwire: out of memory\n", stderr);
        return EXIT_NO_MEMORY;
    }
    service->options = *options;
    service->rates.rate = options->events_rate;
    service->report = (struct report){
        .level = options->report_level, .form = options->report_form, .daytime = &service->daytime};
    daytime_start(&service->daytime);
    log_init(&service->log, options->editions, malloc, free);
    arena_init(&service->parsing, malloc, free);
    hall_init(&service->hall, service->options.language);
    if (uv_loop_init(&service->loop) != 0) {
        service->code = EXIT_UNUSABLE;
    } else {
        if (open_store(service))
            run_opened(service);
        else
            service->code = EXIT_UNUSABLE;
        uv_loop_close(&service->loop);
    }
    archiving_close(service);
    if (service->relay != NULL)
        relay_free(service->relay);
    talkers_free(service->talkers);
    rates_close(&service->rates);
    key_ring_close(&service->keys.ring);
    outputs_free(service);
    written_free(service);
    views_free(service);
    hall_close(&service->hall);
    draw_memory_close(&service->draws[0]);
    draw_memory_close(&service->draws[1]);
    arena_close(&service->parsing);
    log_close(&service->log);
    int code = service->code;
    free(service);
    return code;
}
