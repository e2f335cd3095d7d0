/* How large a name may be: the largest size of a row at which everything fits. Sizes only go down to
 * the smallest that is still readable on air; beyond that the text is cut with "…". */

let canvas;

const TRACKING = -0.02; /* of the size, as screen.css sets it */

/** @param {string} text
 *  @param {number} weight
 *  @param {number} size  pixels
 *  @param {string} family
 *  @returns {number} pixels */
export function textWidth(text, weight, size, family) {
    canvas ??= document.createElement("canvas").getContext("2d");
    canvas.font = `${weight} ${size}px ${family}`;
    return canvas.measureText(text).width + [...text].length * size * TRACKING;
}

/** Both names in one size; the teams stay only where both lanes have room for them at full size.
 *  @param {{name: string, team?: string}[]} lanes
 *  @param {number} width
 *  @param {(text: string, weight: number, size: number) => number} measure
 *  @returns {{size: number, teams: boolean}} */
export function fitNames(lanes, width, measure) {
    const teams = lanes.every(({ name, team }) =>
        measure(name, 600, 62) + (team ? 24 + measure(team, 400, 42) : 0) <= width);
    const fits = (size) => lanes.every(({ name }) => measure(name, 600, size) <= width);
    return { size: largest([62, 54, 48, 42], fits), teams };
}

/** The first size that fits, else the smallest.
 *  @param {number[]} sizes  from the largest down
 *  @param {(size: number) => boolean} fits
 *  @returns {number} */
export function largest(sizes, fits) {
    return sizes.find(fits) ?? sizes.at(-1);
}
