/* The reading against small bouts that were counted by hand. Beside each stands the sentence of the
 * contract, or the source of the rule, that gives the value. */

import assert from "node:assert/strict";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { after as afterAll, describe, it } from "node:test";
import { fileURLToPath } from "node:url";

import { canonical, comparable, difference } from "./canonical.mjs";
import { compareOnce, editionsFrom, shrink } from "./compare.mjs";
import { parse, same } from "./json.mjs";
import { fileOf, makeLog } from "./maker.mjs";
import { reading } from "./reading.mjs";

const root = join(dirname(fileURLToPath(import.meta.url)), "../..");
const editions = editionsFrom(join(root, "daemon/rules/editions"), [
  join(root, "fixtures/editions/june-2013.json"), join(root, "fixtures/editions/league.json"),
]);

// ---------------------------------------------------------------------------------------------
// Writing a bout down.

const START = Date.parse("2027-05-08T10:00:00.000Z");
/** The time of day so many seconds after the bout was called. */
const at = (seconds) => new Date(START + Math.round(seconds * 1000)).toISOString();

/** The first event of a bout; `more` adds or replaces members. */
const bout = (rules, more = {}) =>
  ({ id: "bout", type: "bout", red: { name: "Rot" }, blue: { name: "Blau" }, rules, ...more });

/** A log of one bout. Each event is an object with `s`, the seconds at which it was accepted (the
 * one before's where left out); `k`, at which it was keyed; ids are e1, e2 … where none is
 * given. */
function log(...events) {
  let seconds = 0;
  return events.map(({ s = seconds, k, ...event }, i) => {
    seconds = s;
    const keyed = k === undefined ? {} : { keyed_at: at(k) };
    return JSON.stringify({ id: `e${i}`, bout: "b", at: at(s), ...keyed, ...event });
  });
}

function last(lines, options = {}) {
  const { states, errors } = reading(fileOf(lines), editions, options);
  assert.deepEqual(errors, []);
  return states.at(-1);
}

const after = (rules, ...events) => last(log(bout(rules), ...events));
const refusal = (...events) => reading(fileOf(log(...events)), editions).errors[0]?.reason;

const ACTION = { 1: "step_out", 2: "exposure", 4: "throw", 5: "throw" };
const score = (side, points, more = {}) =>
  ({ type: "score", side, points, action: ACTION[points], ...more });
const red = (points, more) => score("red", points, more);
const blue = (points, more) => score("blue", points, more);
const caution = (side, points, more) =>
  ({ type: "caution", side, reason: "fleeing_hold", points, ...more });
const penalty = (side, points = 1, more = {}) =>
  ({ type: "passivity", side, stage: "penalty", points, ...more });
const activity = (side, more) => ({ type: "passivity", side, stage: "activity", ...more });
const start = (s, more) => ({ type: "clock", do: "start", s, ...more });
const stop = (s, more) => ({ type: "clock", do: "stop", s, ...more });
const set = (s, period, t_ms) => ({ type: "clock", do: "set", s, period, t_ms });
const end = (s) => ({ type: "clock", do: "end", s });
const note = (s, more) => ({ type: "note", text: "A line.", to: "booth", s, ...more });
const ofVoid = (ref, more) => ({ type: "void", ref, ...more });

// ---------------------------------------------------------------------------------------------

describe("who leads at a level score", () => {
  // Order of criteria: USA Wrestling rule book 2021 (as quoted in public discussion), Sportstar
  // 2019.
  const rows = [
    ["2-2: one 2 against two 1s", [red(2), blue(1), blue(1)], "red", "holds"],
    ["2-2: a 2 each (common practice)", [blue(2), red(2)], "red", "last_point"],
    ["3-3: 2+1 each", [red(2), blue(2), blue(1), red(1)], "red", "last_point"],
    ["3-3: 2+1 against 1+1+1", [red(2), red(1), blue(1), blue(1), blue(1)], "red", "holds"],
    ["4-4: 4 against 2+2", [red(4), blue(2), blue(2)], "red", "holds"],
    ["4-4: 2+2 against 2+1+1", [red(2), red(2), blue(2), blue(1), blue(1)], "red", "holds"],
    ["5-5: 5 against 4+1", [red(5), blue(4), blue(1)], "red", "holds"],
    ["6-6: 4+2 against 2+2+1+1", [red(4), red(2), blue(2), blue(2), blue(1), blue(1)], "red",
      "holds"],
    ["1-1: red scored last, but has a caution", [blue(1), red(1), caution("red", 0)], "blue",
      "cautions"],
    ["0-0, no caution", [], undefined, undefined],
    ["0-0, one caution", [caution("red", 0)], "blue", "cautions"],
    ["more points", [red(1), blue(2)], "blue", "points"],
  ];
  for (const [name, events, side, by] of rows) {
    it(name, () => {
      const want = side && { side, by };
      assert.deepEqual(after("freestyle-2022", ...events).leader, want);
      const swapped = events
        .map((event) => ({ ...event, side: event.side === "red" ? "blue" : "red" }));
      assert.equal(after("freestyle-2022", ...swapped).leader?.by, by, "corners swapped");
    });
  }

  // "(with the edition's switch `penalty_points_are_holds` off, by technique only)"
  it("points that come with a penalty are holds by the switch", () => {
    const events = [caution("blue", 2), blue(1), blue(1)];
    assert.deepEqual(after("freestyle-2022", ...events).leader, { side: "red", by: "holds" });
    const off = { ...editions["freestyle-2022"], name: "off", penalty_points_are_holds: false };
    const { states } = reading(fileOf(log(bout("off"), ...events)), { off });
    assert.deepEqual(states[0].leader, { side: "blue", by: "holds" });
    assert.deepEqual(states[0].holds, { red: {}, blue: { 1: 2 } });
  });

  // FILA, notice of June 2013: cautions first; each activity penalty also a caution
  it("an edition may ask for cautions first, and count a penalty as one", () => {
    const state = after("june-2013", red(2), blue(1), penalty("red"));
    assert.deepEqual(state.cautions, { red: 1, blue: 0 });
    assert.deepEqual(state.leader, { side: "blue", by: "cautions" });
  });
});

describe("Greco-Roman at 1-1", () => {
  const stop_red = red(1, { action: "injury_stop" });
  const rows = [
    // UWW, 28 Mar 2025: the first point wins
    ["greco-2025-trial", "first point", [blue(1), red(1)], "blue", "first_point"],
    ["greco-2025-trial", "only at 1-1", [red(2), blue(2)], "blue", "last_point"],
    // Deutscher Ringer-Bund, winter 2025/26, in the notice's order
    ["greco-2026", "both points without technique", [penalty("blue"), penalty("red")], "red",
      "first_point"],
    ["greco-2026", "two cautions given", [blue(1), red(1), caution("red", 0), caution("red", 0)],
      "blue", "first_point"],
    ["greco-2026", "exactly one caution", [blue(1), red(1), caution("blue", 0)], "red", "cautions"],
    ["greco-2026", "one point by technique", [blue(1), penalty("blue")], "blue", "technique"],
    ["greco-2026", "a step-out is technique", [penalty("blue"), blue(1)], "blue", "technique"],
    ["greco-2026", "an injury stop is none", [stop_red, penalty("red")], "red", "first_point"],
    ["greco-2026", "both by technique", [blue(1), red(1)], "red", "last_point"],
    // unsettled in print: the notice's order gives the first point
    ["greco-2026", "no technique and one caution", [caution("blue", 1), penalty("red")], "red",
      "first_point"],
    ["greco-2022", "before, the usual criteria", [blue(1), red(1)], "red", "last_point"],
  ];
  for (const [rules, name, events, side, by] of rows) {
    it(`${rules}: ${name}`, () => assert.deepEqual(after(rules, ...events).leader, { side, by }));
  }
});

describe("the order of points", () => {
  // "then, in log order, each whose `before` has an entry is moved to just before it"
  it("before moves an entry", () => {
    assert.equal(after("freestyle-2022", red(2, { id: "x" }), blue(2, { before: "x" })).leader.side,
      "red");
  });
  it("before an event that gives no points does nothing", () => {
    const events = [caution("red", 0, { id: "x" }), caution("blue", 0), red(2),
      blue(2, { before: "x" })];
    assert.deepEqual(after("freestyle-2022", ...events).leader, { side: "blue", by: "last_point" });
  });
  // "one that names an event that doesn't stand counts as absent"
  it("before a voided event does nothing", () => {
    const events = [red(2, { id: "x" }), red(2), blue(2, { before: "x" }), ofVoid("x")];
    assert.deepEqual(after("freestyle-2022", ...events).leader, { side: "blue", by: "last_point" });
  });
  // "it keeps its place in the order of points unless `before` is set"
  it("an amend moves only with before", () => {
    const events = [red(1, { id: "x" }), blue(2, { id: "y" })];
    const amend = { type: "amend", ref: "x", set: { points: 2, action: "exposure" } };
    assert.equal(after("freestyle-2022", ...events, amend).leader.side, "blue");
    const moved = { type: "amend", ref: "y", set: { before: "x" } };
    assert.equal(after("freestyle-2022", ...events, amend, moved).leader.side, "red");
  });
  // "points that come with a caution, passivity or challenge" count as the last point too
  // (UWW, 19 June 2025, for passivity)
  it("a lost challenge is the last point", () => {
    const lost = { type: "challenge", side: "blue", outcome: "rejected", points: 1 };
    assert.deepEqual(after("freestyle-2022", red(1), blue(1), blue(1), lost).leader,
      { side: "red", by: "last_point" });
  });
});

describe("the clock", () => {
  const clock = (...events) => after("freestyle-2022", ...events).clock;

  it("runs from start to stop", () => {
    assert.deepEqual(clock(start(10), stop(35)), {
      period: 1, t_ms: 25000, left_ms: 155000, elapsed_ms: 25000, running: false,
    });
  });
  it("reads on at the time of the last event", () => {
    assert.equal(clock(start(10), note(40)).t_ms, 30000);
    assert.equal(clock(start(10), note(40)).running, true);
  });
  // "Elapsed time in a period never passes the period's length; when it reaches it the period is
  // used up and the clock reads as stopped."
  it("stops at the length", () => {
    assert.deepEqual(clock(start(0), note(181)), {
      period: 1, t_ms: 180000, left_ms: 0, elapsed_ms: 180000, running: false,
    });
  });
  // "A clock that reached the length stays there, stopped, until a later period is started"
  it("a plain start or an earlier period starts nothing then", () => {
    assert.equal(clock(start(0), start(200), note(210)).running, false);
    assert.equal(clock(start(0), start(200, { period: 1 }), note(210)).running, false);
    assert.equal(clock(start(0), start(200, { period: 2 }), note(210)).t_ms, 10000);
  });
  // "`start` with a later period than the current one begins that period at 0, running or not"
  it("a later period begins at 0, also while the clock runs", () => {
    assert.deepEqual(clock(start(0), start(50, { period: 2 }), note(60)), {
      period: 2, t_ms: 10000, left_ms: 170000, elapsed_ms: 190000, running: true,
    });
  });
  // "any other `start` changes nothing while the clock runs"
  it("a second start changes nothing",
    () => assert.equal(clock(start(0), start(5), note(9)).t_ms, 9000));
  // "`keyed_at` where given, else `at`"; "a start or stop keyed while the connection was down
  // counts from when it was keyed, whatever came in between"
  it("counts from when the key was pressed", () => {
    assert.equal(clock(start(10, { k: 8 }), note(20), stop(40, { k: 30 })).t_ms, 22000);
  });
  // "never later than `at`, and never earlier than the moment of the last `clock` event … (standing
  // or not)"
  it("bounds when the key was pressed", () => {
    assert.equal(clock(start(10, { k: 99 }), stop(20)).t_ms, 10000);
    assert.equal(clock(start(10), stop(20, { k: 2 })).t_ms, 0);
    assert.equal(clock(start(10), stop(30, { id: "x" }), stop(31, { k: 20 }), ofVoid("x")).t_ms,
      20000);
  });
  // "(reached by its `clock` events alone: a stop keyed before it ran out still counts)"
  it("a late stop takes back that it ran out", () => {
    assert.equal(clock(start(0), note(185), stop(190, { k: 170 })).t_ms, 170000);
    assert.equal(clock(start(0), stop(185), stop(190, { k: 170 })).t_ms, 180000);
  });
  // "`set` corrects period and time and leaves it running or stopped as it was"
  it("set keeps running or stopped", () => {
    assert.equal(clock(start(0), set(10, 1, 60000), note(15)).t_ms, 65000);
    assert.equal(clock(start(0), stop(5), set(10, 2, 60000), note(15)).elapsed_ms, 240000);
    assert.deepEqual(clock(start(0), note(200), set(201, 1, 100000), note(220)).running, false);
  });
  // "`end`: the horn; the period's time is used up, whatever was counted"
  it("the horn uses the period up", () => assert.equal(clock(start(0), end(170)).left_ms, 0));
  // "stops, and marks the clock unsure until the next `clock` event"
  it("lost stops it and marks it", () => {
    const lost = { type: "clock", do: "lost", s: 40, k: 30 };
    assert.deepEqual(clock(start(0), lost), {
      period: 1, t_ms: 30000, left_ms: 150000, elapsed_ms: 30000, running: false, unsure: true,
    });
    assert.equal(clock(start(0), lost, start(50)).unsure, undefined);
  });
  // "A `now` earlier than the latest moment of the bout counts as that."
  it("now is never before what was keyed", () => {
    const lines = log(bout("freestyle-2022"), start(0), note(50));
    assert.equal(last(lines, { now: at(10) }).clock.t_ms, 50000);
    assert.equal(last(lines, { now: at(70) }).clock.t_ms, 70000);
  });
  // "`--until TIME` stops before the first event accepted later, with TIME as `now`"
  it("until shows what was known then", () => {
    const lines = log(bout("freestyle-2022"), start(0), note(50), stop(60, { k: 20 }));
    const state = last(lines, { until: at(55) });
    assert.deepEqual([state.seq, state.clock.t_ms, state.clock.running], [3, 55000, true]);
  });
  // "after a later `bout` event with another … length, … a bout time beyond the length counts as
  // the length, a `start` with a period that the bout no longer has is one without, a `set` with
  // one sets the last period"
  it("a later length holds for the whole bout", () => {
    const shorter = bout("freestyle-2022",
      { id: "again", length: { periods: 1, period_ms: 20000 }, s: 300 });
    assert.equal(clock(start(0), stop(30), shorter).left_ms, 0);
    assert.deepEqual(clock(start(0), stop(10), start(20, { period: 2 }), stop(25),
      shorter).elapsed_ms, 15000);
    assert.deepEqual(clock(set(0, 2, 5000), shorter).elapsed_ms, 5000);
  });
});

describe("the phase", () => {
  const phase = (...events) => after("freestyle-2022", ...events).phase;
  const close = { type: "close", how: "fall", winner: "red" };
  const rows = [
    ["called", []], ["called", [red(2)]], ["live", [start(0), note(1)]],
      ["stopped", [start(0), stop(1)]],
    ["break", [start(0), note(180)]], ["over", [start(0), end(1), start(2, { period: 2 }), end(3)]],
    ["over", [start(0), stop(1), red(5), red(5)]], ["live", [start(0), red(5, { s: 1 }), red(5)]],
    ["closed", [start(0), close]],
      ["stopped", [start(0), stop(1), { ...close, id: "x" }, ofVoid("x")]],
    ["off", [start(0), close, bout("freestyle-2022", { id: "again", off: true })]],
    ["called", [bout("freestyle-2022", { id: "a", off: true }),
      bout("freestyle-2022", { id: "c" })]],
    ["called", [start(0, { id: "x" }), ofVoid("x")]],
  ];
  for (const [want, events] of rows) {
    it(`${want}: ${events.map(({ type, do: does = "" }) => `${type} ${does}`).join(", ")}`, () =>
      assert.equal(phase(...events), want));
  }

  // "the break's length less the time since the clock ran out, was `set` to the length, or was
  // ended by an `end` before it ran out; not below 0"
  it("the break counts from when the period was used up", () => {
    const left = (...events) => after("freestyle-2022", ...events).break?.left_ms;
    assert.equal(left(start(0), note(190)), 20000);
    assert.equal(left(start(0), end(100), note(110)), 20000);
    assert.equal(left(start(0), end(185), note(190)), 20000);
    assert.equal(left(start(0), set(100, 1, 180000), note(110)), 20000);
    assert.equal(left(start(0), note(400)), 0);
    assert.equal(left(start(0), note(100)), undefined);
  });
});

describe("what stands", () => {
  const total = (...events) => after("freestyle-2022", ...events).score;

  it("a void takes out, a void of it restores", () => {
    const events = [red(2, { id: "x" }), ofVoid("x", { id: "v" }), ofVoid("v", { id: "w" }),
      ofVoid("w")];
    assert.equal(total(...events.slice(0, 2)).red, 0);
    assert.equal(total(...events.slice(0, 3)).red, 2);
    assert.equal(total(...events).red, 0);
  });
  it("an amend corrects in place, the later one wins, a void of it takes it back", () => {
    const events = [
      red(2, { id: "x" }),
      { type: "amend", id: "a", ref: "x", set: { points: 4, action: "throw" } },
      { type: "amend", id: "b", ref: "x", set: { side: "blue" } },
    ];
    assert.deepEqual(total(...events), { red: 0, blue: 4 });
    assert.deepEqual(total(...events, ofVoid("a")), { red: 0, blue: 2 });
    assert.deepEqual(total(...events, ofVoid("b")), { red: 4, blue: 0 });
  });
  // "everything earlier of it but `bout` and `note` events and amends of notes never happened. May
  // be voided"
  it("a restart begins anew, and may be voided", () => {
    const events = [start(0), red(2, { s: 10 }), { type: "restart", id: "r", s: 20 }, blue(1)];
    const state = after("freestyle-2022", ...events);
    assert.deepEqual([state.score, state.phase, state.clock.t_ms],
      [{ red: 0, blue: 1 }, "called", 0]);
    const restored = after("freestyle-2022", ...events, ofVoid("r"));
    assert.deepEqual([restored.score, restored.phase, restored.clock.t_ms],
      [{ red: 2, blue: 1 }, "live", 20000]);
  });
  // "the last `restart` that is left takes out what it names": voids of before it were walked
  // already
  it("a void from after the restart reaches before it", () => {
    const events = [{ type: "restart", id: "r" }, red(2), { type: "restart", id: "q" },
      ofVoid("q")];
    assert.equal(total(red(4), ...events).red, 2);
    assert.equal(total(red(4), ...events, ofVoid("r")).red, 6);
  });
  // "a `confirm` … without `ref`, every one so far"; "A `confirm` that stands makes the event that
  // it names confirmed, however that is amended before or after"
  it("a confirm", () => {
    const part = (...events) => {
      const { unconfirmed, confirmed } = after("freestyle-2022", ...events);
      return [unconfirmed.red, confirmed.red];
    };
    const seen = { unconfirmed: true };
    const amend = { type: "amend", ref: "x", set: { points: 4, action: "throw" } };
    assert.deepEqual(part(red(2, seen)), [2, 0]);
    assert.deepEqual(part(red(2, { ...seen, id: "x" }), red(1, seen),
      { type: "confirm", ref: "x" }), [1, 2]);
    assert.deepEqual(part(red(2, seen), { type: "confirm" }, red(1, seen)), [1, 2]);
    assert.deepEqual(part(red(2, { ...seen, id: "x" }), { type: "confirm", ref: "x" }, amend),
      [0, 4]);
    assert.deepEqual(part(red(2, { ...seen, id: "x" }), { type: "confirm", id: "c" }, ofVoid("c")),
      [2, 0]);
    // "(a `confirm` whose `ref` doesn't stand does nothing)"
    assert.deepEqual(part(red(2, { ...seen, id: "x" }), red(1, seen), { type: "confirm", ref: "x" },
      ofVoid("x")), [1, 0]);
  });
  // "(in `fold`, its ordinal among the accepted events of the file)"; "`fold` skips it, prints
  // nothing for it, and doesn't read its `at`"
  it("a repeat changes nothing", () => {
    const lines = log(bout("freestyle-2022"), start(0), red(2, { s: 10 }));
    const again = JSON.parse(lines[1]);
    const repeat = JSON.stringify({ seq: 7, by: "other desk", ...again, at: "soon" });
    const { states, errors } = reading(fileOf([...lines, repeat]), editions, { each: true });
    assert.deepEqual([errors, states.length, states[2].seq, states[2].clock.t_ms],
      [[], 3, 3, 10000]);
    const changed = reading(fileOf([...lines, JSON.stringify({ ...again, do: "stop" })]), editions);
    assert.equal(changed.errors[0].line, 4);
  });
});

describe("activity time", () => {
  const left = (rules, ...events) => after(rules, ...events).activity;
  const on = [start(0), activity("red", { s: 60 })];

  it("runs with the bout clock", () => {
    assert.deepEqual(left("freestyle-2022", ...on, note(70)),
      { side: "red", left_ms: 20000, running: true });
    assert.deepEqual(left("freestyle-2022", ...on, stop(75), note(99)),
      { side: "red", left_ms: 15000, running: false });
  });
  // "Its own time used up, it stays with `left_ms` 0 until one of these."
  it("stays at 0", () => {
    assert.deepEqual(left("freestyle-2022", ...on, note(95)),
      { side: "red", left_ms: 0, running: false });
    assert.equal(left("freestyle-2022", ...on, penalty("red", 1, { s: 95 })), undefined);
    assert.notEqual(left("freestyle-2022", ...on, penalty("blue", 1, { s: 95 })), undefined);
  });
  // until January 2022 a score of either side; since then only the named side's own (UWW, 27 Jan
  // 2022)
  it("ends by a score", () => {
    assert.equal(left("freestyle-2022", ...on, red(1, { s: 70 })), undefined);
    assert.notEqual(left("freestyle-2022", ...on, blue(1, { s: 70 })), undefined);
    assert.equal(left("freestyle-2015", ...on, blue(1, { s: 70 })), undefined);
  });
  // "whose bout time isn't before its own"
  it("does not end by a score of before", () => {
    assert.notEqual(left("freestyle-2022", ...on, red(1, { s: 70, period: 1, t_ms: 59999 })),
      undefined);
    assert.equal(left("freestyle-2022", ...on, red(1, { s: 70, period: 1, t_ms: 60000 })),
      undefined);
  });
  it("another one takes its place", () => {
    assert.equal(left("freestyle-2022", ...on, activity("blue", { s: 80 })).side, "blue");
  });
  // "or, for good, when at an event's moment (or at `now`) its period is used up or isn't the
  // clock's"
  it("ends for good with its period", () => {
    assert.equal(left("freestyle-2022", ...on, start(70, { period: 2 }), note(71)), undefined);
    assert.equal(left("freestyle-2022", ...on, set(70, 2, 0), set(71, 1, 65000), note(72)),
      undefined);
    assert.equal(left("freestyle-2022", ...on, note(185), stop(190, { k: 80 })), undefined);
    assert.deepEqual(left("freestyle-2022", ...on, stop(190, { k: 80 })),
      { side: "red", left_ms: 10000, running: false });
  });
  // "at its own bout time"
  it("counts from the bout time that it gives", () => {
    assert.equal(left("freestyle-2022", start(0),
      activity("red", { s: 60, period: 1, t_ms: 50000 })).left_ms, 20000);
  });
  // "between 0 and that"
  it("has never more than its length", () => {
    assert.equal(left("freestyle-2022", ...on, set(61, 1, 10000)).left_ms, 30000);
  });
  it("is refused in an edition without it", () => {
    assert.match(refusal(bout("greco-2022"), activity("red")), /no activity time/);
  });
});

describe("the forced call", () => {
  const left = (...events) => after("freestyle-2022", ...events).forced_call?.left_ms;
  // "in period 1 of an edition with `forced_call_ms` …, while the score is 0-0, that time isn't
  // reached and no passivity of stage `activity` or `penalty` stands"
  it("counts to 2:00", () => {
    assert.equal(left(), 120000);
    assert.equal(left(start(0), note(50)), 70000);
    assert.equal(left(start(0), note(120)), undefined);
    assert.equal(left(start(0), red(1, { s: 50 })), undefined);
    assert.equal(left(start(0), { type: "passivity", side: "red", stage: "warning", s: 50 }),
      70000);
    assert.equal(left(start(0), activity("red", { s: 50 })), undefined);
    assert.equal(left(start(0), penalty("red", 0, { s: 50 })), undefined);
    assert.equal(left(start(0, { period: 2 })), undefined);
  });
  // "(and a period longer than that)"
  it("belongs to longer periods", () => {
    const short = (period_ms) =>
      last(log(bout("freestyle-2022", { length: { period_ms } }))).forced_call;
    assert.equal(short(120000), undefined);
    assert.deepEqual(short(120001), { left_ms: 120000 });
    assert.equal(last(log(bout("freestyle-2022", { age_group: "u17" }))).forced_call, undefined);
  });
});

describe("due", () => {
  // Freestyle 10, Greco-Roman 8 (avjc.de, 2018)
  it("superiority by the margin", () => {
    assert.equal(after("freestyle-2022", red(5), red(4)).due, undefined);
    assert.equal(after("freestyle-2022", red(5), red(5)).due, "superiority");
    assert.equal(after("greco-2022", red(4), red(4)).due, "superiority");
  });
  // "`due_against`, an array of the sides that have them all, red first"
  it("cautions", () => {
    const three = (side) => [1, 2, 3].map(() => caution(side, 0));
    const state = after("freestyle-2022", ...three("blue"), ...three("red"));
    assert.deepEqual([state.due, state.due_against], ["cautions", ["red", "blue"]]);
    assert.equal(after("freestyle-2022", ...three("blue")).confirmed.due, "cautions");
  });
  // "On air an ending is `confirmed.due`"
  it("is said apart for what is confirmed", () => {
    const state = after("freestyle-2022", red(5), red(5, { unconfirmed: true }));
    assert.deepEqual([state.due, state.confirmed.due], ["superiority", undefined]);
    assert.deepEqual(state.confirmed, { red: 5, blue: 0, leader: { side: "red", by: "points" } });
  });
  it("time, in the last period alone", () => {
    assert.equal(after("freestyle-2022", start(0), end(1)).due, undefined);
    assert.equal(after("freestyle-2022", start(0), start(1, { period: 2 }), end(2)).due, "time");
  });
});

describe("outlook and needs", () => {
  it("at 2-3, red to score", () => {
    const { outlook, needs } = after("freestyle-2022", red(2), blue(2), blue(1));
    // 3-3: 2+1 each, and the imagined point is the last
    assert.deepEqual(outlook.red[1],
      { red: 3, blue: 3, leader: { side: "red", by: "last_point" } });
    assert.deepEqual(outlook.red[2], { red: 4, blue: 3, leader: { side: "red", by: "points" } });
    assert.deepEqual(Object.keys(outlook.blue), ["1", "2", "4", "5"]);
    assert.deepEqual(needs,
      { red: { to_lead: 1, to_superiority: 11 }, blue: { to_superiority: 9 } });
  });
  it("superiority is due in a cell", () => {
    const { outlook, needs } = after("freestyle-2022", red(5), red(4));
    assert.equal(outlook.red[1].due, "superiority");
    assert.equal(outlook.blue[1].due, undefined);
    // "or no single action can"
    assert.deepEqual(needs, { red: { to_superiority: 1 }, blue: { to_superiority: 19 } });
  });
  // "left out when there"
  it("nothing is missing where the margin is reached", () => {
    assert.deepEqual(after("freestyle-2022", red(5), red(5)).needs.red, {});
  });
  it("the imagined point is one by technique", () => {
    // greco-2026 at 1-1: the other point came without technique, so the technique decides
    const { outlook } = after("greco-2026", penalty("red"));
    assert.deepEqual(outlook.red[1].leader, { side: "red", by: "technique" });
  });
});

describe("the result", () => {
  const result = (rules, ...events) => after(rules, ...events).result;
  const close = (how, winner, more) => ({ type: "close", how, winner, ...more });

  // Codes and classification points: avjc.de, 2018; VCA, VFO, DSQ, 2VIN, 2VFO from memory
  const rows = [
    ["fall, behind on points", [blue(4), close("fall", "red")], "VFA", [5, 0], true],
    ["superiority, loser without points", [red(5), red(5), close("superiority", "red")], "VSU",
      [4, 0], true],
    ["superiority, loser with points",
      [blue(1), red(5), red(5), red(1), close("superiority", "red")], "VSU1", [4, 1], true],
    ["superiority short of the margin", [red(5), red(4), close("superiority", "red")], "VSU",
      [4, 0], false],
    ["points, loser without points", [red(2), close("points", "red")], "VPO", [3, 0], true],
    ["points, loser with points", [red(2), blue(1), close("points", "red")], "VPO1", [3, 1], true],
    ["points, by a criterion", [red(2), blue(1), blue(1), close("points", "red")], "VPO1", [3, 1],
      true],
    ["points, of the side that does not lead", [red(2), close("points", "blue")], "VPO1", [1, 3],
      false],
    ["points, the margin reached", [red(5), red(5), close("points", "red")], "VPO", [3, 0], false],
    ["cautions, with three", [...[1, 2, 3].map(() => caution("blue", 0)), close("cautions", "red")],
      "VCA", [5, 0], true],
    ["cautions, with one", [caution("blue", 0), close("cautions", "red")], "VCA", [5, 0], false],
    ["injury", [close("injury", "red")], "VIN", [5, 0], true],
    ["forfeit", [close("forfeit", "red")], "VFO", [5, 0], true],
    ["disqualification", [close("disqualification", "red")], "DSQ", [5, 0], true],
    ["both disqualified", [close("both_disqualified")], "2DSQ", [0, 0], true],
    ["both injured", [close("both_injured")], "2VIN", [0, 0], true],
    ["both forfeit", [close("both_forfeit")], "2VFO", [0, 0], true],
    // "whenever a given `score` or `code` differs"
    ["a score that differs", [red(2), close("fall", "red", { score: { red: 4, blue: 0 } })], "VFA",
      [5, 0], false],
    ["a score that agrees", [red(2), close("fall", "red", { score: { red: 2, blue: 0 } })], "VFA",
      [5, 0], true],
    ["a code that differs", [red(2), close("points", "red", { code: "VPO1" })], "VPO", [3, 0],
      false],
  ];
  for (const [name, events, code, [forRed, forBlue], consistent] of rows) {
    it(name, () => {
      const got = result("freestyle-2022", ...events);
      assert.deepEqual([got.code, got.class_points, got.consistent],
        [code, { red: forRed, blue: forBlue }, consistent]);
    });
  }
  // a fall 0:40 into the second period is said as "3:40"; "`time_ms` is elapsed over the whole bout
  // at the `close`'s bout time"
  it("has the time over the whole bout", () => {
    const events = [start(0), start(200, { period: 2 }), stop(240),
      close("fall", "red", { s: 300 })];
    const got = result("freestyle-2022", ...events);
    assert.deepEqual([got.period, got.time_ms], [2, 220000]);
    const given = result("freestyle-2022", ...events.slice(0, 3),
      close("fall", "red", { period: 2, t_ms: 38000 }));
    assert.equal(given.time_ms, 218000);
  });
  // "the last one that stands counts"
  it("is the last close that stands", () => {
    const events = [close("fall", "red"), close("injury", "blue", { id: "x", unconfirmed: true })];
    const last = result("freestyle-2022", ...events);
    assert.deepEqual([last.how, last.unconfirmed], ["injury", true]);
    assert.equal(result("freestyle-2022", ...events, ofVoid("x")).how, "fall");
    assert.equal(result("freestyle-2022", ...events, { type: "confirm" }).unconfirmed, undefined);
  });
});

describe("attacks", () => {
  const techniques = ["double_leg", "high_crotch"];
  const attack = (outcome, more) =>
    ({ type: "attack", side: "red", techniques, outcome, ...more });
  const count = (...events) => comparable(after("freestyle-2022", ...events)).attacks;

  it("by their outcome", () => {
    const outcomes = ["open", "scored", "stopped", "countered", "out", "stalemate", "slipped"];
    assert.deepEqual(count(...outcomes.map((outcome) => attack(outcome))), {
      red: {
        tried: 6, scored: 1, stopped: 3, countered: 1,
        by: { double_leg: { tried: 6, scored: 1, points: 0 } },
      },
    });
  });
  // "(three turns that finish one attack are one try)"
  it("by the scores that name them", () => {
    const turns = [1, 2, 3].map(() => red(2, { attack: "a" }));
    assert.deepEqual(count(attack("open", { id: "a", leg: "lead" }), ...turns).red, {
      tried: 1, scored: 1, stopped: 0, countered: 0,
      by: { double_leg: { tried: 1, scored: 1, points: 6 } },
      leg: { lead: { tried: 1, scored: 1, points: 6 } },
    });
    // "else a `score` of the other side that names it … makes it countered"
    assert.deepEqual(count(attack("open", { id: "a" }), blue(2, { attack: "a" })), {
      red: { tried: 1, scored: 0, stopped: 0, countered: 1,
        by: { double_leg: { tried: 1, scored: 0, points: 0 } } },
    });
  });
  // "A `score` with a `technique` and no `attack` is one tried and one scored under that technique"
  it("by scores of their own", () => {
    const alone = { technique: "gut_wrench", leg: "trail" };
    assert.deepEqual(count(red(2, alone)).red, {
      tried: 1, scored: 1, stopped: 0, countered: 0,
      by: { gut_wrench: { tried: 1, scored: 1, points: 2 } },
      leg: { trail: { tried: 1, scored: 1, points: 2 } },
    });
    assert.equal(count(red(2)), undefined);
    // the attack voided, its score counts by itself
    assert.equal(count(attack("open", { id: "a" }),
      red(2, { ...alone, attack: "a" })).red.by.gut_wrench, undefined);
    assert.equal(count(attack("open", { id: "a" }), red(2, { ...alone, attack: "a" }),
      ofVoid("a")).red.by.gut_wrench.points, 2);
  });
});

describe("challenge, position, stoppage", () => {
  const challenge = (side, outcome, more) => ({ type: "challenge", side, outcome, ...more });
  it("a challenge is kept when upheld, and lost when rejected", () => {
    const asked = challenge("red", "asked", { id: "c" });
    const state = after("freestyle-2022", asked);
    assert.deepEqual([state.challenge.red, state.confirmed.under_review],
      [{ left: true, open: "c" }, true]);
    assert.deepEqual(after("freestyle-2022", asked, challenge("red", "upheld")).challenge.red,
      { left: true });
    const rejected = after("freestyle-2022", asked, challenge("red", "rejected", { points: 1 }));
    assert.deepEqual([rejected.challenge.red, rejected.score.blue], [{ left: false }, 1]);
  });
  // "a `clock` start of a later period clears it"
  it("the position lasts until a later period", () => {
    const down = { type: "position", position: "par_terre", top: "red", ordered: true,
      chosen_by: "red" };
    assert.deepEqual(after("greco-2022", down, start(1)).position,
      { position: "par_terre", top: "red", ordered: true });
    assert.equal(after("greco-2022", down, start(1, { period: 2 })).position, undefined);
    assert.notEqual(after("greco-2022", down, set(1, 2, 0)).position, undefined);
  });
  // "(the last one started, until any `stop`)"
  it("a stoppage counts from its start", () => {
    const stoppage = (does, kind, s) => ({ type: "stoppage", kind, do: does, s });
    const state = after("freestyle-2022", stoppage("start", "injury", 10),
      stoppage("start", "blood", 20), note(50));
    assert.deepEqual(state.stoppage, { kind: "blood", for_ms: 30000 });
    assert.equal(after("freestyle-2022", stoppage("start", "injury", 10),
      stoppage("stop", "other", 20)).stoppage, undefined);
  });
});

describe("refused", () => {
  const first = bout("freestyle-2022");
  const rows = [
    ["an unknown type", [first, { type: "hold" }], /no such type/],
    ["an unknown member", [first, { ...start(0), colour: "red" }], /no member colour/],
    ["an unknown bout", [start(0)], /no bout/],
    ["an unknown edition", [bout("freestyle-1999")], /no edition/],
    ["a style of another edition", [bout("freestyle-2022", { style: "greco_roman" })], /no style/],
    ["a value that the edition lacks", [first, score("red", 3, { action: "throw" })],
      /no action gives 3/],
    ["an action of another value", [first, red(1, { action: "throw" })], /no action of 1/],
    ["a period beyond the bout's", [first, red(1, { period: 3, t_ms: 0 })], /2 periods/],
    ["a time beyond the period's", [first, red(1, { period: 1, t_ms: 180001 })], /180000/],
    ["a winner of an ending without",
      [first, { type: "close", how: "both_injured", winner: "red" }], /winner/],
    ["no winner of an ending with one", [first, { type: "close", how: "fall" }], /winner/],
    ["a ref to what comes later", [first, ofVoid("e9")], /no earlier event/],
    ["an attack that is none", [first, red(2, { id: "x" }), red(2, { attack: "x" })], /no attack/],
    ["a void of a bout event", [first, ofVoid("bout")], /can't be voided/],
    ["an amend of a void",
      [first, red(1, { id: "x" }), ofVoid("x", { id: "v" }),
      { type: "amend", ref: "v", set: { why: "keying" } }], /can't be amended/],
    ["an amend of a time of day",
      [first, red(1, { id: "x" }), { type: "amend", ref: "x", set: { keyed_at: at(0) } }],
      /can't be amended/],
    ["a name in set and unset",
      [first, red(1, { id: "x" }),
      { type: "amend", ref: "x", set: { leg: "lead" }, unset: ["leg"] }], /both/],
    ["an event invalid as amended",
      [first, red(1, { id: "x" }), { type: "amend", ref: "x", set: { points: 2 } }],
      /no action of 2/],
    ["points of a warning",
      [first, { type: "passivity", side: "red", stage: "warning", points: 0 }], /points/],
    ["a bout in a type of the day", [first, { type: "entry", athlete: "a" }], /no member bout/],
    ["false for a flag", [first, red(1, { unconfirmed: false })], /not true/],
  ];
  for (const [name, events, reason] of rows) it(name,
    () => assert.match(refusal(...events), reason));

  // "by what stands when the amend comes"
  it("an amend is judged together with those that stand", () => {
    const events = [
      first, red(1, { id: "x" }),
        { type: "amend", id: "a", ref: "x", set: { points: 2, action: "throw" } },
      { type: "amend", ref: "x", set: { points: 5 } },
    ];
    assert.equal(refusal(...events), undefined);
    assert.match(refusal(...events.slice(0, 3), ofVoid("a"), events[3]), /no action of 5/);
  });

  // "a member twice", "a number with a fraction or exponent where an integer is asked"
  it("what JSON.parse hides", () => {
    const lines = log(first, red(2));
    const changed = (from, to) => reading(fileOf([lines[0], lines[1].replace(from, to)]),
      editions).errors[0]?.reason;
    assert.match(changed('"side":"red"', '"side":"red","side":"red"'), /twice/);
    assert.match(changed('"side":"red"', '"side":"red","\\u0073ide":"red"'), /twice/);
    assert.match(changed('"points":2', '"points":2.0'), /fraction/);
    assert.match(changed('"points":2', '"points":2e0'), /fraction/);
    assert.match(changed('"e1"', '"\\ud83e"'), /surrogate/);
  });
  // "more than 10,000 events in one bout"
  it("more than 10,000 events in one bout", () => {
    const notes = Array.from({ length: 10_000 }, (_, i) => note(i));
    const { errors } = reading(fileOf(log(first, ...notes)), editions, { keepGoing: true });
    assert.deepEqual(errors.map(({ line }) => line), [10_001]);
  });
  // "stops it …, with `--each`, after the states before it; else without any"; "`--keep-going` …
  // skips it"
  it("stops there, or goes on", () => {
    const lines = log(first, start(0), { type: "hold" }, note(5));
    const seen = (options) => {
      const { states, errors } = reading(fileOf(lines), editions, options);
      return [states.length, errors.length];
    };
    assert.deepEqual(seen({}), [0, 1]);
    assert.deepEqual(seen({ each: true }), [2, 1]);
    assert.deepEqual(seen({ keepGoing: true }), [1, 1]);
    assert.deepEqual(seen({ each: true, keepGoing: true }), [3, 1]);
  });
});

describe("JSON", () => {
  it("values are compared by value", () => {
    assert.ok(same(parse('{"a":[1,{"b":2.0}]}'), parse('{"a":[1.0,{"b":2e0}]}')));
    assert.ok(!same(parse('{"a":1}'), parse('{"a":"1"}')));
    assert.ok(!same(parse('{"a":1}'), parse('{"a":1,"b":1}')));
  });
  // RFC 8785, section 3.2.3
  it("is written with sorted keys and no spaces", () => {
    assert.equal(canonical({ b: [1, { d: 1, c: "é" }], 10: true, 9: 1 }),
      '{"10":true,"9":1,"b":[1,{"c":"é","d":1}]}');
  });
});

describe("made logs", () => {
  it("the same seed makes the same log", () => {
    const make = () => fileOf(makeLog(7, { editions, mode: "hostile" }).lines).toString("latin1");
    assert.equal(make(), make());
  });
  for (let seed = 1; seed <= 10; seed++) {
    it(`seed ${seed}: valid logs are accepted, spoiled lines and no others refused`, () => {
      for (const mode of ["valid", "hostile"]) {
        const { lines, bad } = makeLog(seed, { editions, mode });
        const { errors } = reading(fileOf(lines), editions, { keepGoing: true });
        assert.deepEqual(errors.map(({ line }) => line), [...bad.keys()]);
      }
    });
  }
  it("an event voided and restored is as if never voided", () => {
    const events = [start(0), red(2, { s: 5 }), activity("blue", { s: 9 }), stop(12),
      set(13, 1, 20000)];
    const plain = last(log(bout("freestyle-2022"), ...events));
    for (let i = 1; i <= events.length; i++) {
      const restored = [ofVoid(`e${i}`, { id: "v" }), ofVoid("v", { id: "w" })];
      const { seq, ...state } = last(log(bout("freestyle-2022"), ...events, ...restored));
      assert.deepEqual({ ...state, seq: plain.seq }, plain);
    }
  });
});

describe("the comparison itself", () => {
  const lines = log(bout("freestyle-2022"), start(0), red(2, { s: 4 }), note(5), stop(6));
  const folded = (change) => (file, options) => {
    const { states } = reading(fileOf(lines), editions, options);
    return { status: 0, stderr: "", lines: states.map((state) => canonical(change(state))) };
  };
  const folder = mkdtempSync(join(tmpdir(), "reading-"));
  const file = join(folder, "log.ndjson");
  afterAll(() => rmSync(folder, { recursive: true }));
  const compare = (change) => compareOnce(file, lines, { each: true },
    { editions, fold: folded(change) });

  it("finds no difference where there is none", () => {
    assert.equal(compare(({ passivity, ...state }) => ({ ...state, more: 1 })), undefined);
  });
  it("finds a value that differs, and where", () => {
    const wrong = (state) => (state.seq === 3 ? { ...state, score: { red: 1, blue: 0 } } : state);
    assert.deepEqual(compare(wrong), {
      what: "state of b at seq 3", path: "/score/red", read: 2, folded: 1, state: 3,
    });
    assert.equal(compare(({ outlook, ...state }) => state).path, "/outlook");
  });
  it("shrinks to the lines that matter", () => {
    const differs = (left) => left.includes(2) && left.includes(5);
    assert.deepEqual(shrink([0, 1, 2, 3, 4, 5, 6], differs), [2, 5]);
  });
  it("says where two states differ", () => {
    assert.deepEqual(difference({ a: { b: [1] } }, { a: { b: [2] } }),
      { path: "/a/b", one: [1], other: [2] });
  });
});
