/* The follow page's own words about a bout: pure functions of the state, the time and the words.
 * The log's sentences come from the daemon; here is what stands beside them. */

import {
    activityLeft,
    breakLeft,
    clockNow,
    clockText,
    secondsLeft,
    timeElapsed,
} from "../lib/clock.js";
import { isolated } from "../lib/names.js";
import {
    boutTitle,
    howText,
    leaderReason,
    leadsText,
    scoreText,
    secondsText,
} from "../lib/sentences.js";
import { needsOf, otherSide, SIDES, standingOf } from "../lib/standing.js";

const nameOf = (view, side) => isolated(view.details[side].name);
const hasBegun = (view) => view.phase !== "called";

/** "Mat B. Women 62 kg, semi-final". */
export function headingText(mat, view, say) {
    const title = boutTitle(view.details, say);
    return title ? say("follow.heading", { mat, title }) : say("bout.mat", { mat });
}

/** What holds for a side just now: the line under its name. */
export function sideText(view, side, now_ms, say) {
    const standing = standingOf(view);
    const { result, open, leader, score } = standing;
    if (result)
        return result.winner === side
            ? say("follow.won", { how: howText(result, say) })
            : teamOf(view, side);
    if (open[side]) return say("follow.points_open", { points: open[side] });
    const activity = activityLeft(view, now_ms);
    const time =
        activity?.side === side &&
        say("activity.to_score", { seconds: secondsText(activity.left_ms, say) });
    if (leader?.side === side) {
        const leads = leader.by === "points" ? say("leader.leads") : leadsText(leader, score, say);
        return time ? say("follow.leads_and", { leads, activity: time }) : leads;
    }
    if (time) return time;
    const needs = needsOf(view, side)?.to_lead;
    return needs && hasBegun(view) ? say("needs.to_lead", { points: needs }) : teamOf(view, side);
}

const teamOf = (view, side) => view.details[side].team ?? "";

/** Beside the clock. */
export function clockLabels(view, now_ms, say) {
    const { result, due, underReview, resultOpen } = standingOf(view);
    const { period, elapsed_ms } = clockNow(view, now_ms);
    const gone = say("period.gone", { time: timeElapsed(elapsed_ms) });
    if (result)
        return { left: say("follow.closed", { code: result.code ?? howText(result, say) }), gone };
    if (resultOpen) return { left: say("follow.closed_open"), gone };
    if (underReview) return { left: say("follow.under_review"), gone };
    if (breakLeft(view, now_ms) !== undefined) return { left: say("period.left_break"), gone };
    if (!hasBegun(view)) return { left: say("follow.not_begun"), gone: "" };
    if (due === "time") return { left: say("period.over"), gone };
    return { left: say("period.left", { period }), gone };
}

/** One sentence with both names, score and period: nothing in it changes with every second. */
export function statusText(view, now_ms, say) {
    const { score, open } = standingOf(view);
    const when =
        breakLeft(view, now_ms) !== undefined
            ? "break"
            : !hasBegun(view)
              ? "called"
              : view.phase === "over" || view.phase === "closed"
                ? "over"
                : "period";
    const sentence = say("follow.status", {
        red: nameOf(view, "red"),
        red_points: score.red,
        blue: nameOf(view, "blue"),
        blue_points: score.blue,
        when: say(`follow.when.${when}`, { period: clockNow(view, now_ms).period }),
    });
    const opens = SIDES.filter((side) => open[side]).map((side) =>
        say("follow.status_open", { name: nameOf(view, side), points: open[side] }),
    );
    return [sentence, ...opens].join(". ");
}

/** Two sentences for those who come late: the story so far, and what matters now. */
export function catchUpText(view, now_ms, say) {
    const { red, blue } = view.details;
    const standing = standingOf(view);
    if (standing.result)
        return resultSentence(
            { red: red.name, blue: blue.name, score: view.score, ...standing.result },
            say,
        );
    if (!hasBegun(view))
        return say("catch_up.called", { red: isolated(red.name), blue: isolated(blue.name) });
    return [
        storyText(view, standing, now_ms, say),
        attacksText(view, say),
        nowText(view, standing, now_ms, say),
    ]
        .filter(Boolean)
        .join(" ");
}

function storyText(view, { leader, score, level }, now_ms, say) {
    const gone = timeElapsed(clockNow(view, now_ms).elapsed_ms);
    if (!leader) {
        const points = score.red + score.blue;
        return say(`catch_up.${!points ? "level_none" : level ? "level" : "stands"}`, {
            gone,
            score: scoreText(score),
            red: nameOf(view, "red"),
            red_points: score.red,
            blue: nameOf(view, "blue"),
            blue_points: score.blue,
        });
    }
    const key = level ? "catch_up.leads_level" : "catch_up.leads";
    return say(key, {
        name: nameOf(view, leader.side),
        gone,
        score: scoreText(score, leader.side),
        reason: leaderReason(leader, score, say),
    });
}

/* What figures say is withheld with everything else that rests on open points. */
function attacksText(view, say) {
    const { attacks } = view;
    if (standingOf(view).withheld || !attacks?.red?.tried || !attacks?.blue?.tried)
        return undefined;
    return say("catch_up.attacks", {
        red: nameOf(view, "red"),
        red_scored: attacks.red.scored,
        red_tried: attacks.red.tried,
        blue: nameOf(view, "blue"),
        blue_scored: attacks.blue.scored,
        blue_tried: attacks.blue.tried,
    });
}

function nowText(view, { open, underReview, resultOpen }, now_ms, say) {
    const name = (side) => nameOf(view, side);
    const unconfirmed = SIDES.find((side) => open[side]);
    if (unconfirmed)
        return say("catch_up.open", { name: name(unconfirmed), points: open[unconfirmed] });
    if (resultOpen) return say("follow.closed_open");
    if (underReview) return say("catch_up.review");
    const break_ms = breakLeft(view, now_ms);
    if (break_ms !== undefined) return say("catch_up.break", { left: secondsText(break_ms, say) });
    if (view.phase === "over") return say("catch_up.over");
    const activity = activityLeft(view, now_ms);
    if (activity) {
        return say("catch_up.activity", {
            name: name(activity.side),
            other: name(otherSide(activity.side)),
            seconds: secondsText(activity.left_ms, say),
        });
    }
    const { left_ms, period } = clockNow(view, now_ms);
    const left = leftText(left_ms, say);
    const behind = SIDES.find((side) => needsOf(view, side)?.to_lead);
    if (!behind) return say("catch_up.left", { left, period });
    return say("catch_up.needs", {
        left,
        period,
        name: name(behind),
        points: needsOf(view, behind).to_lead,
    });
}

/* Spoken time is words up to a minute, and the clock's figures beyond. */
function leftText(left_ms, say) {
    return secondsLeft(left_ms) <= 60 ? secondsText(left_ms, say) : clockText({ left_ms });
}

/** A result in a sentence; of a result without a winner, how it ended.
 *  @param {{red: string, blue: string, score: object, how: string, winner?: string}} result */
export function resultSentence({ red, blue, score, how, winner }, say) {
    const words = howText({ how }, say);
    const names = { red: isolated(red), blue: isolated(blue) };
    if (!winner) return say("follow.no_winner", { ...names, how: words });
    return say("follow.beats", {
        winner: names[winner],
        loser: names[otherSide(winner)],
        how: words,
        score: scoreText(score, winner),
    });
}

/** Another mat in one sentence, by confirmed points.
 *  @param {string} mat
 *  @param {object} short  a SHORT of day/follow */
export function otherMatText(mat, short, now_ms, say) {
    const { red, blue, score, unconfirmed, phase, result } = short;
    if (result && !result.unconfirmed) {
        const sentence = resultSentence({ red: red.name, blue: blue.name, score, ...result }, say);
        return say("follow.other_result", { mat, sentence });
    }
    const names = { red: isolated(red.name), blue: isolated(blue.name) };
    if (phase === "called") return say("follow.other_called", { mat, ...names });
    const { left_ms, period } = clockNow(short, now_ms);
    const values = {
        mat,
        ...names,
        red_points: score.red - (unconfirmed?.red ?? 0),
        blue_points: score.blue - (unconfirmed?.blue ?? 0),
        time: clockText({ left_ms }),
        period,
    };
    return say(phase === "break" ? "follow.other_break" : "follow.other", values);
}

/** A result of the day in one sentence. */
export function dayResultText(result, say) {
    const sentence = resultSentence(result, say);
    if (!result.number || !result.mat) return sentence;
    return say("follow.result", { number: result.number, mat: result.mat, sentence });
}
