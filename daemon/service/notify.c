#define _GNU_SOURCE /* SOCK_CLOEXEC */
#include "service/notify.h"
#include <errno.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <uv.h>

static void say(struct notify *notify, const char *text)
{
    if (notify->socket >= 0)
        sendto(notify->socket, text, strlen(text), MSG_NOSIGNAL | MSG_DONTWAIT,
               (const struct sockaddr *)&notify->to, notify->to_size);
}

/* unix(7): an abstract name begins with a zero byte and isn't terminated. */
static bool address_read(struct notify *notify, const char *name)
{
    size_t size = strlen(name);
    if ((name[0] != '/' && name[0] != '@') || size < 2 || size >= sizeof notify->to.sun_path)
        return false;
    notify->to = (struct sockaddr_un){.sun_family = AF_UNIX};
    memcpy(notify->to.sun_path, name, size);
    notify->to_size = (socklen_t)(offsetof(struct sockaddr_un, sun_path) + size);
    if (name[0] == '@')
        notify->to.sun_path[0] = '\0';
    else
        notify->to_size++;
    return true;
}

/* sd_watchdog_enabled(3): not for us when WATCHDOG_PID names another process. */
static uint64_t watchdog_read(void)
{
    const char *microseconds = getenv("WATCHDOG_USEC"), *pid = getenv("WATCHDOG_PID");
    char *end = NULL;
    if (microseconds == NULL || (pid != NULL && strtol(pid, NULL, 10) != (long)getpid()))
        return 0;
    unsigned long long wanted = strtoull(microseconds, &end, 10);
    return end != microseconds && *end == '\0' ? wanted / 1000 : 0;
}

bool notify_open(struct notify *notify)
{
    const char *name = getenv("NOTIFY_SOCKET");
    *notify = (struct notify){.socket = -1};
    bool good = name == NULL || address_read(notify, name);
    if (name != NULL && good) {
        notify->socket = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
        notify->watchdog_ms = notify->socket >= 0 ? watchdog_read() : 0;
    }
    unsetenv("NOTIFY_SOCKET");
    unsetenv("WATCHDOG_USEC");
    unsetenv("WATCHDOG_PID");
    return good;
}

void notify_close(struct notify *notify)
{
    if (notify->socket >= 0)
        close(notify->socket);
    notify->socket = -1;
}

void notify_ready(struct notify *notify)
{
    say(notify, "READY=1");
}

/* CLOCK_MONOTONIC in microseconds: what uv_hrtime gives, in nanoseconds. */
void notify_reloading(struct notify *notify)
{
    char text[80];
    snprintf(text, sizeof text, "RELOADING=1\nMONOTONIC_USEC=%llu",
             (unsigned long long)(uv_hrtime() / 1000));
    say(notify, text);
}

void notify_stopping(struct notify *notify)
{
    say(notify, "STOPPING=1");
}

void notify_alive(struct notify *notify)
{
    say(notify, "WATCHDOG=1");
}

void notify_status(struct notify *notify, const char *format, ...)
{
    char status[NOTIFY_STATUS_SIZE], text[NOTIFY_STATUS_SIZE + 8];
    va_list values;
    va_start(values, format);
    vsnprintf(status, sizeof status, format, values);
    va_end(values);
    for (char *end = strchr(status, '\n'); end != NULL; end = strchr(end, '\n'))
        *end = ' ';
    if (strcmp(status, notify->status) == 0)
        return;
    memcpy(notify->status, status, sizeof status);
    snprintf(text, sizeof text, "STATUS=%s", status);
    say(notify, text);
}
