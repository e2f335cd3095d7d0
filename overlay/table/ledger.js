/**
 * What was keyed, as rows: the log as the daemon lists it (EVENTS, docs/wire.md) with what this
 * page has keyed since on top, so that the hand never waits for the line. Only the list and the
 * grammar's memory come from here; the score and all that derives from it are the daemon's alone.
 * Pure.
 *
 * Trap: an event that was acknowledged may not be in the topic yet. It stays among the page's own
 * until the topic has reached its `seq`, else it would vanish for a moment.
 */

/**
 * @typedef {object} Row
 * @property {string} id
 * @property {number} [seq] of an event that the daemon has listed
 * @property {object} event its own members, as amended
 * @property {number} [period]
 * @property {number} [t_ms] its bout time; the daemon gives none for the clock's own events and for
 *   what was taken out
 * @property {boolean} stands not taken out
 * @property {boolean} waits keyed here and not acknowledged
 * @property {boolean} confirmed
 * @property {boolean} amended
 * @property {number} [was] the points before the latest correction
 * @property {boolean} mine keyed on this page
 */

/** @typedef {{event: object, period?: number, t_ms?: number, seq?: number}} Own an event keyed here,
 *   with its bout time as this page knew it, and its `seq` once acknowledged */

const ABOUT_THE_ROW = new Set(["seq", "out", "confirmed", "amended", "was"]);

/** @param {object} events EVENTS of the topic
 *  @param {Own[]} [own] oldest first
 *  @param {Set<string>} [mine] ids keyed on this page, listed or not
 *  @returns {Row[]} oldest first */
export function rowsOf(events = {}, own = [], mine = new Set()) {
    const listed = Object.entries(events)
        .map(([seq, event]) => listedRow(Number(seq), event, mine))
        .sort((one, other) => one.seq - other.seq);
    const known = new Set(listed.map(({ id }) => id));
    const rows = [...listed, ...own.filter(({ event }) => !known.has(event.id)).map(ownRow)];
    const fresh = own.filter(({ event }) => !known.has(event.id)).map(({ event }) => event);
    for (const event of fresh) applyOwn(rows, event);
    return rows;
}

function listedRow(seq, listed, mine) {
    const event = Object.fromEntries(
        Object.entries(listed).filter(([name]) => !ABOUT_THE_ROW.has(name)));
    const { out = false, confirmed = false, amended = false, was, period, t_ms } = listed;
    return {
        id: listed.id, seq, event, period, t_ms, stands: !out, waits: false, confirmed, amended,
        mine: mine.has(listed.id), ...(was === undefined ? {} : { was }),
    };
}

function ownRow({ event, period, t_ms, seq }) {
    return {
        id: event.id, event: { ...event }, period: event.period ?? period,
        t_ms: event.t_ms ?? t_ms, stands: true, waits: seq === undefined, confirmed: false,
        amended: false, mine: true,
    };
}

/** What an event of ours that the daemon hasn't listed yet does to the rows before it. */
function applyOwn(rows, event) {
    if (event.type === "void") takeOut(rows, event.ref);
    if (event.type === "confirm") confirmRows(rows, event.ref);
    if (event.type === "amend") amendRow(rows.find(({ id }) => id === event.ref), event);
}

function takeOut(rows, ref) {
    const target = rows.find(({ id }) => id === ref);
    if (!target) return;
    target.stands = false;
    if (target.event.type !== "void") return;
    const restored = rows.find(({ id }) => id === target.event.ref);
    if (restored) restored.stands = true;
}

function confirmRows(rows, ref) {
    for (const row of rows) {
        if (row.stands && row.event.unconfirmed && (!ref || row.id === ref)) row.confirmed = true;
    }
}

function amendRow(row, { set = {}, unset = [] }) {
    if (!row) return;
    if (set.points !== undefined && set.points !== row.event.points) row.was = row.event.points;
    row.event = { ...row.event, ...set };
    for (const name of unset) delete row.event[name];
    row.period = row.event.period ?? row.period;
    row.t_ms = row.event.t_ms ?? row.t_ms;
    row.amended = true;
}

/** Drops what the topic has caught up with.
 *  @param {Own[]} own
 *  @param {number} seq the number of the bout's last event in the topic */
export function stillOwn(own, seq) {
    return own.filter((entry) => entry.seq === undefined || entry.seq > seq);
}

export const isOpen = (row) => Boolean(row.event.unconfirmed) && !row.confirmed && row.stands;

/** Rows that a person reads: what changes another row shows at that row. */
const AT_ANOTHER_ROW = new Set(["amend", "void", "confirm"]);

/** @returns {Row[]} newest first, in the order in which they were keyed */
export function listed(rows) {
    return rows.filter(({ event }) => !AT_ANOTHER_ROW.has(event.type)).reverse();
}

/** The last row that undo takes out: of whatever kind, but no void (that is what undo makes).
 *  @param {Row[]} rows
 *  @returns {Row|undefined} */
export function lastStanding(rows) {
    return rows.findLast(({ event, stands }) => stands && event.type !== "void");
}

/** The last void that stands: taking it out brings its target back. */
export function lastVoid(rows) {
    return rows.findLast(({ event, stands }) => stands && event.type === "void");
}

/** The void that took a row out, if it is listed. */
export function voidOf(rows, id) {
    return rows.findLast(({ event, stands }) =>
        stands && event.type === "void" && event.ref === id);
}

/** How long an attack keyed `open` waits for the score that finishes it, in bout time (common
 *  practice, no source: nobody holds on to one attack for longer). */
export const ATTACK_MS = 30000;

/** The attack of a side that is still open now, unless a score names it or the clock was stopped
 *  since: the last of that side, in this period.
 *  @param {Row[]} rows
 *  @param {"red"|"blue"} side
 *  @param {{period: number, t_ms: number}} now
 *  @returns {Row|undefined} */
export function openAttack(rows, side, now) {
    const last = rows.findLast(({ event, stands }) =>
        stands && event.type === "attack" && event.side === side);
    if (!last || last.event.outcome !== "open" || last.period !== now.period) return undefined;
    if (now.t_ms - last.t_ms > ATTACK_MS || isNamed(rows, last.id)) return undefined;
    return stoppedSince(rows, last) ? undefined : last;
}

export function isNamed(rows, attack) {
    return rows.some(({ event, stands }) =>
        stands && event.type === "score" && event.attack === attack);
}

function stoppedSince(rows, row) {
    return rows.slice(rows.indexOf(row) + 1).some(({ event, stands }) => stands
        && event.type === "clock" && event.do !== "start" && event.do !== "set");
}

/** How long after a turn another one still follows it (as long as the spell on the mat lasts). */
export const TURN_MS = 30000;

/** The turns of a side that a turn now would follow: the same spell on the mat, so no stop of the
 *  clock, no point of the other side and no return to the feet in between.
 *  @returns {Row[]} oldest first; empty when this would be the first */
export function turnsBefore(rows, side, now) {
    const turns = [];
    let until_ms = now.t_ms;
    for (const row of [...rows].reverse()) {
        if (!row.stands) continue;
        const { event } = row;
        if (endsSpell(event, side)) break;
        if (event.type !== "score" || event.action !== "exposure") continue;
        if (row.period !== now.period || until_ms - row.t_ms > TURN_MS) break;
        turns.unshift(row);
        until_ms = row.t_ms;
    }
    return turns;
}

function endsSpell(event, side) {
    if (event.type === "clock") return event.do === "stop" || event.do === "end";
    if (event.type === "position") return event.position === "standing";
    return event.type === "score" && event.side !== side;
}

/** The spell that a row is part of, itself included. */
export function spellOf(rows, row) {
    const at = rows.indexOf(row);
    const before = turnsBefore(rows.slice(0, at), row.event.side, row);
    const spell = [...before, row];
    for (const later of rows.slice(at + 1)) {
        if (!later.stands) continue;
        if (endsSpell(later.event, row.event.side)) break;
        if (later.event.type === "score" && later.event.action === "exposure"
            && later.t_ms - spell.at(-1).t_ms <= TURN_MS) spell.push(later);
    }
    return spell;
}

/** The bout clock with the page's own clock events on top that the daemon hasn't shown yet, so that
 *  the whistle key knows at once what it did. The rest of the bout stays as the daemon says.
 *  @param {object} view the bout
 *  @param {Own[]} own
 *  @returns {object} the view, or one with another `clock` */
export function withOwnClock(view, own) {
    const clocks = own.filter(({ event }) => event.type === "clock" && event.keyed_at
        && (!view.clock?.at || event.keyed_at > view.clock.at));
    if (clocks.length === 0) return view;
    const length_ms = view.details.period_ms;
    const clock = clocks.reduce((anchor, { event }) => moved(anchor, event, view.details),
        view.clock ?? { period: 1, t_ms: 0, running: false });
    const used_up = clock.t_ms >= length_ms;
    return { ...view, clock, phase: clock.running ? "live" : phaseOf(view, clock, used_up) };
}

function phaseOf(view, clock, used_up) {
    if (used_up && clock.period < view.details.periods) return "break";
    return view.phase === "called" || view.phase === "live" ? "stopped" : view.phase;
}

function moved(anchor, event, { period_ms }) {
    const gone_ms = anchor.running
        ? Math.max(0, Date.parse(event.keyed_at) - Date.parse(anchor.at)) : 0;
    const t_ms = Math.min(period_ms, anchor.t_ms + gone_ms);
    const at = event.keyed_at;
    const running = anchor.running && t_ms < period_ms;
    if (event.do === "set") return { period: event.period, t_ms: event.t_ms, at, running };
    if (event.do === "stop") return { period: anchor.period, t_ms, at, running: false };
    if (event.do === "end") return { period: anchor.period, t_ms: period_ms, at, running: false };
    if (event.period > anchor.period) return { period: event.period, t_ms: 0, at, running: true };
    return { period: anchor.period, t_ms, at, running: t_ms < period_ms };
}
