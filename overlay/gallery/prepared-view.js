/* What is prepared, in words, and what has changed since. */

import { at, setText } from "../lib/dom.js";
import { changedText, clockTime, panelName } from "./texts.js";

export class PreparedView {
    #say;

    constructor(say) {
        this.#say = say;
    }

    show({ state: { prepared } }) {
        const say = this.#say;
        const changed = prepared?.changed && changedText(prepared.changed, say);
        setText(
            at("prepared-what"),
            prepared ? panelName(prepared, say) : say("gallery.nothing_prepared"),
        );
        setText(at("prepared-by"), prepared ? byText(prepared, say) : "");
        setText(
            at("changed"),
            changed
                ? say("gallery.changed_since", { text: changed })
                : prepared
                  ? say("gallery.unchanged")
                  : "",
        );
        at("changed").classList.toggle("news", Boolean(changed));
    }
}

const byText = ({ by, since }, say) =>
    say(by ? "gallery.by_at" : "gallery.at", { by, time: clockTime(since) });
