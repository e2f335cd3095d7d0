/* The booth: prompt cards for the commentator. It follows the mat on air, or is locked to one
 * (?mat=A). State comes from the daemon; which cards are before the eyes, used and pinned is the
 * shelf's (shelf.js) and stays on this page. Who works alone keys here too, with the table's own
 * strokes. */

import "../elements/bout-line.js";
import { keepInStep } from "../elements/svg.js";
import { showLineState } from "../elements/line-state.js";
import { showRefusals } from "../elements/refusals.js";
import { make, setText } from "../elements/working-head.js";
import { loadWorkingWords } from "../elements/working-words.js";
import { clockNow, timeLeft } from "../lib/clock.js";
import { connect } from "../lib/connection.js";
import { firstMat, matNames } from "../lib/mats.js";
import { dress, languageOf, NAME, readOptions } from "../lib/options.js";
import { boutTitle, lineSentence, scoreText } from "../lib/sentences.js";
import { Desk } from "../table/desk.js";
import { belongsToFocus, releaseOf } from "../table/keyboard.js";
import { readback } from "../table/readback.js";
import { CardsView, FactsView, PinnedView } from "./cards-view.js";
import { showFigures, showTallies } from "./figures-view.js";
import { boothInput } from "./keys.js";
import { clearCards, EMPTY, pin, putAway, shelve, unpin } from "./shelf.js";
import { notesOf } from "./notes.js";
import { NotesView } from "./notes-view.js";
import { StripView } from "./strip-view.js";
import { lineShown } from "./talk.js";
import { WriteView } from "./write-view.js";

const TICK_MS = 100;
const READ_MS = 8000; // how long the read-back stays over the pinned row
const MATS_SHOWN = 3;
const SMALL_UNIT = 6; // of the bout line, in pixels
const SMALL = "(max-width: 1500px), (max-height: 850px)";
const byId = (id) => document.getElementById(id);

const options = readOptions(location.search, {
    mat: { text: "", like: NAME },
    theme: ["dark", "light", "auto"],
    motion: ["on", "off"],
    keying: ["on", "off"],
});

class BoothPage {
    #say;
    #line;
    #desk;
    #views;
    #mat;
    #leave;
    #state = {};
    #day = {};
    #air = {};
    #shelf = EMPTY;
    #keying = options.keying === "on";
    #struck_ms = -Infinity;
    #readback;

    constructor(say) {
        this.#say = say;
        this.#line = connect({ audience: "desk", outbox: "booth" });
        this.#desk = new Desk({ line: this.#line, say });
        const give = (input) => this.#give(input);
        this.#views = {
            cards: new CardsView(byId("cards"), give, say),
            facts: new FactsView(byId("facts").querySelector("ol"), give, say),
            pinned: new PinnedView(byId("pinned"), give, say),
            strip: new StripView(byId("strip"), give, say),
            notes: new NotesView(byId("notes"), say, lang),
            write: new WriteView(byId("write"), (about, text) => this.#write(about, text), say),
        };
        this.#readback = this.#buildReadback();
        this.#wire();
        this.#choose();
        this.#line.follow("out/main", (state) => this.#takeAir(state));
        this.#line.follow("day/booth", (state) => this.#takeDay(state));
        this.#desk.loadEditions();
        setInterval(() => this.#tick(), TICK_MS);
        this.#draw();
    }

    #buildReadback() {
        const parts = { row: make("p", "readback"), sign: document.createElement("side-sign"),
            sentence: make("b"), notes: make("span") };
        parts.row.setAttribute("aria-live", "polite");
        parts.row.append(parts.sign, parts.sentence, parts.notes);
        byId("pinned").append(parts.row);
        return parts;
    }

    #wire() {
        this.#desk.addEventListener("change", () => this.#draw());
        this.#line.addEventListener("change", () => this.#drawLineState());
        document.addEventListener("keydown", (event) => this.#press(event));
        document.addEventListener("keyup", (event) => this.#release(event));
        window.addEventListener("blur", () => ["red", "blue"].forEach((side) =>
            this.#desk.give({ do: "release", side })));
        document.addEventListener("click", ({ detail, target }) => {
            if (detail > 0) target.closest("button")?.blur();
        });
        byId("note").addEventListener("click", () => this.#give({ note: true }));
        byId("talk").addEventListener("click", () => this.#give({ seen: true }));
        byId("keying").addEventListener("click", () => {
            this.#keying = !this.#keying;
            this.#desk.give({ do: "escape" });
            this.#draw();
        });
    }

    /* ---- what the daemon says ---- */

    #takeAir(state) {
        this.#air = state;
        this.#choose();
        this.#draw();
    }

    #takeDay(state) {
        this.#day = state;
        this.#choose();
    }

    /** The mat that the address names, else the one on air, else the day's first. */
    #choose() {
        const mat = options.mat || this.#air.mat || firstMat(this.#day);
        if (mat) this.#follow(mat);
    }

    #follow(mat) {
        if (mat === this.#mat) return;
        this.#leave?.();
        this.#mat = mat;
        this.#leave = this.#line.follow(`mat/${mat}/booth`, (state) => this.#take(state));
    }

    #take(state) {
        if (state.bout?.bout !== this.#state.bout?.bout) this.#shelf = EMPTY;
        this.#state = state;
        this.#desk.take(state);
    }

    /* ---- keys ---- */

    #press(event) {
        const { activeElement } = document;
        const focus = { tag: activeElement?.tagName ?? "", reached: Boolean(activeElement?.matches(":focus-visible")) };
        if (belongsToFocus(event, focus)) return;
        const { strokes, field } = this.#desk;
        const input = boothInput(event, { keying: this.#keying, side: strokes.side, field });
        if (!input) return;
        event.preventDefault();
        if (!input.nothing) this.#give(input);
    }

    #release(event) {
        const input = releaseOf(event, this.#desk.field);
        if (input && this.#keying) this.#desk.give(input);
    }

    #give(input) {
        if (input.do) {
            this.#struck_ms = performance.now();
            this.#desk.give(input);
            return;
        }
        if (input.note) this.#unfold();
        else if (input.write) this.#open(input.write);
        else if (input.seen) this.#acknowledge();
        else this.#shelf = this.#handle(input);
        this.#tick();
    }

    /** The notes in full, this bout's and earlier ones, or folded again. */
    #unfold() {
        const note = byId("note");
        note.setAttribute("aria-expanded", String(note.getAttribute("aria-expanded") !== "true"));
        this.#drawNotes();
    }

    /** Notes need a bout, the gallery only a mat. */
    #open(about) {
        if (about === "gallery" ? this.#mat : this.#desk.view) this.#views.write.open(about);
    }

    #write(about, text) {
        if (about === "gallery") return this.#line.talk({ say: { to: "gallery", mat: this.#mat, text } });
        const side = about === "bout" ? {} : { side: about };
        this.#desk.send({ type: "note", to: "booth", text, ...side });
        return true;
    }

    #acknowledge() {
        const line = lineShown(this.#state.talk, this.#line.now());
        if (line?.from === "gallery") this.#line.talk({ seen: line.number });
    }

    #handle({ card, place, clear, unpin: id }) {
        if (clear) return clearCards(this.#shelf);
        if (id) return unpin(this.#shelf, id);
        return card === "pin" ? pin(this.#shelf, place) : putAway(this.#shelf, place);
    }

    /* ---- drawing ---- */

    #draw() {
        const { view } = this.#desk;
        byId("booth").hidden = !view;
        byId("empty").hidden = Boolean(view);
        this.#drawTop(view);
        this.#drawLineState();
        showRefusals(byId("problems"), this.#desk, this.#say);
        if (!view) this.#drawEmpty();
        this.#tick();
    }

    #tick() {
        this.#drawLineState();
        this.#drawTalk();
        if (!this.#desk.view) return;
        const say = this.#say;
        const { context } = this.#desk;
        const { view, now } = context;
        const brief = matchMedia(SMALL).matches;
        byId("head").show(view, now.at_ms, { say, trust: this.#line.trust, second: "needs", brief });
        byId("line").setAttribute("unit", String(brief ? SMALL_UNIT : Math.round(12 * Math.max(1, innerWidth / 1920))));
        byId("line").show(view, now.at_ms, lineSentence(view, say));
        showTallies(byId("tallies"), view, say);
        this.#drawCards(view, now.at_ms);
        this.#drawReadback(context);
        this.#views.strip.show({ keying: this.#keying, field: this.#desk.field,
            strokes: this.#desk.strokes, context: this.#desk.edition && context });
        this.#drawAir(now.at_ms);
    }

    #drawCards(view, now_ms) {
        this.#shelf = shelve(this.#shelf, this.#state.cards, this.#state.events, now_ms);
        const rest = view.phase === "break";
        byId("booth").classList.toggle("resting", rest);
        byId("cards").hidden = rest;
        byId("facts").hidden = !rest;
        if (rest) {
            this.#views.facts.show(this.#shelf);
            showFigures(byId("facts").querySelector("table"), view, this.#say,
                matchMedia(SMALL).matches ? 3 : 4);
        } else {
            this.#views.cards.show(this.#shelf);
        }
        this.#views.pinned.show(this.#shelf);
    }

    /** What was keyed here, read back for some seconds where the pinned ones stand. */
    #drawReadback(context) {
        const { strokes, edition } = this.#desk;
        const recent = performance.now() - this.#struck_ms < READ_MS;
        const shown = Boolean(this.#keying && edition && (strokes.side || recent));
        byId("pinned").classList.toggle("reading", shown);
        if (!shown) return;
        const said = readback(strokes, context);
        const { sign, sentence, notes } = this.#readback;
        sign.hidden = !said.side;
        if (said.side) sign.setAttribute("side", said.side);
        setText(sentence, said.sentence);
        setText(notes, [...said.warnings, ...said.notes].join(" "));
    }

    #drawTop(view) {
        const say = this.#say;
        const { details } = view ?? {};
        const parts = [this.#mat && say("bout.mat", { mat: this.#mat }),
            details?.number && say("bout.number", { number: details.number }),
            details && !matchMedia(SMALL).matches && boutTitle(details, say)];
        setText(byId("title"), parts.filter(Boolean).join(" · ") || say("booth.title_no_mat"));
        document.title = this.#mat ? say("booth.title", { mat: this.#mat }) : say("booth.title_no_mat");
        this.#drawSheetLink(view);
        byId("keying").setAttribute("aria-pressed", String(this.#keying));
        setText(byId("keying"), say(this.#keying ? "booth.keying_on" : "booth.keying_off"));
        this.#drawNotes();
    }

    /** The newest in the first row; of an earlier bout where there is none of this one yet. */
    #drawNotes() {
        const say = this.#say;
        const node = byId("note");
        const notes = notesOf(this.#state);
        const [note] = notes;
        node.hidden = !note;
        this.#views.notes.show(notes, node.getAttribute("aria-expanded") === "true");
        if (!note) return;
        const side = note.side ? say(`Side.${note.side}`) : say("booth.note");
        setText(node.children[1], note.bout ? say("booth.note_earlier", { side }) : side);
        setText(node.children[2], note.text);
    }

    /** What the gallery says until it is acknowledged; what was said to it until it is seen there. */
    #drawTalk() {
        const say = this.#say;
        const node = byId("talk");
        const line = lineShown(this.#state.talk, this.#line.now());
        node.hidden = !line;
        if (!line) return;
        const waits = line.from === "gallery";
        const [key, who, text, seen] = node.children;
        node.classList.toggle("waits", waits);
        key.hidden = !waits;
        setText(who, say(waits ? "booth.talk.gallery" : "booth.talk.said"));
        setText(text, line.text);
        setText(seen, say(waits ? "booth.talk.how" : line.seen ? "booth.talk.seen" : "booth.talk.unseen"));
    }

    /** To the sheet of this bout, or of the mat; its tab has the key of this one (`opener`). */
    #drawSheetLink(view) {
        const of = view ? { bout: view.bout } : this.#mat ? { mat: this.#mat } : {};
        const lang = new URLSearchParams(location.search).get("lang");
        byId("print").href = `../sheet/?${new URLSearchParams({ ...of, ...(lang && { lang }) })}`;
        setText(byId("print"), this.#say("booth.sheet"));
    }

    #drawLineState() {
        const say = this.#say;
        const { waiting } = this.#line;
        const more = [waiting ? say("booth.waits", { count: waiting }) : ""];
        showLineState(byId("line-state"), this.#line, say, { more });
    }

    #drawEmpty() {
        const say = this.#say;
        const [headline, text] = byId("empty").children;
        setText(headline, this.#mat ? say("booth.no_bout", { mat: this.#mat }) : say("booth.no_mat"));
        setText(text, say(this.#mat ? "booth.no_bout_how" : "booth.no_mat_how"));
    }

    /** What viewers see now, and the other mats, in the corner. */
    #drawAir(now_ms) {
        const say = this.#say;
        const { mat } = this.#air;
        const what = airText(this.#air, say);
        const air = mat && mat !== this.#mat ? say("booth.other_mat", { mat, what }) : what;
        const others = matNames(this.#day).filter((name) => name !== this.#mat)
            .slice(0, matchMedia(SMALL).matches ? MATS_SHOWN - 1 : MATS_SHOWN)
            .map((name) => matText(name, this.#day.mats[name], now_ms, say));
        const rows = [
            { label: say("booth.on_air"), text: air, on: true },
            { label: say("booth.mats"), text: others.join(" · ") },
        ];
        keepInStep(byId("air"), rows, (row, i) => String(i), () => {
            const row = make("div");
            row.append(make("dt"), make("dd"));
            return row;
        }, (node, { label, text, on }) => {
            node.classList.toggle("on", Boolean(on));
            node.children[0].classList.toggle("spoken", !on);
            setText(node.children[0], label);
            setText(node.children[1], text);
        });
    }
}

/** What viewers see: the panel by its name, else the score line. */
function airText({ on_air: { line, panel } = {}, hold }, say) {
    if (hold?.how === "hide") return say("booth.hidden");
    const name = panel && say(`working.panel.${panel.panel}`);
    const shown = panel?.withheld ? say("booth.withheld", { panel: name }) : name;
    const what = shown ?? say(line ? "booth.line" : "booth.nothing");
    return hold ? say("booth.frozen", { what }) : what;
}

/** "B 4–2, 1:20". */
function matText(mat, short, now_ms, say) {
    const clock = clockNow(short, now_ms);
    const states = { break: "booth.mat_break", called: "booth.mat_called", closed: "booth.mat_result" };
    const state = states[short.phase] ? say(states[short.phase]) : timeLeft(clock);
    return say("booth.mat_state", { mat, score: scoreText(short.score), state });
}

const lang = languageOf(location.search, navigator.languages);
dress(document.documentElement, { lang, motion: options.motion, theme: options.theme });
if (options.theme === "auto") document.documentElement.dataset.theme = "auto";
new BoothPage(await loadWorkingWords(lang));
