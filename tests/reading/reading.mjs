/* A second reading of the contract: events in, state out.
 *
 * It exists to be compared with the program, so it shares nothing with it but the contract's text.
 * It is naive on purpose: every state is folded in full, from the first event, by the words of
 * sections 1 to 5, which stand in quotation marks beside the code. What an event may be is in
 * allowed.mjs; how JSON is read strictly, in json.mjs.
 *
 * Where the contract leaves a choice, this reading takes what a user would expect:
 *
 *  1. A moment "never later than `at`, and never earlier than the moment of the last `clock`
 *     event": where the wall clock went back and the two conflict, the second wins, so that the
 *     bout's clock never runs backwards.
 *  2. "the latest moment of the bout" is taken over all its events, standing or not.
 *  3. `--until TIME` with `--each`: TIME is `now` on every line. Lines are checked before their
 *     `at` is compared, so a line that is refused never counts as "accepted later". With both
 *     given, `--now` is `now`.
 *  4. A void walks before a restart: a note voided before the restart stays void after it, although
 *     the void itself is among what "never happened".
 *  5. A `confirm` without `ref` covers every event before it in the log, "however that is amended
 *     before or after", as one with a `ref` does; voided events that are restored later too.
 *  6. The order of points is that of all points that stand. `confirmed` leaves out of it what is
 *     not confirmed, and does not order anew: a `before` that names an unconfirmed entry still
 *     counts.
 *  7. "at an event's moment" includes the moment of the `activity` event itself: keyed on a period
 *     that is used up, or for a period that is not the clock's, it ends at once, for good.
 *  8. Every event that stands is such a moment, also a `note`, `void`, `amend` or `confirm`; one
 *     that does not stand is not.
 *  9. `break` counts from the latest of the three: a `set` to the length of a period that was used
 *     up already begins it anew; an `end` then does not.
 * 10. `lost` marks the clock unsure also when it stood still. Any `clock` event that stands clears
 *     the mark, also a `start` that changes nothing else.
 * 11. A `bout` event's own `period` and `t_ms` are checked against the details that it brings.
 * 12. "An event must be valid as amended": the whole of it, by the edition and lengths of the
 *     bout's latest details, also in members that the amend leaves alone.
 * 13. `unset` may name a member that the event does not have.
 * 14. The reason of a restart is a name, as that of a caution is ("Technique, setup and reason
 *     names"); the name of a defence is one too. `setup` may be empty, as may `facts` and `length`.
 * 15. A standing `position` may carry `top`, and the state shows it as it was keyed.
 * 16. A number in the `score` of a `close` is 0 or more.
 * 17. A passivity of stage `activity` in a bout whose later edition has no activity time starts
 *     none, and is counted all the same. A `close` whose ending the later edition does not know is
 *     as absent. `holds` counts the values that stand, also those that the later edition does not
 *     have.
 * 18. After a `void` of an amend, an event may be left with members that no single event could
 *     have. A `set` without `period` or `t_ms` then changes nothing but the mark of 10; `period`
 *     without `t_ms` is as absent; a `close` keeps the `winner` that it was given, and with none
 *     gets the code of an ending whose loser has no points.
 * 19. `at` and `keyed_at` are written exactly as `2027-05-08T10:00:00.000Z`: no offset, no other
 *     number of digits, no lower case, no leap second.
 * 20. Strings of the types of the day are Text too (1–100 characters); "aren't checked" is about
 *     what they name.
 * 21. A repeat is recognised before anything else of its line is checked, so one that writes 2 as
 *     2.0 is a repeat and not a refusal.
 * 22. `time_ms` of a result whose `close` names a period that the bout no longer has counts that
 *     many earlier periods whole.
 * 23. Without a winner, both sides get the ending's `loser` class points.
 * 24. A string may hold U+0000 written as an escape, and an integer may have any number of digits
 *     where no range is given. (The made logs have neither: a reader may have limits of its own.)
 */

import {
  NOT_AMENDABLE, Refusal, checkAmend, checkForm, checkInBout, checkOfTheDay, checkType, detailsOf,
  isOfTheDay, refuse,
} from "./allowed.mjs";
import { NotJson, parse, same } from "./json.mjs";

const SIDES = ["red", "blue"];
const other = (side) => (side === "red" ? "blue" : "red");
const eachSide = (make) => ({ red: make("red"), blue: make("blue") });
const sum = (numbers) => numbers.reduce((total, number) => total + number, 0);
const clamp = (number, least, most) => Math.max(least, Math.min(number, most));
const ms = (time) => Date.parse(time);

/** The object without the members that have no value: "nothing is ever `null`". */
function present(members) {
  return Object.fromEntries(Object.entries(members).filter(([, value]) => value !== undefined));
}

// =============================================================================================
// The file.

/** "`boutwire fold FILE` reads a log and prints the state after the last event of each bout, … in
 * the order of their first events; `--each` prints one line after every event, for that event's
 * bout."
 *  @param {string|Buffer} log NDJSON
 *  @param {Object} editions by name, each as its JSON file says
 *  @param {{each?: boolean, now?: string, until?: string, keepGoing?: boolean}} options
 *  @returns {{states: Object[], errors: {line: number, reason: string}[]}} */
export function reading(log, editions, options = {}) {
  const record = new Log(editions);
  const states = [];
  const errors = [];
  // "`now` is the `at` of the last event read …; `--now TIME` overrides it; `--until TIME` stops …,
  // with TIME as `now`"
  const now = () => ms(options.now ?? options.until ?? record.last.at);

  for (const [i, line] of linesOf(log).entries()) {
    // "blank lines (nothing but spaces, tabs, CR) are skipped"
    if (/^[ \t\r]*$/.test(line)) continue;
    try {
      const event = record.check(line);
      if (event === REPEAT) continue; // "`fold` skips it, prints nothing for it"
      // "`--until TIME` stops before the first event accepted later"
      if (options.until !== undefined && ms(event.at) > ms(options.until)) break;
      record.accept(event);
      // "`fold` prints no line for them" (the types of the day)
      if (options.each && event.bout !== undefined) states.push(record.state(event.bout, now()));
    } catch (error) {
      if (!(error instanceof Refusal) && !(error instanceof NotJson)) throw error;
      errors.push({ line: i + 1, reason: error.message });
      // "A line that is not a valid event stops it … (with `--each`, after the states before it;
      // else without any); `--keep-going` reports it …, skips it"
      if (!options.keepGoing) return { states, errors };
    }
  }
  if (!options.each) {
    for (const bout of record.bouts.keys()) states.push(record.state(bout, now()));
  }
  return { states, errors };
}

/** Lines by "\n" alone. "JSON throughout, UTF-8": a line that is not is given back as something
 * that is no JSON either. */
function linesOf(log) {
  const bytes = Buffer.from(log);
  const lines = [];
  for (let start = 0; start < bytes.length;) {
    const end = bytes.indexOf(0x0a, start);
    const line = bytes.subarray(start, end < 0 ? bytes.length : end);
    start = end < 0 ? bytes.length : end + 1;
    try {
      lines.push(new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(line));
    } catch {
      lines.push("not UTF-8");
    }
  }
  return lines;
}

const REPEAT = Symbol("an event that was accepted before");
const EVENTS_OF_A_BOUT_AT_MOST = 10_000;

/** Section 1: "The log is the truth". The accepted events, and whether one more may follow. */
export class Log {
  constructor(editions) {
    this.editions = editions;
    this.byId = new Map(); // "`id`: … unique in the log"
    this.bouts = new Map(); // id of the bout → its events, with `seq` and `moment` beside each
    this.count = 0;
    this.last = undefined;
  }

  /** @param {string} line @returns the event, or REPEAT; refuses by throwing */
  check(line) {
    const event = parse(line);
    checkType(event);
    const earlier = typeof event.id === "string" ? this.byId.get(event.id) : undefined;
    if (earlier !== undefined) {
      if (sameContent(earlier, event)) return REPEAT;
      refuse("this id already has other content"); // "with other content it is refused"
    }
    checkForm(event);
    if (isOfTheDay(event.type)) checkOfTheDay(event, this.editions);
    else this.#checkInItsBout(event);
    return event;
  }

  #checkInItsBout(event) {
    const records = this.bouts.get(event.bout);
    // "`bout`: first event of every bout"; "an unknown … bout" is refused
    if (records === undefined && event.type !== "bout") refuse("no bout has this id");
    if (records?.length >= EVENTS_OF_A_BOUT_AT_MOST) refuse("the bout has 10000 events");
    const context = {
      editions: this.editions,
      details: records && latestDetails(records, this.editions),
      earlier: (id) => records?.find((record) => record.event.id === id)?.event,
    };
    checkInBout(event, context);
    if (event.type !== "amend") return;

    const target = context.earlier(event.ref);
    checkAmend(event, target);
    // "An event must be valid as amended by what stands when the amend comes." "(in an `amend`'s
    // `set`: [earlier] than the amend; …; never the event itself)"
    const amended = amendedBy(target, [...standingAmends(records, target.id), event]);
    const earlier = (id) => (id === target.id ? undefined : context.earlier(id));
    checkForm(amended);
    checkInBout(amended, { ...context, earlier });
  }

  accept(event) {
    this.count += 1;
    this.last = event;
    this.byId.set(event.id, event);
    if (event.bout === undefined) return;
    if (!this.bouts.has(event.bout)) this.bouts.set(event.bout, []);
    const records = this.bouts.get(event.bout);
    // "(in `fold`, its ordinal among the accepted events of the file)"
    records.push({ event, seq: this.count, moment: momentOf(event, records) });
  }

  state(bout, now) {
    return stateOf(bout, this.bouts.get(bout), this.editions, now);
  }
}

/** "The same id with the same content again (all members but `at`, `seq`, `by`, compared as JSON
 * values, numbers by value)" */
function sameContent(one, another) {
  const content = ({ at, seq, by, ...rest }) => rest;
  return same(content(one), content(another));
}

/** "An event's moment: `keyed_at` where given, else `at`; never later than `at`, and never earlier
 * than the moment of the last `clock` event of its bout before it (standing or not)." */
function momentOf(event, before) {
  const lastClock = before.findLast((record) => record.event.type === "clock");
  const keyed = Math.min(ms(event.keyed_at ?? event.at), ms(event.at));
  return Math.max(keyed, lastClock?.moment ?? -Infinity);
}

/** "the latest details hold for the whole bout" */
function latestDetails(records, editions) {
  return detailsOf(latestBout(records), editions);
}

const latestBout = (records) => records.findLast(({ event }) => event.type === "bout").event;

// =============================================================================================
// What stands.

/** The ids of the events that never happened. */
function takenOut(records) {
  const out = new Set();
  // "Walk the bout's log backwards; a `void` that is not itself void takes its target out."
  for (const { event } of records.toReversed()) {
    if (event.type === "void" && !out.has(event.id)) out.add(event.ref);
  }
  // "Then the last `restart` that is left takes out what it names": "everything earlier of it but
  // `bout` and `note` events and amends of notes never happened."
  const restart = records.findLastIndex(({ event }) => event.type === "restart" &&
    !out.has(event.id));
  const isNote = (id) => records.some(({ event }) => event.id === id && event.type === "note");
  for (const { event } of records.slice(0, Math.max(0, restart))) {
    const kept = ["bout", "note"].includes(event.type) ||
      (event.type === "amend" && isNote(event.ref));
    if (!kept) out.add(event.id);
  }
  return out;
}

/** The amends of one event that are left, in the order of the log. */
function standingAmends(records, id) {
  const out = takenOut(records);
  return records.map(({ event }) => event)
    .filter((event) => event.type === "amend" && event.ref === id && !out.has(event.id));
}

/** "the named event, corrected in place"; "(the later amend of one member wins)" */
function amendedBy(event, amends) {
  const amended = { ...event };
  for (const { set = {}, unset = [] } of amends) {
    for (const member of unset) delete amended[member];
    for (const member of Object.keys(set)) {
      if (!NOT_AMENDABLE.includes(member)) amended[member] = set[member];
    }
  }
  return amended;
}

/** "Then apply, in order, what is left, with the `amend`s that are left": the events that stand, as
 * amended, each with its moment. */
export function standing(records) {
  const out = takenOut(records);
  const left = records.filter(({ event }) => !out.has(event.id));
  const amends = (id) => left.map(({ event }) => event)
    .filter((event) => event.type === "amend" && event.ref === id);
  return left.map(({ event, moment }) => {
    const amended = amendedBy(event, amends(event.id));
    return { ...absentNames(amended, out), moment };
  });
}

/** "one that names an event that doesn't stand counts as absent" */
function absentNames(event, out) {
  // A `confirm` without `ref` means another thing; see confirmedIds().
  if (event.type === "confirm") return event;
  const result = { ...event };
  for (const member of ["attack", "after", "of", "before"]) {
    if (out.has(result[member])) delete result[member];
  }
  return result;
}

/** "the officials confirm an unconfirmed event; without `ref`, every one so far"; "A `confirm` that
 * stands makes the event that it names confirmed, however that is amended before or after"; "(a
 * `confirm` whose `ref` doesn't stand does nothing)" */
function confirmedIds(events) {
  const ids = new Set();
  events.forEach((event, i) => {
    if (event.type !== "confirm") return;
    if (event.ref !== undefined) ids.add(event.ref);
    else events.slice(0, i).forEach((earlier) => ids.add(earlier.id));
  });
  return ids;
}

// =============================================================================================
// Section 3: the clock. "Only `clock` events move it."

/** A clock is `{period, t_ms, running, anchor, used_up_at?, unsure?}`: bout time `t_ms` at the
 * moment `anchor`. `used_up_at` is the moment from which the break counts. */
const CLOCK_AT_FIRST = { period: 1, t_ms: 0, running: false };

const usedUp = (clock, { period_ms }) => clock.t_ms === period_ms;

/** "While running, `elapsed = min(length, t at anchor + (moment − moment of anchor))`, and never
 * less than t at anchor." "when it reaches it the period is used up and the clock reads as
 * stopped" */
function clockAt(clock, moment, { period_ms }) {
  if (!clock.running) return clock;
  const gone = Math.max(0, moment - clock.anchor);
  const t_ms = Math.min(period_ms, clock.t_ms + gone);
  if (t_ms < period_ms) return { ...clock, t_ms, anchor: Math.max(moment, clock.anchor) };
  const used_up_at = clock.anchor + (period_ms - clock.t_ms);
  return { ...clock, t_ms, running: false, used_up_at };
}

/** @param clock as it came to the event's moment */
function clockAfter(clock, event, details) {
  const { period_ms, periods } = details;
  const { moment } = event;
  // "marks the clock unsure until the next `clock` event"
  const next = { ...clock, unsure: event.do === "lost" ? true : undefined };

  switch (event.do) {
    case "start": {
      // "a `start` with a period that the bout no longer has is one without"
      const period = event.period <= periods ? event.period : undefined;
      // "`start` with a later period than the current one begins that period at 0, running or not
      // (an earlier or equal `period` is ignored)"
      if (period > clock.period) {
        return { ...next, period, t_ms: 0, running: true, anchor: moment, used_up_at: undefined };
      }
      // "any other `start` changes nothing while the clock runs or the period is used up"
      if (clock.running || usedUp(clock, details)) return next;
      return { ...next, running: true, anchor: moment };
    }
    case "stop":
      return { ...next, running: false };
    case "end":
      // "`end`: the horn; the period's time is used up, whatever was counted (nothing changes where
      // it was already)"
      if (usedUp(clock, details)) return next;
      return { ...next, t_ms: period_ms, running: false, used_up_at: moment };
    case "set": {
      // "`set` corrects period and time and leaves it running or stopped as it was"; "a bout time
      // beyond the length counts as the length"; "a `set` with one sets the last period"
      if (event.period === undefined || event.t_ms === undefined) return next;
      const period = Math.min(event.period, periods);
      const t_ms = Math.min(event.t_ms, period_ms);
      if (t_ms === period_ms) return { ...next, period, t_ms, running: false, used_up_at: moment };
      return { ...next, period, t_ms, anchor: moment, used_up_at: undefined };
    }
    case "lost":
      return { ...next, running: false }; // "stops, and marks the clock unsure"
  }
  return next;
}

/** "the bout time at which it happened … Left out, it is read from the bout's clock at the event's
 * moment. Given, it is used as it stands" */
function boutTimeOf(event, clock, { period_ms }) {
  if (event.period === undefined || event.t_ms === undefined) {
    return { period: clock.period, t_ms: clock.t_ms };
  }
  return { period: event.period, t_ms: Math.min(event.t_ms, period_ms) };
}

const isBefore = (one, another) =>
  one.period < another.period || (one.period === another.period && one.t_ms < another.t_ms);

/** "`elapsed_ms`: over the whole bout, earlier periods counted whole" */
const elapsedOver = ({ period, t_ms }, { period_ms }) => (period - 1) * period_ms + t_ms;

// =============================================================================================
// The fold proper: what needs the clock as it went.

/** @returns {{clock, activity?, position?, stoppage?, close?}} at `now` */
function walk(events, details, now) {
  let clock = CLOCK_AT_FIRST;
  let activity, position, stoppage, close;

  /** An activity time ends "for good, when at an event's moment (or at `now`) its period is used up
   * or isn't the clock's". */
  const endActivityByClock = () => {
    if (activity && (activity.period !== clock.period || usedUp(clock, details))) {
      activity = undefined;
    }
  };

  for (const event of events) {
    // "Each event is read in two steps: first the clock comes to the event's moment (it may run out
    // on the way, which ends an activity time), then the event is applied." What a `clock` event
    // finds is kept; what any other finds is a look at it ("reached by its `clock` events alone").
    const anchored = clock;
    clock = clockAt(clock, event.moment, details);
    endActivityByClock();
    const time = boutTimeOf(event, clock, details);

    switch (event.type) {
      case "clock": {
        const after = clockAfter(clock, event, details);
        // "a `clock` start of a later period clears it"
        if (event.do === "start" && after.period > clock.period) position = undefined;
        clock = after;
        break;
      }
      case "passivity":
        activity = activityAfterPassivity(activity, event, time, details);
        break;
      case "score":
        if (activity && endsByScore(activity, event, time, details)) activity = undefined;
        break;
      case "position":
        position = event;
        break;
      case "stoppage": // "the last one started, until any `stop`"
        stoppage = event.do === "start" ? event : undefined;
        break;
      case "close": // "the last one that stands counts"
        if (Object.hasOwn(details.edition.endings, event.how)) close = { event, time };
        break;
    }
    endActivityByClock();
    if (event.type !== "clock") clock = anchored;
  }

  clock = clockAt(clock, now, details);
  endActivityByClock();
  return { clock, activity, position, stoppage, close };
}

/** "a `passivity` of stage `activity` starts it, at its own bout time"; it ends with "another
 * `activity`"; "with a `penalty` against that side" */
function activityAfterPassivity(activity, event, time, { edition }) {
  if (event.stage === "activity") {
    return edition.activity_ms ? { side: event.side, ...time } : activity;
  }
  if (event.stage === "penalty" && event.side === activity?.side) return undefined;
  return activity;
}

/** it ends with "a score of the named side (where the edition says `either`, of either side) whose
 * bout time isn't before its own" */
function endsByScore(activity, event, time, { edition }) {
  const its = edition.activity_ended_by === "either" || event.side === activity.side;
  return its && !isBefore(time, activity);
}

/** The events that stand, each with the bout time at which it happened. */
function timed(events, details) {
  let clock = CLOCK_AT_FIRST;
  return events.map((event) => {
    const read = clockAt(clock, event.moment, details);
    if (event.type === "clock") clock = clockAfter(read, event, details);
    return { ...event, time: boutTimeOf(event, read, details) };
  });
}

// =============================================================================================
// Points.

/** "Every event that gives points is one entry (side, value, by technique or not), in log order" */
function entriesOf(events, isConfirmed) {
  const entries = [];
  for (const event of events) {
    // "An event that gives points is one that puts more than 0 on a side's score."
    const gives = ["score", "caution", "passivity", "challenge"].includes(event.type);
    if (!gives || !(event.points > 0)) continue;
    const scored = event.type === "score";
    entries.push({
      id: event.id,
      // "`points` given by a `caution`, `passivity` or `challenge` go to the OTHER side."
      side: scored ? event.side : other(event.side),
      value: event.points,
      // "All are points by technique but `injury_stop`; points that come with a caution, passivity
      // or challenge are not."
      technique: scored && event.action !== "injury_stop",
      confirmed: isConfirmed(event),
      before: event.before,
    });
  }
  return inOrder(entries);
}

/** "then, in log order, each whose `before` has an entry is moved to just before it" */
function inOrder(entries) {
  const order = [...entries];
  for (const entry of entries) {
    if (!order.some(({ id }) => id === entry.before)) continue;
    order.splice(order.indexOf(entry), 1);
    order.splice(order.findIndex(({ id }) => id === entry.before), 0, entry);
  }
  return order;
}

const scoreOf = (entries) =>
  eachSide((side) => sum(entries.filter((entry) => entry.side === side).map(({ value }) => value)));

/** "how many entries of each value stand (with the edition's switch `penalty_points_are_holds` off,
 * by technique only); values with none are left out" */
function holdsOf(entries, { penalty_points_are_holds }) {
  const holds = eachSide(() => ({}));
  for (const { side, value, technique } of entries) {
    if (penalty_points_are_holds || technique) holds[side][value] = (holds[side][value] ?? 0) + 1;
  }
  return holds;
}

/** "Where the edition says `penalty_is_caution`, a `penalty` counts among `cautions` too." */
function cautionsOf(events, { penalty_is_caution }) {
  const isCaution = (event) => event.type === "caution" ||
    (penalty_is_caution && event.type === "passivity" && event.stage === "penalty");
  const cautions = events.filter(isCaution);
  return eachSide((side) => cautions.filter((event) => event.side === side).length);
}

// =============================================================================================
// Who leads.

/** @param cautions how many each side has @returns {{side, by}|undefined} */
function leaderOf(edition, entries, cautions) {
  const score = scoreOf(entries);
  if (score.red > score.blue) return { side: "red", by: "points" };
  if (score.blue > score.red) return { side: "blue", by: "points" };
  // "the first clause whose conditions hold decides, and within it the first criterion that
  // separates the two"
  const clause = edition.ties.find((tie) => clauseHolds(tie, score.red, entries, cautions));
  for (const criterion of clause?.order ?? []) {
    const side = CRITERIA[criterion]?.({ edition, entries, cautions });
    if (side !== undefined) return { side, by: criterion };
  }
  return undefined; // "left out when nothing separates them"
}

const sidesWithTechnique = (entries) =>
  SIDES.filter((side) => entries.some((entry) => entry.side === side && entry.technique));

/** "`score`: the exact level score; `cautions_given`: `[least, most]` to both sides together;
 * `by_technique`: how many sides have a point by technique; all that a clause names must hold" */
function clauseHolds({ score, cautions_given, by_technique }, level, entries, cautions) {
  const given = cautions.red + cautions.blue;
  return (score === undefined || level === score) &&
    (cautions_given === undefined || (given >= cautions_given[0] && given <= cautions_given[1])) &&
    (by_technique === undefined || sidesWithTechnique(entries).length === by_technique);
}

const CRITERIA = {
  /** "`holds` compares the counts of each value that stands, from the highest down" */
  holds({ edition, entries }) {
    const holds = holdsOf(entries, edition);
    const values = [...new Set(entries.map(({ value }) => value))].sort((one, two) => two - one);
    for (const value of values) {
      const [red, blue] = SIDES.map((side) => holds[side][value] ?? 0);
      if (red !== blue) return red > blue ? "red" : "blue";
    }
    return undefined;
  },
  /** "`cautions`: fewer leads" */
  cautions({ cautions: { red, blue } }) {
    if (red === blue) return undefined;
    return red < blue ? "red" : "blue";
  },
  /** "`first_point` and `last_point` are the sides of the first and the last entry." */
  last_point: ({ entries }) => entries.at(-1)?.side,
  first_point: ({ entries }) => entries.at(0)?.side,
  /** "`technique`: the side that alone has a point by technique" */
  technique({ entries }) {
    const sides = sidesWithTechnique(entries);
    return sides.length === 1 ? sides[0] : undefined;
  },
};

/** "`superiority` (the margin is reached), `cautions` (with `due_against`, an array of the sides
 * that have them all, red first), `time` (the last period is used up); left out otherwise" */
function dueOf(score, cautions, clock, details) {
  const { edition } = details;
  if (Math.abs(score.red - score.blue) >= edition.superiority) return { due: "superiority" };
  const against = SIDES.filter((side) => cautions[side] >= edition.cautions_out);
  if (against.length > 0) return { due: "cautions", due_against: against };
  if (clock.period >= details.periods && usedUp(clock, details)) return { due: "time" };
  return {};
}

/** "one cell for each value that one action can have in the edition: what the bout would be if that
 * side scored that value next"; "In `outlook`, the imagined point is one by technique, confirmed,
 * and the last; nothing else changes." */
function outlookOf(edition, entries, cautions) {
  const cell = (side, value) => {
    const imagined = [...entries, { side, value, technique: true, confirmed: true }];
    const { red, blue } = scoreOf(imagined);
    return present({
      red, blue,
      leader: leaderOf(edition, imagined, cautions),
      due: Math.abs(red - blue) >= edition.superiority ? "superiority" : undefined,
    });
  };
  return eachSide((side) =>
    Object.fromEntries(edition.values.map((value) => [value, cell(side, value)])));
}

/** "the smallest single value that would make that side the leader (left out when it leads already,
 * or no single action can), and the points still missing for superiority (left out when there)" */
function needsOf(edition, score, leader, outlook) {
  return eachSide((side) => {
    const values = [...edition.values].sort((one, two) => one - two);
    const enough = values.find((value) => outlook[side][value].leader?.side === side);
    const missing = edition.superiority - (score[side] - score[other(side)]);
    return present({
      to_lead: leader?.side === side ? undefined : enough,
      to_superiority: missing > 0 ? missing : undefined,
    });
  });
}

/** What one bout tells, for those who count over many: the events that stand, with their bout times;
 * the order of points; and who led (with the criteria) once so much of the bout time was gone.
 * @param records a bout's, of a Log */
export function story(records, editions) {
  const details = latestDetails(records, editions);
  const events = timed(standing(records), details);
  const times = new Map(events.map((event) => [event.id, elapsedOver(event.time, details)]));
  const entries = entriesOf(events, () => true)
    .map((entry) => ({ ...entry, bout_ms: times.get(entry.id) }));
  const until = (bout_ms) => {
    const given = entries.filter((entry) => entry.bout_ms <= bout_ms);
    const cautions = cautionsOf(events.filter(({ id }) => times.get(id) <= bout_ms), details.edition);
    return { score: scoreOf(given), leader: leaderOf(details.edition, given, cautions)?.side };
  };
  return { details, events, times, entries, until, latest: latestBout(records) };
}

// =============================================================================================
// Counting attacks.

function attacksOf(events) {
  const scores = events.filter((event) => event.type === "score");
  const none = { tried: 0, scored: 0, stopped: 0, countered: 0 };
  const sides = eachSide(() => ({ ...none, by: {}, leg: {} }));

  const count = ({ side, technique, leg, fate, points }) => {
    const scored = fate === "scored" ? 1 : 0;
    const total = sides[side];
    total.tried += 1;
    total.scored += scored;
    if (fate === "stopped" || fate === "countered") total[fate] += 1;
    const addTo = (rows, key) => {
      rows[key] ??= { tried: 0, scored: 0, points: 0 };
      rows[key].tried += 1;
      rows[key].scored += scored;
      rows[key].points += points;
    };
    addTo(total.by, technique);
    // "`leg` rows come from the attack's `leg`, or from the score's where the score itself counts."
    if (leg !== undefined) addTo(total.leg, leg);
  };

  for (const event of events) {
    if (event.type === "attack") {
      const naming = scores.filter((score) => score.attack === event.id);
      const fate = fateOf(event, naming);
      if (fate === undefined) continue;
      // "The points of the scores of its side that name it are the attack's `points`"
      const ofItsSide = naming.filter(({ side }) => side === event.side);
      const points = sum(ofItsSide.map((score) => score.points));
      // "one tried, under its first technique"
      count({ side: event.side, technique: event.techniques[0], leg: event.leg, fate, points });
    } else if (event.type === "score" && event.technique !== undefined &&
      event.attack === undefined) {
      // "A `score` with a `technique` and no `attack` is one tried and one scored under that
      // technique, with its points"
      count({ ...event, fate: "scored" });
    }
  }
  return sides;
}

function fateOf(attack, naming) {
  // "its outcome `scored`, or a `score` of the same side that names it in `attack`, makes it
  // scored, once"
  const ofItsSide = naming.some(({ side }) => side === attack.side);
  if (attack.outcome === "scored" || ofItsSide) return "scored";
  // "else a `score` of the other side that names it, or its outcome `countered`, makes it
  // countered"
  if (attack.outcome === "countered" || naming.length > 0) return "countered";
  // "else `stopped`, `out` and `stalemate` make it stopped"
  if (["stopped", "out", "stalemate"].includes(attack.outcome)) return "stopped";
  // "An `open` one counts for nothing until it is named by a score."
  return attack.outcome === "open" ? undefined : attack.outcome;
}

// =============================================================================================
// Section 4: the state of a bout.

function stateOf(bout, records, editions, givenNow) {
  const details = latestDetails(records, editions);
  const { edition } = details;
  const events = standing(records);
  // "A `now` earlier than the latest moment of the bout counts as that."
  const now = Math.max(givenNow, ...records.map(({ moment }) => moment));

  const confirmedById = confirmedIds(events);
  const isConfirmed = (event) => event.unconfirmed === undefined || confirmedById.has(event.id);
  const { clock, activity, position, stoppage, close } = walk(events, details, now);

  const entries = entriesOf(events, isConfirmed);
  const score = scoreOf(entries);
  const cautions = cautionsOf(events, edition);
  const leader = leaderOf(edition, entries, cautions);
  const due = dueOf(score, cautions, clock, details);
  const passivity = passivityOf(events);
  const challenge = challengeOf(events);
  const outlook = outlookOf(edition, entries, cautions);
  const phase = phaseOf({ records, events, close, due, clock, details });

  return present({
    bout,
    seq: records.at(-1).seq,
    phase,
    clock: present({
      period: clock.period,
      t_ms: clock.t_ms,
      left_ms: details.period_ms - clock.t_ms, // "Time left = length − elapsed."
      elapsed_ms: elapsedOver(clock, details),
      running: clock.running,
      unsure: clock.unsure,
    }),
    // "the break's length less the time since the clock ran out, was `set` to the length, or was
    // ended by an `end` before it ran out; not below 0"
    break: phase === "break"
      ? { left_ms: Math.max(0, details.break_ms - (now - clock.used_up_at)) }
      : undefined,
    score, // "all points that stand, the unconfirmed ones included"
    // "the part of `score` not yet confirmed"
    unconfirmed: scoreOf(entries.filter(({ confirmed }) => !confirmed)),
    confirmed: confirmedOf(events.filter(isConfirmed), entries, challenge, clock, details),
    holds: holdsOf(entries, edition),
    cautions,
    passivity,
    challenge,
    // "as last keyed, if it was"
    position: position &&
      present({ position: position.position, top: position.top, ordered: position.ordered }),
    // "`for_ms` not below 0"
    stoppage: stoppage && present({
      kind: stoppage.kind, side: stoppage.side, for_ms: Math.max(0, now - stoppage.moment),
    }),
    leader,
    ...due,
    attacks: attacksOf(events),
    outlook,
    needs: needsOf(edition, score, leader, outlook),
    activity: activity && activityShown(activity, clock, edition),
    forced_call: forcedCallOf(clock, score, passivity, details),
    result: close && resultOf(close, isConfirmed(close.event), score, leader, cautions, details),
  });
}

/** "the first that holds of" */
function phaseOf({ records, events, close, due, clock, details }) {
  if (latestBout(records).off) return "off";
  if (close) return "closed"; // "a result stands"
  if (due.due && !clock.running) return "over"; // "an ending is `due` and the clock doesn't run"
  if (clock.running) return "live"; // "it runs"
  // "the period is used up, another follows"
  if (usedUp(clock, details) && clock.period < details.periods) return "break";
  // "no `clock` event stands"
  if (!events.some((event) => event.type === "clock")) return "called";
  return "stopped";
}

/** "the same by what is confirmed alone"; "`under_review`: true while a challenge is open" */
function confirmedOf(confirmedEvents, entries, challenge, clock, details) {
  const confirmed = entries.filter((entry) => entry.confirmed);
  const score = scoreOf(confirmed);
  const cautions = cautionsOf(confirmedEvents, details.edition);
  return present({
    ...score,
    leader: leaderOf(details.edition, confirmed, cautions),
    due: dueOf(score, cautions, clock, details).due,
    under_review: SIDES.some((side) => challenge[side].open !== undefined) ? true : undefined,
  });
}

/** "`{red: {warning?, activity?, penalty?}, blue: …}`: how many of each" */
function passivityOf(events) {
  const counts = eachSide(() => ({}));
  for (const { type, side, stage } of events) {
    if (type === "passivity") counts[side][stage] = (counts[side][stage] ?? 0) + 1;
  }
  return counts;
}

/** "`left` is false from a rejected one on; `open`: the id of the open one"; "`upheld` and
 * `rejected` end that side's open one" */
function challengeOf(events) {
  const challenges = eachSide(() => ({ left: true }));
  for (const { type, side, outcome, id } of events) {
    if (type !== "challenge") continue;
    challenges[side].open = outcome === "asked" ? id : undefined;
    if (outcome === "rejected") challenges[side].left = false;
  }
  return eachSide((side) => present(challenges[side]));
}

/** "it lasts the edition's `activity_ms` of bout time (left = that − (t − its own t), between 0 and
 * that)"; "`running` says that the bout clock runs and time is left" */
function activityShown(activity, clock, { activity_ms }) {
  const left_ms = clamp(activity_ms - (clock.t_ms - activity.t_ms), 0, activity_ms);
  return { side: activity.side, left_ms, running: clock.running && left_ms > 0 };
}

/** "in period 1 of an edition with `forced_call_ms` for the age group (and a period longer than
 * that), while the score is 0-0, that time isn't reached and no passivity of stage `activity` or
 * `penalty` stands" */
function forcedCallOf(clock, score, passivity, { forced_call_ms, period_ms }) {
  const holds = clock.period === 1 && forced_call_ms !== undefined && period_ms > forced_call_ms &&
    score.red === 0 && score.blue === 0 && clock.t_ms < forced_call_ms &&
    SIDES.every((side) => !passivity[side].activity && !passivity[side].penalty);
  return holds ? { left_ms: forced_call_ms - clock.t_ms } : undefined;
}

/** "All by `score` in this state; `code` is the derived one" */
function resultOf({ event, time }, confirmed, score, leader, cautions, details) {
  const { edition } = details;
  const { how, winner } = event;
  const loser = winner && other(winner);
  const ending = edition.endings[how];
  // "`code` and `class_points` come from the ending (and, for `points` and `superiority`, from
  // whether the loser has points)"
  const loserScored = loser !== undefined && score[loser] > 0;
  const row = ending.shutout ? ending[loserScored ? "scored" : "shutout"] : ending;
  return present({
    how,
    code: row.code,
    winner,
    class_points: eachSide((side) => (side === winner ? row.winner : row.loser)),
    period: time.period,
    // "`time_ms` is elapsed over the whole bout at the `close`'s bout time"
    time_ms: elapsedOver(time, details),
    consistent: !contradicts(event, row.code, score, leader, cautions, edition),
    unconfirmed: confirmed ? undefined : true,
  });
}

/** "`consistent` is false for `points` when the winner does not lead or the margin of superiority
 * is reached, for `superiority` when the winner does not lead by the margin, for `cautions` when
 * the loser hasn't them all, and whenever a given `score` or `code` differs; true otherwise." */
function contradicts(close, code, score, leader, cautions, edition) {
  const { how, winner, score: given, code: givenCode } = close;
  const margin = winner === undefined ? 0 : score[winner] - score[other(winner)];
  if (how === "points" && leader?.side !== winner) return true;
  if (how === "points" && Math.abs(margin) >= edition.superiority) return true;
  if (how === "superiority" && margin < edition.superiority) return true;
  if (how === "cautions" && !(cautions[other(winner)] >= edition.cautions_out)) return true;
  if (given !== undefined && (given.red !== score.red || given.blue !== score.blue)) return true;
  return givenCode !== undefined && givenCode !== code;
}
