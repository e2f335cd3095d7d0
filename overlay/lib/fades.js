/* Calm on a page that people watch: one fade at a time, never two within a second (WCAG 2.2, 2.3.1
 * asks for less; nothing here blinks). What must not wait is cut in instead; what may, waits. */

const BETWEEN_MS = 1000;

export class Fades {
    #last_ms = -Infinity;
    #group;

    /** How something may come or go now.
     *  @param {number} now_ms  any steady clock
     *  @param {{urgent?: boolean, group?: string}} [what]  `urgent`: the picture would be untrue
     *      without it; `group`: parts of one thing, which move together
     *  @returns {"fade" | "cut" | "wait"} */
    ask(now_ms, { urgent = false, group } = {}) {
        if (group !== undefined && group === this.#group && now_ms === this.#last_ms) return "fade";
        if (now_ms - this.#last_ms < BETWEEN_MS) return urgent ? "cut" : "wait";
        this.#last_ms = now_ms;
        this.#group = group;
        return "fade";
    }
}

/** How long words stay at least: 2 s and 0.2 s a word, 3 s and 0.2 s a word from ten words on
 *  (published guidance for superimposed text).
 *  @param {string} text
 *  @returns {number} milliseconds */
export function readingTime(text) {
    const words = text.split(/\s+/).filter(Boolean).length;
    return (words < 10 ? 2000 : 3000) + words * 200;
}
