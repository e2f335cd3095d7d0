/* What the gallery says in words: pure functions of the topic's parts and the page's words. */

import { leaderReason } from "../lib/sentences.js";
import { SIDES } from "../lib/standing.js";
import { spoken } from "../lib/words.js";

/** "Attacks, red"; the name of what is prepared or on air.
 *  @param {{panel: string, side?: string}} panel
 *  @param {import("../lib/words.js").Say} say
 *  @returns {string} */
export function panelName({ panel, side }, say) {
    const name = say(`working.panel.${panel}`);
    return side ? say("gallery.of_side", { name, side: say(`side.${side}`) }) : name;
}

/** How it is with a panel: how long it stays at least, or why there is nothing of it to show.
 *  @param {{least_ms: number, withheld?: string}} panel  of OUTPUT's `panels`
 *  @returns {string} "5 s", "3.4 s", "not yet" */
export function panelState({ least_ms, withheld }, say) {
    return withheld ? say("gallery.withheld_short", { why: withheld }) : secondsText(least_ms, say);
}

/** Why, in full: it stands where the picture would be. */
export const withheldText = ({ withheld }, say) =>
    say.has(`gallery.withheld.${withheld}`)
        ? say(`gallery.withheld.${withheld}`)
        : spoken(withheld);

/** "5 s", "3.4 s": tenths only where there are any. */
export function secondsText(ms, say) {
    const seconds = Math.round(ms / 100) / 10;
    return say("gallery.seconds", { seconds: seconds.toLocaleString(say.lang) });
}

/** What has changed since something was prepared, as one sentence of clauses; the same that the
 *  daemon says in English (docs/wire.md, "Producing").
 *  @param {{was: object, is: object, words?: string}} changed
 *  @returns {string} "" where nothing that is told has changed */
export function changedText({ was = {}, is = {} }, say) {
    const words = (key, values) => say(`gallery.changed.${key}`, values);
    if (was.bout !== is.bout) return words(is.bout ? "another_bout" : "no_bout");
    if (!is.bout) return "";
    return [
        ...SIDES.map((side) => pointsText(side, was, is, say)),
        leaderText(was, is, say),
        !was.under_review !== !is.under_review &&
            words(is.under_review ? "challenge" : "no_challenge"),
        !was.result !== !is.result && words(is.result ? "result" : "no_result"),
        !was.result === !is.result && was.phase !== is.phase && words("phase", { phase: is.phase }),
    ]
        .filter(Boolean)
        .join("; ");
}

function pointsText(name, was, is, say) {
    const words = (key, values) =>
        say(`gallery.changed.${key}`, { side: say(`side.${name}`), ...values });
    const points = is.score[name];
    const open = is.unconfirmed[name];
    if (was.score[name] !== points) {
        const text = words("points", { was: was.score[name], points });
        return open > 0 ? words("open", { text }) : text;
    }
    if (was.unconfirmed[name] === open) return "";
    return open > 0 ? words("not_confirmed", { points: open }) : words("confirmed", { points });
}

function leaderText(was, is, say) {
    const same = was.leader?.side === is.leader?.side && was.leader?.by === is.leader?.by;
    if (same) return "";
    const side = say(`side.${(is.leader ?? was.leader).side}`);
    if (!is.leader) return say("gallery.changed.leads_no_more", { side });
    const reason =
        is.leader.by === "points"
            ? say("gallery.changed.by_points")
            : leaderReason(is.leader, is.score, say);
    return say("gallery.changed.leads", { side, reason });
}

/** What the daemon has answered to an action, in words.
 *  @param {object} done
 *  @param {string} what  what was asked for, in words already
 *  @returns {string} */
export function doneText(done, what, say) {
    const changed = done.changed && changedText(done.changed, say);
    const cut = done.cut_short;
    return [
        what,
        changed && say("gallery.changed_since", { text: changed }),
        cut &&
            say("gallery.cut_short", {
                name: panelName(cut, say),
                time: secondsText(cut.left_ms, say),
            }),
        done.kept === false && say("gallery.not_kept"),
    ]
        .filter(Boolean)
        .join(" ");
}

/** Why something was not done, in words.
 *  @param {{title?: string, detail?: string, unsent?: boolean, unknown?: boolean}} problem
 *  @returns {string} */
export function refusedText({ type, title, detail, unsent, unknown }, say) {
    if (unsent) return say("gallery.unsent");
    if (unknown) return say("gallery.unknown");
    const name = type?.startsWith("/problem/")
        ? type.slice("/problem/".length).replaceAll("-", "_")
        : "";
    const known = say.has(`gallery.problem.${name}`) ? say(`gallery.problem.${name}`) : title;
    return say("gallery.refused", { why: [known, detail].filter(Boolean).join(": ") });
}

/** "armed by Noor, 11:02", "not armed", "waits for the panel before it".
 *  @param {{armed: boolean, since?: string, by?: string, waits?: boolean}} rule */
export function ruleText({ armed, since, by, waits }, say) {
    if (!armed) return say("gallery.not_armed");
    const time = since && clockTime(since);
    const text = say(by ? "gallery.armed_by" : "gallery.armed_at", { by, time });
    return waits ? say("gallery.rule_waits", { text }) : text;
}

/** The time of day where the page stands, "11:02".
 *  @param {string} time  RFC 3339 */
export function clockTime(time) {
    const date = new Date(time);
    return `${date.getHours()}:${String(date.getMinutes()).padStart(2, "0")}`;
}

/** The next moment at which the clock on the wall says that time.
 *  @param {string} text  "11:30", as a time field gives it
 *  @param {number} now_ms
 *  @returns {string | undefined} RFC 3339; nothing: no time was given */
export function nextTime(text, now_ms) {
    const [, hours, minutes] = /^(\d{1,2}):(\d{2})/.exec(text) ?? [];
    if (hours === undefined) return undefined;
    const date = new Date(now_ms);
    date.setHours(Number(hours), Number(minutes), 0, 0);
    if (date.getTime() <= now_ms) date.setDate(date.getDate() + 1);
    return date.toISOString();
}
