/* What arrives now and is shown some seconds later: for a viewer whose picture comes late. Order is
 * kept, nothing is shown twice; shortening the wait shows at once what is due by then. */

export class Later {
    #waiting = []; /* {at_ms, value}, in order of arrival */

    /** @param {any} value
     *  @param {number} now_ms  any steady clock */
    put(value, now_ms) {
        this.#waiting.push({ at_ms: now_ms, value });
    }

    /** What is due, oldest first; each once.
     *  @param {number} now_ms
     *  @param {number} wait_ms
     *  @returns {any[]} */
    due(now_ms, wait_ms) {
        const first = this.#waiting.findIndex(({ at_ms }) => at_ms + wait_ms > now_ms);
        const count = first < 0 ? this.#waiting.length : first;
        return this.#waiting.splice(0, count).map(({ value }) => value);
    }

    get empty() {
        return this.#waiting.length === 0;
    }
}
