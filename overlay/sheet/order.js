/* The sheets of a mat's session and of a day: bouts in their order, with when they are expected, who
 * wrestles, and how that is said. */

import { make } from "../lib/dom.js";
import { boutTitle, scoreText } from "../lib/sentences.js";
import { SIDES } from "../lib/standing.js";
import { spelled } from "../elements/spelled-name.js";
import { expectedOf, inOrder, matsOf, slotsInOrder } from "./facts.js";
import { footing, heading, nameLine, part, sign, tableOf, teamText } from "./parts.js";
import { startText, waitsText, whatText } from "./texts.js";

/** @param {{day: object, mat: string, roster: Record<string, object>, working: boolean,
 *      stamp: string}} data
 *  @param {import("../lib/words.js").Say} say
 *  @returns {Node[]} */
export function matSheet(data, say) {
    const { day, mat, stamp } = data;
    const names = sessions(day, mat).map(({ name }) => name);
    return [
        heading({ title: [say("bout.mat", { mat }), ...names].join(" · "), lines: [stamp] }),
        boutsTable(say("sheet.order"), slotsInOrder(day, mat), data, say),
        footing(say("sheet.decides"), data.working ? say("sheet.not_public") : say("sheet.public")),
    ];
}

/** @param {object} data  as above, without `mat` */
export function daySheet(data, say) {
    const { day, stamp } = data;
    const running = sessions(day).map(({ name, mat, running: on }) =>
        [name, mat && say("bout.mat", { mat }), on && say("sheet.running")].filter(Boolean).join(", "),
    );
    const mats = matsOf(day).filter((mat) => slotsInOrder(day, mat).length);
    const loose = slotsInOrder(day).filter(({ mat }) => !mat);
    const bouts = mats.map((mat) =>
        boutsTable(say("bout.mat", { mat }), slotsInOrder(day, mat), data, say),
    );
    if (loose.length) bouts.push(boutsTable(say("sheet.no_mat"), loose, data, say));
    const weights = inOrder(day.weights).map((weight) => weightTable(weight, say));
    return [
        heading({ title: say("sheet.day"), lines: [...running, stamp] }),
        ...(bouts.length ? bouts : [make("p", { class: "words" }, say("sheet.no_bouts"))]),
        weights.length && part(say("sheet.weights"), make("div", { class: "weights" }, ...weights)),
        footing(say("sheet.decides"), data.working ? say("sheet.not_public") : say("sheet.public")),
    ].filter(Boolean);
}

/* Those of the mat, and those of all mats. */
const sessions = (day, mat) =>
    inOrder(day.sessions).filter((one) => mat === undefined || !one.mat || one.mat === mat);

function boutsTable(caption, slots, data, say) {
    if (!slots.length) return make("p", { class: "words" }, say("sheet.no_bouts"));
    return tableOf({
        caption,
        columns: [
            say("sheet.number"),
            say("sheet.expected"),
            say("sheet.what"),
            ...SIDES.map((side) => say(`Side.${side}`)),
            say("sheet.result"),
        ],
        rows: slots.map((slot) => boutRow(slot, data, say)),
        name: "bouts",
    });
}

function boutRow(slot, data, say) {
    const start = slot.result ? "" : startText(expectedOf(data.day, slot), slot, say);
    return [
        slot.number ?? "",
        start,
        whatText(slot, say),
        ...SIDES.map((side) => [whoCell(side, slot, data, say)]),
        resultCell(slot, say),
    ];
}

/* The name, how it is said, and the team, in three short lines. */
function whoCell(side, slot, { day, roster, working }, say) {
    const who = slot[side];
    if (!who?.name)
        return make("div", { class: "who" }, make("p", { class: "waits words" }, waitsText(day, who, say)));
    const entry = { ...roster[who.athlete], ...who };
    const checked = entry.say && !entry.checked_by ? ` ${say("sheet.unchecked")}` : "";
    const said = working
        ? [make("p", { class: "said words" }, spelled(entry.say, say("sheet.not_said")), checked)]
        : [];
    const team = make("p", { class: "team words" }, teamText(entry));
    const out = who.out ? [make("p", { class: "words" }, say("sheet.out"))] : [];
    return make("div", { class: "who" }, nameLine(side, entry, say), ...said, team, ...out);
}

/* Empty where there is none yet: there it is written. */
function resultCell({ result, state }, say) {
    if (state === "passed") return [say("sheet.passed")];
    if (!result) return [""];
    const { winner, score, code, unconfirmed } = result;
    return [
        ...(winner ? [sign(winner, say), " "] : []),
        [scoreText(score), code, unconfirmed && say("sheet.open")].filter(Boolean).join(" "),
    ];
}

function weightTable(weight, say) {
    const rows = inOrder(weight.ranks).map((rank) => [
        rank.place ? String(rank.place) : "",
        [make("bdi", {}, rank.name), rank.seed ? ` ${say("sheet.seed", rank)}` : ""],
        rank.team ?? "",
        String(rank.victories),
        String(rank.class_points),
    ]);
    const title = [boutTitle(weight, say), weight.age_group].filter(Boolean).join(", ");
    return tableOf({
        caption: weight.decided ? say("sheet.decided", { title }) : title,
        columns: [
            say("sheet.place"),
            say("sheet.name"),
            say("sheet.team"),
            say("sheet.victories"),
            say("sheet.class_points"),
        ],
        rows,
        name: "weight",
    });
}
