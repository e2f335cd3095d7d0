/**
 * The one field of action keys: which physical key does what in this edition.
 * The index fingers' keys choose the side (F red, J blue); every other key is an action and is the
 * same for both sides. Keys are named by their place on the keyboard (`code`), never by the letter
 * that a layout prints there.
 *
 * Scores come from the edition's `actions`, so that an edition with other values or other actions
 * has its own field; what has no usual place takes the next spare key. Pure.
 */

/** @typedef {"side"|"score"|"attack"|"position"|"stoppage"|"passivity"|"caution"|"challenge"|
 *   "note"|"result"|"more"} Kind */

/**
 * @typedef {object} Key
 * @property {string} code the key's place
 * @property {Kind} kind
 * @property {number} row 0 to 2, top to bottom; 3: spare keys that have no place in the drawing
 * @property {number} column 0 to 9
 * @property {"red"|"blue"} [side] of a side key
 * @property {string} [action] of a score, as the edition names it
 * @property {number[]} [values] of a score: the usual value first, then what the same key struck
 *   again makes of it
 * @property {string} [outcome] of an attack
 * @property {string} [position] of a position
 * @property {string} [reason] of a caution
 */

export const ROWS = Object.freeze([
    "KeyQ KeyW KeyE KeyR KeyT KeyY KeyU KeyI KeyO KeyP",
    "KeyA KeyS KeyD KeyF KeyG KeyH KeyJ KeyK KeyL Semicolon",
    "KeyZ KeyX KeyC KeyV KeyB KeyN KeyM Comma Period Slash",
    "BracketLeft BracketRight Quote Backslash Minus",
].map((row) => Object.freeze(row.split(" "))));

export const SIDE_CODES = Object.freeze({ KeyF: "red", KeyJ: "blue" });

const ACTION_CODES = {
    feet_to_danger: "KeyA", throw: "KeyS", takedown: "KeyD", counter_exposure: "KeyG",
    lift: "KeyH", exposure: "KeyK", step_out: "KeyL", reversal: "Semicolon", injury_stop: "KeyP",
};
const OUTCOME_CODES = {
    out: "KeyQ", stalemate: "KeyW", stopped: "KeyE", open: "KeyR", countered: "KeyT",
    slipped: "KeyY",
};
const REASON_CODES = {
    fleeing_mat: "KeyC", fleeing_hold: "KeyV", illegal_hold: "KeyB", fleeing_in_danger: "KeyN",
    brutality: "KeyM",
};
const FIXED = [
    { code: "KeyU", kind: "position", position: "par_terre" },
    { code: "KeyI", kind: "position", position: "standing" },
    { code: "KeyO", kind: "stoppage" },
    { code: "KeyZ", kind: "challenge" },
    { code: "KeyX", kind: "passivity" },
    { code: "Comma", kind: "note" },
    { code: "Period", kind: "result" },
    { code: "Slash", kind: "more" },
];

/** The actions of an edition with the values each can have, ascending.
 *  @returns {Map<string, number[]>} in the order of the edition, lower values first */
export function actionValues(edition) {
    const found = new Map();
    const values = Object.keys(edition.actions).map(Number).sort((one, other) => one - other);
    for (const value of values) {
        for (const action of edition.actions[String(value)]) {
            found.set(action, [...(found.get(action) ?? []), value]);
        }
    }
    return found;
}

/** The order in which one key goes through an action's values: of three it starts with the middle
 *  one (a throw is a 4 far more often than a 2 or a 5; common practice, no source), goes up, and
 *  then begins again at the bottom. */
export function valuesByUse(ascending) {
    const start = ascending.length > 2 ? 1 : 0;
    return [...ascending.slice(start), ...ascending.slice(0, start)];
}

function place(code) {
    for (let row = 0; row < ROWS.length; row += 1) {
        const column = ROWS[row].indexOf(code);
        if (column >= 0) return { row, column };
    }
    throw new RangeError(`no place for the key ${code}`);
}

/** The reasons of a caution that an edition has a price for, the usual ones first: their order in its
 *  file means nothing. */
export function reasonsOf(edition) {
    const priced = Object.keys(edition.usual_points?.caution ?? {});
    const usual = Object.keys(REASON_CODES).filter((reason) => priced.includes(reason));
    return [...usual, ...priced.filter((reason) => !usual.includes(reason))];
}

/** All keys of the field, in the order of their places.
 *  @param {object} edition as `GET /api/v1/rules` gives it
 *  @returns {Key[]} */
export function fieldOf(edition) {
    const keys = new Map();
    const put = (key) => keys.set(key.code, { ...key, ...place(key.code) });
    for (const [code, side] of Object.entries(SIDE_CODES)) put({ code, kind: "side", side });
    for (const [outcome, code] of Object.entries(OUTCOME_CODES)) {
        put({ code, kind: "attack", outcome });
    }
    for (const key of FIXED) put(key);
    const unplaced = [];
    for (const reason of reasonsOf(edition)) {
        const key = { kind: "caution", reason };
        if (REASON_CODES[reason]) put({ code: REASON_CODES[reason], ...key });
        else unplaced.push(key);
    }
    const actions = actionValues(edition);
    for (const [action, ascending] of actions) {
        const key = { kind: "score", action, values: valuesByUse(ascending) };
        if (ACTION_CODES[action]) put({ code: ACTION_CODES[action], ...key });
        else unplaced.push(key);
    }
    const spare = ROWS.flat().filter((code) => !keys.has(code));
    unplaced.slice(0, spare.length).forEach((key, i) => put({ code: spare[i], ...key }));
    return [...keys.values()].sort((one, other) =>
        one.row - other.row || one.column - other.column);
}

/** What each place prints in a layout that is not the one the codes are named after. */
export const LAYOUTS = Object.freeze({
    us: {},
    german: {
        KeyY: "Z", KeyZ: "Y", Semicolon: "Ö", Slash: "-", BracketLeft: "Ü", BracketRight: "+",
        Quote: "Ä", Backslash: "#", Minus: "ß",
    },
    french: {
        KeyQ: "A", KeyW: "Z", KeyA: "Q", KeyZ: "W", KeyM: ",", Semicolon: "M", Comma: ";",
        Period: ":", Slash: "!", BracketLeft: "^", BracketRight: "$", Quote: "ù", Backslash: "*",
        Minus: ")",
    },
});

const MARKS = {
    Semicolon: ";", Comma: ",", Period: ".", Slash: "/", BracketLeft: "[", BracketRight: "]",
    Quote: "'", Backslash: "\\", Minus: "-",
};

/** The letter to draw on a key.
 *  @param {string} code
 *  @param {keyof LAYOUTS} [layout] */
export function keyLabel(code, layout = "us") {
    const printed = LAYOUTS[layout]?.[code];
    if (printed) return printed;
    return MARKS[code] ?? code.replace(/^(Key|Digit)/, "");
}
