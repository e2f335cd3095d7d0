/* boutwire export --as: what may be published of a store, in other people's forms. */
#pragma once
#include <stdbool.h>
#include <stdint.h>
#include "journal/store.h"

enum export_form {
    FORM_NONE, /* the log itself */
    FORM_CHAPTERS,
    FORM_CUES,
    FORM_CHAPTER_LINES,
    FORM_ATOM,
    FORM_RESULTS,
    FORM_SCORES,
    FORM_SPORT,
};
/* False: there is none of that name. */
bool export_form_read(const char *name, enum export_form *form);
bool export_form_wants_video(enum export_form form);

struct export_wish {
    enum export_form form;
    const char *mat;         /* NULL: all */
    const char *bout;        /* of FORM_SPORT */
    const char *language;    /* "en" */
    const char *url;         /* where it will be: of FORM_ATOM and FORM_SPORT; NULL: not known */
    int64_t video_starts_ms; /* of the forms for a video */
    bool public_minors;
};

/* Prints it; answers the program's exit code. */
int export_as(struct store *store, const struct export_wish *wish);
