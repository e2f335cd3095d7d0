/* What the table proposes and warns of. The source of each rule stands beside its rows. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { edition } from "./hand.js";
import {
    activityTooShort, cautionPoints, codeOf, editionInForce, nextStage, proposeEnding,
    proposePassivity, sheetDifferences, warningsOf,
} from "../../../overlay/table/proposals.js";
import { TECHNIQUES } from "../../../overlay/lib/techniques.js";

const freestyle = edition("freestyle-2022");
const greco = edition("greco-2026");
const view = (more = {}) => ({
    details: { age_group: "seniors", cautions_out: 3, period_ms: 180000 },
    score: { red: 0, blue: 0 }, confirmed: { red: 0, blue: 0 }, ...more,
});
const group = (age_group) => view({ details: { age_group, cautions_out: 3 } });

test("freestyle: a warning first, then activity time, then its penalty", () => {
    // DRB, early 2022: warning then activity; under 15, under 17 and veterans at once.
    const rows = [
        ["nothing yet", view(), {}, { stage: "warning" }],
        ["warned", view({ passivity: { red: { warning: 1 } } }), {}, { stage: "activity" }],
        ["the other was warned", view({ passivity: { blue: { warning: 1 } } }), {}, { stage: "warning" }],
        ["activity before", view({ passivity: { red: { activity: 1 } } }), {}, { stage: "activity" }],
        ["its activity time is on", view(), { activity: { side: "red" } }, { stage: "penalty", points: 1 }],
        ["the other's is on", view(), { activity: { side: "blue" } }, { stage: "warning" }],
        ["2:00 of the first period at 0-0: a side must be named", view(), { forced_call_left_ms: 0 },
            { stage: "activity" }], // text of 2013, still common practice
        ["under 17", group("u17"), {}, { stage: "activity" }],
        ["under 20", group("u20"), {}, { stage: "warning" }],
        ["no age group: seniors", view({ details: { cautions_out: 3 } }), {}, { stage: "warning" }],
    ];
    for (const [name, bout, now, want] of rows) {
        assert.deepEqual(proposePassivity(bout, freestyle, "red", now), want, name);
    }
});

test("Greco-Roman: the first two passivities of the bout give a point, whichever side", () => {
    // UWW, 2 Feb 2021.
    const given = (red, blue) => view({ passivity: { red: { penalty: red }, blue: { penalty: blue } } });
    for (const [red, blue, points] of [[0, 0, 1], [1, 0, 1], [0, 1, 1], [1, 1, 0], [2, 3, 0]]) {
        assert.deepEqual(proposePassivity(given(red, blue), greco, "red"),
            { stage: "penalty", points }, `${red} ${blue}`);
    }
});

test("the passivity key never proposes a stage that the edition doesn't have", () => {
    assert.deepEqual(["warning", "activity", "penalty"].map((stage) => nextStage(stage, freestyle)),
        ["activity", "penalty", "warning"]);
    assert.deepEqual(["penalty", "warning"].map((stage) => nextStage(stage, greco)), ["warning", "penalty"]);
});

test("what a caution costs depends on the reason and the edition", () => {
    // UWW, 27 Jan 2022; DRB, early 2022.
    const rows = [["fleeing_mat", 1, 1], ["fleeing_hold", 1, 1], ["fleeing_in_danger", 2, 2],
        ["illegal_hold", 1, 2], ["brutality", 1, 2], ["unheard_of", 1, 1]];
    for (const [reason, free, classic] of rows) {
        assert.equal(cautionPoints(freestyle, reason), free, reason);
        assert.equal(cautionPoints(greco, reason), classic, reason);
    }
});

test("no activity time fits with less than its length left", () => {
    // Officials' questions and answers, July 2022.
    assert.equal(activityTooShort(freestyle, 29999), true);
    assert.equal(activityTooShort(freestyle, 30000), false);
    assert.equal(activityTooShort(greco, 5000), false);
});

const now = { period: 1, t_ms: 60000, left_ms: 120000 };
const context = (more = {}) => ({ view: view(), edition: freestyle, rows: [], techniques: TECHNIQUES, now, ...more });
const warned = (event, more) => warningsOf(event, context(more)).map(({ warning }) => warning);

test("warnings", () => {
    const activity = { type: "passivity", side: "red", stage: "activity" };
    const penalty = { type: "passivity", side: "red", stage: "penalty", points: 1 };
    const twin = (more) => ({ rows: [{ stands: true, mine: false, period: 1, t_ms: 58000,
        event: { id: "x", type: "score", side: "red", points: 2 }, ...more }] });
    const score = { id: "y", type: "score", side: "red", points: 2, action: "takedown" };
    const rows = [
        ["nothing odd", score, {}, []],
        ["the same from another table", score, twin(), ["same_again"]],
        ["the same from this one", score, twin({ mine: true }), []],
        ["the same long ago", score, twin({ t_ms: 40000 }), []],
        ["taken out", score, twin({ stands: false }), []],
        ["a gut wrench is a 2", { ...score, points: 4, technique: "gut_wrench" }, {}, ["unusual_value"]],
        ["a gut wrench of 2", { ...score, technique: "gut_wrench" }, {}, []],
        ["stepped out of a single leg", { ...score, points: 1, action: "step_out", technique: "single_leg" }, {}, []],
        ["after the result", score, { view: view({ result: { how: "fall" } }) }, ["closed"]],
        ["usual caution", { type: "caution", side: "red", reason: "fleeing_mat", points: 1 }, {}, []],
        ["odd caution", { type: "caution", side: "red", reason: "fleeing_mat", points: 2 }, {}, ["unusual_points"]],
        ["third caution", { type: "caution", side: "red", reason: "fleeing_mat", points: 1 },
            { view: view({ cautions: { red: 2 } }) }, ["last_caution"]],
        ["activity with 0:25 left", activity, { now: { ...now, left_ms: 25000 } }, ["short_activity"]],
        ["penalty without activity", penalty, {}, ["no_activity"]],
        ["penalty in time", penalty, { now: { ...now, activity: { side: "red", left_ms: 4000 } } }, ["activity_left"]],
        ["penalty after time", penalty, { now: { ...now, activity: { side: "red", left_ms: 0 } } }, []],
        ["Greco penalty", penalty, { edition: greco }, []],
        ["no challenge left", { type: "challenge", side: "red", outcome: "asked" },
            { view: view({ challenge: { red: { left: false } } }) }, ["no_challenge_left"]],
        ["decided, never asked", { type: "challenge", side: "red", outcome: "upheld" }, {}, ["no_challenge_open"]],
    ];
    for (const [name, event, more, want] of rows) assert.deepEqual(warned(event, more), want, name);
});

test("the code follows from the ending and the loser's points", () => {
    // AVJC, 2018, and the published codes.
    const rows = [
        [{ how: "fall", winner: "red" }, "VFA"],
        [{ how: "points", winner: "red", score: { red: 3, blue: 0 } }, "VPO"],
        [{ how: "points", winner: "blue", score: { red: 1, blue: 3 } }, "VPO1"],
        [{ how: "superiority", winner: "red", score: { red: 10, blue: 0 } }, "VSU"],
        [{ how: "superiority", winner: "red", score: { red: 12, blue: 2 } }, "VSU1"],
        [{ how: "both_disqualified" }, "2DSQ"],
        [{ how: "points", winner: "red" }, undefined],
        [{ how: "unheard_of" }, undefined],
    ];
    for (const [sheet, want] of rows) assert.equal(codeOf(freestyle, sheet), want, JSON.stringify(sheet));
});

test("what the sheet and the log don't agree on is shown before it goes out", () => {
    const bout = view({ score: { red: 4, blue: 2 }, leader: { side: "red", by: "points" }, cautions: { blue: 1 } });
    const differ = (sheet, more) => sheetDifferences({ ...bout, ...more }, freestyle, sheet).map(({ what }) => what);
    const sheet = { how: "points", winner: "red", score: { red: 4, blue: 2 }, code: "VPO1" };
    const rows = [
        ["agree", sheet, {}, []],
        ["score", { ...sheet, score: { red: 4, blue: 3 } }, {}, ["score"]],
        ["code", { ...sheet, code: "VPO" }, {}, ["code"]],
        ["the other leads", { ...sheet, winner: "blue" }, {}, ["other_leads"]],
        ["nobody leads", sheet, { leader: undefined }, ["nobody_leads"]],
        ["superiority reached", { ...sheet, score: { red: 14, blue: 2 } }, { score: { red: 14, blue: 2 } }, ["superiority_reached"]],
        ["no superiority", { ...sheet, how: "superiority", code: "VSU1" }, {}, ["no_superiority"]],
        ["not all cautions", { ...sheet, how: "cautions", code: "VCA" }, {}, ["cautions"]],
        ["all cautions", { ...sheet, how: "cautions", code: "VCA" }, { cautions: { blue: 3 } }, []],
        ["not confirmed", sheet, { unconfirmed: { red: 2, blue: 0 } }, ["unconfirmed"]],
        ["fall while behind", { ...sheet, how: "fall", winner: "blue", code: "VFA" }, {}, []],
    ];
    for (const [name, given, more, want] of rows) assert.deepEqual(differ(given, more), want, name);
});

test("the ending that is due is proposed", () => {
    const leader = { side: "blue", by: "points" };
    const rows = [
        [{ leader }, { how: "points", winner: "blue" }],
        [{ leader, due: "superiority" }, { how: "superiority", winner: "blue" }],
        [{ leader, due: "cautions", due_against: ["red"] }, { how: "cautions", winner: "blue" }],
        [{ due: "cautions", due_against: ["red", "blue"] }, { how: "both_disqualified" }],
        [{ due: "time" }, { how: "points", winner: undefined }],
    ];
    for (const [bout, want] of rows) assert.deepEqual(proposeEnding(view(bout)), want);
});

test("the edition in force on the day of the bout is proposed", () => {
    const all = ["freestyle-2015", "freestyle-2022", "greco-2021", "greco-2022", "greco-2025-trial", "greco-2026"].map(edition);
    const rows = [["freestyle", "2027-05-08", "freestyle-2022"], ["women", "2020-01-01", "freestyle-2015"],
        ["greco_roman", "2021-06-01", "greco-2021"], ["greco_roman", "2027-05-08", "greco-2026"],
        ["freestyle", "2022-01-26", "freestyle-2015"], ["freestyle", "2022-01-27", "freestyle-2022"],
        ["freestyle", "2010-01-01", undefined]];
    for (const [style, day, want] of rows) assert.equal(editionInForce(all, style, day)?.name, want, `${style} ${day}`);
});
