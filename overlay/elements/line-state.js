/* Whether a page at work is connected, in words, at the same place on all of them. */

import { setText } from "../lib/dom.js";

const PATIENCE_MS = 3000; // a page that has just opened is not lost yet

/** @param {HTMLElement} place
 *  @param {import("../lib/connection.js").Connection} line
 *  @param {import("../lib/words.js").Say} say
 *  @param {{more?: string[], alarm?: boolean}} [also] what else is said, and whether it is urgent */
export function showLineState(place, line, say, { more = [], alarm = false } = {}) {
    const lost = !line.connected && performance.now() > PATIENCE_MS;
    const state = line.connected ? "connected" : lost ? "not_connected" : "connecting";
    setText(place, [say(`state.${state}`), ...more].filter(Boolean).join(", "));
    place.classList.toggle("alarm", lost || alarm);
    place.classList.toggle("waits", line.waiting > 0);
}
