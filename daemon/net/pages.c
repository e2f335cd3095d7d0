#include "net/pages.h"
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

enum {
    KEPT_MAX = 256,                   /* files; one more is served, and not kept */
    PAGE_BYTES_MAX = 8 * 1024 * 1024, /* a larger file is PAGE_UNREADABLE */
};

struct kept {
    char *path;
    char etag[48];
    struct frame *bytes;
};

struct pages {
    char *folder;
    struct kept kept[KEPT_MAX];
    size_t kept_count;
};

struct pages *pages_new(const char *folder)
{
    struct pages *pages = calloc(1, sizeof *pages);
    if (pages == NULL)
        return NULL;
    pages->folder = strdup(folder);
    if (pages->folder == NULL) {
        free(pages);
        return NULL;
    }
    return pages;
}

void pages_free(struct pages *pages)
{
    if (pages == NULL)
        return;
    for (size_t i = 0; i < pages->kept_count; i++) {
        frame_release(pages->kept[i].bytes);
        free(pages->kept[i].path);
    }
    free(pages->folder);
    free(pages);
}

const char *page_type(const char *path)
{
    static const struct {
        const char *ending, *type;
    } types[] = {
        {".html", "text/html; charset=utf-8"},
        {".js", "text/javascript; charset=utf-8"},
        {".css", "text/css; charset=utf-8"},
        {".json", "application/json"},
        {".svg", "image/svg+xml"},
        {".png", "image/png"},
        {".ico", "image/x-icon"},
        {".woff2", "font/woff2"},
        {".txt", "text/plain; charset=utf-8"},
    };
    size_t size = strlen(path);
    for (size_t i = 0; i < sizeof types / sizeof *types; i++) {
        size_t ending = strlen(types[i].ending);
        if (size > ending && strcasecmp(path + size - ending, types[i].ending) == 0)
            return types[i].type;
    }
    return "application/octet-stream";
}

bool page_path_is_safe(const char *path)
{
    if (*path != '/')
        return false;
    for (; *path != '\0'; path++)
        if (path[0] == '/' && (path[1] == '.' || path[1] == '/'))
            return false;
    return true;
}

static struct kept *kept_find(struct pages *pages, const char *path)
{
    for (size_t i = 0; i < pages->kept_count; i++)
        if (strcmp(pages->kept[i].path, path) == 0)
            return &pages->kept[i];
    return NULL;
}

/* Keeps a file that was read, in the place of what it was before. Without room or memory it is
 * only not kept. */
static void kept_put(struct pages *pages, const char *path, const struct page *page)
{
    struct kept *kept = kept_find(pages, path);
    if (kept == NULL) {
        if (pages->kept_count == KEPT_MAX)
            return;
        char *copy = strdup(path);
        if (copy == NULL)
            return;
        kept = &pages->kept[pages->kept_count++];
        *kept = (struct kept){.path = copy};
    }
    frame_release(kept->bytes);
    kept->bytes = frame_keep(page->bytes);
    memcpy(kept->etag, page->etag, sizeof kept->etag);
}

/* The whole file; NULL when it ended early, could not be read, or there is no memory. */
static struct frame *file_read(int file, size_t size)
{
    char *bytes = malloc(size + 1);
    if (bytes == NULL)
        return NULL;
    size_t got = 0;
    while (got < size) {
        ssize_t count = read(file, bytes + got, size - got);
        if (count < 0 && errno == EINTR)
            continue;
        if (count <= 0)
            break;
        got += (size_t)count;
    }
    struct frame *frame = got == size ? frame_new(bytes, size) : NULL;
    free(bytes);
    return frame;
}

static enum page_found file_serve(struct pages *pages, const char *path, int file,
                                  struct page *page)
{
    struct stat about;
    if (fstat(file, &about) != 0)
        return PAGE_UNREADABLE;
    if (S_ISDIR(about.st_mode))
        return PAGE_IS_FOLDER;
    if (!S_ISREG(about.st_mode) || about.st_size > PAGE_BYTES_MAX)
        return PAGE_UNREADABLE;
    struct page found = {.type = page_type(path)};
    snprintf(found.etag, sizeof found.etag, "\"%llx-%llx.%lx\"", (unsigned long long)about.st_size,
             (unsigned long long)about.st_mtim.tv_sec, (unsigned long)about.st_mtim.tv_nsec);
    struct kept *kept = kept_find(pages, path);
    if (kept != NULL && strcmp(kept->etag, found.etag) == 0) {
        found.bytes = frame_keep(kept->bytes);
        *page = found;
        return PAGE_FOUND;
    }
    found.bytes = file_read(file, (size_t)about.st_size);
    if (found.bytes == NULL)
        return PAGE_UNREADABLE;
    kept_put(pages, path, &found);
    *page = found;
    return PAGE_FOUND;
}

enum page_found pages_find(struct pages *pages, const char *path, struct page *page)
{
    if (!page_path_is_safe(path))
        return PAGE_ABSENT;
    bool folder = path[strlen(path) - 1] == '/';
    char name[PATH_MAX];
    int size =
        snprintf(name, sizeof name, "%s%s%s", pages->folder, path, folder ? "index.html" : "");
    if (size < 0 || (size_t)size >= sizeof name)
        return PAGE_ABSENT;
    /* O_NONBLOCK: a FIFO that someone left in the folder must not stop the loop. */
    int file = open(name, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (file < 0)
        return errno == ENOENT || errno == ENOTDIR || errno == ENAMETOOLONG ? PAGE_ABSENT
                                                                            : PAGE_UNREADABLE;
    enum page_found found = file_serve(pages, name + strlen(pages->folder), file, page);
    close(file);
    return folder && found == PAGE_IS_FOLDER ? PAGE_ABSENT : found;
}
