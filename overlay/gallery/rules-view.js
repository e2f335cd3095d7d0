/* The rules that may put a panel on air by themselves: filled is armed, open is not; by whom and
 * since when. Nothing is armed but by name. */

import { make, setText } from "../lib/dom.js";
import { nextTime, ruleText } from "./texts.js";

const RULES = [
    "names_at_call",
    "why_in_break",
    "attacks_in_break",
    "result_when_sure",
    "round_between",
];

export class RulesView {
    #page;
    #rows = new Map();
    #time;
    #armed = {};

    constructor(place, page) {
        this.#page = page;
        const { say } = page;
        const list = make("ul");
        for (const rule of RULES) {
            const by = make("span", { class: "quiet by" });
            const button = make(
                "button",
                { type: "button", role: "switch", class: "rule" },
                make("i", { class: "sign", "aria-hidden": "true" }),
                make("span", { class: "words" }, say(`gallery.rule.${rule}`)),
                by,
            );
            button.addEventListener("click", () => this.#switch(rule));
            this.#rows.set(rule, { button, by });
            list.append(
                make("li", {}, button, ...(rule === "round_between" ? [this.#timeField()] : [])),
            );
        }
        place.append(list);
    }

    /* The round may say when it goes on. */
    #timeField() {
        this.#time = make("input", { type: "time" });
        return make(
            "label",
            { class: "at" },
            make("span", { class: "quiet" }, this.#page.say("gallery.round_at")),
            this.#time,
        );
    }

    show({ state: { rules } }) {
        for (const [rule, { button, by }] of this.#rows) {
            const is = rules[rule] ?? { armed: false };
            this.#armed[rule] = is.armed;
            button.setAttribute("aria-checked", String(is.armed));
            setText(by, ruleText(is, this.#page.say));
        }
    }

    #switch(rule) {
        const { act, say, line } = this.#page;
        const on = !this.#armed[rule];
        const at =
            on && rule === "round_between" ? nextTime(this.#time.value, line.now()) : undefined;
        act({ arm: { rule, on, ...(at && { at }) } }, on ? "armed" : "disarmed", undefined, {
            rule: say(`gallery.rule.${rule}`),
        });
    }
}
