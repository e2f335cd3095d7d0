/* The sheets' sentences: pure functions of the facts and the words. */

import { TECHNIQUES } from "../lib/techniques.js";
import { boutTitle, howText, scoreText } from "../lib/sentences.js";
import { spoken } from "../lib/words.js";
import { waitedNumber } from "./facts.js";

/** "10:05" on the wall of the hall: the page stands there.
 *  @param {string} time  RFC 3339 */
export function wallTime(time) {
    const at = new Date(time);
    return `${at.getHours()}:${String(at.getMinutes()).padStart(2, "0")}`;
}

/** "25 Nov 2026", on that day in the hall. */
export const dateText = (time, say) =>
    new Intl.DateTimeFormat(say("sheet.locale"), { dateStyle: "medium" }).format(new Date(time));

/** "10:05 to 10:12", or "10:05" where both are the same minute; else the time that was planned.
 *  @param {{from: string, to: string} | undefined} expected
 *  @param {{starts_at?: string} | undefined} slot */
export function startText(expected, slot, say) {
    if (expected) {
        const [from, to] = [wallTime(expected.from), wallTime(expected.to)];
        return from === to ? from : say("sheet.from_to", { from, to });
    }
    return slot?.starts_at ? say("sheet.planned", { time: wallTime(slot.starts_at) }) : "";
}

/** "Bout 13", or nothing where it has no number. */
export const numberText = ({ number }, say) => (number ? say("sheet.bout", { number }) : "");

/** "Mat A", or nothing. */
export const matText = ({ mat }, say) => (mat ? say("bout.mat", { mat }) : "");

/** "Women 57 kg, final, seniors". */
export function whatText(details, say) {
    return [boutTitle(details, say), details.age_group].filter(Boolean).join(", ");
}

/** Who isn't known yet: "winner of bout 2".
 *  @param {object | undefined} side  of a SLOT */
export function waitsText(day, side, say) {
    if (side?.nobody) return say("sheet.nobody");
    const key = `sheet.waits.${side?.waits}`;
    if (!side?.waits || !say.has(key)) return say("sheet.not_known");
    const number = waitedNumber(day, side);
    if (side.slot && !number) return say("sheet.not_known");
    return say(key, { number, pool: side.pool, place: side.place });
}

/** "beat Noor Haddad 4–2 on points, semi-final". */
export function wayText(step, say) {
    const key = step.won ? "sheet.beat" : step.lost ? "sheet.lost" : "sheet.neither";
    const score = scoreText({ red: step.own, blue: step.other });
    const words = say(key, { against: step.against, score, how: howText(step, say) });
    return [words, step.stage].filter(Boolean).join(", ");
}

/** "12 May 2026: won 4–2 on points, Freestyle 74 kg, final". */
export function meetingText(meeting, say) {
    const key = meeting.won ? "sheet.met_won" : meeting.lost ? "sheet.met_lost" : "sheet.met";
    const score = scoreText({ red: meeting.own, blue: meeting.other });
    const how = meeting.how ? howText(meeting, say) : "";
    return [
        say(key, { date: dateText(meeting.called_at, say), score, how }).trim(),
        boutTitle(meeting, say),
    ].filter(Boolean).join(", ");
}

/** A hold in words. */
export function techniqueText(slug, say) {
    if (say.has(`technique.${slug}`)) return say(`technique.${slug}`);
    return TECHNIQUES.find((one) => one.slug === slug)?.label ?? spoken(slug);
}

/** The same words, with the catalogue's for holds that have none in this language. */
export function withTechniques(say) {
    const key = /^technique\.(\w+)$/;
    const words = (name, values) =>
        key.test(name) ? techniqueText(key.exec(name)[1], say) : say(name, values);
    return Object.assign(words, { lang: say.lang, has: (name) => key.test(name) || say.has(name) });
}

/** "single leg, lead leg". */
export function attemptText({ technique, leg }, say) {
    const words = [techniqueText(technique, say), leg && say("sheet.leg", { leg })];
    return words.filter(Boolean).join(", ");
}

/** "2 of 5": the figure comes with its base; nothing where nothing was tried. */
export const ofText = (attempt, say) => (attempt ? say("sheet.of", attempt) : "");

/** What all earlier bouts say of somebody, a fact a line. */
export function archiveTexts(archive, say) {
    if (!archive?.bouts) return [];
    const attempts = Object.values(archive.attempts ?? {}).map((attempt) =>
        say("sheet.attempt", {
            what: attemptText(attempt, say),
            scored: attempt.scored,
            tried: attempt.tried,
        }),
    );
    const { decided, scored_first } = archive;
    return [
        decided.bouts > 0 && say("sheet.record", decided),
        scored_first.bouts > 0 && say("sheet.scored_first", scored_first),
        ...attempts,
    ].filter(Boolean);
}

/** A criterion's name. */
export function criterionText(by, say) {
    if (by === "points") return say("sheet.points");
    return say.has(`criterion.${by}`) ? say(`criterion.${by}`) : spoken(by);
}

/** A criterion's figure for one side: "2×2 1×1" for holds; a mark for whom it is, without one.
 *  @param {object} step
 *  @param {"red" | "blue"} side */
export function criterionFigure(step, side, say) {
    const value = step[side];
    if (value === undefined) return step.side === side ? say("sheet.has_it") : "";
    if (typeof value !== "object") return String(value);
    const holds = Object.entries(value).sort(([one], [other]) => other - one);
    return holds.map(([points, count]) => `${count}×${points}`).join(" ") || say("sheet.none");
}

/** "Þrastarvík wins on points, 7–4", or who is named by nobody. */
export function resultText({ result, score, details }, say) {
    const how = howText(result, say);
    if (!result.winner) return say("sheet.no_winner", { how });
    const { name } = details[result.winner];
    return say("sheet.wins", { name, how, score: scoreText(score, result.winner) });
}
