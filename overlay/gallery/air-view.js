/* What is on air: the very page that the compositor has, in a frame, and a line that says it in
 * words, with how long it has been there and how long it takes to read. */

import { at, make, setText } from "../lib/dom.js";
import { panelName, secondsText, withheldText } from "./texts.js";

export class AirView {
    #say;
    #output; /* of the frame */

    constructor(say) {
        this.#say = say;
    }

    /* Only once this page may read the output, so that the frame begins with the tab's key. */
    #look(output) {
        if (this.#output === output) return;
        this.#output = output;
        at("monitor").replaceChildren(
            make("iframe", {
                title: this.#say("gallery.air", { output }),
                src: `../screen/?output=${encodeURIComponent(output)}`,
                tabindex: "-1",
            }),
        );
    }

    show({ output, state, air, now_ms }) {
        const say = this.#say;
        this.#look(output);
        const how = state.hold?.how;
        const headings = { freeze: "gallery.frozen", hide: "gallery.hidden" };
        at("monitor").dataset.shape = shapeOf(state.look.position);
        setText(at("air-heading"), say(headings[how] ?? "gallery.on_air"));
        at("air-heading").classList.toggle("filled", how !== "hide");
        setText(at("air-what"), this.#whatText(state, air, now_ms));
        setText(
            at("air-mat"),
            state.mat_shown ? say("gallery.air_mat", { mat: state.mat_shown }) : "",
        );
    }

    #whatText({ on_air: { line, panel } }, air, now_ms) {
        const say = this.#say;
        const parts = [line && say("gallery.line"), panel && this.#panelText(panel, air, now_ms)];
        return parts.filter(Boolean).join(" · ") || say("gallery.nothing");
    }

    #panelText(panel, air, now_ms) {
        const say = this.#say;
        const { withheld } = air?.on_air?.panel ?? {};
        const since_ms = Math.max(0, now_ms - Date.parse(panel.since));
        const left_ms = panel.least_ms - since_ms;
        const values = {
            time: wholeSeconds(since_ms, say),
            left: wholeSeconds(left_ms + 999, say),
        };
        const rule =
            panel.rule && say("gallery.rule_brought", { rule: say(`gallery.rule.${panel.rule}`) });
        const how = withheld
            ? say("gallery.empty_now", { why: withheldText({ withheld }, say) })
            : say(left_ms > 0 ? "gallery.stays" : "gallery.since", values);
        return [panelName(panel, say), rule, how].filter(Boolean).join(", ");
    }
}

const wholeSeconds = (ms, say) => secondsText(Math.floor(ms / 1000) * 1000, say);

const shapeOf = (position) => (["upright", "square"].includes(position) ? position : "wide");
