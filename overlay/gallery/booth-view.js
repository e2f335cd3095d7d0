/* A line to a booth, and back (TALK in docs/wire.md). What a booth says stands on top of the page,
 * whatever sheet is open, until it is acknowledged by one key or answered. */

import { keepInStep } from "../elements/svg.js";
import { at, make, setText } from "../lib/dom.js";
import { clockTime } from "./texts.js";

/** What a booth waits for: the oldest line that nobody here has acknowledged.
 *  @param {Record<string, {from: string, mat: string, text: string, seen?: string}>} [talk]
 *  @returns {object | undefined} the line, with its number */
export function waitingLine(talk = {}) {
    return linesOf(talk)
        .reverse()
        .find(({ from, seen }) => from === "booth" && !seen);
}

/* Newest first. */
function linesOf(talk) {
    return Object.entries(talk)
        .map(([number, line]) => ({ ...line, number: Number(number) }))
        .sort((one, other) => other.number - one.number);
}

export class BoothView {
    #page;
    #label = make("span", { class: "quiet words" });
    #input = make("input", { type: "text", maxlength: "140", required: "" });
    #send;
    #list = make("ol");
    #mat; /* whose booth the line is for */
    #waiting;

    constructor(place, page) {
        this.#page = page;
        this.#send = make("button", { type: "submit" }, page.say("gallery.send"));
        const form = make(
            "form",
            { autocomplete: "off" },
            make("label", {}, this.#label, this.#input),
            this.#send,
        );
        form.addEventListener("submit", (event) => {
            event.preventDefault();
            this.#say();
        });
        place.append(form, this.#list);
        at("talk").addEventListener("click", () => this.seen());
    }

    /** What waits was read here. */
    seen() {
        if (this.#waiting) this.#page.line.talk({ seen: this.#waiting.number });
    }

    /** On top, whatever sheet is open.
     *  @param {{gallery: {talk?: object}}} all */
    showWaiting({ gallery: { talk } }) {
        const { say } = this.#page;
        this.#waiting = waitingLine(talk);
        at("talk").hidden = !this.#waiting;
        if (!this.#waiting) return;
        const [who, text, how] = at("talk").children;
        setText(who, say("gallery.booth_says", this.#waiting));
        setText(text, this.#waiting.text);
        setText(how, say("gallery.talk_how"));
    }

    show({ state, gallery: { talk = {} } }) {
        const { say } = this.#page;
        const written = this.#input.value !== "" || document.activeElement === this.#input;
        if (!written || this.#mat === undefined) this.#mat = this.#waiting?.mat ?? state.mat_shown;
        this.#input.disabled = this.#send.disabled = this.#mat === undefined;
        setText(this.#label, say("gallery.to_booth", { mat: this.#mat ?? "" }));
        keepInStep(
            this.#list,
            linesOf(talk),
            ({ number }) => String(number),
            () =>
                make(
                    "li",
                    {},
                    make("span", { class: "quiet words" }),
                    make("bdi"),
                    make("span", { class: "quiet words" }),
                ),
            (node, line) => this.#fill(node, line),
        );
    }

    #fill(node, { from, mat, text, at: said, seen }) {
        const { say } = this.#page;
        setText(node.children[0], say("gallery.said_by", { from, mat, time: clockTime(said) }));
        setText(node.children[1], text);
        setText(
            node.children[2],
            from === "gallery" ? say(seen ? "gallery.seen" : "gallery.unseen") : "",
        );
    }

    /* Not kept for later either: what the producer has to say is about now. An answer says that the
     * question was read. */
    #say() {
        const { line, say, answer } = this.#page;
        const text = this.#input.value.trim();
        if (!text) return;
        if (!line.talk({ say: { to: "booth", mat: this.#mat, text } })) {
            answer(say("gallery.unsent"), true);
            return;
        }
        if (this.#waiting?.mat === this.#mat) this.seen();
        this.#input.value = "";
        this.#input.blur();
        answer(say("gallery.done.said"));
    }
}
