/* The normal course: archiving_look makes entries of the bouts that are due (on the loop, from
 * their folds), the job writes them in one transaction (on the pool: it touches nothing but the
 * entries, whose texts the log keeps for as long as it lives), and back on the loop it looks again.
 */
#include "service/archiving.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
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

static void job_ask(uv_work_t *work)
{
    struct service *service = work->data;
    struct archiving *archiving = &service->archiving;
    struct known_past *asked = archiving->asked;
    archiving->code = archive_past(archiving->archive, asked->details, asked->called_at_ms,
                                   &asked->arena, &asked->past);
    if (archiving->code != 0)
        snprintf(archiving->reason, sizeof archiving->reason, "%s",
                 archive_reason(archiving->archive));
}

static void job_question(uv_work_t *work)
{
    struct service *service = work->data;
    struct archiving *archiving = &service->archiving;
    archiving->code = archiving->questions->ask(archiving->archive, archiving->questions);
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

static void answer_first(struct archiving *archiving, bool known)
{
    struct archive_question *question = archiving->questions;
    archiving->questions = question->next;
    question->answer(question, known);
}

static void give_up(struct service *service)
{
    struct archiving *archiving = &service->archiving;
    report(&service->report, REPORT_WARNING, "the archive can't be used, the daemon runs without",
           "archive=%s reason=\"%s\"", service->options.archive, archiving->reason);
    archive_close(archiving->archive);
    archiving->archive = NULL;
    archiving->is_off = true;
    while (archiving->questions != NULL)
        answer_first(archiving, false);
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

static void question_asked(uv_work_t *work, int status);

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
    else if (archiving->questions != NULL) /* reading needn't wait for who writes */
        start(service, job_question, question_asked);
}

/* ---- what is known of a bout's sides ---- */

static struct known_past *known_of(const struct archiving *archiving, const char *bout)
{
    struct known_past *known = archiving->pasts;
    while (known != NULL && strcmp(known->bout, bout) != 0)
        known = known->next;
    return known;
}

const struct past *archiving_past(const struct service *service, const char *bout)
{
    const struct known_past *known = known_of(&service->archiving, bout);
    return known != NULL && known->known ? &known->past : NULL;
}

static void show_in(struct hall *hall, const char *bout)
{
    for (struct mat *mat = hall->mats; mat != NULL; mat = mat->next)
        if (mat->shown != NULL && strcmp(mat->shown->bout->id, bout) == 0)
            mat->changed = true;
}

static void asked(uv_work_t *work, int status)
{
    struct service *service = work->data;
    struct archiving *archiving = &service->archiving;
    (void)status;
    archiving->works = false;
    archiving->asked->known = archiving->code == 0;
    if (archiving->code != 0) {
        give_up(service);
        return;
    }
    show_in(&service->hall, archiving->asked->bout);
    for (struct view *view = service->views.first; view != NULL; view = view->next)
        show_in(&view->hall, archiving->asked->bout);
    if (service->stopping)
        archiving_look(service);
    else
        service_publish(service);
}

/* A later `bout` event may name others: then it is asked anew. */
static struct known_past *to_ask(struct archiving *archiving, const struct hall_bout *bout)
{
    const struct fold *fold = &bout->fold;
    struct known_past *known = known_of(archiving, bout->bout->id);
    if (known != NULL && known->details == fold->details)
        return NULL;
    if (known == NULL) {
        known = calloc(1, sizeof *known);
        if (known == NULL)
            return NULL;
        arena_init(&known->arena, malloc, free);
        known->bout = bout->bout->id;
        known->next = archiving->pasts;
        archiving->pasts = known;
    }
    arena_reset(&known->arena);
    known->known = false;
    known->details = fold->details;
    known->called_at_ms = bout->bout->events[0].at_ms;
    return known;
}

/* False: there is nothing to ask. */
static bool ask(struct service *service)
{
    for (const struct mat *mat = service->hall.mats; mat != NULL; mat = mat->next) {
        struct known_past *known =
            mat->shown != NULL ? to_ask(&service->archiving, mat->shown) : NULL;
        if (known == NULL)
            continue;
        service->archiving.asked = known;
        start(service, job_ask, asked);
        return true;
    }
    return false;
}

/* ---- what else is asked ---- */

static void question_asked(uv_work_t *work, int status)
{
    struct service *service = work->data;
    struct archiving *archiving = &service->archiving;
    (void)status;
    archiving->works = false;
    if (archiving->code == UV_EBUSY || archiving->code == UV_ENOMEM || archiving->code == 0)
        answer_first(archiving, archiving->code == 0);
    else
        give_up(service);
    archiving_look(service);
}

void archiving_ask(struct service *service, struct archive_question *question)
{
    struct archive_question **last = &service->archiving.questions;
    if (service->archiving.is_off) {
        question->answer(question, false);
        return;
    }
    while (*last != NULL)
        last = &(*last)->next;
    question->next = NULL;
    *last = question;
    archiving_look(service);
}

void archiving_forget(struct service *service, const void *who)
{
    for (struct archive_question *question = service->archiving.questions; question != NULL;
         question = question->next)
        if (question->who == who)
            question->who = NULL;
}

/* ---- what is written ---- */

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
    else if (!ask(service) && archiving->questions != NULL)
        start(service, job_question, question_asked);
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
    while (service->archiving.questions != NULL)
        answer_first(&service->archiving, false);
    archive_close(service->archiving.archive);
    service->archiving.archive = NULL;
    arena_close(&service->archiving.arena);
    while (service->archiving.pasts != NULL) {
        struct known_past *known = service->archiving.pasts;
        service->archiving.pasts = known->next;
        arena_close(&known->arena);
        free(known);
    }
}
