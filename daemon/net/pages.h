/* The pages: the files of one folder, as a browser asks for them.
 * A path names a file below the folder; one that ends in "/" means the index.html there. No part of
 * a path may begin with a dot, so nothing above the folder and no hidden file is ever reached.
 * A file that was read is kept and shared by everyone who is being sent it, and read again when its
 * time or size has changed: ten thousand followers opening the page at once cost one copy of it. */
#pragma once
#include <stdbool.h>
#include "wire/frame.h"

struct pages;

enum page_found {
    PAGE_FOUND,
    PAGE_ABSENT,
    PAGE_IS_FOLDER, /* there is one of this name; its address ends in "/" */
    PAGE_UNREADABLE,
};

struct page {
    struct frame *bytes; /* the caller's reference, to be released */
    const char *type;
    char etag[48]; /* with its quotes */
};

/* NULL without memory. `folder` is copied; it need not exist yet. */
struct pages *pages_new(const char *folder);
void pages_free(struct pages *pages);

/* `path` is decoded and begins with "/". `page` is written on PAGE_FOUND alone. */
enum page_found pages_find(struct pages *pages, const char *path, struct page *page);

/* The media type that a file's name asks for. */
const char *page_type(const char *path);
/* Whether a path stays below the folder and names nothing hidden. */
bool page_path_is_safe(const char *path);
