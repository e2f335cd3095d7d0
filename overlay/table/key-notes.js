/**
 * The small words on the keys: what a key would do now, for the side that is chosen. Pure.
 */

import { cautionPoints, proposePassivity } from "./proposals.js";

/** @param {import("./field.js").Key} key
 *  @param {"red"|"blue"|undefined} side
 *  @param {object} context of strokes.js, with `say`
 *  @returns {string} */
export function keyNote(key, side, context) {
    const note = NOTES[key.kind];
    return note ? note(key, side, context) : "";
}

const NOTES = {
    score: ({ values }, side, { say }) =>
        (values.length > 1 ? say("table.key_note.again", { points: values.slice(1).join(", ") }) : ""),
    attack: ({ outcome }, side, { say }) => (outcome === "open" ? say("table.key_note.opens") : ""),
    caution: ({ reason }, side, { say, edition }) =>
        say("table.key_note.caution", { points: cautionPoints(edition, reason) }),
    passivity: passivityNote,
    challenge: challengeNote,
    position: ({ position }, side, { say }) =>
        (position === "par_terre" ? say("table.key_note.on_top") : ""),
    result: (key, side, { say }) => say("table.key_note.officials"),
};

function passivityNote(key, side, { say, view, edition, now }) {
    if (!side) return "";
    const { stage, points } = proposePassivity(view, edition, side, now);
    return say(`table.key_note.${stage}`, { points });
}

function challengeNote(key, side, { say, view }) {
    if (!side) return "";
    const { left = true, open } = view.challenge?.[side] ?? {};
    if (open) return say("table.key_note.decide");
    return say(left ? "table.key_note.asked" : "table.key_note.lost");
}

/** What the whistle's key does now: its name and the words under it.
 *  @returns {{label: string, note: string}} */
export function whistleKey({ say, view, now }) {
    const text = (label, note, values) => ({
        label: say(`table.key.${label}`, values), note: note ? say(`table.key_note.${note}`) : "",
    });
    if (now.running) return text("whistle", "whistle");
    if (now.left_ms > 0) return text("start", "start");
    if (now.period < view.details.periods) {
        return text("next_period", "start_break", { period: now.period + 1 });
    }
    return text("start", "up");
}
