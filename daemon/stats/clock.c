#include "stats/clock.h"

struct clock clock_new(void)
{
    return (struct clock){.period = 1};
}

struct clock_reading clock_at(const struct clock *clock, int32_t period_ms, int64_t moment_ms)
{
    struct clock_reading reading = {.period = clock->period, .t_ms = clock->t_ms};
    if (clock->t_ms >= period_ms) {
        reading.t_ms = period_ms;
        reading.used_up = true;
        reading.used_up_ms = clock->used_up_ms;
        return reading;
    }
    if (!clock->running)
        return reading;
    int64_t gone_ms = moment_ms > clock->anchor_ms ? moment_ms - clock->anchor_ms : 0;
    int64_t left_ms = (int64_t)period_ms - clock->t_ms;
    reading.used_up = gone_ms >= left_ms;
    reading.running = !reading.used_up;
    reading.t_ms = reading.used_up ? period_ms : clock->t_ms + (int32_t)gone_ms;
    reading.used_up_ms = clock->anchor_ms + left_ms;
    return reading;
}

static void anchor(struct clock *clock, int32_t t_ms, bool running, int64_t moment_ms)
{
    clock->t_ms = t_ms;
    clock->running = running;
    clock->anchor_ms = moment_ms;
}

/* The time comes to the length by decree, not by running. */
static void use_up(struct clock *clock, int32_t period_ms, int64_t moment_ms)
{
    anchor(clock, period_ms, false, moment_ms);
    clock->used_up_ms = moment_ms;
}

static bool start(struct clock *clock, const struct event *event, const struct details *details,
                  const struct clock_reading *now, int64_t moment_ms)
{
    bool later = event_gives(event, MEMBER_PERIOD) && event->period <= details->periods &&
                 event->period > now->period;
    if (later) {
        clock->period = event->period;
        anchor(clock, 0, true, moment_ms);
    } else if (!now->running && !now->used_up) {
        anchor(clock, now->t_ms, true, moment_ms);
    }
    return later;
}

/* A `set` whose members an amendment has taken away keeps what it doesn't name. */
static void set(struct clock *clock, const struct event *event, const struct details *details,
                const struct clock_reading *now, int64_t moment_ms)
{
    int32_t t_ms = event_gives(event, MEMBER_T_MS) ? event->t_ms : now->t_ms;
    if (event_gives(event, MEMBER_PERIOD))
        clock->period = event->period < details->periods ? event->period : details->periods;
    if (t_ms >= details->period_ms)
        use_up(clock, details->period_ms, moment_ms);
    else
        anchor(clock, t_ms, now->running, moment_ms);
}

bool clock_apply(struct clock *clock, const struct event *event, const struct details *details,
                 int64_t moment_ms)
{
    struct clock_reading now = clock_at(clock, details->period_ms, moment_ms);
    bool began = false;
    clock->keyed = true;
    clock->unsure = event->what == CLOCK_LOST;
    switch ((enum clock_do)event->what) {
    case CLOCK_START:
        began = start(clock, event, details, &now, moment_ms);
        break;
    case CLOCK_SET:
        set(clock, event, details, &now, moment_ms);
        break;
    case CLOCK_END:
        if (!now.used_up)
            use_up(clock, details->period_ms, moment_ms);
        break;
    case CLOCK_STOP:
    case CLOCK_LOST:
        if (now.running)
            anchor(clock, now.t_ms, false, moment_ms);
        break;
    }
    return began;
}
