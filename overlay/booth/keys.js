/**
 * What a key pressed means in the booth. The cards have their own keys in three columns of the left
 * hand (1 Q A, 2 W S, 3 E D: used, pin, away); under each of them the key that writes a note there
 * (Z X C: red, blue, the bout). G has seen what the gallery said, T answers. Who works alone keys
 * with six more; while a side is chosen the letters are the table's actions. Pure.
 */

export const CARD_KEYS = Object.freeze({
    "1": { used: "Digit1", pin: "KeyQ", away: "KeyA" },
    "2": { used: "Digit2", pin: "KeyW", away: "KeyS" },
    "3": { used: "Digit3", pin: "KeyE", away: "KeyD" },
});

const CARD_INPUTS = new Map(Object.entries(CARD_KEYS).flatMap(([place, keys]) =>
    Object.entries(keys).map(([what, code]) => [code, { card: what, place }])));

export const WRITE_KEYS = Object.freeze({ red: "KeyZ", blue: "KeyX", bout: "KeyC", gallery: "KeyT" });
export const SEEN_KEY = "KeyG";

const OTHER_INPUTS = new Map([["Escape", { clear: true }], ["KeyN", { note: true }], [SEEN_KEY, { seen: true }],
    ...Object.entries(WRITE_KEYS).map(([write, code]) => [code, { write }])]);

const STRIP_INPUTS = new Map([
    ["Space", { do: "whistle" }],
    ["Enter", { do: "confirm" }],
    ["NumpadEnter", { do: "confirm" }],
    ["Backspace", { do: "undo" }],
]);

/** The actions that the strip offers once a side is chosen, by their places on the table's field. */
export const STRIP_ACTIONS = ["KeyD", "KeyK", "KeyL", "Semicolon", "KeyS", "KeyA"];

/** @param {{code: string, ctrlKey?: boolean, altKey?: boolean, metaKey?: boolean, shiftKey?: boolean,
 *   repeat?: boolean}} press
 *  @param {{keying: boolean, side?: string, field: Map<string, object>}} page `keying`: this person
 *      keys too; `side`: the one chosen
 *  @returns {object|undefined} `{card, place}`, `{clear}`, `{note}` (unfold or fold it),
 *      `{write}` (to whom or on whom), `{seen}`, `{nothing}` or an input of strokes.js */
export function boothInput(press, { keying, side, field }) {
    const { code, ctrlKey, altKey, metaKey, repeat } = press;
    if (ctrlKey || altKey || metaKey) return undefined;
    const key = keying ? field.get(code) : undefined;
    const input = keying ? keyingInput(press, key, side) : undefined;
    const found = input ?? CARD_INPUTS.get(code) ?? OTHER_INPUTS.get(code);
    return found && repeat ? { nothing: true } : found;
}

function keyingInput({ code, shiftKey }, key, side) {
    if (shiftKey && code === "Backspace") return { do: "redo" };
    if (key?.kind === "side") return { do: "side", side: key.side, held: true };
    if (side && code === "Escape") return { do: "escape" };
    if (side && key?.kind === "score") return { do: "action", key };
    return STRIP_INPUTS.get(code);
}
