/* The keying grammar, stroke by stroke. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { bare, edition, Hand } from "./hand.js";
import { fieldOf } from "../../../overlay/table/field.js";

const striking = (text, ...more) => new Hand(...more).strike(text).map(bare);

test("a common event takes two strokes and goes out at once", () => {
    const score = (side, action, points) =>
        ({ type: "score", side, points, action, unconfirmed: true });
    const rows = [
        ["KeyF KeyD", score("red", "takedown", 2)],
        ["KeyJ KeyD", score("blue", "takedown", 2)],
        ["KeyF KeyK", score("red", "exposure", 2)],
        ["KeyJ KeyL", score("blue", "step_out", 1)],
        ["KeyF Semicolon", score("red", "reversal", 1)],
        ["KeyJ KeyS", score("blue", "throw", 4)],
        ["KeyF KeyA", score("red", "feet_to_danger", 4)],
        ["KeyF KeyG", score("red", "counter_exposure", 2)],
        ["KeyJ KeyH", score("blue", "lift", 4)],
        ["KeyJ KeyP", score("blue", "injury_stop", 1)],
        ["KeyF KeyR", { type: "attack", side: "red", techniques: ["attack"], outcome: "open" }],
        ["KeyF KeyE", { type: "attack", side: "red", techniques: ["attack"], outcome: "stopped" }],
        ["KeyF KeyT", { type: "attack", side: "red", techniques: ["attack"], outcome: "countered" }],
        ["KeyF KeyQ", { type: "attack", side: "red", techniques: ["attack"], outcome: "out" }],
        ["KeyJ KeyW", { type: "attack", side: "blue", techniques: ["attack"], outcome: "stalemate" }],
        ["KeyJ KeyY", { type: "attack", side: "blue", techniques: ["attack"], outcome: "slipped" }],
        ["KeyF KeyC", { type: "caution", side: "red", reason: "fleeing_mat", points: 1,
            unconfirmed: true }],
        ["KeyF KeyX", { type: "passivity", side: "red", stage: "warning", unconfirmed: true }],
        ["KeyJ KeyZ", { type: "challenge", side: "blue", outcome: "asked" }],
        ["KeyF KeyU", { type: "position", position: "par_terre", top: "red" }],
        ["KeyI", { type: "position", position: "standing" }],
        ["KeyO 1", { type: "stoppage", kind: "injury", do: "start" }],
    ];
    for (const [keys, want] of rows) {
        assert.deepEqual(striking(keys), [want], keys);
        assert.ok(keys.split(" ").length <= 2, keys);
    }
});

test("every event carries an id of its own, the bout and the moment of the key", () => {
    const hand = new Hand();
    const events = hand.strike("KeyF KeyD KeyJ KeyD Space");
    assert.equal(new Set(events.map(({ id }) => id)).size, events.length);
    for (const event of events) {
        assert.equal(event.bout, "a07");
        assert.equal(event.keyed_at, "2027-05-08T10:00:00.000Z");
    }
});

test("the action may come first: it waits for its side", () => {
    const hand = new Hand();
    assert.deepEqual(hand.strike("KeyD"), []);
    assert.equal(hand.read.sentence, "Takedown …");
    assert.deepEqual(hand.strike("KeyJ").map(bare),
        [{ type: "score", side: "blue", points: 2, action: "takedown", unconfirmed: true }]);
    assert.equal(hand.state.side, undefined, "the side is used up");
});

test("a side's key held down holds for all actions until it is let go", () => {
    const hand = new Hand();
    hand.give({ do: "side", side: "red", held: true });
    hand.strike("KeyK KeyK");
    hand.give({ do: "release", side: "red" });
    assert.deepEqual(hand.standing.map(({ side, action }) => [side, action]),
        [["red", "exposure"], ["red", "exposure"]]);
    assert.deepEqual(hand.strike("KeyD"), [], "let go: the next action asks whose it is");
});

test("a side's key that is struck and let go stays chosen for one action", () => {
    const hand = new Hand();
    hand.give({ do: "side", side: "blue", held: true });
    hand.give({ do: "release", side: "blue" });
    assert.equal(hand.strike("KeyD")[0].side, "blue");
    assert.deepEqual(hand.strike("KeyD"), []);
});

test("the last side struck counts, and escape forgets it", () => {
    const hand = new Hand();
    hand.strike("KeyF KeyJ KeyD");
    assert.equal(hand.standing[0].side, "blue");
    hand.strike("KeyF Escape");
    assert.deepEqual(hand.strike("KeyD"), []);
});

test("the same key again goes through an action's values", () => {
    const hand = new Hand();
    const [thrown] = hand.strike("KeyF KeyS");
    assert.deepEqual(hand.strike("KeyS").map(bare),
        [{ type: "amend", ref: thrown.id, set: { points: 5 } }]);
    hand.strike("KeyS");
    assert.equal(hand.row(thrown.id).event.points, 2);
    hand.wait(5000);
    assert.deepEqual(hand.strike("KeyS"), [], "later it is another throw, and asks for its side");
});

test("with the other side chosen the same key is another event", () => {
    const hand = new Hand();
    hand.strike("KeyF KeyS KeyJ KeyS");
    assert.deepEqual(hand.standing.map(({ side, points }) => [side, points]), [["red", 4], ["blue", 4]]);
});

test("the technique and the leg follow as amendments of the same event", () => {
    const hand = new Hand();
    const [takedown] = hand.strike("KeyF KeyD");
    const events = hand.strike("1 8").map(bare);
    assert.deepEqual(events, [
        { type: "amend", ref: takedown.id, set: { technique: "single_leg" } },
        { type: "amend", ref: takedown.id, set: { leg: "lead" } },
    ]);
});

test("a second technique is what the first was changed to: the score names an attack", () => {
    const hand = new Hand();
    const [takedown] = hand.strike("KeyF KeyD");
    hand.strike("1 9");
    const [attack, amend] = hand.strike("2").map(bare);
    assert.deepEqual(attack, { type: "attack", side: "red", techniques: ["single_leg", "double_leg"],
        leg: "trail", outcome: "open", period: 1, t_ms: 60000 });
    assert.equal(amend.ref, takedown.id);
    assert.equal(hand.row(amend.set.attack).event.outcome, "open", "the score makes it scored");
    hand.strike("3");
    assert.deepEqual(hand.row(amend.set.attack).event.techniques,
        ["single_leg", "double_leg", "high_crotch"]);
});

test("a score finishes the attack that its side has open", () => {
    const hand = new Hand();
    const [attack] = hand.strike("KeyF KeyR");
    hand.strike("1 8").forEach((event) => assert.equal(event.ref, attack.id));
    hand.wait(2000);
    const [score] = hand.strike("KeyF KeyD");
    assert.equal(score.attack, attack.id);
    assert.deepEqual(hand.row(attack.id).event.techniques, ["single_leg"]);
    const [another] = hand.strike("KeyF KeyD");
    assert.equal(another.attack, undefined, "it is finished");
});

test("no score finishes an attack of long ago, of before the whistle or of another period", () => {
    for (const between of [(hand) => hand.wait(40000), (hand) => hand.strike("Space Space")]) {
        const hand = new Hand();
        hand.strike("KeyF KeyR");
        between(hand);
        assert.equal(hand.strike("KeyF KeyD")[0].attack, undefined);
    }
});

test("a counter names the attack that it answers", () => {
    const hand = new Hand();
    const [attack] = hand.strike("KeyF KeyR");
    assert.equal(hand.strike("KeyJ KeyG")[0].attack, attack.id);
});

test("another score can be said to answer the other side's attack", () => {
    const hand = new Hand();
    const [attack] = hand.strike("KeyF KeyR");
    const [score] = hand.strike("KeyJ KeyD");
    assert.equal(score.attack, undefined);
    assert.deepEqual(hand.strike("0 9").map(bare),
        [{ type: "amend", ref: score.id, set: { attack: attack.id } }]);
});

test("an outcome ends the attack that is open, and no new one is made", () => {
    for (const keys of ["KeyE", "KeyF KeyE"]) {
        const hand = new Hand();
        const [attack] = hand.strike("KeyF KeyR");
        assert.deepEqual(hand.strike(keys).map(bare),
            [{ type: "amend", ref: attack.id, set: { outcome: "stopped" } }], keys);
    }
});

test("turns that follow one another join one attack", () => {
    const hand = new Hand();
    const [first] = hand.strike("KeyF KeyK");
    hand.strike("1").forEach((event) => assert.equal(event.set.technique, "gut_wrench"));
    hand.wait(3000);
    const events = hand.strike("KeyF KeyK");
    assert.deepEqual(events.map(({ type }) => type), ["attack", "amend", "score"]);
    const [attack, amend, second] = events;
    assert.deepEqual(attack.techniques, ["gut_wrench"]);
    assert.deepEqual([amend.ref, amend.set.attack, second.attack], [first.id, attack.id, attack.id]);
    hand.wait(3000);
    const third = hand.strike("KeyF KeyK");
    assert.deepEqual(third.map(({ type, attack: named }) => [type, named]), [["score", attack.id]]);
});

test("turns whose name comes last are joined when it comes", () => {
    const hand = new Hand();
    const [first] = hand.strike("KeyF KeyK");
    const [second] = hand.wait(2000).strike("KeyF KeyK");
    const events = hand.strike("1");
    assert.deepEqual(events.map(({ type }) => type), ["attack", "amend", "amend"]);
    assert.deepEqual(events.slice(1).map(({ ref }) => ref), [first.id, second.id]);
});

test("a turn after a stop, a point of the other side or the feet is a new try", () => {
    for (const between of ["Space Space", "KeyJ KeyL", "KeyI"]) {
        const hand = new Hand();
        hand.strike("KeyF KeyK 1");
        hand.strike(between);
        const events = hand.strike("KeyF KeyK");
        assert.deepEqual(events.map(({ type }) => type), ["score"], between);
        assert.equal(events[0].attack, undefined, between);
    }
});

test("a set-up stands in an attack; struck again it goes away", () => {
    const hand = new Hand();
    const [attack] = hand.strike("KeyF KeyR");
    hand.strike("1 0 3");
    assert.deepEqual(hand.row(attack.id).event.setup, ["underhook"]);
    hand.strike("3");
    assert.equal(hand.row(attack.id).event.setup, undefined);
    hand.strike("0 1");
    assert.equal(hand.row(attack.id).event.stopped_by, "sprawl");
});

test("a set-up of a score without an attack makes one", () => {
    const hand = new Hand();
    const [takedown] = hand.strike("KeyF KeyD 2 0 3");
    const row = hand.row(takedown.id);
    assert.deepEqual(hand.row(row.event.attack).event.setup, ["underhook"]);
    assert.deepEqual(hand.row(row.event.attack).event.techniques, ["double_leg"]);
});

test("the whistle stops the clock, confirms what stands and asks for what is missing", () => {
    const hand = new Hand();
    const [takedown] = hand.strike("KeyF KeyD");
    assert.deepEqual(hand.strike("Space").map(bare), [{ type: "clock", do: "stop" }, { type: "confirm" }]);
    assert.deepEqual([hand.state.about, hand.state.asks.what], [takedown.id, "detail"]);
    assert.deepEqual(hand.strike("5").map(bare),
        [{ type: "amend", ref: takedown.id, set: { technique: "go_behind" } }]);
    assert.deepEqual(hand.strike("Space").map(bare), [{ type: "clock", do: "start" }]);
    assert.equal(hand.state.asks, undefined);
});

test("the whistle asks how an open attack ended before it asks for names", () => {
    const hand = new Hand();
    hand.strike("KeyF KeyD");
    const [attack] = hand.strike("KeyJ KeyR");
    hand.strike("Space");
    assert.equal(hand.state.asks.what, "outcome");
    assert.deepEqual(hand.strike("3").map(bare), [{ type: "amend", ref: attack.id, set: { outcome: "out" } }]);
    assert.deepEqual(hand.strike("2").map(bare),
        [{ type: "amend", ref: attack.id, set: { techniques: ["double_leg"] } }]);
});

test("a whistle with nothing open confirms nothing", () => {
    assert.deepEqual(striking("Space"), [{ type: "clock", do: "stop" }]);
});

test("after a period that is used up the same key begins the next one, and then no more", () => {
    const hand = new Hand();
    hand.strike("End");
    assert.deepEqual(hand.strike("Space").map(bare), [{ type: "clock", do: "start", period: 2 }]);
    hand.strike("End");
    assert.deepEqual(hand.strike("Space"), []);
    assert.equal(hand.read.sentence, "Time is up");
});

test("a restart of the clock ends the stoppage that is open", () => {
    const hand = new Hand();
    hand.strike("Space KeyF KeyO 2");
    assert.deepEqual(hand.strike("Space").map(bare), [
        { type: "stoppage", kind: "blood", do: "stop", side: "red" }, { type: "clock", do: "start" },
    ]);
});

test("the clock is set by a second, within the period", () => {
    const nudged = (t_ms, by_ms) => new Hand(undefined, { t_ms }).give({ do: "nudge", by_ms }).map(bare);
    assert.deepEqual(nudged(60000, 1000), [{ type: "clock", do: "set", period: 1, t_ms: 61000 }]);
    assert.equal(nudged(400, -1000)[0].t_ms, 0);
    assert.equal(nudged(179900, 1000)[0].t_ms, 180000);
});

test("undo takes back one stroke, whatever it sent, and then the one before", () => {
    const hand = new Hand();
    const [takedown] = hand.strike("KeyF KeyD");
    const [stop, confirm] = hand.strike("Space");
    assert.deepEqual(hand.strike("Backspace").map(({ type, ref }) => [type, ref]),
        [["void", confirm.id], ["void", stop.id]]);
    assert.deepEqual(hand.strike("Backspace").map(({ ref }) => ref), [takedown.id]);
    assert.deepEqual(hand.standing, []);
    assert.deepEqual(hand.strike("Backspace"), []);
    assert.equal(hand.read.sentence, "Nothing to undo");
});

test("undo takes back a detail alone, not its score", () => {
    const hand = new Hand();
    const [takedown] = hand.strike("KeyF KeyD");
    const [detail] = hand.strike("1");
    assert.deepEqual(hand.strike("Backspace").map(({ ref }) => ref), [detail.id]);
    assert.ok(hand.row(takedown.id).stands);
});

test("an undo is undone", () => {
    const hand = new Hand();
    const [takedown] = hand.strike("KeyF KeyD");
    const [taken] = hand.strike("Backspace");
    assert.deepEqual(hand.give({ do: "redo" }).map(({ type, ref }) => [type, ref]), [["void", taken.id]]);
    assert.ok(hand.row(takedown.id).stands);
});

test("confirm takes all, or the one chosen in the list", () => {
    const hand = new Hand();
    const [first] = hand.strike("KeyF KeyD");
    hand.strike("KeyJ KeyL Down Down");
    assert.equal(hand.state.chosen, first.id);
    assert.deepEqual(hand.strike("Enter").map(bare), [{ type: "confirm", ref: first.id }]);
    hand.strike("Escape Escape");
    assert.deepEqual(hand.strike("Enter").map(bare), [{ type: "confirm" }]);
    assert.deepEqual(hand.strike("Enter"), []);
});

test("an earlier event is taken out with its reason, and brought back", () => {
    const hand = new Hand();
    const [takedown] = hand.strike("KeyF KeyD");
    hand.strike("KeyJ KeyL Down Down Delete");
    assert.deepEqual(hand.strike("2").map(bare), [{ type: "void", ref: takedown.id, why: "officials" }]);
    hand.strike("Down Down");
    assert.equal(hand.state.chosen, takedown.id);
    assert.equal(hand.strike("Delete")[0].type, "void");
    assert.ok(hand.row(takedown.id).stands);
});

test("delete twice means our own slip", () => {
    const hand = new Hand();
    const [takedown] = hand.strike("KeyF KeyD");
    assert.deepEqual(hand.strike("Down Delete Delete").map(bare),
        [{ type: "void", ref: takedown.id, why: "keying" }]);
});

test("a digit gives detail to an event chosen in the list", () => {
    const hand = new Hand();
    const [takedown] = hand.strike("KeyF KeyD");
    hand.strike("KeyJ KeyL Down Down");
    assert.deepEqual(hand.strike("4").map(bare),
        [{ type: "amend", ref: takedown.id, set: { technique: "low_single" } }]);
});

test("a passivity's stage follows the edition, and the same key again", () => {
    const hand = new Hand();
    const [first] = hand.strike("KeyF KeyX");
    assert.equal(first.stage, "warning");
    hand.strike("KeyX");
    assert.equal(hand.row(first.id).event.stage, "activity");
    hand.strike("KeyX");
    assert.deepEqual([hand.row(first.id).event.stage, hand.row(first.id).event.points], ["penalty", 1]);
    hand.strike("KeyX");
    assert.deepEqual([hand.row(first.id).event.stage, hand.row(first.id).event.points], ["warning", undefined]);
});

test("with less than an activity time left the table asks before anything goes out", () => {
    const short = () => new Hand(undefined,
        { t_ms: 160000, view: { passivity: { red: { warning: 1 } } } });
    const hand = short();
    assert.deepEqual(hand.strike("KeyF KeyX"), []);
    assert.match(hand.read.warnings[0], /^Only 0:20 left/);
    assert.deepEqual(hand.strike("1").map(bare), [{ type: "caution", side: "red", reason: "fleeing_hold",
        points: 1, unconfirmed: true }]);
    assert.deepEqual(short().strike("KeyF KeyX 2").map(bare),
        [{ type: "passivity", side: "red", stage: "activity", unconfirmed: true }]);
});

test("a challenge is asked, then decided", () => {
    for (const [digit, want] of [["1", { outcome: "upheld" }], ["2", { outcome: "rejected", points: 1 }]]) {
        const hand = new Hand();
        hand.strike("KeyJ KeyZ KeyF KeyD KeyJ KeyZ");
        assert.deepEqual(hand.strike(digit).map(bare), [{ type: "challenge", side: "blue", ...want }]);
    }
});

test("a challenge of a line chosen in the list names it", () => {
    const hand = new Hand();
    const [takedown] = hand.strike("KeyF KeyD Down");
    hand.give({ do: "side", side: "blue" });
    assert.equal(hand.strike("KeyZ")[0].of, takedown.id);
});

test("an event keyed late has its bout time and its place in the order of points", () => {
    const hand = new Hand();
    const [takedown] = hand.strike("KeyF KeyD");
    hand.give({ do: "late", period: 1, t_ms: 30000 });
    assert.deepEqual(hand.strike("KeyJ KeyL").map(bare), [{ type: "score", side: "blue", points: 1,
        action: "step_out", unconfirmed: true, period: 1, t_ms: 30000, before: takedown.id }]);
    assert.equal(hand.strike("KeyJ KeyL")[0].period, undefined, "for one event only");
});

test("a late attack has no order of points", () => {
    const hand = new Hand();
    hand.strike("KeyF KeyD");
    hand.give({ do: "late", period: 1, t_ms: 30000 });
    assert.equal(hand.strike("KeyJ KeyE")[0].before, undefined);
});

test("notes, the result and all rare things are opened by a key", () => {
    const rows = [["Comma", { open: "note" }], ["Period", { open: "result" }], ["Slash 1", { open: "call" }],
        ["Slash 3", { open: "clock" }], ["Slash 4", { open: "late" }], ["Slash 6", { off: true }]];
    for (const [keys, want] of rows) {
        const hand = new Hand();
        assert.deepEqual(hand.strike(keys), [], keys);
        const { id, side, ...effect } = hand.effects[0];
        assert.deepEqual(effect, want, keys);
    }
    assert.deepEqual(striking("Slash 5 1"), [{ type: "restart" }]);
    assert.deepEqual(striking("Slash 2", undefined, { t_ms: 180000, running: false }),
        [{ type: "clock", do: "start", period: 2 }]);
});

test("every edition's actions and values can be reached by its field", () => {
    for (const name of ["freestyle-2015", "freestyle-2022", "greco-2021", "greco-2026", "june-2013", "league"]) {
        const rules = edition(name);
        const keys = fieldOf(rules).filter(({ kind }) => kind === "score");
        const reached = keys.flatMap(({ action, values }) => values.map((value) => `${action} ${value}`));
        const wanted = Object.entries(rules.actions).flatMap(([value, actions]) =>
            actions.map((action) => `${action} ${value}`));
        assert.deepEqual(reached.sort(), wanted.sort(), name);
        const codes = fieldOf(rules).map(({ code }) => code);
        assert.equal(new Set(codes).size, codes.length, `${name}: one key, one meaning`);
    }
});

test("the order in an edition's file moves no key", () => {
    const rules = edition("freestyle-2022");
    const turned = structuredClone(rules);
    turned.usual_points.caution = Object.fromEntries(Object.entries(rules.usual_points.caution).reverse());
    turned.actions = Object.fromEntries(Object.entries(rules.actions).map(([value, actions]) => [value, [...actions].reverse()]));
    assert.deepEqual(fieldOf(turned), fieldOf(rules));
});

test("a leg is asked for on the feet, not on the mat", () => {
    const asked = (keys) => {
        const hand = new Hand();
        hand.strike(keys);
        return hand.strike("8").length === 1;
    };
    for (const keys of ["KeyF KeyD", "KeyF KeyR", "KeyF KeyL", "KeyF KeyS"]) assert.ok(asked(keys), keys);
    for (const keys of ["KeyF KeyK", "KeyF KeyG", "KeyF Semicolon", "KeyF KeyH"]) assert.ok(!asked(keys), keys);
});

test("an action that has no usual place gets a spare key", () => {
    const rules = edition("freestyle-2022");
    rules.actions["1"] = [...rules.actions["1"], "escape"];
    const key = fieldOf(rules).find(({ action }) => action === "escape");
    assert.deepEqual(key.values, [1]);
});

test("every sort of event can be keyed", () => {
    const hand = new Hand();
    const events = hand.strike("KeyF KeyD 1 KeyF KeyE KeyF KeyC KeyF KeyX KeyI KeyF KeyZ 2 KeyO 1 Space "
        + "Backspace Enter Slash 5 1");
    events.push(...hand.give({ do: "event", event: { id: "n", type: "note", bout: "a07", text: "x", to: "booth" } }));
    events.push(...hand.give({ do: "event", event: { id: "c", type: "close", bout: "a07", how: "fall", winner: "red" } }));
    events.push(...hand.give({ do: "event", event: { id: "b", type: "bout", bout: "a08" } }));
    const types = new Set(events.map(({ type }) => type));
    assert.deepEqual([...types].sort(), ["amend", "attack", "bout", "caution", "challenge", "clock",
        "close", "confirm", "note", "passivity", "position", "restart", "score", "stoppage", "void"]);
});

test("Greco-Roman is offered no holds below the waist, and no legs", () => {
    const hand = new Hand("greco-2026");
    hand.strike("KeyF KeyD");
    hand.strike("8");
    assert.equal(hand.strike("9").length, 0);
    const [first] = hand.strike("1");
    assert.equal(first.set.technique, "go_behind");
});

test("a stroke that means nothing changes nothing", () => {
    const hand = new Hand();
    assert.deepEqual(hand.strike("1 9 0 Delete Escape"), []);
    assert.deepEqual(hand.give({ do: "unheard_of" }), []);
    assert.deepEqual(hand.give({ do: "release", side: "red" }), []);
});

/* What always holds, on random strokes: nothing throws, ids are never used twice, a ref names an
 * event that went out earlier, and enough undos leave nothing standing. */
test("random strokes never break the grammar", () => {
    const codes = [...new Hand().field.keys(), ..."0123456789", "Space", "Enter", "End", "Backspace",
        "Delete", "Escape", "Up", "Down"];
    for (let seed = 1; seed <= 60; seed += 1) {
        let random = seed * 2654435761 % 4294967296;
        const next = (below) => {
            random = (random * 1664525 + 1013904223) % 4294967296;
            return Math.floor(random / 4294967296 * below);
        };
        const hand = new Hand(seed % 2 ? "freestyle-2022" : "greco-2026");
        for (let i = 0; i < 120; i += 1) {
            hand.press(codes[next(codes.length)]);
            hand.wait(next(3000));
            assert.ok(hand.read.sentence.length > 0, `seed ${seed}`);
        }
        checkLog(hand, seed);
        for (let i = 0; i < 200; i += 1) hand.press("Backspace");
        assert.deepEqual(hand.standing, [], `seed ${seed}`);
    }
});

function checkLog(hand, seed) {
    const earlier = new Set();
    for (const { event } of hand.own) {
        const refs = [event.ref, event.attack, event.of, event.before, event.set?.attack];
        for (const ref of refs.filter(Boolean)) assert.ok(earlier.has(ref), `seed ${seed}: ${ref}`);
        assert.ok(!earlier.has(event.id), `seed ${seed}: id twice`);
        earlier.add(event.id);
    }
}
