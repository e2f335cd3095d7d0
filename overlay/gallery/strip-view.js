/* What can be taken, as small pictures: each panel as the output would show it now, drawn by the
 * screen's own code, or in words why there is nothing of it to show. */

import "../elements/side-sign.js";
import { make, setText } from "../lib/dom.js";
import { boutTitle, howText, scoreText } from "../lib/sentences.js";
import { panelOf } from "../screen/panel.js";
import { drawPanel } from "../screen/panel-view.js";
import { digitOf, PANELS } from "./keys.js";
import { panelName, panelState, withheldText } from "./texts.js";

const PANEL_WIDTH = 1200;

export class StripView {
    #say;
    #items;

    constructor(place, give, say) {
        this.#say = say;
        place.setAttribute("aria-label", say("gallery.strip"));
        this.#items = new Map(PANELS.map((panel) => [panel, buildItem(panel, give, say)]));
        place.append(...[...this.#items.values()].map(({ node }) => node));
        new ResizeObserver(() => this.#fitAll()).observe(place);
    }

    show({ state, air, now_ms }) {
        for (const [panel, item] of this.#items) this.#showItem(panel, item, state, air, now_ms);
    }

    #showItem(name, item, { panels, prepared, on_air }, air, now_ms) {
        const say = this.#say;
        const panel = panels[name] ?? { least_ms: 0, withheld: "no_bout" };
        const isPrepared = prepared?.panel === name;
        const isOnAir = on_air.panel?.panel === name;
        const state = panelState(panel, say);
        const tag = isOnAir
            ? say("gallery.tag_on_air")
            : isPrepared
              ? say("gallery.tag_prepared")
              : "";
        setText(item.state, state);
        setText(item.tag, tag);
        item.node.setAttribute("aria-pressed", String(isPrepared));
        item.node.classList.toggle("on-air", isOnAir);
        item.node.classList.toggle("withheld", Boolean(panel.withheld));
        this.#picture(item, name, panel, air, now_ms);
    }

    #picture(item, name, panel, air, now_ms) {
        const drawn = !panel.withheld && air && this.#drawingOf(name, panel, air, now_ms);
        item.panel.hidden = !drawn;
        setText(
            item.why,
            drawn ? "" : withheldText({ withheld: panel.withheld ?? "no_bout" }, this.#say),
        );
        if (!drawn) return;
        const text = JSON.stringify(drawn);
        if (item.drawn === text) return;
        item.drawn = text;
        drawPanel(item.panel, drawn, false);
        fit(item);
    }

    #drawingOf(name, panel, air, now_ms) {
        if (name === "why" && !air.bout)
            return undefined; /* the two topics come one after the other */
        if (name === "result") return resultOf(panel, air, this.#say);
        return panelOf(
            { ...air, on_air: { panel: { ...panel, panel: name, since: "" } } },
            now_ms,
            this.#say,
        );
    }

    #fitAll() {
        for (const item of this.#items.values()) if (!item.panel.hidden) fit(item);
    }
}

function buildItem(panel, give, say) {
    const state = make("span", { class: "state" });
    const tag = make("span", { class: "tag" });
    const drawing = make("div", { class: "panel", hidden: "" });
    const why = make("span", { class: "why" });
    const node = make(
        "button",
        { type: "button", "data-panel": panel },
        make(
            "span",
            { class: "label" },
            make("kbd", {}, digitOf(panel)),
            make("span", { class: "name words" }, panelName({ panel }, say)),
            state,
            tag,
        ),
        make("span", { class: "picture", "aria-hidden": "true" }, drawing, why),
    );
    node.addEventListener("click", () => give({ prepare: panel }));
    return { node, state, tag, panel: drawing, why };
}

/* On air the result is a picture of its own; small it is said in words. */
function resultOf({ winner, how, score }, { bout }, say) {
    if (!bout) return undefined;
    const words = howText({ how }, say);
    const text = winner
        ? say("gallery.result_wins", {
              name: bout.details[winner].name,
              how: words,
              score: scoreText(score, winner),
          })
        : words;
    return { form: "text", title: boutTitle(bout.details, say), text };
}

function fit({ panel }) {
    const { clientWidth: width, clientHeight: height } = panel.parentElement;
    const scale = Math.min(width / PANEL_WIDTH, height / Math.max(1, panel.offsetHeight));
    panel.style.setProperty("--small", String(scale));
}
