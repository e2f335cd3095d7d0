/* The strip of six keys for who works alone: clock, a score for each side, undo, confirm, clear. With
 * a side chosen its places are that side's scores, by the same keys as on the table. */

import { keepInStep } from "../elements/svg.js";
import { make, setText } from "../elements/working-head.js";
import { keyLabel } from "../table/field.js";
import { labelOf } from "../table/readback.js";
import { STRIP_ACTIONS } from "./keys.js";

const SIX = [
    { key: "Space", name: "clock", input: { do: "whistle" } },
    { key: "F", name: "red", side: "red", input: { do: "side", side: "red" } },
    { key: "J", name: "blue", side: "blue", input: { do: "side", side: "blue" } },
    { key: "⌫", name: "undo", input: { do: "undo" } },
    { key: "↵", name: "confirm", input: { do: "confirm" } },
    { key: "Esc", name: "clear", input: { clear: true } },
];

export class StripView {
    #place;
    #give;
    #say;

    constructor(place, give, say) {
        this.#place = place;
        this.#give = give;
        this.#say = say;
        place.setAttribute("aria-label", say("booth.strip"));
    }

    /** @param {{keying: boolean, field: Map<string, object>, strokes: object, context?: object}} page */
    show({ keying, field, strokes, context }) {
        const { side } = strokes;
        const asked = keying && side;
        const keys = !keying ? SIX.filter(({ name }) => name === "clear")
            : asked ? this.#actions(field, side) : SIX.map((one) => this.#named(one, context));
        this.#place.dataset.side = asked ? side : "";
        this.#place.classList.toggle("alone", keying);
        keepInStep(this.#place, keys, ({ key, name }) => `${key} ${name}`, (one) => this.#make(one),
            (node, one) => this.#update(node, one));
    }

    #named(one, context) {
        const { name } = one;
        if (name === "clock" && !context) return { ...one, label: this.#say("booth.key.clock_start") };
        if (name === "clock") {
            const { now } = context;
            const label = now.left_ms === 0 && now.period < context.view.details.periods
                ? this.#say("booth.key.period", { period: now.period + 1 }) : this.#say(`booth.key.clock_${now.running ? "stop" : "start"}`);
            return { ...one, label };
        }
        const wanted = name === "confirm" && context?.rows.some((row) =>
            row.stands && row.event.unconfirmed && !row.confirmed);
        return { ...one, label: this.#say(`booth.key.${name}`), wanted };
    }

    #actions(field, side) {
        return STRIP_ACTIONS.map((code) => field.get(code)).filter((key) => key?.kind === "score")
            .map((key) => ({
                key: keyLabel(key.code), name: `${side} ${labelOf(key)}`, side,
                label: `${this.#say(`table.key.${labelOf(key)}`)} ${key.values[0]}`,
                input: { do: "action", key },
            }));
    }

    #make({ key, input }) {
        const node = make("button", "strip-key");
        node.type = "button";
        node.append(make("kbd", "", key), make("span"));
        node.addEventListener("click", () => this.#give(input));
        return node;
    }

    #update(node, { label, side, wanted, name }) {
        setText(node.children[1], label ?? this.#say(`booth.key.${name}`));
        node.dataset.side = side ?? "";
        node.classList.toggle("wanted", Boolean(wanted));
    }
}
