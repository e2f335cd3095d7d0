/* What may be said, how calmly, and what was corrected. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { correctionsBetween } from "../../../overlay/lib/corrections.js";
import { Fades, readingTime } from "../../../overlay/lib/fades.js";
import { needsOf, otherSide, standingOf } from "../../../overlay/lib/standing.js";

const leader = { side: "blue", by: "last_point" };
const view = (more) => ({
    score: { red: 2, blue: 2 },
    unconfirmed: { red: 0, blue: 0 },
    confirmed: { red: 2, blue: 2, leader },
    leader,
    needs: { red: { to_lead: 1 }, blue: {} },
    ...more,
});

test("who leads is said while everything is confirmed", () => {
    const standing = standingOf(view());
    assert.deepEqual(
        [standing.leader, standing.tieLeader, standing.level, standing.withheld],
        [leader, leader, true, false],
    );
    assert.deepEqual(needsOf(view(), "red"), { to_lead: 1 });
});

test("it is withheld while a point is open, and while a challenge is", () => {
    const open = view({
        score: { red: 6, blue: 2 },
        unconfirmed: { red: 4, blue: 0 },
        leader: { side: "red", by: "points" },
    });
    const review = view({
        confirmed: { red: 2, blue: 2, leader, due: "superiority", under_review: true },
    });
    for (const withheld of [open, review]) {
        const standing = standingOf(withheld);
        assert.deepEqual(
            [standing.leader, standing.due, standing.withheld],
            [undefined, undefined, true],
        );
        assert.equal(needsOf(withheld, "red"), undefined);
    }
    assert.deepEqual(standingOf(open).score, { red: 2, blue: 2 });
    assert.deepEqual(standingOf(open).open, { red: 4, blue: 0 });
});

test("a leader by points needs no wedge", () => {
    const standing = standingOf(
        view({ confirmed: { red: 4, blue: 2, leader: { side: "red", by: "points" } } }),
    );
    assert.deepEqual([standing.leader.side, standing.tieLeader], ["red", undefined]);
});

test("nobody has won before the result stands", () => {
    const result = { how: "points", code: "VPO1", winner: "blue" };
    assert.equal(standingOf(view({ result: { ...result, unconfirmed: true } })).result, undefined);
    const open = standingOf(view({ result: { ...result, unconfirmed: true } }));
    assert.deepEqual([open.leader, open.withheld, open.resultOpen], [undefined, true, true]);
    const closed = standingOf(view({ result }));
    assert.deepEqual([closed.result, closed.leader], [result, undefined]);
    assert.equal(otherSide("red"), "blue");
});

const bout = (line, name = "a01") => ({ bout: name, line });
const score = (side, points, more) => ({
    kind: "score",
    side,
    period: 1,
    t_ms: 1,
    points,
    ...more,
});

test("a correction is what changed while somebody was looking", () => {
    const before = bout({
        1: score("red", 4),
        2: score("blue", 2),
        3: { kind: "attack", side: "red", outcome: "stopped" },
    });
    assert.deepEqual(
        correctionsBetween(before, bout({ 1: score("red", 2, { was: 4 }), 2: score("blue", 2) })),
        { red: { was: 4, points: 2 } },
    );
    assert.deepEqual(correctionsBetween(before, bout({ 1: score("red", 4) })), {
        blue: { was: 2, points: 0 },
    });
    assert.deepEqual(
        correctionsBetween(before, bout({ ...before.line, 9: score("red", 1) })),
        {},
        "a new score is none",
    );
    assert.deepEqual(
        correctionsBetween(undefined, bout({ 1: score("red", 2, { was: 4 }) })),
        {},
        "old news",
    );
    assert.deepEqual(correctionsBetween(before, bout({}, "a02")), {}, "another bout");
    assert.deepEqual(
        correctionsBetween(before, bout({ ...before.line, 1: score("blue", 4) })),
        { red: { was: 4, points: 0 } },
        "given to the other side",
    );
});

test("one fade a second: what must not wait is cut in, what may, waits", () => {
    const fades = new Fades();
    assert.equal(fades.ask(0), "fade");
    assert.equal(fades.ask(400), "wait");
    assert.equal(fades.ask(400, { urgent: true }), "cut");
    assert.equal(fades.ask(1000), "fade");
    assert.equal(fades.ask(1500, { urgent: true }), "cut");
    assert.equal(fades.ask(3000, { group: "activity" }), "fade");
    assert.equal(
        fades.ask(3000, { group: "activity" }),
        "fade",
        "the other half of the same thing",
    );
    assert.equal(fades.ask(3000, { group: "wedge" }), "wait");
});

test("words stay as long as they take to read", () => {
    assert.equal(readingTime("corrected: 4 is now 2"), 3000);
    assert.equal(readingTime("one two three four five six seven eight nine ten"), 5000);
});
