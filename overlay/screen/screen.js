/* The graphic on air. The state comes from the daemon (topic out/OUTPUT); picture.js and panel.js say
 * what is in the picture, this file draws it. Nothing here decides what is shown but the fades' pace.
 *
 * How it looks is the output's `look` (docs/wire.md, "Producing"); the address overrules it, for one
 * source alone. Options of the address: output, show (line,clock,panels), position (lower-left, lower-right,
 * upper-left, upper-right, lifted), background (a colour, fill, key), scale, clock (left, elapsed),
 * lang, theme, motion=off. */

import "../elements/bout-clock.js";
import "../elements/bout-line.js";
import "../elements/side-sign.js";
import { connect } from "../lib/connection.js";
import { correctionsBetween } from "../lib/corrections.js";
import { at, make, setText } from "../lib/dom.js";
import { Fades, readingTime } from "../lib/fades.js";
import { dress, languageOf, NAME, readOptions } from "../lib/options.js";
import { otherSide, SIDES } from "../lib/standing.js";
import { loadWords } from "../lib/words.js";
import { fitNames, largest, textWidth } from "./fit.js";
import { panelOf } from "./panel.js";
import { drawPanel } from "./panel-view.js";
import { pictureOf } from "./picture.js";

const FRAME_MS = 1000 / 30 - 2; /* 30 pictures a second are enough; movement goes by elapsed time */
const NAME_WIDTH = 664;
const NAME_WIDTH_UPRIGHT = 708;
const WEDGE_WIDTH = 440; /* 528 without its point and margins */
const RESULT_WIDTH = 1524;
const RESULT_WIDTH_UPRIGHT = 900;

const root = document.documentElement;
const inAddress = readOptions(location.search, {
    output: { text: "main", like: NAME },
    show: { text: "line,clock,panels", like: /^(line|clock|panels)(,(line|clock|panels))*$/ },
    position: ["lower-left", "lower-right", "upper-left", "upper-right", "lifted"],
    background: { text: "", like: /^(fill|key|#?[0-9a-fA-F]{6}|[a-z]{3,20})$/ },
    scale: { number: 1, min: 0.5, max: 1 },
    clock: ["left", "elapsed"],
    motion: ["on", "off"],
    theme: ["dark", "light"],
});
const named = new URLSearchParams(location.search);
const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
let options = inAddress;
let lang = languageOf(location.search);
let still = calm;

const part = (within, selector) => within.querySelector(selector);
const score = at("score");
const result = at("result");
const lanes = Object.fromEntries(
    SIDES.map((side) => [
        side,
        {
            points: part(score, `.lane[data-side=${side}] .points`),
            name: part(score, `.lane[data-side=${side}] .name`),
            team: part(score, `.lane[data-side=${side}] .team`),
            bar: part(score, `.bar[data-side=${side}]`),
            end: part(score, `.end[data-side=${side}]`),
        },
    ]),
);

const fades = new Fades();
let say = await loadWords(lang);
const line = connect({ audience: "desk" });
const panelPlace = at("panel");
let state;
let corrected = {}; /* side → {text, until_ms} */
let drawn_ms = -Infinity;
const shownKeys = new Map(); /* node → the key of what it shows */

/* Brings a node in or out, at the pace that calm allows, and says whether it shows what it should.
 * What leaves, leaves at once: it would be untrue. */
function appear(node, key, now_ms, { urgent = false, group } = {}) {
    const shown = shownKeys.get(node);
    if (shown === key) return key !== undefined;
    if (key === undefined) {
        leave(node, now_ms, group);
        return false;
    }
    if (shown !== undefined) {
        shownKeys.delete(node);
        node.hidden = true;
    }
    const way = fades.ask(now_ms, { urgent, group });
    if (way === "wait") return false;
    shownKeys.set(node, key);
    node.hidden = false;
    node.classList.remove("going");
    node.classList.toggle("coming", way === "fade");
    return true;
}

function leave(node, now_ms, group) {
    shownKeys.delete(node);
    const way = node.classList.contains("end") ? "cut" : fades.ask(now_ms, { urgent: true, group });
    if (way === "cut" || still) {
        node.hidden = true;
        return;
    }
    node.classList.remove("coming");
    node.classList.add("going");
    setTimeout(() => {
        if (node.classList.contains("going")) node.hidden = true;
        node.classList.remove("going");
    }, 300);
}

function draw(now_ms) {
    let picture = pictureOf(state, now_ms, {
        say,
        fits: fitsWedge,
        corrected: readableCorrections(),
        confirmedOnly: options.score === "confirmed",
    });
    const frame_ms = performance.now();
    if (options.unheard === "all" && line.trust === "hidden") picture = undefined;
    /* The result comes instead of the plate, which stays until calm lets the result in. */
    const hasResult = picture?.result && show("panels");
    const resultShown = drawResult(hasResult ? picture : undefined, now_ms, frame_ms);
    const plateShown = picture?.plate || (hasResult && !resultShown);
    drawScore(plateShown ? picture : undefined, now_ms, frame_ms);
    drawPanelOnAir(now_ms, frame_ms);
}

/* A panel comes and goes as one; what changes within it changes in place. */
function drawPanelOnAir(now_ms, frame_ms) {
    const hidden = state?.hold?.how === "hide" || !show("panels") ||
        (options.unheard === "all" && line.trust === "hidden");
    const panel = hidden ? undefined : panelOf(state, now_ms, say);
    const before = shownKeys.get(panelPlace);
    if (!appear(panelPlace, panel?.key, frame_ms, { group: "panel" })) return;
    panelPlace.dataset.key = panel.key;
    drawPanel(panelPlace, panel, before !== panel.key);
}

function fitsWedge(text) {
    return textWidth(text, 500, 42) <= WEDGE_WIDTH;
}

const show = (name) => options.show.split(",").includes(name);

function readableCorrections() {
    const now_ms = performance.now();
    const current = SIDES.filter((side) => corrected[side]?.until_ms > now_ms);
    return Object.fromEntries(current.map((side) => [side, corrected[side].text]));
}

function drawScore(picture, now_ms, frame_ms) {
    const wanted = picture && (show("line") || show("clock")) ? picture.bout : undefined;
    if (!appear(score, wanted, frame_ms, { group: "plate" })) return;
    drawClock(picture, now_ms);
    drawNames(picture);
    at("line").show(state.bout, still ? Math.floor(now_ms / 1000) * 1000 : now_ms);
    for (const side of SIDES) {
        setText(lanes[side].points, String(picture.lanes[side].points));
        drawEnd(side, picture.lanes[side].end, frame_ms);
        drawBar(side, picture.activity, frame_ms);
    }
}

function drawClock(picture, now_ms) {
    const clock = at("clock");
    clock.show(state.bout, now_ms, { trust: line.trust, count: options.clock });
    clock.classList.toggle("long", clock.textContent.length > 4);
    setText(at("place"), picture.place);
}

/* Measured only when a name or the picture's shape changes. */
let fitted;
function drawNames(picture) {
    const upright = root.dataset.shape === "upright";
    const both = SIDES.map((side) => picture.lanes[side]);
    const key = JSON.stringify([
        upright,
        both.map(({ name, family, team }) => [name, family, team]),
    ]);
    if (key === fitted) return;
    fitted = key;
    const { size, names, teams } = fitNames(
        both,
        upright ? NAME_WIDTH_UPRIGHT : NAME_WIDTH,
        textWidth,
    );
    score.style.setProperty("--name-size", `${size}px`);
    SIDES.forEach((side, i) => {
        lanes[side].name.textContent = names[i];
        lanes[side].team.textContent = (teams && both[i].team) || "";
    });
}

function drawEnd(side, end, frame_ms) {
    const node = lanes[side].end;
    const group = end?.kind === "activity" ? "activity" : undefined;
    const before = shownKeys.get(node);
    if (!appear(node, end?.key, frame_ms, { urgent: end?.urgent, group })) return;
    if (before !== end.key) node.replaceChildren(...endParts(side, end));
    const more = part(node, ".more");
    if (more) setText(more, end.more);
    const seconds = part(node, ".seconds");
    if (seconds) setText(seconds, end.seconds);
}

function endParts(side, { text, more, seconds, wedge }) {
    const words = [
        more && make("span", { class: "more hollow" }, more),
        text && make("span", { class: "text" }, text),
        seconds && make("span", { class: "seconds" }, seconds),
    ].filter(Boolean);
    return [
        wedge && make("span", { class: "wedge", "data-side": side }, sideSign(side), wedge),
        words.length > 0 && make("span", { class: "word" }, sideSign(side), ...words),
    ].filter(Boolean);
}

function drawBar(side, activity, frame_ms) {
    const own = activity?.side === side ? activity : undefined;
    const { bar } = lanes[side];
    if (!appear(bar, own && "bar", frame_ms, { group: "activity" })) return;
    const length_ms = own.part ? own.left_ms / own.part : 1;
    const left_ms = still ? Math.ceil(own.left_ms / 1000) * 1000 : own.left_ms;
    bar.style.setProperty("--part", String(Math.min(1, left_ms / length_ms)));
}

function drawResult(picture, now_ms, frame_ms) {
    const key = picture && JSON.stringify([root.dataset.shape, picture.result]);
    const before = shownKeys.get(result);
    if (!appear(result, key, frame_ms, { group: "plate" })) return false;
    part(result, "bout-line").show(state.bout, now_ms);
    if (before !== key) fillResult(picture);
    return true;
}

function fillResult(picture) {
    const { winner, title, code, name, about } = picture.result;
    setText(part(result, ".title"), title);
    setText(part(result, ".code"), code);
    setText(part(result, ".about"), about);
    result.classList.toggle("undecided", !winner);
    part(result, ".winner").hidden = !winner;
    if (winner) part(result, ".winner side-sign").setAttribute("side", winner);
    setText(part(result, ".winner .name"), name ?? "");
    const sentence = part(result, ".sentence");
    sentence.replaceChildren(...(winner ? beatsParts(picture.result) : bothParts(picture.result)));
    fitResult(name ?? "", sentence);
}

const sideSign = (side) => make("side-sign", { side });

function beatsParts({ winner, other, how }) {
    return [
        make("span", {}, say("screen.beats")),
        sideSign(otherSide(winner)),
        make("bdi", {}, other),
        make("span", {}, how),
    ];
}

function bothParts({ both }) {
    return both.flatMap(({ side, name }) => [sideSign(side), make("bdi", {}, name)]);
}

/* An upright picture breaks its sentence into lines, so there each part must fit alone. */
function fitResult(name, sentence) {
    const upright = root.dataset.shape === "upright";
    const width = upright ? RESULT_WIDTH_UPRIGHT : RESULT_WIDTH;
    const { children, textContent } = sentence;
    const parts = upright ? [...children].map((child) => child.textContent) : [textContent];
    const gaps = upright ? 0 : children.length * 0.5;
    const winnerSize = largest(
        upright ? [100, 84, 72, 62, 54, 48] : [100, 84, 72],
        (size) => textWidth(name, 700, size) <= (upright ? width - 108 : width),
    );
    const sentenceSize = largest([62, 54, 48, 42], (size) =>
        parts.every((text) => textWidth(text, 400, size) + gaps * size <= width),
    );
    result.style.setProperty("--winner-size", `${winnerSize}px`);
    result.style.setProperty("--sentence-size", `${sentenceSize}px`);
}

/* The stage fills the source: 1920 × 1080 points for a wide one, 1080 wide for an upright or
 * square. */
function fillSource() {
    const { innerWidth: width, innerHeight: height } = window;
    const upright = width / height < 1.2;
    const scale = upright ? width / 1080 : Math.min(width / 1920, height / 1080);
    root.dataset.shape = upright ? "upright" : "wide";
    root.style.setProperty("--stage-scale", String(scale));
    root.style.setProperty("--stage-width", `${width / scale}px`);
    root.style.setProperty("--stage-height", `${height / scale}px`);
}

/* What the output's look says, where the address doesn't. */
async function setLooks(look = {}) {
    const { scale_percent: percent, ...rest } = look;
    const wanted = { ...rest, ...(percent && { scale: percent / 100 }) };
    options = { ...inAddress };
    for (const [name, value] of Object.entries(wanted)) if (!named.has(name)) options[name] = value;
    if (!named.has("lang") && (look.lang ?? "en") !== lang) {
        lang = look.lang ?? "en";
        say = await loadWords(lang);
    }
    still = calm || options.motion === "off";
    dress(root, { lang, motion: options.motion, theme: options.theme });
    root.dataset.position = options.position;
    root.dataset.show = options.show.replaceAll(",", " ");
    root.style.setProperty("--graphic-scale", String(options.scale));
    setBackground(options.background);
    fillSource();
}

function setBackground(background) {
    delete root.dataset.background;
    root.style.removeProperty("--background");
    if (background === "fill" || background === "key") root.dataset.background = background;
    else if (background)
        root.style.setProperty(
            "--background",
            /^[0-9a-fA-F]{6}$/.test(background) ? `#${background}` : background,
        );
}

/* A correction is said in words, as long as it takes to read. */
function take(next) {
    const now_ms = performance.now();
    for (const [side, { was, points }] of Object.entries(
        correctionsBetween(state?.bout, next.bout),
    )) {
        const text = points
            ? say("screen.corrected", { was, points })
            : say("screen.taken_out", { was });
        corrected = { ...corrected, [side]: { text, until_ms: now_ms + readingTime(text) } };
    }
    if (state?.bout?.bout !== next.bout?.bout) corrected = {};
    if (JSON.stringify(state?.look) !== JSON.stringify(next.look)) setLooks(next.look);
    state = next;
}

function frame(time_ms) {
    requestAnimationFrame(frame);
    if (time_ms - drawn_ms < FRAME_MS) return;
    drawn_ms = time_ms;
    draw(line.now());
}

addEventListener("resize", fillSource);
await setLooks();
document.title = say("screen.title");
await document.fonts.load("600 62px Inter").catch(() => {}); /* names are measured */
line.follow(`out/${options.output}`, take);
requestAnimationFrame(frame);
