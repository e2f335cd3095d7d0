/* The normal course: an append is copied into the queue; when no job is under way the whole queue
 * becomes the next one. The job runs on the pool; back on the loop its appends are answered and
 * the next job begins. One job at a time, so the store has one user at a time.
 * Failing: the first job that fails is the last that writes. Its appends and all that wait are
 * answered with the failure. */
#include "journal/journal.h"
#include <assert.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "journal/store.h"

enum job { JOB_NONE, JOB_WRITE, JOB_CHECKPOINT, JOB_CLOSE };

/* One call of journal_append, its rows' texts following the rows; or of journal_keep, both its
 * texts following, and no rows. */
struct append {
    struct append *next;
    void (*done)(void *context, int status);
    void *context;
    const char *kept_name, *kept_text; /* NULL: rows */
    size_t count;
    struct journal_row rows[];
};

struct journal {
    uv_loop_t *loop;
    struct store *store;
    char epoch[STORE_EPOCH_SIZE + 9];
    struct append *waiting, **waiting_end; /* in the order of the calls */
    size_t waiting_count;
    uint64_t last_seq;
    int failure;
    char reason[STORE_REASON_SIZE];

    int64_t alive_noted_ms;
    bool alive_waits, closing;

    uv_work_t work;
    struct append *group; /* what it writes */
    enum job job;         /* under way, its answers included */
    int job_code;
    bool job_alive; /* it writes job_alive_ms too */
    int64_t job_alive_ms;
    uint64_t job_began_ns, job_ended_ns;
    struct histogram commits;

    void (*closed)(void *context);
    void *closed_context;
};

/* ---- on the pool ---- */

static int write_rows(struct store *store, const struct append *append)
{
    if (append->kept_name != NULL)
        return store_keep(store, append->kept_name, append->kept_text);
    for (size_t i = 0; i < append->count; i++) {
        int code = store_add(store, &append->rows[i]);
        if (code != 0)
            return code;
    }
    return 0;
}

static int write_group(struct journal *journal)
{
    struct store *store = journal->store;
    int code = store_begin(store, journal->group != NULL);
    for (const struct append *append = journal->group; append != NULL && code == 0;
         append = append->next)
        code = write_rows(store, append);
    if (code == 0 && journal->job_alive)
        code = store_set_alive(store, journal->job_alive_ms);
    return code == 0 ? store_commit(store) : code;
}

static void job_run(uv_work_t *work)
{
    struct journal *journal = work->data;
    switch (journal->job) {
    case JOB_NONE:
        break;
    case JOB_WRITE:
        journal->job_code = write_group(journal);
        break;
    case JOB_CHECKPOINT:
        journal->job_code = store_checkpoint(journal->store);
        break;
    case JOB_CLOSE:
        store_close(journal->store, journal->failure == 0);
        journal->store = NULL;
        break;
    }
    journal->job_ended_ns = uv_hrtime();
}

/* ---- on the loop ---- */

static void answer(struct journal *journal, struct append *append, int status)
{
    while (append != NULL) {
        struct append *next = append->next;
        journal->waiting_count--;
        append->done(append->context, status);
        free(append);
        append = next;
    }
}

static struct append *take_waiting(struct journal *journal)
{
    struct append *first = journal->waiting;
    journal->waiting = NULL;
    journal->waiting_end = &journal->waiting;
    return first;
}

/* Nobody was promised anything by a checkpoint or a note of life: a disk or a memory too full for
 * them has lost nothing, and an append will tell if it lasts. */
static bool is_tolerable(const struct journal *journal)
{
    return journal->group == NULL &&
           (journal->job_code == UV_ENOSPC || journal->job_code == UV_ENOMEM);
}

static void note_failure(struct journal *journal)
{
    if (journal->job_code == 0 || is_tolerable(journal))
        return;
    journal->failure = journal->job_code;
    snprintf(journal->reason, sizeof journal->reason, "%s", store_reason(journal->store));
}

static void go_on(struct journal *journal);

static void job_done(uv_work_t *work, int status)
{
    assert(status == 0); /* nobody cancels it */
    struct journal *journal = work->data;
    if (journal->job == JOB_CLOSE) {
        void (*closed)(void *) = journal->closed;
        void *context = journal->closed_context;
        free(journal);
        if (closed != NULL)
            closed(context);
        return;
    }
    note_failure(journal);
    if (journal->group != NULL && journal->job_code == 0)
        histogram_note(&journal->commits,
                       (double)(journal->job_ended_ns - journal->job_began_ns) / 1e9);
    struct append *group = journal->group;
    journal->group = NULL;
    answer(journal, group, journal->failure);
    if (journal->failure != 0)
        answer(journal, take_waiting(journal), journal->failure);
    journal->job = JOB_NONE;
    go_on(journal);
}

static void job_start(struct journal *journal, enum job job)
{
    journal->job = job;
    journal->job_code = 0;
    journal->work.data = journal;
    journal->job_began_ns = uv_hrtime();
    int code = uv_queue_work(journal->loop, &journal->work, job_run, job_done);
    assert(code == 0); /* it fails only without a function to run */
}

static void write_start(struct journal *journal)
{
    journal->group = take_waiting(journal);
    journal->job_alive = journal->alive_waits;
    journal->job_alive_ms = journal->alive_noted_ms;
    journal->alive_waits = false;
    job_start(journal, JOB_WRITE);
}

static void go_on(struct journal *journal)
{
    if (journal->job != JOB_NONE)
        return;
    bool works = journal->failure == 0;
    if (works && store_wants_checkpoint(journal->store))
        job_start(journal, JOB_CHECKPOINT);
    else if (works && (journal->waiting != NULL || journal->alive_waits))
        write_start(journal);
    else if (journal->closing)
        job_start(journal, JOB_CLOSE);
}

/* ---- the journal ---- */

/* What every opening adds to the store's epoch. */
static int run_name(char *name, size_t size)
{
    unsigned char random[4];
    int code = uv_random(NULL, NULL, random, sizeof random, 0, NULL);
    if (code == 0)
        snprintf(name, size, "%02x%02x%02x%02x", random[0], random[1], random[2], random[3]);
    return code;
}

int journal_open(struct journal **opened, uv_loop_t *loop, const char *path, char *reason,
                 size_t reason_size)
{
    char run[9];
    int code = run_name(run, sizeof run);
    struct journal *journal = code == 0 ? calloc(1, sizeof *journal) : NULL;
    if (journal == NULL) {
        code = code == 0 ? UV_ENOMEM : code;
        snprintf(reason, reason_size, "%s can't be opened: %s", path, uv_strerror(code));
        return code;
    }
    code = store_open(&journal->store, path, reason, reason_size);
    if (code != 0) {
        free(journal);
        return code;
    }
    journal->loop = loop;
    journal->waiting_end = &journal->waiting;
    journal->last_seq = store_last_seq(journal->store);
    journal->failure = store_unsafe(journal->store);
    if (journal->failure != 0)
        snprintf(journal->reason, sizeof journal->reason, "%s", store_reason(journal->store));
    snprintf(journal->epoch, sizeof journal->epoch, "%s.%s", store_epoch(journal->store), run);
    *opened = journal;
    return 0;
}

const char *journal_notice(const struct journal *journal)
{
    return store_notice(journal->store);
}

const char *journal_epoch(const struct journal *journal)
{
    return journal->epoch;
}

const char *journal_store(const struct journal *journal)
{
    return store_epoch(journal->store);
}

int journal_read(struct journal *journal, int (*each)(void *context, const struct journal_row *row),
                 void *context)
{
    assert(journal->job == JOB_NONE);
    return store_read(journal->store, each, context);
}

int journal_read_kept(struct journal *journal, int (*each)(void *context, const struct kept *kept),
                      void *context)
{
    assert(journal->job == JOB_NONE);
    return store_read_kept(journal->store, each, context);
}

/* One allocation: the append, its rows, their texts. */
static struct append *append_new(const struct journal_row *rows, size_t count)
{
    size_t texts_size = 0;
    for (size_t i = 0; i < count; i++)
        texts_size += rows[i].size;
    struct append *append = malloc(sizeof *append + count * sizeof *rows + texts_size);
    if (append == NULL)
        return NULL;
    char *text = (char *)&append->rows[count];
    for (size_t i = 0; i < count; i++) {
        memcpy(text, rows[i].text, rows[i].size);
        append->rows[i] = (struct journal_row){rows[i].seq, text, rows[i].size};
        text += rows[i].size;
    }
    append->next = NULL;
    append->kept_name = append->kept_text = NULL;
    append->count = count;
    return append;
}

static void append_queue(struct journal *journal, struct append *append,
                         void (*done)(void *context, int status), void *context)
{
    append->done = done;
    append->context = context;
    *journal->waiting_end = append;
    journal->waiting_end = &append->next;
    journal->waiting_count++;
    go_on(journal);
}

int journal_append(struct journal *journal, const struct journal_row *rows, size_t count,
                   void (*done)(void *context, int status), void *context)
{
    assert(!journal->closing);
    assert(count > 0);
    if (journal->failure != 0)
        return journal->failure;
    for (size_t i = 0; i < count; i++)
        assert(rows[i].seq == journal->last_seq + 1 + i);
    struct append *append = append_new(rows, count);
    if (append == NULL)
        return UV_ENOMEM;
    journal->last_seq += count;
    append_queue(journal, append, done, context);
    return 0;
}

int journal_keep(struct journal *journal, const char *name, const char *text,
                 void (*done)(void *context, int status), void *context)
{
    if (journal->closing)
        return UV_ECANCELED;
    if (journal->failure != 0)
        return journal->failure;
    size_t name_size = strlen(name) + 1, text_size = strlen(text) + 1;
    struct append *append = malloc(sizeof *append + name_size + text_size);
    if (append == NULL)
        return UV_ENOMEM;
    char *room = (char *)append->rows;
    memcpy(room, name, name_size);
    memcpy(room + name_size, text, text_size);
    append->next = NULL;
    append->kept_name = room;
    append->kept_text = room + name_size;
    append->count = 0;
    append_queue(journal, append, done, context);
    return 0;
}

int journal_failure(const struct journal *journal, const char **reason)
{
    if (journal->failure != 0 && reason != NULL)
        *reason = journal->reason;
    return journal->failure;
}

size_t journal_waiting(const struct journal *journal)
{
    return journal->waiting_count;
}

const struct histogram *journal_commits(const struct journal *journal)
{
    return &journal->commits;
}

uint64_t journal_busy_ms(const struct journal *journal)
{
    if (journal->job == JOB_NONE)
        return 0;
    return (uv_hrtime() - journal->job_began_ns) / 1000000;
}

void journal_note_alive(struct journal *journal, int64_t at_ms)
{
    int64_t gone_ms = at_ms - journal->alive_noted_ms;
    if (journal->closing || journal->failure != 0 || (gone_ms >= 0 && gone_ms < 1000))
        return;
    journal->alive_noted_ms = at_ms;
    journal->alive_waits = true;
    go_on(journal);
}

int64_t journal_last_alive(const struct journal *journal)
{
    return store_alive_at(journal->store);
}

void journal_close(struct journal *journal, void (*closed)(void *context), void *context)
{
    assert(!journal->closing);
    journal->closing = true;
    journal->closed = closed;
    journal->closed_context = context;
    go_on(journal);
}
