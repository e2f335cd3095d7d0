/* The table: one person keys a bout at full speed. State comes from the daemon and from the page's
 * own strokes (desk.js); this file only wires keys, taps, forms and drawing together. */

import "../elements/bout-line.js";
import { showLineState } from "../elements/line-state.js";
import { showRefusals } from "../elements/refusals.js";
import { setText } from "../elements/working-head.js";
import { loadWorkingWords } from "../elements/working-words.js";
import { connect } from "../lib/connection.js";
import { dress, languageOf, NAME, readOptions } from "../lib/options.js";
import { boutTitle, lineSentence } from "../lib/sentences.js";
import { Desk } from "./desk.js";
import { ClockKeys, FieldView } from "./field-view.js";
import { LAYOUTS } from "./field.js";
import { Forms } from "./forms.js";
import { belongsToFocus, inputOf, releaseOf } from "./keyboard.js";
import { ListView } from "./list-view.js";
import { editionInForce } from "./proposals.js";
import { ReadView } from "./read-view.js";
import { findMat } from "./which-mat.js";

const TICK_MS = 100;
const LINE_UNITS = [["(max-width: 1150px)", "3"], ["(max-width: 1500px), (max-height: 850px)", "6"]];
const byId = (id) => document.getElementById(id);

const options = readOptions(location.search, {
    mat: { text: "", like: NAME },
    theme: ["dark", "light", "auto"],
    motion: ["on", "off"],
    keys: ["on", "off"],
    layout: ["", ...Object.keys(LAYOUTS)],
});

class TablePage {
    #say;
    #mat;
    #line;
    #desk;
    #forms;
    #views;
    #keysOn = options.keys === "on";
    #layout = options.layout || remembered("layout", "us");

    constructor(say, mat) {
        this.#say = say;
        this.#mat = mat;
        this.#line = connect({ audience: "desk", outbox: `table-${mat}` });
        this.#desk = new Desk({ line: this.#line, say });
        this.#forms = new Forms(byId("form"), { desk: this.#desk, say, mat });
        const give = (input) => this.#give(input);
        this.#views = {
            read: new ReadView({ band: byId("read"), sentence: byId("sentence"), notes: byId("notes"),
                detail: byId("detail") }, give, say),
            list: new ListView(byId("list"), give, say),
            field: new FieldView(byId("field"), give),
            clock: new ClockKeys(byId("clock-keys"), give, say),
        };
        this.#wire(give);
        this.#line.follow(`mat/${mat}/table`, (state) => this.#desk.take(state));
        this.#desk.loadEditions();
        setInterval(() => this.#tick(), TICK_MS);
        this.#draw();
    }

    #wire(give) {
        this.#desk.addEventListener("change", () => this.#draw());
        this.#desk.addEventListener("effect", ({ detail }) => this.#effect(detail));
        this.#line.addEventListener("change", () => this.#drawLineState());
        document.addEventListener("keydown", (event) => this.#press(event));
        document.addEventListener("keyup", (event) => this.#release(event));
        window.addEventListener("blur", () => this.#letGo());
        document.addEventListener("click", ({ detail, target }) => {
            if (detail > 0) target.closest("button")?.blur(); // a tap leaves no focus for the space bar
        });
        for (const name of ["undo", "confirm"]) {
            setText(byId(name).querySelector("span"), this.#say(`table.key.${name}`));
            byId(name).addEventListener("click", () => give({ do: name }));
        }
        byId("keys").addEventListener("click", () => this.#switchKeys());
        byId("empty").querySelector("button").addEventListener("click", () => this.#forms.open("call"));
        this.#wireLayout();
    }

    #wireLayout() {
        document.querySelector(".layout").hidden = false;
        const place = byId("layout");
        setText(byId("layout-name"), this.#say("table.layout"));
        place.setAttribute("aria-label", this.#say("table.layout"));
        for (const name of Object.keys(LAYOUTS)) {
            const option = new Option(this.#say(`table.layouts.${name}`), name, false, name === this.#layout);
            place.append(option);
        }
        place.addEventListener("change", () => {
            this.#layout = place.value;
            remember("layout", place.value);
            place.blur();
            this.#draw();
        });
    }

    /* ---- keys ---- */

    #press(event) {
        const { activeElement } = document;
        const focus = { tag: activeElement?.tagName ?? "", reached: Boolean(activeElement?.matches(":focus-visible")) };
        if (!this.#keysOn || this.#forms.isOpen || belongsToFocus(event, focus)) return;
        if (!this.#desk.view) {
            this.#pressWithoutBout(event);
            return;
        }
        const input = inputOf(event, this.#desk.field);
        if (!input) return;
        event.preventDefault();
        if (input.do !== "nothing") this.#give(input);
    }

    #pressWithoutBout(event) {
        if (event.code !== "Slash" && event.code !== "Digit1") return;
        event.preventDefault();
        this.#forms.open("call");
    }

    #release(event) {
        const input = releaseOf(event, this.#desk.field);
        if (input && this.#desk.view) this.#give(input);
    }

    /** The window lost the keyboard: no side's key can be down any more. */
    #letGo() {
        if (!this.#desk.view) return;
        for (const side of ["red", "blue"]) this.#give({ do: "release", side });
    }

    #switchKeys() {
        this.#keysOn = !this.#keysOn;
        this.#draw();
    }

    #give(input) {
        this.#desk.give(input);
    }

    #effect({ open, off, restore, id, side }) {
        if (open) this.#forms.open(open, { id, side });
        if (off) this.#takeOff();
        if (restore) this.#restore(restore);
    }

    /** Takes the bout off its mat: its details once more, with `off`. */
    #takeOff() {
        const { bout, details } = this.#desk.view;
        const { rules, red, blue, mat, number, style, age_group, weight, stage } = details;
        const event = { type: "bout", bout, rules, red, blue, mat, number, style, age_group, weight, stage,
            off: true };
        this.#desk.send(Object.fromEntries(Object.entries(event).filter(([, value]) => value !== undefined)));
    }

    /** The void that took an event out isn't in the list: the bout's whole log has it. */
    async #restore(id) {
        const { bout } = this.#desk.view;
        try {
            const answer = await fetch(new URL(`../api/v1/bouts/${bout}/events`, import.meta.url));
            const log = (await answer.text()).split("\n").filter(Boolean).map((row) => JSON.parse(row));
            const last = log.findLast(({ type, ref }) => type === "void" && ref === id);
            if (last) this.#desk.send({ type: "void", ref: last.id });
        } catch {
            /* not connected: the row still says that it is out, and Delete can be struck again */
        }
    }

    /* ---- drawing ---- */

    #draw() {
        const { view } = this.#desk;
        const ready = Boolean(view && this.#desk.edition);
        byId("desk").hidden = !ready;
        byId("empty").hidden = ready;
        this.#drawTop(view);
        this.#drawLineState();
        showRefusals(byId("problems"), this.#desk, this.#say);
        if (!ready) return this.#drawEmpty(view);
        const { context, strokes } = this.#desk;
        this.#views.read.show(strokes, context);
        this.#views.list.show(strokes, context);
        this.#views.field.show(this.#desk.field, strokes, context, this.#layout);
        const open = context.rows.some((row) => row.stands && row.event.unconfirmed && !row.confirmed);
        byId("confirm").classList.toggle("wanted", open);
        return this.#tick(context);
    }

    #tick(given) {
        this.#drawLineState();
        const { view, edition } = this.#desk;
        if (!view || !edition) return;
        const context = given ?? this.#desk.context;
        const { at_ms } = context.now;
        const { trust } = this.#line;
        byId("head").show(context.view, at_ms, { say: this.#say, trust, second: "officials" });
        byId("line").setAttribute("unit", lineUnit());
        byId("line").show(context.view, at_ms, lineSentence(context.view, this.#say));
        this.#views.clock.show(context);
    }

    #drawTop(view) {
        const say = this.#say;
        const { details } = view ?? {};
        const number = details?.number && say("bout.number", { number: details.number });
        const parts = [say("bout.mat", { mat: this.#mat }), number,
            details && boutTitle(details, say)];
        setText(byId("title"), parts.filter(Boolean).join(" · "));
        document.title = say("table.title", { mat: this.#mat });
        setText(byId("edition"), details ? this.#editionText(details) : "");
        byId("keys").hidden = false;
        byId("keys").setAttribute("aria-pressed", String(this.#keysOn));
        setText(byId("keys"), say(this.#keysOn ? "table.keys_on" : "table.keys_off"));
    }

    #editionText({ rules, style }) {
        const say = this.#say;
        const today = new Date(this.#line.now()).toISOString().slice(0, 10);
        const proposed = style && editionInForce(this.#desk.editions, style, today)?.name;
        if (!proposed) return say("table.edition", { name: rules });
        return say(proposed === rules ? "table.edition_in_force" : "table.edition_other", { name: rules });
    }

    #drawLineState() {
        const say = this.#say;
        const { waiting } = this.#line;
        const refused = this.#desk.problems.length;
        const more = [
            waiting ? say("table.waits", { count: waiting }) : say("table.nothing_waits"),
            refused ? say("table.refused", { count: refused }) : "",
        ];
        showLineState(byId("line-state"), this.#line, say, { more, alarm: refused > 0 });
    }

    #drawEmpty(view) {
        const say = this.#say;
        const [headline, text, button] = byId("empty").children;
        setText(headline, view ? say("table.edition_unknown", { name: view.details.rules })
            : say("table.no_bout", { mat: this.#mat }));
        setText(text, view ? "" : say("table.no_bout_how"));
        button.hidden = Boolean(view);
        setText(button.firstElementChild, say("table.choice.call"));
    }
}

/** The bout line is drawn in pixels: its unit follows the page's own size. */
function lineUnit() {
    const small = LINE_UNITS.find(([query]) => matchMedia(query).matches)?.[1];
    return small ?? String(Math.round(9 * Math.max(1, innerWidth / 1920)));
}

/* A browser that keeps nothing (a private window) still has a table. */
function remembered(name, otherwise) {
    try {
        return localStorage.getItem(`boutwire-table-${name}`) ?? otherwise;
    } catch {
        return otherwise;
    }
}

function remember(name, value) {
    try {
        localStorage.setItem(`boutwire-table-${name}`, value);
    } catch {
        /* only for the next visit anyway */
    }
}

const lang = languageOf(location.search, navigator.languages);
dress(document.documentElement, { lang, motion: options.motion, theme: options.theme });
if (options.theme === "auto") document.documentElement.dataset.theme = "auto";
const say = await loadWorkingWords(lang);
new TablePage(say, options.mat || await findMat(say));
