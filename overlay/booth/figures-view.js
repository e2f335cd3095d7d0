/* The attacks in figures: a line for each side beside the bout line, and the whole by kind and by leg
 * in a break. */

import { make, setText } from "../elements/working-head.js";
import { TECHNIQUES } from "../lib/techniques.js";
import { nameOf, sentenceCase } from "../table/readback.js";
import { UNNAMED } from "../table/options.js";
import { kindsOf, legRows, legsOf, totalOf } from "./tallies.js";

/** @param {HTMLElement} place
 *  @param {object} view
 *  @param {Function} say */
export function showTallies(place, view, say) {
    const shown = JSON.stringify(view.attacks ?? {});
    if (place.shown === shown) return;
    place.shown = shown;
    place.replaceChildren(...["red", "blue"].map((side) => {
        const row = make("p", "tally");
        const sign = document.createElement("side-sign");
        sign.setAttribute("side", side);
        row.append(sign, make("span", "", tallyText(view.attacks?.[side], say)));
        return row;
    }));
}

function tallyText(attacks, say) {
    const total = totalOf(attacks);
    if (!total) return say("booth.attacks_none");
    return [say("booth.tally_attacks", total), ...legsOf(attacks).map((row) => say("booth.leg", row))].join(" · ");
}

/** @param {HTMLTableElement} table
 *  @param {number} most how many kinds there is room for */
export function showFigures(table, view, say, most) {
    const shown = JSON.stringify([view.attacks ?? {}, most]);
    if (table.shown === shown) return;
    table.shown = shown;
    const rows = [
        { ...pair(view, totalOf), label: say("booth.attacks"), whole: true },
        ...kindsOf(view, most).map((row) => ({ ...row, label: kindText(row.kind, say) })),
        ...legRows(view).map((row) => ({ ...row, label: say("booth.leg_row", row), leg: true })),
    ];
    setText(table.caption, say("booth.scored_of_tried"));
    table.tBodies[0].replaceChildren(...rows.map((row) => figureRow(row, say)));
}

const pair = ({ attacks }, of) => ({ red: of(attacks?.red), blue: of(attacks?.blue) });

function kindText(kind, say) {
    if (kind === undefined) return say("booth.others");
    const name = kind === UNNAMED ? say("table.attack") : nameOf("technique", kind, { techniques: TECHNIQUES, say });
    return sentenceCase(name, say.lang);
}

function figureRow({ label, red, blue, whole, leg }, say) {
    const row = make("tr", [whole && "whole", leg && "leg"].filter(Boolean).join(" "));
    const head = make("th", "", label);
    head.scope = "row";
    const cell = (tally, side) => {
        const node = make("td", "", tally ? say("booth.tally", tally) : "");
        node.dataset.side = side;
        return node;
    };
    row.append(cell(red, "red"), head, cell(blue, "blue"));
    return row;
}
