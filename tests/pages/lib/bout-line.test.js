/* The bout line's geometry: order, distance, what is open, and who led. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { boutLine, inOrder, lineRows, measuresOf, spread } from "../../../overlay/lib/bout-line.js";

const ON_AIR = { width: 1144, unit: 11 };
const NOW = Date.parse("2027-05-08T10:00:00.000Z");
const view = (line, { period = 2, t_ms = 180000, ...more } = {}) => ({
    phase: "stopped",
    details: { periods: 2, period_ms: 180000, activity_ms: 30000 },
    clock: { period, t_ms, running: false },
    line,
    ...more,
});
const score = (side, period, t_ms, points = 2, more = {}) => ({
    kind: "score",
    side,
    period,
    t_ms,
    points,
    ...more,
});
const attack = (side, period, t_ms) => ({ kind: "attack", side, period, t_ms, outcome: "stopped" });
const markOf = (line, seq) => line.marks.find((mark) => mark.seq === String(seq));

test("the measures on air, and the height that holds five points both ways", () => {
    assert.deepEqual(measuresOf(ON_AIR), {
        width: 1144,
        unit: 11,
        mark: 12,
        axis: 4,
        gap: 4,
        tick: 3.96,
        working: false,
    });
    assert.equal(boutLine(view({}), NOW, ON_AIR).height, 122);
});

test("a mark stands at its moment, and is as tall as its value", () => {
    const line = boutLine(
        view({ 1: score("red", 1, 90000, 4), 2: score("blue", 2, 90000, 1) }),
        NOW,
        ON_AIR,
    );
    assert.equal(markOf(line, 1).x, 280);
    assert.equal(markOf(line, 1).far - markOf(line, 1).near, 44);
    assert.equal(markOf(line, 2).x, 560 + 24 + 280);
    assert.equal(markOf(line, 2).far - markOf(line, 2).near, 11);
});

test("a dash is a minute, the gap is the axis's, the break is two marks wide", () => {
    const { dashes } = boutLine(view({}), NOW, ON_AIR);
    assert.equal(dashes.length, 6);
    assert.ok(dashes.every((dash) => dash.done));
    const gaps = dashes
        .slice(1)
        .map((dash, i) => Math.round(dash.x - dashes[i].x - dashes[i].width));
    assert.deepEqual(gaps, [4, 4, 24, 4, 4]);
});

test("what has been wrestled is cut from what is to come at now", () => {
    const { dashes, now } = boutLine(view({}, { period: 1, t_ms: 90000 }), NOW, ON_AIR);
    assert.equal(now, 280);
    assert.equal(
        dashes.filter((dash) => dash.done).at(-1).x +
            dashes.filter((dash) => dash.done).at(-1).width,
        280,
    );
    assert.equal(dashes.find((dash) => !dash.done).x, 280);
});

test("no bar of now before the bout, in the break and at the end", () => {
    for (const phase of ["called", "break", "over", "closed"]) {
        assert.equal(boutLine({ ...view({}), phase }, NOW, ON_AIR).now, undefined, phase);
    }
    assert.equal(boutLine({ ...view({}), phase: "live" }, NOW, ON_AIR).now, 1144);
});

test("places: those that would touch stand around the mean of their moments", () => {
    assert.deepEqual(spread([100, 100, 100], 15, 6, 500), [85, 100, 115]);
    assert.deepEqual(spread([100, 104, 300], 10, 6, 500), [97, 107, 300]);
    assert.deepEqual(spread([2, 2], 10, 6, 500), [6, 16], "not left of the start");
    assert.deepEqual(spread([499, 500], 10, 6, 500), [490, 500], "not right of now");
    assert.deepEqual(spread([], 10, 6, 500), []);
});

/* A small generator, so that a failure can be made again. */
function random(seed) {
    let state = seed;
    return () => {
        state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
        return state / 2 ** 32;
    };
}

function randomLine(next) {
    const count = Math.floor(next() * 60);
    const entries = Array.from({ length: count }, (_, i) => {
        const side = next() < 0.5 ? "red" : "blue";
        const moment = [side, 1 + Math.floor(next() * 2), Math.floor(next() * next() * 180000)];
        return [
            i + 1,
            next() < 0.5 ? attack(...moment) : score(...moment, 1 + Math.floor(next() * 5)),
        ];
    });
    return Object.fromEntries(entries);
}

test("marks of a side keep their order and their distance, and nothing stands right of now", () => {
    for (let seed = 1; seed <= 2000; seed++) {
        const marks = randomLine(random(seed));
        const line = boutLine(view(marks), NOW, ON_AIR);
        const order = inOrder(marks).map(({ seq }) => seq);
        for (const side of ["red", "blue"]) {
            const own = line.marks.filter((mark) => mark.side === side);
            assert.deepEqual(
                own.map(({ seq }) => seq),
                order.filter((seq) => marks[seq].side === side),
                `seed ${seed}`,
            );
            own.slice(1).forEach((mark, i) => {
                assert.ok(
                    mark.x - own[i].x >= 13 - 1e-6,
                    `seed ${seed}: ${own[i].seq} and ${mark.seq} overlap`,
                );
            });
            assert.ok(
                own.every((mark) => mark.x >= 6 - 1e-6 && mark.x <= 1138 + 1e-6),
                `seed ${seed}: outside`,
            );
        }
    }
});

test("too many for the line: the distance shrinks, then attacks of a half-minute become one", () => {
    const rich = (count) =>
        Object.fromEntries(
            Array.from({ length: count }, (_, i) => [
                i + 1,
                attack(
                    "red",
                    1 + Math.floor(i / (count / 2)),
                    ((i % (count / 2)) * 360000) / count,
                ),
            ]),
        );
    assert.equal(boutLine(view(rich(84)), NOW, ON_AIR).marks.length, 84);
    const merged = boutLine(
        view({ ...rich(200), 900: score("red", 2, 100000, 4) }),
        NOW,
        ON_AIR,
    ).marks;
    assert.equal(merged.length, 13, "twelve half-minutes and the score");
    assert.ok(merged.some((mark) => mark.seq === "900"));
});

test("at one moment the order of points stands: the log's, but for what comes before another", () => {
    const marks = {
        5: score("red", 1, 9000),
        7: score("red", 1, 9000, 4),
        9: score("red", 1, 20000, 1, { before: 5 }),
    };
    assert.deepEqual(
        inOrder(marks).map(({ seq }) => seq),
        ["9", "5", "7"],
    );
    assert.deepEqual(
        inOrder({ 3: score("red", 1, 50000), 4: attack("red", 1, 10000) }).map(({ seq }) => seq),
        ["4", "3"],
        "keyed late, with its bout time",
    );
    assert.deepEqual(
        inOrder({ 3: score("red", 1, 5000, 2, { before: 99 }) }).map(({ seq }) => seq),
        ["3"],
    );
});

test("open is what does not count yet; given points stand off the axis", () => {
    const line = boutLine(
        view({
            1: score("red", 1, 1000, 4, { unconfirmed: true }),
            2: attack("blue", 1, 2000),
            3: { ...score("red", 1, 90000, 1), kind: "given" },
        }),
        NOW,
        ON_AIR,
    );
    assert.equal(markOf(line, 1).unconfirmed, true);
    assert.equal(markOf(line, 2).form, "attack");
    assert.ok(markOf(line, 3).near > markOf(line, 1).near);
});

test("a correction leaves what was over what is", () => {
    const line = boutLine(
        view({ 1: score("red", 1, 1000, 2, { was: 4 }), 2: score("blue", 1, 1000, 4, { was: 2 }) }),
        NOW,
        ON_AIR,
    );
    assert.equal(markOf(line, 1).was.far - markOf(line, 1).was.near, 22);
    assert.equal(markOf(line, 1).was.near, markOf(line, 1).far);
    assert.equal(markOf(line, 2).notch, markOf(line, 2).near + 22);
});

const led = (side) => ({ leader: { side } });

test("who led, as each confirmed point says, the break left out", () => {
    const marks = {
        1: score("red", 1, 90000, 2, led("red")),
        2: score("blue", 2, 90000, 2, led("blue")),
        3: score("red", 2, 120000, 4, { unconfirmed: true }),
    };
    const strips = boutLine(view(marks, { t_ms: 150000 }), NOW, ON_AIR).led;
    assert.deepEqual(
        strips.map(({ side }) => side),
        ["red", "red", "blue"],
        "level at 2-2, and by which criterion blue leads is not asked here",
    );
    assert.equal(Math.round(strips[0].x + strips[0].width), 560);
    assert.equal(Math.round(strips[1].x), 584);
});

test("a lead that grows is one strip", () => {
    const marks = {
        1: score("red", 1, 30000, 1, led("red")),
        2: score("red", 1, 60000, 2, led("red")),
        3: score("blue", 1, 90000, 1, led("red")),
    };
    const strips = boutLine(view(marks, { period: 1, t_ms: 120000 }), NOW, ON_AIR).led;
    assert.deepEqual(
        strips.map(({ side }) => side),
        ["red"],
    );
});

test("where nobody led there is no strip", () => {
    const marks = {
        1: score("red", 1, 30000, 1, led("red")),
        2: score("blue", 1, 60000, 1),
        3: score("blue", 1, 90000, 1, led("blue")),
    };
    const { led: strips, marks: placed } = boutLine(
        view(marks, { period: 1, t_ms: 120000 }),
        NOW,
        ON_AIR,
    );
    assert.deepEqual(
        strips.map(({ side }) => side),
        ["red", "blue"],
    );
    const x = (seq) => placed.find((mark) => mark.seq === seq).x;
    assert.equal(strips[0].x + strips[0].width, x("2"));
    assert.equal(strips[1].x, x("3"));
});

test("an activity time ends with its side's score, at the latest with its length", () => {
    const marks = {
        1: { kind: "activity", side: "blue", period: 1, t_ms: 60000 },
        2: score("blue", 1, 75000),
        3: { kind: "activity", side: "red", period: 2, t_ms: 60000 },
    };
    const line = boutLine(view(marks), NOW, { ...ON_AIR, working: true });
    const widths = line.activities.map(({ width }) => Math.round((width / 560) * 180));
    assert.deepEqual(widths, [15, 30]);
    assert.deepEqual(
        boutLine(view(marks), NOW, ON_AIR).activities,
        [],
        "on air it is the bar in the lane",
    );
});

test("the rows that stand for the line", () => {
    const rows = lineRows(
        view({
            2: score("red", 1, 62000),
            1: { kind: "activity", side: "red", period: 1, t_ms: 5 },
        }),
    );
    assert.deepEqual(
        rows.map(({ seq, period, left_ms }) => [seq, period, left_ms]),
        [["2", 1, 118000]],
    );
});
