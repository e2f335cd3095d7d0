/* The normal course: archiving_look makes entries of the bouts that are due (on the loop, from
 * their folds), the job writes them in one transaction (on the pool: it touches nothing but the
 * entries, whose texts the log keeps for as long as it lives), and back on the loop it looks again.
 */
#include "service/archiving.h"
#include <stdio.h>
#include <stdlib.h>
#include "service/service.h"

/* ---- on the pool ---- */

static int write_entries(struct archiving *archiving)
{
    int code = archive_begin(archiving->archive);
    for (size_t i = 0; i < archiving->entry_count && code == 0; i++) {
        bool written;
        code = archive_put(archiving->archive, &archiving->entries[i], &written);
    }
    return code == 0 ? archive_commit(archiving->archive) : code;
}

static void job_write(uv_work_t *work)
{
    struct service *service = work->data;
    struct archiving *archiving = &service->archiving;
    archiving->code = write_entries(archiving);
    if (archiving->code != 0)
        snprintf(archiving->reason, sizeof archiving->reason, "%s",
                 archive_reason(archiving->archive));
}

static void job_open(uv_work_t *work)
{
    struct service *service = work->data;
    struct archiving *archiving = &service->archiving;
    archiving->code = archive_open(&archiving->archive, service->options.archive, ARCHIVE_WRITE,
                                   archiving->reason, sizeof archiving->reason);
}

/* ---- on the loop ---- */

static void give_up(struct service *service)
{
    struct archiving *archiving = &service->archiving;
    report(&service->report, REPORT_WARNING, "the archive can't be used, the daemon runs without",
           "archive=%s reason=\"%s\"", service->options.archive, archiving->reason);
    archive_close(archiving->archive);
    archiving->archive = NULL;
    archiving->is_off = true;
}

static void start(struct service *service, void (*run)(uv_work_t *), void (*done)(uv_work_t *, int))
{
    struct archiving *archiving = &service->archiving;
    archiving->works = true;
    archiving->code = 0;
    archiving->work.data = service;
    if (uv_queue_work(&service->loop, &archiving->work, run, done) != 0)
        abort(); /* it fails only without a function to run */
}

static void opened(uv_work_t *work, int status)
{
    struct service *service = work->data;
    (void)status; /* nobody cancels it */
    service->archiving.works = false;
    if (service->archiving.code != 0)
        give_up(service);
    else
        archiving_look(service);
}

/* What couldn't be written because another process wrote just then is due again. */
static void take_back(struct service *service)
{
    for (struct hall_bout *bout = service->hall.bouts; bout != NULL; bout = bout->next)
        for (size_t i = 0; i < service->archiving.entry_count; i++)
            if (service->archiving.entries[i].bout == bout->bout->id)
                bout->archived_count = 0;
}

static void written(uv_work_t *work, int status)
{
    struct service *service = work->data;
    struct archiving *archiving = &service->archiving;
    (void)status;
    archiving->works = false;
    if (archiving->code == UV_EBUSY)
        take_back(service);
    else if (archiving->code != 0)
        give_up(service);
    archiving->entry_count = 0;
    arena_reset(&archiving->arena);
    if (archiving->code == 0)
        archiving_look(service);
}

/* Closed, or no longer closed but written before; and not yet as it is now. */
static bool is_due(const struct hall_bout *bout)
{
    return bout->fold.count != bout->archived_count &&
           (bout->fold.close != EVENT_NONE || bout->archived_count > 0);
}

/* Without memory for it the bout stays due. */
static bool entry_add(struct archiving *archiving, struct hall_bout *bout)
{
    struct state state = state_of(&bout->fold, bout->fold.latest_moment_ms);
    struct archive_entry *entries =
        arena_grow(&archiving->arena, archiving->entries, archiving->entry_count,
                   &archiving->entry_capacity, sizeof *entries);
    if (entries == NULL)
        return false;
    archiving->entries = entries;
    if (!archive_entry_of(&entries[archiving->entry_count], &state, &archiving->arena))
        return false;
    archiving->entry_count++;
    bout->archived_count = bout->fold.count;
    return true;
}

void archiving_look(struct service *service)
{
    struct archiving *archiving = &service->archiving;
    if (archiving->archive == NULL || archiving->works)
        return;
    archiving->entries = NULL;
    archiving->entry_capacity = 0;
    for (struct hall_bout *bout = service->hall.bouts; bout != NULL; bout = bout->next)
        if (is_due(bout) && !entry_add(archiving, bout))
            break;
    if (archiving->entry_count > 0)
        start(service, job_write, written);
}

void archiving_start(struct service *service)
{
    arena_init(&service->archiving.arena, malloc, free);
    if (service->options.archive == NULL)
        service->archiving.is_off = true;
    else
        start(service, job_open, opened);
}

void archiving_close(struct service *service)
{
    archive_close(service->archiving.archive);
    service->archiving.archive = NULL;
    arena_close(&service->archiving.arena);
}
