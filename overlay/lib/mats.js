/* The day's mats, in the order in which people look for them: "Mat 2" before "Mat 10". The same on
 * every machine, whatever its language, so that all pages agree on which is the first. */

const { compare } = new Intl.Collator("en", { numeric: true });

/** @param {{mats?: Record<string, object>}} [day]  of day/booth or day/follow
 *  @returns {string[]} */
export function matNames(day) {
    return Object.keys(day?.mats ?? {}).sort(compare);
}

/** The first mat, which a page takes whose address names none.
 *  @returns {string | undefined} none: no bout has been called yet */
export function firstMat(day) {
    return matNames(day)[0];
}
