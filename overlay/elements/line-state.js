/* Whether a page at work is connected, in words, at the same place on all of them. */

import { lineWord } from "../lib/access.js";
import { setText } from "../lib/dom.js";

/** @param {HTMLElement} place
 *  @param {import("../lib/connection.js").Connection} line
 *  @param {import("../lib/words.js").Say} say
 *  @param {{more?: string[], alarm?: boolean}} [also] what else is said, and whether it is urgent */
export function showLineState(place, line, say, { more = [], alarm = false } = {}) {
    const word = lineWord(line, performance.now());
    const lost = word !== "connected" && word !== "connecting";
    setText(place, [say(`state.${word}`), ...more].filter(Boolean).join(", "));
    place.classList.toggle("alarm", lost || alarm);
    place.classList.toggle("waits", line.waiting > 0);
}
