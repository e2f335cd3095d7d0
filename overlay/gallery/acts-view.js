/* The strokes that change the picture: take, clear, hold; and, smaller, the score line and the side. */

import { make, setText } from "../lib/dom.js";

const SIDES = ["", "red", "blue"];
const ONE_SIDED = ["who", "attacks", "needs"];

export class ActsView {
    #say;
    #parts;

    constructor(place, give, say) {
        this.#say = say;
        const button = (name, input, key) => {
            const words = make("b", {}, say(`gallery.${name}`));
            const node = make(
                "button",
                { type: "button", class: name },
                words,
                make("kbd", {}, key),
            );
            node.addEventListener("click", () => give(input));
            return { node, words };
        };
        const take = button("take", { take: true }, say("gallery.take_key"));
        const clear = button("clear", { clear: true }, say("gallery.clear_key"));
        const freeze = button("freeze", { hold: "freeze" }, "F");
        const hide = button("hide", { hold: "hide" }, "H");
        const line = button("line_off", { line: true }, "L");
        const panel = button("panel_off", { panelOff: true }, "⌫");
        this.#parts = { freeze, hide, line, side: this.#sideChooser(give) };
        const large = make(
            "div",
            { class: "large" },
            take.node,
            clear.node,
            freeze.node,
            hide.node,
        );
        place.append(
            large,
            make("div", { class: "small" }, line.node, panel.node, this.#parts.side),
        );
    }

    #sideChooser(give) {
        const say = this.#say;
        const group = make(
            "div",
            { class: "side", role: "group", "aria-label": say("gallery.side") },
            make("kbd", {}, "S"),
        );
        for (const side of SIDES) {
            const node = make(
                "button",
                { type: "button", value: side },
                say(side ? `side.${side}` : "gallery.both"),
            );
            node.addEventListener("click", () => give({ side }));
            group.append(node);
        }
        return group;
    }

    show({ state: { hold, on_air, prepared } }) {
        const say = this.#say;
        const { freeze, hide, line, side } = this.#parts;
        setText(freeze.words, say(hold?.how === "freeze" ? "gallery.unfreeze" : "gallery.freeze"));
        setText(hide.words, say(hold?.how === "hide" ? "gallery.show" : "gallery.hide"));
        freeze.node.classList.toggle("on", hold?.how === "freeze");
        hide.node.classList.toggle("on", hold?.how === "hide");
        setText(line.words, say(on_air.line ? "gallery.line_off" : "gallery.line_on"));
        side.hidden = !ONE_SIDED.includes(prepared?.panel);
        for (const node of side.querySelectorAll("button"))
            node.setAttribute("aria-pressed", String(node.value === (prepared?.side ?? "")));
    }
}
