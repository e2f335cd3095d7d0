/* The panels that somebody writes: a free line, and when it goes on. Enter prepares what was
 * written and gives the keys back; taking it is another Enter. */

import { make } from "../lib/dom.js";
import { nextTime } from "./texts.js";

export class EntryView {
    #form;
    #page;
    #lay;
    #panel;

    /** @param {HTMLFormElement} form
     *  @param {{say: Function, line: object}} page
     *  @param {(choice: object) => Promise<object | undefined>} lay  prepares it */
    constructor(form, page, lay) {
        this.#form = form;
        this.#page = page;
        this.#lay = lay;
        form.addEventListener("submit", (event) => {
            event.preventDefault();
            this.#prepare();
        });
    }

    /** @param {"text" | "back"} panel
     *  @param {object} state  OUTPUT: what was written before stands there again */
    open(panel, { prepared, on_air }) {
        const { say } = this.#page;
        const before = [prepared, on_air.panel].find((one) => one?.panel === panel) ?? {};
        this.#panel = panel;
        const text = field(
            "text",
            say(panel === "text" ? "gallery.text" : "gallery.back_text"),
            { type: "text", maxlength: "140", placeholder: say("gallery.text_hint") },
            before.text ?? "",
        );
        const time = field(
            "time",
            say("gallery.back_at"),
            { type: "time", required: "" },
            before.at ? wallTime(before.at) : "",
        );
        const parts = panel === "text" ? [text] : [time, text];
        if (panel === "text") text.querySelector("input").required = true;
        this.#form.replaceChildren(
            ...parts,
            make("button", { type: "submit" }, say("gallery.ready")),
        );
        this.#form.hidden = false;
        this.#form.querySelector("input").focus();
    }

    close() {
        this.#form.hidden = true;
        this.#form.replaceChildren();
    }

    show() {}

    async #prepare() {
        const { line } = this.#page;
        const value = (name) => this.#form.elements[name]?.value.trim() ?? "";
        const panel = this.#panel;
        const at = nextTime(value("time"), line.now());
        const text = value("text");
        document.activeElement?.blur();
        const choice = { panel, ...(text && { text }), ...(panel === "back" && { at }) };
        if (await this.#lay(choice)) this.close();
    }
}

function field(name, label, attributes, value) {
    const input = make("input", { name, ...attributes });
    input.value = value;
    return make("label", { class: name }, make("span", { class: "quiet" }, label), input);
}

function wallTime(time) {
    const date = new Date(time);
    return [date.getHours(), date.getMinutes()]
        .map((part) => String(part).padStart(2, "0"))
        .join(":");
}
