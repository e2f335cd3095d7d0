/* How much later each audience is shown everything: the output, and of its mat the viewers' feed
 * and the booth. In whole frames of a rate that is named, and in milliseconds. */

import { make, setText } from "../lib/dom.js";
import { DELAY_MS_MAX, framesIn, framesMax, lengthOf, RATE_NAMES, USUAL_RATE } from "./frames.js";

const AUDIENCES = ["output", "follow", "booth"];
const TOLD_WITHIN_MS = 3000;

export class DelayView {
    #page;
    #rate;
    #rows;
    #chosen; /* the rate that somebody chose on this page */
    #now = {};
    #wanted = new Map(); /* audience → {ms, until_ms}: asked for, and not yet told by the topic */
    #mat;
    #place; /* the output and mat that are shown */

    constructor(place, page) {
        this.#page = page;
        const { say } = page;
        this.#rate = make(
            "select",
            {},
            ...RATE_NAMES.map((name) => make("option", { value: name }, name)),
        );
        this.#rate.addEventListener("change", () => this.#choose());
        this.#rows = new Map(AUDIENCES.map((audience) => [audience, this.#buildRow(audience)]));
        place.append(
            make(
                "label",
                { class: "rate" },
                make("span", { class: "quiet" }, say("gallery.rate")),
                " ",
                this.#rate,
            ),
            ...[...this.#rows.values()].map(({ node }) => node),
        );
    }

    #buildRow(audience) {
        const { say } = this.#page;
        const name = make("span", { class: "name words" });
        const frames = make("input", { type: "number", min: "0", step: "1", class: "frames" });
        const ms = make("input", {
            type: "number",
            min: "0",
            max: String(DELAY_MS_MAX),
            step: "1",
            class: "ms",
        });
        const step = (text, by) => {
            const node = make("button", { type: "button", class: "step" }, text);
            node.addEventListener("click", () =>
                this.#setFrames(audience, this.#framesOf(audience) + by),
            );
            return node;
        };
        const less = step("−", -1);
        const more = step("+", 1);
        frames.addEventListener("change", () => this.#setFrames(audience, Number(frames.value)));
        ms.addEventListener("change", () =>
            this.#set(audience, { ms: bounded(Number(ms.value), DELAY_MS_MAX) }),
        );
        for (const input of [frames, ms])
            input.addEventListener("keydown", ({ code }) => code === "Enter" && input.blur());
        const node = make(
            "div",
            { class: "delay", "data-audience": audience },
            name,
            less,
            frames,
            make("span", { class: "quiet" }, say("gallery.frames")),
            more,
            ms,
            make("span", { class: "quiet" }, say("gallery.ms")),
        );
        return { node, name, less, more, frames, ms };
    }

    show({ output, state, gallery }) {
        const { say } = this.#page;
        const mat = state.mat_shown;
        const { delay } = state;
        if (this.#place !== `${output} ${mat}`) this.#wanted.clear();
        this.#place = `${output} ${mat}`;
        this.#mat = mat;
        const told = {
            output: delay.ms,
            follow: gallery.delays?.[`mat/${mat}/follow`] ?? 0,
            booth: gallery.delays?.[`mat/${mat}/booth`] ?? 0,
        };
        for (const audience of AUDIENCES)
            this.#now[audience] = this.#knownOf(audience, told[audience]);
        const rate = this.#chosen ?? delay.rate ?? USUAL_RATE;
        if (document.activeElement !== this.#rate) this.#rate.value = rate;
        for (const [audience, row] of this.#rows) {
            row.node.hidden = audience !== "output" && mat === undefined;
            this.#fill(
                row,
                say(`gallery.delay_of.${audience}`, { name: output, mat }),
                this.#now[audience],
            );
        }
    }

    #fill({ name, less, more, frames, ms }, text, now_ms) {
        const { say } = this.#page;
        setText(name, text);
        const labels = [
            [less, "less"],
            [more, "more"],
            [frames, "delay_frames"],
            [ms, "delay_ms"],
        ];
        for (const [node, key] of labels)
            node.setAttribute("aria-label", say(`gallery.${key}`, { name: text }));
        frames.max = String(framesMax(this.#rate.value));
        less.disabled = now_ms === 0;
        if (document.activeElement !== frames)
            frames.value = String(framesIn(now_ms, this.#rate.value));
        if (document.activeElement !== ms) ms.value = String(now_ms);
    }

    /* A second stroke steps from what the first asked for, though the topic doesn't say it yet. */
    #knownOf(audience, told_ms) {
        const wanted = this.#wanted.get(audience);
        if (wanted && wanted.ms !== told_ms && performance.now() < wanted.until_ms)
            return wanted.ms;
        this.#wanted.delete(audience);
        return told_ms;
    }

    #framesOf(audience) {
        return framesIn(this.#now[audience], this.#rate.value);
    }

    #choose() {
        this.#chosen = this.#rate.value;
        this.#rate.blur();
    }

    #setFrames(audience, wanted) {
        const rate = this.#rate.value;
        this.#set(audience, { frames: bounded(wanted, framesMax(rate)), rate });
    }

    async #set(audience, delay) {
        const { act, say } = this.#page;
        const rate = this.#rate.value;
        const length_ms = delay.ms ?? lengthOf(delay.frames, delay.rate);
        const of = audience === "output" ? {} : { of: `mat/${this.#mat}/${audience}` };
        const name = this.#rows.get(audience).name.textContent;
        this.#now[audience] = length_ms;
        this.#wanted.set(audience, { ms: length_ms, until_ms: performance.now() + TOLD_WITHIN_MS });
        const text = say("gallery.delay_text", {
            name,
            frames: framesIn(length_ms, rate),
            ms: length_ms,
        });
        if (!(await act({ delay: { ...delay, ...of } }, "delay", undefined, { text })))
            this.#wanted.delete(audience);
    }
}

const bounded = (number, most) => Math.min(most, Math.max(0, Math.round(number) || 0));
