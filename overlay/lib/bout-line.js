/* The bout line: the whole bout as a line of time, on which every score stands at its moment, up
 * for red and down for blue, as tall as its value; an attack that came to nothing is an open tick.
 * This is its geometry, as plain numbers; elements/bout-line.js draws it.
 *
 * A unit is one point. Filled counts, open does not count (yet). Marks of one side never overlap
 * and never swap: those that would touch stand side by side around the mean of their moments, in
 * the order of points ("2 and 2 is not a 4, and at a level score that decides"). Nothing stands
 * right of now. Who led is a strip on the leader's side of the axis, by confirmed points only. */

import { clockNow } from "./clock.js";
import { SIDES } from "./standing.js";

const UNITS_HIGH = 5; /* room on each side of the axis, at all times: the scale never changes */
const MINUTE_MS = 60000;
const MERGE_MS = 30000; /* attacks of one half-minute become one tick where there is no room left */

/** @typedef {{width: number, unit: number, mark: number, axis: number, gap: number, tick: number,
 *      working: boolean}} Measures  all in the same pixels; `tick`: the stroke of a stopped attack;
 *  `working`: the line of a page at work, with activity times */

/** The measures that go with a width and a unit.
 *  @param {{width: number, unit: number, mark?: number, working?: boolean}} size
 *  @returns {Measures} */
export function measuresOf({ width, unit, mark = unit >= 10 ? unit + 1 : unit, working = false }) {
    const axis = Math.max(2, Math.round(unit * 0.36));
    return {
        width,
        unit,
        mark,
        axis,
        gap: axis,
        tick: Math.max(1.5, Math.min(4, unit * 0.36)),
        working,
    };
}

/** @typedef {object} PlacedMark
 *  @property {string} seq
 *  @property {"points" | "attack"} form
 *  @property {"red" | "blue"} side
 *  @property {number} x        its middle
 *  @property {number} near     the distance from the axis's middle to its inner end, and
 *  @property {number} far      to its outer end
 *  @property {boolean} given   points given by the officials, not taken by technique
 *  @property {boolean} unconfirmed
 *  @property {{near: number, far: number} | undefined} was  what a correction took away, or
 *  @property {number | undefined} notch  how high it was before one that added */

/** @typedef {object} BoutLine
 *  @property {number} width
 *  @property {number} height
 *  @property {number} middle   y of the axis's middle
 *  @property {Measures} measures
 *  @property {{x: number, width: number, done: boolean}[]} dashes  one a minute, cut at now
 *  @property {{side: string, x: number, width: number}[]} led
 *  @property {PlacedMark[]} marks
 *  @property {{side: string, x: number, width: number}[]} activities
 *  @property {number | undefined} now  none before the bout, in a break and at the end */

/** @param {object} view  a VIEW (docs/wire.md)
 *  @param {number} now_ms  on the daemon's clock
 *  @param {{width: number, unit: number, mark?: number, working?: boolean}} size
 *  @returns {BoutLine} */
export function boutLine(view, now_ms, size) {
    const measures = measuresOf(size);
    const scale = scaleOf(view, measures);
    const clock = clockNow(view, now_ms);
    const reached = scale.x(clock.period, clock.t_ms);
    const ordered = inOrder(view.line ?? {});
    const marks = SIDES.flatMap((side) => placeSide(ordered, side, scale, reached, measures));
    const height = 2 * (UNITS_HIGH * measures.unit + measures.gap) + measures.axis;
    return {
        width: measures.width,
        height,
        middle: height / 2,
        measures,
        dashes: dashesOf(scale, reached, measures),
        led: ledBy(ordered, scale, reached, marks),
        marks,
        activities: measures.working ? activitiesOf(ordered, view, scale, reached) : [],
        now: ["live", "stopped"].includes(view.phase) ? reached : undefined,
    };
}

/* Where a moment of the bout lies. Breaks take no time, and a gap of two marks. */
function scaleOf(view, { width, mark }) {
    const { periods, period_ms } = view.details;
    const breakWidth = 2 * mark;
    const periodWidth = (width - (periods - 1) * breakWidth) / periods;
    const within = (value, most) => Math.min(most, Math.max(0, value));
    const start = (period) => within(period - 1, periods - 1) * (periodWidth + breakWidth);
    const x = (period, t_ms) => start(period) + (within(t_ms, period_ms) / period_ms) * periodWidth;
    return { periods, period_ms, periodWidth, start, x };
}

function dashesOf({ periods, period_ms, start, x }, reached, { axis }) {
    const dashes = [];
    for (let period = 1; period <= periods; period++) {
        for (let t_ms = 0; t_ms < period_ms; t_ms += MINUTE_MS) {
            const end_ms = Math.min(period_ms, t_ms + MINUTE_MS);
            const left = t_ms === 0 ? start(period) : x(period, t_ms) + axis / 2;
            const right = end_ms === period_ms ? x(period, end_ms) : x(period, end_ms) - axis / 2;
            if (right > left) dashes.push(...cutAt(reached, left, right));
        }
    }
    return dashes;
}

function cutAt(reached, left, right) {
    const cut = Math.min(right, Math.max(left, reached));
    const parts = [
        { x: left, width: cut - left, done: true },
        { x: cut, width: right - cut, done: false },
    ];
    return parts.filter((part) => part.width > 0);
}

/** The marks in their order: by bout time, and at one moment in the order of points, which is log
 *  order but for those that say what they come `before`. One that comes before an earlier moment is
 *  taken to belong there.
 *  @param {Record<string, object>} line  the VIEW's marks, keyed by `seq`
 *  @returns {{seq: string, mark: object, moment: {period: number, t_ms: number}}[]} */
export function inOrder(line) {
    const entries = Object.entries(line)
        .map(([seq, mark]) => ({ seq, mark, moment: { period: mark.period, t_ms: mark.t_ms } }))
        .sort((a, b) => a.seq - b.seq);
    for (const entry of [...entries]) moveBefore(entries, entry);
    return entries.sort((a, b) => compareMoments(a.moment, b.moment));
}

function moveBefore(entries, entry) {
    const target = entries.find(({ seq }) => seq === String(entry.mark.before));
    if (!target || target === entry) return;
    if (compareMoments(target.moment, entry.moment) < 0) entry.moment = target.moment;
    entries.splice(entries.indexOf(entry), 1);
    entries.splice(entries.indexOf(target), 0, entry);
}

const compareMoments = (a, b) => a.period - b.period || a.t_ms - b.t_ms;

const isPoints = ({ kind }) => kind === "score" || kind === "given";

/* One side's marks. Normally they keep a quarter of a mark between them; in a fight too rich for
 * that, one pixel; in one too rich even for that, the attacks of a half-minute become one tick. */
function placeSide(ordered, side, scale, reached, measures) {
    const { mark } = measures;
    const own = ordered.filter(
        (entry) =>
            entry.mark.side === side && (isPoints(entry.mark) || entry.mark.kind === "attack"),
    );
    const least = mark / 2;
    const most = Math.max(least, reached - mark / 2);
    const tight = mark + 1;
    const shown = (own.length - 1) * tight <= measures.width - mark ? own : mergeAttacks(own);
    const even = (most - least) / Math.max(1, shown.length - 1);
    const distance = Math.min(mark * 1.25, Math.max(tight, even));
    const wanted = shown.map(({ moment }) => scale.x(moment.period, moment.t_ms));
    const places = spread(wanted, distance, least, most);
    return shown.map((entry, i) => placed(entry, places[i], measures));
}

function mergeAttacks(entries) {
    const seen = new Set();
    return entries.filter(({ mark, moment }) => {
        if (isPoints(mark)) return true;
        const half = `${moment.period} ${Math.floor(moment.t_ms / MERGE_MS)}`;
        return !seen.has(half) && seen.add(half);
    });
}

function placed({ seq, mark }, x, { unit, axis, gap }) {
    const base = axis / 2 + gap;
    if (mark.kind === "attack") {
        const near = base + unit * 0.25;
        return {
            seq,
            form: "attack",
            side: mark.side,
            x,
            near,
            far: near + unit * 0.75,
            given: false,
            unconfirmed: false,
        };
    }
    const given = mark.kind === "given";
    const near = base + (given ? unit * 0.5 : 0);
    const far = (points) => near + Math.min(points, UNITS_HIGH) * unit;
    return {
        seq,
        form: "points",
        side: mark.side,
        x,
        near,
        far: far(mark.points),
        given,
        unconfirmed: Boolean(mark.unconfirmed),
        ...traceOf(mark, far),
    };
}

function traceOf({ was, points }, far) {
    if (was === undefined || was === points) return {};
    return was > points ? { was: { near: far(points), far: far(was) } } : { notch: far(was) };
}

/** Places as near as can be to those wanted, in the same order, at least `distance` apart, between
 *  `least` and `most` where there is room (else beyond `most`, never closer). Those that would
 *  touch stand around the mean of what they wanted (pool adjacent violators: least squares).
 *  @param {number[]} wanted  in order
 *  @param {number} distance
 *  @param {number} least
 *  @param {number} most
 *  @returns {number[]} */
export function spread(wanted, distance, least, most) {
    const pools = [];
    wanted.forEach((place, i) => {
        pools.push({ sum: place - i * distance, count: 1 });
        while (pools.length > 1 && mean(pools.at(-2)) >= mean(pools.at(-1))) {
            const last = pools.pop();
            pools.at(-1).sum += last.sum;
            pools.at(-1).count += last.count;
        }
    });
    const highest = Math.max(least, most - (wanted.length - 1) * distance);
    const even = pools.flatMap((pool) => Array(pool.count).fill(mean(pool)));
    return even.map((place, i) => Math.min(highest, Math.max(least, place)) + i * distance);
}

const mean = ({ sum, count }) => sum / count;

/* Who led, from which mark to which: each confirmed point carries it (`leader`), since at a level
 * score only the daemon knows the criteria. Where nobody led there is no strip. */
function ledBy(ordered, scale, reached, placedMarks) {
    const points = ordered.filter(({ mark }) => isPoints(mark) && !mark.unconfirmed);
    const strips = [];
    points.forEach(({ seq, mark }) => {
        const side = mark.leader?.side;
        if (strips.length && strips.at(-1).side === side) return; /* as long as one side leads */
        const x = placedMarks.find((drawn) => drawn.seq === seq).x;
        if (strips.length) strips.at(-1).end = Math.max(strips.at(-1).x, x);
        strips.push({ side, x, end: Math.max(x, reached) });
    });
    return strips.filter(({ side }) => side).flatMap((strip) => outsideBreaks(strip, scale));
}

function outsideBreaks({ side, x, end }, { periods, start, periodWidth }) {
    const parts = Array.from({ length: periods }, (_, i) => {
        const left = Math.max(x, start(i + 1));
        return { side, x: left, width: Math.min(end, start(i + 1) + periodWidth) - left };
    });
    return parts.filter((part) => part.width > 0);
}

/* An activity time is drawn as long as it can have been: until its time was up, its side scored,
 * the next one began, or the period ended. */
function activitiesOf(ordered, view, scale, reached) {
    const length_ms = view.activity?.length_ms ?? view.details.activity_ms ?? 0;
    return ordered
        .filter(({ mark }) => mark.kind === "activity")
        .map((entry) => {
            const { period, t_ms } = entry.moment;
            const ends = ordered
                .slice(ordered.indexOf(entry) + 1)
                .filter(
                    ({ mark, moment }) =>
                        moment.period === period &&
                        (mark.kind === "activity" ||
                            (mark.kind === "score" && mark.side === entry.mark.side)),
                )
                .map(({ moment }) => moment.t_ms);
            const x = scale.x(period, t_ms);
            const end = scale.x(period, Math.min(t_ms + length_ms, ...ends));
            return {
                side: entry.mark.side,
                x,
                width: Math.max(0, Math.min(end, Math.max(x, reached)) - x),
            };
        });
}

/** The line for those who do not see it: what happened, in order. Activity times are not events of
 *  their own here.
 *  @param {object} view
 *  @returns {{seq: string, mark: object, period: number, left_ms: number}[]} */
export function lineRows(view) {
    return inOrder(view.line ?? {})
        .filter(({ mark }) => mark.kind !== "activity")
        .map(({ seq, mark, moment }) => ({
            seq,
            mark,
            period: moment.period,
            left_ms: Math.max(0, view.details.period_ms - moment.t_ms),
        }));
}
