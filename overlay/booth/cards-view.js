/* The three places of the cards, the same facts as lines in a break, and the pinned ones. */

import { keepInStep } from "../elements/svg.js";
import { make, setText } from "../elements/working-head.js";
import { keyLabel } from "../table/field.js";
import { CARD_KEYS } from "./keys.js";
import { PLACES } from "./shelf.js";

const SIDE_OF_PLACE = { "1": "red", "2": "blue" };

/** The keys of one card, as buttons.
 *  @param {boolean} [named] with their names beside them, else only for ears */
function cardKeys(place, give, say, named = true) {
    const keys = make("div", "card-keys");
    keys.append(...Object.entries(CARD_KEYS[place]).map(([what, code]) => {
        const node = make("button", "card-key");
        node.type = "button";
        node.append(make("kbd", "", keyLabel(code)), make("span", named ? "" : "spoken", say(`booth.${what}`)));
        node.addEventListener("click", () => give({ card: what, place }));
        return node;
    }));
    return keys;
}

function sign(side) {
    const node = document.createElement("side-sign");
    node.setAttribute("side", side);
    return node;
}

export class CardsView {
    #places;
    #say;

    constructor(place, give, say) {
        this.#say = say;
        place.setAttribute("aria-label", say("booth.cards"));
        this.#places = Object.fromEntries(PLACES.map((name) => [name, this.#build(name, give)]));
        place.append(...PLACES.map((name) => this.#places[name].node));
    }

    #build(place, give) {
        const node = make("article", "card");
        const tag = make("p", "tag");
        const headline = make("h2", "headline words");
        const line = make("p", "line-under words");
        const changed = make("p", "changed words");
        node.append(tag, headline, line, changed, cardKeys(place, give, this.#say));
        return { node, tag, headline, line, changed };
    }

    show({ shown }) {
        for (const place of PLACES) this.#showPlace(place, shown[place]?.card);
    }

    #showPlace(place, card) {
        const parts = this.#places[place];
        if (parts.card === card && parts.drawn) return;
        Object.assign(parts, { card, drawn: true });
        const side = card?.side ?? SIDE_OF_PLACE[place];
        parts.node.classList.toggle("vacant", !card);
        parts.node.dataset.side = side ?? "";
        parts.tag.replaceChildren(...(side ? [sign(side)] : []), make("span", "", this.#tagText(place, card)));
        parts.headline.hidden = !card;
        setText(parts.headline, card?.headline ?? "");
        setText(parts.line, card?.line ?? "");
        setText(parts.changed, card?.changed ? this.#say("booth.changed", { text: card.changed }) : "");
    }

    /** Whose card it is; of nobody's, what it is about; of an empty place, what comes there. */
    #tagText(place, card) {
        if (card?.side) return this.#say(`Side.${card.side}`);
        const kind = `booth.kind.${card?.kind}`;
        return this.#say.has(kind) ? this.#say(kind) : this.#say("booth.place", { place });
    }
}

/** The break: the same facts as long lines, to be read out. */
export class FactsView {
    #list;
    #give;
    #say;
    #shown;

    constructor(list, give, say) {
        this.#list = list;
        this.#give = give;
        this.#say = say;
        list.setAttribute("aria-label", say("booth.facts"));
    }

    show({ shown }) {
        if (this.#shown === shown) return;
        this.#shown = shown;
        const rows = PLACES.filter((place) => shown[place]).map((place) => this.#row(place, shown[place].card));
        const last = make("li", "quiet", this.#say(rows.length ? "booth.facts_keys" : "booth.no_facts"));
        this.#list.replaceChildren(...rows, last);
    }

    #row(place, { side, headline, line = "", changed }) {
        const row = make("li", "fact");
        const text = make("p");
        text.append(make("b", "words", headline));
        if (line) text.append(" ", make("span", "words", line));
        if (changed) text.append(" ", make("span", "changed words", this.#say("booth.changed", { text: changed })));
        row.append(side ? sign(side) : make("i"), text, cardKeys(place, this.#give, this.#say, false));
        return row;
    }
}

/** What was pinned, in one row; a tap takes one away. */
export class PinnedView {
    #place;
    #label;
    #rows;
    #give;
    #say;

    constructor(place, give, say) {
        this.#place = place;
        this.#give = give;
        this.#say = say;
        this.#label = make("h2", "quiet", say("booth.pinned"));
        this.#rows = make("ul");
        place.append(this.#label, this.#rows);
    }

    show({ pinned }) {
        const cards = pinned.map(({ card }) => card);
        keepInStep(this.#rows, cards, ({ id }) => id, (card) => this.#make(card), () => {});
        this.#place.classList.toggle("vacant", cards.length === 0);
    }

    #make(card) {
        const row = make("li");
        const node = make("button", "pin");
        node.type = "button";
        node.title = this.#say("booth.unpin", { headline: card.headline });
        if (card.side) node.append(sign(card.side));
        node.append(make("b", "words", card.headline), " ", make("span", "words", card.line ?? ""));
        node.addEventListener("click", () => this.#give({ unpin: card.id }));
        row.append(node);
        return row;
    }
}
