/* The sheet of a bout before it: both names and how they are said, who they are, how they got here,
 * what they have done against each other, and room to write. */

import { make } from "../lib/dom.js";
import { isolated } from "../lib/names.js";
import { SIDES } from "../lib/standing.js";
import { expectedOf, inOrder, wayOf } from "./facts.js";
import { footing, heading, list, nameLine, part, ruled, spokenParts, teamText } from "./parts.js";
import { archiveTexts, matText, meetingText, numberText, startText, waitsText, wayText, whatText } from "./texts.js";

const LINES_A_SIDE = 5;
const LINES_BELOW = 4;

/** @param {{day: object, slot?: object, view?: object, athletes: {red?: object, blue?: object},
 *      working: boolean, stamp: string}} data  `view`: where it has been called; `athletes`: as
 *      `GET /api/v1/athletes/ATHLETE` answers
 *  @param {import("../lib/words.js").Say} say
 *  @returns {Node[]} */
export function beforeSheet(data, say) {
    const { day, slot, view, stamp } = data;
    const details = { ...slot, ...view?.details };
    const start = startText(expectedOf(day, slot), slot, say);
    const sides = SIDES.map((side) => sideColumn(side, data, say));
    return [
        heading({
            title: [numberText(details, say), matText(details, say), whatText(details, say)]
                .filter(Boolean)
                .join(" · ") || say("sheet.before"),
            lines: [
                start && say("sheet.starts", { time: start }),
                [details.rules && say("sheet.rules", details), stamp].filter(Boolean).join(" · "),
            ],
        }),
        make("div", { class: "sides" }, ...sides),
        ...meetingsPart(data, say),
        part(say("sheet.write"), list(boutNotes(data)), ruled(LINES_BELOW)),
        footing(say("sheet.decides"), data.working ? say("sheet.not_public") : say("sheet.public")),
    ];
}

/** Who stands there, as far as it is known: of the bout, else of the draw.
 *  @returns {object | undefined} */
export function whoIs(side, { slot, view, athletes = {} }) {
    const who = view?.details[side] ?? slot?.[side];
    if (!who?.name) return undefined;
    return { ...slot?.[side], ...athletes[side]?.entry, ...who };
}

function sideColumn(side, data, say) {
    const { day, slot, view, athletes, working } = data;
    const who = whoIs(side, data);
    if (!who) {
        const text = make("p", { class: "waits words" }, waitsText(day, slot?.[side], say));
        const word = make("p", { class: "name" }, make("side-sign", { side, label: say(`Side.${side}`) }));
        return make("section", { class: "side", "data-side": side }, word, text, ruled(LINES_A_SIDE * 3));
    }
    const known = athletes[side];
    const notes = inOrder(known?.notes)
        .filter((note) => !isOfBoth(note, data))
        .map(({ text }) => text);
    return make(
        "section",
        { class: "side", "data-side": side },
        nameLine(side, who, say),
        ...(working ? spokenParts(who, say) : []),
        make("p", { class: "team words" }, teamText(who)),
        ...[
            part(say("sheet.facts"), list(who.facts ?? [])),
            part(say("sheet.way"), list(wayOf(day, who, view?.bout).map((step) => wayText(step, say)))),
            part(say("sheet.archive"), list(archiveTexts(known?.archive, say))),
            part(say("sheet.notes"), list(notes)),
        ].filter(Boolean),
        ruled(LINES_A_SIDE),
    );
}

/* Of neither side, in this bout: those stand below both. */
const isOfBoth = ({ bout, side }, { view }) => !side && bout === view?.bout;

const boutNotes = (data) =>
    inOrder(data.athletes.red?.notes)
        .filter((note) => isOfBoth(note, data))
        .map(({ text }) => text);

/* As red saw them. */
function meetingsPart(data, say) {
    const meetings = inOrder(data.athletes.red?.archive?.meetings);
    const red = whoIs("red", data);
    if (!meetings.length || !red) return [];
    const name = isolated(red.family ?? red.name);
    const texts = meetings.map((meeting) => meetingText(meeting, say));
    return [part(say("sheet.meetings", { name }), list(texts))];
}
