#include "service/views.h"
#include <stdlib.h>
#include <string.h>
#include "service/service.h"

bool views_set_delay(struct service *service, const char *topic, int64_t delay_ms)
{
    (void)service;
    (void)topic;
    return delay_ms == 0;
}

int64_t views_delay(const struct service *service, const char *topic)
{
    (void)service;
    (void)topic;
    return 0;
}

char *views_write(const struct service *service)
{
    (void)service;
    return strdup("{}");
}

bool views_restore(struct service *service, const char *text)
{
    (void)service;
    return strcmp(text, "{}") == 0;
}

struct hall *views_hall(struct service *service, const char *topic)
{
    (void)topic;
    return &service->hall;
}

int64_t views_now(const struct service *service, const char *topic)
{
    (void)topic;
    return daytime_now(&service->daytime);
}

struct anchors views_anchors(const struct service *service, const char *topic)
{
    (void)service;
    (void)topic;
    return (struct anchors){0, false};
}

bool views_stand_still(const struct service *service, const char *topic)
{
    return views_anchors(service, topic).still;
}
