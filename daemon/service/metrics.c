#include "service/metrics.h"
#include <string.h>
#include <uv.h>
#include "net/talkers.h"
#include "service/clients.h"
#include "wire/openmetrics.h"

static void counter(struct openmetrics *out, const char *name, const char *help, uint64_t count)
{
    openmetrics_family(out, name, OPENMETRICS_COUNTER, NULL, help);
    openmetrics_integer(out, NULL, NULL, count);
}

static void gauge(struct openmetrics *out, const char *name, const char *help, uint64_t number)
{
    openmetrics_family(out, name, OPENMETRICS_GAUGE, NULL, help);
    openmetrics_integer(out, NULL, NULL, number);
}

static void seconds(struct openmetrics *out, const char *name, const char *help,
                    const struct histogram *histogram)
{
    openmetrics_family(out, name, OPENMETRICS_HISTOGRAM, "seconds", help);
    openmetrics_histogram(out, histogram);
}

/* ---- the run ---- */

static void write_run(struct openmetrics *out, const struct service *service)
{
    openmetrics_family(out, "boutwire_build", OPENMETRICS_INFO, NULL, "Which program this is.");
    openmetrics_integer(out, "version", VERSION, 1);
    openmetrics_family(out, "boutwire_uptime_seconds", OPENMETRICS_GAUGE, "seconds",
                       "Since the daemon began to listen.");
    openmetrics_float(out, NULL, NULL, (double)(uv_hrtime() - service->began_ns) / 1e9);
    gauge(out, "boutwire_draining", "1 while the daemon stops in order.",
          service->stopping ? 1 : 0);
}

/* ---- events ---- */

static const char *outcome_word(enum intake_outcome outcome)
{
    switch (outcome) {
    case INTAKE_TAKEN:
        return "taken";
    case INTAKE_REFUSED:
        return "refused";
    case INTAKE_FORBIDDEN:
        return "forbidden";
    case INTAKE_STOPPED:
        return "stopped";
    case INTAKE_BUSY:
        return "busy";
    case INTAKE_TOO_FAST:
        return "too_fast";
    case INTAKE_NO_MEMORY:
        return "no_memory";
    }
    return "";
}

static void write_events(struct openmetrics *out, const struct service *service)
{
    const struct intake_counts *counts = &service->intake.counts;
    openmetrics_family(out, "boutwire_inputs", OPENMETRICS_COUNTER, NULL,
                       "Inputs by what became of them. One is an event, or a batch.");
    for (unsigned i = 0; i < INTAKE_OUTCOME_COUNT; i++)
        openmetrics_integer(out, "outcome", outcome_word((enum intake_outcome)i),
                            counts->inputs[i]);
    openmetrics_family(out, "boutwire_events", OPENMETRICS_COUNTER, NULL,
                       "Events of the inputs that were taken: new, or known before.");
    openmetrics_integer(out, "known", "no", counts->events);
    openmetrics_integer(out, "known", "yes", counts->repeated);
    gauge(out, "boutwire_log_events", "Events on the disk.", service->intake.committed_seq);
    gauge(out, "boutwire_log_bouts", "Bouts in the log.", service->log.bout_count);
    seconds(out, "boutwire_answer_seconds", "From an input that is taken to its answer.",
            &counts->answers);
    seconds(out, "boutwire_fold_seconds",
            "Folding one event, those that were read at the start among them.", &counts->folds);
}

/* ---- the store ---- */

static void write_store(struct openmetrics *out, const struct service *service)
{
    const struct journal *journal = service->journal;
    seconds(out, "boutwire_commit_seconds",
            "Commits of events, until they were on the disk; the count is that of commits.",
            journal_commits(journal));
    gauge(out, "boutwire_store_waiting", "Inputs that wait for the disk.",
          journal_waiting(journal));
    gauge(out, "boutwire_store_failed", "1: the store can't be written, no event is taken.",
          journal_failure(journal, NULL) != 0 ? 1 : 0);
}

/* ---- those who listen ---- */

static const char *const audiences[] = {"none",  "follow", "text",    "screen",
                                        "booth", "table",  "gallery", "anyone"};
enum { AUDIENCE_COUNT = sizeof audiences / sizeof *audiences, AUDIENCE_ANYONE = 7 };

/* By the key that it holds; without one, by what it reads. Its place in the list above. */
static size_t audience_place(const struct client *client)
{
    static const size_t of_role[ROLE_COUNT] = {
        [ROLE_BOOTH] = 4, [ROLE_TABLE] = 5, [ROLE_GALLERY] = 6};
    if (client->holder != NULL && of_role[client->holder->role] != 0)
        return of_role[client->holder->role];
    if (client->holder == NULL && client->privileged)
        return AUDIENCE_ANYONE;
    return (size_t)client->shows; /* SHOWS_NOTHING, _FOLLOW, _TEXT, _SCREEN */
}

static void write_connections(struct openmetrics *out, const struct service *service)
{
    uint64_t counts[AUDIENCE_COUNT] = {0};
    for (const struct client *client = service->clients; client != NULL; client = client->next)
        counts[audience_place(client)]++;
    openmetrics_family(out, "boutwire_connections", OPENMETRICS_GAUGE, NULL,
                       "Those who stay connected, by the key they hold or by what they read.");
    for (size_t i = 0; i < AUDIENCE_COUNT; i++)
        openmetrics_integer(out, "audience", audiences[i], counts[i]);
    openmetrics_integer(out, "audience", "lines",
                        service->talkers != NULL ? talkers_count(service->talkers) : 0);
    counter(out, "boutwire_accepted", "Connections that were accepted.",
            net_counts(service->net)->accepted);
    counter(out, "boutwire_shortages",
            "Times that no file descriptor or memory was left for another connection.",
            net_counts(service->net)->shortages);
    counter(out, "boutwire_turned_away",
            "Connections beyond the number that there may be, in all or of an address.",
            net_counts(service->net)->turned_away);
}

static void write_deliveries(struct openmetrics *out, const struct service *service)
{
    const struct relay_counts *relay = relay_counts(service->relay);
    const struct net_counts *net = net_counts(service->net);
    counter(out, "boutwire_deliveries", "Messages of topics handed to a client.",
            service->deliveries);
    counter(out, "boutwire_patches", "Patches among them.", relay->patches);
    counter(out, "boutwire_snapshots", "Snapshots among them.", relay->snapshots);
    openmetrics_family(out, "boutwire_resumes", OPENMETRICS_COUNTER, NULL,
                       "Clients that came back: with all they had missed, or with a snapshot.");
    openmetrics_integer(out, "got", "missed", relay->resumed);
    openmetrics_integer(out, "got", "snapshot", relay->begun_anew);
    counter(out, "boutwire_held_back",
            "Messages that a client was too slow for: it gets the newest snapshot instead.",
            net->held_back);
    openmetrics_family(out, "boutwire_cut_offs", OPENMETRICS_COUNTER, NULL,
                       "Connections that were ended: too slow, silent, not allowed, no memory.");
    openmetrics_integer(out, "reason", "slow", net->slow + service->cut_offs.slow);
    openmetrics_integer(out, "reason", "silent", net->silent);
    openmetrics_integer(out, "reason", "not_allowed", service->cut_offs.not_allowed);
    openmetrics_integer(out, "reason", "no_memory", service->cut_offs.no_memory);
}

/* ---- audiences with a delay ---- */

static bool ends_with(const char *text, const char *end)
{
    size_t size = strlen(text), end_size = strlen(end);
    return size >= end_size && strcmp(text + size - end_size, end) == 0;
}

/* By the kind of the audience: a topic may hold a mat's name. */
static void write_delays(struct openmetrics *out, const struct service *service)
{
    static const char *const kinds[] = {"output", "follow", "booth"};
    uint64_t waiting[] = {0, 0, 0};
    for (const struct view *view = service->views.first; view != NULL; view = view->next) {
        size_t kind = ends_with(view->topic, "/follow")  ? 1
                      : ends_with(view->topic, "/booth") ? 2
                                                         : 0;
        waiting[kind] += service->intake.committed_seq - view->read_seq;
    }
    openmetrics_family(out, "boutwire_delayed_events", OPENMETRICS_GAUGE, NULL,
                       "Events on the disk that an audience with a delay isn't shown yet.");
    for (size_t i = 0; i < 3; i++)
        openmetrics_integer(out, "audience", kinds[i], waiting[i]);
}

char *metrics_text(const struct service *service, size_t *size)
{
    struct openmetrics out = {0};
    write_run(&out, service);
    write_events(&out, service);
    write_store(&out, service);
    write_connections(&out, service);
    write_deliveries(&out, service);
    write_delays(&out, service);
    return openmetrics_end(&out, size);
}
