/* A line of text to the booth of the mat on air, and what the booth and the table have written. */

import { keepInStep } from "../elements/svg.js";
import { make, setText } from "../lib/dom.js";
import { newId } from "../lib/id.js";
import { clockTime, refusedText } from "./texts.js";

const NOTES_SHOWN = 20;

export class BoothView {
    #page;
    #label = make("span", { class: "quiet words" });
    #input = make("input", { type: "text", maxlength: "280", required: "" });
    #send;
    #list = make("ol");
    #none = make("p", { class: "quiet words" });
    #mat;
    #leave;
    #events = {};
    #bout;

    constructor(place, page) {
        this.#page = page;
        const { say } = page;
        this.#send = make("button", { type: "submit" }, say("gallery.send"));
        const form = make("form", { autocomplete: "off" }, make("label", {}, this.#label, this.#input), this.#send);
        form.addEventListener("submit", (event) => {
            event.preventDefault();
            this.#say();
        });
        place.append(form, this.#none, this.#list);
    }

    show({ state, gallery }) {
        const { say } = this.#page;
        const mat = state.mat_shown;
        this.#follow(mat);
        this.#bout = gallery.mats?.[mat]?.bout;
        setText(this.#label, say("gallery.to_booth", { mat: mat ?? "" }));
        this.#input.disabled = this.#send.disabled = !this.#bout;
        const notes = Object.entries(this.#events).filter(([, { type, to, out }]) => type === "note" && to === "booth" && !out)
            .sort(([one], [other]) => other - one).slice(0, NOTES_SHOWN);
        this.#none.hidden = notes.length > 0;
        setText(this.#none, say(this.#bout ? "gallery.no_notes" : "gallery.no_bout_note"));
        keepInStep(this.#list, notes, ([seq]) => seq, () => make("li", {}, make("span", { class: "quiet words" }), make("bdi")),
            (node, [, note]) => {
                setText(node.children[0], say("gallery.note_by", { by: note.by, time: clockTime(note.at) }));
                setText(node.children[1], note.text);
            });
    }

    #follow(mat) {
        if (mat === this.#mat) return;
        this.#leave?.();
        this.#mat = mat;
        this.#events = {};
        this.#leave = mat === undefined ? undefined
            : this.#page.line.follow(`mat/${mat}/booth`, ({ events }) => (this.#events = events ?? {}));
    }

    /* Not kept for later either: what the producer has to say is about now. */
    async #say() {
        const { line, say, answer } = this.#page;
        const text = this.#input.value.trim();
        if (!text) return;
        if (!line.connected) return void answer(say("gallery.unsent"), true);
        try {
            await line.send({ id: newId(), type: "note", bout: this.#bout, to: "booth", text, keyed_at: line.stamp() });
            this.#input.value = "";
            answer(say("gallery.done.said"));
        } catch (refusal) {
            answer(refusedText(refusal.problem ?? { title: refusal.message }, say), true);
        }
    }
}
