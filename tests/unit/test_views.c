/* service/views.h, and the hall that is behind: a service without sockets and disk, whose time and
 * commits the test makes. */
#include "service/views.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>
#include "rules/time_of_day.h"
#include "service/service.h"
#include "service/shows.h"
#include "support.h"
#include "wire/json.h"
#include "wire/state_json.h"

static bool send_nothing(void *context, void *client, struct frame *frame)
{
    (void)context;
    (void)client;
    (void)frame;
    return true;
}

static void set_time(struct service *service, int64_t now_ms)
{
    service->daytime = (struct daytime){now_ms, uv_hrtime()};
}

static void begin(struct service *service, int64_t now_ms)
{
    const struct relay_callbacks callbacks = {.send = send_nothing};
    *service = (struct service){.options = {.editions = test_editions(), .public_minors = true}};
    service->options.language = test_language("en");
    log_init(&service->log, test_editions(), malloc, free);
    hall_init(&service->hall, service->options.language);
    service->relay = relay_new("e", &callbacks);
    service->report.level = REPORT_ERROR;
    set_time(service, now_ms);
}

static void end(struct service *service)
{
    relay_free(service->relay);
    draw_memory_close(&service->draws[0]);
    draw_memory_close(&service->draws[1]);
    views_free(service);
    hall_close(&service->hall);
    log_close(&service->log);
}

/* Admitted, committed and read. */
static void commit(struct service *service, const struct value *document)
{
    struct complaint complaint;
    struct admittance admittance = log_admit(&service->log, document, INTAKE_FILE, &complaint);
    cr_assert(eq(int, admittance.admitted, ADMITTED), "%s", complaint.detail);
    bool read = admittance.bout != NULL
                    ? hall_read(&service->hall, admittance.bout)
                    : hall_read_day(&service->hall, log_event(&service->log, admittance.seq));
    cr_assert(read);
    service->intake.committed_seq = admittance.seq;
}

/* As service_publish does it, without its timers. */
static void publish(struct service *service)
{
    if (service->hall.stale) {
        views_retell(service);
        cr_assert(hall_retell(&service->hall, &service->log, service->intake.committed_seq));
    }
    cr_assert(hall_pass(&service->hall, service_real(service)));
    cr_assert(views_advance(service));
    cr_assert(shows_publish(service));
}

/* A story that goes on: the service, and what it has been told so far. */
struct day_told {
    struct service service;
    struct story story;
};

static void day_begin(struct day_told *day)
{
    begin(&day->service, story_begins_ms);
    story_init(&day->story);
}

static void day_end(struct day_told *day)
{
    end(&day->service);
    story_close(&day->story);
}

/* The story's next events, each at its time, and each published. */
static void tell(struct day_told *day, const char *text)
{
    size_t told = day->story.log.count;
    story_tell(&day->story, text);
    for (size_t seq = told + 1; seq <= day->story.log.count; seq++) {
        const struct event *event = log_event(&day->story.log, seq);
        set_time(&day->service, event->at_ms);
        commit(&day->service, event->document);
        publish(&day->service);
    }
}

static void come_to(struct day_told *day, double seconds)
{
    set_time(&day->service, story_begins_ms + (int64_t)(seconds * 1000 + 0.5));
    publish(&day->service);
}

/* The VIEW of mat A's bout, as its topic has it; of an output, as who makes its topic makes it.
 * Borrowed until the next one. */
static json_t *bout_of(struct service *service, const char *topic)
{
    static json_t *made;
    struct mat *mat = hall_mat(views_hall(service, topic), "A");
    if (strncmp(topic, "out/", 4) != 0)
        return json_object_get(relay_state(service->relay, topic), "bout");
    json_decref(made);
    made = NULL;
    if (mat == NULL || mat->shown == NULL)
        return NULL;
    struct state state = state_of(&mat->shown->fold, views_now(service, topic));
    made = view_json(&state, &mat->shown->memory, views_anchors(service, topic));
    return made;
}

static int red_of(struct service *service, const char *topic)
{
    json_t *score = json_object_get(bout_of(service, topic), "score");
    return score != NULL ? (int)json_integer_value(json_object_get(score, "red")) : -1;
}

static const char *clock_at_of(struct service *service, const char *topic)
{
    return json_string_value(
        json_object_get(json_object_get(bout_of(service, topic), "clock"), "at"));
}

static bool clock_runs(struct service *service, const char *topic)
{
    return json_is_true(
        json_object_get(json_object_get(bout_of(service, topic), "clock"), "running"));
}

#define CALLED "0 bout rules:freestyle-2022 mat:A; "
#define RED2 "score side:red points:2 action:takedown "
#define RED4 "score side:red points:4 action:throw "

/* ---- one audience ---- */

Test(views, without_a_delay_nothing_is_kept)
{
    struct day_told day;
    day_begin(&day);
    struct service *service = &day.service;
    cr_expect(views_set_delay(service, "out/main", 0));
    tell(&day, CALLED "1 " RED2);
    cr_expect(service->views.first == NULL);
    cr_expect(views_hall(service, "out/main") == &service->hall);
    cr_expect(eq(i64, views_anchors(service, "out/main").behind_ms, 0));
    cr_expect(eq(int, red_of(service, "out/main"), 2));
    day_end(&day);
}

Test(views, each_audience_has_its_own)
{
    struct day_told day;
    day_begin(&day);
    struct service *service = &day.service;
    tell(&day, CALLED "1 " RED2);
    views_set_delay(service, "out/main", 10000);
    views_set_delay(service, "mat/A/follow", 5000);
    tell(&day, "2 " RED4);
    const struct {
        double at_s;
        int table, booth, follow, output;
    } rows[] = {{2.5, 6, 6, 2, 2},
                {6.9, 6, 6, 2, 2},
                {7.1, 6, 6, 6, 2},
                {11.9, 6, 6, 6, 2},
                {12.1, 6, 6, 6, 6}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        come_to(&day, rows[i].at_s);
        cr_expect(eq(int, red_of(service, "mat/A/table"), rows[i].table), "%g", rows[i].at_s);
        cr_expect(eq(int, red_of(service, "mat/A/booth"), rows[i].booth), "%g", rows[i].at_s);
        cr_expect(eq(int, red_of(service, "mat/A/follow"), rows[i].follow), "%g", rows[i].at_s);
        cr_expect(eq(int, red_of(service, "out/main"), rows[i].output), "%g", rows[i].at_s);
        json_t *topic = relay_state(service->relay, "day/follow");
        json_t *mat = json_object_get(json_object_get(topic, "mats"), "A");
        cr_expect(eq(i64, json_integer_value(json_object_get(json_object_get(mat, "score"), "red")),
                     rows[i].follow),
                  "%g: the day is as far as the mat's follow topic", rows[i].at_s);
    }
    day_end(&day);
}

Test(views, a_slip_is_never_seen)
{
    struct day_told day;
    day_begin(&day);
    struct service *service = &day.service;
    tell(&day, CALLED);
    views_set_delay(service, "mat/A/follow", 10000);
    tell(&day, "20 " RED4 "; 25 void ref:e2; 26 " RED2);
    come_to(&day, 40);
    const struct mat *behind = hall_mat(views_hall(service, "mat/A/follow"), "A");
    cr_expect(eq(int, red_of(service, "mat/A/follow"), 2));
    cr_expect(eq(sz, behind->line_count, 2), "the call and the 2");
    cr_expect(eq(sz, hall_mat(&service->hall, "A")->line_count, 4));
    json_t *lines = json_object_get(relay_state(service->relay, "mat/A/follow"), "lines");
    cr_expect(eq(sz, json_object_size(lines), 2));
    day_end(&day);
}

Test(views, what_was_hidden_stays_hidden_without_a_delay)
{
    struct day_told day;
    day_begin(&day);
    struct service *service = &day.service;
    tell(&day, CALLED);
    views_set_delay(service, "mat/A/booth", 10000);
    tell(&day, "20 " RED4 "; 25 void ref:e2; 26 " RED2);
    come_to(&day, 31);
    views_set_delay(service, "mat/A/booth", 0);
    tell(&day, "40 " RED2);
    json_t *events = json_object_get(relay_state(service->relay, "mat/A/booth"), "events");
    cr_expect(eq(int, red_of(service, "mat/A/booth"), 4), "as live as the table");
    cr_expect(eq(sz, json_object_size(events), 2), "the slip and its void are not among them");
    cr_expect(eq(i64, views_delay(service, "mat/A/booth"), 0));
    day_end(&day);
}

/* What is withheld is withheld at once, however late the audience is. */
Test(views, privacy_is_never_delayed)
{
    struct day_told day;
    day_begin(&day);
    struct service *service = &day.service;
    tell(&day, "0 bout rules:freestyle-2022 mat:A red:{name:'Ada Brandt',athlete:k1} "
               "blue:{name:Blue}; 1 " RED2);
    views_set_delay(service, "mat/A/follow", 60000);
    tell(&day, "2 entry athlete:k1 name:'Ada Brandt' minor:true");
    come_to(&day, 3);
    char *text = json_line(relay_state(service->relay, "mat/A/follow"));
    cr_expect(strstr(text, "Brandt") == NULL, "%s", text);
    cr_expect(strstr(text, "\"AB\"") != NULL, "%s", text);
    free(text);
    tell(&day, "4 " RED4);
    come_to(&day, 70);
    cr_expect(eq(int, red_of(service, "mat/A/follow"), 6));
    text = json_line(relay_state(service->relay, "day/follow"));
    cr_expect(strstr(text, "Brandt") == NULL, "%s", text);
    free(text);
    day_end(&day);
}

/* ---- the clock ---- */

Test(views, a_running_clock_has_its_anchor_moved)
{
    struct day_told day;
    day_begin(&day);
    struct service *service = &day.service;
    views_set_delay(service, "out/main", 10000);
    tell(&day, CALLED "5 clock do:start");
    come_to(&day, 15.5);
    cr_expect(clock_runs(service, "out/main"));
    expect_text("at", clock_at_of(service, "out/main"), "2027-05-08T10:00:15.000Z");
    expect_text("the table's", clock_at_of(service, "mat/A/table"), "2027-05-08T10:00:05.000Z");
    views_set_delay(service, "out/main", 4000);
    publish(service);
    expect_text("lowered", clock_at_of(service, "out/main"), "2027-05-08T10:00:09.000Z");
    day_end(&day);
}

Test(views, a_raised_delay_holds_still)
{
    struct day_told day;
    day_begin(&day);
    struct service *service = &day.service;
    tell(&day, CALLED "5 clock do:start");
    come_to(&day, 20);
    views_set_delay(service, "out/main", 30000);
    publish(service);
    cr_expect(views_stand_still(service, "out/main"));
    cr_expect(not(clock_runs(service, "out/main")));
    json_t *clock = json_object_get(bout_of(service, "out/main"), "clock");
    int64_t t_ms = json_integer_value(json_object_get(clock, "t_ms"));
    cr_expect(t_ms >= 15000 && t_ms < 15500, "as it was when the delay was raised: %d", (int)t_ms);
    const char *still_at =
        json_string_value(json_object_get(bout_of(service, "out/main"), "still_at"));
    cr_expect(still_at != NULL);
    char stands_at[TIME_OF_DAY_SIZE];
    snprintf(stands_at, sizeof stands_at, "%s", still_at);
    expect_text("at", clock_at_of(service, "out/main"), stands_at);
    int64_t next_ms = views_next(service) - story_begins_ms;
    cr_expect(next_ms >= 50000 && next_ms < 50500, "it flows again at %d", (int)next_ms);
    come_to(&day, 50.5);
    cr_expect(not(views_stand_still(service, "out/main")));
    cr_expect(clock_runs(service, "out/main"));
    cr_expect(json_object_get(bout_of(service, "out/main"), "still_at") == NULL);
    expect_text("at", clock_at_of(service, "out/main"), "2027-05-08T10:00:35.000Z");
    day_end(&day);
}

Test(views, a_period_runs_out_late)
{
    struct day_told day;
    day_begin(&day);
    struct service *service = &day.service;
    tell(&day, CALLED "5 clock do:start");
    views_set_delay(service, "mat/A/follow", 20000);
    come_to(&day, 190);
    expect_text("live",
                json_string_value(json_object_get(bout_of(service, "mat/A/table"), "phase")),
                "break");
    expect_text("behind",
                json_string_value(json_object_get(bout_of(service, "mat/A/follow"), "phase")),
                "live");
    cr_expect(eq(i64, views_next(service), story_begins_ms + 205000));
    come_to(&day, 205);
    json_t *bout = bout_of(service, "mat/A/follow");
    expect_text("behind", json_string_value(json_object_get(bout, "phase")), "break");
    expect_text("ends_at",
                json_string_value(json_object_get(json_object_get(bout, "break"), "ends_at")),
                "2027-05-08T10:03:55.000Z");
    day_end(&day);
}

/* ---- coming and going ---- */

Test(views, without_a_delay_again_it_is_done_away_with)
{
    struct day_told day;
    day_begin(&day);
    struct service *service = &day.service;
    tell(&day, CALLED "5 " RED2);
    views_set_delay(service, "out/main", 10000);
    views_set_delay(service, "mat/B/follow", 10000); /* a mat that there isn't yet */
    tell(&day, "6 note id:n1 to:booth text:x");
    cr_expect(service->views.first != NULL);
    views_set_delay(service, "out/main", 0);
    views_set_delay(service, "mat/B/follow", 0);
    publish(service);
    cr_expect(service->views.first == NULL);
    cr_expect(views_hall(service, "out/main") == &service->hall);
    day_end(&day);
}

/* The oldest changes become one: what is shown still never goes back. */
Test(views, a_delay_that_is_changed_all_day)
{
    struct day_told day;
    char text[80];
    uint64_t read_seq = 0;
    int64_t shown_ms = INT64_MIN;
    day_begin(&day);
    tell(&day, CALLED);
    for (int i = 1; i <= 600; i++) {
        snprintf(text, sizeof text, "%d score side:red points:1 action:step_out", 10 * i);
        tell(&day, text);
        cr_assert(views_set_delay(&day.service, "mat/A/follow", 1000 * (i % 7) + 500));
        come_to(&day, 10 * i + 1);
        const struct view *view = day.service.views.first;
        cr_assert(view->now_ms >= shown_ms && view->read_seq >= read_seq, "change %d", i);
        shown_ms = view->now_ms;
        read_seq = view->read_seq;
    }
    come_to(&day, 6020);
    cr_expect(eq(int, red_of(&day.service, "mat/A/follow"), 600));
    cr_expect(not(views_stand_still(&day.service, "mat/A/follow")));
    day_end(&day);
}

Test(views, no_more_than_there_is_room_for)
{
    struct day_told day;
    char topic[32];
    day_begin(&day);
    for (int i = 0; i < VIEWS_MAX; i++) {
        snprintf(topic, sizeof topic, "mat/%d/follow", i);
        cr_assert(views_set_delay(&day.service, topic, 1000));
    }
    cr_expect(not(views_set_delay(&day.service, "out/main", 1000)));
    cr_expect(eq(i64, views_delay(&day.service, "out/main"), 0));
    cr_expect(views_set_delay(&day.service, topic, 2000), "one that is there");
    day_end(&day);
}

/* ---- random days ---- */

struct told { /* the lines of a mat, as they were */
    size_t count;
    char **texts;
};

static void told_take(struct told *told, const struct mat *mat)
{
    size_t lines = mat != NULL ? mat->line_count : 0;
    told->texts = realloc(told->texts, (lines + 1) * sizeof *told->texts);
    for (size_t i = told->count; i < lines; i++)
        told->texts[i] = strdup(mat->lines[i].line.text);
    told->count = lines;
}

static void told_free(struct told *told)
{
    for (size_t i = 0; i < told->count; i++)
        free(told->texts[i]);
    free(told->texts);
}

/* What was told stays told, in its order; what is new comes behind it. */
static void expect_told(const struct told *told, const struct mat *mat, const char *what)
{
    size_t count = mat != NULL ? mat->line_count : 0;
    cr_assert(count >= told->count, "%s: lines are gone", what);
    for (size_t i = 0; i < told->count; i++)
        cr_assert(strcmp(told->texts[i], mat->lines[i].line.text) == 0, "%s: line %d was %s", what,
                  (int)i + 1, told->texts[i]);
}

/* Every bout of the view's hall is what reading its log from the start gives. */
static void expect_as_read_anew(const struct view *view, int64_t now_ms, const char *what)
{
    for (const struct hall_bout *bout = view->hall.bouts; bout != NULL; bout = bout->next) {
        struct delayed_bout delayed;
        struct fold fold;
        int64_t due_ms = INT64_MIN;
        delayed_bout_init(&delayed, bout->bout, malloc, free);
        fold_init(&fold, &delayed.bout, malloc, free);
        for (size_t i = 0; i < bout->fold.count; i++) {
            int64_t own_ms = event_due(&bout->bout->events[i], &view->delays);
            due_ms = own_ms > due_ms ? own_ms : due_ms;
            cr_assert(delayed_bout_read(&delayed, due_ms, UINT64_MAX));
        }
        cr_assert(fold_read(&fold, bout->fold.count));
        char *is = fold_line(&bout->fold, now_ms), *wanted = fold_line(&fold, now_ms);
        cr_assert(strcmp(is, wanted) == 0, "%s, bout %s", what, bout->bout->id);
        free(is);
        free(wanted);
        fold_close(&fold);
        delayed_bout_close(&delayed);
    }
}

static void check_view(struct service *service, const struct view *view, int64_t *shown_ms,
                       const char *what)
{
    int64_t real_ms = service_real(service);
    cr_assert(view->now_ms >= *shown_ms, "%s: back in time", what);
    *shown_ms = view->now_ms;
    for (size_t seq = 1; seq <= service->intake.committed_seq; seq++) {
        bool due = event_due(log_event(&service->log, seq), &view->delays) <= view->now_ms;
        cr_assert(seq <= view->read_seq || !due, "%s: %d is due", what, (int)seq);
    }
    if (view->read_seq > 0)
        cr_assert(log_event(&service->log, view->read_seq)->at_ms <= real_ms);
    expect_as_read_anew(view, view->now_ms, what);
}

static void random_day(uint64_t seed, bool *hidden)
{
    struct dice dice = dice_of(seed);
    struct log source;
    struct service service;
    struct told told = {0, NULL};
    int64_t shown_ms = INT64_MIN;
    char what[60];
    log_init(&source, test_editions(), malloc, free);
    random_log(&dice, &source, 160);
    begin(&service, story_begins_ms);
    for (size_t seq = 1; seq <= source.count; seq++) {
        const struct event *event = log_event(&source, seq);
        snprintf(what, sizeof what, "seed %d, event %d", (int)seed, (int)seq);
        set_time(&service, event->at_ms);
        if (dice_chance(&dice, 15))
            cr_assert(views_set_delay(&service, "mat/A/follow", dice_below(&dice, 13) * 10000));
        commit(&service, event->document);
        if (dice_chance(&dice, 10))
            service.hall.stale = true; /* told anew, it comes out the same */
        if (dice_chance(&dice, 70))
            publish(&service);
        struct hall *hall = views_hall(&service, "mat/A/follow");
        expect_told(&told, hall_mat(hall, "A"), what);
        told_take(&told, hall_mat(hall, "A"));
        publish(&service);
        if (service.views.first != NULL && dice_chance(&dice, 30))
            check_view(&service, service.views.first, &shown_ms, what);
        *hidden = *hidden || views_hall(&service, "mat/A/follow")->has_hidden;
    }
    told_free(&told);
    end(&service);
    log_close(&source);
}

Test(views, random_days, .timeout = 120)
{
    int hidden = 0;
    for (uint64_t seed = 1; seed <= 30; seed++) {
        bool some = false;
        random_day(seed, &some);
        hidden += some ? 1 : 0;
    }
    cr_expect(hidden > 10, "in %d days something was hidden", hidden);
}

/* After a restart nobody is shown anything earlier than before, nor what was hidden from them. */
Test(views, random_restarts, .timeout = 120)
{
    for (uint64_t seed = 1; seed <= 20; seed++) {
        struct dice dice = dice_of(seed);
        struct log source;
        struct service service, again;
        int64_t now_ms = story_begins_ms;
        log_init(&source, test_editions(), malloc, free);
        random_log(&dice, &source, 120);
        begin(&service, now_ms);
        publish(&service);
        for (size_t seq = 1; seq <= source.count; seq++) {
            now_ms = log_event(&source, seq)->at_ms;
            set_time(&service, now_ms);
            if (dice_chance(&dice, 10))
                views_set_delay(&service, "mat/A/booth", dice_below(&dice, 13) * 10000);
            publish(&service);
            commit(&service, log_event(&source, seq)->document);
            publish(&service);
        }
        char *kept = views_write(&service);
        begin(&again, now_ms);
        for (size_t seq = 1; seq <= source.count; seq++)
            commit(&again, log_event(&source, seq)->document);
        set_time(&again, now_ms + 5);
        cr_assert(views_restore(&again, kept), "seed %d: %s", (int)seed, kept);
        publish(&again);
        set_time(&service, now_ms + 5);
        publish(&service);
        struct mat *was = hall_mat(views_hall(&service, "mat/A/booth"), "A");
        struct mat *is = hall_mat(views_hall(&again, "mat/A/booth"), "A");
        cr_assert(eq(sz, is != NULL ? is->line_count : 0, was != NULL ? was->line_count : 0),
                  "seed %d", (int)seed);
        for (size_t i = 0; was != NULL && i < was->line_count; i++)
            expect_text("line", is->lines[i].line.text, was->lines[i].line.text);
        free(kept);
        end(&again);
        end(&service);
        log_close(&source);
    }
}

/* The machine's clock was set back while it was off: a delay that was kept still holds. */
Test(views, a_delay_of_the_future_holds)
{
    struct service service;
    begin(&service, story_begins_ms);
    cr_assert(views_restore(&service, "{\"out/main\":[[1809770460000,30000]]}"));
    cr_expect(daytime_now(&service.daytime) >= story_begins_ms + 60000);
    cr_expect(eq(i64, views_delay(&service, "out/main"), 30000));
    publish(&service);
    cr_expect(views_stand_still(&service, "out/main"));
    end(&service);
}

Test(views, what_is_kept_must_be_what_was_written)
{
    static const char *const bad[] = {
        "",
        "[]",
        "{\"out/main\":1}",
        "{\"nothing\":[[0,1]]}",
        "{\"out/main\":[[0,-1]]}",
        "{\"out/main\":[[0,120001]]}",
        "{\"out/main\":[[0]]}",
        "{\"out/main\":[[5,1],[4,2]]}",
        "{\"out/main\":[[5,1]],\"out/main\":[[5,1]]}",
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct service service;
        begin(&service, story_begins_ms);
        cr_expect(not(views_restore(&service, bad[i])), "%s", bad[i]);
        end(&service);
    }
}
