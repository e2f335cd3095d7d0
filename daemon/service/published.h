/* The bouts of a hall as exports are made of them (exports/exports.h): what the public may see, in
 * the order in which they began. */
#pragma once
#include <stdbool.h>
#include "exports/exports.h"
#include "service/hall.h"

struct published {
    struct exported_bouts bouts;
    struct exported_bout *room; /* freed by published_close */
};

/* Begin with {0}. Adds the bouts of one mat, or of all (NULL), of that hall, which is borrowed
 * until published_close. False without memory. */
bool published_add(struct published *published, const struct hall *hall, const char *mat,
                   int64_t now_ms);
struct service;
/* Every mat's bouts as its followers are shown them: behind by their delay. */
bool published_add_followed(struct published *published, struct service *service);
void published_close(struct published *published);
