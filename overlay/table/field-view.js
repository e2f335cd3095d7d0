/* The field of action keys as it is drawn and tapped. It takes the colour of the side chosen, since
 * every key is both sides'. */

import { make, setText } from "../elements/working-head.js";
import { keyLabel } from "./field.js";
import { keyNote, whistleKey } from "./key-notes.js";
import { labelOf } from "./readback.js";

/** @param {HTMLElement} place
 *  @param {(input: object) => void} give */
export class FieldView {
    #place;
    #give;
    #keys;
    #nodes = new Map();

    constructor(place, give) {
        this.#place = place;
        this.#give = give;
    }

    /** @param {Map<string, object>} field
     *  @param {object} strokes
     *  @param {object} context
     *  @param {string} layout */
    show(field, strokes, context, layout) {
        if (this.#keys !== field) this.#build(field, context);
        const { side } = strokes;
        this.#place.dataset.side = side ?? "";
        this.#place.classList.toggle("asks-side", Boolean(strokes.action) && !side);
        for (const [code, { node, letter, note }] of this.#nodes) {
            const key = field.get(code);
            setText(letter, keyLabel(code, layout));
            setText(note, keyNote(key, side, context));
            const chosen = key.kind === "side" ? key.side === side : strokes.action?.code === code;
            node.classList.toggle("chosen", chosen);
            if (key.kind === "side") node.setAttribute("aria-pressed", String(chosen));
        }
    }

    #build(field, { say }) {
        this.#keys = field;
        this.#nodes.clear();
        this.#place.setAttribute("aria-label", say("table.field"));
        this.#place.replaceChildren(...[...field.values()].map((key) => this.#buildKey(key, say)));
    }

    #buildKey(key, say) {
        const node = make("button", `key ${key.kind}`);
        node.type = "button";
        if (key.side) node.dataset.side = key.side;
        placeKey(node, key);
        const letter = make("kbd");
        const value = make("span", "value", key.values ? String(key.values[0]) : "");
        const label = make("span", "label", say(`table.key.${labelOf(key)}`));
        const note = make("span", "note");
        node.append(letter, value);
        if (key.kind === "side") {
            const sign = document.createElement("side-sign");
            sign.setAttribute("side", key.side);
            node.append(sign);
        }
        node.append(label, note);
        node.addEventListener("click", () => this.#give(key.kind === "side"
            ? { do: "side", side: key.side } : { do: "action", key }));
        this.#nodes.set(key.code, { node, letter, note });
        return node;
    }
}

/** As on the keyboard; `half`: each of its rows in two, left hand above right, for a narrow page. */
function placeKey(node, { row, column }) {
    const place = {
        row: row + 1, column: column + 1,
        "half-row": 2 * row + (column < 5 ? 1 : 2), "half-column": (column % 5) + 1,
    };
    for (const [name, value] of Object.entries(place)) node.style.setProperty(`--${name}`, value);
}

const CLOCK_KEYS = [
    { input: { do: "whistle" }, key: "Space", name: "whistle" },
    { input: { do: "nudge", by_ms: 1000 }, key: "←", name: "second_less" },
    { input: { do: "nudge", by_ms: -1000 }, key: "→", name: "second_more" },
    { input: { do: "horn" }, key: "End", name: "horn" },
];

/** The whistle, the horn and the seconds. */
export class ClockKeys {
    #nodes;

    constructor(place, give, say) {
        place.setAttribute("aria-label", say("table.clock_keys"));
        this.#nodes = CLOCK_KEYS.map(({ input, key, name }) => {
            const node = make("button", `key ${name}`);
            node.type = "button";
            const label = make("span", "label", say(`table.key.${name}`));
            const note = make("span", "note");
            node.append(make("kbd", "", key), label, note);
            node.addEventListener("click", () => give(input));
            place.append(node);
            return { label, note };
        });
    }

    show(context) {
        const [whistle] = this.#nodes;
        const { label, note } = whistleKey(context);
        setText(whistle.label, label);
        setText(whistle.note, note);
    }
}
