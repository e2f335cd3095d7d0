/* The follow page. Sentences come from the daemon (topic mat/MAT/follow) and are only added to the
 * log, never changed; the score beside them follows the same state. Everything can be paused, and
 * shown some seconds later.
 *
 * Options of the address: mat, later (seconds), lang, theme (auto, dark, light), motion=off. */

import "../elements/bout-clock.js";
import "../elements/bout-line.js";
import "../elements/side-sign.js";
import { lineWord } from "../lib/access.js";
import { lineRows } from "../lib/bout-line.js";
import { clockText } from "../lib/clock.js";
import { connect } from "../lib/connection.js";
import { at, make, setText } from "../lib/dom.js";
import { Later } from "../lib/later.js";
import { firstMat, matNames } from "../lib/mats.js";
import { dress, languageOf, NAME, readOptions } from "../lib/options.js";
import { lineSentence, markText, secondsText } from "../lib/sentences.js";
import { SIDES, standingOf } from "../lib/standing.js";
import { loadWords } from "../lib/words.js";
import {
    catchUpText,
    clockLabels,
    dayResultText,
    headingText,
    otherMatText,
    sideText,
    statusText,
} from "./texts.js";

const TICK_MS = 200;
const STATUS_EVERY_MS = 5000;
const OTHERS_EVERY_MS = 60000;
const RESULTS_SHOWN = 20;
const LONG_NAME = 22; /* letters from which a name takes the smaller of its two sizes */
const NEAR_END_PX = 40;

const root = document.documentElement;
const options = readOptions(location.search, {
    mat: { text: "", like: NAME },
    later: { number: 0, min: 0, max: 600 },
    theme: ["auto", "dark", "light"],
    motion: ["on", "off"],
});
const lang = languageOf(location.search, navigator.languages);

const say = await loadWords(lang);
const line = connect({ audience: "viewer" });
let mat = options.mat;
let state; /* of mat/MAT/follow, as shown */
let newest; /* the same, as it has arrived */
let day; /* of day/follow, as shown */
let paused = false;
let later_ms = options.later * 1000;
let stopFollowing;
const arriving = new Later();
const steady = () => performance.now();

/* ---- what arrives ---- */

function followMat(name) {
    mat = name;
    stopFollowing?.();
    stopFollowing = line.follow(`mat/${mat}/follow`, (next) => {
        newest = next;
        arriving.put({ state: next }, steady());
    });
    showLinks();
}

/* Without a mat in the address, the first of the day. */
function takeDay(next) {
    arriving.put({ day: next }, steady());
    const first = firstMat(next);
    if (!mat && first) followMat(first);
}

function takeDue() {
    if (paused) return;
    for (const due of arriving.due(steady(), later_ms)) {
        if (due.day) day = due.day;
        if (due.state) state = due.state;
    }
}

const shownNow = () => line.now() - later_ms;

/* ---- what is shown ---- */

function show() {
    takeDue();
    showState();
    if (paused) return;
    const view = state?.bout;
    at("board").hidden = !view;
    setText(at("empty"), view ? "" : emptyText());
    if (view) showBout(view, shownNow());
    else showNoBout();
    showLog(state?.lines ?? {});
    showOthers();
}

function emptyText() {
    if (state?.withheld || day?.withheld) return say("follow.withheld");
    if (state || (day && !mat)) return say(mat ? "follow.no_bout" : "follow.no_mat", { mat });
    if (!arriving.empty && later_ms)
        return say("follow.later_waiting", { seconds: secondsText(later_ms, say) });
    return say("follow.waiting");
}

function showNoBout() {
    setText(at("where"), mat ? say("bout.mat", { mat }) : "");
    setText(at("heading"), mat ? say("follow.title_empty", { mat }) : emptyText());
}

function showBout(view, now_ms) {
    const { red, blue } = view.details;
    const standing = standingOf(view);
    setText(at("where"), headingText(mat, view, say));
    setText(at("heading"), say("follow.versus", { red: red.name, blue: blue.name }));
    document.title = say("follow.title", { red: red.name, blue: blue.name, mat });
    for (const side of SIDES) showSide(side, view, standing, now_ms);
    at("clock").show(view, now_ms, { trust: line.trust });
    const labels = clockLabels(view, now_ms, say);
    setText(at("left"), labels.left);
    setText(at("gone"), labels.gone);
    showLine(view, now_ms);
    showStatus(view, now_ms);
}

function showSide(side, view, standing, now_ms) {
    const box = document.querySelector(`.side[data-side=${side}]`);
    const { name } = view.details[side];
    setText(box.querySelector("bdi"), name);
    box.querySelector(".name").classList.toggle("long", hasLongName(view));
    setText(box.querySelector(".points"), String(standing.score[side]));
    setText(box.querySelector(".now"), sideText(view, side, now_ms, say));
}

/* Both sides in one size, whoever's name is the longer. */
function hasLongName({ details }) {
    return SIDES.some((side) => details[side].name.length > LONG_NAME);
}

/* The line's words and its table follow the marks, not the seconds. */
let lineSaid;
function showLine(view, now_ms) {
    const node = at("line");
    const unit = node.clientWidth < 480 ? 6 : node.clientWidth < 700 ? 8 : 12;
    if (node.getAttribute("unit") !== String(unit)) node.setAttribute("unit", String(unit));
    const said = lineSaid?.line === view.line && lineSaid.details === view.details;
    node.show(view, now_ms, said ? undefined : lineSentence(view, say));
    if (said) return;
    lineSaid = view;
    at("table")
        .querySelector("tbody")
        .replaceChildren(...lineRows(view).map((row) => tableRow(row)));
}

function tableRow(row) {
    const { mark, period, left_ms } = row;
    return make(
        "tr",
        {},
        make("td", { class: "number" }, String(period)),
        make("td", { class: "number" }, clockText({ left_ms })),
        make("td", {}, say(`Side.${mark.side}`)),
        make("td", {}, markText(row, say)),
        make("td", { class: "number" }, mark.points === undefined ? "" : String(mark.points)),
    );
}

/* Said at most every five seconds, and only when it has changed. */
let statusSaid_ms = -Infinity;
function showStatus(view, now_ms) {
    if (steady() - statusSaid_ms < STATUS_EVERY_MS) return;
    const text = statusText(view, now_ms, say);
    if (at("status").textContent === text) return;
    at("status").textContent = text;
    statusSaid_ms = steady();
}

/* ---- the log ---- */

let logged = new Map(); /* number → text, as it stands in the log */
let unseen = 0;
let readsNewest = true; /* the reader is at the log's end, and stays there as it grows */

/* A sentence, once out, never changes: new ones are added. Another bout begins the log anew. */
function showLog(lines) {
    const anew = [...logged].some(([number, text]) => lines[number]?.text !== text);
    if (anew) {
        logged = new Map();
        at("log").replaceChildren();
        readsNewest = true;
    }
    const fresh = Object.keys(lines)
        .map(Number)
        .filter((number) => !logged.has(number))
        .sort((a, b) => a - b);
    if (!fresh.length) return;
    const first = logged.size === 0;
    if (first) at("log").setAttribute("aria-live", "off"); /* what is past is read, not announced */
    for (const number of fresh) {
        logged.set(number, lines[number].text);
        at("log").append(logEntry(lines[number]));
    }
    if (first) setTimeout(applyAloud, 500);
    if (readsNewest) scrollToEnd();
    else showNewer(unseen + fresh.length);
}

function logEntry({ text, side, left_ms }) {
    const said = make("span", { class: "said words" });
    if (left_ms !== undefined) said.append(make("time", {}, clockText({ left_ms })), " ");
    said.append(text);
    return side
        ? make("p", {}, make("side-sign", { side, label: say(`Side.${side}`) }), said)
        : make("p", {}, said);
}

function isAtEnd() {
    const log = at("log");
    return log.scrollHeight - log.scrollTop - log.clientHeight < NEAR_END_PX;
}

function scrollToEnd() {
    at("log").scrollTop = at("log").scrollHeight;
    showNewer(0);
}

function showNewer(count) {
    unseen = count;
    at("newer").hidden = count === 0;
    setText(at("newer"), count ? say("follow.newer", { count }) : "");
}

/* ---- other mats and results ---- */

const othersSaid = new Map(); /* mat → {text, at_ms} */

/* Other mats are one sentence a minute: beside the bout, not another bout. */
function showOthers() {
    if (!day) return;
    const mats = matNames(day).filter((name) => name !== mat);
    for (const name of mats) {
        const said = othersSaid.get(name);
        if (said && steady() - said.at_ms < OTHERS_EVERY_MS) continue;
        othersSaid.set(name, {
            text: otherMatText(name, day.mats[name], shownNow(), say),
            at_ms: steady(),
        });
    }
    fillList(
        "others",
        mats.map((name) => ({ text: othersSaid.get(name).text, href: addressOf(name) })),
    );
    const results = Object.entries(day.results ?? {})
        .sort(([a], [b]) => b - a)
        .slice(0, RESULTS_SHOWN);
    fillList(
        "results",
        results.map(([, result]) => ({ text: dayResultText(result, say) })),
    );
}

const filled = new Map();
function fillList(id, items) {
    const key = JSON.stringify(items);
    if (filled.get(id) === key) return;
    filled.set(id, key);
    at(id).hidden = items.length === 0;
    at(id)
        .querySelector("ul")
        .replaceChildren(
            ...items.map(({ text, href }) =>
                make("li", { class: "words" }, href ? make("a", { href }, text) : text),
            ),
        );
}

function addressOf(name) {
    const query = new URLSearchParams(location.search);
    query.set("mat", name);
    return `?${query}`;
}

function showLinks() {
    at("links").hidden = false;
    at("as-text").href = `../text/${encodeURIComponent(mat)}`;
    at("as-stream").href = `../sse/mat/${encodeURIComponent(mat)}/follow`;
}

/* ---- the line to the daemon, the pause, and what is read aloud ---- */

function showState() {
    const node = at("state");
    const word = lineWord(line, steady());
    const lost = word !== "connected" && word !== "connecting";
    const text = paused
        ? say("follow.paused_new", { count: pausedCount() })
        : say(`state.${word}`);
    setText(node, text);
    node.classList.toggle("lost", lost && !paused);
    node.classList.toggle("paused", paused);
}

function pausedCount() {
    const arrived = Object.keys(newest?.lines ?? {}).filter(
        (number) => !logged.has(Number(number)),
    );
    return arrived.length;
}

function togglePause() {
    paused = !paused;
    setText(at("pause"), say(paused ? "follow.resume" : "follow.pause"));
    show();
}

/* Only one of the two speaks. */
function applyAloud() {
    const choice = document.querySelector("input[name=aloud]:checked")?.value ?? "all";
    at("log").setAttribute("aria-live", choice === "all" ? "polite" : "off");
    at("status").setAttribute("aria-live", choice === "scores" ? "polite" : "off");
}

const MEMORY = "boutwire-aloud";
function recall() {
    try {
        return localStorage.getItem(MEMORY) ?? "all";
    } catch {
        return "all"; /* a private window may forbid it */
    }
}

function remember(choice) {
    try {
        localStorage.setItem(MEMORY, choice);
    } catch {
        /* then it holds for this visit */
    }
}

function buildAloud() {
    const chosen = recall();
    for (const choice of ["all", "scores", "nothing"]) {
        const input = make("input", { type: "radio", name: "aloud", value: choice });
        input.checked = choice === chosen;
        input.addEventListener("change", () => {
            remember(choice);
            applyAloud();
        });
        at("aloud").append(make("label", {}, input, say(`follow.aloud_${choice}`)));
    }
}

function toggleMore() {
    const open = at("panel").hidden;
    at("panel").hidden = !open;
    at("more").setAttribute("aria-expanded", String(open));
    at("more").parentElement.classList.toggle("open", open);
}

function label() {
    const texts = {
        decides: "decides",
        pause: "pause",
        "as-text": "as_text",
        "as-stream": "as_stream",
    };
    for (const [id, key] of Object.entries(texts)) at(id).textContent = say(`follow.${key}`);
    at("log").setAttribute("aria-label", say("follow.log"));
    at("links").setAttribute("aria-label", say("follow.links"));
    at("more").textContent = say("follow.more");
    at("aloud").querySelector("legend").textContent = say("follow.aloud");
    document.querySelector("label[for=later]").textContent = say("follow.later");
    at("others").querySelector("h2").textContent = say("follow.others");
    at("results").querySelector("h2").textContent = say("follow.results");
    at("catch-up").querySelector("summary").textContent = say("follow.catch_up");
    at("table").querySelector("summary").textContent = say("follow.table");
    at("table")
        .querySelector("thead tr")
        .append(
            ...["period", "time", "side", "what", "points"].map((name) =>
                make("th", { scope: "col" }, say(`follow.column.${name}`)),
            ),
        );
}

function listen() {
    at("pause").addEventListener("click", togglePause);
    at("newer").addEventListener("click", scrollToEnd);
    at("more").addEventListener("click", toggleMore);
    at("log").addEventListener("scroll", () => {
        readsNewest = isAtEnd();
        if (readsNewest) showNewer(0);
    });
    /* The log's height changes with the window and with what is opened beside it. */
    new ResizeObserver(() => readsNewest && scrollToEnd()).observe(at("log"));
    at("later").value = String(options.later);
    at("later").addEventListener("change", ({ target }) => {
        const seconds = Math.min(600, Math.max(0, Number(target.value) || 0));
        target.value = String(seconds);
        later_ms = seconds * 1000;
    });
    /* Written when it is opened, and then it stays: nothing changes under a reader's eye. */
    at("catch-up").addEventListener("toggle", ({ target }) => {
        if (target.open && state?.bout)
            target.querySelector("p").textContent = catchUpText(state.bout, shownNow(), say);
    });
}

dress(root, { lang, motion: options.motion, theme: options.theme });
label();
buildAloud();
listen();
line.follow("day/follow", takeDay);
if (mat) followMat(mat);
line.addEventListener("change", showState);
show();
setInterval(show, TICK_MS);
