/* The gallery's topic: who is connected, and how many watch; and cutting somebody off. */
#pragma once
#include <stdbool.h>
#include "service/service.h"

/* Publishes the topic; once a second at most, however many come and go. False without memory. */
bool gallery_publish(struct service *service);
/* Lets go of the one with that number in the topic, and ends the key that it holds: with it goes
 * whoever else holds that key, and nobody comes back with it. False: there is no such one. */
bool gallery_cut(struct service *service, const char *number);
