/* The daemon's clock, as a page knows it: the offset between two clocks from four timestamps
 * (RFC 5905, section 8): t0 sent here, t1 heard there, t2 answered there, t3 heard here.
 * The error of one sample is at most half its round trip, so the sample with the shortest round
 * trip of the last eight decides; an unequal way there and back never averages out. */

/** @typedef {{offset_ms: number, round_trip_ms: number}} Sample */

export const SAMPLES_KEPT = 8;

/** @param {{t0_ms: number, t1_ms: number, t2_ms: number, t3_ms: number}} times
 *  @returns {Sample} offset: what is added to the clock here to get the clock there */
export function clockSample({ t0_ms, t1_ms, t2_ms, t3_ms }) {
    return {
        offset_ms: (t1_ms - t0_ms + (t2_ms - t3_ms)) / 2,
        round_trip_ms: Math.max(0, t3_ms - t0_ms - (t2_ms - t1_ms)),
    };
}

/** The samples with one more, the oldest beyond eight dropped.
 *  @param {Sample[]} samples  oldest first
 *  @param {Sample} sample
 *  @returns {Sample[]} */
export function keepSample(samples, sample) {
    return [...samples, sample].slice(-SAMPLES_KEPT);
}

/** The sample to go by: the shortest round trip, the newest among equals.
 *  @param {Sample[]} samples  oldest first
 *  @returns {Sample | undefined} */
export function bestSample(samples) {
    return samples.reduce(
        (best, sample) => (!best || sample.round_trip_ms <= best.round_trip_ms ? sample : best),
        undefined,
    );
}
