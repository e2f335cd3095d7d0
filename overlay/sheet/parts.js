/* What the sheets are built of. Text is always text (lib/dom.js). */

import { make } from "../lib/dom.js";
import { nameElement } from "../lib/names.js";
import { spelled } from "../elements/spelled-name.js";
import "../elements/side-sign.js";

/** A side's sign: a square for red, a disc for blue; read as its word.
 *  @param {"red" | "blue"} side */
export const sign = (side, say) => make("side-sign", { side, label: say(`Side.${side}`) });

/** The first lines of a sheet: what it is of, when, and as at what time. */
export function heading({ title, lines }) {
    return make(
        "header",
        { class: "heading" },
        make("h1", { class: "words" }, title),
        ...lines.filter(Boolean).map((line) => make("p", { class: "words" }, line)),
    );
}

/** Some lines to write on. */
export function ruled(count) {
    const lines = Array.from({ length: count }, () => make("div"));
    return make("div", { class: "ruled", "aria-hidden": "true" }, ...lines);
}

/** A part of a sheet that stays together, under its name.
 *  @param {string} title
 *  @param {...Node} content  nothing: no part either */
export function part(title, ...content) {
    const given = content.filter(Boolean);
    if (!given.length) return undefined;
    return make("section", { class: "part" }, make("h2", { class: "words" }, title), ...given);
}

/** A list of short texts; nothing for none. */
export function list(texts) {
    if (!texts.length) return undefined;
    const items = texts.map((text) => make("li", {}, make("bdi", {}, text)));
    return make("ul", { class: "list words" }, ...items);
}

/** How a name is said, and who has checked that.
 *  @param {{say?: string, ipa?: string, checked_by?: string}} entry */
export function spokenParts({ say: respelling, ipa, checked_by }, say) {
    const checked = checked_by
        ? say("sheet.checked_by", { name: checked_by })
        : say("sheet.not_checked");
    return [
        make("p", { class: "said words" }, spelled(respelling, say("sheet.not_said"))),
        ipa && make("p", { class: "ipa words" }, ipa),
        make("p", { class: checked_by ? "checked words" : "checked missing words" }, checked),
    ].filter(Boolean);
}

/** A name on one line, with its sign, seed and team.
 *  @param {{name: string, family?: string, team?: string, noc?: string, seed?: number}} who */
export function nameLine(side, who, say) {
    const seed = who.seed ? make("span", { class: "seed" }, say("sheet.seed", who)) : "";
    return make("p", { class: "name" }, sign(side, say), " ", nameElement(who), seed);
}

export const teamText = ({ team, noc }) => [team, noc].filter(Boolean).join(", ");

/** A table: its columns' names, and rows of cells, texts or nodes.
 *  @param {{caption: string, columns: string[], rows: (string | Node)[][], name?: string}} table
 *      the first cell of a row is its head, if anything stands in it */
export function tableOf({ caption, columns, rows, name = "" }) {
    const head = make("tr", {}, ...columns.map((text) => make("th", { scope: "col" }, text)));
    const body = rows.map((cells) => {
        const [first, ...rest] = cells;
        return make(
            "tr",
            {},
            first === "" ? make("td") : make("th", { scope: "row" }, first),
            ...rest.map((cell) => make("td", {}, ...[cell].flat())),
        );
    });
    return make(
        "table",
        { class: `words ${name}`.trim() },
        make("caption", {}, caption),
        make("thead", {}, head),
        make("tbody", {}, ...body),
    );
}

/** The last lines: what decides, and where it comes from. */
export function footing(...lines) {
    const texts = lines.filter(Boolean).map((line) => make("p", {}, line));
    return make("footer", { class: "footing words" }, ...texts);
}
