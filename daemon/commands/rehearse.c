/* boutwire rehearse: a log is played to a running daemon.
 *
 * The normal course: read the whole log and make the rehearsal of it (rehearsal.h); dial; measure
 * how far the daemon's clock is from ours; then send each line when it is due, not more than
 * IN_FLIGHT_MAX ahead of the answers.
 * The line breaks: dial again, later and later; then what was not answered is sent once more, word
 * for word, so that its id makes it count once. Refused: that ends it, or is reported and
 * skipped.*/
#include <getopt.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <uv.h>
#include "commands/caller.h"
#include "commands/command.h"
#include "commands/daemon_call.h"
#include "commands/edition_files.h"
#include "commands/log_file.h"
#include "commands/rehearsal.h"

static const char help[] =
    "usage: boutwire rehearse [options] FILE|-\n"
    "Sends a log (NDJSON, one event a line) to a running daemon, in the log's own rhythm.\n"
    "  --to HOST:PORT   where the daemon listens (127.0.0.1:7600; ws://HOST:PORT too)\n"
    "  --speed N        so many times as fast, 0.1 to 60 (1). At 1 every bout time is as in the\n"
    "                   log to the millisecond. At other speeds a running clock still runs as\n"
    "                   fast as life: events say the bout time that they had, and after what\n"
    "                   starts, stops or changes a clock a `set` brings it to the log's time. So\n"
    "                   scores, their order, endings and results are as in the log, while the\n"
    "                   clock on a page goes on in jumps, and stands too early in between.\n"
    "  --exact          for checks: all at once, as if the log had ended just now. Every state is\n"
    "                   as in the log, only later; a clock that runs at its end has long begun.\n"
    "  --keep-going     report an event that is refused, and go on; exit 1 at the end\n"
    "  --rules FILE     know one more edition (may be repeated); the daemon must know it too\n"
    "  --quiet          no progress on standard error\n"
    "Where the daemon asks for a key: a table's, in the environment as BOUTWIRE_KEY.\n"
    "Left out are at, seq and by, which the daemon sets; `clock` `lost`, which only it may say, "
    "is\n"
    "sent as `stop`. Ids stay, so a daemon plays a log once; a second time wants a new store.\n"
    "Exit codes: 0 done, 1 an event is not valid or was refused, 2 wrong use, an unreadable file "
    "or\n"
    "no connection, 3 no memory.\n";

enum {
    IN_FLIGHT_MAX = 32,  /* lines sent and not yet answered */
    CLOCK_SAMPLES = 8,   /* of the distance between the clocks; the closest bound counts */
    PATIENCE_MS = 10000, /* without an answer that is due: the line is taken for dead */
    BUSY_MS = 1000,      /* the daemon asked us to wait */
    TRIES_MAX = 10,      /* to dial again before giving up */
    RETRY_FIRST_MS = 500,
    RETRY_MOST_MS = 15000,
    PROGRESS_EVERY = 50, /* lines, where no terminal shows it */
    PROGRESS_MS = 200,   /* at most so often on a terminal */
};

enum line_state { LINE_WAITS, LINE_SENT, LINE_ANSWERED };

struct rehearsing {
    /* options */
    const char *path;
    char host[256];
    int port;
    double speed;
    bool exact, keep_going, quiet;

    /* the log */
    struct log log;
    size_t *source_lines; /* of each event, by seq − 1 */
    size_t source_capacity;
    struct rehearsal rehearsal;

    /* the play */
    uv_loop_t loop;
    struct caller *caller;
    uv_timer_t timer;      /* the next line is due, or it is time to dial */
    uv_timer_t patience;   /* an answer is due */
    unsigned char *states; /* enum line_state of each line */
    size_t first_open, next, in_flight, refused;
    unsigned samples;
    int64_t ahead_ms;  /* the daemon's clock is at least so far ahead of ours */
    int64_t start_ms;  /* on the daemon's clock */
    uint64_t start_ns; /* of uv_hrtime */
    bool began, connected, ending;
    bool held; /* the daemon asked us to wait */
    unsigned tries;
    uint64_t progress_ns;
    bool progress_open; /* a line on the terminal has no newline yet */
    int code;
};

/* ---- telling ---- */

static void progress_break(struct rehearsing *rehearsing)
{
    if (rehearsing->progress_open)
        fputc('\n', stderr);
    rehearsing->progress_open = false;
}

static void tell(struct rehearsing *rehearsing, const char *what, const char *detail)
{
    progress_break(rehearsing);
    fprintf(stderr, "boutwire rehearse: %s%s%s\n", what, detail[0] == '\0' ? "" : ": ", detail);
}

static int64_t elapsed_ms(const struct rehearsing *rehearsing)
{
    return (int64_t)((uv_hrtime() - rehearsing->start_ns) / 1000000);
}

static void show_progress(struct rehearsing *rehearsing, bool last)
{
    size_t done = rehearsing->next - rehearsing->in_flight;
    if (rehearsing->quiet)
        return;
    if (!isatty(STDERR_FILENO)) {
        if (last || done % PROGRESS_EVERY == 0)
            fprintf(stderr, "boutwire rehearse: %zu of %zu events\n", done,
                    rehearsing->rehearsal.count);
        return;
    }
    uint64_t now = uv_hrtime();
    if (!last && now - rehearsing->progress_ns < PROGRESS_MS * UINT64_C(1000000))
        return;
    rehearsing->progress_ns = now;
    int64_t left_ms = rehearsing->rehearsal.length_ms - elapsed_ms(rehearsing);
    int64_t left_seconds = left_ms < 0 ? 0 : (left_ms + 999) / 1000;
    fprintf(stderr, "\r\033[K%zu of %zu events, %" PRId64 ":%02" PRId64 " to go", done,
            rehearsing->rehearsal.count, left_seconds / 60, left_seconds % 60);
    fflush(stderr);
    rehearsing->progress_open = true;
}

/* ---- the end ---- */

static void end_now(struct rehearsing *rehearsing)
{
    uv_close((uv_handle_t *)&rehearsing->timer, NULL);
    uv_close((uv_handle_t *)&rehearsing->patience, NULL);
    caller_end(rehearsing->caller);
}

static void on_end(uv_timer_t *timer)
{
    end_now(timer->data);
}

/* Closes in order; where that takes too long, without. Out of whatever callback we are in. */
static void end(struct rehearsing *rehearsing, int code)
{
    if (rehearsing->ending)
        return;
    rehearsing->ending = true;
    rehearsing->code = code;
    uv_timer_stop(&rehearsing->patience);
    bool in_order = rehearsing->connected;
    if (in_order)
        caller_hang_up(rehearsing->caller);
    uv_timer_start(&rehearsing->timer, on_end, in_order ? 1000 : 0, 0);
}

static void end_done(struct rehearsing *rehearsing)
{
    show_progress(rehearsing, true);
    progress_break(rehearsing);
    end(rehearsing, rehearsing->refused > 0 ? EXIT_REFUSED : EXIT_FINE);
}

/* ---- sending ---- */

static void go_on(struct rehearsing *rehearsing);

static void on_due(uv_timer_t *timer)
{
    go_on(timer->data);
}

static void on_impatience(uv_timer_t *timer)
{
    struct rehearsing *rehearsing = timer->data;
    tell(rehearsing, "the daemon doesn't answer", "");
    caller_hang_up(rehearsing->caller);
}

static bool line_send(struct rehearsing *rehearsing, size_t index)
{
    char *text = rehearsal_message(&rehearsing->rehearsal.lines[index], rehearsing->start_ms);
    int code = text == NULL ? UV_ENOMEM : caller_send(rehearsing->caller, text, strlen(text));
    free(text);
    if (code == UV_ENOMEM)
        end(rehearsing, command_no_memory());
    return code == 0;
}

static void send_due(struct rehearsing *rehearsing)
{
    while (rehearsing->next < rehearsing->rehearsal.count &&
           rehearsing->in_flight < IN_FLIGHT_MAX &&
           rehearsing->rehearsal.lines[rehearsing->next].due_ms <= elapsed_ms(rehearsing)) {
        if (!line_send(rehearsing, rehearsing->next))
            return;
        rehearsing->states[rehearsing->next++] = LINE_SENT;
        if (rehearsing->in_flight++ == 0)
            uv_timer_start(&rehearsing->patience, on_impatience, PATIENCE_MS, 0);
    }
}

static void go_on(struct rehearsing *rehearsing)
{
    if (rehearsing->ending || !rehearsing->connected || !rehearsing->began || rehearsing->held)
        return;
    send_due(rehearsing);
    size_t count = rehearsing->rehearsal.count;
    if (rehearsing->ending)
        return;
    if (rehearsing->next == count && rehearsing->in_flight == 0) {
        end_done(rehearsing);
    } else if (rehearsing->next < count && rehearsing->in_flight < IN_FLIGHT_MAX) {
        int64_t wait_ms =
            rehearsing->rehearsal.lines[rehearsing->next].due_ms - elapsed_ms(rehearsing);
        uv_timer_start(&rehearsing->timer, on_due, wait_ms < 1 ? 1 : (uint64_t)wait_ms, 0);
    }
}

/* After the line was broken, or the daemon too busy: word for word. */
static void send_again(struct rehearsing *rehearsing)
{
    for (size_t i = rehearsing->first_open; i < rehearsing->next; i++)
        if (rehearsing->states[i] == LINE_SENT && !line_send(rehearsing, i))
            return;
    if (rehearsing->in_flight > 0)
        uv_timer_start(&rehearsing->patience, on_impatience, PATIENCE_MS, 0);
    go_on(rehearsing);
}

static void on_again(uv_timer_t *timer)
{
    struct rehearsing *rehearsing = timer->data;
    rehearsing->held = false;
    if (rehearsing->connected)
        send_again(rehearsing);
}

/* ---- answers ---- */

static void line_answered(struct rehearsing *rehearsing, size_t index)
{
    rehearsing->states[index] = LINE_ANSWERED;
    rehearsing->in_flight--;
    while (rehearsing->first_open < rehearsing->next &&
           rehearsing->states[rehearsing->first_open] == LINE_ANSWERED)
        rehearsing->first_open++;
    if (rehearsing->in_flight == 0)
        uv_timer_stop(&rehearsing->patience);
    else
        uv_timer_start(&rehearsing->patience, on_impatience, PATIENCE_MS, 0);
    if (rehearsing->next < rehearsing->rehearsal.count || rehearsing->in_flight > 0)
        show_progress(rehearsing, false);
    go_on(rehearsing);
}

/* The line in flight with that id; SIZE_MAX: none. */
static size_t line_of_id(const struct rehearsing *rehearsing, const char *id)
{
    if (id != NULL)
        for (size_t i = rehearsing->first_open; i < rehearsing->next; i++)
            if (rehearsing->states[i] == LINE_SENT &&
                strcmp(rehearsing->rehearsal.lines[i].id, id) == 0)
                return i;
    return SIZE_MAX;
}

static void take_problem(struct rehearsing *rehearsing, const json_t *problem)
{
    const char *type = json_string_value(json_object_get(problem, "type"));
    const char *detail = json_string_value(json_object_get(problem, "detail"));
    const char *title = json_string_value(json_object_get(problem, "title"));
    size_t index = line_of_id(rehearsing, json_string_value(json_object_get(problem, "id")));
    if (type != NULL &&
        (strcmp(type, "/problem/busy") == 0 || strcmp(type, "/problem/too-fast") == 0)) {
        rehearsing->held = true; /* nothing new before what was turned away */
        uv_timer_start(&rehearsing->timer, on_again, BUSY_MS, 0);
        return;
    }
    if (detail == NULL)
        detail = title != NULL ? title : "refused without a word";
    if (index == SIZE_MAX) {
        tell(rehearsing, "the daemon complains", detail);
        end(rehearsing, EXIT_REFUSED);
        return;
    }
    const struct rehearsal_line *line = &rehearsing->rehearsal.lines[index];
    progress_break(rehearsing);
    fprintf(stderr, "%s:%zu: %s: %s\n", rehearsing->path, rehearsing->source_lines[line->seq - 1],
            line->id, detail);
    rehearsing->refused++;
    if (rehearsing->keep_going)
        line_answered(rehearsing, index);
    else
        end(rehearsing, EXIT_REFUSED);
}

static int64_t wall_ms(void)
{
    uv_timeval64_t now;
    if (uv_gettimeofday(&now) != 0)
        return 0;
    return now.tv_sec * 1000 + now.tv_usec / 1000;
}

static void clock_ask(struct rehearsing *rehearsing)
{
    char text[80];
    int size = snprintf(text, sizeof text, "{\"clock\":{\"t0_ms\":%" PRId64 "}}", wall_ms());
    if (caller_send(rehearsing->caller, text, (size_t)size) == UV_ENOMEM)
        end(rehearsing, command_no_memory());
    else
        uv_timer_start(&rehearsing->patience, on_impatience, PATIENCE_MS, 0);
}

static void begin(struct rehearsing *rehearsing)
{
    uv_timer_stop(&rehearsing->patience);
    rehearsing->began = true;
    rehearsing->start_ns = uv_hrtime();
    rehearsing->start_ms = wall_ms() + rehearsing->ahead_ms;
    go_on(rehearsing);
}

/* The answer was on its way for a while, so the daemon's clock is at least this far ahead: what is
 * keyed by that is never keyed in the future, and every moment counts as it stands. */
static void take_clock(struct rehearsing *rehearsing, const json_t *clock)
{
    const json_t *sent = json_object_get(clock, "t2_ms");
    if (rehearsing->began || !json_is_integer(sent))
        return;
    int64_t ahead_ms = json_integer_value(sent) - wall_ms();
    if (rehearsing->samples == 0 || ahead_ms > rehearsing->ahead_ms)
        rehearsing->ahead_ms = ahead_ms;
    if (++rehearsing->samples < CLOCK_SAMPLES)
        clock_ask(rehearsing);
    else
        begin(rehearsing);
}

static void on_message(void *context, const char *text, size_t size)
{
    struct rehearsing *rehearsing = context;
    json_t *message = json_loadb(text, size, 0, NULL);
    const json_t *ack = json_object_get(message, "ack");
    const json_t *problem = json_object_get(message, "problem");
    const json_t *clock = json_object_get(message, "clock");
    size_t index = line_of_id(rehearsing, json_string_value(json_object_get(ack, "id")));
    if (rehearsing->ending)
        ;
    else if (index != SIZE_MAX)
        line_answered(rehearsing, index);
    else if (problem != NULL)
        take_problem(rehearsing, problem);
    else if (clock != NULL)
        take_clock(rehearsing, clock);
    json_decref(message);
}

/* ---- the line ---- */

static void on_dial(uv_timer_t *timer)
{
    struct rehearsing *rehearsing = timer->data;
    caller_dial(rehearsing->caller);
}

/* A key in an argument would stand in every list of processes. */
static bool greet(struct rehearsing *rehearsing)
{
    const char *key = getenv("BOUTWIRE_KEY");
    json_t *hello =
        key != NULL ? json_pack("{s:{s:s}}", "hello", "key", key) : json_pack("{s:{}}", "hello");
    char *text = hello != NULL ? json_dumps(hello, JSON_COMPACT) : NULL;
    bool sent = text != NULL && caller_send(rehearsing->caller, text, strlen(text)) != UV_ENOMEM;
    json_decref(hello);
    free(text);
    return sent;
}

static void on_opened(void *context)
{
    struct rehearsing *rehearsing = context;
    if (rehearsing->tries > 0)
        tell(rehearsing, "connected again", "");
    rehearsing->connected = true;
    rehearsing->held = false;
    rehearsing->tries = 0;
    if (!greet(rehearsing))
        end(rehearsing, command_no_memory());
    else if (rehearsing->began)
        send_again(rehearsing);
    else
        clock_ask(rehearsing);
}

/* Anything up to a bound that doubles: many that lost the daemon together don't return together. */
static uint64_t retry_ms(unsigned tries)
{
    uint64_t most = RETRY_FIRST_MS;
    while (tries-- > 1 && most < RETRY_MOST_MS)
        most *= 2;
    uint32_t random = 0;
    if (uv_random(NULL, NULL, &random, sizeof random, 0, NULL) != 0)
        random = (uint32_t)uv_hrtime();
    return random % ((most < RETRY_MOST_MS ? most : RETRY_MOST_MS) + 1);
}

static void on_lost(void *context, const char *reason)
{
    struct rehearsing *rehearsing = context;
    bool was_connected = rehearsing->connected;
    rehearsing->connected = false;
    uv_timer_stop(&rehearsing->patience);
    if (rehearsing->ending) {
        uv_timer_start(&rehearsing->timer, on_end, 0, 0);
        return;
    }
    if (!was_connected && !rehearsing->began) {
        char where[400];
        snprintf(where, sizeof where, "no daemon answers at %s port %d", rehearsing->host,
                 rehearsing->port);
        tell(rehearsing, where, "");
        end(rehearsing, EXIT_UNUSABLE);
        return;
    }
    if (was_connected)
        tell(rehearsing, "the line to the daemon is lost", reason);
    if (++rehearsing->tries > TRIES_MAX) {
        tell(rehearsing, "no connection any more", reason);
        end(rehearsing, EXIT_UNUSABLE);
        return;
    }
    uv_timer_start(&rehearsing->timer, on_dial, retry_ms(rehearsing->tries), 0);
}

static int play(struct rehearsing *rehearsing)
{
    struct caller_callbacks callbacks = {rehearsing, on_opened, on_message, on_lost};
    int status = uv_loop_init(&rehearsing->loop);
    if (status != 0)
        return tell(rehearsing, "no loop", uv_strerror(status)), EXIT_UNUSABLE;
    uv_timer_init(&rehearsing->loop, &rehearsing->timer); /* these two can't fail */
    uv_timer_init(&rehearsing->loop, &rehearsing->patience);
    rehearsing->timer.data = rehearsing->patience.data = rehearsing;
    status = caller_new(&rehearsing->caller, &rehearsing->loop, rehearsing->host, rehearsing->port,
                        &callbacks);
    if (status == 0) {
        uv_timer_start(&rehearsing->timer, on_dial, 0, 0);
    } else {
        tell(rehearsing, "no WebSocket", uv_strerror(status));
        rehearsing->code = EXIT_UNUSABLE;
        uv_close((uv_handle_t *)&rehearsing->timer, NULL);
        uv_close((uv_handle_t *)&rehearsing->patience, NULL);
    }
    uv_run(&rehearsing->loop, UV_RUN_DEFAULT);
    caller_free(rehearsing->caller);
    uv_loop_close(&rehearsing->loop);
    return rehearsing->code;
}

/* ---- the log ---- */

static bool note_source(struct rehearsing *rehearsing, uint64_t seq, size_t line)
{
    if (seq > rehearsing->source_capacity) {
        size_t capacity = rehearsing->source_capacity == 0 ? 256 : rehearsing->source_capacity * 2;
        size_t *lines = realloc(rehearsing->source_lines, capacity * sizeof *lines);
        if (lines == NULL)
            return false;
        rehearsing->source_lines = lines;
        rehearsing->source_capacity = capacity;
    }
    rehearsing->source_lines[seq - 1] = line;
    return true;
}

static bool read_line(void *context, const struct log_file_line *line)
{
    struct rehearsing *rehearsing = context;
    switch (line->admittance.admitted) {
    case ADMITTED:
        if (note_source(rehearsing, line->admittance.seq, line->number))
            return true;
        rehearsing->code = command_no_memory();
        return false;
    case REPEATED:
        return true;
    case NO_MEMORY:
        rehearsing->code = command_no_memory();
        return false;
    case NOT_ADMITTED:
        break;
    }
    fprintf(stderr, "%s:%zu: %s\n", rehearsing->path, line->number, line->complaint.detail);
    rehearsing->refused++;
    rehearsing->code = rehearsing->keep_going ? EXIT_FINE : EXIT_REFUSED;
    return rehearsing->keep_going;
}

static int read_log(struct rehearsing *rehearsing)
{
    size_t size = 0;
    char *text = command_read_file(rehearsing->path, &size);
    if (text == NULL)
        return EXIT_UNUSABLE;
    log_file_read(&rehearsing->log, text, size, read_line, rehearsing);
    free(text);
    return rehearsing->code;
}

static int rehearse_log(struct rehearsing *rehearsing)
{
    int code = read_log(rehearsing);
    if (code != EXIT_FINE)
        return code;
    if (!rehearsal_make(&rehearsing->rehearsal, &rehearsing->log,
                        rehearsing->exact ? REHEARSAL_EXACT : REHEARSAL_IN_RHYTHM,
                        rehearsing->speed))
        return command_no_memory();
    rehearsing->states = calloc(rehearsing->rehearsal.count + 1, 1);
    code = rehearsing->states != NULL ? play(rehearsing) : command_no_memory();
    free(rehearsing->states);
    rehearsal_free(&rehearsing->rehearsal);
    return code;
}

static int rehearse_with(struct rehearsing *rehearsing, const char *const *rules,
                         size_t rules_count)
{
    struct edition_files editions;
    int code = edition_files_read(&editions, rules, rules_count);
    if (code != EXIT_FINE)
        return code;
    log_init(&rehearsing->log, &editions.editions, malloc, free);
    code = rehearse_log(rehearsing);
    free(rehearsing->source_lines);
    log_close(&rehearsing->log);
    edition_files_close(&editions);
    return code;
}

/* ---- options ---- */

static bool read_address(struct rehearsing *rehearsing, const char *text)
{
    struct daemon_address address;
    if (daemon_address_read(&address, text) != 0)
        return false;
    snprintf(rehearsing->host, sizeof rehearsing->host, "%s", address.host);
    rehearsing->port = address.port;
    return true;
}

static bool read_speed(struct rehearsing *rehearsing, const char *text)
{
    char *end = NULL;
    rehearsing->speed = strtod(text, &end);
    return end != text && *end == '\0' && rehearsing->speed >= 0.1 && rehearsing->speed <= 60;
}

int command_rehearse(int argc, char **argv)
{
    static const struct option options[] = {
        {"to", required_argument, NULL, 't'}, {"speed", required_argument, NULL, 's'},
        {"exact", no_argument, NULL, 'x'},    {"keep-going", no_argument, NULL, 'k'},
        {"quiet", no_argument, NULL, 'q'},    {"rules", required_argument, NULL, 'r'},
        {"help", no_argument, NULL, 'h'},     {NULL, 0, NULL, 0},
    };
    struct rehearsing rehearsing = {
        .host = "127.0.0.1", .port = 7600, .speed = 1, .code = EXIT_FINE};
    const char *rules[32];
    size_t rules_count = 0;
    bool paced = false;
    for (int option; (option = getopt_long(argc, argv, "h", options, NULL)) != -1;) {
        if (option == 'h')
            return fputs(help, stdout), command_finish(EXIT_FINE);
        if (option == 't' && !read_address(&rehearsing, optarg))
            return command_misused("rehearse", "--to: %s is no HOST:PORT", optarg);
        if (option == 's' && !read_speed(&rehearsing, optarg))
            return command_misused("rehearse", "--speed: %s is no number from 0.1 to 60", optarg);
        if (option == 'r' && rules_count == sizeof rules / sizeof *rules)
            return command_misused("rehearse", "--rules: that is too often");
        if (option == 'r')
            rules[rules_count++] = optarg;
        if (option == '?')
            return EXIT_UNUSABLE;
        paced = paced || option == 's';
        rehearsing.exact = rehearsing.exact || option == 'x';
        rehearsing.keep_going = rehearsing.keep_going || option == 'k';
        rehearsing.quiet = rehearsing.quiet || option == 'q';
    }
    if (paced && rehearsing.exact)
        return command_misused("rehearse", "--exact has no --speed: it sends all at once");
    if (optind + 1 != argc)
        return command_misused("rehearse", "one FILE is wanted, or - for standard input");
    rehearsing.path = argv[optind];
    return rehearse_with(&rehearsing, rules, rules_count);
}
