/* <bout-clock>: the time in the clock's place: what is left of the period, or of the break in a
 * break. Hollow when unsure, gone when it cannot be trusted at all; its place stays. */

import { breakLeft, clockNow, clockText, timeElapsed } from "../lib/clock.js";

export class BoutClock extends HTMLElement {
    /** @param {object} view  a VIEW (docs/wire.md)
     *  @param {number} now_ms  on the daemon's clock
     *  @param {{trust?: "sure" | "unsure" | "hidden", count?: "left" | "elapsed"}} [options]
     *      `trust`: the connection's; `count`: to match a board that counts up */
    show(view, now_ms, { trust = "sure", count = "left" } = {}) {
        const clock = clockNow(view, now_ms);
        const break_ms = breakLeft(view, now_ms);
        const text =
            break_ms !== undefined
                ? clockText({ left_ms: break_ms })
                : count === "elapsed"
                  ? timeElapsed(clock.t_ms)
                  : clockText(clock);
        if (this.textContent !== text) this.textContent = text;
        const shown = trust === "sure" && clock.unsure ? "unsure" : trust;
        if (this.getAttribute("trust") !== shown) this.setAttribute("trust", shown);
    }
}

customElements.define("bout-clock", BoutClock);
