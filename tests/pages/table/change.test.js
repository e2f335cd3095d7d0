/* The amendment that a form makes. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { Hand } from "./hand.js";
import { amendmentOf, fieldsOf, pointsOf, readTime, valuesOf } from "../../../overlay/table/change.js";

function change(keys, changes, ...more) {
    const hand = new Hand(...more);
    const event = hand.strike(keys).findLast(({ type }) => type !== "amend");
    const row = hand.row(event.id);
    const fields = fieldsOf(row, hand.context);
    const values = valuesOf(row, fields, hand.context);
    return amendmentOf(row, fields, values, { ...values, ...changes });
}

test("only what differs goes out", () => {
    const rows = [
        ["KeyF KeyD", {}, undefined],
        ["KeyF KeyD", { points: "4", action: "throw" }, { set: { action: "throw", points: 4 } }],
        ["KeyF KeyD", { side: "blue" }, { set: { side: "blue" } }],
        ["KeyF KeyD", { technique: "double_leg", leg: "lead" }, { set: { technique: "double_leg", leg: "lead" } }],
        ["KeyF KeyD 1", { technique: "" }, { unset: ["technique"] }],
        ["KeyF KeyD", { unconfirmed: false }, { unset: ["unconfirmed"] }],
        ["KeyF KeyD", { time: { period: 1, t_ms: 50000 } }, { set: { period: 1, t_ms: 50000 } }],
        ["KeyF KeyE", { outcome: "out" }, { set: { outcome: "out" } }],
        ["KeyF KeyE", { techniques: ["single_leg", "double_leg"] }, { set: { techniques: ["single_leg", "double_leg"] } }],
        ["KeyF KeyE 1", { techniques: [] }, { set: { techniques: ["attack"] } }],
        ["KeyF KeyC", { reason: "brutality", points: "2" }, { set: { reason: "brutality", points: 2 } }],
        ["KeyF KeyX", { stage: "penalty" }, { set: { stage: "penalty", points: 1 } }],
        ["KeyF KeyX KeyX KeyX", { stage: "warning", points: "" }, { set: { stage: "warning" }, unset: ["points"] }],
        ["KeyF KeyZ", { outcome: "rejected" }, { set: { outcome: "rejected", points: 1 } }],
        ["KeyF KeyU", { ordered: true, top: "blue" }, { set: { top: "blue", ordered: true } }],
    ];
    for (const [keys, changes, want] of rows) {
        assert.deepEqual(change(keys, changes), want, `${keys} ${JSON.stringify(changes)}`);
    }
});

test("a start or stop of the clock has nothing to change", () => {
    const hand = new Hand();
    const [stop] = hand.strike("Space");
    assert.deepEqual(fieldsOf(hand.row(stop.id), hand.context), []);
});

test("an action is offered with its values alone", () => {
    const { edition } = new Hand();
    assert.deepEqual(pointsOf(edition, "throw"), [2, 4, 5]);
    assert.deepEqual(pointsOf(edition, "takedown"), [2]);
});

test("a time left as a person writes it", () => {
    const rows = [["1:51", 111000], ["0:09.5", 9500], ["45", 45000], [" 3:00 ", 180000], ["0:7", 7000],
        ["1:75", undefined], ["", undefined], ["x", undefined], ["1:2:3", undefined]];
    for (const [text, want] of rows) assert.equal(readTime(text), want, text);
});
