/* What the rules for cards share: a rule looks at the scan and, if it has something to say of a
 * side, writes the card. Inside daemon/prompts only. */
#pragma once
#include "prompts/cards.h"
#include "prompts/text.h"
#include "prompts/scan.h"

/* Tried for each side. False: nothing to say, or no room for it. The card comes empty. */
typedef bool rule_shows(struct scan *scan, enum side side, struct card *card);

/* Of attempts: attack_rules.c. */
rule_shows low_near, far_high, low_far_stopped, changed_after_stop, other_leg, same_leg,
    second_effort, setup_opens, straight_in, re_attacks, counters, held, off_the_whistle, dried_up;
/* Of points: score_rules.c. */
rule_shows step_outs, takedown_turn, turn_after_turn, one_turn, no_turn, par_terre, one_action,
    step_out_enough, level, caution_turns, without_reply;
/* Of time and the referee's book: referee_rules.c. */
rule_shows chasing, leader_waits, two_cautions, activity_no_attack, activity_scored_on, one_sided,
    forced_call, slowing, no_challenge;
/* Beyond one action: chase_rules.c. */
rule_shows actions_needed, pace, closes;
/* Of the archive: past_rules.c. */
rule_shows late_scorer, first_score, came_back, met_before;
/* Of an open challenge: ruling_rules.c. */
rule_shows ruling_lost, ruling_upheld, ruling_or;
/* Of what stands around the bout, and summaries: around_rules.c. */
rule_shows who, way_here, decides, comes_next, team_day, other_mat, upset, next_here, so_far,
    summary;
/* Score and time: reminder_rules.c. */
rule_shows reminder;

/* Writes headline and line, with names where they fit and Red and Blue where not. False: the
 * headline doesn't fit even so. A line that doesn't fit is left out. */
bool card_say(struct card *card, const struct scan *scan, enum phrase headline, enum phrase line,
              const struct fill *fills);
/* The same, with a headline to fall back on. */
bool card_say_or(struct card *card, const struct scan *scan, enum phrase headline,
                 enum phrase spare, enum phrase line, const struct fill *fills);

/* Adds to the evidence; the card's `since_ms` comes to be when the last of it was known. */
void card_rests_on(struct card *card, const struct scan *scan, int32_t place);
void card_rests_on_try(struct card *card, const struct scan *scan, const struct try *try);
/* A figure of the archive that it rests on. */
void card_figure(struct card *card, const char *name, int number);
/* It has been so since the clock came to that bout time, if that is later. */
void card_since(struct card *card, const struct scan *scan, int32_t bout_ms);

/* A score as it is said of a side: its own points first, "4-2". */
enum { SCORE_SIZE = 24 };
const char *score_of(char text[SCORE_SIZE], const int points[2], enum side first);
/* The points now. */
const char *score_now(char text[SCORE_SIZE], const struct scan *scan, enum side first);
