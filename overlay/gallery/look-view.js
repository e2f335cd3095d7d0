/* How the output looks. All options are one action, so a change sends all of them. */

import { make } from "../lib/dom.js";
import { LANGUAGES } from "../lib/options.js";

const CHOICES = {
    position: [
        "lower-left",
        "lower-right",
        "upper-left",
        "upper-right",
        "lifted",
        "upright",
        "square",
    ],
    theme: ["dark", "light"],
    clock: ["left", "elapsed"],
    motion: ["on", "off"],
    score: ["all", "confirmed"],
    unheard: ["clock", "all"],
    lang: LANGUAGES,
};
const PLAIN_PERCENT = 100;

export class LookView {
    #page;
    #inputs = {};
    #look = {};

    constructor(place, page) {
        this.#page = page;
        const { say } = page;
        const word = (name, value) =>
            name === "lang" ? value : say(`gallery.look_word.${name}.${value}`);
        for (const [name, values] of Object.entries(CHOICES)) {
            const options = values.map((value) => make("option", { value }, word(name, value)));
            this.#add(place, name, make("select", {}, ...options));
        }
        this.#add(
            place,
            "scale_percent",
            make("input", { type: "number", min: "50", max: "100", step: "1" }),
        );
        this.#add(
            place,
            "background",
            make("input", {
                type: "text",
                maxlength: "20",
                placeholder: say("gallery.look_word.background.none"),
            }),
        );
    }

    #add(place, name, input) {
        const { say } = this.#page;
        this.#inputs[name] = input;
        input.addEventListener("change", () => this.#change(name, input));
        input.addEventListener(
            "keydown",
            ({ code }) => code === "Enter" && input.tagName === "INPUT" && input.blur(),
        );
        place.append(
            make("label", {}, make("span", { class: "quiet" }, say(`gallery.look.${name}`)), input),
        );
    }

    show({ state: { look } }) {
        this.#look = look;
        for (const [name, input] of Object.entries(this.#inputs))
            if (document.activeElement !== input) input.value = String(look[name] ?? plainOf(name));
    }

    /* What is plain isn't named. */
    #change(name, input) {
        const value = input.type === "number" ? Number(input.value) : input.value.trim();
        const { [name]: _, ...rest } = this.#look;
        const look = value === "" || value === plainOf(name) ? rest : { ...rest, [name]: value };
        this.#page.act({ look }, "look");
    }
}

function plainOf(name) {
    if (name === "scale_percent") return PLAIN_PERCENT;
    return CHOICES[name]?.[0] ?? "";
}
