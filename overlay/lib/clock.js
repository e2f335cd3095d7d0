/* The bout's times at one moment, and how they are written. Pure: the moment is an argument
 * (milliseconds since 1970 on the daemon's clock), the state is a topic's VIEW (docs/wire.md),
 * in which everything that moves with time is an anchor. */

const clamp = (value, least, most) => Math.min(most, Math.max(least, value));

/** The moment from which a view is counted: now, unless it stands still because its audience's
 *  delay has just been raised (docs/wire.md, "still_at").
 *  @returns {number} */
function momentOf(view, now_ms) {
    return view.still_at ? Date.parse(view.still_at) : now_ms;
}

/** @typedef {{period: number, t_ms: number, left_ms: number, elapsed_ms: number, running: boolean,
 *      unsure: boolean, tenths: boolean}} ClockNow
 *  `t_ms` and `left_ms` are the period's; `elapsed_ms` is the whole bout's, earlier periods counted
 *  whole; `running` is false from the moment at which the period is used up. */

/** The bout clock at a moment.
 *  @param {object} view  a VIEW, or a SHORT of the day's topics
 *  @param {number} now_ms
 *  @returns {ClockNow} */
export function clockNow(view, now_ms) {
    const length_ms = view.details?.period_ms ?? view.period_ms;
    const clock = view.clock ?? { period: 1, t_ms: 0, running: false };
    const gone_ms = clock.running ? Math.max(0, now_ms - Date.parse(clock.at)) : 0;
    const t_ms = clamp(clock.t_ms + gone_ms, 0, length_ms);
    return {
        period: clock.period,
        t_ms,
        left_ms: length_ms - t_ms,
        elapsed_ms: (clock.period - 1) * length_ms + t_ms,
        running: Boolean(clock.running) && t_ms < length_ms,
        unsure: Boolean(clock.unsure),
        tenths: Boolean(clock.tenths),
    };
}

/** What is left of the break, or undefined when there is none.
 *  @returns {number | undefined} */
export function breakLeft(view, now_ms) {
    if (!view.break) return undefined;
    return Math.max(0, Date.parse(view.break.ends_at) - momentOf(view, now_ms));
}

/** What is left of the activity time, and which part of it, or undefined when none is on.
 *  @returns {{side: "red" | "blue", left_ms: number, part: number, running: boolean}
 *      | undefined} */
export function activityLeft(view, now_ms) {
    const activity = view.activity;
    if (!activity) return undefined;
    const clock = clockNow(view, now_ms);
    const gone_ms =
        clock.period === activity.period ? clock.t_ms - activity.t_ms : activity.length_ms;
    const left_ms = clamp(activity.length_ms - gone_ms, 0, activity.length_ms);
    const part = activity.length_ms ? left_ms / activity.length_ms : 0;
    return { side: activity.side, left_ms, part, running: clock.running && left_ms > 0 };
}

/** What is left until the officials must name a side, or undefined when nothing is to come.
 *  @returns {number | undefined} */
export function forcedCallLeft(view, now_ms) {
    if (!view.forced_call) return undefined;
    return Math.max(0, view.forced_call.t_ms - clockNow(view, now_ms).t_ms);
}

/** How long the open stoppage has lasted, or undefined when none is open.
 *  @returns {number | undefined} */
export function stoppageFor(view, now_ms) {
    if (!view.stoppage) return undefined;
    return Math.max(0, momentOf(view, now_ms) - Date.parse(view.stoppage.since));
}

/** @param {{left_ms: number, running: boolean}} clock  as it was at some moment
 *  @param {number} [since_ms]  time on the daemon's clock since then
 *  @returns {string} "2:05": whole seconds, rounded up, so that "0:00" is the end */
export function timeLeft(clock, since_ms = 0) {
    const gone_ms = clock.running ? Math.max(0, since_ms) : 0;
    return minutes(Math.ceil(Math.max(0, clock.left_ms - gone_ms) / 1000));
}

/** The time left as the clock's place shows it: tenths, cut and not rounded, in the last minute of
 *  a clock whose source has them, "24.3"; whole seconds otherwise. A clock started by hand has
 *  none.
 *  @param {{left_ms: number, tenths?: boolean}} clock
 *  @returns {string} */
export function clockText(clock) {
    if (!clock.tenths || clock.left_ms >= 60000 || clock.left_ms <= 0)
        return minutes(Math.ceil(clock.left_ms / 1000));
    return (Math.floor(clock.left_ms / 100) / 10).toFixed(1);
}

/** @param {number} elapsed_ms
 *  @returns {string} "4:36": whole seconds gone, so that it is never ahead of the bout */
export function timeElapsed(elapsed_ms) {
    return minutes(Math.floor(Math.max(0, elapsed_ms) / 1000));
}

/** Whole seconds left, rounded up: what a sentence says.
 *  @param {number} left_ms
 *  @returns {number} */
export function secondsLeft(left_ms) {
    return Math.ceil(Math.max(0, left_ms) / 1000);
}

function minutes(seconds) {
    return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}
