/* One line to be written: a note on a side or the bout, or an answer to the gallery. It opens over the
 * strip, so that no card moves; Enter sends it, Escape leaves it. */

import { make, setText } from "../elements/working-head.js";

const MOST = { gallery: 140, red: 280, blue: 280, bout: 280 };

export class WriteView {
    #form;
    #sign = document.createElement("side-sign");
    #label = make("label");
    #field = make("input");
    #trouble = make("span", "trouble");
    #send;
    #say;
    #about;

    /** @param {HTMLFormElement} form
     *  @param {(about: string, text: string) => boolean} send `about`: red, blue, bout, gallery;
     *      false: it couldn't be sent, and stays */
    constructor(form, send, say) {
        this.#form = form;
        this.#send = send;
        this.#say = say;
        Object.assign(this.#field, { id: "write-text", type: "text", autocomplete: "off", required: true });
        this.#label.htmlFor = this.#field.id;
        this.#trouble.setAttribute("role", "alert");
        form.append(this.#sign, this.#label, this.#field, this.#trouble);
        form.addEventListener("submit", (event) => this.#submit(event));
        form.addEventListener("keydown", (event) => event.code === "Escape" && this.close());
    }

    open(about) {
        if (about !== this.#about) this.#field.value = "";
        this.#about = about;
        this.#sign.hidden = !["red", "blue"].includes(about);
        if (!this.#sign.hidden) this.#sign.setAttribute("side", about);
        setText(this.#label, this.#say(`booth.write.${about}`));
        setText(this.#trouble, "");
        this.#field.maxLength = MOST[about];
        this.#form.hidden = false;
        this.#field.focus();
    }

    close() {
        this.#field.blur(); // the keys are the page's again at once
        this.#form.hidden = true;
        this.#about = undefined;
        this.#field.value = "";
    }

    #submit(event) {
        event.preventDefault();
        const text = this.#field.value.trim();
        if (!text) this.close();
        else if (this.#send(this.#about, text)) this.close();
        else setText(this.#trouble, this.#say("booth.write.unsent"));
    }
}
