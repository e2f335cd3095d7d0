/* How large a name may be: the largest size of a row at which everything fits. Sizes only go down
 * to the smallest that is still readable on air; beyond that the text is cut with "…". */

let ruler;

/** How wide a text is on the stage: measured where it will stand, because a canvas takes another
 *  cut of the typeface.
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

const NAME_SIZES = [62, 54, 48, 42];

/** Both names in one size; the teams stay only where both lanes have room for them at full size.
 *  Where a whole name has no room at the smallest size, both are shown by their family names.
 *  @param {{name: string, family?: string, team?: string}[]} lanes
 *  @param {number} width
 *  @param {(text: string, weight: number, size: number) => number} measure
 *  @returns {{size: number, names: string[], teams: boolean}} */
export function fitNames(lanes, width, measure) {
    const fit = (names, size) => names.every((name) => measure(name, 600, size) <= width);
    const whole = lanes.map(({ name }) => name);
    const short = lanes.map(({ name, family }) => family ?? name);
    const names = fit(whole, NAME_SIZES.at(-1)) ? whole : short;
    const teams =
        lanes.some(({ team }) => team) &&
        lanes.every(
            ({ team }, i) =>
                measure(names[i], 600, NAME_SIZES[0]) + (team ? 24 + measure(team, 400, 42) : 0) <=
                width,
        );
    return { size: largest(NAME_SIZES, (size) => fit(names, size)), names, teams };
}

/** The first size that fits, else the smallest.
 *  @param {number[]} sizes  from the largest down
 *  @param {(size: number) => boolean} fits
 *  @returns {number} */
export function largest(sizes, fits) {
    return sizes.find(fits) ?? sizes.at(-1);
}
