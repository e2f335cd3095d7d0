/* <working-head>: what stands on top of every page at work, in one place: the clock at the left
 * edge, a lane for each side with its sign, name, score and what it needs. Points that nobody has
 * confirmed are in the score, and open; what derives from points is held back while any is open.
 *
 *     head.show(view, now_ms, { say, trust, second: "needs" | "officials" });
 *
 * `spoken`: an attribute; with it a lane also says how the name is spoken. */

import { activityLeft, breakLeft, clockNow, forcedCallLeft, stoppageFor, timeElapsed, timeLeft }
    from "../lib/clock.js";
import { isolated, nameElement } from "../lib/names.js";
import { SIDES, standingOf } from "../lib/standing.js";
import { laneTexts } from "./lane-texts.js";
import { spelled } from "./spelled-name.js";
import "./bout-clock.js";
import "./side-sign.js";

const FORCED_CALL_TOLD_MS = 30000;

/** Makes a node: `make("p", "note", "text")`. */
export function make(tag, className = "", text = "") {
    const node = document.createElement(tag);
    if (className) node.className = className;
    if (text) node.textContent = text;
    return node;
}

/** Sets a text only where it differs, so that nothing is selected away or read again. */
export function setText(node, text) {
    if (node.textContent !== text) node.textContent = text;
}

export class WorkingHead extends HTMLElement {
    #parts;

    connectedCallback() {
        if (!this.#parts) this.#build();
    }

    /** @param {object} view
     *  @param {number} now_ms on the daemon's clock
     *  @param {{say: Function, trust: string, second?: "needs"|"officials", brief?: boolean}} options
     *      `brief`: one fact a line, where there is no room for more */
    show(view, now_ms, options) {
        if (!this.#parts) this.#build();
        this.#showClock(view, now_ms, options);
        for (const side of SIDES) this.#showLane(side, view, now_ms, options);
    }

    #build() {
        const clock = make("div", "clock");
        const time = document.createElement("bout-clock");
        const [first, second, third] = ["first", "second", "third"].map((name) => make("p", name));
        clock.append(time, first, second, third);
        this.#parts = { time, first, second, third, lanes: {} };
        this.append(clock);
        for (const side of SIDES) this.append(this.#buildLane(side));
    }

    #buildLane(side) {
        const lane = make("section", "lane");
        lane.dataset.side = side;
        const plate = make("div", "plate");
        const sign = document.createElement("side-sign");
        sign.setAttribute("side", side);
        const letter = make("span", "letter");
        plate.append(sign, letter);
        const who = make("div", "who");
        const [name, said] = ["name", "said"].map((part) => make("div", part));
        const bar = make("i", "bar");
        who.append(name, said, bar);
        const score = make("div", "score");
        const needs = make("div", "needs");
        const [first, second] = ["first", "second"].map((part) => make("p", part));
        needs.append(first, second);
        lane.append(plate, who, score, needs);
        this.#parts.lanes[side] = { lane, letter, name, said, bar, score, first, second };
        return lane;
    }

    /* The third line's place is kept while it is empty, so that the time never moves; where there
     * is no room for three, what is new takes the place of the second. */
    #showClock(view, now_ms, { say, trust, brief }) {
        const { time, first, second, third } = this.#parts;
        time.show(view, now_ms, { trust });
        const clock = clockNow(view, now_ms);
        const elapsed = say("working.clock.elapsed", { time: timeElapsed(clock.elapsed_ms) });
        const news = newsText(view, clock, now_ms, say, brief);
        setText(first, placeText(view, clock, now_ms, say, brief));
        setText(second, brief ? news || elapsed : `${stateText(view, clock, say)} · ${elapsed}`);
        setText(third, brief ? "" : news);
        second.classList.toggle("news", Boolean(brief && news));
    }

    #showLane(side, view, now_ms, options) {
        const { say } = options;
        const parts = this.#parts.lanes[side];
        const person = view.details[side];
        setText(parts.letter, say(`working.letter.${side}`));
        if (parts.shown !== JSON.stringify(person)) {
            parts.shown = JSON.stringify(person);
            parts.name.replaceChildren(nameElement(person));
            parts.name.title = person.name;
            parts.lane.classList.toggle("long", person.name.length > 24);
            parts.said.replaceChildren(this.hasAttribute("spoken")
                ? spelled(person.say, say("working.say_missing")) : person.team ?? person.noc ?? "");
        }
        const label = say("working.score_of", { name: isolated(person.name), score: view.score[side] });
        if (parts.lane.getAttribute("aria-label") !== label) parts.lane.setAttribute("aria-label", label);
        this.#showScore(side, view, parts);
        const { first, second } = laneTexts(side, view, say, options.second, options.brief);
        const activity = this.#showActivity(side, view, now_ms, parts, say);
        setText(parts.first, first);
        setText(parts.second, activity || second);
        parts.second.classList.toggle("activity", Boolean(activity));
    }

    #showScore(side, view, parts) {
        const standing = standingOf(view);
        setText(parts.score, String(view.score[side]));
        parts.score.classList.toggle("open", standing.open[side] > 0);
        parts.score.classList.toggle("leads", standing.leader?.side === side);
    }

    /** The bar shrinks on the named side's lane; the seconds stand at its end. */
    #showActivity(side, view, now_ms, { bar }, say) {
        const left = activityLeft(view, now_ms);
        const on = left?.side === side;
        bar.hidden = !on;
        if (!on) return "";
        bar.style.width = `${(left.part * 100).toFixed(2)}%`;
        return say("working.activity", { time: timeLeft(left) });
    }
}

function placeText(view, clock, now_ms, say, brief) {
    if (brief && view.phase === "closed") return stateText(view, clock, say);
    const place = breakLeft(view, now_ms) !== undefined ? (brief ? "break" : "left_break")
        : brief ? "period" : "left";
    return say(`working.clock.${place}`, { period: clock.period, periods: view.details.periods });
}

function stateText(view, clock, say) {
    if (clock.unsure) return say("working.clock.unsure");
    const timeIsUp = clock.left_ms === 0 && ["live", "over"].includes(view.phase);
    if (timeIsUp) return say("working.clock.over");
    if (view.phase === "live") return say("working.clock.runs");
    return say(`working.clock.${view.phase === "over" ? "stopped" : view.phase}`);
}

/** What is going on beside the bout's time: an open stoppage with its time, how long until a side
 *  must be named, a result that doesn't stand yet. */
function newsText(view, clock, now_ms, say, brief) {
    const words = (key, values) => say(`working.clock.${key}`, values);
    if (standingOf(view).resultOpen) return words(brief ? "result_open_brief" : "result_open");
    if (brief && clock.unsure) return words("unsure");
    const stopped_ms = stoppageFor(view, now_ms);
    if (stopped_ms !== undefined) {
        const kind = words("stoppage", view.stoppage);
        return words("stoppage_for", { kind, time: timeElapsed(stopped_ms) });
    }
    const call_ms = forcedCallLeft(view, now_ms);
    if (call_ms === undefined || call_ms <= 0 || call_ms > FORCED_CALL_TOLD_MS) return "";
    const time = timeLeft({ left_ms: call_ms });
    return words(brief ? "forced_call_brief" : "forced_call", { time });
}

customElements.define("working-head", WorkingHead);
