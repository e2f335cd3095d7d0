/**
 * What was keyed, in words: the sentence that the strokes build, and every event as a line of the
 * list. Words come from the language's file; here is only which of them, and in what order. Pure.
 */

import { timeLeft } from "../lib/clock.js";
import { otherSide } from "../lib/standing.js";
import { scoreText } from "../lib/sentences.js";
import { spoken } from "../lib/words.js";
import { isOpen } from "./ledger.js";
import { asksLeg, keyedLeg, namedTechniques } from "./options.js";

/** @typedef {(key: string, values?: object) => string} Say with `has` */

const GIVES_TO_OTHER = new Set(["caution", "passivity", "challenge"]);

/** Who has the points of an event, or undefined where it gives none.
 *  @returns {"red"|"blue"|undefined} */
export function receiverOf({ type, side, points = 0 }) {
    if (points <= 0) return undefined;
    if (type === "score") return side;
    return GIVES_TO_OTHER.has(type) ? otherSide(side) : undefined;
}

/** The time left at a row's bout time, or "" where the daemon gives none (the clock's own events, and
 *  what was taken out).
 *  @returns {string} */
export function leftAt({ t_ms }, { details }) {
    return t_ms === undefined ? "" : timeLeft({ left_ms: Math.max(0, details.period_ms - t_ms) });
}

/** @returns {string} the words for a name of a catalogue, or the name made readable */
export function nameOf(catalogue, slug, { techniques = [], say }) {
    const key = `${WORDS_OF[catalogue]}.${slug}`;
    if (say.has(key)) return say(key);
    return techniques.find((technique) => technique.slug === slug)?.label ?? spoken(slug);
}

const WORDS_OF = {
    technique: "technique", action: "table.action", reason: "table.reason",
    outcome: "table.outcome", stoppage: "table.stoppage", how: "table.ending",
};

/** "Takedown" from "takedown". */
export function sentenceCase(text, lang = "en") {
    const [first = "", ...rest] = text;
    return first.toLocaleUpperCase(lang) + rest.join("");
}

const listOf = (parts) => parts.filter(Boolean).join(", ");

/** An event in words, without its side and its points.
 *  @param {object} row of ledger.js
 *  @param {{rows: object[], techniques: object[], view: object, say: Say}} context
 *  @returns {string} in the middle of a sentence: it begins with a small letter unless the words
 *      themselves don't */
export function eventText(row, context) {
    const text = TEXTS[row.event.type];
    return text ? text(row, context) : context.say("table.event.unknown", { type: spoken(row.event.type) });
}

const TEXTS = {
    score: (row, context) => {
        const action = nameOf("action", row.event.action, context);
        const detail = attackDetail(row, context);
        return detail ? `${action}: ${detail}` : action;
    },
    attack: (row, context) => {
        const { say } = context;
        const { outcome, stopped_by } = row.event;
        const scored = outcome === "open" && scoreNaming(row, context.rows) !== undefined;
        return listOf([
            attackDetail(row, context) || say("table.attack"),
            nameOf("outcome", scored ? "scored" : outcome, context),
            stopped_by && say("table.by_defence", { defence: nameOf("technique", stopped_by, context) }),
        ]);
    },
    caution: ({ event }, context) =>
        context.say("table.event.caution", { reason: nameOf("reason", event.reason, context) }),
    passivity: ({ event }, { say }) => say("table.event.passivity", event),
    position: ({ event }, { say }) => listOf([
        event.position === "standing" ? say("table.event.standing") : say("table.event.par_terre", event),
        event.ordered && say("table.event.ordered"),
        event.chosen_by && say("table.event.chosen_by", { side: event.chosen_by }),
    ]),
    challenge: ({ event }, { say }) => say("table.event.challenge", event),
    stoppage: ({ event }, context) => context.say("table.event.stoppage",
        { do: event.do, kind: nameOf("stoppage", event.kind, context) }),
    restart: (row, { say }) => say("table.event.restart"),
    note: ({ event }, { say }) => say("table.event.note", event),
    close: ({ event }, context) => closeText(event, context),
    clock: ({ event, period }, { say, view }) => {
        if (event.do === "start" && event.period > 1) return say("table.event.clock_period", event);
        const left_ms = view.details.period_ms - (event.t_ms ?? 0);
        return say("table.event.clock", { do: event.do, time: timeLeft({ left_ms }), period });
    },
    confirm: (row, { say }) => say("table.event.confirm"),
    void: (row, { say }) => say("table.event.void"),
    amend: (row, { say }) => say("table.event.amend"),
};

function scoreNaming(row, rows) {
    return rows.find(({ event, stands }) =>
        stands && event.type === "score" && event.attack === row.id
            && event.side === row.event.side);
}

function closeText(event, context) {
    const { say } = context;
    const text = say("table.event.close", { winner: event.winner ?? "", how: nameOf("how", event.how, context) });
    return listOf([text, event.score && scoreText(event.score), event.code]);
}

/** "single leg to double leg, trail leg, after underhook": what is known of an attack or a score. */
function attackDetail(row, context) {
    const { say, rows } = context;
    const attack = row.event.type === "attack" ? row
        : rows.find(({ id }) => id === row.event.attack);
    const names = namedTechniques(row, rows).map((slug) => nameOf("technique", slug, context));
    const chain = names.reduce((one, other) =>
        (one ? say("table.chain", { one, other }) : other), "");
    const leg = keyedLeg(row, rows);
    const setups = (attack?.event.setup ?? []).map((slug) => nameOf("technique", slug, context));
    return listOf([
        chain, leg && say("table.leg", { leg }),
        setups.length > 0 && say("table.after_setup", { setup: setups.join(", ") }),
    ]);
}

/** An event as a person says it alone, "Red: takedown 2", "Clock stops"; or inside another sentence,
 *  "red, takedown 2".
 *  @param {boolean} [inside]
 *  @returns {string} */
export function eventSentence(row, context, inside = false) {
    const { say } = context;
    const { side, points } = row.event;
    const text = eventText(row, context);
    const receiver = receiverOf(row.event);
    const whole = row.event.type === "score" ? scoreSentence(row, context)
        : receiver ? listOf([text, say("table.given", { side: receiver, points })]) : text;
    if (!side || !SAYS_SIDE.has(row.event.type)) return sentenceCase(whole, say.lang);
    return say(inside ? "table.read.inside" : "table.read.of_side", { side, what: whole });
}

const SAYS_SIDE = new Set(["score", "attack", "caution", "passivity", "challenge", "stoppage", "note"]);

/** The value stands right after the action: it is what the eye looks for. */
function scoreSentence(row, context) {
    const action = nameOf("action", row.event.action, context);
    return listOf([`${action} ${row.event.points}`, attackDetail(row, context)]);
}

/**
 * @typedef {object} Readback
 * @property {"red"|"blue"} [side] whose sign stands before it
 * @property {string} sentence
 * @property {boolean} building the sentence isn't finished
 * @property {boolean} open what it says isn't confirmed
 * @property {string[]} notes what it makes, where it stands
 * @property {string} asks what is asked next, or ""
 * @property {string[]} warnings
 */

/** @param {import("./strokes.js").Strokes} state
 *  @param {object} context that of strokes.js, with `say`
 *  @returns {Readback} */
export function readback(state, context) {
    const { say } = context;
    const late = state.late ? say("table.read.late", {
        period: state.late.period,
        time: timeLeft({ left_ms: context.view.details.period_ms - state.late.t_ms }),
    }) : "";
    const said = building(state, context) ?? finished(state, context);
    return {
        ...said, sentence: late + said.sentence,
        warnings: state.warnings.map(({ warning, values }) => say(`table.warning.${warning}`,
            withNames(values, context))),
    };
}

function withNames(values = {}, context) {
    if (!values.technique) return values;
    const name = nameOf("technique", values.technique, context);
    return { ...values, technique: sentenceCase(name, context.say.lang) };
}

const QUESTIONS = new Set(["short_activity", "why", "stoppage", "more", "restart"]);

function building(state, context) {
    const { say } = context;
    const base = { building: true, open: false, notes: [], side: state.side };
    if (state.action) {
        const action = say(`table.key.${labelOf(state.action)}`);
        return { ...base, sentence: say("table.read.building_action", { action }),
            asks: say("table.asks.side") };
    }
    if (state.asks && QUESTIONS.has(state.asks.what)) return question(state, context, base);
    if (state.late && !state.side) return { ...base, sentence: "…", asks: say("table.asks.side_action") };
    if (!state.side || (state.held && state.used)) return undefined;
    return { ...base, sentence: say("table.read.building_side", { side: state.side }),
        asks: say("table.asks.action") };
}

function question(state, context, base) {
    const { say, rows } = context;
    const { what } = state.asks;
    const row = rows.find(({ id }) => id === state.about);
    const event = row ? eventSentence(row, context, true) : "";
    const notes = what === "restart" ? [say("table.note.restart_what")] : [];
    return {
        ...base, notes, side: what === "why" ? row?.event.side : state.side,
        sentence: say("table.read.question", { what, side: state.side, event }),
        asks: say(`table.asks.${what}`),
    };
}

/** The word of a key, below `table.key`. */
export function labelOf(key) {
    if (key.kind === "side") return `side_${key.side}`;
    return key.action ?? key.outcome ?? key.position ?? key.reason ?? key.kind;
}

function finished(state, context) {
    const { said } = state;
    if (!said) return ready(context);
    const row = context.rows.find(({ id }) => id === said.id);
    const tell = SAID[said.what] ?? SAID.plain;
    return { building: false, open: false, notes: [], asks: "", ...tell(state, context, row) };
}

function ready({ say, view }) {
    return {
        building: false, open: false, asks: "", notes: [say("table.read.ready_how")],
        sentence: say(view.phase === "called" ? "table.read.called" : "table.read.ready"),
    };
}

const SAID = {
    keyed: keyedRow,
    sent: keyedRow,
    restart: (state, { say }) => ({ sentence: say("table.read.restart"),
        notes: [say("table.note.restart_what")] }),
    undone: (state, context, row) => {
        const { say } = context;
        const what = row ? eventSentence(row, context, true) : "";
        const more = (state.said.ids?.length ?? 1) - 1;
        return {
            side: row?.event.side, sentence: say("table.read.undone", { what }),
            notes: more > 0 ? [say("table.read.undone_count", { count: more })] : [],
        };
    },
    restored: (state, context, row) => ({
        side: row?.event.side,
        sentence: context.say("table.read.restored", { what: row ? eventSentence(row, context, true) : "" }),
    }),
    whistle: (state, context) => {
        const { say, rows } = context;
        const { confirmed, left_ms } = state.said;
        const row = rows.find(({ id }) => id === confirmed.at(-1));
        return {
            sentence: say("table.read.whistle", { time: timeLeft({ left_ms }) }),
            notes: confirmed.length ? [say("table.read.whistle_confirmed",
                { count: confirmed.length, what: row ? eventSentence(row, context, true) : "" })] : [],
            asks: asksText(state, context),
            about: state.about,
        };
    },
    confirmed: (state, context) => {
        const { say, rows } = context;
        const { confirmed } = state.said;
        const row = rows.find(({ id }) => id === confirmed.at(-1));
        return {
            side: confirmed.length === 1 ? row?.event.side : undefined,
            sentence: say("table.read.confirmed",
                { count: confirmed.length, what: row ? eventSentence(row, context, true) : "" }),
            asks: asksText(state, context),
        };
    },
    time_is_up: (state, { say }) => ({ sentence: say("table.read.time_is_up"),
        notes: [say("table.read.time_is_up_how")] }),
    plain: (state, { say }) => {
        const { what, left_ms = 0 } = state.said;
        return { sentence: say(`table.read.${what}`, { ...state.said, time: timeLeft({ left_ms }) }) };
    },
};

function keyedRow(state, context, row) {
    if (!row) return ready(context);
    return {
        side: row.event.side ?? row.event.top, sentence: eventSentence(row, context),
        open: isOpen(row), notes: notesOf(row, context), asks: asksText(state, context),
    };
}

function notesOf(row, context) {
    const { say, view } = context;
    return [
        standsText(row, say),
        row.event.type !== "clock" && row.t_ms !== undefined
            && say("table.note.time", { period: row.period, time: leftAt(row, view) }),
        attackNote(row, context),
        ...makesNotes(row, context),
    ].filter(Boolean);
}

function standsText(row, say) {
    if (!row.stands) return say("table.note.out");
    if (row.waits) return say("table.note.waits");
    if (isOpen(row)) return say("table.note.not_confirmed");
    return row.event.unconfirmed ? say("table.note.confirmed") : undefined;
}

function attackNote(row, context) {
    const { say, rows, view } = context;
    if (row.event.type !== "score" || !row.event.attack) return undefined;
    const attack = rows.find(({ id }) => id === row.event.attack);
    if (!attack) return undefined;
    const turnBefore = rows.some((one) => one.stands && one.id !== row.id
        && one.event.type === "score" && one.event.attack === attack.id);
    if (turnBefore) return say("table.note.joins");
    const time = leftAt(attack, view);
    if (attack.event.side !== row.event.side) return say("table.note.counters", { time });
    return attack.t_ms === row.t_ms ? undefined : say("table.note.finishes", { time });
}

/** What the event makes of the score: as the daemon says it, or, while the event is still on its
 *  way, as the daemon's outlook said before it. With two on their way nobody knows yet: blank. */
function makesNotes(row, { say, view, rows }) {
    const receiver = receiverOf(row.event);
    if (!receiver || !row.stands) return [];
    if (row.seq !== undefined) {
        return [say("table.note.makes", { score: scoreText(view.score) }),
            view.due && say("table.note.ends", { due: view.due })];
    }
    const onTheirWay = rows.filter(({ seq, event }) => seq === undefined && receiverOf(event));
    const cell = view.outlook?.[receiver]?.[String(row.event.points)];
    if (!cell || onTheirWay.length > 1) return [];
    return [say("table.note.makes", { score: scoreText(cell) }),
        cell.due && say("table.note.ends", { due: cell.due })];
}

/** What a digit would answer now. */
function asksText(state, context) {
    const { asks } = state;
    const { say, rows } = context;
    if (!asks) return "";
    const row = rows.find(({ id }) => id === state.about);
    if (!row) return "";
    if (asks.what === "challenge") return say("table.asks.challenge");
    if (asks.what === "outcome") return say("table.asks.outcome");
    const { type } = row.event;
    if (type === "score" || type === "attack") return techniqueAsk(row, asks, context);
    const key = { caution: "reason", passivity: "stage", challenge: "challenge", position: "position" }[type];
    return key && (type !== "challenge" || row.event.outcome === "asked") ? say(`table.asks.${key}`) : "";
}

function techniqueAsk(row, asks, context) {
    const { say, rows } = context;
    if (asks.page === "setup" || asks.page === "stopped_by") return say(`table.asks.${asks.page}`);
    const legMissing = asksLeg(row, context) && !keyedLeg(row, rows);
    if (namedTechniques(row, rows).length === 0) return say(legMissing ? "table.asks.which_leg" : "table.asks.which");
    return say(legMissing ? "table.asks.leg" : "table.asks.changed");
}

/** The row as the list shows it.
 *  @returns {{when: string, side?: string, text: string, points?: number,
 *   receiver?: string, was?: number, states: string[], stands: boolean, open: boolean,
 *   thin: boolean}} `thin`: said quietly */
export function listLine(row, context) {
    const { say, view } = context;
    const { event } = row;
    const receiver = receiverOf(event);
    const corrected = row.was !== undefined && row.was !== event.points;
    return {
        when: row.t_ms === undefined ? "" : `${row.period} · ${leftAt(row, view)}`,
        side: event.side ?? event.top,
        text: sentenceCase(eventText(row, context), say.lang),
        ...(receiver ? { points: event.points, receiver } : {}),
        ...(corrected ? { was: row.was } : {}),
        states: [
            !row.stands && say("table.state.out"),
            row.waits && say("table.state.waits"),
            isOpen(row) && say("table.state.not_confirmed"),
        ].filter(Boolean),
        stands: row.stands, open: isOpen(row), thin: isThin(row, context.rows),
    };
}

/** The clock, and an attack whose score says it already. */
function isThin(row, rows) {
    return row.event.type === "clock" || (row.event.type === "attack" && scoreNaming(row, rows) !== undefined);
}
