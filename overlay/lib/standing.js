/* What may be said of a bout's state, to those who cannot see the officials. Points are shown at
 * once, and as unconfirmed; what derives from points (who leads, that it should end, what is
 * needed) is held back while anything of it is open; nobody is called the winner before the result
 * stands. Nothing is computed here that the daemon did not say. */

export const SIDES = ["red", "blue"];

/** @param {"red" | "blue"} side */
export const otherSide = (side) => (side === "red" ? "blue" : "red");

/** @typedef {object} Standing
 *  @property {{red: number, blue: number}} score   confirmed points
 *  @property {{red: number, blue: number}} open    points not confirmed, beyond them
 *  @property {boolean} withheld                    something is open, or under review: points, or
 *      the result itself
 *  @property {boolean} underReview
 *  @property {boolean} resultOpen                  a result was given, and doesn't stand yet
 *  @property {boolean} level                       confirmed points are equal
 *  @property {{side: string, by: string}} [leader] never while withheld, never once a result stands
 *  @property {string} [due]                        why it should end; never while withheld
 *  @property {{side: string, by: string}} [tieLeader]  the leader, where points alone don't say it
 *  @property {object} [result]                     the officials' result, once it stands */

/** @param {object} view  a VIEW (docs/wire.md)
 *  @returns {Standing} */
export function standingOf(view) {
    const confirmed = view.confirmed ?? view.score;
    const open = view.unconfirmed ?? { red: 0, blue: 0 };
    const underReview = Boolean(confirmed.under_review);
    const resultOpen = Boolean(view.result?.unconfirmed);
    const withheld = underReview || resultOpen || open.red > 0 || open.blue > 0;
    const result = resultOpen ? undefined : view.result;
    const leader = withheld || result ? undefined : confirmed.leader;
    return {
        score: { red: confirmed.red, blue: confirmed.blue },
        open,
        withheld,
        underReview,
        resultOpen,
        level: confirmed.red === confirmed.blue,
        leader,
        tieLeader: leader && leader.by !== "points" ? leader : undefined,
        due: withheld || result ? undefined : confirmed.due,
        result,
    };
}

/** What a side needs, or undefined where it may not be said or nothing is needed.
 *  @param {object} view
 *  @param {"red" | "blue"} side
 *  @returns {{to_lead?: number, to_superiority?: number} | undefined} */
export function needsOf(view, side) {
    const { withheld, result } = standingOf(view);
    return withheld || result ? undefined : view.needs?.[side];
}
