/* Delays in whole frames of a named rate. The daemon keeps milliseconds; here they are counted in
 * frames again. Rates with a fraction are those of 1000/1001 (common practice of colour video). Pure. */

const RATES = {
    23.976: [24000, 1001],
    24: [24, 1],
    25: [25, 1],
    29.97: [30000, 1001],
    30: [30, 1],
    50: [50, 1],
    59.94: [60000, 1001],
    60: [60, 1],
};

/** The names of the rates, the slowest first. */
export const RATE_NAMES = Object.keys(RATES).sort((one, other) => one - other);

/** What a page shows before anybody has chosen one. */
export const USUAL_RATE = "50";

/** The longest delay there is. */
export const DELAY_MS_MAX = 120000;

/** The whole number of frames nearest to a time.
 *  @param {number} ms
 *  @param {string} rate  a name
 *  @returns {number} */
export function framesIn(ms, rate) {
    const [frames, seconds] = RATES[rate];
    return Math.round((ms * frames) / (seconds * 1000));
}

/** How long so many frames last, in whole milliseconds.
 *  @param {number} frames
 *  @param {string} rate
 *  @returns {number} */
export function lengthOf(frames, rate) {
    const [count, seconds] = RATES[rate];
    return Math.round((frames * 1000 * seconds) / count);
}

/** The most frames that a delay may have. */
export function framesMax(rate) {
    const [count, seconds] = RATES[rate];
    return Math.floor((DELAY_MS_MAX * count) / (seconds * 1000));
}
