/* Every English word that a card or a line says: whole phrases with places for names and numbers
 * (text.h has their form), and the words for holds, reasons, endings and numbers.
 * Another language is another file with these functions. Words of the trade: common practice, no
 * source. Nothing here judges or guesses: a side is stopped, cautioned, named; never lazy or lucky.
 */
#pragma once
#include <stddef.h>
#include <stdint.h>
#include "rules/edition.h"
#include "rules/event.h"

#define PHRASES(X)                                                                                 \
    X(SAY_NOTHING, "")                                                                             \
    X(SAY_RED, "Red")                                                                              \
    X(SAY_BLUE, "Blue")                                                                            \
    /* cards: headlines have at most 6 words and 30 characters */                                  \
    X(CARD_LOW_NEAR, "Low on the near leg")                                                        \
    X(CARD_LOW_NEAR_LINE, "{k} of {n} low attacks on the lead leg scored.")                        \
    X(CARD_FAR_HIGH, "Far leg, taken high")                                                        \
    X(CARD_FAR_HIGH_LINE, "{k} of {n} on the trail leg scored, taken above the knee.")             \
    X(CARD_FAR_HIGH_ONE, "One try on the trail leg, above the knee, and it scored.")               \
    X(CARD_LOW_FAR_STOPPED, "Low shot, far leg: stopped")                                          \
    X(CARD_LOW_FAR_COUNTERED, "Low shot, far leg: countered")                                      \
    X(CARD_LOW_FAR_LINE, "The far foot is out of reach until the feet move.")                      \
    X(CARD_CHANGED, "Changed it after the stop")                                                   \
    X(CARD_CHANGED_HIGHER, "Low before; this time higher.")                                        \
    X(CARD_CHANGED_SETUP, "Low before; this time after {setup}.")                                  \
    X(CARD_OTHER_LEG, "Now the other leg")                                                         \
    X(CARD_OTHER_LEG_LEAD, "{n} stopped on the lead leg before this.")                             \
    X(CARD_OTHER_LEG_TRAIL, "{n} stopped on the trail leg before this.")                           \
    X(CARD_SAME_LEG, "{^technique}, same leg: {n}")                                                \
    X(CARD_SAME_LEG_SPARE, "Same attack, same leg: {n}")                                           \
    X(CARD_SAME_LEG_LINE, "{k} of {n} scored.")                                                    \
    X(CARD_SAME_LEG_TWICE, "{k} of {n} scored; twice stopped by {defence}.")                       \
    X(CARD_SAME_LEG_OFTEN, "{k} of {n} scored; stopped by {defence} {=m} times.")                  \
    X(CARD_SECOND_EFFORT, "Second effort scored")                                                  \
    X(CARD_SECOND_EFFORT_LINE, "From {@first}, changed to {@last}.")                               \
    X(CARD_SETUP_OPENS, "{^setup} opens it")                                                       \
    X(CARD_SETUP_OPENS_SPARE, "One set-up opens it")                                               \
    X(CARD_SETUP_OPENS_LINE, "{k} of {n} scored after it, none of {m} without.")                   \
    X(CARD_SETUP_OPENS_ALL, "{k} of {n} scored after it.")                                         \
    X(CARD_STRAIGHT_IN, "Straight in, answered")                                                   \
    X(CARD_STRAIGHT_IN_ATTACK, "No set-up keyed; {O} attacked {s} {s:second:seconds} later.")      \
    X(CARD_STRAIGHT_IN_COUNTER, "No set-up keyed; {O} countered.")                                 \
    X(CARD_RE_ATTACKS, "Re-attacks: {k} of {n}")                                                   \
    X(CARD_RE_ATTACKS_LINE, "After {k} of {n} stops, {S} attacked at once.")                       \
    X(CARD_COUNTERS, "Counters: {p} points")                                                       \
    X(CARD_COUNTERS_LINE, "{k} of {n} attacks of {O} ended in points against.")                    \
    X(CARD_HELD, "Held, no progress: whistled")                                                    \
    X(CARD_HELD_LINE, "{n} holds stopped by the whistle.")                                         \
    X(CARD_WHISTLE, "Attacks off the whistle")                                                     \
    X(CARD_WHISTLE_LINE, "{k} of {n} attacks within ten seconds of a start.")                      \
    X(CARD_DRIED_UP, "{^technique}: 0 of {n}")                                                     \
    X(CARD_DRIED_UP_SPARE, "Same attack: 0 of {n}")                                                \
    X(CARD_DRIED_UP_LINE, "None of the last {n} scored; {k} of the first {m} did.")                \
    X(CARD_DRIED_UP_FIRST, "None of the last {n} scored; the first one did.")                      \
    X(CARD_STEP_OUTS, "Step-outs: {n}")                                                            \
    X(CARD_STEP_OUTS_LINE, "{p} each; fleeing the mat adds a caution and {f}.")                    \
    X(CARD_STEP_OUTS_PLAIN, "{p} point each.")                                                     \
    X(CARD_TAKEDOWN_TURN, "Takedown into the turn")                                                \
    X(CARD_SPELL_LINE, "{p} points in one spell on the mat.")                                      \
    X(CARD_TURNS, "Turn after turn: {n}")                                                          \
    X(CARD_TURNS_LINE, "{p} more {p:point ends:points end} it: {turns} {turns:turn:turns}.")       \
    X(CARD_ONE_TURN, "One turn from the end")                                                      \
    X(CARD_ONE_TURN_LINE, "A 2 makes it {score}: superiority.")                                    \
    X(CARD_NO_TURN, "Takedowns, no turn yet")                                                      \
    X(CARD_NO_TURN_LINE, "{n} takedowns, nothing added on the mat.")                               \
    X(CARD_PAR_TERRE, "Par terre: {k} of {n}")                                                     \
    X(CARD_PAR_TERRE_LINE, "{S} scored in {k} of {n} spells of ordered par terre.")                \
    X(CARD_PAR_TERRE_ONE, "Scored from par terre")                                                 \
    X(CARD_PAR_TERRE_ONE_LINE, "In the first ordered par terre for {S}.")                          \
    X(CARD_ONE_ACTION, "One action: it takes a {v}")                                               \
    X(CARD_STEP_OUT_ENOUGH, "A step-out is enough")                                                \
    X(CARD_MAKES_IT, "A {v} makes it {score}, {S} ahead.")                                         \
    X(CARD_MAKES_IT_ON, "A {v} makes it {score}, {S} ahead on {by}.")                              \
    X(CARD_LEVEL, "Level, decided by {by}")                                                        \
    X(CARD_LEVEL_LINE, "{S} leads; {O} needs a single point, of any kind.")                        \
    X(CARD_CAUTION_TURNS, "A caution would turn it")                                               \
    X(CARD_CAUTION_TURNS_LINE, "Caution and {p}: {score}, {O} ahead.")                             \
    X(CARD_CAUTION_TURNS_ON, "Caution and {p}: {score}, {O} ahead on {by}.")                       \
    X(CARD_WITHOUT_REPLY, "{p} without reply")                                                     \
    X(CARD_WITHOUT_REPLY_LINE, "{S} from {from} to {to} in {t}.")                                  \
    X(CARD_CHASING, "Chasing: {n} this minute")                                                    \
    X(CARD_CHASING_LINE, "{n} attacks in the last minute, {m} in the {t} before.")                 \
    X(CARD_CHASING_NONE, "{n} attacks in the last minute, none in the {t} before.")                \
    X(CARD_LEADER_WAITS, "Leader: no attack for {t}")                                              \
    X(CARD_LEADER_WAITS_LINE, "Fleeing the hold or the mat: a caution and {p}.")                   \
    X(CARD_TWO_CAUTIONS, "Two cautions: a third loses")                                            \
    X(CARD_TWO_CAUTIONS_LINE, "A third caution ends the bout, whatever the score.")                \
    X(CARD_ACTIVITY, "Activity: no attack yet")                                                    \
    X(CARD_ACTIVITY_NAMED, "Without a score of {S} by {t} left, {p} to {O}.")                      \
    X(CARD_ACTIVITY_EITHER, "Without a score by {t} left, {p} to {O}.")                            \
    X(CARD_ACTIVITY_SCORED, "Scored, and a {p} may follow")                                        \
    X(CARD_ACTIVITY_SCORED_LINE, "Only a score of {S} ends the activity time.")                    \
    X(CARD_ONE_SIDED, "One side attacking")                                                        \
    X(CARD_ONE_SIDED_LINE, "Attacks in the last minute: {S} {n}, {O} none.")                       \
    X(CARD_FORCED_CALL, "0-0: someone named at {t}")                                               \
    X(CARD_FORCED_CALL_LINE, "The officials must name a side if it is still 0-0.")                 \
    X(CARD_SLOWING, "Attacks: {n} then {m}")                                                       \
    X(CARD_SLOWING_LINE, "{S}: {n} in period one, {m} in period two so far.")                      \
    X(CARD_NO_CHALLENGE, "No challenge left")                                                      \
    X(CARD_NO_CHALLENGE_LINE, "{S} lost it with {t} left in period {=period}; {p} to {O}.")        \
    X(CARD_NO_CHALLENGE_PLAIN, "{S} lost it with {t} left in period {=period}.")                   \
    X(CARD_LEADS, "{S} leads {score}")                                                             \
    X(CARD_LEADS_ON, "{score}, {S} on {by}")                                                       \
    X(CARD_NOBODY_LEADS, "It is {score}")                                                          \
    X(CARD_TIME_LEFT, "{t} left in period {=period}.")                                             \
    X(CARD_AFTER_PERIOD, "After period {=period}, {t} to come.")                                   \
    X(CARD_MINUTE_LEFT, "One minute left")                                                         \
    X(CARD_MINUTE_LEFT_OF, "One minute left in period {=period}")                                  \
    X(CARD_HALF_LEFT, "Thirty seconds left")                                                       \
    X(CARD_HALF_LEFT_OF, "0:30 left in period {=period}")                                          \
    X(CARD_MARK_LEADS, "{S} leads {score}.")                                                       \
    X(CARD_MARK_LEADS_ON, "{score}, {S} ahead on {by}.")                                           \
    X(CARD_MARK_NOBODY, "Still {score}.")                                                          \
    X(CARD_NO_SCORE_MINUTE, "No score for a minute")                                               \
    X(CARD_NO_SCORE_MINUTES, "No score for {=n} minutes")                                          \
    X(CARD_NO_SCORE_LEADS, "{S} leads {score}, {t} left in period {=period}.")                     \
    X(CARD_NO_SCORE_LEADS_ON, "{score}, {S} ahead on {by}; {t} left in period {=period}.")         \
    X(CARD_NO_SCORE_NOBODY, "Still {score}, {t} left in period {=period}.")                        \
    /* lines: whole sentences; {.} makes a capital of the first word that is ours */               \
    X(LINE_CALL_BOTH, "bout {number} on mat {mat}: ")                                              \
    X(LINE_CALL_MAT, "on mat {mat}: ")                                                             \
    X(LINE_CALL_NUMBER, "bout {number}: ")                                                         \
    X(LINE_CALL_PLAIN, "called: ")                                                                 \
    X(LINE_CALL_AGAIN, "called again: ")                                                           \
    X(LINE_CALL_TEAM, "{S} ({team})")                                                              \
    X(LINE_CALL_NAME, "{S}")                                                                       \
    X(LINE_CALL_RED, " in red, ")                                                                  \
    X(LINE_CALL_BLUE, " in blue.")                                                                 \
    X(LINE_CALL_STYLE, " {^style}")                                                                \
    X(LINE_CALL_WEIGHT, " {weight} kg")                                                            \
    X(LINE_CALL_WEIGHT_PLAIN, " {weight}")                                                         \
    X(LINE_CALL_STAGE, ", {stage}")                                                                \
    X(LINE_CALL_STAGE_ALONE, " {stage}")                                                           \
    X(LINE_OFF, "the bout of {S} and {O} is taken off the mat.")                                   \
    X(LINE_STOP, ".")                                                                              \
    X(LINE_SPACE, " ")                                                                             \
    X(LINE_COMMA, ", ")                                                                            \
    X(LINE_TAKES_DOWN, "{S} takes down {O}")                                                       \
    X(LINE_GOES_BEHIND, "{S} goes behind {O}")                                                     \
    X(LINE_BRINGS_DOWN, "{S} brings {O} to the mat")                                               \
    X(LINE_TURNS, "{S} turns {O}")                                                                 \
    X(LINE_TURNS_AGAIN, "{S} turns {O} again")                                                     \
    X(LINE_COUNTERS, "{S} counters and turns {O}")                                                 \
    X(LINE_THROWS, "{S} throws {O}")                                                               \
    X(LINE_LIFTS, "{S} lifts {O}")                                                                 \
    X(LINE_INTO_DANGER, "{S} takes {O} from the feet straight into danger")                        \
    X(LINE_REVERSES, "{S} reverses {O}")                                                           \
    X(LINE_DRIVES_OUT, "{S} drives {O} out")                                                       \
    X(LINE_STEPS_OUT, "{O} steps out")                                                             \
    X(LINE_INJURY_STOP, "the bout is stopped for {O}")                                             \
    X(LINE_SCORES, "{S} scores with {@action}")                                                    \
    X(LINE_FOR, " for {n}")                                                                        \
    X(LINE_WITH, " with {@hold}")                                                                  \
    X(LINE_WITH_CHANGED, " with {@first} changed to {@last}")                                      \
    X(LINE_ON_LEAD, " on the lead leg")                                                            \
    X(LINE_ON_TRAIL, " on the trail leg")                                                          \
    X(LINE_TIME_LEFT, " with {time} left")                                                         \
    X(LINE_TIME_LEFT_OF, " with {time} left in period {=period}")                                  \
    X(LINE_NOT_CONFIRMED, ", not confirmed yet.")                                                  \
    X(LINE_ADDED, "added late, from period {=period}: ")                                           \
    X(LINE_SUPERIORITY, " That is the margin of superiority.")                                     \
    X(LEAD_COLON, ": ")                                                                            \
    X(LEAD_SENTENCE, ". {.}")                                                                      \
    X(LEAD_AND, ", and leads {a} to {b}.")                                                         \
    X(LEAD_AND_TAKES, ", and takes the lead, {a} to {b}.")                                         \
    X(LEAD_POINTS, "{L} leads {a} to {b}.")                                                        \
    X(LEAD_POINTS_TAKES, "{L} takes the lead, {a} to {b}.")                                        \
    X(LEAD_POINTS_STILL, "{L} still leads, {a} to {b}.")                                           \
    X(LEAD_LEVEL, "it is {a} to {b}, and {L} leads on {by}.")                                      \
    X(LEAD_LEVEL_TAKES, "it is {a} to {b}, and {L} takes the lead on {by}.")                       \
    X(LEAD_LEVEL_STILL, "it is {a} to {b}, and {L} still leads on {by}.")                          \
    X(LEAD_NOBODY, "it is {a} to {b}.")                                                            \
    X(LEAD_CLOSED, "the score is now {L} {a}, {T} {b}.")                                           \
    X(LINE_SHOOTS, "{S} shoots {@first}")                                                          \
    X(LINE_TRIES, "{S} tries {@first}")                                                            \
    X(LINE_CHANGES_TO, ", changes to {@last}")                                                     \
    X(LINE_IS_STOPPED, " and is stopped.")                                                         \
    X(LINE_IS_STOPPED_BY, " and is stopped by {defence}.")                                         \
    X(LINE_IS_COUNTERED, " and is countered.")                                                     \
    X(LINE_GOES_OUT, ", and it goes out of bounds.")                                               \
    X(LINE_STALEMATE, ", and it ends in a stalemate.")                                             \
    X(LINE_SLIPS_OFF, " and slips off.")                                                           \
    X(LINE_ATTACK_LEG, "the {hold} of {S} went for the {leg} leg.")                                \
    X(LINE_ATTACK_LEG_BY,                                                                          \
      "the {hold} of {S} went for the {leg} leg and was stopped by {defence}.")                    \
    X(LINE_ATTACK_BY, "the {hold} of {S} was stopped by {defence}.")                               \
    X(LINE_CAME_FROM, "{noun} came")                                                               \
    X(LINE_CAME_WITH, " from {@hold}")                                                             \
    X(LINE_CAME_CHANGED, " from {@first} changed to {@last}")                                      \
    X(LINE_CAUTIONED, "{S} is cautioned for {reason}")                                             \
    X(LINE_CAUTIONED_AGAIN, "{nth} caution for {S}, for {reason}")                                 \
    X(LINE_CAUTIONS_LOSE, " {.}{=n} cautions lose the bout.")                                      \
    X(LINE_WARNED, "{S} is warned for passivity")                                                  \
    X(LINE_ACTIVITY, "{S} is named: {time} to score, or {n} to {O}")                               \
    X(LINE_ACTIVITY_PLAIN, "{S} is named and is on the activity time")                             \
    X(LINE_ACTIVITY_ENDS, "no score from {S} in the activity time")                                \
    X(LINE_PASSIVE, "{S} is named passive")                                                        \
    X(LINE_POINTS_TO, ", {n} to {O}")                                                              \
    X(LINE_PAR_TERRE, "par terre is ordered, {T} on top.")                                         \
    X(LINE_PAR_TERRE_CHOSEN, "{T} chooses par terre, and starts on top.")                          \
    X(LINE_PAR_TERRE_GIVEN, "{S} chooses par terre, {T} starts on top.")                           \
    X(LINE_STANDING_CHOSEN, "{S} chooses to go on standing.")                                      \
    X(LINE_CHALLENGES, "{S} challenges.")                                                          \
    X(LINE_CHALLENGES_WHAT, "{S} challenges {noun}.")                                              \
    X(LINE_CHALLENGES_CAUTION, "{S} challenges the caution.")                                      \
    X(LINE_CHALLENGES_PASSIVITY, "{S} challenges the passivity.")                                  \
    X(LINE_UPHELD, "the challenge of {S} is upheld")                                               \
    X(LINE_REJECTED, "the challenge of {S} is lost")                                               \
    X(LINE_TREATMENT, "the bout is stopped, treatment on the mat.")                                \
    X(LINE_TREATMENT_OF, "the bout is stopped, treatment on the mat for {S}.")                     \
    X(LINE_TREATMENT_OVER, "the treatment is over.")                                               \
    X(LINE_REVIEW, "the officials review the action.")                                             \
    X(LINE_CONFERENCE, "the officials confer.")                                                    \
    X(LINE_PERIOD_BEGINS, "period {=period} begins")                                               \
    X(LINE_PERIOD_ENDS, "end of period {=period}")                                                 \
    X(LINE_TIME_UP, "time is up")                                                                  \
    X(LINE_RESULT_TO_COME, " The officials' result is to come.")                                   \
    X(LINE_WAITING, "; the last points are not confirmed yet.")                                    \
    X(LINE_REVIEWED, "; a challenge is open.")                                                     \
    X(LINE_ATTACKS_ALL, "{S} scored with all {=n} attacks")                                        \
    X(LINE_ATTACKS_BOTH, "{S} scored with both attacks")                                           \
    X(LINE_ATTACKS_ONE, "{S} scored with the only attack")                                         \
    X(LINE_ATTACKS_SOME, "{S} scored with {=k} {k:attack:attacks} of {=n}")                        \
    X(LINE_ATTACKS_SOME_TOO, "{S} with {=k} of {=n}")                                              \
    X(LINE_ATTACKS_NONE, "{S} attacked {times} without a score")                                   \
    X(LINE_ATTACKS_NONE_TOO, "{S} {times}")                                                        \
    X(LINE_CLOCK_BACK, "the clock is put back: {time} left in period {=period}.")                  \
    X(LINE_CONFIRMED_ONE, "{noun} is confirmed")                                                   \
    X(LINE_CONFIRMED_OWN, "the {n} is confirmed")                                                  \
    X(LINE_CONFIRMED_POINTS, "the points are confirmed")                                           \
    X(LINE_CONFIRMED_CALLS, "the calls are confirmed")                                             \
    X(LINE_UNCONFIRMED_ONE, "corrected: {noun} is not confirmed yet.")                             \
    X(LINE_UNCONFIRMED_SOME, "corrected: the last points are not confirmed yet.")                  \
    X(LINE_OUT, "corrected: {noun} is taken out")                                                  \
    X(LINE_OUT_OFFICIALS, "the officials take back {noun}")                                        \
    X(LINE_OUT_CHALLENGE, "after the challenge, {noun} is taken out")                              \
    X(LINE_OUT_ASKED, "{noun} does not count")                                                     \
    X(LINE_BACK, "corrected: {noun} stands after all")                                             \
    X(LINE_BACK_OFFICIALS, "the officials let {noun} stand after all")                             \
    X(LINE_BACK_CHALLENGE, "after the challenge, {noun} stands after all")                         \
    X(LINE_POINTS, "corrected: {noun} is a {n}")                                                   \
    X(LINE_POINTS_OFFICIALS, "the officials correct {noun} to {n}")                                \
    X(LINE_POINTS_CHALLENGE, "after the challenge, {noun} is corrected to {n}")                    \
    X(LINE_SIDES, "corrected: {n} to {S}, not {m} to {O}")                                         \
    X(LINE_SIDES_OFFICIALS, "the officials correct it: {n} to {S}, not {m} to {O}")                \
    X(LINE_SIDES_CHALLENGE, "after the challenge: {n} to {S}, not {m} to {O}")                     \
    X(LINE_ANEW, "corrected: ")                                                                    \
    X(LINE_ANEW_OFFICIALS, "corrected by the officials: ")                                         \
    X(LINE_ANEW_CHALLENGE, "after the challenge: ")                                                \
    X(LINE_RESTART, "the bout starts anew; what came before no longer counts.")                    \
    X(LINE_RESTART_BACK, "corrected: the bout goes on; what came before counts again")             \
    X(LINE_RESULT_WAITS, "the result, {how} at {time}, is not confirmed yet.")                     \
    X(LINE_RESULT_WAITS_PLAIN, "the result, {how}, is not confirmed yet.")                         \
    X(LINE_BEATS, "{S} beats {O} {how}")                                                           \
    X(LINE_RESULT_SCORE, ", {a} to {b}")                                                           \
    X(LINE_RESULT_TIME, ", {time}")                                                                \
    X(LINE_RESULT_CLASS, " ({code}, classification points {a} to {b}).")                           \
    X(LINE_RESULT_CODE, " ({code}).")                                                              \
    X(LINE_NO_WINNER, "no winner: {S} and {O} are {how}")                                          \
    X(LINE_NO_WINNER_PLAIN, "no winner: {how}")                                                    \
    X(LINE_SHEET_DIFFERS, "the officials' sheet and this feed differ; the sheet decides.")         \
    X(LINE_HOW, "{how}")                                                                           \
    X(LINE_BY_CAUTIONS, "by {=n} cautions")                                                        \
    X(LINE_ON_CRITERION, "on {by}")                                                                \
    X(NOUN_POINTS, "the {n} for {S}")                                                              \
    X(NOUN_CAUTION, "the caution of {S}")                                                          \
    X(NOUN_WARNING, "the warning of {S}")                                                          \
    X(NOUN_ACTIVITY, "the activity time of {S}")                                                   \
    X(NOUN_PASSIVITY, "the passivity of {S}")                                                      \
    X(NOUN_CHALLENGE, "the challenge of {S}")                                                      \
    X(NOUN_DECISION, "the decision on the challenge of {S}")                                       \
    X(NOUN_ATTACK, "the {hold} of {S}")                                                            \
    X(NOUN_POSITION, "the choice of position")                                                     \
    X(NOUN_STOPPAGE, "the stoppage")                                                               \
    X(NOUN_RESULT, "the result")                                                                   \
    X(NOUN_NOTE, "a note")
enum phrase {
#define X(phrase, text) phrase,
    PHRASES(X)
#undef X
        PHRASE_COUNT
};

const char *english(enum phrase phrase);
const char *english_number(int32_t number);       /* "four"; NULL: written in digits */
const char *english_article(const char *words);   /* "a" or "an" */
const char *english_criterion(enum criterion by); /* "last point", after "on" or "by" */

/* Words for names in events. Names that nobody has put into words are read as they are, with
 * spaces for underscores; `room` is for those. */
enum { WORDS_SIZE = 48 };
const char *english_technique(const char *name, char room[WORDS_SIZE]); /* "low single" */
const char *english_defence(const char *name, char room[WORDS_SIZE]);   /* "a sprawl", after "by" */
const char *english_setup(const char *name, char room[WORDS_SIZE]);     /* "collar tie" opens it */
const char *english_after_setup(const char *name, char room[WORDS_SIZE]); /* after "a head pull" */

const char *english_leg(enum leg leg);                               /* "lead" */
const char *english_action(const char *name, char room[WORDS_SIZE]); /* "step-out" */
const char *english_reason(const char *name, char room[WORDS_SIZE]); /* "fleeing the mat" */
const char *english_ending(const char *name, char room[WORDS_SIZE]); /* "by fall"; "disqualified" */
const char *english_style(const char *name, char room[WORDS_SIZE]);  /* "Greco-Roman" */
const char *english_nth(int32_t number, char room[WORDS_SIZE]);      /* "second" */

const char *english_times(int32_t number, char room[WORDS_SIZE]); /* "twice" */

enum { TIME_SIZE = 40 };
/* "32 seconds", "1 minute 4 seconds": rounded up like time left on the clock. */
const char *english_span(int64_t span_ms, char room[TIME_SIZE]);
/* "2:05"; of time left, parts of a second count as one, so that 0:00 is the end. */
const char *english_left(int64_t left_ms, char room[TIME_SIZE]);
const char *english_gone(int64_t gone_ms, char room[TIME_SIZE]);
