/* The sentence that the strokes build, and the lines of the list. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { edition, Hand, say } from "./hand.js";
import { fieldOf } from "../../../overlay/table/field.js";
import { choicesOf } from "../../../overlay/table/options.js";
import { eventSentence, labelOf, listLine } from "../../../overlay/table/readback.js";

const read = (keys, ...more) => {
    const hand = new Hand(...more);
    hand.strike(keys);
    return hand.read;
};

test("the sentence grows with the strokes", () => {
    const hand = new Hand();
    const steps = [
        ["KeyF", "Red …", "Next: the action."],
        ["KeyD", "Red: takedown 2", "Next: which one, which leg."],
        ["1", "Red: takedown 2, single leg", "Next: which leg, or what it was changed to."],
        ["2", "Red: takedown 2, single leg to double leg", "Next: which leg, or what it was changed to."],
        ["9", "Red: takedown 2, single leg to double leg, trail leg", "Or what it was changed to."],
    ];
    for (const [key, sentence, asks] of steps) {
        hand.strike(key);
        assert.deepEqual([hand.read.sentence, hand.read.asks], [sentence, asks], key);
    }
});

test("what is keyed is said in words", () => {
    const rows = [
        ["KeyJ KeyL", "Blue: step-out 1"],
        ["KeyJ KeyS KeyS", "Blue: throw 5"],
        ["KeyF KeyR", "Red: attack, open"],
        ["KeyF KeyE 1 8", "Red: single leg, lead leg, stopped"],
        ["KeyF KeyR 3 KeyF KeyD", "Red: takedown 2, high crotch"],
        ["KeyF KeyB", "Red: caution, illegal hold, blue 1"],
        ["KeyJ KeyX", "Blue: passivity, warning"],
        ["KeyF KeyU", "Par terre, red on top"],
        ["KeyI 1", "Standing, ordered"],
        ["KeyJ KeyZ", "Blue: challenge asked"],
        ["KeyJ KeyZ 2", "Blue: challenge rejected, red 1"],
        ["KeyO 3", "Stoppage: review"],
        ["Space", "Whistle, 2:00 left"],
        ["Space Space", "Clock runs, 2:00 left"],
        ["End", "Horn: period 1 is over"],
        ["End Space", "Period 2 runs"],
        ["KeyF KeyD Backspace", "Taken out: red, takedown 2"],
        ["KeyF KeyD Enter", "Confirmed: red, takedown 2"],
        ["KeyF KeyD KeyJ KeyL Enter", "2 confirmed"],
        ["Enter", "Nothing waits to be confirmed"],
        ["KeyD", "Takedown …"],
        ["KeyF KeyD Down Delete", "Take out: red, takedown 2?"],
        ["Slash 5", "Begin the bout anew?"],
        ["Slash 5 1", "The bout begins anew"],
    ];
    for (const [keys, want] of rows) assert.equal(read(keys).sentence, want, keys);
});

test("Greco-Roman passivity says whose the point is", () => {
    assert.equal(read("KeyF KeyX", "greco-2026").sentence, "Red: passivity, blue 1");
});

test("what it makes is the daemon's word, and blank where the daemon cannot have said it", () => {
    const outlook = { red: { "2": { red: 4, blue: 2 } }, blue: { "1": { red: 2, blue: 3, due: "superiority" } } };
    const hand = new Hand(undefined, { view: { outlook } });
    hand.strike("KeyF KeyD");
    assert.ok(hand.read.notes.some((note) => note.replaceAll("\u2060", "") === "Makes it 4–2."));
    hand.strike("KeyF KeyD");
    assert.ok(!hand.read.notes.some((note) => note.startsWith("Makes")), "two on their way");
    const caution = new Hand(undefined, { view: { outlook } });
    caution.strike("KeyF KeyC");
    assert.ok(caution.read.notes.includes("That is superiority."), "the points are the other side's");
});

test("where it stands is said beside it", () => {
    assert.ok(read("KeyF KeyD").notes.includes("Waits for the line."));
    assert.ok(read("KeyF KeyD").notes.includes("Period 1, 2:00 left."));
    const hand = new Hand();
    hand.strike("KeyF KeyR");
    hand.wait(2000).strike("KeyF KeyD");
    assert.ok(hand.read.notes.includes("Finishes the attack at 2:00."));
    const turns = new Hand();
    turns.strike("KeyF KeyK 1 KeyF KeyK");
    assert.ok(turns.read.notes.includes("One attack with the turn before."));
});

test("an event to be keyed late says so before it is keyed", () => {
    const hand = new Hand();
    hand.give({ do: "late", period: 1, t_ms: 30000 });
    assert.equal(hand.read.sentence, "Late, period 1, 2:30 left: …");
    hand.strike("KeyF");
    assert.equal(hand.read.sentence, "Late, period 1, 2:30 left: Red …");
});

test("a row of the list shows what stands and what it was", () => {
    const hand = new Hand();
    const [thrown] = hand.strike("KeyF KeyS KeyS");
    const line = listLine(hand.row(thrown.id), hand.context);
    assert.deepEqual([line.points, line.was, line.receiver, line.open], [5, 4, "red", true]);
    assert.deepEqual(line.states, ["waiting", "not confirmed"]);
    hand.strike("Backspace Backspace");
    assert.ok(listLine(hand.row(thrown.id), hand.context).states.includes("taken out"));
});

test("a row whose bout time isn't known says none", () => {
    const hand = new Hand();
    const [takedown] = hand.strike("KeyF KeyD");
    const row = { ...hand.row(takedown.id), period: undefined, t_ms: undefined };
    assert.equal(listLine(row, hand.context).when, "");
    assert.equal(listLine(hand.row(takedown.id), hand.context).when, "1 · 2:00");
});

test("points of a caution stand at the side that has them", () => {
    const hand = new Hand();
    const [caution] = hand.strike("KeyF KeyC");
    const line = listLine(hand.row(caution.id), hand.context);
    assert.deepEqual([line.side, line.receiver, line.points], ["red", "blue", 1]);
});

test("an open attack that a score names is said to have scored", () => {
    const hand = new Hand();
    const [attack] = hand.strike("KeyF KeyR 1 KeyF KeyD");
    assert.equal(eventSentence(hand.row(attack.id), hand.context), "Red: single leg, scored");
    hand.strike("Backspace");
    assert.equal(eventSentence(hand.row(attack.id), hand.context), "Red: single leg, open");
});

test("every key, every choice and every warning has its words", () => {
    for (const name of ["freestyle-2022", "greco-2026", "june-2013"]) {
        for (const key of fieldOf(edition(name))) {
            assert.ok(say.has(`table.key.${labelOf(key)}`), labelOf(key));
        }
    }
    const openings = ["KeyF KeyD", "KeyF KeyD 0", "KeyF KeyE 0 0", "KeyF KeyC", "KeyF KeyX KeyX KeyX",
        "KeyF KeyZ", "KeyF KeyU", "KeyO", "Slash", "Slash 5", "KeyF KeyD Down Delete"];
    for (const keys of openings) {
        const hand = new Hand();
        hand.strike(keys);
        const choices = choicesOf(hand.state, hand.context);
        assert.ok(choices.length > 0, keys);
        for (const { label } of choices) if (label) assert.ok(say.has(`table.choice.${label}`), label);
        const digits = choices.map(({ digit }) => digit);
        assert.equal(new Set(digits).size, digits.length, `${keys}: ${digits}`);
    }
});
