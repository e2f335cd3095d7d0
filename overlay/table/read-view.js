/* The read-back, large and in the middle, and the detail row under it. */

import { keepInStep } from "../elements/svg.js";
import { make, setText } from "../elements/working-head.js";
import { choicesOf } from "./options.js";
import { nameOf, readback } from "./readback.js";

const NARROW = "(max-width: 1150px)";

export class ReadView {
    #parts;
    #give;
    #width;

    /** @param {{band: HTMLElement, sentence: HTMLElement, notes: HTMLElement,
     *      detail: HTMLElement}} parts */
    constructor(parts, give, say) {
        this.#parts = parts;
        this.#give = give;
        parts.detail.setAttribute("aria-label", say("table.detail"));
        this.#parts.sign = document.createElement("side-sign");
        this.#parts.text = make("span");
    }

    show(strokes, context) {
        const said = readback(strokes, context);
        const { band, sentence, sign, text } = this.#parts;
        band.dataset.side = said.side ?? "";
        band.classList.toggle("open", said.open || said.building);
        if (text.parentNode !== sentence) sentence.replaceChildren(sign, text);
        sign.hidden = !said.side;
        if (said.side && sign.getAttribute("side") !== said.side) sign.setAttribute("side", said.side);
        this.#say(said.sentence);
        this.#showNotes(said);
        this.#showChoices(strokes, context);
    }

    /** A sentence that has no room in one line is set smaller, in two. */
    #say(words) {
        const { sentence, text } = this.#parts;
        const { clientWidth: width } = sentence;
        if (text.textContent === words && this.#width === width) return;
        this.#width = width;
        setText(text, words);
        sentence.classList.remove("long");
        sentence.classList.toggle("long", sentence.scrollHeight > sentence.clientHeight * 1.5);
    }

    #showNotes({ warnings, notes, asks }) {
        const parts = [
            ...warnings.map((warning) => ({ kind: "warning", words: warning })),
            ...notes.map((note) => ({ kind: "note", words: note })),
            ...(asks ? [{ kind: "asks", words: asks }] : []),
        ];
        keepInStep(this.#parts.notes, parts, ({ kind }, i) => `${i} ${kind}`,
            ({ kind }) => make("span", kind), (node, { words }) => setText(node, words));
    }

    #showChoices(strokes, context) {
        const { detail } = this.#parts;
        const choices = choicesOf(strokes, context);
        detail.classList.toggle("idle", choices.length === 0);
        keepInStep(detail, choices, ({ digit }) => digit, () => this.#makeChoice(), (node, choice) => {
            placeChoice(node, choice.digit);
            setText(node.children[0], choice.digit);
            setText(node.children[1], choiceText(choice, context));
            node.digit = choice.digit;
            node.classList.toggle("taken", Boolean(choice.taken));
            node.setAttribute("aria-pressed", String(Boolean(choice.taken)));
        });
    }

    #makeChoice() {
        const node = make("button", "choice");
        node.type = "button";
        node.append(make("kbd"), make("span"));
        node.addEventListener("click", () => this.#give({ do: "choice", digit: node.digit }));
        return node;
    }
}

/* Ten fixed places in one row, or in two of five where the page is narrow. */
function placeChoice(node, digit) {
    const place = digit === "0" ? 9 : Number(digit) - 1;
    const columns = matchMedia(NARROW).matches ? 5 : 10;
    node.style.gridArea = `${Math.floor(place / columns) + 1} / ${(place % columns) + 1}`;
}

export function choiceText(choice, context) {
    if (choice.name) return nameOf(choice.catalogue, choice.name, context);
    return context.say(`table.choice.${choice.label}`);
}
