/* <side-sign side="red">: the side's sign, a square for red, a disc for blue; as tall as a capital.
 * Beside a name it is silent; with a `label` it is read. */

import { svg } from "./svg.js";

export class SideSign extends HTMLElement {
    static observedAttributes = ["side", "label"];

    connectedCallback() {
        this.#draw();
    }

    attributeChangedCallback() {
        if (this.isConnected) this.#draw();
    }

    #draw() {
        const label = this.getAttribute("label");
        if (label) {
            this.setAttribute("role", "img");
            this.setAttribute("aria-label", label);
        } else {
            this.setAttribute("aria-hidden", "true");
        }
        const round = this.getAttribute("side") === "blue";
        const shape = round
            ? svg("circle", { cx: 5, cy: 5, r: 5 })
            : svg("rect", { width: 10, height: 10 });
        shape.setAttribute("fill", "currentColor");
        const picture = svg("svg", { viewBox: "0 0 10 10", focusable: "false" });
        picture.append(shape);
        this.replaceChildren(picture);
    }
}

customElements.define("side-sign", SideSign);
