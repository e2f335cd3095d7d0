/* What the daemon refused, with its reason, until somebody has seen it. */

import { eventSentence } from "../table/readback.js";
import { make } from "./working-head.js";

/** @param {HTMLElement} place role alert
 *  @param {import("../table/desk.js").Desk} desk
 *  @param {Function} say */
export function showRefusals(place, desk, say) {
    const { problems } = desk;
    place.hidden = problems.length === 0;
    if (place.shown === problems) return;
    place.shown = problems;
    const list = make("ul");
    list.append(...problems.map((problem) => make("li", "", refusalText(problem, desk, say))));
    const seen = make("button", "big", say("table.problem.dismiss"));
    seen.type = "button";
    seen.addEventListener("click", () => desk.dismiss());
    place.replaceChildren(make("h2", "", say("table.problem.title")), list, seen);
}

function refusalText({ event, detail }, desk, say) {
    if (!event) return say("table.problem.day", { detail });
    if (!desk.view || !desk.edition) return say("table.problem.what", { event: event.type, detail });
    const row = { id: event.id, event, period: 1, t_ms: 0, stands: true };
    return say("table.problem.what", { event: eventSentence(row, desk.context), detail });
}
