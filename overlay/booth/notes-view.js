/* The notes unfolded: a line each, with where it comes from, over the strip and the pinned ones, where
 * no card is. The newest four. */

import { keepInStep } from "../elements/svg.js";
import { make, setText } from "../elements/working-head.js";
import { sourceOf } from "./notes.js";

const MOST = 4;

export class NotesView {
    #list;
    #say;
    #lang;

    constructor(list, say, lang) {
        this.#list = list;
        this.#say = say;
        this.#lang = lang;
        list.setAttribute("aria-label", say("booth.notes"));
    }

    /** @param {import("./notes.js").Note[]} notes
     *  @param {boolean} unfolded */
    show(notes, unfolded) {
        this.#list.hidden = !unfolded || notes.length === 0;
        if (this.#list.hidden) return;
        keepInStep(this.#list, notes.slice(0, MOST), ({ key, side }) => `${key} ${side}`,
            ({ side }) => this.#make(side), (node, note) => {
                setText(node.children[1], note.text);
                setText(node.children[2], sourceOf(note, this.#say, this.#lang));
            });
    }

    #make(side) {
        const row = make("li");
        const mark = side ? document.createElement("side-sign") : make("i");
        if (side) mark.setAttribute("side", side);
        row.append(mark, make("bdi"), make("span", "quiet"));
        return row;
    }
}
