#include "service/life.h"
#include <signal.h>
#include <stdio.h>
#include "service/clients.h"
#include "service/service.h"
#include "service/talks.h"

enum {
    DRAIN_TICK_MS = 50,
    DRAIN_A_SECOND_MIN = 200, /* a few clients aren't spread: Ctrl-C on a laptop is quick */
};

/* ---- what the manager hears ---- */

static void tell_status(struct service *service)
{
    struct notify *notify = &service->life.notify;
    const char *reason = "";
    if (service->stopping)
        notify_status(notify, "stopping: %zu connections left", clients_count(service));
    else if (journal_failure(service->journal, &reason) != 0)
        notify_status(notify, "no event is taken, what stands is shown: %s", reason);
    else
        notify_status(notify, "%zu events of %zu bouts", service->log.count,
                      service->log.bout_count);
}

/* A job on the disk that has taken as long as the manager waits for us is stuck. */
static bool is_well(const struct service *service)
{
    return journal_busy_ms(service->journal) < service->life.notify.watchdog_ms;
}

static void on_watchdog(uv_timer_t *timer)
{
    struct service *service = timer->data;
    if (is_well(service))
        notify_alive(&service->life.notify);
}

void life_listening(struct service *service)
{
    tell_status(service);
    notify_ready(&service->life.notify);
}

void life_second(struct service *service)
{
    tell_status(service);
}

/* ---- the end ---- */

static void stopping_begin(struct service *service)
{
    if (service->stopping)
        return;
    service->stopping = true;
    notify_stopping(&service->life.notify);
    if (service->options.stopping != NULL)
        service->options.stopping(service->options.context);
    tell_status(service);
}

static void on_net_stopped(void *context)
{
    service_close(context);
}

void life_end(struct service *service)
{
    struct life *life = &service->life;
    stopping_begin(service);
    if (life->ending)
        return;
    life->ending = true;
    uv_timer_stop(&life->drain);
    net_stop(service->net, on_net_stopped, service);
}

/* Who works here is let go last, the picture on air too. */
static bool is_working(const struct client *client)
{
    return client->holder != NULL || client->privileged || client->shows == SHOWS_SCREEN;
}

static struct client *next_to_go(const struct service *service)
{
    struct client *working = NULL;
    for (struct client *client = service->clients; client != NULL; client = client->next) {
        if (client->ended)
            continue;
        if (!is_working(client))
            return client;
        working = client;
    }
    return working;
}

static size_t left_to_go(const struct service *service)
{
    size_t count = 0;
    for (const struct client *client = service->clients; client != NULL; client = client->next)
        count += client->ended ? 0 : 1;
    return count;
}

/* How many should still be there by now. */
static size_t drain_wanted(const struct life *life, uint64_t gone_ms)
{
    if (gone_ms >= life->drain_spread_ms)
        return 0;
    return life->drain_count * (size_t)(life->drain_spread_ms - gone_ms) /
           (size_t)life->drain_spread_ms;
}

static void on_drain(uv_timer_t *timer)
{
    struct service *service = timer->data;
    struct life *life = &service->life;
    uint64_t gone_ms = uv_now(&service->loop) - life->drain_began_ms;
    size_t left = left_to_go(service), wanted = drain_wanted(life, gone_ms);
    for (; left > wanted; left--)
        client_leave(next_to_go(service));
    bool requests = net_requests(service->net) > 0 || service->intake.first != NULL ||
                    talkers_count(service->talkers) > 0;
    if (left == 0 && (!requests || gone_ms >= service->options.drain_seconds * 1000ULL))
        life_end(service);
}

void life_drain(struct service *service)
{
    struct life *life = &service->life;
    uint64_t most_ms = service->options.drain_seconds * 1000ULL;
    stopping_begin(service);
    net_refuse(service->net);
    talkers_drain(service->talkers);
    life->drain_count = left_to_go(service);
    uint64_t quick_ms = life->drain_count * 1000 / DRAIN_A_SECOND_MIN;
    life->drain_spread_ms = quick_ms < most_ms ? quick_ms : most_ms;
    life->drain_began_ms = uv_now(&service->loop);
    uv_timer_start(&life->drain, on_drain, 0, DRAIN_TICK_MS);
}

/* ---- signals ---- */

static void on_stop_signal(uv_signal_t *handle, int signal)
{
    struct service *service = handle->data;
    report(&service->report, REPORT_INFO, service->stopping ? "stopping at once" : "stopping",
           "signal=%d connections=%zu", signal, clients_count(service));
    if (service->net == NULL) { /* it doesn't listen yet: there is nobody to wait for */
        service->stopping = true;
        return;
    }
    if (!service->stopping) {
        life_drain(service);
        return;
    }
    life_end(service);
    net_hurry(service->net);
}

static void on_hang_up(uv_signal_t *handle, int signal)
{
    struct service *service = handle->data;
    (void)signal;
    if (service->net == NULL || service->stopping)
        return;
    notify_reloading(&service->life.notify);
    service_reload_certificate(service);
    if (service->options.reload != NULL)
        service->options.reload(service->options.context, service);
    notify_ready(&service->life.notify);
}

/* ---- handles ---- */

bool life_start(struct service *service)
{
    struct life *life = &service->life;
    uv_loop_t *loop = &service->loop;
    if (!notify_open(&life->notify))
        report(&service->report, REPORT_WARNING, "NOTIFY_SOCKET is no address that can be told",
               "%s", "");
    uv_signal_init(loop, &life->interrupted);
    uv_signal_init(loop, &life->terminated);
    uv_signal_init(loop, &life->hung_up);
    uv_timer_init(loop, &life->watchdog);
    uv_timer_init(loop, &life->drain);
    life->interrupted.data = life->terminated.data = life->hung_up.data = service;
    life->watchdog.data = life->drain.data = service;
    uint64_t half_ms = life->notify.watchdog_ms / 2;
    if (uv_signal_start(&life->interrupted, on_stop_signal, SIGINT) != 0 ||
        uv_signal_start(&life->terminated, on_stop_signal, SIGTERM) != 0 ||
        uv_signal_start(&life->hung_up, on_hang_up, SIGHUP) != 0)
        return false;
    return half_ms == 0 || uv_timer_start(&life->watchdog, on_watchdog, 0, half_ms) == 0;
}

void life_close(struct service *service)
{
    struct life *life = &service->life;
    uv_close((uv_handle_t *)&life->interrupted, NULL);
    uv_close((uv_handle_t *)&life->terminated, NULL);
    uv_close((uv_handle_t *)&life->hung_up, NULL);
    uv_close((uv_handle_t *)&life->watchdog, NULL);
    uv_close((uv_handle_t *)&life->drain, NULL);
    notify_close(&life->notify);
}
