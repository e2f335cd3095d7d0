/* What the service manager that started the daemon is told, and asks.
 * Source: sd_notify(3) and sd_watchdog_enabled(3), systemd 252: one datagram a message to the
 * socket named by NOTIFY_SOCKET, a path or, after "@", an abstract name; variables a line each.
 * Written directly: the protocol is the interface. Without NOTIFY_SOCKET nothing is told. A message
 * that can't be sent is lost: the daemon doesn't wait for its manager. */
#pragma once
#include <stdbool.h>
#include <stdint.h>
#include <sys/socket.h>
#include <sys/un.h>

enum { NOTIFY_STATUS_SIZE = 160 };

struct notify {
    int socket; /* -1: nobody is told */
    struct sockaddr_un to;
    socklen_t to_size;
    uint64_t watchdog_ms; /* it wants to hear of us at least so often; 0: it doesn't ask */
    char status[NOTIFY_STATUS_SIZE];
};

/* Reads NOTIFY_SOCKET, WATCHDOG_USEC and WATCHDOG_PID, and takes them out of the environment:
 * they aren't for what we start. False: NOTIFY_SOCKET is no address that can be told. */
bool notify_open(struct notify *notify);
void notify_close(struct notify *notify);

void notify_ready(struct notify *notify);     /* READY=1; also the end of a reload */
void notify_reloading(struct notify *notify); /* RELOADING=1, MONOTONIC_USEC= */
void notify_stopping(struct notify *notify);  /* STOPPING=1 */
void notify_alive(struct notify *notify);     /* WATCHDOG=1 */
/* STATUS=, one line; what was told last isn't told again. */
void notify_status(struct notify *notify, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
