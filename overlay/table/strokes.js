/**
 * The keying grammar: what a stroke means, given the strokes before it and what stands.
 *
 *     const { state, events, effects } = stroke(state, input, context);
 *
 * Normal course: the index finger's key chooses the side, held or struck first, and the next key is
 * the action; the event goes out at once. The action may also come first: then it waits for a side.
 * A digit then answers what the detail row asks (which technique, which leg), as an amendment of
 * the same event. The same key again within seconds goes on to its next value (a throw of 4 becomes
 * one of 5). The whistle stops the clock, confirms what stands and asks for what is missing.
 *
 * A stroke never fails: one that means nothing here changes nothing. Nothing is forbidden because
 * of what the bout is at; the daemon alone refuses. One stroke may send several events, and undo
 * takes them back together.
 *
 * Pure: the time, the ids and all that stands are arguments.
 */

import { otherSide } from "../lib/standing.js";
import { choicesOf, hasDetail, missingDetail, namedTechniques, openRows, UNNAMED }
    from "./options.js";
import { lastStanding, lastVoid, listed, openAttack, spellOf, turnsBefore, voidOf }
    from "./ledger.js";
import { activityTooShort, cautionPoints, challengePoints, nextStage, passivityPoints,
    proposePassivity, warningsOf } from "./proposals.js";

/**
 * @typedef {object} Context
 * @property {object} view the bout, with the page's own clock strokes on top (ledger.withOwnClock)
 * @property {object} edition
 * @property {import("./ledger.js").Row[]} rows oldest first
 * @property {object[]} techniques the catalogue, as far as the style allows it
 * @property {{at_ms: number, keyed_at?: string, period: number, t_ms: number, left_ms: number,
 *   running: boolean, activity?: {side: string, left_ms: number},
 *   forced_call_left_ms?: number}} now
 * @property {() => string} newId
 */

/**
 * @typedef {object} Strokes what was struck so far
 * @property {"red"|"blue"} [side] chosen, and not yet used up
 * @property {boolean} [held] its key is down
 * @property {boolean} [used] an action came while it was down
 * @property {import("./field.js").Key} [action] waits for a side
 * @property {string} [about] the event that the detail row is about
 * @property {{what: string}} [asks] what a digit answers now
 * @property {string} [chosen] the row chosen in the list
 * @property {{period: number, t_ms: number, before?: string}} [late] where the next event goes
 * @property {{code: string, side: string, id: string, at_ms: number}} [last] for the same key again
 * @property {{what: string}} [said] what the read-back says when nothing is being built
 * @property {object[]} warnings
 * @property {string[][]} groups ids that one stroke sent, for undo
 */

/** @type {Strokes} */
export const NOTHING = Object.freeze({ warnings: [], groups: [] });

const AGAIN_MS = 4000;
const AGAIN_HELD_MS = 1500; // with the side still held, a second throw is unlikely but no slip
const GROUPS_KEPT = 200;
const SETUPS_MAX = 4;
const TECHNIQUES_MAX = 8;

/** @returns {{state: Strokes, events: object[], effects: object[]}} */
export function stroke(state, input, context) {
    const act = INPUTS[input.do];
    if (!act) return nothing(state);
    const result = act(state, input, context);
    const { events } = result;
    if (events.length === 0 || events[0].type === "void") return result;
    const groups = [...state.groups, events.map(({ id }) => id)].slice(-GROUPS_KEPT);
    return { ...result, state: { ...result.state, groups } };
}

const INPUTS = {
    side: chooseSide,
    release: releaseSide,
    action: strikeAction,
    choice: answer,
    whistle,
    horn: (state, input, context) => clockStroke(state, context, { do: "end" }, "horn"),
    period: nextPeriod,
    nudge,
    set_clock: (state, { period, t_ms }, context) =>
        clockStroke(state, context, { do: "set", period, t_ms }, "clock_set"),
    confirm,
    undo,
    redo,
    take_out: takeOut,
    escape: giveUp,
    move,
    select: (state, { id }, context) => select(state, id, context),
    late: (state, { period, t_ms, before }, context) => ({
        ...nothing({ ...cleared(state), late: lateOf({ period, t_ms, before }, context) }),
    }),
    open: openForm,
    restart: (state, { reason }, context) => restart(state, context, reason),
    event: (state, { event }, context) => keyed(cleared(state), context, [event], "sent"),
};

function openForm(state, { what }) {
    const id = state.chosen ?? (what === "change" ? state.about : undefined);
    if (what === "change" && !id) return nothing({ ...state, said: { what: "choose_first" } });
    return effect(state, { open: what, ...(id ? { id } : {}) });
}

const nothing = (state) => ({ state, events: [], effects: [] });
const effect = (state, one) => ({ state, events: [], effects: [one] });

/** What a finished stroke leaves behind: no side (unless its key is still down), no waiting
 *  action, no question. */
function cleared(state) {
    const { held, side, groups, last } = state;
    return { groups, warnings: [], last, ...(held ? { held, side, used: true } : {}) };
}

/* ---- sides and actions ---- */

function chooseSide(state, { side, held = false }, context) {
    const chosen = { ...state, side, held, used: false };
    if (!state.action) return nothing({ ...chosen, said: undefined, warnings: [] });
    const { action, ...rest } = chosen;
    return perform({ ...rest, used: true }, action, context);
}

function releaseSide(state, { side }) {
    if (state.side !== side || !state.held) return nothing(state);
    const { held, used, ...rest } = state;
    if (!used) return nothing(rest);
    const { side: spent, ...free } = rest;
    return nothing(free);
}

const NEEDS_SIDE = new Set(["score", "attack", "caution", "passivity", "challenge"]);

const needsSide = (key) => NEEDS_SIDE.has(key.kind) || key.position === "par_terre";

function strikeAction(state, { key }, context) {
    if (key.kind === "side") return chooseSide(state, { side: key.side }, context);
    const again = strikeAgain(state, key, context);
    if (again) return again;
    if (!needsSide(key)) return perform(state, key, context);
    if (!state.side) {
        const ended = endAttack(state, key, context);
        if (ended) return ended;
        return nothing({ ...state, action: key, said: undefined, warnings: [] });
    }
    return perform(state, key, context);
}

/** An outcome's key without a side ends the attack that is asked about. */
function endAttack(state, key, context) {
    if (key.kind !== "attack" || !state.asks) return undefined;
    const row = context.rows.find(({ id }) => id === state.about);
    if (row?.event.type !== "attack" || row.event.outcome === key.outcome) return undefined;
    return amendRow(state, context, row, { outcome: key.outcome });
}

/** The same key again: the next value of a score, the next stage of a passivity. */
function strikeAgain(state, key, context) {
    const { last } = state;
    if (!last || last.code !== key.code) return undefined;
    const since_ms = context.now.at_ms - last.at_ms;
    const limit_ms = state.side ? AGAIN_HELD_MS : AGAIN_MS;
    if (since_ms > limit_ms || (state.side && (state.side !== last.side || !state.held))) {
        return undefined;
    }
    const row = context.rows.find(({ id, stands }) => stands && id === last.id);
    if (!row) return undefined;
    const result = nextOf(state, key, row, context);
    if (!result) return undefined;
    return { ...result, state: { ...result.state, last: { ...last, at_ms: context.now.at_ms } } };
}

function nextOf(state, key, row, context) {
    if (key.kind === "score" && key.values.length > 1) {
        const next = key.values[(key.values.indexOf(row.event.points) + 1) % key.values.length];
        return amendRow(state, context, row, { points: next });
    }
    if (key.kind === "passivity") {
        return amendStage(state, context, row, nextStage(row.event.stage, context.edition));
    }
    return undefined;
}

/** Whether an event is keyed now or late, what it finishes, costs and deserves a warning for is
 *  looked up at its own bout time. */
function perform(state, key, context) {
    const { late } = state;
    if (!late) return PERFORM[key.kind](state, key, context);
    const left_ms = context.view.details.period_ms - late.t_ms;
    const now = { ...context.now, period: late.period, t_ms: late.t_ms, left_ms };
    return PERFORM[key.kind](state, key, { ...context, now });
}

const PERFORM = {
    score,
    attack,
    caution: (state, key, context) => caution(state, key, context, key.reason),
    passivity,
    challenge,
    position,
    stoppage,
    note: (state) => effect(cleared(state), { open: "note", side: state.side }),
    result: (state) => effect(cleared(state), { open: "result" }),
    more: (state) => nothing({ ...cleared(state), asks: { what: "more" } }),
};

function score(state, key, context) {
    const { side } = state;
    const event = { type: "score", side, points: key.values[0], action: key.action,
        unconfirmed: true };
    const { attack: named, before } = state.late ? { before: [] } : finishedAttack(event, context);
    const scored = fresh(state, context, named ? { ...event, attack: named } : event);
    return keyed(after(state, key, scored, context), context, [...before, scored], "keyed", scored);
}

/** The attack that a score finishes, and the events that must go out before it for it to be named:
 *  the side's own open attack; for a turn, the attack of the turns before it, which is made now
 *  where they have a technique and no attack yet; for a counter, the other side's open attack. */
function finishedAttack(event, context) {
    const { rows, now } = context;
    const own = openAttack(rows, event.side, now);
    if (own) return { attack: own.id, before: [] };
    if (event.action === "counter_exposure") {
        return { attack: openAttack(rows, otherSide(event.side), now)?.id, before: [] };
    }
    if (event.action !== "exposure") return { before: [] };
    const turns = turnsBefore(rows, event.side, now);
    const named = turns.findLast((row) => row.event.attack);
    if (named) return { attack: named.event.attack, before: [] };
    const known = turns.find((row) => row.event.technique);
    return known ? joinTurns(context, turns, [known.event.technique]) : { before: [] };
}

/** One attack for turns that followed one another: the attack, and each turn naming it. */
function joinTurns(context, turns, techniques, more = {}) {
    const made = attackFor(context, turns[0], techniques, more);
    const amends = turns.map((row) =>
        complete(context, { type: "amend", ref: row.id, set: { attack: made.id } }));
    return { attack: made.id, before: [made, ...amends] };
}

/** An attack keyed after the score that it led to, at that score's bout time. `open`: the score that
 *  names it makes it scored, so that taking the score out takes both back. */
function attackFor(context, row, techniques, more = {}) {
    const { leg } = row.event;
    return complete(context, {
        type: "attack", side: row.event.side, techniques, ...(leg ? { leg } : {}), ...more,
        outcome: "open", period: row.period, t_ms: Math.round(row.t_ms),
    });
}

function attack(state, key, context) {
    const open = state.late ? undefined : openAttack(context.rows, state.side, context.now);
    if (open && key.outcome !== "open") {
        return amendRow(cleared(state), context, open, { outcome: key.outcome });
    }
    const event = fresh(state, context, {
        type: "attack", side: state.side, techniques: [UNNAMED], outcome: key.outcome,
    });
    return keyed(after(state, key, event, context), context, [event], "keyed", event);
}

function caution(state, key, context, reason) {
    const points = cautionPoints(context.edition, reason);
    const event = fresh(state, context, {
        type: "caution", side: state.side, reason, points, unconfirmed: true,
    });
    return keyed(after(state, key, event, context), context, [event], "keyed", event);
}

/** Where an activity time would not fit, the table asks before anything is public. */
function passivity(state, key, context) {
    const { view, edition, now } = context;
    const proposal = proposePassivity(view, edition, state.side, now);
    if (proposal.stage === "activity" && !state.late && activityTooShort(edition, now.left_ms)) {
        return nothing({
            ...cleared(state), side: state.side, asks: { what: "short_activity", key },
            warnings: warningsOf({ type: "passivity", side: state.side, ...proposal }, context),
        });
    }
    return givePassivity(state, key, context, proposal);
}

function givePassivity(state, key, context, { stage, points }) {
    const event = fresh(state, context, {
        type: "passivity", side: state.side, stage, unconfirmed: true,
        ...(stage === "penalty" ? { points } : {}),
    });
    return keyed(after(state, key, event, context), context, [event], "keyed", event);
}

function challenge(state, key, context) {
    const { rows } = context;
    const open = openChallenge(rows, state.side);
    if (open) {
        return nothing({ ...cleared(state), asks: { what: "challenge" }, about: open.id,
            said: { what: "keyed", id: open.id } });
    }
    const of = state.chosen ? { of: state.chosen } : {};
    const event = fresh(state, context, {
        type: "challenge", side: state.side, outcome: "asked", ...of,
    });
    return keyed(after(state, key, event, context), context, [event], "keyed", event);
}

function openChallenge(rows, side) {
    const last = rows.findLast(({ event, stands }) =>
        stands && event.type === "challenge" && event.side === side);
    return last?.event.outcome === "asked" ? last : undefined;
}

function decideChallenge(state, context, outcome) {
    const asked = context.rows.find(({ id }) => id === state.about);
    if (!asked) return nothing(state);
    const { side, of } = asked.event;
    const event = fresh(state, context, {
        type: "challenge", side, outcome, ...(of ? { of } : {}),
        ...(outcome === "rejected" ? { points: challengePoints(context.edition) } : {}),
    });
    return keyed(cleared(state), context, [event], "keyed", event);
}

function position(state, key, context) {
    const top = key.position === "par_terre" ? { top: state.side } : {};
    const event = fresh(state, context, { type: "position", position: key.position, ...top });
    return keyed(after(state, key, event, context), context, [event], "keyed", event);
}

function stoppage(state, key, context) {
    const open = context.view.stoppage ?? openStoppage(context.rows);
    if (!open) return nothing({ ...cleared(state), side: state.side, asks: { what: "stoppage" } });
    const event = fresh(state, context, {
        type: "stoppage", kind: open.kind, do: "stop", ...(open.side ? { side: open.side } : {}),
    });
    return keyed(cleared(state), context, [event], "keyed", event);
}

function openStoppage(rows) {
    const last = rows.findLast(({ event, stands }) => stands && event.type === "stoppage");
    return last?.event.do === "start" ? last.event : undefined;
}

function startStoppage(state, context, kind) {
    const event = fresh(state, context, {
        type: "stoppage", kind, do: "start", ...(state.side ? { side: state.side } : {}),
    });
    return keyed(cleared(state), context, [event], "keyed", event);
}

/** The state after an action: the side is used up, and the detail row is about this event. */
function after(state, key, event, context) {
    const { side } = state;
    return {
        ...cleared(state), about: event.id, asks: { what: "detail", page: "which", offset: 0 },
        last: { code: key.code, side, id: event.id, at_ms: context.now.at_ms },
    };
}

/* ---- what goes out ---- */

/** An event as it is sent: an id, the bout, the moment of the key. */
function complete(context, event) {
    const { now, view } = context;
    return {
        id: context.newId(), ...event, bout: view.bout,
        ...(now.keyed_at ? { keyed_at: now.keyed_at } : {}),
    };
}

const HAS_ORDER = new Set(["score", "caution", "passivity", "challenge"]);

/** The same, at the bout time that was set for it where it is keyed late. */
function fresh(state, context, event) {
    const { late } = state;
    if (!late) return complete(context, event);
    const before = HAS_ORDER.has(event.type) && late.before ? { before: late.before } : {};
    return complete(context, { ...event, period: late.period, t_ms: late.t_ms, ...before });
}

/** A late event's place in the order of points is before the first entry that happened after it. */
function lateOf({ period, t_ms, before }, { rows }) {
    const later = (row) => row.period > period || (row.period === period && row.t_ms > t_ms);
    const next = before
        ?? rows.find((row) => row.stands && (row.event.points ?? 0) > 0 && later(row))?.id;
    return { period, t_ms, ...(next ? { before: next } : {}) };
}

/** @param {object} [event] the one that warnings are about */
function keyed(state, context, events, what, event) {
    const about = event ?? events.at(-1);
    const warnings = event ? warningsOf(event, context) : [];
    return { state: { ...state, warnings, said: { what, id: about.id } }, events, effects: [] };
}

function amendRow(state, context, row, set, unset) {
    const event = complete(context, {
        type: "amend", ref: row.id, ...(Object.keys(set).length ? { set } : {}),
        ...(unset?.length ? { unset } : {}),
    });
    return amended(state, context, row, [event], set, unset);
}

function amended(state, context, row, events, set = {}, unset = []) {
    const changed = { ...row.event, ...set };
    for (const name of unset) delete changed[name];
    const asks = state.asks ?? { what: "detail", page: "which", offset: 0 };
    const warnings = warningsOf(changed, { ...context, now: { ...context.now, period: row.period,
        t_ms: row.t_ms } });
    return {
        state: { ...state, action: undefined, about: row.id, asks: { ...asks, what: "detail" },
            warnings, said: { what: "keyed", id: row.id } },
        events, effects: [],
    };
}

/* ---- the detail row ---- */

function answer(state, { digit }, context) {
    const choice = choicesOf(state, context).find((one) => one.digit === digit);
    if (!choice) return nothing(state);
    const [what] = Object.keys(choice.does);
    return ANSWERS[what](state, choice.does[what], context);
}

const rowAbout = (state, { rows }) => rows.find(({ id }) => id === state.about);

const ANSWERS = {
    technique: chooseTechnique,
    leg: chooseLeg,
    setup: chooseSetup,
    stopped_by: (state, slug, context) =>
        amendRow(state, context, rowAbout(state, context), { stopped_by: slug }),
    outcome: (state, outcome, context) =>
        amendRow(state, context, rowAbout(state, context), { outcome }),
    answers: (state, id, context) =>
        amendRow(state, context, rowAbout(state, context), { attack: id }),
    page: (state, page) => nothing({ ...state, asks: { ...state.asks, page, offset: 0 } }),
    offset: (state, offset) => nothing({ ...state, asks: { ...state.asks, offset } }),
    reason: (state, reason, context) => amendRow(state, context, rowAbout(state, context),
        { reason, points: cautionPoints(context.edition, reason) }),
    points: (state, points, context) =>
        amendRow(state, context, rowAbout(state, context), { points }),
    stage: (state, stage, context) =>
        amendStage(state, context, rowAbout(state, context), stage),
    ordered: (state, ordered, context) =>
        amendRow(state, context, rowAbout(state, context), { ordered }),
    chosen_by: (state, chosen_by, context) =>
        amendRow(state, context, rowAbout(state, context), { chosen_by }),
    position: restartPosition,
    challenge: (state, outcome, context) => decideChallenge(state, context, outcome),
    stoppage: (state, kind, context) => startStoppage(state, context, kind),
    why: (state, why, context) => takeOutBecause(state, context, why),
    caution_instead: (state, yes, context) =>
        caution(state, state.asks.key, context, "fleeing_hold"),
    activity_anyway: (state, yes, context) =>
        givePassivity(state, state.asks.key, context, { stage: "activity" }),
    open: (state, what) => effect(cleared(state), { open: what, id: state.chosen }),
    period: (state, yes, context) => nextPeriod(state, {}, context),
    ask: (state, what) => nothing({ ...cleared(state), asks: { what } }),
    restart: (state, yes, context) => restart(state, context),
    off: (state) => effect(cleared(state), { off: true }),
    redo: (state, yes, context) => redo(state, {}, context),
};

/** The first technique is the one that was tried, the next ones what it was changed to. For a score
 *  the second one needs an attack to stand in; so do turns that followed one another. */
function chooseTechnique(state, slug, context) {
    const row = rowAbout(state, context);
    const attackRow = attackOf(row, context.rows);
    if (attackRow) return lengthenAttack(state, context, row, attackRow, slug);
    const turns = row.event.action === "exposure" ? spellOf(context.rows, row) : [row];
    const { technique } = row.event;
    const chain = technique && technique !== slug ? [technique, slug] : [slug];
    if (turns.length === 1 && chain.length === 1) {
        return amendRow(state, context, row, { technique: slug });
    }
    const joined = joinTurns(context, turns.filter(({ event }) => !event.attack), chain);
    return amended(state, context, row, joined.before, { attack: joined.attack });
}

function attackOf(row, rows) {
    return row.event.type === "attack" ? row : rows.find(({ id }) => id === row.event.attack);
}

function lengthenAttack(state, context, row, attackRow, slug) {
    const named = namedTechniques(attackRow, context.rows);
    if (named.at(-1) === slug || named.length === TECHNIQUES_MAX) return nothing(state);
    const event = complete(context, {
        type: "amend", ref: attackRow.id, set: { techniques: [...named, slug] },
    });
    return amended(state, context, row, [event], row === attackRow ? event.set : {});
}

function chooseLeg(state, leg, context) {
    const row = rowAbout(state, context);
    const attackRow = attackOf(row, context.rows);
    const target = attackRow ?? row;
    if (target.event.leg === leg) return nothing(state);
    const event = complete(context, { type: "amend", ref: target.id, set: { leg } });
    return amended(state, context, row, [event], row === target ? { leg } : {});
}

/** A set-up stands in an attack; a score without one gets one. Struck again, it goes away. */
function chooseSetup(state, slug, context) {
    const row = rowAbout(state, context);
    const attackRow = attackOf(row, context.rows);
    if (!attackRow) {
        const techniques = [row.event.technique ?? UNNAMED];
        const turns = row.event.action === "exposure" ? spellOf(context.rows, row) : [row];
        const joined = joinTurns(context, turns, techniques, { setup: [slug] });
        return amended(state, context, row, joined.before, { attack: joined.attack });
    }
    const keyedSetups = attackRow.event.setup ?? [];
    const setup = keyedSetups.includes(slug)
        ? keyedSetups.filter((name) => name !== slug) : [...keyedSetups, slug];
    if (setup.length > SETUPS_MAX) return nothing(state);
    const change = setup.length ? { set: { setup } } : { unset: ["setup"] };
    const event = complete(context, { type: "amend", ref: attackRow.id, ...change });
    return amended(state, context, row, [event]);
}

/** A stage has points exactly where it is a penalty. */
function amendStage(state, context, row, stage) {
    if (row.event.stage === stage) return nothing(state);
    if (stage !== "penalty") return amendRow(state, context, row, { stage },
        row.event.points === undefined ? [] : ["points"]);
    const { red, blue } = context.view.passivity ?? {};
    const given = (red?.penalty ?? 0) + (blue?.penalty ?? 0);
    return amendRow(state, context, row, { stage, points: passivityPoints(context.edition, given) });
}

/** Who was not passive chooses how they go on. */
function restartPosition(state, where, context) {
    const passive = rowAbout(state, context).event.side;
    const active = otherSide(passive);
    const event = complete(context, {
        type: "position", position: where, ...(where === "par_terre" ? { top: active } : {}),
        ordered: true, chosen_by: active,
    });
    return keyed(cleared(state), context, [event], "keyed", event);
}

/* ---- the clock ---- */

function whistle(state, input, context) {
    const { now, rows, view } = context;
    if (!now.running) return startClock(state, context);
    const events = [complete(context, { type: "clock", do: "stop" })];
    const open = openRows(rows);
    if (open.length) events.push(complete(context, { type: "confirm" }));
    const missing = missingDetail(rows);
    return {
        state: {
            ...cleared(state), ...(missing ? {
                about: missing.id, asks: { what: missing.what, page: "which", offset: 0 },
            } : {}),
            said: { what: "whistle", left_ms: now.left_ms, period: now.period,
                confirmed: open.map(({ id }) => id), bout: view.bout },
        },
        events, effects: [],
    };
}

/** A period that is used up makes it the start of the next one. A stoppage that is still open ends
 *  with it: they wrestle again. */
function startClock(state, context) {
    const { now, view } = context;
    const { periods } = view.details;
    if (now.left_ms === 0 && now.period >= periods) {
        return nothing({ ...cleared(state), said: { what: "time_is_up" } });
    }
    if (now.left_ms === 0) return nextPeriod(state, {}, context);
    const open = view.stoppage ?? openStoppage(context.rows);
    const before = open ? [complete(context, { type: "stoppage", kind: open.kind, do: "stop",
        ...(open.side ? { side: open.side } : {}) })] : [];
    const start = complete(context, { type: "clock", do: "start" });
    return {
        state: { ...cleared(state), said: { what: "started", left_ms: now.left_ms,
            period: now.period } },
        events: [...before, start], effects: [],
    };
}

function nextPeriod(state, input, context) {
    const period = context.now.period + 1;
    if (period > context.view.details.periods) {
        return nothing({ ...cleared(state), said: { what: "no_period" } });
    }
    return clockStroke(state, context, { do: "start", period }, "period", { period });
}

function nudge(state, { by_ms }, context) {
    const { now, view } = context;
    const t_ms = Math.min(view.details.period_ms, Math.max(0, Math.round(now.t_ms) + by_ms));
    return clockStroke(state, context, { do: "set", period: now.period, t_ms }, "clock_set");
}

function clockStroke(state, context, event, what, values = {}) {
    const { period_ms } = context.view.details;
    const sent = complete(context, { type: "clock", ...event });
    const left_ms = event.t_ms === undefined ? context.now.left_ms : period_ms - event.t_ms;
    return {
        state: { ...cleared(state), about: state.about, asks: state.asks,
            said: { what, left_ms, period: event.period ?? context.now.period, ...values } },
        events: [sent], effects: [],
    };
}

/* ---- confirming and taking back ---- */

function confirm(state, input, context) {
    const open = openRows(context.rows);
    const one = open.find(({ id }) => id === state.chosen);
    if (open.length === 0) return nothing({ ...state, said: { what: "nothing_open" } });
    const event = complete(context, { type: "confirm", ...(one ? { ref: one.id } : {}) });
    const confirmed = (one ? [one] : open).map(({ id }) => id);
    return { state: { ...state, action: undefined, said: { what: "confirmed", confirmed },
        warnings: [] }, events: [event], effects: [] };
}

function undo(state, input, context) {
    const { rows } = context;
    const last = lastStanding(rows);
    if (!last) return nothing({ ...cleared(state), said: { what: "nothing_to_undo" } });
    const group = state.groups.find((ids) => ids.includes(last.id)) ?? [last.id];
    const standing = rows.filter(({ id, stands }) => stands && group.includes(id));
    const events = standing.reverse().map(({ id }) =>
        complete(context, { type: "void", ref: id }));
    return { state: { ...cleared(state), last: undefined,
        said: { what: "undone", id: standing.at(-1).id, ids: standing.map(({ id }) => id) } },
    events, effects: [] };
}

/** Brings back what the last void took out: a whole stroke's events, as undo took them. */
function redo(state, input, context) {
    const { rows } = context;
    const last = lastVoid(rows);
    if (!last) return nothing({ ...cleared(state), said: { what: "nothing_to_redo" } });
    const group = state.groups.find((ids) => ids.includes(last.event.ref)) ?? [last.event.ref];
    const voids = rows.filter(({ event, stands }) =>
        stands && event.type === "void" && group.includes(event.ref));
    const events = voids.reverse().map(({ id }) => complete(context, { type: "void", ref: id }));
    return { state: { ...cleared(state), said: { what: "restored", id: last.event.ref } },
        events, effects: [] };
}

/** Delete asks why, because the words for followers say it; a second Delete means our own slip. On a
 *  row that is out already it brings the event back. */
function takeOut(state, input, context) {
    if (state.asks?.what === "why") return takeOutBecause(state, context, "keying");
    const row = context.rows.find(({ id }) => id === state.chosen);
    if (!row) return nothing({ ...state, said: { what: "choose_first" } });
    if (row.stands) return nothing({ ...state, about: row.id, asks: { what: "why" } });
    const taken = voidOf(context.rows, row.id);
    if (!taken) return effect(state, { restore: row.id });
    const event = complete(context, { type: "void", ref: taken.id });
    return { state: { ...cleared(state), said: { what: "restored", id: row.id } },
        events: [event], effects: [] };
}

function takeOutBecause(state, context, why) {
    const event = complete(context, { type: "void", ref: state.about, why });
    return { state: { ...cleared(state), said: { what: "undone", id: state.about,
        ids: [state.about] } }, events: [event], effects: [] };
}

function restart(state, context, reason) {
    const event = complete(context, { type: "restart", ...(reason ? { reason } : {}) });
    return keyed({ ...cleared(state), last: undefined }, context, [event], "restart");
}

function giveUp(state) {
    const { side, action, asks, late, chosen, about, held, used, ...rest } = state;
    const building = side || action || asks || late;
    return nothing({ ...rest, warnings: [],
        ...(building && chosen ? { chosen } : {}) });
}

/* ---- the list ---- */

function move(state, { by }, context) {
    const rows = listed(context.rows);
    const at = rows.findIndex(({ id }) => id === state.chosen);
    const next = at + by;
    return select(state, next < 0 ? undefined : rows[Math.min(next, rows.length - 1)]?.id, context);
}

function select(state, id, context) {
    const row = context.rows.find((one) => one.id === id);
    const base = { ...cleared(state), last: undefined };
    if (!row) return nothing(base);
    const asks = row.stands && hasDetail(row)
        ? { asks: { what: "detail", page: "which", offset: 0 } } : {};
    return nothing({ ...base, chosen: id, about: id, ...asks, said: { what: "keyed", id } });
}
