/* Outputs are made and removed here; which one the page looks at is chosen on top. */

import { make, setText } from "../lib/dom.js";

const NAMES = "[a-z0-9\\-]{1,32}";

export class OutputsView {
    #page;
    #name;
    #address;
    #remove;
    #output;
    #sure = false;

    constructor(place, page) {
        this.#page = page;
        const { say } = page;
        this.#name = make("input", {
            type: "text",
            pattern: NAMES,
            maxlength: "32",
            required: "",
            title: say("gallery.new_output_how"),
        });
        const form = make(
            "form",
            { autocomplete: "off" },
            make(
                "label",
                {},
                make("span", { class: "quiet" }, say("gallery.new_output")),
                this.#name,
            ),
            make("button", { type: "submit" }, say("gallery.make")),
            make("span", { class: "quiet words" }, say("gallery.new_output_how")),
        );
        form.addEventListener("submit", (event) => {
            event.preventDefault();
            this.#make();
        });
        this.#address = make("a", { target: "_blank", rel: "noopener" });
        this.#remove = make("button", { type: "button", class: "cut" });
        this.#remove.addEventListener("click", () => this.#take());
        this.#remove.addEventListener("blur", () => this.#ask(false));
        place.append(
            form,
            make(
                "p",
                {},
                make("span", { class: "quiet" }, say("gallery.address")),
                " ",
                this.#address,
            ),
            this.#remove,
        );
    }

    show({ output }) {
        const { say } = this.#page;
        if (output !== this.#output) this.#sure = false;
        this.#output = output;
        const address = new URL(
            `../screen/${output === "main" ? "" : `?output=${output}`}`,
            location.href,
        ).href;
        if (this.#address.href !== address) this.#address.href = address;
        setText(this.#address, address);
        this.#remove.disabled = output === "main";
        const words = output === "main" ? "main_stays" : this.#sure ? "remove_sure" : "remove";
        setText(this.#remove, say(`gallery.${words}`, { output }));
        this.#remove.classList.toggle("sure", this.#sure);
    }

    /* Made by the first thing that is done to its name. */
    async #make() {
        const { act, show } = this.#page;
        const output = this.#name.value;
        if (!(await act({ take: { line: true } }, "made", output, { output }))) return;
        this.#name.value = "";
        this.#name.blur();
        show(output);
    }

    #ask(sure) {
        this.#sure = sure;
    }

    async #take() {
        const { act, show } = this.#page;
        const output = this.#output;
        if (!this.#sure) return this.#ask(true);
        this.#ask(false);
        if (await act({ remove: {} }, "removed", output, { output })) show("main");
        return undefined;
    }
}
