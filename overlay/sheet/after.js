/* The sheet of a bout after it: the result, the line of the bout, its points and attacks in tables,
 * and why the winner has won, step by step, with where the rule stands. */

import { make } from "../lib/dom.js";
import { clockText, timeElapsed } from "../lib/clock.js";
import { lineRows } from "../lib/bout-line.js";
import { nameElement } from "../lib/names.js";
import { howText, lineSentence, markText } from "../lib/sentences.js";
import { SIDES } from "../lib/standing.js";
import { attemptRows, periodRows, traceOf } from "./facts.js";
import { footing, heading, nameLine, part, sign, tableOf, teamText } from "./parts.js";
import { attemptText, criterionFigure, criterionText, matText, numberText, ofText, resultText, whatText, withTechniques } from "./texts.js";
import "../elements/bout-line.js";

const LINE_WIDTH = 670; /* px at 96 a inch: fits between the margins of A4 and of Letter */
const LINE_UNIT = 9;

/** @param {{recap: object, edition?: object, stamp: string}} data
 *  @param {import("../lib/words.js").Say} say
 *  @returns {Node[]} */
export function afterSheet({ recap, edition, stamp }, say) {
    const view = recap.bout;
    const { details } = view;
    return [
        heading({
            title: [numberText(details, say), matText(details, say), whatText(details, say)]
                .filter(Boolean)
                .join(" · ") || say("sheet.after"),
            lines: [[say("sheet.rules", details), stamp].filter(Boolean).join(" · ")],
        }),
        resultPart(view, say),
        make("div", { class: "board" }, ...SIDES.map((side) => boardRow(side, view, say))),
        linePart(view, say),
        make("div", { class: "pair" }, periodsTable(recap, say), tracePart(recap, edition, say)),
        ...attemptsPart(recap, say),
        ...marksPart(view, say),
        footing(say("sheet.decides"), edition && say("sheet.edition", sourceOf(edition))),
    ].filter(Boolean);
}

const sourceOf = ({ name, source }) => ({ name, source: [source].flat().join("; ") });

function resultPart(view, say) {
    const { result } = view;
    if (!result) return make("p", { class: "result words" }, say("sheet.no_result"));
    const { red, blue } = result.class_points;
    return make(
        "div",
        { class: "result words" },
        make("p", { class: "headline" }, resultText(view, say)),
        make("p", {}, say("sheet.result_more", {
            code: result.code ?? howText(result, say),
            red,
            blue,
            period: result.period,
            time: timeElapsed(result.time_ms),
        })),
        result.unconfirmed ? make("p", {}, say("sheet.unconfirmed")) : "",
    );
}

function boardRow(side, view, say) {
    const who = view.details[side];
    const row = make("div", { class: "row", "data-side": side }, nameLine(side, who, say));
    row.append(make("p", { class: "team words" }, teamText(who)));
    row.append(make("p", { class: "points" }, String(view.score[side])));
    return row;
}

function linePart(view, say) {
    const line = make("bout-line", { unit: String(LINE_UNIT), width: String(LINE_WIDTH), traces: "" });
    line.show(view, Date.now(), lineSentence(view, say));
    return make("figure", { class: "line" }, line, make("figcaption", { class: "words" }, say("sheet.line_how")));
}

const sideHeads = (say) => SIDES.map((side) => say(`Side.${side}`));

function periodsTable(recap, say) {
    const rows = periodRows(recap).map(({ period, red, blue }) => [
        period ? say("period.place", { period }) : say("sheet.all"),
        String(red),
        String(blue),
    ]);
    return tableOf({
        caption: say("sheet.by_period"),
        columns: [say("sheet.period"), ...sideHeads(say)],
        rows,
        name: "figures",
    });
}

/* What ended it first, then each criterion down to the one that decides. */
function tracePart(recap, edition, say) {
    const { ended, steps, source, differs } = traceOf(recap);
    const words = [
        ended && say("sheet.ended", { how: howText(ended, say) }),
        ended?.margin && say("sheet.margin", ended),
        ended && !steps.length && say("sheet.whatever"),
        differs && say("sheet.differs", { name: recap.bout.details[differs].name }),
        source && say("sheet.source", { source, name: recap.why.rules }),
        ended && !source && edition && say("sheet.see_edition", edition),
    ];
    const table = steps.length > 0 && tableOf({
        caption: say("sheet.step_by_step"),
        columns: [say("sheet.criterion"), ...sideHeads(say), say("sheet.for")],
        rows: steps.map((step) => stepRow(step, say)),
        name: "figures steps",
    });
    const texts = words.filter(Boolean).map((text) => make("p", {}, text));
    return part(say("sheet.why"), table || undefined, ...texts);
}

const stepRow = (step, say) => [
    criterionText(step.by, say),
    ...SIDES.map((side) => criterionFigure(step, side, say)),
    step.side ? sign(step.side, say) : say("sheet.level"),
];

function attemptsPart(recap, say) {
    const rows = attemptRows(recap).map((row) => [
        attemptText(row, say),
        ...SIDES.map((side) => ofText(row[side], say)),
    ]);
    if (!rows.length) return [];
    return [tableOf({
        caption: say("sheet.attacks"),
        columns: [say("sheet.technique"), ...sideHeads(say)],
        rows,
        name: "figures",
    })];
}

/* The line in words: for who reads it later, and for who doesn't see it. */
function marksPart(view, say) {
    const rows = lineRows(view).map((row) => [
        say("sheet.moment", { period: row.period, time: clockText(row) }),
        [sign(row.mark.side, say), " ", nameElement(shortOf(view.details[row.mark.side]))],
        markText(row, withTechniques(say)),
        row.mark.points === undefined ? "" : String(row.mark.points),
    ]);
    if (!rows.length) return [];
    return [tableOf({
        caption: say("sheet.marks"),
        columns: [say("sheet.left"), say("sheet.side"), say("sheet.what"), say("sheet.points_head")],
        rows,
        name: "marks",
    })];
}

const shortOf = ({ name, family }) => ({ name: family ?? name });
