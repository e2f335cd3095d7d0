/* Rows from the topic's log and from what this page keyed since. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { listed, rowsOf, stillOwn, withOwnClock } from "../../../overlay/table/ledger.js";

const events = {
    "4": { id: "s", type: "score", side: "red", points: 2, action: "takedown", unconfirmed: true, period: 1, t_ms: 5000 },
    "3": { id: "c", type: "clock", do: "start", period: 1, t_ms: 0 },
    "9": { id: "o", type: "score", side: "blue", points: 1, action: "step_out", out: true, was: 2, period: 1, t_ms: 7000 },
};
const own = (event, seq) => ({ event, period: 1, t_ms: 8000, ...(seq ? { seq } : {}) });

test("rows stand in the log's order, the list is newest first", () => {
    assert.deepEqual(rowsOf(events).map(({ id }) => id), ["c", "s", "o"]);
    assert.deepEqual(listed(rowsOf(events)).map(({ id }) => id), ["o", "s", "c"]);
    const [, , taken] = rowsOf(events);
    assert.deepEqual([taken.stands, taken.was, taken.event.out], [false, 2, undefined]);
});

test("what was keyed here is on top at once, and says that it waits", () => {
    const rows = rowsOf(events, [own({ id: "n", type: "score", side: "red", points: 1 })]);
    assert.deepEqual([rows.at(-1).id, rows.at(-1).waits, rows.at(-1).mine], ["n", true, true]);
});

test("an acknowledged event stays until the topic has it, and is never there twice", () => {
    const sent = [own({ id: "n", type: "score", side: "red", points: 1 }, 10), own({ id: "s", type: "score" }, 4)];
    assert.deepEqual(rowsOf(events, sent).map(({ id }) => id), ["c", "s", "o", "n"]);
    assert.equal(rowsOf(events, sent).at(-1).waits, false);
    assert.deepEqual(stillOwn(sent, 9).map(({ event }) => event.id), ["n"]);
    assert.deepEqual(stillOwn(sent, 10), []);
});

test("what corrects an event shows at that event before the daemon has answered", () => {
    const find = (...mine) => rowsOf(events, mine.map((event) => own(event))).find(({ id }) => id === "s");
    assert.equal(find({ id: "v", type: "void", ref: "s" }).stands, false);
    assert.equal(find({ id: "v", type: "void", ref: "s" }, { id: "w", type: "void", ref: "v" }).stands, true);
    assert.equal(find({ id: "k", type: "confirm" }).confirmed, true);
    assert.equal(find({ id: "k", type: "confirm", ref: "x" }).confirmed, false);
    const amended = find({ id: "a", type: "amend", ref: "s", set: { points: 4, leg: "lead" }, unset: ["action"] });
    assert.deepEqual([amended.event.points, amended.event.leg, amended.event.action, amended.was], [4, "lead", undefined, 2]);
});

test("rows never change the topic's own events", () => {
    const before = JSON.stringify(events);
    rowsOf(events, [own({ id: "a", type: "amend", ref: "s", set: { points: 4 } })]);
    assert.equal(JSON.stringify(events), before);
});

const AT = Date.parse("2027-05-08T10:00:00.000Z");
const stamp = (ms) => new Date(AT + ms).toISOString();
const view = { phase: "live", details: { periods: 2, period_ms: 180000 },
    clock: { period: 1, t_ms: 60000, at: stamp(0), running: true } };
const clock = (ms, event) => own({ id: `k${ms}`, type: "clock", keyed_at: stamp(ms), ...event });

test("the page's own clock strokes count at once", () => {
    const after = (...strokes) => withOwnClock(view, strokes);
    const stopped = after(clock(5000, { do: "stop" }));
    assert.deepEqual([stopped.clock.t_ms, stopped.clock.running, stopped.phase], [65000, false, "stopped"]);
    const again = after(clock(5000, { do: "stop" }), clock(9000, { do: "start" }));
    assert.deepEqual([again.clock.t_ms, again.clock.running, again.phase], [65000, true, "live"]);
    const horn = after(clock(5000, { do: "end" }));
    assert.deepEqual([horn.clock.t_ms, horn.phase], [180000, "break"]);
    const next = after(clock(5000, { do: "end" }), clock(9000, { do: "start", period: 2 }));
    assert.deepEqual([next.clock.period, next.clock.t_ms, next.clock.running], [2, 0, true]);
    const set = after(clock(5000, { do: "set", period: 1, t_ms: 70000 }));
    assert.deepEqual([set.clock.t_ms, set.clock.running], [70000, true]);
});

test("what the daemon's clock already counts isn't counted again", () => {
    assert.equal(withOwnClock(view, [clock(-1000, { do: "stop" })]), view);
    assert.equal(withOwnClock(view, []), view);
});
