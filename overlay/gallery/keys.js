/* What a key pressed means in the gallery, by its place on the keyboard. The digits choose, one key
 * takes, one clears. Letters are those that stand at the same place on US, German and French
 * keyboards, so that the letter drawn on the page is the one on the key. Pure. */

/** The panels in the order of the digits 1 … 9, 0. */
export const PANELS = [
    "who",
    "attacks",
    "why",
    "needs",
    "result",
    "mats",
    "order",
    "results",
    "text",
    "back",
];

/** The sheets, each with its key. */
export const SHEETS = {
    rules: "KeyR",
    delay: "KeyD",
    look: "KeyK",
    people: "KeyP",
    outputs: "KeyU",
    booth: "KeyT",
};

const INPUTS = {
    Enter: { take: true },
    NumpadEnter: { take: true },
    Escape: { clear: true },
    Backspace: { panelOff: true },
    KeyL: { line: true },
    KeyF: { hold: "freeze" },
    KeyH: { hold: "hide" },
    KeyS: { side: true },
    KeyG: { seen: true },
    ...Object.fromEntries(Object.entries(SHEETS).map(([sheet, code]) => [code, { sheet }])),
};

/** @param {{code: string, ctrlKey?: boolean, altKey?: boolean, metaKey?: boolean, repeat?: boolean}}
 *      press
 *  @returns {object | undefined} undefined: the press is the browser's */
export function galleryInput({ code, ctrlKey, altKey, metaKey, repeat }) {
    if (ctrlKey || altKey || metaKey) return undefined;
    const digit = /^(?:Digit|Numpad)([0-9])$/.exec(code)?.[1];
    const input = digit ? { prepare: PANELS[(Number(digit) + 9) % 10] } : INPUTS[code];
    return input && repeat ? { nothing: true } : input;
}

/** The digit that stands for a panel. */
export const digitOf = (panel) => String((PANELS.indexOf(panel) + 1) % 10);

/** The letter that stands for a sheet. */
export const letterOf = (sheet) => SHEETS[sheet].slice(-1);

const PRESSES = ["Space", "Enter", "NumpadEnter"];

/** Whether a press belongs to what has the focus, and not to the picture: all of it to a field where
 *  text is written, figures to a field of figures, and to a list or a button only what presses it.
 *  Esc never does: the one key that clears must always work.
 *  @param {{code: string}} press
 *  @param {{tag: string, type?: string, reached: boolean}} focus `reached`: the focus is shown */
export function belongsToFocus({ code }, { tag, type, reached }) {
    if (code === "Escape") return false;
    if (tag === "INPUT" && type === "number") return !/^Key[A-Z]$/.test(code);
    if (tag === "INPUT" || tag === "TEXTAREA") return true;
    if (tag === "SELECT") return PRESSES.includes(code);
    return reached && ["BUTTON", "A"].includes(tag) && PRESSES.includes(code);
}
