/* What stands on the printed sheets: picked from what the daemon answers, and said. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { loadWorkingWords } from "../../../overlay/elements/working-words.js";
import * as facts from "../../../overlay/sheet/facts.js";
import * as texts from "../../../overlay/sheet/texts.js";
import english from "../../../overlay/words/en-sheet.js";
import german from "../../../overlay/words/de-sheet.js";

const say = await loadWorkingWords("en", ["", "-table", "-sheet"]);
const sage = await loadWorkingWords("de", ["", "-table", "-sheet"]);
const joined = (text) => text.replaceAll("\u2060", "");

test("which sheet an address asks for", () => {
    const of = (search) => Object.values(facts.wantedSheet(search));
    assert.deepEqual(of(""), ["day", "", undefined]);
    assert.deepEqual(of("?mat=Halle+1"), ["mat", "Halle 1", undefined]);
    assert.deepEqual(of("?bout=a7&mat=A&part=before"), ["bout", "a7", "before"]);
    assert.deepEqual(of("?slot=f&part=sideways"), ["slot", "f", undefined]);
});

const slot = (name, more) => ({ slot: name, ...more });
const day = {
    slots: {
        2: slot("final", { mat: "A", order: 9, number: "12", red: { waits: "winner", slot: "10" } }),
        10: slot("semi", {
            mat: "A", order: 2, number: "3", bout: "a1", stage: "semi-final",
            red: { athlete: "ilse", name: "Ilse Brandt" }, blue: { athlete: "noor", name: "Noor Haddad" },
        }),
        3: slot("other", { mat: "Mat 10", order: 1 }),
        4: slot("loose", {}),
    },
    mats: { "Mat 2": {} },
    expected: { 2: { from: "2027-05-08T10:00:00.000Z", to: "2027-05-08T10:07:00.000Z" } },
    results: {
        90: { bout: "a1", red: "Ilse Brandt", blue: "Noor Haddad", how: "points", code: "VPO1", winner: "red", score: { red: 4, blue: 2 } },
        110: { bout: "x", red: "Noor Haddad", blue: "Ada Loess", how: "both_injured", code: "2VIN", score: { red: 0, blue: 1 } },
    },
};

test("slots in the order of their mat, those without one last", () => {
    assert.deepEqual(facts.slotsInOrder(day, "A").map(({ slot: name }) => name), ["semi", "final"]);
    assert.deepEqual(facts.slotsInOrder(day).map(({ slot: name }) => name), ["other", "semi", "final", "loose"]);
    assert.deepEqual(facts.matsOf(day), ["A", "Mat 2", "Mat 10"]);
    assert.equal(facts.findSlot(day, { bout: "a1" }).slot, "semi");
    assert.equal(facts.findSlot(day, { slot: "nowhere" }), undefined);
    assert.equal(facts.findSlot(day, { bout: undefined, slot: "final" }).key, "2");
    assert.equal(facts.expectedOf(day, facts.findSlot(day, { slot: "final" })).to, "2027-05-08T10:07:00.000Z");
});

test("the way so far: by the key in the draw, by the name elsewhere, without the bout itself", () => {
    const way = facts.wayOf(day, { athlete: "noor", name: "Noor Haddad" });
    assert.deepEqual(way.map((step) => joined(texts.wayText(step, say))), [
        "lost to Ilse Brandt 2–4 on points, semi-final",
        "with Ada Loess 0–1, both injured",
    ]);
    assert.deepEqual(facts.wayOf(day, { athlete: "another", name: "Noor Haddad" }).length, 1, "a namesake's");
    assert.deepEqual(facts.wayOf(day, { athlete: "ilse", name: "Ilse Brandt" }, "a1"), []);
});

test("who is waited for is told by the bout's number, or not at all", () => {
    const waits = (side) => texts.waitsText(day, side, say);
    assert.equal(waits(day.slots[2].red), "winner of bout 3");
    assert.equal(waits({ waits: "loser", slot: "4" }), "not known yet");
    assert.equal(waits({ waits: "pool", pool: 2, place: 1 }), "place 1 of pool 2");
    assert.equal(waits({ waits: "draw" }), "not known yet");
    assert.equal(waits({ nobody: true }), "nobody: the other goes on");
    assert.equal(waits(undefined), "not known yet");
});

test("when: a range, one time where it is no range, else the plan, else nothing", () => {
    const at = (minute) => new Date(2027, 4, 8, 9, minute).toISOString();
    assert.equal(texts.startText({ from: at(5), to: at(12) }, {}, say), "9:05 to 9:12");
    assert.equal(texts.startText({ from: at(5), to: at(5) }, {}, say), "9:05");
    assert.equal(texts.startText(undefined, { starts_at: at(5) }, say), "9:05, as planned");
    assert.equal(texts.startText(undefined, undefined, say), "");
});

test("the archive: counts with their base, and nothing of nobody", () => {
    assert.deepEqual(texts.archiveTexts(undefined, say), []);
    assert.deepEqual(texts.archiveTexts({ bouts: 0 }, say), []);
    const archive = {
        bouts: 7, decided: { bouts: 6, won: 4 }, scored_first: { bouts: 0, won: 0 },
        attempts: { 1: { technique: "firemans_carry", leg: "trail", tried: 5, scored: 2 }, 2: { technique: "odd_roll", tried: 1, scored: 0 } },
    };
    assert.deepEqual(texts.archiveTexts(archive, say), [
        "won 4 of 6", "fireman's carry, trail leg: 2 of 5", "odd roll: 0 of 1",
    ]);
    const meeting = { called_at: "2026-05-12T12:00:00.000Z", how: "fall", lost: true, own: 3, other: 6, weight: "57" };
    assert.equal(joined(texts.meetingText(meeting, say)), "12 May 2026: lost 3–6 by fall, 57 kg");
    assert.equal(joined(texts.meetingText({ ...meeting, how: undefined, lost: undefined }, sage)), "12.05.2026: 3–6, 57 kg");
});

const recap = (result, more) => ({
    bout: { details: { superiority: 10, red: { name: "R" }, blue: { name: "B" } }, score: { red: 3, blue: 3 }, result },
    why: { leader: { side: "blue", by: "cautions" }, source: "Somewhere", rules: "x", steps: {
        1: { by: "points", red: 3, blue: 3 }, 2: { by: "holds", red: { 1: 1, 2: 1 }, blue: { 1: 1, 2: 1 } },
        3: { by: "cautions", red: 1, blue: 0, side: "blue" } } },
    points: { 1: { red: 0, blue: 2 }, 2: { red: 3, blue: 1 } },
    attempts: { red: { 1: { technique: "single_leg", leg: "lead", tried: 1, scored: 0 } },
        blue: { 1: { technique: "throw_by", tried: 4, scored: 1 }, 2: { technique: "single_leg", leg: "lead", tried: 2, scored: 2 } } },
    ...more,
});

test("why: what ended it, and the criteria where points decided", () => {
    const points = facts.traceOf(recap({ how: "points", winner: "blue" }));
    assert.deepEqual(points.steps.map(({ by }) => by), ["points", "holds", "cautions"]);
    assert.equal(points.source, "Somewhere");
    assert.equal(points.differs, undefined);
    assert.equal(facts.traceOf(recap({ how: "points", winner: "red" })).differs, "blue");
    const fall = facts.traceOf(recap({ how: "fall", winner: "red" }));
    assert.deepEqual([fall.steps, fall.source, fall.differs], [[], undefined, undefined]);
    assert.equal(facts.traceOf(recap({ how: "superiority", winner: "blue" })).ended.margin, 10);
    assert.deepEqual(facts.traceOf(recap(undefined, { why: undefined })).steps, []);
    const [, holds, cautions] = points.steps;
    assert.deepEqual(["red", "blue"].map((side) => texts.criterionFigure(holds, side, say)), ["1×2 1×1", "1×2 1×1"]);
    assert.deepEqual(["red", "blue"].map((side) => texts.criterionFigure(cautions, side, say)), ["1", "0"]);
    assert.equal(texts.criterionFigure({ by: "last_point", side: "red" }, "red", say), "yes");
    assert.equal(texts.criterionFigure({ by: "last_point", side: "red" }, "blue", say), "");
    assert.equal(texts.criterionFigure({ by: "holds", red: {} }, "red", say), "none");
});

test("points by period and all of them; attacks by technique and leg, the most tried first", () => {
    assert.deepEqual(facts.periodRows(recap()), [
        { period: "1", red: 0, blue: 2 }, { period: "2", red: 3, blue: 1 }, { period: undefined, red: 3, blue: 3 },
    ]);
    const rows = facts.attemptRows(recap());
    assert.deepEqual(rows.map((row) => [texts.attemptText(row, say), texts.ofText(row.red, say), texts.ofText(row.blue, say)]), [
        ["throw by", "", "1 of 4"],
        ["single leg, lead leg", "0 of 1", "2 of 2"],
    ]);
});

test("German has every word of the sheets, with the same places", () => {
    const leaves = (tree, path = "") => Object.entries(tree).flatMap(([name, value]) =>
        typeof value === "object" ? leaves(value, `${path}${name}.`) : [[`${path}${name}`, (value.match(/\{\w+\}/g) ?? []).sort().join()]]);
    assert.deepEqual(new Map(leaves(german)), new Map(leaves(english)));
});
