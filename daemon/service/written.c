/* The normal course: written_publish reads the values of every output into what is `wanted`, and
 * when no round is under way begins one; the round, on the pool, writes what isn't `there`; back on
 * the loop the next one begins, if something has changed. While a round runs it alone touches
 * `there` and `writing`, and the loop alone `wanted`. */
#include "service/written.h"
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include "service/flat.h"
#include "service/service.h"

enum { PATH_SIZE = 1024, REASON_SIZE = 200, LEAST_MS = 20 };

struct written_output {
    struct written_output *next;
    char name[OUTPUT_NAME_SIZE];
    struct flat wanted, writing;
    char there[FLAT_COUNT][FLAT_TEXT_SIZE];
    bool is_there[FLAT_COUNT];
    bool found;               /* the output is one still */
    char reason[REASON_SIZE]; /* why something couldn't be written; "": all was */
};

/* ---- on the pool ---- */

static int file_put(const char *path, const char *made, const char *text)
{
    int file = open(made, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644);
    if (file < 0)
        return errno;
    size_t size = strlen(text);
    int code = write(file, text, size) == (ssize_t)size ? 0 : errno;
    if (close(file) != 0 && code == 0)
        code = errno;
    if (code == 0 && rename(made, path) != 0)
        code = errno;
    if (code != 0)
        (void)unlink(made);
    return code;
}

static void value_write(struct written_output *output, const char *folder, enum flat_name name)
{
    char path[PATH_SIZE], made[PATH_SIZE];
    const char *text = output->writing.texts[name];
    if (output->is_there[name] && strcmp(output->there[name], text) == 0)
        return;
    snprintf(path, sizeof path, "%s/%s/%s.txt", folder, output->name, flat_name(name));
    snprintf(made, sizeof made, "%s/%s/.%s.new", folder, output->name, flat_name(name));
    int code = file_put(path, made, text);
    output->is_there[name] = code == 0;
    if (code == 0)
        memcpy(output->there[name], text, FLAT_TEXT_SIZE);
    else
        snprintf(output->reason, sizeof output->reason, "%s: %s", flat_name(name),
                 uv_strerror(uv_translate_sys_error(code)));
}

static void round_run(uv_work_t *work)
{
    struct service *service = work->data;
    char path[PATH_SIZE];
    for (struct written_output *output = service->written.round_first; output != NULL;
         output = output->next) {
        output->reason[0] = '\0';
        snprintf(path, sizeof path, "%s/%s", service->written.folder, output->name);
        if (mkdir(path, 0755) == 0) /* it is there most often; that it can't be, writing tells */
            memset(output->is_there, 0, sizeof output->is_there);
        for (unsigned name = 0; name < FLAT_COUNT; name++)
            if (!flat_moves((enum flat_name)name))
                value_write(output, service->written.folder, (enum flat_name)name);
    }
}

/* ---- on the loop ---- */

static void tell_failure(struct service *service)
{
    bool failed = false;
    for (const struct written_output *output = service->written.first; output != NULL;
         output = output->next) {
        if (output->reason[0] == '\0')
            continue;
        failed = true;
        if (!service->written.failed)
            report(&service->report, REPORT_ERROR, "values can't be written as files",
                   "folder=%s output=%s reason=\"%s\"", service->written.folder, output->name,
                   output->reason);
    }
    service->written.failed = failed;
}

static void round_begin(struct service *service);

static void round_done(uv_work_t *work, int status)
{
    struct service *service = work->data;
    (void)status; /* nobody cancels it */
    service->written.writes = false;
    tell_failure(service);
    if (service->written.again)
        round_begin(service);
}

/* An output that was removed is written once more, empty. */
static void forget_removed(struct written *written)
{
    struct written_output **place = &written->first;
    while (*place != NULL) {
        struct written_output *output = *place;
        bool gone = !output->found && output->wanted.texts[FLAT_OUTPUT][0] == '\0' &&
                    output->is_there[FLAT_OUTPUT] && output->there[FLAT_OUTPUT][0] == '\0';
        if (gone) {
            *place = output->next;
            free(output);
        } else {
            place = &output->next;
        }
    }
}

static void round_begin(struct service *service)
{
    struct written *written = &service->written;
    written->again = false;
    forget_removed(written);
    for (struct written_output *output = written->first; output != NULL; output = output->next)
        output->writing = output->wanted;
    written->round_first = written->first;
    written->work.data = service;
    written->writes = uv_queue_work(&service->loop, &written->work, round_run, round_done) == 0;
}

static struct written_output *written_find(struct written *written, const char *name)
{
    struct written_output *output = written->first;
    while (output != NULL && strcmp(output->name, name) != 0)
        output = output->next;
    return output;
}

/* While a round runs the list may grow at its head alone: the round has begun behind it. */
static struct written_output *written_add(struct written *written, const char *name)
{
    struct written_output *output = calloc(1, sizeof *output);
    if (output == NULL)
        return NULL;
    snprintf(output->name, sizeof output->name, "%s", name);
    output->next = written->first;
    written->first = output;
    return output;
}

/* Answers whether anything but what moves is another value than before. */
static bool take_values(struct written_output *output, const struct flat *flat)
{
    bool changed = false;
    for (unsigned name = 0; name < FLAT_COUNT; name++)
        changed = changed || (!flat_moves((enum flat_name)name) &&
                              strcmp(output->wanted.texts[name], flat->texts[name]) != 0);
    output->wanted = *flat;
    return changed;
}

static bool output_read(struct service *service, const struct output *of, int64_t *next_ms)
{
    struct flat flat;
    struct written_output *output = written_find(&service->written, of->name);
    flat_read(&flat, service, of);
    if (flat.next_ms < *next_ms)
        *next_ms = flat.next_ms;
    bool is_new = output == NULL;
    if (is_new)
        output = written_add(&service->written, of->name);
    if (output == NULL)
        return false;
    output->found = true;
    return take_values(output, &flat) || is_new;
}

static bool empty_removed(struct written *written)
{
    static const struct flat nothing;
    bool changed = false;
    for (struct written_output *output = written->first; output != NULL; output = output->next)
        if (!output->found)
            changed = take_values(output, &nothing) || changed;
    return changed;
}

static void on_timer(uv_timer_t *timer)
{
    written_publish(timer->data);
}

void written_publish(struct service *service)
{
    struct written *written = &service->written;
    int64_t next_ms = INT64_MAX;
    bool changed = false;
    if (written->folder == NULL || service->stopping)
        return;
    for (struct written_output *output = written->first; output != NULL; output = output->next)
        output->found = false;
    for (const struct output *output = outputs_next(service, NULL); output != NULL;
         output = outputs_next(service, output))
        changed = output_read(service, output, &next_ms) || changed;
    changed = empty_removed(written) || changed || written->failed;
    if (next_ms == INT64_MAX)
        uv_timer_stop(&written->timer);
    else
        uv_timer_start(&written->timer, on_timer, next_ms < LEAST_MS ? LEAST_MS : (uint64_t)next_ms,
                       0);
    written->again = written->again || changed;
    if (written->again && !written->writes)
        round_begin(service);
}

/* ---- the beginning and the end ---- */

bool written_open(struct service *service)
{
    const char *folder = service->options.write_files;
    struct stat status;
    if (folder == NULL)
        return true;
    bool there = mkdir(folder, 0755) == 0 || errno == EEXIST;
    there = there && stat(folder, &status) == 0 && S_ISDIR(status.st_mode) &&
            access(folder, W_OK | X_OK) == 0;
    if (there)
        service->written.folder = folder;
    else
        report(&service->report, REPORT_ERROR, "values can't be written as files",
               "folder=%s reason=\"%s\"", folder,
               errno != EEXIST ? uv_strerror(uv_translate_sys_error(errno)) : "it is no folder");
    return there;
}

void written_start(struct service *service)
{
    uv_timer_init(&service->loop, &service->written.timer);
    service->written.timer.data = service;
}

void written_stop(struct service *service)
{
    uv_close((uv_handle_t *)&service->written.timer, NULL);
}

void written_free(struct service *service)
{
    while (service->written.first != NULL) {
        struct written_output *output = service->written.first;
        service->written.first = output->next;
        free(output);
    }
}
