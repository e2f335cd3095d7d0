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
const SIZES_WITH_TEAM = [62, 54];
const TEAM_SIZE = 42;
const GAP = 24; /* between a name and its team */

/** Both names in one size, alike in both lanes: whole names with the teams; else family names with
 *  the teams, as long as the names stay large; else the names alone, whole where they fit at all.
 *  @param {{name: string, family?: string, team?: string}[]} lanes
 *  @param {number} width
 *  @param {(text: string, weight: number, size: number) => number} measure
 *  @returns {{size: number, names: string[], teams: boolean}} */
export function fitNames(lanes, width, measure) {
    const whole = lanes.map(({ name }) => name);
    const family = lanes.map((lane) => lane.family ?? lane.name);
    const short = family[0] === family[1] ? whole : family; /* of two sisters, both whole */
    const room = lanes.map(({ team }) => width - (team ? GAP + measure(team, 400, TEAM_SIZE) : 0));
    const fit = (names, size, rooms) => names.every((name, i) => measure(name, 600, size) <= rooms[i]);
    const sizeOf = (names, sizes, rooms) => sizes.find((size) => fit(names, size, rooms));

    const anyTeam = lanes.some(({ team }) => team);
    for (const names of anyTeam ? [whole, short] : []) {
        const size = sizeOf(names, names === whole ? SIZES_WITH_TEAM.slice(0, 1) : SIZES_WITH_TEAM, room);
        if (size) return { size, names, teams: true };
    }
    const alone = lanes.map(() => width);
    for (const names of [whole, short]) {
        const size = sizeOf(names, NAME_SIZES, alone);
        if (size) return { size, names, teams: false };
    }
    return { size: NAME_SIZES.at(-1), names: short, teams: false };
}

/** The first size that fits, else the smallest.
 *  @param {number[]} sizes  from the largest down
 *  @param {(size: number) => boolean} fits
 *  @returns {number} */
export function largest(sizes, fits) {
    return sizes.find(fits) ?? sizes.at(-1);
}
