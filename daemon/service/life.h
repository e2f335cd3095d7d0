/* How the daemon begins, takes new settings, and ends; and what its service manager hears of it.
 *
 * SIGTERM or SIGINT: the orderly end. At once /readyz says 503 and nobody new is let in; what has
 * been sent is still committed and answered; then those who listen are let go (1001), spread over
 * `drain_seconds` at most, viewers first, because who goes last is back first; then, within a few
 * seconds, everybody. A second signal ends the wait: whoever is there is cut off. What has been
 * taken is on the disk in either case.
 * SIGHUP: the certificate and the settings are read again (service_options.reload).
 * The watchdog hears of us at half its time, while the loop turns and the disk isn't stuck. A store
 * that has failed is no reason to be restarted: what stands is still shown. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <uv.h>
#include "service/notify.h"

struct service;

struct life {
    struct notify notify;
    uv_signal_t interrupted, terminated, hung_up;
    uv_timer_t watchdog, drain;
    uint64_t drain_began_ms, drain_spread_ms;
    size_t drain_count; /* how many listened when it began */
    bool ending;        /* net has been told to stop */
};

/* Before anything else; false: reported. */
bool life_start(struct service *service);
void life_listening(struct service *service); /* the log is read, and the port open */
void life_second(struct service *service);    /* once a second: the status line */
void life_close(struct service *service);     /* its handles; the last words have been said */

void life_drain(struct service *service);
/* Ends it without waiting for those who listen, or goes on to that from the drain. */
void life_end(struct service *service);
