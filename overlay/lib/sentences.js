/* Short sentences about a bout that several pages say alike. Words come from words/, names are
 * put in by the page where they need an element of their own. */

import { clockText, secondsLeft, timeElapsed } from "./clock.js";
import { lineRows } from "./bout-line.js";
import { isolated } from "./names.js";
import { spoken } from "./words.js";

/** "Women 62 kg, semi-final": what the bout is, as far as it is known.
 *  @param {object} details  a VIEW's `details`, or a SHORT
 *  @param {import("./words.js").Say} say
 *  @returns {string} */
export function boutTitle({ style, weight, stage }, say) {
    const name = style && (say.has(`style.${style}`) ? say(`style.${style}`) : spoken(style));
    const kilograms =
        weight && (/^[+-]?\d+$/.test(weight) ? say("bout.kilograms", { weight }) : weight);
    const first = [name, kilograms].filter(Boolean).join(" ");
    return [first, stage].filter(Boolean).join(", ");
}

/** Why a side leads, "last point"; for a leader by points, the score, leader's points first.
 *  @param {{side: string, by: string}} leader
 *  @param {{red: number, blue: number}} score
 *  @param {import("./words.js").Say} say
 *  @returns {string} */
export function leaderReason(leader, score, say) {
    if (leader.by === "points") return scoreText(score, leader.side);
    return say.has(`criterion.${leader.by}`) ? say(`criterion.${leader.by}`) : spoken(leader.by);
}

/** "leads on last point", "leads 4–2".
 *  @returns {string} */
export function leadsText(leader, score, say) {
    const reason = leaderReason(leader, score, say);
    return say(leader.by === "points" ? "leader.by_points" : "leader.by_criterion", { reason });
}

/** "4–2", a side's own points first; it never breaks over two lines.
 *  @param {{red: number, blue: number}} score
 *  @param {"red" | "blue"} [first]
 *  @returns {string} */
export function scoreText(score, first = "red") {
    const [one, other] = first === "red" ? [score.red, score.blue] : [score.blue, score.red];
    return `${one}\u2060–\u2060${other}`;
}

/** How it was won, "on points", "by fall".
 *  @param {{how: string}} result
 *  @param {import("./words.js").Say} say
 *  @returns {string} */
export function howText({ how }, say) {
    return say.has(`ending.${how}`) ? say(`ending.${how}`) : spoken(how);
}

/** The whole bout line in a sentence, for those who do not see it.
 *  @param {object} view
 *  @param {import("./words.js").Say} say
 *  @returns {string} */
export function lineSentence(view, say) {
    const points = lineRows(view).filter(({ mark }) => mark.kind !== "attack");
    if (!points.length) return say("line.empty");
    return [say("line.begins"), ...points.map((row) => markSentence(row, view, say))].join(" ");
}

function markSentence({ mark, period, left_ms }, view, say) {
    const name = isolated(view.details[mark.side].name);
    const key = mark.unconfirmed ? "line.points_open" : "line.points";
    return say(key, { name, points: mark.points, time: timeLeft(left_ms), period });
}

const timeLeft = (left_ms) => clockText({ left_ms });

/** One row of the table that stands for the bout line: what it was, in words.
 *  @param {{mark: object}} row  of lineRows
 *  @param {import("./words.js").Say} say
 *  @returns {string} */
export function markText({ mark }, say) {
    const known = (group, name) =>
        name && (say.has(`${group}.${name}`) ? say(`${group}.${name}`) : spoken(name));
    if (mark.kind === "attack") {
        return [known("technique", mark.technique), known("outcome", mark.outcome)]
            .filter(Boolean)
            .join(", ");
    }
    const what =
        mark.kind === "given"
            ? say("line.given")
            : (known("technique", mark.technique) ?? known("action", mark.action));
    const corrected =
        mark.was !== undefined && say("line.corrected", { was: mark.was, points: mark.points });
    return [what, mark.unconfirmed && say("line.open"), corrected].filter(Boolean).join(", ");
}

/** "19 seconds".
 *  @param {number} left_ms
 *  @param {import("./words.js").Say} say
 *  @returns {string} */
export function secondsText(left_ms, say) {
    return say("time.seconds", { count: secondsLeft(left_ms) });
}

/** "5:12", the time of an ending, over the whole bout.
 *  @param {{time_ms: number}} result
 *  @returns {string} */
export function endingTime({ time_ms }) {
    return timeElapsed(time_ms);
}
