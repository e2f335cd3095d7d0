/* <bout-line unit="6">: the bout as a line of time (lib/bout-line.js has the idea and the
 * geometry).
 *
 * `unit`: pixels a point. `width`: pixels; without it, the width of the element's place. `working`:
 * with activity times and what corrections took away. A mark keeps its node for its life, so that
 * it fills in one fade when it is confirmed. */

import { boutLine } from "../lib/bout-line.js";
import { keepInStep, setAll, svg } from "./svg.js";

const OPEN_STROKE = 0.27; /* of a unit */

export class BoutLineElement extends HTMLElement {
    static observedAttributes = ["unit", "width", "working", "traces"];
    #picture;
    #groups;
    #last;
    #watcher;

    connectedCallback() {
        if (!this.#picture) this.#build();
        this.#watcher = new ResizeObserver(() => this.#redraw());
        this.#watcher.observe(this);
    }

    disconnectedCallback() {
        this.#watcher.disconnect();
    }

    attributeChangedCallback() {
        this.#redraw();
    }

    /** @param {object} view  a VIEW (docs/wire.md)
     *  @param {number} now_ms  on the daemon's clock
     *  @param {string} [label]  the line in words (lib/sentences.js, lineSentence) */
    show(view, now_ms, label) {
        if (!this.#picture) this.#build();
        this.#last = { view, now_ms };
        if (label !== undefined) setAll(this, { role: "img", "aria-label": label });
        this.#redraw();
    }

    #build() {
        this.#picture = svg("svg", { focusable: "false", "aria-hidden": "true" });
        const names = ["led", "dashes", "activities", "marks", "traces", "now"];
        this.#groups = Object.fromEntries(names.map((name) => [name, svg("g")]));
        this.#picture.append(...Object.values(this.#groups));
        this.append(this.#picture);
    }

    #size() {
        const working = this.hasAttribute("working");
        const width = Number(this.getAttribute("width")) || this.clientWidth;
        return { width, unit: Number(this.getAttribute("unit")) || 6, working };
    }

    #redraw() {
        const size = this.#size();
        if (!this.#last?.view.details || size.width <= 0) return;
        const line = boutLine(this.#last.view, this.#last.now_ms, size);
        setAll(this.#picture, { width: line.width, height: line.height });
        this.#drawLed(line);
        this.#drawDashes(line);
        this.#drawActivities(line);
        this.#drawMarks(line);
        this.#drawTraces(line);
        this.#drawNow(line);
    }

    #drawDashes({ dashes, middle, measures: { axis } }) {
        keepInStep(
            this.#groups.dashes,
            dashes,
            (_, i) => String(i),
            () => svg("rect"),
            (node, dash) => {
                const thick = dash.done ? axis : Math.max(axis / 2, 1);
                setAll(node, {
                    class: dash.done ? "dash done" : "dash",
                    x: dash.x,
                    width: dash.width,
                    y: middle - thick / 2,
                    height: thick,
                });
            },
        );
    }

    /* The strip fills the gap between the axis and the marks, on the leader's side. */
    #drawLed({ led, middle, measures: { axis, gap } }) {
        keepInStep(
            this.#groups.led,
            led,
            (_, i) => String(i),
            () => svg("rect"),
            (node, { side, x, width }) => {
                const y = side === "red" ? middle - axis / 2 - gap : middle + axis / 2;
                setAll(node, { class: `led ${side}`, x, width, y, height: gap });
            },
        );
    }

    #drawActivities({ activities, height, measures: { axis } }) {
        keepInStep(
            this.#groups.activities,
            activities,
            (_, i) => String(i),
            () => svg("path"),
            (node, { side, x, width }) => {
                const outer = side === "red" ? axis / 4 : height - axis / 4;
                const foot = outer + (side === "red" ? 1 : -1) * axis * 2;
                const d = `M${x} ${foot}V${outer}H${x + width}V${foot}`;
                setAll(node, { class: `activity ${side}`, d, "stroke-width": axis / 2 });
            },
        );
    }

    #drawMarks({ marks, middle, measures }) {
        keepInStep(
            this.#groups.marks,
            marks,
            ({ seq, form }) => `${seq} ${form}`,
            () => svg("path"),
            (node, mark) => {
                if (mark.form === "attack") this.#drawAttack(node, mark, middle, measures);
                else this.#drawPoints(node, mark, middle, measures);
            },
        );
    }

    #drawAttack(node, { side, x, near, far }, middle, { mark, tick }) {
        const towards = side === "red" ? -1 : 1;
        const half = mark / 2 - tick / 4;
        const foot = middle + towards * (near + tick / 2);
        const tip = middle + towards * far;
        const d = `M${x - half} ${foot}L${x} ${tip}L${x + half} ${foot}`;
        setAll(node, { class: `attack ${side}`, d, "stroke-width": tick });
    }

    #drawPoints(node, placed, middle, { unit, mark }) {
        const stroke = Math.max(1, unit * OPEN_STROKE);
        setAll(node, {
            class: `points ${placed.side}${placed.unconfirmed ? " open" : ""}`,
            d: barPath(placed, middle, mark, stroke / 2),
            "stroke-width": stroke,
        });
    }

    /* What a correction changed: the points taken away as an open box over those that stand, or the
     * height before points were added as a cut. Only where the page asks for it: on air the words
     * say it. */
    #drawTraces({ marks, middle, measures: { mark } }) {
        const shown = this.hasAttribute("traces")
            ? marks.filter(({ was, notch }) => was || notch)
            : [];
        keepInStep(
            this.#groups.traces,
            shown,
            ({ seq, was }) => `${seq} ${was ? "was" : "notch"}`,
            () => svg("path"),
            (node, placed) => {
                const { side, x, was, notch } = placed;
                const [near, far] = was ? [was.near + 1, was.far] : [notch - 0.75, notch + 0.75];
                const d = barPath({ side: "red", x, near, far }, middle, mark, was ? 0.5 : 0);
                setAll(node, {
                    class: was ? "was" : "notch",
                    d,
                    transform: side === "red" ? "" : `matrix(1 0 0 -1 0 ${2 * middle})`,
                });
            },
        );
    }

    #drawNow({ now, middle, measures: { unit, axis } }) {
        const bars = now === undefined ? [] : [now];
        keepInStep(
            this.#groups.now,
            bars,
            () => "now",
            () => svg("rect", { class: "now" }),
            (node, x) => {
                setAll(node, {
                    x: x - axis / 2,
                    width: axis,
                    y: middle - unit * 1.5,
                    height: unit * 3,
                });
            },
        );
    }
}

/* A bar from the axis outwards, drawn inside its edges by `inset`; blue's outer end is round. */
function barPath({ side, x, near, far }, middle, mark, inset) {
    const left = x - mark / 2 + inset;
    const right = x + mark / 2 - inset;
    const towards = side === "red" ? -1 : 1;
    const foot = middle + towards * (near + inset);
    const end = middle + towards * (far - inset);
    if (side === "red") return `M${left} ${foot}V${end}H${right}V${foot}Z`;
    const radius = Math.min((right - left) / 2, Math.max(0, end - foot));
    return (
        `M${left} ${foot}V${end - radius}A${radius} ${radius} 0 0 0 ${left + radius} ${end}` +
        `H${right - radius}A${radius} ${radius} 0 0 0 ${right} ${end - radius}V${foot}Z`
    );
}

customElements.define("bout-line", BoutLineElement);
