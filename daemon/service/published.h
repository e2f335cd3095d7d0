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

/* The bouts of one mat, or of all (NULL), of that hall, which is borrowed until published_close.
 * False without memory. */
bool published_of(struct published *published, const struct hall *hall, const char *mat,
                  int64_t now_ms);
struct service;
/* Every bout as the followers of its mat are shown it: behind by their delay. */
bool published_as_followed(struct published *published, struct service *service);
void published_close(struct published *published);
