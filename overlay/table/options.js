/**
 * What the detail row offers: for an event just keyed or chosen in the list, the answers that a
 * digit gives. The places of a row don't move while the bout goes on: they depend on what was
 * keyed and on the style, not on what was chosen before. Pure.
 */

import { reasonsOf } from "./field.js";
import { isOpen, openAttack } from "./ledger.js";
import { otherSide } from "../lib/standing.js";

/** The name that an attack goes by until its technique is keyed: an `attack` must name one. */
export const UNNAMED = "attack";

export const PAGE = 6;

/** What is usually meant by an action, the likeliest first (common practice, no source). What the
 *  catalogue has beyond these follows on further pages. */
const LIKELY = {
    takedown: "single_leg double_leg high_crotch low_single go_behind ankle_pick duck_under "
        + "sweep_single high_single body_lock_throw arm_spin mat_return",
    exposure: "gut_wrench leg_lace trap_arm_gut crotch_lift half_nelson cradle arm_bar turk",
    counter_exposure: "chest_wrap throw_block step_over counter_turn",
    throw: "arm_throw hip_toss head_and_arm salto lateral_drop suplex body_lock_throw arm_spin",
    lift: "straight_lift reverse_lift side_lift crotch_lift gut_wrench",
    feet_to_danger: "firemans_carry double_leg head_and_arm lateral_drop salto arm_throw",
    step_out: "push_out single_leg double_leg high_crotch bear_hug body_lock_throw",
    reversal: "reversal switch sit_out step_over stand_up counter_turn",
    attack: "single_leg double_leg high_crotch low_single ankle_pick sweep_single high_single "
        + "duck_under arm_throw body_lock_throw gut_wrench leg_lace",
};
const DEFENDING = new Set(["counter_exposure", "reversal"]);

const OUTCOMES = ["stopped", "countered", "out", "stalemate", "slipped"];
export const STOPPAGES = ["injury", "blood", "review", "conference", "other"];
const WHYS = ["keying", "officials", "challenge"];

/** The techniques of a style: Greco-Roman has none below the waist. */
export function techniquesOf(catalogue, style) {
    return style ? catalogue.filter(({ styles }) => styles.includes(style)) : [...catalogue];
}

/** All techniques that an action can have been, the likeliest first.
 *  @param {string} action an edition's action, or `attack`
 *  @param {object[]} techniques the catalogue, as far as the style allows it
 *  @returns {string[]} slugs */
export function techniquesFor(action, techniques) {
    const families = DEFENDING.has(action) ? ["defence", "top", "upper"] : ["leg", "upper", "top"];
    const allowed = families.flatMap((family) =>
        techniques.filter((technique) => technique.family === family));
    const slugs = allowed.map(({ slug }) => slug);
    const likely = (LIKELY[action] ?? LIKELY.attack).split(" ");
    return [...new Set([...likely.filter((slug) => slugs.includes(slug)), ...slugs])];
}

/**
 * @typedef {object} Choice
 * @property {string} digit the key: "1" to "9", "0"
 * @property {string} label a key of the words, under `table.choice`; or absent with `name`
 * @property {string} [name] a catalogue's name: technique, reason or outcome
 * @property {"technique"|"reason"|"outcome"|"stoppage"} [catalogue] which catalogue
 * @property {object} does what the stroke means; strokes.js carries it out
 * @property {boolean} [taken] already so
 */

/** @param {object} state of strokes.js
 *  @param {object} context of strokes.js
 *  @returns {Choice[]} */
export function choicesOf(state, context) {
    const { asks } = state;
    if (!asks) return [];
    if (asks.what === "more") return MORE;
    if (asks.what === "restart") return [{ digit: "1", label: "restart", does: { restart: true } }];
    if (asks.what === "stoppage") return numbered(STOPPAGES, "stoppage", "stoppage");
    if (asks.what === "why") return whyChoices();
    if (asks.what === "short_activity") return SHORT_ACTIVITY;
    if (asks.what === "challenge") return CHALLENGE;
    const row = context.rows.find(({ id }) => id === state.about);
    return row?.stands ? detailChoices(row, asks, context) : [];
}

/** Whether an event of this type has a detail row. */
export function hasDetail(row) {
    return Boolean(row) && (row.event.type in DETAIL)
        && !(row.event.type === "challenge" && row.event.outcome !== "asked");
}

function detailChoices(row, asks, context) {
    if (asks.what === "outcome") return outcomeChoices(row);
    return hasDetail(row) ? DETAIL[row.event.type](row, asks, context) : [];
}

const DETAIL = {
    score: techniqueChoices,
    attack: techniqueChoices,
    caution: cautionChoices,
    passivity: passivityChoices,
    challenge: () => CHALLENGE,
    position: positionChoices,
};

const MORE = [
    { digit: "1", label: "call", does: { open: "call" } },
    { digit: "2", label: "period", does: { period: true } },
    { digit: "3", label: "clock", does: { open: "clock" } },
    { digit: "4", label: "late", does: { open: "late" } },
    { digit: "5", label: "restart_ask", does: { ask: "restart" } },
    { digit: "6", label: "off", does: { off: true } },
    { digit: "7", label: "redo", does: { redo: true } },
];
const SHORT_ACTIVITY = [
    { digit: "1", label: "caution_instead", does: { caution_instead: true } },
    { digit: "2", label: "activity_anyway", does: { activity_anyway: true } },
];
const CHALLENGE = [
    { digit: "1", label: "upheld", does: { challenge: "upheld" } },
    { digit: "2", label: "rejected", does: { challenge: "rejected" } },
];

function numbered(names, catalogue, member, taken) {
    return names.map((name, i) => ({
        digit: String(i + 1), name, catalogue, does: { [member]: name },
        ...(taken === name ? { taken: true } : {}),
    }));
}

function whyChoices() {
    return WHYS.map((why, i) => ({ digit: String(i + 1), label: `why_${why}`, does: { why } }));
}

function outcomeChoices(row) {
    return numbered(OUTCOMES, "outcome", "outcome", row.event.outcome);
}

function techniqueChoices(row, asks, context) {
    if (asks.page === "setup") return setupChoices(row, asks, context);
    if (asks.page === "stopped_by") return stoppedByChoices(row, asks, context);
    const action = row.event.type === "attack" ? "attack" : row.event.action;
    const named = namedTechniques(row, context.rows);
    const choices = paged(techniquesFor(action, context.techniques), asks.offset, (slug) => ({
        name: slug, catalogue: "technique", does: { technique: slug },
        ...(named.includes(slug) ? { taken: true } : {}),
    }));
    return [...choices, ...legChoices(row, context), { digit: "0", label: "setup", does: { page: "setup" } }];
}

/** The techniques that are keyed for a row, its own or its attack's. */
export function namedTechniques(row, rows) {
    const attack = row.event.type === "attack" ? row
        : rows.find(({ id }) => id === row.event.attack);
    const names = attack ? attack.event.techniques : [row.event.technique];
    return names.filter((name) => name !== undefined && name !== UNNAMED);
}

export function keyedLeg(row, rows) {
    const attack = rows.find(({ id }) => id === row.event.attack);
    return attack?.event.leg ?? row.event.leg;
}

/** Six to a page, and the key after them turns it; the page after the last is the first. */
function paged(names, offset = 0, choiceOf) {
    const shown = names.slice(offset, offset + PAGE)
        .map((name, i) => ({ digit: String(i + 1), ...choiceOf(name) }));
    if (names.length <= PAGE) return shown;
    const next = offset + PAGE >= names.length ? 0 : offset + PAGE;
    return [...shown, { digit: "7", label: "others", does: { offset: next } }];
}

const FROM_THE_FEET = new Set(["takedown", "throw", "feet_to_danger", "step_out"]);

/** Whether a leg can be asked for: in a style with leg attacks, from the feet, and where the first
 *  technique keyed doesn't work on the trunk of somebody on the mat. */
export function asksLeg(row, { rows, techniques }) {
    if (!techniques.some(({ family }) => family === "leg")) return false;
    if (row.event.type === "score" && !FROM_THE_FEET.has(row.event.action)) return false;
    const [first] = namedTechniques(row, rows);
    return techniques.find(({ slug }) => slug === first)?.family !== "top";
}

function legChoices(row, context) {
    if (!asksLeg(row, context)) return [];
    const { rows } = context;
    const leg = keyedLeg(row, rows);
    return ["lead", "trail"].map((name, i) => ({
        digit: String(8 + i), label: name, does: { leg: name },
        ...(leg === name ? { taken: true } : {}),
    }));
}

function setupChoices(row, asks, context) {
    const ties = context.techniques.filter(({ family }) => family === "tie");
    const attack = row.event.type === "attack" ? row
        : context.rows.find(({ id }) => id === row.event.attack);
    const keyed = attack?.event.setup ?? [];
    const choices = paged(ties.map(({ slug }) => slug), asks.offset, (slug) => ({
        name: slug, catalogue: "technique", does: { setup: slug },
        ...(keyed.includes(slug) ? { taken: true } : {}),
    }));
    return [...choices, ...answerChoice(row, context), {
        digit: "0", ...(row.event.type === "attack"
            ? { label: "stopped_by", does: { page: "stopped_by" } }
            : { label: "back", does: { page: "which" } }),
    }];
}

/** A score can be the answer to the other side's open attack, which makes that one countered. */
function answerChoice(row, { rows }) {
    if (row.event.type !== "score") return [];
    const before = rows.slice(0, rows.indexOf(row));
    const attack = openAttack(before, otherSide(row.event.side), row);
    return attack ? [{ digit: "9", label: "answers", does: { answers: attack.id } }] : [];
}

function stoppedByChoices(row, asks, context) {
    const defences = context.techniques.filter(({ family }) => family === "defence");
    const choices = paged(defences.map(({ slug }) => slug), asks.offset, (slug) => ({
        name: slug, catalogue: "technique", does: { stopped_by: slug },
        ...(row.event.stopped_by === slug ? { taken: true } : {}),
    }));
    return [...choices, { digit: "0", label: "back", does: { page: "which" } }];
}

function cautionChoices(row, asks, { edition }) {
    return [
        ...numbered(reasonsOf(edition).slice(0, 6), "reason", "reason", row.event.reason),
        ...pointChoices(row, [0, 1, 2], 7),
    ];
}

function pointChoices(row, values, first_digit) {
    return values.map((points, i) => ({
        digit: String(first_digit + i), label: `points_${points}`, does: { points },
        ...(row.event.points === points ? { taken: true } : {}),
    }));
}

function passivityChoices(row, asks, { edition }) {
    const stages = edition.activity_ms === undefined
        ? ["warning", "penalty"] : ["warning", "activity", "penalty"];
    const choices = stages.map((stage, i) => ({
        digit: String(i + 1), label: `stage.${stage}`, does: { stage },
        ...(row.event.stage === stage ? { taken: true } : {}),
    }));
    if (row.event.stage !== "penalty") return choices;
    return [...choices, ...pointChoices(row, [0, 1], 4),
        { digit: "6", label: "chosen_par_terre", does: { position: "par_terre" } },
        { digit: "7", label: "chosen_standing", does: { position: "standing" } }];
}

function positionChoices(row) {
    const { ordered, chosen_by } = row.event;
    return [
        { digit: "1", label: "ordered", does: { ordered: true }, taken: Boolean(ordered) },
        { digit: "2", label: "chosen_by_red", does: { chosen_by: "red" }, taken: chosen_by === "red" },
        { digit: "3", label: "chosen_by_blue", does: { chosen_by: "blue" }, taken: chosen_by === "blue" },
    ];
}

/** What the whistle asks for: the newest of this spell of wrestling whose detail is missing; an
 *  attack without an outcome before a score without a name.
 *  @returns {{id: string, what: "outcome"|"detail"}|undefined} */
export function missingDetail(rows) {
    const from = rows.findLastIndex(({ event, stands }) =>
        stands && event.type === "clock" && event.do === "start");
    const spell = rows.slice(from + 1).filter(({ stands }) => stands);
    const open = spell.findLast(({ id, event }) => event.type === "attack"
        && event.outcome === "open" && !spell.some((row) => row.event.attack === id));
    if (open) return { id: open.id, what: "outcome" };
    const unnamed = spell.findLast((row) => row.event.type === "score"
        && namedTechniques(row, rows).length === 0);
    return unnamed && { id: unnamed.id, what: "detail" };
}

export const openRows = (rows) => rows.filter(isOpen);
