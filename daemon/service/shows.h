/* What is known, made into topics: for each mat the table's, the booth's and the followers', the
 * output that the screen shows, and the day's. */
#pragma once
#include <stdbool.h>
#include "service/service.h"

/* Publishes every topic of what has changed. False without memory. */
bool shows_publish(struct service *service);
/* Makes sure that a topic that may exist does: a mat's before its first bout. False: there is no
 * such topic, or no room for another mat. */
bool shows_ensure(struct service *service, const char *topic);
/* A topic that everybody may see. */
bool shows_is_public(const char *topic);
