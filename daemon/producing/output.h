/* An output: what one stream shows. Which mat, with which delay and look, what is prepared and what
 * is on air, held or not, and the rules that are armed. And what a producer can do to it: every
 * action of docs/wire.md, "Producing", is read here and applied here.
 *
 * Nothing goes on air but by a take, or by a rule that was armed by name. A take of what was
 * prepared says what has changed since. Clear beats every least time; a rule's panel waits for the
 * end of the one that is up. A panel of a bout goes with its bout.
 * Pure: no clock, no I/O, no allocation. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "producing/armed.h"
#include "producing/frames.h"
#include "producing/look.h"
#include "producing/situation.h"
#include "rules/complaint.h"
#include "rules/value.h"

enum {
    OUTPUT_NAME_SIZE = 33,
    OUTPUT_MAT_SIZE = 401, /* 100 characters */
    OUTPUT_BY_SIZE = 129,
    OUTPUT_TOPIC_SIZE = OUTPUT_MAT_SIZE + 16,
    OUTPUT_DELAY_MS_MAX = 120000,
};

struct output_delay {
    int64_t ms;
    int32_t frames; /* as it was said; 0 and RATE_NONE: in ms */
    enum frame_rate rate;
};

struct prepared {
    struct choice choice; /* PANEL_NONE: nothing is */
    struct seen seen;     /* what was seen with it */
    uint64_t version;     /* of the output, when it was prepared */
    int64_t at_ms;
    char by[OUTPUT_BY_SIZE];
};

struct on_air {
    bool line;               /* the bout line */
    struct choice choice;    /* PANEL_NONE: no panel */
    char bout[BOUT_ID_SIZE]; /* that the panel is of */
    int64_t since_ms, least_ms;
    enum armed_rule rule; /* RULE_NONE: somebody took it */
    unsigned step;        /* of the rule */
    char by[OUTPUT_BY_SIZE];
};

enum hold { HOLD_OFF, HOLD_FREEZE, HOLD_HIDE };
const char *hold_name(enum hold hold); /* "freeze"; "off" */
bool hold_read(const char *name, enum hold *hold);

struct armed {
    bool on;
    int64_t at_ms;
    char by[OUTPUT_BY_SIZE];
};

struct output {
    char name[OUTPUT_NAME_SIZE];
    char mat[OUTPUT_MAT_SIZE]; /* "": the first that had a bout */
    uint64_t version;          /* how many changes it has had */
    struct output_delay delay;
    struct look look;
    struct prepared prepared;
    struct on_air on_air;
    enum hold hold;
    int64_t hold_since_ms;
    struct armed armed[RULE_COUNT];
    int64_t back_at_ms; /* for the rules that say so; 0: not known */

    /* Not kept over a restart: a rule fires for what is news. */
    bool has_before;
    struct situation before;
    bool waiting[RULE_COUNT]; /* fired, and not up yet */
};

bool output_name_is_good(const char *name); /* 1 to 32 of a-z 0-9 - */
struct output output_new(const char *name);

/* ---- what a producer does ---- */

#define ACTS(X)                                                                                    \
    X(ACT_PREPARE, "prepare")                                                                      \
    X(ACT_TAKE, "take")                                                                            \
    X(ACT_CLEAR, "clear")                                                                          \
    X(ACT_HOLD, "hold")                                                                            \
    X(ACT_MAT, "mat")                                                                              \
    X(ACT_DELAY, "delay")                                                                          \
    X(ACT_LOOK, "look")                                                                            \
    X(ACT_ARM, "arm")                                                                              \
    X(ACT_REMOVE, "remove")
enum act_kind {
#define X(act, name) act,
    ACTS(X)
#undef X
        ACT_COUNT
};
const char *act_name(enum act_kind kind);

struct act {
    enum act_kind kind;
    struct choice choice; /* prepare, take; PANEL_NONE: none was named */
    bool line;            /* take: the line too; clear: the line alone */
    bool panel;           /* clear: the panel alone */
    uint64_t prepared;    /* take: the version that it means; 0: whatever is prepared */
    enum hold hold;
    char mat[OUTPUT_MAT_SIZE];
    struct output_delay delay;
    char of[OUTPUT_TOPIC_SIZE]; /* delay: whose; "": the output's own */
    struct look look;
    enum armed_rule rule;
    bool on;
    int64_t at_ms; /* arm: when it goes on; 0: not said */
};

/* Reads `{"ACTION": {…}}`. False: refused. */
bool act_read(struct act *act, const struct value *value, struct complaint *complaint);

enum act_answer {
    ACT_DONE,
    ACT_NOT_PREPARED, /* nothing is, or something else */
    ACT_ABSENT,       /* the panel has nothing to show now */
};
struct act_outcome {
    bool changed;                    /* the output, and so its version */
    bool has_changes;                /* take: what was prepared has changed since: */
    char changes[CHANGE_WORDS_SIZE]; /* in words, */
    struct seen was, is;             /* and as it was and is */
    enum panel cut_short;            /* take: of another panel, before its least time … */
    int64_t cut_short_ms;            /* … by so much */
};
/* Applies it. Other than ACT_DONE, nothing has changed, and `detail` is a sentence.
 * ACT_DELAY with an `of`, and ACT_REMOVE, are the caller's. */
enum act_answer output_act(struct output *output, const struct act *act,
                           const struct situation *now, const char *by, struct act_outcome *outcome,
                           char *detail, size_t detail_size);

/* ---- what happens by itself ---- */

/* Sees what there is now: rules fire, panels go. Answers whether anything has changed.
 * `next_ms`: when it wants to look again, by time alone; INT64_MAX: it doesn't. */
bool output_look(struct output *output, const struct situation *now, int64_t *next_ms);
