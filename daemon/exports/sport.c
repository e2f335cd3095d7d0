/* IPTC Sport Schema 1.1: the bout is an Event, each side's part in it an IndividualParticipation
 * with a ParticipationSplit a period, each score an Action. Its vocabulary has nothing for holds,
 * point values or the endings of wrestling: these carry our own words under `bw:`, by their names
 * in docs/events.md. Wrestling is medtop:20001098, freestyle 20001099, Greco-Roman 20001100. */
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "exports/exports.h"
#include "rules/time_of_day.h"
#include "stats/state.h"
#include "wire/json.h"
#include "wire/state_json.h"

enum { IRI_SIZE = 512 };

struct sport {
    const struct exported_bout *bout;
    const struct fold *fold;
    struct state state;
    const char *base;
};

/* Ids of bouts have no characters that an IRI couldn't hold: contract, section 1. */
static const char *iri(const struct sport *sport, const char *what, char room[IRI_SIZE])
{
    snprintf(room, IRI_SIZE, "%s%s%s%s",
             sport->base != NULL ? sport->base : "urn:boutwire:", sport->fold->bout->id,
             what[0] != '\0' ? (sport->base != NULL ? "/" : ":") : "", what);
    return room;
}

static json_t *reference(const struct sport *sport, const char *what)
{
    char room[IRI_SIZE];
    return json_pack("{s:s}", "@id", iri(sport, what, room));
}

static json_t *context_json(void)
{
    return json_pack("{s:s, s:s, s:s, s:s, s:s, s:s, s:s, s:s, s:s, s:s}", "sport",
                     "https://sportschema.org/ontologies/main/", "spfacet",
                     "https://sportschema.org/ontologies/sport-facets/", "medtop",
                     "http://cv.iptc.org/newscodes/mediatopic/", "speventstatus",
                     "http://cv.iptc.org/newscodes/speventstatus/", "speventoutcome",
                     "http://cv.iptc.org/newscodes/speventoutcome/", "spcompetitionscope",
                     "http://cv.iptc.org/newscodes/spcompetitionscope/", "spactionclass",
                     "http://cv.iptc.org/newscodes/spactionclass/", "rdfs",
                     "http://www.w3.org/2000/01/rdf-schema#", "xsd",
                     "http://www.w3.org/2001/XMLSchema#", "bw", "urn:boutwire:vocabulary:");
}

static json_t *node(const struct sport *sport, const char *what, const char *type)
{
    char room[IRI_SIZE];
    json_t *object = json_object();
    return json_whole(object, json_add_text(object, "@id", iri(sport, what, room)) &&
                                  json_add_text(object, "@type", type));
}

static json_t *time_json(int64_t ms)
{
    char time[TIME_OF_DAY_SIZE];
    time_of_day_write(ms, time);
    return json_pack("{s:s, s:s}", "@type", "xsd:dateTime", "@value", time);
}

static bool add_text_number(json_t *object, const char *name, int64_t number)
{
    char text[32];
    snprintf(text, sizeof text, "%lld", (long long)number);
    return json_add_text(object, name, text);
}

/* ---- the athletes ---- */

static const char *athlete_of(unsigned side)
{
    return side == 0 ? "red" : "blue";
}

static json_t *athlete_json(const struct sport *sport, unsigned side)
{
    const struct person *person = &sport->fold->details->sides[side];
    json_t *object = node(sport, athlete_of(side), "sport:Athlete");
    return json_whole(object, object != NULL && json_add_text(object, "rdfs:label", person->name) &&
                                  json_add_text(object, "bw:team", person->team) &&
                                  json_add_text(object, "bw:noc", person->noc));
}

/* ---- their parts ---- */

static json_t *outcome_json(const struct sport *sport, unsigned side)
{
    enum side winner = sport->state.result.winner;
    const char *outcome = winner == SIDE_NONE          ? "speventoutcome:undecided"
                          : side_index(winner) == side ? "speventoutcome:win"
                                                       : "speventoutcome:loss";
    return json_pack("{s:s}", "@id", outcome);
}

static int points_in(const struct sport *sport, unsigned side, int period)
{
    int points = 0;
    for (int32_t place = sport->fold->first_entry; place != EVENT_NONE;
         place = sport->fold->events[place].next) {
        const struct read_event *read = &sport->fold->events[place];
        if (read->period == period && side_index((enum side)read->giver) == side)
            points += read->event->points;
    }
    return points;
}

static const char *part_name(unsigned side, int period, char room[32])
{
    if (period == 0)
        snprintf(room, 32, "participation/%s", athlete_of(side));
    else
        snprintf(room, 32, "participation/%s/%d", athlete_of(side), period);
    return room;
}

static json_t *split_json(const struct sport *sport, unsigned side, int period)
{
    char name[32];
    json_t *object = node(sport, part_name(side, period, name), "sport:ParticipationSplit");
    return json_whole(
        object, object != NULL &&
                    json_add(object, "sport:participationBy", reference(sport, athlete_of(side))) &&
                    json_add(object, "sport:participationSplitType",
                             json_pack("{s:s}", "@id", "spcompetitionscope:round")) &&
                    add_text_number(object, "sport:score", points_in(sport, side, period)));
}

static json_t *splits_json(const struct sport *sport, unsigned side)
{
    json_t *splits = json_array();
    bool complete = splits != NULL;
    for (int period = 1; period <= sport->state.result.period && complete; period++)
        complete = json_array_append_new(splits, split_json(sport, side, period)) == 0;
    return json_whole(splits, complete);
}

static json_t *part_json(const struct sport *sport, unsigned side)
{
    char name[32];
    const struct result *result = &sport->state.result;
    json_t *object = node(sport, part_name(side, 0, name), "sport:IndividualParticipation");
    return json_whole(
        object, object != NULL &&
                    json_add(object, "sport:participationBy", athlete_json(sport, side)) &&
                    json_add(object, "sport:eventOutcome", outcome_json(sport, side)) &&
                    add_text_number(object, "sport:score", sport->state.all.sides[side].points) &&
                    add_text_number(object, "bw:class_points", result->class_points[side]) &&
                    json_add_text(object, "bw:side", athlete_of(side)) &&
                    json_add(object, "sport:participationSplit", splits_json(sport, side)));
}

/* ---- what happened ---- */

static json_t *action_json(const struct sport *sport, const struct read_event *read)
{
    const struct event *event = read->event;
    char name[96], part[32];
    snprintf(name, sizeof name, "action/%s", event->id);
    json_t *object = node(sport, name, "sport:Action");
    return json_whole(
        object,
        object != NULL && json_add(object, "sport:event", reference(sport, "")) &&
            json_add_text(object, "sport:actionType", event_type_name(event->type)) &&
            json_add(object, "sport:class", json_pack("{s:s}", "@id", "spactionclass:score")) &&
            json_add(object, "sport:actionParticipation",
                     reference(sport, part_name(side_index((enum side)read->giver), 0, part))) &&
            add_text_number(object, "sport:periodValue", read->period) &&
            add_text_number(object, "sport:sequenceNumber", (int64_t)event->seq) &&
            add_text_number(object, "bw:points", event->points) &&
            add_text_number(object, "bw:t_ms", read->t_ms) &&
            json_add_text(object, "bw:action", event->action) &&
            json_add_text(object, "bw:technique", export_technique(sport->fold, event)));
}

static bool add_actions(const struct sport *sport, json_t *graph)
{
    bool complete = true;
    for (int32_t place = sport->fold->first_entry; place != EVENT_NONE && complete;
         place = sport->fold->events[place].next)
        complete =
            json_array_append_new(graph, action_json(sport, &sport->fold->events[place])) == 0;
    return complete;
}

/* ---- the bout ---- */

static const char *topic_of(const char *style)
{
    if (style != NULL && strcmp(style, "freestyle") == 0)
        return "medtop:20001099";
    if (style != NULL && strcmp(style, "greco_roman") == 0)
        return "medtop:20001100";
    return "medtop:20001098";
}

static const char *status_of(const struct state *state)
{
    return state->result.how != NULL && !state->result.unconfirmed ? "speventstatus:post-event"
                                                                   : "speventstatus:mid-event";
}

static json_t *parts_json(const struct sport *sport)
{
    return json_pack("[o, o]", part_json(sport, 0), part_json(sport, 1));
}

/* What it was a bout of: there the model has the sport. */
static json_t *competition_json(const struct sport *sport)
{
    const struct details *details = sport->fold->details;
    json_t *object = node(sport, "competition", "sport:Competition");
    return json_whole(object, object != NULL &&
                                  json_add(object, "sport:sport",
                                           json_pack("{s:s}", "@id", topic_of(details->style))));
}

static json_t *event_json(const struct sport *sport, const struct language *language)
{
    const struct details *details = sport->fold->details;
    const struct result *result = &sport->state.result;
    char title[TITLE_SIZE];
    json_t *object = node(sport, "", "sport:Event");
    return json_whole(
        object,
        object != NULL &&
            json_add_text(object, "rdfs:label", export_title(sport->bout, language, title)) &&
            json_add_text(object, "rdfs:comment", language->phrases[FEED_CAUTION]) &&
            json_add(object, "sport:competition", competition_json(sport)) &&
            json_add(object, "sport:eventStatus",
                     json_pack("{s:s}", "@id", status_of(&sport->state))) &&
            json_add(object, "sport:startDateTime",
                     time_json(sport->fold->bout->events[0].at_ms)) &&
            json_add_text(object, "spfacet:weightClassType", details->weight) &&
            json_add_text(object, "bw:stage", details->stage) &&
            json_add_text(object, "bw:rules", details->edition->name) &&
            json_add_text(object, "bw:how", result->how) &&
            json_add_text(object, "bw:code", result->code) &&
            add_text_number(object, "bw:time_ms", result->time_ms) &&
            json_add(object, "sport:participation", parts_json(sport)));
}

static json_t *sport_json(const struct sport *sport, const struct language *language)
{
    json_t *object = json_object(), *graph = json_array();
    bool complete = object != NULL && graph != NULL &&
                    json_array_append_new(graph, event_json(sport, language)) == 0 &&
                    add_actions(sport, graph) && json_add(object, "@context", context_json()) &&
                    json_add(object, "@graph", json_incref(graph));
    json_decref(graph);
    return json_whole(object, complete);
}

char *export_sport(const struct exported_bout *bout, const struct exported_bouts *bouts,
                   const char *base)
{
    struct sport sport = {bout, bout->fold, state_of(bout->fold, bouts->now_ms), base};
    json_t *object = sport_json(&sport, bouts->language);
    char *text = object != NULL ? json_line(object) : NULL;
    json_decref(object);
    return text;
}
