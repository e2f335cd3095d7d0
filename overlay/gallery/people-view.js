/* Who is connected, in which role, and cutting one off: the second stroke on the same one confirms,
 * anything else takes the first one back. */

import { keepInStep } from "../elements/svg.js";
import { make, setText } from "../lib/dom.js";
import { clockTime } from "./texts.js";

export class PeopleView {
    #page;
    #viewers = make("p", { class: "quiet words" });
    #list = make("ul");
    #asked; /* the number of whom a first stroke was for */

    constructor(place, page) {
        this.#page = page;
        place.append(this.#viewers, this.#list);
        this.#list.addEventListener("focusout", () => this.#ask(undefined));
    }

    show({ gallery: { connected = {}, viewers = {} } }) {
        const { say } = this.#page;
        setText(this.#viewers, say("gallery.viewers", viewers));
        const people = Object.entries(connected).sort(
            ([a, one], [b, other]) => this.#isOwn(one) - this.#isOwn(other) || a - b,
        );
        keepInStep(
            this.#list,
            people,
            ([number]) => number,
            (person) => this.#buildRow(person),
            (node, person) => this.#fill(node, person),
        );
        this.#list.hidden = people.length === 0;
    }

    #buildRow([number]) {
        const button = make("button", { type: "button", class: "cut" });
        button.addEventListener("click", () => this.#cut(number));
        return make(
            "li",
            {},
            make("bdi", { class: "who" }),
            make("span", { class: "words" }),
            make("span", { class: "quiet words" }),
            button,
        );
    }

    #fill(node, [number, person]) {
        const { say } = this.#page;
        const [name, role, more, button] = node.children;
        const who = nameOf(person, say);
        const own = this.#isOwn(person);
        const sure = this.#asked === number;
        setText(name, own ? `${who} (${say("gallery.you")})` : who);
        setText(role, roleText(person, say));
        setText(
            more,
            [
                say("gallery.since_time", { time: clockTime(person.since) }),
                say("gallery.place", { place: person.address }),
            ].join(", "),
        );
        setText(button, say(sure ? "gallery.cut_sure" : "gallery.cut"));
        button.classList.toggle("sure", sure);
        button.setAttribute(
            "aria-label",
            say(sure ? "gallery.cut_sure_who" : "gallery.cut_who", {
                who: `${who}, ${roleText(person, say)}`,
            }),
        );
        button.hidden = own;
        node.who = who;
    }

    /* This page and its picture on air: they come last, and nobody cuts off themselves. */
    #isOwn({ name }) {
        return name !== undefined && name === this.#page.line.granted?.name;
    }

    #ask(number) {
        this.#asked = number;
    }

    #cut(number) {
        const { say, line, answer } = this.#page;
        if (this.#asked !== number) {
            this.#ask(number);
            return;
        }
        this.#ask(undefined);
        const who = [...this.#list.children].find(({ itemKey }) => itemKey === number)?.who;
        answer(line.cutOff(number) ? say("gallery.done.cut", { who }) : say("gallery.unsent"));
    }
}

const nameOf = ({ name, role }, say) => name ?? say("gallery.role", { role });

function roleText({ role, mat }, say) {
    const text = say("gallery.role", { role });
    return mat ? say("gallery.role_mat", { role: text, mat }) : text;
}
