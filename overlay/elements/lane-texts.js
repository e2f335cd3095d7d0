/* What stands at the end of a lane on the pages at work: who leads and why, what the other side needs,
 * or what is not confirmed yet. What derives from points is held back while any is open. Pure. */

import { howText, leaderReason, scoreText } from "../lib/sentences.js";
import { otherSide, standingOf } from "../lib/standing.js";

/** @param {"needs"|"officials"} [second] what the second line is about
 *  @param {boolean} [brief] where there is room for a few letters only: one fact a line
 *  @returns {{first: string, second: string}} */
export function laneTexts(side, view, say, second = "needs", brief = false) {
    const standing = standingOf(view);
    const lane = { side, view, standing, say };
    if (brief) return briefTexts(lane);
    return {
        first: firstText(lane),
        second: second === "officials" ? officialsText(lane) : endsText(lane),
    };
}

function firstText({ side, view, standing, say }) {
    const { result } = standing;
    if (result) return result.winner === side ? say("working.wins", { how: howText(result, say) })
        : result.winner ? "" : howText(result, say);
    if (standing.open[side] > 0) return say("working.open", { points: standing.open[side] });
    if (standing.underReview) return view.challenge?.[side]?.open ? say("working.review") : "";
    if (standing.withheld) return "";
    if (standing.leader?.side === side) return leadsText(standing, say);
    if (standing.due) return ""; // it should end: nobody needs anything any more
    const needed = view.needs?.[side]?.to_lead;
    if (needed !== undefined) return say("working.needs", { points: needed });
    return standing.leader ? needsMoreText(view, say) : "";
}

function leadsText({ leader, score }, say) {
    if (leader.by !== "points") return say("working.leads", { reason: leaderReason(leader, score, say) });
    const margin = Math.abs(score.red - score.blue);
    return say("working.leads_score", { margin });
}

/** No single action makes this side the leader: the largest is not enough. */
function needsMoreText({ details }, say) {
    const points = Math.max(...Object.keys(details.values).map(Number));
    return say("working.needs_more", { points });
}

function endsText(lane) {
    const { side, standing, say } = lane;
    if (standing.result) return resultText(side, standing.result, say);
    return [dueText(lane) ?? marginText(lane), cautionsText(lane)].filter(Boolean).join(" · ");
}

/** Why it should end, or undefined while it goes on. */
function dueText({ side, view, standing: { due, leader }, say }) {
    if (!due) return undefined;
    if (due === "superiority" && leader?.side === side) return say("working.superiority");
    if (due === "cautions" && view.due_against?.includes(side)) return say("working.due_cautions");
    return "";
}

function marginText({ side, view, standing, say }) {
    const points = standing.withheld ? undefined : view.needs?.[side]?.to_superiority;
    return points ? say("working.ends", { points }) : "";
}

/* In a narrow place the reason stands under the word that it explains, and the cautions instead of
 * the margin once one more ends the bout. */
function briefTexts(lane) {
    const { side, view, standing, say } = lane;
    const { result, leader, score } = standing;
    if (result) {
        const first = result.winner === side ? say("working.wins_brief") : "";
        return { first, second: first || !result.winner ? howText(result, say) : "" };
    }
    const tie = leader?.side === side && leader.by !== "points";
    if (tie) return { first: say("leader.leads"), second: leaderReason(leader, score, say) };
    const last = (view.cautions?.[side] ?? 0) >= view.details.cautions_out - 1;
    const second = dueText(lane) ?? (last ? cautionsText(lane) : marginText(lane));
    return { first: firstText(lane), second };
}

function resultText(side, result, say) {
    if (result.winner !== side) return "";
    const { class_points: points } = result;
    const text = scoreText({ red: points[side], blue: points[otherSide(side)] }).replace("–", ":");
    return say("working.class_points", { code: result.code, points: text });
}

function cautionsText({ side, view, standing: { due }, say }) {
    const count = view.cautions?.[side] ?? 0;
    return count > 0 && due !== "cautions" ? say("working.cautions", { count }) : "";
}

function officialsText({ side, view, say }) {
    const left = view.challenge?.[side]?.left ?? true;
    return [say("working.cautions", { count: view.cautions?.[side] ?? 0 }),
        say(left ? "working.challenge_left" : "working.challenge_used")].join(" · ");
}
