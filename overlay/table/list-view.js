/* The list of what was keyed, newest first, everybody's. Arrows choose from anywhere on the page;
 * the list itself is one stop of the tab key. */

import { keepInStep } from "../elements/svg.js";
import { make, setText } from "../elements/working-head.js";
import { listed } from "./ledger.js";
import { listLine } from "./readback.js";

const ROWS_SHOWN = 400; // a bout has fewer; the daemon has them all

const ROW_KEYS = [
    { keys: "↑↓", name: "choose" },
    { keys: "Del", name: "take_out", input: { do: "take_out" } },
    { keys: "F2", name: "change", input: { do: "open", what: "change" } },
    { keys: "Ins", name: "add", input: { do: "open", what: "late" } },
];

export class ListView {
    #rows;
    #give;
    #empty;
    #takeOut;
    #chosen;

    /** @param {HTMLElement} place with a header, the list and a footer for its keys */
    constructor(place, give, say) {
        this.#give = give;
        this.#rows = place.querySelector("ol");
        place.querySelector("h2").textContent = say("table.list");
        place.querySelector("header p").textContent = say("table.list_columns");
        this.#rows.setAttribute("aria-label", say("table.list"));
        this.#empty = make("p", "quiet nothing", say("table.list_empty"));
        place.querySelector("header").after(this.#empty);
        place.querySelector("footer").append(...ROW_KEYS.map((one) => this.#rowKey(one, say)));
    }

    #rowKey({ keys, name, input }, say) {
        const node = make(input ? "button" : "span", "row-key");
        const label = make("span", "", say(`table.list_keys.${name}`));
        node.append(make("kbd", "", keys), label);
        if (!input) return node;
        node.type = "button";
        node.addEventListener("click", () => this.#give(input));
        if (name === "take_out") this.#takeOut = label;
        return node;
    }

    show(strokes, context) {
        const { say } = context;
        const rows = listed(context.rows).slice(0, ROWS_SHOWN);
        this.#empty.hidden = rows.length > 0;
        this.#rows.hidden = rows.length === 0; // a list box has at least one option
        keepInStep(this.#rows, rows, ({ id }) => id, ({ id }) => this.#makeRow(id), (node, row) =>
            showRow(node, row, strokes.chosen === row.id, context));
        const chosen = rows.find(({ id }) => id === strokes.chosen);
        const again = chosen && !chosen.stands;
        setText(this.#takeOut, say(`table.list_keys.${again ? "bring_back" : "take_out"}`));
        this.#follow(strokes.chosen);
    }

    #makeRow(id) {
        const node = make("li");
        node.id = `row-${id}`;
        node.setAttribute("role", "option");
        node.append(...["when", "sign", "what", "points"].map((part) => make("span", part)));
        node.addEventListener("click", () => this.#give({ do: "select", id }));
        return node;
    }

    /** The chosen row comes into view; without one, the newest. */
    #follow(chosen) {
        if (this.#chosen === chosen) return;
        this.#chosen = chosen;
        const node = chosen && document.getElementById(`row-${chosen}`);
        if (node) {
            this.#rows.setAttribute("aria-activedescendant", node.id);
            node.scrollIntoView({ block: "nearest" });
        } else {
            this.#rows.removeAttribute("aria-activedescendant");
            this.#rows.scrollTop = 0;
        }
    }
}

function showRow(node, row, chosen, context) {
    const { say } = context;
    const line = listLine(row, context);
    const shown = JSON.stringify([line, chosen]);
    if (node.shown === shown) return;
    node.shown = shown;
    const [when, sign, what, points] = node.children;
    setText(when, line.when);
    showSign(sign, line.side);
    what.replaceChildren(make("span", "text", line.text), ...correction(line, say),
        ...line.states.map((state) => make("span", "state", state)));
    setText(points, line.points === undefined ? "" : String(line.points));
    points.dataset.side = line.receiver ?? "";
    points.classList.toggle("open", line.open);
    node.classList.toggle("out", !line.stands);
    node.classList.toggle("open", line.open);
    node.classList.toggle("thin", line.thin);
    node.classList.toggle("scores", line.points !== undefined);
    node.setAttribute("aria-selected", String(chosen));
}

function showSign(place, side) {
    if (!side) return place.replaceChildren();
    if (place.firstChild?.getAttribute("side") === side) return undefined;
    const sign = document.createElement("side-sign");
    sign.setAttribute("side", side);
    return place.replaceChildren(sign);
}

/** "corrected: 4 is now 2", the old value struck through. */
function correction({ was, points }, say) {
    if (was === undefined) return [];
    const node = make("span", "state", `${say("table.state.corrected")} `);
    node.append(make("s", "", String(was)), ` ${say("table.state.is_now", { points })}`);
    return [node];
}
