/* Draws a panel: new parts for a new panel, texts alone for what changes within it. */

import { make, setText } from "../lib/dom.js";

/** @param {HTMLElement} place
 *  @param {import("./panel.js").Panel} panel
 *  @param {boolean} fresh  another panel than before */
export function drawPanel(place, panel, fresh) {
    const shape = JSON.stringify([panel.form, panel.rows?.map(rowShape), panel.lines?.length]);
    if (fresh || place.shape !== shape) {
        place.shape = shape;
        place.dataset.form = panel.form;
        place.replaceChildren(...partsOf(panel));
    }
    fill(place, panel);
}

const rowShape = ({ red, blue, ...more }) => [cellShape(red), cellShape(blue), more.strong, more.name];
const cellShape = (cell) => cell && [cell.filled, cell.open];

function partsOf(panel) {
    return [
        make("p", { class: "heading words" }),
        panel.rows && make("div", { class: "grid" }, ...panel.rows.map(rowParts)),
        panel.lines && make("ol", { class: "lines" }, ...panel.lines.map(lineParts)),
        panel.text !== undefined && make("p", { class: "text words" }),
        panel.foot && make("p", { class: "foot words" }),
    ].filter(Boolean);
}

function rowParts({ red, blue, strong, name, signs }) {
    const row = make(
        "div",
        { class: ["row", strong && "strong", name && "names"].filter(Boolean).join(" ") },
        cellParts("red", red, signs),
        make("span", { class: "word words" }),
        cellParts("blue", blue, signs),
    );
    return row;
}

/* Red's signs are squares and stand left of the figure, blue's are round and stand right of it:
 * filled what scored, open what did not. */
function cellParts(side, cell, signed) {
    const signs = signed && cell ? [make("side-sign", { side })] : [];
    for (let i = 0; i < (cell?.open ?? 0); i++) signs.push(make("i", { class: "try" }));
    for (let i = 0; i < (cell?.filled ?? 0); i++) signs.push(make("i", { class: "try hit" }));
    if (side === "blue") signs.reverse();
    const figure = make("bdi", { class: "figure" });
    const marks = make("span", { class: "tries" }, ...signs);
    return make("span", { class: "cell", "data-side": side }, ...(side === "red" ? [marks, figure] : [figure, marks]));
}

function lineParts() {
    return make(
        "li",
        {},
        make("span", { class: "one" }),
        make("bdi", { class: "what" }),
        make("span", { class: "other words" }),
    );
}

function fill(place, panel) {
    const heading = place.querySelector(".heading");
    setText(heading, panel.title);
    heading.hidden = panel.title === "";
    panel.rows?.forEach((row, i) => {
        const node = place.querySelectorAll(".row")[i];
        setText(node.querySelector(".word"), row.word);
        for (const side of ["red", "blue"])
            setText(node.querySelector(`[data-side=${side}] .figure`), row[side]?.text ?? "");
    });
    panel.lines?.forEach((line, i) => {
        const node = place.querySelectorAll("li")[i];
        setText(node.querySelector(".one"), line.one ?? "");
        setText(node.querySelector(".what"), line.text);
        setText(node.querySelector(".other"), line.other ?? "");
    });
    const text = place.querySelector(".text");
    if (text) setText(text, panel.text);
    const foot = place.querySelector(".foot");
    if (foot) setText(foot, panel.foot);
}
