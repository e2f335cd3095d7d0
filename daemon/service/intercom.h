/* Between a booth and the gallery: one line each way, said, seen at once, acknowledged. It is no
 * event of a bout: it stands in the memory of this run alone, in no log, and in no public topic;
 * no delay holds it back. docs/wire.md, "Talk". */
#pragma once
#include <jansson.h>
#include <stdbool.h>
#include <stdint.h>
#include "access/access.h"
#include "access/key_ring.h"

struct service;
struct problem;

enum {
    INTERCOM_KEPT = 64, /* lines of all mats; the oldest goes */
    INTERCOM_BOOTH = 6, /* the latest, that a booth's topic has … */
    INTERCOM_GALLERY = 16,
    INTERCOM_CHARACTERS = 140,
};

struct spoken {
    uint64_t number; /* from 1, in this run */
    bool to_booth;   /* else to the gallery */
    char mat[AUDIENCE_MAT_SIZE];
    char text[4 * INTERCOM_CHARACTERS + 1];
    char by[KEY_NAME_LENGTH_MAX + 1]; /* "": nobody showed a key */
    int64_t at_ms, seen_ms;           /* seen_ms 0: nobody has acknowledged it */
};

struct intercom {
    struct spoken lines[INTERCOM_KEPT];
    uint64_t count; /* said in this run */
};

struct intercom_source {
    struct grant grant;
    const char *by;
};

struct intercom_answer {
    const struct problem *problem; /* NULL: done */
    const char *detail, *pointer;  /* of the problem; may be NULL */
    json_t *done;                  /* a new reference; NULL without memory */
};

/* {"say": {"to", "mat", "text"}} or {"seen": NUMBER}, with an "id" of the sender's own, or without.
 * What came of it is published before this answers. */
struct intercom_answer intercom_take(struct service *service, const struct intercom_source *source,
                                     const json_t *message);
/* What was said lately between that booth and the gallery; `mat` NULL: every booth. A new
 * reference; NULL without memory. */
json_t *intercom_json(const struct intercom *intercom, const char *mat);
