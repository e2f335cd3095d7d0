/* The gallery: what is on air, what can be taken, and how it goes out. The state comes from the
 * daemon (topics gallery and out/OUTPUT); each stroke is an action to the output (docs/wire.md,
 * "Producing"), and what came of it is said in words. Nothing is kept here but which output is
 * looked at. What is pressed while the line is down is not sent later: the page says so.
 *
 * Options of the address: output, lang, theme, motion. */

import { showLineState } from "../elements/line-state.js";
import { loadWorkingWords } from "../elements/working-words.js";
import { connect } from "../lib/connection.js";
import { at, make, setText } from "../lib/dom.js";
import { matNames } from "../lib/mats.js";
import { dress, languageOf, NAME, readOptions } from "../lib/options.js";
import { ActsView } from "./acts-view.js";
import { AirView } from "./air-view.js";
import { EntryView } from "./entry-view.js";
import { belongsToFocus, galleryInput } from "./keys.js";
import { PreparedView } from "./prepared-view.js";
import { SheetsView } from "./sheets-view.js";
import { StripView } from "./strip-view.js";
import { doneText, panelName, refusedText } from "./texts.js";

const TICK_MS = 250;
const WRITTEN = ["text", "back"]; /* panels that somebody writes first */
const ONE_SIDED = ["who", "attacks", "needs"];
const SIDE_AFTER = { "": "red", red: "blue", blue: "" };

const options = readOptions(location.search, {
    output: { text: "main", like: NAME },
    theme: ["dark", "light", "auto"],
    motion: ["on", "off"],
});

class GalleryPage {
    #say;
    #line;
    #views;
    #output = options.output;
    #gallery = {};
    #air;
    #leave;
    #chosen = Promise.resolve(); /* what was chosen here last and not yet taken: {name, version} */

    constructor(say) {
        this.#say = say;
        this.#line = connect({ audience: "desk" });
        const give = (input) => this.#give(input);
        const page = {
            say,
            line: this.#line,
            act: (action, what, output, values) => this.#act(action, what, output, values),
        };
        this.#views = {
            air: new AirView(say),
            prepared: new PreparedView(say),
            entry: new EntryView(at("entry"), page, (choice) => this.#lay(choice)),
            acts: new ActsView(at("acts"), give, say),
            strip: new StripView(at("strip"), give, say),
            sheets: new SheetsView({
                ...page,
                show: (output) => this.#show(output),
                answer: (text) => this.#answer(text),
            }),
        };
        this.#label();
        this.#wire();
        this.#line.follow("gallery", (state) => this.#take(state));
        this.#show(this.#output);
        setInterval(() => this.#draw(), TICK_MS);
    }

    /* ---- what the daemon says ---- */

    #take(state) {
        this.#gallery = state;
        if (state.outputs && !state.outputs[this.#output]) this.#show("main");
        this.#draw();
    }

    /** Looks at another output, in the address too, so that a reload stays with it. */
    #show(output) {
        this.#leave?.();
        this.#output = output;
        this.#air = undefined;
        const address = new URL(location.href);
        if (output === "main") address.searchParams.delete("output");
        else address.searchParams.set("output", output);
        history.replaceState(history.state, "", address);
        this.#leave = this.#line.follow(`out/${output}`, (state) => {
            this.#air = state;
            this.#draw();
        });
        this.#draw();
    }

    get #state() {
        return this.#gallery.outputs?.[this.#output];
    }

    /* ---- keys ---- */

    #wire() {
        this.#line.addEventListener("change", () => this.#draw());
        this.#line.addEventListener("problem", ({ detail }) =>
            this.#answer(refusedText(detail, this.#say), true),
        );
        document.addEventListener("keydown", (event) => this.#press(event));
        document.addEventListener("click", ({ detail, target }) => {
            if (detail > 0) target.closest?.("button:not(.cut)")?.blur();
        });
        at("output").addEventListener("change", ({ target }) => this.#show(target.value));
        at("mat").addEventListener("change", ({ target }) => this.#chooseMat(target.value));
    }

    #press(event) {
        const { activeElement: focused } = document;
        const focus = {
            tag: focused?.tagName ?? "",
            type: focused?.type,
            reached: Boolean(focused?.matches(":focus-visible")),
        };
        const input = galleryInput(event);
        if (!input || belongsToFocus(event, focus)) return;
        event.preventDefault();
        if (!input.nothing) this.#give(input);
    }

    #give({ prepare, take, clear, panelOff, line, hold, side, seen, sheet }) {
        if (!this.#state) return undefined;
        if (prepare) return this.#prepare(prepare);
        if (take) return this.#takeIt();
        if (clear) return this.#act({ clear: {} }, "cleared");
        if (panelOff) return this.#act({ clear: { panel: true } }, "panel_off");
        if (line) return this.#switchLine();
        if (hold) return this.#hold(hold);
        if (side !== undefined) return this.#chooseSide(side);
        if (seen) return this.#views.sheets.seen();
        return this.#views.sheets.open(sheet, { focus: true });
    }

    /* The focus leaves what it was on, so that Enter takes. */
    #prepare(panel, side) {
        document.activeElement?.blur();
        if (WRITTEN.includes(panel)) return this.#views.entry.open(panel, this.#state);
        this.#views.entry.close();
        return this.#lay({ panel, ...(side && { side }) });
    }

    /* Laid ready. A take that is struck before the answer has come waits for it. */
    #lay(choice) {
        const name = panelName(choice, this.#say);
        const answer = this.#act({ prepare: choice }, "prepared", undefined, { name });
        this.#chosen = answer.then((done) => done && { name, version: done.version });
        return answer;
    }

    /* What stands on the page as prepared, or what was chosen here since: never what somebody else
     * has prepared meanwhile. */
    async #takeIt() {
        const say = this.#say;
        const chosen = await this.#chosen;
        const shown = this.#state?.prepared;
        if (!shown && !chosen) return this.#answer(say("gallery.none_prepared"), true);
        const own = chosen && chosen.version > (shown?.version ?? 0);
        this.#chosen = Promise.resolve();
        const { name, version } = own
            ? chosen
            : { name: panelName(shown, say), version: shown.version };
        return this.#act({ take: { prepared: version } }, "taken", undefined, { name });
    }

    #switchLine() {
        const on = this.#state.on_air.line;
        return on
            ? this.#act({ clear: { line: true } }, "line_off")
            : this.#act({ take: { line: true } }, "line_on");
    }

    #hold(how) {
        const next = this.#state.hold?.how === how ? "off" : how;
        return this.#act({ hold: next }, next);
    }

    #chooseSide(side) {
        const { prepared } = this.#state;
        if (!prepared || !ONE_SIDED.includes(prepared.panel)) return undefined;
        return this.#prepare(
            prepared.panel,
            side === true ? SIDE_AFTER[prepared.side ?? ""] : side,
        );
    }

    #chooseMat(mat) {
        const text = mat || this.#say("gallery.no_mat_yet");
        at("mat").blur();
        return this.#act({ mat }, "mat", undefined, { mat: text });
    }

    /** Does it, and says what came of it.
     *  @param {object} action
     *  @param {string} what  the name of the words for it
     *  @returns {Promise<object | undefined>} what the daemon answered; nothing: it was refused */
    async #act(action, what, output = this.#output, values = {}) {
        const say = this.#say;
        try {
            const done = await this.#line.act(output, action);
            this.#answer(doneText(done, say(`gallery.done.${what}`, values), say));
            return done;
        } catch (refusal) {
            if (!refusal.problem) throw refusal;
            this.#answer(refusedText(refusal.problem, say), true);
            return undefined;
        }
    }

    #answer(text, refused = false) {
        setText(at("answer"), text);
        at("answer").classList.toggle("refused", refused);
    }

    /* ---- drawing ---- */

    #label() {
        const say = this.#say;
        setText(at("heading"), say("gallery.heading"));
        setText(at("output-label"), say("gallery.output"));
        setText(at("mat-label"), say("gallery.mat"));
        setText(at("prepared-heading"), say("gallery.prepared"));
    }

    #draw() {
        const state = this.#state;
        this.#drawLine();
        at("desk").hidden = !state;
        at("empty").hidden = Boolean(state);
        document.title = this.#say("gallery.title", { output: this.#output });
        if (!state) {
            this.#drawEmpty();
            return;
        }
        const now_ms = this.#line.now();
        const all = { output: this.#output, state, gallery: this.#gallery, air: this.#air, now_ms };
        this.#drawChoosers(state);
        for (const view of Object.values(this.#views)) view.show(all);
    }

    #drawLine() {
        const say = this.#say;
        const lost = this.#line.access === "open" && !this.#line.connected && Boolean(this.#state);
        showLineState(at("line-state"), this.#line, say);
        at("alarm").hidden = !lost;
        setText(at("alarm"), lost ? say("gallery.lost") : "");
    }

    #drawEmpty() {
        const say = this.#say;
        const [headline, text] = at("empty").children;
        const locked = this.#line.access !== "open";
        setText(headline, say(locked ? "gallery.locked" : "gallery.waiting"));
        setText(text, locked ? say(`state.${this.#line.access}`) : "");
    }

    #drawChoosers(state) {
        const say = this.#say;
        const mats = matNames(this.#gallery);
        const first = state.mat === undefined && state.mat_shown;
        const automatic = first
            ? say("gallery.first_mat", { mat: first })
            : say("gallery.no_mat_yet");
        fill(
            at("output"),
            Object.keys(this.#gallery.outputs).map((name) => [name, name]),
            this.#output,
        );
        fill(at("mat"), [["", automatic], ...mats.map((mat) => [mat, mat])], state.mat ?? "");
    }
}

/* Its choices are made again only where they differ, so that an open list stays open. */
function fill(select, choices, value) {
    const key = JSON.stringify(choices);
    if (select.choices !== key) {
        select.choices = key;
        select.replaceChildren(
            ...choices.map(([name, text]) => make("option", { value: name }, text)),
        );
        select.value = value;
    }
    if (document.activeElement !== select) select.value = value;
}

const lang = languageOf(location.search, navigator.languages);
dress(document.documentElement, { lang, motion: options.motion, theme: options.theme });
if (options.theme === "auto") document.documentElement.dataset.theme = "auto";
new GalleryPage(await loadWorkingWords(lang));
