/* What of the talk with the gallery stands on the booth's page (TALK in docs/wire.md): one line. What
 * the gallery said stays until it is acknowledged; what was said to it, until it is seen there, and a
 * moment longer. Pure. */

const SEEN_MS = 8000; // how long "seen" is shown

/** @typedef {{number: number, text: string, from: "gallery"|"booth", seen: boolean}} Line */

/** @param {Record<string, {from: string, text: string, at: string, seen?: string}>} [talk]
 *  @param {number} now_ms on the daemon's clock
 *  @returns {Line|undefined} the oldest that the gallery waits for, else our own latest */
export function lineShown(talk = {}, now_ms) {
    const lines = Object.entries(talk).map(([number, line]) => ({ ...line, number: Number(number) }))
        .sort((one, other) => one.number - other.number);
    const asked = lines.find(({ from, seen }) => from === "gallery" && !seen);
    const last = lines.at(-1);
    const own = last?.from === "booth" && !(now_ms - Date.parse(last.seen) > SEEN_MS) ? last : undefined;
    const line = asked ?? own;
    return line && { number: line.number, text: line.text, from: line.from, seen: Boolean(line.seen) };
}
