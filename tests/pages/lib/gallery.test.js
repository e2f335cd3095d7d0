/* The gallery's pure parts: what a key means, frames and milliseconds, and what is said in words. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { framesIn, framesMax, lengthOf, RATE_NAMES } from "../../../overlay/gallery/frames.js";
import {
    belongsToFocus,
    digitOf,
    galleryInput,
    PANELS,
    SHEETS,
} from "../../../overlay/gallery/keys.js";
import {
    changedText,
    doneText,
    nextTime,
    panelState,
    refusedText,
    ruleText,
} from "../../../overlay/gallery/texts.js";
import { loadWorkingWords } from "../../../overlay/elements/working-words.js";

const say = await loadWorkingWords("en");

test("digits choose in their order, by place; every sheet has a letter; Ctrl is the browser's", () => {
    assert.deepEqual(
        PANELS.map((panel) => galleryInput({ code: `Digit${digitOf(panel)}` }).prepare),
        PANELS,
    );
    assert.deepEqual(galleryInput({ code: "Numpad0" }), { prepare: "back" });
    for (const [sheet, code] of Object.entries(SHEETS))
        assert.deepEqual(galleryInput({ code }), { sheet });
    assert.equal(galleryInput({ code: "KeyF", ctrlKey: true }), undefined);
    assert.deepEqual(
        galleryInput({ code: "Enter", repeat: true }),
        { nothing: true },
        "held down, it takes once",
    );
    assert.equal(galleryInput({ code: "Tab" }), undefined);
});

test("who has the focus keeps its own keys, and Esc is nobody's", () => {
    const rows = [
        ["Escape", { tag: "INPUT", type: "text", reached: true }, false],
        ["KeyF", { tag: "INPUT", type: "text", reached: true }, true],
        ["KeyF", { tag: "INPUT", type: "number", reached: true }, false],
        ["Digit4", { tag: "INPUT", type: "number", reached: true }, true],
        ["Digit4", { tag: "SELECT", reached: true }, false],
        ["Enter", { tag: "SELECT", reached: true }, true],
        ["Enter", { tag: "BUTTON", reached: true }, true],
        ["Enter", { tag: "BUTTON", reached: false }, false],
        ["Digit4", { tag: "BUTTON", reached: true }, false],
        ["Enter", { tag: "BODY", reached: false }, false],
    ];
    for (const [code, focus, want] of rows)
        assert.equal(belongsToFocus({ code }, focus), want, `${code} ${JSON.stringify(focus)}`);
});

test("frames of a rate are whole, and come back from milliseconds as they were", () => {
    assert.deepEqual(
        [lengthOf(12, "50"), lengthOf(1, "23.976"), lengthOf(30, "29.97")],
        [240, 42, 1001],
    );
    for (const rate of RATE_NAMES)
        for (let frames = 0; frames <= framesMax(rate); frames += 7)
            assert.equal(framesIn(lengthOf(frames, rate), rate), frames, `${frames} at ${rate}`);
    assert.ok(RATE_NAMES.every((rate) => lengthOf(framesMax(rate), rate) <= 120000));
});

const seen = (more) => ({
    bout: "a",
    score: { red: 2, blue: 2 },
    unconfirmed: { red: 0, blue: 0 },
    phase: "live",
    ...more,
});

/* The daemon says the same in English (docs/wire.md): the examples are the ones it is tested with. */
test("what has changed since it was prepared, in words", () => {
    const rows = [
        [{}, ""],
        [
            { score: { red: 6, blue: 2 }, unconfirmed: { red: 4, blue: 0 } },
            "red 2 to 6, not confirmed",
        ],
        [{ score: { red: 2, blue: 3 }, phase: "stopped" }, "blue 2 to 3; the clock stands"],
        [{ unconfirmed: { red: 2, blue: 0 } }, "red 2 not confirmed"],
        [{ leader: { side: "blue", by: "last_point" } }, "blue leads on last point"],
        [{ leader: { side: "blue", by: "points" } }, "blue leads on points"],
        [{ under_review: true }, "a challenge is open"],
        [{ result: true, phase: "closed" }, "a result stands"],
        [{ bout: "b" }, "another bout"],
        [{ bout: undefined }, "no bout any more"],
    ];
    for (const [more, want] of rows)
        assert.equal(changedText({ was: seen(), is: seen(more) }, say), want, JSON.stringify(more));
    assert.equal(
        changedText({ was: seen({ leader: { side: "red", by: "points" } }), is: seen() }, say),
        "red leads no more",
    );
    assert.equal(
        changedText({ was: seen({ unconfirmed: { red: 2, blue: 0 } }), is: seen() }, say),
        "red 2 confirmed",
    );
    assert.equal(changedText({}, say), "");
});

test("what came of an action, and what did not", () => {
    assert.equal(
        doneText(
            { cut_short: { left_ms: 3394, panel: "why" }, kept: false },
            "Attacks is on air.",
            say,
        ),
        "Attacks is on air. Why the leader leads was taken off 3.4 s before it could be read. " +
            "The store can’t be written: after a restart this is forgotten.",
    );
    assert.equal(refusedText({ unsent: true }, say), "Not sent: there is no connection.");
    assert.match(refusedText({ unknown: true }, say), /whether it was done/);
    assert.equal(
        refusedText({ type: "/problem/withheld", title: "x", detail: "points wait" }, say),
        "Not done: there is nothing of it to show now: points wait",
    );
    assert.equal(
        refusedText({ type: "/problem/new-one", title: "a new problem" }, say),
        "Not done: a new problem",
    );
});

test("how it is with a panel and a rule", () => {
    assert.deepEqual(
        [
            { least_ms: 5000 },
            { least_ms: 3400 },
            { least_ms: 0, withheld: "not_yet" },
            { least_ms: 0, withheld: "unconfirmed" },
            { least_ms: 0, withheld: "empty" },
        ].map((panel) => panelState(panel, say)),
        ["5 s", "3.4 s", "not yet", "withheld", "empty"],
    );
    assert.equal(ruleText({ armed: false }, say), "not armed");
    assert.match(
        ruleText({ armed: true, by: "kim", since: "2027-05-08T11:02:00.000Z" }, say),
        /^armed by kim, \d+:02$/,
    );
    assert.match(
        ruleText({ armed: true, waits: true, since: "2027-05-08T11:02:00.000Z" }, say),
        /waits for its turn$/,
    );
});

test("a time of day is the next one", () => {
    const noon = new Date(2027, 4, 8, 12, 0, 0).getTime();
    assert.equal(Date.parse(nextTime("14:30", noon)) - noon, 2.5 * 3600000);
    assert.equal(new Date(nextTime("11:30", noon)).getDate(), 9, "tomorrow");
    assert.equal(nextTime("", noon), undefined);
});
