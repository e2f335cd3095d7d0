/* The booth's own: what is before the eyes and for how long, the figures, and the keys. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { Hand } from "./hand.js";
import { boothInput, CARD_KEYS, STRIP_ACTIONS } from "../../../overlay/booth/keys.js";
import { lineShown } from "../../../overlay/booth/talk.js";
import { clearCards, EMPTY, holdOf, pin, putAway, shelve, unpin } from "../../../overlay/booth/shelf.js";
import { kindsOf, legRows, legsOf, totalOf } from "../../../overlay/booth/tallies.js";

const card = (id, more = {}) => ({ id, kind: "pattern", headline: "Far leg, taken high", line: "1 of 4 there.",
    evidence: [], ...more });
const HOLD = holdOf(card("a")); // 2 s + 0.2 s a word, 8 words
const ids = (shelf) => Object.fromEntries(Object.entries(shelf.shown).map(([place, one]) => [place, one.card.id]));

test("a card stays two seconds and a fifth of one for each word", () => {
    assert.equal(HOLD, 3600);
    assert.equal(holdOf({ headline: "One minute left" }), 2600);
});

test("a card is not taken from under the eye, and then the next one comes", () => {
    let shelf = shelve(EMPTY, { 1: card("a") }, {}, 1000);
    shelf = shelve(shelf, { 1: card("b") }, {}, 1000 + HOLD - 1);
    assert.deepEqual(ids(shelf), { 1: "a" });
    shelf = shelve(shelf, { 1: card("b") }, {}, 1000 + HOLD);
    assert.deepEqual(ids(shelf), { 1: "b" });
});

test("an empty place is a good answer, but not before its time", () => {
    let shelf = shelve(EMPTY, { 2: card("a") }, {}, 0);
    shelf = shelve(shelf, {}, {}, 100);
    assert.deepEqual(ids(shelf), { 2: "a" });
    assert.deepEqual(ids(shelve(shelf, undefined, {}, HOLD)), {});
});

test("a card whose place is unchanged stays as it is, however long", () => {
    const shelf = shelve(EMPTY, { 1: card("a") }, {}, 0);
    assert.equal(shelve(shelf, { 1: card("a") }, {}, 60000), shelf);
});

test("a card used is not offered again until its fact has another id", () => {
    let shelf = shelve(EMPTY, { 1: card("a"), 2: card("x") }, {}, 0);
    shelf = putAway(shelf, "1");
    shelf = shelve(shelf, { 1: card("a"), 2: card("x") }, {}, 100);
    assert.deepEqual(ids(shelf), { 2: "x" });
    shelf = shelve(shelf, { 1: card("a2"), 2: card("x") }, {}, 200);
    assert.deepEqual(ids(shelf), { 1: "a2", 2: "x" });
});

test("a pinned card leaves its place, stays below, and goes by hand", () => {
    let shelf = pin(shelve(EMPTY, { 3: card("a") }, {}, 0), "3");
    shelf = shelve(shelf, { 3: card("a") }, {}, 100);
    assert.deepEqual([ids(shelf), shelf.pinned.map((one) => one.card.id)], [{}, ["a"]]);
    shelf = shelve(shelf, { 3: card("b") }, {}, 60000);
    assert.deepEqual(shelf.pinned.map((one) => one.card.id), ["a"], "though the daemon has another fact");
    shelf = shelve(unpin(shelf, "a"), { 3: card("a") }, {}, 120000);
    assert.deepEqual([shelf.pinned, ids(shelf)], [[], {}]);
});

test("at most four are pinned: the oldest goes", () => {
    let shelf = EMPTY;
    for (const id of ["a", "b", "c", "d", "e"]) {
        shelf = pin(shelve(shelf, { 1: card(id) }, {}, 0), "1");
    }
    assert.deepEqual(shelf.pinned.map((one) => one.card.id), ["b", "c", "d", "e"]);
});

test("a card whose fact was corrected goes at once, pinned or not", () => {
    const before = { 7: { id: "s", side: "red", points: 4 }, 8: { id: "t", side: "red", points: 2 } };
    const resting = card("a", { evidence: ["s"] });
    const corrections = [
        ["another value", { ...before, 7: { ...before[7], points: 2 } }, true],
        ["taken out", { ...before, 7: { ...before[7], out: true } }, true],
        ["the other event", { ...before, 8: { ...before[8], out: true } }, false],
        ["confirmed", { ...before, 7: { ...before[7], confirmed: true } }, false],
    ];
    for (const [name, after, goes] of corrections) {
        const shown = shelve(EMPTY, { 1: resting }, before, 0);
        assert.equal("1" in shelve(shown, {}, after, 100).shown, !goes, name);
        const pinned = pin(shown, "1");
        assert.equal(shelve(pinned, {}, after, 100).pinned.length, goes ? 0 : 1, `${name}, pinned`);
    }
});

test("a card that says what changed takes its place at once", () => {
    const shelf = shelve(EMPTY, { 1: card("a") }, {}, 0);
    const next = shelve(shelf, { 1: card("b", { changed: "4 is now 2" }) }, {}, 100);
    assert.equal(next.shown[1].card.changed, "4 is now 2");
    const told = shelve(shelf, { 1: card("a", { changed: "4 is now 2" }) }, {}, 100);
    assert.equal(told.shown[1].card.changed, "4 is now 2");
    assert.equal(told.shown[1].since_ms, 0);
});

test("all away leaves the pinned ones", () => {
    let shelf = pin(shelve(EMPTY, { 1: card("a"), 2: card("b"), 3: card("c") }, {}, 0), "1");
    shelf = shelve(clearCards(shelf), { 1: card("a"), 2: card("b"), 3: card("c") }, {}, 1);
    assert.deepEqual([ids(shelf), shelf.pinned.length], [{}, 1]);
});

const attacks = {
    red: { tried: 6, scored: 1, stopped: 5, by: { single_leg: { tried: 4, scored: 1, points: 2 }, double_leg: { tried: 1, scored: 0 },
        ankle_pick: { tried: 1, scored: 0 } }, leg: { trail: { tried: 4, scored: 1 }, lead: { tried: 0, scored: 0 } } },
    blue: { tried: 0, scored: 0, by: {}, leg: {} },
};

test("figures come with their base, and what was not tried is left out", () => {
    assert.deepEqual(totalOf(attacks.red), { scored: 1, tried: 6 });
    assert.equal(totalOf(attacks.blue), undefined);
    assert.equal(totalOf(undefined), undefined);
    assert.deepEqual(legsOf(attacks.red), [{ leg: "trail", scored: 1, tried: 4 }]);
    assert.deepEqual(legRows({ attacks }), [{ leg: "trail", red: { scored: 1, tried: 4 } }]);
});

test("the kinds tried most have a row each, the others one together", () => {
    assert.deepEqual(kindsOf({ attacks }).map(({ kind }) => kind), ["single_leg", "ankle_pick", "double_leg"]);
    const two = kindsOf({ attacks }, 2);
    assert.deepEqual(two, [{ kind: "single_leg", red: { scored: 1, tried: 4 } }, { kind: undefined, red: { scored: 0, tried: 2 } }]);
    assert.deepEqual(kindsOf({}), []);
});

const { field } = new Hand();
const pressed = (code, page = {}) => boothInput({ code, ...page.press }, { keying: true, field, ...page });

test("each card has its three keys", () => {
    const codes = Object.values(CARD_KEYS).flatMap(Object.values);
    assert.equal(new Set(codes).size, 9);
    assert.deepEqual(pressed("Digit2"), { card: "used", place: "2" });
    assert.deepEqual(pressed("KeyE"), { card: "pin", place: "3" });
    assert.deepEqual(pressed("KeyA"), { card: "away", place: "1" });
    assert.deepEqual(pressed("Escape"), { clear: true });
    assert.deepEqual(pressed("KeyN"), { note: true });
});

test("with a side chosen the letters are the table's actions", () => {
    assert.deepEqual(pressed("KeyF"), { do: "side", side: "red", held: true });
    assert.equal(pressed("KeyD", { side: "red" }).key.action, "takedown");
    assert.equal(pressed("KeyA", { side: "red" }).key.action, "feet_to_danger");
    assert.deepEqual(pressed("Escape", { side: "red" }), { do: "escape" });
    for (const code of STRIP_ACTIONS) assert.equal(pressed(code, { side: "blue" }).do, "action", code);
});

test("without keying, no key of the booth sends anything", () => {
    for (const code of ["Space", "Enter", "Backspace", "KeyF", "KeyJ", "KeyK", "Semicolon"]) {
        const input = pressed(code, { keying: false });
        assert.equal(input?.do, undefined, code);
    }
    assert.deepEqual(pressed("KeyD", { keying: false }), { card: "away", place: "3" });
});

test("a key that repeats and a shortcut of the browser do nothing here", () => {
    assert.deepEqual(pressed("Digit1", { press: { repeat: true } }), { nothing: true });
    assert.equal(pressed("KeyR", { press: { ctrlKey: true } }), undefined);
    assert.equal(pressed("Tab"), undefined);
});

/* ---- the talk with the gallery ---- */

const AT = "2027-05-08T10:00:00.000Z";
const LATER_MS = Date.parse("2027-05-08T10:00:05.000Z");
const TALKS = [
    ["nothing said", {}, undefined],
    ["the gallery waits", { 3: { from: "gallery" } }, 3],
    ["the oldest that it waits for comes first", { 3: { from: "gallery" }, 10: { from: "gallery" } }, 3],
    ["what was acknowledged is gone", { 3: { from: "gallery", seen: AT } }, undefined],
    ["our own until it is seen", { 9: { from: "gallery", seen: AT }, 10: { from: "booth" } }, 10],
    ["and a moment longer", { 10: { from: "booth", seen: AT } }, 10],
    ["not for ever", { 10: { from: "booth", seen: "2027-05-08T09:59:00.000Z" } }, undefined],
    ["the gallery goes before our own", { 3: { from: "gallery" }, 10: { from: "booth" } }, 3],
];

for (const [what, talk, number] of TALKS)
    test(`talk: ${what}`, () => {
        const lines = Object.fromEntries(Object.entries(talk).map(([n, line]) => [n, { text: "x", at: AT, ...line }]));
        assert.equal(lineShown(lines, LATER_MS)?.number, number);
    });

test("a key under each column writes a note there; G and T are the talk's", () => {
    const page = { keying: false, field: new Map() };
    const inputs = ["KeyZ", "KeyX", "KeyC", "KeyT", "KeyG"].map((code) => boothInput({ code }, page));
    assert.deepEqual(inputs, [{ write: "red" }, { write: "blue" }, { write: "bout" }, { write: "gallery" }, { seen: true }]);
});
