/* The times as they are written, and as they follow from anchors. */
import assert from "node:assert/strict";
import { test } from "node:test";
import {
    activityLeft,
    breakLeft,
    clockNow,
    clockText,
    forcedCallLeft,
    stoppageFor,
    timeElapsed,
    timeLeft,
} from "../../../overlay/lib/clock.js";

const AT = "2027-05-08T10:00:00.000Z";
const at = (ms) => Date.parse(AT) + ms;
const view = (clock, more) => ({
    details: { periods: 2, period_ms: 180000 },
    clock: { period: 1, t_ms: 60000, at: AT, running: true, ...clock },
    ...more,
});

test("whole seconds left are rounded up, so that 0:00 is the end", () => {
    const rows = [
        [125000, "2:05"],
        [124001, "2:05"],
        [124000, "2:04"],
        [1, "0:01"],
        [0, "0:00"],
        [600000, "10:00"],
        [-5, "0:00"],
    ];
    for (const [left_ms, want] of rows)
        assert.equal(timeLeft({ left_ms, running: false }), want, String(left_ms));
});

test("time left runs only while the clock does", () => {
    assert.equal(timeLeft({ left_ms: 125000, running: true }, 5000), "2:00");
    assert.equal(timeLeft({ left_ms: 125000, running: false }, 5000), "2:05");
    assert.equal(
        timeLeft({ left_ms: 125000, running: true }, -5000),
        "2:05",
        "an anchor in the future",
    );
});

test("tenths only in the last minute, cut, and only where the source has them", () => {
    const rows = [
        [60000, true, "1:00"],
        [59999, true, "59.9"],
        [24390, true, "24.3"],
        [90, true, "0.0"],
        [0, true, "0:00"],
        [24390, false, "0:25"],
    ];
    for (const [left_ms, tenths, want] of rows)
        assert.equal(clockText({ left_ms, tenths }), want, `${left_ms} ${tenths}`);
});

test("elapsed time is never ahead of the bout", () => {
    assert.equal(timeElapsed(276999), "4:36");
    assert.equal(timeElapsed(0), "0:00");
});

test("the clock counts from its anchor", () => {
    const row = (clock, ms, want) => {
        const { t_ms, left_ms, elapsed_ms, running } = clockNow(view(clock), at(ms));
        assert.deepEqual({ t_ms, left_ms, elapsed_ms, running }, want);
    };
    row({}, 1500, { t_ms: 61500, left_ms: 118500, elapsed_ms: 61500, running: true });
    row({ running: false }, 1500, {
        t_ms: 60000,
        left_ms: 120000,
        elapsed_ms: 60000,
        running: false,
    });
    row({}, -1500, { t_ms: 60000, left_ms: 120000, elapsed_ms: 60000, running: true });
    row({}, 999999, { t_ms: 180000, left_ms: 0, elapsed_ms: 180000, running: false });
    row({ period: 2, running: false }, 0, {
        t_ms: 60000,
        left_ms: 120000,
        elapsed_ms: 240000,
        running: false,
    });
});

test("a bout without a clock yet has all its time", () => {
    const now = clockNow({ details: { period_ms: 120000 } }, at(0));
    assert.deepEqual([now.period, now.left_ms, now.running], [1, 120000, false]);
});

test("the break, the forced call and the stoppage follow from their anchors", () => {
    const ends_at = "2027-05-08T10:00:30.000Z";
    assert.equal(breakLeft(view({}, { break: { ends_at } }), at(12000)), 18000);
    assert.equal(breakLeft(view({}, { break: { ends_at } }), at(45000)), 0);
    assert.equal(breakLeft(view(), at(0)), undefined);
    assert.equal(forcedCallLeft(view({}, { forced_call: { t_ms: 120000 } }), at(10000)), 50000);
    assert.equal(forcedCallLeft(view(), at(0)), undefined);
    assert.equal(stoppageFor(view({}, { stoppage: { kind: "blood", since: AT } }), at(7000)), 7000);
    assert.equal(stoppageFor(view(), at(0)), undefined);
});

test("activity time is bout time, and stays between nothing and its length", () => {
    const activity = { side: "blue", period: 1, t_ms: 50000, length_ms: 30000 };
    const left = (clock, ms) => activityLeft(view(clock, { activity }), at(ms));
    assert.deepEqual(left({}, 5000), { side: "blue", left_ms: 15000, part: 0.5, running: true });
    assert.equal(left({ running: false }, 5000).left_ms, 20000);
    assert.deepEqual([left({}, 99000).left_ms, left({}, 99000).running], [0, false]);
    assert.equal(left({ t_ms: 40000, running: false }, 0).left_ms, 30000, "the clock was set back");
    assert.equal(left({ period: 2 }, 0).left_ms, 0, "another period");
    assert.equal(activityLeft(view(), at(0)), undefined);
});

test("while a view stands still nothing is counted on", () => {
    const still = view(
        { running: false, at: new Date(at(4000)).toISOString() },
        {
            still_at: new Date(at(4000)).toISOString(),
            break: { ends_at: new Date(at(30000)).toISOString() },
            stoppage: { kind: "blood", since: AT },
        },
    );
    for (const ms of [4000, 9000, 90000]) {
        assert.equal(clockNow(still, at(ms)).t_ms, 60000);
        assert.equal(breakLeft(still, at(ms)), 26000);
        assert.equal(stoppageFor(still, at(ms)), 4000);
    }
});
