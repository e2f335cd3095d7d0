/* The sheets: what is set now and then, one at a time at one place. Tabs as WAI-ARIA describes them:
 * the arrows move between them, and each has its key. */

import { at, make } from "../lib/dom.js";
import { letterOf, SHEETS } from "./keys.js";
import { BoothView } from "./booth-view.js";
import { DelayView } from "./delay-view.js";
import { LookView } from "./look-view.js";
import { OutputsView } from "./outputs-view.js";
import { PeopleView } from "./people-view.js";
import { RulesView } from "./rules-view.js";

const VIEWS = {
    rules: RulesView,
    delay: DelayView,
    look: LookView,
    people: PeopleView,
    outputs: OutputsView,
    booth: BoothView,
};
const NAMES = Object.keys(SHEETS);

export class SheetsView {
    #tabs;
    #views = {};
    #open;
    #shown;

    /** @param {{say: Function, line: object, act: Function, show: Function, answer: Function}} page */
    constructor(page) {
        const { say } = page;
        const sheet = at("sheet");
        for (const name of NAMES) {
            const place = make("div", { class: name, hidden: "" });
            sheet.append(place);
            this.#views[name] = Object.assign(new VIEWS[name](place, page), { place });
        }
        this.#tabs = new Map(NAMES.map((name) => [name, buildTab(name, say)]));
        at("tabs").append(...this.#tabs.values());
        at("tabs").addEventListener("click", ({ target }) =>
            this.open(target.closest("[role=tab]")?.value),
        );
        at("tabs").addEventListener("keydown", (event) => this.#move(event));
        this.open(NAMES[0]);
    }

    /** @param {string} [name]
     *  @param {{focus?: boolean}} [how]  `focus`: by its key, so the first thing on it is reached */
    open(name, { focus = false } = {}) {
        if (!name) return;
        this.#open = name;
        for (const [other, tab] of this.#tabs) {
            tab.setAttribute("aria-selected", String(other === name));
            tab.setAttribute("tabindex", other === name ? "0" : "-1");
            this.#views[other].place.hidden = other !== name;
        }
        at("sheet").setAttribute("aria-labelledby", this.#tabs.get(name).id);
        if (this.#shown) this.show(this.#shown);
        if (focus) focusFirst(this.#views[name].place);
    }

    /** What a booth has said was read. */
    seen() {
        this.#views.booth.seen();
    }

    show(all) {
        this.#shown = all;
        this.#views.booth.showWaiting(all);
        this.#views[this.#open].show(all);
    }

    #move({ code }) {
        const step = { ArrowRight: 1, ArrowLeft: -1 }[code];
        if (!step) return;
        const next = NAMES[(NAMES.indexOf(this.#open) + step + NAMES.length) % NAMES.length];
        this.open(next);
        this.#tabs.get(next).focus();
    }
}

function buildTab(name, say) {
    return make(
        "button",
        { type: "button", role: "tab", id: `tab-${name}`, value: name, "aria-controls": "sheet" },
        say(`gallery.sheet.${name}`),
        " ",
        make("kbd", {}, letterOf(name)),
    );
}

function focusFirst(place) {
    const [first] = [...place.querySelectorAll("input, select, button, a")].filter((node) =>
        node.checkVisibility(),
    );
    (first ?? at("sheet")).focus({ focusVisible: true });
}
