/* What a new version of a bout corrected, so that it can be said in words and not just be
 * different. Only what changed while somebody was looking: a correction from before is no news. */

const pointsOf = (mark) => (mark?.kind === "score" || mark?.kind === "given" ? mark.points : 0);

/** @typedef {{was: number, points: number}} Correction  `points` 0: it was taken out */

/** @param {object | undefined} before  the VIEW shown until now
 *  @param {object | undefined} after   the one that follows
 *  @returns {{red?: Correction, blue?: Correction}}  a side's latest correction, if any */
export function correctionsBetween(before, after) {
    const found = {};
    if (!before || !after || before.bout !== after.bout) return found;
    for (const [seq, mark] of Object.entries(before.line ?? {}).sort(([a], [b]) => a - b)) {
        const now = after.line?.[seq];
        const kept = now?.side === mark.side;
        const was = pointsOf(mark);
        const points = kept ? pointsOf(now) : 0;
        if (was && was !== points) found[mark.side] = { was, points };
    }
    return found;
}
