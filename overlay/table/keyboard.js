/**
 * What a key pressed means as an input of the grammar (strokes.js). By its place on the keyboard,
 * so that every layout has the same hands. Pure.
 */

const FIXED = {
    Space: { do: "whistle" },
    Enter: { do: "confirm" },
    NumpadEnter: { do: "confirm" },
    Backspace: { do: "undo" },
    Escape: { do: "escape" },
    Delete: { do: "take_out" },
    End: { do: "horn" },
    ArrowUp: { do: "move", by: -1 },
    ArrowDown: { do: "move", by: 1 },
    ArrowLeft: { do: "nudge", by_ms: 1000 }, // a second less is left
    ArrowRight: { do: "nudge", by_ms: -1000 },
    F2: { do: "open", what: "change" },
    Insert: { do: "open", what: "late" },
};

const REPEATS = new Set(["ArrowUp", "ArrowDown", "ArrowLeft", "ArrowRight"]);

/** @param {{code: string, shiftKey?: boolean, ctrlKey?: boolean, altKey?: boolean,
 *   metaKey?: boolean, repeat?: boolean}} press
 *  @param {Map<string, import("./field.js").Key>} field the keys by their place
 *  @returns {object|undefined} undefined: the press is the browser's */
export function inputOf(press, field) {
    const { code, shiftKey, ctrlKey, altKey, metaKey, repeat } = press;
    if (ctrlKey || altKey || metaKey) return undefined;
    if (repeat && !REPEATS.has(code)) return FIXED[code] || field.has(code) ? { do: "nothing" } : undefined;
    if (shiftKey && code === "Backspace") return { do: "redo" };
    if (FIXED[code]) return FIXED[code];
    const digit = /^(?:Digit|Numpad)([0-9])$/.exec(code);
    if (digit) return { do: "choice", digit: digit[1] };
    const key = field.get(code);
    if (key?.kind === "side") return { do: "side", side: key.side, held: true };
    return key && { do: "action", key };
}

/** A key let go: only the sides' keys mean anything. */
export function releaseOf({ code }, field) {
    const key = field.get(code);
    return key?.kind === "side" ? { do: "release", side: key.side } : undefined;
}

/** Whether a press belongs to what has the focus: to a field of a form, or, for the keys that press
 *  a button, to a button that was reached with the keyboard.
 *  @param {{code: string}} press
 *  @param {{tag: string, reached: boolean}} focus `reached`: the focus is shown */
export function belongsToFocus({ code }, { tag, reached }) {
    if (["INPUT", "TEXTAREA", "SELECT", "OPTION"].includes(tag)) return true;
    return reached && ["BUTTON", "A", "SUMMARY"].includes(tag) && (code === "Space" || code === "Enter");
}
