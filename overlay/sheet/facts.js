/* What stands on the sheets, as plain values: picked and put in order from what the daemon answers
 * (docs/wire.md). Nothing is computed here that the daemon did not say. Pure. */

import { otherSide, SIDES } from "../lib/standing.js";

/** Which sheet an address asks for: of one bout (`?bout=ID`), of a place in the draw
 *  (`?slot=NAME`), of a mat (`?mat=A`), else of the day. `part`: "before" or "after", where the
 *  address says so.
 *  @param {string} search
 *  @returns {{kind: "bout" | "slot" | "mat" | "day", name: string, part: string | undefined}} */
export function wantedSheet(search) {
    const given = new URLSearchParams(search);
    const kind = ["bout", "slot", "mat"].find((name) => given.get(name)) ?? "day";
    const part = ["before", "after"].find((name) => name === given.get("part"));
    return { kind, name: given.get(kind) ?? "", part };
}

/** What grows is an object keyed by number: its values in that order. */
export const inOrder = (object) =>
    Object.entries(object ?? {})
        .sort(([one], [other]) => one - other)
        .map(([, value]) => value);

/** The day's slots in the order in which they are wrestled: by the order on their mat, those
 *  without one last.
 *  @param {object} day  of day/booth or day/follow
 *  @param {string} [mat]  only those of this one
 *  @returns {(object & {key: string})[]} */
export function slotsInOrder(day, mat) {
    return Object.entries(day.slots ?? {})
        .map(([key, slot]) => ({ ...slot, key }))
        .filter((slot) => mat === undefined || slot.mat === mat)
        .sort((one, other) => orderOf(one) - orderOf(other) || one.key - other.key);
}

const orderOf = ({ order }) => order ?? Number.MAX_SAFE_INTEGER;

/** The day's mats: those of the draw, and those that have had a bout. */
export function matsOf(day) {
    const mats = [...slotsInOrder(day).map(({ mat }) => mat), ...Object.keys(day.mats ?? {})];
    const { compare } = new Intl.Collator("en", { numeric: true });
    return [...new Set(mats.filter(Boolean))].sort(compare);
}

/** The slot of that name, or that has that bout.
 *  @param {{slot?: string, bout?: string}} wanted */
export const findSlot = (day, { slot, bout }) =>
    slotsInOrder(day).find((one) => (slot ? one.slot === slot : one.bout === bout));

/** When a slot's bout is expected to begin. */
export const expectedOf = (day, slot) => (slot ? day.expected?.[slot.key] : undefined);

/** The number of the bout that a side waits for; "" where it has none.
 *  @param {object} side  of a SLOT */
export const waitedNumber = (day, side) => day.slots?.[side.slot]?.number ?? "";

/** An athlete's way so far: the results of the day, the earliest first.
 *  @param {object} day
 *  @param {{athlete?: string, name: string}} who
 *  @param {string} [except]  the bout that the sheet is of
 *  @returns {{against: string, number?: string, stage?: string, how: string, code: string,
 *      won: boolean, lost: boolean, own: number, other: number}[]} */
export function wayOf(day, who, except) {
    return Object.entries(day.results ?? {})
        .sort(([one], [other]) => one - other)
        .map(([, result]) => ({ result, side: sideOf(day, result, who) }))
        .filter(({ result, side }) => side && result.bout !== except)
        .map(({ result, side }) => wayStep(day, result, side));
}

/* By the roster's key, where the bout stands in the draw; without one by the name. */
function sideOf(day, result, who) {
    const slot = findSlot(day, { bout: result.bout });
    const known = who.athlete && SIDES.some((side) => slot?.[side]?.athlete);
    return SIDES.find((side) =>
        known ? slot[side].athlete === who.athlete : result[side] === who.name,
    );
}

function wayStep(day, { bout, number, how, code, winner, score, ...result }, side) {
    const other = otherSide(side);
    return {
        against: result[other],
        number,
        stage: findSlot(day, { bout })?.stage,
        how,
        code,
        won: winner === side,
        lost: winner === other,
        own: score[side],
        other: score[other],
    };
}

/** The points of each period that was reached, and all of them.
 *  @param {object} recap
 *  @returns {{period: string | undefined, red: number, blue: number}[]} the last row, without a
 *      period, is the score */
export function periodRows({ points, bout }) {
    const rows = Object.entries(points).map(([period, both]) => ({ period, ...both }));
    return [...rows, { period: undefined, red: bout.score.red, blue: bout.score.blue }];
}

/** Attempts by technique and leg, each with both sides' figures; the most tried first.
 *  @param {object} recap
 *  @returns {{technique: string, leg?: string, red?: object, blue?: object}[]} */
export function attemptRows({ attempts }) {
    const rows = new Map();
    for (const side of SIDES)
        for (const one of inOrder(attempts[side])) {
            const key = `${one.technique} ${one.leg ?? ""}`;
            const row = rows.get(key) ?? { technique: one.technique, leg: one.leg };
            rows.set(key, { ...row, [side]: one });
        }
    const tried = ({ red, blue }) => (red?.tried ?? 0) + (blue?.tried ?? 0);
    return [...rows.values()].sort((one, other) => tried(other) - tried(one));
}

/** Why the bout went as it did, step by step: what ended it, and, where points decided, each
 *  criterion down to the one that separates them.
 *  @param {object} recap
 *  @returns {{ended: {how: string, code?: string, margin?: number} | undefined, steps: object[],
 *      source: string | undefined, differs: "red" | "blue" | undefined}} `differs`: whom the
 *      criteria are for, where the result says otherwise */
export function traceOf({ bout, why }) {
    const { result, details } = bout;
    const ended = result && {
        how: result.how,
        code: result.code,
        ...(result.how === "superiority" && { margin: details.superiority }),
    };
    const byPoints = !result || ["points", "superiority"].includes(result.how);
    const steps = byPoints ? inOrder(why?.steps) : [];
    const differs = result?.winner && steps.length && why.leader.side !== result.winner;
    return {
        ended,
        steps,
        source: steps.length ? why.source : undefined,
        differs: differs ? why.leader.side : undefined,
    };
}
