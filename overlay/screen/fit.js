/* How large a name may be: the largest size of a row at which everything fits. Sizes only go down to
 * the smallest that is still readable on air; beyond that the text is cut with "…". */

let ruler;

/** How wide a text is on the stage: measured where it will stand, because a canvas takes another cut
 *  of the typeface.
 *  @param {string} text
 *  @param {number} weight
 *  @param {number} size  pixels
 *  @returns {number} pixels of the stage, whatever its scale */
export function textWidth(text, weight, size) {
    if (!ruler) {
        ruler = document.createElement("span");
        ruler.className = "ruler";
        document.getElementById("stage").append(ruler);
    }
    ruler.style.setProperty("font-weight", String(weight));
    ruler.style.setProperty("font-size", `${size}px`);
    ruler.textContent = text;
    const width = ruler.offsetWidth;
    ruler.textContent = "";
    return width;
}

/** Both names in one size; the teams stay only where both lanes have room for them at full size.
 *  @param {{name: string, team?: string}[]} lanes
 *  @param {number} width
 *  @param {(text: string, weight: number, size: number) => number} measure
 *  @returns {{size: number, teams: boolean}} */
export function fitNames(lanes, width, measure) {
    const teams = lanes.some(({ team }) => team) && lanes.every(({ name, team }) =>
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
