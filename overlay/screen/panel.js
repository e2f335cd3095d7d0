/* What a panel says: a pure function of the output's state and the time. Every figure is the
 * daemon's; here they get words and their places. Two forms: a grid of red figures, word, blue
 * figures, and lines one under the other. */

import { breakLeft, clockNow, timeElapsed, timeLeft } from "../lib/clock.js";
import { matNames } from "../lib/mats.js";
import { boutTitle, howText, leadsText, scoreText } from "../lib/sentences.js";
import { SIDES } from "../lib/standing.js";
import { spoken } from "../lib/words.js";

const MARKS_MAX = 6; /* more tries than that are a figure alone */
const MATS_MAX = 7; /* lines that the graphics-safe box has room for, lifted too */

/** @typedef {{text: string, filled?: number, open?: number}} Cell
 *  @typedef {{red?: Cell, word: string, blue?: Cell, strong?: boolean, name?: boolean,
 *      signs?: boolean}} Row  `signs`: each side's sign stands beside its figure
 *  @typedef {{one?: string, text: string, other?: string}} Line  `one` and `other` stand at the
 *      beginning and at the end, figures most often
 *  @typedef {object} Panel
 *  @property {string} key  another key is another panel
 *  @property {"grid" | "lines" | "text"} form
 *  @property {string} title
 *  @property {Row[]} [rows]
 *  @property {Line[]} [lines]
 *  @property {string} [text]
 *  @property {string} [foot]
 *
 *  @param {object} state  of the topic out/OUTPUT
 *  @param {number} now_ms
 *  @param {import("../lib/words.js").Say} say
 *  @returns {Panel | undefined}  nothing: no panel is on air, or nothing of it may be shown */
export function panelOf(state, now_ms, say) {
    const panel = state?.on_air?.panel;
    const make = panel && !panel.withheld && MAKERS[panel.panel];
    if (!make) return undefined;
    const made = make(panel, { view: state.bout, now_ms, say });
    return { key: `${panel.panel} ${panel.side ?? ""} ${panel.since}`, ...made };
}

/* The result has a picture of its own (picture.js). */
const MAKERS = { who, attacks, why, needs, mats, order, results, text, back };

const entriesOf = (object) =>
    Object.entries(object ?? {})
        .sort(([one], [other]) => one - other)
        .map(([, value]) => value);

/* ---- grids ---- */

const bothSides = (panel, cell) =>
    Object.fromEntries(SIDES.map((side) => [side, panel[side] && cell(panel[side], side)]));

function who(panel, { say }) {
    const ways = bothSides(panel, ({ way }) => entriesOf(way));
    const length = Math.max(...SIDES.map((side) => ways[side]?.length ?? 0));
    const rows = [
        { ...bothSides(panel, ({ name }) => ({ text: name })), word: "", strong: true, name: true, signs: true },
        {
            ...bothSides(panel, ({ team, noc }) => ({ text: team ?? noc ?? "" })),
            word: say("screen.panel.team"),
        },
    ];
    /* Opponents' names need the room of the names themselves, so the word has a row of its own. */
    if (length > 0) rows.push({ word: say("screen.panel.way") });
    for (let i = 0; i < length; i++) {
        const cell = (side) => ways[side]?.[i] && { text: wayText(ways[side][i], say) };
        rows.push({ red: cell("red"), word: "", blue: cell("blue"), name: true });
    }
    return { form: "grid", title: say("screen.panel.who"), rows };
}

function wayText({ against, won, score }, say) {
    const points = scoreText({ red: score.own, blue: score.other });
    return say(won ? "screen.panel.beat" : "screen.panel.lost", { against, score: points });
}

function attacks(panel, { say }) {
    const all = bothSides(panel, (row) => ({ text: ofText(row, say) }));
    const rows = [{ ...all, word: "", strong: true, signs: true }];
    for (const kind of entriesOf(panel.kinds)) rows.push(triesRow(kind, kindWord(kind, say), say));
    for (const leg of ["lead", "trail"])
        if (panel.legs?.[leg]) rows.push(triesRow(panel.legs[leg], say(`screen.panel.${leg}`), say));
    return { form: "grid", title: say("screen.panel.attacks"), rows };
}

const ofText = ({ tried, scored }, say) => say("screen.panel.of", { scored, tried });

function kindWord({ technique, others }, say) {
    if (others) return say("screen.panel.others");
    return say.has(`technique.${technique}`) ? say(`technique.${technique}`) : spoken(technique);
}

function triesRow(tries, word, say) {
    const cell = (row) => {
        if (!row) return undefined;
        const marks = row.tried <= MARKS_MAX;
        const open = row.tried - row.scored;
        return { text: ofText(row, say), ...(marks && { filled: row.scored, open }) };
    };
    return { red: cell(tries.red), word, blue: cell(tries.blue) };
}

function why(panel, { view, say }) {
    const steps = entriesOf(panel.steps);
    const rows = steps.map((step, i) => ({
        ...stepCells(step, say),
        word: stepWord(step.by, say),
        strong: i === steps.length - 1,
    }));
    const { leader } = panel;
    const score = { red: view.confirmed.red, blue: view.confirmed.blue };
    const title = say("screen.panel.why", {
        name: view.details[leader.side].family ?? view.details[leader.side].name,
        leads: leadsText(leader, score, say),
    });
    return { form: "grid", title, rows, foot: panel.source ?? panel.rules };
}

function stepWord(by, say) {
    if (by === "points") return say("screen.panel.points");
    return say.has(`criterion.${by}`) ? say(`criterion.${by}`) : spoken(by);
}

/* Of holds: how many of each value, the highest first; a criterion without figures is a sign. */
function stepCells(step, say) {
    const cell = (side) => {
        const value = step[side];
        if (value === undefined) return step.side === side ? { text: "", filled: 1 } : undefined;
        if (typeof value !== "object") return { text: String(value) };
        const holds = Object.entries(value).sort(([one], [other]) => other - one);
        return { text: holds.map(([points, count]) => `${count}×${points}`).join(" ") || say("screen.panel.none") };
    };
    return { red: cell("red"), blue: cell("blue") };
}

function needs(panel, { say }) {
    const shown = SIDES.filter((side) => panel[side]);
    const lead = (row) => ({
        text: row.leads
            ? say("screen.panel.leads")
            : row.to_lead
              ? String(row.to_lead)
              : say("screen.panel.more_than_one"),
    });
    const rows = [
        { ...bothSides(panel, lead), word: say("screen.panel.to_lead"), strong: true },
        {
            ...bothSides(
                panel,
                ({ to_superiority: points }) => points && { text: String(points) },
            ),
            word: say("screen.panel.to_superiority"),
        },
    ];
    return { form: "grid", title: say("screen.panel.needs"), rows: shown.length ? rows : [] };
}

/* ---- lines ---- */

function mats(panel, { now_ms, say }) {
    const lines = matsToShow(panel.mats).map(([mat, short]) => ({
        one: mat,
        text: say("screen.panel.versus", {
            red: short.red.family ?? short.red.name,
            blue: short.blue.family ?? short.blue.name,
        }),
        other: matText(short, now_ms, say),
    }));
    return { form: "lines", title: say("screen.panel.mats"), lines };
}

/* Of more mats than there is room for, those that wrestle now, in the order of their names. */
function matsToShow(mats = {}) {
    const all = matNames({ mats }).map((mat) => [mat, mats[mat]]);
    const idle = ({ phase }) => phase === "called" || phase === "closed";
    const busy = all.filter(([, short]) => !idle(short));
    const first = [...busy, ...all.filter(([, short]) => idle(short))].slice(0, MATS_MAX);
    return all.filter((row) => first.includes(row));
}

function matText(short, now_ms, say) {
    const confirmed = {
        red: short.score.red - (short.unconfirmed?.red ?? 0),
        blue: short.score.blue - (short.unconfirmed?.blue ?? 0),
    };
    const score = scoreText(confirmed);
    if (short.phase === "called") return say("screen.panel.called");
    if (short.result && !short.result.unconfirmed) return say("screen.panel.final", { score });
    if (breakLeft(short, now_ms) !== undefined || short.phase === "break")
        return say("screen.panel.in_break", { score });
    const clock = clockNow(short, now_ms);
    return say("screen.panel.running", { score, time: timeLeft(clock), period: clock.period });
}

function order(panel, { say }) {
    const lines = entriesOf(panel.order).map((bout) => ({
        one: bout.number ?? "",
        text: say("screen.panel.versus", { red: comesText(bout.red, say), blue: comesText(bout.blue, say) }),
        other: boutTitle(bout, say),
    }));
    return { form: "lines", title: say("screen.panel.order"), lines };
}

/* Who comes, or what is waited for: as in a SLOT (docs/wire.md). */
function comesText(side, say) {
    if (!side) return say("screen.panel.open");
    if (side.name) return side.family ?? side.name;
    const known = side.waits && say.has(`screen.panel.waits.${side.waits}`);
    return known
        ? say(`screen.panel.waits.${side.waits}`, { number: side.number ?? "" })
        : say("screen.panel.open");
}

function results(panel, { say }) {
    const lines = Object.entries(panel.results ?? {})
        .sort(([one], [other]) => other - one)
        .map(([, result]) => resultLine(result, say));
    return { form: "lines", title: say("screen.panel.results"), lines };
}

function resultLine({ number, red, blue, score, how, winner, time_ms }, say) {
    const won = winner === "blue" ? [blue, red] : [red, blue];
    const words = howText({ how }, say);
    return {
        one: number ?? "",
        text: winner
            ? say("screen.panel.beats", { one: won[0], other: won[1] })
            : say("screen.panel.versus", { red, blue }),
        other: winner
            ? say("screen.panel.result", { how: words, score: scoreText(score, winner), time: timeElapsed(time_ms) })
            : words,
    };
}

function text(panel) {
    return { form: "text", title: "", text: panel.text };
}

/* The time of day where the page stands: that of the hall. */
function back(panel, { say }) {
    const at = new Date(panel.at);
    const time = `${at.getHours()}:${String(at.getMinutes()).padStart(2, "0")}`;
    return { form: "text", title: say("screen.panel.back", { time }), text: panel.text ?? "" };
}
