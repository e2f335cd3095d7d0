/* A system clock that a test steps, put between a program and the C library by LD_PRELOAD: the time
 * of day is off by as many seconds as the file STEP_FILE says. The monotonic clock is left alone.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/time.h>
#include <time.h>

static time_t step(void)
{
    const char *path = getenv("STEP_FILE");
    FILE *file = path != NULL ? fopen(path, "re") : NULL;
    long seconds = 0;
    if (file == NULL)
        return 0;
    if (fscanf(file, "%ld", &seconds) != 1)
        seconds = 0;
    fclose(file);
    return seconds;
}

int clock_gettime(clockid_t clock, struct timespec *now)
{
    int (*really)(clockid_t, struct timespec *);
    *(void **)&really = dlsym(RTLD_NEXT, "clock_gettime");
    int result = really(clock, now);
    if (result == 0 && (clock == CLOCK_REALTIME || clock == CLOCK_REALTIME_COARSE))
        now->tv_sec += step();
    return result;
}

int gettimeofday(struct timeval *restrict now, void *restrict zone)
{
    struct timespec precise;
    (void)zone;
    if (clock_gettime(CLOCK_REALTIME, &precise) != 0)
        return -1;
    now->tv_sec = precise.tv_sec;
    now->tv_usec = precise.tv_nsec / 1000;
    return 0;
}

time_t time(time_t *to)
{
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    if (to != NULL)
        *to = now.tv_sec;
    return now.tv_sec;
}
