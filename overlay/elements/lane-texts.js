/* What stands at the end of a lane on the pages at work: who leads and why, what the other side needs,
 * or what is not confirmed yet. What derives from points is held back while any is open. Pure. */

import { howText, leaderReason, scoreText } from "../lib/sentences.js";
import { otherSide, standingOf } from "../lib/standing.js";

/** @param {"needs"|"officials"} [second] what the second line is about
 *  @returns {{first: string, second: string}} */
export function laneTexts(side, view, say, second = "needs") {
    const standing = standingOf(view);
    return {
        first: firstText(side, view, standing, say),
        second: second === "officials" ? officialsText(side, view, say)
            : endsText(side, view, standing, say),
    };
}

function firstText(side, view, standing, say) {
    const { result } = standing;
    if (result) return result.winner === side ? say("working.wins", { how: howText(result, say) }) : "";
    if (standing.open[side] > 0) return say("working.open", { points: standing.open[side] });
    if (standing.underReview) return view.challenge?.[side]?.open ? say("working.review") : "";
    if (standing.withheld) return "";
    if (standing.leader?.side === side) return leadsText(view, standing, say);
    if (standing.due) return ""; // it should end: nobody needs anything any more
    const needed = view.needs?.[side]?.to_lead;
    if (needed !== undefined) return say("working.needs", { points: needed });
    return standing.leader ? say("working.needs_more") : "";
}

function leadsText(view, { leader, score }, say) {
    if (leader.by !== "points") return say("working.leads", { reason: leaderReason(leader, score, say) });
    const margin = Math.abs(score.red - score.blue);
    return say("working.leads_score", { margin });
}

function endsText(side, view, standing, say) {
    const { result } = standing;
    if (result) return resultText(side, result, say);
    if (standing.withheld) return cautionsText(side, view, say);
    if (standing.due === "superiority" && standing.leader?.side === side) return say("working.superiority");
    if (standing.due === "cautions") return view.due_against?.includes(side) ? say("working.due_cautions") : "";
    const points = view.needs?.[side]?.to_superiority;
    return [points && say("working.ends", { points }), cautionsText(side, view, say)]
        .filter(Boolean).join(" · ");
}

function resultText(side, result, say) {
    if (result.winner !== side) return "";
    const { class_points: points } = result;
    const text = scoreText({ red: points[side], blue: points[otherSide(side)] }).replace("–", ":");
    return say("working.class_points", { code: result.code, points: text });
}

function cautionsText(side, view, say) {
    const count = view.cautions?.[side] ?? 0;
    return count > 0 ? say("working.cautions", { count }) : "";
}

function officialsText(side, view, say) {
    const left = view.challenge?.[side]?.left ?? true;
    return [say("working.cautions", { count: view.cautions?.[side] ?? 0 }),
        say(left ? "working.challenge_left" : "working.challenge_used")].join(" · ");
}
