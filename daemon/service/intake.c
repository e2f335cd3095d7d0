/* The normal course: intake_take reads the text, parses and checks each event against the log, and
 * hands the batch to the journal; when the journal says that it is on disk, batch_committed folds
 * its events, publishes and answers. A refusal rewinds the log to where it was. A failing disk
 * answers all that waits with the failure, and every later batch at once: the events that were
 * admitted but not committed stay unseen, and are gone at the next start. */
#include "service/intake.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "rules/time_of_day.h"
#include "service/service.h"
#include "wire/json.h"

struct intake_batch {
    struct intake_batch *next;
    struct service *service;
    struct intake_source source;
    uint64_t last_seq; /* every seq that it answers with must be on disk first */
    size_t log_count;  /* of the log, before it */
    size_t new_count;  /* events that it adds */
    size_t count, capacity;
    struct intake_item *items;
    uint64_t came_ns;
};

static double seconds_since(uint64_t ns)
{
    return (double)(uv_hrtime() - ns) / 1e9;
}

static void answer(struct service *service, const struct intake_source *source,
                   const struct intake_answer *with)
{
    service->intake.counts.inputs[with->outcome]++;
    if (source->answer != NULL)
        source->answer(source->who, with);
}

static void batch_free(struct intake_batch *batch)
{
    if (batch != NULL)
        free(batch->items);
    free(batch);
}

/* ---- parse: bytes to a stamped document ---- */

/* The event with the daemon's own `at`, `seq` and `by` in place of any that it came with. */
static const struct value *stamped(struct service *service, const struct value *document,
                                   const char *by)
{
    struct value *copy = arena_take(&service->parsing, sizeof *copy);
    struct value *items = arena_take(&service->parsing, (document->count + 3) * sizeof *items);
    char *at = arena_take(&service->parsing, TIME_OF_DAY_SIZE);
    if (copy == NULL || items == NULL || at == NULL)
        return NULL;
    time_of_day_write(daytime_now(&service->daytime), at);
    *copy = (struct value){.kind = VALUE_OBJECT, .items = items};
    for (size_t i = 0; i < document->count; i++) {
        const char *name = document->items[i].name;
        if (strcmp(name, "at") != 0 && strcmp(name, "seq") != 0 && strcmp(name, "by") != 0)
            items[copy->count++] = document->items[i];
    }
    items[copy->count++] = (struct value){.kind = VALUE_STRING, .name = "at", .as.string = at};
    items[copy->count++] = (struct value){.kind = VALUE_STRING, .name = "by", .as.string = by};
    items[copy->count++] = (struct value){
        .kind = VALUE_INTEGER, .name = "seq", .as.integer = (int64_t)service->log.count + 1};
    return copy;
}

/* ---- check: may its sender key it? ---- */

static const char *text_of(const struct value *document, const char *member)
{
    const struct value *value = value_member(document, member);
    return value != NULL && value->kind == VALUE_STRING ? value->as.string : NULL;
}

static bool is_booth_note(const struct value *document, enum event_type type)
{
    const char *to = text_of(document, "to");
    return type == EVENT_NOTE && to != NULL && strcmp(to, "booth") == 0;
}

/* A bout is its mat's, and called to a mat it becomes that one's. What is not an event at all is
 * left to the log, which refuses it. */
static bool may_key(const struct intake_batch *batch, const struct value *document,
                    enum action *action)
{
    const struct grant *grant = &batch->source.grant;
    struct complaint ignored;
    enum event_type type = EVENT_BOUT;
    *action = ACTION_KEY_BOUT;
    if (batch->source.own || !event_type_of(document, &type, &ignored))
        return true;
    *action = event_is_of_day(type)           ? ACTION_KEY_DAY
              : is_booth_note(document, type) ? ACTION_KEY_NOTE
                                              : ACTION_KEY_BOUT;
    if (event_is_of_day(type))
        return grant_allows(grant, *action, NULL);
    const struct bout *bout = log_bout(&batch->service->log, text_of(document, "bout"));
    if (bout == NULL && type != EVENT_BOUT)
        return role_allows(grant->role, *action);
    return (bout == NULL || grant_allows(grant, *action, bout->details->mat)) &&
           (type != EVENT_BOUT || grant_allows(grant, *action, text_of(document, "mat")));
}

static void say_forbidden(struct complaint *complaint, const struct grant *grant,
                          enum action action)
{
    *complaint = (struct complaint){.why = ACCEPTED};
    snprintf(complaint->detail, sizeof complaint->detail, "a key of the role %s%s may not %s",
             role_name(grant->role), grant->mat != NULL ? " for one mat" : "",
             action_words(action));
}

/* ---- check: admit one event into the log, and note it in the batch ---- */

static bool batch_note(struct intake_batch *batch, const char *id, uint64_t seq)
{
    if (batch->count == batch->capacity) {
        size_t capacity = batch->capacity == 0 ? 4 : batch->capacity * 2;
        struct intake_item *items = realloc(batch->items, capacity * sizeof *items);
        if (items == NULL)
            return false;
        batch->items = items;
        batch->capacity = capacity;
    }
    batch->items[batch->count++] = (struct intake_item){id, seq};
    if (seq > batch->last_seq)
        batch->last_seq = seq;
    return true;
}

static enum intake_outcome check_one(struct intake_batch *batch, const struct value *document,
                                     struct complaint *complaint)
{
    struct service *service = batch->service;
    if (document->kind != VALUE_OBJECT) {
        complain(complaint, REFUSED_NOT_JSON, "", "an event is a JSON object, not %s",
                 value_kind_name(document->kind));
        return INTAKE_REFUSED;
    }
    enum action action;
    if (!may_key(batch, document, &action)) {
        say_forbidden(complaint, &batch->source.grant, action);
        return INTAKE_FORBIDDEN;
    }
    document = stamped(service, document, batch->source.by);
    if (document == NULL)
        return INTAKE_NO_MEMORY;
    struct admittance admittance =
        log_admit(&service->log, document, batch->source.own ? INTAKE_OWN : INTAKE_LIVE, complaint);
    if (admittance.admitted == NOT_ADMITTED)
        return INTAKE_REFUSED;
    if (admittance.admitted == NO_MEMORY)
        return INTAKE_NO_MEMORY;
    batch->new_count += admittance.admitted == ADMITTED ? 1 : 0;
    const char *id = service->log.admissions[admittance.seq - 1].id;
    return batch_note(batch, id, admittance.seq) ? INTAKE_TAKEN : INTAKE_NO_MEMORY;
}

static const char *id_of(const struct value *document)
{
    const struct value *id = value_member(document, "id");
    return id != NULL && id->kind == VALUE_STRING ? id->as.string : NULL;
}

/* Parses and checks one line. On a refusal `*id` is the event's, where it has one. */
static enum intake_outcome take_line(struct intake_batch *batch, const char *text, size_t size,
                                     struct complaint *complaint, const char **id)
{
    const struct value *document = json_read(&batch->service->parsing, text, size, complaint);
    if (document == NULL)
        return complaint->why == ACCEPTED ? INTAKE_NO_MEMORY : INTAKE_REFUSED;
    *id = id_of(document);
    return check_one(batch, document, complaint);
}

static enum intake_outcome take_lines(struct intake_batch *batch, const char *text, size_t size,
                                      struct complaint *complaint, const char **id)
{
    size_t number = 0;
    for (size_t from = 0; from < size;) {
        const char *end = memchr(text + from, '\n', size - from);
        size_t length = end != NULL ? (size_t)(end - (text + from)) : size - from;
        number++;
        if (batch->count >= INTAKE_BATCH_MAX) {
            complain(complaint, REFUSED_TOO_MANY, "", "a batch holds %d events at most",
                     INTAKE_BATCH_MAX);
            complaint->line = number;
            return INTAKE_REFUSED;
        }
        if (!line_is_blank(text + from, length)) {
            enum intake_outcome outcome = take_line(batch, text + from, length, complaint, id);
            complaint->line = number;
            if (outcome != INTAKE_TAKEN)
                return outcome;
        }
        from += length + 1;
    }
    return INTAKE_TAKEN;
}

/* ---- commit ---- */

/* One row an event: its document as the log keeps it. The texts are malloc'd. */
static size_t rows_of(const struct intake_batch *batch, struct journal_row *rows)
{
    const struct log *log = &batch->service->log;
    size_t made = 0;
    for (; made < batch->new_count; made++) {
        const struct known_event *known =
            table_find(&log->known, log->admissions[batch->log_count + made].id);
        json_t *json = json_of(known->document);
        char *text = json != NULL ? json_line(json) : NULL;
        json_decref(json);
        if (text == NULL)
            break;
        rows[made] = (struct journal_row){known->seq, text, strlen(text)};
    }
    return made;
}

static void batch_committed(void *context, int status);

static int commit(struct intake_batch *batch)
{
    struct journal_row *rows = calloc(batch->new_count, sizeof *rows);
    if (rows == NULL)
        return UV_ENOMEM;
    size_t made = rows_of(batch, rows);
    int status = UV_ENOMEM;
    if (made == batch->new_count)
        status = journal_append(batch->service->journal, rows, made, batch_committed, batch);
    while (made-- > 0)
        free((void *)(uintptr_t)rows[made].text);
    free(rows);
    return status;
}

/* ---- fold ---- */

static bool fold_event(struct service *service, uint64_t seq)
{
    const struct admission *admission = &service->log.admissions[seq - 1];
    if (admission->bout == NULL)
        return hall_read_day(&service->hall, log_event(&service->log, seq));
    return hall_read(&service->hall, admission->bout);
}

static bool fold_measured(struct service *service, uint64_t seq)
{
    uint64_t began_ns = uv_hrtime();
    bool folded = fold_event(service, seq);
    histogram_note(&service->intake.counts.folds, seconds_since(began_ns));
    return folded;
}

static bool fold_up_to(struct service *service, uint64_t seq)
{
    while (service->intake.committed_seq < seq) {
        if (!fold_measured(service, service->intake.committed_seq + 1))
            return false;
        service->intake.committed_seq++;
    }
    return true;
}

/* ---- answer ---- */

static void queue_add(struct intake *intake, struct intake_batch *batch)
{
    if (intake->last != NULL)
        intake->last->next = batch;
    else
        intake->first = batch;
    intake->last = batch;
    intake->waiting_count++;
}

static struct intake_batch *queue_take(struct intake *intake)
{
    struct intake_batch *batch = intake->first;
    intake->first = batch->next;
    if (intake->first == NULL)
        intake->last = NULL;
    intake->waiting_count--;
    return batch;
}

static void answer_taken(struct intake_batch *batch)
{
    struct intake_counts *counts = &batch->service->intake.counts;
    counts->events += batch->new_count;
    counts->repeated += batch->count - batch->new_count;
    histogram_note(&counts->answers, seconds_since(batch->came_ns));
    answer(batch->service, &batch->source,
           &(struct intake_answer){
               .outcome = INTAKE_TAKEN, .items = batch->items, .count = batch->count});
    batch_free(batch);
}

/* The disk has failed: all that waits hears it now. The journal still calls back for each batch
 * that it was given, and that batch is freed then; the others are freed here. */
static void answer_stopped(struct service *service, const struct intake_batch *failed)
{
    const char *reason = "";
    struct intake_batch *kept = NULL, *batch;
    journal_failure(service->journal, &reason);
    while (service->intake.first != NULL) {
        batch = queue_take(&service->intake);
        answer(service, &batch->source,
               &(struct intake_answer){.outcome = INTAKE_STOPPED,
                                       .reason = reason,
                                       .id = batch->count == 1 ? batch->items[0].id : NULL});
        batch->source.answer = NULL;
        batch->next = kept;
        kept = batch;
    }
    while ((batch = kept) != NULL) {
        kept = batch->next;
        batch->next = NULL;
        if (batch == failed || batch->new_count == 0)
            batch_free(batch);
        else
            queue_add(&service->intake, batch);
    }
}

void intake_tell_failure(struct service *service)
{
    const char *reason = "";
    if (service->intake.failure_told || journal_failure(service->journal, &reason) == 0)
        return;
    service->intake.failure_told = true;
    report(&service->report, REPORT_ERROR, "the store can't be written, no event is taken",
           "reason=\"%s\"", reason);
}

/* What was admitted but never committed is taken back, so that time goes on passing for what
 * stands: it is let pass no further than the oldest event that waits. */
static void stop(struct service *service, const struct intake_batch *failed)
{
    intake_tell_failure(service);
    answer_stopped(service, failed);
    log_rewind(&service->log, service->intake.committed_seq);
}

/* A batch is on disk; commits are answered in the order in which they were asked for. */
static void batch_committed(void *context, int status)
{
    struct intake_batch *batch = context;
    struct service *service = batch->service;
    if (status != 0) {
        stop(service, batch);
        return;
    }
    if (!fold_up_to(service, batch->log_count + batch->new_count)) {
        report(&service->report, REPORT_ERROR, "out of memory while folding", "seq=%llu",
               (unsigned long long)service->intake.committed_seq);
        service_stop(service, 3);
        return;
    }
    service_publish(service);
    while (service->intake.first != NULL &&
           service->intake.first->last_seq <= service->intake.committed_seq)
        answer_taken(queue_take(&service->intake));
}

/* ---- the path ---- */

static void answer_at_once(struct intake_batch *batch, enum intake_outcome outcome,
                           const struct complaint *complaint, const char *id)
{
    answer(batch->service, &batch->source,
           &(struct intake_answer){.outcome = outcome, .complaint = complaint, .id = id});
    batch_free(batch);
}

static size_t lines_count(const char *text, size_t size)
{
    size_t count = 0;
    for (size_t from = 0; from < size; count++) {
        const char *end = memchr(text + from, '\n', size - from);
        from = end != NULL ? (size_t)(end - text) + 1 : size;
    }
    return count;
}

/* How long its source has to wait first; 0: it may. */
static int64_t too_fast_ms(struct service *service, const struct intake_source *source,
                           const char *text, size_t size, bool lines)
{
    if (source->own || source->source == NULL)
        return 0;
    return rates_ask(&service->rates, source->source, lines ? lines_count(text, size) : 1,
                     daytime_now(&service->daytime));
}

/* Nothing is taken while the disk has failed, or too much waits for it, or of a source that is too
 * fast. Answers then, with the id of a single event, by which its sender knows it. */
static bool turned_away(struct intake_batch *batch, const char *text, size_t size, bool lines)
{
    struct service *service = batch->service;
    struct intake_answer with = {.outcome = INTAKE_STOPPED};
    struct complaint complaint;
    if (journal_failure(service->journal, &with.reason) == 0) {
        bool busy = !batch->source.own && service->intake.waiting_count >= INTAKE_WAITING_MAX;
        with.outcome = busy ? INTAKE_BUSY : INTAKE_TOO_FAST;
        with.wait_ms = busy ? 0 : too_fast_ms(service, &batch->source, text, size, lines);
        if (!busy && with.wait_ms == 0)
            return false;
    }
    intake_tell_failure(service);
    const struct value *document =
        lines ? NULL : json_read(&service->parsing, text, size, &complaint);
    with.id = document != NULL ? id_of(document) : NULL;
    answer(service, &batch->source, &with);
    batch_free(batch);
    return true;
}

void intake_take(struct service *service, const struct intake_source *source, const char *text,
                 size_t size, bool lines)
{
    struct complaint complaint = {.why = ACCEPTED};
    struct intake_batch *batch = calloc(1, sizeof *batch);
    const char *id = NULL;
    if (batch == NULL) {
        answer(service, source, &(struct intake_answer){.outcome = INTAKE_NO_MEMORY});
        return;
    }
    *batch = (struct intake_batch){
        .service = service,
        .source = *source,
        .log_count = service->log.count,
        .came_ns = uv_hrtime(),
    };
    arena_reset(&service->parsing);
    if (turned_away(batch, text, size, lines))
        return;
    enum intake_outcome outcome = lines ? take_lines(batch, text, size, &complaint, &id)
                                        : take_line(batch, text, size, &complaint, &id);
    if (outcome == INTAKE_TAKEN && batch->new_count > 0 && commit(batch) != 0)
        outcome = INTAKE_NO_MEMORY;
    if (outcome != INTAKE_TAKEN) {
        log_rewind(&service->log, batch->log_count);
        answer_at_once(batch, outcome, &complaint, id);
    } else if (batch->last_seq <= service->intake.committed_seq) {
        answer_taken(batch); /* all of it was there before */
    } else {
        queue_add(&service->intake, batch);
    }
}

void intake_forget(struct service *service, const void *who)
{
    for (struct intake_batch *batch = service->intake.first; batch != NULL; batch = batch->next)
        if (batch->source.who == who)
            batch->source.answer = NULL;
}

/* ---- the start ---- */

static int load_row(void *context, const struct journal_row *row)
{
    struct service *service = context;
    struct complaint complaint = {.why = ACCEPTED};
    arena_reset(&service->parsing);
    const struct value *document = json_read(&service->parsing, row->text, row->size, &complaint);
    struct admittance admittance = {.admitted = NOT_ADMITTED};
    if (document != NULL)
        admittance = log_admit(&service->log, document, INTAKE_FILE, &complaint);
    if (admittance.admitted != ADMITTED || admittance.seq != row->seq) {
        report(&service->report, REPORT_ERROR, "the store holds an event that can't be read",
               "seq=%llu reason=\"%s\"", (unsigned long long)row->seq, complaint.detail);
        return UV_EINVAL;
    }
    return fold_up_to(service, row->seq) ? 0 : UV_ENOMEM;
}

bool intake_load(struct service *service)
{
    int status = journal_read(service->journal, load_row, service);
    if (status != 0)
        report(&service->report, REPORT_ERROR, "the store can't be read", "reason=\"%s\"",
               uv_strerror(status));
    return status == 0;
}
