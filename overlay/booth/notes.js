/* The commentator's notes: those of this bout, and those of earlier bouts on the two who wrestle
 * (NOTES and EARLIER in docs/wire.md), the newest first. Pure. */

/** @typedef {{key: string, side?: "red"|"blue", text: string, bout?: string, against?: string,
 *      at?: string}} Note  with `bout`: of an earlier one */

/** @param {{notes?: Record<string, object>, earlier?: Record<string, object>}} state the booth's topic
 *  @returns {Note[]} */
export function notesOf({ notes = {}, earlier = {} }) {
    const numbers = (list) => Object.entries(list).map(([number, note]) => [Number(number), note]);
    return [
        ...numbers(notes).sort(([one], [other]) => other - one)
            .map(([number, { side, text }]) => ({ key: `now ${number}`, side, text })),
        ...numbers(earlier).sort(([one], [other]) => one - other)
            .map(([number, note]) => ({ ...note, key: `earlier ${number}` })),
    ];
}

/** Where an earlier note comes from: "vs. Noor Haddad, 8 May"; "" of this bout.
 *  @param {Note} note
 *  @param {Function} say
 *  @param {string} [lang] */
export function sourceOf({ bout, against, at }, say, lang) {
    if (!bout) return "";
    const day = new Date(at).toLocaleDateString(lang, { day: "numeric", month: "short" });
    return say("booth.earlier", { against, day });
}
