#include "service/rates.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct rate_source {
    char name[RATES_NAME_SIZE];
    struct bucket bucket;
};

/* The place for a new one. */
static struct rate_source *make_room(struct rates *rates, int64_t now_ms)
{
    if (rates->count < RATES_SOURCES_MAX)
        return &rates->sources[rates->count++];
    struct rate_source *fullest = rates->sources;
    for (size_t i = 1; i < rates->count; i++)
        if (bucket_holds(&rates->sources[i].bucket, &rates->rate, now_ms) >
            bucket_holds(&fullest->bucket, &rates->rate, now_ms))
            fullest = &rates->sources[i];
    return fullest;
}

static struct rate_source *source_of(struct rates *rates, const char *name, int64_t now_ms)
{
    if (rates->sources == NULL)
        rates->sources = calloc(RATES_SOURCES_MAX, sizeof *rates->sources);
    if (rates->sources == NULL)
        return NULL;
    for (size_t i = 0; i < rates->count; i++)
        if (strncmp(rates->sources[i].name, name, RATES_NAME_SIZE - 1) == 0)
            return &rates->sources[i];
    struct rate_source *source = make_room(rates, now_ms);
    snprintf(source->name, sizeof source->name, "%s", name);
    source->bucket = bucket_full(&rates->rate, now_ms);
    return source;
}

int64_t rates_ask(struct rates *rates, const char *name, size_t count, int64_t now_ms)
{
    if (rates->rate.a_second <= 0)
        return 0;
    struct rate_source *source = source_of(rates, name, now_ms);
    if (source == NULL) /* without memory nothing will be taken anyway */
        return 0;
    int64_t wait_ms = bucket_take(&source->bucket, &rates->rate, (double)count, now_ms);
    rates->refused += wait_ms > 0 ? 1 : 0;
    return wait_ms;
}

void rates_close(struct rates *rates)
{
    free(rates->sources);
}
