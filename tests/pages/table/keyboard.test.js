/* Which presses are the table's, and which belong to the browser or to what has the focus. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { Hand } from "./hand.js";
import { belongsToFocus, inputOf, releaseOf } from "../../../overlay/table/keyboard.js";
import { keyLabel, LAYOUTS } from "../../../overlay/table/field.js";

const { field } = new Hand();

test("a press is an input by its place, whatever the layout prints there", () => {
    const rows = [
        [{ code: "KeyF", key: "f" }, { do: "side", side: "red", held: true }],
        [{ code: "KeyJ", key: "о" }, { do: "side", side: "blue", held: true }],
        [{ code: "Space" }, { do: "whistle" }],
        [{ code: "Digit3" }, { do: "choice", digit: "3" }],
        [{ code: "Numpad0" }, { do: "choice", digit: "0" }],
        [{ code: "Backspace" }, { do: "undo" }],
        [{ code: "Backspace", shiftKey: true }, { do: "redo" }],
        [{ code: "ArrowLeft", repeat: true }, { do: "nudge", by_ms: 1000 }],
        [{ code: "KeyR", ctrlKey: true }, undefined],
        [{ code: "KeyR", metaKey: true }, undefined],
        [{ code: "Tab" }, undefined],
        [{ code: "F5" }, undefined],
    ];
    for (const [press, want] of rows) assert.deepEqual(inputOf(press, field), want, press.code);
    assert.equal(inputOf({ code: "KeyD" }, field).key.action, "takedown");
});

test("a key that is held down and repeats is one stroke", () => {
    for (const code of ["KeyF", "KeyD", "Space", "Enter", "Backspace"]) {
        assert.deepEqual(inputOf({ code, repeat: true }, field), { do: "nothing" }, code);
    }
    assert.equal(inputOf({ code: "KeyV", repeat: true }, new Map()), undefined);
});

test("only a side's key means something when it is let go", () => {
    assert.deepEqual(releaseOf({ code: "KeyF" }, field), { do: "release", side: "red" });
    assert.equal(releaseOf({ code: "KeyD" }, field), undefined);
});

test("what has the focus keeps its own keys", () => {
    const rows = [
        ["KeyD", { tag: "INPUT", reached: true }, true],
        ["KeyD", { tag: "TEXTAREA", reached: false }, true],
        ["Space", { tag: "BUTTON", reached: true }, true],
        ["Enter", { tag: "BUTTON", reached: true }, true],
        ["KeyD", { tag: "BUTTON", reached: true }, false],
        ["Space", { tag: "BUTTON", reached: false }, false],
        ["Space", { tag: "BODY", reached: false }, false],
    ];
    for (const [code, focus, want] of rows) {
        assert.equal(belongsToFocus({ code }, focus), want, `${code} ${JSON.stringify(focus)}`);
    }
});

test("every layout prints another sign on every key", () => {
    for (const layout of Object.keys(LAYOUTS)) {
        const labels = [...field.keys()].map((code) => keyLabel(code, layout));
        assert.equal(new Set(labels).size, labels.length, `${layout}: ${labels}`);
    }
});
