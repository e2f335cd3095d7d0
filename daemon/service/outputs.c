#include "service/outputs.h"
#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "access/access.h"
#include "service/gallery.h"
#include "service/panels.h"
#include "service/service.h"
#include "service/views.h"
#include "wire/json.h"
#include "wire/output_json.h"
#include "wire/state_json.h"

#define DELAYS "delays" /* how they are kept */

enum { TOPIC_SIZE = OUTPUT_NAME_SIZE + 8, GALLERY_MS = 100 };

struct output_slot {
    struct output_slot *next;
    struct output output;
    json_t *frozen;  /* what is shown while it is held still; NULL: then nothing is */
    bool may_freeze; /* it was held in this run: what it showed then is known */
    bool changed;    /* its topic is to be made anew */
    int64_t next_ms; /* when a rule wants something by time alone */
    struct draw_memory draw;
};

static void slot_look(struct scene *scene, struct service *service, struct output_slot *slot)
{
    scene_look(scene, service, &slot->output);
    scene->draw = &slot->draw;
}

static void topic_write(char topic[TOPIC_SIZE], const struct output *output)
{
    snprintf(topic, TOPIC_SIZE, "out/%s", output->name);
}

static struct output_slot *slot_find(const struct service *service, const char *name)
{
    struct output_slot *slot = service->outputs.first;
    while (slot != NULL && strcmp(slot->output.name, name) != 0)
        slot = slot->next;
    return slot;
}

const struct output *outputs_find(const struct service *service, const char *name)
{
    const struct output_slot *slot = slot_find(service, name);
    return slot != NULL ? &slot->output : NULL;
}

const struct output *outputs_next(const struct service *service, const struct output *after)
{
    const struct output_slot *slot = service->outputs.first;
    if (after != NULL) {
        slot = slot_find(service, after->name);
        assert(slot != NULL); /* it is one of ours */
        slot = slot->next;
    }
    return slot != NULL ? &slot->output : NULL;
}

/* By name, `main` first. */
static bool comes_before(const struct output *one, const struct output *other)
{
    bool is_main = strcmp(one->name, "main") == 0, other_main = strcmp(other->name, "main") == 0;
    return is_main || (!other_main && strcmp(one->name, other->name) < 0);
}

static struct output_slot *slot_add(struct service *service, const struct output *output)
{
    struct output_slot *slot = calloc(1, sizeof *slot);
    if (slot == NULL)
        return NULL;
    struct output_slot **place = &service->outputs.first;
    while (*place != NULL && comes_before(&(*place)->output, output))
        place = &(*place)->next;
    slot->output = *output;
    slot->changed = true;
    slot->next_ms = INT64_MAX;
    slot->next = *place;
    *place = slot;
    service->outputs.count++;
    return slot;
}

static void slot_free(struct output_slot *slot)
{
    json_decref(slot->frozen);
    draw_memory_close(&slot->draw);
    free(slot);
}

static void slot_remove(struct service *service, struct output_slot *slot)
{
    struct output_slot **place = &service->outputs.first;
    while (*place != slot)
        place = &(*place)->next;
    *place = slot->next;
    service->outputs.count--;
    slot_free(slot);
}

/* ---- what a topic says ---- */

static json_t *panel_json(const struct scene *scene, const struct on_air *on_air)
{
    const struct choice *choice = &on_air->choice;
    json_t *panel = scene_panel(scene, choice);
    return json_whole(
        panel, json_add_text(panel, "panel", panel_name(choice->panel)) &&
                   json_add_text(panel, "side", side_name(choice->side)) &&
                   json_add_time(panel, "since", on_air->since_ms) &&
                   json_add_integer(panel, "least_ms", on_air->least_ms) &&
                   json_add_text(panel, "rule", armed_rule_name(on_air->rule)) &&
                   json_add_text(panel, "withheld", absence_name(scene_absence(scene, choice))));
}

static json_t *shown_json(const struct scene *scene, const struct output *output)
{
    json_t *object = json_object();
    bool hidden = output->hold == HOLD_HIDE;
    bool panel = output->on_air.choice.panel != PANEL_NONE && !hidden;
    return json_whole(
        object, json_add(object, "line", json_boolean(output->on_air.line && !hidden)) &&
                    (!panel || json_add(object, "panel", panel_json(scene, &output->on_air))));
}

static json_t *state_json_of(const struct scene *scene, const struct output *output)
{
    json_t *object = json_object();
    bool off = scene->service->public_is_off;
    const char *mat = scene->mat != NULL ? scene->mat->name : output->mat;
    return json_whole(
        object, json_add_text(object, "output", output->name) &&
                    json_add_text(object, "mat", mat) &&
                    json_add(object, "on_air", shown_json(scene, output)) &&
                    json_add(object, "look", look_json(&output->look)) &&
                    json_add_integer(object, "delay_ms", output->delay.ms) &&
                    (output->hold == HOLD_OFF || json_add(object, "hold", hold_json(output))) &&
                    json_add_text(object, "withheld", off ? "minors" : NULL) &&
                    (scene->bout == NULL ||
                     json_add(object, "bout", scene_view(scene, output->hold == HOLD_FREEZE))));
}

/* What was on air when it was frozen, less what has been cleared since. */
static json_t *frozen_json(const struct output_slot *slot)
{
    const struct on_air *on_air = &slot->output.on_air;
    json_t *object = json_copy(slot->frozen);
    json_t *shown = json_copy(json_object_get(slot->frozen, "on_air"));
    bool complete = object != NULL && shown != NULL;
    if (complete && !on_air->line)
        complete = json_object_set_new(shown, "line", json_false()) == 0;
    if (complete && on_air->choice.panel == PANEL_NONE)
        json_object_del(shown, "panel");
    complete = json_add(object, "on_air", shown) && complete;
    return json_whole(object, complete);
}

/* A picture held still that isn't known any more (after a restart) is hidden: nothing untrue is
 * shown in its place. */
static json_t *held_json(struct output_slot *slot, const struct scene *scene)
{
    if (slot->may_freeze && slot->frozen == NULL)
        slot->frozen = state_json_of(scene, &slot->output);
    if (slot->frozen != NULL)
        return frozen_json(slot);
    struct output hidden = slot->output;
    hidden.hold = HOLD_HIDE;
    return state_json_of(scene, &hidden);
}

static bool publish_slot(struct service *service, struct output_slot *slot,
                         const struct scene *scene)
{
    char topic[TOPIC_SIZE];
    bool held = slot->output.hold == HOLD_FREEZE;
    json_t *state = held ? held_json(slot, scene) : state_json_of(scene, &slot->output);
    topic_write(topic, &slot->output);
    bool done = state != NULL && relay_publish(service->relay, topic, state) == 0;
    json_decref(state);
    return done;
}

/* ---- the rules, and when a topic is made anew ---- */

static bool any_armed(const struct output *output)
{
    for (unsigned rule = RULE_NONE + 1; rule < RULE_COUNT; rule++)
        if (output->armed[rule].on)
            return true;
    return false;
}

static void keep_alone(struct service *service, const struct output *output);

static void look(struct service *service, struct output_slot *slot, const struct scene *scene)
{
    struct output *output = &slot->output;
    bool armed = any_armed(output);
    slot->next_ms = INT64_MAX;
    if (!armed && output->on_air.choice.panel == PANEL_NONE)
        return;
    struct situation now = scene_situation(scene, armed);
    if (!output_look(output, &now, &slot->next_ms))
        return;
    slot->changed = true;
    keep_alone(service, output);
}

static bool mat_has_changed(const struct scene *scene, const struct output *output)
{
    bool whole_hall = output->on_air.choice.panel != PANEL_NONE;
    if (scene->mat != NULL && scene->mat->changed)
        return true;
    for (const struct mat *mat = scene->hall->mats; mat != NULL && whole_hall; mat = mat->next)
        if (mat->changed)
            return true;
    return false;
}

static void gallery_soon(struct service *service);
static void set_timer(struct service *service);

bool outputs_publish(struct service *service)
{
    bool done = true, any = false;
    for (struct output_slot *slot = service->outputs.first; slot != NULL; slot = slot->next) {
        struct scene scene;
        slot_look(&scene, service, slot);
        bool changed = slot->changed || mat_has_changed(&scene, &slot->output);
        look(service, slot, &scene);
        if (!changed && !slot->changed)
            continue;
        any = true;
        done = publish_slot(service, slot, &scene) && done;
        slot->changed = !done;
    }
    if (any)
        gallery_soon(service);
    written_publish(service);
    set_timer(service);
    return done;
}

static void thaw(struct output_slot *slot)
{
    json_decref(slot->frozen);
    slot->frozen = NULL;
    slot->may_freeze = false;
    slot->changed = true;
}

void outputs_thaw(struct service *service)
{
    for (struct output_slot *slot = service->outputs.first; slot != NULL; slot = slot->next)
        thaw(slot);
}

static bool is_output(const char *topic)
{
    return strncmp(topic, "out/", 4) == 0;
}

void outputs_conceal(struct service *service)
{
    relay_forget(service->relay, is_output);
    for (struct output_slot *slot = service->outputs.first; slot != NULL; slot = slot->next) {
        enum panel panel = slot->output.on_air.choice.panel;
        const json_t *shown = json_object_get(slot->frozen, "on_air");
        if (json_object_get(json_object_get(shown, "panel"), "text") != NULL)
            thaw(slot);
        slot->changed = slot->changed || panel == PANEL_TEXT || panel == PANEL_BACK;
    }
}

/* ---- time ---- */

static void on_timer(uv_timer_t *timer)
{
    service_publish(timer->data);
}

static void set_timer(struct service *service)
{
    int64_t next_ms = INT64_MAX, now_ms = daytime_now(&service->daytime);
    for (const struct output_slot *slot = service->outputs.first; slot != NULL; slot = slot->next)
        if (slot->next_ms < next_ms)
            next_ms = slot->next_ms;
    if (next_ms == INT64_MAX || service->stopping)
        uv_timer_stop(&service->outputs.timer);
    else
        uv_timer_start(&service->outputs.timer, on_timer,
                       next_ms > now_ms ? (uint64_t)(next_ms - now_ms) : 1, 0);
}

static void on_gallery(uv_timer_t *timer)
{
    gallery_publish(timer->data);
}

static void gallery_soon(struct service *service)
{
    uv_timer_t *timer = &service->outputs.gallery;
    bool wanted = relay_state(service->relay, "gallery") != NULL && !service->stopping;
    if (wanted && !uv_is_active((uv_handle_t *)timer))
        uv_timer_start(timer, on_gallery, GALLERY_MS, 0);
}

/* ---- keeping, and the answer ---- */

/* Who waits for the disk; its `answer` NULL: nobody any more. */
struct outputs_waiting {
    struct outputs_waiting *next;
    struct service *service;
    struct outputs_source source;
    json_t *done;
};

static const struct problem problem_none = {NULL, NULL, 0};

static void refuse(const struct outputs_source *source, const struct problem *problem,
                   const char *detail, const char *pointer)
{
    const struct outputs_answer answer = {NULL, *problem, detail, pointer, source->id};
    source->answer(source->who, &answer);
}

/* Takes `done`. */
static void answer_done(const struct outputs_source *source, json_t *done, bool kept)
{
    const struct outputs_answer answer = {done, problem_none, "", "", source->id};
    bool complete = done != NULL && (kept || json_add(done, "kept", json_false()));
    if (complete)
        source->answer(source->who, &answer);
    else
        refuse(source, &problem_no_memory, "", "");
    json_decref(done);
}

/* Nobody waits: a rule has done it. A failure of the store is told by whoever meets it. */
static void on_kept_alone(void *context, int status)
{
    (void)context;
    (void)status;
}

static void waiting_remove(struct outputs_waiting *waiting)
{
    struct outputs_waiting **place = &waiting->service->outputs.waiting;
    while (*place != waiting)
        place = &(*place)->next;
    *place = waiting->next;
    free(waiting);
}

static void on_kept(void *context, int status)
{
    struct outputs_waiting *waiting = context;
    struct outputs_source source = waiting->source;
    json_t *done = waiting->done;
    waiting_remove(waiting);
    if (source.answer != NULL)
        answer_done(&source, done, status == 0);
    else
        json_decref(done);
}

static char *kept_text(const struct output *output)
{
    json_t *json = output_kept_json(output);
    char *text = json != NULL ? json_line(json) : NULL;
    json_decref(json);
    return text;
}

static void keep_alone(struct service *service, const struct output *output)
{
    char topic[TOPIC_SIZE];
    char *text = kept_text(output);
    topic_write(topic, output);
    if (text != NULL)
        journal_keep(service->journal, topic, text, on_kept_alone, NULL);
    free(text);
}

static struct outputs_waiting *waiting_add(struct service *service,
                                           const struct outputs_source *source, json_t *done)
{
    struct outputs_waiting *waiting = calloc(1, sizeof *waiting);
    if (waiting == NULL)
        return NULL;
    *waiting = (struct outputs_waiting){service->outputs.waiting, service, *source, done};
    waiting->source.id = NULL; /* it was borrowed; `done` has it */
    service->outputs.waiting = waiting;
    return waiting;
}

/* Takes both; without memory or a store it is answered at once. */
static void keep_and_answer(struct service *service, const struct outputs_source *source,
                            const char *name, char *text, json_t *done)
{
    bool complete = text != NULL && done != NULL;
    struct outputs_waiting *waiting = complete ? waiting_add(service, source, done) : NULL;
    if (waiting == NULL) {
        answer_done(source, done, false);
    } else if (journal_keep(service->journal, name, text, on_kept, waiting) != 0) {
        waiting_remove(waiting);
        answer_done(source, done, false);
    }
    free(text);
}

void outputs_forget(struct service *service, const void *who)
{
    for (struct outputs_waiting *waiting = service->outputs.waiting; waiting != NULL;
         waiting = waiting->next)
        if (waiting->source.who == who)
            waiting->source.answer = NULL;
}

/* ---- an action ---- */

static bool add_outcome(json_t *done, const struct act_outcome *outcome)
{
    if (outcome->has_changes &&
        !json_add(done, "changed", changes_json(outcome->changes, &outcome->was, &outcome->is)))
        return false;
    return outcome->cut_short == PANEL_NONE ||
           json_add(done, "cut_short",
                    json_pack("{s:s, s:I}", "panel", panel_name(outcome->cut_short), "left_ms",
                              (json_int_t)outcome->cut_short_ms));
}

static json_t *done_json(const struct outputs_source *source, const struct output *output,
                         const struct act *act, const struct act_outcome *outcome)
{
    json_t *done = json_object();
    return json_whole(done, json_add_text(done, "output", output->name) &&
                                json_add_text(done, "id", source->id) &&
                                json_add_text(done, "do", act_name(act->kind)) &&
                                json_add_integer(done, "version", (int64_t)output->version) &&
                                add_outcome(done, outcome));
}

/* The text as an action. False: answered. */
static bool read_act(struct service *service, const struct outputs_source *source, const char *text,
                     size_t size, struct act *act)
{
    struct complaint complaint = {.why = ACCEPTED};
    arena_reset(&service->parsing);
    const struct value *value = json_read(&service->parsing, text, size, &complaint);
    if (value != NULL && act_read(act, value, &complaint))
        return true;
    struct problem problem = problem_of_refusal(complaint.why);
    if (complaint.why == ACCEPTED)
        refuse(source, &problem_no_memory, "", "");
    else
        refuse(source, &problem, complaint.detail, complaint.pointer);
    return false;
}

/* The output of that name; one more, where there is none. NULL: answered. */
static struct output_slot *slot_of(struct service *service, const struct outputs_source *source,
                                   const char *name, const struct act *act)
{
    struct output_slot *slot = slot_find(service, name);
    if (slot != NULL)
        return slot;
    if (!output_name_is_good(name))
        refuse(source, &problem_output, "a name has 1 to 32 of a-z, 0-9 and -", "");
    else if (act->kind == ACT_REMOVE)
        refuse(source, &problem_output, "", "");
    else if (service->outputs.count >= OUTPUTS_MAX)
        refuse(source, &problem_outputs_full, "16 at most: remove one", "");
    else {
        const struct output output = output_new(name);
        slot = slot_add(service, &output);
        if (slot == NULL)
            refuse(source, &problem_no_memory, "", "");
    }
    return slot;
}

/* In the same commit as the output's own text. */
static void keep_delays(struct service *service)
{
    char *text = views_write(service);
    if (text != NULL)
        journal_keep(service->journal, DELAYS, text, on_kept_alone, NULL);
    free(text);
}

static void remove_output(struct service *service, const struct outputs_source *source,
                          struct output_slot *slot, const struct act *act)
{
    const struct act_outcome outcome = {.changed = true};
    const struct problem problem = problem_of_refusal(REFUSED_MEMBER_VALUE);
    char topic[TOPIC_SIZE];
    if (strcmp(slot->output.name, "main") == 0) {
        refuse(source, &problem, "main always is", "/remove");
        return;
    }
    json_t *done = done_json(source, &slot->output, act, &outcome);
    json_t *gone = json_pack("{s:s, s:{s:b}, s:b}", "output", slot->output.name, "on_air", "line",
                             0, "removed", 1);
    topic_write(topic, &slot->output);
    views_set_delay(service, topic, 0);
    keep_delays(service);
    if (gone != NULL)
        relay_publish(service->relay, topic, gone);
    json_decref(gone);
    slot_remove(service, slot);
    service_publish(service);
    gallery_soon(service);
    keep_and_answer(service, source, topic, strdup(""), done);
}

/* Whose delay it may be, besides an output's: what viewers of a mat follow, and its booth. */
static bool can_be_delayed(const char *topic)
{
    struct audience audience;
    return audience_of(topic, &audience) && audience.mat[0] != '\0' &&
           (audience.action == ACTION_READ_PUBLIC || audience.action == ACTION_READ_BOOTH);
}

/* False: answered. */
static bool set_delay(struct service *service, const struct outputs_source *source,
                      const struct output *output, const struct act *act)
{
    const struct problem problem = problem_of_refusal(REFUSED_MEMBER_VALUE);
    char topic[TOPIC_SIZE];
    topic_write(topic, output);
    if (act->of[0] != '\0' && !can_be_delayed(act->of)) {
        refuse(source, &problem, "of: must be mat/MAT/follow or mat/MAT/booth", "/delay/of");
        return false;
    }
    const char *of = act->of[0] != '\0' ? act->of : topic;
    if (views_set_delay(service, of, act->delay.ms))
        return true;
    if (service->views.count >= VIEWS_MAX && views_delay(service, of) == 0)
        refuse(source, &problem_delays_full, "256 at most: set another's to 0", "/delay");
    else
        refuse(source, &problem_no_memory, "", "");
    return false;
}

static void freeze_or_thaw(struct output_slot *slot)
{
    if (slot->output.hold == HOLD_FREEZE) {
        slot->may_freeze = true;
        return;
    }
    thaw(slot);
}

/* False: it wasn't done, which was answered. */
static bool apply(struct service *service, const struct outputs_source *source,
                  struct output_slot *slot, const struct act *act)
{
    struct act_outcome outcome;
    struct scene scene;
    char detail[160] = "", topic[TOPIC_SIZE];
    slot_look(&scene, service, slot);
    struct situation now = scene_situation(&scene, true);
    bool was_frozen = slot->output.hold == HOLD_FREEZE;
    switch (output_act(&slot->output, act, &now, source->by, &outcome, detail, sizeof detail)) {
    case ACT_NOT_PREPARED:
        refuse(source, &problem_not_prepared, detail, "/take");
        return false;
    case ACT_ABSENT:
        refuse(source, &problem_withheld, detail, "/take/panel");
        return false;
    case ACT_DONE:
        break;
    }
    if (!was_frozen || slot->output.hold != HOLD_FREEZE)
        freeze_or_thaw(slot);
    slot->changed = true;
    service_publish(service);
    gallery_soon(service);
    if (act->kind == ACT_DELAY)
        keep_delays(service);
    topic_write(topic, &slot->output);
    keep_and_answer(service, source, topic, kept_text(&slot->output),
                    done_json(source, &slot->output, act, &outcome));
    return true;
}

void outputs_take(struct service *service, const struct outputs_source *source, const char *name,
                  const char *text, size_t size)
{
    struct act act;
    if (!read_act(service, source, text, size, &act))
        return;
    bool is_new = slot_find(service, name) == NULL;
    struct output_slot *slot = slot_of(service, source, name, &act);
    if (slot == NULL)
        return;
    if (act.kind == ACT_REMOVE) {
        remove_output(service, source, slot, &act);
        return;
    }
    bool done = act.kind != ACT_DELAY || set_delay(service, source, &slot->output, &act);
    done = done && apply(service, source, slot, &act);
    if (!done && is_new)
        slot_remove(service, slot); /* what is refused makes nothing */
}

/* ---- the gallery ---- */

/* Every panel as it would be shown now, for the pictures of what can be prepared. */
static json_t *panels_json(const struct scene *scene, const struct output *output)
{
    json_t *panels = json_object();
    bool complete = panels != NULL;
    for (unsigned i = PANEL_NONE + 1; i < PANEL_COUNT && complete; i++) {
        struct choice choice = {.panel = (enum panel)i};
        if (output->prepared.choice.panel == choice.panel)
            choice = output->prepared.choice;
        json_t *panel = scene_panel(scene, &choice);
        unsigned words = words_of(panel);
        complete = json_add_text(panel, "withheld", absence_name(scene_absence(scene, &choice))) &&
                   json_add_integer(panel, "least_ms", panel_least_ms(&choice, words)) &&
                   json_add(panels, panel_name(choice.panel), json_incref(panel));
        json_decref(panel);
    }
    return json_whole(panels, complete);
}

static json_t *slot_json(struct service *service, struct output_slot *slot)
{
    const struct output *output = &slot->output;
    struct scene scene;
    slot_look(&scene, service, slot);
    struct situation now = scene_situation(&scene, false);
    json_t *object = json_object();
    return json_whole(
        object,
        json_add_integer(object, "version", (int64_t)output->version) &&
            json_add_text(object, "mat", output->mat) &&
            json_add_text(object, "mat_shown", scene.mat != NULL ? scene.mat->name : output->mat) &&
            json_add_text(object, "bout", now.seen.bout) &&
            json_add(object, "delay", delay_json(&output->delay)) &&
            json_add(object, "look", look_json(&output->look)) &&
            json_add(object, "on_air", on_air_json(output)) &&
            (output->prepared.choice.panel == PANEL_NONE ||
             json_add(object, "prepared", prepared_json(output, &now.seen))) &&
            (output->hold == HOLD_OFF || json_add(object, "hold", hold_json(output))) &&
            json_add(object, "rules", rules_json(output)) &&
            json_add(object, "panels", panels_json(&scene, output)));
}

json_t *outputs_json(struct service *service)
{
    json_t *object = json_object();
    bool complete = object != NULL;
    for (struct output_slot *slot = service->outputs.first; slot != NULL && complete;
         slot = slot->next)
        complete = json_add(object, slot->output.name, slot_json(service, slot));
    return json_whole(object, complete);
}

/* Of the outputs, each says its own. */
json_t *outputs_delays_json(struct service *service)
{
    json_t *object = json_object();
    bool complete = object != NULL;
    for (const struct view *view = service->views.first; view != NULL && complete;
         view = view->next) {
        int64_t delay_ms = views_delay(service, view->topic);
        complete = is_output(view->topic) || delay_ms == 0 ||
                   json_add_integer(object, view->topic, delay_ms);
    }
    return json_whole(object, complete);
}

/* ---- the beginning and the end ---- */

/* What a newer program has kept is left alone. */
static int load_output(struct service *service, const struct kept *kept)
{
    struct output output;
    struct complaint complaint;
    json_t *json = json_parse(kept->text, strlen(kept->text), &complaint);
    bool good = json != NULL && output_kept_read(&output, json);
    json_decref(json);
    if (good)
        return slot_add(service, &output) != NULL ? 0 : UV_ENOMEM;
    report(&service->report, REPORT_WARNING, "what is kept of an output can't be read", "name=%s",
           kept->name);
    return 0;
}

static int load_one(void *context, const struct kept *kept)
{
    struct service *service = context;
    if (strncmp(kept->name, "out/", 4) == 0)
        return load_output(service, kept);
    if (strcmp(kept->name, DELAYS) != 0)
        return 0;
    service->outputs.kept_delays = strdup(kept->text);
    return service->outputs.kept_delays != NULL ? 0 : UV_ENOMEM;
}

bool outputs_load(struct service *service)
{
    int status = journal_read_kept(service->journal, load_one, service);
    if (status != 0)
        report(&service->report, REPORT_ERROR, "what is kept of the outputs can't be read",
               "reason=\"%s\"", uv_strerror(status));
    return status == 0;
}

static bool delays_begin(struct service *service)
{
    char topic[TOPIC_SIZE];
    const char *kept = service->outputs.kept_delays;
    if (kept != NULL && !views_restore(service, kept))
        return false;
    for (const struct output_slot *slot = service->outputs.first; slot != NULL; slot = slot->next) {
        topic_write(topic, &slot->output);
        if (views_delay(service, topic) != slot->output.delay.ms &&
            !views_set_delay(service, topic, slot->output.delay.ms))
            return false;
    }
    return true;
}

bool outputs_open(struct service *service)
{
    const struct output output = output_new("main");
    bool done = delays_begin(service);
    free(service->outputs.kept_delays);
    service->outputs.kept_delays = NULL;
    return done && (slot_find(service, "main") != NULL || slot_add(service, &output) != NULL);
}

void outputs_start(struct service *service)
{
    uv_timer_init(&service->loop, &service->outputs.timer);
    uv_timer_init(&service->loop, &service->outputs.gallery);
    service->outputs.timer.data = service->outputs.gallery.data = service;
}

void outputs_stop(struct service *service)
{
    uv_close((uv_handle_t *)&service->outputs.timer, NULL);
    uv_close((uv_handle_t *)&service->outputs.gallery, NULL);
}

void outputs_free(struct service *service)
{
    free(service->outputs.kept_delays);
    while (service->outputs.first != NULL) {
        struct output_slot *slot = service->outputs.first;
        service->outputs.first = slot->next;
        slot_free(slot);
    }
}
