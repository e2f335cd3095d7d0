/* Actions to outputs that wait for the daemon's answer. Unlike an event, an action isn't kept for
 * later: a take that arrives half a minute late is worse than none. So what can't be sent is refused
 * at once, and what was sent on a line that broke is told as unknown. */

import { newId } from "./id.js";
import { Refusal } from "./outbox.js";

export class Acts {
    #waiting = new Map(); /* id → {resolve, reject} */

    /** @param {(id: string) => boolean} transmit  sends it; false: there is no line
     *  @returns {Promise<object>} the daemon's `done` */
    begin(transmit) {
        const id = newId();
        return new Promise((resolve, reject) => {
            if (transmit(id)) this.#waiting.set(id, { resolve, reject });
            else reject(new Refusal({ type: "about:blank", title: "not connected", unsent: true }));
        });
    }

    /** @param {{id?: string}} done */
    done(done) {
        this.#take(done.id)?.resolve(done);
    }

    /** @param {{id?: string}} problem
     *  @returns {boolean} whether it answers an action of ours */
    refused(problem) {
        const waiting = this.#take(problem.id);
        waiting?.reject(new Refusal(problem));
        return Boolean(waiting);
    }

    /** The line is gone: whether they were done, nobody can say. */
    lost() {
        const all = [...this.#waiting.values()];
        this.#waiting.clear();
        const problem = { type: "about:blank", title: "the line broke", unknown: true };
        for (const { reject } of all) reject(new Refusal(problem));
    }

    #take(id) {
        const waiting = this.#waiting.get(id);
        this.#waiting.delete(id);
        return waiting;
    }
}
