/* What an output shows, seen with its audience's eyes: the mat, the bout as the public has it, and
 * the data of every panel. Everything is made of the hall that views_hall gives for the output, at
 * the moment that views_now gives: so nothing here knows of delays. */
#pragma once
#include <jansson.h>
#include <stdbool.h>
#include "producing/output.h"
#include "service/day_draw.h"
#include "service/service.h"

/* One turn's look at it: borrowed from halls, not kept over a turn of the loop. */
struct scene {
    struct service *service;
    struct hall *hall;
    struct mat *mat;         /* NULL: there is none yet */
    struct hall_bout *bout;  /* that it shows; NULL: none, or nothing may be shown */
    const struct fold *fold; /* the public's, of that bout */
    struct state state;      /* only with a bout */
    struct anchors anchors;
    int64_t view_ms;
    struct draw_memory *draw; /* what was last made of the draw, if somebody keeps that; or NULL */
};

void scene_look(struct scene *scene, struct service *service, const struct output *output);
/* `words`: with the length of every panel, which takes making them all. */
struct situation scene_situation(const struct scene *scene, bool words);
/* VIEW; `still`: with the clocks standing. NULL without memory, or without a bout. */
json_t *scene_view(const struct scene *scene, bool still);
/* The panel's data alone; an empty object where it is absent. NULL without memory. */
json_t *scene_panel(const struct scene *scene, const struct choice *choice);
/* Why there is nothing of it. */
enum absence scene_absence(const struct scene *scene, const struct choice *choice);
