#include "service/published.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "service/service.h"
#include "service/views.h"

/* The result as it was told, and when it was told first and last. */
static void find_sentence(struct exported_bout *exported, const struct hall *hall)
{
    for (const struct mat *mat = hall->mats; mat != NULL; mat = mat->next)
        for (size_t i = 0; i < mat->line_count; i++) {
            const struct told_line *told = &mat->lines[i];
            if (told->line.kind != LINE_RESULT ||
                strcmp(told->bout->id, exported->fold->bout->id) != 0)
                continue;
            if (exported->sentence == NULL)
                exported->published_ms = told->at_ms;
            exported->sentence = told->line.text;
            exported->updated_ms = told->at_ms;
        }
}

static struct exported_bout export_of(const struct hall *hall, const struct hall_bout *bout)
{
    struct exported_bout exported = {.fold = hall_public_fold(bout)};
    int32_t close = exported.fold->close;
    if (close == EVENT_NONE)
        return exported;
    find_sentence(&exported, hall);
    if (exported.sentence == NULL) { /* it has no mat, so that no line tells of it */
        exported.published_ms = exported.fold->events[close].event->at_ms;
        exported.updated_ms = exported.fold->latest_moment_ms;
        exported.sentence = "";
    }
    return exported;
}

static int64_t began_ms(const struct exported_bout *bout)
{
    const struct fold *fold = bout->fold;
    for (size_t i = 0; i < fold->count; i++)
        if (fold->events[i].stands && fold->events[i].event->type == EVENT_CLOCK)
            return fold->events[i].event->moment_ms;
    return fold->bout->events[0].at_ms;
}

static int by_beginning(const void *one, const void *other)
{
    int64_t a = began_ms(one), b = began_ms(other);
    return a < b ? -1 : a > b ? 1 : 0;
}

static bool is_of(const struct hall_bout *bout, const char *mat)
{
    return mat == NULL || (bout->mat != NULL && strcmp(bout->mat->name, mat) == 0);
}

static bool make_room(struct published *published, const struct hall *hall)
{
    size_t count = 0;
    for (const struct hall_bout *bout = hall->bouts; bout != NULL; bout = bout->next)
        count++;
    published->room = malloc((count + 1) * sizeof *published->room);
    return published->room != NULL;
}

static void arrange(struct published *published, size_t count, const struct hall *hall,
                    int64_t now_ms)
{
    qsort(published->room, count, sizeof *published->room, by_beginning);
    published->bouts = (struct exported_bouts){published->room, count, hall->language, now_ms};
}

bool published_of(struct published *published, const struct hall *hall, const char *mat,
                  int64_t now_ms)
{
    size_t count = 0;
    if (!make_room(published, hall))
        return false;
    for (const struct hall_bout *bout = hall->bouts; bout != NULL; bout = bout->next)
        if (is_of(bout, mat))
            published->room[count++] = export_of(hall, bout);
    arrange(published, count, hall, now_ms);
    return true;
}

bool published_as_followed(struct published *published, struct service *service)
{
    const struct hall *hall = &service->hall;
    size_t count = 0;
    if (!make_room(published, hall))
        return false;
    for (const struct hall_bout *bout = hall->bouts; bout != NULL; bout = bout->next) {
        const struct seen_bout seen = views_bout(service, bout, "follow");
        if (seen.bout != NULL)
            published->room[count++] = export_of(seen.hall, seen.bout);
    }
    arrange(published, count, hall, daytime_now(&service->daytime));
    return true;
}

void published_close(struct published *published)
{
    free(published->room);
}
