/* What is in the picture at a moment: a pure function of the output's state and the time. What may
 * not be said yet is left out here, so that drawing cannot say it. */

import { activityLeft, breakLeft, clockNow, secondsLeft, timeElapsed } from "../lib/clock.js";
import { boutTitle, howText, leaderReason, leadsText, scoreText } from "../lib/sentences.js";
import { otherSide, SIDES, standingOf } from "../lib/standing.js";

/** @typedef {{kind: "correction" | "open" | "activity" | "wedge", key: string, urgent: boolean,
 *      text?: string, more?: string, seconds?: string, wedge?: string}} End  what stands at a
 *      lane's end; another `key` is another thing */

/** @typedef {object} Context
 *  @property {import("../lib/words.js").Say} say
 *  @property {{red?: string, blue?: string}} corrected  corrections to be read now
 *  @property {(text: string) => boolean} fits  whether a text has room in a wedge
 *  @property {boolean} [confirmedOnly]  points that aren't confirmed are not shown
 *
 *  @param {object} state  of the topic out/OUTPUT
 *  @param {number} now_ms  on the daemon's clock
 *  @param {Context} context
 *  @returns {{bout: string, plate: boolean, result?: object, place: string, lanes: object,
 *      activity?: object} | undefined}  nothing: the picture is empty */
export function pictureOf(state, now_ms, context) {
    const view = state?.bout;
    const { line, panel } = state?.on_air ?? {};
    const taken = panel?.panel === "result" && !panel.withheld;
    if (!view || state.hold?.how === "hide" || !(line || taken)) return undefined;
    const standing = standingOf(view);
    const activity = standing.result ? undefined : activityLeft(view, now_ms);
    const lane = (side) => laneOf(side, view, standing, activity, context);
    const result = taken && standing.result ? resultOf(view, standing, context.say) : undefined;
    return {
        bout: view.bout,
        plate: Boolean(line) && !result,
        result,
        place: placeText(view, standing, now_ms, context.say),
        lanes: Object.fromEntries(SIDES.map((side) => [side, lane(side)])),
        activity,
    };
}

function laneOf(side, view, standing, activity, context) {
    const { name, family, team } = view.details[side];
    const own = activity?.side === side ? activity : undefined;
    return {
        name,
        family,
        team,
        points: standing.score[side],
        end: endOf(side, standing, own, context),
    };
}

/* One thing at a lane's end, by rank. Only wedge and activity may meet: then the wedge says the
 * reason alone, and activity only its seconds. */
function endOf(side, standing, activity, { say, corrected, fits, confirmedOnly }) {
    if (corrected[side])
        return { kind: "correction", key: corrected[side], urgent: true, text: corrected[side] };
    const open = confirmedOnly ? 0 : standing.open[side];
    if (open) {
        return {
            kind: "open",
            key: "open",
            urgent: true,
            more: `+${open}`,
            text: say("screen.not_confirmed"),
        };
    }
    const leads = standing.tieLeader?.side === side ? standing.tieLeader : undefined;
    const seconds = activity && `0:${String(secondsLeft(activity.left_ms)).padStart(2, "0")}`;
    if (leads && activity) {
        return {
            kind: "activity",
            key: "both",
            urgent: false,
            wedge: leaderReason(leads, standing.score, say),
            seconds,
        };
    }
    if (activity)
        return {
            kind: "activity",
            key: "activity",
            urgent: false,
            text: say("activity.label"),
            seconds,
        };
    if (!leads) return undefined;
    const whole = leadsText(leads, standing.score, say);
    const wedge = fits(whole) ? whole : leaderReason(leads, standing.score, say);
    return { kind: "wedge", key: wedge, urgent: false, wedge };
}

/* Under the clock: the period, or what the bout is waiting for. */
function placeText(view, standing, now_ms, say) {
    if (breakLeft(view, now_ms) !== undefined) return say("period.break");
    if (standing.underReview) return say("screen.under_review");
    if (standing.result) return say("screen.ended");
    const ended = standing.due && view.phase === "over";
    return ended
        ? say(`screen.due.${standing.due}`)
        : say("period.place", { period: clockNow(view, now_ms).period });
}

function resultOf(view, { result, score }, say) {
    const { details } = view;
    const winner = result.winner;
    const code =
        result.code &&
        say("screen.code", {
            code: result.code,
            one: result.class_points[winner ?? "red"],
            other: result.class_points[winner ? otherSide(winner) : "blue"],
        });
    const about = [
        details.number && say("bout.number", { number: details.number }),
        details.mat && say("screen.mat", { mat: details.mat }),
    ];
    return {
        winner,
        title: boutTitle(details, say),
        code: code ?? "",
        name: winner && details[winner].name,
        other: winner && details[otherSide(winner)].name,
        how: winner && howWithScore(result, scoreText(score, winner), say),
        both: SIDES.map((side) => ({ side, name: details[side].name })),
        about: winner
            ? sentenceCase(about.filter(Boolean).join(", "))
            : say("screen.no_winner", { how: howText(result, say) }),
    };
}

/* An ending before the time was up says when it came: the time elapsed over the whole bout. */
function howWithScore(result, score, say) {
    const timed = result.how !== "points" && result.how !== "forfeit";
    const key = timed ? "screen.score_how_and_time" : "screen.score_and_how";
    return say(key, { how: howText(result, say), score, time: timeElapsed(result.time_ms) });
}

const sentenceCase = (text) => text.charAt(0).toUpperCase() + text.slice(1);
