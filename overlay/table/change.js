/**
 * Changing an event that was keyed: which of its members a form offers, with which values, and the
 * amendment that makes the difference. Only what differs goes out, so that two tables that correct
 * different members of one event don't undo each other. Pure.
 */

import { actionValues, reasonsOf } from "./field.js";
import { namedTechniques, STOPPAGES, UNNAMED } from "./options.js";

/**
 * @typedef {object} Field
 * @property {string} name a member, or `time` for `period` and `t_ms` together
 * @property {"choice"|"flag"|"time"|"text"|"chain"|"score"} kind
 * @property {{value: string, catalogue?: string, label?: string, row?: object}[]} [options]
 * @property {boolean} [optional] "" stands for: not there
 */

const SIDES = ["red", "blue"];
const labelled = (values, prefix) => values.map((value) => ({ value, label: `${prefix}.${value}` }));
const fromCatalogue = (values, catalogue) => values.map((value) => ({ value, catalogue }));
const choice = (name, options, more = {}) => ({ name, kind: "choice", options, ...more });
const optional = { optional: true };

const side = (more) => choice("side", labelled(SIDES, "table.sides"), more);
const time = { name: "time", kind: "time" };
const unconfirmed = { name: "unconfirmed", kind: "flag" };
const points = (values) => choice("points", values.map((value) => ({ value: String(value) })));
const leg = choice("leg", labelled(["lead", "trail"], "table.choice"), optional);

function before(row, { rows }) {
    const others = rows.filter((one) => one.stands && one.id !== row.id
        && (one.event.points ?? 0) > 0);
    return choice("before", others.map((one) => ({ value: one.id, row: one })), optional);
}

function attacks(row, { rows }) {
    const named = rows.filter((one) => one.stands && one.event.type === "attack");
    return choice("attack", named.map((one) => ({ value: one.id, row: one })), optional);
}

const FIELDS = {
    score: (row, context) => [
        side(), choice("action", fromCatalogue([...actionValues(context.edition).keys()], "action")),
        points(context.edition.values),
        choice("technique", fromCatalogue(slugs(context), "technique"), optional), leg,
        attacks(row, context), time, unconfirmed, before(row, context),
    ],
    attack: (row, context) => [
        side(),
        { name: "techniques", kind: "chain", most: 3, options: fromCatalogue(slugs(context), "technique") },
        leg,
        choice("outcome", fromCatalogue(
            ["open", "scored", "stopped", "countered", "out", "stalemate", "slipped"], "outcome")),
        { name: "setup", kind: "chain", most: 2, optional: true,
            options: fromCatalogue(slugs(context, ["tie"]), "technique") },
        choice("stopped_by", fromCatalogue(slugs(context, ["defence"]), "technique"), optional),
        time,
    ],
    caution: (row, context) => [
        side(), choice("reason", fromCatalogue(reasonsOf(context.edition), "reason")),
        points([0, 1, 2]), time, unconfirmed, before(row, context),
    ],
    passivity: (row, context) => [
        side(), choice("stage", labelled(context.edition.activity_ms === undefined
            ? ["warning", "penalty"] : ["warning", "activity", "penalty"], "table.choice.stage")),
        { ...points([0, 1]), optional: true }, time, unconfirmed, before(row, context),
    ],
    challenge: (row, context) => [
        side(), choice("outcome", labelled(["asked", "upheld", "rejected"], "table.form.challenge")),
        { ...points([0, 1]), optional: true }, time, before(row, context),
    ],
    position: () => [
        choice("position", labelled(["standing", "par_terre"], "table.key")),
        choice("top", labelled(SIDES, "table.sides"), optional),
        { name: "ordered", kind: "flag" },
        choice("chosen_by", labelled(SIDES, "table.sides"), optional), time,
    ],
    stoppage: () => [
        choice("kind", fromCatalogue(STOPPAGES, "stoppage")), side(optional), time,
    ],
    note: () => [
        { name: "text", kind: "text" },
        choice("to", labelled(["booth", "public"], "table.form.note")), side(optional),
    ],
    close: (row, context) => [
        choice("how", fromCatalogue(Object.keys(context.edition.endings ?? {}), "how")),
        choice("winner", labelled(SIDES, "table.sides"), optional),
        { name: "score", kind: "score", optional: true },
        { name: "code", kind: "text", optional: true }, time, unconfirmed,
    ],
    clock: ({ event }) => (event.do === "set" ? [time] : []),
};

function slugs({ techniques }, families = ["leg", "upper", "top", "defence"]) {
    return families.flatMap((family) => techniques.filter((one) => one.family === family))
        .map(({ slug }) => slug);
}

/** What can be changed about a row; empty where it can only be taken out and keyed anew.
 *  @returns {Field[]} */
export function fieldsOf(row, context) {
    return FIELDS[row.event.type]?.(row, context) ?? [];
}

/** The row's values as a form shows them: every field a text, a flag or a list of texts.
 *  @returns {Record<string, any>} */
export function valuesOf(row, fields, context) {
    return Object.fromEntries(fields.map((field) => [field.name, valueOf(row, field, context)]));
}

function valueOf(row, { name, kind }, { rows }) {
    const { event } = row;
    if (kind === "time") return { period: row.period, t_ms: row.t_ms };
    if (kind === "flag") return Boolean(event[name]);
    if (name === "techniques") return namedTechniques(row, rows);
    if (kind === "chain") return [...(event[name] ?? [])];
    if (kind === "score") return event.score ? { ...event.score } : undefined;
    return event[name] === undefined ? "" : String(event[name]);
}

/** The amendment from one set of values to another.
 *  @param {object} row
 *  @param {Field[]} fields
 *  @param {Record<string, any>} was as valuesOf gave them
 *  @param {Record<string, any>} wanted the same members
 *  @returns {{set?: object, unset?: string[]}|undefined} undefined: nothing differs */
export function amendmentOf(row, fields, was, wanted) {
    const set = {};
    const unset = [];
    for (const field of fields) {
        const { name } = field;
        if (JSON.stringify(was[name]) === JSON.stringify(wanted[name])) continue;
        const value = memberOf(field, wanted[name]);
        if (field.kind === "time") Object.assign(set, wanted.time);
        else if (value === undefined) unset.push(name);
        else set[name] = value;
    }
    keepStageAndPoints(row.event, set, unset);
    const present = unset.filter((name) => row.event[name] !== undefined);
    if (Object.keys(set).length === 0 && present.length === 0) return undefined;
    return {
        ...(Object.keys(set).length ? { set } : {}), ...(present.length ? { unset: present } : {}),
    };
}

function memberOf({ name, kind }, value) {
    if (kind === "flag") return value ? true : undefined;
    if (name === "techniques") return value.length ? value : [UNNAMED];
    if (kind === "chain") return value.length ? value : undefined;
    if (value === "" || value === undefined) return undefined;
    return name === "points" ? Number(value) : value;
}

/** Points belong to a passivity's penalty and to a rejected challenge, and to no other stage. */
function keepStageAndPoints(event, set, unset) {
    const needs = { passivity: ["stage", "penalty"], challenge: ["outcome", "rejected"] }[event.type];
    if (!needs) return;
    const [member, value] = needs;
    const has = (set[member] ?? event[member]) === value;
    if (has && set.points === undefined && (event.points === undefined || unset.includes("points"))) {
        set.points = 1;
        unset.splice(0, unset.length, ...unset.filter((name) => name !== "points"));
    }
    if (!has) {
        delete set.points;
        if (event.points !== undefined && !unset.includes("points")) unset.push("points");
    }
}

/** The values that an action can have: what a form offers beside it. */
export function pointsOf(edition, action) {
    return actionValues(edition).get(action) ?? edition.values;
}

/** A time left as a person writes it, "1:51" or "51" or "0:09.5".
 *  @param {string} text
 *  @returns {number|undefined} milliseconds; undefined when it isn't one */
export function readTime(text) {
    const match = /^\s*(?:(\d{1,2}):)?(\d{1,2})(?:[.,](\d))?\s*$/.exec(text);
    if (!match) return undefined;
    const [, minutes = "0", seconds, tenths = "0"] = match;
    if (match[1] !== undefined && Number(seconds) > 59) return undefined;
    return (Number(minutes) * 60 + Number(seconds)) * 1000 + Number(tenths) * 100;
}
