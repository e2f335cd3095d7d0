/**
 * What the table proposes and what it warns of. It never forbids: a proposal is a default that the
 * next stroke can change, a warning is words beside what was keyed.
 *
 * Sources: the edition's `usual_points`, `warning_first` and `activity_ms` (each edition names its
 * documents). That no activity time is given with less than its length left in the period, but a
 * caution for fleeing the hold with its point: officials' questions and answers, July 2022.
 * Everything here is pure; times are bout times in milliseconds.
 */

import { otherSide } from "../lib/standing.js";

/** A passivity that is keyed now against a side: its stage, and the points where it is a penalty.
 *  @param {object} view the bout
 *  @param {object} edition
 *  @param {"red"|"blue"} side the passive one
 *  @param {{activity?: {side: string}, forced_call_left_ms?: number}} now
 *  @returns {{stage: "warning"|"activity"|"penalty", points?: number}} */
export function proposePassivity(view, edition, side, now = {}) {
    if (edition.activity_ms === undefined) return penalty(view, edition);
    if (now.activity?.side === side) return penalty(view, edition);
    const given = view.passivity?.[side] ?? {};
    const must = now.forced_call_left_ms === 0;
    const group = view.details.age_group ?? "seniors";
    const warned = (given.warning ?? 0) + (given.activity ?? 0) > 0;
    if (edition.warning_first?.[group] && !warned && !must) return { stage: "warning" };
    return { stage: "activity" };
}

/** What the next penalty of the bout costs: the edition lists the first, the second … of the whole
 *  bout, whichever side; its last entry holds for all later ones. */
function penalty(view, edition) {
    const given = (view.passivity?.red?.penalty ?? 0) + (view.passivity?.blue?.penalty ?? 0);
    return { stage: "penalty", points: passivityPoints(edition, given) };
}

export function passivityPoints(edition, given_before) {
    const usual = edition.usual_points?.passivity ?? [1];
    return usual[Math.min(given_before, usual.length - 1)] ?? 0;
}

/** The stages that the passivity key goes through when it is struck again. */
export function nextStage(stage, edition) {
    const stages = edition.activity_ms === undefined
        ? ["penalty", "warning"] : ["warning", "activity", "penalty"];
    return stages[(stages.indexOf(stage) + 1) % stages.length];
}

/** @returns {number} what a caution for this reason usually gives the other side */
export function cautionPoints(edition, reason) {
    return edition.usual_points?.caution?.[reason] ?? 1;
}

export function challengePoints(edition) {
    return edition.usual_points?.challenge ?? 1;
}

/** Whether an activity time given now would not fit into the period.
 *  @param {object} edition
 *  @param {number} left_ms of the period */
export function activityTooShort(edition, left_ms) {
    return edition.activity_ms !== undefined && left_ms < edition.activity_ms;
}

/** @typedef {{warning: string, values?: object}} Warning `warning` is a key of the words */

/** What is worth a second look in an event about to be sent.
 *  @param {object} event
 *  @param {{view: object, edition: object, rows: object[], techniques?: object[], now: object}}
 *      context `rows` as ledger.js makes them; `techniques` is the catalogue
 *  @returns {Warning[]} */
export function warningsOf(event, context) {
    const warn = WARNINGS[event.type];
    return warn ? warn(event, context).filter(Boolean) : [];
}

const WARNINGS = {
    score: (event, context) => [
        sameAgain(event, context), unusualValue(event, context), challengedBout(event, context),
    ],
    caution: (event, context) => [
        sameAgain(event, context), unusualCaution(event, context), lastCaution(event, context),
    ],
    passivity: (event, context) => [sameAgain(event, context), shortActivity(event, context),
        unusualPassivity(event, context)],
    challenge: (event, { view }) => [
        event.outcome === "asked" && view.challenge?.[event.side]?.left === false
            && { warning: "no_challenge_left", values: { side: event.side } },
        event.outcome !== "asked" && !view.challenge?.[event.side]?.open
            && { warning: "no_challenge_open", values: { side: event.side } },
    ],
};

const SAME_AGAIN_MS = 4000;

/** Two people may key one mat: the same from another hand within seconds is probably one event. */
function sameAgain(event, { rows, now }) {
    const twin = rows.find((row) => row.stands && !row.mine && row.event.type === event.type
        && row.event.id !== event.id
        && row.event.side === event.side && row.event.points === event.points
        && row.period === now.period && Math.abs(row.t_ms - now.t_ms) < SAME_AGAIN_MS);
    return twin && { warning: "same_again", values: { by: twin.event.by ?? "" } };
}

/** A hold that usually gives another value: both are shown, nothing is changed. */
function unusualValue(event, { techniques = [] }) {
    const usual = techniques.find(({ slug }) => slug === event.technique)?.points ?? [];
    if (usual.length === 0 || usual.includes(event.points) || event.action === "step_out") {
        return undefined;
    }
    return {
        warning: "unusual_value",
        values: { technique: event.technique, usual: usual.join(", "), points: event.points },
    };
}

function challengedBout(event, { view }) {
    return view.result && { warning: "closed" };
}

function unusualCaution(event, { edition }) {
    const usual = edition.usual_points?.caution?.[event.reason];
    if (usual === undefined || usual === event.points) return undefined;
    return { warning: "unusual_points", values: { usual, points: event.points } };
}

function lastCaution(event, { view }) {
    const already = view.cautions?.[event.side] ?? 0;
    const out = view.details.cautions_out;
    if (out === undefined || already + 1 < out) return undefined;
    return { warning: "last_caution", values: { count: already + 1, side: event.side } };
}

function shortActivity(event, { edition, now }) {
    if (event.stage !== "activity" || !activityTooShort(edition, now.left_ms)) return undefined;
    return { warning: "short_activity", values: { seconds: Math.ceil(now.left_ms / 1000) } };
}

function unusualPassivity(event, { edition, now }) {
    if (event.stage !== "penalty" || edition.activity_ms === undefined) return undefined;
    const activity = now.activity;
    if (!activity || activity.side !== event.side) return { warning: "no_activity" };
    if (activity.left_ms <= 0) return undefined;
    return { warning: "activity_left", values: { seconds: Math.ceil(activity.left_ms / 1000) } };
}

/* ---- before a result goes out ---- */

/** @typedef {{how: string, winner?: "red"|"blue", score?: {red: number, blue: number},
 *   code?: string}} Sheet what the officials' sheet says */

/** The code that an ending has in this edition, by the loser's points.
 *  @param {object} edition
 *  @param {Sheet} sheet
 *  @returns {string|undefined} undefined where the sheet's score isn't known yet */
export function codeOf(edition, { how, winner, score }) {
    const ending = edition.endings?.[how];
    if (!ending) return undefined;
    if (ending.code) return ending.code;
    if (!winner || !score) return undefined;
    return score[otherSide(winner)] > 0 ? ending.scored.code : ending.shutout.code;
}

/** What the sheet and our log don't agree on. A difference is shown, never refused.
 *  @param {object} view
 *  @param {object} edition
 *  @param {Sheet} sheet
 *  @returns {{what: string, values: object}[]} empty when they agree */
export function sheetDifferences(view, edition, sheet) {
    return [
        scoreDifference(view, sheet), codeDifference(view, edition, sheet),
        winnerDifference(view, edition, sheet), unconfirmedLeft(view),
    ].filter(Boolean);
}

function scoreDifference({ score }, { score: sheet }) {
    if (!sheet || (sheet.red === score.red && sheet.blue === score.blue)) return undefined;
    return {
        what: "score",
        values: { sheet: `${sheet.red}–${sheet.blue}`, ours: `${score.red}–${score.blue}` },
    };
}

function codeDifference({ score }, edition, sheet) {
    const ours = codeOf(edition, { ...sheet, score });
    if (!sheet.code || !ours || sheet.code === ours) return undefined;
    return { what: "code", values: { sheet: sheet.code, ours } };
}

/** The contract's `consistent`, as far as it can be said before sending: by points the winner leads
 *  and the margin isn't reached; by superiority the winner leads by it; by cautions the loser has
 *  them all. */
function winnerDifference(view, edition, { how, winner }) {
    if (!winner) return undefined;
    const margin = view.score[winner] - view.score[otherSide(winner)];
    const reached = margin >= edition.superiority;
    if (how === "points" && reached) return { what: "superiority_reached", values: { margin } };
    if (how === "points" && view.leader?.side !== winner) return notLeader(view, winner);
    if (how === "superiority" && !reached) return { what: "no_superiority", values: { margin } };
    if (how === "cautions" && (view.cautions?.[otherSide(winner)] ?? 0) < edition.cautions_out) {
        return {
            what: "cautions",
            values: { count: view.cautions?.[otherSide(winner)] ?? 0, out: edition.cautions_out },
        };
    }
    return undefined;
}

function notLeader(view, winner) {
    const what = view.leader ? "other_leads" : "nobody_leads";
    return { what, values: { winner, by: view.leader?.by ?? "" } };
}

function unconfirmedLeft({ unconfirmed = {} }) {
    const points = (unconfirmed.red ?? 0) + (unconfirmed.blue ?? 0);
    return points > 0 ? { what: "unconfirmed", values: { points } } : undefined;
}

/** How the bout would be closed by what stands: what the form proposes.
 *  @returns {{how: string, winner?: string}} */
export function proposeEnding(view) {
    const due = view.confirmed?.due ?? view.due;
    if (due === "cautions" && view.due_against?.length === 1) {
        return { how: "cautions", winner: otherSide(view.due_against[0]) };
    }
    if (due === "cautions") return { how: "both_disqualified" };
    if (due === "superiority") return { how: "superiority", winner: view.leader?.side };
    return { how: "points", winner: view.leader?.side };
}

/** The edition to propose for a bout: of those for this style, the one in force on the day that
 *  began last.
 *  @param {object[]} editions
 *  @param {string} style
 *  @param {string} today `2027-05-08`
 *  @returns {object|undefined} */
export function editionInForce(editions, style, today) {
    return editions
        .filter(({ styles, from, until }) => styles.includes(style) && from <= today
            && (until === undefined || today <= until))
        .sort((one, another) => (one.from < another.from ? 1 : -1))[0];
}
